"""Which findings a car has, what they say, and that a car is judged alike in any company.

G4, G5, G7, G8, docs/theory.md.
"""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from catalog.car import Car
from catalog.helix import Allowance, Deck, Helix, Lead, Obstacle, Posts, ProfilePoint, Track
from clearance.judge.check import check
from clearance.judge.findings import CheckResult
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, NOT_MEASURED, PASSES
from tests.judge.clubs import (
    INNER_MM,
    OUTER_MM,
    block,
    car,
    column,
    finding,
    fleet_of,
    helix,
    random_fleet,
    single,
)

HEADROOM_MM = 285.0 - 38.0 - 24.0


# --- what a finding says --------------------------------------------------------------------------


def test_a_finding_carries_all_its_figures() -> None:
    found = finding(check(helix(), fleet_of(car())), "inner", "overhead")
    assert found is not None
    assert found.available_mm == HEADROOM_MM
    assert found.required_mm is not None
    assert found.gap_mm is not None
    # 190 mm of height, and on this grade of 3.8 % less than 3 mm for beam, pitch and curve.
    assert 190 < found.required_mm < 193
    assert_allclose(found.gap_mm, found.available_mm - found.required_mm, rtol=1e-15)
    assert_allclose(found.allowance_mm, 12 + math.sqrt(11), rtol=1e-15)
    assert_allclose(found.spare_mm, found.gap_mm - 12 - math.sqrt(11), rtol=1e-15)
    assert_allclose(sum(found.allowance_parts.values()), found.allowance_mm, rtol=1e-15)
    assert found.tolerance_parts == {"car": 1.0, "headroom reading": 1.0, "settlement": 3.0}
    assert found.verdict == "passes"
    assert found.location == {
        "station": 0,
        "turn": 1,
        "angle_deg": 0.0,
        "obstacle": "beam",
        "everywhere": True,
        "origin": "as designed",
    }


def test_every_bracket_with_a_tier_above_has_its_beam() -> None:
    """Two and a half turns of twelve: brackets 0 to 30; those above 0 to 18 are on the line."""
    result = check(helix(), fleet_of(car()))
    listed = result.obstacles(0, "inner")
    assert [hung.station for hung in listed] == list(range(19))
    gap = finding(result, "inner", "overhead").gap_mm
    assert_allclose([hung.gap_mm for hung in listed], gap, rtol=1e-15)


def test_the_inner_track_is_steeper_and_asks_for_more() -> None:
    result = check(helix(), fleet_of(car()))
    inner, outer = (finding(result, track, "overhead") for track in ("inner", "outer"))
    assert inner is not None
    assert outer is not None
    assert inner.required_mm > outer.required_mm > 190


@pytest.mark.parametrize("spare_mm", [0.5, 0.0, -0.5])
def test_headroom_passes_down_to_the_allowance_itself(spare_mm: float) -> None:
    """The headroom is made to leave just this much; at nothing to spare, a passing car passes."""
    own = Allowance(overhead_mm=12, headroom_reading_mm=0, settlement_mm=0)
    one = fleet_of(car(tolerance_mm=0))
    required = finding(check(helix(allowance=own), one), "inner", "overhead").required_mm
    rise = required + 12 + 38 + 24 + spare_mm
    found = finding(check(helix(allowance=own, rise_per_turn_mm=rise), one), "inner", "overhead")
    assert found is not None
    # The rise pitches the car a trifle more or less: a hundredth of what it moved.
    assert_allclose(found.spare_mm, spare_mm, atol=0.4)
    assert found.code == (PASSES if found.spare_mm >= 0 else MARGINAL)


def test_a_car_as_tall_as_the_headroom_does_not_fit() -> None:
    found = finding(check(helix(), fleet_of(car(height_mm=223.0))), "inner", "overhead")
    assert found is not None
    assert found.verdict == "does not fit"
    assert -3 < found.gap_mm < 0


def test_a_full_size_drawing_is_known_to_3_percent_of_the_height() -> None:
    cars = fleet_of(
        car("drawing", dimensions="full-size", scale=29.0, height_mm=200.0),
        car("model", height_mm=200.0, scale=29.0),
        car("careful", dimensions="full-size", scale=29.0, height_mm=200.0, tolerance_mm=0.5),
    )
    result = check(helix(), cars)
    for number, tolerance in enumerate((6.0, 1.0, 0.5)):
        found = finding(result, "inner", "overhead", number)
        assert found is not None
        assert_allclose(found.tolerance_parts["car"], tolerance, rtol=1e-15)
        assert_allclose(found.allowance_mm, 12 + math.hypot(tolerance, 1, 3), rtol=1e-15)
    assert_array_equal(cars.full_size, [True, False, True])


# --- which findings there are ---------------------------------------------------------------------


RUNNING = {"radius", "truck_swing", "underside", "coupling", "recovery"}
"""What is said of a car on trucks, whatever was measured."""


def names(result: CheckResult, track: str, number: int = 0) -> set[str]:
    return {found.check for found in result.findings(number, track)}


def test_of_two_tracks_each_has_the_side_that_something_stands_at() -> None:
    result = check(helix(), fleet_of(car()))
    assert names(result, "inner") == {"overhead", "inner_side"} | RUNNING
    assert names(result, "outer") == {"overhead", "outer_side"} | RUNNING


def test_a_single_track_has_both_sides_and_a_middle_one_none() -> None:
    result = check(single(), fleet_of(car()))
    assert names(result, "inner") == {"overhead", "inner_side", "outer_side"} | RUNNING
    three = helix(
        tracks=tuple(Track(name=name, radius_mm=1190.0 + 190 * n) for n, name in enumerate("abc"))
    )
    assert names(check(three, fleet_of(car())), "b") == {"overhead"} | RUNNING


def test_where_nothing_stands_there_is_no_finding() -> None:
    result = check(single(posts=Posts(inside_mm="none", outside_mm=120.0)), fleet_of(car()))
    assert names(result, "inner") == {"overhead", "outer_side"} | RUNNING
    assert result.codes()[0] == PASSES


def test_axles_in_the_frame_are_asked_for_their_side_play() -> None:
    """Trucks of two axles have none between; a car of three axles in its frame may have."""
    trucks, axles = car(), car("axles", truck_wheelbase_mm=0.0)
    result = check(single(), fleet_of(trucks, axles))
    assert names(result, "inner") & {"truck_swing", "rigid_wheelbase"} == {"truck_swing"}
    assert names(result, "inner", 1) & {"truck_swing", "rigid_wheelbase"} == {"rigid_wheelbase"}


@pytest.mark.parametrize("height_mm", [190.0, 215.0, 230.0])
def test_a_side_of_which_nothing_is_said_is_not_measured(height_mm: float) -> None:
    said = check(single(), fleet_of(car(height_mm=height_mm))).codes()[0]
    result = check(single(posts=Posts(outside_mm=120.0)), fleet_of(car(height_mm=height_mm)))
    found = finding(result, "inner", "inner_side")
    assert found is not None
    assert found.verdict == "not measured"
    assert found.lowers
    assert (found.gap_mm, found.available_mm, found.required_mm, found.allowance_mm) == (None,) * 4
    assert "inside" in found.reason
    assert result.codes()[0] == max(said, NOT_MEASURED)


def test_no_tier_above_no_overhead() -> None:
    eleven, twelve = (check(single(turns=brackets / 12), fleet_of(car())) for brackets in (11, 12))
    assert "overhead" not in names(eleven, "inner")
    assert eleven.codes()[0] == PASSES
    assert [hung.station for hung in twelve.obstacles(0, "inner")] == [0]


def test_nobody_in_the_fleet() -> None:
    result = check(helix(), fleet_of())
    assert result.codes().shape == (0,)
    assert result.columns == ()


# --- least radius, standing, gauge ----------------------------------------------------------------


def test_what_nobody_stated_is_listed_last_and_lowers_nothing() -> None:
    result = check(helix(), fleet_of(car(), car("tall", height_mm=300.0)))
    for number, worst in enumerate((PASSES, DOES_NOT_FIT)):
        listed = list(result.findings(number, "inner"))
        assert {found.check for found in listed[-5:]} == RUNNING
        for found in listed[-5:]:
            assert found.verdict == "not measured"
            assert not found.lowers
            assert found.reason
        assert result.codes()[number] == worst


@pytest.mark.parametrize(
    ("stated_mm", "inner", "outer"),
    [
        (1000.0, PASSES, PASSES),
        (INNER_MM, PASSES, PASSES),
        (INNER_MM + 0.5, DOES_NOT_FIT, PASSES),
        (OUTER_MM + 100, DOES_NOT_FIT, DOES_NOT_FIT),
    ],
)
def test_the_stated_radius(stated_mm: float, inner: int, outer: int) -> None:
    result = check(helix(), fleet_of(car(minimum_radius_mm=stated_mm)))
    for track, radius, code in (("inner", INNER_MM, inner), ("outer", OUTER_MM, outer)):
        found = finding(result, track, "radius")
        assert found is not None
        assert found.code == code
        assert_allclose(
            (found.available_mm, found.required_mm, found.gap_mm),
            (radius, stated_mm, radius - stated_mm),
            atol=1e-9,
        )
        assert found.allowance_mm == 0
        assert found.lowers
        assert result.track_codes(track)[0] == code


@pytest.mark.parametrize("stated_mm", [None, 1300.0])
def test_a_car_that_cannot_stand_does_not_fit_by_radius_alone(stated_mm: float | None) -> None:
    """2500 mm between supports on a circle of 1190 mm: 1250 from the middle to each."""
    long = car("long", wheelbase_mm=2500.0, length_mm=2600.0, minimum_radius_mm=stated_mm)
    result = check(helix(), fleet_of(long, car()))
    assert names(result, "inner") == {"radius"}
    assert result.track_codes("inner")[0] == DOES_NOT_FIT
    found = finding(result, "inner", "radius")
    assert found is not None
    span = math.hypot(2500, 60) / 2
    expected = INNER_MM - max(span, stated_mm or 0)
    assert_allclose(found.gap_mm, expected, atol=1e-9)
    # 1380 mm is wide enough for it to stand, not to pass, and its neighbour is judged as ever.
    assert "overhead" in names(result, "outer")
    assert result.track_codes("inner")[1] == PASSES


def test_a_car_whose_side_comes_to_the_axis_does_not_fit() -> None:
    """It stands, with mid-car 80 mm from the axis (107 on this grade); its side is 130 mm off."""
    wheelbase = 2 * math.sqrt(INNER_MM**2 - 80**2)
    wide = car(wheelbase_mm=wheelbase, truck_wheelbase_mm=0.0, length_mm=2400.0, width_mm=260.0)
    result = check(single(posts=Posts(inside_mm="none", outside_mm="none")), fleet_of(wide))
    assert names(result, "inner") == {"radius"}
    assert result.codes()[0] == DOES_NOT_FIT


@pytest.mark.parametrize(("gauge_mm", "runs"), [(45.0, True), (44.45, True), (32.0, False)])
def test_only_cars_of_the_gauge_are_judged(gauge_mm: float, runs: bool) -> None:
    result = check(helix(), fleet_of(car(gauge_mm=gauge_mm), car("second")))
    assert (names(result, "inner") == {"gauge"}) != runs
    assert result.codes()[0] == (PASSES if runs else DOES_NOT_FIT)
    assert result.codes()[1] == PASSES
    if not runs:
        found = finding(result, "inner", "gauge")
        assert found is not None
        assert_allclose(found.gap_mm, -13.0, atol=1e-9)


# --- leads, profiles, and what stands along a lead ------------------------------------------------

LEVEL_LEAD = {"leads": (Lead(at="foot", length_mm=2000.0),)}


@pytest.mark.parametrize("end", ["foot", "head"])
def test_on_a_level_lead_a_car_asks_for_its_own_height_and_width(end: str) -> None:
    """A metre along, a car of 600 mm stands wholly on the straight: 190 mm high, 110 mm wide."""
    lamp = Obstacle(name="lamp", distance_mm=1000.0, headroom_mm=209.0)
    fence = Obstacle(name="fence", distance_mm=1000.0, left_mm=68.0, right_mm=300.0)
    where = single(leads=(Lead(at=end, length_mm=2000.0),), obstacles=(lamp, fence))
    result = check(where, fleet_of(car()), every_obstacle=True)
    overhead = column(result, "inner", "overhead")
    assert overhead is not None
    named = [place.obstacle for place in overhead.places]
    assert_allclose(overhead.each_gap_mm[named.index("lamp")], 209 - 190, rtol=0, atol=1e-6)
    side = finding(result, "inner", "inner_side")
    assert side is not None
    assert side.location["obstacle"] == "fence"
    assert_allclose((side.gap_mm, side.available_mm), (68 - 55, 68), rtol=0, atol=1e-6)
    away = 1000 / (2 * math.pi * INNER_MM / 12)
    station = -away if end == "foot" else 30 + away
    assert_allclose(side.location["station"], station, rtol=1e-12)


@pytest.mark.parametrize("grade", [0.03, -0.02, 0.08])
def test_on_a_straight_grade_a_roof_asks_for_a_little_more(grade: float) -> None:
    """Its roof stands at right angles to the grade: T sqrt(1 + G^2) over the rail, and it climbs
    by G w / 2 from the middle of a strip to its side.
    """
    lamp = Obstacle(name="lamp", distance_mm=800.0, headroom_mm=198.0, width_mm=50.0)
    lead = Lead(at="head", length_mm=2000.0, grade=grade)
    result = check(single(leads=(lead,), obstacles=(lamp,)), fleet_of(car()))
    found = finding(result, "inner", "overhead")
    assert found is not None
    assert found.location["obstacle"] == "lamp"
    required = 190 * math.hypot(1, grade) + abs(grade) * 50 / 2
    assert_allclose(found.required_mm, required, rtol=0, atol=1e-3)
    assert_allclose(found.gap_mm, 198 - required, rtol=0, atol=1e-3)


def test_a_sag_leaves_more_room_under_it_and_less_a_turn_below() -> None:
    """Bracket 17 is 5 mm low, and so is the beam that hangs from it over bracket 5.

    A short car is under a beam longest when it has all but left it, uphill: there it needs about
    T sqrt(1 + G^2) + G w / 2, with the grade G of the board on which it stands. Over bracket 16
    that is flatter by 5 mm in a board's length, over 17 steeper.
    """
    short = car(length_mm=60.0, wheelbase_mm=40.0, truck_wheelbase_mm=0.0)
    sag = ProfilePoint(station=17, railhead_mm=285 * 17 / 12 - 5)
    gaps = {}
    for name, profile in (("sag", (sag,)), ("even", ())):
        result = check(single(profile=profile), fleet_of(short), every_obstacle=True)
        gaps[name] = {hung.station: hung.gap_mm for hung in result.obstacles(0, "inner")}
    lost = {station: gaps["even"][station] - gaps["sag"][station] for station in range(19)}
    board = 2 * math.pi * INNER_MM / 12
    grades = [(285 / 12 + more) / board for more in (0, -5, 5)]
    even, flat, steep = (190 * math.hypot(1, grade) + grade * 38 / 2 for grade in grades)
    assert_allclose(lost.pop(5), 5, atol=1e-6)
    assert_allclose(lost.pop(16), flat - even, atol=0.05)
    assert_allclose(lost.pop(17), -5 + steep - even, atol=0.05)
    assert_allclose(list(lost.values()), 0, atol=1e-4)


def test_an_even_climb_written_down_as_a_profile_changes_nothing() -> None:
    even = tuple(ProfilePoint(station=k, railhead_mm=285 * k / 12) for k in (-3, 4.5, 31))
    longer = helix(profile=even, obstacles=(Obstacle(name="far", station=-3, headroom_mm=900.0),))
    regular = helix(obstacles=(Obstacle(name="far", station=-3, headroom_mm=900.0),))
    cars = fleet_of(car(underside_mm=8.0), stepped())
    one, other = check(longer, cars), check(regular, cars)
    for track in ("inner", "outer"):
        for name in ("overhead", "inner_side", "outer_side", "underside"):
            here, there = column(one, track, name), column(other, track, name)
            assert (here is None) == (there is None)
            if here is not None:
                assert_allclose(here.gap_mm, there.gap_mm, rtol=0, atol=1e-3)


def test_a_post_beside_a_straight_lead_is_not_reached_further_than_on_the_straight() -> None:
    """On the straight a car reaches out by its half width; on the curve by more, on either side."""
    fence = Obstacle(name="fence", distance_mm=1200.0, left_mm=56.0, right_mm=56.0)
    result = check(single(obstacles=(fence,), **LEVEL_LEAD), fleet_of(car()))
    for side in ("inner_side", "outer_side"):
        found = finding(result, "inner", side)
        assert found is not None
        assert found.location["obstacle"] == "fence"
        assert_allclose(found.gap_mm, 1.0, atol=1e-6)


# --- obstacles ------------------------------------------------------------------------------------


def test_a_low_lamp_governs_where_it_hangs() -> None:
    lamp = Obstacle(name="lamp", track="inner", station=19.5, headroom_mm=212.0, width_mm=0.0)
    plain = check(helix(), fleet_of(car()))
    result = check(helix(obstacles=(lamp,)), fleet_of(car()))
    found = finding(result, "inner", "overhead")
    assert found is not None
    assert found.location == {
        "station": 19.5,
        "turn": 2,
        "angle_deg": 225.0,
        "obstacle": "lamp",
        "everywhere": False,
        "origin": "as designed",
    }
    assert found.available_mm == 212
    # Of no width along the track, it needs less headroom than a beam of 38 mm on 3.8 %.
    beam = finding(plain, "inner", "overhead")
    assert beam is not None
    assert_allclose(beam.required_mm - found.required_mm, 19 * 285 / (2 * math.pi * 1190), atol=0.1)
    listed = {hung.station: hung.gap_mm for hung in result.obstacles(0, "inner")}
    assert_allclose(listed[19.5], found.gap_mm, rtol=1e-15)
    assert_allclose([listed[k] for k in range(19)], beam.gap_mm, rtol=1e-15)
    # It hangs over the inner track alone.
    other = finding(result, "outer", "overhead")
    assert other is not None
    assert other == finding(plain, "outer", "overhead")


def test_of_two_equal_headrooms_the_wider_governs() -> None:
    portal = Obstacle(name="portal", station=-3, headroom_mm=HEADROOM_MM, width_mm=300.0)
    found = finding(check(helix(obstacles=(portal,)), fleet_of(car())), "inner", "overhead")
    assert found is not None
    assert found.location["obstacle"] == "portal"
    assert found.location["station"] == -3
    assert found.location["turn"] == 0
    assert found.location["angle_deg"] == 270.0


def test_an_obstacle_without_a_width_is_as_wide_as_a_beam() -> None:
    lamps = [
        Obstacle(name="lamp", station=4.5, headroom_mm=210.0, width_mm=width)
        for width in (None, 38.0)
    ]
    gaps = [
        finding(check(helix(obstacles=(lamp,)), fleet_of(car())), "inner", "overhead").gap_mm
        for lamp in lamps
    ]
    assert gaps[0] == gaps[1]


def test_an_obstacle_too_wide_to_have_two_sides_is_never_passed() -> None:
    """A tunnel roof wider than the helix, 100 mm over the railhead: a 190 mm car cannot pass."""
    tunnel = Obstacle(name="tunnel", station=5, headroom_mm=100.0, width_mm=2600.0)
    try:
        described = single(obstacles=(tunnel,))
    except ValueError:
        return  # a record that refuses it is as good
    result = check(described, fleet_of(car()))
    assert result.codes()[0] != PASSES


@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
def test_left_of_an_obstacle_is_left_going_uphill(climbs: str) -> None:
    """Counterclockwise, left is towards the axis; the other way round it is the outside."""
    fence = Obstacle(name="fence", track="outer", station=3, left_mm=70.0)
    result = check(helix(climbs=climbs, obstacles=(fence,)), fleet_of(car()))
    side = "inner_side" if climbs == "counterclockwise" else "outer_side"
    found = finding(result, "outer", side)
    assert found is not None
    assert found.location["obstacle"] == "fence"
    assert found.available_mm == 70
    assert "inner_side" not in names(result, "inner") or (
        finding(result, "inner", "inner_side").location["obstacle"] == "post"
    )
    assert ("inner_side" in names(result, "outer")) == (climbs == "counterclockwise")


def test_the_nearer_of_post_and_obstacle_governs() -> None:
    for left, nearer in ((109.0, "clip"), (111.0, "post")):
        clip = Obstacle(name="clip", station=2.5, left_mm=left)
        found = finding(check(single(obstacles=(clip,)), fleet_of(car())), "inner", "inner_side")
        assert found is not None
        assert found.location["obstacle"] == nearer
        assert found.available_mm == min(left, 110)


# --- both ways round ------------------------------------------------------------------------------


def stepped(name: str = "steps", left_mm: float = 95.0, right_mm: float = 65.0) -> Car:
    """A body of 90 mm with a step at mid-car that stands out 30 mm further on the left."""
    return car(
        name,
        width_mm=left_mm + right_mm,
        blocks=(
            block((0, 600), (45, 45), (20, 190)),
            block((280, 320), (left_mm, right_mm), (10, 60)),
        ),
    )


@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
def test_a_lopsided_car_is_judged_the_worse_way_round(climbs: str) -> None:
    """Uphill on a counterclockwise helix its left is inside; the step is then 30 mm nearer."""
    posts = Posts(inside_mm=150.0, outside_mm=150.0)
    result = check(single(climbs=climbs, posts=posts), fleet_of(stepped()))
    uphill_inside = climbs == "counterclockwise"
    inside, outside = (finding(result, "inner", side) for side in ("inner_side", "outer_side"))
    assert inside is not None
    assert outside is not None
    assert inside.facing == ("front uphill" if uphill_inside else "front downhill")
    assert_allclose(inside.other_way_gap_mm - inside.gap_mm, 30, atol=0.05)
    assert outside.facing == ("front downhill" if uphill_inside else "front uphill")
    assert outside.other_way_gap_mm > outside.gap_mm


def test_a_symmetrical_car_has_no_other_way() -> None:
    found = finding(check(single(), fleet_of(car())), "inner", "inner_side")
    assert found is not None
    assert found.other_way_gap_mm is None


def test_turning_a_symmetrical_car_changes_nothing() -> None:
    """Of several blocks, so that it is driven both ways."""
    even = car(
        width_mm=130.0,
        blocks=(
            block((0, 200), (55, 55), (20, 120)),
            block((400, 600), (55, 55), (20, 120)),
            block((200, 400), (50, 50), (20, 190)),
            block((290, 310), (65, 65), (10, 60)),
        ),
    )
    cars = fleet_of(even)
    assert cars.lopsided[0]
    canted = single().model_copy(
        update={"tracks": (Track(name="inner", radius_mm=INNER_MM, cant_mm=3.0),)}
    )
    for each in check(canted, cars).columns:
        assert_allclose(each.gap_mm[0], each.gap_mm[1], rtol=0, atol=1e-9)


def reversed_end_for_end(one: Car) -> Car:
    """The same car with its front end called its rear: left for right, from the other end."""
    front, rear = one.overhangs_mm
    blocks = tuple(
        block(
            (one.length_mm - b.to_mm, one.length_mm - b.from_mm),
            (b.right_mm, b.left_mm),
            (b.bottom_mm, b.top_mm),
        )
        for b in one.blocks
    )
    return one.model_copy(
        update={"front_overhang_mm": rear, "rear_overhang_mm": front, "blocks": blocks}
    )


@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
def test_downhill_is_the_reversed_car_uphill(climbs: str) -> None:
    """Overhead and at both sides; for cars of several blocks, of none, and of one to one side."""
    aside = car("aside", width_mm=120.0, blocks=(block((0, 600), (40, 60), (10, 190)),))
    stack = block((0, 60), (9, 20), (10, 190))
    ahead = car("ahead", blocks=(block((0, 600), (55, 55), (10, 100)), stack))
    drawn = random_fleet(np.random.default_rng(6), 60).table.cars()
    cars = [aside, ahead, car("even"), car("long nose", front_overhang_mm=160.0), *drawn]
    where = single(climbs=climbs).model_copy(
        update={"tracks": (Track(name="inner", radius_mm=700.0, cant_mm=2.0),)}
    )
    one = check(where, fleet_of(*cars))
    other = check(where, fleet_of(*(reversed_end_for_end(each) for each in cars)))
    for here, there in zip(one.columns, other.columns, strict=True):
        assert_allclose(here.gap_mm, there.gap_mm[::-1], rtol=0, atol=1e-5)
    overhead = column(one, "inner", "overhead")
    assert overhead is not None
    # And it does matter which: a stack at one end needs more there than at the other.
    assert abs(overhead.gap_mm[0, 1] - overhead.gap_mm[1, 1]) > 0.05
    assert list(one.fleet.lopsided[:4]) == [True, True, False, True]


def mirrored(one: Car) -> Car:
    """Left for right."""
    blocks = tuple(
        b.model_copy(update={"left_mm": b.right_mm, "right_mm": b.left_mm}) for b in one.blocks
    )
    return one.model_copy(update={"blocks": blocks})


@pytest.mark.parametrize("seed", range(3))
def test_a_clockwise_helix_is_the_mirror_image(seed: int) -> None:
    cars = random_fleet(np.random.default_rng(seed), 40)
    images = fleet_of(*(mirrored(one) for one in cars.table.cars()))
    one = check(single(climbs="counterclockwise"), cars)
    other = check(single(climbs="clockwise"), images)
    assert [c.check for c in one.columns] == [c.check for c in other.columns]
    for here, there in zip(one.columns, other.columns, strict=True):
        assert_array_equal(here.gap_mm, there.gap_mm)
        assert_array_equal(here.codes, there.codes)


def test_a_mirror_matters_to_a_lopsided_car() -> None:
    """Else the test above could not fail: the same car one way up each helix differs."""
    cars = fleet_of(stepped())
    one, other = (
        column(check(single(climbs=climbs), cars), "inner", "inner_side")
        for climbs in ("counterclockwise", "clockwise")
    )
    assert one is not None
    assert other is not None
    assert abs(one.gap_mm[0, 0] - other.gap_mm[0, 0]) > 25


# --- play, block by block -------------------------------------------------------------------------


def test_each_part_of_a_car_keeps_its_own_play() -> None:
    """G7 carries play to the body's ends. A car of two blocks can do no better than either alone.

    Cylinders at mid-car reach 1 mm or 2 further out than the body's ends, but the ends are 200 mm
    beyond the supports, and 3 mm of play is 9 mm there.
    """
    margins = Allowance(side_mm=6.0, play_mm=3.0)
    outside = 160.0

    def spare_mm(*blocks: tuple[tuple[float, float], float]) -> float:
        shapes = tuple(block(along, (half, half), (20, 190)) for along, half in blocks)
        whole = block((0, 600), (20, 20), (20, 190))
        one = car(
            wheelbase_mm=200.0,
            truck_wheelbase_mm=0.0,
            width_mm=2 * max(half for _, half in blocks),
            tolerance_mm=0.0,
            blocks=(*shapes, whole),
        )
        posts = Posts(inside_mm=500.0, outside_mm=outside)
        found = finding(
            check(single(allowance=margins, posts=posts), fleet_of(one)), "inner", "outer_side"
        )
        assert found is not None
        return float(found.spare_mm or 0.0)

    # Out from the middle: Rm = sqrt(1190^2 - 100^2); the end's corner is 300 mm ahead of it.
    mid = math.sqrt(INNER_MM**2 - 100**2)
    cylinders = ((290.0, 310.0), round(math.hypot(mid + 60, 300) - mid + 3, 1))
    ends = ((0.0, 600.0), 60.0)
    alone = min(spare_mm(cylinders), spare_mm(ends))
    assert alone < spare_mm(cylinders) - 4
    assert_allclose(spare_mm(cylinders, ends), alone, atol=0.01)


# --- one car, any company -------------------------------------------------------------------------

BUSY = helix(
    obstacles=(
        Obstacle(name="lamp", track="inner", station=7.5, headroom_mm=219.0, width_mm=5.0),
        Obstacle(name="portal", station=-2, headroom_mm=225.0, width_mm=150.0),
        Obstacle(name="fence", track="outer", station=4, left_mm=120.0, right_mm=118.0),
    ),
    allowance=Allowance(play_mm=1.5),
)


@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
def test_a_car_is_judged_alike_alone_and_among_five_hundred(climbs: str) -> None:
    where: Helix = BUSY.model_copy(
        update={
            "climbs": climbs,
            "tracks": (
                Track(name="inner", radius_mm=INNER_MM, cant_mm=2.0),
                Track(name="outer", radius_mm=OUTER_MM),
            ),
        }
    )
    rng = np.random.default_rng(11)
    some = random_fleet(rng, 498).table.cars()
    odd = [
        car("cannot stand", wheelbase_mm=2400.0, length_mm=2500.0),
        car("narrow gauge", gauge_mm=32.0),
    ]
    everybody = [*some[:250], *odd, *some[250:]]
    together = check(where, fleet_of(*everybody))
    assert len(together.fleet) == 500
    assert set(together.codes()) == {PASSES, MARGINAL, DOES_NOT_FIT}
    for number in [*range(0, 500, 7), 250, 251]:
        alone = check(where, fleet_of(everybody[number]))
        assert alone.codes()[0] == together.codes()[number]
        for track in ("inner", "outer"):
            assert_array_equal(
                alone.facing_codes(track)[:, 0], together.facing_codes(track)[:, number]
            )
            for one, other in zip(
                alone.findings(0, track), together.findings(number, track), strict=True
            ):
                for field in fields(one):
                    here, there = getattr(one, field.name), getattr(other, field.name)
                    if isinstance(here, float):
                        assert_allclose(here, there, rtol=0, atol=1e-9)
                    elif not isinstance(here, dict) or field.name == "location":
                        assert here == there
                assert_allclose(
                    list(one.allowance_parts.values()), list(other.allowance_parts.values())
                )


def test_the_order_of_the_fleet_changes_nothing() -> None:
    rng = np.random.default_rng(5)
    cars = random_fleet(rng, 60)
    order = rng.permutation(60)
    straight, mixed = check(BUSY, cars), check(BUSY, cars.select(order))
    assert_array_equal(straight.codes()[order], mixed.codes())
    for one, other in zip(straight.columns, mixed.columns, strict=True):
        assert_allclose(one.gap_mm[:, order], other.gap_mm, rtol=0, atol=1e-9)
        assert_array_equal(one.applies[order], other.applies)


def test_a_car_of_one_block_is_its_figures() -> None:
    """Height, width, length and underside say the same as the block made of them."""
    plain = car(underside_mm=15.0, front_overhang_mm=120.0)
    boxed = car(
        underside_mm=15.0, front_overhang_mm=120.0, blocks=(block((0, 600), (55, 55), (15, 190)),)
    )
    one, other = check(BUSY, fleet_of(plain)), check(BUSY, fleet_of(boxed))
    for here, there in zip(one.columns, other.columns, strict=True):
        assert_array_equal(here.gap_mm, there.gap_mm)


def test_blank_overhangs_share_what_is_left() -> None:
    """600 mm of body on 400 mm: 100 mm each; with 30 mm in front, 170 mm behind."""
    one = check(BUSY, fleet_of(car(), car(front_overhang_mm=30.0)))
    other = check(
        BUSY,
        fleet_of(car(front_overhang_mm=100.0, rear_overhang_mm=100.0), car(rear_overhang_mm=170.0)),
    )
    for here, there in zip(one.columns, other.columns, strict=True):
        assert_array_equal(here.gap_mm, there.gap_mm)


# --- the worst of findings ------------------------------------------------------------------------


def test_the_verdict_is_the_worst_finding_and_findings_come_worst_first() -> None:
    rng = np.random.default_rng(3)
    result = check(BUSY, random_fleet(rng, 80, (180.0, 230.0)))
    seen = set()
    for number in range(80):
        worst = []
        for track in ("inner", "outer"):
            listed = list(result.findings(number, track))
            codes = [found.code for found in listed if found.lowers]
            assert codes == sorted(codes, reverse=True)
            assert [f.lowers for f in listed] == sorted((f.lowers for f in listed), reverse=True)
            assert result.track_codes(track)[number] == max(codes)
            worst.append(max(codes))
        assert result.codes()[number] == max(worst)
        seen.add(max(worst))
    assert {PASSES, MARGINAL, DOES_NOT_FIT} <= seen


def test_codes_follow_from_gap_and_allowance_whatever_governs() -> None:
    """The way round that governs has the worse word; of two equal words, the less to spare."""
    rng = np.random.default_rng(8)
    result = check(BUSY, random_fleet(rng, 200, (180.0, 230.0)))
    for each in result.columns:
        if each.check == "radius":
            continue
        spare = each.gap_mm - np.broadcast_to(each.budget.total_mm, each.gap_mm.shape)
        runs = each.applies
        governing = each.governing, np.arange(len(runs))
        assert_array_equal(each.codes[governing][runs], each.codes.max(axis=0)[runs])
        same = runs & (each.codes[0] == each.codes[1])
        assert_array_equal(spare[governing][same], spare.min(axis=0)[same])


def test_no_deck_beam_the_deck_itself_hangs_there() -> None:
    bare = helix(deck=Deck(depth_mm=62.0, beam_width_mm=38.0))
    found = finding(check(bare, fleet_of(car())), "inner", "overhead")
    beamed = finding(check(helix(), fleet_of(car())), "inner", "overhead")
    assert found is not None
    assert beamed is not None
    assert found.location["obstacle"] == "deck"
    assert found == replace(
        beamed,
        location=found.location,
    )


# --- a part of it ---------------------------------------------------------------------------------


@pytest.mark.parametrize("built", [False, True])
def test_a_part_of_a_check_is_what_the_whole_one_says_of_it(built: bool) -> None:
    where = helix(profile=(ProfilePoint(station=-3, railhead_mm=-60.0),) if built else ())
    cars = random_fleet(np.random.default_rng(4), 12)
    whole = check(where, cars).columns
    over = check(where, cars, only="overhead").columns
    others = check(where, cars, only="others").columns
    assert {it.check for it in over} == {"overhead"}
    parts = {(it.track, it.check): it for it in (*over, *others)}
    assert {(it.track, it.check) for it in whole if it.check != "recovery"} == set(parts)
    for column_ in whole:
        if column_.check != "recovery":
            part = parts[column_.track, column_.check]
            assert_array_equal(part.gap_mm, column_.gap_mm)
            assert_array_equal(part.codes, column_.codes)
