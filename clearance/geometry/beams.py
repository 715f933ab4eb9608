"""The least gap under each level underside of a line as built, over every position of a vehicle.

G4, docs/theory.md. A body meets an underside with one of its upper long edges. While every axle
stays on one straight piece of the line, and the same point of the edge or the same side of the
strip decides, the gap changes smoothly; so the positions of a vehicle under an underside fall into
pieces, and the least gap is at a piece's end or where it is stationary.

Two steps. `clearance.geometry.screen` bounds the gap of every piece from both sides, by a model that
is linear in the railheads; here the few pieces that could hold the least gap are worked out
exactly. Near a straight lead the model does not hold, and every piece is worked out.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes, Footing
from clearance.geometry.line import Line
from clearance.geometry.pieces import Pieces, split_at_knots
from clearance.geometry.rig import Rig, settle
from clearance.geometry.screen import Grid, grids, screen
from clearance.geometry.undersides import Crossing, Edges, Undersides, edge_heights_mm, upper_edges

__all__ = ["beam_gaps_mm"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_SCREENED_AT_ONCE = 256
_EDGES_AT_ONCE = 4096
_JUST_INSIDE = 1e-8  # of a piece: at its very end an axle may count to the next one
_NEAR_MM = 0.03  # from where an end passes the strip: a tenth of it, at most, in height
_PASSING_STEPS = 6  # each leaves less than a fifth of what it found
_WORTH_MM = 1e-4  # a stationary point that gains less than this over what is known is left


def beam_gaps_mm(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    undersides: Undersides,
    ceiling_mm: Floats,
    *,
    every: bool = False,
) -> Floats:
    """The least gap of n vehicles under k undersides, made by the blocks on one frame.

    Parameters
    ----------
    line, rig, foot
        The track, the running gear of n vehicles, and how it stands on the nearest regular helix.
    frame, boxes
        The frame, and the blocks that it carries.
    undersides
        What hangs over the line.
    ceiling_mm
        Gaps of this or more need not be exact, shape (n,). [mm]
    every
        True: every gap is exact; else only the least of each vehicle.

    Returns
    -------
    ndarray
        Shape (n, k). [mm] inf: no part comes beneath, or what was found so far is less. nan: the
        vehicle cannot stand on this curve.
    """
    gaps = np.full((len(rig), len(undersides.place_rad)), np.inf)
    edges = upper_edges(boxes)
    stands = ~np.isnan(foot.ahead_rad).any(axis=0)
    edges = edges.take(np.flatnonzero(stands[edges.vehicle]))
    if len(edges.vehicle) and len(undersides.place_rad):
        reach = _reach_rad(line, foot, edges, undersides)
        low, high = line.curve_rad
        near = (undersides.place_rad < low + reach) | (undersides.place_rad > high - reach)
        best = np.asarray(ceiling_mm, float).copy()
        for number, search in ((np.flatnonzero(near), _all), (np.flatnonzero(~near), _screened)):
            if len(number):
                some = undersides.take(number)
                found = search(line, rig, foot, frame, edges, some, best, every, reach)
                gaps[:, number] = found
                best = np.fmin(best, found.min(axis=1))
    gaps[~stands] = np.nan
    return gaps


def _reach_rad(line: Line, foot: Footing, edges: Edges, undersides: Undersides) -> float:
    """No part of any vehicle that is under an underside has an axle further from it than this."""
    whose = edges.vehicle
    axles = foot.ahead_rad[:, whose]
    middle = (axles.min(axis=0) + axles.max(axis=0)) / 2
    span = np.ptp(axles, axis=0) / 2
    body = np.maximum(np.abs(edges.x_rear_mm), np.abs(edges.x_front_mm)) / line.radius_mm
    strip = undersides.width_mm.max() / line.radius_mm
    return float((1.5 * (span + body + strip) + np.abs(middle)).max())


def _screened(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    edges: Edges,
    undersides: Undersides,
    ceiling_mm: Floats,
    every: bool,
    reach_rad: float,
) -> Floats:
    """Gaps by screening first; all of this is on the circle."""
    gaps = np.full((len(rig), len(undersides.place_rad)), np.inf)
    some_grids = grids(line, undersides, reach_rad)
    for batch in _batches(edges, _EDGES_AT_ONCE):
        pieces = []
        for first in range(0, len(batch.vehicle), _SCREENED_AT_ONCE):
            some = batch.take(slice(first, first + _SCREENED_AT_ONCE))
            for found in _suspect(
                line, rig, foot, frame, some, undersides, some_grids, ceiling_mm, every
            ):
                pieces.append(found._replace(edge=found.edge + first))
        whole = Pieces(*(np.concatenate(figures) for figures in zip(*pieces, strict=True)))
        _lower(gaps, line, rig, foot, frame, batch, undersides, whole, every=every)
    return gaps


def _batches(edges: Edges, size: int) -> Iterator[Edges]:
    for first in range(0, len(edges.vehicle), size):
        yield edges.take(slice(first, first + size))


def _suspect(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    edges: Edges,
    undersides: Undersides,
    some_grids: list[Grid],
    ceiling_mm: Floats,
    every: bool,
) -> Iterator[Pieces]:
    """The pieces that may hold the least gap of a vehicle, or with ``every`` of each underside."""
    low, high = edges.vehicle[0], edges.vehicle[-1] + 1
    own = edges.vehicle - low
    known = [screen(line, foot, frame, edges, undersides, grid) for grid in some_grids]
    # The gap to be beaten: what is sure to be found somewhere.
    sure = np.full((high - low, len(undersides.place_rad)), np.inf)
    for screened in known:
        number = screened.grid.number
        gap = undersides.elevation_mm[number] - screened.sure_mm
        np.minimum.at(sure, (own[:, None], number), gap)
    if not every:
        sure[:] = np.fmin(sure.min(axis=1), ceiling_mm[low:high])[:, None]
    for screened in known:
        number = screened.grid.number
        floor = undersides.elevation_mm[number] - sure[own[:, None], number]
        edge, column = np.nonzero(screened.most_mm > floor)
        pieces = screened.pieces(edge, column, floor[edge, column])
        if screened.grid.miss_mm:
            pieces = split_at_knots(line, rig, foot, edges.vehicle, pieces)
        yield pieces


def _all(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    edges: Edges,
    undersides: Undersides,
    ceiling_mm: Floats,
    every: bool,
    reach_rad: float,
) -> Floats:
    """Gaps by working out every piece: for undersides from which a straight lead is near."""
    del ceiling_mm, reach_rad
    count = len(undersides.place_rad)
    gaps = np.full((len(rig), count), np.inf)
    for some in _batches(edges, _EDGES_AT_ONCE):
        edge = np.repeat(np.arange(len(some.vehicle)), count)
        underside = np.tile(np.arange(count), len(some.vehicle))
        passing = _passing_rad(line, rig, foot, frame, some.take(edge), undersides.take(underside))
        pieces = Pieces(
            *(np.tile(number, 3) for number in (edge, underside)),
            passing[:-1].ravel(),
            passing[1:].ravel(),
            np.full(3 * len(edge), np.inf),
            np.full(3 * len(edge), np.inf),
        )
        pieces = split_at_knots(line, rig, foot, some.vehicle, pieces)
        _lower(gaps, line, rig, foot, frame, some, undersides, pieces, every=every)
    return gaps


def _passing_rad(
    line: Line, rig: Rig, foot: Footing, frame: int, edges: Edges, undersides: Undersides
) -> Floats:
    """Where the first axle stands when an end of an edge passes a side of a strip, rising, (4, p)."""
    middle = foot.pose.middle_mm[frame][:, edges.vehicle]
    forward = foot.pose.forward[frame][:, edges.vehicle]
    half = undersides.width_mm / 2
    found = []
    for front in (True, False):
        x = edges.x_front_mm if front else edges.x_rear_mm
        ahead = np.arctan2(middle[1] + x * forward[1], middle[0] + x * forward[0])
        for side in (-half, half):
            place = undersides.place_rad - ahead + side / line.radius_mm
            for _ in range(_PASSING_STEPS):
                pose = settle(line, rig, edges.vehicle, 0, place, foot.ahead_rad)
                crossing = edge_heights_mm(pose, frame, edges, undersides)
                beyond = crossing.front_mm if front else crossing.rear_mm
                place = place - (beyond - side) / line.radius_mm
            found.append(place)
    return np.sort(found, axis=0)


def _lower(
    gaps: Floats,
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    edges: Edges,
    undersides: Undersides,
    pieces: Pieces,
    *,
    every: bool,
) -> None:
    """Work out the pieces that matter exactly, and lower the gaps to what they give."""
    if not len(pieces.edge):
        return
    pieces = _on_the_line(pieces, foot.span_rad[:, edges.vehicle[pieces.edge]])
    if not len(pieces.edge):
        return
    whose = edges.vehicle[pieces.edge]
    # Pieces in one contest: those of a vehicle, or of a vehicle under one underside.
    contest = whose * len(undersides.place_rad) + pieces.underside if every else whose
    _, contest = np.unique(contest, return_inverse=True)
    elevation = undersides.elevation_mm[pieces.underside]
    least = elevation - pieces.bound_mm
    ends = Ends(*(np.full(len(whose), np.nan) for _ in range(6)))
    best = np.full(contest.max() + 1, np.inf)

    def at_ends(number: Indices) -> None:
        some = pieces.take(number)
        found = _ends(line, rig, foot, frame, edges, undersides, some)
        for kept, figures in zip(ends, found, strict=True):
            kept[number] = figures
        highest = np.maximum(
            np.maximum(found.high_from_mm, found.low_from_mm),
            np.maximum(found.high_to_mm, found.low_to_mm),
        )
        gap = elevation[number] - highest
        np.minimum.at(best, contest[number], gap)
        np.minimum.at(gaps, (whose[number], pieces.underside[number]), gap)
        least[number] = gap - pieces.arch_mm[number]

    # The most threatening piece of each contest first; it spares most of the others.
    order = np.lexsort((least, contest))
    foremost = order[np.diff(contest[order], prepend=-1) > 0]
    at_ends(foremost)
    rest = np.ones(len(whose), bool)
    rest[foremost] = False
    rest &= least < best[contest]
    at_ends(np.flatnonzero(rest))
    looked_at = rest
    looked_at[foremost] = True
    inside = np.flatnonzero(looked_at & (least < best[contest] - _WORTH_MM))
    if len(inside):
        some = pieces.take(inside)
        within = _within_mm(
            line, rig, foot, frame, edges, undersides, some, Ends(*(e[inside] for e in ends))
        )
        np.minimum.at(gaps, (whose[inside], some.underside), elevation[inside] - within)


def _on_the_line(pieces: Pieces, span_rad: Floats) -> Pieces:
    """What is left of pieces while any part of the vehicle is on the line."""
    from_rad = np.fmax(pieces.from_rad, span_rad[0])
    to_rad = np.fmin(pieces.to_rad, span_rad[1])
    cut = pieces._replace(from_rad=from_rad, to_rad=to_rad)
    return cut.take(np.flatnonzero(from_rad <= to_rad))


class Ends(NamedTuple):
    """The ends of pieces: where the first axle stands, and how high the edge stands there (p,)."""

    from_rad: Floats
    high_from_mm: Floats
    low_from_mm: Floats
    to_rad: Floats
    high_to_mm: Floats
    low_to_mm: Floats


def _crossing(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    edges: Edges,
    undersides: Undersides,
    place_rad: Floats,
) -> Crossing:
    """Edges under strips, one to one, the first axle at a place."""
    pose = settle(line, rig, edges.vehicle, 0, place_rad, foot.ahead_rad)
    return edge_heights_mm(pose, frame, edges, undersides)


def _ends(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    edges: Edges,
    undersides: Undersides,
    pieces: Pieces,
) -> Ends:
    """The ends of pieces, moved to where an end of the edge really passes a side of the strip."""
    from_rad, to_rad = pieces.from_rad, pieces.to_rad
    if line.has_straight:
        inside = _JUST_INSIDE * (to_rad - from_rad)
        from_rad, to_rad = from_rad + inside, to_rad - inside
    # Pieces come downhill: where one goes on from another, the place is worked out once.
    goes_on = (pieces.edge[1:] == pieces.edge[:-1]) & (to_rad[1:] == from_rad[:-1])
    goes_on &= pieces.underside[1:] == pieces.underside[:-1]
    count = len(from_rad)
    alone = np.flatnonzero(~np.append(goes_on, False))
    at_from = np.arange(1, count + 1)
    at_from[alone] = count + np.arange(len(alone))
    place = np.concatenate([to_rad, from_rad[alone]])
    number = np.concatenate([np.arange(count), alone])
    edges = edges.take(pieces.edge[number])
    strips = undersides.take(pieces.underside[number])

    drift = _drift_mm(line, edges)
    found = np.array(_crossing(line, rig, foot, frame, edges, strips, place))
    left = np.arange(len(place))
    for _ in range(_PASSING_STEPS):
        side = strips.width_mm[left] / 2
        misses = np.concatenate([found[2:, left] - side, found[2:, left] + side])
        miss = np.take_along_axis(misses, np.abs(misses).argmin(axis=0)[None], axis=0)[0]
        far = (np.abs(miss) < drift[left]) & (np.abs(miss) > _NEAR_MM)
        left = left[far]
        if not len(left):
            break
        place[left] -= miss[far] / line.radius_mm
        found[:, left] = _crossing(
            line, rig, foot, frame, edges.take(left), strips.take(left), place[left]
        )
    high, low = found[:2]
    return Ends(
        place[at_from], high[at_from], low[at_from], place[:count], high[:count], low[:count]
    )


def _within_mm(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    edges: Edges,
    undersides: Undersides,
    pieces: Pieces,
    ends: Ends,
) -> Floats:
    """The greatest elevation of edges between the ends of pieces, shape (p,). [mm]"""
    edges, strips = edges.take(pieces.edge), undersides.take(pieces.underside)
    middle, half = (ends.from_rad + ends.to_rad) / 2, (ends.to_rad - ends.from_rad) / 2
    mid = np.array(_crossing(line, rig, foot, frame, edges, strips, middle)[:2])
    start = np.array([ends.high_from_mm, ends.low_from_mm])
    end = np.array([ends.high_to_mm, ends.low_to_mm])
    highest = mid.max(axis=0)
    # The parabola through three points: where it turns, and how high it gets there.
    bend, lean = start + end - 2 * mid, (end - start) / 2
    with np.errstate(invalid="ignore", divide="ignore"):
        turn = -lean / bend
        top = np.where((bend < 0) & (np.abs(turn) < 1), mid - lean * lean / (2 * bend), -np.inf)
    feature, columns = np.argmax(top, axis=0), np.arange(len(highest))
    worth = np.flatnonzero(top[feature, columns] > highest + _WORTH_MM)
    if len(worth):
        place = middle[worth] + turn[feature[worth], worth] * half[worth]
        some = edges.take(worth), strips.take(worth)
        found = _crossing(line, rig, foot, frame, *some, place)
        highest[worth] = np.fmax(highest[worth], np.fmax(found.high_mm, found.low_mm))
    return highest


def _drift_mm(line: Line, edges: Edges) -> Floats:
    """How far an edge may be from where it stands on the nearest regular helix, along the track."""
    grades = line.slope_mm / line.radius_mm
    steepest = np.abs(grades).max()
    uneven = np.abs(grades - line.mean_climb_mm / line.radius_mm).max()
    reach = np.maximum(np.abs(edges.x_rear_mm), np.abs(edges.x_front_mm))
    return np.asarray(
        1.5 * uneven * (edges.h_mm + np.abs(edges.y_mm)) + 2 * reach * steepest * uneven + _NEAR_MM
    )
