"""What each car of a fleet asks of a track: headroom, and the edges of the band that it sweeps.

G4 and G5, docs/theory.md. Here a car is turned round and a clockwise helix is mirrored, and blocks
are gathered into cars; the checks only compare.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix, Track
from clearance.geometry.line import Screw
from clearance.geometry.passage import Passage, pass_through
from clearance.judge.allowance import margins_of, play_at_mm
from clearance.judge.fleet import Fleet, Shape

__all__ = ["Edge", "Swept", "passages", "screw_of", "sweep"]

Floats = NDArray[np.float64]


class Edge(NamedTuple):
    """One edge of the band that each car sweeps, both ways round, shape (2, n). [mm]

    ``x_mm`` is the part of the car that makes it, from the middle of the wheelbase forwards.
    """

    radius_mm: Floats
    x_mm: Floats


class Swept(NamedTuple):
    """What each car asks of a track, blocks gathered into cars. nan: it cannot stand there. [mm]

    Attributes
    ----------
    required_mm
        Headroom for each width of obstacle, shape (widths, 2, n).
    inner, outer
        The edges of the band.
    inner_with_play, outer_with_play
        The same where lateral play is reckoned in: the place with the least to spare.
    """

    required_mm: Floats
    inner: Edge
    outer: Edge
    inner_with_play: Edge
    outer_with_play: Edge


def screw_of(helix: Helix, track: Track) -> Screw:
    """The line of one track of a regular helix."""
    return Screw(track.radius_mm, helix.rise_per_turn_mm, math.asin(track.cant_mm / helix.gauge_mm))


def passages(
    helix: Helix,
    track: Track,
    fleet: Fleet,
    widths_mm: Sequence[float] = (),
    shape: Shape | None = None,
) -> tuple[Passage, Passage]:
    """Every block on a track, both ways round; what is the same turned round is worked out once.

    Parameters
    ----------
    helix, track
        Where.
    fleet
        The cars.
    widths_mm
        The widths of the undersides to ask for. [mm]
    shape
        The blocks; None: the fleet's own.
    """
    screw = screw_of(helix, track)
    whose, _, blocks = shape or fleet.shape
    wheelbase, truck = fleet.figure("wheelbase_mm"), fleet.figure("truck_wheelbase_mm")
    if helix.climbs == "clockwise":
        # Seen in a mirror a clockwise helix climbs counterclockwise, and left is right.
        blocks = blocks.mirrored()
    uphill = pass_through(screw, wheelbase, truck, whose, blocks, widths_mm)
    differing = np.flatnonzero(fleet.lopsided[whose])
    if not len(differing):
        return uphill, uphill
    around = blocks.take(differing).turned()
    turned = pass_through(screw, wheelbase, truck, whose[differing], around, widths_mm)
    required = uphill.required_mm.copy()
    required[:, differing] = turned.required_mm
    bands = [band.copy() for band in uphill.reach]
    for band, other in zip(bands, turned.reach, strict=True):
        band[differing] = other
    return uphill, Passage(required, type(uphill.reach)(*bands))


def sweep(helix: Helix, track: Track, fleet: Fleet, widths_mm: Sequence[float] = ()) -> Swept:
    """What each car of a fleet asks of a track: its blocks' demands, the greatest of them."""
    play_mm = margins_of(helix).play_mm
    shape = fleet.shape.with_ends() if play_mm else fleet.shape
    wheelbase = fleet.figure("wheelbase_mm")[shape.car]
    required, edges = [], []
    for passage in passages(helix, track, fleet, widths_mm, shape):
        near, x_near, far, x_far = passage.reach
        required.append(np.maximum.reduceat(passage.required_mm, shape.start, axis=1))
        inner, outer = _extreme(-near, shape), _extreme(far, shape)
        loose_inner, loose_outer = inner, outer
        if play_mm:
            loose_inner = _extreme(play_at_mm(play_mm, x_near, wheelbase) - near, shape)
            loose_outer = _extreme(play_at_mm(play_mm, x_far, wheelbase) + far, shape)
        edges.append(
            (
                (near[inner], x_near[inner]),
                (far[outer], x_far[outer]),
                (near[loose_inner], x_near[loose_inner]),
                (far[loose_outer], x_far[loose_outer]),
            )
        )
    # From way round, edge, figure, car to edge, figure, way round, car.
    figures = np.moveaxis(np.array(edges), 0, 2)
    return Swept(np.stack(required, axis=1), *(Edge(*figure) for figure in figures))


def _extreme(figures: Floats, shape: Shape) -> NDArray[np.intp]:
    """The block of each car where `figures` is greatest, shape (n,); nan comes before all."""
    if len(shape.car) == len(shape.start):
        return shape.start
    most = np.maximum.reduceat(figures, shape.start)[shape.car]
    best = np.flatnonzero((figures == most) | np.isnan(most))
    first = np.diff(shape.car[best], prepend=-1) > 0
    return best[first]
