"""Pieces of the positions of vehicles, within which everything changes smoothly.

G4, docs/theory.md.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Footing
from clearance.geometry.line import Line
from clearance.geometry.rig import Rig, settle

__all__ = ["Pieces", "split_at_knots"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


class Pieces(NamedTuple):
    """Positions to look at: p pieces, each of one edge under one underside.

    Attributes
    ----------
    edge, underside
        Numbers, shape (p,).
    from_rad, to_rad
        Where the vehicle's first axle stands at both ends of the piece, shape (p,).
    from_strip, to_strip
        Whether an end of the edge passes a side of the strip there, so far only nearly, shape (p,).
    bound_mm
        No part of the edge stands higher under the strip than this, shape (p,). [mm]
    arch_mm
        Within the piece it stands no higher than at its ends by more than this, shape (p,). [mm]
    """

    edge: Indices
    underside: Indices
    from_rad: Floats
    to_rad: Floats
    from_strip: NDArray[np.bool_]
    to_strip: NDArray[np.bool_]
    bound_mm: Floats
    arch_mm: Floats

    def take(self, index: Indices) -> "Pieces":
        """The pieces at ``index``."""
        return Pieces._make(figures[index] for figures in self)


def split_at_knots(line: Line, rig: Rig, foot: Footing, vehicle: Indices, pieces: Pieces) -> Pieces:
    """Cut pieces wherever an axle stands on a knot of the line.

    Parameters
    ----------
    line, rig, foot
        The track, the vehicles, and how they stand on the nearest regular helix.
    vehicle
        Whose each edge is.
    pieces
        As they are; no piece ends before it begins.
    """
    whose = vehicle[pieces.edge]
    low = settle(line, rig, whose, 0, pieces.from_rad, foot.ahead_rad).axle_rad
    high = settle(line, rig, whose, 0, pieces.to_rad, foot.ahead_rad).axle_rad
    numbers, places = [], []
    for axle in range(len(low)):
        before = np.searchsorted(line.knots_rad, low[axle], side="right")
        after = np.searchsorted(line.knots_rad, high[axle], side="left")
        between = np.maximum(after - before, 0)
        number = np.repeat(np.arange(len(whose)), between)
        knot = np.arange(len(number)) - np.repeat(np.cumsum(between) - between, between)
        knot += before[number]
        at_knot = settle(line, rig, whose[number], axle, line.knots_rad[knot], foot.ahead_rad)
        numbers.append(number)
        places.append(at_knot.axle_rad[0])
    everyone = np.arange(len(whose))
    number = np.concatenate([everyone, everyone, *numbers])
    place = np.concatenate([pieces.from_rad, pieces.to_rad, *places])
    order = np.lexsort((place, number))
    number, place = number[order], place[order]
    start = np.flatnonzero(number[1:] == number[:-1])
    whole = number[start]
    return Pieces(
        pieces.edge[whole],
        pieces.underside[whole],
        place[start],
        place[start + 1],
        pieces.from_strip[whole] & (place[start] == pieces.from_rad[whole]),
        pieces.to_strip[whole] & (place[start + 1] == pieces.to_rad[whole]),
        pieces.bound_mm[whole],
        pieces.arch_mm[whole],
    )
