"""How far trucks turn under what rests on them, and how far couplers swing out on the curve.

G8, docs/theory.md.
"""

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Footing
from clearance.geometry.follow import Greatest, greatest, stops_rad
from clearance.geometry.line import Line
from clearance.geometry.rig import Pose, Rig, settle

__all__ = ["swing_out_mm", "truck_swing"]

Floats = NDArray[np.float64]


def truck_swing(line: Line, rig: Rig, foot: Footing, *, regular: bool) -> Greatest:
    """The greatest angle in plan between a frame and a frame that it turns on.

    Parameters
    ----------
    line, rig, foot
        The track, n vehicles, and how they stand on the nearest regular helix.
    regular
        Whether every place of the line is like every other: then one position is enough.

    Returns
    -------
    Greatest
        Of each vehicle, shape (n,). [rad] nan: it cannot stand on this curve; 0: nothing turns on
        anything.
    """
    if regular:
        return Greatest(_swings(rig, foot.pose), np.zeros(len(rig)))
    found = Greatest(*np.full((2, len(rig)), np.nan))
    for vehicle in np.flatnonzero(foot.stands).tolist():
        stops, _ = stops_rad(line, rig, vehicle, foot.ahead_rad, *foot.span_rad[:, vehicle])

        def swings(place: Floats, vehicle: int = vehicle) -> Floats:
            which = np.full(len(place), vehicle)
            return _swings(rig, settle(line, rig, which, 0, place, foot.ahead_rad))[None]

        for kept, figures in zip(found, greatest(swings, stops), strict=True):
            kept[vehicle] = figures[0]
    return found


def _swings(rig: Rig, pose: Pose) -> Floats:
    greatest = np.zeros(pose.reference_rad.shape)
    for frame, (rear_on, front_on) in enumerate(rig.chassis.rests):
        if rear_on == front_on:
            continue  # fixed, and turns with what carries it
        one = pose.forward[frame][:2]
        for on in (rear_on, front_on):
            if on < 0:
                other = pose.forward[-1 - on][:2]
                sine = one[0] * other[1] - one[1] * other[0]
                cosine = (one * other).sum(axis=0)
                greatest = np.maximum(greatest, np.abs(np.arctan2(sine, cosine)))
    return np.where(np.isnan(pose.axle_rad).any(axis=0), np.nan, greatest)


def swing_out_mm(line: Line, rig: Rig, foot: Footing, frame: int, at_mm: Floats) -> Floats:
    """How far outside the centreline a point of a frame's base line is on the curve.

    Parameters
    ----------
    line, rig, foot, frame
        As for `truck_swing`, and which frame.
    at_mm
        Where on straight track the point is, in the rig's own lengths, shape (n,). [mm]

    Returns
    -------
    ndarray
        Shape (n,). [mm]
    """
    x = at_mm - rig.middle_mm[frame]
    point = foot.pose.middle_mm[frame] + x * foot.pose.forward[frame]
    return np.asarray(np.hypot(point[0], point[1]) - line.radius_mm)
