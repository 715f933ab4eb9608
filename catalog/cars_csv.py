"""Cars from and to files: cars.csv, one row a car, with blocks.csv beside it where there is one.

A whole column is converted and checked at once. Only a row that fails that check is made into a
`Car`, which says in words what is impossible about it.
"""

from dataclasses import replace
from pathlib import Path
from typing import get_args

import numpy as np
from pydantic import ValidationError

from catalog.blocks_csv import BlockRows, read_blocks
from catalog.car import Car, Dimensions
from catalog.columns import BLOCK_FIGURES, FIGURES, TEXTS, CarTable, multiplied_back, round_mm
from catalog.errors import DataError
from catalog.lengths import Unit
from catalog.record import complaint_of
from catalog.scales import parse_scale, show_scale
from catalog.sheet import Sheet, read_sheet, write_lengths, write_sheet
from catalog.soundness import sound
from catalog.words import quoted

__all__ = ["read_cars", "write_cars_csv"]

COLUMNS = (
    "id",
    "name",
    "kind",
    "owner",
    "notes",
    "scale",
    "gauge",
    "dimensions",
    "height",
    "width",
    "length",
    "wheelbase",
    "truck_wheelbase",
    "front_overhang",
    "rear_overhang",
    "length_over_couplers",
    "underside",
    "minimum_radius",
    "side_play",
    "weight",
    "tolerance",
    "measured_by",
    "measured_on",
)
"""In the order in which they are written."""

LENGTHS = tuple(name.removesuffix("_mm") for name in FIGURES if name.endswith("_mm"))
DIVIDED = frozenset(f"{name}_mm" for name in LENGTHS) - {"gauge_mm"}
"""The lengths that a full-size row gives in full size."""

REQUIRED = ("id", "height", "width", "length")


def read_cars(cars: Path, blocks: Path | None = None, *, units: Unit | None = None) -> CarTable:
    """Read cars, and their blocks, from the files that people keep.

    Parameters
    ----------
    cars
        A cars.csv: one row a car. Lengths of a full-size row are divided by its scale, but for
        the gauge: the model stands on model track.
    blocks
        A blocks.csv, or None: no car gets blocks.
    units
        What a bare number counts where neither it nor its column's name says so.

    Returns
    -------
    CarTable
        The cars in the order of the file, every one possible.

    Raises
    ------
    DataError
        One line with file, row, column, value, and what would be right.
    """
    others = [name for name in COLUMNS if name not in LENGTHS]
    sheet = read_sheet(cars, lengths=LENGTHS, others=others, required=REQUIRED, units=units)
    text = {name: sheet.texts(name) for name in TEXTS}
    text["dimensions"] = [cell.lower() or "model" for cell in text["dimensions"]]
    text["weight"] = [sheet.with_point(cell) for cell in text["weight"]]
    figures = {"scale": sheet.numbers("scale", parse_scale)}
    figures |= {f"{name}_mm": sheet.lengths(name) for name in LENGTHS}
    figures["truck_wheelbase_mm"] = np.nan_to_num(figures["truck_wheelbase_mm"])
    written = CarTable(
        text=text,
        figures=figures,
        block_car=np.empty(0, dtype=np.intp),
        block_name=[],
        block_figures={name: np.empty(0) for name in BLOCK_FIGURES},
    )
    _complain_about_cells(sheet, written)
    sheet.refuse_first()

    table = replace(
        written,
        figures={
            name: round_mm(values / written.divisor) if name in DIVIDED else values
            for name, values in figures.items()
        },
    )
    block_rows = None
    if blocks is not None:
        table, block_rows = read_blocks(blocks, table, units=units)
    for index in np.flatnonzero(~sound(table)).tolist():
        _ask_the_record(table, index, sheet, block_rows)
    return table


def _complain_about_cells(sheet: Sheet, written: CarTable) -> None:
    """What can be wrong with a cell by itself, and is not for `Car` to say."""
    sheet.require("id", "is blank; it is what is painted on the car")
    for name in ("height", "width", "length"):
        sheet.require(name, f"is blank; every car needs its {name}")
    sheet.require(
        "wheelbase",
        "is blank; it is needed: between truck centres, or first to last flanged axle "
        "(frames.csv is not read yet)",
    )
    first: dict[str, int] = {}
    for index, car in enumerate(written.text["id"]):
        if first.setdefault(car, index) != index and car:
            sheet.complain(
                index,
                "id",
                f"{quoted(car)} stands in row {sheet.rows[first[car]]} too; ids are unique",
            )
            break
    for index, dimensions in enumerate(written.text["dimensions"]):
        if dimensions not in get_args(Dimensions):
            words = f"{quoted(sheet.cells('dimensions')[index])} must be model or full-size"
            sheet.complain(index, "dimensions", words)
            break
    for index in np.flatnonzero(written.full_size).tolist():
        if not sheet.cells("scale")[index]:
            words = "is blank; full-size figures need the scale of the model, like 1:22.5"
            sheet.complain(index, "scale", words)
            break


def _ask_the_record(
    table: CarTable, index: int, sheet: Sheet, block_rows: BlockRows | None
) -> None:
    """Let `Car` say what is impossible about one car, and add where it stands in the files."""
    try:
        Car(**next(table.take([index]).fields()))
    except ValidationError as error:
        field, words = complaint_of(error)
    else:
        return
    car = table.text["id"][index]
    if table.full_size[index]:
        words += f" (full size divided by {table.figures['scale'][index]:g})"
    if len(field) >= 2 and field[0] == "blocks" and block_rows is not None:
        block = int(np.searchsorted(table.block_car, index)) + int(field[1])
        at = block_rows.sheet
        row = int(block_rows.order[block])
    else:
        at, row = sheet, index
    column = str(field[-1]).removesuffix("_mm") if field else ""
    if column in at.columns:
        raise DataError(f"{at.place(row, column)}: {quoted(at.cells(column)[row])} {words}")
    raise DataError(f"{at.place(row)}, car {quoted(car)}: {words}")


def write_cars_csv(cars: CarTable) -> str:
    """Write cars as cars.csv; `read_cars` gives equal ones.

    Parameters
    ----------
    cars
        The cars; lengths of full-size rows are multiplied back by the scale. Their blocks are for
        `write_blocks_csv`.

    Returns
    -------
    str
        CSV text, to be written with ``newline=""``.
    """
    columns: dict[str, list[str]] = {}
    for name in COLUMNS:
        if name in cars.text:
            columns[name] = cars.text[name]
        elif name == "scale":
            columns[name] = [
                show_scale(scale) if scale == scale else ""
                for scale in cars.figures["scale"].tolist()
            ]
        else:
            values = cars.figures[f"{name}_mm"]
            columns[name] = write_lengths(
                multiplied_back(values, cars.divisor) if f"{name}_mm" in DIVIDED else values
            )
    return write_sheet(columns)
