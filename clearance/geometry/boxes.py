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


_AT_ONCE = 2048  # vehicles: what is worked out for both ends of a line stays in the caches
_SPAN_STEPS = 4  # each leaves less than a fifth of what it found
_THERE_RAD = 1e-9  # a vehicle so near to where it should be is there


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
    count = len(rig)
    pose = settle(regular_line(line), rig, np.arange(count), 0, np.zeros(count))
    span = np.empty((2, count))
    for first in range(0, count, _AT_ONCE):
        some = np.arange(first, min(first + _AT_ONCE, count))
        span[:, some] = _span_rad(line, rig, pose, some, [(on, _of(it, some)) for on, it in loads])
    return Footing(pose, frame_weights(rig), span)


def _of(boxes: Boxes, vehicles: Indices) -> Boxes:
    """The blocks of vehicles that follow one another, these numbered from 0."""
    first, end = np.searchsorted(boxes.vehicle, (vehicles[0], vehicles[-1] + 1))
    some = boxes.take(slice(first, end))
    return some._replace(vehicle=some.vehicle - vehicles[0])


def _span_rad(
    line: Line, rig: Rig, pose: Pose, vehicles: Indices, loads: Sequence[tuple[int, Boxes]]
) -> Floats:
    """`Footing.span_rad` of some vehicles, that stand on the regular helix as ``pose`` says."""
    count = len(vehicles)
    # Both ends of the line at once.
    twice = np.tile(vehicles, 2)
    end = np.repeat([line.start_rad, line.end_rad], count)
    place = end - _reach_rad(line, pose.take(twice), loads)
    # There the vehicle stands in another way than on the helix.
    for _ in range((_SPAN_STEPS if line.has_straight else 1) if loads else 0):
        there = settle(line, rig, twice, 0, place, pose.axle_rad)
        miss = end - _reach_rad(line, there, loads)
        place = place + miss
        if not (np.abs(miss) > _THERE_RAD).any():
            break
    return place.reshape(2, count)


def _reach_rad(line: Line, pose: Pose, loads: Sequence[tuple[int, Boxes]]) -> Floats:
    """Where the foremost corner of each vehicle is, in the first half of the poses; in the other
    half, where its rearmost one is; nan: it has none."""
    count = len(pose.reference_rad) // 2
    found = np.full((2, count), np.nan)
    for frame, boxes in loads:
        axes = pose.middle_mm[frame], pose.forward[frame], *pose.axes(frame)
        # On the curve the inner side is ahead of the outer one.
        sides = (boxes.left_mm, -boxes.right_mm) if line.has_straight else (boxes.left_mm,)
        corners = product(sides, (boxes.bottom_mm, boxes.top_mm))
        y, height = (np.array(figures) for figures in zip(*corners, strict=True))
        ends = (boxes.x_front_mm, np.fmax), (boxes.x_rear_mm, np.fmin)
        for best, first, (x, furthest) in zip(found, (0, count), ends, strict=True):
            whose = first + boxes.vehicle
            middle, forward, left, up = (vectors[:2, None, whose] for vectors in axes)
            out, along = middle + x * forward + y * left + height * up
            place, _ = line.locate(out, along, pose.reference_rad[whose])
            furthest.at(best, boxes.vehicle, furthest.reduce(place, axis=0))
    return found.ravel()
