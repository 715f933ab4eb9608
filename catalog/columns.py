"""Many cars at once, a column a figure: what files, the database and the judge hand each other.

A list of `Car` is right for one car and slow for a fleet. `CarTable` holds the same figures as
arrays, nan where a figure is blank, and the blocks of all cars end to end.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import chain
from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import ValidationError

from catalog.car import FULL_SIZE_TOLERANCE, LARGEST_GAUGE_MM, MODEL_TOLERANCE_MM, Car
from catalog.record import refuse
from catalog.words import quoted

__all__ = [
    "BLOCK_FIGURES",
    "DIVIDED",
    "FIGURES",
    "TEXTS",
    "CarTable",
    "Floats",
    "day_of",
    "multiplied_back",
    "round_mm",
]

Floats = NDArray[np.float64]

TEXTS = (
    "id",
    "name",
    "kind",
    "owner",
    "notes",
    "dimensions",
    "weight",
    "measured_by",
    "measured_on",
)

"""The fields of `Car` that are text; ``measured_on`` is an ISO date or ""."""

FIGURES = (
    "scale",
    "gauge_mm",
    "height_mm",
    "width_mm",
    "length_mm",
    "wheelbase_mm",
    "truck_wheelbase_mm",
    "front_overhang_mm",
    "rear_overhang_mm",
    "length_over_couplers_mm",
    "underside_mm",
    "minimum_radius_mm",
    "side_play_mm",
    "tolerance_mm",
)
"""The fields of `Car` that are numbers: the scale, and lengths in millimetres."""

BLOCK_FIGURES = ("from_mm", "to_mm", "left_mm", "right_mm", "bottom_mm", "top_mm")
"""The fields of `Block` that are numbers. [mm]"""

DIVIDED = frozenset(FIGURES) - {"scale", "gauge_mm"}
"""The lengths that a full-size row gives in full size; a gauge is always the model's."""

NEAR_HALF = 1e-3  # of 1e-6 mm: wide beside the error of multiplying 100 m by a million


@dataclass(frozen=True, eq=False)
class CarTable:
    """Cars as columns. Two tables are equal when every figure and text is.

    Attributes
    ----------
    text
        A list of n texts for each name in `TEXTS`.
    figures
        An array (n,) for each name in `FIGURES`: the model's own lengths, to 1e-6 mm, nan where
        blank. [mm; scale: full size over model size]
    block_car
        Which car (0 … n-1) each block belongs to, never decreasing: (m,).
    block_name
        m texts.
    block_figures
        An array (m,) for each name in `BLOCK_FIGURES`. [mm]
    """

    text: dict[str, list[str]]
    figures: dict[str, Floats]
    block_car: NDArray[np.intp]
    block_name: list[str]
    block_figures: dict[str, Floats]

    def __post_init__(self) -> None:
        cars = {len(self.text[name]) for name in TEXTS} | {len(self.figures[f]) for f in FIGURES}
        blocks = {len(self.block_figures[name]) for name in BLOCK_FIGURES}
        if len(cars) > 1 or blocks != {len(self.block_car)} or blocks != {len(self.block_name)}:
            raise ValueError("columns of a CarTable differ in length")
        owners = self.block_car
        if len(owners) and (
            owners[0] < 0 or owners[-1] >= len(self) or (np.diff(owners) < 0).any()
        ):
            raise ValueError("blocks of a CarTable are not in the order of its cars")

    def __len__(self) -> int:
        return len(self.text["id"])

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, CarTable):
            return NotImplemented
        return len(self) == len(other) and bool(self.matches(other).all())

    __hash__ = None  # type: ignore[assignment]  # arrays can change

    @property
    def full_size(self) -> NDArray[np.bool_]:
        """Which cars' figures come from a full-size drawing: (n,)."""
        cells = self.text["dimensions"]
        if "full-size" not in cells:
            return np.zeros(len(cells), dtype=bool)
        return np.array([text == "full-size" for text in cells], dtype=bool)

    @property
    def stated_tolerance_mm(self) -> Floats:
        """`Car.stated_tolerance_mm` of each car: (n,). [mm]"""
        stated = self.figures["tolerance_mm"]
        of_the_height = FULL_SIZE_TOLERANCE * self.figures["height_mm"]
        usual = np.where(self.full_size, of_the_height, MODEL_TOLERANCE_MM)
        return np.where(np.isnan(stated), usual, stated)

    @property
    def overhangs_mm(self) -> tuple[Floats, Floats]:
        """`Car.overhangs_mm` of each car: front and rear, (n,) each. [mm]"""
        rest = self.figures["length_mm"] - self.figures["wheelbase_mm"]
        front, rear = self.figures["front_overhang_mm"], self.figures["rear_overhang_mm"]
        shared = np.where(np.isnan(rear), rest / 2, rest - rear)
        front = np.where(np.isnan(front), shared, front)
        return front, rest - front

    @property
    def divisor(self) -> Floats:
        """What a file's lengths are divided by: the scale of a full-size row, 1 elsewhere: (n,)."""
        return np.where(self.full_size, self.figures["scale"], 1.0)

    def divided(self) -> Self:
        """Turn a table as it stands in a file into the model's own lengths.

        Those of full-size rows are divided by the scale, but for a gauge that some model track
        has: the model stands on model track. Blocks are left as they are.
        """
        if not self.full_size.any():
            return self
        divisor = self.divisor
        figures = {
            name: round_mm(values / divisor) if name in DIVIDED else values
            for name, values in self.figures.items()
        }
        gauge = self.figures["gauge_mm"]
        full_size_track = self.full_size & (gauge > LARGEST_GAUGE_MM)
        figures["gauge_mm"] = np.where(full_size_track, round_mm(gauge / divisor), gauge)
        return replace(self, figures=figures)

    @classmethod
    def from_cars(cls, cars: Iterable[Car]) -> Self:
        """Put records into columns; lengths are rounded to 1e-6 mm.

        Parameters
        ----------
        cars
            Any number of records, none included.
        """
        listed = list(cars)
        text = {name: [getattr(car, name) for car in listed] for name in TEXTS}
        text["measured_on"] = [day.isoformat() if day else "" for day in text["measured_on"]]
        blocks = [(index, block) for index, car in enumerate(listed) for block in car.blocks]
        figures = {name: _floats(getattr(car, name) for car in listed) for name in FIGURES}
        return cls(
            text=text,
            figures={
                name: values if name == "scale" else round_mm(values)
                for name, values in figures.items()
            },
            block_car=np.array([index for index, _ in blocks], dtype=np.intp),
            block_name=[block.name for _, block in blocks],
            block_figures={
                name: round_mm(_floats(getattr(block, name) for _, block in blocks))
                for name in BLOCK_FIGURES
            },
        )

    def cars(self) -> list[Car]:
        """Make a validated record of each car.

        Raises
        ------
        DataError
            A car's figures are impossible; the sentence names the car and the figure.
        """
        made = []
        for fields in self.fields():
            try:
                made.append(Car(**fields))
            except ValidationError as error:
                refuse(error, f"car {quoted(fields['id'])}")
        return made

    @classmethod
    def joined(cls, tables: Sequence["CarTable"]) -> Self:
        """Put tables one below the other.

        Parameters
        ----------
        tables
            At least one.
        """
        starts = np.cumsum([0, *(len(table) for table in tables[:-1])])
        return cls(
            text={name: _chained(table.text[name] for table in tables) for name in TEXTS},
            figures={
                name: np.concatenate([table.figures[name] for table in tables]) for name in FIGURES
            },
            block_car=np.concatenate(
                [table.block_car + start for table, start in zip(tables, starts, strict=True)]
            ),
            block_name=_chained(table.block_name for table in tables),
            block_figures={
                name: np.concatenate([table.block_figures[name] for table in tables])
                for name in BLOCK_FIGURES
            },
        )

    def fields(self) -> Iterator[dict[str, Any]]:
        """Give for each car what `Car` is made from, blank figures left out, nothing checked."""
        columns: dict[str, Sequence[Any]] = {
            name: values.tolist() for name, values in self.figures.items()
        }
        columns |= self.text
        columns["measured_on"] = [day_of(text) for text in self.text["measured_on"]]
        blocks = self._blocks()
        names = tuple(columns)
        for index, row in enumerate(zip(*columns.values(), strict=True)):
            # nan is the one value that is not itself.
            known = {n: v for n, v in zip(names, row, strict=True) if v == v and v is not None}
            yield known | {"blocks": blocks.get(index, ())}

    def matches(self, other: "CarTable") -> NDArray[np.bool_]:
        """Say which rows are equal to the same row of another table, blocks included.

        Parameters
        ----------
        other
            As many cars as here.

        Returns
        -------
        NDArray
            (n,) of booleans.
        """
        same = np.ones(len(self), dtype=bool)
        for name in TEXTS:
            same &= _equal_texts(self.text[name], other.text[name])
        for name in FIGURES:
            same &= _equal(self.figures[name], other.figures[name])
        mine = np.bincount(self.block_car, minlength=len(self))
        theirs = np.bincount(other.block_car, minlength=len(self))
        same &= mine == theirs
        # Blocks of cars that have as many stand one against the other; the rest is settled.
        here = np.flatnonzero((mine == theirs)[self.block_car])
        there = np.flatnonzero((mine == theirs)[other.block_car])
        equal = _equal_texts(
            [self.block_name[block] for block in here.tolist()],
            [other.block_name[block] for block in there.tolist()],
        )
        for name in BLOCK_FIGURES:
            equal &= _equal(self.block_figures[name][here], other.block_figures[name][there])
        same[self.block_car[here[~equal]]] = False
        return same

    def take(self, indices: ArrayLike) -> Self:
        """Pick rows, in the order given, with their blocks.

        Parameters
        ----------
        indices
            Whole numbers (k,) from 0 to n-1, or a mask (n,) of booleans.
        """
        picked = np.asarray(indices)
        picked = np.flatnonzero(picked) if picked.dtype == bool else picked.astype(np.intp)
        starts = np.searchsorted(self.block_car, picked, side="left")
        counts = np.searchsorted(self.block_car, picked, side="right") - starts
        # Each picked car's blocks are a run; number the members of all runs one after another.
        before = np.cumsum(counts) - counts
        blocks = np.arange(counts.sum()) + np.repeat(starts - before, counts)
        rows = picked.tolist()
        return type(self)(
            text={name: [cells[row] for row in rows] for name, cells in self.text.items()},
            figures={name: values[picked] for name, values in self.figures.items()},
            block_car=np.repeat(np.arange(len(rows)), counts),
            block_name=[self.block_name[block] for block in blocks.tolist()],
            block_figures={name: values[blocks] for name, values in self.block_figures.items()},
        )

    def with_blocks(
        self, owners: NDArray[np.intp], names: Sequence[str], figures: dict[str, Floats]
    ) -> Self:
        """Give the cars these blocks in place of their own.

        Parameters
        ----------
        owners
            Which car each block belongs to, in any order; blocks of one car keep theirs: (m,).
        names
            m texts.
        figures
            An array (m,) for each name in `BLOCK_FIGURES`. [mm]
        """
        order = np.argsort(owners, kind="stable")
        return type(self)(
            text=self.text,
            figures=self.figures,
            block_car=owners[order],
            block_name=[names[index] for index in order.tolist()],
            block_figures={name: figures[name][order] for name in BLOCK_FIGURES},
        )

    def _blocks(self) -> dict[int, list[dict[str, Any]]]:
        """The blocks' fields by the index of their car."""
        fields: dict[int, list[dict[str, Any]]] = {}
        columns = [self.block_figures[name].tolist() for name in BLOCK_FIGURES]
        for owner, name, *figures in zip(
            self.block_car.tolist(), self.block_name, *columns, strict=True
        ):
            known = {n: v for n, v in zip(BLOCK_FIGURES, figures, strict=True) if v == v}
            fields.setdefault(owner, []).append({"name": name, **known})
        return fields


def round_mm(values: Floats) -> Floats:
    """Round lengths to 1e-6 mm, to the same number that ``round(value, 6)`` gives for each.

    Parameters
    ----------
    values
        Any shape, nan stays nan. [mm]
    """
    nanometres = values * 1e6
    whole = np.rint(nanometres)
    rounded: Floats = whole / 1e6 + 0.0
    with np.errstate(invalid="ignore"):
        # Where the product may have crossed the half, the exact decimal rule decides.
        unsure = np.flatnonzero(np.abs(np.abs(nanometres - whole) - 0.5) < NEAR_HALF)
    for index in unsure.tolist():
        rounded.flat[index] = round(float(values.flat[index]), 6) + 0.0
    return rounded


def multiplied_back(values: Floats, divisor: Floats) -> Floats:
    """Give the full-size lengths that these models' lengths came from.

    Of all lengths that give the model's own again when divided and rounded to 1e-6 mm, the one
    with the fewest decimals: what a person wrote, not what rounding made of it.

    Parameters
    ----------
    values
        The models' lengths, to 1e-6 mm: (n,). [mm]
    divisor
        What full-size lengths are divided by: (n,).
    """
    exact = values * divisor
    found = round_mm(exact)
    for decimals in range(5, -1, -1):
        rounder = np.round(exact, decimals)
        found = np.where(round_mm(rounder / divisor) == values, rounder, found)
    return np.where(divisor == 1, values, found)


def _floats(values: Iterable[float | None]) -> Floats:
    return np.array(list(values), dtype=np.float64)  # None becomes nan


def _chained(lists: Iterable[list[str]]) -> list[str]:
    return list(chain.from_iterable(lists))


def _equal(one: Floats, other: Floats) -> NDArray[np.bool_]:
    """Equal or both blank."""
    equal: NDArray[np.bool_] = (one == other) | (np.isnan(one) & np.isnan(other))
    return equal


def _equal_texts(one: list[str], other: list[str]) -> NDArray[np.bool_]:
    if one == other:
        return np.ones(len(one), dtype=bool)
    return np.array([a == b for a, b in zip(one, other, strict=True)], dtype=bool)


def day_of(text: str) -> date | str | None:
    """Read an ISO day: a date, None for "", and what is no such day as the text it was."""
    if not text:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return text
    return day if day.isoformat() == text else text
