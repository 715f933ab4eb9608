"""What stood before: who changed what, when, and every version of a car."""

import getpass
from dataclasses import dataclass
from datetime import UTC, datetime

from pydantic import ValidationError
from sqlalchemy import Connection, func, insert, select

from catalog.car import Car
from catalog.car_rows import StoredCars
from catalog.errors import DataError
from catalog.stored import StoredColumns, damaged, no_record
from catalog.tables import car_history, changes

__all__ = ["CarVersion", "made_by", "note_change", "read_history", "refuse_same_state"]


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
        How many cars, helices or surveys.

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
            made_by=(who or _login_name()).encode(errors="replace").decode(),
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


def refuse_same_state(what: str, is_retired: bool, retired: bool) -> None:
    """Refuse to retire what is retired, and to restore what is not.

    Raises
    ------
    DataError
        ``what`` is in the state already in which it shall be.
    """
    if is_retired == retired:
        raise DataError(f"{what} is retired already" if retired else f"{what} is not retired")


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
        select(*(car_history.c[name] for name in ("version", "retired", "change", "document")))
        .where(car_history.c.car == int(stored.number[0]))
        .order_by(car_history.c.version)
    )
    read = StoredColumns(connection, before, "car_history")
    rows = zip(
        *(read.whole_numbers(name).tolist() for name in ("version", "retired", "change")),
        read.texts("document"),
        strict=True,
    )
    versions = []
    for version, retired, change, document in rows:
        try:
            car = Car.model_validate_json(document)
        except ValidationError as error:
            no_record(connection, f"table car_history, version {version}", error)
        versions.append((version, car, bool(retired), change))
    (car,) = stored.table.cars()
    versions.append((int(stored.version[0]), car, bool(stored.retired[0]), int(stored.change[0])))
    made = made_by(connection, [change for *_, change in versions], "a car")
    return [
        CarVersion(version, car, retired, *made[change])
        for version, car, retired, change in versions
    ]


def made_by(
    connection: Connection, numbers: list[int], what: str
) -> dict[int, tuple[str, str, str]]:
    """Say what was done, when (ISO, UTC) and by whom, by the number of the change.

    Parameters
    ----------
    connection
        In a transaction.
    numbers
        The changes.
    what
        What they made, for a complaint, like "a car".

    Raises
    ------
    StoreError
        One of them is missing.
    """
    columns = ("number", "what", "made_at", "made_by")
    query = select(*(changes.c[name] for name in columns)).where(changes.c.number.in_(numbers))
    read = StoredColumns(connection, query, "changes")
    made = dict(
        zip(
            read.whole_numbers("number").tolist(),
            zip(*(read.texts(name) for name in columns[1:]), strict=True),
            strict=True,
        )
    )
    for number in numbers:
        if number not in made:
            words = f"table changes: number {number}, which made {what}, is missing"
            damaged(connection, words)
    return made
