"""The catalog: cars, helices and surveys kept across runs, with what stood before.

    with Catalog.open(None, create=True) as catalog:
        catalog.import_cars(read_cars(Path("cars.csv")))

Each method is one transaction: all of it is stored, or nothing. Nothing is ever deleted: a car or
a helix is retired, and every change keeps the version before it, who made it, and when.
"""

import shlex
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import repeat
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError
from sqlalchemy import Connection, func, select

from catalog.car import Car
from catalog.car_rows import StoredCars, add_rows, read_rows, replace_rows
from catalog.columns import CarTable
from catalog.database import locate, open_database
from catalog.errors import DataError
from catalog.helix_store import HelixStore
from catalog.history import CarVersion, note_change, read_history, refuse_same_state
from catalog.record import is_writable, refuse
from catalog.soundness import sound
from catalog.tables import cars, frames
from catalog.words import did_you_mean, quoted

__all__ = ["Catalog", "ImportCount"]

MANY_IDS = 500  # from here on one pass over all cars is as quick as looking each up


@dataclass(frozen=True)
class ImportCount:
    """What an import did.

    ``retired`` are the ids in the file whose cars are retired here: an import brings their figures
    up to date, but does not take back the decision to retire them.
    """

    added: int
    changed: int
    unchanged: int
    retired: tuple[str, ...] = ()


class Catalog(HelixStore):
    """An open catalog: its cars here, its helices and surveys in `HelixStore`.

    Get one from `Catalog.open`.
    """

    @classmethod
    @contextmanager
    def open(cls, where: str | Path | None, *, create: bool) -> Iterator["Catalog"]:
        """Open a catalog for the length of a ``with`` block.

        Parameters
        ----------
        where
            A path, a URL like ``sqlite:///clubs/north.sqlite``, or None: ``catalog.sqlite`` in
            the platform's data folder.
        create
            True: where there is none yet, make an empty one.

        Raises
        ------
        StoreError
            It cannot be opened, is damaged, or comes from a newer program.
        """
        path = locate(where)
        connection = open_database(path, create=create)
        try:
            yield cls(connection, path)
        finally:
            connection.close()

    def import_cars(
        self,
        table: CarTable,
        *,
        keep_blocks: bool = False,
        keep_frames: bool = False,
        who: str | None = None,
    ) -> ImportCount:
        """Add the cars that are new and change those that differ, all or nothing.

        Cars that the table does not name stay as they are. A retired car stays retired. Importing
        the same again changes nothing and leaves no trace.

        Parameters
        ----------
        table
            The cars, each id once.
        keep_blocks
            True: the table says nothing about blocks, so a known car keeps those it has.
        keep_frames
            True: the table says nothing about frames, so a known car without a wheelbase keeps
            those it has.
        who
            Who does it; None: the login name.

        Raises
        ------
        DataError
            A car is impossible, an id stands twice, or kept blocks contradict the new figures.
        StoreError
            The database cannot do it; nothing was stored.
        """
        _refuse_twice(table)
        with self._changing() as connection:
            stored = read_rows(connection)
            row_of = {car: row for row, car in enumerate(stored.table.text["id"])}
            rows = np.array(list(map(row_of.get, table.text["id"], repeat(-1))), dtype=np.intp)
            known = np.flatnonzero(rows >= 0)
            if keep_frames:
                table = _with_frames_of(stored.table.take(rows[known]), known, table)
            if keep_blocks:
                table = _with_blocks_of(stored.table.take(rows[known]), known, table)
            _refuse_unsound(table)
            old = stored.take(rows[known])
            new = table.take(known)
            differ = np.flatnonzero(~old.table.matches(new))
            added = table.take(rows < 0) if len(known) else table
            count = ImportCount(
                added=len(added),
                changed=len(differ),
                unchanged=len(known) - len(differ),
                retired=tuple(old.take(np.flatnonzero(old.retired)).table.text["id"]),
            )
            if count.added or count.changed:
                change = note_change(
                    connection,
                    "import",
                    who,
                    added=count.added,
                    changed=count.changed,
                    unchanged=count.unchanged,
                )
                add_rows(connection, added, _free_numbers(connection, len(added)), change)
                old = old.take(differ)
                replace_rows(connection, old, new.take(differ), old.retired, change)
        return count

    def cars(self, ids: Sequence[str] | None = None, *, include_retired: bool = False) -> CarTable:
        """Read cars into columns.

        Parameters
        ----------
        ids
            Which ones, in this order; None: all, in the order in which they came.
        include_retired
            True: retired cars too.

        Raises
        ------
        DataError
            An id is not known, or is a retired car's where those are left out.
        StoreError
            The catalog is damaged.
        """
        with self._reading() as connection:
            if ids is None:
                which = None if include_retired else cars.c.retired.is_(False)
                return read_rows(connection, which).table
            stored = _named(connection, ids)
            retired = stored.take(np.flatnonzero(stored.retired)).table.text["id"]
            if retired and not include_retired:
                raise DataError(
                    f"car {quoted(retired[0])} is retired; "
                    f"'clearance car restore {shlex.quote(retired[0])}' brings it back"
                )
            return stored.table

    def car(self, id: str) -> Car:
        """Read one car, retired or not.

        Raises
        ------
        DataError
            There is no such car; the sentence names the nearest id.
        StoreError
            The catalog is damaged.
        """
        return self.cars([id], include_retired=True).cars()[0]

    def retired_ids(self) -> frozenset[str]:
        """The ids of the retired cars."""
        with self._reading() as connection:
            return frozenset(connection.execute(select(cars.c.id).where(cars.c.retired)).scalars())

    def framed_ids(self) -> frozenset[str]:
        """The ids of the cars that are described by frames, retired ones too."""
        framed = select(cars.c.id).where(cars.c.number.in_(select(frames.c.car)))
        with self._reading() as connection:
            return frozenset(connection.execute(framed).scalars())

    def add_car(self, car: Car, *, who: str | None = None) -> Car:
        """Add one car, and give it back as it is stored: lengths to 1e-6 mm.

        Raises
        ------
        DataError
            The id is taken.
        StoreError
            The database cannot do it; nothing was stored.
        """
        table = CarTable.from_cars([car])
        _refuse_unsound(table)
        with self._changing() as connection:
            _refuse_taken(connection, car.id)
            change = note_change(connection, "add", who, added=1)
            add_rows(connection, table, _free_numbers(connection, 1), change)
        return table.cars()[0]

    def edit_car(self, id: str, edits: Mapping[str, Any], *, who: str | None = None) -> Car:
        """Change some fields of a car, and give it back as it now stands.

        Parameters
        ----------
        id
            The car.
        edits
            New values by the field names of `Car`, "id" and "blocks" included; None makes an
            optional figure blank. The car as a whole must stay possible.
        who
            Who does it; None: the login name.

        Raises
        ------
        DataError
            There is no such car or field, the new id is taken, or the car would be impossible.
        StoreError
            The database cannot do it; nothing was stored.
        """
        with self._changing() as connection:
            stored = _named(connection, [id])
            try:
                car = Car(**{**next(stored.table.fields()), **edits})
            except ValidationError as error:
                refuse(error, f"car {quoted(id)}")
            table = CarTable.from_cars([car])
            _refuse_unsound(table)
            if car.id != id:
                _refuse_taken(connection, car.id)
            if table != stored.table:
                change = note_change(connection, "edit", who, changed=1)
                replace_rows(connection, stored, table, stored.retired, change)
        return table.cars()[0]

    def retire_car(self, id: str, *, who: str | None = None) -> None:
        """Leave a car out of checks and lists; it stays in the catalog.

        Raises
        ------
        DataError
            There is no such car, or it is retired already.
        """
        self._set_retired(id, True, who)

    def restore_car(self, id: str, *, who: str | None = None) -> None:
        """Bring a retired car back.

        Raises
        ------
        DataError
            There is no such car, or it is not retired.
        """
        self._set_retired(id, False, who)

    def history(self, id: str) -> list[CarVersion]:
        """All versions of a car, the oldest first, the present one last.

        Raises
        ------
        DataError
            There is no such car.
        StoreError
            The catalog is damaged.
        """
        with self._reading() as connection:
            return read_history(connection, _named(connection, [id]))

    def _set_retired(self, id: str, retired: bool, who: str | None) -> None:
        with self._changing() as connection:
            stored = _named(connection, [id])
            refuse_same_state(f"car {quoted(id)}", bool(stored.retired[0]), retired)
            change = note_change(connection, "retire" if retired else "restore", who, changed=1)
            replace_rows(connection, stored, stored.table, np.array([retired]), change)


def _named(connection: Connection, ids: Sequence[str]) -> StoredCars:
    """The cars with these ids, retired or not, in this order."""
    wanted = list(dict.fromkeys(ids))
    writable = list(filter(is_writable, wanted))  # the rest cannot be asked for, nor be there
    which = cars.c.id.in_(writable) if len(wanted) <= MANY_IDS else None
    stored = read_rows(connection, which)
    row_of = {car: row for row, car in enumerate(stored.table.text["id"])}
    for car in wanted:
        if car not in row_of:
            every = connection.execute(select(cars.c.id).order_by(cars.c.number)).scalars().all()
            raise DataError(
                f"there is no car {quoted(car)} in the catalog; {did_you_mean(car, every)}"
            )
    return stored.take(np.array([row_of[car] for car in wanted], dtype=np.intp))


def _with_blocks_of(stored: CarTable, places: NDArray[np.intp], table: CarTable) -> CarTable:
    """The table, with the stored cars' blocks for the rows at these places."""
    return table.with_blocks(
        places[stored.block_car], stored.block_name, stored.block_figures, stored.block_frame
    )


def _with_frames_of(stored: CarTable, places: NDArray[np.intp], table: CarTable) -> CarTable:
    """The table, with the stored cars' frames for those rows at these places that say nothing of
    what they stand on."""
    blank = np.flatnonzero(np.isnan(table.figures["wheelbase_mm"][places]))
    kept = stored.take(blank)
    return table.with_frames(
        places[blank][kept.frame_car],
        kept.frame_name,
        kept.frame_rear_on,
        kept.frame_front_on,
        kept.frame_figures,
    )


def _free_numbers(connection: Connection, count: int) -> NDArray[np.intp]:
    last = connection.execute(select(func.max(cars.c.number))).scalar() or 0
    return np.arange(last + 1, last + 1 + count)


def _refuse_unsound(table: CarTable) -> None:
    """Let `Car` speak about every row that does not look sound."""
    table.take(~sound(table)).cars()


def _refuse_twice(table: CarTable) -> None:
    ids = table.text["id"]
    if len(set(ids)) < len(ids):
        twice = next(car for car, count in Counter(ids).items() if count > 1)
        raise DataError(f"car {quoted(twice)} stands twice; ids are unique")


def _refuse_taken(connection: Connection, id: str) -> None:
    row = connection.execute(select(cars.c.retired).where(cars.c.id == id)).first()
    if row is None:
        return
    if row.retired:
        hint = f"retired; 'clearance car restore {shlex.quote(id)}' brings it back"
    else:
        hint = f"already; 'clearance car edit {shlex.quote(id)}' changes it"
    raise DataError(f"car {quoted(id)} is in the catalog, {hint}")
