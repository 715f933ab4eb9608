"""Bring a catalog that an older program made up to date, step by step, where it stands.

``versions`` holds a step for each number of the schema, as alembic writes them; how far a catalog
is stands in its own table ``clearance_schema``, not in one of alembic's. New catalogs are made as
catalog/tables.py says, at once: alembic is only read when there is an old one.
"""

from pathlib import Path

from sqlalchemy import Connection

__all__ = ["upgrade"]


def upgrade(connection: Connection, number: int, wanted: int) -> None:
    """Take the steps from one schema to a later one.

    Parameters
    ----------
    connection
        In a transaction that may write; with SQLite foreign keys are off, for a table that is
        copied is dropped for a moment.
    number, wanted
        Which schema the catalog has, and which it shall have; 0: nothing yet.
    """
    from alembic.migration import MigrationContext
    from alembic.operations import Operations
    from alembic.script import ScriptDirectory

    steps = ScriptDirectory(str(Path(__file__).parent)).iterate_revisions(
        _name(wanted), _name(number)
    )
    with Operations.context(MigrationContext.configure(connection)):
        for step in reversed(list(steps)):
            step.module.upgrade()


def _name(number: int) -> str:
    return f"{number:04}" if number else "base"
