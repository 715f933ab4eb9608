"""Surveys as rows of the database: each is kept for good, the whole record as a JSON document."""

from dataclasses import dataclass
from datetime import date

from pydantic import ValidationError
from sqlalchemy import Connection, func, insert, select, update

from catalog.columns import day_of
from catalog.history import made_by
from catalog.stored import StoredColumns, damaged, no_record
from catalog.survey import Survey
from catalog.tables import surveys
from catalog.words import quoted

__all__ = ["StoredSurvey", "approve_survey", "read_surveys", "write_survey"]


@dataclass(frozen=True)
class StoredSurvey:
    """A survey, the day it holds from, and when (ISO, UTC) and by whom it came.

    ``approved_at`` and ``approved_by`` say when (ISO, UTC) and by whom the helix was approved as
    this survey found it; "": it was not. ``number`` is that of its row.
    """

    number: int
    survey: Survey
    taken_on: date
    added_at: str
    who: str
    approved_at: str = ""
    approved_by: str = ""

    @property
    def is_approved(self) -> bool:
        """Whether the helix was approved as this survey found it."""
        return bool(self.approved_at)


def read_surveys(connection: Connection, helix: int) -> list[StoredSurvey]:
    """Read the surveys of a helix, the oldest first; those of one day in the order they came.

    Parameters
    ----------
    connection
        In a transaction.
    helix
        The number of its row.

    Raises
    ------
    StoreError
        What is stored is no possible survey.
    """
    query = (
        select(
            *(surveys.c[name] for name in ("number", "taken_on", "change", "document", "approved"))
        )
        .where(surveys.c.helix == helix)
        .order_by(surveys.c.taken_on, surveys.c.number)
    )
    read = StoredColumns(connection, query, "surveys")
    by_change = read.whole_numbers("change").tolist()
    by_approval = read.whole_numbers_or_none("approved")
    made = made_by(connection, by_change, "a survey")
    approvals = [change for change in by_approval if change is not None]
    approved = {None: ("", "", "")} | made_by(connection, approvals, "a survey approved")
    rows = zip(
        read.whole_numbers("number").tolist(),
        read.texts("taken_on"),
        read.texts("document"),
        by_change,
        by_approval,
        strict=True,
    )
    stored = []
    for number, day, document, change, approval in rows:
        row = f"table surveys, row {number}"
        taken_on = day_of(day)
        if not isinstance(taken_on, date):
            damaged(connection, f"{row}, taken_on: {quoted(day)} is no date")
        try:
            survey = Survey.model_validate_json(document)
        except ValidationError as error:
            no_record(connection, row, error)
        _, added_at, who = made[change]
        _, *mark = approved[approval]
        stored.append(StoredSurvey(number, survey, taken_on, added_at, who, *mark))
    return stored


def write_survey(
    connection: Connection,
    helix: int,
    survey: Survey,
    taken_on: date,
    change: int,
    *,
    approved: bool,
) -> None:
    """Keep one more survey of a helix.

    Parameters
    ----------
    connection
        In a transaction.
    helix
        The number of its row.
    survey, taken_on
        What was measured, and the day from which it holds.
    change
        The number of the change that adds it.
    approved
        Whether the same change approves the helix as it was found.
    """
    last = connection.execute(select(func.max(surveys.c.number))).scalar() or 0
    connection.execute(
        insert(surveys).values(
            number=last + 1,
            helix=helix,
            taken_on=taken_on.isoformat(),
            change=change,
            document=survey.model_dump_json(),
            approved=change if approved else None,
        )
    )


def approve_survey(connection: Connection, number: int, change: int) -> None:
    """Mark a survey: as it found the helix, so it was approved.

    Parameters
    ----------
    connection
        In a transaction.
    number
        The number of its row.
    change
        The number of the change that approves it.
    """
    connection.execute(update(surveys).where(surveys.c.number == number).values(approved=change))
