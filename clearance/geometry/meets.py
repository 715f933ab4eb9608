"""How much room two passing cars leave, for every pair of an inner and an outer car.

G6, docs/theory.md. Only blocks whose height ranges overlap can touch. Cars are given as padded
rows of blocks, (n, k): a car with fewer blocks than k has the rest empty (see `MeetingSide`).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["HEIGHT_MARGIN_MM", "MeetingSide", "meeting_gaps_mm"]

Floats = NDArray[np.float64]

HEIGHT_MARGIN_MM = 2.0
"""Each block's height range is widened by this, up and down, before ranges are compared (G6)."""

_PAIRS_AT_ONCE = 1 << 17  # what the caches hold


class MeetingSide(NamedTuple):
    """What n cars of up to k blocks turn towards the cars that they pass, shape (n, k) each.

    Attributes
    ----------
    radius_mm
        Least radius of each block (cars on the outer track), or greatest (on the inner). [mm]
    bottom_mm, top_mm
        Its height range, not yet widened. [mm] An empty place has the bottom at inf, the top
        at -inf, and any radius that is not nan.
    """

    radius_mm: Floats
    bottom_mm: Floats
    top_mm: Floats


def meeting_gaps_mm(inner: MeetingSide, outer: MeetingSide) -> Floats:
    """The gap of every pair: least radius of the outer car less greatest of the inner (G6).

    Parameters
    ----------
    inner
        The cars on the inner track, with their blocks' greatest radii, shape (n, k).
    outer
        The cars on the outer track, with their blocks' least radii, shape (m, j).

    Returns
    -------
    ndarray
        Gaps, shape (n, m). [mm] Negative: they touch; inf: no two blocks are at one height; nan:
        one of the two cars cannot stand on its track.
    """
    ranked_inner, ranked_outer = _ranked(inner, outer)
    order = np.argsort(-inner.radius_mm, axis=1)
    bottom, top = (np.take_along_axis(ranks, order, axis=1) for ranks in ranked_inner)
    # One place more at the end of a row: what a block meets that meets none.
    radius = np.full((len(order), order.shape[1] + 1), -np.inf)
    radius[:, :-1] = np.take_along_axis(inner.radius_mm, order, axis=1)

    # A row a block: neighbours in memory are compared in one go.
    others = [np.ascontiguousarray(figures.T) for figures in (outer.radius_mm, *ranked_outer)]
    gaps = np.empty((len(radius), len(outer.radius_mm)))
    rows = max(1, _PAIRS_AT_ONCE // max(1, gaps.shape[1]))
    for first in range(0, len(gaps), rows):
        some = slice(first, first + rows)
        gaps[some] = _gaps(radius[some], bottom[some], top[some], *others)
    gaps[np.isnan(inner.radius_mm).any(axis=1), :] = np.nan
    return gaps


def _ranked(*sides: MeetingSide) -> list[tuple[NDArray[np.integer], NDArray[np.integer]]]:
    """The widened height ranges as ranks among all heights: small numbers, quick to compare."""
    ranges = [(side.bottom_mm - HEIGHT_MARGIN_MM, side.top_mm + HEIGHT_MARGIN_MM) for side in sides]
    heights = np.unique(np.concatenate([ends.ravel() for pair in ranges for ends in pair]))
    small = np.int16 if len(heights) <= np.iinfo(np.int16).max else np.int32
    return [
        (
            np.searchsorted(heights, bottom).astype(small),
            np.searchsorted(heights, top).astype(small),
        )
        for bottom, top in ranges
    ]


def _gaps(
    radius: Floats,
    bottom: NDArray[np.integer],
    top: NDArray[np.integer],
    outer_radius: Floats,
    outer_bottom: NDArray[np.integer],
    outer_top: NDArray[np.integer],
) -> Floats:
    """Gaps of some inner cars, their blocks in falling order of radius, with all outer cars.

    For each outer block the first inner block at its height is the one that comes nearest. The
    inner arrays have shape (n, k), the outer ones (j, m).
    """
    gaps = np.full((len(radius), outer_radius.shape[1]), np.inf)
    row_start = np.arange(len(radius))[:, None] * radius.shape[1]
    # Every array is made once and filled again: making them costs more than what is in them.
    above, below = np.empty((2, *gaps.shape), bool)
    passed = np.empty(gaps.shape, np.min_scalar_type(bottom.shape[1]))
    place, gap = np.empty(gaps.shape, np.intp), np.empty(gaps.shape)
    for other in range(len(outer_radius)):
        passed[:] = 0
        for block in range(bottom.shape[1]):
            np.greater(bottom[:, block, None], outer_top[other], out=above)
            np.less(top[:, block, None], outer_bottom[other], out=below)
            above |= below
            # Passed only while every block before was passed as well.
            above &= passed == block
            passed += above
        np.add(row_start, passed, out=place)
        np.take(radius, place, out=gap, mode="clip")
        np.subtract(outer_radius[other], gap, out=gap)
        np.minimum(gaps, gap, out=gaps)
    return gaps
