"""Trains, and couplings that are a matter of two: each car's own verdict stays its own (G8)."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.car import Car
from catalog.helix import Lead, Posts
from clearance.judge.check import check
from clearance.judge.couplers import couple
from clearance.judge.partners import FRONT, REAR
from clearance.judge.roster import post
from clearance.judge.structure import Structure
from clearance.judge.trains import check_train
from clearance.judge.verdict import DOES_NOT_FIT, NOT_MEASURED, PASSES
from tests.judge.clubs import car, column, fleet_of, frame, single

WHERE = single(radius_mm=1200.0, posts=Posts(inside_mm="none", outside_mm="none"))


def coupled(name: str, length: float, centres: float, swing: float, **changes: object) -> Car:
    figures = {
        "height_mm": 150.0,
        "width_mm": 100.0,
        "length_mm": length,
        "wheelbase_mm": centres,
        "truck_wheelbase_mm": 40.0,
        "length_over_couplers_mm": length + 24.0,
        "coupler_swing_mm": swing,
        "coupler_drop_mm": 20.0,
        "coupler_angle_deg": 60.0,
    }
    return car(name, **(figures | changes))


LONG, SHORT, MIDDLING = (
    coupled("L", 640, 440, 12),
    coupled("S", 200, 160, 3, truck_wheelbase_mm=0.0),
    coupled("M", 420, 300, 10),
)
CARS = fleet_of(LONG, SHORT, MIDDLING)


def test_long_and_short_do_not_couple_and_each_still_goes_up() -> None:
    """The ends of the long car swing out further than both couplers together."""
    structure, track = Structure(WHERE), WHERE.tracks[0]
    assert couple(structure, track, CARS, (1, FRONT), (0, REAR)).code == DOES_NOT_FIT
    result = check(WHERE, CARS)
    coupling = column(result, "inner" if len(WHERE.tracks) > 1 else track.name, "coupling")
    assert coupling is not None
    assert (coupling.codes.max(axis=0) == DOES_NOT_FIT).any()
    assert result.codes().tolist() == [PASSES] * 3


def test_the_board_says_who_is_not_coupled_to_whom() -> None:
    rows = post(check(WHERE, CARS)).rows
    assert [row.code for row in rows] == [PASSES] * 3
    assert "coupler of S" in next(iter(rows[0].not_coupled.values()))


@pytest.mark.parametrize("grade", [0.0, 0.08])
def test_leads_make_a_turn_no_longer_or_shorter(grade: float) -> None:
    """A turn of the helix is what it climbs on the helix, whatever leads there."""
    leads = tuple(Lead(at=at, length_mm=2000.0, grade=grade) for at in ("foot", "head"))
    led = WHERE.model_copy(update={"leads": leads})
    track = WHERE.tracks[0]
    found = [check_train(where, CARS, ["L"]).reach(track).turn_mm for where in (WHERE, led)]
    turn = math.hypot(2 * math.pi * track.radius_mm, WHERE.rise_per_turn_mm)
    assert_allclose(found, turn, rtol=1e-12)


def test_in_a_train_only_its_own_joints_count() -> None:
    """With the middling car between them the other two never meet."""
    track = WHERE.tracks[0].name
    joined = check_train(WHERE, CARS, ["L", "M", "S"])
    assert joined.code(track) == PASSES
    assert joined.leave_off(track) == []
    parted = check_train(WHERE, CARS, ["L", "S"])
    assert parted.code(track) == DOES_NOT_FIT
    assert len(parted.leave_off(track)) == 1


def test_a_coupling_of_which_one_figure_is_known_is_not_known_to_hold() -> None:
    bare = {"coupler_swing_mm": None, "coupler_angle_deg": None}
    pair = fleet_of(coupled("A", 420, 300, 0, **bare), coupled("B", 420, 300, 0, **bare))
    structure, track = Structure(WHERE), WHERE.tracks[0]
    assert couple(structure, track, pair, (1, FRONT), (0, REAR)).code == NOT_MEASURED
    # But one that is known not to hold does not, whatever the others are.
    weak = fleet_of(*(coupled(name, 420, 300, 1e-6, coupler_drop_mm=None) for name in "AB"))
    ends = (1, FRONT), (0, REAR)
    assert couple(structure, track, weak, *ends).offsets.sideways_mm >= 0  # type: ignore[union-attr]
    short = fleet_of(LONG, SHORT.model_copy(update={"coupler_drop_mm": None}))
    assert couple(structure, track, short, *ends).code == DOES_NOT_FIT


@pytest.mark.parametrize("leads", [(), (Lead(at="foot", length_mm=2000.0),)])
def test_couplers_as_long_as_the_helix_is_wide_lose_nobody_an_answer(
    leads: tuple[Lead, ...],
) -> None:
    """6640 mm over couplers where 664 was meant: two such cars cannot stand coupled."""
    slip = coupled("L", 640, 440, 12, length_over_couplers_mm=6640.0)
    where = WHERE.model_copy(update={"leads": leads})
    result = check(where, fleet_of(slip, MIDDLING))
    coupling = column(result, where.tracks[0].name, "coupling")
    assert coupling is not None
    assert coupling.codes.max(axis=0)[0] == DOES_NOT_FIT
    assert result.codes().tolist() == [PASSES, PASSES]


@pytest.mark.parametrize("leads", [(), (Lead(at="foot", length_mm=500.0),)])
@pytest.mark.parametrize("apart_mm", [310.0, 2490.0])
def test_frames_that_do_not_reach_round_the_curve_do_not_fit(
    leads: tuple[Lead, ...], apart_mm: float
) -> None:
    """On 150 mm and on 1200 mm of radius: more than the diameter."""
    radius = 150.0 if apart_mm < 1000 else 1200.0
    where = single(
        radius_mm=radius,
        rise_per_turn_mm=100.0 if radius < 1000 else 285.0,
        posts=Posts(inside_mm="none", outside_mm="none"),
        leads=leads,
    )
    stiff = Car(
        id="D",
        height_mm=20.0,
        width_mm=20.0,
        length_mm=apart_mm + 20,
        frames=(frame("body", (apart_mm + 10, "track"), (10.0, "track")),),
    )
    result = check(where, fleet_of(stiff, MIDDLING))
    assert result.codes()[0] == DOES_NOT_FIT
    radius_found = column(result, where.tracks[0].name, "radius")
    assert radius_found is not None
    assert radius_found.codes.max(axis=0)[0] == DOES_NOT_FIT
    assert np.isnan(radius_found.gap_mm[:, 0]).all() or (radius_found.gap_mm[:, 0] <= 0).all()
