"""How high each car reaches over the railhead at given places of a track, both ways round.

G4, docs/theory.md, turned about: what hangs at a place is struck by every car that reaches higher
there. On straight level track that is a car's height; on a crest, in a dip, on a grade or a canted
curve it is what the geometry says of an underside that has no width.
"""

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Track
from clearance.geometry.beams import beam_gaps_mm
from clearance.geometry.line import Line
from clearance.geometry.undersides import Undersides
from clearance.judge.drive import drives
from clearance.judge.fleet import Fleet
from clearance.judge.structure import Structure
from clearance.judge.sweep import passages

__all__ = ["is_even", "required_heights_mm"]

Floats = NDArray[np.float64]

_SAME_GRADE = 1e-9  # what the sums of heights leave


def required_heights_mm(
    structure: Structure, track: Track, fleet: Fleet, places_rad: Floats
) -> Floats:
    """The least height over the railhead at which something can hang and no car meets it.

    Parameters
    ----------
    structure, track
        The line, as built where it was surveyed.
    fleet
        n cars.
    places_rad
        Where on the line, shape (k,): its places are between ``start_rad`` and ``end_rad``.

    Returns
    -------
    ndarray
        Shape (k, 2, n): row 0 front uphill, row 1 downhill. [mm] nan: the car cannot stand on this
        curve.
    """
    if structure.is_regular:
        return _on_screw(structure, track, fleet, len(places_rad))
    line = structure.line(track)
    plan = np.clip(places_rad, *line.curve_rad)
    railhead = line.height_mm(places_rad)
    # Undersides at the railhead: what a gap falls short of nothing is what stands above it.
    strips = Undersides(
        places_rad, plan, line.radius_mm * (places_rad - plan), railhead, np.zeros_like(railhead)
    )
    found = np.full((len(places_rad), 2, len(fleet)), np.nan)
    for drive in drives(structure, track, fleet):
        least = np.full((len(drive.cars), len(places_rad)), np.inf)
        unlimited = np.full(len(drive.cars), np.inf)
        for frame, _, boxes in drive.loads:
            gaps = beam_gaps_mm(
                drive.line, drive.rig, drive.foot, frame, boxes, strips, unlimited, every=True
            )
            least = np.minimum(least, gaps)
        for way in {drive.way, 1}:
            found[:, way, drive.cars] = -least.T
    return found


def is_even(line: Line, place_rad: float, within_rad: float) -> bool:
    """Whether a line climbs evenly and without cant, so far to both sides of a place.

    A car there reaches its height and little more.
    """
    ends = np.array([place_rad - within_rad, place_rad + within_rad])
    first, last = line.piece(ends)
    slopes = line.slope_mm[first : last + 1]
    grades = np.ptp(slopes) / line.radius_mm
    return bool(grades < _SAME_GRADE and not line.roll_at(np.append(ends, place_rad)).any())


def _on_screw(structure: Structure, track: Track, fleet: Fleet, count: int) -> Floats:
    """The same on a regular helix, where every place is like every other."""
    reach = np.zeros((2, 0))
    if len(fleet):
        both = passages(structure, track, fleet, (0.0,))
        start = fleet.block_start
        reach = np.array([np.maximum.reduceat(way.required_mm[0], start) for way in both])
    return np.broadcast_to(reach, (count, *reach.shape))
