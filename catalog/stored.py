"""Take from the database only what is of the kind that was put in.

SQLite stores a text in a column of numbers without a word, and a damaged file can hold anything;
here it becomes one line that names table, row and column.
"""

from typing import Any, NoReturn

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError
from sqlalchemy import Connection, Select

from catalog.errors import StoreError
from catalog.record import complaint_of
from catalog.rounding import Floats
from catalog.words import quoted

__all__ = ["StoredColumns", "damaged", "no_record"]

BATCH = 500  # rows

_PUT_BACK = "put back a copy of it"


class StoredColumns:
    """The answer to a query by columns, each checked when it is taken; the first names the row.

    Parameters
    ----------
    connection
        In a transaction.
    query
        What to read; its first column is what a row is called in a complaint.
    table
        What the table is called there.
    """

    def __init__(self, connection: Connection, query: Select[Any], table: str) -> None:
        names = list(query.selected_columns.keys())
        result = connection.execute(query)
        columns: list[list[Any]] = [[] for _ in names]
        # Plain tuples, turned into columns while they are still in the processor's cache.
        while rows := result.cursor.fetchmany(BATCH):
            for column, cells in zip(columns, zip(*rows, strict=True), strict=True):
                column.extend(cells)
        result.close()
        self._columns = dict(zip(names, columns, strict=True))
        self._row_names = columns[0]
        self._connection = connection
        self._table = table

    def texts(self, name: str) -> list[str]:
        """A column of texts."""
        return self._checked(name, "text", str)

    def numbers(self, name: str) -> Floats:
        """A column of numbers, nan where NULL."""
        return np.array(self._checked(name, "a number", float, type(None)), dtype=np.float64)

    def whole_numbers(self, name: str) -> NDArray[np.intp]:
        """A column of whole numbers, or of 0 and 1 for no and yes."""
        return np.array(self._checked(name, "a whole number", int, bool), dtype=np.intp)

    def whole_numbers_or_none(self, name: str) -> list[int | None]:
        """A column of whole numbers, None where NULL."""
        return self._checked(name, "a whole number", int, type(None))

    def _checked(self, name: str, wanted: str, *kinds: type) -> list[Any]:
        cells = self._columns[name]
        if not set(map(type, cells)) <= set(kinds):
            row, value = next((r, v) for r, v in enumerate(cells) if type(v) not in kinds)
            damaged(
                self._connection,
                f"table {self._table}, row {quoted(self._row_names[row])}, {name}: {quoted(value)} "
                f"is not {wanted}",
            )
        return cells


def no_record(
    connection: Connection, row: str, error: ValidationError, remedy: str = _PUT_BACK
) -> NoReturn:
    """Say why what is stored is no possible record, and what to do.

    Raises
    ------
    StoreError
        Always, with the first complaint of the error.
    """
    place, words = complaint_of(error)
    field = ".".join(map(str, place))
    damaged(connection, f"{row}, {field}: {words}" if field else f"{row}: {words}", remedy)


def damaged(connection: Connection, words: str, remedy: str = _PUT_BACK) -> NoReturn:
    """Say what is wrong inside a catalog, and what to do.

    Raises
    ------
    StoreError
        Always: the file, the words, and what to do.
    """
    raise StoreError(f"{connection.engine.url.database}: is damaged: {words}; {remedy}")
