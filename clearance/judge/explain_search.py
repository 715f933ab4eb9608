"""The position in which a car leaves the least room, so that a working can say where it stands.

G4 and G5, docs/theory.md. Under a ceiling the engine says where that is. Of single strips and of
what stands beside it keeps the gap alone: there one car is followed over all positions, in steps
that are cut finer wherever it is tightest.
"""

import math
from collections.abc import Callable, Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes
from clearance.geometry.line import Line
from clearance.geometry.profile import Nearest, ceiling_gaps_mm
from clearance.geometry.ridges import Ridges, upper_ridges
from clearance.geometry.rig import JUST_BESIDE_MM, Pose, settle
from clearance.geometry.undersides import Edges, Undersides, edge_heights_mm, roof_edges
from clearance.judge.drive import Drive

__all__ = ["Spot", "closest", "under_deck", "under_strip", "widest"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_NODES, _MOST_NODES = 400, 4000
_SHORTEST_MM = 1.0
_CELLS = 96  # kept each time, those with the least room
_PARTS = 4  # into which each is cut
_ROUNDS = 12
_AROUND = 1.6  # the angle of a body's end is at most so much more than its distance over the radius


class Spot(NamedTuple):
    """A point of a car in a position. [mm]

    Attributes
    ----------
    pose
        The car's position, alone in its arrays.
    frame
        The frame on which the point is.
    x_mm, y_mm, h_mm
        The point: from the frame's middle uphill, to the left, up.
    place_rad
        The place of the line that it is abreast of; nan: nobody asked.
    """

    pose: Pose
    frame: int
    x_mm: float
    y_mm: float
    h_mm: float
    place_rad: float = math.nan

    def plan_mm(self, reference_rad: float) -> tuple[float, float]:
        """Where the point is in plan: out from the axis along an angle, and square to it."""
        left, up = self.pose.axes(self.frame)
        point = self.pose.middle_mm[self.frame] + self.x_mm * self.pose.forward[self.frame]
        point = point + self.y_mm * left + self.h_mm * up
        turn = self.pose.reference_rad[0] - reference_rad
        out, along = point[0, 0], point[1, 0]
        return (
            float(out * math.cos(turn) - along * math.sin(turn)),
            float(along * math.cos(turn) + out * math.sin(turn)),
        )


class _Seen(NamedTuple):
    """Points in p positions, c each, shape (c, p): what each leaves (inf: nothing), and itself."""

    left_mm: Floats
    x_mm: Floats
    y_mm: Floats
    h_mm: Floats


_Look = Callable[[Pose], _Seen]


def under_strip(drive: Drive, strip: Undersides, *, endless: bool) -> Spot | None:
    """Where a car comes closest to a level underside.

    Parameters
    ----------
    drive
        The car.
    strip
        The underside, alone in its arrays.
    endless
        True: the line goes on beyond its ends.

    Returns
    -------
    Spot
        None: nothing of the car comes beneath.
    """
    half = float(strip.width_mm[0]) / 2

    def look(frame: int, boxes: Boxes) -> _Look:
        every = zip(*roof_edges(boxes, across=drive.line.roll_rad != 0), strict=True)
        edges = Edges._make(np.concatenate(figures) for figures in every)

        def seen(pose: Pose) -> _Seen:
            shape = len(edges.vehicle), len(pose.reference_rad)
            one = np.repeat(np.arange(shape[0]), shape[1])
            some = edges.take(one)
            many = pose.take(np.tile(np.arange(shape[1]), shape[0]))
            found = edge_heights_mm(many, frame, some, strip.take(np.zeros(len(one), np.intp)))
            rows = []
            for height, mark in ((found.high_mm, half), (found.low_mm, -half)):
                with np.errstate(divide="ignore", invalid="ignore"):
                    share = (mark - found.from_mm) / (found.to_mm - found.from_mm)
                at = some.from_mm + np.clip(share, 0, 1) * (some.to_mm - some.from_mm)
                left = strip.elevation_mm[0] - height
                x = np.where(some.across, some.beside_mm, at)
                y = np.where(some.across, at, some.beside_mm)
                rows.append([figures.reshape(shape) for figures in (left, x, y, some.h_mm)])
            return _Seen(*(np.concatenate(pair) for pair in zip(*rows, strict=True)))

        return seen

    nodes = _around(drive, float(strip.place_rad[0]), half, endless=endless)
    return _tightest(drive, nodes, [(frame, look(frame, boxes)) for frame, _, boxes in drive.loads])


def under_deck(drive: Drive, deck: Line) -> Spot | None:
    """Where a car comes closest to the deck between the beams, a line by place; None: nowhere."""
    every = [(frame, upper_ridges(boxes)) for frame, _, boxes in drive.loads]
    return closest(
        drive,
        [
            (frame, on, ceiling_gaps_mm(drive.line, drive.rig, drive.foot, frame, on, deck))
            for frame, on in every
        ],
    )


def closest(drive: Drive, found: Iterable[tuple[int, Ridges, Nearest]]) -> Spot | None:
    """Where a car comes closest to a ceiling, as `clearance.geometry.profile` found it.

    Parameters
    ----------
    drive
        The car.
    found
        For each frame that carries anything its number, its ridges, and their least gaps.
    """
    least, spot = math.inf, None
    for frame, ridges, nearest in found:
        at = int(np.fmin(nearest.gap_mm, np.inf).argmin())
        if nearest.gap_mm[at] < least:
            least = float(nearest.gap_mm[at])
            pose = _alone(drive, nearest.first_rad[[at]])
            figures = nearest.x_mm, ridges.y_mm, ridges.h_mm, nearest.place_rad
            spot = Spot(pose, frame, *(float(figure[at]) for figure in figures))
    return spot


def _alone(drive: Drive, place_rad: Floats) -> Pose:
    """The car in some positions."""
    which = np.zeros(len(place_rad), np.intp)
    return settle(drive.line, drive.rig, which, 0, place_rad, drive.foot.ahead_rad)


def widest(
    drive: Drive,
    frame: int,
    box: Boxes,
    strip: Undersides | None,
    *,
    inward: bool,
    endless: bool,
) -> Spot | None:
    """Where a block reaches furthest to one side of its track.

    Parameters
    ----------
    drive, frame, box
        The car, and one block of it on a frame.
    strip
        What stands beside, as wide along the track: only what is abreast of it counts. None: the
        whole line.
    inward
        Which side.
    endless
        True: every position is like every other.

    Returns
    -------
    Spot
        None: the block never comes abreast of it.
    """
    line = drive.line
    y = float(box.left_mm[0] if inward else -box.right_mm[0])
    ends = float(box.x_rear_mm[0]), float(box.x_front_mm[0])
    heights = [float(box.bottom_mm[0]), float(box.top_mm[0])]
    bends = [bend for bend in line.curve_rad if math.isfinite(bend)]

    def seen(pose: Pose) -> _Seen:
        left, up = pose.axes(frame)
        forward, middle = pose.forward[frame], pose.middle_mm[frame]
        one = np.ones_like(pose.reference_rad)
        rows = []

        def put(x: Floats, h: Floats, away: Floats) -> None:
            point = middle + x * forward + y * left + h * up
            offset = line.locate(point[0], point[1], pose.reference_rad)[1]
            rows.append(((offset if inward else -offset) + away, x, y * one, h))

        for height in heights:
            start = middle + y * left + height * up
            rear, front, away = ends[0] * one, ends[1] * one, 0 * one
            if strip is not None:
                rear, front, away = _within(strip, pose, start, forward, ends)
            run = forward[0] ** 2 + forward[1] ** 2
            places = [rear, front, -(start[0] * forward[0] + start[1] * forward[1]) / run]
            places += [_crossing(bend, 0.0, pose, start, forward) for bend in bends]
            for x in places:
                put(np.minimum(np.maximum(x, rear), front), height * one, away)
        for x in ends if strip is None else ():
            # Up a leaning end the square of the distance from the axis is a parabola.
            foot = middle[:2] + x * forward[:2] + y * left[:2]
            lean = (up[:2] ** 2).sum(axis=0)
            with np.errstate(divide="ignore", invalid="ignore"):
                vertex = -(foot * up[:2]).sum(axis=0) / lean
            put(x * one, np.fmin(np.fmax(vertex, heights[0]), heights[1]), 0 * one)
        return _Seen(*(np.array(figures) for figures in zip(*rows, strict=True)))

    if strip is not None:
        half = float(strip.width_mm[0]) / 2
        nodes = _around(drive, float(strip.place_rad[0]), half, endless=endless)
    else:
        nodes = np.zeros(1) if endless else _everywhere(drive)
    return _tightest(drive, nodes, [(frame, seen)])


_TOUCHING_MM = 5e-3  # as `clearance.geometry.swept` has it
# What is not abreast counts as so far out of reach, and by as much more as it is away: so a search
# for a place that is passed in no time, an end passing something thin, knows which way to go.
_NOWHERE_MM = 1e6


def _crossing(
    plan_rad: Floats | float, ahead_mm: Floats | float, pose: Pose, start: Floats, forward: Floats
) -> Floats:
    """Where along a line of a body it is so far ahead of the axis, seen along a plan angle."""
    turn = plan_rad - pose.reference_rad
    cosine, sine = np.cos(turn), np.sin(turn)
    gain = forward[1] * cosine - forward[0] * sine
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((ahead_mm - start[1] * cosine + start[0] * sine) / gain)


def _within(
    strip: Undersides, pose: Pose, start: Floats, forward: Floats, ends: tuple[float, float]
) -> tuple[Floats, Floats, Floats]:
    """From where to where a line of a body is abreast of a strip; and how far it is from that."""
    half = strip.width_mm / 2
    rear = np.maximum(
        ends[0], _crossing(strip.plan_rad, strip.along_mm - half, pose, start, forward)
    )
    front = np.minimum(
        ends[1], _crossing(strip.plan_rad, strip.along_mm + half, pose, start, forward)
    )
    away = rear - front
    nearest = np.clip((rear + front) / 2, *ends)
    outside = away > _TOUCHING_MM
    rear, front = (np.where(outside, nearest, end) for end in (rear, np.maximum(front, rear)))
    return rear, front, np.where(outside, _NOWHERE_MM + away, 0.0)


# Positions: where the first axle stands


def _around(drive: Drive, place_rad: float, half_mm: float, *, endless: bool) -> Floats:
    """Positions in which any part of a car may be within so much of a place."""
    rig = drive.rig
    front, rear, margin, shortest = -math.inf, math.inf, half_mm, math.inf
    for frame, _, boxes in drive.loads:
        ahead = float(rig.middle_mm[frame, 0] - rig.axle_mm[0, 0])
        front = max(front, ahead + float(boxes.x_front_mm.max()))
        rear = min(rear, ahead + float(boxes.x_rear_mm.min()))
        shortest = min(shortest, 2 * half_mm + float((boxes.x_front_mm - boxes.x_rear_mm).min()))
        for figures in (boxes.left_mm, boxes.right_mm, boxes.top_mm):
            margin = max(margin, half_mm + float(figures.max()))
    low = place_rad - (max(front * _AROUND, front / _AROUND) + margin) / drive.line.radius_mm
    high = place_rad - (min(rear * _AROUND, rear / _AROUND) - margin) / drive.line.radius_mm
    if not endless:
        low, high = (float(np.clip(end, *drive.foot.span_rad[:, 0])) for end in (low, high))
    # No block passes between two nodes.
    wanted = 2 * (high - low) * drive.line.radius_mm / max(shortest, _SHORTEST_MM)
    return np.linspace(low, high, int(np.clip(wanted, _NODES, _MOST_NODES)))


def _everywhere(drive: Drive) -> Floats:
    """Positions over the whole line; closer together where a straight lead begins."""
    line, (low, high) = drive.line, drive.foot.span_rad[:, 0]
    nodes = [np.linspace(low, high, _NODES)]
    nodes += [line.knots_rad - axle for axle in drive.foot.ahead_rad[:, 0]]
    for bend in line.curve_rad:
        if math.isfinite(bend):
            nodes.append(_around(drive, bend, 0.0, endless=False))
    return np.unique(np.clip(np.concatenate(nodes), low, high))


def _tightest(drive: Drive, nodes: Floats, looks: list[tuple[int, _Look]]) -> Spot | None:
    """The point that leaves the least room, of all positions from the first node to the last."""

    def left(places: Floats) -> Floats:
        pose = _alone(drive, places)
        return np.asarray(np.min([_known(look(pose)).min(axis=0) for _, look in looks], axis=0))

    values = left(nodes)
    best = int(values.argmin())
    place, least = nodes[best], values[best]
    low, high = nodes[:-1], nodes[1:]
    at_low, at_high = values[:-1], values[1:]
    for _ in range(_ROUNDS if len(nodes) > 1 else 0):
        kept = np.argsort(np.fmin(at_low, at_high), kind="stable")[:_CELLS]
        share = np.linspace(0.0, 1.0, _PARTS + 1)[:, None]
        cut = low[kept] + share * (high[kept] - low[kept])
        inner = left(cut[1:-1].ravel()).reshape(_PARTS - 1, -1)
        values = np.vstack([at_low[kept], inner, at_high[kept]])
        best = int(values.argmin())
        if values.flat[best] < least:
            place, least = cut.flat[best], values.flat[best]
        low, high = cut[:-1].ravel(), cut[1:].ravel()
        at_low, at_high = values[:-1].ravel(), values[1:].ravel()
    if not least < _NOWHERE_MM / 2:
        return None
    # Alone it settles a hair aside of where it did among others, and may lose what it just touches.
    hair = JUST_BESIDE_MM / drive.line.radius_mm
    pose = _alone(drive, place + np.array([0.0, -hair, hair]))
    spots = []
    for frame, look in looks:
        found = look(pose)
        left_mm = _known(found)
        at = np.unravel_index(left_mm.argmin(), left_mm.shape)
        point = (float(figures[at]) for figures in found[1:])
        spots.append((left_mm[at], Spot(pose.take(np.array(at[1:])), frame, *point)))
    return min(spots, key=lambda spot: float(spot[0]))[1]


def _known(seen: _Seen) -> Floats:
    return np.where(np.isnan(seen.left_mm), np.inf, seen.left_mm)
