"""Where a tell-tale hangs: so far before the first obstacle that a train it warns still stops.

Docs/theory.md, "Tell-tales". Lengths are measured along the rails, as the line was built.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.errors import UsageError
from catalog.helix import End, Track
from clearance.geometry.line import Line
from clearance.geometry.stopping import GRAVITY_MM_S2, stopping_distance_mm
from clearance.judge.fleet import Fleet
from clearance.judge.places import Place
from clearance.judge.structure import Structure

__all__ = [
    "USUAL",
    "Approach",
    "Driving",
    "Span",
    "ahead_mm",
    "approach",
    "approach_from",
    "spans",
    "walk_mm",
    "walk_rad",
]

Floats = NDArray[np.float64]


class Driving(NamedTuple):
    """How trains come up to a tell-tale. Common practice, no source.

    A brisk walk behind the train, a driver who looks up, and what wheels hold without slipping,
    about a fifth of gravity: enough on any grade that a helix may have.
    """

    speed_mm_s: float = 350.0
    deceleration_mm_s2: float = 2000.0
    reaction_s: float = 1.5


USUAL = Driving()
"""How trains come up where nobody says otherwise."""


class Span(NamedTuple):
    """From where to where something hangs over a track.

    ``number`` is that of the underside among `Structure.hanging`; -1: the deck.
    """

    number: int
    place: Place
    from_rad: float
    to_rad: float


class Approach(NamedTuple):
    """Where the cords hang before what they guard. [mm]

    Attributes
    ----------
    place_rad
        Where on the line.
    before_mm
        Along the rails to the first obstacle beyond them.
    stopping_mm, ahead_mm
        What a train runs on before it stands; how far what is stopped reaches ahead of the part
        that meets the cords.
    first
        That obstacle.
    """

    place_rad: float
    before_mm: float
    stopping_mm: float
    ahead_mm: float
    first: Place


def walk_mm(line: Line, place_rad: float) -> float:
    """How far along the rails a place lies from the first known one; uphill positive. [mm]

    Beyond the ends of a line its last grades go on.
    """
    per_rad, along = _lengths(line)
    piece = int(np.searchsorted(line.knots_rad[1:-1], place_rad, side="right"))
    return float(along[piece] + per_rad[piece] * (place_rad - line.knots_rad[piece]))


def walk_rad(line: Line, from_rad: float, by_mm: float) -> float:
    """The place that lies so far along the rails from another one; uphill positive."""
    per_rad, along = _lengths(line)
    target = walk_mm(line, from_rad) + by_mm
    piece = int(np.searchsorted(along[1:-1], target, side="right"))
    return float(line.knots_rad[piece] + (target - along[piece]) / per_rad[piece])


def _lengths(line: Line) -> tuple[Floats, Floats]:
    """Of each straight piece its length for a radian, and of each knot how far along it lies."""
    per_rad = np.hypot(line.radius_mm, line.slope_mm)
    return per_rad, np.concatenate([[0.0], np.cumsum(per_rad * np.diff(line.knots_rad))])


def spans(structure: Structure, track: Track) -> list[Span]:
    """All that hangs over a track, each bracket's beam by itself, the deck as one; uphill.

    On a regular helix the deck is left out: beams hang lower wherever it does.
    """
    line = structure.line(track)
    found = []
    for number, underside in enumerate(structure.hanging(track)):
        place, half = underside.place, underside.width_mm / 2
        for station in place.stations:
            is_placed = place.last_station is None and not structure.is_regular
            middle = underside.place_rad if is_placed else station * structure.step_rad
            here = place._replace(station=station, last_station=None)
            edges = (walk_rad(line, middle, side) for side in (-half, half))
            found.append(Span(number, here, *edges))
    deck = None if structure.is_regular else structure.deck(track)
    if deck is not None:
        first = structure.curve_stations[0] * structure.step_rad
        start = deck.start_rad
        if start < first:  # over a straight lead a plan angle is not a place
            start = first - math.tan(first - start)
        station = start / structure.step_rad
        found.append(Span(-1, Place(station, "deck", origin="as designed"), start, deck.end_rad))
    return sorted(found, key=lambda span: span.from_rad)


def ahead_mm(fleet: Fleet, way: int, at: End) -> Floats:
    """How far each car reaches ahead of its highest part, as it comes up to an end. [mm]

    Parameters
    ----------
    fleet
        n cars.
    way
        0: front uphill; 1: front downhill.
    at
        Where the cords are; at the foot trains come up, at the head they come down.

    Returns
    -------
    ndarray
        Shape (n,). [mm]
    """
    table = fleet.table
    ahead = np.zeros(len(fleet))
    whose = np.asarray(table.block_car, np.intp)
    if not len(whose):
        return ahead
    top = table.block_figures["top_mm"]
    tallest = np.zeros(len(fleet))
    np.maximum.at(tallest, whose, top)
    highest = np.flatnonzero(top >= tallest[whose])
    reach = table.block_figures["from_mm"]
    if (way == 0) != (at == "foot"):  # it comes rear first
        reach = fleet.figure("length_mm")[whose] - table.block_figures["to_mm"]
    ahead[whose[highest]] = np.inf
    np.minimum.at(ahead, whose[highest], reach[highest])
    return np.maximum(ahead, 0.0)


def approach(
    structure: Structure,
    track: Track,
    guarded: list[Span],
    at: End,
    driving: Driving,
    practice_mm: float,
    ahead_mm: float = 0.0,
) -> Approach:
    """Place cords before what they guard.

    Parameters
    ----------
    structure, track
        Where.
    guarded
        What they guard; the first of it in a train's direction counts, however high it hangs: what
        the cords have not stopped yet may be of any height.
    at
        From which end trains come.
    driving
        How they come.
    practice_mm
        What full-size practice keeps, at the models' scale. [mm]
    ahead_mm
        See `Approach`. [mm]

    Raises
    ------
    UsageError
        The braking asked for does not hold a train on the grade.
    """
    line = structure.line(track)
    sign = -1 if at == "foot" else 1  # the way from the obstacle to the cords
    first = min(guarded, key=lambda span: span.from_rad if at == "foot" else -span.to_rad)
    edge = first.from_rad if at == "foot" else first.to_rad
    place, before, stopping = edge, 0.0, 0.0
    while True:
        grade = _worst_grade(line, min(place, edge), max(place, edge), at)
        stopping = float(
            stopping_distance_mm(
                driving.speed_mm_s, driving.deceleration_mm_s2, grade, driving.reaction_s
            )
        )
        if not math.isfinite(stopping):
            raise UsageError(
                f"a deceleration of {driving.deceleration_mm_s2 / 1000:g} m/s2 does not hold a "
                f"train on the {100 * abs(grade):.1f} % of track {track.name!r} downhill; "
                f"give more than {GRAVITY_MM_S2 / 1000 * abs(grade):.2f} m/s2"
            )
        before = float(np.ceil(max(stopping + ahead_mm, practice_mm)))
        further = walk_rad(line, edge, sign * before)
        # Where the way grew longer it may take in a worse grade.
        if abs(further - place) <= 1e-12 * max(1.0, abs(place)):
            break
        place = further
    return Approach(place, before, stopping, ahead_mm, first.place)


def approach_from(
    structure: Structure,
    track: Track,
    guarded: list[Span],
    at: End,
    driving: Driving,
    practice_mm: float,
    place_rad: float,
    ahead_mm: float = 0.0,
) -> Approach | None:
    """The same for cords that hang at a given place; None: there is no room to stop before it.

    Parameters
    ----------
    structure, track, guarded, at, driving, practice_mm, ahead_mm
        As of `approach`.
    place_rad
        Where on the line.
    """
    line = structure.line(track)
    first = min(guarded, key=lambda span: span.from_rad if at == "foot" else -span.to_rad)
    edge = first.from_rad if at == "foot" else first.to_rad
    before = walk_mm(line, edge) - walk_mm(line, place_rad)
    before = before if at == "foot" else -before
    if before <= 0:
        return None
    grade = _worst_grade(line, min(place_rad, edge), max(place_rad, edge), at)
    stopping = float(
        stopping_distance_mm(
            driving.speed_mm_s, driving.deceleration_mm_s2, grade, driving.reaction_s
        )
    )
    if before < max(stopping + ahead_mm, practice_mm):
        return None
    return Approach(place_rad, float(np.floor(before)), stopping, ahead_mm, first.place)


def _worst_grade(line: Line, low_rad: float, high_rad: float, at: End) -> float:
    """The grade of the way to the obstacle on which a train stops last, in its direction."""
    inner = line.knots_rad[1:-1]
    piece = slice(
        int(np.searchsorted(inner, low_rad, side="right")),
        int(np.searchsorted(inner, high_rad, side="left")) + 1,
    )
    slopes = line.slope_mm[piece] / line.radius_mm
    if not len(slopes):  # from a knot to itself
        slopes = line.slope_mm[piece.start : piece.start + 1] / line.radius_mm
    return float(slopes.min() if at == "foot" else -slopes.max())
