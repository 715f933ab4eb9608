"""Straight lines through figures of several days, and when they are at zero.

Outside references: scipy.stats.linregress for the line and its standard error, scipy.stats.t for
Student's t (scipy 1.17, scipy.org); the rest by hand.
"""

from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from clearance.judge.trend import BAND_PERCENT, DAYS_A_YEAR, Trend, fit_trend

FOUR_YEARS = 1461  # days: 4 x 365.25, so that rates a year come out even
DAYS = (date(2016, 3, 1), date(2020, 3, 1), date(2024, 3, 1))
HAIR = 0.01  # of a day: as well as the reference has a line without scatter
T_1 = 6.314  # Student's t, one degree of freedom, 5 % above: any printed table


def random_days(rng: np.random.Generator, count: int) -> list[date]:
    """Different days within six years, in any order."""
    start = date(2020, 1, 1)
    return [start + timedelta(days=int(k)) for k in rng.choice(2200, count, replace=False)]


def test_the_days_are_four_years_apart() -> None:
    assert [(late - early).days for early, late in pairwise(DAYS)] == [FOUR_YEARS] * 2


def test_a_line_by_hand() -> None:
    """9, 6, 6: mean 7, slope (6 - 9) / 8 years; it misses by 0.5, -1, 0.5, so 1.5 over 3 - 2."""
    trend = fit_trend(DAYS, [9.0, 6.0, 6.0])
    assert_allclose(trend.level, 7.0, rtol=1e-12)
    assert_allclose(trend.rate, -3 / 8, rtol=1e-12)
    assert_allclose(trend.deviation, np.sqrt(1.5), rtol=1e-12)
    # The distances from the middle day are -4, 0 and 4 years: their squares add up to 32.
    assert_allclose(trend.rate_error, np.sqrt(1.5 / 32), rtol=1e-12)
    assert_allclose(trend.at(DAYS[2].toordinal()), 5.5, rtol=1e-12)
    half = T_1 * np.sqrt(1.5) * np.sqrt(1 / 3 + 16 / 32)
    assert_allclose(trend.half_band(DAYS[2].toordinal()), half, rtol=1e-4)


@pytest.mark.parametrize("seed", range(20))
def test_as_linregress_has_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    days = random_days(rng, int(rng.integers(3, 12)))
    figures = rng.normal(200, 5, (len(days), 7))
    trend = fit_trend(days, figures)
    when = np.array([day.toordinal() for day in days], float)
    for row in range(7):
        outside = stats.linregress(when, figures[:, row])
        assert_allclose(trend.rate[row] / DAYS_A_YEAR, outside.slope, rtol=1e-9)
        assert_allclose(trend.rate_error[row] / DAYS_A_YEAR, outside.stderr, rtol=1e-9)
        assert_allclose(
            trend.at(when[0])[row], outside.intercept + outside.slope * when[0], rtol=1e-9
        )


def test_the_same_figures_in_another_order() -> None:
    one = fit_trend(DAYS, [9.0, 6.0, 6.0])
    other = fit_trend(DAYS[::-1], [6.0, 6.0, 9.0])
    for name in ("level", "rate", "deviation", "last_day"):
        assert_allclose(getattr(one, name), getattr(other, name), rtol=1e-12)


def test_two_days_make_a_line_and_nothing_is_known_of_its_error() -> None:
    trend = fit_trend(DAYS[:2], [9.0, 8.0])
    assert_allclose(trend.rate, -0.25, rtol=1e-12)
    assert np.isnan(trend.rate_error)
    zero = trend.zero()
    assert_allclose(zero.expected, DAYS[1].toordinal() + 8 * FOUR_YEARS, rtol=1e-12)
    assert np.isnan(zero.earliest)
    assert np.isnan(zero.latest)


def test_one_day_makes_none() -> None:
    trend = fit_trend(DAYS[:1], [[9.0, 8.0]])
    assert_allclose(trend.level, [9.0, 8.0])
    assert np.isnan(trend.rate).all()
    assert np.isnan(trend.rate_error).all()


def test_what_is_not_known_stays_so_and_harms_nobody_else() -> None:
    trend = fit_trend(DAYS, [[9.0, 1.0], [8.0, np.nan], [7.0, 1.0]])
    assert_allclose(trend.rate, [-0.25, np.nan])
    zero = trend.zero()
    assert_allclose(zero.expected[0], DAYS[2].toordinal() + 7 * FOUR_YEARS)


# --- zero -----------------------------------------------------------------------------------------


def test_an_even_fall_is_at_zero_when_it_is_and_its_band_has_no_width() -> None:
    """A millimetre in four years, seven left."""
    zero = fit_trend(DAYS, [9.0, 8.0, 7.0]).zero()
    day = DAYS[2].toordinal() + 7 * FOUR_YEARS
    assert_allclose([zero.expected, zero.earliest, zero.latest], day, rtol=0, atol=1e-3)


def test_figures_that_agree_are_no_surer_than_they_are_read() -> None:
    """The same, read to 0.5 mm: 0.5 / sqrt(3) as a standard error, 1.645 times that as a band.

    With figures that scatter by more the band is theirs.
    """
    trend = fit_trend(DAYS, [9.0, 8.0, 7.0], 0.5)
    assert_allclose(trend.rate_error, 0.5 / np.sqrt(3) / np.sqrt(32))
    last = DAYS[2].toordinal()
    half = stats.norm.ppf(0.95) * 0.5 / np.sqrt(3) * np.sqrt(1 / 3 + 16 / 32)
    assert_allclose(trend.half_band(last), half, rtol=1e-4)
    zero, day = trend.zero(), last + 7 * FOUR_YEARS
    assert_allclose(zero.expected, day)
    assert zero.earliest < day - 365
    assert day + 365 < zero.latest < np.inf
    for edge, sign in ((zero.earliest, -1), (zero.latest, 1)):
        assert_allclose(trend.at(edge) + sign * trend.half_band(edge), 0, atol=1e-6)
    for figures in ([9.0, 6.0, 6.0], [5.0, 9.0, 1.0]):
        plain, read = fit_trend(DAYS, figures), fit_trend(DAYS, figures, 0.5)
        assert_allclose(plain.half_band(last), read.half_band(last))


@pytest.mark.parametrize("figures", [[7.0, 8.0, 9.0], [7.0, 7.0, 7.0]])
def test_what_does_not_fall_is_never_at_zero(figures: list[float]) -> None:
    zero = fit_trend(DAYS, figures).zero()
    assert np.isposinf([zero.expected, zero.earliest, zero.latest]).all()


def test_what_is_below_zero_already_is_so_on_the_last_day() -> None:
    zero = fit_trend(DAYS, [1.0, 0.0, -1.0]).zero()
    assert_allclose([zero.expected, zero.earliest, zero.latest], DAYS[2].toordinal())


def test_a_fall_that_is_not_sure_may_never_come() -> None:
    """9, 6, 6 of above: -0.375 +- 0.217 a year. With t = 6.314 that may as well be a rise."""
    zero = fit_trend(DAYS, [9.0, 6.0, 6.0]).zero()
    assert_allclose(zero.expected, DAYS[1].toordinal() + 7 * DAYS_A_YEAR / 0.375, rtol=1e-9)
    # The lower edge, 5.5 - 7.06, is below zero on the last day.
    assert zero.earliest == DAYS[2].toordinal()
    assert np.isposinf(zero.latest)


def scanned(trend: Trend, figures: np.ndarray, days: list[date]) -> list[float]:
    """The first day from the last one on with the line, its lower and its upper edge at zero.

    Looked for day by day for forty years, with the line and the error of scipy. inf: none.
    """
    when = np.array([day.toordinal() for day in days], float)
    outside = stats.linregress(when, figures)
    ahead = np.arange(when.max(), when.max() + 40 * DAYS_A_YEAR)
    line = outside.intercept + outside.slope * ahead
    mean_error = outside.stderr * np.sqrt(
        ((when - when.mean()) ** 2).sum() / len(days) + (ahead - when.mean()) ** 2
    )
    half = stats.t.ppf(0.5 + BAND_PERCENT / 200, len(days) - 2) * mean_error
    assert_allclose(trend.half_band(ahead[-1]), half[-1], rtol=1e-6, atol=1e-4)
    found = []
    for edge in (line, line - half, line + half):
        below = np.flatnonzero(edge <= 0)
        found.append(float(ahead[below[0]]) if len(below) else np.inf)
    return found


@pytest.mark.parametrize("noise_mm", [0.0, 0.01, 0.3, 3.0])
@pytest.mark.parametrize("seed", range(25))
def test_the_days_of_zero_as_a_walk_along_the_calendar_finds_them(
    seed: int, noise_mm: float
) -> None:
    rng = np.random.default_rng(seed)
    days = random_days(rng, int(rng.integers(3, 9)))
    years = np.array([day.toordinal() for day in days]) / DAYS_A_YEAR
    slope = rng.normal(-1.0, 1.0)
    figures = rng.normal(5, 3) + slope * (years - years.mean()) + rng.normal(0, noise_mm, len(days))
    trend = fit_trend(days, figures)
    zero = trend.zero()
    last = max(days).toordinal() + 40 * DAYS_A_YEAR - 1
    for own, walked in zip(
        (zero.expected, zero.earliest, zero.latest), scanned(trend, figures, days), strict=True
    ):
        if np.isinf(walked):
            assert own > last
        else:
            assert walked - 1 - HAIR <= own <= walked + HAIR


@pytest.mark.parametrize("count", [3, 4, 7])
def test_the_band_holds_the_truth_as_often_as_it_says(count: int) -> None:
    """A true line of -1 mm a year that is at zero 20 years ahead, read 20,000 times with an error.

    A share of 90 % has a standard error of 0.2 % over so many.
    """
    rng = np.random.default_rng(count)
    days = [date(2020, 1, 1) + timedelta(days=365 * number) for number in range(count)]
    when = np.array([day.toordinal() for day in days], float)
    truth = when.max() + 20 * DAYS_A_YEAR
    even = (truth - when) / DAYS_A_YEAR
    read = even[:, None] + rng.normal(0, 0.4, (count, 20_000))
    zero = fit_trend(days, read).zero()
    held = (zero.earliest <= truth) & (truth <= zero.latest)
    assert_allclose(held.mean(), BAND_PERCENT / 100, rtol=0, atol=0.01)
