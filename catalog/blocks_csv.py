"""Blocks from and to files: blocks.csv, many rows a car, the boxes that make its shape."""

from pathlib import Path

import numpy as np

from catalog.columns import CarTable
from catalog.lengths import Unit
from catalog.part_rows import (
    PartRows,
    car_cells,
    lengths_for_a_file,
    lengths_of_models,
    owners_of,
)
from catalog.sheet import Sheet, read_sheet, write_sheet, write_texts
from catalog.words import quoted

__all__ = ["read_blocks", "write_blocks_csv"]

LENGTHS = ("from", "to", "left", "right", "width", "bottom", "top")
WRITTEN = ("from", "to", "left", "right", "bottom", "top")


def read_blocks(
    path: Path, cars: CarTable, *, units: Unit | None = None
) -> tuple[CarTable, PartRows]:
    """Read a blocks.csv and give its blocks to the cars that they belong to.

    Parameters
    ----------
    path
        The file. Lengths of a car whose figures are full size are divided by its scale.
    cars
        The cars there are; blocks they have already are replaced.
    units
        What a bare number counts where neither it nor its column's name says so.

    Returns
    -------
    tuple
        The cars with these blocks, not yet checked against their other figures, and where each
        block came from.

    Raises
    ------
    DataError
        One line with file, row, column, value, and what would be right.
    """
    sheet = read_sheet(
        path,
        lengths=LENGTHS,
        others=("car", "name", "frame"),
        required=("car", "from", "to", "top"),
        units=units,
    )
    owners = owners_of(sheet, cars, "block")
    figures = {name: sheet.lengths(name) for name in LENGTHS}
    for name in ("from", "to", "top"):
        sheet.require(name, f"is blank; every block needs its {name}")
    _complain_about_sides(sheet)
    sheet.refuse_first()

    half = figures["width"] / 2
    for side in ("left", "right"):
        figures[side] = np.where(np.isnan(figures[side]), half, figures[side])
    figures["bottom"] = np.nan_to_num(figures["bottom"])
    lengths = lengths_of_models(cars, owners, figures, WRITTEN)
    joined = cars.with_blocks(owners, sheet.texts("name"), lengths, sheet.texts("frame"))
    return joined, PartRows.of(sheet, owners)


def _complain_about_sides(sheet: Sheet) -> None:
    columns = (sheet.cells(name) for name in ("left", "right", "width"))
    for index, (left, right, width) in enumerate(zip(*columns, strict=True)):
        if width and (left or right):
            sheet.complain(
                index, "width", f"{quoted(width)} stands beside left or right; write one"
            )
        elif not width and not (left and right):
            blank = "right" if left else "left"
            sheet.complain(index, blank, "is blank; write left and right, or width for both")
        else:
            continue
        return


def write_blocks_csv(cars: CarTable) -> str:
    """Write the blocks of all cars as blocks.csv; `read_blocks` gives equal ones.

    Parameters
    ----------
    cars
        The cars; lengths of full-size rows are multiplied back by the scale.

    Returns
    -------
    str
        CSV text, to be written with ``newline=""``.
    """
    columns = {
        "car": write_texts(car_cells(cars, cars.block_car)),
        "name": write_texts(cars.block_name),
    }
    if any(cars.block_frame):
        columns["frame"] = write_texts(cars.block_frame)
    return write_sheet(columns | lengths_for_a_file(cars, cars.blocks, WRITTEN))
