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
from clearance.geometry.rig import Pose, Rig, settle

__all__ = [
    "Nearest",
    "Ridges",
    "ceiling_gaps_mm",
    "height_over_rail_mm",
    "upper_ridges",
    "upside_down",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_RIDGES_AT_ONCE = 256
_PARTS = 4  # of a piece: a parabola is laid through the best of its ends
_BESIDE_RAD = 1e-6
_EVENT_STEPS = 5
_SPAN_STEPS = 14  # each leaves less than a third of what it found
_ROUNDING_MM = 2e-3


class Ridges(NamedTuple):
    """Lines along the bodies that one frame carries, shape (e,) each. [mm]

    ``vehicle`` says whose each is, rising; x counts forward from the frame's middle, y to the left,
    h up.
    """

    vehicle: Indices
    x_rear_mm: Floats
    x_front_mm: Floats
    y_mm: Floats
    h_mm: Floats

    def take(self, index: Indices | slice) -> "Ridges":
        """The ridges at ``index``."""
        return Ridges._make(figures[index] for figures in self)


def upper_ridges(boxes: Boxes) -> Ridges:
    """The two upper long edges of every block."""
    twice = np.repeat(np.arange(len(boxes.vehicle)), 2)
    return Ridges(
        boxes.vehicle[twice],
        boxes.x_rear_mm[twice],
        boxes.x_front_mm[twice],
        np.ravel(np.column_stack([boxes.left_mm, -boxes.right_mm])),
        boxes.top_mm[twice],
    )


class Nearest(NamedTuple):
    """The least gap of each ridge, and at which place of the line it is; inf and nan: none."""

    gap_mm: Floats
    place_rad: Floats


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
    line: Line, rig: Rig, foot: Footing, frame: int, ridges: Ridges, ceiling: Line
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

    Returns
    -------
    Nearest
        Shape (e,).
    """
    count = len(ridges.vehicle)
    found = Nearest(np.full(count, np.inf), np.full(count, np.nan))
    stands = foot.stands
    chosen = np.flatnonzero(stands[ridges.vehicle])
    for first in range(0, len(chosen), _RIDGES_AT_ONCE):
        number = chosen[first : first + _RIDGES_AT_ONCE]
        some = _nearest(line, rig, foot, frame, ridges.take(number), ceiling)
        for kept, figures in zip(found, some, strict=True):
            kept[number] = figures
    found.gap_mm[~stands[ridges.vehicle]] = np.nan
    return found


def _nearest(
    line: Line, rig: Rig, foot: Footing, frame: int, ridges: Ridges, ceiling: Line
) -> Nearest:
    span = _under_the_ceiling_rad(line, rig, foot, frame, ridges, ceiling)
    events, number, bound = _bounds(line, foot, frame, ridges, ceiling, span)
    count = len(ridges.vehicle)
    gap, place = np.full(count, np.inf), np.full(count, np.nan)
    # The most threatening piece of each ridge first; it spares most of the others.
    foremost = np.argmin(bound, axis=1)
    looked_at = np.zeros(bound.shape, bool)
    looked_at[np.arange(count), foremost] = True
    for wanted in (looked_at, None):
        if wanted is None:
            wanted = (bound < gap[:, None]) & ~looked_at
        ridge, piece = np.nonzero(wanted)
        if not len(ridge):
            continue
        some = ridges.take(ridge)
        ends = [
            np.clip(
                _at_event(line, rig, foot, frame, some, ceiling, events[at], number[at]),
                *span[:, ridge],
            )
            for at in ((ridge, piece), (ridge, piece + 1))
        ]
        found = _within(line, rig, foot, frame, some, ceiling, *ends)
        order = np.lexsort((found.gap_mm, ridge))
        best = order[np.diff(ridge[order], prepend=-1) > 0]
        closer = best[found.gap_mm[best] < gap[ridge[best]]]
        gap[ridge[closer]] = found.gap_mm[closer]
        place[ridge[closer]] = found.place_rad[closer]
    return Nearest(gap, place)


def _under_the_ceiling_rad(
    line: Line, rig: Rig, foot: Footing, frame: int, ridges: Ridges, ceiling: Line
) -> Floats:
    """From where to where the first axle stands while a ridge is under the ceiling, (2, e)."""
    span = foot.span_rad[:, ridges.vehicle]
    found = []
    for x, edge in ((ridges.x_front_mm, ceiling.start_rad), (ridges.x_rear_mm, ceiling.end_rad)):
        if not np.isfinite(edge):
            found.append(np.full(len(x), edge))
            continue
        pose = foot.pose.take(ridges.vehicle)
        place = edge - _end_place(pose, frame, ridges, x, ceiling)
        # Near a straight lead a vehicle stands in another way than on the helix.
        for _ in range(_SPAN_STEPS if line.has_straight else 0):
            pose = settle(line, rig, ridges.vehicle, 0, place, foot.ahead_rad)
            place = place + edge - _end_place(pose, frame, ridges, x, ceiling)
        found.append(place)
    return np.array([np.fmax(found[0], span[0]), np.fmin(found[1], span[1])])


def _end_place(pose: Pose, frame: int, ridges: Ridges, x: Floats, ceiling: Line) -> Floats:
    left, up = pose.axes(frame)
    end = pose.middle_mm[frame] + ridges.y_mm * left + ridges.h_mm * up + x * pose.forward[frame]
    return _place(ceiling, pose, end[:2])


def _bounds(
    line: Line, foot: Footing, frame: int, ridges: Ridges, ceiling: Line, span_rad: Floats
) -> tuple[Floats, Indices, Floats]:
    """Where the first axle stands at the events of each ridge, rising, and which these are (see
    `_at_event`), (e, j); and for each piece between two of them a gap that the ridge does not fall
    below, (e, j - 1)."""
    whose = ridges.vehicle
    axles = foot.ahead_rad[:, whose]
    pose = foot.pose.take(whose)
    left, up = pose.axes(frame)
    forward = pose.forward[frame]
    start = pose.middle_mm[frame] + ridges.y_mm * left + ridges.h_mm * up
    ends = [
        np.arctan2(start[1] + x * forward[1], start[0] + x * forward[0])
        for x in (ridges.x_rear_mm, ridges.x_front_mm)
    ]
    rear, front = ends
    knots = line.knots_rad
    over = _knots_of(ceiling)
    angles, over = over, _along_the_line(line, ceiling, over)
    events = np.concatenate(
        [knots - axle[:, None] for axle in axles] + [over - end[:, None] for end in ends], axis=1
    )
    low, high = span_rad[:, :, None]
    high = np.maximum(low, high)
    # What falls before the first or after the last position is none of them any more.
    event = np.where((events > low) & (events < high), np.arange(events.shape[1]), -1)
    events = np.minimum(np.maximum(np.concatenate([low, events, high], axis=1), low), high)
    event = np.pad(event, ((0, 0), (1, 1)), constant_values=-1)
    order = np.argsort(events, axis=1)
    events, event = (np.take_along_axis(it, order, axis=1) for it in (events, event))

    weights = foot.weights[frame]
    mid, slope = np.zeros(events.shape), np.zeros(events.shape)
    for number, axle in enumerate(axles):
        height = line.height_mm(events + axle[:, None])
        mid += weights.mid[number, whose, None] * height
        slope += weights.slope[number, whose, None] * height
    mid += (ridges.y_mm * left[2] + ridges.h_mm * up[2])[:, None]
    gap = np.full(events.shape, np.inf)
    for x, end in zip((ridges.x_rear_mm, ridges.x_front_mm), ends, strict=True):
        above = _clipped_height(ceiling, _plan_angle(line, ceiling, events + end[:, None]))
        np.minimum(gap, above - mid - x[:, None] * slope, out=gap)
    first = np.searchsorted(over, events + rear[:, None])
    for more in range(_most_between(over, rear, front)):
        number = np.minimum(first + more, len(over) - 1)
        knot = over[number]
        inside = knot <= events + front[:, None]
        ahead = knot - events
        x = _crossing_x(start[:, :, None], forward[:, :, None], ahead)
        hang = ceiling.height_mm(angles[number]) - mid - x * slope
        np.minimum(gap, np.where(inside, hang, np.inf), out=gap)
    # Where the model sees nothing under the ceiling, near its ends, anything may be.
    gap[np.isinf(gap)] = -np.inf
    # Under a knot a ridge moves along a frame whose pitch changes, and draws an arch.
    travel = np.diff(events, axis=1) * line.radius_mm
    arch = travel * np.abs(np.diff(slope, axis=1)) / 3
    slack = _slack_mm(line, ridges, ceiling)[:, None] + arch
    return events, event, np.minimum(gap[:, 1:], gap[:, :-1]) - slack


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
    """Where the first axle really stands at events that the model puts at ``place_rad``, (p,).

    ``number`` says which event: each axle on each knot, then the rear and the front end of the
    ridge under each knot of the ceiling; -1: none of these.
    """
    place = place_rad.copy()
    over = _knots_of(ceiling)
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
        place[at_end] += over[knot] - _end_place(pose, frame, some, x, ceiling)
    return np.where(np.isfinite(place), place, place_rad)


def _along_the_line(line: Line, ceiling: Line, angle: Floats) -> Floats:
    """The places of the line under plan angles of a ceiling that has no straight lead itself."""
    if not line.has_straight or ceiling.has_straight:
        return angle
    on_curve = np.clip(angle, *line.curve_rad)
    return np.asarray(on_curve + np.tan(angle - on_curve))


def _plan_angle(line: Line, ceiling: Line, place: Floats) -> Floats:
    """The other way."""
    if not line.has_straight or ceiling.has_straight:
        return place
    on_curve = np.clip(place, *line.curve_rad)
    return np.asarray(on_curve + np.arctan(place - on_curve))


def _most_between(knots: Floats, rear: Floats, front: Floats) -> int:
    """The most knots that any body spans."""
    span = float((front - rear).max()) * 1.001
    return int(np.max(np.searchsorted(knots, knots + span, side="right") - np.arange(len(knots))))


def _crossing_x(start: Floats, forward: Floats, angle: Floats) -> Floats:
    """Where along the ridge it crosses the radial line at a plan angle."""
    cosine, sine = np.cos(angle), np.sin(angle)
    gain = forward[1] * cosine - forward[0] * sine
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((start[0] * sine - start[1] * cosine) / gain)


def _clipped_height(ceiling: Line, place: Floats) -> Floats:
    inside = (place >= ceiling.start_rad - _BESIDE_RAD) & (place <= ceiling.end_rad + _BESIDE_RAD)
    return np.where(inside, ceiling.height_mm(place), np.inf)


def _slack_mm(line: Line, ridges: Ridges, ceiling: Line) -> Floats:
    """By how much the model may overstate a gap, arches left out."""
    radius = line.radius_mm
    grades = np.concatenate([line.slope_mm, ceiling.slope_mm]) / radius
    steepest = float(np.abs(grades).max())
    uneven = float(np.abs(grades - line.mean_climb_mm / radius).max())
    reach = np.maximum(np.abs(ridges.x_rear_mm), np.abs(ridges.x_front_mm))
    around = (reach + np.abs(ridges.y_mm)) / radius
    slack = (np.abs(ridges.h_mm) + np.abs(ridges.y_mm)) * (steepest * uneven + uneven**2)
    slack += 4 * reach * steepest**2 * uneven
    # Place along a chord is nearly its tangent's angle; on a straight lead it is the tangent.
    slack += (0.7 if line.has_straight else 0.2) * steepest * radius * around**3
    if line.has_straight:
        # Upright on the lead, a ridge stands otherwise than on the canted curve.
        roll = abs(line.roll_rad)
        slack += np.abs(ridges.y_mm) * np.sin(roll) + np.abs(ridges.h_mm) * (1 - np.cos(roll))
    if line.has_straight and not ceiling.has_straight:
        # Beside the centreline of a lead the plan angle is another one.
        slack += steepest * (np.abs(ridges.y_mm) + reach * around)
    return np.asarray(slack + _ROUNDING_MM)


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
    gap = gaps[best, columns]
    place = found.place_rad.reshape(_PARTS + 1, pieces)[best, columns]
    middle = np.clip(best, 1, _PARTS - 1)
    before, mid, after = (gaps[middle + step, columns] for step in (-1, 0, 1))
    with np.errstate(invalid="ignore", divide="ignore"):
        bend = before + after - 2 * mid
        turn = (before - after) / (2 * bend)
    worth = np.flatnonzero((bend > 0) & (np.abs(turn) < 1))
    if len(worth):
        there = from_rad + (middle + turn) / _PARTS * (to_rad - from_rad)
        more = _at(line, rig, foot, frame, ridges.take(worth), ceiling, there[worth])
        closer = more.gap_mm < gap[worth]
        gap[worth[closer]] = more.gap_mm[closer]
        place[worth[closer]] = more.place_rad[closer]
    return Nearest(gap, place)


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
    knots = _knots_of(ceiling)
    first = np.searchsorted(knots, rear)
    # Where the ridge climbs as the ceiling does: spin / r^2 is how fast its place moves along x.
    spin = start[0] * forward[1] - start[1] * forward[0]
    across = start[0] * forward[0] + start[1] * forward[1]
    run = forward[0] ** 2 + forward[1] ** 2
    square = start[0] ** 2 + start[1] ** 2
    pieces = [ceiling.piece((rear + front) / 2)]
    for more in range(int(np.max(np.searchsorted(knots, front, side="right") - first, initial=0))):
        knot = knots[np.minimum(first + more, len(knots) - 1)]
        candidates.append(_crossing_x(start, forward, knot - pose.reference_rad))
        # On both sides of a knot, however the knots of the ceiling are numbered.
        pieces += [ceiling.piece(knot - _BESIDE_RAD), ceiling.piece(knot + _BESIDE_RAD)]
    for piece in pieces:
        with np.errstate(invalid="ignore", divide="ignore"):
            under = across**2 - run * (square - ceiling.slope_mm[piece] * spin / forward[2])
            root = np.sqrt(under)
        candidates += [(-across - root) / run, (-across + root) / run]
    x = np.array(candidates)
    inside = (x >= ridges.x_rear_mm) & (x <= ridges.x_front_mm)
    x = np.where(inside, x, ridges.x_rear_mm)
    place = _place(ceiling, pose, start[:2, None] + x * forward[:2, None])
    gaps = _clipped_height(ceiling, place) - start[2] - x * forward[2]
    best = np.argmin(gaps, axis=0)
    columns = np.arange(len(place_rad))
    return Nearest(gaps[best, columns], place[best, columns])


def _knots_of(ceiling: Line) -> Floats:
    """Where a ceiling bends, begins and ends, rising."""
    knots = np.concatenate([ceiling.knots_rad, [ceiling.start_rad, ceiling.end_rad]])
    inside = (knots >= ceiling.start_rad) & (knots <= ceiling.end_rad) & np.isfinite(knots)
    return np.unique(knots[inside])


def _place(ceiling: Line, pose: Pose, plan: Floats) -> Floats:
    return ceiling.locate(plan[0], plan[1], pose.reference_rad)[0]
