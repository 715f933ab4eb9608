"""Which positions could hold the least gap under an underside: bounds from a linear model.

G4, docs/theory.md. While a vehicle passes, the elevation of its frames is a weighted mean of the
railheads under its axles. Seen from an underside the axles stand at the same distances from it
whichever underside it is, so with knots at even spacing the elevations of a vehicle's roof at a
few positions under all undersides are one matrix product. The positions are those where an end of
the edge passes a side of the strip, and where an axle passes a knot; between two of them the model
departs from the truth, and from a straight line, by no more than is said here.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes, Footing, Weights
from clearance.geometry.grid import Grid, Mesh, mesh
from clearance.geometry.line import Line
from clearance.geometry.pieces import NO_EVENT, Pieces
from clearance.geometry.undersides import (
    Axes,
    Edges,
    Undersides,
    edge_lines,
    roof_corners,
    roof_edges,
)

__all__ = ["Screened", "screen"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Mask = NDArray[np.bool_]

_ROUNDING_MM = 5e-4
_NOWHERE_MM = -1e9  # lower than anything, and still a number
_NEARLY_MM = 0.5  # a corner that passes a side of the strip may be beyond it by rounding


@dataclass(frozen=True, eq=False)
class Screened:
    """What the model knows of m blocks under the k undersides of a grid.

    Attributes
    ----------
    sure_mm, most_mm
        The block stands at least, and at most, this high under each underside, shape (m, k). [mm]
    """

    sure_mm: Floats
    most_mm: Floats
    grid: Grid
    _place_rad: Floats  # of the undersides, (k,)
    _strip_rad: Floats  # how far the strip is ahead of the first axle, rising, (j, m)
    _event: Indices  # which corner passes which side of it then, (j, m)
    _axle_rad: Floats  # or which axle stands on a knot: how far it is ahead of the first, (j, m)
    _back_rad: (
        Floats  # how much later a corner passes for each bit of slope more than usual, (j, m)
    )
    _usual_slope: Floats  # of the frame on the regular helix, (m,)
    _height_mm: Floats  # of the block then, by the model, (j, m, k)
    _mesh: Mesh
    _slope_weight: Floats  # of the frame, (axles, m)
    _x_mm: Floats  # from where to where the block is under the strip, forward, (2, j, m)
    _spread_mm: Floats  # how far its ends move within a piece, (j - 1, m)
    _bent: Floats  # how far from their chord they may be in a piece, over themselves, (j - 1, m)
    _across_mm: Floats  # how much higher an edge across may be within a piece, (j - 1, m)
    _wrong_mm: Floats  # by how much the model may be wrong, (m, k)
    _unsure_mm: Floats  # and by how much more the block may be higher, (j, m)

    def pieces(self, box: Indices, column: Indices, floor_mm: Floats) -> Pieces:
        """The pieces of some pairs in which the block may stand higher than ``floor_mm``.

        Parameters
        ----------
        box, column
            Which block, and which of the grid's undersides, shape (p,).
        floor_mm
            The elevation to beat, shape (p,). [mm]
        """
        height = self._height_mm[:, box, column]
        slope = self._mesh.at(self._slope_weight, box, column)
        x_high, x_low, strip, axle, back, unsure, spread, bent, across = (
            np.take(figures, box, axis=1)
            for figures in (
                *self._x_mm,
                self._strip_rad,
                self._axle_rad,
                self._back_rad,
                self._unsure_mm,
                self._spread_mm,
                self._bent,
                self._across_mm,
            )
        )
        event = np.take(self._event, box, axis=1)
        arch = spread * np.maximum(slope[:-1] - slope[1:], 0.0) / 4
        behind = np.fmax(-x_low[:-1] * np.maximum(slope[1:], slope[:-1]), 0.0)
        before = np.fmax(-x_high[1:] * np.minimum(slope[1:], slope[:-1]), 0.0)
        arch += bent * np.maximum(behind, before) + across
        arch += _ROUNDING_MM
        bound = height + unsure + self._wrong_mm[box, column]
        bound = np.maximum(bound[1:], bound[:-1]) + arch
        # Where the first axle stands, now with the pitch that the frame has there: a corner passes
        # later, and axles are closer together in plan. Positions that are close together may have
        # changed places; a piece then holds what its neighbours may.
        place = self._place_rad[column] - strip
        usual = self._usual_slope[box]
        place += (back + axle * (slope + usual) / 2) * (slope - usual)
        swapped = np.flatnonzero((place[1:] > place[:-1]).any(axis=0))
        if len(swapped):
            order = np.argsort(-place[:, swapped], axis=0)
            for figures in (place, event):
                figures[:, swapped] = np.take_along_axis(figures[:, swapped], order, axis=0)
            for figures in (bound, arch):
                figures[:, swapped] = _of_neighbours(figures[:, swapped])
        pair, piece = np.nonzero(((bound > floor_mm) & (place[1:] < place[:-1])).T)
        return Pieces(
            box[pair],
            self.grid.number[column[pair]],
            place[piece + 1, pair],
            place[piece, pair],
            event[piece + 1, pair],
            event[piece, pair],
            bound[piece, pair],
            arch[piece, pair],
        )


def _of_neighbours(figures: Floats) -> Floats:
    """The greatest of each figure and of those before and after it."""
    greatest = figures.copy()
    np.maximum(greatest[1:], figures[:-1], out=greatest[1:])
    np.maximum(greatest[:-1], figures[1:], out=greatest[:-1])
    return greatest


def screen(
    line: Line, foot: Footing, frame: int, boxes: Boxes, undersides: Undersides, grid: Grid
) -> Screened:
    """Bounds for every block under every underside of a grid, piece by piece.

    Parameters
    ----------
    line
        The track; its straight leads must be out of reach.
    foot
        How the vehicles stand on the regular helix nearest to it.
    frame, boxes
        The frame, and m blocks on it.
    undersides
        All undersides; ``grid`` says which.
    """
    pose = foot.pose.take(boxes.vehicle)
    axes = Axes.of(pose, frame)
    usual = axes.forward[2]
    half = grid.width_mm / 2
    strip, event, axle = _events(foot, axes, boxes, grid)
    x_corner, _ = roof_corners(boxes)
    tall = boxes.top_mm + np.maximum(boxes.left_mm, boxes.right_mm) * abs(line.roll_rad)
    # Where a corner decides, a steeper frame takes its roof back by so much.
    back = np.take_along_axis(x_corner, np.maximum(event, 0) // 2, axis=0) * usual
    back = np.where(event >= 0, (boxes.top_mm + back) / line.radius_mm, 0.0)

    # The model keeps the pitch of the regular helix wherever pitch counts twice.
    knots = mesh(line, foot, boxes.vehicle, grid, strip)
    grades = np.diff(knots.height_mm, axis=0) / (grid.step_rad * line.radius_mm)
    steepest = np.abs(grades).max(axis=0)
    uneven = np.abs(grades - line.mean_climb_mm / line.radius_mm).max(axis=0)
    reach = np.maximum(np.abs(boxes.x_rear_mm), np.abs(boxes.x_front_mm))
    weights = foot.weights[frame]
    lever, pitching = _levers(line, foot, weights, boxes)
    wrong = np.outer(tall * lever * pitching, uneven**2)
    wrong += np.outer(2 * reach * lever, steepest**2 * uneven) + _ROUNDING_MM
    if line.roll_rad:
        wrong += np.outer(tall * abs(line.roll_rad) * lever, steepest * uneven + uneven**2)
    # So far a corner may be from where the model has it.
    drift = (tall + reach * steepest.max()) * pitching * uneven.max() + _NEARLY_MM

    # Every underside at once.
    mid, lean = weights.mid[:, None, boxes.vehicle], weights.slope[:, None, boxes.vehicle]
    turn = np.cos(strip), np.sin(strip)
    lies = [
        _lie(edges, axes, turn, half) for edges in roof_edges(boxes, across=bool(line.roll_rad))
    ]
    height = np.full((*strip.shape, len(grid.number)), -np.inf)
    unsure = np.zeros(strip.shape)
    for lie in lies:
        over = np.where(lie.there, lie.over_mm, _NOWHERE_MM)
        # On a frame that climbs, the foremost point is the highest.
        sides = (lie.high_mm, lie.past_high_mm), (lie.low_mm, lie.past_low_mm)
        for x, past in sides[: 1 if grades.min() >= 0 else 2]:
            # While a corner decides, pitch tells on its height; not where a corner passes a side of
            # the strip, for there the vehicle stands elsewhere by just as much.
            lower = np.where((past >= 0) & (event < 0), boxes.top_mm * usual, 0.0)
            either = (np.abs(past) < drift) & (event < 0)
            doubt = np.where(either, drift * steepest.max(), 0.0)
            rows = knots.rows(mid + (x - lower) * lean, over + lower * usual - doubt)
            np.maximum(height, knots.times(rows), out=height)
            np.maximum(unsure, 2 * doubt, out=unsure)

    # x is close to a tangent of the strip's angle: so far from its chord at the most.
    out = np.hypot(axes.middle_mm[0], axes.middle_mm[1])
    tangent = (reach + half) / out
    forth = np.diff(strip, axis=0)
    bent = (1 + tangent**2) * forth**2 / 3
    # An edge across is under a side of the strip while the vehicle moves on by so much.
    skew = steepest.max() * (boxes.left_mm + boxes.right_mm) * tangent
    across = np.logical_or.reduce([lie.there & lie.across for lie in lies])
    along = [lie for lie in lies if not lie.across]
    x_high = np.fmax.reduce([lie.high_mm for lie in along])
    x_low = np.fmin.reduce([lie.low_mm for lie in along])
    across_mm = np.where(across[1:] | across[:-1], skew, 0.0)
    with np.errstate(invalid="ignore"):  # nothing is under the strip at a row's ends
        spread = np.fmax(np.fmax(np.diff(x_high, axis=0), np.diff(x_low, axis=0)), 0.0)
    # A point that moves along a frame whose pitch changes draws an arch over its chord; one that
    # moves at a changing speed, too. The pitch changes no faster than the grades differ.
    turns = np.abs(lean).sum(axis=(0, 1)) / 2 * line.radius_mm
    arch = bent * (reach + half) * steepest.max() + across_mm + _ROUNDING_MM
    more = unsure.copy()
    more[:-1] += arch
    np.maximum(more[1:], unsure[1:] + arch, out=more[1:])
    most = (height + more[..., None]).max(axis=0) + wrong
    most += np.outer((spread * forth).max(axis=0) * turns / 4, np.ptp(grades, axis=0))
    sure = height.max(axis=0) - wrong

    # What a vehicle does before it comes onto the line, or after it has left it, is not sure.
    place = undersides.place_rad[grid.number]
    low, high = foot.span_rad[:, boxes.vehicle]
    ends = np.flatnonzero((place < low.max() + strip.max()) | (place > high.min() + strip.min()))
    stands = place[ends] - strip[..., None]
    off = (stands < low[:, None]) | (stands > high[:, None])
    sure[:, ends] = np.where(off, -np.inf, height[..., ends]).max(axis=0) - wrong[:, ends]
    return Screened(
        sure,
        most,
        grid,
        place,
        strip,
        event,
        axle,
        back,
        usual,
        height,
        knots,
        weights.slope[:, boxes.vehicle],
        np.array([x_high, x_low]),
        spread,
        bent,
        across_mm,
        wrong,
        unsure,
    )


def _levers(line: Line, foot: Footing, weights: Weights, boxes: Boxes) -> tuple[Floats, Floats]:
    """How many times as much as a grade beneath its axles differs from the mean one a block climbs
    otherwise at its ends, and its frame is pitched otherwise, shape (m,) each; no less than 1."""
    mid, lean = weights.mid[:, boxes.vehicle], weights.slope[:, boxes.vehicle]
    rear, front = (np.abs(mid + x * lean).sum(axis=0) for x in (boxes.x_rear_mm, boxes.x_front_mm))
    axles = np.ptp(foot.ahead_rad[:, boxes.vehicle], axis=0) * line.radius_mm
    return np.maximum(rear, front), np.maximum(np.abs(lean).sum(axis=0) / 2 * axles, 1.0)


class _Lie(NamedTuple):
    """Where an edge of m blocks lies under a strip, at j positions.

    Attributes
    ----------
    high_mm, low_mm
        The foremost and the rearmost x under the strip, shape (j, m). [mm]
    over_mm
        How high it stands over the frame's base line, shape (j, m) or (m,). [mm]
    there
        Whether it is under the strip at all, shape (j, m).
    past_high_mm, past_low_mm
        How far beyond its foremost, or its rearmost, end a side of the strip is, shape (j, m). [mm]
    across
        Whether it runs across the body.
    """

    high_mm: Floats
    low_mm: Floats
    over_mm: Floats
    there: Mask
    past_high_mm: Floats
    past_low_mm: Floats
    across: bool


def _lie(edges: Edges, axes: Axes, turn: tuple[Floats, Floats], half_mm: float) -> _Lie:
    cosine, sine = turn
    start, run = edge_lines(edges, axes)
    along = start[1] * cosine - start[0] * sine
    gain = run[1] * cosine - run[0] * sine
    first, last = edges.from_mm, edges.to_mm
    with np.errstate(divide="ignore", invalid="ignore"):
        uphill, downhill = (half_mm - along) / gain, (-half_mm - along) / gain
    high, low = (np.fmin(np.fmax(side, first), last) for side in (uphill, downhill))
    away = np.minimum(np.abs(along + high * gain), np.abs(along + low * gain))
    there = away <= half_mm + _NEARLY_MM
    over = start[2] - axes.middle_mm[2]
    if not edges.across[0]:
        return _Lie(high, low, over, there, uphill - last, first - downhill, across=False)
    # Across a rolled body x stays, and the height changes from end to end.
    over = over + np.maximum(high * run[2], low * run[2])
    over -= edges.beside_mm * axes.forward[2]
    x = np.broadcast_to(edges.beside_mm, high.shape)
    never = np.full(there.shape, -np.inf)
    return _Lie(x, x, over, there, never, never, across=True)


def _events(foot: Footing, axes: Axes, boxes: Boxes, grid: Grid) -> tuple[Floats, Indices, Floats]:
    """How far ahead of the first axle a strip is at the events of each block, rising; which corner
    passes which side of it then; or how far ahead the axle is that stands on a knot; (j, m) each.
    """
    half = grid.width_mm / 2
    ahead = []
    for x, y in zip(*roof_corners(boxes), strict=True):
        corner = axes.middle_mm + x * axes.forward + y * axes.left + boxes.top_mm * axes.up
        angle = np.arctan2(corner[1], corner[0])
        side = np.arcsin(half / np.hypot(corner[0], corner[1]))
        ahead += [angle - side, angle + side]
    first, last = np.min(ahead, axis=0), np.max(ahead, axis=0)
    strip_events = len(ahead)
    carried = [np.zeros_like(first)] * strip_events
    # Where an axle stands on a knot: the knots within reach of the strip, each side of it.
    step = grid.step_rad
    for axle in foot.ahead_rad[:, boxes.vehicle]:
        nearest = np.ceil((axle - last) / step + grid.beyond)
        furthest = np.floor((axle - first) / step + grid.beyond)
        for more in range(int(np.nanmax(furthest - nearest, initial=-1)) + 1):
            knot = np.minimum(nearest + more, furthest)
            inside = axle - (knot - grid.beyond) * step
            ahead.append(np.where(furthest >= nearest + more, inside, np.nan))
            carried.append(axle)
    strip = np.array(ahead)
    order = np.argsort(strip, axis=0)
    # Not every block meets as many knots: what is left, at the end, repeats its last one.
    count = np.isfinite(strip).sum(axis=0)
    order = np.take_along_axis(order, np.minimum(np.arange(len(order))[:, None], count - 1), axis=0)
    return (
        np.take_along_axis(strip, order, axis=0),
        np.where(order < strip_events, order, NO_EVENT),
        np.take_along_axis(np.array(carried), order, axis=0),
    )
