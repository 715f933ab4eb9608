"""The least gap between a body and a ceiling that follows the line: the deck; the rails below.

G4 and G8, docs/theory.md. The deck between the beams is straight from bracket to bracket, as the
track is. A ridge of a body (a long upper edge) comes nearest to it at one of its own ends, under a
knot of the ceiling, or where it climbs just as the ceiling does; and it does so where an axle
stands on a knot or an end passes one, or close by. Turned upside down the same question is how far
the underside of a body stays clear of its own track.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes, Footing
from clearance.geometry.line import Line
from clearance.geometry.pieces import just_inside_rad
from clearance.geometry.ridges import (
    BESIDE_RAD,
    Ridges,
    bounds_mm,
    crossing_x,
    hanging_mm,
    knots_of,
)
from clearance.geometry.rig import Pose, Rig, settle

__all__ = [
    "Nearest",
    "ceiling_gaps_mm",
    "height_over_rail_mm",
    "upside_down",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_RIDGES_AT_ONCE = 256
_PARTS = 4  # of a piece: a parabola is laid through the best of its ends
_EVENT_STEPS = 5
_SPAN_STEPS = 14  # each leaves less than a third of what it found
_SETTLED_RAD = 1e-9  # less than that from where it should be, an end is there


class Nearest(NamedTuple):
    """The least gap of each ridge, and at which place of the line it is; inf and nan: none.

    ``x_mm`` says where along the ridge, ``first_rad`` where the first axle stands then.
    """

    gap_mm: Floats
    place_rad: Floats
    x_mm: Floats
    first_rad: Floats


def upside_down(line: Line) -> Line:
    """A line in a mirror that lies under it; without the cant, which tilts body and rails alike."""
    return Line(
        line.radius_mm,
        line.knots_rad,
        -line.railhead_mm,
        line.start_rad,
        line.end_rad,
        line.curve_rad,
    )


def height_over_rail_mm(
    line: Line, rig: Rig, foot: Footing, frame: int, boxes: Boxes, *, regular: bool
) -> Nearest:
    """How high the lowest line of each block stays over the railhead, at its least (G8).

    Parameters
    ----------
    line, rig, foot, frame, boxes
        As for `clearance.geometry.beams.beam_gaps_mm`.
    regular
        Whether every place of the line is like every other: then one position is enough.

    Returns
    -------
    Nearest
        Shape (m,).
    """
    below = upside_down(line)
    zero = np.zeros_like(boxes.x_rear_mm)
    ridges = Ridges(boxes.vehicle, boxes.x_rear_mm, boxes.x_front_mm, zero, -boxes.bottom_mm)
    # What of a body is beyond the end of the line is over rails all the same.
    endless = replace(below, start_rad=-np.inf, end_rad=np.inf)
    if not regular:
        return ceiling_gaps_mm(below, rig, foot, frame, ridges, endless)
    return _at(below, rig, foot, frame, ridges, endless, zero)


def ceiling_gaps_mm(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    ridges: Ridges,
    ceiling: Line,
    known_mm: Floats | None = None,
) -> Nearest:
    """The least gap of ridges under a ceiling, over every position of their vehicles.

    Parameters
    ----------
    line, rig, foot
        The track, the vehicles, and how far their axles are apart on the nearest regular helix.
    frame, ridges
        The frame, and e ridges of bodies on it.
    ceiling
        Where it hangs, as a line: from its start to its end, by place.
    known_mm
        Gaps of this or more need not be found, shape (n,). [mm] None: all are.

    Returns
    -------
    Nearest
        Shape (e,). inf and nan also where the gap is surely no less than what is known.
    """
    count = len(ridges.vehicle)
    known = np.full(len(rig), np.inf) if known_mm is None else known_mm
    found = Nearest(np.full(count, np.inf), *np.full((3, count), np.nan))
    stands = foot.stands
    chosen = np.flatnonzero(stands[ridges.vehicle])
    for first in range(0, len(chosen), _RIDGES_AT_ONCE):
        number = chosen[first : first + _RIDGES_AT_ONCE]
        mine = ridges.take(number)
        some = _nearest(line, rig, foot, frame, mine, ceiling, known[mine.vehicle])
        for kept, figures in zip(found, some, strict=True):
            kept[number] = figures
    found.gap_mm[~stands[ridges.vehicle]] = np.nan
    return found


def _nearest(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    ridges: Ridges,
    ceiling: Line,
    known_mm: Floats,
) -> Nearest:
    span = _under_the_ceiling_rad(line, rig, foot, frame, ridges, ceiling)
    events, number, bound = bounds_mm(line, foot, frame, ridges, ceiling, span)
    count = len(ridges.vehicle)
    nearest = Nearest(np.full(count, np.inf), *np.full((3, count), np.nan))
    # The most threatening piece of each ridge first; it spares most of the others.
    foremost = np.argmin(bound, axis=1)
    looked_at = np.zeros(bound.shape, bool)
    looked_at[np.arange(count), foremost] = True
    for wanted in (looked_at, ~looked_at):
        wanted &= bound < np.minimum(nearest.gap_mm, known_mm)[:, None]
        ridge, piece = np.nonzero(wanted)
        if not len(ridge):
            continue
        # Both ends of every piece at once.
        twice = np.tile(ridge, 2)
        at = twice, np.concatenate([piece, piece + 1])
        ends = _at_event(
            line, rig, foot, frame, ridges.take(twice), ceiling, events[at], number[at]
        )
        ends = np.clip(ends, *span[:, twice]).reshape(2, -1)
        found = _within(
            line, rig, foot, frame, ridges.take(ridge), ceiling, *just_inside_rad(line, *ends)
        )
        order = np.lexsort((found.gap_mm, ridge))
        best = order[np.diff(ridge[order], prepend=-1) > 0]
        closer = best[found.gap_mm[best] < nearest.gap_mm[ridge[best]]]
        for kept, figures in zip(nearest, found, strict=True):
            kept[ridge[closer]] = figures[closer]
    return nearest


def _under_the_ceiling_rad(
    line: Line, rig: Rig, foot: Footing, frame: int, ridges: Ridges, ceiling: Line
) -> Floats:
    """From where to where the first axle stands while a ridge is under the ceiling, (2, e)."""
    span = foot.span_rad[:, ridges.vehicle]
    count = len(ridges.vehicle)
    edge = np.array([ceiling.start_rad, ceiling.end_rad])
    found = np.repeat(edge[:, None], count, axis=1)
    ends = np.flatnonzero(np.isfinite(edge))
    if len(ends):
        # All ends that the ceiling has at once.
        both = ridges.take(np.tile(np.arange(count), len(ends)))
        x = np.array([ridges.x_front_mm, ridges.x_rear_mm])[ends].ravel()
        at = found[ends].ravel()
        place = at - _end_place(foot.pose.take(both.vehicle), frame, both, x, ceiling)
        # Near a straight lead a vehicle stands in another way than on the helix.
        for _ in range(_SPAN_STEPS if line.has_straight else 0):
            pose = settle(line, rig, both.vehicle, 0, place, foot.ahead_rad)
            miss = at - _end_place(pose, frame, both, x, ceiling)
            place = place + miss
            if not (np.abs(miss) > _SETTLED_RAD).any():
                break
        found[ends] = place.reshape(len(ends), count)
    return np.array([np.fmax(found[0], span[0]), np.fmin(found[1], span[1])])


def _end_place(pose: Pose, frame: int, ridges: Ridges, x: Floats, ceiling: Line) -> Floats:
    left, up = pose.axes(frame)
    end = pose.middle_mm[frame] + ridges.y_mm * left + ridges.h_mm * up + x * pose.forward[frame]
    return _place(ceiling, pose, end[:2])


def _at_event(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    ridges: Ridges,
    ceiling: Line,
    place_rad: Floats,
    number: Indices,
) -> Floats:
    """Where the first axle really stands at events (see `Bounds`) that the model puts at
    ``place_rad``, (p,)."""
    place = place_rad.copy()
    over = knots_of(ceiling)
    axles, knots = rig.chassis.axles, len(line.knots_rad)
    at_axle = np.flatnonzero((number >= 0) & (number < axles * knots))
    axle, knot = np.divmod(number[at_axle], knots)
    which = ridges.vehicle[at_axle]
    pose = settle(line, rig, which, axle, line.knots_rad[knot], foot.ahead_rad)
    place[at_axle] = pose.axle_rad[0]
    at_end = np.flatnonzero(number >= axles * knots)
    end, knot = np.divmod(number[at_end] - axles * knots, len(over))
    some = ridges.take(at_end)
    x = np.where(end == 0, some.x_rear_mm, some.x_front_mm)
    for _ in range(_EVENT_STEPS if len(at_end) else 0):
        pose = settle(line, rig, some.vehicle, 0, place[at_end], foot.ahead_rad)
        miss = over[knot] - _end_place(pose, frame, some, x, ceiling)
        place[at_end] += miss
        if not (np.abs(miss) > _SETTLED_RAD).any():
            break
    return np.where(np.isfinite(place), place, place_rad)


def _within(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    ridges: Ridges,
    ceiling: Line,
    from_rad: Floats,
    to_rad: Floats,
) -> Nearest:
    """The least gap within pieces, one ridge each, shape (p,)."""
    pieces = len(from_rad)
    share = np.linspace(0.0, 1.0, _PARTS + 1)[:, None]
    places = (from_rad + share * (to_rad - from_rad)).ravel()
    many = np.tile(np.arange(pieces), _PARTS + 1)
    found = _at(line, rig, foot, frame, ridges.take(many), ceiling, places)
    gaps = found.gap_mm.reshape(_PARTS + 1, pieces)
    best = np.argmin(gaps, axis=0)
    columns = np.arange(pieces)
    nearest = Nearest(*(it.reshape(_PARTS + 1, pieces)[best, columns] for it in found))
    middle = np.clip(best, 1, _PARTS - 1)
    before, mid, after = (gaps[middle + step, columns] for step in (-1, 0, 1))
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = before + after - 2 * mid
        turn = (before - after) / (2 * bend)
    worth = np.flatnonzero((bend > 0) & (np.abs(turn) < 1))
    if len(worth):
        share = (middle + turn)[worth] / _PARTS
        there = from_rad[worth] + share * (to_rad - from_rad)[worth]
        more = _at(line, rig, foot, frame, ridges.take(worth), ceiling, there)
        closer = more.gap_mm < nearest.gap_mm[worth]
        for kept, figures in zip(nearest, more, strict=True):
            kept[worth[closer]] = figures[closer]
    return nearest


def _at(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    ridges: Ridges,
    ceiling: Line,
    place_rad: Floats,
) -> Nearest:
    """The gap of ridges, each in one position: the first axle at ``place_rad``, shape (p,)."""
    pose = settle(line, rig, ridges.vehicle, 0, place_rad, foot.ahead_rad)
    left, up = pose.axes(frame)
    start = pose.middle_mm[frame] + ridges.y_mm * left + ridges.h_mm * up
    forward = pose.forward[frame]
    candidates = [ridges.x_rear_mm, ridges.x_front_mm]
    rear, front = (_place(ceiling, pose, start[:2] + x * forward[:2]) for x in candidates)
    knots = knots_of(ceiling)
    first = np.searchsorted(knots, rear)
    # Where the ridge climbs as the ceiling does: spin / r^2 is how fast its place moves along x.
    spin = start[0] * forward[1] - start[1] * forward[0]
    across = start[0] * forward[0] + start[1] * forward[1]
    run = forward[0] ** 2 + forward[1] ** 2
    square = start[0] ** 2 + start[1] ** 2
    pieces = [ceiling.piece((rear + front) / 2)]
    for more in range(int(np.max(np.searchsorted(knots, front, side="right") - first, initial=0))):
        knot = knots[np.minimum(first + more, len(knots) - 1)]
        candidates.append(crossing_x(start, forward, knot - pose.reference_rad))
        # On both sides of a knot, however the knots of the ceiling are numbered.
        pieces += [ceiling.piece(knot - BESIDE_RAD), ceiling.piece(knot + BESIDE_RAD)]
    for piece in pieces:
        with np.errstate(invalid="ignore", divide="ignore"):
            under = across**2 - run * (square - ceiling.slope_mm[piece] * spin / forward[2])
            root = np.sqrt(under)
        candidates += [(-across - root) / run, (-across + root) / run]
    x = np.array(candidates)
    inside = (x >= ridges.x_rear_mm) & (x <= ridges.x_front_mm)
    x = np.where(inside, x, ridges.x_rear_mm)
    place = _place(ceiling, pose, start[:2, None] + x * forward[:2, None])
    gaps = hanging_mm(ceiling, place) - start[2] - x * forward[2]
    best = np.argmin(gaps, axis=0)
    columns = np.arange(len(place_rad))
    return Nearest(gaps[best, columns], place[best, columns], x[best, columns], place_rad)


def _place(ceiling: Line, pose: Pose, plan: Floats) -> Floats:
    return ceiling.locate(plan[0], plan[1], pose.reference_rad)[0]
