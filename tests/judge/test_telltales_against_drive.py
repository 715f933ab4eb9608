"""Nothing that would strike goes by the cords: tell-tales against the independent, slow drive.

Random railways as built, each with cars about as high as what just passes. The drive of
`tests.geometry.brute_force`, which shares no code with the engine, says what each car has left
overhead, and whether it meets the cords; both ways round, at both ends of each track.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from catalog.car import Car
from catalog.columns import CarTable
from clearance.judge.allowance import margins_of, overhead_budget
from clearance.judge.approach import USUAL, Driving
from clearance.judge.check import check
from clearance.judge.fleet import Fleet
from clearance.judge.telltale import Telltale
from clearance.judge.telltales import telltales
from tests.geometry.brute_force import (
    FACINGS,
    BruteCar,
    BruteObstacle,
    BruteVehicle,
    overhead_gap_mm,
    overhead_gaps_mm,
)
from tests.geometry.random_railway import BruteRailway, random_railway
from tests.geometry.test_built_against_drive import OWED_MM, as_car, as_helix, as_survey

HAIR_SHORT_MM = 0.3
HAIR_MM = 1.0  # on an even climb so much over a car's height is left aside (docs/theory.md)


Brute = BruteCar | BruteVehicle


def scaled(car: Brute, size: float) -> Brute:
    """The same car with all of it so many times as high over its own undersides."""
    blocks = tuple(
        replace(block, top_mm=block.bottom_mm + size * (block.top_mm - block.bottom_mm))
        for block in car.blocks
    )
    return replace(car, blocks=blocks)


def as_cars(rng: np.random.Generator, brutes: list[Brute], **known: float) -> list[Car]:
    """As a club writes them down, some of them measured badly."""
    found = []
    for number, brute in enumerate(brutes):
        car = as_car(brute, str(number), 5.0)
        tolerance = float(rng.choice([0.0, 0.02, 0.04])) * car.height_mm
        found.append(car.model_copy(update={"tolerance_mm": tolerance} | known))
    return found


def of_all_heights(
    rng: np.random.Generator, case: BruteRailway, **known: float
) -> tuple[list[Brute], list[Car]]:
    """The cars of a railway: as they are, lower or higher, and by a hair too high somewhere."""
    brutes = list(case.cars)
    brutes += [scaled(car, float(rng.uniform(0.9, 1.08))) for car in case.cars]
    cars = as_cars(rng, brutes, **known)
    result = check(as_helix(case), Fleet(CarTable.from_cars(cars)), as_survey(case))
    for column in result.columns:
        if column.check == "overhead" and column.track == "0":
            spare = (column.gap_mm - column.budget.total_mm).min(axis=0)
            for car in np.flatnonzero(np.isfinite(spare)):
                tallest = max(brutes[car].blocks, key=lambda block: block.top_mm)
                own = tallest.top_mm - tallest.bottom_mm
                size = (own + spare[car] + HAIR_SHORT_MM) / own
                if size > 0.2:
                    brutes.append(scaled(brutes[car], float(size)))
                    again = as_car(brutes[-1], str(len(cars)), 5.0)
                    tolerance = {"tolerance_mm": cars[car].tolerance_mm}
                    cars.append(again.model_copy(update=tolerance | known))
    return brutes, cars


def cords_at(each: Telltale, height_mm: float, station: float) -> BruteObstacle:
    if each.along_lead_mm is not None:
        return BruteObstacle.on_lead(each.at, each.along_lead_mm, height_mm)
    return BruteObstacle(station, height_mm)


def nothing_goes_by(seed: int, straight_leads: bool | None) -> dict[str, int]:
    """Drive every car under everything and under the cords; gives what there was to see."""
    rng = np.random.default_rng(seed)
    case = random_railway(rng, straight_leads=straight_leads)
    helix, survey = as_helix(case), as_survey(case)
    # Of so small a scale, and driven so slowly, that the cords hang near what they guard: on short
    # leads, and about the ends of curves.
    near = {"scale": 500.0} if seed % 3 else {}
    driving = Driving(speed_mm_s=40.0) if near else USUAL
    brutes, cars = of_all_heights(rng, case, **near)
    found = telltales(helix, Fleet(CarTable.from_cars(cars)), driving, survey)
    tolerance = np.array([car.tolerance_mm for car in cars], float)
    allowance = overhead_budget(margins_of(helix, survey), tolerance).total_mm
    seen = dict.fromkeys(("driven", "stopped", "described", "raised", "two-step"), 0)
    for number, track in enumerate(case.tracks):
        line, deck = case.lines[number], case.decks[number]
        for each in (it for it in found if it.track == str(number)):
            assert each.missed == []
            reached = np.full((2, len(cars)), -np.inf)
            for (way, facing), (car, brute) in (
                (one, other) for one in enumerate(FACINGS) for other in enumerate(brutes)
            ):
                where = line, track, brute, deck, facing
                left = overhead_gap_mm(*where, case.overhead[number]).gap_mm
                reach = cars[car].height_mm
                if each.described:
                    lath = cords_at(each, each.set_at_mm, each.station)
                    gaps = overhead_gaps_mm(*where, [lath])
                    (gap,) = (it.gap_mm for it in gaps if it.obstacle == "obstacle")
                    reach = each.set_at_mm - gap
                reached[way, car] = reach
                seen["driven"] += 1
                if left >= allowance[car] - OWED_MM:
                    continue
                seen["stopped"] += 1
                assert reach > each.set_at_mm - OWED_MM, (each, car, facing, left)
                if each.second:
                    two = each.second
                    lath = BruteObstacle(two.station, two.set_at_mm)
                    gaps = overhead_gaps_mm(*where, [lath])
                    (gap,) = (it.gap_mm for it in gaps if it.obstacle == "obstacle")
                    first_meets = reach > two.first_set_at_mm - OWED_MM
                    assert first_meets or gap < OWED_MM, (each, car, facing, left)
            most = reached.max(axis=0)
            stopped = {
                car.id
                for car, high in zip(cars, most, strict=True)
                if high > each.set_at_mm + HAIR_MM + OWED_MM
            }
            let_by = {
                car.id
                for car, high in zip(cars, most, strict=True)
                if high < each.set_at_mm - OWED_MM
            }
            assert stopped <= set(each.stops)
            assert not let_by & set(each.stops)
            seen["described"] += each.described
            seen["raised"] += max(map(abs, each.raised_mm)) > 1.0
            seen["two-step"] += each.second is not None
            assert math.isfinite(each.set_at_mm)
    return seen


@pytest.mark.parametrize("seed", [2, 7, 10])
def test_nothing_that_would_strike_is_missed(seed: int) -> None:
    """A few that are quickly driven."""
    seen = nothing_goes_by(seed, None)
    assert seen["driven"] >= seen["stopped"] > 0
    assert seen["described"]


@pytest.mark.slow
@pytest.mark.parametrize("straight_leads", [None, True])
@pytest.mark.parametrize("seed", range(100, 150))
def test_nothing_that_would_strike_is_missed_on_a_hundred_railways(
    seed: int, straight_leads: bool | None
) -> None:
    nothing_goes_by(seed, straight_leads)
