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

from clearance.geometry.boxes import Footing
from clearance.geometry.line import Line
from clearance.geometry.pieces import Pieces
from clearance.geometry.undersides import Edges, Undersides, edge_lines

__all__ = ["Grid", "Screened", "grid_elevations", "grids", "screen"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_MOST_PARTS = 4  # a grid this much finer than the closest knots, before knots may fall beside it
_SAME = 1e-6  # places that differ by less than this part of a grid step are one
_ROUNDING_MM = 5e-4
_STRIP_EVENTS = 4  # each end of the edge passes each side of the strip


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
    """What the model knows of e edges under the k undersides of a grid.

    Attributes
    ----------
    sure_mm, most_mm
        The edge stands at least, and at most, this high under each underside, shape (e, k). [mm]
    """

    sure_mm: Floats
    most_mm: Floats
    grid: Grid
    _place_rad: Floats  # of the undersides, (k,)
    _strip_rad: Floats  # how far the strip is ahead of the first axle, rising, (e, j)
    _is_strip: NDArray[np.bool_]  # whether an end of the edge passes a side of it then, (e, j)
    _back_rad: Floats  # how much later that is for each bit of slope more than usual, (e, j)
    _usual_slope: Floats  # of the frame on the regular helix, (e,)
    _height_mm: Floats  # of the edge then, at the least, (e, j, k)
    _slope: Floats  # of the frame, (e, j, k)
    _x_mm: Floats  # where the edge is under the strip's two sides, (2, e, j)
    _bent: Floats  # how far from its chord that may be in a piece, over its own x, (e, j - 1)
    _wrong_mm: Floats  # by how much the model may be wrong, (e, j)

    def pieces(self, edge: Indices, column: Indices, floor_mm: Floats) -> Pieces:
        """The pieces of some pairs in which the edge may stand higher than ``floor_mm``.

        Parameters
        ----------
        edge, column
            Which edge, and which of the grid's undersides, shape (p,).
        floor_mm
            The elevation to beat, shape (p,). [mm]
        """
        height, slope = self._height_mm[edge, :, column], self._slope[edge, :, column]
        x_up, x_down = self._x_mm[:, edge]
        spread = np.maximum(np.diff(x_up, axis=1), np.diff(x_down, axis=1))
        # A point that moves along a frame whose pitch changes draws an arch over its chord, and
        # so does one that moves at a changing speed.
        arch = spread * np.maximum(-np.diff(slope, axis=1), 0.0) / 4
        behind = np.maximum(-x_down[:, :-1] * np.maximum(slope[:, 1:], slope[:, :-1]), 0.0)
        before = np.maximum(-x_up[:, 1:] * np.minimum(slope[:, 1:], slope[:, :-1]), 0.0)
        arch += self._bent[edge] * np.maximum(behind, before) + _ROUNDING_MM
        bound = height + 2 * self._wrong_mm[edge]
        bound = np.maximum(bound[:, 1:], bound[:, :-1]) + arch
        # Where the first axle stands, now with the pitch that the frame has there. Positions that
        # are close together may have changed places; a piece then holds what its neighbours may.
        steeper = slope - self._usual_slope[edge, None]
        place = self._place_rad[column, None] - self._strip_rad[edge]
        place = place + self._back_rad[edge] * steeper
        order = np.argsort(-place, axis=1)
        place = np.take_along_axis(place, order, axis=1)
        is_strip = np.take_along_axis(self._is_strip[edge], order, axis=1)
        bound, arch = _of_neighbours(bound), _of_neighbours(arch)
        pair, piece = np.nonzero(bound > floor_mm[:, None])
        return Pieces(
            edge[pair],
            self.grid.number[column[pair]],
            place[pair, piece + 1],
            place[pair, piece],
            is_strip[pair, piece + 1],
            is_strip[pair, piece],
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
    line: Line, foot: Footing, frame: int, edges: Edges, undersides: Undersides, grid: Grid
) -> Screened:
    """Bounds for every edge under every underside of a grid, piece by piece.

    Parameters
    ----------
    line
        The track; its straight leads must be out of reach.
    foot
        How the vehicles stand on the regular helix nearest to it.
    frame, edges
        The frame, and e edges on it.
    undersides
        All undersides; ``grid`` says which.
    """
    whose = edges.vehicle
    axles = foot.ahead_rad[:, whose]
    # Plan of the edge's two ends, with the first axle at place 0.
    pose = foot.pose.take(whose)
    start, run = edge_lines(edges, pose, frame)
    usual = pose.forward[frame][2]
    half = grid.width_mm / 2

    def passes(at: Floats, side: float) -> Floats:
        """How far ahead the strip's centre line is when the end passes a side of it."""
        out, along = start[0] + at * run[0], start[1] + at * run[1]
        return np.asarray(np.arctan2(along, out) - np.arcsin(side / np.hypot(out, along)))

    ends = (edges.from_mm, edges.to_mm)
    ahead = [passes(at, side) for at in ends for side in (half, -half)]
    first, last = np.min(ahead, axis=0), np.max(ahead, axis=0)
    # Where an axle stands on a knot: the knots within reach of the strip, each side of it.
    step = grid.step_rad
    for axle in axles:
        nearest = np.ceil((axle - last) / step + grid.beyond)
        furthest = np.floor((axle - first) / step + grid.beyond)
        for more in range(int(np.nanmax(furthest - nearest, initial=-1)) + 1):
            knot = np.minimum(nearest + more, furthest)
            inside = axle - (knot - grid.beyond) * step
            ahead.append(np.where(furthest >= nearest, inside, np.nan))
    strip = np.column_stack(ahead)
    order = np.argsort(strip, axis=1)
    # Not every edge meets as many knots: the rest of its row, at the end, repeats its last one.
    count = np.isfinite(strip).sum(axis=1, keepdims=True)
    order = np.take_along_axis(order, np.minimum(np.arange(order.shape[1]), count - 1), axis=1)
    strip = np.take_along_axis(strip, order, axis=1)
    # Where an end of the edge decides, a steeper frame takes its roof back by so much.
    over = (
        start[2] - pose.middle_mm[frame][2] - np.where(edges.across, edges.beside_mm * usual, 0.0)
    )
    is_strip = order < _STRIP_EVENTS
    x_end = np.where(order < _STRIP_EVENTS // 2, edges.from_mm[:, None], edges.to_mm[:, None])
    if edges.across.any():
        x_end = np.where(edges.across[:, None], edges.beside_mm[:, None], x_end)
    back = (over[:, None] + x_end * usual[:, None]) / line.radius_mm
    back = np.where(is_strip, back, 0.0)

    # Where the edge is under both sides of the strip, with the pitch of the regular helix.
    cosine, sine = np.cos(strip), np.sin(strip)
    along = start[1][:, None] * cosine - start[0][:, None] * sine
    gain = run[1][:, None] * cosine - run[0][:, None] * sine
    under = []
    for side in (half, -half):
        with np.errstate(divide="ignore", invalid="ignore"):
            at = np.fmax((side - along) / gain, edges.from_mm[:, None])
        under.append(np.fmin(at, edges.to_mm[:, None]))
    uphill, downhill = under
    over = over[:, None]
    lift = np.zeros(1)
    if edges.across.any():
        # How far forward that is, and by how much it is higher there because the frame rolls.
        across = edges.across[:, None]
        uphill, downhill = (np.where(across, edges.beside_mm[:, None], at) for at in under)
        lift = np.where(edges.across, run[2], 0.0)
        over = over + np.maximum(lift[:, None] * under[0], lift[:, None] * under[1])

    mid, slope = grid_elevations(line, foot, frame, whose, grid, strip)
    height = np.maximum(uphill[..., None] * slope, downhill[..., None] * slope)
    height += mid

    grades = line.slope_mm / line.radius_mm
    steepest = float(np.abs(grades).max())
    uneven = float(np.abs(grades - line.mean_climb_mm / line.radius_mm).max())
    reach = np.maximum(np.abs(uphill), np.abs(downhill)).max(axis=1)
    # The model keeps the pitch of the regular helix wherever pitch counts twice.
    spread_of_weights = np.abs(foot.weights[frame].slope[:, whose]).sum(axis=0)
    tall = np.abs(edges.h_mm) + np.abs(edges.beside_mm) * abs(line.roll_rad)
    wrong = tall * uneven**2 + 4 * reach * steepest**2 * uneven
    wrong += (spread_of_weights * reach + 1) * grid.miss_mm + _ROUNDING_MM
    aside = np.maximum(np.abs(edges.from_mm), np.abs(edges.to_mm))
    aside = np.where(edges.across, aside, np.abs(edges.beside_mm))
    wrong += aside * abs(line.roll_rad) * (steepest * uneven + uneven**2)
    # An edge across runs through under the strip in no time, and not evenly.
    wrong += np.abs(lift) * (edges.to_mm - edges.from_mm)
    # While an end of the edge decides, pitch tells on its height; not where that end passes a side
    # of the strip, for there the vehicle stands elsewhere by just as much.
    at_end = (under[0] == edges.to_mm[:, None]) | (under[1] == edges.from_mm[:, None])
    tells = np.where(at_end & ~is_strip, (tall * steepest * uneven)[:, None], 0.0)
    wrong = wrong[:, None] + tells
    # What is sure; twice what may be wrong above that nothing is.
    height += (over - wrong)[..., None]

    # x is close to a tangent of the strip's angle: so far from its chord at the most.
    tangent = ((reach + half) / np.hypot(start[0], start[1]))[:, None]
    bent = (1 + tangent**2) * np.diff(strip, axis=1) ** 2 / 3
    spread = np.maximum(np.diff(uphill, axis=1), np.diff(downhill, axis=1)).max(axis=1)
    # No more than two axles' pieces of line differ in slope, over the length between them.
    turning = np.minimum(1.0, spread * spread_of_weights / 2)
    arches = (reach + half) * bent.max(axis=1) * steepest + spread * turning * uneven / 2
    highest = height.max(axis=1)
    return Screened(
        highest,
        highest + (2 * wrong.max(axis=1) + arches + _ROUNDING_MM)[:, None],
        grid,
        undersides.place_rad[grid.number],
        strip,
        is_strip,
        back,
        usual,
        height,
        slope,
        np.array([uphill, downhill]),
        bent,
        wrong,
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
