"""Does the brute-force drive itself give right answers? Against figures worked out by hand.

Each expected value is derived in its test from the definitions (G1 to G6, docs/theory.md), on
lines simple enough for pencil and paper: level, straight, or with one change of grade. The drive's
short cuts are checked against a plainer drive still: clouds of points, axles by `brentq`.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from tests.geometry.brute_force import (
    FACINGS,
    BruteBlock,
    BruteCar,
    BruteDeck,
    BruteLine,
    BruteObstacle,
    BruteTrack,
    block_side_radii_mm,
    meeting_gap_mm,
    overhead_gap_mm,
    overhead_gaps_mm,
    place,
    side_radii_mm,
    theta_between,
)
from tests.geometry.random_helix import BruteCase, random_case

UPHILL, DOWNHILL = FACINGS
LEVEL = BruteLine(12, 0.0, 30.0, (0.0, 30.0), (0.0, 0.0))
NO_DECK = BruteDeck(depth_mm=-1e9)  # so far up that nothing meets it
STRAIGHT_MM = 1e7  # a circle of 20 km: a 600 mm car's ends are 0.005 mm off its tangent


def box(length_mm: float, half_mm: float, top_mm: float, bottom_mm: float = 10.0) -> BruteBlock:
    """A plain box about mid-wheelbase."""
    return BruteBlock(-length_mm / 2, length_mm / 2, half_mm, half_mm, bottom_mm, top_mm)


def straight_line(*knots: tuple[float, float], last_mm: float = 5000.0) -> BruteLine:
    """A line on the straight track: (distance, railhead) pairs, 1000 mm to the station."""
    brackets = round(2 * math.pi * STRAIGHT_MM / 1000)
    to_station = brackets / (2 * math.pi * STRAIGHT_MM)
    stations, railhead = [x * to_station for x, _ in knots], [z for _, z in knots]
    end = last_mm * to_station
    return BruteLine(brackets, -end, end, tuple(stations), tuple(railhead))


def straight_station(line: BruteLine, distance_mm: float) -> float:
    """The station that far along the straight track."""
    return distance_mm * line.brackets_per_turn / (2 * math.pi * STRAIGHT_MM)


# --- sides ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("truck_mm", [0.0, 140.0])
@pytest.mark.parametrize("facing", FACINGS)
def test_level_circle_closed_form(truck_mm, facing):
    """G5's closed form, on a level circle: exact, so to rounding."""
    front_mm, rear_mm, left_mm, right_mm = 470.0, 380.0, 61.0, 55.0
    car = BruteCar(600, truck_mm, (BruteBlock(-rear_mm, front_mm, left_mm, right_mm, 10, 195),))
    Rm = math.sqrt(1195**2 - (truck_mm / 2) ** 2 - 300**2)
    inward, outward = (left_mm, right_mm) if facing == UPHILL else (right_mm, left_mm)
    r_min, r_max = side_radii_mm(LEVEL, BruteTrack(1195), car, facing)
    assert_allclose(r_min, Rm - inward, atol=1e-7)
    assert_allclose(r_max, math.hypot(Rm + outward, front_mm), atol=1e-7)


def test_centre_throw_of_600_on_600():
    """G5: R 600, c 600 gives 80.4 mm, where the handbook's c^2 / 8R says 75."""
    hair = BruteCar(600, 0, (box(600, 1e-9, 50),))
    r_min, _ = side_radii_mm(LEVEL, BruteTrack(600), hair, UPHILL)
    assert_allclose(600 - r_min, 80.4, atol=0.05)


def test_block_clear_of_the_middle():
    """A block all in front of mid-wheelbase comes nearest the axis with its inner rear corner."""
    car = BruteCar(300, 0, (BruteBlock(100, 250, 40, 40, 0, 60),))
    r_min, _ = side_radii_mm(LEVEL, BruteTrack(400), car, UPHILL)
    assert_allclose(r_min, math.hypot(math.sqrt(400**2 - 150**2) - 40, 100), atol=1e-7)


def test_straight_track_throws_nothing():
    """On the straight the spread of the radii is the car's width."""
    car = BruteCar(600, 100, (BruteBlock(-400, 350, 61, 48, 10, 195),))
    line = straight_line((0, 0), (1000, 30))
    r_min, r_max = side_radii_mm(line, BruteTrack(STRAIGHT_MM), car, UPHILL)
    assert_allclose(r_max - r_min, 61 + 48, atol=0.01)


@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
def test_cant_leans_inward(climbs):
    """trade.md's 3 mm on 45 mm gauge: a roof 235 mm high goes inward by 235 * 3 / 45 = 15.67 mm."""
    track = BruteTrack(1195, 3.0, 45.0, climbs)
    car = BruteCar(300, 0, (box(400, 50, 235),))
    Rm = math.sqrt(1195**2 - 150**2)
    lean = math.asin(3 / 45)
    for facing in FACINGS:
        r_min, _ = side_radii_mm(LEVEL, track, car, facing)
        assert_allclose(Rm - r_min, 50 * math.cos(lean) + 235 * 3 / 45, atol=1e-7)
    # The outer top corner is now the highest, by half the width times 3 / 45.
    under = [BruteObstacle(6, 300)]
    gap = overhead_gap_mm(LEVEL, track, car, NO_DECK, UPHILL, under).gap_mm
    assert_allclose(gap, 300 - 235 * math.cos(lean) - 50 * 3 / 45, atol=1e-7)


def test_two_800_mm_cars_on_600_mm_trucks():
    """trade.md, point 7: they touch by about 9 mm at 165 mm spacing, clear by about 16 at 190."""
    car = BruteCar(600, 0, (box(800, 57.5, 150),))
    inner = BruteTrack(1195)
    touch = meeting_gap_mm(LEVEL, inner, car, BruteTrack(1195 + 165), car)
    clear = meeting_gap_mm(LEVEL, inner, car, BruteTrack(1195 + 190), car)
    assert_allclose([touch, clear], [-9, 16], atol=0.5)  # "about": whole millimetres


def test_meets_count_only_blocks_that_are_level():
    """G6: ranges meet when less than 4 mm apart; the wide low block passes under the high one."""
    inner, outer = BruteTrack(600), BruteTrack(700)
    Ri, Ro = math.sqrt(600**2 - 50**2), math.sqrt(700**2 - 50**2)
    high = BruteCar(100, 0, (box(100, 30, 100, 53.9),))
    for top_mm, apart_mm in ((50, Ro - 30 - math.hypot(Ri + 45, 50)), (49.8, math.inf)):
        low = BruteCar(100, 0, (box(100, 45, top_mm),))
        assert_allclose(meeting_gap_mm(LEVEL, inner, low, outer, high), apart_mm, atol=1e-7)


def test_meets_are_between_the_right_blocks():
    """Wide below meets narrow below, narrow above meets wide above: never wide and wide."""
    inner, outer = BruteTrack(600), BruteTrack(700)
    Ri, Ro = math.sqrt(600**2 - 50**2), math.sqrt(700**2 - 50**2)
    one = BruteCar(100, 0, (box(100, 45, 50), box(100, 20, 150, 60)))
    other = BruteCar(100, 0, (box(100, 48, 150, 60), box(100, 25, 50)))
    below, above = Ro - 25 - math.hypot(Ri + 45, 50), Ro - 48 - math.hypot(Ri + 20, 50)
    assert_allclose(meeting_gap_mm(LEVEL, inner, one, outer, other), min(below, above), atol=1e-7)


# --- overhead -------------------------------------------------------------------------------------


def test_plain_box_on_a_straight_grade():
    """Grade g: the roof is a line `H * sqrt(1 + g^2)` above the rail, and highest under the uphill
    side of the beam, half its width further on: `g * width / 2` more.
    """
    g, H, width, headroom = 0.04, 195.0, 40.0, 230.0
    line = straight_line((0, 0), (1000, 1000 * g))
    car = BruteCar(400, 80, (box(600, 50, H),))
    beam = [BruteObstacle(0.0, headroom, width)]
    expected = headroom - H * math.hypot(1, g) - g * width / 2
    for facing in FACINGS:
        found = overhead_gap_mm(line, BruteTrack(STRAIGHT_MM), car, NO_DECK, facing, beam)
        assert_allclose(found.gap_mm, expected, atol=0.005)
        assert found.obstacle == "obstacle"


def test_beams_and_deck_on_a_regular_helix_nearly_straight():
    """The same, as beams and deck of a tier above: their headroom follows from the rise."""
    g, H, radius = 0.03, 60.0, 1e6
    rise = 2 * math.pi * radius * g
    line = BruteLine.regular(rise, 12, 15)
    car = BruteCar(200, 0, (box(300, 30, H),))
    roof = H * math.hypot(1, g)
    found = overhead_gaps_mm(line, BruteTrack(radius), car, BruteDeck(25, 8, 20), UPHILL)
    assert [(gap.station, gap.obstacle) for gap in found[:-1]] == [(k, "beam") for k in range(4)]
    assert found[-1].obstacle == "deck"
    # At 1 km radius its middle stands 0.005 mm inside the circle, and its inner side, 30 mm nearer
    # the axis, meets a grade 30 millionths steeper over 150 mm: below 0.001 mm in height.
    assert_allclose([gap.gap_mm for gap in found[:-1]], rise - 33 - roof - g * 10, atol=0.005)
    assert_allclose(found[-1].gap_mm, rise - 25 - roof, atol=0.005)


def test_body_hangs_across_a_dip():
    """A thin board of wheelbase B, rear on the level, front d up a grade g that starts at 0. Over
    the point q before the dip it stands `g d (B - d - q) / B` above the rail: at most, where
    d = (B - q) / 2, `g (B - q)^2 / 4B`.
    """
    g, B, q = 0.03, 600.0, 100.0
    line = straight_line((-1000, 0), (0, 0), (1000, 1000 * g))
    car = BruteCar(B, 0, (box(B, 1.0, 1e-6, 0.0),))
    before = [BruteObstacle(straight_station(line, -q), 50.0)]
    found = overhead_gap_mm(line, BruteTrack(STRAIGHT_MM), car, NO_DECK, UPHILL, before)
    # 0.003: d is measured up the slope by the car, along the level by the formula.
    assert_allclose(found.gap_mm, 50.0 - g * (B - q) ** 2 / (4 * B), atol=0.003)


def test_overhang_rises_on_a_crest():
    """Grade g up to 0, level beyond. The nose, n past the front support, rises over the level by
    `g * n` while both supports stand on the grade; most where the front support is at the crest.
    """
    g, B, n, H = 0.05, 300.0, 120.0, 1e-6
    line = straight_line((-1000, -1000 * g), (0, 0), (1000, 0))
    block = BruteBlock(-B / 2, B / 2 + n, 1.0, 1.0, 0.0, H)
    # Over the level, as far out as the nose reaches with the front support at the crest.
    reach_mm = n / math.hypot(1, g)
    beyond = [BruteObstacle(straight_station(line, reach_mm), 40.0)]
    car = BruteCar(B, 0, (block,))
    found = overhead_gap_mm(line, BruteTrack(STRAIGHT_MM), car, NO_DECK, UPHILL, beyond)
    assert_allclose(found.gap_mm, 40.0 - g * reach_mm, atol=0.003)


def test_level_lead_in_loses_grade_times_arc():
    """trade.md, point 9: a level quarter turn at R 1195 under 3 % loses 56 mm of a 225 mm rise.

    At the lead's outer end all axles are level, and the deck is three quarters of a turn up.
    """
    rise = 2 * math.pi * 1195 * 0.03
    line = BruteLine(12, -3.0, 30.0, (-3.0, 0.0, 30.0), (0.0, 0.0, 2.5 * rise))
    car = BruteCar(300, 60, (box(400, 50, 150),))
    found = overhead_gap_mm(line, BruteTrack(1195), car, BruteDeck(38.0), UPHILL)
    assert_allclose(rise, 225, atol=0.5)
    assert_allclose(rise - 38 - 150 - found.gap_mm, 56, atol=0.5)
    assert_allclose(found.gap_mm, 0.75 * rise - 38 - 150, atol=0.002)
    assert_allclose(found.station, -3, atol=1e-6)
    assert found.obstacle == "deck"


@pytest.mark.parametrize("out_mm", [2500, -2500])
def test_obstacle_beyond_the_line_is_met_only_by_a_car_partly_on_it(out_mm):
    """G4: any part on the line. The tail of a 600 mm car is, 500 mm out; a 400 mm car's is not."""
    line = straight_line((0, 0), (1000, 0), last_mm=2000)
    beyond = [BruteObstacle(straight_station(line, out_mm), 100.0)]
    for length_mm, expected in ((400, math.inf), (600, 20)):
        car = BruteCar(200, 0, (box(length_mm, 30, 80),))
        found = overhead_gap_mm(line, BruteTrack(STRAIGHT_MM), car, NO_DECK, UPHILL, beyond)
        assert_allclose(found.gap_mm, expected, atol=1e-6)


def test_deck_over_the_inner_roof_edge_of_a_sharp_helix():
    """The deck follows the arc, the roof its chord: under the deck the least gap is neither at the
    middle nor at an end, but where the inner roof edge climbs as steeply as the deck.

    Supports at the angles -b and b stand on R; the roof rises by tan P = s b / (R sin b) on the
    level, s the climb per radian, and lies H / cos P over the line through the supports. On the
    edge, c from the axis, x from the middle, the gap is `s atan(x / c) - x tan P` more than at the
    middle: least where `x^2 = s c / tan P - c^2`, behind the middle.
    """
    R, b, s, H, half = 400.0, 0.5, 24.0, 100.0, 50.0
    tan_P = s * b / (R * math.sin(b))
    c = R * math.cos(b) - half
    x = -math.sqrt(s * c / tan_P - c**2)
    rise = 2 * math.pi * s
    expected = rise - 30 - H * math.hypot(1, tan_P) + s * math.atan(x / c) - x * tan_P
    wheelbase = math.hypot(2 * R * math.sin(b), 2 * s * b)
    car = BruteCar(wheelbase, 0, (box(400, half, H),))
    line = BruteLine.regular(rise, 12, 20)
    found = overhead_gap_mm(line, BruteTrack(R), car, BruteDeck(30.0), UPHILL)
    assert_allclose(found.gap_mm, expected, atol=1e-6)
    # The edge's ends, 200 mm from the middle less what the lean takes off, are 0.1 mm and more off.
    rear = -200 / math.hypot(1, tan_P) - H * tan_P / math.hypot(1, tan_P)
    assert s * math.atan(rear / c) - rear * tan_P > s * math.atan(x / c) - x * tan_P + 0.1


def test_deck_sags_over_a_body_that_hangs_across_a_dip():
    """The board across a dip once more, now under a deck that sags to a point over the place q
    before the dip: only there, in the middle of the board, does the gap become as small.
    """
    g, B, q, radius, tip = 0.03, 600.0, 100.0, 2e4, 200.0
    to_station = 120 / (2 * math.pi * radius)
    knots = {-2000: 0.0, 0: 0.0, 1500: 1500 * g}
    station = {x * to_station: z for x, z in knots.items()}
    station |= {120 + (x - q) * to_station: tip + 0.05 * abs(x) for x in (-2000, 0, 2000)}
    line = BruteLine(120, -2.0, 122.0, tuple(station), tuple(station.values()))
    car = BruteCar(B, 0, (box(B, 1.0, 1e-6, 0.0),))
    found = overhead_gap_mm(line, BruteTrack(radius), car, BruteDeck(30.0), UPHILL)
    # 0.005: the board's inner edge is 1 mm nearer the axis, and d is measured up the slope.
    assert_allclose(found.gap_mm, tip - 30 - g * (B - q) ** 2 / (4 * B), atol=0.005)
    assert_allclose(found.station, -q * to_station, atol=1e-6)


def test_measured_headroom_replaces_the_beam():
    line = BruteLine.regular(225.0, 12, 26)
    track, car = BruteTrack(1195), BruteCar(300, 0, (box(400, 50, 150),))
    beams = BruteDeck(30, 10, 0)
    plain = overhead_gaps_mm(line, track, car, beams, UPHILL)
    lower = overhead_gaps_mm(
        line, track, car, replace(beams, beam_headroom_mm={7: 225.0 - 40.0 - 6.5}), UPHILL
    )
    change = [a.gap_mm - b.gap_mm for a, b in zip(plain, lower, strict=True)]
    assert_allclose(change, [6.5 * (gap.station == 7) for gap in plain], atol=0.004)


def test_nothing_overhead_on_less_than_a_turn():
    car = BruteCar(300, 0, (box(400, 50, 150),))
    found = overhead_gap_mm(
        BruteLine.regular(225.0, 12, 11), BruteTrack(1195), car, BruteDeck(30), UPHILL
    )
    assert found.gap_mm == math.inf


# --- refusals -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("wheelbase_mm", "truck_mm"), [(401, 0), (380, 130)])
def test_a_car_too_long_for_the_circle_is_refused(wheelbase_mm, truck_mm):
    car = BruteCar(wheelbase_mm, truck_mm, (box(390, 20, 60),))
    with pytest.raises(ValueError, match="cannot stand"):
        place(LEVEL, BruteTrack(200), car, 0.0, UPHILL)


def test_a_body_over_the_axis_is_refused():
    car = BruteCar(300, 0, (box(390, 60, 60),))
    with pytest.raises(ValueError, match="over the axis"):
        side_radii_mm(LEVEL, BruteTrack(155), car, UPHILL)


# --- the drive against plainer ones ---------------------------------------------------------------


def place_by_brentq(line, track, car, theta):
    """Rear and front pivot, one axle at a time."""

    def axle(angle):
        R = track.radius_mm
        height = float(line.z(np.array(angle)))
        return np.array([R * math.cos(angle), track.turning * R * math.sin(angle), height])

    def pivot(angle):
        if car.truck_wheelbase_mm == 0:
            return axle(angle)
        far = brentq(
            lambda a: np.linalg.norm(axle(a) - axle(angle)) - car.truck_wheelbase_mm,
            angle,
            angle + 2,
            xtol=1e-13,
        )
        return (axle(angle) + axle(far)) / 2

    front = brentq(
        lambda a: np.linalg.norm(pivot(a) - pivot(theta)) - car.wheelbase_mm,
        theta,
        theta + 1.5,
        xtol=1e-13,
    )
    return pivot(theta), pivot(front)


@pytest.mark.parametrize("seed", range(4))
def test_axles_and_axes(seed):
    """Pivots agree with `brentq`; the axes are at right angles, level across but for the cant."""
    case = random_case(np.random.default_rng(seed), as_built=True)
    track, car = case.tracks[0], case.cars[0]
    theta = np.linspace(*theta_between(case.line, track, car, UPHILL), 7)
    pose = place(case.line, track, car, theta, UPHILL)
    half = car.wheelbase_mm / 2
    for i, angle in enumerate(theta):
        rear, front = place_by_brentq(case.line, track, car, angle)
        assert_allclose(pose.origin[i] - half * pose.x[i], rear, atol=1e-7)
        assert_allclose(pose.origin[i] + half * pose.x[i], front, atol=1e-7)
    axes = np.stack([pose.x, pose.y, pose.up], axis=1)
    assert_allclose(
        axes @ axes.transpose(0, 2, 1), np.broadcast_to(np.eye(3), axes.shape), atol=1e-12
    )
    assert_allclose(np.linalg.det(axes), 1.0, atol=1e-12)
    assert np.all(pose.up[:, 2] > 0.98)
    # Rolled about its own x, which lies in the slope: sin(roll) times cos(pitch), outside high.
    outward = np.sum(pose.y[:, :2] * pose.origin[:, :2], axis=1)
    cos_pitch = np.hypot(pose.x[:, 0], pose.x[:, 1])
    lift = np.sign(outward) * track.cant_mm / track.gauge_mm * cos_pitch
    assert_allclose(pose.y[:, 2], lift, atol=1e-12)
    # Forward is uphill, so a counterclockwise helix has its axis on the left.
    assert np.all(np.sign(outward) == -track.turning)


def cloud(block):
    """Points on a box: a net over its six faces, and closer ones along its edges."""
    low = np.array([block.x_rear_mm, -block.right_mm, block.bottom_mm])
    high = np.array([block.x_front_mm, block.left_mm, block.top_mm])
    points = []
    for parts in ((60, 16, 6), (600, 1, 1), (1, 100, 1), (1, 1, 20)):
        steps = [np.linspace(0, 1, n + 1) for n in parts]
        points.append(np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, 3))
    unit = np.concatenate(points)
    on_face = np.any((unit == 0) | (unit == 1), axis=1)
    return low + unit[on_face] * (high - low)


@pytest.mark.parametrize("as_built", [False, True])
@pytest.mark.parametrize("seed", [23, 50, 72])
def test_against_a_cloud_of_points(seed, as_built):
    """A cloud of points driven in steps past a beam is part of the body and part of its way: it
    never comes closer than the drive says, and all but a step's worth as close.
    """
    case = random_case(np.random.default_rng(seed), as_built=as_built)
    line, track, car, deck = case.line, case.tracks[0], case.cars[0], case.deck
    width = deck.beam_width_mm
    radii = block_side_radii_mm(line, track, car, DOWNHILL)
    *beams, under_deck = overhead_gaps_mm(line, track, car, deck, DOWNHILL)
    beam = beams[1]
    k = line.theta(beam.station)
    underside = float(line.z(np.array(k + 2 * math.pi))) - deck.depth_mm - deck.beam_depth_mm
    if beam.station in deck.beam_headroom_mm:
        underside = float(line.z(np.array(k))) + deck.beam_headroom_mm[int(beam.station)]
    start, end = theta_between(line, track, car, DOWNHILL)
    past = 1.1 * (np.ptp(car.corners[..., 0]) + width) / radii.min()
    theta = np.linspace(max(start, k - past), min(end, k + past), 500)
    pose = place(line, track, car, theta, DOWNHILL)

    highest, least_under_deck = -math.inf, math.inf
    for (r_min, r_max), block in zip(radii, car.blocks, strict=True):
        points = pose.points(cloud(block))
        z, r = points[..., 2], np.hypot(points[..., 0], points[..., 1])
        assert r.min() > r_min - 0.003
        assert r.max() < r_max + 0.003
        turned = track.turning * np.arctan2(points[..., 1], points[..., 0]) - k
        angle = k + (turned + math.pi) % (2 * math.pi) - math.pi
        beneath = (np.abs(r * np.sin(angle - k)) <= width / 2) & (np.cos(angle - k) > 0)
        highest = max(highest, z[beneath].max())
        on_line = (angle >= line.theta(line.first_station)) & (
            angle <= line.theta(line.last_station) - 2 * math.pi
        )
        deck_gap = line.z(angle + 2 * math.pi) - deck.depth_mm - z
        least_under_deck = min(least_under_deck, deck_gap[on_line].min())
        if not as_built:  # any place is like any other; the nearest point may fall between two
            assert_allclose([r.min(), r.max()], [r_min, r_max], atol=0.01)
    if not as_built:
        assert_allclose(least_under_deck, under_deck.gap_mm, atol=0.005)
    assert least_under_deck > under_deck.gap_mm - 0.003

    # A step along the track, and from point to point, on this grade and cant.
    step_mm = (theta[1] - theta[0]) * radii.max() + np.ptp(car.corners[..., 0]) / 600
    slope = np.abs(line.slopes).max() / track.radius_mm + track.cant_mm / track.gauge_mm
    assert underside - highest > beam.gap_mm - 0.003
    assert underside - highest < beam.gap_mm + slope * step_mm


@pytest.mark.parametrize("seed", range(3))
def test_every_position_of_a_regular_helix_is_the_same(seed):
    """A screw: whatever the place, the same radii and the same height over the railhead."""
    case = random_case(np.random.default_rng(100 + seed))
    track, car = case.tracks[0], case.cars[0]
    theta = np.linspace(*theta_between(case.line, track, car, DOWNHILL), 41)
    pose = place(case.line, track, car, theta, DOWNHILL)
    points = pose.points(car.corners.reshape(-1, 3))
    radii = np.hypot(points[..., 0], points[..., 1])
    heights = points[..., 2] - case.line.z(theta)[:, None]
    assert_allclose(radii, np.broadcast_to(radii[:1], radii.shape), atol=1e-6)
    assert_allclose(heights, np.broadcast_to(heights[:1], heights.shape), atol=1e-6)


def every_gap(case: BruteCase, fineness: int = 1) -> list[float]:
    gaps: list[float] = []
    for track in case.tracks:
        for car in case.cars:
            for facing in FACINGS:
                found = overhead_gaps_mm(
                    case.line, track, car, case.deck, facing, case.obstacles, fineness
                )
                gaps += [it.gap_mm for it in found]
                gaps += side_radii_mm(case.line, track, car, facing, fineness)
    if len(case.tracks) == 2:
        inner, outer = case.tracks
        one, other = case.cars
        gaps.append(meeting_gap_mm(case.line, inner, one, outer, other, fineness))
        gaps.append(meeting_gap_mm(case.line, inner, other, outer, one, fineness))
    return gaps


@pytest.mark.parametrize(
    ("seed", "as_built"), [(0, False), (1, False), (2, False), (3, False), (1, True)]
)
def test_finer_steps_change_nothing(seed, as_built):
    """Twice as fine: no gap of any beam, deck, side or meet moves by more than 0.005 mm."""
    case = random_case(np.random.default_rng(200 + seed), as_built)
    case = case._replace(tracks=case.tracks[:1]) if as_built else case  # a longer search
    assert_allclose(every_gap(case, 2), every_gap(case), rtol=0, atol=0.005)


@pytest.mark.parametrize("seed", range(4))
def test_mirror_images_agree(seed):
    """A helix climbing the other way, with cars whose left and right are exchanged."""
    case = random_case(np.random.default_rng(300 + seed))
    other = {"counterclockwise": "clockwise", "clockwise": "counterclockwise"}
    mirrored = case._replace(
        tracks=tuple(replace(track, climbs=other[track.climbs]) for track in case.tracks),
        cars=tuple(
            replace(
                car,
                blocks=tuple(
                    replace(block, left_mm=block.right_mm, right_mm=block.left_mm)
                    for block in car.blocks
                ),
            )
            for car in case.cars
        ),
    )
    assert_allclose(every_gap(mirrored), every_gap(case), rtol=0, atol=0.005)


def test_turning_a_car_round_is_the_same_as_building_it_the_other_way_round():
    """Front downhill is front uphill of a car whose ends and sides are exchanged."""
    case = random_case(np.random.default_rng(400))
    line, track, car, deck = case.line, case.tracks[0], case.cars[0], case.deck
    turned = replace(
        car,
        blocks=tuple(
            BruteBlock(-b.x_front_mm, -b.x_rear_mm, b.right_mm, b.left_mm, b.bottom_mm, b.top_mm)
            for b in car.blocks
        ),
    )
    assert_allclose(
        overhead_gap_mm(line, track, car, deck, DOWNHILL).gap_mm,
        overhead_gap_mm(line, track, turned, deck, UPHILL).gap_mm,
        rtol=0,
        atol=0.004,
    )
    assert_allclose(
        side_radii_mm(line, track, car, DOWNHILL),
        side_radii_mm(line, track, turned, UPHILL),
        atol=1e-6,
    )


def test_random_cases_are_of_every_kind():
    """What the cases are for: sharp and wide, canted or not, both ways, every kind of car."""
    cases = [random_case(np.random.default_rng(seed)) for seed in range(200)]
    radii = [case.tracks[0].radius_mm for case in cases]
    assert min(radii) < 250
    assert max(radii) > 4000
    assert min(radii) >= 150
    assert max(radii) <= 10_000
    assert {track.climbs for case in cases for track in case.tracks} == {
        "clockwise",
        "counterclockwise",
    }
    assert {len(case.tracks) for case in cases} == {1, 2}
    assert 0.1 < np.mean([case.tracks[0].cant_mm > 0 for case in cases]) < 0.5
    blocks = [block for case in cases for car in case.cars for block in car.blocks]
    assert any(block.left_mm < 0 for block in blocks)
    assert any(block.right_mm < 0 for block in blocks)
    assert all(block.left_mm + block.right_mm > 0 for block in blocks)
    assert any(case.deck.beam_width_mm == 0 for case in cases)
    assert any(case.obstacles for case in cases)
    grades = [case.line.slopes.max() / case.tracks[0].radius_mm for case in cases]
    assert max(grades) <= 0.08 + 1e-12
    assert min(grades) > 0
    trucks = [car.truck_wheelbase_mm for case in cases for car in case.cars]
    assert any(truck == 0 for truck in trucks)
    assert any(truck > 0 for truck in trucks)
