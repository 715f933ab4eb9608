"""Does the slow drive see straight leads and described obstacles right? By hand, scipy, shapely.

Each expected value is derived in its test from the definitions (G1, G4, G5, docs/theory.md).
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq, minimize_scalar
from shapely import LineString, Point, Polygon

from tests.geometry.brute_force import (
    FACINGS,
    BruteBlock,
    BruteCar,
    BruteDeck,
    BruteLead,
    BruteLine,
    BruteObstacle,
    BruteTrack,
    BruteWay,
    block_side_radii_mm,
    meeting_gap_mm,
    obstacle_side_gaps_mm,
    overhead_gap_mm,
    overhead_gaps_mm,
    place,
    side_radii_mm,
    theta_between,
)

UPHILL, DOWNHILL = FACINGS
NO_DECK = BruteDeck(depth_mm=-1e9)  # so far up that nothing meets it
R = 1000.0
CLIMBS = ("counterclockwise", "clockwise")


def box(length_mm: float, half_mm: float, top_mm: float, bottom_mm: float = 10.0) -> BruteBlock:
    """A plain box about mid-wheelbase."""
    return BruteBlock(-length_mm / 2, length_mm / 2, half_mm, half_mm, bottom_mm, top_mm)


def led(
    rise_per_turn_mm: float = 0.0,
    foot: BruteLead | None = None,
    head: BruteLead | None = None,
    last_station: float = 24.0,
) -> BruteLine:
    """An even helix of 12 brackets a turn, with straight leads."""
    knots, heights = (0.0, 12.0), (0.0, rise_per_turn_mm)
    return BruteLine(12, 0.0, last_station, knots, heights, foot, head)


# --- where the line lies --------------------------------------------------------------------------


@pytest.mark.parametrize("climbs", CLIMBS)
def test_leads_leave_tangent_and_climb_as_they_say(climbs):
    """Three brackets at the foot turn to the right angle: a lead there runs along an axis."""
    line = BruteLine(
        12, -3.0, 24.0, (-3.0, 24.0), (5.0, 400.0), BruteLead(700, 0.02), BruteLead(300, -0.01)
    )
    way = BruteWay(line, BruteTrack(R, climbs=climbs))
    s = way.track.turning
    foot = way.point(np.array([way.start, way.first - 0.1, way.first])).T
    assert_allclose(foot[0], [-700, -s * R, 5 - 700 * 0.02], atol=1e-9)
    assert_allclose(foot[1], [-100, -s * R, 5 - 2], atol=1e-9)
    assert_allclose(foot[2], [0, -s * R, 5], atol=1e-9)
    head = way.point(np.array([way.last, way.end])).T
    assert_allclose(head, [[R, 0, 400], [R, s * 300, 397]], atol=1e-9)


def test_a_lead_takes_over_from_the_last_slope():
    """Known to station 20 alone, the curve climbs on to its end at 24.5; the lead is level."""
    line = BruteLine(12, 0, 24.5, (0.0, 19.0, 20.0), (0.0, 300.0, 320.0), None, BruteLead(500, 0))
    way = BruteWay(line, BruteTrack(R))
    t = np.array([way.line.theta(22), way.last, way.end, way.end + 1])
    assert_allclose(way.z(t), [360, 410, 410, 410], atol=1e-9)


# --- overhead on a lead ---------------------------------------------------------------------------


@pytest.mark.parametrize("end", ["foot", "head"])
@pytest.mark.parametrize("climbs", CLIMBS)
def test_plain_box_on_a_straight_graded_lead(end, climbs):
    """Grade g: the roof is a line `H * sqrt(1 + g^2)` above the rail, and highest under the uphill
    side of the beam, half its width further on: `g * width / 2` more. By distance or by station.
    """
    g, H, width, headroom, distance = 0.04, 195.0, 40.0, 230.0, 900.0
    lead = BruteLead(2000, g)
    line = led(250.0, lead if end == "foot" else None, lead if end == "head" else None)
    beyond = distance / (2 * math.pi * R / 12)
    station = -beyond if end == "foot" else 24 + beyond
    obstacles = [
        BruteObstacle.on_lead(end, distance, headroom, width),
        BruteObstacle(station, headroom, width),
    ]
    car = BruteCar(400, 80, (box(600, 50, H),))
    expected = headroom - H * math.hypot(1, g) - g * width / 2
    for facing in FACINGS:
        track = BruteTrack(R, climbs=climbs)
        found = overhead_gaps_mm(line, track, car, NO_DECK, facing, obstacles)[-3:-1]
        assert_allclose([gap.gap_mm for gap in found], expected, atol=1e-9)
        assert_allclose([gap.station for gap in found], station, atol=1e-9)


def test_cant_ends_at_the_junction():
    """The same car leans under an obstacle on the curve, and stands upright on the lead."""
    track = BruteTrack(R, 3.0, 45.0)
    car = BruteCar(300, 0, (box(400, 50, 235),))
    lean = math.asin(3 / 45)
    line = led(foot=BruteLead(2000, 0.0))
    there = [BruteObstacle(6, 300), BruteObstacle.on_lead("foot", 1000, 300)]
    found = overhead_gaps_mm(line, track, car, NO_DECK, UPHILL, there)[-3:-1]
    leaning = 300 - 235 * math.cos(lean) - 50 * 3 / 45
    assert_allclose([gap.gap_mm for gap in found], [leaning, 300 - 235], atol=1e-9)


def test_roof_edge_drops_as_the_last_axle_leaves_the_cant():
    """Front axle on the level lead, hind one still on the curve: half the lean, and the roof's
    edge over the front axle is higher than either before or after.
    """
    track = BruteTrack(R, 3.0, 45.0)
    car = BruteCar(300, 0, (BruteBlock(150, 160, 50, 50, 0, 60),))
    half = math.asin(3 / 45) / 2
    line = led(head=BruteLead(2000, 0.0))
    found = overhead_gap_mm(
        line, track, car, NO_DECK, UPHILL, [BruteObstacle.on_lead("head", 80, 90)]
    )
    assert_allclose(found.gap_mm, 90 - 60 * math.cos(half) - 50 * math.sin(half), atol=1e-9)


@pytest.mark.parametrize("climbs", CLIMBS)
def test_tier_above_a_straight_foot_lead(climbs):
    """A level lead under a regular helix. Beams hang over it while `R / cos` of their angle is
    within reach: 30 degrees (1.155 R) are, 60 (2 R) are not. The deck goes on to exactly its reach,
    and there it is lowest: an angle a before the curve it has climbed a less.
    """
    rise, H, reach = 300.0, 150.0, 1.3 * R
    line = led(rise, BruteLead(3000, 0.0))
    deck = BruteDeck(38.0, 24.0, 30.0, {}, reach)
    car = BruteCar(300, 60, (box(400, 50, H),))
    for facing in FACINGS:
        found = overhead_gaps_mm(line, BruteTrack(R, climbs=climbs), car, deck, facing)
        assert [gap.station for gap in found[:-1]] == list(range(-1, 13))
        # The beam is radial, so the car passes askew under it, level all the while.
        assert_allclose(found[0].gap_mm, rise * 11 / 12 - 62 - H, atol=1e-9)
        angle = math.acos(1 / 1.3)
        expected = rise * (1 - angle / (2 * math.pi)) - 38 - H
        assert_allclose(found[-1].gap_mm, expected, atol=1e-9)
        assert_allclose(found[-1].station, -angle * 12 / (2 * math.pi), atol=1e-6)
        assert found[-1].obstacle == "deck"


def test_nothing_of_the_tier_above_hangs_over_a_lead_out_of_its_reach():
    line = led(300.0, BruteLead(3000, 0.0))
    car = BruteCar(300, 60, (box(400, 50, 150),))
    deck = BruteDeck(38.0, 24.0, 30.0, {}, 0.9 * R)
    found = overhead_gaps_mm(line, BruteTrack(R), car, deck, UPHILL)
    assert [gap.station for gap in found[:-1]] == list(range(13))
    assert found[-1].station > -1e-9


def test_headroom_measured_where_no_beam_hangs_is_an_obstacle_all_the_same():
    line = led(0.0, last_station=14)
    car = BruteCar(300, 0, (box(400, 50, 150),))
    deck = BruteDeck(-1e9, beam_headroom_mm={1: 163.0, 8: 161.0})
    found = overhead_gaps_mm(line, BruteTrack(R), car, deck, UPHILL)
    assert [(gap.station, gap.obstacle) for gap in found] == [
        (0, "beam"),
        (1, "beam"),
        (2, "beam"),
        (8, "headroom"),
        (found[-1].station, "deck"),
    ]
    assert_allclose([found[1].gap_mm, found[3].gap_mm], [13, 11], atol=1e-9)


# --- sides ----------------------------------------------------------------------------------------


def test_level_sides_keep_to_the_circle_where_it_joins_a_straight():
    """Going over to the straight, a plain car stays within what it needs on the curve."""
    car = BruteCar(600, 140, (BruteBlock(-380, 470, 61, 55, 10, 195),))
    on_curve = side_radii_mm(led(), BruteTrack(R), car, UPHILL)
    led_on = side_radii_mm(led(head=BruteLead(2000, 0)), BruteTrack(R), car, UPHILL)
    assert_allclose(led_on, on_curve, atol=1e-6)


def test_on_a_long_lead_the_car_is_as_wide_as_it_is():
    car = BruteCar(300, 60, (BruteBlock(-200, 200, 61, 48, 10, 195),))
    line = BruteLine(12, 0.0, 24.0, (0.0, 24.0), (0.0, 400.0), BruteLead(4000, 0.03))
    fence = [BruteObstacle.on_lead("foot", 1500, width_mm=300, left_mm=80, right_mm=90)]
    for climbs in CLIMBS:
        track = BruteTrack(R, climbs=climbs)
        up = obstacle_side_gaps_mm(line, track, car, fence, UPHILL)
        down = obstacle_side_gaps_mm(line, track, car, fence, DOWNHILL)
        assert_allclose(up, [(80 - 61, 90 - 48)], atol=1e-9)
        assert_allclose(down, [(80 - 48, 90 - 61)], atol=1e-9)


def on_straight_and_curve(back_mm: float, wheelbase_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Rear and front axle of a car going onto a straight along +y at (R, 0), its front axle
    `back_mm` short of the junction along the arc (negative: beyond it)."""

    def at(along):
        if along >= 0:
            return np.array([R, along])
        return R * np.array([math.cos(along / R), math.sin(along / R)])

    front = at(-back_mm)
    rear = brentq(
        lambda s: np.linalg.norm(front - at(s)) - wheelbase_mm,
        -back_mm - 1.2 * wheelbase_mm,
        -back_mm - 0.9 * wheelbase_mm,
        xtol=1e-12,
    )
    return at(rear), front


@pytest.mark.parametrize("distance", [40.0, 150.0])
def test_nose_swings_out_over_the_straight_before_the_car_is_on_it(distance):
    """Beside a thin post on the straight: the car's outline by shapely, its worst by scipy."""
    B, nose, tail, half = 600.0, 250.0, 200.0, 55.0

    def reach(back):
        rear, front = on_straight_and_curve(back, B)
        x = (front - rear) / B
        y = np.array([-x[1], x[0]])
        ends = ((-tail, half), (B + nose, half), (B + nose, -half), (-tail, -half))
        outline = Polygon([rear + a * x + b * y for a, b in ends])
        cut = outline.intersection(LineString([(0, distance), (2 * R, distance)]))
        return -np.inf if cut.is_empty else cut.bounds[2] - R

    tried = np.linspace(-900, 300, 1201)
    worst = tried[int(np.argmax([reach(back) for back in tried]))]
    best = minimize_scalar(
        lambda back: -reach(back), bounds=(worst - 1, worst + 1), options={"xatol": 1e-9}
    )
    assert -best.fun > half + 10  # it does swing

    car = BruteCar(B, 0, (BruteBlock(-B / 2 - tail, B / 2 + nose, half, half, 10, 195),))
    line = led(head=BruteLead(3000, 0.0))
    post = [BruteObstacle.on_lead("head", distance, right_mm=100.0, left_mm=100.0)]
    found = obstacle_side_gaps_mm(line, BruteTrack(R), car, post, UPHILL)
    assert_allclose(found[0].right_mm, 100.0 + best.fun, atol=0.002)
    mirrored = obstacle_side_gaps_mm(line, BruteTrack(R, climbs="clockwise"), car, post, UPHILL)
    assert_allclose(mirrored[0].left_mm, found[0].right_mm, atol=1e-6)
    # Seen from a driver going down, the same car the other way round.
    turned = BruteCar(B, 0, (BruteBlock(-B / 2 - nose, B / 2 + tail, half, half, 10, 195),))
    other = obstacle_side_gaps_mm(line, BruteTrack(R), turned, post, DOWNHILL)
    assert_allclose(other, found, atol=1e-6)


def test_only_what_is_level_with_an_obstacle_counts():
    """A fence from 60 to 100 mm passes under the wide roof and over the wide step."""
    parts = (box(400, 40, 160), box(400, 60, 160, 100.5), box(400, 70, 59.5))
    car = BruteCar(300, 0, parts)
    line = led(foot=BruteLead(3000, 0.0))
    for bottom, top, widest in ((60, 100, 40), (60, 101, 60), (59, 100, 70), (200, 300, -math.inf)):
        fence = [
            BruteObstacle.on_lead("foot", 1500, left_mm=90, bottom_mm=bottom, top_mm=top),
        ]
        found = obstacle_side_gaps_mm(line, BruteTrack(R), car, fence, UPHILL)
        assert_allclose(found, [(90 - widest, math.inf)], atol=1e-9)


def test_a_leaning_side_is_measured_at_the_height_of_the_obstacle():
    """Cant leans a side inward by height times sin: one 100 mm high is clear of the rest."""
    track, lean = BruteTrack(R, 3.0, 45.0), math.asin(3 / 45)
    car = BruteCar(300, 0, (box(400, 50, 235, 0.0),))
    Rm = math.sqrt(R**2 - 150**2)
    for top in (100.0, math.inf):
        fence = [BruteObstacle(6, left_mm=200.0, right_mm=200.0, top_mm=top)]
        found = obstacle_side_gaps_mm(led(), track, car, fence, UPHILL)[0]
        inmost = Rm - 50 * math.cos(lean) - min(top, 235) * 3 / 45
        outmost = math.hypot(Rm + 50 * math.cos(lean), 200)  # a lower corner of an end
        expected = [200 - (R - inmost), 200 + R - outmost]
        assert_allclose([found.left_mm, found.right_mm], expected, atol=0.002)


def test_meets_where_the_tracks_run_into_parallel_straights():
    """On the level the curve decides; with leads the answer is the same as without."""
    car = BruteCar(300, 60, (box(420, 50, 150),))
    line = led(head=BruteLead(1500, 0.0))
    inner, outer = BruteTrack(R), BruteTrack(R + 140)
    assert_allclose(
        meeting_gap_mm(line, inner, car, outer, car),
        meeting_gap_mm(led(), inner, car, outer, car),
        atol=1e-6,
    )


@pytest.mark.parametrize("climbs", CLIMBS)
def test_offsets_from_the_centreline_by_shapely(climbs):
    """Beside curve and lead, R and the offset is R and the distance from the centreline."""
    line = led(200.0, BruteLead(900, 0.01), last_station=5)
    track = BruteTrack(R, climbs=climbs)
    way = BruteWay(line, track)
    t = np.concatenate([[way.start - 1], np.linspace(way.first, way.last + 0.5, 20001)])
    centreline = LineString(way.point(t)[:2].T)
    rng = np.random.default_rng(0)
    near = rng.uniform(-0.5, 1.0, 200)
    points = way.point(near).T + np.column_stack([rng.uniform(-150, 150, (200, 2)), np.zeros(200)])
    found = way.radii(points[:, None], near)[:, 0]
    off = np.array([centreline.distance(Point(p[:2])) for p in points])
    assert_allclose(np.abs(found - R), off, atol=1e-3)
    # Outside of the curve is further out.
    assert np.all((found > R)[near > 0.3] == (np.hypot(*points[near > 0.3, :2].T) > R))
    # Abreast of a place: that is where the nearest point of the centreline is.
    feet = [centreline.interpolate(centreline.project(Point(p[:2]))) for p in points]
    abreast = way.point(way.places(points[:, None], near)[:, 0])
    assert_allclose(abreast[:2].T, [foot.coords[0] for foot in feet], atol=0.05)


def test_the_drive_begins_and_ends_with_the_leads():
    line = led(100.0, BruteLead(500, 0.0), BruteLead(800, 0.0))
    car = BruteCar(200, 0, (box(300, 40, 100),))
    start, end = theta_between(line, BruteTrack(R), car, UPHILL)
    way = BruteWay(line, BruteTrack(R))
    # On the level the nose is 250 mm ahead of the hind axle, the tail 50 mm behind.
    assert_allclose([start, end], [way.start - 250 / R, way.end + 50 / R], atol=1e-9)
    pose = place(line, BruteTrack(R), car, start, UPHILL)
    assert_allclose(pose.x[0], [0, 1, 0], atol=1e-9)


def test_blocks_are_measured_each_by_itself_on_a_lead():
    car = BruteCar(200, 0, (box(300, 40, 100), box(100, 70, 60)))
    line = BruteLine(12, 0.0, 12.0, (0.0, 12.0), (0.0, 0.0), BruteLead(500, 0.0))
    radii = block_side_radii_mm(line, BruteTrack(1e5), car, UPHILL)
    assert_allclose(radii - 1e5, [[-40, 40], [-70, 70]], atol=0.2)
