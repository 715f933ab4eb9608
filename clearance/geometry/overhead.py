"""How much headroom a body needs under a beam, and under the deck between beams.

G4, docs/theory.md. On a regular helix every place is the same, so the question is asked once a
block: over all places of the beam along the body, how far does the body stand above the railhead
at the beam? The answer has a closed form: the body meets the beam's downhill or uphill edge with
one of its upper long edges, at an end or where the slope of that edge turns.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clearance.geometry.stand import Stance

__all__ = ["required_headroom_mm"]

Floats = NDArray[np.float64]


def required_headroom_mm(
    stance: Stance,
    x_rear_mm: ArrayLike,
    x_front_mm: ArrayLike,
    left_mm: ArrayLike,
    right_mm: ArrayLike,
    top_mm: ArrayLike,
    obstacle_width_mm: float,
) -> Floats:
    """The least headroom, railhead to underside, that lets blocks through with nothing left over.

    Parameters
    ----------
    stance
        How the cars stand, one pose a block, shape (n,).
    x_rear_mm, x_front_mm
        Ends of the block from the middle of the wheelbase, forward positive, shape (n,). [mm]
    left_mm, right_mm
        Its half widths, shape (n,). [mm]
    top_mm
        Its height over the railhead, shape (n,). [mm]
    obstacle_width_mm
        Width of the level underside along the track; 0 for the deck between the beams. [mm]

    Returns
    -------
    ndarray
        Required headroom, shape (n,). [mm] nan where the car cannot stand on this radius, or
        reaches so close to the axis that the beam has no side to meet.
    """
    x_rear, x_front = np.asarray(x_rear_mm, float), np.asarray(x_front_mm, float)
    top = np.asarray(top_mm, float)
    left = _along_edge(stance, x_rear, x_front, np.asarray(left_mm, float), top, obstacle_width_mm)
    right = _along_edge(
        stance, x_rear, x_front, -np.asarray(right_mm, float), top, obstacle_width_mm
    )
    return np.maximum(left, right)


def _along_edge(
    stance: Stance, x_rear: Floats, x_front: Floats, y: Floats, top: Floats, width: float
) -> Floats:
    """Required headroom of the upper long edge at `y`: the greatest of a rise, a fall, a rise."""
    half = width / 2
    climb = stance.screw.rise_per_radian_mm
    radial = stance.mid_radius_mm - (y * stance.cos_roll + top * stance.sin_roll)
    height = top * stance.cos_roll - y * stance.sin_roll
    shift = height * stance.sin_pitch
    rear = x_rear * stance.cos_pitch - shift
    front = x_front * stance.cos_pitch - shift
    slope = stance.sin_pitch / stance.cos_pitch
    with np.errstate(invalid="ignore", divide="ignore"):
        # With the beam's downhill edge turned by phi, s = sin(phi), the edge's height over the
        # railhead is stationary where p s^2 + (slope half) s + (slope radial - p) = 0; the
        # smaller root is the crest. Where it has none, the edge rises all the way to the front.
        under_root = (slope * half) ** 2 - 4 * climb * (slope * radial - climb)
        sine = -(slope * half + np.sqrt(np.maximum(under_root, 0.0))) / (2 * climb)
        crest = (radial * sine + half) / np.sqrt(1 - sine * sine)
    crest = np.where((under_root > 0) & (sine > -1), crest, rear)
    crest = np.minimum(np.maximum(crest, rear), front)
    highest = np.maximum(
        _over_railhead(crest, radial, slope, climb, half),
        _over_railhead(front, radial, slope, climb, half),
    )
    # x sin + h cos with x = (T + h sin) / cos is T slope + h / cos.
    return highest + height / stance.cos_pitch


def _over_railhead(
    along: Floats, radial: Floats, slope: Floats, climb: float, half: float
) -> Floats:
    """Rise of an edge's point less that of the track up to the beam whose uphill side it meets.

    The beam stands at the plan angle atan(T / U) - asin(half / hypot(T, U)), as one arctangent.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        reach = np.sqrt(along * along + radial * radial - half * half)
        turned = np.arctan((along * reach - radial * half) / (radial * reach + along * half))
        rise: Floats = along * slope - climb * turned
    return np.where(radial > half, rise, np.nan)
