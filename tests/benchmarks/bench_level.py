"""Levelling 60 brackets, two tracks and 300 cars, beside one plain check of the same.

Measured in one run and reported, never asserted: `pytest -m benchmark -n 0 -s`.
"""

import time

import numpy as np
import pytest

from catalog.helix import Adjusters
from catalog.survey import Reading, Survey
from clearance.judge.check import check
from clearance.judge.levelling import level
from tests.judge.clubs import helix, random_fleet

CARS, TURNS = 300, 5.0
WANTED_S = 10.0


@pytest.mark.benchmark
@pytest.mark.parametrize("off_mm", [0.7, 2.0])
def test_sixty_brackets_two_tracks_three_hundred_cars(off_mm: float) -> None:
    """Every bracket off its height: by what a season does, and by much more."""
    nuts = Adjusters(pitch_mm=1.25, step=0.25, travel_mm=40.0)
    where = helix(turns=TURNS, adjusters=nuts)
    rng = np.random.default_rng(2)
    survey = Survey(
        readings=tuple(
            Reading(station=station, railhead_mm=railhead + round(float(rng.normal(0, off_mm)), 1))
            for station, railhead in where.design_railheads().items()
        )
    )
    fleet = random_fleet(rng, CARS)
    started = time.perf_counter()
    check(where, fleet, survey)
    plain_s = time.perf_counter() - started
    started, working = time.perf_counter(), time.process_time()
    found = level(where, fleet, survey)
    level_s, work_s = time.perf_counter() - started, time.process_time() - working
    turned = sum(abs(move.nut_turns) for move in found.moves)
    print(f"\n  every bracket off by {off_mm} mm, {len(found.meant)} of {CARS} cars meant to pass")
    print(f"  one plain check      {plain_s:6.2f} s")
    print(f"  levelling            {level_s:6.2f} s (wanted: {WANTED_S:g}), {work_s:.2f} s of work")
    print(f"  ratio                {level_s / plain_s:6.1f}")
    print(f"  {len(found.moves)} brackets to turn; proved to be the fewest: {found.fewest_proved}")
    print(f"  {turned:g} turns; proved to be the least for so many: {found.least_proved}")
