"""What the surveys of a helix say beside one another: the report on import, and the history."""

from typing import TYPE_CHECKING

from catalog.errors import DataError

if TYPE_CHECKING:
    from datetime import date

    from catalog.helix import Helix
    from catalog.helix_store import SurveyChange
    from catalog.store import Catalog
    from catalog.survey import Survey
    from catalog.survey_rows import StoredSurvey
    from clearance.judge.drift import Dated
    from clearance.judge.fleet import Fleet
    from clearance.show.drift import SurveyReport
    from clearance.show.history import Past

__all__ = ["past", "report"]


def report(
    catalog: "Catalog", helix: "Helix", fleet: "Fleet", survey: "Survey", change: "SurveyChange"
) -> "SurveyReport":
    """What a survey that is kept now shows to have changed.

    Parameters
    ----------
    catalog
        It is in there.
    helix, fleet, survey
        What it is a survey of, the cars, and the survey.
    change
        What adding it did.
    """
    from clearance.judge.changes import what_changed
    from clearance.show.drift import SurveyReport

    rows = catalog.surveys(helix.name)
    number = max(index for index, row in enumerate(rows) if row.survey == survey)
    stands = catalog.survey(helix.name)
    earlier = rows[:number]
    fitting = [row for row in earlier if _fits(row.survey, helix)]
    last = fitting[-1] if fitting else None
    approved = next((row for row in reversed(fitting) if row.is_approved), None)
    return SurveyReport(
        helix,
        rows[number],
        change,
        approved,
        stands.taken_on if stands and stands.number != rows[number].number else None,
        tuple(row.taken_on for row in earlier if row not in fitting),
        what_changed(helix, fleet, survey, _dated(last), _dated(approved)),
    )


def past(catalog: "Catalog", helix: "Helix", fleet: "Fleet", since: "date | None") -> "Past":
    """All surveys of a helix beside one another; those before ``since`` are left out."""
    from clearance.judge.drift import Dated
    from clearance.judge.history import history
    from clearance.show.history import Past

    rows = catalog.surveys(helix.name)
    dated = [Dated(row.taken_on, row.survey) for row in rows]
    return Past(tuple(rows), history(helix, fleet, dated, since), since)


def _dated(row: "StoredSurvey | None") -> "Dated | None":
    from clearance.judge.drift import Dated

    return None if row is None else Dated(row.taken_on, row.survey)


def _fits(survey: "Survey", helix: "Helix") -> bool:
    """Whether it can be a survey of the helix as it is drawn today."""
    from catalog.survey_fit import fit_survey

    try:
        fit_survey(survey, helix)
    except DataError:
        return False
    return True
