"""Does it run? The slow drive's underside, truck swing and couplings (G8).

Part of `tests.geometry.brute_force`, which says what it is for.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from tests.geometry.brute_drive import (
    TOLERANCE_MM,
    Drive,
    Fall,
    drive_of,
    least,
    nearest_to_grade,
    pick,
)
from tests.geometry.brute_line import Array, BruteLine, BruteTrack, BruteWay, Ints, unit
from tests.geometry.brute_rig import BrutePose, BruteStand, Rig, spans_of
from tests.geometry.brute_stock import BruteBlock, BruteCar, BruteVehicle, Facing

__all__ = [
    "BruteCoupled",
    "BruteCoupling",
    "coupling",
    "truck_swings_rad",
    "undersides_mm",
]

ARM_MM = 1000.0  # an angle is found as closely as a length at the end of this

_Car = BruteCar | BruteVehicle


# --- underside ------------------------------------------------------------------------------------


def undersides_mm(
    line: BruteLine, track: BruteTrack, car: _Car, facing: Facing, fineness: int = 1
) -> Array:
    """Least height of each block's lowest line over the railhead abreast of it (G8): (blocks,)."""
    drive = drive_of(line, track, car, facing)
    way, blocks = drive.way, len(drive.blocks)

    def height(places: Array, block: Ints) -> tuple[Array, Ints]:
        own, row = np.unique(places, return_inverse=True)
        stand = drive.rig.stand(way, own)
        edges, near = np.empty((len(places), 1, 2, 3)), np.empty(len(places))
        for number in np.unique(block):
            these = np.flatnonzero(block == number)
            pose = stand.poses[drive.blocks[number].frame]
            edges[these, 0] = _lowest_line(pose, drive.blocks[number])[row[these]]
            near[these] = pose.near[row[these]]
        points = nearest_to_grade(way, edges, near, 0.0, np.empty(0))
        abreast = way.places(points, near)
        least_mm, point = pick(points[..., 2] - way.z(abreast), np.argmin)
        at = way.stretch(abreast[np.arange(len(abreast)), point])
        return least_mm, np.column_stack([point, at, way.stretch(stand.axles)[row]])

    def fall(left: Array, right: Array, block: Ints) -> Fall:
        # On an even grade it keeps its height; else it rises and falls against the track.
        down, up = drive.slopes(left, right, block)
        straightening = drive.straightening(left, right, block)
        even = (up - down <= 1e-9 * np.abs(up)) & ~straightening
        steepest = np.maximum(np.abs(down), np.abs(up)) / way.R
        rate = 2 * drive.levers[block] * (up - down)
        rate = rate + drive.swing(block, straightening) * steepest
        bend = drive.bend_of_roof(down, up, block, straightening)
        return Fall(np.where(even, 0.0, rate), np.where(even, 0.0, bend))

    runs = drive.everywhere(blocks, fineness, rolls=False)
    return least(height, runs, blocks, fall, TOLERANCE_MM / fineness).value


def _lowest_line(pose: BrutePose, block: BruteBlock) -> Array:
    """The ends of the line below the middle of a block, its frame not rolled: (n, 2, 3)."""
    upright = np.cross(pose.x, unit(np.cross([0.0, 0.0, 1.0], pose.x)))
    ends = [
        pose.origin + x * pose.x + block.bottom_mm * upright
        for x in (block.x_rear_mm, block.x_front_mm)
    ]
    return np.stack(ends, axis=1)


# --- angles and offsets between frames ------------------------------------------------------------


class _Joint(NamedTuple):
    """Something between two frames (n,), and how fast it may change if they sway by a mm."""

    value: Callable[[BruteStand], Array]
    per_sway: float
    rises: bool  # it is a difference of elevations


def _greatest(drive: Drive, joints: list[_Joint], lever: float, fineness: int) -> Array:
    """The greatest size of each joint over all positions."""
    way = drive.way
    low, high = float(drive.reach_low.min()), float(drive.reach_high.max())
    span = way.R * (high - low)
    tip = max(drive.tip(name) for name in drive.hosts)
    per_sway = np.array([joint.per_sway for joint in joints])
    rises = np.array([joint.rises for joint in joints])

    def value(places: Array, joint: Ints) -> tuple[Array, Ints]:
        own, row = np.unique(places, return_inverse=True)
        stand = drive.rig.stand(way, own)
        sizes = np.stack([-np.abs(it.value(stand)) for it in joints])
        return sizes[joint, row], way.stretch(stand.axles)[row]

    def fall(left: Array, right: Array, joint: Ints) -> Fall:
        down, up = way.slopes_between(left + low, right + high)
        straightening = way.turns_into_straight(left + low, right + high)
        tipping = 2 * tip * (up - down)
        sway = tipping * span + np.where(straightening, 2 * lever * span, 0.0)
        bend = 2 * tipping**2 * span + np.where(straightening, 4 * lever * way.R, 0.0)
        steepest = np.maximum(np.abs(down), np.abs(up)) / way.R
        rise = 2 * lever * (up - down) + np.where(straightening, 2 * lever * span * steepest, 0.0)
        bend_of_rise = bend * (steepest + tipping) + 2 * lever * tipping * (up - down)
        return Fall(
            np.where(rises[joint], rise, sway * per_sway[joint]),
            np.where(rises[joint], bend_of_rise, bend * per_sway[joint]),
        )

    runs = drive.everywhere(len(joints), fineness, rolls=False)
    return -least(value, runs, len(joints), fall, TOLERANCE_MM / fineness).value


def _angle(one: BrutePose, other: BrutePose) -> Array:
    """Angle in plan between two base lines. [rad]"""
    a, b = one.x, other.x
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return np.asarray(np.arctan2(cross, np.sum(a[:, :2] * b[:, :2], axis=1)))


def _length(rig: Rig, name: str) -> float:
    span = rig.spans[rig.host(name)]
    return span.high - span.low


def truck_swings_rad(
    line: BruteLine, track: BruteTrack, car: _Car, facing: Facing, fineness: int = 1
) -> dict[tuple[str, str], float]:
    """The greatest angle in plan between a frame and each one that rests on it (G8). [rad]

    Returns them by (carrying frame, carried frame); none for a frame fixed on another.
    """
    drive = drive_of(line, track, car, facing)
    rig = drive.rig
    pairs = [
        (below, frame.name)
        for frame in car.frames
        if rig.host(frame.name) == frame.name
        for below in (frame.rear_on, frame.front_on)
        if below in rig.spans
    ]
    if not pairs:
        return {}

    def joint(below: str, above: str) -> _Joint:
        return _Joint(
            lambda stand: ARM_MM * _angle(stand.poses[below], stand.poses[above]),
            ARM_MM * (1 / _length(rig, below) + 1 / _length(rig, above)),
            False,
        )

    lever = max(drive.lever(on, u) for _, name in pairs for on, u in rig.supports(name))
    sizes = _greatest(drive, [joint(*pair) for pair in pairs], lever, fineness) / ARM_MM
    return dict(zip(pairs, map(float, sizes), strict=True))


# --- couplings ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class BruteCoupled:
    """A car in a train, one way round; its coupler faces are `projection_mm` beyond the body's end.

    `frame` says which frame bears the coupler in question; "": the one whose block reaches that
    end.
    """

    car: _Car
    facing: Facing
    projection_mm: float = 0.0
    frame: str = ""


class BruteCoupling(NamedTuple):
    """The greatest offsets of two coupler faces, and the angle between the bodies in plan."""

    sideways_mm: float
    vertical_mm: float
    angle_rad: float


def coupling(
    line: BruteLine,
    track: BruteTrack,
    lower: BruteCoupled,
    upper: BruteCoupled,
    fineness: int = 1,
) -> BruteCoupling:
    """What a coupling between two cars must allow, `lower` being the one further downhill (G8).

    The greatest of each over every position where any part of either car is on the line.
    """
    # Both faces are at u = 0 on straight track.
    below = _end(lower, 1)
    above = _end(upper, -1)
    zeros = (-below.end_mm - lower.projection_mm, -above.end_mm + upper.projection_mm)
    cars = [
        spans_of(it.car, it.facing, zero, prefix)
        for it, zero, prefix in ((lower, zeros[0], "lower "), (upper, zeros[1], "upper "))
    ]
    low_name, high_name = f"lower {below.frame}", f"upper {above.frame}"
    low = next(span for span in cars[0] if span.name == low_name)
    high = next(span for span in cars[1] if span.name == high_name)
    rig = Rig(*cars, links=[((low_name, low.high), (high_name, high.low))])
    blocks = [
        replace(block, frame=f"{prefix} {block.frame}")
        for it, prefix in ((lower, "lower"), (upper, "upper"))
        for block in it.car.blocks
    ]
    drive = Drive(BruteWay(line, track), rig, blocks, f"{lower} or {upper}")

    def faces(stand: BruteStand) -> Array:
        one, other = stand.poses[low_name], stand.poses[high_name]
        return (other.origin - other.x * other_zero) - (one.origin - one.x * one_zero)

    one_zero, other_zero = low.sense * low.zero, high.sense * high.zero

    def sideways(stand: BruteStand) -> Array:
        one, other = stand.poses[low_name], stand.poses[high_name]
        along = unit(low.sense * one.x[:, :2]) + unit(high.sense * other.x[:, :2])
        along, between = unit(along), faces(stand)
        return np.asarray(along[:, 0] * between[:, 1] - along[:, 1] * between[:, 0])

    def angle(stand: BruteStand) -> Array:
        turned = _angle(stand.poses[low_name], stand.poses[high_name])
        back_to_back = math.pi if low.sense != high.sense else 0.0
        return ARM_MM * np.asarray((turned - back_to_back + math.pi) % (2 * math.pi) - math.pi)

    shortest = min(_length(rig, low_name), _length(rig, high_name))
    lever = max(drive.lever(rig.host(name), 0.0) for name in (low_name, high_name))
    joints = [
        _Joint(sideways, 2.0, False),
        _Joint(lambda stand: faces(stand)[:, 2], 1.0, True),
        _Joint(angle, 2 * ARM_MM / shortest, False),
    ]
    sizes = _greatest(drive, joints, lever, fineness)
    return BruteCoupling(float(sizes[0]), float(sizes[1]), float(sizes[2]) / ARM_MM)


class _End(NamedTuple):
    frame: str
    end_mm: float  # distance uphill from the vehicle's x = 0


def _end(it: BruteCoupled, uphill: int) -> _End:
    """Which frame bears the coupler at the uphill (+1) or downhill (-1) end, and where that is."""
    sense = uphill if it.facing == "front uphill" else -uphill
    if sense > 0:
        last = max(it.car.blocks, key=lambda block: block.x_front_mm)
        return _End(it.frame or last.frame, uphill * last.x_front_mm)
    last = min(it.car.blocks, key=lambda block: block.x_rear_mm)
    return _End(it.frame or last.frame, uphill * -last.x_rear_mm)
