"""Level undersides over a line, the upper edges that meet them, and how high an edge stands there.

G4, docs/theory.md. An underside is a strip of level ceiling: `width` along the track, without end
across it.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes
from clearance.geometry.rig import Pose

__all__ = ["Crossing", "Edges", "Undersides", "edge_heights_mm", "upper_edges"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


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
        return Undersides(*(figures[index] for figures in self))


class Edges(NamedTuple):
    """Long edges of blocks on one frame: e of them, two a block. [mm]

    ``vehicle`` says whose each is; x counts forward from the frame's middle, y to the left, h up.
    """

    vehicle: Indices
    x_rear_mm: Floats
    x_front_mm: Floats
    y_mm: Floats
    h_mm: Floats

    def take(self, index: Indices | slice) -> "Edges":
        """The edges at ``index``."""
        return Edges(*(figures[index] for figures in self))


def upper_edges(boxes: Boxes) -> Edges:
    """The two upper long edges of every block, a block's own next to each other."""
    twice = np.repeat(np.arange(len(boxes.vehicle)), 2)
    y = np.ravel(np.column_stack([boxes.left_mm, -boxes.right_mm]))
    return Edges(
        boxes.vehicle[twice],
        boxes.x_rear_mm[twice],
        boxes.x_front_mm[twice],
        y,
        boxes.top_mm[twice],
    )


class Crossing(NamedTuple):
    """What of an edge is under a strip. Arrays of one shape.

    Attributes
    ----------
    high_mm, low_mm
        Elevation of the edge at the strip's uphill and at its downhill side, or at the edge's own
        end where that lies between. [mm]
    front_mm, rear_mm
        How far the edge's front and rear end lie beyond the strip's centre line, uphill. [mm]
    """

    high_mm: Floats
    low_mm: Floats
    front_mm: Floats
    rear_mm: Floats


def edge_heights_mm(pose: Pose, frame: int, edges: Edges, undersides: Undersides) -> Crossing:
    """Where n edges stand under n strips, one to one, in n poses."""
    left, up = pose.axes(frame)
    start = pose.middle_mm[frame] + edges.y_mm * left + edges.h_mm * up
    forward = pose.forward[frame]
    turn = undersides.plan_rad - pose.reference_rad
    cosine, sine = np.cos(turn), np.sin(turn)
    along = start[1] * cosine - start[0] * sine - undersides.along_mm
    gain = forward[1] * cosine - forward[0] * sine
    half = undersides.width_mm / 2
    uphill = np.minimum(np.maximum((half - along) / gain, edges.x_rear_mm), edges.x_front_mm)
    downhill = np.minimum(np.maximum((-half - along) / gain, edges.x_rear_mm), edges.x_front_mm)
    return Crossing(
        start[2] + uphill * forward[2],
        start[2] + downhill * forward[2],
        along + edges.x_front_mm * gain,
        along + edges.x_rear_mm * gain,
    )
