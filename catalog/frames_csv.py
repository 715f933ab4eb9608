"""Frames from and to files: frames.csv, many rows a car, the rigid parts of articulated stock."""

from pathlib import Path

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

__all__ = ["join_frames", "read_frames", "write_frames_csv"]

LENGTHS = ("rear_support", "front_support")
COLUMNS = ("car", "frame", "rear_support", "rear_on", "front_support", "front_on")
"""All of them needed, in the order in which they are written."""


def read_frames(path: Path, *, units: Unit | None = None) -> Sheet:
    """Read the rows of a frames.csv, before it is known which cars there are.

    Parameters
    ----------
    path
        The file.
    units
        What a bare number counts where neither it nor its column's name says so.

    Raises
    ------
    DataError
        The file cannot be read, or its columns are not the known ones.
    """
    others = [name for name in COLUMNS if name not in LENGTHS]
    return read_sheet(path, lengths=LENGTHS, others=others, required=COLUMNS, units=units)


def join_frames(sheet: Sheet, cars: CarTable) -> tuple[CarTable, PartRows]:
    """Give frames to the cars that they belong to.

    Parameters
    ----------
    sheet
        What `read_frames` gave. Lengths of a car whose figures are full size are divided by its
        scale.
    cars
        The cars there are; frames they have already are replaced.

    Returns
    -------
    tuple
        The cars with these frames, not yet checked against their other figures, and where each
        frame came from.

    Raises
    ------
    DataError
        One line with file, row, column, value, and what would be right.
    """
    owners = owners_of(sheet, cars, "frame")
    figures = {name: sheet.lengths(name) for name in LENGTHS}
    sheet.require("frame", "is blank; every frame needs a name")
    for name in LENGTHS:
        words = "is blank; write how far it is from the front end of the vehicle"
        sheet.require(name, words)
    for name in ("rear_on", "front_on"):
        words = "is blank; write track, or the name of the frame that carries it there"
        sheet.require(name, words)
    sheet.refuse_first()
    lengths = lengths_of_models(cars, owners, figures, LENGTHS)
    joined = cars.with_frames(
        owners, sheet.texts("frame"), sheet.texts("rear_on"), sheet.texts("front_on"), lengths
    )
    return joined, PartRows.of(sheet, owners)


def write_frames_csv(cars: CarTable) -> str:
    """Write the frames of all cars as frames.csv; reading it gives equal ones.

    Parameters
    ----------
    cars
        The cars; lengths of full-size rows are multiplied back by the scale.

    Returns
    -------
    str
        CSV text, to be written with ``newline=""``.
    """
    lengths = lengths_for_a_file(cars, cars.frames, LENGTHS)
    texts = {
        "car": car_cells(cars, cars.frame_car),
        "frame": cars.frame_name,
        "rear_on": cars.frame_rear_on,
        "front_on": cars.frame_front_on,
    }
    columns = lengths | {name: write_texts(cells) for name, cells in texts.items()}
    return write_sheet({name: columns[name] for name in COLUMNS})
