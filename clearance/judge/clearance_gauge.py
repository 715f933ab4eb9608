"""A rigid frame at the door: the opening that a car must go through before it may go up.

It stands on straight level track and judges a car by its cross-section: how high it is, and how
wide at which height. What a curve makes of a car it cannot judge. G5 and G7, docs/theory.md.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from catalog.car import MODEL_TOLERANCE_MM
from catalog.helix import SideDistance, Track
from clearance.judge.allowance import margins_of
from clearance.judge.check import check
from clearance.judge.findings import CheckResult
from clearance.judge.fleet import Fleet
from clearance.judge.meets import barred, meetings
from clearance.judge.structure import Structure
from clearance.judge.telltales import Telltales
from clearance.judge.verdict import NOT_MEASURED, PASSES

__all__ = ["MEET", "Band", "ClearanceGauge", "clearance_gauges"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

MEET = "meet"
"""Why a car that may go up may yet not pass some others."""

_LEAN_MM = 2.0  # how much cant may lean a car within one band
_ROUNDING_MM = 1e-9


@dataclass(frozen=True)
class Band:
    """Part of an opening, seen uphill. [mm] None: nothing stands there, or nobody said what.

    ``left_mm`` and ``right_mm`` are from the middle of the track, from ``bottom_mm`` to ``top_mm``
    over the railhead.
    """

    bottom_mm: float
    top_mm: float
    left_mm: float | None
    right_mm: float | None


@dataclass(frozen=True)
class ClearanceGauge:
    """The frame for one track, and what it does with each car, by id.

    Attributes
    ----------
    height_mm
        Of its opening over the railhead, as high as the tell-tales on level track. [mm]
    bands
        Its width at each height, upwards.
    not_said
        The sides ("left", "right") of which the helix file does not say what stands there.
    goes_through
        Cars that go through, one way round at least.
    stops
        Cars that do not, in either way round.
    one_way
        Of cars that go through one way round only: which.
    stops_needlessly
        Cars that it stops in a way round in which they would pass.
    cannot_judge
        Cars that go through and do not pass in that way round, or not past some others: the checks
        that say so.
    """

    track: str
    height_mm: float
    bands: list[Band]
    not_said: list[str]
    goes_through: list[str]
    stops: list[str]
    one_way: dict[str, str]
    stops_needlessly: list[str]
    cannot_judge: dict[str, list[str]]


def clearance_gauges(fleet: Fleet, found: Telltales) -> list[ClearanceGauge]:
    """The frame for each track that tell-tales hang over.

    Parameters
    ----------
    fleet
        The cars.
    found
        Their tell-tales.
    """
    result = found.result
    if len(result.fleet) != len(fleet):  # leave out the reference car
        result = check(result.helix, fleet, result.structure.survey)
    not_past = _not_past(result)
    return [
        _gauge(result, track, found.limit_mm[track.name], not_past[track.name])
        for track in result.helix.tracks
        if track.name in found.limit_mm
    ]


def _gauge(result: CheckResult, track: Track, height_mm: float, not_past: Mask) -> ClearanceGauge:
    structure, fleet = result.structure, result.fleet
    bands, not_said = _opening(structure, track, height_mm)
    fits = _fits(fleet, bands)
    codes = result.facing_codes(track.name) if len(fleet) else np.zeros((2, 0), np.int8)
    passes = codes == PASSES
    ids = fleet.ids
    through = fits.any(axis=0)
    cannot: dict[str, list[str]] = {}
    for car in np.flatnonzero((fits & ~passes).any(axis=0) | (through & not_past)):
        why = _why(result, track, int(car), fits[:, car])
        if not_past[car] and passes[:, car].any():
            why.append(MEET)
        cannot[ids[car]] = why
    return ClearanceGauge(
        track=track.name,
        height_mm=height_mm,
        bands=bands,
        not_said=not_said,
        goes_through=[ids[car] for car in np.flatnonzero(through)],
        stops=[ids[car] for car in np.flatnonzero(~through)],
        one_way={
            ids[car]: ("front uphill", "front downhill")[int(fits[1, car])]
            for car in np.flatnonzero(fits[0] != fits[1])
        },
        stops_needlessly=[ids[car] for car in np.flatnonzero((~fits & passes).any(axis=0))],
        cannot_judge=cannot,
    )


def _opening(structure: Structure, track: Track, height_mm: float) -> tuple[list[Band], list[str]]:
    """The opening by bands, and the sides about which nobody said anything.

    A car on a canted curve leans inwards by its height times the sine of the roll; the frame on
    level track stands upright, and is so much narrower on the inner side, wider on the outer.
    """
    helix = structure.helix
    roll = math.asin(track.cant_mm / helix.gauge_mm)
    inner_is_left = helix.climbs == "counterclockwise"
    posts: dict[bool, SideDistance] = {
        inner_is_left: helix.posts.inside_mm if track is helix.tracks[0] else "none",
        not inner_is_left: helix.posts.outside_mm if track is helix.tracks[-1] else "none",
    }
    obstacles = structure.obstacles(track)
    edges = {0.0, height_mm}
    for it in obstacles:
        if it.left_mm or it.right_mm:
            edges |= {edge for edge in (it.bottom_mm, it.top_mm) if edge and edge < height_mm}
    if roll:
        parts = math.ceil(height_mm * math.sin(roll) / _LEAN_MM)
        edges |= {float(round(height_mm * part / parts)) for part in range(parts)}
    margins = margins_of(helix, structure.survey)
    # A car that goes through is as wide as it is; how well it is usually measured is kept all the
    # same, as at the other cars' sides.
    allowance = margins.side_mm + margins.play_mm + MODEL_TOLERANCE_MM

    def half_width(is_left: bool, bottom: float, top: float) -> float | None:
        near = posts[is_left]
        distances = [near] if isinstance(near, float) else []
        distances += [
            distance
            for it in obstacles
            if (distance := it.left_mm if is_left else it.right_mm)
            and it.bottom_mm < top
            and (it.top_mm is None or it.top_mm > bottom)
        ]
        if not distances:
            return None
        lean = -top if is_left == inner_is_left else bottom
        widest = (min(distances) - allowance + lean * math.sin(roll)) / math.cos(roll)
        return max(0.0, math.floor(widest + _ROUNDING_MM))

    bands: list[Band] = []
    for bottom, top in pairwise(sorted(edges)):
        sides = half_width(True, bottom, top), half_width(False, bottom, top)
        if bands and (bands[-1].left_mm, bands[-1].right_mm) == sides:
            bottom = bands.pop().bottom_mm
        bands.append(Band(bottom, top, *sides))
    names = {True: "left", False: "right"}
    return bands, [names[side] for side in (True, False) if posts[side] is None]


def _fits(fleet: Fleet, bands: list[Band]) -> Mask:
    """Which cars go through the opening, each way round, shape (2, n).

    Turned round a car shows its left side on the right.
    """
    blocks, whose = fleet.blocks, fleet.block_car
    height = bands[-1].top_mm if bands else np.inf
    fits = np.ones((2, len(fleet)), bool)
    too_high = np.maximum(fleet.figure("height_mm"), 0.0) > height
    fits[:, too_high] = False
    for way, (left, right) in enumerate(
        ((blocks.left_mm, blocks.right_mm), (blocks.right_mm, blocks.left_mm))
    ):
        wide = blocks.top_mm > height
        for band in bands:
            beside = (blocks.top_mm > band.bottom_mm) & (blocks.bottom_mm < band.top_mm)
            for half, room in ((left, band.left_mm), (right, band.right_mm)):
                if room is not None:
                    wide |= beside & (half > room + _ROUNDING_MM)
        fits[way, whose[wide]] = False
    return fits


def _why(result: CheckResult, track: Track, car: int, fits: NDArray[np.bool_]) -> list[str]:
    """The checks that a car does not pass in a way round in which it goes through.

    What fouls or is short comes before what was not measured.
    """
    found: dict[str, int] = {}
    for column in result.on_track(track.name):
        worst = int(column.effect[fits, car].max(initial=PASSES))
        if worst != PASSES:
            found[column.check] = worst
    judged = [name for name, code in found.items() if code != NOT_MEASURED]
    return judged or list(found)


def _not_past(result: CheckResult) -> dict[str, Mask]:
    """Which cars that run on a track may there not pass some other one that runs on the next."""
    helix, fleet = result.helix, result.fleet
    found = {track.name: np.zeros(len(fleet), bool) for track in helix.tracks}
    if not len(fleet):
        return found
    runs = {
        track.name: np.flatnonzero(result.facing_codes(track.name).min(axis=0) == PASSES)
        for track in helix.tracks
    }
    for meeting in meetings(helix, fleet, result.structure.survey):
        inner, outer = meeting.inner.name, meeting.outer.name
        for one, other, _ in barred(meeting, runs[inner], runs[outer]):
            if one != other:
                found[inner][one] = found[outer][other] = True
    return found
