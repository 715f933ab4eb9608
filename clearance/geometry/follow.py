"""The greatest of some values while a vehicle is followed along the whole line.

G8, docs/theory.md. What is asked of single vehicles and of pairs may take its time: positions close
together, and closer where a value is greatest.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.line import Line
from clearance.geometry.rig import Rig, settle

__all__ = ["Greatest", "greatest", "stops_rad"]

Floats = NDArray[np.float64]

_PARTS = 8  # between two axles on knots; and again, and again, around the greatest
_FINER = 3


class Greatest(NamedTuple):
    """The greatest of each of k values, and where the first axle stands then, shape (k,)."""

    values: Floats
    place_rad: Floats


def stops_rad(
    line: Line, rig: Rig, vehicle: int, ahead_rad: Floats, from_rad: float, to_rad: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Where to look at one vehicle: each axle on each knot, where the first one may stand, and
    steps between; rising.

    There, and nowhere else, what is followed can bend: so between two of them it is greatest where
    it turns.

    Parameters
    ----------
    line, rig, vehicle
        The track, n vehicles, and which of them.
    ahead_rad
        How far the axles of each are ahead of its first one on the nearest regular helix, shape
        (axles, n).
    from_rad, to_rad
        Where the first axle may stand.

    Returns
    -------
    tuple
        Where the first axle stands; and whether that is no step between.
    """
    axles, knots = rig.chassis.axles, len(line.knots_rad)
    which, axle = np.full(axles * knots, vehicle), np.repeat(np.arange(axles), knots)
    # Near a straight lead a vehicle stands in another way than on the helix.
    pose = settle(line, rig, which, axle, np.tile(line.knots_rad, axles), ahead_rad)
    first = np.unique(pose.axle_rad[0])
    events = np.concatenate([[from_rad], first[(first > from_rad) & (first < to_rad)], [to_rad]])
    parts = np.linspace(0.0, 1.0, _PARTS, endpoint=False)
    steps = events[:-1, None] + parts * np.diff(events)[:, None]
    at_event = np.zeros(steps.size + 1, bool)
    at_event[::_PARTS] = True
    return np.append(steps.ravel(), events[-1]), at_event


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
