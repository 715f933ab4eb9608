"""Allowances: the defaults, their parts, and the two examples of docs/formats.md (G7)."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from catalog.helix import Allowance
from clearance.judge.allowance import (
    Budget,
    margins_of,
    meeting_budget,
    overhead_budget,
    play_lever,
    side_budget,
)
from tests.judge.clubs import helix, single


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
    assert tuple(margins_of(helix(allowance=own))) == (0, 1, 2, 3, 0, 5)
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
