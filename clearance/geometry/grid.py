"""Undersides that lie alike among the knots of a line, and the heights of axles seen from there.

G4, docs/theory.md. With knots at even spacing a vehicle's axles stand among them in the same way
under every underside; so what is a weighted mean of railheads, at many positions under all of them,
is one matrix product.
"""

import math
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
    """

    number: Indices
    step_rad: float
    cell: Indices
    beyond: float
    width_mm: float


def grids(line: Line, undersides: Undersides, reach_rad: float) -> list[Grid]:
    """Group undersides by how they lie on the grid of knots and by their width.

    Those that have a knot beside the grid within ``reach_rad`` are in none.
    """
    low = undersides.place_rad.min() - reach_rad
    high = undersides.place_rad.max() + reach_rad
    knots = line.knots_rad[(line.knots_rad > low) & (line.knots_rad < high)]
    step, beside = _step(knots)
    far = np.abs(undersides.place_rad[:, None] - beside) >= reach_rad
    even = np.flatnonzero(far.all(axis=1))
    cells = undersides.place_rad[even] / step
    cell = np.floor(cells + _SAME)
    beyond = np.round((cells - cell) / _SAME) * _SAME
    beyond = np.where(beyond >= 1.0, 0.0, np.maximum(beyond, 0.0))
    keys = np.column_stack([beyond, undersides.width_mm[even]])
    found = []
    for key in np.unique(keys, axis=0):
        alike = np.flatnonzero((keys == key).all(axis=1))
        found.append(
            Grid(even[alike], step, cell[alike].astype(np.intp), float(key[0]), float(key[1]))
        )
    return found


def _step(knots: Floats) -> tuple[float, Floats]:
    """The widest grid from place 0 that takes in the most knots, and those that lie beside it."""
    if len(knots) < 2:
        return max(2 * math.pi, *np.abs(knots), 1.0), knots[np.abs(knots) < 2 * math.pi]
    apart = np.diff(knots)
    tried = []
    for usual in (float(np.median(apart)), float(apart.min())):
        for parts in range(1, _MOST_PARTS + 1):
            step = usual / parts
            cells = knots / step
            tried.append((step, knots[np.abs(cells - np.round(cells)) >= _SAME]))
    return min(tried, key=lambda one: (len(one[1]), -one[0]))


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
    knots = (grid.cell + np.arange(least, most + 1)[:, None]) * grid.step_rad
    heights = line.height_mm(np.asarray(knots))
    return Mesh((before - least).astype(np.intp), cells - before, heights)
