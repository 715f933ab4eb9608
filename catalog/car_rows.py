"""Cars as rows of the database: a whole fleet read into columns, or written from them.

Bulk paths hand tuples to the driver and take tuples from it; how the driver marks a parameter is
known to `_insert` alone.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import ColumnElement, Connection, Table, bindparam, delete, select, update

from catalog.columns import FIGURES, TEXTS, CarTable
from catalog.errors import DataError
from catalog.parts import BLOCKS, FRAMES, Kind, Parts
from catalog.rounding import Floats
from catalog.soundness import sound
from catalog.stored import StoredColumns, damaged
from catalog.tables import blocks, car_history, cars, frames

__all__ = ["StoredCars", "add_rows", "read_rows", "replace_rows"]

_PLACEHOLDERS = {"qmark": "?", "format": "%s", "pyformat": "%s"}
_STATE = ("number", "version", "retired", "change")
_CAR = (*TEXTS, *FIGURES, *_STATE)


@dataclass(frozen=True)
class StoredCars:
    """Cars, and what the catalog knows about the row of each: (n,) each."""

    table: CarTable
    number: NDArray[np.intp]
    version: NDArray[np.intp]
    retired: NDArray[np.bool_]
    change: NDArray[np.intp]

    def take(self, indices: NDArray[np.intp]) -> "StoredCars":
        """Pick rows, in the order given."""
        return StoredCars(
            self.table.take(indices),
            self.number[indices],
            self.version[indices],
            self.retired[indices],
            self.change[indices],
        )


def read_rows(connection: Connection, which: ColumnElement[bool] | None = None) -> StoredCars:
    """Read cars with their blocks and frames, in the order in which they came.

    Parameters
    ----------
    connection
        In a transaction.
    which
        A condition on the table ``cars``; None: all of them, retired ones too.

    Raises
    ------
    StoreError
        What is stored is no possible car; the sentence names table, car and column.
    """
    car_rows = select(*(cars.c[name] for name in _CAR)).order_by(cars.c.number)
    if which is not None:
        car_rows = car_rows.where(which)
    read = StoredColumns(connection, car_rows, "cars")
    state = {name: read.whole_numbers(name) for name in _STATE}
    text = {name: read.texts(name) for name in TEXTS}
    figures = {name: read.numbers(name) for name in FIGURES}
    table = CarTable(
        text=text,
        figures=figures,
        blocks=_read_parts(connection, blocks, BLOCKS, state["number"], which),
        frames=_read_parts(connection, frames, FRAMES, state["number"], which),
    )
    try:
        table.take(~sound(table)).cars()
    except DataError as error:
        damaged(connection, f"table cars, {error}")
    return StoredCars(
        table, state["number"], state["version"], state["retired"].astype(bool), state["change"]
    )


def _read_parts(
    connection: Connection,
    table: Table,
    kind: Kind,
    numbers: NDArray[np.intp],
    which: ColumnElement[bool] | None,
) -> Parts:
    names = ("car", *kind.texts, *kind.figures)
    rows = select(*(table.c[name] for name in names)).order_by(table.c.car, table.c.place)
    if which is not None:
        rows = rows.join(cars).where(which)
    read = StoredColumns(connection, rows, table.name)
    return Parts(
        owner=_owners(connection, table, numbers, read.whole_numbers("car")),
        text={name: read.texts(name) for name in kind.texts},
        figures={name: read.numbers(name) for name in kind.figures},
    )


def _owners(
    connection: Connection, table: Table, numbers: NDArray[np.intp], named: NDArray[np.intp]
) -> NDArray[np.intp]:
    """The index of the car that each part names; both come sorted, unless the file is damaged."""
    if (np.diff(numbers) <= 0).any() or (np.diff(named) < 0).any():
        damaged(connection, "its rows are out of order")
    owners = np.searchsorted(numbers, named)
    lost = np.flatnonzero(~np.isin(named, numbers))
    if len(lost):
        words = f"table {table.name}, row {named[lost[0]]}: there is no such car"
        damaged(connection, words)
    return owners


def add_rows(
    connection: Connection, table: CarTable, numbers: NDArray[np.intp], change: int
) -> None:
    """Write new cars with their blocks and frames, as version 1.

    Parameters
    ----------
    connection
        In a transaction.
    table
        n possible cars.
    numbers
        Their row numbers, none of them taken: (n,).
    change
        The number of the change that adds them.
    """
    _insert(
        connection,
        cars,
        {
            "number": numbers.tolist(),
            **{name: cells for name, cells in table.text.items() if any(cells)},
            **{name: _cells(v) for name, v in table.figures.items() if not np.isnan(v).all()},
            "change": [change] * len(table),
        },
    )
    _insert_parts(connection, table, numbers)


def replace_rows(
    connection: Connection,
    stored: StoredCars,
    table: CarTable,
    retired: NDArray[np.bool_],
    change: int,
) -> None:
    """Write the next version of cars, and keep what stood before in the history.

    Parameters
    ----------
    connection
        In a transaction.
    stored
        The n cars as they stand.
    table, retired
        As they shall stand, in the same order.
    change
        The number of the change that does it.
    """
    if not len(table):
        return
    documents = [
        json.dumps(fields, default=date.isoformat, ensure_ascii=False)
        for fields in stored.table.fields()
    ]
    numbers = stored.number.tolist()
    _insert(
        connection,
        car_history,
        {
            "car": numbers,
            "version": stored.version.tolist(),
            "retired": stored.retired.tolist(),
            "change": stored.change.tolist(),
            "document": documents,
        },
    )
    columns = {
        **table.text,
        **{name: _cells(values) for name, values in table.figures.items()},
        "version": (stored.version + 1).tolist(),
        "retired": retired.tolist(),
        "change": [change] * len(table),
        "row": numbers,
    }
    names = tuple(columns)
    rows = [dict(zip(names, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    connection.execute(update(cars).where(cars.c.number == bindparam("row")), rows)
    for parts in (blocks, frames):
        connection.execute(
            delete(parts).where(parts.c.car == bindparam("row")), [{"row": n} for n in numbers]
        )
    _insert_parts(connection, table, stored.number)


def _insert_parts(connection: Connection, table: CarTable, numbers: NDArray[np.intp]) -> None:
    for into, parts in ((blocks, table.blocks), (frames, table.frames)):
        if not len(parts):
            continue
        places = np.arange(len(parts)) - np.searchsorted(parts.owner, parts.owner)
        _insert(
            connection,
            into,
            {
                "car": numbers[parts.owner].tolist(),
                "place": places.tolist(),
                **parts.text,
                **{name: values.tolist() for name, values in parts.figures.items()},
            },
        )


def _insert(connection: Connection, into: Table, columns: dict[str, Sequence[Any]]) -> None:
    """Insert rows given as columns; the driver gets plain tuples."""
    quote = connection.dialect.identifier_preparer.quote
    names = ", ".join(quote(name) for name in columns)
    marks = ", ".join([_PLACEHOLDERS[connection.dialect.paramstyle]] * len(columns))
    rows: Any = zip(*columns.values(), strict=True)  # drivers take any iterable
    cursor = connection.connection.cursor()
    cursor.executemany(f"INSERT INTO {into.name} ({names}) VALUES ({marks})", rows)
    cursor.close()


def _cells(values: Floats) -> list[float | None]:
    """Figures as the database keeps them: a blank is NULL."""
    cells: list[float | None] = values.tolist()
    if np.isnan(values).any():
        return [cell if cell == cell else None for cell in cells]
    return cells
