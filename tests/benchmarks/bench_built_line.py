"""A surveyed helix of 37 stations: every beam and both sides of 100,000 cars, and what more costs.

Measured in one run, reported as ratios to the handbook's formula in a plain loop, never asserted:
`pytest -m benchmark -n 0 -s`.
"""

import math
import tracemalloc

import numpy as np
import pytest

from clearance.geometry.beams import beam_gaps_mm
from clearance.geometry.boxes import Boxes, footing
from clearance.geometry.line import Line
from clearance.geometry.profile import height_over_rail_mm
from clearance.geometry.rig import Chassis, Rig, coach
from clearance.geometry.swept import band
from clearance.geometry.undersides import Undersides
from tests.benchmarks.bench_regular_helix import RADIUS_MM, RISE_MM, Cars, best_of, handbook_loop
from tests.geometry.brute_force import (
    BruteBlock,
    BruteCar,
    BruteDeck,
    BruteLine,
    BruteTrack,
    overhead_gaps_mm,
    side_radii_mm,
)

CARS = 100_000
BRACKETS, STATIONS = 12, 37
DECK_MM, BEAM_MM, OFF_MM = 62.0, 38.0, 1.5


def railheads(seed: int) -> np.ndarray:
    """A regular climb, every bracket a little off."""
    off = np.random.default_rng(seed).normal(0, OFF_MM, STATIONS)
    return RISE_MM * np.arange(STATIONS) / BRACKETS + off


def line_of(seed: int, *, roll_rad: float = 0.0, lead_mm: float = 0.0) -> Line:
    knots = 2 * math.pi * np.arange(STATIONS) / BRACKETS
    heights, start, curve = railheads(seed), 0.0, (-math.inf, math.inf)
    if lead_mm:
        start = -lead_mm / RADIUS_MM
        knots, heights = np.append(start, knots), np.append(heights[0], heights)
        curve = (0.0, math.inf)
    return Line(RADIUS_MM, knots, heights, start, float(knots[-1]), curve, roll_rad)


def beams_of(line: Line) -> Undersides:
    place = 2 * math.pi * np.arange(STATIONS - BRACKETS) / BRACKETS
    above = line.height_mm(place + 2 * math.pi)
    zero = np.zeros(len(place))
    return Undersides(place, place, zero, above - DECK_MM, zero + BEAM_MM)


def boxes_of(cars: Cars, blocks: int = 1) -> Boxes:
    """Each car cut into so many blocks, end to end."""
    which = np.repeat(cars.which, blocks)
    part = np.tile(np.arange(blocks), len(cars.which))
    length = cars.length[which] / blocks
    rear = -cars.length[which] / 2 + part * length
    half = cars.half_width[which]
    height = cars.height[which]
    return Boxes(which, rear, rear + length, half, half, 0.1 * height, height)


def judge(line: Line, rig: Rig, boxes: Boxes, frame: int) -> None:
    foot = footing(line, rig, [(frame, boxes)])
    nothing = np.full(len(rig), np.inf)
    beam_gaps_mm(line, rig, foot, frame, boxes, beams_of(line), nothing)
    band(line, rig, foot, frame, boxes)


def bolsters(cars: Cars) -> Rig:
    """The same bodies on span bolsters: eight axles, seven frames."""
    pivot, half = cars.wheelbase / 2, cars.wheelbase / 8
    axle = cars.truck / 4
    centres = [side * pivot + inner * half for side in (-1, 1) for inner in (-1, 1)]
    axles = [centre + sign * axle for centre in centres for sign in (-1, 1)]
    rests = ((0, 1), (2, 3), (4, 5), (6, 7), (-1, -2), (-3, -4), (-5, -6))
    rear = [*axles[::2], centres[0], centres[2], -pivot]
    front = [*axles[1::2], centres[1], centres[3], pivot]
    return Rig(Chassis(8, rests), np.array(axles), np.array(rear), np.array(front))


@pytest.mark.benchmark
def test_as_built_beside_the_handbook_loop() -> None:
    cars = Cars(CARS)
    plain_s = best_of(3, lambda: handbook_loop(cars))
    rig, boxes = coach(cars.wheelbase, cars.truck), boxes_of(cars)
    lines = [line_of(seed) for seed in range(3)]
    ours_s = best_of(1, lambda: [judge(line, rig, boxes, 2) for line in lines]) / len(lines)
    print(f"\n  handbook formula, a Python loop   {1e6 * plain_s / CARS:8.3f} us a car")
    print(f"  as built, one block               {1e6 * ours_s / CARS:8.1f} us a car")
    print(f"  ratio                             {ours_s / plain_s:8.1f} (wanted: no more than 60)")


@pytest.mark.benchmark
def test_what_more_costs() -> None:
    cars = Cars(CARS // 10)
    rig, one = coach(cars.wheelbase, cars.truck), boxes_of(cars)
    base_s = best_of(3, lambda: judge(line_of(0), rig, one, 2))
    canted = line_of(0, roll_rad=math.asin(1 / 15))
    foot = footing(line_of(0), rig, [(2, one)])
    rows = {
        "five blocks": lambda: judge(line_of(0), rig, boxes_of(cars, 5), 2),
        "cant": lambda: judge(canted, rig, one, 2),
        "a straight lead": lambda: judge(line_of(0, lead_mm=1500.0), rig, one, 2),
        "span bolsters": lambda: judge(line_of(0), bolsters(cars), one, 6),
        "underside, alone": lambda: height_over_rail_mm(
            line_of(0), rig, foot, 2, one, regular=False
        ),
    }
    print()
    for name, task in rows.items():
        print(f"  {name:<20} {best_of(1, task) / base_s:6.2f} times one plain block a car")


@pytest.mark.benchmark
def test_memory_and_growth() -> None:
    times = []
    for count in (CARS // 10, CARS):
        cars = Cars(count)
        rig, boxes = coach(cars.wheelbase, cars.truck), boxes_of(cars)
        line = line_of(0)
        times.append(best_of(1, lambda: judge(line, rig, boxes, 2)))  # noqa: B023
        tracemalloc.start()
        judge(line, rig, boxes, 2)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        print(f"\n  {count} cars: {peak / 1e6:.0f} MB more at the most")
    print(f"  ten times the cars: {times[1] / times[0]:.1f} times the time")


@pytest.mark.benchmark
def test_beside_the_slow_drive() -> None:
    cars = Cars(2000)
    rig, boxes = coach(cars.wheelbase, cars.truck), boxes_of(cars)
    line = line_of(0)
    ours_s = best_of(3, lambda: judge(line, rig, boxes, 2)) / len(cars.which)
    knots = tuple(float(k) for k in range(STATIONS))
    drive = BruteLine(BRACKETS, 0, STATIONS - 1, knots, tuple(map(float, railheads(0))))
    track = BruteTrack(RADIUS_MM)
    block = BruteBlock(*(float(figures[0]) for figures in boxes[1:]))
    car = BruteCar(float(cars.wheelbase[0]), float(cars.truck[0]), (block,))
    deck = BruteDeck(DECK_MM - 24, 24.0, BEAM_MM)

    def slow() -> None:
        overhead_gaps_mm(drive, track, car, deck, "front uphill")
        side_radii_mm(drive, track, car, "front uphill")

    slow_s = best_of(1, slow)
    print(f"\n  the slow drive: {slow_s:.2f} s a car, {slow_s / ours_s:,.0f} times as long as ours")
