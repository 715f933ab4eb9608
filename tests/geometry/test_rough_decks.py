"""Under a deck the least gap may lie between two events: there a parabola finds it.

G4, docs/theory.md, "The deck between the beams". Lines far rougher than anybody's, as in
`test_rough_lines.py`; cut into many more parts the pieces must give the same.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from clearance.geometry import profile
from clearance.geometry.boxes import footing
from clearance.geometry.line import Line
from clearance.geometry.profile import ceiling_gaps_mm
from clearance.geometry.ridges import upper_ridges
from tests.geometry.test_rough_lines import rough

SAME_MM = 2e-3


# Seeds on which the ends of parts alone are 0.007 to 0.055 mm short.
@pytest.mark.parametrize("seed", [1, 6, 8])
def test_parts_many_times_smaller_give_the_same(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    case = rough(seed)
    line = case.line
    deck = Line(
        line.radius_mm,
        line.knots_rad - 2 * math.pi,
        line.railhead_mm - 0.02 * line.radius_mm,
        line.start_rad,
        line.end_rad - 2 * math.pi,
    )
    foot = footing(line, case.rig, [(case.frame, case.boxes)])
    ridges = upper_ridges(case.boxes)

    def gaps() -> np.ndarray:
        return ceiling_gaps_mm(line, case.rig, foot, case.frame, ridges, deck).gap_mm

    usual = gaps()
    monkeypatch.setattr(profile, "_PARTS", 48)
    assert_allclose(usual, gaps(), rtol=0, atol=SAME_MM)
