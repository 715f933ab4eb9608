"""What stood before: who changed what, when, and every version of a car."""

import getpass
from dataclasses import dataclass
from datetime import UTC, datetime

from pydantic import ValidationError
from sqlalchemy import Connection, func, insert, select

from catalog.car import Car
from catalog.car_rows import StoredCars
from catalog.record import complaint_of
from catalog.stored import StoredColumns, damaged
from catalog.tables import car_history, changes

__all__ = ["CarVersion", "note_change", "read_history"]

_MADE = tuple(changes.c[name] for name in ("what", "made_at", "made_by"))


@dataclass(frozen=True)
class CarVersion:
    """One version of a car: the record, and which change made it, when (ISO, UTC) and by whom."""

    version: int
    car: Car
    retired: bool
    what: str
    made_at: str
    made_by: str


def note_change(
    connection: Connection,
    what: str,
    who: str | None,
    *,
    added: int = 0,
    changed: int = 0,
    unchanged: int = 0,
) -> int:
    """Write down that somebody changes something now.

    Parameters
    ----------
    connection
        In a transaction.
    what
        The command, like "import".
    who
        Who does it; None: the login name.
    added, changed, unchanged
        How many cars or helices.

    Returns
    -------
    int
        The number of the change.
    """
    now = datetime.now(UTC).isoformat(timespec="seconds")
    last = connection.execute(select(func.max(changes.c.number))).scalar() or 0
    connection.execute(
        insert(changes).values(
            number=last + 1,
            what=what,
            made_at=now,
            made_by=who or _login_name(),
            added=added,
            changed=changed,
            unchanged=unchanged,
        )
    )
    return int(last) + 1


def _login_name() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):  # no such user, or a system without users
        return "unknown"


def read_history(connection: Connection, stored: StoredCars) -> list[CarVersion]:
    """All versions of one car, the oldest first, the present one last.

    Parameters
    ----------
    connection
        In a transaction.
    stored
        One car as it stands.

    Raises
    ------
    StoreError
        An old version is no possible car.
    """
    before = (
        select(*(car_history.c[name] for name in ("version", "retired", "document")), *_MADE)
        .join(changes, car_history.c.change == changes.c.number)
        .where(car_history.c.car == int(stored.number[0]))
    )
    read = StoredColumns(connection, before.order_by(car_history.c.version), "car_history")
    rows = zip(
        read.whole_numbers("version").tolist(),
        read.texts("document"),
        read.whole_numbers("retired").tolist(),
        *(read.texts(column.name) for column in _MADE),
        strict=True,
    )
    versions = []
    for version, document, retired, *made in rows:
        try:
            car = Car.model_validate_json(document)
        except ValidationError as error:
            words = complaint_of(error)[1]
            damaged(connection, f"table car_history, version {version}: {words}")
        versions.append(CarVersion(version, car, bool(retired), *made))
    last = select(*_MADE)
    read = StoredColumns(
        connection, last.where(changes.c.number == int(stored.change[0])), "changes"
    )
    for what, made_at, made_by in zip(*(read.texts(column.name) for column in _MADE), strict=True):
        car = stored.table.cars()[0]
        versions.append(
            CarVersion(int(stored.version[0]), car, bool(stored.retired[0]), what, made_at, made_by)
        )
    return versions
