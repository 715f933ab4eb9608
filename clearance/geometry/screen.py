"""Which positions could hold the least gap under an underside: bounds from a linear model.

G4, docs/theory.md. While a vehicle passes, the elevation of its frames is a weighted mean of the
railheads under its axles. Seen from an underside the axles stand at the same distances from it
whichever underside it is, so with knots at even spacing the elevations of a vehicle's roof at a
few positions under all undersides are one matrix product. The positions are those where an end of
the edge passes a side of the strip, and where an axle passes a knot; between two of them the model
departs from the truth, and from a straight line, by no more than is said here.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Boxes, Footing
from clearance.geometry.line import Line
from clearance.geometry.pieces import NO_EVENT, Pieces
from clearance.geometry.undersides import Axes, Undersides, edge_lines, roof_corners, roof_edges

__all__ = ["Grid", "Screened", "grid_elevations", "grids", "screen"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_MOST_PARTS = 4  # a grid this much finer than the closest knots, before knots may fall beside it
_SAME = 1e-6  # places that differ by less than this part of a grid step are one
_ROUNDING_MM = 5e-4
_NEARLY_MM = 0.5  # a corner that passes a side of the strip may be beyond it by rounding


class Grid(NamedTuple):
    """Undersides that lie alike on an even grid of the line's knots.

    Attributes
    ----------
    number
        Which undersides, shape (k,).
    step_rad
        Spacing of the grid.
    cell
        Of each underside: the grid point at or before it, shape (k,).
    beyond
        How far beyond that point they lie, in steps; the same for all.
    width_mm
        The same for all. [mm]
    miss_mm
        How far the railhead may lie off the grid's straight pieces. [mm]
    """

    number: Indices
    step_rad: float
    cell: Indices
    beyond: float
    width_mm: float
    miss_mm: float


def grids(line: Line, undersides: Undersides, reach_rad: float) -> list[Grid]:
    """Group undersides by how they lie on the grid of knots and by their width."""
    low = undersides.place_rad.min() - reach_rad
    high = undersides.place_rad.max() + reach_rad
    knots = line.knots_rad[(line.knots_rad > low) & (line.knots_rad < high)]
    step, miss = _step(line, knots)
    cells = undersides.place_rad / step
    cell = np.floor(cells + _SAME)
    beyond = np.round((cells - cell) / _SAME) * _SAME
    beyond = np.where(beyond >= 1.0, 0.0, np.maximum(beyond, 0.0))
    keys = np.column_stack([beyond, undersides.width_mm])
    found = []
    for key in np.unique(keys, axis=0):
        number = np.flatnonzero((keys == key).all(axis=1))
        found.append(
            Grid(number, step, cell[number].astype(np.intp), float(key[0]), float(key[1]), miss)
        )
    return found


def _step(line: Line, knots: Floats) -> tuple[float, float]:
    """The widest grid through all knots, from place 0; else a fine one, and how far it misses."""
    if len(knots) < 2:
        step = max(2 * math.pi, *np.abs(knots), 1.0)
        return step, _miss(line, knots, step)
    closest = float(np.diff(knots).min())
    for parts in range(1, _MOST_PARTS + 1):
        step = closest / parts
        off = np.abs(knots / step - np.round(knots / step))
        if off.max() < _SAME:
            return step, 0.0
    step = max(closest, (knots[-1] - knots[0]) / (4 * len(knots)))
    return step, _miss(line, knots, step)


def _miss(line: Line, knots: Floats, step: float) -> float:
    if not len(knots):
        return 0.0
    before = np.floor(knots / step)
    low, high = line.height_mm(before * step), line.height_mm((before + 1) * step)
    straight = low + (high - low) * (knots / step - before)
    return float(np.abs(line.height_mm(knots) - straight).max())


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
    _strip_rad: Floats  # how far the strip is ahead of the first axle, rising, (m, j)
    _event: Indices  # which corner passes which side of it then, (m, j)
    _back_rad: Floats  # how much later that is for each bit of slope more than usual, (m, j)
    _usual_slope: Floats  # of the frame on the regular helix, (m,)
    _height_mm: Floats  # of the block then, at the least, (m, j, k)
    _slope: Floats  # of the frame, (m, j, k)
    _x_mm: Floats  # from where to where the block is under the strip, forward, (2, m, j)
    _spread_mm: Floats  # how far its ends move within a piece, (m, j - 1)
    _bent: Floats  # how far from their chord they may be in a piece, over themselves, (m, j - 1)
    _across_mm: Floats  # how much higher an edge across may be within a piece, (m, j - 1)
    _wrong_mm: Floats  # by how much the model may be wrong, (m, j)

    def pieces(self, box: Indices, column: Indices, floor_mm: Floats) -> Pieces:
        """The pieces of some pairs in which the block may stand higher than ``floor_mm``.

        Parameters
        ----------
        box, column
            Which block, and which of the grid's undersides, shape (p,).
        floor_mm
            The elevation to beat, shape (p,). [mm]
        """
        height, slope = self._height_mm[box, :, column], self._slope[box, :, column]
        x_high, x_low = self._x_mm[:, box]
        arch = self._spread_mm[box] * np.maximum(-np.diff(slope, axis=1), 0.0) / 4
        behind = np.fmax(-x_low[:, :-1] * np.maximum(slope[:, 1:], slope[:, :-1]), 0.0)
        before = np.fmax(-x_high[:, 1:] * np.minimum(slope[:, 1:], slope[:, :-1]), 0.0)
        arch += self._bent[box] * np.maximum(behind, before) + self._across_mm[box]
        arch += _ROUNDING_MM
        bound = height + 2 * self._wrong_mm[box]
        bound = np.maximum(bound[:, 1:], bound[:, :-1]) + arch
        # Where the first axle stands, now with the pitch that the frame has there. Positions that
        # are close together may have changed places; a piece then holds what its neighbours may.
        steeper = slope - self._usual_slope[box, None]
        place = self._place_rad[column, None] - self._strip_rad[box]
        place = place + self._back_rad[box] * steeper
        order = np.argsort(-place, axis=1)
        place = np.take_along_axis(place, order, axis=1)
        event = np.take_along_axis(self._event[box], order, axis=1)
        swapped = np.flatnonzero((order != np.arange(order.shape[1])).any(axis=1))
        for figures in (bound, arch):
            figures[swapped] = _of_neighbours(figures[swapped])
        pair, piece = np.nonzero(bound > floor_mm[:, None])
        return Pieces(
            box[pair],
            self.grid.number[column[pair]],
            place[pair, piece + 1],
            place[pair, piece],
            event[pair, piece + 1],
            event[pair, piece],
            bound[pair, piece],
            arch[pair, piece],
        )


def _of_neighbours(figures: Floats) -> Floats:
    """The greatest of each figure and of those beside it in its row."""
    greatest = figures.copy()
    np.maximum(greatest[:, 1:], figures[:, :-1], out=greatest[:, 1:])
    np.maximum(greatest[:, :-1], figures[:, 1:], out=greatest[:, :-1])
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
    strip, event = _events(foot, axes, boxes, grid)
    cosine, sine = np.cos(strip), np.sin(strip)
    x_corner, _ = roof_corners(boxes)
    tall = boxes.top_mm + np.maximum(boxes.left_mm, boxes.right_mm) * abs(line.roll_rad)
    # Where a corner decides, a steeper frame takes its roof back by so much.
    back = np.take_along_axis(x_corner.T, np.maximum(event, 0) // 2, axis=1) * usual[:, None]
    back = np.where(event >= 0, (boxes.top_mm[:, None] + back) / line.radius_mm, 0.0)

    mid, slope = grid_elevations(line, foot, frame, boxes.vehicle, grid, strip)
    climbs = bool((slope >= 0).all())
    height = np.full(slope.shape, -np.inf)
    x_high, x_low = np.full((2, *strip.shape), np.nan)
    at_end, across = np.zeros((2, *strip.shape), bool)
    for edges in roof_edges(boxes, across=line.roll_rad != 0):
        start, run = edge_lines(edges, axes)
        along = start[1][:, None] * cosine - start[0][:, None] * sine
        gain = run[1][:, None] * cosine - run[0][:, None] * sine
        first, last = edges.from_mm[:, None], edges.to_mm[:, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            high = np.fmin(np.fmax((half - along) / gain, first), last)
            low = np.fmin(np.fmax((-half - along) / gain, first), last)
        away = np.minimum(np.abs(along + high * gain), np.abs(along + low * gain))
        over = (start[2] - axes.middle_mm[2])[:, None]
        there = away <= half + _NEARLY_MM
        if edges.across[0]:
            # Across a rolled body x stays, and the height changes from end to end.
            over = over + np.maximum(high * run[2][:, None], low * run[2][:, None])
            over -= (edges.beside_mm * usual)[:, None]
            high = low = np.broadcast_to(edges.beside_mm[:, None], high.shape)
            across |= there
        else:
            at_end |= (high == last) | (low == first)
            x_high, x_low = np.fmax(x_high, high), np.fmin(x_low, low)
        over = np.where(there, over, -np.inf)
        rise = high[..., None] * slope
        if not climbs:
            np.maximum(rise, low[..., None] * slope, out=rise)
        rise += over[..., None]
        np.maximum(height, rise, out=height)
    height += mid

    grades = line.slope_mm / line.radius_mm
    steepest = float(np.abs(grades).max())
    uneven = float(np.abs(grades - line.mean_climb_mm / line.radius_mm).max())
    reach = np.maximum(np.abs(boxes.x_rear_mm), np.abs(boxes.x_front_mm))
    # The model keeps the pitch of the regular helix wherever pitch counts twice.
    wrong = tall * uneven**2 + 2 * reach * steepest**2 * uneven
    wrong += _ROUNDING_MM
    if line.roll_rad:
        wrong += tall * abs(line.roll_rad) * (steepest * uneven + uneven**2)
    # While a corner decides, pitch tells on its height; not where that corner passes a side of the
    # strip, for there the vehicle stands elsewhere by just as much.
    tells = np.where(at_end & (event < 0), (tall * steepest * uneven)[:, None], 0.0)
    wrong = wrong[:, None] + tells
    # What is sure; twice what may be wrong above that nothing is.
    height -= wrong[..., None]

    # x is close to a tangent of the strip's angle: so far from its chord at the most.
    out = np.hypot(axes.middle_mm[0], axes.middle_mm[1])
    tangent = ((reach + half) / out)[:, None]
    bent = (1 + tangent**2) * np.diff(strip, axis=1) ** 2 / 3
    # An edge across is under a side of the strip while the vehicle moves on by so much.
    width = boxes.left_mm + boxes.right_mm
    skew = steepest * width * tangent[:, 0]
    across_mm = np.where(across[:, 1:] | across[:, :-1], skew[:, None], 0.0)
    with np.errstate(invalid="ignore"):  # nothing is under the strip at a row's ends
        spread = np.fmax(np.fmax(np.diff(x_high, axis=1), np.diff(x_low, axis=1)), 0.0)
    # A point that moves along a frame whose pitch changes draws an arch over its chord; one that
    # moves at a changing speed, too.
    most = slope[:, :-1] - slope[:, 1:]
    np.maximum(most, 0.0, out=most)
    most *= (spread / 4)[..., None]
    twice = 2 * np.maximum(wrong[:, 1:], wrong[:, :-1]) + across_mm + _ROUNDING_MM
    most += (twice + bent * (reach[:, None] + half) * steepest)[..., None]
    most += np.maximum(height[:, 1:], height[:, :-1])
    sure = height.max(axis=1)
    # What a vehicle does before it comes onto the line, or after it has left it, is not sure.
    place = undersides.place_rad[grid.number]
    low, high = foot.span_rad[:, boxes.vehicle]
    ends = np.flatnonzero((place < low.max() + strip.max()) | (place > high.min() + strip.min()))
    stands = place[ends] - strip[..., None]
    off = (stands < low[:, None, None]) | (stands > high[:, None, None])
    sure[:, ends] = np.where(off, -np.inf, height[..., ends]).max(axis=1)
    return Screened(
        sure,
        most.max(axis=1),
        grid,
        place,
        strip,
        event,
        back,
        usual,
        height,
        slope,
        np.array([x_high, x_low]),
        spread,
        bent,
        across_mm,
        wrong,
    )


def _events(foot: Footing, axes: Axes, boxes: Boxes, grid: Grid) -> tuple[Floats, Indices]:
    """How far ahead of the first axle a strip is at the events of each block, rising, and which
    corner passes which side of it then, shape (m, j) each."""
    half = grid.width_mm / 2
    ahead = []
    for x, y in zip(*roof_corners(boxes), strict=True):
        corner = axes.middle_mm + x * axes.forward + y * axes.left + boxes.top_mm * axes.up
        angle = np.arctan2(corner[1], corner[0])
        side = np.arcsin(half / np.hypot(corner[0], corner[1]))
        ahead += [angle - side, angle + side]
    first, last = np.min(ahead, axis=0), np.max(ahead, axis=0)
    strip_events = len(ahead)
    # Where an axle stands on a knot: the knots within reach of the strip, each side of it.
    step = grid.step_rad
    for axle in foot.ahead_rad[:, boxes.vehicle]:
        nearest = np.ceil((axle - last) / step + grid.beyond)
        furthest = np.floor((axle - first) / step + grid.beyond)
        for more in range(int(np.nanmax(furthest - nearest, initial=-1)) + 1):
            knot = np.minimum(nearest + more, furthest)
            inside = axle - (knot - grid.beyond) * step
            ahead.append(np.where(furthest >= nearest + more, inside, np.nan))
    strip = np.column_stack(ahead)
    order = np.argsort(strip, axis=1)
    # Not every block meets as many knots: the rest of its row, at the end, repeats its last one.
    count = np.isfinite(strip).sum(axis=1, keepdims=True)
    order = np.take_along_axis(order, np.minimum(np.arange(order.shape[1]), count - 1), axis=1)
    return (
        np.take_along_axis(strip, order, axis=1),
        np.where(order < strip_events, order, NO_EVENT),
    )


def grid_elevations(
    line: Line, foot: Footing, frame: int, vehicle: Indices, grid: Grid, strip_rad: Floats
) -> tuple[Floats, Floats]:
    """Elevation and slope of frames at positions under all undersides of a grid, (e, j, k).

    Parameters
    ----------
    line, foot, frame
        The track, how n vehicles stand on the nearest regular helix, and the frame.
    vehicle
        Whose frame each row is about, shape (e,).
    grid
        The undersides, k of them.
    strip_rad
        How far an underside is ahead of the first axle, shape (e, j).
    """
    axles = foot.ahead_rad[:, vehicle]
    weights = foot.weights[frame]
    count = strip_rad.size
    cells = (axles[:, :, None] - strip_rad) / grid.step_rad + grid.beyond
    before = np.floor(cells)
    least, most = int(before.min()), int(before.max()) + 1
    width = most - least + 1
    part = cells - before
    start = (before - least).astype(np.intp) + width * np.arange(count).reshape(strip_rad.shape)
    index = np.concatenate([start.ravel(), start.ravel() + 1])
    knots = (grid.cell + np.arange(least, most + 1)[:, None]) * grid.step_rad
    heights = line.height_mm(np.asarray(knots))
    found = []
    for weight in (weights.mid, weights.slope):
        share = weight[:, vehicle, None] * part
        rest = weight[:, vehicle, None] - share
        values = np.concatenate([rest.ravel(), share.ravel()])
        matrix = np.bincount(index, values, minlength=count * width).reshape(count, width)
        found.append((matrix @ heights).reshape(*strip_rad.shape, len(grid.cell)))
    mid, slope = found
    return mid, slope
