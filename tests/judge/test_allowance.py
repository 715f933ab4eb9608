"""Allowances: the defaults, their parts, and the two examples of docs/formats.md (G7)."""

import math
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from catalog.helix import Allowance, Stringers
from catalog.materials import MATERIALS
from catalog.survey import Reading, Survey
from clearance.judge.allowance import (
    Budget,
    margins_of,
    meeting_budget,
    overhead_budget,
    play_lever,
    side_budget,
    survey_intervals,
)
from clearance.judge.check import check
from clearance.judge.deck_sag import deck_sag
from tests.judge.clubs import car, column, fleet_of, helix, single


@pytest.mark.parametrize(
    ("gauge_mm", "overhead_mm", "side_mm", "meeting_mm"),
    [
        (45.0, 12.0, 6.0, 10.0),
        (90.0, 24.0, 12.0, 20.0),
        (16.5, 4.4, 2.2, 10 * 16.5 / 45),
        (9.0, 2.4, 1.2, 2.0),
    ],
)
def test_defaults_are_in_proportion_to_the_gauge(
    gauge_mm: float, overhead_mm: float, side_mm: float, meeting_mm: float
) -> None:
    margins = margins_of(helix(gauge_mm=gauge_mm))
    assert_allclose(
        (margins.overhead_mm, margins.side_mm, margins.meeting_mm),
        (overhead_mm, side_mm, meeting_mm),
        rtol=1e-15,
    )
    assert margins.play_mm == 0


def test_what_the_helix_states_holds_even_where_it_is_nothing() -> None:
    own = Allowance(
        overhead_mm=0, side_mm=1, meeting_mm=2, play_mm=3, headroom_reading_mm=0, settlement_mm=5
    )
    assert tuple(margins_of(helix(allowance=own))) == (0, 1, 2, 3, 0, 5, 0)
    partly = margins_of(helix(allowance=Allowance(side_mm=4.5)))
    assert (partly.overhead_mm, partly.side_mm, partly.meeting_mm) == (12, 4.5, 10)


def test_overhead_a_car_known_to_a_millimetre_keeps_15_3() -> None:
    """12 mm, and the root of 1 (car), 1 (headroom reading) and 9 (3 mm of settlement)."""
    budget = overhead_budget(margins_of(helix()), 1.0)
    assert_allclose(budget.total_mm, 12 + math.sqrt(1 + 1 + 9), rtol=1e-15)
    assert f"{budget.total_mm:.1f}" == "15.3"
    assert sorted(budget.parts) == ["running clearance", "tolerances"]
    assert budget.parts["running clearance"] == 12


def test_two_cars_known_to_a_millimetre_meet_with_11_4() -> None:
    budget = meeting_budget(margins_of(helix()), 1.0, 1.0)
    assert_allclose(budget.total_mm, 10 + math.sqrt(2), rtol=1e-15)
    assert f"{budget.total_mm:.1f}" == "11.4"


def test_each_pair_of_cars_has_its_own_tolerance() -> None:
    budget = meeting_budget(margins_of(helix()), np.array([[0.0], [3.0]]), np.array([0.0, 4.0]))
    assert_allclose(budget.total_mm, [[10, 14], [13, 15]], rtol=1e-15)


def test_at_the_side_play_is_added_to_clearance_and_tolerance() -> None:
    """No beam is read there and none settles: 6 mm, the play, and the car's own tolerance."""
    margins = margins_of(single(allowance=Allowance(play_mm=1.5)))
    budget = side_budget(margins, [1.0, 2.0], play_lever([0.0, 250.0], [300.0, 300.0]))
    assert_allclose(budget.total_mm, [6 + 1.5 + 1, 6 + 2.5 + 2], rtol=1e-15)
    assert sorted(budget.parts) == ["lateral play", "running clearance", "tolerances"]


@pytest.mark.parametrize(
    ("x_mm", "play_mm"),
    [(0, 1.5), (-149, 1.5), (150, 1.5), (-150, 1.5), (200, 2.0), (-250, 2.5), (300, 3.0)],
)
def test_play_grows_beyond_the_supports(x_mm: float, play_mm: float) -> None:
    """q = 1.5, B = 300: q (2 n + B) / B with n = 50, 100, 150 is 2.0, 2.5, 3.0."""
    assert_allclose(1.5 * play_lever(x_mm, 300.0), play_mm, rtol=1e-15)


@given(
    st.floats(0, 5),
    st.floats(-600, 600),
    st.floats(40, 800),
)
@settings(deadline=None, derandomize=True)
def test_play_is_the_furthest_that_two_shifted_supports_carry_a_place(
    play: float, x: float, wheelbase: float
) -> None:
    """Every way to shift the two supports by the play, along a rigid body from one to the other."""
    carried = [
        front * (0.5 + x / wheelbase) + rear * (0.5 - x / wheelbase)
        for front in (-play, play)
        for rear in (-play, play)
    ]
    assert_allclose(play * play_lever(x, wheelbase), max(carried), rtol=1e-12, atol=1e-12)


@given(
    st.floats(0, 50),
    st.lists(st.floats(0, 20), min_size=0, max_size=4),
    st.none() | st.floats(0, 20),
)
@settings(deadline=None, derandomize=True)
def test_the_parts_sum_up_to_the_total(
    running: float, tolerances: list[float], play: float | None
) -> None:
    budget = Budget(running, {str(i): part for i, part in enumerate(tolerances)}, play)
    assert_allclose(budget.total_mm, sum(float(part) for part in budget.parts.values()), rtol=1e-14)
    assert_allclose(
        budget.total_mm, running + (play or 0) + math.hypot(*tolerances), rtol=1e-14, atol=1e-14
    )


def test_independent_errors_take_less_than_their_sum_and_no_less_than_the_worst() -> None:
    parts = {"car": 1.0, "headroom reading": 1.0, "settlement": 3.0}
    total = float(Budget(0.0, parts).total_mm)
    assert max(parts.values()) < total < sum(parts.values())


# --- the age of a survey --------------------------------------------------------------------------


def survey_of(day: date, asked: date) -> Survey:
    taken = Survey(readings=(Reading(station=3, railhead_mm=71.25, taken_on=day),))
    return taken.seen_on(asked, taken.taken_on)


@pytest.mark.parametrize(
    ("asked", "settlement_mm"),
    [
        (date(2025, 1, 1), 3.0),
        (date(2025, 12, 31), 3.0),  # 364 days: not due yet
        (date(2026, 7, 2), 3 * 547 / 365.25),
        (date(2028, 1, 1), 3 * 1095 / 365.25),
        (date(2024, 1, 1), 3.0),  # before it was taken
    ],
)
def test_settlement_grows_once_the_next_survey_is_overdue(
    asked: date, settlement_mm: float
) -> None:
    """3 mm a year: a year and a half after the survey it is half as much again."""
    margins = margins_of(helix(), survey_of(date(2025, 1, 1), asked))
    assert_allclose(margins.settlement_mm, settlement_mm, rtol=1e-12)


def test_who_surveys_more_often_is_overdue_earlier() -> None:
    own = helix(allowance=Allowance(settlement_mm=2, survey_every_months=3))
    year = survey_of(date(2025, 1, 1), date(2026, 1, 1))
    assert_allclose(margins_of(own, year).settlement_mm, 2 * 365 / (3 * 365.25 / 12), rtol=1e-12)
    assert survey_intervals(own, survey_of(date(2025, 1, 1), date(2025, 3, 31))) == 1


def test_without_a_survey_or_its_day_nothing_is_overdue() -> None:
    undated = Survey(readings=(Reading(station=3, railhead_mm=71.25),))
    assert survey_intervals(helix(), None) == 1
    assert survey_intervals(helix(), undated.seen_on(date(2030, 1, 1), None)) == 1


def test_a_check_by_an_old_survey_wants_more_overhead_and_nothing_else() -> None:
    club, cars = helix(), fleet_of(car())
    new = check(club, cars, survey_of(date(2025, 1, 1), date(2025, 6, 1)))
    old = check(club, cars, survey_of(date(2025, 1, 1), date(2029, 1, 1)))
    for one, other in zip(new.columns, old.columns, strict=True):
        assert_allclose(one.gap_mm, other.gap_mm, rtol=0, atol=0)
        grown = other.budget.total_mm - one.budget.total_mm
        if one.check == "overhead":
            four = 3 * 1461 / 365.25
            assert_allclose(grown, math.sqrt(2 + four**2) - math.sqrt(11), rtol=1e-9)
        else:
            assert_allclose(grown, 0.0, atol=0)


# --- the deck above -------------------------------------------------------------------------------


def stringers(**changes: object) -> Stringers:
    figures = {"width_mm": 38.0, "height_mm": 60.0, "train_kg_per_m": 12.0, "material": "redwood"}
    return Stringers(**(figures | changes))  # type: ignore[arg-type]


@pytest.mark.parametrize(("span_mm", "count"), [(600.0, 1), (900.0, 2)])
def test_the_deck_sags_as_the_bending_line_of_a_beam_says(span_mm: float, count: int) -> None:
    """The bending line integrated twice by scipy from the bending moment q x (L - x) / 2."""
    integrate = pytest.importorskip("scipy.integrate")
    sag = deck_sag(helix(stringers=stringers(span_mm=span_mm, count=count)))
    assert sag is not None
    x = np.linspace(0, span_mm, 4001)
    load = 12 * 9.80665 / 1000  # newtons a millimetre
    stiffness = 1000 * MATERIALS["redwood"].modulus_gpa * count * 38 * 60**3 / 12
    bend = load * x * (span_mm - x) / 2 / stiffness
    slope = integrate.cumulative_simpson(bend, x=x, initial=0.0)
    line = integrate.cumulative_simpson(slope, x=x, initial=0.0)
    line -= x / span_mm * line[-1]  # it rests on both supports
    assert_allclose(sag.sag_mm, -line.min(), rtol=1e-6)


def test_redwood_is_as_stiff_as_printed() -> None:
    """1,220,000 lbf/in2 = 8.41 GPa (deckbuildersdepot.com, California redwood)."""
    assert_allclose(MATERIALS["redwood"].modulus_gpa, 1.22e6 * 6894.757e-9, atol=0.005)


def test_without_a_span_it_is_the_chord_between_brackets_of_the_outermost_track() -> None:
    """Twelve brackets on a circle of 1380 mm: 2 * 1380 * sin(15 degrees) = 714.34 mm."""
    sag = deck_sag(helix(stringers=stringers()))
    assert sag is not None
    assert_allclose(sag.span_mm, 714.340, atol=1e-3)


def test_the_sag_is_one_more_tolerance_overhead() -> None:
    plain, sagging = helix(), helix(stringers=stringers(height_mm=20.0))
    sag = deck_sag(sagging)
    assert sag is not None
    one, other = (
        column(check(it, fleet_of(car())), "inner", "overhead") for it in (plain, sagging)
    )
    assert one is not None
    assert other is not None
    assert set(other.budget.tolerances) - set(one.budget.tolerances) == {"deck sag"}
    assert_allclose(other.budget.total_mm, 12 + math.sqrt(11 + sag.sag_mm**2), rtol=1e-12)
    assert sag.sag_mm > 0.5
