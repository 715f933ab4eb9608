"""Helices as rows of the database: one row a helix, the whole record as a JSON document."""

from dataclasses import dataclass

from pydantic import ValidationError
from sqlalchemy import Connection, func, insert, select, update

from catalog.helix import Helix
from catalog.stored import StoredColumns, damaged, no_record
from catalog.tables import helices, helix_history
from catalog.words import quoted

__all__ = ["StoredHelix", "helix_of", "read_helices", "write_helix"]

_TEXTS = ("name", "document")


@dataclass(frozen=True)
class StoredHelix:
    """A helix as it is stored, and what the catalog knows about its row."""

    name: str
    document: str
    number: int
    version: int
    retired: bool
    change: int

    def is_the_same_as(self, helix: Helix) -> bool:
        """Whether an equal helix is stored, and in use."""
        try:
            return not self.retired and Helix.model_validate_json(self.document) == helix
        except ValidationError:
            return False


def read_helices(connection: Connection) -> list[StoredHelix]:
    """Read all helices, retired ones too, in the order in which they came.

    What their documents say is for `helix_of`: one that cannot be used is no reason to refuse
    the others, nor its own next version.
    """
    columns = ("name", "number", "document", "version", "retired", "change")
    query = select(*(helices.c[name] for name in columns)).order_by(helices.c.number)
    read = StoredColumns(connection, query, "helices")
    rows = zip(
        read.texts("name"),
        read.texts("document"),
        *(read.whole_numbers(name).tolist() for name in columns if name not in _TEXTS),
        strict=True,
    )
    return [
        StoredHelix(name, document, number, version, bool(retired), change)
        for name, document, number, version, retired, change in rows
    ]


def helix_of(connection: Connection, stored: StoredHelix) -> Helix:
    """Give the record of a stored helix.

    Raises
    ------
    StoreError
        What is stored is no possible helix.
    """
    row = f"table helices, helix {quoted(stored.name)}"
    remedy = "put back a copy of it, or add the helix again from its file"
    try:
        helix = Helix.model_validate_json(stored.document)
    except ValidationError as error:
        no_record(connection, row, error, remedy)
    if helix.name != stored.name:
        damaged(connection, f"{row}: its document is about {quoted(helix.name)}", remedy)
    return helix


def write_helix(
    connection: Connection,
    name: str,
    document: str,
    stored: StoredHelix | None,
    change: int,
    *,
    retired: bool,
) -> None:
    """Write a new helix, or the next version of one, keeping what stood before in the history.

    Parameters
    ----------
    connection
        In a transaction.
    name, document, retired
        As it shall stand.
    stored
        As it stands; None: it is new.
    change
        The number of the change that does it.
    """
    if stored is None:
        last = connection.execute(select(func.max(helices.c.number))).scalar() or 0
        connection.execute(
            insert(helices).values(
                number=last + 1,
                name=name,
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
            document=stored.document,
        )
    )
    connection.execute(
        update(helices)
        .where(helices.c.number == stored.number)
        .values(document=document, version=stored.version + 1, retired=retired, change=change)
    )
