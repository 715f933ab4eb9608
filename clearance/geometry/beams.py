"""The least gap under each level underside of a line as built, over every position of a vehicle.

G4, docs/theory.md. A body meets an underside with one of its upper long edges. While every axle
stays on one straight piece of the line, and the same point of the edge or the same side of the
strip decides, the gap changes smoothly; so the positions of a vehicle under an underside fall into
pieces, and the least gap is at a piece's end or where it is stationary.

Two steps. `clearance.geometry.screen` bounds the gap of every piece from both sides, by a model
that is linear in the railheads; here the few pieces that could hold the least gap are worked out
exactly. Near a straight lead the model does not hold, and every piece is worked out.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes, Footing
from clearance.geometry.line import Line
from clearance.geometry.pieces import Pieces, split_at_knots
from clearance.geometry.rig import JUST_BESIDE_MM, Rig, settle
from clearance.geometry.screen import Grid, grids, screen
from clearance.geometry.undersides import (
    TOUCHING_MM,
    Crossing,
    Edges,
    Undersides,
    edge_heights_mm,
    edge_lines,
    upper_edges,
)

__all__ = ["beam_gaps_mm"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_SCREENED_AT_ONCE = 256
_EDGES_AT_ONCE = 2048
_NEAR_MM = TOUCHING_MM / 2  # from where an end passes the strip
_PASSING_STEPS = 6  # each leaves less than a fifth of what it found
_LONGEST_RAD = 0.25
_WORTH_MM = 1e-3  # a stationary point that gains less than this over what is known is left


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
    edges = upper_edges(boxes, across=line.roll_rad != 0)
    stands = foot.stands
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
    ends = np.maximum(np.abs(edges.from_mm), np.abs(edges.to_mm))
    body = np.where(edges.across, np.abs(edges.beside_mm), ends) / line.radius_mm
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
    known = [screen(line, foot, frame, edges, undersides, grid) for grid in some_grids]
    # The gap to be beaten: what is sure to be found somewhere. A vehicle's edges come together.
    own = np.cumsum(np.diff(edges.vehicle, prepend=edges.vehicle[0]) != 0)
    start = np.searchsorted(own, np.arange(own[-1] + 1))
    sure = np.empty((len(start), len(undersides.place_rad)))
    for screened in known:
        number = screened.grid.number
        highest = np.maximum.reduceat(screened.sure_mm, start, axis=0)
        sure[:, number] = undersides.elevation_mm[number] - highest
    if not every:
        sure[:] = np.fmin(sure.min(axis=1), ceiling_mm[edges.vehicle[start]])[:, None]
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
        nothing, anything = np.zeros(3 * len(edge), bool), np.full(3 * len(edge), np.inf)
        pieces = Pieces(
            np.tile(edge, 3),
            np.tile(underside, 3),
            passing[:-1].ravel(),
            passing[1:].ravel(),
            nothing,
            nothing,
            anything,
            anything,
        )
        pieces = split_at_knots(line, rig, foot, some.vehicle, pieces)
        _lower(gaps, line, rig, foot, frame, some, undersides, pieces, every=every)
    return gaps


def _passing_rad(
    line: Line, rig: Rig, foot: Footing, frame: int, edges: Edges, undersides: Undersides
) -> Floats:
    """Where the first axle stands when an end of an edge passes a side of a strip, (4, p)."""
    start, run = edge_lines(edges, foot.pose.take(edges.vehicle), frame)
    half = undersides.width_mm / 2
    found = []
    for number, at in ((2, edges.to_mm), (3, edges.from_mm)):
        ahead = np.arctan2(start[1] + at * run[1], start[0] + at * run[0])
        for side in (-half, half):
            place = undersides.place_rad - ahead + side / line.radius_mm
            for _ in range(_PASSING_STEPS):
                pose = settle(line, rig, edges.vehicle, 0, place, foot.ahead_rad)
                beyond = edge_heights_mm(pose, frame, edges, undersides)[number]
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
    if rest.any():
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
        inside = np.minimum(JUST_BESIDE_MM / line.radius_mm, (to_rad - from_rad) / 4)
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

    found = np.array(_crossing(line, rig, foot, frame, edges, strips, place))
    left = np.flatnonzero(np.concatenate([pieces.to_strip, pieces.from_strip[alone]]))
    for _ in range(_PASSING_STEPS):
        side = strips.width_mm[left] / 2
        misses = np.concatenate([found[2:, left] - side, found[2:, left] + side])
        miss = np.take_along_axis(misses, np.abs(misses).argmin(axis=0)[None], axis=0)[0]
        far = np.abs(miss) > _NEAR_MM
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
    # Long pieces are cut: through each part a parabola is laid, up to where it turns.
    parts = np.ceil((ends.to_rad - ends.from_rad) / _LONGEST_RAD).astype(np.intp)
    parts = np.maximum(parts, 1)
    piece = np.repeat(np.arange(len(parts)), parts)
    part = np.arange(len(piece)) - np.repeat(np.cumsum(parts) - parts, parts)
    share = (ends.to_rad - ends.from_rad)[piece] / parts[piece]
    from_rad = ends.from_rad[piece] + part * share
    some, strips = edges.take(pieces.edge[piece]), undersides.take(pieces.underside[piece])

    def at(place: Floats, number: Indices) -> Floats:
        mine = some.take(number), strips.take(number)
        found = _crossing(line, rig, foot, frame, *mine, place)
        return np.array([found.high_mm, found.low_mm])

    everyone = np.arange(len(piece))
    mid = at(from_rad + share / 2, everyone)
    start, end = np.empty_like(mid), np.empty_like(mid)
    begins = part == 0
    start[:, begins] = ends.high_from_mm, ends.low_from_mm
    inner = np.flatnonzero(~begins)
    if len(inner):
        start[:, inner] = at(from_rad[inner], inner)
    end[:, :-1] = start[:, 1:]
    end[:, part == parts[piece] - 1] = ends.high_to_mm, ends.low_to_mm
    highest = np.maximum(mid, start).max(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        bend, lean = start + end - 2 * mid, (end - start) / 2
        turn = -lean / bend
        top = np.where((bend < 0) & (np.abs(turn) < 1), mid - lean * lean / (2 * bend), -np.inf)
    feature = np.argmax(top, axis=0)
    worth = np.flatnonzero(top[feature, everyone] > highest + _WORTH_MM)
    if len(worth):
        place = from_rad[worth] + (1 + turn[feature[worth], worth]) / 2 * share[worth]
        highest[worth] = np.fmax(highest[worth], at(place, worth).max(axis=0))
    return np.asarray(np.maximum.reduceat(highest, np.flatnonzero(begins)))
