"""What does a car really need? A slow, literal drive through a helix, to check the engine against.

Written from the definitions G1 to G8 of docs/theory.md alone; it shares no code with the engine.
Nothing here knows that a regular helix is a screw, nor that a vehicle on two trucks is a common
one: every position is solved anew, the axles searched for on the track. Lengths are millimetres,
angles radians, heights over railhead.

- `brute_line`: where the track lies, with leads, cant and whatever a survey found;
- `brute_stock`, `brute_rig`: what rolls, and how any vehicle of frames stands on it;
- `brute_drive`: every position along the line, and the least of anything there;
- `brute_gaps`, `brute_sides`, `brute_running`: overhead; sides and meets; what G8 asks.

A block is a box, and every obstacle is searched exactly for one position of the car. The positions
are searched by driving: a coarse drive first, then ever finer steps wherever the body could still
come closer by more than `TOLERANCE_MM`, given how steep the track is there.

What the definitions leave open, and how it is read here
--------------------------------------------------------
- Beams and deck reach as far across the track as the body does.
- The deck is an obstacle over every place of the curve that has a place a turn above it on the
  curve too, beams or not (this matters only where a beam is less deep than the deck falls along its
  width); over a straight lead at the foot, as far as the tier above reaches.
- Cant turns a frame about its own x axis, after y was level; it ends where the curve does.
- A car is on the line while any of its blocks is.
- A headroom measured at a whole station that has no beam over it is an obstacle all the same.
"""

from tests.geometry.brute_drive import TOLERANCE_MM, theta_between
from tests.geometry.brute_gaps import (
    BruteDeck,
    BruteObstacle,
    OverheadGap,
    overhead_gap_mm,
    overhead_gaps_mm,
)
from tests.geometry.brute_line import (
    FULL_TURN,
    BruteLead,
    BruteLine,
    BruteTrack,
    BruteWay,
    Climbs,
)
from tests.geometry.brute_rig import BrutePose, BruteStand, place, stand
from tests.geometry.brute_running import (
    BruteCoupled,
    BruteCoupling,
    coupling,
    truck_swings_rad,
    undersides_mm,
)
from tests.geometry.brute_sides import (
    SideGap,
    block_side_radii_mm,
    meeting_gap_mm,
    obstacle_side_gaps_mm,
    side_radii_mm,
)
from tests.geometry.brute_stock import (
    FACINGS,
    BruteBlock,
    BruteCar,
    BruteFrame,
    BruteVehicle,
    Facing,
)

__all__ = [
    "FACINGS",
    "FULL_TURN",
    "TOLERANCE_MM",
    "BruteBlock",
    "BruteCar",
    "BruteCoupled",
    "BruteCoupling",
    "BruteDeck",
    "BruteFrame",
    "BruteLead",
    "BruteLine",
    "BruteObstacle",
    "BrutePose",
    "BruteStand",
    "BruteTrack",
    "BruteVehicle",
    "BruteWay",
    "Climbs",
    "Facing",
    "OverheadGap",
    "SideGap",
    "block_side_radii_mm",
    "coupling",
    "meeting_gap_mm",
    "obstacle_side_gaps_mm",
    "overhead_gap_mm",
    "overhead_gaps_mm",
    "place",
    "side_radii_mm",
    "stand",
    "theta_between",
    "truck_swings_rad",
    "undersides_mm",
]
