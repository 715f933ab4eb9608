"""How much room is left overhead? The slow drive under beams, obstacles and the deck (G4).

Part of `tests.geometry.brute_force`, which says what it is for. The highest point of a box under a
beam is a corner of the box, or a place where one of its twelve edges passes below a side of the
beam. Under the deck, slide any point of the body along its face towards or away from the axis: the
deck stays level, so one of the two ways it comes no lower, and it ends on an edge.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np

from tests.geometry.brute_drive import (
    CELLS,
    EDGES,
    TOLERANCE_MM,
    Drive,
    Fall,
    drive_of,
    least,
    nearest_to_grade,
    pick,
)
from tests.geometry.brute_line import FULL_TURN, Array, BruteLine, BruteTrack, BruteWay, Ints
from tests.geometry.brute_stock import BruteCar, BruteVehicle, Facing

__all__ = [
    "BruteDeck",
    "BruteObstacle",
    "OverheadGap",
    "Strip",
    "Strips",
    "overhead_gap_mm",
    "overhead_gaps_mm",
    "strip_of",
]


@dataclass(frozen=True)
class BruteDeck:
    """What hangs under the tier above. A measured headroom, by whole station, replaces a beam's.

    `reach_mm` is how far from the helix axis the tier reaches; it says how much of a straight lead
    at the foot lies beneath it, and is not asked elsewhere. `edge_mm` is how near to the axis a
    straight lead at the head lies over the tier beneath: as far as that has not curved away there.
    """

    depth_mm: float
    beam_depth_mm: float = 0.0
    beam_width_mm: float = 0.0
    beam_headroom_mm: Mapping[int, float] = field(default_factory=dict)
    reach_mm: float = 0.0
    edge_mm: float = math.inf


@dataclass(frozen=True)
class BruteObstacle:
    """A level underside of the given width along the track, `headroom_mm` over railhead there;
    `left_mm` and `right_mm` beside the centreline, looking uphill, from `bottom_mm` to `top_mm`.

    It stands on a station, which goes on along a straight lead; or, where `lead` says which, at
    `distance_mm` along one.
    """

    station: float
    headroom_mm: float = math.inf
    width_mm: float = 0.0
    lead: Literal["", "foot", "head"] = ""
    distance_mm: float = 0.0
    left_mm: float = math.inf
    right_mm: float = math.inf
    bottom_mm: float = 0.0
    top_mm: float = math.inf

    @classmethod
    def on_lead(
        cls,
        lead: Literal["foot", "head"],
        distance_mm: float,
        headroom_mm: float = math.inf,
        width_mm: float = 0.0,
        left_mm: float = math.inf,
        right_mm: float = math.inf,
        bottom_mm: float = 0.0,
        top_mm: float = math.inf,
    ) -> "BruteObstacle":
        """An obstacle on a straight lead, by its distance from the curve's end."""
        sides = (left_mm, right_mm, bottom_mm, top_mm)
        return cls(math.nan, headroom_mm, width_mm, lead, distance_mm, *sides)


class OverheadGap(NamedTuple):
    """The least gap under one obstacle, and where; inf and nan where nothing hangs overhead."""

    gap_mm: float
    station: float
    obstacle: str  # "beam", "headroom", "obstacle" or "deck"


class Strip(NamedTuple):
    """What lies within half a width of a line across the track: of the radial line at `theta`,
    moved `along_mm` uphill where it is square to a straight lead. `t` is its place."""

    theta: float
    along_mm: float
    half_mm: float
    t: float
    on_lead: bool


def strip_of(way: BruteWay, it: BruteObstacle) -> Strip:
    """Which strip of the track an obstacle takes up."""
    t = way.line.theta(it.station)
    if it.lead:
        distance = it.distance_mm / way.R
        t = way.t0 - distance if it.lead == "foot" else way.t1 + distance
        if not math.isfinite(t):
            raise ValueError(f"there is no straight lead at the {it.lead}")
    junction = min(max(t, way.t0), way.t1)
    return Strip(junction, (t - junction) * way.R, it.width_mm / 2, t, t != junction)


class Strips(NamedTuple):
    """Many strips at once, each field (n,)."""

    theta: Array
    along_mm: Array
    half_mm: Array
    t: Array
    on_lead: Array

    @classmethod
    def of(cls, strips: Sequence[Strip]) -> "Strips":
        """Put together."""
        return cls(*np.array(strips, dtype=float).reshape(-1, 5).T)

    def some(self, which: Ints) -> "Strips":
        """Those of them."""
        return Strips(*(field[which] for field in self))

    def seen(self, way: BruteWay, points: Array) -> tuple[Array, Array]:
        """How far out points (n, k, 3) are, and how far along the track from the middle. [mm]"""
        theta = self.theta[:, None]
        return way.out(points, theta), way.along(points, theta) - self.along_mm[:, None]

    def beneath(self, drive: Drive, block: Ints) -> tuple[Array, Array]:
        """From which to which position a block may be within each; perhaps a little more."""
        # A block is within only while its own angles reach the strip's.
        lead = self.on_lead.astype(bool)
        middle, along = np.where(lead, self.t, self.theta), np.where(lead, 0.0, self.along_mm)
        sides = [
            np.arcsin(np.clip((along + sign * self.half_mm) / radius, -1.0, 1.0))
            for sign in (-1, 1)
            for radius in (drive.inmost_mm, drive.outmost_mm)
        ]
        return drive.beneath(block, middle + np.min(sides, 0), middle + np.max(sides, 0), lead)


class _Level(NamedTuple):
    kind: str
    station: float
    elevation_mm: float
    strip: Strip


def overhead_gaps_mm(
    line: BruteLine,
    track: BruteTrack,
    car: BruteCar | BruteVehicle,
    deck: BruteDeck,
    facing: Facing,
    obstacles: Iterable[BruteObstacle] = (),
    fineness: int = 1,
) -> list[OverheadGap]:
    """The least gap under each beam, each measured obstacle, and the deck (G4), in this order.

    `fineness` 2 halves the steps and the tolerance, and so on. What the car never comes under has
    a gap of inf.
    """
    drive = drive_of(line, track, car, facing)
    found = _under_level(drive, _level_obstacles(drive.way, deck, obstacles), fineness)
    first, last = _decked(drive.way, deck)
    if last >= first:
        found.append(_under_deck(drive, deck, first, last, fineness))
    return found


def overhead_gap_mm(
    line: BruteLine,
    track: BruteTrack,
    car: BruteCar | BruteVehicle,
    deck: BruteDeck,
    facing: Facing,
    obstacles: Iterable[BruteObstacle] = (),
    fineness: int = 1,
) -> OverheadGap:
    """The least of `overhead_gaps_mm`: gap [mm], station, and what hangs there (G4)."""
    found = overhead_gaps_mm(line, track, car, deck, facing, obstacles, fineness)
    return min(found, default=OverheadGap(math.inf, math.nan, ""))


def _decked(way: BruteWay, deck: BruteDeck) -> tuple[float, float]:
    """From which to which angle the tier above hangs over the line. [rad]"""
    over_lead = 0.0
    if way.line.foot and deck.reach_mm > way.R:
        over_lead = math.acos(way.R / deck.reach_mm)
    return way.first - over_lead, way.last - FULL_TURN


def _level_obstacles(
    way: BruteWay, deck: BruteDeck, obstacles: Iterable[BruteObstacle]
) -> list[_Level]:
    def z(t: float) -> float:
        return float(way.z(np.array(t)))

    half = deck.beam_width_mm / 2
    first, last = (way.station(t) for t in _decked(way, deck))
    hair = 1e-9  # a station that the sums above miss by rounding
    levels = []
    beams = range(math.ceil(first - hair), math.floor(last + hair) + 1)
    for k in beams:
        theta = way.line.theta(k)
        underside = z(theta + FULL_TURN) - deck.depth_mm - deck.beam_depth_mm
        if k in deck.beam_headroom_mm:
            underside = z(theta) + deck.beam_headroom_mm[k]
        levels.append(_Level("beam", k, underside, Strip(theta, 0.0, half, theta, False)))
    for k, underside, strip in _under_the_head(way, deck):
        levels.append(_Level("beam", k, underside, strip))
    for k, headroom in deck.beam_headroom_mm.items():
        if k not in beams:
            strip = strip_of(way, BruteObstacle(k, headroom, deck.beam_width_mm))
            levels.append(_Level("headroom", k, z(strip.t) + headroom, strip))
    for it in obstacles:
        strip = strip_of(way, it)
        station = way.station(strip.t)
        levels.append(_Level("obstacle", station, z(strip.t) + it.headroom_mm, strip))
    return levels


def _under_the_head(way: BruteWay, deck: BruteDeck) -> list[tuple[float, float, Strip]]:
    """Station, elevation and strip of what a straight lead at the head has over the tier beneath:
    its beams square to it, and its deck where it comes to an end over that tier."""
    if not way.line.head or not math.isfinite(deck.edge_mm):
        return []
    begin = way.last - FULL_TURN
    furthest = math.sqrt(way.R**2 - max(deck.edge_mm, 0.0) ** 2)
    furthest = min(furthest, way.line.head.length_mm, way.R * math.sin(math.pi / 2 * 0.999))
    station_mm = way.R * FULL_TURN / way.line.brackets_per_turn
    brackets = way.line.brackets_per_turn
    found = []
    for k in range(math.floor(way.station(way.last) + 1e-9) + 1 - brackets, 10**6):
        along = (k + brackets - way.station(way.last)) * station_mm
        if along > furthest:
            break
        if k not in deck.beam_headroom_mm:
            found.append((float(k), along, deck.depth_mm + deck.beam_depth_mm, deck.beam_width_mm))
    end = way.station(begin + math.asin(furthest / way.R))
    found.append((round(end, 2), furthest, deck.depth_mm, 0.0))
    return [
        (
            station,
            float(way.z(np.array(way.last + along / way.R))) - depth,
            Strip(begin, along, width / 2, begin + math.asin(along / way.R), False),
        )
        for station, along, depth, width in found
        if begin + math.asin(along / way.R) >= way.first
    ]


def _under_level(drive: Drive, levels: list[_Level], fineness: int) -> list[OverheadGap]:
    way, blocks = drive.way, len(drive.blocks)
    pairs = np.array(
        [
            (number, block)
            for number, level in enumerate(levels)
            if math.isfinite(level.elevation_mm)
            for block in range(blocks)
        ],
        dtype=np.intp,
    ).reshape(-1, 2)
    which, block = pairs.T
    elevation = np.array([levels[number].elevation_mm for number in which])
    strips = Strips.of([levels[number].strip for number in which])
    low, high = strips.beneath(drive, block)

    def gap(places: Array, pair: Ints) -> tuple[Array, Ints]:
        corners, axles, _ = drive.boxes(places, block[pair])
        highest, point = _highest_under(way, corners, strips.some(pair))
        return elevation[pair] - highest, np.column_stack([point, axles])

    def fall(left: Array, right: Array, pair: Ints) -> Fall:
        # The body climbs as its supports do, its ends levered; meanwhile the strip slides along a
        # roof that is no steeper. A quarter to spare.
        number = block[pair]
        down, up = drive.slopes(left, right, number)
        straightening = drive.straightening(left, right, number)
        steepest = np.maximum(np.abs(down), np.abs(up))
        climb = steepest + drive.levers[number] * (up - down)
        rate = 2.5 * climb * drive.outmost_mm / way.R
        roll = math.tan(way.track.roll_rad)
        rate = rate + drive.swing(number, straightening) * (roll + steepest / way.R)
        return Fall(rate, drive.bend_of_roof(down, up, number, straightening))

    step = np.maximum(high - low, 1e-9) / (CELLS * fineness)
    runs = drive.runs(low, high, step, which, np.arange(len(which)))
    found = least(gap, runs, len(levels), fall, TOLERANCE_MM / fineness)
    return [
        OverheadGap(float(value), level.station, level.kind)
        for value, level in zip(found.value, levels, strict=True)
    ]


def _highest_under(way: BruteWay, corners: Array, strips: "Strips") -> tuple[Array, Ints]:
    """Elevation of the highest point of a box (n, 8, 3) within a strip, and which point it is: a
    corner, or an edge and a side of the strip. -inf: no point is within."""
    half = strips.half_mm[:, None]
    out, along = strips.seen(way, corners)
    z = corners[..., 2]
    heights = [np.where((np.abs(along) <= half) & (out > 0), z, -np.inf)]
    one, other = EDGES.T
    start, run = along[:, one], along[:, other] - along[:, one]
    for side in (-half, half):
        with np.errstate(divide="ignore", invalid="ignore"):
            t = (side - start) / run
        crosses = (t >= 0) & (t <= 1)  # false where the edge runs along the strip's side: nan
        t = np.where(crosses, t, 0.0)
        crosses &= out[:, one] + t * (out[:, other] - out[:, one]) > 0
        heights.append(np.where(crosses, z[:, one] + t * (z[:, other] - z[:, one]), -np.inf))
    return pick(np.concatenate(heights, axis=1), np.argmax)


# --- the deck -----------------------------------------------------------------------------------


def _under_deck(
    drive: Drive, deck: BruteDeck, first: float, last: float, fineness: int
) -> OverheadGap:
    way = drive.way
    block = np.arange(len(drive.blocks))
    low, high = drive.beneath(block, np.full(len(block), first), np.full(len(block), last), False)

    def gap(places: Array, block: Ints) -> tuple[Array, Ints]:
        corners, axles, near = drive.boxes(places, block)
        gaps, point, theta = _deck_gap(way, deck, first, last, corners, near)
        above = way.stretch(theta + FULL_TURN)
        return gaps, np.column_stack([point, above, axles])

    def fall(left: Array, right: Array, block: Ints) -> Fall:
        # A point of the body and the deck over it climb alike but for the unlike grades.
        down, up = drive.slopes(left, right, block)
        straightening = drive.straightening(left, right, block)
        from_t, to_t = left + drive.reach_low[block], right + drive.reach_high[block]
        on_lead = from_t < way.t0
        # On a straight lead the same way is a smaller angle, so that the deck climbs less.
        from_t = np.where(on_lead, way.bearing(from_t), from_t)
        down_above, up_above = way.slopes_between(from_t + FULL_TURN, to_t + FULL_TURN)
        down_above = np.where(on_lead, np.minimum(down_above, 0.0), down_above)
        up_above = np.where(on_lead, np.maximum(up_above, 0.0), up_above)
        unlike = np.maximum(up, up_above) - np.minimum(down, down_above)
        even = (unlike <= 1e-9 * np.abs(up)) & ~straightening
        bend = drive.bend_of_roof(down, up, block, straightening | on_lead)
        rate = 2 * drive.levers[block] * unlike
        roll = math.tan(way.track.roll_rad)
        steepest = np.maximum(np.abs(down), np.abs(up)) / way.R
        rate = rate + drive.swing(block, straightening) * (roll + steepest)
        return Fall(np.where(even, 0.0, rate), np.where(even, 0.0, bend))

    step = np.minimum(np.maximum(high - low, 1e-9) / CELLS, drive.coarse) / fineness
    runs = drive.runs(low, high, step, np.zeros_like(block), block)
    found = least(gap, runs, 1, fall, TOLERANCE_MM / fineness)
    if not np.isfinite(found.value[0]):
        return OverheadGap(math.inf, math.nan, "deck")
    corners, _, near = drive.boxes(found.position, found.what)
    _, _, theta = _deck_gap(way, deck, first, last, corners, near)
    return OverheadGap(float(found.value[0]), way.station(float(theta[0])), "deck")


def _deck_gap(
    way: BruteWay, deck: BruteDeck, first: float, last: float, corners: Array, near: Array
) -> tuple[Array, Ints, Array]:
    """Least gap of boxes (n, 8, 3) under the deck, at which point, and its angle."""
    edges = corners[:, EDGES]
    points = nearest_to_grade(way, edges, near, FULL_TURN, np.array([first, last]))
    theta = way.bearings(points, near)
    under = (theta >= first - 1e-10) & (theta <= last + 1e-10)
    gaps = np.where(under, way.z(theta + FULL_TURN) - deck.depth_mm - points[..., 2], np.inf)
    gap, point = pick(gaps, np.argmin)
    return gap, point, theta[np.arange(len(theta)), point]
