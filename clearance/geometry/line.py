"""Where a place on the helix is: the screw line of a regular helix, stations, turns and angles.

G1, docs/theory.md. Every place of a regular helix is every other one, turned about the axis and
raised: so whatever is true of a car at one place is true of it everywhere.
"""

import math
from dataclasses import dataclass

__all__ = ["Screw", "station_angle_deg", "station_turn"]

_STATION_NOISE = 1e-9  # a station computed from an angle may fall this short of a whole one


@dataclass(frozen=True)
class Screw:
    """The centreline of one track of a regular helix, climbing counterclockwise.

    A clockwise helix is the mirror image: swap the left and the right side of what runs on it.

    Attributes
    ----------
    radius_mm
        Centreline radius. [mm]
    rise_per_turn_mm
        Climb in one turn. [mm]
    roll_rad
        How far cant leans the track towards the axis, asin(cant / gauge). [rad]
    """

    radius_mm: float
    rise_per_turn_mm: float
    roll_rad: float = 0.0

    @property
    def rise_per_radian_mm(self) -> float:
        """Climb for each radian turned. [mm/rad]"""
        return self.rise_per_turn_mm / (2 * math.pi)

    @property
    def grade(self) -> float:
        """Rise over run along the centreline, seen in plan. [1]"""
        return self.rise_per_radian_mm / self.radius_mm

    @property
    def length_per_radian_mm(self) -> float:
        """Length of track for each radian turned, measured along the rail. [mm/rad]"""
        return math.hypot(self.radius_mm, self.rise_per_radian_mm)


def station_turn(station: float, brackets_per_turn: int) -> int:
    """The turn on which a station lies, counted from 1 at the foot (0 and less: below it)."""
    return 1 + math.floor(station / brackets_per_turn + _STATION_NOISE)


def station_angle_deg(station: float, brackets_per_turn: int) -> float:
    """The angle of a station within its turn, from station 0, uphill. [degrees, 0 to 360]"""
    angle_deg = 360.0 * station / brackets_per_turn % 360.0
    return 0.0 if 360.0 - angle_deg < 360.0 * _STATION_NOISE else angle_deg
