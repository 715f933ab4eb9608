"""Pieces of the positions of vehicles, within which everything changes smoothly.

G4, docs/theory.md.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Footing
from clearance.geometry.line import Line
from clearance.geometry.rig import Rig, settle

__all__ = ["NO_EVENT", "Pieces", "split_at_knots"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

NO_EVENT = -1


class Pieces(NamedTuple):
    """Positions to look at: p pieces, each of one block under one underside.

    Attributes
    ----------
    box, underside
        Numbers, shape (p,).
    from_rad, to_rad
        Where the vehicle's first axle stands at both ends of the piece, shape (p,).
    from_event, to_event
        Which corner of the roof passes which side of the strip there, so far only nearly: twice the
        corner's number, and 1 more for the downhill side; `NO_EVENT`: none, shape (p,).
    bound_mm
        No part of the block stands higher under the strip than this, shape (p,). [mm]
    arch_mm
        Within the piece it stands no higher than at its ends by more than this, shape (p,). [mm]
    """

    box: Indices
    underside: Indices
    from_rad: Floats
    to_rad: Floats
    from_event: Indices
    to_event: Indices
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
        Whose each block is.
    pieces
        As they are; no piece ends before it begins.
    """
    whose = vehicle[pieces.box]
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
    whole, place_from, place_to = number[start], place[start], place[start + 1]
    cut = pieces.take(whole)
    return cut._replace(
        from_rad=place_from,
        to_rad=place_to,
        from_event=np.where(place_from == cut.from_rad, cut.from_event, NO_EVENT),
        to_event=np.where(place_to == cut.to_rad, cut.to_event, NO_EVENT),
    )
