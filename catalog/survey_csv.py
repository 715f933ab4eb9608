"""A survey from and to survey.csv: a row a station, or a row a station and track.

A row without railhead and headroom is a place on the sheet that nobody measured, and is skipped.
"""

import re
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from catalog.columns import day_of
from catalog.errors import DataError
from catalog.lengths import Unit, write_length
from catalog.record import complaint_of
from catalog.sheet import Sheet, read_sheet, write_sheet, write_texts
from catalog.survey import Reading, Survey
from catalog.words import quoted

__all__ = ["read_survey", "read_survey_rows", "write_survey_csv"]

LENGTHS = ("railhead", "headroom")
COLUMNS = ("station", "track", "railhead", "headroom", "taken_on", "taken_by")
"""In the order in which they are written."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.IGNORECASE | re.ASCII)


def read_survey(path: Path, units: Unit | None = None) -> Survey:
    """Read a survey as a person wrote it down, on a sheet that may have blanks.

    Parameters
    ----------
    path
        A survey.csv.
    units
        What a bare number counts where neither it nor its column's name says so.

    Raises
    ------
    DataError
        One line with file, row, column, value, and what would be right.
    """
    return read_survey_rows(path, units)[0]


def read_survey_rows(path: Path, units: Unit | None = None) -> tuple[Survey, tuple[int, ...]]:
    """The same, and on which row of the file each of its readings stands: the first row is 1."""
    others = [name for name in COLUMNS if name not in LENGTHS]
    sheet = read_sheet(path, lengths=LENGTHS, others=others, required=("station",), units=units)
    cells = zip(*(sheet.cells(name) for name in LENGTHS), strict=True)
    measured = [index for index, row in enumerate(cells) if any(row)]
    if not measured:
        raise DataError(
            f"{path}: holds no reading; write a row a station, with its railhead or its headroom"
        )
    sheet.require("station", "is blank; write the number of the bracket, like 7 or 7.5")
    columns: dict[str, list[Any]] = {
        "station": sheet.numbers("station", _station).tolist(),
        "track": sheet.texts("track"),
        "taken_on": [day_of(text) for text in sheet.texts("taken_on")],
        "taken_by": sheet.texts("taken_by"),
    }
    columns |= {f"{name}_mm": sheet.lengths(name).tolist() for name in LENGTHS}
    sheet.refuse_first()
    rows = list(zip(*columns.values(), strict=True))
    readings = []
    for index in measured:
        # nan is the one value that is not itself.
        fields = {name: v for name, v in zip(columns, rows[index], strict=True) if v == v}
        try:
            readings.append(Reading(**fields))
        except ValidationError as error:
            _refuse(sheet, index, error)
    try:
        return Survey(readings=tuple(readings)), tuple(sheet.rows[index] for index in measured)
    except ValidationError as error:
        place, words = complaint_of(error)
        raise DataError(f"{sheet.place(measured[int(place[1])], 'station')}: {words}") from None


def _station(text: str) -> float:
    if not _NUMBER.fullmatch(text):
        raise DataError(f"{quoted(text)} is not the number of a bracket; write it like 7 or 7.5")
    return float(text)


def _refuse(sheet: Sheet, index: int, error: ValidationError) -> None:
    place, words = complaint_of(error)
    if not place:
        raise DataError(f"{sheet.place(index)}: {words}") from None
    column = str(place[0]).removesuffix("_mm")
    cell = quoted(sheet.cells(column)[index])
    raise DataError(f"{sheet.place(index, column)}: {cell} {words}") from None


def write_survey_csv(survey: Survey) -> str:
    """Write a survey as survey.csv; `read_survey` gives an equal one.

    Parameters
    ----------
    survey
        Its lengths are written to 1e-6 mm.

    Returns
    -------
    str
        CSV text, to be written with ``newline=""``.
    """
    readings = survey.readings
    return write_sheet(
        {
            "station": [repr(reading.station).removesuffix(".0") for reading in readings],
            "track": write_texts([reading.track for reading in readings]),
            "railhead": [_length(reading.railhead_mm) for reading in readings],
            "headroom": [_length(reading.headroom_mm) for reading in readings],
            "taken_on": [r.taken_on.isoformat() if r.taken_on else "" for r in readings],
            "taken_by": write_texts([reading.taken_by for reading in readings]),
        }
    )


def _length(value: float | None) -> str:
    return "" if value is None else write_length(value)
