"""The boxes that a frame carries, and the poses on a regular helix that other poses are near to.

G3, docs/theory.md. A frame's height over the track is a weighted mean of the railheads under its
axles: which weights, says `Weights`.
"""

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.line import Line
from clearance.geometry.rig import Pose, Rig, regular_line, settle

__all__ = ["Boxes", "Footing", "Weights", "footing", "frame_weights"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


_SPAN_STEPS = 4  # each leaves less than a fifth of what it found


class Boxes(NamedTuple):
    """m blocks carried by one frame of n vehicles; x counts forward from the frame's middle.

    Attributes
    ----------
    vehicle
        Whose each is, rising, shape (m,).
    x_rear_mm, x_front_mm, left_mm, right_mm, bottom_mm, top_mm
        Shape (m,). [mm]
    """

    vehicle: Indices
    x_rear_mm: Floats
    x_front_mm: Floats
    left_mm: Floats
    right_mm: Floats
    bottom_mm: Floats
    top_mm: Floats

    def take(self, index: Indices | slice) -> "Boxes":
        """The blocks at ``index``."""
        return Boxes._make(figures[index] for figures in self)


class Weights(NamedTuple):
    """Elevation of a frame's base line: (mid + x slope) times the railheads under the axles.

    Attributes
    ----------
    mid
        Shape (axles, n).
    slope
        Shape (axles, n). [1/mm]
    """

    mid: Floats
    slope: Floats


def frame_weights(rig: Rig) -> list[Weights]:
    """The weights of every frame of a rig."""
    found: list[Weights] = []
    for frame, (rear_on, front_on) in enumerate(rig.chassis.rests):
        ends = []
        for on, at_mm in ((rear_on, rig.rear_mm[frame]), (front_on, rig.front_mm[frame])):
            if on >= 0:
                weight = np.zeros_like(rig.axle_mm)
                weight[on] = 1.0
            else:
                below = found[-1 - on]
                weight = below.mid + (at_mm - rig.middle_mm[-1 - on]) * below.slope
            ends.append(weight)
        rear, front = ends
        length = rig.front_mm[frame] - rig.rear_mm[frame]
        found.append(Weights((rear + front) / 2, (front - rear) / length))
    return found


class Footing(NamedTuple):
    """How n vehicles stand on the regular helix nearest to a line, their first axle at place 0.

    Attributes
    ----------
    pose
        One pose a vehicle; nan: it cannot stand on this radius.
    weights
        Of every frame.
    span_rad
        From where to where the first axle may stand for any part of the vehicle to be on the line,
        shape (2, n).
    """

    pose: Pose
    weights: list[Weights]
    span_rad: Floats

    @property
    def ahead_rad(self) -> Floats:
        """How far each axle is ahead of the first, shape (axles, n)."""
        return self.pose.axle_rad

    @property
    def stands(self) -> NDArray[np.bool_]:
        """Which vehicles can stand on this curve at all, shape (n,)."""
        return np.asarray(~np.isnan(self.ahead_rad).any(axis=0))


def footing(line: Line, rig: Rig, loads: Sequence[tuple[int, Boxes]] = ()) -> Footing:
    """Stand vehicles on the regular helix nearest to a line.

    Parameters
    ----------
    line, rig
        The track, and n vehicles.
    loads
        Frames, and the blocks on them: what of a vehicle may be on the line or not.
    """
    everybody = np.arange(len(rig))
    pose = settle(regular_line(line), rig, everybody, 0, np.zeros(len(rig)))
    span = np.empty((2, len(rig)))
    for row, (end, furthest) in enumerate(((line.start_rad, np.fmax), (line.end_rad, np.fmin))):
        place = end - _furthest(line, pose, loads, furthest)
        # There the vehicle stands in another way than on the helix.
        for _ in range((_SPAN_STEPS if line.has_straight else 1) if loads else 0):
            there = settle(line, rig, everybody, 0, place, pose.axle_rad)
            place = place + end - _furthest(line, there, loads, furthest)
        span[row] = place
    return Footing(pose, frame_weights(rig), span)


def _furthest(
    line: Line, pose: Pose, loads: Sequence[tuple[int, Boxes]], furthest: np.ufunc
) -> Floats:
    """The place of the foremost, or of the rearmost, corner of each vehicle; nan: it has none."""
    best = np.full(pose.reference_rad.shape, np.nan)
    for frame, boxes in loads:
        left, up = pose.axes(frame)
        forward, middle = pose.forward[frame], pose.middle_mm[frame]
        whose = boxes.vehicle
        x = boxes.x_front_mm if furthest is np.fmax else boxes.x_rear_mm
        corners = product((boxes.left_mm, -boxes.right_mm), (boxes.bottom_mm, boxes.top_mm))
        if not line.has_straight:
            # On the curve the inner side is ahead of the outer one.
            corners = product((boxes.left_mm,), (boxes.bottom_mm, boxes.top_mm))
        for y, height in corners:
            corner = middle[:, whose] + x * forward[:, whose]
            corner = corner + y * left[:, whose] + height * up[:, whose]
            place, _ = line.locate(corner[0], corner[1], pose.reference_rad[whose])
            furthest.at(best, whose, place)
    return best
