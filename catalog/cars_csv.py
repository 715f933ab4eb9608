"""Cars from and to files: cars.csv, one row a car, with blocks.csv and frames.csv beside it.

A whole column is converted and checked at once. Only a row that fails that check is made into a
`Car`, which says in words what is impossible about it.
"""

from collections.abc import Callable, Collection, Iterator
from pathlib import Path

import numpy as np
from pydantic import ValidationError

from catalog.angles import parse_angle, write_angle
from catalog.blocks_csv import read_blocks
from catalog.car import Car
from catalog.columns import DIVIDED, FIGURES, TEXTS, CarTable
from catalog.errors import DataError
from catalog.frames_csv import join_frames, read_frames
from catalog.lengths import Unit
from catalog.part_rows import PartRows
from catalog.record import complaint_of
from catalog.rounding import Floats, multiplied_back
from catalog.scales import parse_scale, show_scale
from catalog.sheet import Sheet, read_sheets, write_lengths, write_sheet, write_texts
from catalog.soundness import sound
from catalog.words import quoted

__all__ = ["parse_axles", "read_cars", "write_cars_csv"]

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
    "axles",
    "front_overhang",
    "rear_overhang",
    "length_over_couplers",
    "underside",
    "minimum_radius",
    "side_play",
    "truck_swing",
    "coupler_swing",
    "coupler_drop",
    "coupler_angle",
    "weight",
    "tolerance",
    "measured_by",
    "measured_on",
)
"""In the order in which they are written."""

LENGTHS = tuple(name.removesuffix("_mm") for name in FIGURES if name.endswith("_mm"))
ANGLES = tuple(name.removesuffix("_deg") for name in FIGURES if name.endswith("_deg"))
REQUIRED = ("id", "height", "width", "length")


def read_cars(
    cars: Path,
    blocks: Path | None = None,
    frames: Path | None = None,
    *,
    units: Unit | None = None,
    framed: Collection[str] = (),
) -> CarTable:
    """Read cars, their blocks and their frames, from the files that people keep.

    Parameters
    ----------
    cars
        A cars.csv: one row a car. Lengths of a full-size row are divided by its scale, but for
        the gauge: the model stands on model track.
    blocks
        A blocks.csv, or None: no car gets blocks.
    frames
        A frames.csv, or None: no car gets frames.
    units
        What a bare number counts where neither it nor its column's name says so.
    framed
        The ids of cars whose frames are known from elsewhere: these may leave the wheelbase blank.

    Returns
    -------
    CarTable
        The cars in the order of the file, every one possible, or so it will be with its frames.

    Raises
    ------
    DataError
        One line with file, row, column, value, and what would be right.
    """
    frame_sheet = None if frames is None else read_frames(frames, units=units)
    waiting = frozenset(framed if frame_sheet is None else frame_sheet.texts("car"))
    others = [name for name in COLUMNS if name not in (*LENGTHS, *ANGLES)]
    rows: list[int] = []
    tables: list[CarTable] = []
    row_of: dict[str, int] = {}
    for sheet in read_sheets(
        cars, lengths=LENGTHS, angles=ANGLES, others=others, required=REQUIRED, units=units
    ):
        tables.append(_table(sheet, row_of, waiting))
        rows += sheet.rows
    table = CarTable.joined(tables)
    parts: dict[str, PartRows] = {}
    if frame_sheet is not None:
        table, parts["frames"] = join_frames(frame_sheet, table)
    if blocks is not None:
        table, parts["blocks"] = read_blocks(blocks, table, units=units)
    if parts:
        _refuse_about_parts(table, cars, rows, parts, frozenset(framed))
    return table


def parse_axles(text: str) -> float:
    """Say how many axles a text means.

    Raises
    ------
    DataError
        It is no whole number.
    """
    if not (text.isascii() and text.isdigit() and len(text) < 4):
        raise DataError(f"{quoted(text)} is no number of axles; write a whole number like 2 or 4")
    return float(text)


def _table(sheet: Sheet, row_of: dict[str, int], framed: frozenset[str]) -> CarTable:
    """The cars of some rows, every one possible but for the ``framed``, who wait for their frames.

    ``row_of`` knows the ids of the rows before.
    """
    text = {name: sheet.texts(name) for name in TEXTS}
    meant = {cell: cell.lower() or "model" for cell in set(text["dimensions"])}
    text["dimensions"] = [meant[cell] for cell in text["dimensions"]]
    if sheet.decimal_comma:
        text["weight"] = [sheet.with_point(cell) for cell in text["weight"]]
    figures = {"scale": sheet.numbers("scale", parse_scale)}
    figures |= {f"{name}_mm": sheet.lengths(name) for name in LENGTHS}
    figures |= {f"{name}_deg": sheet.numbers(name, parse_angle) for name in ANGLES}
    figures["axles"] = sheet.numbers("axles", parse_axles)
    figures["truck_wheelbase_mm"] = np.nan_to_num(figures["truck_wheelbase_mm"])
    written = CarTable(text=text, figures=figures)
    waiting = {index for index, car in enumerate(text["id"]) if car in framed} if framed else set()
    _complain_about_blanks(sheet, written, waiting)
    _complain_about_ids(sheet, text["id"], row_of)
    sheet.refuse_first()
    table = written.divided()
    _refuse_about_cars(table, sheet, waiting)
    return table


def _complain_about_blanks(sheet: Sheet, written: CarTable, waiting: set[int]) -> None:
    sheet.require("id", "is blank; it is what is painted on the car")
    for name in ("height", "width", "length"):
        sheet.require(name, f"is blank; every car needs its {name}")
    cells = sheet.cells("wheelbase")
    blank = (index for index, cell in enumerate(cells) if not cell and index not in waiting)
    if "" in cells and (first := next(blank, None)) is not None:
        sheet.complain(
            first,
            "wheelbase",
            "is blank; it is needed: between truck centres, or first to last flanged axle; or "
            "describe the car in frames.csv",
        )
    for index in np.flatnonzero(written.full_size).tolist():
        if not sheet.cells("scale")[index]:
            words = "is blank; full-size figures need the scale of the model, like 1:22.5"
            sheet.complain(index, "scale", words)
            break


def _complain_about_ids(sheet: Sheet, ids: list[str], row_of: dict[str, int]) -> None:
    fresh = dict(zip(ids, sheet.rows, strict=True))
    if len(fresh) == len(ids) and row_of.keys().isdisjoint(fresh.keys()):
        row_of.update(fresh)
        return
    for index, car in enumerate(ids):
        first = row_of.setdefault(car, sheet.rows[index])
        if car and first != sheet.rows[index]:
            words = f"{quoted(car)} stands in row {first} too; ids are unique"
            sheet.complain(index, "id", words)
            return


def _refuse_about_cars(table: CarTable, sheet: Sheet, waiting: set[int]) -> None:
    """Refuse the first car that is impossible, with where it stands in the file.

    Of a car that waits for its frames only what one figure by itself cannot be.
    """
    for index, field, words in _complaints(table):
        column = _column(field)
        if column in sheet.columns:
            cell = quoted(sheet.cells(column)[index])
            raise DataError(f"{sheet.place(index, column)}: {cell} {words}")
        if index not in waiting:
            car = quoted(table.text["id"][index])
            raise DataError(f"{sheet.place(index)}, car {car}: {words}")


def _refuse_about_parts(
    table: CarTable,
    cars: Path,
    rows: list[int],
    parts: dict[str, PartRows],
    waiting: frozenset[str],
) -> None:
    """The same for cars that were possible, or waited, until they got their blocks and frames."""
    for index, field, words in _complaints(table):
        if "frames" not in parts and table.text["id"][index] in waiting:
            continue  # its frames come from elsewhere
        if len(field) < 2:
            car = quoted(table.text["id"][index])
            raise DataError(f"{cars}, row {rows[index]}, car {car}: {words}")
        kind, column = str(field[0]), _column(field)
        owners = table.frame_car if kind == "frames" else table.block_car
        sheet, order = parts[kind].sheet, parts[kind].order
        row = int(order[int(np.searchsorted(owners, index)) + int(field[1])])
        if kind == "frames" and column == "name":
            column = "frame"
        if len(field) > 2 and column in sheet.columns:
            cell = quoted(sheet.cells(column)[row])
            raise DataError(f"{sheet.place(row, column)}: {cell} {words}")
        raise DataError(f"{sheet.place(row)}: {words}")


def _column(field: tuple[str | int, ...]) -> str:
    """What a field is called in a file; "" where no one field is meant."""
    return str(field[-1]).removesuffix("_mm").removesuffix("_deg") if field else ""


def _complaints(table: CarTable) -> Iterator[tuple[int, tuple[str | int, ...], str]]:
    """The index, the field and the words with which `Car` refuses cars, the topmost first."""
    doubtful = np.flatnonzero(~sound(table))
    if not len(doubtful):
        return
    every = table.take(doubtful).fields()
    for index, fields in zip(doubtful.tolist(), every, strict=True):
        try:
            Car(**fields)
        except ValidationError as error:
            field, words = complaint_of(error)
            if table.full_size[index]:
                words += f" (full size divided by {table.figures['scale'][index]:g})"
            yield index, field, words


def write_cars_csv(cars: CarTable) -> str:
    """Write cars as cars.csv; `read_cars` gives equal ones.

    Parameters
    ----------
    cars
        The cars; lengths of full-size rows are multiplied back by the scale. Their blocks are for
        `write_blocks_csv`, their frames for `write_frames_csv`.

    Returns
    -------
    str
        CSV text, to be written with ``newline=""``.
    """
    columns: dict[str, list[str]] = {}
    divisor = cars.divisor
    for name in COLUMNS:
        if name in cars.text:
            columns[name] = write_texts(cars.text[name])
        elif name == "scale":
            columns[name] = _cells(cars.figures["scale"], show_scale)
        elif name == "axles":
            columns[name] = _cells(cars.figures["axles"], lambda axles: f"{axles:g}")
        elif name in ANGLES:
            columns[name] = _cells(cars.figures[f"{name}_deg"], write_angle)
        else:
            field = f"{name}_mm"
            values = cars.figures[field]
            columns[name] = write_lengths(
                multiplied_back(values, divisor) if field in DIVIDED else values
            )
    return write_sheet(columns)


def _cells(values: Floats, write: Callable[[float], str]) -> list[str]:
    """Figures as cells, nan as a blank."""
    return [write(value) if value == value else "" for value in values.tolist()]
