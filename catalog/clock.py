"""Which day it is, and whether a survey can have been taken yet."""

from collections.abc import Sequence
from datetime import date

from catalog.errors import DataError
from catalog.survey import Survey, reading_place

__all__ = ["refuse_future", "today"]


def today() -> date:
    """The day, by the clock of this computer."""
    return date.today()


def refuse_future(survey: Survey, *, source: str = "the survey", rows: Sequence[int] = ()) -> None:
    """Refuse a survey that is dated after today: it would stand until that day and beyond.

    Parameters
    ----------
    survey
        What was measured.
    source, rows
        As for `reading_place`.

    Raises
    ------
    DataError
        A reading is dated in the future.
    """
    now = today()
    for number, reading in enumerate(survey.readings):
        if reading.taken_on is not None and reading.taken_on > now:
            where = reading_place(source, rows, number, "taken_on")
            raise DataError(
                f"{where}: {reading.taken_on} is in the future, for today is {now} by this "
                f"computer's clock; write the day on which it was measured"
            )
