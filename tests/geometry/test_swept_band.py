"""The pose and the swept band against general tools, scipy and shapely.

The definitions are G1, G2 and G5 of docs/theory.md. Axles are searched for on the line with scipy,
outlines are placed round a level circle and united by shapely. Nothing here knows a formula for a
throw, nor that every place of a regular helix is like every other.
"""

import math
from typing import NamedTuple

import numpy as np
import pytest
import shapely
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from scipy.optimize import brentq

from catalog.car import Block, Car
from catalog.columns import CarTable
from catalog.helix import Deck, Helix, Track
from clearance.geometry.line import Screw
from clearance.geometry.stand import half_angle_rad, stand
from clearance.judge.fleet import FACINGS, Fleet
from clearance.judge.structure import Structure
from clearance.judge.sweep import sweep

Point = NDArray[np.float64]

OWED_MM = 0.05
PLACES = 24  # round the circle


class Case(NamedTuple):
    """A car, and the circle it stands on."""

    car: Car
    radius_mm: float


def random_case(seed: int) -> Case:
    """A car of one to four blocks that hangs over unequally and is wider on one side."""
    rng = np.random.default_rng([1195, seed])
    length = rng.uniform(60, 900)
    wheelbase = length * rng.uniform(0.35, 0.9)
    truck = wheelbase * rng.uniform(0.1, 0.45) if rng.random() < 0.6 else 0.0
    half = rng.uniform(0.05, 0.15) * length
    # The first block makes the car as long and as wide as it says; the others lie within.
    sides = [(0.0, length, half, half * rng.uniform(0.5, 1.0))]
    for _ in range(rng.integers(4)):
        start = rng.uniform(0.0, 0.8) * length
        end = start + rng.uniform(0.05, 0.2) * length
        sides.append((start, end, half * rng.uniform(-0.2, 1.0), half * rng.uniform(0.3, 1.0)))
    car = Car(
        id=f"random {seed}",
        height_mm=100.0,
        width_mm=2 * half,
        length_mm=length,
        wheelbase_mm=wheelbase,
        truck_wheelbase_mm=truck,
        front_overhang_mm=(length - wheelbase) * rng.uniform(0, 1),
        blocks=tuple(
            Block(from_mm=start, to_mm=end, left_mm=left, right_mm=right, top_mm=100.0)
            for start, end, left, right in sides
        ),
    )
    sharpest = 1.2 * car.least_standing_radius_mm + 1.5 * half
    return Case(car, math.exp(rng.uniform(math.log(sharpest), math.log(12 * sharpest))))


CASES = [random_case(seed) for seed in range(20)]


def on_line(radius_mm: float, rise_mm_rad: float, theta: float) -> Point:
    """The point of a screw line at a plan angle."""
    return np.array([radius_mm * math.cos(theta), radius_mm * math.sin(theta), rise_mm_rad * theta])


def pivot(radius_mm: float, rise_mm_rad: float, truck_mm: float, theta: float) -> Point:
    """The middle between the axles of a truck whose rear axle stands at a plan angle."""
    rear = on_line(radius_mm, rise_mm_rad, theta)
    if not truck_mm:
        return rear

    def short(angle: float) -> float:
        return float(np.linalg.norm(on_line(radius_mm, rise_mm_rad, angle) - rear)) - truck_mm

    ahead = brentq(short, theta, theta + math.pi, xtol=1e-14)
    return (rear + on_line(radius_mm, rise_mm_rad, ahead)) / 2


def supports(case: Case, rise_mm_rad: float, theta: float) -> tuple[Point, Point]:
    """The downhill and the uphill support of a car whose last axle stands at a plan angle."""
    car, radius_mm = case
    truck_mm = car.truck_wheelbase_mm
    rear = pivot(radius_mm, rise_mm_rad, truck_mm, theta)

    def short(angle: float) -> float:
        there = pivot(radius_mm, rise_mm_rad, truck_mm, angle)
        return float(np.linalg.norm(there - rear)) - car.wheelbase_mm

    ahead = brentq(short, theta, theta + math.pi, xtol=1e-14)
    return rear, pivot(radius_mm, rise_mm_rad, truck_mm, ahead)


def outline(case: Case, theta: float, facing: str, climbs: str) -> shapely.Geometry:
    """A car from above, standing on level track."""
    rear, front = (support[:2] for support in supports(case, 0.0, theta))
    if facing == "front downhill":
        rear, front = front, rear
    along = (front - rear) / case.car.wheelbase_mm
    leftwards = np.array([-along[1], along[0]])
    if climbs == "clockwise":
        leftwards = -leftwards  # drawn counterclockwise all the same: this is its mirror image
    nose = front + case.car.overhangs_mm[0] * along
    boxes = []
    for block in case.car.blocks:
        ends = [nose - block.from_mm * along, nose - block.to_mm * along]
        left = [end + block.left_mm * leftwards for end in ends]
        right = [end - block.right_mm * leftwards for end in reversed(ends)]
        boxes.append(shapely.Polygon([*left, *right]))
    return shapely.union_all(boxes)


def united_band_mm(case: Case, facing: str, climbs: str) -> tuple[float, float]:
    """Least and greatest distance from the axis of the car at all places together. [mm]"""
    places = np.linspace(0, 2 * math.pi, PLACES, endpoint=False)
    band = shapely.union_all([outline(case, theta, facing, climbs) for theta in places])
    corners = shapely.get_coordinates(band)
    return shapely.distance(band, shapely.Point(0, 0)), float(np.hypot(*corners.T).max())


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.car.id)
@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
def test_swept_band_is_that_of_united_outlines(case: Case, climbs: str) -> None:
    track = Track(name="only", radius_mm=case.radius_mm)
    helix = Helix(
        name="level",
        gauge_mm=9.0,
        turns=1,
        rise_per_turn_mm=1e-3,  # a record refuses a helix that does not climb at all
        brackets_per_turn=12,
        climbs=climbs,
        tracks=(track,),
        deck=Deck(depth_mm=0.0),
    )
    swept = sweep(Structure(helix), track, Fleet(CarTable.from_cars([case.car])), ())
    for row, facing in enumerate(FACINGS):
        least, greatest = united_band_mm(case, facing, climbs)
        assert_allclose(swept.inner.radius_mm[row, 0], least, rtol=0, atol=OWED_MM)
        assert_allclose(swept.outer.radius_mm[row, 0], greatest, rtol=0, atol=OWED_MM)


def test_random_cars_tell_the_two_ways_round_apart() -> None:
    # Or the test above would pass with a car never turned, or never mirrored.
    apart = 0
    for case in CASES:
        bands = [united_band_mm(case, facing, "counterclockwise") for facing in FACINGS]
        apart += np.abs(np.subtract(*bands)).max() > 10 * OWED_MM
    assert apart >= 15


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.car.id)
@pytest.mark.parametrize("grade", [0.0, 0.02, 0.08])
def test_pose_is_that_of_axles_searched_for(case: Case, grade: float) -> None:
    rise_mm_rad = grade * case.radius_mm
    rear, front = supports(case, rise_mm_rad, 0.3)
    car = case.car
    stance = stand(
        Screw(case.radius_mm, 2 * math.pi * rise_mm_rad),
        [car.wheelbase_mm],
        [car.truck_wheelbase_mm],
    )
    middle = (rear + front) / 2
    assert_allclose(stance.mid_radius_mm, np.hypot(middle[0], middle[1]), rtol=1e-9)
    assert_allclose(stance.sin_pitch, (front - rear)[2] / car.wheelbase_mm, rtol=0, atol=1e-12)


def test_half_angle_is_the_root_of_the_chord_equation() -> None:
    # Chords up to nine tenths of the diameter: a car that long would hang inside its own circle.
    rng = np.random.default_rng(1195)
    for _ in range(500):
        radius_mm = math.exp(rng.uniform(math.log(150), math.log(10_000)))
        rise_mm_rad = radius_mm * rng.choice([0.0, rng.uniform(0.0, 0.08)])
        chord_mm = 2 * radius_mm * rng.uniform(0.001, 0.9)

        def excess(angle: float, R: float = radius_mm, p: float = rise_mm_rad) -> float:
            return math.dist(on_line(R, p, -angle), on_line(R, p, angle))

        root = brentq(lambda a, c=chord_mm: excess(a) - c, 0.0, math.pi / 2, xtol=1e-15)
        assert_allclose(half_angle_rad([chord_mm], radius_mm, rise_mm_rad), root, rtol=1e-9)
