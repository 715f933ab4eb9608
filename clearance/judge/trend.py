"""Which straight line runs through figures of several days, how sure is it, and when is it at zero?

Ordinary least squares, and Student's t for the band. "What changed", docs/theory.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["BAND_PERCENT", "DAYS_A_YEAR", "ENOUGH", "Trend", "Zero", "fit_trend"]

Floats = NDArray[np.float64]

BAND_PERCENT = 90.0
"""How often the true line is within the band, if the figures scatter about it by chance."""

_NORMAL = 1.6449  # the same of a normal scatter that is known, 5 % on either side
_EVENLY = (
    3**-0.5
)  # JCGM 100:2008 (GUM), 4.3.7, from memory: read to +- a, a standard error of a / 3^0.5

ENOUGH = 3
"""Two days make a line; it takes a third to say how sure it is."""

DAYS_A_YEAR = 365.25


@dataclass(frozen=True, eq=False)
class Zero:
    """When a falling line is at zero, as ordinal days of the calendar; inf: never.

    Attributes
    ----------
    expected
        When the line itself is.
    earliest, latest
        When the lower edge of the band is, and the upper. nan: too few days for a band.
    """

    expected: Floats
    earliest: Floats
    latest: Floats


@dataclass(frozen=True, eq=False)
class Trend:
    """Straight lines through k rows of figures, all taken on the same n days.

    Attributes
    ----------
    days
        How many days, n.
    middle_day, last_day
        The mean of the days, and the last of them, as ordinals of the calendar.
    spread
        The sum of the squares of the days' distances from their mean. [days^2]
    level
        Each line on the middle day: the mean of its figures, shape (k,).
    rate
        By how much each line rises in a year, shape (k,). nan: there is but one day.
    deviation
        How far the figures scatter about each line: the root of the sum of squares over n - 2,
        shape (k,). nan: there are fewer than three days.
    least_deviation
        By how much figures scatter at the least, however well these few lie on a line: what is read
        to a millimetre is not known better for three readings that happen to agree.
    """

    days: int
    middle_day: float
    last_day: float
    spread: float
    level: Floats
    rate: Floats
    deviation: Floats
    least_deviation: float = 0.0

    @property
    def rate_error(self) -> Floats:
        """The standard error of each rate, a year, shape (k,); nan: fewer than three days."""
        with np.errstate(divide="ignore", invalid="ignore"):
            known = np.maximum(self.deviation, self.least_deviation)
            return np.asarray(known * DAYS_A_YEAR / np.sqrt(self.spread), float)

    def at(self, day: ArrayLike) -> Floats:
        """Each line on a day, an ordinal of the calendar, shape (k,)."""
        years = (np.asarray(day, float) - self.middle_day) / DAYS_A_YEAR
        return np.asarray(self.level + self.rate * years, float)

    def half_band(self, day: ArrayLike) -> Floats:
        """How far the edges of the band are from each line on a day, shape (k,).

        ``k sqrt(1 / n + (day - middle_day)^2 / spread)``, k being t times the deviation, and no
        less than what the least deviation makes by itself.
        """
        if self.days < ENOUGH:
            return np.full(np.shape(self.level), np.nan)
        away = np.asarray(day, float) - self.middle_day
        return np.asarray(
            self._reach * np.sqrt(1 / self.days + away**2 / self.spread), dtype=np.float64
        )

    @property
    def _reach(self) -> Floats:
        """The deviation times Student's t for the band, or what is known of it, shape (k,)."""
        from scipy.special import stdtrit  # takes a while to read, and few commands need it

        student = stdtrit(self.days - 2, 0.5 + BAND_PERCENT / 200)
        least = _NORMAL * self.least_deviation
        return np.asarray(np.maximum(self.deviation * student, least), float)

    def zero(self) -> Zero:
        """Say on which day, from the last one on, each line first is at zero or below.

        The same for the edges of its band. On an edge ``(m + b u)^2 = k^2 (1 / n + u^2 / S)``, with
        u in days from the middle one, m the level, b the rate a day and k as of `half_band`: a
        quadratic equation.

        Returns
        -------
        Zero
            Arrays of shape (k,).
        """
        slope = self.rate / DAYS_A_YEAR
        last = self.last_day - self.middle_day
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = np.where(slope < 0, -self.level / slope, np.inf)
        expected = np.where(self.at(self.last_day) <= 0, last, crossing)
        if self.days < ENOUGH:
            missing = np.full(expected.shape, np.nan)
            return Zero(self.middle_day + expected, missing, missing)
        falls, edges = self._edges(slope)
        now, half = self.at(self.last_day), self.half_band(self.last_day)
        # Where the fall is sure, the edges cross zero one after the other. Else the band opens
        # wider than the line falls, and only its lower edge can: there the line itself is above.
        with np.errstate(invalid="ignore"):
            ahead = (edges >= last) & (self.level + slope * edges >= 0)
        opens = np.where(ahead, edges, np.inf).min(axis=0)
        earliest = np.where(falls, edges.min(axis=0), opens)
        latest = np.where(falls, edges.max(axis=0), np.inf)
        # Where there is no scatter both edges are the line.
        exact = self._reach == 0
        earliest = np.where(exact, expected, np.where(now - half <= 0, last, earliest))
        latest = np.where(exact, expected, np.where(now + half <= 0, last, latest))
        return Zero(
            self.middle_day + expected, self.middle_day + earliest, self.middle_day + latest
        )

    def _edges(self, slope: Floats) -> tuple[NDArray[np.bool_], Floats]:
        """Whose fall is surer than the band is wide, and when an edge of each band is at zero.

        The latter in days from the middle one, shape (2, k); -inf: there are fewer such days.
        """
        m, b, k2 = self.level, slope, self._reach**2
        a = b**2 - k2 / self.spread
        c = m**2 - k2 / self.days
        with np.errstate(divide="ignore", invalid="ignore"):
            # The discriminant, free of the difference of two nearly equal products.
            root = np.sqrt(
                k2 * (b**2 / self.days + m**2 / self.spread - k2 / self.days / self.spread)
            )
            q = -(m * b + np.where(m * b < 0, -root, root))
            edges = np.array([q / a, c / q])
        return (a > 0) & (b < 0), np.where(np.isfinite(edges), edges, -np.inf)


def fit_trend(days: Sequence[date], figures: ArrayLike, read_to: float = 0.0) -> Trend:
    """Lay a straight line through figures of several days, by least squares.

    Parameters
    ----------
    days
        n different days, one at least, in any order.
    figures
        Shape (n, k), or (n,) for one row.
    read_to
        How well each is read, either way.

    Returns
    -------
    Trend
        Of shape (k,), or (); nan wherever a row has a nan.
    """
    rows = np.asarray(figures, float)
    when = np.array([day.toordinal() for day in days], float)
    middle = float(when.mean())
    away = when - middle
    spread = float(away @ away)
    level = rows.mean(axis=0)
    slope = np.full(np.shape(level), np.nan)
    deviation = np.full(np.shape(level), np.nan)
    if len(days) > 1:
        slope = np.tensordot(away, rows - level, axes=1) / spread
    if len(days) >= ENOUGH:
        rest = rows - level - np.multiply.outer(away, slope)
        deviation = np.sqrt((rest**2).sum(axis=0) / (len(days) - 2))
    return Trend(
        len(days),
        middle,
        float(when.max()),
        spread,
        level,
        np.asarray(slope * DAYS_A_YEAR, float),
        np.asarray(deviation, float),
        read_to * _EVENLY,
    )
