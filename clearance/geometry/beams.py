"""The least gap under each level underside of a line as built, over every position of a vehicle.

G4, docs/theory.md. A body meets an underside with one of its upper long edges. While every axle
stays on one straight piece of the line, and the same point of the edge or the same side of the
strip decides, the gap changes smoothly; so the positions of a vehicle under an underside fall into
pieces, and the least gap is at a piece's end or where it is stationary.

Two steps. `clearance.geometry.screen` bounds the gap of every piece from both sides, by a model
that is linear in the railheads; here the few pieces that could hold the least gap are worked out
exactly. Near a straight lead the model does not hold, and every piece is worked out.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes, Footing
from clearance.geometry.grid import Grid, grids
from clearance.geometry.line import Line
from clearance.geometry.passing import (
    PASSING_STEPS,
    Corners,
    edges_matter_across,
    is_aslant,
    miss_rad,
    passing_aslant_rad,
    passing_roof_rad,
)
from clearance.geometry.pieces import NO_EVENT, Pieces, just_inside_rad, pieces_between
from clearance.geometry.rig import Pose, Rig, settle
from clearance.geometry.screen import screen
from clearance.geometry.undersides import (
    TOUCHING_MM,
    Axes,
    Undersides,
    edge_heights_mm,
    roof_corners,
    roof_edges,
)

__all__ = ["beam_gaps_mm"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_SCREENED_AT_ONCE = 512
_BOXES_AT_ONCE = 4096
_PAIRS_AT_ONCE = 4096  # of block and underside, each with eight corners or more to be placed
_NEAR_MM = TOUCHING_MM / 2  # from where an end passes the strip
_LONGEST_RAD = 0.25
_SHORTEST_RAD = 0.01  # that is cut from a long one
_ROOM = 1.1  # to spare, for what changes how far an axle is from a roof on an even climb
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
    boxes = boxes.take(np.flatnonzero(foot.stands[boxes.vehicle]))
    if len(boxes.vehicle) and len(undersides.place_rad):
        reach = _reach_rad(line, foot, frame, boxes, undersides)
        low, high = line.curve_rad
        place = undersides.place_rad
        radial = undersides.along_mm == 0
        away = np.flatnonzero((place >= low + reach) & (place <= high - reach) & radial)
        far_off = undersides.take(away)
        # Nor does the model hold where a knot lies beside any even grid.
        even = grids(line, far_off, reach) if len(away) else []
        apart = np.delete(np.arange(gaps.shape[1]), away[[k for grid in even for k in grid.number]])
        task = (line, rig, foot, frame, boxes)
        best = np.asarray(ceiling_mm, float).copy()
        leaning = is_aslant(line, undersides)[apart]
        for some in (apart[~leaning], apart[leaning]):
            if len(some):
                gaps[:, some] = _all(*task, undersides.take(some), every)
                best = np.fmin(best, gaps.min(axis=1))
        if even:
            found = _screened(*task, far_off, even, best, every)
            gaps[:, away] = np.fmin(gaps[:, away], found)
    gaps[~foot.stands] = np.nan
    return gaps


def _reach_rad(
    line: Line, foot: Footing, frame: int, boxes: Boxes, undersides: Undersides
) -> float:
    """No part of any vehicle that is under an underside has an axle further from it than this."""
    axles = foot.ahead_rad[:, boxes.vehicle]
    axes = Axes.of(foot.pose.take(boxes.vehicle), frame)
    x, y = roof_corners(boxes)
    out, along = (
        axes.middle_mm[k] + x * axes.forward[k] + y * axes.left[k] + boxes.top_mm * axes.up[k]
        for k in (0, 1)
    )
    corners = np.arctan2(along, out)
    apart = np.maximum(
        axles.max(axis=0) - corners.min(axis=0), corners.max(axis=0) - axles.min(axis=0)
    )
    # On another grade a roof leans otherwise, and a chord is longer or shorter in plan.
    uneven = np.abs(line.slope_mm - line.mean_climb_mm).max() / line.radius_mm
    more = undersides.width_mm.max() + uneven * boxes.top_mm.max()
    return float(_ROOM * apart.max() + more / line.radius_mm)


def _screened(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    undersides: Undersides,
    some_grids: list[Grid],
    ceiling_mm: Floats,
    every: bool,
) -> Floats:
    """Gaps under the undersides of grids, by screening first; all of this is on the circle."""
    gaps = np.full((len(rig), len(undersides.place_rad)), np.inf)
    for batch in _batches(boxes, _BOXES_AT_ONCE):
        pieces = []
        for first in range(0, len(batch.vehicle), _SCREENED_AT_ONCE):
            some = batch.take(slice(first, first + _SCREENED_AT_ONCE))
            for found in _suspect(
                line, foot, frame, some, undersides, some_grids, ceiling_mm, every
            ):
                pieces.append(found._replace(box=found.box + first))
        whole = Pieces(*(np.concatenate(figures) for figures in zip(*pieces, strict=True)))
        _lower(gaps, line, rig, foot, frame, batch, undersides, whole, every=every)
    return gaps


def _batches(boxes: Boxes, size: int) -> Iterator[Boxes]:
    for first in range(0, len(boxes.vehicle), size):
        yield boxes.take(slice(first, first + size))


def _suspect(
    line: Line,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    undersides: Undersides,
    some_grids: list[Grid],
    ceiling_mm: Floats,
    every: bool,
) -> Iterator[Pieces]:
    """The pieces that may hold the least gap of a vehicle, or with ``every`` of each underside."""
    known = [screen(line, foot, frame, boxes, undersides, grid) for grid in some_grids]
    # The gap to be beaten: what is sure to be found somewhere. A vehicle's blocks come together.
    own = np.cumsum(np.diff(boxes.vehicle, prepend=boxes.vehicle[0]) != 0)
    start = np.searchsorted(own, np.arange(own[-1] + 1))
    sure = np.full((len(start), len(undersides.place_rad)), np.inf)
    for screened in known:
        number = screened.grid.number
        highest = np.maximum.reduceat(screened.sure_mm, start, axis=0)
        sure[:, number] = undersides.elevation_mm[number] - highest
    if not every:
        sure[:] = np.fmin(sure.min(axis=1), ceiling_mm[boxes.vehicle[start]])[:, None]
    for screened in known:
        number = screened.grid.number
        floor = undersides.elevation_mm[number] - sure[own[:, None], number]
        box, column = np.nonzero(screened.most_mm > floor)
        pieces = screened.pieces(box, column, floor[box, column])
        yield pieces


def _all(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    undersides: Undersides,
    every: bool,
) -> Floats:
    """Gaps by working out every piece: where a straight lead or an odd knot is near.

    Either all undersides lie aslant, or none.
    """
    aslant = is_aslant(line, undersides).any()
    count = len(undersides.place_rad)
    gaps = np.full((len(rig), count), np.inf)
    for some in _batches(boxes, max(_PAIRS_AT_ONCE // count, 1)):
        box = np.repeat(np.arange(len(some.vehicle)), count)
        underside = np.tile(np.arange(count), len(some.vehicle))
        task = line, rig, foot, frame, some.take(box), undersides.take(underside)
        passing = passing_aslant_rad(*task) if aslant else passing_roof_rad(*task, _NEAR_MM)
        pieces = pieces_between(line, rig, foot, some.vehicle, box, underside, passing)
        _lower(gaps, line, rig, foot, frame, some, undersides, pieces, every=every)
    return gaps


def _lower(
    gaps: Floats,
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    undersides: Undersides,
    pieces: Pieces,
    *,
    every: bool,
) -> None:
    """Work out the pieces that matter exactly, and lower the gaps to what they give."""
    if not len(pieces.box):
        return
    pieces = _on_the_line(pieces, foot.span_rad[:, boxes.vehicle[pieces.box]])
    if not len(pieces.box):
        return
    whose = boxes.vehicle[pieces.box]
    # Pieces in one contest: those of a vehicle, or of a vehicle under one underside.
    contest = whose * len(undersides.place_rad) + pieces.underside if every else whose
    _, contest = np.unique(contest, return_inverse=True)
    elevation = undersides.elevation_mm[pieces.underside]
    least = elevation - pieces.bound_mm
    sides = len(roof_edges(boxes, across=edges_matter_across(line, undersides))) * 2
    ends = _Ends(*np.full((2, len(whose)), np.nan), *np.full((2, sides, len(whose)), -np.inf))
    best = np.full(contest.max() + 1, np.inf)

    def at_ends(number: Indices) -> None:
        some = pieces.take(number)
        found = _ends(line, rig, foot, frame, boxes, undersides, some)
        for kept, figures in zip(ends, found, strict=True):
            kept[..., number] = figures
        gap = elevation[number] - np.maximum(found.from_mm, found.to_mm).max(axis=0)
        np.minimum.at(best, contest[number], gap)
        np.minimum.at(gaps, (whose[number], pieces.underside[number]), gap)
        # What may rise without end between its ends is not judged by them.
        endless = np.isinf(pieces.arch_mm[number])
        least[number] = gap - np.where(endless, 0.0, pieces.arch_mm[number])
        least[number[endless]] = -np.inf

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
        its_ends = _Ends(*(figures[..., inside] for figures in ends))
        within = _within_mm(line, rig, foot, frame, boxes, undersides, some, its_ends)
        np.minimum.at(gaps, (whose[inside], some.underside), elevation[inside] - within)


def _on_the_line(pieces: Pieces, span_rad: Floats) -> Pieces:
    """What is left of pieces while any part of the vehicle is on the line."""
    from_rad = np.fmax(pieces.from_rad, span_rad[0])
    to_rad = np.fmin(pieces.to_rad, span_rad[1])
    # Where the line cuts a piece short, no corner passes anything.
    cut = pieces._replace(
        from_rad=from_rad,
        to_rad=to_rad,
        from_event=np.where(from_rad == pieces.from_rad, pieces.from_event, NO_EVENT),
        to_event=np.where(to_rad == pieces.to_rad, pieces.to_event, NO_EVENT),
    )
    return cut.take(np.flatnonzero(from_rad <= to_rad))


class _Ends(NamedTuple):
    """The ends of p pieces.

    Attributes
    ----------
    from_rad, to_rad
        Where the first axle stands, shape (p,).
    from_mm, to_mm
        How high each edge stands under each side of the strip, shape (2 edges, p). [mm]
    """

    from_rad: Floats
    to_rad: Floats
    from_mm: Floats
    to_mm: Floats


def _heights_mm(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    undersides: Undersides,
    place_rad: Floats,
) -> tuple[Pose, Floats]:
    """Blocks under strips, one to one, the first axle at a place: every edge under both sides."""
    pose = settle(line, rig, boxes.vehicle, 0, place_rad, foot.ahead_rad)
    axes = Axes.of(pose, frame)
    heights: list[Floats] = []
    for edges in roof_edges(boxes, across=edges_matter_across(line, undersides)):
        heights += edge_heights_mm(pose, frame, edges, undersides, axes)[:2]
    return pose, np.array(heights)


def _ends(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    undersides: Undersides,
    pieces: Pieces,
) -> _Ends:
    """The ends of pieces, moved to where a corner really passes a side of the strip."""
    from_rad, to_rad = just_inside_rad(line, pieces.from_rad, pieces.to_rad)
    # Pieces come downhill: where one goes on from another, the place is worked out once.
    goes_on = (pieces.box[1:] == pieces.box[:-1]) & (to_rad[1:] == from_rad[:-1])
    goes_on &= pieces.underside[1:] == pieces.underside[:-1]
    count = len(from_rad)
    alone = np.flatnonzero(~np.append(goes_on, False))
    at_from = np.arange(1, count + 1)
    at_from[alone] = count + np.arange(len(alone))
    place = np.concatenate([to_rad, from_rad[alone]])
    number = np.concatenate([np.arange(count), alone])
    event = np.concatenate([pieces.to_event, pieces.from_event[alone]])
    boxes, strips = boxes.take(pieces.box[number]), undersides.take(pieces.underside[number])

    pose, heights = _heights_mm(line, rig, foot, frame, boxes, strips, place)
    left = np.flatnonzero(event != NO_EVENT)
    pose = pose.take(left)
    for _ in range(PASSING_STEPS):
        some, under = boxes.take(left), strips.take(left)
        x, y = (
            np.take_along_axis(figures, event[left][None] // 2, axis=0)[0]
            for figures in roof_corners(some)
        )
        side = under.width_mm * (0.5 - event[left] % 2)
        corners = Corners(some.vehicle, x, y, some.top_mm)
        miss, back = miss_rad(line, pose, frame, corners, under, side)
        far = np.flatnonzero(np.abs(miss) > _NEAR_MM)
        left = left[far]
        if not len(left):
            break
        place[left] -= back[far]
        some, under = some.take(far), under.take(far)
        pose, heights[:, left] = _heights_mm(line, rig, foot, frame, some, under, place[left])
    return _Ends(place[at_from], place[:count], heights[:, at_from], heights[:, :count])


def _longest_rad(
    line: Line,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    undersides: Undersides,
    pieces: Pieces,
    ends: _Ends,
) -> Floats:
    """How long a part of each piece may be: the point of an edge under a strip that runs nearly
    along the body turns sharply, as it does where a body comes round under a strip aslant."""
    if not is_aslant(line, undersides).any():
        return np.full(len(pieces.box), _LONGEST_RAD)
    out, along, _ = foot.pose.middle_mm[frame][:, boxes.vehicle[pieces.box]]
    round_rad = np.arctan2(along, out) - undersides.plan_rad[pieces.underside]
    furthest = np.maximum(np.abs(ends.from_rad + round_rad), np.abs(ends.to_rad + round_rad))
    # The edge passes the strip's side at that angle.
    slow = np.cos(np.minimum(furthest, math.pi / 2)) ** 2
    return np.asarray(np.maximum(_LONGEST_RAD * slow, _SHORTEST_RAD))


def _within_mm(
    line: Line,
    rig: Rig,
    foot: Footing,
    frame: int,
    boxes: Boxes,
    undersides: Undersides,
    pieces: Pieces,
    ends: _Ends,
) -> Floats:
    """The greatest elevation of blocks between the ends of pieces, shape (p,). [mm]"""
    # Long pieces are cut: through each part a parabola is laid, up to where it turns.
    longest = _longest_rad(line, foot, frame, boxes, undersides, pieces, ends)
    parts = np.ceil((ends.to_rad - ends.from_rad) / longest).astype(np.intp)
    parts = np.maximum(parts, 1)
    piece = np.repeat(np.arange(len(parts)), parts)
    part = np.arange(len(piece)) - np.repeat(np.cumsum(parts) - parts, parts)
    share = (ends.to_rad - ends.from_rad)[piece] / parts[piece]
    from_rad = ends.from_rad[piece] + part * share
    some, strips = boxes.take(pieces.box[piece]), undersides.take(pieces.underside[piece])

    def at(place: Floats, number: Indices) -> Floats:
        mine = some.take(number), strips.take(number)
        return _heights_mm(line, rig, foot, frame, *mine, place)[1]

    everyone = np.arange(len(piece))
    mid = at(from_rad + share / 2, everyone)
    start, end = np.empty_like(mid), np.empty_like(mid)
    begins = part == 0
    start[:, begins] = ends.from_mm
    inner = np.flatnonzero(~begins)
    if len(inner):
        start[:, inner] = at(from_rad[inner], inner)
    end[:, :-1] = start[:, 1:]
    end[:, part == parts[piece] - 1] = ends.to_mm
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
