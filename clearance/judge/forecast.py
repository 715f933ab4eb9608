"""When is the first car expected to become marginal overhead, if the helix goes on moving so?

A straight line through what each car had to spare at every survey, and its band; one for each
place, for the place that governs today need not be the one that sinks. "What changed",
docs/theory.md.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from clearance.judge.allowance import margins_of
from clearance.judge.findings import CheckResult
from clearance.judge.places import Place
from clearance.judge.trend import DAYS_A_YEAR, ENOUGH, Trend, fit_trend

__all__ = ["HORIZON_YEARS", "Forecast", "Outlook", "forecast", "spares_mm"]

Floats = NDArray[np.float64]

HORIZON_YEARS = 50
"""No helix of timber is expected to go on as it does for longer than this."""


@dataclass(frozen=True)
class Outlook:
    """What one car has to spare overhead on one track, and when that is expected to be used up.

    Attributes
    ----------
    car, track
        Which.
    place
        Where that is expected first, or could be; or where least is left. None: wherever it was
        least by each survey, which no place by itself undercuts.
    spares_mm
        Gap less allowance there at each survey, the worse way round. [mm]
    rate_mm_year, rate_error_mm_year
        By how much it grows in a year, and the standard error; None: too few surveys.
    expected
        When it is used up; None: not within `HORIZON_YEARS`, or there are too few surveys.
    earliest, latest
        The same by the edges of the 90 % band of that place's line.
    """

    car: str
    track: str
    place: Place | None
    spares_mm: tuple[float, ...]
    rate_mm_year: float | None
    rate_error_mm_year: float | None
    expected: date | None
    earliest: date | None
    latest: date | None


@dataclass(frozen=True)
class Forecast:
    """What is to be expected of every car.

    Attributes
    ----------
    days
        The days of the surveys that it rests on.
    outlooks
        The cars that pass overhead by the last of them, track by track; who is expected to become
        marginal first stands first, then who could be, then who has least to spare.
    short
        The cars that do not pass overhead by the last of them, with their tracks.
    not_measured
        The cars of which nothing is known overhead by one of the surveys, with their tracks.
    """

    days: tuple[date, ...]
    outlooks: tuple[Outlook, ...]
    short: tuple[tuple[str, str], ...]
    not_measured: tuple[tuple[str, str], ...]

    @property
    def too_few(self) -> bool:
        """Whether there are too few surveys to expect anything."""
        return len(self.days) < ENOUGH

    @property
    def first(self) -> Outlook | None:
        """Who is expected to become marginal first; None: nobody, or nobody can tell."""
        soonest = self.outlooks[0] if self.outlooks else None
        return soonest if soonest and soonest.expected else None


def spares_mm(result: CheckResult, track: str) -> Floats:
    """What each car has to spare overhead, the worse way round, shape (n,). [mm]

    Parameters
    ----------
    result, track
        What was found, and on which track.

    Returns
    -------
    ndarray
        nan: nothing hangs over it, or it cannot stand there.
    """
    spares = np.full(len(result.fleet), np.nan)
    for column in result.on_track(track):
        if column.check == "overhead":
            spare = (column.gap_mm - column.budget.total_mm).min(axis=0)
            spares = np.where(column.applies, spare, np.nan)
    return spares


def forecast(days: Sequence[date], results: Sequence[CheckResult]) -> Forecast:
    """Say when each car is expected to become marginal.

    Parameters
    ----------
    days
        Of the surveys, rising, each once.
    results
        What was found by each of them, of the same cars; with the gap under every obstacle, for
        where it is missing only what governed is followed.
    """
    if not results:
        return Forecast((), (), (), ())
    too_few = len(days) < ENOUGH
    outlooks: list[Outlook] = []
    short: list[tuple[str, str]] = []
    unknown: list[tuple[str, str]] = []
    ids = results[-1].fleet.ids
    read_to = margins_of(results[-1].helix).headroom_reading_mm
    for track in results[-1].helix.tracks:
        places, spares = _at_places(results, track.name)
        trend = fit_trend(days, spares, read_to)
        zero = trend.zero()
        dates = (zero.expected, zero.earliest, zero.latest)
        keys = (spares[-1],) if too_few else (spares[-1], zero.earliest, zero.expected)
        end = _end(trend)
        for car, name in enumerate(ids):
            if not np.isfinite(spares[:, -1, car]).all():
                unknown.append((name, track.name))
                continue
            if spares[-1, -1, car] < 0:
                short.append((name, track.name))
                continue
            at = int(np.lexsort([_late(key[:, car], end) for key in keys])[0])
            outlooks.append(
                Outlook(
                    name,
                    track.name,
                    places[at],
                    tuple(spares[:, at, car].tolist()),
                    _known(trend.rate[at, car]),
                    _known(trend.rate_error[at, car]),
                    *_days(too_few, end, *(column[at, car] for column in dates)),
                )
            )
    return Forecast(tuple(days), tuple(sorted(outlooks, key=_order)), tuple(short), tuple(unknown))


def _at_places(results: Sequence[CheckResult], track: str) -> tuple[list[Place | None], Floats]:
    """What each car had to spare at each place of a track that all surveys know.

    Gives the places, and the figures, shape (surveys, places, cars). [mm] The last place is None:
    wherever it was least.
    """
    by_place = [_by_place(result, track) for result in results]
    common = [place for place in by_place[-1] if all(place in found for found in by_place)]
    return [*common, None], np.array(
        [
            [*(found[place] for place in common), spares_mm(result, track)]
            for result, found in zip(results, by_place, strict=True)
        ]
    )


def _by_place(result: CheckResult, track: str) -> dict[Place, Floats]:
    """What each car has to spare at each place, the worse way round; not finite: never beneath."""
    found: dict[Place, Floats] = {}
    for column in result.on_track(track):
        if column.check != "overhead" or column.each_gap_mm is None:
            continue
        spares = (column.each_gap_mm - column.budget.total_mm).min(axis=1)
        for place, spare in zip(column.places, spares, strict=False):
            # How its height was found may change from survey to survey; the place does not.
            where = Place(round(place.station, 6), place.obstacle)
            known = np.where(column.applies & np.isfinite(spare), spare, np.nan)
            found[where] = np.fmin(found[where], known) if where in found else known
    return found


def _end(trend: Trend) -> float:
    """The horizon, as an ordinal of the calendar."""
    return min(trend.last_day + HORIZON_YEARS * DAYS_A_YEAR, date.max.toordinal())


def _late(key: Floats, end: float) -> Floats:
    """Days or spares to be put in order: without a hair, and what nobody expects last."""
    return np.where(key <= end, np.round(key, 2), np.inf)


def _days(
    too_few: bool, end: float, expected: float, earliest: float, latest: float
) -> tuple[date | None, date | None, date | None]:
    """Three ordinals as days of the calendar; None: beyond the horizon, or nobody can tell."""
    if too_few:
        return None, None, None

    def day(when: float, rounded: Callable[[float], float]) -> date | None:
        return date.fromordinal(int(rounded(when))) if when <= end else None

    # A band is rather too wide by part of a day than too narrow.
    return day(expected, np.round), day(earliest, math.floor), day(latest, math.ceil)


def _known(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _order(outlook: Outlook) -> tuple[date, date, float]:
    return outlook.expected or date.max, outlook.earliest or date.max, outlook.spares_mm[-1]
