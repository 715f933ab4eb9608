"""Near a straight lead every position is worked out: what screening takes for a curve is none.

G4, docs/theory.md, "The exact step". As `test_rough_lines.py`, but the line is almost even, so that
the bounds of the linear model are tight, and the first brackets lie along a straight of another
grade.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from clearance.geometry.undersides import Undersides
from tests.geometry.test_rough_lines import Case, lose_nothing, rough

BENT = 4  # the station where the straight ends


def led(seed: int) -> Case:
    """The same cars on an almost even climb; a straight lies below it."""
    case, draw = rough(seed), np.random.default_rng(seed)
    line, step = case.line, float(case.line.knots_rad[1])
    ahead = np.arange(len(line.knots_rad)) - BENT
    grade = np.where(ahead < 0, draw.uniform(-0.06, 0.06), draw.uniform(0.01, 0.07))
    noise = draw.normal(0, 2e-5, len(ahead))
    heights = line.radius_mm * (grade * step * ahead + noise)
    straight = replace(line, railhead_mm=heights, curve_rad=(float(line.knots_rad[BENT]), math.inf))
    turn = round(2 * math.pi / step)
    under = np.arange(BENT, len(ahead) - turn)
    zero = np.zeros(len(under))
    undersides = Undersides(
        under * step, under * step, zero, heights[under + turn], zero + case.undersides.width_mm[0]
    )
    return case._replace(line=straight, undersides=undersides)


# Seeds on which a model that took the straight for a curve, at a third of the reach, would tell.
@pytest.mark.parametrize("seed", [0, 4, 11, 13, 21])
def test_near_a_straight_lead_no_position_is_lost(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    lose_nothing(led(seed), monkeypatch)
