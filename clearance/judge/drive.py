"""Cars driven over a line as built: the geometry is asked gear by gear, frame by frame, both ways.

G4 and G5, docs/theory.md. Here a car is turned round and a clockwise helix is mirrored; the
geometry only ever sees a car that goes uphill, front first, counterclockwise.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Track
from clearance.geometry.beams import beam_gaps_mm
from clearance.geometry.boxes import Boxes, Footing, footing
from clearance.geometry.line import Line
from clearance.geometry.profile import ceiling_gaps_mm
from clearance.geometry.ridges import upper_ridges
from clearance.geometry.rig import Rig
from clearance.judge.fleet import Fleet, Shape
from clearance.judge.structure import Structure, Underside

__all__ = [
    "Drive",
    "Overhead",
    "deck_gaps_mm",
    "deck_margins_mm",
    "drives",
    "least_of_each",
    "overhead_gaps",
]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]


class Drive(NamedTuple):
    """Cars of one gear, one way round, on one track.

    Attributes
    ----------
    way
        0: front uphill; 1: front downhill.
    cars
        Their numbers in the fleet, shape (c,).
    line, rig, foot
        The track; the running gear as it goes uphill; how it stands on the nearest regular helix.
    loads
        For each frame that carries anything: its number, which blocks of the shape, and these.
    """

    way: int
    cars: Indices
    line: Line
    rig: Rig
    foot: Footing
    loads: list[tuple[int, Indices, Boxes]]


def drives(
    structure: Structure, track: Track, fleet: Fleet, shape: Shape | None = None
) -> Iterator[Drive]:
    """Every gear of a fleet on a track; what is the same turned round comes once, uphill.

    Parameters
    ----------
    structure, track
        Where.
    fleet
        The cars.
    shape
        Their blocks; None: the fleet's own.
    """
    line = structure.line(track)
    shape = fleet.shape if shape is None else shape
    mirrored = structure.helix.climbs == "clockwise"
    for gear in fleet.gears:
        for way in (0, 1):
            chosen = fleet.lopsided[gear.cars] if way else np.ones(len(gear.cars), bool)
            if not chosen.any():
                continue
            cars = gear.cars[chosen]
            rig = gear.rig.take(np.flatnonzero(chosen))
            if way:
                rig = rig.turned()
            loads = _loads(shape, cars, mirrored=mirrored, turned=bool(way))
            foot = footing(line, rig, [(frame, boxes) for frame, _, boxes in loads])
            yield Drive(way, cars, line, rig, foot, loads)


def _loads(
    shape: Shape, cars: Indices, *, mirrored: bool, turned: bool
) -> list[tuple[int, Indices, Boxes]]:
    number = np.flatnonzero(np.isin(shape.car, cars))
    blocks = shape.blocks.take(number)
    if mirrored:
        # Seen in a mirror a clockwise helix climbs counterclockwise, and left is right.
        blocks = blocks.mirrored()
    if turned:
        blocks = blocks.turned()
    boxes = Boxes(np.searchsorted(cars, shape.car[number]), *blocks)
    frame = shape.frame[number]
    return [
        (int(one), number[frame == one], boxes.take(np.flatnonzero(frame == one)))
        for one in np.unique(frame)
    ]


class Overhead(NamedTuple):
    """What is left over each car of a fleet, both ways round.

    Attributes
    ----------
    gap_mm
        Shape (2, n). [mm] nan: the car cannot stand on this curve; inf: nothing is over it.
    underside
        Which one governs, shape (2, n); -1: the deck between them.
    deck_rad
        Where the deck governs, shape (2, n).
    each_mm
        The gap under every one, shape (k, 2, n), where it was asked for. [mm]
    """

    gap_mm: Floats
    underside: Indices
    deck_rad: Floats
    each_mm: Floats | None


def overhead_gaps(
    structure: Structure, track: Track, fleet: Fleet, *, every: bool = False
) -> Overhead:
    """The least gap over each car of a fleet on a track as built.

    Parameters
    ----------
    structure, track, fleet
        Who goes where.
    every
        True: the gap under every underside, not only the least.
    """
    undersides = structure.undersides(track)
    deck = structure.deck(track)
    count = len(undersides.place_rad)
    gap = np.full((2, len(fleet)), np.nan)
    deck_rad = np.full(gap.shape, np.nan)
    which = np.zeros(gap.shape, np.intp)
    each = np.full((count, *gap.shape), np.nan) if every else None
    for drive in drives(structure, track, fleet):
        n = len(drive.cars)
        gaps = np.full((n, count), np.inf)
        for frame, _, boxes in drive.loads:
            ceiling = gaps.min(axis=1, initial=np.inf)
            found = beam_gaps_mm(
                drive.line, drive.rig, drive.foot, frame, boxes, undersides, ceiling, every=every
            )
            gaps = np.minimum(gaps, found)
        least = np.where(drive.foot.stands, gaps.min(axis=1, initial=np.inf), np.nan)
        number = _first_uphill(gaps) if count else np.full(n, -1, np.intp)
        place = np.full(n, np.nan)
        if deck is not None:
            for frame, _, boxes in drive.loads:
                if _beams_hang_lower(structure, track, drive, frame, boxes, deck):
                    continue
                ridges = upper_ridges(boxes)
                under = ceiling_gaps_mm(
                    drive.line, drive.rig, drive.foot, frame, ridges, deck, least
                )
                nearest = least_of_each(ridges.vehicle, under.gap_mm)
                nearest = nearest[under.gap_mm[nearest] < least[ridges.vehicle[nearest]]]
                car = ridges.vehicle[nearest]
                least[car], number[car] = under.gap_mm[nearest], -1
                place[car] = under.place_rad[nearest]
        for way in {drive.way, 1}:
            gap[way, drive.cars], which[way, drive.cars] = least, number
            deck_rad[way, drive.cars] = place
            if each is not None:
                each[:, way, drive.cars] = gaps.T
    return Overhead(gap, which, deck_rad, each)


def _first_uphill(gaps_mm: Floats) -> Indices:
    """Under which the gap is least, shape (n,); of equal ones the first, not rounding's choice."""
    least = gaps_mm.min(axis=1, keepdims=True)
    return np.asarray(np.argmax(gaps_mm <= least + _EQUAL_MM, axis=1))


_EQUAL_MM = 1e-6


def least_of_each(whose: Indices, values: Floats) -> Indices:
    """Where the least value of each owner is, for owners in rising order."""
    order = np.lexsort((values, whose))
    return np.asarray(order[np.diff(whose[order], prepend=-1) > 0])


def deck_margins_mm(structure: Structure, track: Track, fleet: Fleet) -> Floats:
    """By how much more each car clears the deck between two beams than these, at the least.

    Returns
    -------
    ndarray
        Shape (n,). [mm] Below 0: the deck may govern. inf: there is none. It holds on the curve.
    """
    margins = np.full(len(fleet), np.inf)
    deck, beams = structure.deck(track), _beams(structure, track)
    if deck is None or not beams:
        return margins
    hang = _hang_mm(beams, deck)
    for drive in drives(structure, track, fleet):
        for frame, _, boxes in drive.loads:
            margin = hang - _sag_mm(structure, drive, frame, boxes) - _ARCH_MM
            np.minimum.at(margins, drive.cars[boxes.vehicle], margin)
    return margins


def deck_gaps_mm(
    structure: Structure,
    track: Track,
    fleet: Fleet,
    stretches: Sequence[tuple[float, float]],
    known_mm: Floats | None = None,
) -> Floats:
    """The least gap over each car under some stretches of the deck, both ways round.

    Parameters
    ----------
    structure, track, fleet
        Where, and n cars.
    stretches
        From where to where each is, k plan angles.
    known_mm
        Gaps of this or more need not be found, shape (k, n). [mm] None: all are.

    Returns
    -------
    ndarray
        Shape (k, 2, n). [mm] inf: it never comes beneath, or has no less than what is known.
    """
    gaps = np.full((len(stretches), 2, len(fleet)), np.inf)
    deck = structure.deck(track)
    assert deck is not None
    for drive in drives(structure, track, fleet):
        for frame, _, boxes in drive.loads:
            ridges = upper_ridges(boxes)
            where = drive.line, drive.rig, drive.foot, frame, ridges
            for number, (start, end) in enumerate(stretches):
                part = replace(deck, start_rad=start, end_rad=end)
                known = None if known_mm is None else known_mm[number][drive.cars]
                under = ceiling_gaps_mm(*where, part, known).gap_mm
                for way in {drive.way, 1}:
                    np.fmin.at(gaps[number, way], drive.cars[ridges.vehicle], under)
    return gaps


def _beams_hang_lower(
    structure: Structure, track: Track, drive: Drive, frame: int, boxes: Boxes, deck: Line
) -> bool:
    """Whether beams hang so far below the deck that it cannot govern between them."""
    beams = _beams(structure, track)
    first, last = math.ceil(deck.start_rad / structure.step_rad - 1e-9), deck.end_rad
    stations = {int(underside.place.station) for underside in beams}
    if not stations >= set(range(first, math.floor(last / structure.step_rad + 1e-9) + 1)):
        return False
    if deck.start_rad < first * structure.step_rad - 1e-9:
        return False
    sag = _sag_mm(structure, drive, frame, boxes).max(initial=0.0)
    return bool(_hang_mm(beams, deck) > sag + _ARCH_MM)


def _beams(structure: Structure, track: Track) -> list[Underside]:
    """What hangs at brackets."""
    return [
        underside
        for underside in structure.hanging(track)
        if underside.place.origin and underside.place.station == int(underside.place.station)
    ]


def _hang_mm(beams: list[Underside], deck: Line) -> float:
    """How far beams hang below the deck, the least."""
    return min(
        float(deck.height_mm(np.array(underside.plan_rad))) - underside.elevation_mm
        for underside in beams
        if underside.place_rad <= deck.end_rad
    )


def _sag_mm(structure: Structure, drive: Drive, frame: int, boxes: Boxes) -> Floats:
    """How far the gap of blocks under the deck may sag between what it is under two beams.

    From under one beam to under the next it is straight but for the bends of the line that the
    axles cross meanwhile: it cannot sag by more than they turn it.
    """
    reach = np.maximum(np.abs(boxes.x_rear_mm), np.abs(boxes.x_front_mm))
    weights = drive.foot.weights[frame]
    lever = np.abs(weights.mid[:, boxes.vehicle]) + reach * np.abs(weights.slope[:, boxes.vehicle])
    # All that the line turns within any one step of brackets.
    turns = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(drive.line.slope_mm)))])
    knots = drive.line.knots_rad[1:-1]
    beyond = np.searchsorted(knots, knots + structure.step_rad * (1 + 1e-9), side="right")
    bend = (turns[beyond] - turns[:-1]).max(initial=0.0)
    return np.asarray(2 * lever.sum(axis=0) * bend * structure.step_rad / 4)


_ARCH_MM = 1.0  # what a roof rises above its chord between two beams, at the very most
