"""Only what stands on the line counts: blocks at the end of a car, at the end of the line, by hand.

G4, docs/theory.md, "Where a body meets a strip" and "How things are read". On a circle so wide that
it counts as straight.
"""

import math

import pytest
from numpy.testing import assert_allclose

from catalog.car import Car
from catalog.helix import Deck, Helix, Obstacle, ProfilePoint
from clearance.judge.check import check
from tests.judge.clubs import block, car, finding, fleet_of, single

BRACKETS, STEP_MM = 500, 640.0
WIDE_MM = STEP_MM * BRACKETS / (2 * math.pi)
HEADROOM_MM, TALL_MM, LONG_MM, WIDTH_MM = 250.0, 190.0, 20.0, 200.0


def sloping(grade: float, at_head: bool, known_mm: float) -> Helix:
    """A line of seven brackets at one grade, known every so often; a wide lamp at one end."""
    every = known_mm / STEP_MM
    stations = [round(every * k, 9) for k in range(round(7 / every) + 1)]
    lamp = Obstacle(name="lamp", station=7 * at_head, headroom_mm=HEADROOM_MM, width_mm=WIDTH_MM)
    return single(
        WIDE_MM,
        turns=7 / BRACKETS,
        brackets_per_turn=BRACKETS,
        rise_per_turn_mm=3000.0,
        deck=Deck(depth_mm=1.0),
        profile=tuple(ProfilePoint(station=k, railhead_mm=STEP_MM * grade * k) for k in stations),
        obstacles=(lamp,),
    )


def stacked(from_mm: float) -> Car:
    """A low wagon with a tall stack."""
    blocks = (
        block((0, 600), (55, 55), (20, 100)),
        block((from_mm, from_mm + LONG_MM), (30, 30), (20, TALL_MM)),
    )
    return car("27", truck_wheelbase_mm=0.0, blocks=blocks)


@pytest.mark.parametrize("known_mm", [STEP_MM, 40.0])
@pytest.mark.parametrize(("grade", "at_head"), [(0.04, True), (-0.04, False)])
def test_a_stack_at_the_end_leaves_the_line_before_it_is_highest(
    grade: float, at_head: bool, known_mm: float
) -> None:
    """At the end of a car it is its last part on the line one way round: then it stands highest as
    it leaves, its other end 20 mm beyond the line's; the strip goes on for 80 mm, where it would be
    3.2 mm higher. The other way round the rest of the car is on the line still, and there it is.
    """
    lean = math.atan(0.04)
    level = HEADROOM_MM - TALL_MM / math.cos(lean)
    last = level - LONG_MM * math.sin(lean)
    first = level - WIDTH_MM / 2 * 0.04
    for from_mm in (0.0, 600.0 - LONG_MM):
        result = check(sloping(grade, at_head, known_mm), fleet_of(stacked(from_mm)))
        found = finding(result, "inner", "overhead")
        assert found is not None
        # The end of the car is across the radial line by 0.2 mm, at a grade of 0.04.
        assert_allclose((found.gap_mm, found.other_way_gap_mm), (first, last), atol=0.01)
        # The foot falls away downhill: there it is the front end that comes last.
        leaves_last = from_mm > 0 if at_head else from_mm == 0
        assert found.facing == ("front downhill" if leaves_last else "front uphill")
