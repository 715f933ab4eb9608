"""A line run backwards is the same line: every gap is as large.

G4 and G5, docs/theory.md. In a mirror, what climbs counterclockwise and is run uphill climbs
clockwise; run downhill it goes counterclockwise again, and falls. The engine searches a line from
its foot: what it finds at an event, and on which side of it, must not hang on that.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from clearance.geometry.beams import beam_gaps_mm
from clearance.geometry.boxes import Boxes, footing
from clearance.geometry.line import Line
from clearance.geometry.profile import ceiling_gaps_mm
from clearance.geometry.ridges import upper_ridges
from clearance.geometry.swept import band
from clearance.judge.drive import drives
from clearance.judge.structure import Structure
from tests.judge.clubs import fleet_of, one_track, random_built, random_car, slung

FOUND_MM = 5e-3  # two searches for the same least gap, each content with a fifth of it


def backwards(line: Line) -> Line:
    return Line(
        line.radius_mm,
        -line.knots_rad[::-1],
        line.railhead_mm[::-1].copy(),
        -line.end_rad,
        -line.start_rad,
        (-line.curve_rad[1], -line.curve_rad[0]),
        line.roll_rad,
    )


def rear_for_front(boxes: Boxes) -> Boxes:
    """The side of the axis stays where it is."""
    return boxes._replace(x_rear_mm=-boxes.x_front_mm, x_front_mm=-boxes.x_rear_mm)


# In two of them a roof is nearest to the deck just as an axle comes off the cant; in the third one
# a body comes to lie square to the end of the curve.
@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("seed", [6, 36, 56])
def test_run_backwards_all_gaps_are_the_same(seed: int) -> None:
    rng = np.random.default_rng(seed)
    where, survey = one_track(*random_built(rng, straight=True))
    (track,) = (it.model_copy(update={"cant_mm": 3.0}) for it in where.tracks)
    structure = Structure(where.model_copy(update={"tracks": (track,)}), survey)
    fleet = fleet_of(random_car(rng, "plain", (190, 215)), slung(rng, "slung", (190, 215)))
    for drive in drives(structure, track, fleet):
        undersides, deck = structure.undersides(track), structure.deck(track)
        assert deck is not None
        mirrored = undersides._replace(
            place_rad=-undersides.place_rad,
            plan_rad=-undersides.plan_rad,
            along_mm=-undersides.along_mm,
        )
        line, rig = backwards(drive.line), drive.rig.turned()
        loads = [(frame, rear_for_front(boxes)) for frame, _, boxes in drive.loads]
        foot = footing(line, rig, loads)
        nothing = np.full(len(rig), np.inf)
        for (frame, _, boxes), (_, turned) in zip(drive.loads, loads, strict=True):
            there = drive.line, drive.rig, drive.foot, frame
            back = line, rig, foot, frame
            over = beam_gaps_mm(*there, boxes, undersides, nothing, every=True)
            assert_allclose(
                beam_gaps_mm(*back, turned, mirrored, nothing, every=True), over, atol=FOUND_MM
            )
            under = ceiling_gaps_mm(*there, upper_ridges(boxes), deck).gap_mm
            found = ceiling_gaps_mm(*back, upper_ridges(turned), backwards(deck)).gap_mm
            assert_allclose(found, under, atol=FOUND_MM)
            swept, found_swept = band(*there, boxes), band(*back, turned)
            for name in ("least_radius_mm", "greatest_radius_mm"):
                assert_allclose(
                    getattr(found_swept, name), getattr(swept, name), atol=FOUND_MM, err_msg=name
                )
