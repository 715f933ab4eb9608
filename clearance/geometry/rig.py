"""How anything on wheels stands on a line as built: frames on axles, and frames on frames.

G2 and G3, docs/theory.md. One mechanism for all: a wagon is a frame on two axles, a coach a frame
on two trucks, an articulated engine a boiler on two engine units. Every axle has a place on the
line; every frame between two parts that can move says how far apart these are. Those distances are
solved for together.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.line import Line, Points

__all__ = ["JUST_BESIDE_MM", "Chassis", "Pose", "Rig", "coach", "regular_line", "settle", "wagon"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_CLOSE_MM = 5e-4  # of a distance between supports: then heights are right to a tenth of that
JUST_BESIDE_MM = 2e-3
"""More than a place may be wrong: an axle so far from a bend is surely on this side of it. [mm]"""

_AT_ONCE = 4096  # positions: arrays that the processor's caches hold
_STRAIGHT_MM = 1e-4  # a curve that leaves its tangent by no more counts as straight
_MOST_STEPS = 40
_STEADY_STEPS = 3  # what has not settled by then is helped
_FURTHEST_RAD = 0.5  # that an axle is moved at once


class Chassis(NamedTuple):
    """How the frames of a kind of vehicle rest, the same for all vehicles of that kind.

    Attributes
    ----------
    axles
        How many axles there are.
    rests
        For each frame, carried ones after those that carry them, what its rear and its front
        support rest on: an axle (its number), or a frame (-1 less the frame's number).
    links
        Pairs of axles, the one behind and the one ahead, that keep their distance because nothing
        carried in common keeps it.
    """

    axles: int
    rests: tuple[tuple[int, int], ...]
    links: tuple[tuple[int, int], ...] = ()

    def turned(self) -> "Chassis":
        """The same vehicle turned round."""
        return self._replace(
            rests=tuple((front, rear) for rear, front in self.rests),
            links=tuple((ahead, behind) for behind, ahead in self.links),
        )

    def beneath(self, support: int) -> frozenset[int]:
        """The axles that carry what rests on ``support``, an axle or a frame."""
        if support >= 0:
            return frozenset([support])
        rear, front = self.rests[-1 - support]
        return self.beneath(rear) | self.beneath(front)

    def joined(self) -> Iterator[tuple[int, list[int], list[int]]]:
        """What keeps a distance: a frame (its number), or a link (-1 less its number); the axles
        behind, and those ahead, to be moved together until the distance is right.

        A frame whose two supports are joined already keeps nothing apart.
        """
        groups = [frozenset([axle]) for axle in range(self.axles)]
        ends = [*self.rests, *self.links]
        for number, (behind, ahead) in enumerate(ends):
            rear = next(group for group in groups if self.beneath(behind) <= group)
            front = next(group for group in groups if self.beneath(ahead) <= group)
            if rear is front:
                continue
            groups = [group for group in groups if group not in (rear, front)]
            groups.append(rear | front)
            frames = len(self.rests)
            yield (number if number < frames else frames - 1 - number), sorted(rear), sorted(front)


@dataclass(frozen=True, eq=False)
class Rig:
    """The running gear of n vehicles of one kind, as it stands on straight and level track.

    Lengths along the vehicle count forward from any one point of it.

    Attributes
    ----------
    chassis
        How the frames rest.
    axle_mm
        Where the axles are, shape (axles, n). [mm]
    rear_mm, front_mm
        Where each frame's supports are, shape (frames, n). [mm]
    """

    chassis: Chassis
    axle_mm: Floats
    rear_mm: Floats
    front_mm: Floats

    def __len__(self) -> int:
        return int(self.axle_mm.shape[1])

    @cached_property
    def middle_mm(self) -> Floats:
        """Midway between each frame's supports, shape (frames, n). [mm]"""
        return (self.rear_mm + self.front_mm) / 2

    def turned(self) -> "Rig":
        """The same vehicles turned round."""
        return Rig(self.chassis.turned(), -self.axle_mm, -self.front_mm, -self.rear_mm)

    def take(self, index: Indices) -> "Rig":
        """The vehicles at ``index``."""
        return Rig(
            self.chassis,
            self.axle_mm[:, index],
            self.rear_mm[:, index],
            self.front_mm[:, index],
        )


@cache
def _joined(chassis: Chassis) -> tuple[tuple[int, list[int], list[int]], ...]:
    """`Chassis.joined`, worked out once for all that stands on it."""
    return tuple(chassis.joined())


def wagon(wheelbase_mm: Floats) -> Rig:
    """Bodies on their own first and last axles, shape (n,); the middle of the wheelbase is 0."""
    half = np.asarray(wheelbase_mm, float) / 2
    ends = np.array([-half, half])
    return Rig(Chassis(2, ((0, 1),)), ends, ends[:1], ends[1:])


def coach(wheelbase_mm: Floats, truck_wheelbase_mm: Floats) -> Rig:
    """Bodies on two trucks, shape (n,); the middle of the wheelbase is 0. The body is frame 2."""
    pivot = np.asarray(wheelbase_mm, float) / 2
    half = np.asarray(truck_wheelbase_mm, float) / 2
    return Rig(
        Chassis(4, ((0, 1), (2, 3), (-1, -2))),
        np.array([-pivot - half, -pivot + half, pivot - half, pivot + half]),
        np.array([-pivot - half, pivot - half, -pivot]),
        np.array([-pivot + half, pivot + half, pivot]),
    )


class Pose(NamedTuple):
    """Where n vehicles stand, each at one position.

    Plan coordinates count from the axis, out along the plan angle ``reference_rad`` and square to
    it, uphill; the third is elevation.

    Attributes
    ----------
    reference_rad
        Shape (n,).
    axle_rad
        The places of the axles, shape (axles, n). nan: the vehicle cannot stand there.
    middle_mm
        Midway between each frame's supports, shape (frames, 3, n). [mm]
    forward
        The unit vector from its rear to its front support, shape (frames, 3, n).
    roll_rad
        How far each frame leans towards the axis, shape (frames, n).
    """

    reference_rad: Floats
    axle_rad: Floats
    middle_mm: Floats
    forward: Floats
    roll_rad: Floats

    def axes(self, frame: int, *, rolled: bool = True) -> tuple[Floats, Floats]:
        """A frame's y, to the left, and its up: unit vectors, shape (3, n) each (G3)."""
        forward = self.forward[frame]
        run = np.hypot(forward[0], forward[1])
        zero = np.zeros_like(run)
        # Coordinates are (out, along, up): left of forward is forward turned a quarter.
        level = np.array([-forward[1] / run, forward[0] / run, zero])
        upright = np.array([-forward[2] * level[1], forward[2] * level[0], run])
        if not rolled:
            return level, upright
        roll = self.roll_rad[frame]
        cosine, sine = np.cos(roll), np.sin(roll)
        # The left is the side of the axis, which cant lowers.
        return cosine * level - sine * upright, cosine * upright + sine * level

    def take(self, index: Indices) -> "Pose":
        """The poses at ``index``."""
        return Pose(*(figures[..., index] for figures in self))


def settle(
    line: Line,
    rig: Rig,
    which: Indices,
    anchor: Indices | int,
    place_rad: Floats,
    guess_rad: Floats | None = None,
) -> Pose:
    """Stand vehicles on a line.

    Parameters
    ----------
    line, rig
        The track, and the running gear of n vehicles.
    which
        Which vehicle each of m positions is of, shape (m,).
    anchor
        Which of its axles stands at ``place_rad``, a number or shape (m,).
    place_rad
        Where, shape (m,).
    guess_rad
        How far each vehicle's axles are ahead of its first one, more or less, shape (axles, n);
        None: as on straight track.

    Returns
    -------
    Pose
        Of m positions. nan where the supports cannot be so far apart on this curve.
    """
    if len(which) > _AT_ONCE:
        parts = []
        for first in range(0, len(which), _AT_ONCE):
            some = slice(first, first + _AT_ONCE)
            axle = anchor if isinstance(anchor, int) else anchor[some]
            parts.append(settle(line, rig, which[some], axle, place_rad[some], guess_rad))
        return Pose(*(np.concatenate(figures, axis=-1) for figures in zip(*parts, strict=True)))
    at_anchor = anchor if isinstance(anchor, int) else (anchor, np.arange(len(which)))
    ahead = rig.axle_mm / line.radius_mm if guess_rad is None else guess_rad
    ahead = ahead[:, which]
    place = place_rad + ahead - ahead[at_anchor]
    reference = line.on_curve(place_rad)
    gear = rig.take(which)
    joined = _joined(rig.chassis)
    nearly_straight = math.sqrt(2 * _STRAIGHT_MM / line.radius_mm)
    points = line.points(place, reference)
    nudged = np.zeros(place.shape)
    before, pace = np.full((2, len(joined), len(which)), np.nan)
    pace[:] = 1.0
    for step in range(_MOST_STEPS):
        middle, forward, far = _frames(gear, points)
        shift = np.zeros(place.shape)
        off = np.zeros(len(which))
        for joint, (number, behind, ahead_of) in enumerate(joined):
            wrong, gain = _wrong(gear, points, number, ahead_of, forward, far)
            np.maximum(off, np.abs(wrong), out=off)
            if step >= _STEADY_STEPS:
                pace[joint] *= _pace(wrong, before[joint])
                gain *= pace[joint]
            before[joint] = wrong
            # What was moved for the frames beneath counts as moved already.
            moved = _mean(shift, ahead_of) - _mean(shift, behind)
            with np.errstate(invalid="ignore", divide="ignore"):
                shift[ahead_of] -= wrong / gain + moved
        if not (off > _CLOSE_MM).any():
            break
        # Supports that cannot be so far apart would go astray without end.
        shift = np.where(np.isnan(shift), 0.0, shift)
        shift = np.minimum(np.maximum(shift, -_FURTHEST_RAD), _FURTHEST_RAD)
        shift -= shift[at_anchor]
        place = place + shift
        nudged += shift
        if (np.abs(nudged) < nearly_straight).all():
            points = line.nudged(points, place, shift)
        else:
            points, nudged = line.points(place, reference), np.zeros(place.shape)
    else:
        place = np.where(off > _CLOSE_MM, np.nan, place)
        middle = np.where(off > _CLOSE_MM, np.nan, middle)
    return Pose(reference, place, middle, forward, _rolls(line, gear, place))


def _pace(wrong: Floats, before: Floats) -> Floats:
    """By what the gain was off, where the step before did not even halve what was wrong.

    It is the mean of the axles ahead; a support that hangs far beyond them goes another way.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        left = wrong / before
    return np.where(np.abs(left) > 0.5, np.clip(1 - left, 0.5, 3.0), 1.0)


def _frames(rig: Rig, points: Points) -> tuple[Floats, Floats, Floats]:
    """Middle and direction of every frame, and how far apart its supports are."""
    axles = points.at_mm
    count = len(rig.chassis.rests)
    middle = np.empty((count, 3, axles.shape[2]))
    forward, far = np.empty_like(middle), np.empty((count, axles.shape[2]))

    def support(on: int, at_mm: Floats) -> Floats:
        if on >= 0:
            return np.asarray(axles[:, on])
        frame = -1 - on
        return np.asarray(middle[frame] + (at_mm - rig.middle_mm[frame]) * forward[frame])

    for frame, (rear_on, front_on) in enumerate(rig.chassis.rests):
        rear, front = support(rear_on, rig.rear_mm[frame]), support(front_on, rig.front_mm[frame])
        apart = np.subtract(front, rear, out=forward[frame])
        np.sqrt(np.einsum("ij,ij->j", apart, apart), out=far[frame])
        np.divide(apart, far[frame], out=apart)
        np.add(rear, front, out=middle[frame])
        middle[frame] *= 0.5
    return middle, forward, far


def _wrong(
    rig: Rig, points: Points, number: int, ahead_of: list[int], forward: Floats, far: Floats
) -> tuple[Floats, Floats]:
    """By how much a distance is too long, and how it grows as the axles ``ahead_of`` go ahead."""
    at, run = points
    if number >= 0:
        wrong = far[number] - (rig.front_mm[number] - rig.rear_mm[number])
        direction = forward[number]
    else:
        behind, ahead = rig.chassis.links[-1 - number]
        apart = at[:, ahead] - at[:, behind]
        length = np.sqrt(np.einsum("ij,ij->j", apart, apart))
        wrong = length - (rig.axle_mm[ahead] - rig.axle_mm[behind])
        direction = apart / length
    return wrong, np.einsum("ij,ij->j", direction, _mean(run.swapaxes(0, 1), ahead_of))


def _mean(figures: Floats, axles: list[int]) -> Floats:
    """The mean over some axles of what each has, shape (axles, ...)."""
    total = figures[axles[0]]
    for axle in axles[1:]:
        total = total + figures[axle]
    return np.asarray(total / len(axles))


def _rolls(line: Line, rig: Rig, place_rad: Floats) -> Floats:
    rolls = np.zeros((len(rig.chassis.rests), place_rad.shape[1]))
    if not line.roll_rad:
        return rolls
    if not line.has_straight:
        return rolls + line.roll_rad
    axles = line.roll_at(place_rad)
    for frame, rests in enumerate(rig.chassis.rests):
        rolls[frame] = sum(axles[on] if on >= 0 else rolls[-1 - on] for on in rests) / 2
    return rolls


def regular_line(line: Line) -> Line:
    """The regular helix nearest to a line: the same curve, climbing evenly all the way."""
    knots = np.array([0.0, 2 * math.pi])
    return Line(
        line.radius_mm,
        knots,
        knots * line.mean_climb_mm,
        line.start_rad,
        line.end_rad,
        roll_rad=line.roll_rad,
    )
