"""The band that bodies sweep on a line as built, and what they take of the room at one place.

G5, docs/theory.md. On the curve a body comes closest to the axis, or swings out furthest, where its
pitch is least or greatest, for only its pitch changes; so three positions are worked out exactly.
Where the line leaves the curve for a straight lead, a car straddles the change: there it is
followed in small steps, and a parabola is laid through the best three.
"""

import math
from collections.abc import Callable, Sequence
from functools import reduce
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes, Footing
from clearance.geometry.grid import grids, mesh
from clearance.geometry.line import Line, Screw
from clearance.geometry.passing import Corners, passing_rad
from clearance.geometry.rig import JUST_BESIDE_MM, Pose, Rig, settle
from clearance.geometry.sides import side_reach
from clearance.geometry.stand import Stance
from clearance.geometry.undersides import Undersides

__all__ = ["Band", "band", "beside", "stance_of"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Mask = NDArray[np.bool_]

_BOXES_AT_ONCE = 512
_STEPS = 48  # while a body passes a change, or a strip
_CLOSER = 7  # and again so many about the least and the greatest
_PASSES_MM = 1e-5  # nearer than that, and after one more step, no figure changes
_EQUAL_MM = 1e-6  # of places where a body comes as close, the first one uphill is named
_EQUAL_SLOPE = 1e-12


class Band(NamedTuple):
    """A `Reach` on a line as built, and the places on the track abreast of its two extremes."""

    least_radius_mm: Floats
    x_least_mm: Floats
    greatest_radius_mm: Floats
    x_greatest_mm: Floats
    least_rad: Floats
    greatest_rad: Floats


def stance_of(line: Line, pose: Pose, frame: int) -> tuple[Stance, Floats, Floats]:
    """A frame's pose on the curve as a stance: seen from the point abreast of the axis.

    Returns
    -------
    tuple
        The stance; that point's x, from the frame's middle [mm]; and how high it stands over the
        railhead of an even climb there [mm]. Arrays of shape (n,).
    """
    out, along, height = pose.middle_mm[frame]
    forward = pose.forward[frame]
    run = np.hypot(forward[0], forward[1])
    x_foot = -(out * forward[0] + along * forward[1]) / run**2
    radius = (out * forward[1] - along * forward[0]) / run
    place = pose.reference_rad + np.arctan2(along + x_foot * forward[1], out + x_foot * forward[0])
    climb = line.mean_climb_mm
    stance = Stance(
        Screw(line.radius_mm, 2 * math.pi * climb, line.roll_rad),
        radius,
        forward[2],
        run,
        math.sin(line.roll_rad),
        math.cos(line.roll_rad),
    )
    return stance, x_foot, height + x_foot * forward[2] - climb * place


def band(line: Line, rig: Rig, foot: Footing, frame: int, boxes: Boxes) -> Band:
    """The least and greatest distance from the axis that blocks reach anywhere on a line.

    Beyond a curve's end distances go on from the radius, square to the straight.

    Parameters
    ----------
    line, rig, foot
        The track, the vehicles, and how they stand on the nearest regular helix.
    frame, boxes
        The frame, and m blocks on it.

    Returns
    -------
    Band
        Shape (m,); x from the frame's middle. nan: the vehicle cannot stand on this curve.
    """
    found = Band(*np.full((6, len(boxes.vehicle)), np.nan))
    stands = foot.stands
    chosen = np.flatnonzero(stands[boxes.vehicle])
    for first in range(0, len(chosen), _BOXES_AT_ONCE):
        number = chosen[first : first + _BOXES_AT_ONCE]
        some = boxes.take(number)
        part = _on_curve(line, rig, foot, frame, some)
        for bend in line.curve_rad:
            if math.isfinite(bend):
                part = _wider(part, _at_bend(line, rig, foot, frame, some, bend))
        for kept, figures in zip(found, part, strict=True):
            kept[number] = figures
    return found


def _wider(one: Band, other: Band) -> Band:
    nearer = other.least_radius_mm < one.least_radius_mm
    further = other.greatest_radius_mm > one.greatest_radius_mm
    with np.errstate(invalid="ignore"):
        inwards = other.least_radius_mm - one.least_radius_mm
        outwards = one.greatest_radius_mm - other.greatest_radius_mm
    return Band(
        np.where(nearer, other.least_radius_mm, one.least_radius_mm),
        np.where(nearer, other.x_least_mm, one.x_least_mm),
        np.where(further, other.greatest_radius_mm, one.greatest_radius_mm),
        np.where(further, other.x_greatest_mm, one.x_greatest_mm),
        _place_of(inwards, one.least_rad, other.least_rad),
        _place_of(outwards, one.greatest_rad, other.greatest_rad),
    )


def _place_of(change_mm: Floats, one_rad: Floats, other_rad: Floats) -> Floats:
    """The place of the lesser figure; of equal ones the first uphill, not rounding's choice."""
    first = np.fmin(one_rad, other_rad)
    clear = np.where(change_mm < -_EQUAL_MM, other_rad, first)
    return np.where(change_mm > _EQUAL_MM, one_rad, clear)


def _on_curve(line: Line, rig: Rig, foot: Footing, frame: int, boxes: Boxes) -> Band:
    """The band where a vehicle stands wholly on the curve."""
    vehicles, own = np.unique(boxes.vehicle, return_inverse=True)
    axles = foot.ahead_rad[:, vehicles]
    slope = _slopes(line, foot, frame, vehicles)
    nowhere: Mask = np.zeros(len(vehicles), bool)
    off: Mask | np.bool_ = np.False_
    if line.has_straight:
        low, high = (ends[:, None] for ends in _ends_rad(line, foot, frame, boxes, own, vehicles))
        span = foot.span_rad[:, vehicles, None]
        first = (line.knots_rad - axles.T[..., None]).reshape(slope.shape)
        off = (first + low < line.curve_rad[0]) | (first + high > line.curve_rad[1])
        off |= (first < span[0]) | (first > span[1])
        nowhere = np.asarray(off.all(axis=1))
    rows = np.arange(len(vehicles))
    least = _first_least(np.where(off, np.inf, slope))
    most = _first_least(np.where(off, np.inf, -slope))
    mean = (slope[rows, least] + slope[rows, most]) / 2
    between = np.where(off, np.inf, np.abs(slope - mean[:, None])).argmin(axis=1)
    axle, knot = np.divmod([least, most, between], len(line.knots_rad))
    place = line.knots_rad[knot] - axles[axle, rows]
    pose = settle(line, rig, np.tile(vehicles, 3), 0, place.ravel(), foot.ahead_rad)
    stance, x_foot, _ = stance_of(line, pose, frame)
    each = (np.arange(3)[:, None] * len(vehicles) + own).ravel()
    if len(own) > len(vehicles):
        stance, x_foot = stance.take(each), x_foot[each]
    x_rear, x_front, *others = (np.tile(figures, 3) for figures in boxes[1:])
    reach = side_reach(stance, x_rear - x_foot, x_front - x_foot, *others)
    middle, forward = pose.middle_mm[frame][:2, each], pose.forward[frame][:2, each]
    every = Band(
        reach.least_radius_mm,
        reach.x_least_mm + x_foot,
        reach.greatest_radius_mm,
        reach.x_greatest_mm + x_foot,
        *(
            pose.reference_rad[each] + np.arctan2(*(middle + (x + x_foot) * forward)[::-1])
            for x in (reach.x_least_mm, reach.x_greatest_mm)
        ),
    )
    parts = (Band(*figures) for figures in np.reshape(every, (6, 3, -1)).swapaxes(0, 1))
    found = reduce(_wider, parts)
    return found._replace(
        least_radius_mm=np.where(nowhere[own], np.inf, found.least_radius_mm),
        greatest_radius_mm=np.where(nowhere[own], -np.inf, found.greatest_radius_mm),
    )


def _first_least(values: Floats) -> Indices:
    """The column of the least of each row; of equal ones the first."""
    least = values.min(axis=1, keepdims=True)
    return np.asarray(np.argmax(values <= least + _EQUAL_SLOPE, axis=1))


def _slopes(line: Line, foot: Footing, frame: int, vehicles: Indices) -> Floats:
    """The frame's slope when any axle is on a knot, shape (n, axles x knots).

    Between two of these it changes evenly, so the least and the greatest are among them.
    """
    axles = foot.ahead_rad[:, vehicles]
    nothing = np.zeros(len(line.knots_rad))
    at_knots = Undersides(line.knots_rad, *[nothing] * 4)
    even = grids(line, at_knots, float(np.ptp(axles, axis=0).max()))
    weights = foot.weights[frame].slope[:, vehicles]
    if len(even) == 1 and len(even[0].number) == len(line.knots_rad):
        standing = mesh(line, foot, vehicles, even[0], axles)
        slopes = standing.times(standing.rows(weights[:, None], np.zeros_like(axles)))
    else:
        first = line.knots_rad - axles[..., None]
        slopes = np.zeros(first.shape)
        for axle, weight in zip(axles, weights, strict=True):
            slopes += weight[:, None] * line.height_mm(first + axle[:, None])
    return slopes.swapaxes(0, 1).reshape(len(vehicles), -1)


def _ends_rad(
    line: Line, foot: Footing, frame: int, boxes: Boxes, own: Indices, vehicles: Indices
) -> tuple[Floats, Floats]:
    """How far ahead of the first axle the last and the foremost part of each vehicle is."""
    axles = foot.ahead_rad[:, vehicles]
    middle = foot.pose.middle_mm[frame][1, vehicles]
    start = np.flatnonzero(np.diff(own, prepend=-1))
    rear = (np.minimum.reduceat(boxes.x_rear_mm, start) + middle) / line.radius_mm * _MORE
    front = (np.maximum.reduceat(boxes.x_front_mm, start) + middle) / line.radius_mm * _MORE
    return np.minimum(axles.min(axis=0), rear), np.maximum(axles.max(axis=0), front)


def _at_bend(line: Line, rig: Rig, foot: Footing, frame: int, boxes: Boxes, bend: float) -> Band:
    """The band from where a body is wholly on the curve to where it is wholly on the straight."""
    axles = foot.ahead_rad[:, boxes.vehicle]
    middle = foot.pose.middle_mm[frame][1, boxes.vehicle]
    rear = np.minimum(axles.min(axis=0), (boxes.x_rear_mm + middle) / line.radius_mm * _MORE)
    front = np.maximum(axles.max(axis=0), (boxes.x_front_mm + middle) / line.radius_mm * _MORE)
    share = np.linspace(0.0, 1.0, _STEPS)[:, None]
    changes = _changes_rad(line, rig, foot, boxes.vehicle, bend)
    places = np.concatenate([bend - front + share * (front - rear), changes])
    places = np.fmin(
        np.fmax(places, foot.span_rad[0, boxes.vehicle]), foot.span_rad[1, boxes.vehicle]
    )
    return _followed(line, rig, foot, frame, boxes, np.sort(places, axis=0), _whole)


_MORE = 1.1  # the angle of a body's end is more than its distance over the radius

Part = Callable[[Pose, Floats, Floats, Floats], tuple[Floats, Floats]]
"""Which part of an edge counts, given pose, start, forward and the edge's ends: from x to x."""


def _whole(pose: Pose, start: Floats, forward: Floats, ends: Floats) -> tuple[Floats, Floats]:
    del pose, start, forward
    return ends[0], ends[1]


def beside(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    strips: Undersides,
) -> Band:
    """How close blocks come to the axis, and how far from it, abreast of one strip each.

    Parameters
    ----------
    line, rig, foot, frame
        As for `band`.
    boxes, strips
        m blocks, and as many strips: only what is within its strip along the track counts.

    Returns
    -------
    Band
        Shape (m,); distances as `band` gives them.
    """
    found = Band(*np.full((6, len(boxes.vehicle)), np.nan))
    stands = foot.stands
    chosen = np.flatnonzero(stands[boxes.vehicle])
    for first in range(0, len(chosen), _BOXES_AT_ONCE):
        number = chosen[first : first + _BOXES_AT_ONCE]
        part = _past(line, rig, foot, frame, boxes.take(number), strips.take(number))
        for kept, figures in zip(found, part, strict=True):
            kept[number] = figures
    return found


def _past(
    line: Line, rig: Rig, foot: Footing, frame: int, boxes: Boxes, strips: Undersides
) -> Band:
    half = strips.width_mm / 2
    # Its four front corners come to the strip, its four rear ones leave it.
    faces = ((boxes.x_front_mm, -half), (boxes.x_rear_mm, half))
    sides, levels = (boxes.left_mm, -boxes.right_mm), (boxes.bottom_mm, boxes.top_mm)
    x, side, y, height = (
        np.concatenate(figures)
        for figures in zip(
            *((*face, *at) for face in faces for at in product(sides, levels)), strict=True
        )
    )
    every = np.tile(np.arange(len(half)), 2 * 4)
    corners = Corners(boxes.vehicle[every], x, y, height)
    ends = passing_rad(line, rig, foot, frame, corners, strips.take(every), side, _PASSES_MM)
    ends = ends.reshape(2 * 4, len(half))
    low, high = ends[:4].min(axis=0), ends[4:].max(axis=0)
    axles = foot.ahead_rad[:, boxes.vehicle]
    share = np.linspace(0.0, 1.0, _STEPS)[:, None]
    places = [low + share * (high - low), ends]
    for axle in axles:
        first = np.searchsorted(line.knots_rad, low + axle)
        last = np.searchsorted(line.knots_rad, high + axle)
        for more in range(int((last - first).max(initial=0))):
            knot = line.knots_rad[np.minimum(first + more, len(line.knots_rad) - 1)]
            places.append(np.clip(knot - axle, low, high)[None])

    for bend in line.curve_rad:
        if math.isfinite(bend):
            changes = _changes_rad(line, rig, foot, boxes.vehicle, bend)
            places.append(np.clip(changes, low, high))
    span = foot.span_rad[:, boxes.vehicle]
    steps = np.fmin(np.fmax(np.concatenate(places), span[0]), span[1])

    def within(pose: Pose, start: Floats, forward: Floats, x: Floats) -> tuple[Floats, Floats]:
        many = start.shape[-1] // len(half)
        plan, along = np.tile(strips.plan_rad, many), np.tile(strips.along_mm, many)
        wide = np.tile(half, many)
        turn = plan - pose.reference_rad
        cosine, sine = np.cos(turn), np.sin(turn)
        ahead = start[1] * cosine - start[0] * sine - along
        gain = forward[1] * cosine - forward[0] * sine
        from_x, to_x = (
            np.maximum(x[0], (-wide - ahead) / gain),
            np.minimum(x[1], (wide - ahead) / gain),
        )
        outside = from_x > to_x + _TOUCHING_MM
        return np.where(outside, np.nan, from_x), np.where(
            outside, np.nan, np.maximum(to_x, from_x)
        )

    return _followed(line, rig, foot, frame, boxes, np.sort(steps, axis=0), within)


_TOUCHING_MM = 5e-3  # ten times what may be wrong with where a vehicle stands


def _changes_rad(line: Line, rig: Rig, foot: Footing, vehicle: Indices, bend: float) -> Floats:
    """Where the first axle stands just before and just after any axle comes to a bend, (2 a, m).

    There cant begins or ends, and the body rolls at once.
    """
    axles, count = rig.chassis.axles, len(vehicle)
    beside = np.repeat([-JUST_BESIDE_MM, JUST_BESIDE_MM], count) / line.radius_mm
    axle = np.repeat(np.arange(axles), 2 * count)
    place = bend + np.tile(beside, axles)
    pose = settle(line, rig, np.tile(vehicle, 2 * axles), axle, place, foot.ahead_rad)
    return np.asarray(pose.axle_rad[0].reshape(2 * axles, count))


def _followed(
    line: Line, rig: Rig, foot: Footing, frame: int, boxes: Boxes, places: Floats, part: Part
) -> Band:
    """The extremes over positions, (s, m), rising; looked at closer where they are."""

    def offsets(place: Floats, sides: Sequence[int] = (0, 1)) -> list[Floats]:
        """Of the left side (0) and of the right one (1): `_offset`, shape (3, s, m)."""
        steps, count = place.shape
        many = boxes.take(np.tile(np.arange(count), steps))
        pose = settle(line, rig, many.vehicle, 0, place.ravel(), foot.ahead_rad)
        both = (many.left_mm, np.less), (-many.right_mm, np.greater)
        found = (
            _offset(line, pose, frame, many, y, part, it) for y, it in (both[k] for k in sides)
        )
        return [figures.reshape(3, *place.shape) for figures in found]

    result = []
    for side, (sign, known) in enumerate(zip((1.0, -1.0), offsets(places), strict=True)):
        signs = np.array([sign, 1.0, 1.0])[:, None, None]

        def at(place: Floats, side: int = side, signs: Floats = signs) -> Floats:
            [found] = offsets(place, [side])
            return np.asarray(signs * found)

        value, x, place = _least_between(at, places, signs * known)
        result += [(line.radius_mm + sign * value, x, place)]
    (least, x_least, least_rad), (greatest, x_greatest, greatest_rad) = result
    return Band(least, x_least, greatest, x_greatest, least_rad, greatest_rad)


def _least_between(at: Callable[[Floats], Floats], t: Floats, known: Floats) -> Floats:
    """The least value of each column about the least of those known at t, (s, m), and what goes
    with it: the first row of ``known``, (k, s, m), and the others. Shape (k, m).

    It may turn there, or bend: as the end of a body comes to where the curve ends.
    """
    # Closer steps first, between the neighbours of the least.
    best = np.clip(_argleast(known[0]), 1, len(t) - 2)
    around = best + np.arange(-1, 2)[:, None]
    three = np.take_along_axis(t, around, axis=0)
    share = np.linspace(0.0, 1.0, _CLOSER + 2)[1:-1, None]
    inner = three[0] + share * (three[2] - three[0])
    beside = np.take_along_axis(known, around[None], axis=1)
    t, known = np.concatenate([inner, three]), np.concatenate([at(inner), beside], axis=1)
    order = np.argsort(t, axis=0)
    t, known = np.take_along_axis(t, order, axis=0), np.take_along_axis(known, order[None], axis=1)
    # Then where a parabola turns, or where the lines from both sides meet.
    best = np.clip(_argleast(known[0]), 2, len(t) - 3)
    near = best + np.arange(-2, 3)[:, None]
    p, q = np.take_along_axis(t, near, axis=0), np.take_along_axis(known[0], near, axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        lean = np.diff(q, axis=0) / np.diff(p, axis=0)
        turn = (p[1] + p[2]) / 2 - lean[1] * (p[3] - p[1]) / 2 / (lean[2] - lean[1])
        before = (q[3] - lean[2] * p[3] - q[1] + lean[0] * p[1]) / (lean[0] - lean[2])
        after = (q[3] - lean[3] * p[3] - q[1] + lean[1] * p[1]) / (lean[1] - lean[3])
    tried = np.array([turn, before, after])
    tried = np.clip(np.where(np.isfinite(tried), tried, p[2]), p[1], p[3])
    known = np.concatenate([known, at(tried)], axis=1)
    best = _argleast(known[0])[None, None]
    return np.asarray(np.take_along_axis(known, best, axis=1)[:, 0])


def _argleast(values: Floats) -> Indices:
    return np.asarray(np.argmin(np.where(np.isnan(values), np.inf, values), axis=0))


def _offset(
    line: Line,
    pose: Pose,
    frame: int,
    boxes: Boxes,
    y: Floats,
    part: Part,
    better: np.ufunc,
) -> Floats:
    """The extreme offset of one side of each block in one pose, its x and its place, (3, m)."""
    left, up = pose.axes(frame)
    forward = pose.forward[frame]
    best = np.full(len(y), np.inf if better is np.less else -np.inf)
    x_best, place_best = np.full((2, len(y)), np.nan)
    for height in (boxes.bottom_mm, boxes.top_mm):
        start = pose.middle_mm[frame] + y * left + height * up
        rear, front = part(pose, start, forward, np.array([boxes.x_rear_mm, boxes.x_front_mm]))
        run = forward[0] ** 2 + forward[1] ** 2
        candidates = [rear, front, -(start[0] * forward[0] + start[1] * forward[1]) / run]
        for bend in line.curve_rad:
            if math.isfinite(bend):
                turn = bend - pose.reference_rad
                gain = forward[1] * np.cos(turn) - forward[0] * np.sin(turn)
                ahead = start[1] * np.cos(turn) - start[0] * np.sin(turn)
                with np.errstate(divide="ignore", invalid="ignore"):
                    candidates.append(-ahead / gain)
        inside = np.minimum(np.maximum(candidates, rear), front)
        plan = start[:2, None] + inside * forward[:2, None]
        places, offsets = line.locate(plan[0], plan[1], pose.reference_rad)
        for x, place, offset in zip(inside, places, offsets, strict=True):
            wins = better(offset, best)
            best, x_best = np.where(wins, offset, best), np.where(wins, x, x_best)
            place_best = np.where(wins, place, place_best)
    return np.array([np.where(np.isfinite(best), best, np.nan), x_best, place_best])
