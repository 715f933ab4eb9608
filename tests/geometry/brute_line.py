"""Where does the track lie? The slow drive's own line: circle, straight leads, railhead, cant (G1).

Part of `tests.geometry.brute_force`, which says what it is for. A `BruteLine` is what one track's
railhead is by station; a `BruteWay` is that line on one track's circle, with its straight leads.

Every place has a parameter t: its angle on the curve; on a straight lead t goes on with the length,
one radian for every radius. Without a straight lead at an end the circle goes on beyond it.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "FULL_TURN",
    "Array",
    "BruteLead",
    "BruteLine",
    "BruteTrack",
    "BruteWay",
    "Climbs",
    "Ints",
    "unit",
]

Array = NDArray[np.float64]
Ints = NDArray[np.intp]
Climbs = Literal["counterclockwise", "clockwise"]

FULL_TURN = 2 * math.pi


@dataclass(frozen=True)
class BruteTrack:
    """One track: its centreline circle and how the rails are canted (G1)."""

    radius_mm: float
    cant_mm: float = 0.0
    gauge_mm: float = 45.0
    climbs: Climbs = "counterclockwise"

    @property
    def turning(self) -> float:
        """+1 where theta grows counterclockwise seen from above, -1 where clockwise."""
        return 1.0 if self.climbs == "counterclockwise" else -1.0

    @property
    def roll_rad(self) -> float:
        """How far the cross-section leans inward (G1)."""
        return math.asin(self.cant_mm / self.gauge_mm)


@dataclass(frozen=True)
class BruteLead:
    """Straight track that leaves tangent to the helix. Its grade is positive where the way up the
    helix climbs it: towards the helix at the foot, away from it at the head.
    """

    length_mm: float
    grade: float


@dataclass(frozen=True, eq=False)
class BruteLine:
    """The railhead by station, straight between known stations and beyond the outermost (G1).

    `first_station` and `last_station` are the ends of the curve; `foot` and `head` are the straight
    leads that begin there, or None where the circle goes on.
    """

    brackets_per_turn: int
    first_station: float
    last_station: float
    stations: tuple[float, ...]
    railhead_mm: tuple[float, ...]
    foot: BruteLead | None = None
    head: BruteLead | None = None

    @classmethod
    def regular(
        cls,
        rise_per_turn_mm: float,
        brackets_per_turn: int,
        last_station: float,
        first_station: float = 0.0,
    ) -> "BruteLine":
        """A helix that climbs evenly from station 0."""
        return cls(
            brackets_per_turn,
            first_station,
            last_station,
            (0.0, float(brackets_per_turn)),
            (0.0, rise_per_turn_mm),
        )

    @cached_property
    def knots_rad(self) -> Array:
        """Where the railhead is known. [rad]"""
        return np.array([self.theta(station) for station in self.stations])

    @cached_property
    def slopes(self) -> Array:
        """Climb from each known station to the next. [mm/rad]"""
        return np.diff(self.railhead_mm) / np.diff(self.knots_rad)

    def theta(self, station: float) -> float:
        """Angle of a station. [rad]"""
        return FULL_TURN * station / self.brackets_per_turn

    def slope(self, theta: Array) -> Array:
        """Climb at any angle of the curve. [mm/rad]"""
        return np.asarray(self.slopes[np.searchsorted(self.knots_rad[1:-1], theta, side="right")])

    def z(self, theta: Array) -> Array:
        """Railhead elevation at any angle of the curve, the circle carried on. [mm]"""
        piece = np.searchsorted(self.knots_rad[1:-1], theta, side="right")
        known = np.array(self.railhead_mm)
        return np.asarray(known[piece] + self.slopes[piece] * (theta - self.knots_rad[piece]))


class BruteWay:
    """A line on a track: where it lies in space, with its straight leads."""

    def __init__(self, line: BruteLine, track: BruteTrack) -> None:
        self.line, self.track = line, track
        R = track.radius_mm
        first, last = line.theta(line.first_station), line.theta(line.last_station)
        self.first, self.last = first, last
        """Ends of the curve. [rad]"""
        self.t0 = first if line.foot else -math.inf
        self.t1 = last if line.head else math.inf
        """The junctions with straight leads, or infinitely far. [rad]"""
        self.start = first - (line.foot.length_mm / R if line.foot else 0.0)
        self.end = last + (line.head.length_mm / R if line.head else 0.0)
        """Ends of the whole line, t. [rad]"""
        self.junctions = tuple(t for t in (self.t0, self.t1) if math.isfinite(t))

        known = line.knots_rad[(line.knots_rad > self.t0) & (line.knots_rad < self.t1)]
        knots = np.unique(np.concatenate([known, [first, last]]))
        slopes = line.slope((knots[:-1] + knots[1:]) / 2)
        slopes = np.concatenate([slopes[:1], slopes, slopes[-1:]])
        if line.foot:
            slopes[0] = line.foot.grade * R
        if line.head:
            slopes[-1] = line.head.grade * R
        changes = np.abs(np.diff(slopes)) > 1e-12 * np.abs(slopes).max()
        changes |= np.isin(knots, self.junctions)
        self.breaks = knots[changes]
        """Where the grade may change, junctions among them: t. [rad]"""
        self.slopes = slopes[np.append(True, changes)]
        """Climb before, between and after the breaks. [mm/rad]"""
        self._anchors = np.append(knots[:1], self.breaks)
        self._anchors_mm = line.z(self._anchors)

    @property
    def R(self) -> float:  # noqa: N802 (the symbol of docs/theory.md)
        """Centreline radius. [mm]"""
        return self.track.radius_mm

    def station(self, t: float) -> float:
        """A place as a station."""
        return t * self.line.brackets_per_turn / FULL_TURN

    def stretch(self, t: Array) -> Ints:
        """On which straight stretch of grade a place lies."""
        return np.searchsorted(self.breaks, t, side="right")

    def z(self, t: Array) -> Array:
        """Railhead elevation. [mm]"""
        piece = self.stretch(t)
        slope = self.slopes[piece]
        return np.asarray(self._anchors_mm[piece] + slope * (t - self._anchors[piece]))

    def point(self, t: Array) -> Array:
        """Where the centreline is, at railhead: (3, n). [mm]"""
        R, turning = self.R, self.track.turning
        on_curve = np.clip(t, self.t0, self.t1)
        beyond = R * (t - on_curve)
        cos, sin = np.cos(on_curve), np.sin(on_curve)
        return np.stack([R * cos - beyond * sin, turning * (R * sin + beyond * cos), self.z(t)])

    def roll(self, t: Array) -> Array:
        """How far the cross-section leans inward: not at all on a straight lead. [rad]"""
        return np.where((t >= self.t0) & (t <= self.t1), self.track.roll_rad, 0.0)

    def bearing(self, t: Array) -> Array:
        """Angle at which a place is seen from the helix axis, going on over the turns. [rad]"""
        on_curve = np.clip(t, self.t0, self.t1)
        return np.asarray(on_curve + np.arctan(t - on_curve))

    def bearings(self, points: Array, near: Array) -> Array:
        """Angle of points (n, ..., 3) seen from the axis, within half a turn of the track's at
        `near` (n,), a t. [rad]"""
        near = self.bearing(near).reshape(-1, *[1] * (points.ndim - 2))
        turning = self.track.turning
        along, across = np.cos(near), turning * np.sin(near)
        px, py = points[..., 0], points[..., 1]
        return np.asarray(
            near + np.arctan2(turning * (along * py - across * px), along * px + across * py)
        )

    def places(self, points: Array, near: Array) -> Array:
        """The t of the place that points (n, ..., 3) are abreast of: their angle on the curve,
        their distance along a lead. [rad]"""
        bearing = self.bearings(points, near)
        place = bearing
        for junction, beyond in ((self.t0, bearing < self.t0), (self.t1, bearing > self.t1)):
            if beyond.any():
                along = self.along(points, junction)
                place = np.where(beyond, junction + along / self.R, place)
        return place

    def along(self, points: Array, t: float | Array) -> Array:
        """How far points are beyond the radial line at angle t, uphill, square to it. [mm]"""
        turning = self.track.turning
        return np.asarray(points[..., 1] * turning * np.cos(t) - points[..., 0] * np.sin(t))

    def out(self, points: Array, t: float | Array) -> Array:
        """How far points are from the axis along the radial direction at angle t. [mm]"""
        turning = self.track.turning
        return np.asarray(points[..., 0] * np.cos(t) + points[..., 1] * turning * np.sin(t))

    def radii(self, points: Array, near: Array) -> Array:
        """R and the points' sideways offset from the line: their distance from the axis on the
        curve, from the parallel to a lead beside it (G5). [mm]"""
        radius = np.hypot(points[..., 0], points[..., 1])
        if not self.junctions:
            return radius
        bearing = self.bearings(points, near)
        for junction, beyond in ((self.t0, bearing < self.t0), (self.t1, bearing > self.t1)):
            if beyond.any():
                radius = np.where(beyond, self.out(points, junction), radius)
        return radius

    def slopes_between(self, low: Array, high: Array) -> tuple[Array, Array]:
        """Least and greatest climb anywhere from `low` to `high`, element by element. [mm/rad]"""
        starts = np.append(-np.inf, self.breaks)
        ends = np.append(self.breaks, np.inf)
        met = (starts <= high[:, None]) & (ends >= low[:, None])
        return (
            np.where(met, self.slopes, np.inf).min(axis=1),
            np.where(met, self.slopes, -np.inf).max(axis=1),
        )

    def turns_into_straight(self, low: Array, high: Array) -> Array:
        """Whether a junction with a straight lead lies from `low` to `high`."""
        met = np.zeros(len(low), dtype=bool)
        for junction in self.junctions:
            met |= (low <= junction) & (high >= junction)
        return met


def unit(vectors: Array) -> Array:
    """Each vector (..., k) at length 1."""
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True))
