"""Does it run there: the checks of G8 beside headroom and sides, against closed forms."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from catalog.car import Car
from catalog.helix import Allowance, Deck, Helix, Lead, Posts, ProfilePoint, Recovery
from catalog.survey import Reading, Survey
from clearance.judge.check import check
from clearance.judge.findings import Finding
from clearance.judge.verdict import DOES_NOT_FIT, NOT_MEASURED, PASSES
from tests.judge.clubs import INNER_MM, block, car, finding, fleet_of, frame, on, single

SETTLED = 1e-5  # supports are settled to half a micrometre, of some 50 mm that they turn through


def found(where: Helix, one: Car, name: str, survey: Survey | None = None) -> Finding:
    """The one finding of a car on the inner track."""
    only = finding(check(where, fleet_of(one), survey), "inner", name)
    assert only is not None
    return only


def level(radius_mm: float = INNER_MM, **changes: object) -> Helix:
    """No record takes a helix that does not climb: this one climbs a micrometre a turn."""
    return single(radius_mm, turns=0.5, rise_per_turn_mm=0.001, deck=Deck(depth_mm=0.0), **changes)


# --- rigid wheelbase ------------------------------------------------------------------------------


def rigid(**figures: object) -> Car:
    """Three axles or more in the frame, the outer ones 400 mm apart."""
    return car(truck_wheelbase_mm=0.0, **figures)


SHIFT_MM = INNER_MM - math.sqrt(INNER_MM**2 - 200**2)  # 16.93 mm


@pytest.mark.parametrize(
    ("side_play_mm", "play_mm", "code"),
    [
        (17.0, 0.0, PASSES),
        (16.9, 0.0, DOES_NOT_FIT),
        (15.0, 2.0, PASSES),
        (15.0, 1.9, DOES_NOT_FIT),
    ],
)
def test_a_middle_axle_shifts_by_the_height_of_the_arc(
    side_play_mm: float, play_mm: float, code: int
) -> None:
    """1190 - sqrt(1190^2 - 200^2) = 16.93 mm, against its own play and the track's."""
    where = single(allowance=Allowance(play_mm=play_mm))
    shown = found(where, rigid(side_play_mm=side_play_mm), "rigid_wheelbase")
    assert_allclose(shown.available_mm, side_play_mm + play_mm, rtol=1e-12)
    assert_allclose(shown.required_mm, SHIFT_MM, rtol=1e-12)
    assert_allclose(shown.gap_mm, side_play_mm + play_mm - SHIFT_MM, rtol=1e-9)
    assert shown.allowance_mm == 0
    assert (shown.code, shown.location) == (code, None)
    assert shown.lowers


@pytest.mark.parametrize(
    ("figures", "codes"),
    [
        ({"truck_wheelbase_mm": 0.0}, [NOT_MEASURED]),  # nobody says what stands between
        ({"truck_wheelbase_mm": 0.0, "axles": 2}, []),
        ({"truck_wheelbase_mm": 0.0, "axles": 3}, [NOT_MEASURED]),
        ({"truck_wheelbase_mm": 0.0, "axles": 2, "side_play_mm": 0.5}, []),
        ({"truck_wheelbase_mm": 60.0}, []),
        ({"truck_wheelbase_mm": 60.0, "axles": 4}, []),
        ({"truck_wheelbase_mm": 60.0, "axles": 6}, [NOT_MEASURED]),
        ({"truck_wheelbase_mm": 60.0, "axles": 6, "side_play_mm": 5.0}, [PASSES]),
    ],
)
def test_who_says_how_many_axles_says_whether_one_stands_between(
    figures: dict[str, object], codes: list[int]
) -> None:
    result = check(single(), fleet_of(car(**figures)))
    found = [it.code for it in result.findings(0, "inner") if it.check == "rigid_wheelbase"]
    assert found == codes


@pytest.mark.parametrize(("axles", "count"), [(None, 0), (4, 0), (5, 1)])
def test_of_frames_too(axles: int | None, count: int) -> None:
    result = check(single(), fleet_of(articulated(axles=axles)))
    found = [it for it in result.findings(0, "inner") if it.check == "rigid_wheelbase"]
    assert len(found) == count


def test_without_a_stated_side_play_it_is_not_measured_and_lowers_nothing() -> None:
    result = check(single(), fleet_of(rigid()))
    shown = finding(result, "inner", "rigid_wheelbase")
    assert shown is not None
    assert (shown.code, shown.lowers, shown.gap_mm) == (NOT_MEASURED, False, None)
    assert "side play" in shown.reason
    assert result.codes()[0] == PASSES


def test_under_a_coach_it_is_the_truck_that_is_rigid() -> None:
    """Trucks of three axles, 60 mm: 0.378 mm. Without a side play nobody asks."""
    shown = found(single(), car(side_play_mm=0.5), "rigid_wheelbase")
    assert_allclose(shown.required_mm, INNER_MM - math.sqrt(INNER_MM**2 - 30**2), rtol=1e-12)
    assert shown.code == PASSES
    assert finding(check(single(), fleet_of(car())), "inner", "rigid_wheelbase") is None


def articulated(**figures: object) -> Car:
    """Two engine units, 130 and 150 mm, and a boiler slung between them."""
    return Car(
        id="slung",
        height_mm=190.0,
        width_mm=110.0,
        length_mm=620.0,
        frames=(
            frame("front unit", (190, "track"), (60, "track")),
            frame("rear unit", (560, "track"), (410, "track")),
            frame("boiler", (470, "rear unit"), (150, "front unit")),
        ),
        **figures,
    )


def test_of_an_articulated_engine_the_longest_unit_counts() -> None:
    shown = found(single(), articulated(side_play_mm=3.0), "rigid_wheelbase")
    assert_allclose(shown.required_mm, INNER_MM - math.sqrt(INNER_MM**2 - 75**2), rtol=1e-12)


# --- truck swing ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("radius_mm", "limit_deg", "code"),
    [(1190.0, 9.7, PASSES), (1190.0, 9.6, DOES_NOT_FIT), (600.0, 19.5, PASSES)],
)
def test_a_truck_swings_by_half_the_chord_between_the_pivots(
    radius_mm: float, limit_deg: float, code: int
) -> None:
    """The truck lies along the circle of its pivot, sqrt(R^2 - 30^2), where the body is a chord.

    asin(200 / 1189.6) = 9.68 degrees.
    """
    pivot_mm = math.sqrt(radius_mm**2 - 30**2)
    swing = math.asin(200 / pivot_mm)
    shown = found(level(radius_mm), car(truck_swing_deg=limit_deg), "truck_swing")
    assert_allclose(shown.more["swing_deg"], math.degrees(swing), rtol=SETTLED)
    assert_allclose(shown.more["limit_deg"], limit_deg, rtol=1e-12)
    # In millimetres at the truck's end axles, half its wheelbase out.
    assert_allclose(shown.required_mm, 30 * math.sin(swing), rtol=SETTLED)
    assert_allclose(shown.available_mm, 30 * math.sin(math.radians(limit_deg)), rtol=1e-12)
    assert shown.code == code


def test_a_straight_lead_asks_for_no_more_swing_than_the_curve() -> None:
    bare = level(leads=(Lead(at="foot", length_mm=1500.0), Lead(at="head", length_mm=1500.0)))
    shown = found(bare, car(truck_swing_deg=20.0), "truck_swing")
    swing = math.asin(200 / math.sqrt(INNER_MM**2 - 30**2))
    assert_allclose(shown.more["swing_deg"], math.degrees(swing), rtol=SETTLED)


def test_of_a_car_on_bolsters_the_widest_turn_counts() -> None:
    """Trucks 40, two on each bolster 120 apart, the bolsters 320 apart; all on a level circle.

    Bolsters are chords of the circle of the trucks' pivots, the body of the circle of theirs.
    """
    frames = [frame("body", (550, "hind bolster"), (230, "fore bolster"))]
    for name, at in (("hind", 550), ("fore", 230)):
        for end, pivot in (("hind", at + 60), ("fore", at - 60)):
            truck = f"{name} {end} truck"
            frames.append(frame(truck, (pivot + 20, "track"), (pivot - 20, "track")))
        frames.append(
            frame(
                f"{name} bolster", (at + 60, f"{name} hind truck"), (at - 60, f"{name} fore truck")
            )
        )
    heavy = Car(
        id="heavy",
        height_mm=190.0,
        width_mm=110.0,
        length_mm=780.0,
        truck_swing_deg=12.0,
        frames=tuple(frames),
    )
    trucks_mm = math.sqrt(INNER_MM**2 - 20**2)
    bolsters_mm = math.sqrt(trucks_mm**2 - 60**2)
    widest = max(math.asin(60 / trucks_mm), math.asin(160 / bolsters_mm))
    shown = found(level(), heavy, "truck_swing")
    assert_allclose(shown.more["swing_deg"], math.degrees(widest), rtol=SETTLED)
    assert_allclose(shown.more["swing_deg"], 7.74, atol=0.01)


def test_a_unit_turns_under_a_boiler_by_where_its_pivot_is() -> None:
    """A unit's pivot 25 mm (or 15) inside its middle lies abreast of its middle by atan(25 / Rm).

    Two pivots at different radii, 320 apart: the cosine rule gives the boiler's angle to each.
    """
    fore_mm, hind_mm = (math.sqrt(INNER_MM**2 - half**2) for half in (65, 75))
    front, rear = math.hypot(fore_mm, 25), math.hypot(hind_mm, 15)
    turns = []
    for here, there, inside, middle in ((front, rear, 25, fore_mm), (rear, front, 15, hind_mm)):
        at_axis = math.acos((here**2 + 320**2 - there**2) / (2 * here * 320))
        turns.append(math.pi / 2 - at_axis + math.atan(inside / middle))
    shown = found(level(), articulated(truck_swing_deg=12.0), "truck_swing")
    assert_allclose(shown.more["swing_deg"], math.degrees(max(turns)), rtol=SETTLED)
    # In millimetres at the end axles of the longer unit.
    assert_allclose(shown.available_mm, 75 * math.sin(math.radians(12)), rtol=1e-12)
    assert_allclose(shown.required_mm, 75 * math.sin(max(turns)), rtol=SETTLED)


def test_a_boiler_fixed_to_its_unit_does_not_turn_on_it() -> None:
    """Nothing turns: a front unit that goes its own way is no matter of swing."""
    fixed = Car(
        id="fixed",
        height_mm=190.0,
        width_mm=110.0,
        length_mm=600.0,
        truck_swing_deg=1.0,
        frames=(
            frame("front unit", (190, "track"), (60, "track")),
            frame("rear unit", (560, "track"), (410, "track")),
            frame("boiler", (560, "rear unit"), (410, "rear unit")),
        ),
        blocks=(on("boiler", block((0, 600), (55, 55), (20, 190))),),
    )
    result = check(level(), fleet_of(fixed))
    assert finding(result, "inner", "truck_swing") is None


def test_without_a_limit_it_is_not_measured() -> None:
    shown = found(single(), car(), "truck_swing")
    assert (shown.code, shown.lowers, shown.gap_mm) == (NOT_MEASURED, False, None)
    assert "trucks turn" in shown.reason


# --- underside ------------------------------------------------------------------------------------


def underside_on_a_screw(one: Car, radius_mm: float, rise_mm: float) -> float:
    """The least height of the line `underside` over a screw's railhead, over a dense row of places.

    The axles of a four-wheeled car half an angle `a` to each side: (2 R sin a)^2 + (2 p a)^2 = B^2.
    """
    climb = rise_mm / (2 * math.pi)
    assert one.wheelbase_mm is not None
    assert one.underside_mm is not None
    assert one.overhangs_mm is not None

    def too_far(half: float) -> float:
        return math.hypot(2 * radius_mm * math.sin(half), 2 * climb * half) - one.wheelbase_mm

    half = brentq(too_far, 0, 1.5, xtol=1e-15)
    sine = 2 * climb * half / one.wheelbase_mm
    cosine = math.sqrt(1 - sine**2)
    front, rear = (over + one.wheelbase_mm / 2 for over in one.overhangs_mm)
    x = np.linspace(-rear, front, 20001)
    along = x * cosine - one.underside_mm * sine
    elevation = x * sine + one.underside_mm * cosine
    place = np.arctan2(along, radius_mm * math.cos(half))
    return float((elevation - climb * place).min())


@pytest.mark.parametrize("front_overhang_mm", [None, 20.0, 260.0])
@pytest.mark.parametrize("rise_mm", [60.0, 285.0, 560.0])
def test_on_an_even_climb_the_downhill_end_comes_lower(
    rise_mm: float, front_overhang_mm: float | None
) -> None:
    """On a curve the track turns away from a chord, so less of its climb is abreast of an end."""
    low = car(
        truck_wheelbase_mm=0.0,
        length_mm=700.0,
        underside_mm=9.0,
        front_overhang_mm=front_overhang_mm,
    )
    turned = low.model_copy(update={"front_overhang_mm": 300.0 - low.overhangs_mm[0]})
    where = single(rise_per_turn_mm=rise_mm, turns=0.9, deck=Deck(depth_mm=1.0))
    shown = found(where, low, "underside")
    both = [underside_on_a_screw(each, INNER_MM, rise_mm) for each in (low, turned)]
    assert_allclose(shown.gap_mm, min(both), rtol=0, atol=1e-5)
    assert shown.available_mm == 9
    assert shown.gap_mm < 9
    if front_overhang_mm:
        assert_allclose(shown.other_way_gap_mm, max(both), rtol=0, atol=1e-5)


def test_on_a_level_circle_it_is_as_high_as_measured() -> None:
    shown = found(level(), car(underside_mm=9.0, tolerance_mm=0.5), "underside")
    assert_allclose(shown.gap_mm, 9, atol=1e-5)
    assert (shown.allowance_mm, shown.code) == (0.5, PASSES)


# A circle so wide that what is on it stands as on straight track: a bracket every 25 m.
WIDE_MM = 25000 * 12 / (2 * math.pi)


def broken_grade(before: float, after: float) -> Helix:
    """A climb of one grade up to bracket 3, of another beyond."""
    points = [(k, (25000 * (k - 3)) * (before if k < 3 else after)) for k in range(7)]
    return single(
        WIDE_MM,
        turns=0.5,
        rise_per_turn_mm=25000 * 12 * 0.01,
        deck=Deck(depth_mm=1.0),
        profile=tuple(ProfilePoint(station=k, railhead_mm=z) for k, z in points),
    )


LOW = {"underside_mm": 14.0, "length_mm": 700.0, "truck_wheelbase_mm": 0.0}


@pytest.mark.parametrize(("before", "after"), [(0.0, -0.04), (0.02, -0.02), (0.05, 0.01)])
def test_over_a_crest_it_is_lowest_midway_between_the_axles(before: float, after: float) -> None:
    """Each axle 200 mm from a break of 4 %: the rail at the break stands 0.04 x 400 / 4 higher."""
    shown = found(broken_grade(before, after), car(**LOW), "underside")
    assert_allclose(shown.gap_mm, 14 - 0.04 * 400 / 4, atol=0.02)
    assert_allclose(shown.location["station"], 3, atol=0.01)


@pytest.mark.parametrize(("before", "after"), [(-0.04, 0.0), (-0.02, 0.02), (0.01, 0.05)])
def test_in_a_dip_it_is_lowest_at_an_end(before: float, after: float) -> None:
    """One axle in the dip, 150 mm of overhang beyond it: the rail there is 0.04 x 150 up."""
    shown = found(broken_grade(before, after), car(**LOW), "underside")
    assert_allclose(shown.gap_mm, 14 - 0.04 * 150, atol=0.02)


def test_over_the_same_dip_the_longer_overhang_governs_whichever_way_round() -> None:
    one = car(**LOW, front_overhang_mm=90.0)
    shown = found(broken_grade(0.0, 0.04), one, "underside")
    assert_allclose(shown.gap_mm, 14 - 0.04 * 210, atol=0.02)
    assert_allclose(shown.other_way_gap_mm, 14 - 0.04 * 210, atol=0.02)


def test_a_bracket_that_settled_is_a_crest_for_its_neighbours() -> None:
    """Bracket 4 of a level helix is 300 mm low: grades of 1.2 % down and up again, 25 m each."""
    flat = broken_grade(0.0, 0.0)
    low = Survey(readings=(Reading(station=4, railhead_mm=-300.0),))
    shown = found(flat, car(**LOW), "underside", low)
    # In the dip the change is 2.4 %, at 150 mm of overhang; on each crest 1.2 %, at 400 / 4.
    assert_allclose(shown.gap_mm, 14 - max(0.024 * 150, 0.012 * 100), atol=0.01)
    assert_allclose(shown.location["station"], 4, atol=0.05)


def test_trucks_take_half_of_a_break_away() -> None:
    """On trucks of 60 mm over a crest: pivots 200 mm from the break, both wholly beyond it."""
    long = LOW | {"truck_wheelbase_mm": 60.0}
    shown = found(broken_grade(0.02, -0.02), car(**long), "underside")
    assert_allclose(shown.gap_mm, 14 - 0.04 * 400 / 4, atol=0.02)


def test_the_lowest_block_counts_where_each_has_its_bottom() -> None:
    """A plough hangs 6 mm lower, ahead of the front axle, where a dip lifts the rail most."""
    ploughed = car(
        length_mm=700.0,
        truck_wheelbase_mm=0.0,
        blocks=(block((0, 700), (55, 55), (14, 190)), block((0, 30), (40, 40), (8, 20))),
    )
    shown = found(broken_grade(0.0, 0.04), ploughed, "underside")
    assert_allclose(shown.gap_mm, 8 - 0.04 * 150, atol=0.02)
    assert shown.available_mm == 8


def test_blocks_from_the_railhead_up_say_nothing_of_it() -> None:
    """Then the car's own figure holds, over its whole length; without one nobody measured it."""
    shape = (block((0, 700), (55, 55), (0, 190)),)
    silent, stated = (
        found(
            broken_grade(0.0, -0.04),
            car(**(LOW | {"underside_mm": low}), blocks=shape),
            "underside",
        )
        for low in (None, 14.0)
    )
    assert (silent.code, silent.lowers) == (NOT_MEASURED, False)
    assert "lowest" in silent.reason
    assert_allclose(stated.gap_mm, 14 - 4, atol=0.02)


def test_a_car_that_touches_the_rails_does_not_fit() -> None:
    low = car(**(LOW | {"underside_mm": 3.9}))
    result = check(broken_grade(0.0, -0.04), fleet_of(low))
    assert result.codes()[0] == DOES_NOT_FIT


# --- recovery -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("hand_mm", "code"), [(20.0, PASSES), (40.0, DOES_NOT_FIT)])
def test_a_hand_over_the_roof_is_reported_apart(hand_mm: float, code: int) -> None:
    """About 31 mm are left over a car of 190 mm."""
    where = single(recovery=Recovery(hand_mm=hand_mm), posts=Posts(inside_mm=200, outside_mm=200))
    result = check(where, fleet_of(car()))
    overhead, hand = (finding(result, "inner", name) for name in ("overhead", "recovery"))
    assert overhead is not None
    assert hand is not None
    assert 28 < overhead.gap_mm < 33
    assert_allclose(hand.gap_mm, overhead.gap_mm - hand_mm, rtol=1e-12)
    assert_allclose(hand.available_mm, overhead.gap_mm, rtol=1e-12)
    assert hand.location == overhead.location
    assert (hand.code, hand.lowers) == (code, False)
    assert result.codes()[0] == PASSES


def test_how_thick_a_hand_is_must_be_said() -> None:
    hand = found(single(), car(), "recovery")
    assert (hand.code, hand.gap_mm, hand.lowers) == (NOT_MEASURED, None, False)
    assert "[recovery] hand" in hand.reason
