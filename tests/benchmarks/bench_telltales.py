"""How long do tell-tales take, beside a plain check of the same cars on the same helix?

Measured in one run, reported as ratios, never asserted: `pytest -m benchmark -n 0 -s`.
"""

import numpy as np
import pytest

from catalog.helix import Helix, Lead
from catalog.survey import Reading, Survey
from clearance.judge.check import check
from clearance.judge.telltales import telltales
from tests.benchmarks.bench_regular_helix import best_of
from tests.judge.clubs import helix, random_fleet

CARS = 1000
OFF_MM = 1.5


def survey_of(where: Helix, seed: int) -> Survey:
    """Every bracket a little off."""
    off = np.random.default_rng(seed).normal(0, OFF_MM, where.last_station + 1)
    rise = where.rise_per_turn_mm / where.brackets_per_turn
    return Survey(
        readings=tuple(
            Reading(station=k, railhead_mm=round(rise * k + float(off[k]), 1))
            for k in range(where.last_station + 1)
        )
    )


@pytest.mark.benchmark
def test_beside_a_plain_check() -> None:
    """Heights about what passes, so that many are stopped needlessly and a second one is tried."""
    cars = random_fleet(np.random.default_rng(1), CARS, (190.0, 210.0))
    lead = Lead(at="foot", length_mm=2000.0, grade=0.01)
    cases: dict[str, tuple[Helix, Survey | None]] = {"as drawn, regular": (helix(), None)}
    for name, where in (("surveyed", helix()), ("surveyed, a lead", helix(leads=(lead,)))):
        cases[name] = where, survey_of(where, 2)
    print()
    for name, (where, survey) in cases.items():
        plain_s = best_of(1, lambda: check(where, cars, survey))  # noqa: B023
        ours_s = best_of(1, lambda: telltales(where, cars, survey=survey))  # noqa: B023
        print(
            f"  {name:<20} a check {plain_s:6.2f} s, tell-tales {ours_s:6.2f} s: "
            f"{ours_s / plain_s:5.2f} (wanted: no more than 3)"
        )
