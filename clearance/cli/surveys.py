"""The survey that a command judges a helix by: from a file, or the catalog's that stood then."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from catalog.errors import DataError, UsageError
from clearance.cli.options import BuiltSource, Source, Units

if TYPE_CHECKING:
    from catalog.helix import Helix
    from catalog.store import Catalog
    from catalog.survey import Survey
    from catalog.survey_rows import StoredSurvey
    from clearance.show.standing import Standing

__all__ = ["as_of_day", "fitting", "kept", "read_day", "read_fitting", "surveyed"]


def as_of_day(source: Source) -> date | None:
    """The day that was asked for; None: today.

    Raises
    ------
    UsageError
        It is no day, or something else says already what the helix is judged by.
    """
    text = source.as_of if isinstance(source, BuiltSource) else None
    if text is None:
        return None
    if source.survey:
        raise UsageError("--as-of picks a survey of the catalog, --survey is one; name one of them")
    return read_day("--as-of", text)


def read_day(option: str, text: str) -> date:
    """The day that an option names.

    Raises
    ------
    UsageError
        It is no day.
    """
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UsageError(f"{option} {text!r} is no day; write one like 2026-05-31") from None


def surveyed(path: Path, helix: "Helix", units: Units | None) -> "Standing":
    """A helix by the survey in a file.

    Raises
    ------
    DataError
        It is no survey, or none of this helix.
    """
    from catalog.clock import today
    from clearance.show.standing import Standing

    survey, remarks = read_fitting(path, helix, units)
    survey = survey.seen_on(today(), survey.taken_on)
    return Standing(helix, survey, survey.taken_on, str(path), tuple(remarks))


def read_fitting(path: Path, helix: "Helix", units: Units | None) -> "tuple[Survey, list[str]]":
    """A survey of a helix from a file, and what is doubtful about it.

    Raises
    ------
    DataError
        It is no survey, or none of this helix, or dated in the future.
    """
    from catalog.clock import refuse_future
    from catalog.survey_csv import read_survey_rows
    from catalog.survey_fit import fit_survey

    survey, rows = read_survey_rows(path, units)
    refuse_future(survey, source=str(path), rows=rows)
    return survey, fit_survey(survey, helix, source=str(path), rows=rows)


def fitting(found: "StoredSurvey", helix: "Helix") -> list[str]:
    """What is doubtful about a survey that is kept, or why it goes no more with the helix."""
    from catalog.survey_fit import fit_survey

    try:
        return fit_survey(found.survey, helix, source="as the helix is drawn today")
    except DataError as error:
        return [str(error)]


def kept(catalog: "Catalog", helix: "Helix", day: date | None) -> "Standing":
    """A helix of the catalog by the survey that stood on a day; None: today.

    Before the first survey it stands as designed.

    Raises
    ------
    DataError
        The survey is none of the helix as it is drawn today.
    """
    from clearance.show.standing import Standing

    found = catalog.survey(helix.name, day)
    if found is None:
        return Standing(helix, as_of=day)
    from catalog.clock import today
    from catalog.survey_fit import fit_survey

    try:
        remarks = fit_survey(found.survey, helix, source=f"the survey of {found.taken_on}")
    except DataError as error:
        words = str(error)
        joined = f"{words} The" if words.endswith("?") else f"{words}; the"
        raise DataError(
            f"{joined} helix has been drawn anew since: survey it again with 'clearance helix "
            f"survey', or judge it as drawn with --as-of a day before"
        ) from None
    survey = found.survey.seen_on(day or today(), found.taken_on)
    return Standing(helix, survey, found.taken_on, "catalog", tuple(remarks), day)
