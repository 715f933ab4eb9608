"""Pieces of the positions of vehicles, within which everything changes smoothly.

G4, docs/theory.md.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.boxes import Footing
from clearance.geometry.line import Line
from clearance.geometry.rig import JUST_BESIDE_MM, Rig, settle

__all__ = ["NO_EVENT", "Pieces", "just_inside_rad", "pieces_between"]

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


def just_inside_rad(line: Line, from_rad: Floats, to_rad: Floats) -> tuple[Floats, Floats]:
    """The ends of pieces, where an axle leaves the cant a hair inside them: there a body rolls at
    once, and each piece has its own side of that.

    Parameters
    ----------
    line
        The track.
    from_rad, to_rad
        Where the first axle stands at both ends of pieces, any shape.
    """
    if not (line.has_straight and line.roll_rad):
        return from_rad, to_rad
    inside = np.minimum(JUST_BESIDE_MM / line.radius_mm, (to_rad - from_rad) / 4)
    return from_rad + inside, to_rad - inside


def pieces_between(
    line: Line,
    rig: Rig,
    foot: Footing,
    vehicle: Indices,
    box: Indices,
    underside: Indices,
    passing_rad: Floats,
) -> Pieces:
    """The pieces between all events: a corner passes a side of a strip, an axle stands on a knot.

    Parameters
    ----------
    line, rig, foot
        The track, the vehicles, and how they stand on the nearest regular helix.
    vehicle
        Whose each block is.
    box, underside
        Which block under which underside, p pairs.
    passing_rad
        Where the first axle stands as corners pass, shape (k, p), rising.

    Returns
    -------
    Pieces
        Of each pair those from the first to the last passing, downhill; nothing bounds them.
    """
    whose = vehicle[box]
    ends = settle(line, rig, np.tile(whose, 2), 0, passing_rad[[0, -1]].ravel(), foot.ahead_rad)
    numbers = [np.tile(np.arange(len(whose)), len(passing_rad))]
    places = [passing_rad.ravel()]
    for axle, (low, high) in enumerate(ends.axle_rad.reshape(-1, 2, len(whose))):
        before = np.searchsorted(line.knots_rad, low, side="right")
        after = np.searchsorted(line.knots_rad, high, side="left")
        between = np.maximum(after - before, 0)
        number = np.repeat(np.arange(len(whose)), between)
        knot = np.arange(len(number)) - np.repeat(np.cumsum(between) - between, between)
        knot += before[number]
        at_knot = settle(line, rig, whose[number], axle, line.knots_rad[knot], foot.ahead_rad)
        numbers.append(number)
        places.append(at_knot.axle_rad[0])
    number, place = np.concatenate(numbers), np.concatenate(places)
    order = np.lexsort((-place, number))
    number, place = number[order], place[order]
    start = np.flatnonzero(number[1:] == number[:-1])
    pair, count = number[start], len(start)
    return Pieces(
        box[pair],
        underside[pair],
        place[start + 1],
        place[start],
        *np.full((2, count), NO_EVENT),
        *np.full((2, count), np.inf),
    )
