"""Where a vehicle stands when a corner of it passes a side of a strip across the track.

G4, docs/theory.md. There the way in which a body is under an underside, or abreast of an obstacle,
changes: these are the ends of pieces within which all is smooth.

A strip square to a straight lead may lie *aslant* over the tier beneath: that track curves away
under it at any angle, and abreast of the axis it has turned away for good, where the strip counts
no further. So a body passes a side of it late or never, and may leave it past its end. On a circle
each such position has a closed form, for moving a body on is turning it about the axis; taken again
where the body then stands, it holds on any line.
"""

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes, Footing
from clearance.geometry.line import Line
from clearance.geometry.rig import Pose, Rig, settle
from clearance.geometry.undersides import (
    Axes,
    Edges,
    Undersides,
    edge_lines,
    roof_corners,
    roof_edges,
)

__all__ = [
    "PASSING_STEPS",
    "Corners",
    "edges_matter_across",
    "is_aslant",
    "miss_rad",
    "passing_aslant_rad",
    "passing_rad",
    "passing_roof_rad",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Turn = Callable[[Axes], Floats]  # how far round the axis vehicles are from an event, from 0

PASSING_STEPS = 8
"""To find such a position: each leaves less than a third of what it found, mostly a tenth."""

_LEAST_SHARE = 0.1  # of the radius: a corner abreast of the axis goes on along the track no more
_APART_RAD = 1e-9  # what is square to the track is no further from the place that it crosses
_THERE_RAD = 1e-8


class Corners(NamedTuple):
    """p points of bodies: whose, and how far forward of the frame's middle, to the left, and high.

    Shape (p,) each. [mm]
    """

    vehicle: Indices
    x_mm: Floats
    y_mm: Floats
    h_mm: Floats

    def take(self, index: Indices) -> "Corners":
        """The corners at ``index``."""
        return Corners._make(figures[index] for figures in self)

    def at(self, axes: Axes) -> Floats:
        """Where they are in space, one a pose, shape (3, p)."""
        middle, forward, left, up = axes
        return np.asarray(middle + self.x_mm * forward + self.y_mm * left + self.h_mm * up)


def miss_rad(
    line: Line, pose: Pose, frame: int, corners: Corners, undersides: Undersides, side_mm: Floats
) -> tuple[Floats, Floats]:
    """How far corners are beyond a side of their strips, uphill, one to one, in as many poses.

    Returns
    -------
    tuple
        In length [mm], and what the vehicle's place has to go back by for it, or nearly [rad].
    """
    out, along, _ = corners.at(Axes.of(pose, frame))
    turn = undersides.plan_rad - pose.reference_rad
    cosine, sine = np.cos(turn), np.sin(turn)
    beyond = along * cosine - out * sine - undersides.along_mm - side_mm
    # What turns about the axis goes along the track as fast as it is far out.
    least, most = _LEAST_SHARE * line.radius_mm, line.radius_mm
    return beyond, beyond / np.clip(out * cosine + along * sine, least, most)


def passing_rad(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    corners: Corners,
    undersides: Undersides,
    side_mm: Floats,
    near_mm: float,
) -> Floats:
    """Where the first axle stands when corners pass a side of their strips.

    Parameters
    ----------
    line, rig, foot
        The track, the running gear of n vehicles, and how it stands on the nearest regular helix.
    frame, corners
        The frame, and p corners of what it carries.
    undersides, side_mm
        Which strip for each, and how far uphill of its centre line, shape (p,). [mm]
    near_mm
        What is no further from there is at it, once it was moved there. [mm]

    Returns
    -------
    ndarray
        Shape (p,). [rad]
    """
    out, along, _ = corners.at(Axes.of(foot.pose.take(corners.vehicle), frame))
    place = undersides.place_rad + side_mm / line.radius_mm - np.arctan2(along, out)
    left = np.arange(len(place))
    for _ in range(PASSING_STEPS):
        some = corners.take(left)
        pose = settle(line, rig, some.vehicle, 0, place[left], foot.ahead_rad)
        beyond, back = miss_rad(line, pose, frame, some, undersides.take(left), side_mm[left])
        place[left] -= back
        left = left[np.abs(beyond) > near_mm]
        if not len(left):
            break
    return np.asarray(place)


def passing_roof_rad(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    undersides: Undersides,
    near_mm: float,
) -> Floats:
    """Where the first axle stands when a corner of a roof passes a side of a strip.

    ``undersides`` are one for each of p ``boxes``; the rest is as for `passing_rad`, but that the
    result is of shape (8, p), rising.
    """
    count = len(boxes.vehicle)
    half = undersides.width_mm / 2
    x, y = (np.repeat(figures, 2, axis=0).ravel() for figures in roof_corners(boxes))
    side = np.tile(np.concatenate([-half, half]), 4)
    every = np.tile(np.arange(count), 8)
    corners = Corners(boxes.vehicle[every], x, y, boxes.top_mm[every])
    place = passing_rad(line, rig, foot, frame, corners, undersides.take(every), side, near_mm)
    return np.sort(place.reshape(8, count), axis=0)


def is_aslant(line: Line, undersides: Undersides) -> NDArray[np.bool_]:
    """Which undersides are square to a straight lead, but over the curve beneath, shape (k,)."""
    on_lead = undersides.plan_rad + undersides.along_mm / line.radius_mm
    apart = np.abs(undersides.place_rad - on_lead) > _APART_RAD
    return np.asarray(apart & (undersides.along_mm != 0))


def edges_matter_across(line: Line, undersides: Undersides) -> bool:
    """Whether edges across a body matter: a level one is no higher than its ends, but of that one
    alone a part may be under a strip that lies aslant."""
    return bool(line.roll_rad) or bool(is_aslant(line, undersides).any())


def passing_aslant_rad(
    line: Line, rig: Rig, foot: Footing, frame: int, boxes: Boxes, undersides: Undersides
) -> Floats:
    """The same as `passing_roof_rad` for strips that lie aslant; and where an edge of the roof
    passes the end of a strip's side.

    The result is of shape (24, p). What never happens stands anywhere among the rest.
    """
    half = undersides.width_mm / 2
    turns: list[Turn] = []
    for beyond_mm in (undersides.along_mm - half, undersides.along_mm + half):
        for x, y in zip(*roof_corners(boxes), strict=True):
            corners = Corners(boxes.vehicle, x, y, boxes.top_mm)
            turns.append(_corner_to_side(corners, beyond_mm))
        for edges in roof_edges(boxes, across=True):
            turns += [_edge_to_end(edges, beyond_mm, way) for way in (-1.0, 1.0)]

    def place_rad(turn: Turn) -> Floats:
        place = undersides.place_rad
        for _ in range(PASSING_STEPS):
            pose = settle(line, rig, boxes.vehicle, 0, place, foot.ahead_rad)
            miss = undersides.plan_rad - pose.reference_rad + turn(Axes.of(pose, frame))
            miss -= 2 * math.pi * np.round(miss / (2 * math.pi))
            place = place + miss
            if not (np.abs(miss) > _THERE_RAD).any():
                break
        return place

    return np.sort([place_rad(turn) for turn in turns], axis=0)


def _corner_to_side(corners: Corners, beyond_mm: Floats) -> Turn:
    def turn(axes: Axes) -> Floats:
        out, along, _ = corners.at(axes)
        # One too near to the axis for the side leaves the strip past its end.
        share = np.clip(beyond_mm / np.hypot(out, along), -1.0, 1.0)
        return np.asarray(np.arcsin(share) - np.arctan2(along, out))

    return turn


def _edge_to_end(edges: Edges, beyond_mm: Floats, way: float) -> Turn:
    def turn(axes: Axes) -> Floats:
        start, run = edge_lines(edges, axes)
        # How far the edge's line is from the axis, and in which direction.
        away = (start[0] * run[1] - start[1] * run[0]) / np.hypot(run[0], run[1])
        direction = np.arctan2(-run[0], run[1])
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.nan_to_num(away / np.abs(beyond_mm))
        across = way * np.arccos(np.clip(share, -1.0, 1.0))
        return np.asarray(np.copysign(math.pi / 2, beyond_mm) - direction - across)

    return turn
