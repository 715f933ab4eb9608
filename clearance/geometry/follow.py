"""The greatest of some values while a vehicle is followed along the whole line.

G8, docs/theory.md. What is asked of single vehicles and of pairs may take its time: positions close
together, and closer where a value is greatest.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.line import Line

__all__ = ["Greatest", "greatest", "stops_rad"]

Floats = NDArray[np.float64]

_PARTS = 8  # between two axles on knots; and again, and again, around the greatest
_FINER = 3


class Greatest(NamedTuple):
    """The greatest of each of k values, and where the first axle stands then, shape (k,)."""

    values: Floats
    place_rad: Floats


def stops_rad(line: Line, ahead_rad: Floats, from_rad: float, to_rad: float) -> Floats:
    """Where to look at one vehicle: its axles on knots, and steps between, rising.

    Parameters
    ----------
    line
        The track.
    ahead_rad
        How far the vehicle's axles are ahead of its first one, shape (axles,).
    from_rad, to_rad
        Where the first axle may stand.
    """
    knots = np.unique(line.knots_rad[:, None] - ahead_rad)
    inside = knots[(knots > from_rad) & (knots < to_rad)]
    knots = np.concatenate([[from_rad], inside, [to_rad]])
    parts = np.linspace(0.0, 1.0, _PARTS, endpoint=False)
    steps = knots[:-1, None] + parts * np.diff(knots)[:, None]
    return np.append(steps.ravel(), knots[-1])


def greatest(values: Callable[[Floats], Floats], stops: Floats) -> Greatest:
    """The greatest of each value over all positions.

    Parameters
    ----------
    values
        Of positions, shape (p,), the values there, shape (k, p).
    stops
        Positions to start from, rising.
    """
    found = values(stops)
    rows = np.arange(len(found))
    best = found.argmax(axis=1)
    most, place = found[rows, best], stops[best]
    low, high = stops[np.maximum(best - 1, 0)], stops[np.minimum(best + 1, len(stops) - 1)]
    for _ in range(_FINER):
        share = np.linspace(0.0, 1.0, _PARTS + 1)
        steps = low[:, None] + share * (high - low)[:, None]
        found = values(steps.ravel()).reshape(len(rows), len(rows), -1)[rows, rows]
        best = found.argmax(axis=1)
        closer = found[rows, best] > most
        most = np.where(closer, found[rows, best], most)
        place = np.where(closer, steps[rows, best], place)
        low = steps[rows, np.maximum(best - 1, 0)]
        high = steps[rows, np.minimum(best + 1, _PARTS)]
    return Greatest(most, place)
