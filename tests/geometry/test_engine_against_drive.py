"""The engine against an independent, slow drive of the same cars: G1 to G6, docs/theory.md.

`tests.geometry.brute_force` shares no code with the engine: it places axles by root finding, steps
along the line and measures every gap by its definition. Here both get the same random helices and
cars, and the engine's answer is taken from where a user gets it: `clearance.judge`.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import pytest

from catalog.car import Block, Car
from catalog.columns import CarTable
from catalog.helix import Deck, Helix, Obstacle, Posts, Track
from clearance.judge.check import check
from clearance.judge.findings import CheckColumn
from clearance.judge.fleet import Fleet
from clearance.judge.meets import meetings
from clearance.judge.verdict import PASSES
from tests.geometry.brute_force import (
    FACINGS,
    BruteCar,
    block_side_radii_mm,
    meeting_gap_mm,
    overhead_gap_mm,
)
from tests.geometry.random_helix import BruteCase, random_case

OWED_MM = 0.05  # what the engine owes on every gap (docs/theory.md, "Accuracy")


class Difference(NamedTuple):
    what: str
    engine_mm: float
    drive_mm: float
    falsely_passed: bool

    @property
    def mm(self) -> float:
        return abs(self.engine_mm - self.drive_mm)


def as_car(car: BruteCar, name: str) -> Car:
    """The same car as a club would write it down: from the front end of the body backwards."""
    front = max(block.x_front_mm for block in car.blocks)
    rear = min(block.x_rear_mm for block in car.blocks)
    blocks = [
        Block(
            from_mm=front - block.x_front_mm,
            to_mm=front - block.x_rear_mm,
            left_mm=block.left_mm,
            right_mm=block.right_mm,
            bottom_mm=block.bottom_mm,
            top_mm=block.top_mm,
        )
        for block in car.blocks
    ]
    return Car(
        id=name,
        height_mm=max(block.top_mm for block in car.blocks),
        width_mm=max(b.left_mm for b in car.blocks) + max(b.right_mm for b in car.blocks),
        length_mm=front - rear,
        wheelbase_mm=car.wheelbase_mm,
        truck_wheelbase_mm=car.truck_wheelbase_mm,
        front_overhang_mm=front - car.wheelbase_mm / 2,
        tolerance_mm=0.0,
        blocks=tuple(blocks),
    )


def as_helix(case: BruteCase) -> Helix:
    first = case.tracks[0]
    rise = float(case.line.slopes[0]) * 2 * math.pi
    return Helix(
        name="random",
        gauge_mm=first.gauge_mm,
        turns=case.line.last_station / case.line.brackets_per_turn,
        rise_per_turn_mm=rise,
        brackets_per_turn=case.line.brackets_per_turn,
        climbs=first.climbs,
        tracks=tuple(
            Track(name=str(number), radius_mm=track.radius_mm, cant_mm=track.cant_mm)
            for number, track in enumerate(case.tracks)
        ),
        deck=Deck(
            depth_mm=case.deck.depth_mm,
            beam_depth_mm=case.deck.beam_depth_mm,
            beam_width_mm=case.deck.beam_width_mm,
        ),
        posts=Posts(inside_mm=first.radius_mm / 2, outside_mm=first.radius_mm / 2),
        obstacles=tuple(
            Obstacle(
                name=f"obstacle {number}",
                station=obstacle.station,
                headroom_mm=obstacle.headroom_mm,
                width_mm=obstacle.width_mm,
            )
            for number, obstacle in enumerate(case.obstacles)
        ),
    )


def differences(case: BruteCase) -> list[Difference]:
    """Every gap of a case: overhead, both sides, meets; both cars, both ways round, all tracks."""
    helix = as_helix(case)
    cars = [as_car(car, str(number)) for number, car in enumerate(case.cars)]
    fleet = Fleet(CarTable.from_cars(cars))
    result = check(helix, fleet)
    room = case.tracks[0].radius_mm / 2
    found = []

    def compare(column: CheckColumn, way: int, car: int, drive_mm: float, what: str) -> None:
        allowance = float(np.broadcast_to(column.budget.total_mm, column.gap_mm.shape)[way, car])
        passed = column.codes[way, car] == PASSES and drive_mm < allowance - OWED_MM
        found.append(Difference(what, float(column.gap_mm[way, car]), drive_mm, passed))

    for track in case.tracks:
        columns = {c.check: c for c in result.on_track(str(case.tracks.index(track)))}
        for number, car in enumerate(case.cars):
            for way, facing in enumerate(FACINGS):
                drive = overhead_gap_mm(
                    case.line, track, car, case.deck, facing, case.obstacles
                ).gap_mm
                compare(columns["overhead"], way, number, drive, f"overhead {facing}")
                radii = block_side_radii_mm(case.line, track, car, facing)
                if "inner_side" in columns:
                    gap = radii[:, 0].min() - (track.radius_mm - room)
                    compare(columns["inner_side"], way, number, gap, f"inner side {facing}")
                if "outer_side" in columns:
                    gap = track.radius_mm + room - radii[:, 1].max()
                    compare(columns["outer_side"], way, number, gap, f"outer side {facing}")
    for meeting in meetings(helix, fleet):
        inner, outer = case.tracks
        both = np.arange(2)
        engine = meeting.figures(both, both).gap_mm
        for i, j in np.ndindex(2, 2):
            drive = meeting_gap_mm(case.line, inner, case.cars[i], outer, case.cars[j])
            if math.isinf(drive) or math.isinf(engine[i, j]):
                assert drive == engine[i, j], "one of the two sees no blocks at one height"
                continue
            found.append(Difference("meet", float(engine[i, j]), drive, False))
    return found


def drawn(cases: int, seed: int) -> Iterator[BruteCase]:
    """Random helices that have any headroom at all; the others no record takes."""
    rng = np.random.default_rng(seed)
    while cases:
        case = random_case(rng)
        rise = float(case.line.slopes[0]) * 2 * math.pi
        if rise > case.deck.depth_mm + case.deck.beam_depth_mm:
            cases -= 1
            yield case


def worst_of(cases: int, seed: int) -> tuple[Difference, int]:
    found = [d for case in drawn(cases, seed) for d in differences(case)]
    assert not [d for d in found if d.falsely_passed]
    return max(found, key=lambda difference: difference.mm), len(found)


@pytest.mark.parametrize("seed", range(8))
def test_every_gap_of_25_random_helices(seed: int) -> None:
    worst, count = worst_of(25, seed)
    assert count >= 25 * 2 * 2 * 3
    assert worst.mm < OWED_MM, worst
    print(f"{count} gaps, worst difference {worst.mm:.4f} mm, {worst.what}")


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 120))
def test_every_gap_of_2000_random_helices(seed: int) -> None:
    worst, count = worst_of(100, seed)
    assert worst.mm < OWED_MM, worst
    print(f"{count} gaps, worst difference {worst.mm:.4f} mm, {worst.what}")
