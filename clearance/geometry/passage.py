"""What blocks of a fleet ask of one track: headroom, and room on both sides. In chunks.

The pieces are `stand`, `overhead` and `sides`; here they are run over a fleet of any size with
arrays small enough for the processor's caches, which is twice as fast and bounds the memory.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.line import Screw
from clearance.geometry.overhead import required_headroom_mm
from clearance.geometry.sides import Reach, side_reach
from clearance.geometry.stand import stand

__all__ = ["Passage", "pass_through"]

Floats = NDArray[np.float64]

_BLOCKS_AT_ONCE = 8192


class Passage(NamedTuple):
    """What m blocks ask of a track.

    Attributes
    ----------
    required_mm
        Headroom for each width of obstacle, shape (widths, m). [mm]
    reach
        The swept band, arrays of shape (m,).
    place_rad
        On a line as built, the places abreast of the band's two extremes, shape (2, m). None: every
        place is like every other.
    """

    required_mm: Floats
    reach: Reach
    place_rad: Floats | None = None


def pass_through(
    screw: Screw,
    wheelbase_mm: Floats,
    truck_wheelbase_mm: Floats,
    block_car: NDArray[np.intp],
    blocks: Sequence[Floats],
    obstacle_widths_mm: Sequence[float],
) -> Passage:
    """Drive the blocks of n cars along a track, front uphill.

    Parameters
    ----------
    screw
        The track.
    wheelbase_mm, truck_wheelbase_mm
        Of the cars, shape (n,). [mm]
    block_car
        Which car each block belongs to, rising, shape (m,).
    blocks
        x_rear, x_front, left, right, bottom, top of the blocks, shape (m,) each. [mm]
    obstacle_widths_mm
        The widths of level undersides to ask for. [mm]

    Returns
    -------
    Passage
        nan where a car cannot stand on this radius.
    """
    count = len(block_car)
    required = np.empty((len(obstacle_widths_mm), count))
    bands = np.empty((len(Reach._fields), count))
    for first in range(0, count, _BLOCKS_AT_ONCE):
        some = slice(first, first + _BLOCKS_AT_ONCE)
        x_rear, x_front, left, right, bottom, top = (figures[some] for figures in blocks)
        whose = block_car[some]
        cars = slice(whose[0], whose[-1] + 1)
        stance = stand(screw, wheelbase_mm[cars], truck_wheelbase_mm[cars])
        if (np.diff(whose) != 1).any():
            stance = stance.take(whose - whose[0])
        for row, width in enumerate(obstacle_widths_mm):
            required[row, some] = required_headroom_mm(
                stance, x_rear, x_front, left, right, top, width
            )
        bands[:, some] = side_reach(stance, x_rear, x_front, left, right, bottom, top)
    return Passage(required, Reach(*bands))
