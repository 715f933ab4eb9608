"""Where the track is: the screw line of a regular helix, the line as built; stations and turns.

G1, docs/theory.md. Every place of a regular helix is every other one, turned about the axis and
raised: so whatever is true of a car at one place is true of it everywhere. A line as built has a
railhead of its own at every bracket, and may leave the circle for a straight lead at either end.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["Line", "Points", "Screw", "station_angle_deg", "station_turn"]

Floats = NDArray[np.float64]

_ACUTE_RAD = 1.5
_EVEN_MM = 1e-6  # of climb for each radian: what sums of heights leave
_MOST_CELLS = 1 << 16  # of a table of the knots; what is closer together than that is searched for
_NEAR_RAD = 2.0  # no car reaches so far round
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


class Points(NamedTuple):
    """Points of the centreline at places of any shape (...).

    Attributes
    ----------
    at_mm
        In plan from the axis, in the direction of a reference angle and square to it, uphill; and
        the elevation of the railhead: shape (3, ...). [mm]
    run_mm
        What these three gain for each radian of place, shape (3, ...). [mm/rad]
    """

    at_mm: Floats
    run_mm: Floats


@dataclass(frozen=True, eq=False)
class Line:
    """The centreline of one track as built, climbing counterclockwise.

    A place on it is one number, in radians: on the circle the angle theta, on a straight lead the
    angle goes on as length of track over the radius.

    Attributes
    ----------
    radius_mm
        Centreline radius of the curve. [mm]
    knots_rad, railhead_mm
        Where the railhead is known, rising, and how high it is, shape (k,), k >= 2. Between it is
        straight; beyond the outermost the last slope carries on.
    start_rad, end_rad
        From where to where there is track, leads included.
    curve_rad
        From where to where it curves; -inf and inf where it leaves no curve for a straight lead.
    roll_rad
        How far cant leans the curve towards the axis. [rad]
    """

    radius_mm: float
    knots_rad: Floats
    railhead_mm: Floats
    start_rad: float
    end_rad: float
    curve_rad: tuple[float, float] = (-math.inf, math.inf)
    roll_rad: float = 0.0

    @cached_property
    def has_straight(self) -> bool:
        """Whether a straight lead leaves the curve at either end."""
        return any(map(math.isfinite, self.curve_rad))

    @cached_property
    def is_even(self) -> bool:
        """Whether it curves and climbs evenly from end to end: every place is like every other."""
        return not self.has_straight and bool(np.ptp(self.slope_mm) < _EVEN_MM)

    @cached_property
    def slope_mm(self) -> Floats:
        """Climb between each knot and the next, shape (k - 1,). [mm/rad]"""
        return np.asarray(np.diff(self.railhead_mm) / np.diff(self.knots_rad))

    @cached_property
    def mean_climb_mm(self) -> float:
        """Climb over all knots. [mm/rad]"""
        climb = self.railhead_mm[-1] - self.railhead_mm[0]
        return float(climb / (self.knots_rad[-1] - self.knots_rad[0]))

    def on_curve(self, place_rad: Floats) -> Floats:
        """The places, those on a straight lead moved to where it leaves the curve. [rad]"""
        low, high = self.curve_rad
        return np.minimum(np.maximum(place_rad, low), high)

    def piece(self, place_rad: Floats) -> NDArray[np.intp]:
        """The number of the straight piece on which each place lies."""
        knots, first, step, number = self._cells
        if not len(number):
            return np.searchsorted(knots, place_rad, side="right")
        cell = np.fmin(np.fmax((place_rad - first) / step, 0), len(number) - 1)
        piece = number[cell.astype(np.intp)]
        # A cell holds one knot at the most, so the piece is this one or the next.
        piece += place_rad >= knots[piece]
        return np.asarray(piece)

    @cached_property
    def _cells(self) -> tuple[Floats, float, float, NDArray[np.intp]]:
        inner = self.knots_rad[1:-1]
        if not len(inner):
            return np.array([np.inf]), 0.0, 1.0, np.zeros(1, np.intp)
        step = float(np.diff(inner).min()) / 2 if len(inner) > 1 else 1.0
        cells = int((inner[-1] - inner[0]) / step) + 2
        if cells > _MOST_CELLS:
            return inner, 0.0, 1.0, np.zeros(0, np.intp)
        first = float(inner[0]) - step / 2
        starts = first + step * np.arange(cells)
        number = np.searchsorted(inner, starts, side="right")
        number[0] = 0
        return np.append(inner, np.inf), first, step, number

    def height_mm(self, place_rad: Floats) -> Floats:
        """Elevation of the railhead. [mm]"""
        return self._height_and_climb(place_rad)[0]

    def straight_mm(self, piece: NDArray[np.intp], place_rad: Floats) -> Floats:
        """How high the straight lines go on that the line has on some of its pieces. [mm]"""
        return np.asarray(self._level_mm[piece] + self.slope_mm[piece] * place_rad)

    @cached_property
    def _level_mm(self) -> Floats:
        """What each piece's straight line would have at place 0. [mm]"""
        return np.asarray(self.railhead_mm[:-1] - self.slope_mm * self.knots_rad[:-1])

    def points(self, place_rad: Floats, reference_rad: Floats) -> Points:
        """The points of the centreline at some places.

        Parameters
        ----------
        place_rad
            The places, any shape.
        reference_rad
            The plan angle from which the coordinates count, broadcast against it.
        """
        radius = self.radius_mm
        curved = self.on_curve(place_rad) if self.has_straight else place_rad
        angle = curved - reference_rad
        at, run = np.empty((3, *place_rad.shape)), np.empty((3, *place_rad.shape))
        sine = np.sin(angle)
        # A root is quicker than a cosine, and as good short of a right angle.
        acute = np.abs(angle).max(initial=0.0) < _ACUTE_RAD
        cosine = np.sqrt(1 - sine * sine) if acute else np.cos(angle)
        np.multiply(radius, cosine, out=at[0])
        np.multiply(radius, sine, out=at[1])
        run[1] = at[0]
        np.negative(at[1], out=run[0])
        if self.has_straight:
            at[:2] += (place_rad - curved) * run[:2]
        at[2], run[2] = self._height_and_climb(place_rad)
        return Points(at, run)

    def nudged(self, points: Points, place_rad: Floats, by_rad: Floats) -> Points:
        """The same points, moved on by so little that their way there is straight: in place."""
        at, run = points
        at[:2] += by_rad * run[:2]
        at[2], run[2] = self._height_and_climb(place_rad)
        return points

    def _height_and_climb(self, place_rad: Floats) -> tuple[Floats, Floats]:
        piece = self.piece(place_rad)
        climb = self.slope_mm[piece]
        return self._level_mm[piece] + climb * place_rad, climb

    def roll_at(self, place_rad: Floats) -> Floats:
        """Lean of the track: cant is a matter of the curve. [rad]"""
        low, high = self.curve_rad
        on_curve = (place_rad >= low) & (place_rad <= high)
        return np.where(on_curve, self.roll_rad, 0.0)

    def locate(
        self, out_mm: Floats, along_mm: Floats, reference_rad: Floats
    ) -> tuple[Floats, Floats]:
        """The place abreast of points of plan, and how far out of the centreline they lie.

        Parameters
        ----------
        out_mm, along_mm, reference_rad
            As `points` gives them. The reference is a plan angle of the curve (its end for what is
            on a lead), the points are within half a turn of it.

        Returns
        -------
        tuple
            Places [rad] and offsets, outward positive [mm].
        """
        reference = np.broadcast_to(reference_rad, np.shape(out_mm))
        place = reference + np.arctan2(along_mm, out_mm)
        offset = np.hypot(out_mm, along_mm) - self.radius_mm
        for bend, sign in zip(self.curve_rad, (-1.0, 1.0), strict=True):
            if not math.isfinite(bend):
                continue
            angle = bend - reference
            cosine, sine = np.cos(angle), np.sin(angle)
            beyond = along_mm * cosine - out_mm * sine
            outwards = out_mm * cosine + along_mm * sine
            # The other half of the circle is beyond the bend as well, and so are other turns.
            straight = (sign * beyond > 0) & (outwards > 0) & (sign * angle < _NEAR_RAD)
            place = np.where(straight, bend + beyond / self.radius_mm, place)
            offset = np.where(straight, outwards - self.radius_mm, offset)
        return place, offset


def station_turn(station: float, brackets_per_turn: int) -> int:
    """The turn on which a station lies, counted from 1 at the foot (0 and less: below it)."""
    return 1 + math.floor(station / brackets_per_turn + _STATION_NOISE)


def station_angle_deg(station: float, brackets_per_turn: int) -> float:
    """The angle of a station within its turn, from station 0, uphill. [degrees, 0 to 360]"""
    angle_deg = 360.0 * station / brackets_per_turn % 360.0
    return 0.0 if 360.0 - angle_deg < 360.0 * _STATION_NOISE else angle_deg
