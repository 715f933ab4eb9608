"""Helices as rows of the database: one row a helix, the whole record as a JSON document."""

from dataclasses import dataclass

from pydantic import ValidationError
from sqlalchemy import Connection, func, insert, select, update

from catalog.helix import Helix
from catalog.stored import StoredColumns, damaged, no_record
from catalog.tables import helices, helix_history
from catalog.words import quoted

__all__ = ["StoredHelix", "read_helices", "write_helix"]


@dataclass(frozen=True)
class StoredHelix:
    """A helix, and what the catalog knows about its row."""

    helix: Helix
    number: int
    version: int
    retired: bool
    change: int


def read_helices(connection: Connection) -> list[StoredHelix]:
    """Read all helices, retired ones too, in the order in which they came.

    Raises
    ------
    StoreError
        What is stored is no possible helix.
    """
    columns = ("name", "number", "document", "version", "retired", "change")
    query = select(*(helices.c[name] for name in columns)).order_by(helices.c.number)
    read = StoredColumns(connection, query, "helices")
    rows = zip(
        read.texts("name"),
        read.texts("document"),
        *(read.whole_numbers(name).tolist() for name in ("number", "version", "retired", "change")),
        strict=True,
    )
    stored = []
    for name, document, number, version, retired, change in rows:
        try:
            helix = Helix.model_validate_json(document)
        except ValidationError as error:
            no_record(connection, f"table helices, helix {quoted(name)}", error)
        if helix.name != name:
            words = f"its document is about {quoted(helix.name)}"
            damaged(connection, f"table helices, helix {quoted(name)}: {words}")
        stored.append(StoredHelix(helix, number, version, bool(retired), change))
    return stored


def write_helix(
    connection: Connection, helix: Helix, stored: StoredHelix | None, change: int, *, retired: bool
) -> None:
    """Write a new helix, or the next version of one, keeping what stood before in the history.

    Parameters
    ----------
    connection
        In a transaction.
    helix, retired
        As it shall stand.
    stored
        As it stands; None: it is new.
    change
        The number of the change that does it.
    """
    document = helix.model_dump_json()
    if stored is None:
        last = connection.execute(select(func.max(helices.c.number))).scalar() or 0
        connection.execute(
            insert(helices).values(
                number=last + 1,
                name=helix.name,
                document=document,
                version=1,
                retired=retired,
                change=change,
            )
        )
        return
    connection.execute(
        insert(helix_history).values(
            helix=stored.number,
            version=stored.version,
            retired=stored.retired,
            change=stored.change,
            document=stored.helix.model_dump_json(),
        )
    )
    connection.execute(
        update(helices)
        .where(helices.c.number == stored.number)
        .values(document=document, version=stored.version + 1, retired=retired, change=change)
    )
