"""Sizing a helix for 10,000 cars, beside one plain check of them on the design.

Measured in one run, reported as a ratio, never asserted: `pytest -m benchmark -n 0 -s`.
"""

import time

import numpy as np
import pytest

from catalog.helix import Allowance
from clearance.judge.check import check
from clearance.judge.meets import meetings
from clearance.judge.sizing import size
from clearance.judge.verdict import PASSES
from tests.judge.clubs import helix, random_fleet

CARS = 10_000


@pytest.mark.benchmark
def test_a_helix_for_10_000_cars() -> None:
    cars = random_fleet(np.random.default_rng(1), CARS, (120.0, 240.0))
    where = helix(allowance=Allowance(play_mm=1.5))
    checks, sizes = [], []
    for _ in range(3):
        start = time.perf_counter()
        design = size(where, cars)
        sizes.append(time.perf_counter() - start)
        start = time.perf_counter()
        codes = check(design.helix, cars).codes()
        checks.append(time.perf_counter() - start)
    assert (codes == PASSES).all()
    assert not any(meeting.barred for meeting in meetings(design.helix, cars))
    print(
        f"\nsize, {CARS} random cars of {len(cars.block_car)} blocks, two tracks, "
        f"{len(design.alternatives)} other choices"
        f"\n  plain check of all {min(checks):8.3f} s"
        f"\n  size               {min(sizes):8.3f} s"
        f"\n  size over check    {min(sizes) / min(checks):8.2f}"
    )
