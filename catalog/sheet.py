"""A CSV file as named columns, every complaint with file, row and column.

Rows are numbered as a spreadsheet numbers them: the header is row 1. This module knows nothing
about cars; catalog/cars_csv.py and catalog/blocks_csv.py say which columns there are.
"""

import csv
import io
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain, islice
from pathlib import Path
from typing import Any

import numpy as np

from catalog.errors import DataError, LengthError
from catalog.lengths import LONGEST_MM, Unit, parse_length, write_length
from catalog.rounding import Floats, round_mm
from catalog.textfile import read_text
from catalog.words import did_you_mean, quoted

__all__ = [
    "Column",
    "Sheet",
    "guard_cell",
    "read_sheet",
    "read_sheets",
    "write_lengths",
    "write_sheet",
    "write_texts",
]

# A cell that begins so is run as a formula by spreadsheets. An apostrophe before it is the usual
# guard; a text that has the apostrophes already gets one more, so that reading takes off just one.
_WOULD_RUN = re.compile(r"'*[=+\-@\t\r]")

BATCH = 500  # rows
MOST_KNOWN = 20_000  # texts of a column

_PLAIN_NUMBERS = re.compile(r"[0-9.+\-eE]*")
_DECIMAL_COMMA = re.compile(r"[^,.]*\d,\d[^,.]*")


@dataclass(frozen=True)
class Column:
    """One column: its name as it stands in the file, the unit of bare numbers, its cells."""

    header: str
    unit: Unit | None
    cells: list[str]


@dataclass
class Sheet:
    """Rows of one file: the columns by their known name, and the complaints gathered about them.

    ``known`` is what texts of a column mean that were read before; the sheets of a file share it.
    """

    file: str
    rows: Sequence[int]
    columns: dict[str, Column]
    decimal_comma: bool
    known: dict[str, dict[str, float]]
    _complaints: list[tuple[int, str]] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.rows)

    def place(self, index: int, name: str | None = None) -> str:
        """Where a cell stands: ``cars.csv, row 7, height``."""
        row = f"{self.file}, row {self.rows[index]}"
        if name is None:
            return row
        return f"{row}, {self.columns[name].header if name in self.columns else name}"

    def complain(self, index: int, name: str | None, words: str) -> None:
        """Note what is wrong with a cell; `refuse_first` raises the topmost complaint."""
        self._complaints.append((index, f"{self.place(index, name)}: {words}"))

    def refuse_first(self) -> None:
        """Raise the complaint that stands highest in the file, if there is any.

        Raises
        ------
        DataError
            The complaint, with its place.
        """
        if self._complaints:
            raise DataError(min(self._complaints, key=lambda complaint: complaint[0])[1])

    def cells(self, name: str) -> list[str]:
        """The cells of a column as they stand; "" where the file has no such column."""
        return self.columns[name].cells if name in self.columns else [""] * len(self)

    def texts(self, name: str) -> list[str]:
        """The cells of a text column, the formula guard taken off."""
        cells = self.cells(name)
        if "'" not in "".join(cells):
            return cells
        return [text[1:] if text[:1] == "'" and _WOULD_RUN.match(text) else text for text in cells]

    def lengths(self, name: str) -> Floats:
        """A column of lengths, nan where blank, or all nan after a complaint: (n,). [mm]"""
        if name not in self.columns:
            return np.full(len(self), np.nan)
        column = self.columns[name]
        plain = _plain_lengths(column)
        if plain is not None:
            return plain
        return self.numbers(name, lambda text: _length(column, text))

    def numbers(self, name: str, read: Callable[[str], float]) -> Floats:
        """A column as a function of the cell; nan where blank, or all nan after a complaint: (n,).

        ``read`` raises DataError with a sentence about the text; decimal commas come as points.
        """
        if name not in self.columns:
            return np.full(len(self), np.nan)
        cells = self.cells(name)
        known = self.known.setdefault(name, {"": math.nan})
        wrong: dict[str, str] = {}
        for text in set(cells).difference(known):
            try:
                known[text] = read(self.with_point(text))
            except DataError as error:
                wrong[text] = str(error)
        if wrong:
            index = next(index for index, text in enumerate(cells) if text in wrong)
            self.complain(index, name, wrong[cells[index]])
            return np.full(len(self), np.nan)
        values = np.fromiter(map(known.__getitem__, cells), np.float64, len(cells))
        if len(known) > MOST_KNOWN:
            del self.known[name]
        return values

    def with_point(self, text: str) -> str:
        """Write a decimal comma as a point, where the file's separator leaves no doubt."""
        if self.decimal_comma and _DECIMAL_COMMA.fullmatch(text):
            return text.replace(",", ".")
        return text

    def require(self, name: str, words: str) -> None:
        """Complain about the first blank in a column that must be filled."""
        cells = self.cells(name)
        if "" in cells:
            self.complain(cells.index(""), name, words)


def _plain_lengths(column: Column) -> Floats | None:
    """Millimetres as bare decimals all down a column, at once; None: read it cell by cell."""
    if column.unit != "mm" or not _PLAIN_NUMBERS.fullmatch("".join(column.cells)):
        return None
    try:
        if "" in column.cells:
            values = np.array([float(text) if text else math.nan for text in column.cells])
        else:
            values = np.fromiter(map(float, column.cells), np.float64, len(column.cells))
    except ValueError:
        return None
    return None if (np.abs(values) > LONGEST_MM).any() else round_mm(values)


def _length(column: Column, text: str) -> float:
    try:
        return parse_length(text, column.unit)
    except LengthError as error:
        if column.unit is None and _is_length_in_mm(text):
            raise LengthError(
                f"{error}, or name the column {column.header}_mm or {column.header}_in"
            ) from None
        raise


def _is_length_in_mm(text: str) -> bool:
    try:
        parse_length(text, "mm")
    except LengthError:
        return False
    return True


def read_sheets(
    path: Path,
    *,
    lengths: Sequence[str],
    others: Sequence[str],
    required: Sequence[str],
    angles: Sequence[str] = (),
    units: Unit | None = None,
) -> Iterator[Sheet]:
    """Read a CSV file, comma or semicolon, into known columns, some hundred rows at a time.

    Parameters
    ----------
    path
        The file, UTF-8.
    lengths, others
        The column names there may be; those of lengths also with ``_mm`` or ``_in`` after them.
    required
        The columns without which nothing can be read.
    angles
        Further column names there may be, also with ``_deg`` after them.
    units
        What a bare number counts in a column whose name does not say it.

    Yields
    ------
    Sheet
        Rows in the order of the file; one sheet of no rows where there is only a header.

    Raises
    ------
    DataError
        The file cannot be read, is no CSV, or its columns are not the known ones.
    """
    text = read_text(path)
    file = str(path)
    if not text.strip():
        raise DataError(
            f"{file}: is empty; its first row names the columns, like {', '.join(required)}"
        )
    delimiter = _delimiter(text)
    batches = _batches(
        file, csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    )
    names_row, *first_batch = next(batches)
    header = [name.strip() for name in names_row]
    while header and not header[-1]:  # spreadsheets leave empty columns at the end
        header.pop()
    names = _names(file, header, lengths, angles, others)
    for name in required:
        if name not in [known for known, _ in names]:
            raise DataError(
                f"{file}, row 1: has no column {name!r}; needed are {', '.join(required)}"
            )
    known: dict[str, dict[str, float]] = {}
    row = 2
    for batch in chain([first_batch], batches):
        rows: Sequence[int] = range(row, row + len(batch))
        row += len(batch)
        if not all(map(any, batch)):  # empty lines, which a spreadsheet counts too
            rows = [number for number, cells in zip(rows, batch, strict=True) if any(cells)]
            batch = list(filter(any, batch))
        cells = [
            list(map(str.strip, column))
            for column in zip(*_squared(file, rows, batch, len(header)), strict=True)
        ]
        columns = {
            name: Column(header[at], unit or units, cells[at] if cells else [])
            for at, (name, unit) in enumerate(names)
        }
        yield Sheet(file, rows, columns, delimiter == ";", known)


def read_sheet(path: Path, **columns: Any) -> Sheet:
    """Read a whole file as one sheet; parameters and errors are those of `read_sheets`."""
    sheets = list(read_sheets(path, **columns))
    first = sheets[0]
    return Sheet(
        first.file,
        list(chain.from_iterable(sheet.rows for sheet in sheets)),
        {
            name: replace(
                column,
                cells=list(chain.from_iterable(sheet.columns[name].cells for sheet in sheets)),
            )
            for name, column in first.columns.items()
        },
        first.decimal_comma,
        first.known,
    )


def _delimiter(text: str) -> str:
    """Comma or semicolon: whichever splits the first row into more."""
    first = text.lstrip().split("\n", 1)[0]
    return ";" if first.count(";") > first.count(",") else ","


def _batches(file: str, reader: Iterator[list[str]]) -> Iterator[list[list[str]]]:
    """The rows of a file in lists short enough to stay in the processor's cache."""
    row = 1
    while True:
        batch: list[list[str]] = []
        try:
            batch.extend(islice(reader, BATCH))  # what was read before an error stays
        except csv.Error as error:
            raise DataError(
                f"{file}, row {row + len(batch)}: {_CSV_TROUBLE.get(str(error), error)}; a cell "
                f'that holds a quotation mark or a separator is written "like ""this"""'
            ) from None
        if not batch:
            return
        row += len(batch)
        yield batch


_CSV_TROUBLE = {
    "unexpected end of data": "a quotation mark is opened and never closed",
    "',' expected after '\"'": "text follows a closing quotation mark",
    "';' expected after '\"'": "text follows a closing quotation mark",
}


def _names(
    file: str,
    header: list[str],
    lengths: Sequence[str],
    angles: Sequence[str],
    others: Sequence[str],
) -> list[tuple[str, Unit | None]]:
    """Which known column each name of the header means, and the unit that it carries."""
    known: dict[str, tuple[str, Unit | None]] = {name: (name, None) for name in others}
    for name in lengths:
        known |= {name: (name, None), f"{name}_mm": (name, "mm"), f"{name}_in": (name, "in")}
    for name in angles:
        known |= {name: (name, None), f"{name}_deg": (name, None)}
    names = []
    for at, written in enumerate(header, start=1):
        key = re.sub(r"[\s-]+", "_", written.lower())
        if not written:
            raise DataError(f"{file}, row 1: column {at} has no name")
        if key not in known:
            if "\t" in written:
                raise DataError(
                    f"{file}, row 1: the columns are split by tabs; save it with commas"
                )
            raise DataError(
                f"{file}, row 1: unknown column {quoted(written)}; "
                f"{did_you_mean(key, known, [*others, *lengths, *angles])}"
            )
        names.append(known[key])
    first: dict[str, str] = {}
    for (name, _), written in zip(names, header, strict=True):
        if name in first:
            raise DataError(
                f"{file}, row 1: column {name!r} stands twice, as {quoted(first[name])} and "
                f"{quoted(written)}; keep one"
            )
        first[name] = written
    return names


def _squared(file: str, rows: Sequence[int], body: list[list[str]], width: int) -> list[list[str]]:
    """Make all rows as wide as the header; missing cells at the end of a row are blank."""
    if set(map(len, body)) <= {width}:
        return body
    for row, cells in zip(rows, body, strict=True):
        if any(cells[width:]):
            raise DataError(
                f"{file}, row {row}: has {len(cells)} cells where the header names {width} "
                f"columns; {quoted(cells[width])} is one too many"
            )
    return [[*cells[:width], *[""] * (width - len(cells))] for cells in body]


def write_lengths(values: Floats) -> list[str]:
    """Write lengths as cells that read back the same, nan as a blank: n cells.

    Parameters
    ----------
    values
        (n,) lengths. [mm]
    """
    return [write_length(value) if value == value else "" for value in values.tolist()]


def guard_cell(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would run as a formula."""
    return f"'{text}" if _WOULD_RUN.match(text) else text


def write_texts(cells: Sequence[str]) -> list[str]:
    """Write texts as cells that no spreadsheet runs and `Sheet.texts` gives back the same."""
    return [guard_cell(cell) for cell in cells]


def write_sheet(columns: Mapping[str, Sequence[str]]) -> str:
    """Write columns as CSV text.

    Parameters
    ----------
    columns
        n cells for each column, by the column's name, in the order to write them. Those that
        people typed come from `write_texts`.

    Returns
    -------
    str
        With line ends as RFC 4180 has them; write it to a file opened with ``newline=""``.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(columns)
    writer.writerows(zip(*columns.values(), strict=True))
    return text.getvalue()
