"""Open the database beneath a catalog, and say in one line why it will not open, read or write.

A catalog is one SQLite file. A command is one transaction; a command that changes something takes
the write lock at its start, so what it read still holds when it writes.
"""

import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

from sqlalchemy import Connection, create_engine, event, insert, inspect, select, update
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, InvalidRequestError
from sqlalchemy.pool import NullPool

from catalog.errors import StoreError
from catalog.tables import SCHEMA_NUMBER, metadata, schema
from catalog.words import quoted

__all__ = ["Opened", "default_path", "locate", "open_database", "store_errors", "transaction"]

LOCK_WAIT_S = 5.0  # how long another program's write may take before we give up

_MAGIC = b"SQLite format 3\0"  # with which every database begins, once something is in it

# By the beginning of SQLite's name for the error, the first that fits.
_TROUBLE = {
    "SQLITE_NOTADB": "is no catalog: it is not an SQLite file; name another with --catalog",
    "SQLITE_CORRUPT": "is damaged; put back a copy of it, or import your files into a new catalog",
    "SQLITE_READONLY": "is read-only; give yourself the right to write it, or name another "
    "with --catalog",
    "SQLITE_FULL": "does not fit on the disk, which is full; nothing was stored; make room and "
    "try again",
    "SQLITE_BUSY": "is in use by another program; nothing was stored; try again in a moment",
    "SQLITE_LOCKED": "is in use by another program; nothing was stored; try again in a moment",
    "SQLITE_CANTOPEN": "cannot be opened; check that you may read and write it and its folder",
    "SQLITE_PERM": "cannot be opened; check that you may read and write it and its folder",
    "SQLITE_IOERR": "cannot be read or written: the disk reports an error; nothing was stored",
}

# The same for what an older program made, while it is brought up to date.
_OLD_TROUBLE = {
    "SQLITE_READONLY": "was made by an older program, and cannot be brought up to date, for it is "
    "read-only; give yourself the right to write it, or open a copy with --catalog",
}


class Opened:
    """An open catalog: its connection, the path of its file, and transactions on it."""

    def __init__(self, connection: Connection, path: Path) -> None:
        self._connection = connection
        self.path = path

    def _reading(self) -> AbstractContextManager[Connection]:
        return transaction(self._connection, self.path, changes=False)

    def _changing(self) -> AbstractContextManager[Connection]:
        return transaction(self._connection, self.path, changes=True)


def default_path() -> Path:
    """Where the catalog is when nobody says otherwise: the platform's data folder."""
    from platformdirs import user_data_path  # only needed when no catalog is named

    return user_data_path("clearance", appauthor=False) / "catalog.sqlite"


def locate(where: str | Path | None) -> Path:
    """Say which file a catalog is in.

    Parameters
    ----------
    where
        A path, a URL like ``sqlite:///clubs/north.sqlite``, or None: `default_path`.

    Raises
    ------
    StoreError
        The URL is none, or of a kind that is not understood.
    """
    if where is None:
        return default_path()
    if "\0" in str(where):
        raise StoreError(f"{quoted(str(where))}: cannot be opened: no path holds a NUL")
    if isinstance(where, Path) or "://" not in where:
        return Path(where).expanduser().absolute()
    try:
        url = make_url(where)
    except (ArgumentError, ValueError):
        raise StoreError(f"{where!r} is neither a path nor a URL like sqlite:///PATH") from None
    if url.drivername != "sqlite" or not url.database:
        raise StoreError(
            f"{url.render_as_string(hide_password=True)!r} is no catalog that can be opened; "
            f"write a path, or sqlite:///PATH"
        )
    return Path(url.database).expanduser().absolute()


def open_database(path: Path, *, create: bool) -> Connection:
    """Connect to the catalog in a file.

    Parameters
    ----------
    path
        The file.
    create
        True: make it where there is none yet, empty.

    Raises
    ------
    StoreError
        There is none, it is none, it is damaged, or a newer program made it.
    """
    with store_errors(path):
        is_new = _look_at(path, create=create)
        engine = create_engine(
            URL.create("sqlite", database=str(path)),
            poolclass=NullPool,
            connect_args={"timeout": LOCK_WAIT_S},
        )
        event.listen(engine, "connect", _prepare)
        event.listen(engine, "begin", _begin)
        connection = engine.connect()
    try:
        with store_errors(path):
            _check_or_create(connection, path, create=create)
    except BaseException:
        connection.close()
        if is_new and path.stat().st_size == 0:
            path.unlink()
        raise
    return connection


def _look_at(path: Path, *, create: bool) -> bool:
    """Whether the file was made just now, empty; refuse what cannot become a catalog."""
    if path.is_dir():
        raise StoreError(f"{path}: is a folder; name a file in it, like {path / 'catalog.sqlite'}")
    if path.is_file():
        with path.open("rb") as file:
            if file.read(len(_MAGIC)) not in (b"", _MAGIC):
                raise StoreError(f"{path}: {_TROUBLE['SQLITE_NOTADB']}")
        return False
    if path.exists():
        raise StoreError(f"{path}: is no file; name another with --catalog")
    if not create:
        raise StoreError(
            f"{path}: there is no catalog yet; 'clearance car import cars.csv' makes one, "
            f"--catalog names another"
        )
    if path == default_path():
        path.parent.mkdir(parents=True, exist_ok=True)
    elif not path.parent.is_dir():
        raise StoreError(f"{path}: its folder does not exist; make {path.parent} first")
    try:
        path.touch(exist_ok=False)
    except FileExistsError:  # another program was quicker
        return False
    return True


def _prepare(raw: sqlite3.Connection, _record: object) -> None:
    raw.isolation_level = None  # transactions begin where `_begin` says, not where sqlite3 guesses
    raw.execute("PRAGMA foreign_keys = ON")
    # 32 MB of pages: an import of a big fleet is written once, not page by page as it comes.
    raw.execute("PRAGMA cache_size = -32000")


def _begin(connection: Connection) -> None:
    changes = connection.get_execution_options().get("changes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if changes else "BEGIN")


@contextmanager
def transaction(
    connection: Connection, path: Path, *, changes: bool, trouble: Mapping[str, str] = _TROUBLE
) -> Iterator[Connection]:
    """One command's transaction: all of it is stored, or nothing.

    Parameters
    ----------
    connection, path
        The open database and its file, for messages.
    changes
        True: take the write lock now.
    trouble
        As for `store_errors`.

    Raises
    ------
    StoreError
        The database cannot do it; nothing was stored.
    """
    with store_errors(path, trouble):
        connection.execution_options(changes=changes)
        with connection.begin():
            yield connection


@contextmanager
def store_errors(path: Path, trouble: Mapping[str, str] = _TROUBLE) -> Iterator[None]:
    """Turn what a database or a disk complains about into one line with the file's path.

    Parameters
    ----------
    path
        The file.
    trouble
        What to say, by the beginning of SQLite's name for the error.

    Raises
    ------
    StoreError
        In place of any error of SQLite, SQLAlchemy's driver, or the operating system.
    """
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        reason = error.orig if isinstance(error, DBAPIError) else error
        name = getattr(reason, "sqlite_errorname", "")
        for beginning, words in trouble.items():
            if name.startswith(beginning):
                raise StoreError(f"{path}: {words}") from None
        raise StoreError(
            f"{path}: is damaged, or no catalog of this program ({quoted(str(reason))}); "
            f"put back a copy of it, or name another with --catalog"
        ) from None
    except UnicodeError:  # even the driver's own complaint can quote what is damaged
        raise StoreError(f"{path}: {_TROUBLE['SQLITE_CORRUPT']}") from None
    except OSError as error:
        raise StoreError(f"{path}: cannot be opened: {error.strerror}") from None


def _check_or_create(connection: Connection, path: Path, *, create: bool) -> None:
    with transaction(connection, path, changes=False):
        tables = _tables(connection)
    if not tables and create:
        with transaction(connection, path, changes=True):
            metadata.create_all(connection)
            # Two programs may have come here together; the first one's number stands.
            if connection.execute(select(schema.c.number)).first() is None:
                connection.execute(insert(schema).values(number=SCHEMA_NUMBER))
        return
    if schema.name not in tables:
        raise StoreError(
            f"{path}: holds no catalog; name another with --catalog, or import into a new file"
        )
    with transaction(connection, path, changes=False):
        number = _schema_number(connection, path)
    if number < SCHEMA_NUMBER:
        _bring_up_to_date(connection, path)
        return
    if number > SCHEMA_NUMBER:
        raise StoreError(
            f"{path}: was made by a newer program (schema {number}, this one knows "
            f"{SCHEMA_NUMBER}); update clearance"
        )
    _refuse_missing(tables, path)


def _bring_up_to_date(connection: Connection, path: Path) -> None:
    """Turn the catalog of an older program into one of this program's, all of it or nothing."""
    from catalog.migrations import upgrade  # only needed for an old one

    raw = connection.connection.dbapi_connection
    assert isinstance(raw, sqlite3.Connection)
    raw.execute("PRAGMA foreign_keys = OFF")  # goes only outside a transaction
    try:
        with transaction(connection, path, changes=True, trouble=_TROUBLE | _OLD_TROUBLE):
            number = _schema_number(connection, path)
            if number < SCHEMA_NUMBER:  # or another program was quicker
                upgrade(connection, number, SCHEMA_NUMBER)
                connection.execute(update(schema).values(number=SCHEMA_NUMBER))
            _refuse_missing(_tables(connection), path)
    except (InvalidRequestError, LookupError) as error:  # it lacks a table, or a column of one
        raise StoreError(
            f"{path}: is damaged: it cannot be brought up to date ({quoted(str(error))}); put back "
            f"a copy of it"
        ) from None
    finally:
        raw.execute("PRAGMA foreign_keys = ON")


def _tables(connection: Connection) -> set[str]:
    return set(inspect(connection).get_table_names())


def _schema_number(connection: Connection, path: Path) -> int:
    numbers = connection.execute(select(schema.c.number)).scalars().all()
    if len(numbers) != 1 or not isinstance(numbers[0], int) or numbers[0] < 1:
        raise StoreError(f"{path}: is damaged: it does not say which schema it has")
    return numbers[0]


def _refuse_missing(tables: set[str], path: Path) -> None:
    missing = sorted(set(metadata.tables) - tables)
    if missing:
        raise StoreError(
            f"{path}: is damaged: table {missing[0]} is missing; put back a copy of it"
        )
