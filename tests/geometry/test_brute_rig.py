"""Does the slow drive stand articulated stock as G2 says? Against its own conditions and scipy.

Whatever way a pose was found, it must meet the definitions: axles on the centreline at railhead,
supports a fixed distance apart, on the base line of what carries them. Poses on a level circle are
worked out by hand or by `scipy.optimize.fsolve`.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import fsolve

from tests.geometry.brute_force import (
    FACINGS,
    BruteBlock,
    BruteCar,
    BruteFrame,
    BruteLead,
    BruteLine,
    BruteTrack,
    BruteVehicle,
    side_radii_mm,
    stand,
    theta_between,
)
from tests.geometry.random_railway import random_railway
from tests.geometry.random_stock import KINDS, random_articulated

UPHILL, DOWNHILL = FACINGS
LEVEL = BruteLine(12, 0.0, 30.0, (0.0, 30.0), (0.0, 0.0))


def hair(from_mm: float, to_mm: float, frame: str) -> BruteBlock:
    """A block hardly wider or higher than its frame's base line."""
    return BruteBlock.from_front(from_mm, to_mm, 1e-9, 1e-9, 0.0, 1e-9, frame)


def slung(pivots: tuple[float, float]) -> BruteVehicle:
    """The boiler slung between two engine units that docs/formats.md shows."""
    return BruteVehicle(
        (
            BruteFrame("rear unit", 560, "track", 440, "track"),
            BruteFrame("front unit", 180, "track", 60, "track"),
            BruteFrame("boiler", pivots[0], "rear unit", pivots[1], "front unit"),
        ),
        (hair(150, 470, "boiler"),),
    )


# --- level circles --------------------------------------------------------------------------------


@pytest.mark.parametrize("facing", FACINGS)
def test_boiler_slung_between_two_units_on_a_level_circle(facing):
    """Units 120 long on R; their pivots, 30 inside the units' middles, lie on a circle of
    `hypot(sqrt(R^2 - 60^2), 30)`, and the boiler is a chord of that, 320 long.
    """
    R = 600.0
    pivot_circle = math.hypot(math.sqrt(R**2 - 60**2), 30)
    r_min, r_max = side_radii_mm(LEVEL, BruteTrack(R), slung((470, 150)), facing)
    assert_allclose(r_min, math.sqrt(pivot_circle**2 - 160**2), atol=1e-7)
    assert_allclose(r_max, pivot_circle, atol=1e-7)


def test_lopsided_slung_boiler_on_a_level_circle_by_fsolve():
    """Four axles at unknown angles, three lengths and one angle given."""
    R, rear, front = 500.0, 465.0, 120.0  # the front pivot stands in the middle of its unit

    def point(angle):
        return R * np.array([math.cos(angle), math.sin(angle)])

    def pivots(angles):
        a, b, c, d = map(point, angles)
        return b + (a - b) * (rear - 440) / 120, d + (c - d) * (front - 60) / 120

    def wrong(angles):
        one, other = pivots(angles)
        a, b, c, d = map(point, angles)
        return [
            angles[0] - 2.0,
            np.linalg.norm(b - a) - 120,
            np.linalg.norm(other - one) - (rear - front),
            np.linalg.norm(d - c) - 120,
        ]

    angles = fsolve(wrong, [2.0, 2.24, 2.76, 3.0], xtol=1e-12)
    found = stand(LEVEL, BruteTrack(R), slung((rear, front)), 2.0, UPHILL)
    assert_allclose(found.axles[0], angles, atol=1e-10)
    one, other = pivots(angles)
    pose = found.poses["boiler"]
    assert_allclose(pose.origin[0, :2] - rear * pose.x[0, :2], one, atol=1e-7)
    assert_allclose(pose.origin[0, :2] - front * pose.x[0, :2], other, atol=1e-7)


def test_boiler_fixed_to_the_hind_unit_swings_out_over_the_front_one():
    """The boiler goes on along the hind unit's chord: its nose, x from the unit's middle, is at
    `hypot(sqrt(R^2 - 60^2), x)`. The front unit finds its place by the axles between, 260 apart.
    """
    R = 400.0
    engine = BruteVehicle(
        (
            BruteFrame("hind", 560, "track", 440, "track"),
            BruteFrame("fore", 180, "track", 60, "track"),
            BruteFrame("boiler", 550, "hind", 445, "hind"),
        ),
        (hair(40, 580, "boiler"),),
    )
    for facing, order in ((UPHILL, 1), (DOWNHILL, -1)):
        _, r_max = side_radii_mm(LEVEL, BruteTrack(R), engine, facing)
        assert_allclose(r_max, math.hypot(math.sqrt(R**2 - 60**2), 500 - 40), atol=1e-7)
        found = stand(LEVEL, BruteTrack(R), engine, 1.0, facing)
        chords = 2 * R * np.sin(np.diff(found.axles[0]) / 2)
        assert_allclose(chords, [120, 260, 120][::order], atol=1e-7)


def test_body_on_span_bolsters_on_a_level_circle():
    """Each step up takes the square of half its span off the square of the radius."""
    R, truck, bolster, centres = 700.0, 50.0, 110.0, 320.0
    frames = []
    for name, at in (("rear", 480.0), ("front", 160.0)):
        for end, pivot in (("hind", at + 55), ("fore", at - 55)):
            frames.append(
                BruteFrame(f"{name} {end}", pivot + 25, "track", pivot - 25, "track"),
            )
        frames.append(BruteFrame(name, at + 55, f"{name} hind", at - 55, f"{name} fore"))
    frames.append(BruteFrame("body", 480, "rear", 160, "front"))
    # In no order at all: what a frame rests on may come later.
    car = BruteVehicle(tuple(frames[::-1]), (hair(160, 480, "body"),))
    r_min, _ = side_radii_mm(LEVEL, BruteTrack(R), car, DOWNHILL)
    spans = (truck / 2) ** 2 + (bolster / 2) ** 2 + (centres / 2) ** 2
    assert_allclose(r_min, math.sqrt(R**2 - spans), atol=1e-7)


def test_a_plain_car_is_a_body_on_two_trucks():
    """`BruteCar` and the same written as frames stand alike."""
    line = BruteLine(12, 0.0, 26.0, (0.0, 5.0, 13.0, 26.0), (0.0, 80.0, 290.0, 600.0))
    track = BruteTrack(900, 2.0)
    car = BruteCar(400, 90, (BruteBlock(-300, 280, 50, 55, 10, 150),))
    frames = (
        BruteFrame("a", 480 + 45, "track", 480 - 45, "track"),
        BruteFrame("b", 80 + 45, "track", 80 - 45, "track"),
        BruteFrame("body", 480, "a", 80, "b"),
    )
    vehicle = BruteVehicle(frames, (BruteBlock.from_front(0, 580, 50, 55, 10, 150, "body"),))
    for facing in FACINGS:
        places = np.linspace(0, 10, 50)
        one = stand(line, track, car, places, facing).poses["body"]
        other = stand(line, track, vehicle, places, facing).poses["body"]
        assert_allclose(
            one.points(car.blocks[0].corners), other.points(vehicle.blocks[0].corners), atol=1e-6
        )


# --- anywhere -------------------------------------------------------------------------------------


def assert_stands(line, track, car, facing, theta):
    """All that G2 asks of a pose, and nothing about how it was found."""
    found = stand(line, track, car, theta, facing)
    frames = {frame.name: frame for frame in car.frames}
    uphill = facing == UPHILL

    def point(name, distance):
        pose = found.poses[name]
        return pose.origin - distance * pose.x

    axles = []
    for frame in car.frames:
        assert_allclose(np.linalg.norm(found.poses[frame.name].x, axis=1), 1.0, atol=1e-12)
        for at, on in ((frame.rear_mm, frame.rear_on), (frame.front_mm, frame.front_on)):
            support = point(frame.name, at)
            if on in frames:
                assert_allclose(support, point(on, at), atol=1e-6)
            else:
                axles.append((-at if uphill else at, support))
    axles.sort(key=lambda axle: axle[0])
    for (_, support), t in zip(axles, found.axles.T, strict=True):
        assert_allclose(support, on_track(line, track, t), atol=1e-6)
    assert np.all(np.diff(found.axles, axis=1) > 0)
    return found


def on_track(line, track, t):
    """G1 by hand: circle, or straight on from its end; railhead from the list, or by the grade."""
    R, s = track.radius_mm, track.turning
    first, last = line.theta(line.first_station), line.theta(line.last_station)
    points = []
    for place in t:
        lead = line.foot if place < first else line.head if place > last else None
        at = place if lead is None else min(max(place, first), last)
        beyond = R * (place - at)
        knots = np.array(line.stations) * line.theta(1)
        i = int(np.clip(np.searchsorted(knots, at) - 1, 0, len(knots) - 2))
        share = (at - knots[i]) / (knots[i + 1] - knots[i])
        z = line.railhead_mm[i] + share * (line.railhead_mm[i + 1] - line.railhead_mm[i])
        radial = np.array([math.cos(at), s * math.sin(at)])
        ahead = np.array([-math.sin(at), s * math.cos(at)])
        points.append([*(R * radial + beyond * ahead), z + beyond * (lead.grade if lead else 0)])
    return np.array(points)


@pytest.mark.parametrize("kind", sorted(KINDS))
@pytest.mark.parametrize("seed", range(2))
def test_articulated_stock_stands_as_defined_anywhere(kind, seed):
    rng = np.random.default_rng(1000 + seed)
    railway = random_railway(rng, straight_leads=True, surveyed=True)
    vehicle = random_articulated(rng, railway.scale, kind)
    line = railway.lines[0]
    track = BruteTrack(max(railway.tracks[0].radius_mm, 2 * vehicle.frames[0].rear_mm))
    for facing in FACINGS:
        start, end = theta_between(line, track, vehicle, facing)
        assert_stands(line, track, vehicle, facing, np.linspace(start, end, 60))


def test_neighbours_with_nothing_over_them_keep_their_axles_apart():
    """Engine and tender: the distance of the last driver from the tender's first axle."""
    rng = np.random.default_rng(5)
    railway = random_railway(rng, straight_leads=True, surveyed=True)
    line = railway.lines[0]
    for _ in range(4):
        vehicle = random_articulated(rng, railway.scale, "tender")
        track = BruteTrack(max(railway.tracks[0].radius_mm, 2 * vehicle.frames[-1].rear_mm))
        engine = vehicle.frames[0]
        tender = min(f.front_mm for f in vehicle.frames[1:] if f.front_on == "track")
        found = stand(line, track, vehicle, np.linspace(-2, 2, 40), UPHILL)
        drivers = on_track(line, track, found.axles[:, -2])
        trailing = on_track(line, track, found.axles[:, -3])
        apart = np.linalg.norm(drivers - trailing, axis=1)
        assert_allclose(apart, tender - engine.rear_mm, atol=1e-6)


def test_roll_is_the_mean_of_the_supports_and_ends_with_the_curve():
    """G1, G3: a truck across the junction is half as canted, a body over it a quarter less."""
    line = BruteLine(12, 0.0, 24.0, (0.0, 24.0), (0.0, 0.0), BruteLead(2000, 0.0))
    track = BruteTrack(800, 3.0, 45.0)
    car = BruteCar(300, 60, (BruteBlock(-200, 200, 40, 40, 0, 100),))
    lean = math.asin(3 / 45)
    for axles_on_lead in range(5):
        # Between the axle that is on the lead and the next, half a truck or a wheelbase up.
        theta = -np.array([-10, 30, 150, 310, 400])[axles_on_lead] / 800
        found = stand(line, track, car, theta, UPHILL)
        assert (found.axles[0] < 0).sum() == axles_on_lead
        pose = found.poses["body"]
        assert_allclose(pose.y[0, 2], -math.sin(lean * (4 - axles_on_lead) / 4), atol=1e-12)
        low = found.poses["rear truck"].y[0, 2]
        assert_allclose(low, -math.sin(lean * max(2 - axles_on_lead, 0) / 2), atol=1e-12)


# --- refusals -------------------------------------------------------------------------------------

BLOCK = (hair(0, 100, "a"),)


@pytest.mark.parametrize(
    ("frames", "message"),
    [
        ([("a", 90, "b", 10, "b"), ("b", 90, "a", 10, "a")], "but one another: a, b"),
        ([("a", 90, "track", 10, "nobody")], "but one another: a"),
        ([("a", 10, "track", 90, "track")], "not apart"),
        ([("a", 90, "track", 10, "track"), ("a", 80, "track", 20, "track")], "one name"),
        (
            [
                ("a", 90, "track", 80, "track"),
                ("b", 20, "track", 10, "track"),
                ("c", 85, "a", 15, "b"),
                ("d", 60, "a", 50, "c"),
            ],
            "not free of one another",
        ),
    ],
)
def test_frames_that_hold_nothing_up_are_refused(frames, message):
    car = BruteVehicle(tuple(BruteFrame(*frame) for frame in frames), BLOCK)
    with pytest.raises(ValueError, match=message):
        stand(LEVEL, BruteTrack(500), car, 0.0, UPHILL)


def test_a_boiler_too_long_for_the_circle_is_refused():
    with pytest.raises(ValueError, match="cannot stand"):
        stand(LEVEL, BruteTrack(150), slung((470, 150)), 0.0, UPHILL)
