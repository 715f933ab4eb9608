"""What each car of a fleet asks of a track: headroom, and the edges of the band that it sweeps.

G4 and G5, docs/theory.md. On a regular helix that is one pose a car; a line as built is driven.
Blocks are gathered into cars; the checks only compare.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Obstacle, Track
from clearance.geometry.boxes import Boxes
from clearance.geometry.overhead import required_headroom_mm
from clearance.geometry.passage import Passage, pass_through
from clearance.geometry.sides import Reach, side_reach
from clearance.geometry.swept import Band, band, beside, stance_of
from clearance.geometry.undersides import Undersides
from clearance.judge.allowance import margins_of
from clearance.judge.drive import Drive, drives
from clearance.judge.fleet import Fleet, Shape
from clearance.judge.structure import Structure, screw_of

__all__ = ["Edge", "Swept", "passages", "sweep"]

Floats = NDArray[np.float64]


class Edge(NamedTuple):
    """One edge of the band that each car sweeps, both ways round, shape (2, n). [mm]

    ``x_mm`` is the part of the car that makes it, from the middle of its frame forwards; ``lever``
    how far that part shifts for each millimetre that an axle does; ``place_rad`` where on a line as
    built it does so, nan where every place is like every other.
    """

    radius_mm: Floats
    x_mm: Floats
    lever: Floats
    place_rad: Floats


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


def passages(
    structure: Structure,
    track: Track,
    fleet: Fleet,
    widths_mm: Sequence[float] = (),
    shape: Shape | None = None,
    abreast: Obstacle | None = None,
) -> tuple[Passage, Passage]:
    """Every block on a track, both ways round; what is the same turned round is worked out once.

    Parameters
    ----------
    structure, track
        Where.
    fleet
        The cars.
    widths_mm
        The widths of the undersides to ask for, on a regular helix only. [mm]
    shape
        The blocks; None: the fleet's own.
    abreast
        What stands beside the track: only what passes it counts. None: the whole line.
    """
    shape = shape or fleet.shape
    if structure.is_regular and not fleet.plans:
        return _plain_passages(structure, track, fleet, widths_mm, shape)
    count = len(shape.car)
    required = np.full((2, len(widths_mm), count), np.nan)
    reach = np.full((2, len(Band._fields), count), np.nan)
    for drive in drives(structure, track, fleet, shape):
        for frame, number, boxes in drive.loads:
            if structure.is_regular:
                headrooms, even = _on_screw(drive, frame, boxes, widths_mm)
                edges = Band(*even, *np.full((2, len(number)), np.nan))
            else:
                headrooms = np.full((len(widths_mm), len(number)), np.nan)
                strip = structure.strip(abreast, track) if abreast else None
                edges = _edges(drive, frame, boxes, strip)
            for way in {drive.way, 1}:
                required[way][:, number] = headrooms
                reach[way][:, number] = edges
    uphill, downhill = (
        Passage(required[way], Reach(*reach[way, :4]), reach[way, 4:]) for way in (0, 1)
    )
    return uphill, downhill


def _edges(drive: Drive, frame: int, boxes: Boxes, strip: Undersides | None) -> Band:
    where = drive.line, drive.rig, drive.foot, frame, boxes
    if strip is None:
        return band(*where)
    return beside(*where, strip.take(np.zeros(len(boxes.vehicle), np.intp)))


def _on_screw(
    drive: Drive, frame: int, boxes: Boxes, widths_mm: Sequence[float]
) -> tuple[Floats, Reach]:
    """What blocks on a frame ask of a regular helix: headroom for each width, and their band."""
    stance, x_foot, rise = stance_of(drive.line, drive.foot.pose.take(boxes.vehicle), frame)
    x_rear, x_front = boxes.x_rear_mm - x_foot, boxes.x_front_mm - x_foot
    left, right, bottom, top = boxes[3:]
    headrooms = [
        required_headroom_mm(stance, x_rear, x_front, left, right, top, width) + rise
        for width in widths_mm
    ]
    reach = side_reach(stance, x_rear, x_front, left, right, bottom, top)
    x_least, x_greatest = reach.x_least_mm + x_foot, reach.x_greatest_mm + x_foot
    return (
        np.array(headrooms).reshape(len(widths_mm), len(boxes.vehicle)),
        reach._replace(x_least_mm=x_least, x_greatest_mm=x_greatest),
    )


def _plain_passages(
    structure: Structure, track: Track, fleet: Fleet, widths_mm: Sequence[float], shape: Shape
) -> tuple[Passage, Passage]:
    """Cars without frames on a regular helix: quick, whatever their number."""
    screw = screw_of(structure.helix, track)
    whose, blocks = shape.car, shape.blocks
    wheelbase, truck = fleet.figure("wheelbase_mm"), fleet.figure("truck_wheelbase_mm")
    if structure.helix.climbs == "clockwise":
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
    bands = [figures.copy() for figures in uphill.reach]
    for figures, other in zip(bands, turned.reach, strict=True):
        figures[differing] = other
    return uphill, Passage(required, Reach(*bands))


def sweep(
    structure: Structure,
    track: Track,
    fleet: Fleet,
    widths_mm: Sequence[float] = (),
    abreast: Obstacle | None = None,
) -> Swept:
    """What each car of a fleet asks of a track: its blocks' demands, the greatest of them.

    ``abreast`` is as for `passages`; of the cars only what is at its height counts, and one that
    has nothing there keeps infinitely clear of it.
    """
    play_mm = margins_of(structure.helix).play_mm
    shape = fleet.shape.with_ends() if play_mm else fleet.shape
    level = np.ones(len(shape.car), bool)
    if abreast:
        shape, level = shape.between(abreast.bottom_mm, abreast.top_mm)
    required, edges = [], []
    for way, passage in enumerate(passages(structure, track, fleet, widths_mm, shape, abreast)):
        near, x_near, far, x_far = passage.reach
        nowhere = np.full((2, len(near)), np.nan)
        at_near, at_far = nowhere if passage.place_rad is None else passage.place_rad
        near, far = np.where(level, near, np.inf), np.where(level, far, -np.inf)
        required.append(np.maximum.reduceat(passage.required_mm, shape.start, axis=1))
        inner, outer = _extreme(-near, shape), _extreme(far, shape)
        # Turned round, what lay before the middle lies behind it.
        near_lever, far_lever = fleet.lever(shape, (-1) ** way * np.array([x_near, x_far]))
        loose_inner, loose_outer = inner, outer
        if play_mm:
            loose_inner = _extreme(play_mm * near_lever - near, shape)
            loose_outer = _extreme(play_mm * far_lever + far, shape)
        insides = np.array([near, x_near, near_lever, at_near])
        outsides = np.array([far, x_far, far_lever, at_far])
        edges.append(
            [
                insides[:, inner],
                outsides[:, outer],
                insides[:, loose_inner],
                outsides[:, loose_outer],
            ]
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
