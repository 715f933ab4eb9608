"""How did a helix stand by each of its surveys, how does it drift, and what is to be expected?

"What changed", docs/theory.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from catalog.errors import DataError
from catalog.helix import Helix
from catalog.survey_fit import fit_survey
from clearance.judge.check import check
from clearance.judge.drift import Dated, Drift, drifts
from clearance.judge.findings import CheckResult
from clearance.judge.fleet import Fleet
from clearance.judge.forecast import Forecast, forecast

__all__ = ["History", "Visit", "history"]


@dataclass(frozen=True)
class Visit:
    """One survey, and how the helix stood by it.

    ``result`` is None where the survey is left out of what follows; ``reason`` says why.
    """

    taken_on: date
    result: CheckResult | None
    reason: str = ""


@dataclass(frozen=True)
class History:
    """The surveys of a helix beside one another.

    Attributes
    ----------
    helix
        As drawn.
    visits
        One a survey, in their order.
    drifts
        How each railhead and headroom went from one to the next.
    forecast
        When each car is expected to become marginal overhead.
    """

    helix: Helix
    visits: tuple[Visit, ...]
    drifts: tuple[Drift, ...]
    forecast: Forecast


def history(
    helix: Helix, fleet: Fleet, surveys: Sequence[Dated], since: date | None = None
) -> History:
    """Lay the surveys of a helix beside one another.

    Of several on one day the last one stands. One that the helix as drawn today could not give is
    left out: it was drawn anew since.

    Parameters
    ----------
    helix, fleet
        As drawn, and the cars, today's at every survey.
    surveys
        The oldest first; those of one day in the order in which they came.
    since
        Surveys before this day are left out; None: none is.
    """
    last_of_day = {survey.taken_on: number for number, survey in enumerate(surveys)}
    visits = []
    for number, (taken_on, survey) in enumerate(surveys):
        reason = ""
        if since is not None and taken_on < since:
            reason = "before the day that was asked for"
        elif last_of_day[taken_on] != number:
            reason = "another one of the same day came after it"
        else:
            try:
                fit_survey(survey, helix, source="as the helix is drawn today")
            except DataError as error:
                reason = str(error)
        result = None if reason else check(helix, fleet, survey, every_obstacle=True)
        visits.append(Visit(taken_on, result, reason))
    stood = [
        (survey, visit.result)
        for survey, visit in zip(surveys, visits, strict=True)
        if visit.result is not None
    ]
    return History(
        helix,
        tuple(visits),
        tuple(drifts(helix, [survey for survey, _ in stood])),
        forecast([survey.taken_on for survey, _ in stood], [result for _, result in stood]),
    )
