"""Whose verdict changed when the helix moved, and when the next one is expected to.

On the helix of `clubs`, with railheads as drawn, a measured headroom that is 5 mm lower is a gap
that is 5 mm less, for every car: the car stands the same.
"""

from collections.abc import Sequence
from datetime import date

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from catalog.helix import Helix, Obstacle
from catalog.survey import Reading, Survey
from clearance.judge.changes import VerdictChange, verdict_changes, what_changed
from clearance.judge.check import check
from clearance.judge.drift import Dated
from clearance.judge.findings import CheckResult
from clearance.judge.fleet import Fleet
from clearance.judge.forecast import HORIZON_YEARS, forecast, spares_mm
from clearance.judge.history import history
from clearance.judge.places import Place
from clearance.judge.trend import DAYS_A_YEAR
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, PASSES
from tests.judge.clubs import car, finding, fleet_of, helix, random_fleet, single

FOUR_YEARS = 1461  # days
DAYS = (date(2016, 3, 1), date(2020, 3, 1), date(2024, 3, 1))
ALLOWANCE_MM = 12 + np.sqrt(1 + 1 + 9)  # running, and the root of car, reading and settlement
LOW, OTHER = 5, 9  # brackets


def as_drawn(where: Helix, headrooms_mm: dict[int, float]) -> Survey:
    """A survey that finds every railhead as drawn, and these headrooms."""
    return Survey(
        readings=tuple(
            Reading(station=k, railhead_mm=23.75 * k, headroom_mm=headrooms_mm.get(k))
            for k in range(where.last_station + 1)
        )
    )


def spare(where: Helix, headrooms_mm: dict[int, float], height_mm: float) -> float:
    """What one car has to spare overhead, as `check` alone finds it. [mm]"""
    result = check(where, fleet_of(car(height_mm=height_mm)), as_drawn(where, headrooms_mm))
    found = finding(result, "inner", "overhead")
    assert found is not None
    assert found.spare_mm is not None
    assert_allclose(found.allowance_mm, ALLOWANCE_MM)
    return found.spare_mm


def changed(
    cars: Sequence[float], before: dict[int, float], now: dict[int, float]
) -> tuple[VerdictChange, ...]:
    """The changes between two surveys, of cars so high, named by their number."""
    where = single()
    fleet = fleet_of(*(car(str(n), height_mm=height) for n, height in enumerate(cars)))
    results = [check(where, fleet, as_drawn(where, rooms)) for rooms in (before, now)]
    return verdict_changes(*results)


def test_a_beam_that_came_down() -> None:
    """190 mm passes with some 17 mm to spare, less 5; 203 mm with some 4, less 5."""
    low, tall = changed([190.0], {}, {LOW: 218.0}), changed([190.0, 203.0], {}, {LOW: 218.0})
    assert low == ()
    (change,) = tall
    assert (change.car, change.track) == ("1", "inner")
    assert (change.before, change.now) == (PASSES, MARGINAL)
    assert change.finding.check == "overhead"
    assert change.finding.location is not None
    assert change.finding.location["station"] == LOW
    where = single()
    assert_allclose(change.finding.spare_mm, spare(where, {LOW: 218.0}, 203.0))
    assert_allclose(change.spare_before_mm, spare(where, {}, 203.0))
    assert change.spare_before_mm - change.finding.spare_mm == pytest.approx(5.0, abs=1e-6)


def test_a_beam_that_was_raised_again() -> None:
    """The check that held the car back is told, as it is found now."""
    (change,) = changed([203.0], {LOW: 218.0}, {})
    assert (change.before, change.now) == (MARGINAL, PASSES)
    assert change.finding.check == "overhead"
    assert change.finding.spare_mm - change.spare_before_mm == pytest.approx(5.0, abs=1e-6)


def test_a_beam_that_came_down_on_it() -> None:
    (change,) = changed([203.0], {LOW: 218.0}, {LOW: 203.0})
    assert (change.before, change.now) == (MARGINAL, DOES_NOT_FIT)


def test_each_track_by_itself() -> None:
    """A beam that was found lower over the outer track alone."""
    where = helix()
    fleet = fleet_of(car(height_mm=203.0))
    rows = as_drawn(where, {}).readings
    lower = Survey(readings=(*rows, Reading(station=LOW, track="outer", headroom_mm=218.0)))
    (change,) = verdict_changes(
        check(where, fleet, Survey(readings=rows)), check(where, fleet, lower)
    )
    assert change.track == "outer"


def test_since_the_last_survey_and_since_it_was_approved() -> None:
    """Approved at 223 mm, then 218, now 217: the tall car changed before, the low one now."""
    where = single()
    heights = (203.0, 190.0 + spare(where, {LOW: 218.0}, 190.0) - 0.5)
    fleet = fleet_of(car("tall", height_mm=heights[0]), car("low", height_mm=heights[1]))
    approved, last, now = (as_drawn(where, rooms) for rooms in ({}, {LOW: 218.0}, {LOW: 217.0}))
    found = what_changed(where, fleet, now, Dated(DAYS[1], last), Dated(DAYS[0], approved))
    assert found.since_last.taken_on == DAYS[1]
    assert [it.car for it in found.since_last.changes] == ["low"]
    assert found.since_approved.taken_on == DAYS[0]
    assert [it.car for it in found.since_approved.changes] == ["tall", "low"]
    assert [it.moved_mm for it in found.moves if (it.station, it.what) == (LOW, "headroom")] == [-1]
    assert found.now.codes().tolist() == [MARGINAL, MARGINAL]


def test_without_an_approved_survey_the_drawing_stands_for_it() -> None:
    where, fleet = single(), fleet_of(car(height_mm=203.0))
    now = as_drawn(where, {LOW: 218.0})
    found = what_changed(where, fleet, now, Dated(DAYS[0], now), None)
    assert (found.since_last.changes, found.since_approved.taken_on) == ((), None)
    assert [it.car for it in found.since_approved.changes] == ["27"]
    first = what_changed(where, fleet, now, None, None)
    assert first.since_last is first.since_approved
    assert first.since_last.changes == found.since_approved.changes
    assert first.lost == ()


def test_where_the_last_one_was_approved_both_are_one() -> None:
    where, fleet = single(), fleet_of(car())
    last = Dated(DAYS[0], as_drawn(where, {}))
    found = what_changed(where, fleet, as_drawn(where, {LOW: 222.0}), last, last)
    assert found.since_approved is found.since_last


def test_without_cars_no_verdict_changes() -> None:
    where = single()
    found = what_changed(where, fleet_of(), as_drawn(where, {LOW: 210.0}), None, None)
    assert found.since_last.changes == ()
    assert any(it.moved_mm for it in found.moves)


@pytest.mark.parametrize("seed", range(5))
def test_random_fleets_as_their_verdicts_say(seed: int) -> None:
    rng = np.random.default_rng(seed)
    where, fleet = single(), random_fleet(rng, 12)
    rooms = [{LOW: float(rng.uniform(205, 223)), OTHER: float(rng.uniform(205, 223))} for _ in "ab"]
    before, now = (check(where, fleet, as_drawn(where, its)) for its in rooms)
    found = {it.car: (it.before, it.now) for it in verdict_changes(before, now)}
    codes = zip(before.codes().tolist(), now.codes().tolist(), strict=True)
    assert found == {str(n): (was, is_) for n, (was, is_) in enumerate(codes) if was != is_}


# --- when the first car becomes marginal ----------------------------------------------------------


def by_headrooms(where: Helix, fleet: Fleet, rooms_mm: Sequence[float]) -> list[CheckResult]:
    return [
        check(where, fleet, as_drawn(where, {LOW: room}), every_obstacle=True) for room in rooms_mm
    ]


def test_an_even_fall_by_hand() -> None:
    """A millimetre in four years: what is left then lasts as many times four years.

    Headroom is read to 1 mm, 1 / sqrt(3) mm as a standard error (JCGM 100:2008, 4.3.7, from
    memory); the squares of -4, 0 and 4 years add up to 32.
    """
    where = single()
    fleet = fleet_of(car("27", height_mm=195.0), car("31", height_mm=190.0))
    found = forecast(DAYS, by_headrooms(where, fleet, (219.0, 218.0, 217.0)))
    left = spare(where, {LOW: 217.0}, 195.0)
    assert 5 < left < 8
    first = found.first
    assert first is not None
    assert (first.car, first.track, first.place) == ("27", "inner", Place(LOW, "beam"))
    assert_allclose(first.spares_mm, [left + 2, left + 1, left], atol=1e-6)
    error = np.sqrt(1 / 3 / 32)
    assert_allclose([first.rate_mm_year, first.rate_error_mm_year], [-0.25, error], atol=1e-6)
    assert first.expected == date.fromordinal(DAYS[2].toordinal() + round(left * FOUR_YEARS))
    # Three readings on a line are not surer than each is read: 1.645 times that, a normal band.
    k2 = 1.645**2 / 3
    edges = np.roots([0.25**2 - k2 / 32, -2 * 0.25 * (left + 1), (left + 1) ** 2 - k2 / 3])
    soon, late = DAYS[1].toordinal() + np.sort(edges) * DAYS_A_YEAR
    assert first.earliest is not None
    assert abs(first.earliest.toordinal() - soon) <= 5
    assert late > DAYS[2].toordinal() + HORIZON_YEARS * DAYS_A_YEAR
    assert first.latest is None
    # The other one is 5 mm lower: 20 years later, and still within fifty. On a
    # grade of 3.8 % a roof is by 0.07 % more than that lower where it is measured upright: 5 days.
    assert [it.car for it in found.outlooks] == ["27", "31"]
    later = found.outlooks[1].expected
    assert later is not None
    assert abs((later - first.expected).days - 5 - 5 * FOUR_YEARS) <= 1
    assert (found.too_few, found.short, found.not_measured) == (False, (), ())


def test_a_beam_that_sinks_is_seen_before_it_governs() -> None:
    """A lamp hangs at 217 mm. The beam comes down to that in twelve years, and what a car has to
    spare is the same by every survey: but not for ever."""
    lamp = Obstacle(name="lamp", station=2.5, headroom_mm=217.0, width_mm=38.0)
    where = single(obstacles=(lamp,))
    fleet = fleet_of(car("27", height_mm=195.0))
    results = by_headrooms(where, fleet, (222.0, 220.0, 218.0))
    least = np.array([spares_mm(result, "inner")[0] for result in results])
    assert_allclose(least - least[0], 0, atol=1e-6)
    left = spare(single(), {LOW: 218.0}, 195.0)
    assert left > least[0] + 0.9
    (one,) = forecast(DAYS, results).outlooks
    assert one.place == Place(LOW, "beam")
    assert_allclose(one.spares_mm, [left + 4, left + 2, left], atol=1e-6)
    by_hand = DAYS[2].toordinal() + left / 2 * FOUR_YEARS
    assert one.expected == date.fromordinal(round(by_hand))
    # Without the gap under each obstacle only what governs can be followed.
    plain = [check(where, fleet, result.structure.survey) for result in results]
    (one,) = forecast(DAYS, plain).outlooks
    assert (one.place, one.expected) == (None, None)


def test_scatter_makes_a_band() -> None:
    """219, 216, 217: the line, its error and Student's t from scipy; then day by day."""
    where, fleet = single(), fleet_of(car("27", height_mm=190.0))
    found = forecast(DAYS, by_headrooms(where, fleet, (219.0, 216.0, 217.0)))
    (one,) = found.outlooks
    last = spare(where, {LOW: 217.0}, 190.0)
    when = np.array([day.toordinal() for day in DAYS], float)
    outside = stats.linregress(when, last + np.array([2.0, -1.0, 0.0]))
    assert_allclose(one.rate_mm_year, outside.slope * DAYS_A_YEAR, atol=1e-6)
    assert_allclose(one.rate_error_mm_year, outside.stderr * DAYS_A_YEAR, atol=1e-6)
    ahead = np.arange(when[2], when[2] + HORIZON_YEARS * DAYS_A_YEAR)
    line = outside.intercept + outside.slope * ahead
    away = np.hypot(FOUR_YEARS * np.sqrt(2 / 3), ahead - when[1])
    low = line - stats.t.ppf(0.95, 1) * outside.stderr * away
    assert one.expected == date.fromordinal(round(-outside.intercept / outside.slope))
    assert one.earliest is not None
    assert abs(one.earliest.toordinal() - ahead[np.flatnonzero(low <= 0)[0]]) <= 1
    assert one.latest is None  # -0.25 +- 0.43 a year may as well be a rise


def test_two_surveys_are_too_few() -> None:
    where, fleet = single(), fleet_of(car())
    found = forecast(DAYS[:2], by_headrooms(where, fleet, (219.0, 217.0)))
    assert found.too_few
    assert found.first is None
    (one,) = found.outlooks
    assert (one.expected, one.earliest, one.latest) == (None, None, None)
    assert_allclose(one.rate_mm_year, -0.5, atol=1e-6)
    assert one.rate_error_mm_year is None


def test_what_does_not_move_is_never_expected() -> None:
    where, fleet = single(), fleet_of(car())
    found = forecast(DAYS, by_headrooms(where, fleet, (217.0, 217.0, 217.0)))
    assert found.first is None
    assert not found.too_few
    assert found.outlooks[0].expected is None


def test_beyond_fifty_years_nothing_is_expected() -> None:
    """A tenth of a millimetre in four years, and some 13 mm left."""
    where, fleet = single(), fleet_of(car())
    found = forecast(DAYS, by_headrooms(where, fleet, (219.2, 219.1, 219.0)))
    assert (found.first, found.outlooks[0].latest) == (None, None)


def test_who_is_short_already_is_named_apart() -> None:
    where, fleet = single(), fleet_of(car("27", height_mm=203.0), car("31"))
    found = forecast(DAYS, by_headrooms(where, fleet, (219.0, 218.0, 217.0)))
    assert found.short == (("27", "inner"),)
    assert [it.car for it in found.outlooks] == ["31"]


def test_a_car_that_was_never_under_anything_is_not_followed() -> None:
    """It cannot stand on the curve at all."""
    where = single()
    fleet = fleet_of(car("long", length_mm=3000.0, wheelbase_mm=2600.0), car("31"))
    results = by_headrooms(where, fleet, (219.0, 218.0, 217.0))
    assert np.isnan(spares_mm(results[0], "inner")[0])
    found = forecast(DAYS, results)
    assert found.not_measured == (("long", "inner"),)
    assert [it.car for it in found.outlooks] == ["31"]


def test_without_surveys_and_without_cars() -> None:
    where = single()
    assert forecast((), ()).outlooks == ()
    found = forecast(DAYS, by_headrooms(where, fleet_of(), (219.0, 218.0, 217.0)))
    assert (found.outlooks, found.first, found.too_few) == ((), None, False)


@pytest.mark.parametrize("seed", range(3))
def test_random_cars_as_linregress_has_them(seed: int) -> None:
    rng = np.random.default_rng(seed)
    where, fleet = single(), random_fleet(rng, 8, (170.0, 195.0))
    rooms = rng.uniform(212, 223, 4)
    days = [date(2020, 4, 1), date(2021, 4, 9), date(2022, 10, 3), date(2023, 4, 2)]
    results = by_headrooms(where, fleet, rooms)
    found = forecast(days, results)
    assert len(found.outlooks) > 4
    for one in found.outlooks:
        findings = [finding(result, "inner", "overhead", int(one.car)) for result in results]
        spares = [it.spare_mm for it in findings if it and it.spare_mm is not None]
        assert_allclose(one.spares_mm, spares, atol=1e-9)
        outside = stats.linregress([day.toordinal() for day in days], spares)
        assert_allclose(one.rate_mm_year, outside.slope * DAYS_A_YEAR, rtol=1e-6)
        assert_allclose(one.rate_error_mm_year, outside.stderr * DAYS_A_YEAR, rtol=1e-6)
    order = [it.expected or date.max for it in found.outlooks]
    assert order == sorted(order)


# --- which surveys are followed -------------------------------------------------------------------


def test_all_surveys_beside_one_another() -> None:
    where, fleet = single(), fleet_of(car("27", height_mm=195.0))
    surveys = [
        Dated(day, as_drawn(where, {LOW: room}))
        for day, room in zip(DAYS, (219.0, 218.0, 217.0), strict=True)
    ]
    found = history(where, fleet, surveys)
    assert [visit.taken_on for visit in found.visits] == list(DAYS)
    results = [visit.result for visit in found.visits if visit.result is not None]
    assert len(results) == 3
    assert found.forecast == forecast(DAYS, results)
    (room,) = [it for it in found.drifts if (it.station, it.what) == (LOW, "headroom")]
    assert room.values_mm == (219.0, 218.0, 217.0)


def test_of_one_day_the_last_stands() -> None:
    where, fleet = single(), fleet_of(car())
    rooms = (219.0, 222.0, 218.0)
    days = (DAYS[0], DAYS[1], DAYS[1])
    surveys = [
        Dated(day, as_drawn(where, {LOW: room})) for day, room in zip(days, rooms, strict=True)
    ]
    found = history(where, fleet, surveys)
    assert [visit.reason for visit in found.visits] == [
        "",
        "another one of the same day came after it",
        "",
    ]
    assert found.forecast.days == DAYS[:2]
    (room,) = [it for it in found.drifts if (it.station, it.what) == (LOW, "headroom")]
    assert room.values_mm == (219.0, 218.0)


def test_what_was_before_a_day_is_left_out() -> None:
    where, fleet = single(), fleet_of(car())
    surveys = [Dated(day, as_drawn(where, {})) for day in DAYS]
    found = history(where, fleet, surveys, since=DAYS[1])
    assert [visit.result is None for visit in found.visits] == [True, False, False]
    assert found.forecast.days == DAYS[1:]


def test_a_survey_of_what_was_drawn_anew_since_is_left_out() -> None:
    """Less than one turn has no bracket 30, nor one that is a turn off its line."""
    where, fleet = single(), fleet_of(car())
    short = single(turns=0.9)
    found = history(short, fleet, [Dated(DAYS[0], as_drawn(where, {})), Dated(DAYS[1], few())])
    assert [visit.result is None for visit in found.visits] == [True, False]
    assert "more than a turn off the line" in found.visits[0].reason
    assert found.forecast.days == DAYS[1:2]


def few() -> Survey:
    return Survey(readings=(Reading(station=2, railhead_mm=47.0),))


def test_no_survey_no_history() -> None:
    found = history(single(), fleet_of(car()), [])
    assert (found.visits, found.drifts, found.forecast.days) == ((), (), ())
