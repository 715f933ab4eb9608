"""Cars, helices and random fleets for the tests of the judge."""

from itertools import pairwise

import numpy as np

from catalog.car import Block, Car
from catalog.columns import CarTable
from catalog.helix import Deck, Helix, Posts, Track
from clearance.judge.findings import CheckColumn, CheckResult, Finding
from clearance.judge.fleet import Fleet

INNER_MM, OUTER_MM = 1190.0, 1380.0


def car(name: str = "27", **changes: object) -> Car:
    """A boxcar on trucks; any figure can be changed."""
    figures: dict[str, object] = {
        "height_mm": 190.0,
        "width_mm": 110.0,
        "length_mm": 600.0,
        "wheelbase_mm": 400.0,
        "truck_wheelbase_mm": 60.0,
    }
    return Car(id=name, **(figures | changes))


def block(along: tuple[float, float], sides: tuple[float, float], up: tuple[float, float]) -> Block:
    """A block: from and to, left and right, bottom and top. [mm]"""
    return Block(
        from_mm=along[0],
        to_mm=along[1],
        left_mm=sides[0],
        right_mm=sides[1],
        bottom_mm=up[0],
        top_mm=up[1],
    )


def fleet_of(*cars: Car) -> Fleet:
    return Fleet(CarTable.from_cars(cars))


def helix(**changes: object) -> Helix:
    """A double-track helix of 285 mm a turn (headroom 223 mm); any figure can be changed."""
    figures: dict[str, object] = {
        "name": "Quarry Bank",
        "gauge_mm": 45.0,
        "turns": 2.5,
        "rise_per_turn_mm": 285.0,
        "brackets_per_turn": 12,
        "tracks": (
            Track(name="inner", radius_mm=INNER_MM),
            Track(name="outer", radius_mm=OUTER_MM),
        ),
        "deck": Deck(depth_mm=38.0, beam_depth_mm=24.0, beam_width_mm=38.0),
        "posts": Posts(inside_mm=110.0, outside_mm=120.0),
    }
    return Helix(**(figures | changes))


def single(**changes: object) -> Helix:
    """The same with the inner track alone."""
    return helix(tracks=(Track(name="inner", radius_mm=INNER_MM),), **changes)


def column(result: CheckResult, track: str, check: str) -> CheckColumn | None:
    """The column of one check on one track; None: there is none."""
    found = [column for column in result.on_track(track) if column.check == check]
    assert len(found) <= 1
    return found[0] if found else None


def finding(result: CheckResult, track: str, check: str, number: int = 0) -> Finding | None:
    """The finding of one car by its number; None: there is none."""
    found = [f for f in result.findings(number, track) if f.check == check]
    assert len(found) <= 1
    return found[0] if found else None


def random_car(rng: np.random.Generator, name: str, height_mm: tuple[float, float]) -> Car:
    """From a four-wheel truck to a long car; half of them of several blocks, most lopsided."""
    wheelbase = round(float(rng.uniform(80, 480)), 1)
    front, rear = (round(float(part), 1) for part in rng.uniform(5, 0.45 * wheelbase + 40, 2))
    length = round(wheelbase + front + rear, 1)
    height = round(float(rng.uniform(*height_mm)), 1)
    left, right = (round(float(side), 1) for side in rng.uniform(30, 75, 2))
    blocks: list[Block] = []
    if rng.random() < 0.5:
        cuts = np.sort(rng.uniform(0.05, 0.95, int(rng.integers(1, 4)))) * length
        edges = [0.0, *(round(float(cut), 1) for cut in cuts), length]
        for start, end in pairwise(edges):
            if end - start > 1:
                low, high = (round(float(part) * height, -1) for part in np.sort(rng.random(2)))
                low = min(low, height - 20)
                narrow = rng.uniform(0.4, 1.0, 2)
                sides = round(left * narrow[0], 1), round(right * narrow[1], 1)
                blocks.append(block((start, end), sides, (low, min(high + 10, height))))
        full = block((0.0, length), (left, right), (30.0, 50.0))
        stack = block((length / 3, length / 2), (left / 2, right / 2), (40.0, height))
        blocks += [full, stack]
    return Car(
        id=name,
        height_mm=height,
        width_mm=left + right if blocks else 2 * left,
        length_mm=length,
        wheelbase_mm=wheelbase,
        truck_wheelbase_mm=float(rng.choice([0.0, round(wheelbase / 5, 1)])),
        front_overhang_mm=None if rng.random() < 0.3 else front,
        minimum_radius_mm=None if rng.random() < 0.5 else round(float(rng.uniform(500, 1100)), 0),
        tolerance_mm=None if rng.random() < 0.5 else round(float(rng.uniform(0, 3)), 1),
        blocks=tuple(blocks),
    )


def random_fleet(
    rng: np.random.Generator, count: int, height_mm: tuple[float, float] = (195.0, 215.0)
) -> Fleet:
    """Random cars, numbered from 0."""
    return fleet_of(*(random_car(rng, str(number), height_mm) for number in range(count)))
