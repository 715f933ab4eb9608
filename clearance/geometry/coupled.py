"""How two coupled cars stand to each other: how far their coupler faces are out of line.

G8, docs/theory.md. Two coupled cars are one vehicle: a bar as long as on straight track lies on the
nearest supports of their bodies.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Footing, footing
from clearance.geometry.follow import greatest, stops_rad
from clearance.geometry.line import Line
from clearance.geometry.rig import Chassis, Pose, Rig, settle

__all__ = ["Coupler", "Offsets", "coupled_pose", "coupler_offsets", "turned_out_rad"]

Floats = NDArray[np.float64]


class Coupler(NamedTuple):
    """One car of a pair, at the end where it is coupled.

    Attributes
    ----------
    rig
        Its running gear, of one vehicle, as it goes uphill.
    frame
        The frame that bears the coupler.
    face_mm
        Where the coupler's face is on straight track, in the rig's own lengths. [mm]
    reach_mm
        From there to the far end of the body. [mm]
    """

    rig: Rig
    frame: int
    face_mm: float
    reach_mm: float


class Offsets(NamedTuple):
    """How far out of line two coupler faces come, at the most, over every position.

    Attributes
    ----------
    sideways_mm, vertical_mm
        Between the faces: square to the mean direction of both bodies in plan, and up or down.
    angle_rad
        Between the two base lines, in plan.
    sideways_rad, vertical_rad, turned_rad
        Where the foremost axle of the lower car stands at each of the three.
    """

    sideways_mm: float
    vertical_mm: float
    angle_rad: float
    sideways_rad: float
    vertical_rad: float
    turned_rad: float

    def or_worse(self, other: "Offsets") -> "Offsets":
        """The greater one of each of the three, and where that is."""
        both = np.array([self, other]).reshape(2, 2, 3)
        greater = both[:, 0].argmax(axis=0)
        return Offsets(*both[greater, :, np.arange(3)].T.ravel().tolist())


def coupler_offsets(line: Line, lower: Coupler, upper: Coupler, *, regular: bool) -> Offsets:
    """The offsets of two coupled cars.

    Parameters
    ----------
    line
        The track.
    lower, upper
        The car further downhill, coupled at its front, and the one before it, coupled at its rear.
    regular
        Whether every place of the line is like every other: then one position is enough.

    Returns
    -------
    Offsets
        nan where one of the two cannot stand on this curve.
    """
    rig = _pair(lower, upper)
    low_frames = len(lower.rig.chassis.rests)
    ahead = footing(line, rig).ahead_rad
    if np.isnan(ahead).any():
        return Offsets(*[float("nan")] * 6)

    def offsets(place: Floats) -> Floats:
        """Sideways, up and down, angle: shape (3, p)."""
        pose = settle(line, rig, np.zeros(len(place), np.intp), 0, place, ahead)
        faces, ways = [], []
        for frame, face in (
            (lower.frame, lower.face_mm - lower.rig.middle_mm[lower.frame, 0]),
            (low_frames + upper.frame, upper.face_mm - upper.rig.middle_mm[upper.frame, 0]),
        ):
            faces.append(pose.middle_mm[frame] + face * pose.forward[frame])
            ways.append(pose.forward[frame][:2] / np.hypot(*pose.forward[frame][:2]))
        apart, both = faces[1] - faces[0], ways[0] + ways[1]
        sideways = (apart[0] * both[1] - apart[1] * both[0]) / np.hypot(*both)
        sine = ways[0][0] * ways[1][1] - ways[0][1] * ways[1][0]
        turn = np.arctan2(sine, (ways[0] * ways[1]).sum(axis=0))
        return np.asarray(np.abs(np.array([sideways, apart[2], turn])))

    if regular:
        most, axles = offsets(np.zeros(1))[:, 0], np.tile(ahead, 3)
    else:
        first_mm = lower.face_mm - lower.rig.axle_mm[0, 0]
        low = line.start_rad - (first_mm + upper.reach_mm) / line.radius_mm
        high = line.end_rad + (lower.reach_mm - first_mm) / line.radius_mm
        most, place = greatest(offsets, _stops_rad(line, rig, ahead, low, high))
        axles = settle(line, rig, np.zeros(3, np.intp), 0, place, ahead).axle_rad
    foremost = axles[: lower.rig.chassis.axles].max(axis=0)
    return Offsets(*most.tolist(), *foremost.tolist())


def coupled_pose(
    line: Line, lower: Coupler, upper: Coupler, foremost_rad: float
) -> tuple[Rig, Pose]:
    """Two coupled cars in one position.

    Parameters
    ----------
    line, lower, upper
        As for `coupler_offsets`.
    foremost_rad
        Where the foremost axle of the lower car stands.

    Returns
    -------
    tuple
        Both as one vehicle: first the axles and frames of the lower car, then those of the upper
        one, then the bar; and its pose, alone in its arrays.
    """
    rig = _pair(lower, upper)
    ahead = footing(line, rig).ahead_rad
    foremost = int(ahead[: lower.rig.chassis.axles, 0].argmax())
    place = np.array([foremost_rad])
    return rig, settle(line, rig, np.zeros(1, np.intp), foremost, place, ahead)


def _stops_rad(line: Line, rig: Rig, ahead_rad: Floats, from_rad: float, to_rad: float) -> Floats:
    """Where to look: each axle on each knot; and steps between, where one goes onto a straight.

    On the curve the elevations of axles run straight between two such places, and with them all
    that rises and falls; sideways nothing changes but by the pitch.
    """
    stops, looked_at = stops_rad(line, rig, 0, ahead_rad, from_rad, to_rad)
    long = np.ptp(ahead_rad)
    for bend in line.curve_rad:
        looked_at |= (stops + ahead_rad.max() > bend - long) & (
            stops + ahead_rad.min() < bend + long
        )
    return stops[looked_at]


def turned_out_rad(rig: Rig, foot: Footing, frame: int, at_mm: Floats) -> Floats:
    """The angle in plan between a frame's base line and the curve, abreast of a point of it.

    Parameters
    ----------
    rig, foot, frame
        n vehicles, how they stand on the curve, and which frame.
    at_mm
        Where on straight track the point is, in the rig's own lengths, shape (n,). [mm]

    Returns
    -------
    ndarray
        Shape (n,); positive where the base line, followed forwards, leads out of the curve. [rad]
    """
    forward = foot.pose.forward[frame]
    point = foot.pose.middle_mm[frame] + (at_mm - rig.middle_mm[frame]) * forward
    out = (point[:2] * forward[:2]).sum(axis=0)
    along = point[0] * forward[1] - point[1] * forward[0]
    return np.asarray(np.arctan2(out, along))


def _pair(lower: Coupler, upper: Coupler) -> Rig:
    """Both cars as one vehicle, the lower one's lengths; the last frame is the bar between them."""
    gap = lower.face_mm - upper.face_mm  # what takes the upper car's lengths to the lower one's
    low, up = lower.rig, upper.rig
    frames, axles = len(low.chassis.rests), low.chassis.axles

    def moved(on: int) -> int:
        return on + axles if on >= 0 else on - frames

    rests = (
        *low.chassis.rests,
        *((moved(rear), moved(front)) for rear, front in up.chassis.rests),
        (-1 - lower.frame, -1 - frames - upper.frame),
    )
    links = (
        *low.chassis.links,
        *((behind + axles, ahead + axles) for behind, ahead in up.chassis.links),
    )
    bar = low.front_mm[lower.frame], up.rear_mm[upper.frame] + gap
    return Rig(
        Chassis(axles + up.chassis.axles, rests, links),
        np.concatenate([low.axle_mm, up.axle_mm + gap]),
        np.concatenate([low.rear_mm, up.rear_mm + gap, bar[0][None]]),
        np.concatenate([low.front_mm, up.front_mm + gap, bar[1][None]]),
    )
