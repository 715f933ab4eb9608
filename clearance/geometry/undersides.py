"""Level undersides over a line, the upper edges that meet them, and how high an edge stands there.

G4, docs/theory.md. An underside is a strip of level ceiling: `width` along the track, and across it
without end, but for the far side of the axis.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes
from clearance.geometry.rig import Pose

__all__ = [
    "TOUCHING_MM",
    "Axes",
    "Crossing",
    "Edges",
    "Undersides",
    "edge_heights_mm",
    "edge_lines",
    "roof_corners",
    "roof_edges",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

TOUCHING_MM = 0.05
"""What is beside a strip by no more counts as under it: on any grade, a hair in height. [mm]"""


class Undersides(NamedTuple):
    """k level undersides.

    Attributes
    ----------
    place_rad
        Where the track passes beneath their centre lines, shape (k,).
    plan_rad
        The plan angle at right angles to which the sides of the strip run, shape (k,).
    along_mm
        How far the centre line lies ahead of the axis, along the track there: 0 on the curve,
        where centre lines are radial, shape (k,). [mm]
    elevation_mm, width_mm
        Shape (k,). [mm]
    """

    place_rad: Floats
    plan_rad: Floats
    along_mm: Floats
    elevation_mm: Floats
    width_mm: Floats

    def take(self, index: Indices) -> "Undersides":
        """The undersides at ``index``."""
        return Undersides._make(figures[index] for figures in self)


class Edges(NamedTuple):
    """Upper edges of blocks on one frame, shape (e,) each.

    Attributes
    ----------
    vehicle
        Whose each is.
    from_mm, to_mm
        Its two ends: forward from the frame's middle; of an edge across, to the left. [mm]
    beside_mm
        Where it runs: how far to the left; of an edge across, how far forward. [mm]
    h_mm
        Its height. [mm]
    across
        Whether it runs across the body.
    """

    vehicle: Indices
    from_mm: Floats
    to_mm: Floats
    beside_mm: Floats
    h_mm: Floats
    across: NDArray[np.bool_]

    def take(self, index: Indices | slice) -> "Edges":
        """The edges at ``index``."""
        return Edges._make(figures[index] for figures in self)


class Axes(NamedTuple):
    """A frame in space, one a pose: its middle, and its axes forward, left and up, (3, p) each."""

    middle_mm: Floats
    forward: Floats
    left: Floats
    up: Floats

    @classmethod
    def of(cls, pose: Pose, frame: int) -> "Axes":
        """Of a frame in its poses."""
        return cls(pose.middle_mm[frame], pose.forward[frame], *pose.axes(frame))


def edge_lines(edges: Edges, axes: Axes) -> tuple[Floats, Floats]:
    """Where edges are in space, one a pose: the point at 0 of each, and its way, (3, e) each."""
    middle, forward, left, up = axes
    start = middle + edges.h_mm * up
    if not edges.across.any():
        return start + edges.beside_mm * left, forward
    start += edges.beside_mm * np.where(edges.across, forward, left)
    return start, np.where(edges.across, left, forward)


class Crossing(NamedTuple):
    """What of an edge is under a strip. Arrays of one shape.

    Attributes
    ----------
    high_mm, low_mm
        Elevation of the edge under the strip's uphill and under its downhill side, or at the edge's
        own end where that lies between. [mm] -inf: none of it is under the strip.
    to_mm, from_mm
        How far the edge's two ends lie beyond the strip's centre line, uphill. [mm]
    """

    high_mm: Floats
    low_mm: Floats
    to_mm: Floats
    from_mm: Floats


def edge_heights_mm(
    pose: Pose, frame: int, edges: Edges, undersides: Undersides, axes: Axes | None = None
) -> Crossing:
    """Where n edges stand under n strips, one to one, in n poses; ``axes`` are the frame's."""
    start, run = edge_lines(edges, axes or Axes.of(pose, frame))
    turn = undersides.plan_rad - pose.reference_rad
    cosine, sine = np.cos(turn), np.sin(turn)
    along = start[1] * cosine - start[0] * sine - undersides.along_mm
    gain = run[1] * cosine - run[0] * sine
    half = undersides.width_mm / 2
    # A radial strip has nothing of the body near the axis, nor beyond it.
    ends = undersides.along_mm != 0
    heights = []
    for side in (half, -half):
        with np.errstate(divide="ignore", invalid="ignore"):
            at = np.fmin(np.fmax((side - along) / gain, edges.from_mm), edges.to_mm)
        there = np.abs(along + at * gain) <= half + TOUCHING_MM
        if ends.any():
            out = start[0] * cosine + start[1] * sine + at * (run[0] * cosine + run[1] * sine)
            there &= ~ends | (out > -TOUCHING_MM)
        heights.append(np.where(there, start[2] + at * run[2], -np.inf))
    high, low = heights
    return Crossing(high, low, along + edges.to_mm * gain, along + edges.from_mm * gain)


def roof_edges(boxes: Boxes, *, across: bool) -> list[Edges]:
    """The upper edges of blocks: the left and the right long one, then the rear and the front one.

    Those across the body matter where it rolls: level, they are no higher than their ends, and
    these are ends of the long edges. Each of the two or four is of all blocks.
    """
    rear, front = boxes.x_rear_mm, boxes.x_front_mm
    left, right = boxes.left_mm, -boxes.right_mm
    long = np.zeros(len(rear), bool)
    found = [Edges(boxes.vehicle, rear, front, y, boxes.top_mm, long) for y in (left, right)]
    if across:
        found += [Edges(boxes.vehicle, right, left, x, boxes.top_mm, ~long) for x in (rear, front)]
    return found


def roof_corners(boxes: Boxes) -> tuple[Floats, Floats]:
    """x and y of the four upper corners of blocks, shape (4, m) each."""
    rear, front = boxes.x_rear_mm, boxes.x_front_mm
    left, right = boxes.left_mm, -boxes.right_mm
    return np.array([rear, rear, front, front]), np.array([left, right, left, right])
