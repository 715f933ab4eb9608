"""Surveys as rows of the database: each is kept for good, the whole record as a JSON document."""

from dataclasses import dataclass
from datetime import date

from pydantic import ValidationError
from sqlalchemy import Connection, func, insert, select

from catalog.columns import day_of
from catalog.history import made_by
from catalog.stored import StoredColumns, damaged, no_record
from catalog.survey import Survey
from catalog.tables import surveys
from catalog.words import quoted

__all__ = ["StoredSurvey", "read_surveys", "write_survey"]


@dataclass(frozen=True)
class StoredSurvey:
    """A survey, the day it holds from, and when (ISO, UTC) and by whom it came."""

    survey: Survey
    taken_on: date
    added_at: str
    who: str


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
        select(*(surveys.c[name] for name in ("number", "taken_on", "change", "document")))
        .where(surveys.c.helix == helix)
        .order_by(surveys.c.taken_on, surveys.c.number)
    )
    read = StoredColumns(connection, query, "surveys")
    by_change = read.whole_numbers("change").tolist()
    made = made_by(connection, by_change, "a survey")
    rows = zip(
        read.whole_numbers("number").tolist(),
        read.texts("taken_on"),
        read.texts("document"),
        by_change,
        strict=True,
    )
    stored = []
    for number, day, document, change in rows:
        row = f"table surveys, row {number}"
        taken_on = day_of(day)
        if not isinstance(taken_on, date):
            damaged(connection, f"{row}, taken_on: {quoted(day)} is no date")
        try:
            survey = Survey.model_validate_json(document)
        except ValidationError as error:
            no_record(connection, row, error)
        _, added_at, who = made[change]
        stored.append(StoredSurvey(survey, taken_on, added_at, who))
    return stored


def write_survey(
    connection: Connection, helix: int, survey: Survey, taken_on: date, change: int
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
    """
    last = connection.execute(select(func.max(surveys.c.number))).scalar() or 0
    connection.execute(
        insert(surveys).values(
            number=last + 1,
            helix=helix,
            taken_on=taken_on.isoformat(),
            change=change,
            document=survey.model_dump_json(),
        )
    )
