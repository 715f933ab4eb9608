"""How far blocks reach towards the axis and away from it.

G5, docs/theory.md. On a regular helix the reach is the same at every place.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clearance.geometry.stand import Stance

__all__ = ["Reach", "side_reach"]

Floats = NDArray[np.float64]


class Reach(NamedTuple):
    """The swept band of n blocks, and which part of each makes its edges.

    Attributes
    ----------
    least_radius_mm, greatest_radius_mm
        Distance from the axis, shape (n,). [mm] nan: the car cannot stand on this radius.
        ``least_radius_mm`` is 0 or less where the block reaches the axis or beyond it.
    x_least_mm, x_greatest_mm
        How far that part lies before the middle of the wheelbase, shape (n,). [mm]
    """

    least_radius_mm: Floats
    x_least_mm: Floats
    greatest_radius_mm: Floats
    x_greatest_mm: Floats


def side_reach(
    stance: Stance,
    x_rear_mm: ArrayLike,
    x_front_mm: ArrayLike,
    left_mm: ArrayLike,
    right_mm: ArrayLike,
    bottom_mm: ArrayLike,
    top_mm: ArrayLike,
) -> Reach:
    """The least and the greatest distance of blocks from the helix axis.

    Parameters
    ----------
    stance
        How the cars stand, one pose a block, shape (n,).
    x_rear_mm, x_front_mm
        Ends of the block from the middle of the wheelbase, forward positive, shape (n,). [mm]
    left_mm, right_mm
        Its half widths, shape (n,). [mm]
    bottom_mm, top_mm
        Its heights over the railhead, shape (n,). [mm]

    Returns
    -------
    Reach
        The four arrays, shape (n,).
    """
    x_rear, x_front = np.asarray(x_rear_mm, float), np.asarray(x_front_mm, float)
    left, right = np.asarray(left_mm, float), -np.asarray(right_mm, float)
    bottom, top = np.asarray(bottom_mm, float), np.asarray(top_mm, float)
    least, x_least = _nearest(stance, x_rear, x_front, left, bottom, top)
    greatest, x_greatest = _furthest(stance, x_rear, x_front, right, bottom, top)
    return Reach(least, x_least, greatest, x_greatest)


def _plan(stance: Stance, y: Floats, height: Floats) -> tuple[Floats, Floats]:
    """U of a long edge of the body, and what its pitch takes off T (G3)."""
    radial = stance.mid_radius_mm - (y * stance.cos_roll + height * stance.sin_roll)
    shift = (height * stance.cos_roll - y * stance.sin_roll) * stance.sin_pitch
    return radial, shift


def _nearest(
    stance: Stance, x_rear: Floats, x_front: Floats, y: Floats, bottom: Floats, top: Floats
) -> tuple[Floats, Floats]:
    """The least radius of the side at `y`, a leaning plane, and the x where it is.

    At one height the nearest point is abreast of the axis, or else an end. Up an end, the distance
    squared is a parabola in the height; its vertex may lie between bottom and top.
    """
    foot_radial, foot_shift = _plan(stance, y, np.zeros_like(y))
    lean = stance.cos_roll * stance.sin_pitch
    leans = stance.sin_roll**2 + lean * lean
    heights = [bottom, top]
    for x in (x_rear, x_front):
        uphill = x * stance.cos_pitch - foot_shift
        with np.errstate(invalid="ignore", divide="ignore"):
            vertex = (foot_radial * stance.sin_roll + uphill * lean) / leans
        # fmin and fmax: on the level there is no vertex, and any height will do.
        heights.append(np.fmax(np.fmin(vertex, top), bottom))
    best, x_best = np.full_like(foot_radial, np.inf), np.full_like(foot_radial, np.nan)
    for height in heights:
        radial, shift = _plan(stance, y, height)
        x = np.minimum(np.maximum(shift / stance.cos_pitch, x_rear), x_front)
        along = x * stance.cos_pitch - shift
        # A side that has crossed the axis counts as nearer than one that touches it.
        square = np.where(radial > 0, radial * radial + along * along, -radial * radial)
        nearer = ~(square >= best)
        best, x_best = np.where(nearer, square, best), np.where(nearer, x, x_best)
    return np.sign(best) * np.sqrt(np.abs(best)), x_best


def _furthest(
    stance: Stance, x_rear: Floats, x_front: Floats, y: Floats, bottom: Floats, top: Floats
) -> tuple[Floats, Floats]:
    """The greatest radius of the side at `y`, and the x of the corner where it is."""
    best, x_best = np.zeros_like(y), np.full_like(y, np.nan)
    for height in (bottom, top):
        radial, shift = _plan(stance, y, height)
        for x in (x_rear, x_front):
            along = x * stance.cos_pitch - shift
            square = radial * radial + along * along
            further = ~(square <= best)
            best, x_best = np.where(further, square, best), np.where(further, x, x_best)
    return np.sqrt(best), x_best
