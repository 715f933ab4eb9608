"""Undersides that lie alike among the knots of a line, and the heights of axles seen from there.

G4, docs/theory.md. With knots at even spacing a vehicle's axles stand among them in the same way
under every underside; so what is a weighted mean of railheads, at many positions under all of them,
is one matrix product.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Footing
from clearance.geometry.line import Line
from clearance.geometry.undersides import Undersides

__all__ = ["Grid", "Mesh", "grids", "mesh"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_MOST_PARTS = 4  # a grid this much finer than the closest knots, before knots may fall beside it
_SAME = 1e-6  # places that differ by less than this part of a grid step are one


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
    beside_rad
        Of each underside: the nearest bends of the line beside the grid, downhill and uphill of it,
        shape (2, k).
    """

    number: Indices
    step_rad: float
    cell: Indices
    beyond: float
    width_mm: float
    beside_rad: Floats


def grids(line: Line, undersides: Undersides, reach_rad: float) -> list[Grid]:
    """Group undersides by how they lie on the grid of knots and by their width.

    Those that have a bend beside the grid within ``reach_rad`` are in none.
    """
    place, knots = undersides.place_rad, line.knots_rad
    # From the last knot before any part of the line that matters to the first one after it.
    first = np.searchsorted(knots, place.min() - reach_rad, side="right") - 1
    last = np.searchsorted(knots, place.max() + reach_rad)
    first, last = min(max(first, 0), len(knots) - 2), max(last, 1)
    step = _step(knots[first : last + 1])
    bends = knots[1:-1]
    beside = np.concatenate([[-np.inf], bends[_off_grid(bends, step)], [np.inf]])
    before = np.searchsorted(beside, place) - 1
    around = np.array([beside[before], beside[before + 1]])
    even = np.flatnonzero((place - around[0] >= reach_rad) & (around[1] - place >= reach_rad))
    cells = place[even] / step
    cell = np.floor(cells + _SAME)
    beyond = np.round((cells - cell) / _SAME) * _SAME
    beyond = np.where(beyond >= 1.0, 0.0, np.maximum(beyond, 0.0))
    keys = np.column_stack([beyond, undersides.width_mm[even]])
    found = []
    for key in np.unique(keys, axis=0):
        alike = np.flatnonzero((keys == key).all(axis=1))
        number, whole = even[alike], cell[alike].astype(np.intp)
        found.append(Grid(number, step, whole, float(key[0]), float(key[1]), around[:, number]))
    return found


def _step(knots: Floats) -> float:
    """The widest grid from place 0 that takes in the most knots."""
    apart = np.diff(knots)
    tried = {
        usual / parts
        for usual in (float(np.median(apart)), float(apart.min()))
        for parts in range(1, _MOST_PARTS + 1)
    }
    return min(tried, key=lambda step: (int(_off_grid(knots, step).sum()), -step))


def _off_grid(knots: Floats, step: float) -> NDArray[np.bool_]:
    cells = knots / step
    return np.asarray(np.abs(cells - np.round(cells)) >= _SAME)


class Mesh(NamedTuple):
    """How the axles of e vehicles stand among the knots of a grid, at j positions each.

    Attributes
    ----------
    knot
        The last knot at or before each axle, a row of `height_mm`, shape (axles, j, e).
    part
        How far beyond it the axle is, in steps, shape (axles, j, e).
    height_mm
        The railhead at each knot near by, seen from each underside, shape (knots, k). [mm]
    """

    knot: Indices
    part: Floats
    height_mm: Floats

    def rows(self, weight: Floats, over: Floats) -> Floats:
        """What times the heights of the knots, and 1, gives an elevation, (j, e, knots + 1).

        Parameters
        ----------
        weight
            Of each axle, shape (axles, j, e) or such that it can be stretched to it.
        over
            What is added, shape (j, e). [mm]
        """
        width = len(self.height_mm) + 1
        start = self.knot + width * np.arange(over.size).reshape(over.shape)
        after = weight * self.part
        values = np.bincount(
            np.concatenate([start.ravel(), start.ravel() + 1]),
            np.concatenate([(weight - after).ravel(), after.ravel()]),
            minlength=over.size * width,
        )
        rows: Floats = values.astype(float, copy=False).reshape(*over.shape, width)
        rows[..., -1] = over
        return rows

    def times(self, rows: Floats) -> Floats:
        """Elevations from `rows`, shape (j, e, k). [mm]"""
        with_one = np.append(self.height_mm, np.ones((1, self.height_mm.shape[1])), axis=0)
        elevation = rows.reshape(-1, rows.shape[-1]) @ with_one
        return elevation.reshape(*rows.shape[:-1], -1)

    def at(self, weight: Floats, vehicle: Indices, column: Indices) -> Floats:
        """The weighted mean for some pairs of vehicle and underside, shape (j, p). [mm]

        Parameters
        ----------
        weight
            Of each axle, shape (axles, e).
        """
        found = np.zeros((self.knot.shape[1], len(vehicle)))
        flat, count = self.height_mm.ravel(), self.height_mm.shape[1]
        for knot, part, share in zip(self.knot, self.part, weight, strict=True):
            low = np.take(knot, vehicle, axis=1) * count + column
            before, after = flat[low], flat[low + count]
            found += share[vehicle] * (before + np.take(part, vehicle, axis=1) * (after - before))
        return found


def mesh(line: Line, foot: Footing, vehicle: Indices, grid: Grid, strip_rad: Floats) -> Mesh:
    """Place the axles of vehicles among the knots of a grid.

    Parameters
    ----------
    line, foot
        The track, and how n vehicles stand on the nearest regular helix.
    vehicle
        Whose axles each row is about, shape (e,).
    grid
        The undersides, k of them.
    strip_rad
        How far an underside is ahead of the first axle, shape (j, e).
    """
    axles = foot.ahead_rad[:, vehicle]
    cells = (axles[:, None] - strip_rad) / grid.step_rad + grid.beyond
    before = np.floor(cells)
    # One knot more at each end: the grades there tell how even the line is near by.
    least, most = int(before.min()) - 1, int(before.max()) + 2
    knots = np.asarray((grid.cell + np.arange(least, most + 1)[:, None]) * grid.step_rad)
    heights = line.height_mm(knots)
    # No axle comes as far as a knot beside the grid: up to there the line is straight.
    low, high = grid.beside_rad
    for piece, past in ((line.piece(low), knots < low), (line.piece(high) - 1, knots > high)):
        heights = np.where(past, line.straight_mm(piece, knots), heights)
    return Mesh((before - least).astype(np.intp), cells - before, heights)
