"""Rows of a file that belong to cars, many a car: blocks and frames."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalog.columns import CarTable
from catalog.parts import Parts
from catalog.rounding import Floats, multiplied_back, round_mm
from catalog.sheet import Sheet, write_lengths
from catalog.words import did_you_mean, quoted

__all__ = ["PartRows", "car_cells", "lengths_for_a_file", "lengths_of_models", "owners_of"]


@dataclass(frozen=True)
class PartRows:
    """Where each part of a table stands in its file: part k is row ``order[k]`` of the sheet."""

    sheet: Sheet
    order: NDArray[np.intp]

    @classmethod
    def of(cls, sheet: Sheet, owners: NDArray[np.intp]) -> "PartRows":
        """Where the parts stand once they are in the order of the cars that own them."""
        return cls(sheet, np.argsort(owners, kind="stable"))


def owners_of(sheet: Sheet, cars: CarTable, part: str) -> NDArray[np.intp]:
    """The index of the car that each row names; a row that names none is complained about.

    Parameters
    ----------
    sheet
        With a column ``car``.
    cars
        The cars there are.
    part
        What the rows are, like "block".
    """
    index_of = {car: index for index, car in enumerate(cars.text["id"])}
    owners = [index_of.get(car, -1) for car in sheet.texts("car")]
    if -1 in owners:
        index = owners.index(-1)
        car = sheet.texts("car")[index]
        words = (
            f"there is no car {quoted(car)}; {did_you_mean(car, index_of)}"
            if car
            else f"is blank; it is the id of the car that the {part} belongs to"
        )
        sheet.complain(index, "car", words)
    return np.array(owners, dtype=np.intp)


def lengths_of_models(
    cars: CarTable, owners: NDArray[np.intp], figures: Mapping[str, Floats], names: Iterable[str]
) -> dict[str, Floats]:
    """Turn lengths as they stand in a file into the models' own, by the name of their field.

    Parameters
    ----------
    cars, owners
        The cars there are, and whose each part is: (m,).
    figures, names
        The columns of the file, (m,) each, and which of them. [mm] Those of a car whose figures are
        full size are divided by its scale.
    """
    divisor = cars.divisor[owners]
    return {f"{name}_mm": round_mm(figures[name] / divisor) for name in names}


def lengths_for_a_file(
    cars: CarTable, parts: Parts, names: Iterable[str]
) -> dict[str, Sequence[str]]:
    """The cells of some columns of a file: lengths of full-size rows multiplied back."""
    divisor = cars.divisor[parts.owner]
    return {
        name: write_lengths(multiplied_back(parts.figures[f"{name}_mm"], divisor)) for name in names
    }


def car_cells(cars: CarTable, owners: NDArray[np.intp]) -> list[str]:
    """The id of the car that each part belongs to, for the column ``car``."""
    return [cars.text["id"][owner] for owner in owners.tolist()]
