"""Are the slow drive's underside, truck swing and couplings right? By hand and by scipy.

Each expected value is derived in its test from the definitions (G8, docs/theory.md).
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq, minimize_scalar

from tests.geometry.brute_force import (
    FACINGS,
    TOLERANCE_MM,
    BruteBlock,
    BruteCar,
    BruteCoupled,
    BruteFrame,
    BruteLead,
    BruteLine,
    BruteTrack,
    BruteVehicle,
    coupling,
    truck_swings_rad,
    undersides_mm,
)

UPHILL, DOWNHILL = FACINGS
LEVEL = BruteLine(12, 0.0, 30.0, (0.0, 30.0), (0.0, 0.0))
STRAIGHT_MM = 1e7  # a circle of 20 km: a 600 mm car's ends are 0.005 mm off its tangent


def straight_line(*knots: tuple[float, float]) -> BruteLine:
    """A line on the straight track: (distance, railhead) pairs, 1000 mm to the station."""
    brackets = round(2 * math.pi * STRAIGHT_MM / 1000)
    to_station = brackets / (2 * math.pi * STRAIGHT_MM)
    stations, railhead = [x * to_station for x, _ in knots], [z for _, z in knots]
    return BruteLine(
        brackets, -3000 * to_station, 3000 * to_station, tuple(stations), tuple(railhead)
    )


def bent(before: float, after: float) -> BruteLine:
    """Straight track whose grade changes at 0."""
    return straight_line((-1000, -1000 * before), (0, 0), (1000, 1000 * after))


def car(wheelbase, front, rear=None, bottom=20.0, truck=0.0) -> BruteCar:
    """A box that reaches so far from mid-wheelbase to the front and to the rear."""
    rear = front if rear is None else rear
    return BruteCar(wheelbase, truck, (BruteBlock(-rear, front, 40, 40, bottom, 100),))


# --- underside ------------------------------------------------------------------------------------


def test_hang_up_on_a_bare_crest():
    """Two grades meet at the angle g: midway between its axles the car is `(B / 2) tan(g / 2)`
    lower over the break, with the grades alike to both sides, so that it stands level there.
    """
    B, half_angle = 600.0, math.radians(2.0)
    line = bent(math.tan(half_angle), -math.tan(half_angle))
    for facing in FACINGS:
        found = undersides_mm(line, BruteTrack(STRAIGHT_MM), car(B, 400), facing)
        assert_allclose(found, 20 - B / 2 * math.tan(half_angle), atol=TOLERANCE_MM)


def test_nose_dips_beyond_the_axles_in_a_hollow():
    """Front axle at the foot of a dip, down and up by the angle b: the nose's lowest point, n
    ahead and h up in the car's own axes, stands `n cos b + h sin b` on from there, `h cos b - n sin
    b` up, over track that has climbed by `tan b`.
    """
    B, n, h, b = 300.0, 180.0, 20.0, math.atan(0.05)
    line = bent(-math.tan(b), math.tan(b))
    found = undersides_mm(line, BruteTrack(STRAIGHT_MM), car(B, B / 2 + n, B / 2), UPHILL)
    on, up = n * math.cos(b) + h * math.sin(b), h * math.cos(b) - n * math.sin(b)
    assert_allclose(found, up - on * math.tan(b), atol=TOLERANCE_MM)


def test_on_an_even_grade_the_underside_keeps_its_height():
    """`h sqrt(1 + g^2)` straight above the rail of a lead; whatever the cant, and each block."""
    g = 0.06
    line = BruteLine(
        12, 0.0, 6.0, (0.0, 12.0), (0.0, 2 * math.pi * 1e4 * g), BruteLead(3000, g), None
    )
    both = BruteCar(300, 60, (*car(300, 200).blocks, *car(300, 100, bottom=9.0).blocks))
    found = undersides_mm(line, BruteTrack(1e4, 3.0), both, UPHILL)
    # On the curve the chord is nearer to the axis, where the track is steeper, by a millionth.
    assert_allclose(found, np.array([20, 9]) * math.hypot(1, g), atol=2e-3)


def test_underside_of_what_hangs_between_frames():
    """Over a crest: the boiler with a unit on either side of it, each on an even grade, and its
    pivots over the middles of theirs; or the front unit, its own axles astride it.
    """
    g = 0.04
    vehicle = BruteVehicle(
        (
            BruteFrame("rear unit", 560, "track", 440, "track"),
            BruteFrame("front unit", 180, "track", 60, "track"),
            BruteFrame("boiler", 500, "rear unit", 120, "front unit"),
        ),
        (
            BruteBlock.from_front(120, 500, 40, 40, 25.0, 90.0, "boiler"),
            BruteBlock.from_front(60, 180, 40, 40, 15.0, 60.0, "front unit"),
        ),
    )
    found = undersides_mm(bent(g, -g), BruteTrack(STRAIGHT_MM), vehicle, UPHILL)
    b = math.atan(g)
    expected = [25 - 190 * math.tan(b), 15 - 60 * math.tan(b)]
    assert_allclose(found, expected, atol=TOLERANCE_MM)


def test_canted_frames_are_measured_as_if_they_stood_upright():
    found = undersides_mm(LEVEL, BruteTrack(500, 3.0), car(300, 200, bottom=33.0), UPHILL)
    assert_allclose(found, 33.0, atol=1e-9)


# --- truck swing ----------------------------------------------------------------------------------


def test_truck_swing_on_a_circle():
    """A truck lies along the circle of its pivot, the body along a chord B of that circle."""
    R, B, T = 700.0, 420.0, 90.0
    pivot_circle = math.sqrt(R**2 - T**2 / 4)
    found = truck_swings_rad(LEVEL, BruteTrack(R), car(B, 300, truck=T), UPHILL)
    assert set(found) == {("rear truck", "body"), ("front truck", "body")}
    assert_allclose(list(found.values()), math.asin(B / 2 / pivot_circle), atol=1e-7)
    assert truck_swings_rad(LEVEL, BruteTrack(R), car(B, 300), UPHILL) == {}


def test_trucks_hardly_swing_on_the_straight():
    found = truck_swings_rad(bent(0.03, -0.03), BruteTrack(1e8), car(420, 300, truck=90), UPHILL)
    assert_allclose(list(found.values()), 0.0, atol=1e-5)


def test_one_unit_swings_more_where_its_pivot_is_not_in_the_middle():
    """The boiler is a chord between pivots p inside the middle of units of base b."""
    R, b, p, L = 500.0, 120.0, 30.0, 320.0
    vehicle = BruteVehicle(
        (
            BruteFrame("rear unit", 560, "track", 440, "track"),
            BruteFrame("front unit", 180, "track", 60, "track"),
            BruteFrame("boiler", 470, "rear unit", 150, "front unit"),
            BruteFrame("cab", 480, "boiler", 400, "boiler"),
        ),
        (BruteBlock.from_front(150, 470, 1, 1, 0, 1, "boiler"),),
    )
    middle = math.sqrt(R**2 - b**2 / 4)
    expected = math.asin(L / 2 / math.hypot(middle, p)) + math.atan2(p, middle)
    for facing in FACINGS:
        found = truck_swings_rad(LEVEL, BruteTrack(R), vehicle, facing)
        assert set(found) == {("rear unit", "boiler"), ("front unit", "boiler")}
        assert_allclose(list(found.values()), expected, atol=1e-7)


# --- couplings ------------------------------------------------------------------------------------


def faces_on_a_circle(R, lower, upper):
    """Both faces and headings, the lower car's upper axle at angle 0, by trigonometry.

    Each car: (wheelbase, distance of the coupler face beyond its support).
    """
    (B1, n1), (B2, n2) = lower, upper
    chord = [2 * math.asin(length / (2 * R)) for length in (B1, n1 + n2, B2)]
    headings = np.array([-chord[0] / 2, chord[1] + chord[2] / 2]) + math.pi / 2
    supports = R * np.array([[1, 0], [math.cos(chord[1]), math.sin(chord[1])]])
    ahead = np.column_stack([np.cos(headings), np.sin(headings)])
    return supports + np.array([[n1], [-n2]]) * ahead, headings, ahead


@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
@pytest.mark.parametrize("facings", [(UPHILL, UPHILL), (DOWNHILL, UPHILL), (UPHILL, DOWNHILL)])
def test_coupling_of_a_long_and_a_short_car_on_a_circle(climbs, facings):
    """The long one's overhang swings out, the short one's does not."""
    R, projection = 600.0, 12.0
    long, short = (400.0, 150.0), (120.0, 40.0)
    faces, headings, ahead = faces_on_a_circle(
        R, (long[0], long[1] + projection), (short[0], short[1] + projection)
    )
    mean = ahead.sum(axis=0) / np.linalg.norm(ahead.sum(axis=0))
    between = faces[1] - faces[0]
    expected = abs(mean[0] * between[1] - mean[1] * between[0])
    assert expected > 20

    lower, upper = facings
    # The overhang in question is at the front of a lower car that faces uphill.
    ends = (long[0] / 2 + long[1], long[0] / 2)
    front, rear = ends if lower == UPHILL else ends[::-1]
    one = BruteCoupled(car(long[0], front, rear), lower, projection)
    ends = (short[0] / 2, short[0] / 2 + short[1])
    front, rear = ends if upper == UPHILL else ends[::-1]
    other = BruteCoupled(car(short[0], front, rear), upper, projection)
    found = coupling(LEVEL, BruteTrack(R, 2.0, climbs=climbs), one, other)
    assert_allclose(found.sideways_mm, expected, atol=1e-6)
    assert_allclose(found.angle_rad, headings[1] - headings[0], atol=1e-8)
    assert_allclose(found.vertical_mm, 0.0, atol=1e-9)


def test_like_cars_do_not_part_sideways_on_a_circle():
    """Each is the other's mirror image; the angle is that of chords B and the gap between them."""
    R, B, n = 600.0, 300.0, 90.0
    it = BruteCoupled(car(B, B / 2 + n - 10), UPHILL, 10.0)
    found = coupling(LEVEL, BruteTrack(R), it, it)
    assert_allclose(found.sideways_mm, 0.0, atol=1e-6)
    angle = 2 * math.asin(B / (2 * R)) + 2 * math.asin(2 * n / (2 * R))
    assert_allclose(found.angle_rad, angle, atol=1e-8)


def test_coupling_rises_and_falls_over_a_crest():
    """Two cars over a crest, drawn in two dimensions: axles found one by one by `brentq`."""
    g, (B1, n1), (B2, n2) = 0.05, (300.0, 120.0), (180.0, 60.0)

    def at(x):
        return np.array([x, -g * max(x, 0.0)])

    def ahead(x, length):
        there = brentq(
            lambda y: np.linalg.norm(at(y) - at(x)) - length, x + 0.9 * length, x + 1.1 * length
        )
        return float(there)

    def apart(x):
        axles = [x]
        for length in (B1, n1 + n2, B2):
            axles.append(ahead(axles[-1], length))
        a, b, c, d = map(at, axles)
        one, other = b + (b - a) * n1 / B1, c - (d - c) * n2 / B2
        return -abs(one[1] - other[1])

    tried = np.linspace(-800, 50, 851)
    worst = tried[int(np.argmin([apart(x) for x in tried]))]
    best = minimize_scalar(apart, bounds=(worst - 1, worst + 1), options={"xatol": 1e-9})
    lower = BruteCoupled(car(B1, B1 / 2 + n1), UPHILL)
    upper = BruteCoupled(car(B2, B2 / 2 + n2), UPHILL)
    found = coupling(bent(0.0, -g), BruteTrack(STRAIGHT_MM), lower, upper)
    assert_allclose(found.vertical_mm, -best.fun, atol=0.003)
    assert -best.fun > 5


def test_worst_sideways_offset_is_where_the_straight_begins():
    """One car still on the straight, the next on the curve: axles by `brentq`, worst by scipy."""
    R, (B1, n1), (B2, n2) = 500.0, (300.0, 130.0), (300.0, 130.0)

    def at(s):
        if s < 0:
            return np.array([R, s])
        return R * np.array([math.cos(s / R), math.sin(s / R)])

    def apart(s):
        places = [s]
        for length in (B1, n1 + n2, B2):
            start = at(places[-1])
            there = brentq(
                lambda y, start=start, length=length: np.linalg.norm(at(y) - start) - length,
                places[-1] + 0.9 * length,
                places[-1] + 1.3 * length,
            )
            places.append(float(there))
        a, b, c, d = map(at, places)
        one, other = (b - a) / B1, (d - c) / B2
        between = c - other * n2 - (b + one * n1)
        mean = (one + other) / np.linalg.norm(one + other)
        return -abs(mean[0] * between[1] - mean[1] * between[0])

    tried = np.linspace(-900, 50, 951)
    worst = tried[int(np.argmin([apart(s) for s in tried]))]
    best = minimize_scalar(apart, bounds=(worst - 1, worst + 1), options={"xatol": 1e-9})
    assert -best.fun > 15  # on the circle itself it would be nothing
    line = BruteLine(12, 0.0, 30.0, (0.0, 30.0), (0.0, 0.0), BruteLead(2000, 0.0))
    lower = BruteCoupled(car(B1, B1 / 2 + n1), UPHILL)
    found = coupling(line, BruteTrack(R), lower, lower)
    assert_allclose(found.sideways_mm, -best.fun, atol=0.002)


def test_the_frame_at_the_end_bears_the_coupler():
    """The engine's front unit reaches furthest: its own axle counts, not the boiler's pivot."""
    R, n = 500.0, 60.0
    engine = BruteVehicle(
        (
            BruteFrame("rear unit", 560, "track", 440, "track"),
            BruteFrame("front unit", 180, "track", 60, "track"),
            BruteFrame("boiler", 470, "rear unit", 150, "front unit"),
        ),
        (
            BruteBlock.from_front(150, 470, 30, 30, 10, 50, "boiler"),
            BruteBlock.from_front(0, 200, 30, 30, 10, 50, "front unit"),
            BruteBlock.from_front(420, 620, 30, 30, 10, 50, "rear unit"),
        ),
    )
    truckless = car(120, 60 + n)
    by_unit = coupling(
        LEVEL, BruteTrack(R), BruteCoupled(engine, UPHILL), BruteCoupled(truckless, UPHILL)
    )
    # Unit and car are alike, so their faces part no more than a car's and its like.
    assert_allclose(by_unit.sideways_mm, 0.0, atol=1e-6)
    angle = 2 * math.asin(120 / (2 * R)) + 2 * math.asin(2 * n / (2 * R))
    assert_allclose(by_unit.angle_rad, angle, atol=1e-8)
    by_boiler = coupling(
        LEVEL,
        BruteTrack(R),
        BruteCoupled(engine, UPHILL, frame="boiler"),
        BruteCoupled(truckless, UPHILL),
    )
    assert by_boiler.sideways_mm > 10
