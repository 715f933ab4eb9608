"""Ridges of bodies under a ceiling that follows the line, and what their gap cannot fall below.

G4 and G8, docs/theory.md. Only for speed: of all the pieces into which the positions of a vehicle
fall, the gap is bounded by a model, so that `clearance.geometry.profile` need work out only a few.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes, Footing
from clearance.geometry.line import Line

__all__ = [
    "BESIDE_RAD",
    "Bounds",
    "Ridges",
    "bounds_mm",
    "crossing_x",
    "hanging_mm",
    "knots_of",
    "upper_ridges",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

BESIDE_RAD = 1e-6
"""What is beside the end of a ceiling by no more counts as under it."""

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


def knots_of(ceiling: Line) -> Floats:
    """Where a ceiling bends, begins and ends, rising. [rad]"""
    knots = np.concatenate([ceiling.knots_rad, [ceiling.start_rad, ceiling.end_rad]])
    inside = (knots >= ceiling.start_rad) & (knots <= ceiling.end_rad) & np.isfinite(knots)
    return np.unique(knots[inside])


class Bounds(NamedTuple):
    """The pieces into which the positions of each of e vehicles fall, and what bounds them.

    Attributes
    ----------
    place_rad
        Where the first axle stands at the events of each ridge, by the model, rising: shape (e, j).
    event
        Which these are: each axle on each knot of the line, then the rear and then the front end of
        the ridge under each knot of the ceiling, numbered in that order; -1: none, shape (e, j).
    gap_mm
        What the gap does not fall below between an event and the next, shape (e, j - 1). [mm]
    """

    place_rad: Floats
    event: Indices
    gap_mm: Floats


def bounds_mm(
    line: Line, foot: Footing, frame: int, ridges: Ridges, ceiling: Line, span_rad: Floats
) -> Bounds:
    """What the gap of ridges under a ceiling does not fall below, from event to event.

    Parameters
    ----------
    line, foot, frame, ridges, ceiling
        As for `clearance.geometry.profile.ceiling_gaps_mm`.
    span_rad
        From where to where the first axle may stand, shape (2, e).
    """
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
    over = knots_of(ceiling)
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
        above = hanging_mm(ceiling, _plan_angle(line, ceiling, events + end[:, None]))
        np.minimum(gap, above - mid - x[:, None] * slope, out=gap)
    first = np.searchsorted(over, events + rear[:, None])
    for more in range(_most_between(over, rear, front)):
        number = np.minimum(first + more, len(over) - 1)
        knot = over[number]
        inside = knot <= events + front[:, None]
        ahead = knot - events
        x = crossing_x(start[:, :, None], forward[:, :, None], ahead)
        hang = ceiling.height_mm(angles[number]) - mid - x * slope
        np.minimum(gap, np.where(inside, hang, np.inf), out=gap)
    # Where the model sees nothing under the ceiling, near its ends, anything may be.
    gap[np.isinf(gap)] = -np.inf
    # Under a knot a ridge moves along a frame whose pitch changes, and draws an arch.
    travel = np.diff(events, axis=1) * line.radius_mm
    arch = travel * np.abs(np.diff(slope, axis=1)) / 3
    slack = _slack_mm(line, ridges, ceiling)[:, None] + arch
    return Bounds(events, event, np.minimum(gap[:, 1:], gap[:, :-1]) - slack)


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


def crossing_x(start: Floats, forward: Floats, angle: Floats) -> Floats:
    """Where along ridges these cross radial lines of the curve.

    Parameters
    ----------
    start, forward
        The point at x = 0 and the way of each ridge: out, along and up, (3, ...). [mm]
    angle
        At which plan angles, from the direction in which they count. [rad]
    """
    cosine, sine = np.cos(angle), np.sin(angle)
    gain = forward[1] * cosine - forward[0] * sine
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((start[0] * sine - start[1] * cosine) / gain)


def hanging_mm(ceiling: Line, place: Floats) -> Floats:
    """How high a ceiling hangs at some places; inf: there is none. [mm]"""
    inside = (place >= ceiling.start_rad - BESIDE_RAD) & (place <= ceiling.end_rad + BESIDE_RAD)
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
