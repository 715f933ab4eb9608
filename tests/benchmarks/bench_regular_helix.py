"""Overhead and both sides of 100,000 cars on a regular helix, beside the plain alternatives.

Measured in one run, reported as ratios, never asserted: `pytest -m benchmark -n 0 -s`.
"""

import math
import time
import tracemalloc
from collections.abc import Callable

import numpy as np
import pytest
import shapely

from clearance.geometry.line import Screw
from clearance.geometry.meets import HEIGHT_MARGIN_MM, MeetingSide, meeting_gaps_mm
from clearance.geometry.passage import Passage, pass_through

CARS = 100_000
RADIUS_MM, RISE_MM, BEAM_MM = 1190.0, 285.0, 38.0


def best_of(runs: int, task: Callable[[], object]) -> float:
    """The quickest of some runs. [s]"""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        task()
        times.append(time.perf_counter() - start)
    return min(times)


class Cars:
    """One block a car, on trucks, the same fore and aft and on both sides."""

    def __init__(self, count: int) -> None:
        rng = np.random.default_rng(1)
        self.wheelbase = rng.uniform(100, 600, count)
        self.truck = rng.uniform(20, 60, count)
        self.length = self.wheelbase + rng.uniform(20, 200, count)
        self.half_width = rng.uniform(40, 60, count)
        self.height = rng.uniform(100, 240, count)
        self.which = np.arange(count)

    def drive(self) -> Passage:
        return pass_through(
            Screw(RADIUS_MM, RISE_MM),
            self.wheelbase,
            self.truck,
            self.which,
            (
                -self.length / 2,
                self.length / 2,
                self.half_width,
                self.half_width,
                np.zeros_like(self.height),
                self.height,
            ),
            [BEAM_MM],
        )


def handbook_loop(cars: Cars) -> list[tuple[float, float]]:
    """The two square roots of the handbook, car by car: radii only, level, no trucks."""
    square = RADIUS_MM * RADIUS_MM
    found = []
    for wheelbase, half_width, length in zip(
        cars.wheelbase.tolist(), cars.half_width.tolist(), cars.length.tolist(), strict=True
    ):
        middle = math.sqrt(square - wheelbase * wheelbase / 4)
        outer = middle + half_width
        found.append((middle - half_width, math.sqrt(outer * outer + length * length / 4)))
    return found


def shapely_union(cars: Cars, car: int) -> tuple[float, float]:
    """Outlines placed every millimetre over a turn's quarter, united, measured from the axis."""
    half_angle = math.asin(cars.wheelbase[car] / (2 * RADIUS_MM))
    middle = RADIUS_MM * math.cos(half_angle)
    outline = np.array(
        [
            (middle + side * cars.half_width[car], end * cars.length[car] / 2)
            for side, end in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
    )
    turns = np.arange(0, math.pi / 2, 1 / RADIUS_MM)
    cos, sin = np.cos(turns), np.sin(turns)
    rotations = np.stack([np.stack([cos, sin], axis=-1), np.stack([-sin, cos], axis=-1)], axis=-2)
    swept = shapely.union_all(shapely.polygons(outline @ rotations))
    nearest = shapely.distance(swept, shapely.points(0, 0))
    furthest = np.hypot(*shapely.get_coordinates(swept).T).max()
    return float(nearest), float(furthest)


@pytest.mark.benchmark
def test_100_000_cars_on_a_regular_helix() -> None:
    cars, tenth = Cars(CARS), Cars(CARS // 10)
    loop = best_of(5, lambda: handbook_loop(cars))
    engine = best_of(5, cars.drive)
    engine_tenth = best_of(5, tenth.drive)
    union = best_of(3, lambda: shapely_union(cars, 0))
    tracemalloc.start()
    cars.drive()
    memory = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(
        f"\n{CARS} cars, overhead and both sides, one track"
        f"\n  handbook formula, a Python loop    {1e6 * loop / CARS:8.3f} us a car"
        f"\n  engine                             {1e6 * engine / CARS:8.3f} us a car"
        f"\n  outlines every mm, shapely's union {1e6 * union:8.0f} us a car"
        f"\n  engine over loop                   {engine / loop:8.2f}"
        f"\n  engine's cars a second over union's {union * CARS / engine:,.0f}"
        f"\n  ten times the cars                 {engine / engine_tenth:8.2f} times the time"
        f"\n  most memory at once                {memory / 1e6:8.1f} MB over the fleet's own"
    )


def five_block_cars(rng: np.random.Generator, base_mm: float, outwards: float) -> MeetingSide:
    """1,000 cars: boiler, tanks, cab, stack and cylinders, each at its own height and width."""
    bottom = np.array([20.0, 60.0, 60.0, 120.0, 10.0]) + rng.uniform(0, 10, (1000, 5))
    height = np.array([100.0, 60.0, 120.0, 90.0, 40.0])
    reach = np.array([30.0, 25.0, 35.0, 0.0, 45.0]) + rng.uniform(0, 30, (1000, 5))
    return MeetingSide(base_mm + outwards * reach, bottom, bottom + height)


def all_pairs_loop(inner: MeetingSide, outer: MeetingSide) -> list[float]:
    """The same double loop in plain Python."""
    sides = [
        [
            list(zip(*blocks, strict=True))
            for blocks in zip(*(f.tolist() for f in side), strict=True)
        ]
        for side in (inner, outer)
    ]
    found = []
    for one in sides[0]:
        for other in sides[1]:
            least = math.inf
            for reach, bottom, top in one:
                for radius, low, high in other:
                    if (
                        low - HEIGHT_MARGIN_MM <= top + HEIGHT_MARGIN_MM
                        and bottom - HEIGHT_MARGIN_MM <= high + HEIGHT_MARGIN_MM
                        and radius - reach < least
                    ):
                        least = radius - reach
            found.append(least)
    return found


@pytest.mark.benchmark
def test_all_meets_of_1_000_by_1_000_five_block_cars() -> None:
    rng = np.random.default_rng(2)
    inner, outer = five_block_cars(rng, 1190.0, 1.0), five_block_cars(rng, 1380.0, -1.0)
    loop = best_of(1, lambda: all_pairs_loop(inner, outer))
    engine = best_of(5, lambda: meeting_gaps_mm(inner, outer))
    print(
        f"\nall meets of 1,000 by 1,000 five-block cars"
        f"\n  double loop in Python {loop:8.3f} s"
        f"\n  engine                {engine:8.3f} s"
        f"\n  times faster          {loop / engine:8.1f}"
    )
