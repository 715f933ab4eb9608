"""Random railways as somebody might have built them: surveys, leads, obstacles, articulated stock.

Each comes twice: as a club would write it down (design, profile, survey, leads, obstacles), and as
the slow drive takes it (a line, a deck and obstacles for each track), so that the way from the one
to the other is tested too.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, NamedTuple

import numpy as np

from tests.geometry.brute_force import (
    FULL_TURN,
    BruteCar,
    BruteDeck,
    BruteLead,
    BruteLine,
    BruteObstacle,
    BruteTrack,
    BruteVehicle,
    Climbs,
)
from tests.geometry.random_helix import SCALES, random_car
from tests.geometry.random_stock import random_articulated, spans_mm

__all__ = ["BruteRailway", "PlacedObstacle", "Reading", "random_railway"]


class Reading(NamedTuple):
    """A row of a survey. `track` None: it is said of all tracks; nan: not measured."""

    station: float
    track: int | None
    railhead_mm: float
    headroom_mm: float


class PlacedObstacle(NamedTuple):
    """An obstacle, and beside or over which track it is; None: every one."""

    track: int | None
    obstacle: BruteObstacle


class BruteRailway(NamedTuple):
    """A railway, its tracks from the inner to the outer, and its stock."""

    # As it is written down.
    scale: float
    gauge_mm: float
    turns: float
    rise_per_turn_mm: float
    brackets_per_turn: int
    tracks: tuple[BruteTrack, ...]
    inside_mm: float
    outside_mm: float | None  # None: nothing is said about it
    foot: BruteLead | None
    head: BruteLead | None
    profile: tuple[tuple[float, float], ...]
    survey: tuple[Reading, ...]
    obstacles: tuple[PlacedObstacle, ...]
    deck: BruteDeck  # without headrooms
    cars: tuple[BruteCar | BruteVehicle, ...]
    projections_mm: tuple[float, ...]  # of each car's coupler faces beyond its body

    # As the drive takes it, by track.
    lines: tuple[BruteLine, ...]
    decks: tuple[BruteDeck, ...]  # with the headrooms measured at whole stations
    overhead: tuple[tuple[BruteObstacle, ...], ...]  # those at decimals, then the track's obstacles


def random_railway(
    rng: np.random.Generator,
    articulated: bool | None = None,
    straight_leads: bool | None = None,
    surveyed: bool | None = None,
) -> BruteRailway:
    """A railway and two cars that can stand on it; what is not asked for comes by chance.

    `articulated`: the second car is; `straight_leads`: there is at least one; `surveyed`: every
    bracket is a little off its height.
    """
    while True:
        railway = _drawn(rng, articulated, straight_leads, surveyed)
        if railway is not None:
            return railway


def _chance(rng: np.random.Generator, wanted: bool | None, share: float) -> bool:
    drawn = bool(rng.random() < share)
    return drawn if wanted is None else wanted


def _drawn(
    rng: np.random.Generator,
    articulated: bool | None,
    straight_leads: bool | None,
    surveyed: bool | None,
) -> BruteRailway | None:
    """One draw; None where no record would take it: the tiers would touch."""
    scale, gauge = SCALES[rng.integers(len(SCALES))]
    cars: list[BruteCar | BruteVehicle] = [random_car(rng, scale)]
    cars.append(
        random_articulated(rng, scale) if _chance(rng, articulated, 0.5) else random_car(rng, scale)
    )
    R = _radius(rng, cars)
    tallest = max(float(car.corners[..., 2].max()) for car in cars)
    width = max(float(np.ptp(car.corners[..., 1])) for car in cars)
    longest = max(float(np.ptp(car.corners[..., 0])) for car in cars)

    brackets = int(rng.integers(6, 25))
    turns = float(rng.integers(brackets + 1, int(2.2 * brackets) + 2)) / brackets
    if rng.random() < 0.2:
        turns = round(rng.uniform(1.05, 2.2), 2)
    size = math.sqrt(gauge / 45)
    beam_width = size * rng.uniform(5, 60) if rng.random() < 0.75 else 0.0
    beam_depth = max(size * rng.uniform(4, 40), 0.12 * beam_width) if beam_width else 0.0
    depth = size * rng.uniform(8, 50)
    grade = rng.uniform(0.005, 0.08)
    if rng.random() < 0.75:
        needed = (tallest * rng.uniform(0.95, 1.2) + depth + beam_depth) / (FULL_TURN * R)
        grade = min(0.08, needed)
    rise = FULL_TURN * R * grade
    if rise < 1.3 * (depth + beam_depth):
        return None

    climbs: Climbs = "clockwise" if rng.random() < 0.5 else "counterclockwise"
    canted = rng.random() < 0.3
    radii = [R]
    if rng.random() < 0.5:
        radii.append(R + width * rng.uniform(1.0, 1.8))
    tracks = tuple(
        BruteTrack(radius, gauge * rng.uniform(0, 1 / 12) if canted else 0.0, gauge, climbs)
        for radius in radii
    )
    foot, head = _leads(rng, straight_leads, grade, longest)
    station_mm = FULL_TURN * R / brackets
    last = turns * brackets
    profile = _profile(rng, foot, head, rise / brackets, brackets, last, station_mm)
    survey = (
        _survey(
            rng,
            profile,
            rise / brackets,
            brackets,
            last,
            station_mm,
            depth + beam_depth,
            len(tracks),
        )
        if _chance(rng, surveyed, 0.6)
        else ()
    )
    outside = width * rng.uniform(0.6, 1.6) if rng.random() < 0.8 else None
    reach = radii[-1] + (2 * gauge if outside is None else outside)
    deck = BruteDeck(depth, beam_depth, beam_width, {}, reach)
    obstacles = _obstacles(rng, foot, head, last, tallest, width, beam_width, len(tracks))
    drawn = [0.0, last, *(k for k, _ in profile)]
    # A straight lead ends where it ends: nothing stands beyond it.
    least = (
        min(drawn) - foot.length_mm * brackets / (2 * math.pi * radii[-1]) if foot else -math.inf
    )
    most = max(drawn) + head.length_mm * brackets / (2 * math.pi * radii[-1]) if head else math.inf
    obstacles = tuple(
        it for it in obstacles if not (it.obstacle.station < least or it.obstacle.station > most)
    )
    stations = [*drawn, *(reading.station for reading in survey)]
    stations_of_obstacles = [
        it.obstacle.station for it in obstacles if not math.isnan(it.obstacle.station)
    ]
    first = min(stations if foot else stations + stations_of_obstacles)
    end = max(stations if head else stations + stations_of_obstacles)

    lines, decks, overhead = [], [], []
    for number in range(len(tracks)):
        mine = _read(survey, number)
        known = {float(k): rise * k / brackets for k in range(math.floor(last + 1e-9) + 1)}
        known |= dict(profile)
        known |= {k: it.railhead_mm for k, it in mine.items() if not math.isnan(it.railhead_mm)}
        at = sorted(known)
        heights = tuple(known[k] for k in at)
        lines.append(BruteLine(brackets, first, end, tuple(at), heights, foot, head))
        measured = {k: it.headroom_mm for k, it in mine.items() if not math.isnan(it.headroom_mm)}
        whole = {int(k): room for k, room in measured.items() if k == int(k)}
        decks.append(BruteDeck(depth, beam_depth, beam_width, whole, reach))
        overhead.append(
            tuple(BruteObstacle(k, room, beam_width) for k, room in measured.items() if k != int(k))
            + tuple(it.obstacle for it in obstacles if it.track in (None, number))
        )
    inside = width * rng.uniform(0.6, 1.6)
    decks = [replace(deck, edge_mm=max(radii[0] - inside, 0.0)) for deck in decks]
    return BruteRailway(
        scale,
        gauge,
        turns,
        rise,
        brackets,
        tracks,
        inside,
        outside,
        foot,
        head,
        profile,
        survey,
        obstacles,
        deck,
        tuple(cars),
        tuple(float(longest * rng.uniform(0.005, 0.05)) for _ in cars),
        tuple(lines),
        tuple(decks),
        tuple(overhead),
    )


def _radius(rng: np.random.Generator, cars: Sequence[BruteCar | BruteVehicle]) -> float:
    """From as sharp as the cars can just bear, to 10 m."""
    sharpest = 150.0
    for car in cars:
        width = float(np.abs(car.corners[..., 1]).max())
        length = float(np.ptp(car.corners[..., 0]))
        sharpest = max(sharpest, 0.7 * spans_mm(car) + 1.5 * width + 0.2 * length, 0.45 * length)
    widest = min(1e4, 12 * sharpest)
    # Sharp is where the throws are: the power leans that way.
    return float(sharpest * (widest / sharpest) ** (rng.random() ** 1.5))


def _leads(
    rng: np.random.Generator, wanted: bool | None, grade: float, longest: float
) -> tuple[BruteLead | None, BruteLead | None]:
    """Straight leads at the foot and at the head: level, or with a grade of their own."""

    def lead() -> BruteLead:
        own = grade * rng.uniform(-0.3, 1.0) if rng.random() < 0.6 else 0.0
        return BruteLead(longest * rng.uniform(0.3, 2.5), own)

    if not _chance(rng, wanted, 0.5):
        return None, None
    which = rng.integers(3)
    return (lead() if which != 1 else None, lead() if which != 0 else None)


def _profile(
    rng: np.random.Generator,
    foot: BruteLead | None,
    head: BruteLead | None,
    step: float,
    brackets: int,
    last: float,
    station_mm: float,
) -> tuple[tuple[float, float], ...]:
    """Level or flatter curved leads at stations below 0 and beyond the last; a sag in between."""
    known: dict[float, float] = {}
    if rng.random() < (0.2 if foot else 0.5):
        first = -float(rng.integers(1, brackets // 3 + 2))
        known[first] = step * first * (rng.random() if rng.random() < 0.5 else 0.0)
    if rng.random() < (0.2 if head else 0.4):
        beyond = math.floor(last) + float(rng.integers(1, brackets // 3 + 2))
        more = rng.random() if rng.random() < 0.5 else 0.0
        known[beyond] = step * (math.floor(last) + more * (beyond - math.floor(last)))
    if rng.random() < 0.2:
        sag = round(rng.uniform(0, last), 1)
        known[sag] = step * sag - 0.003 * station_mm
    return tuple(sorted(known.items()))


def _survey(
    rng: np.random.Generator,
    profile: tuple[tuple[float, float], ...],
    step: float,
    brackets: int,
    last: float,
    station_mm: float,
    structure_mm: float,
    tracks: int,
) -> tuple[Reading, ...]:
    """Every bracket a little off, some places between brackets, some headrooms; some not taken."""
    off = station_mm * rng.choice([0.0005, 0.002, 0.004])
    design = {float(k): step * k for k in range(math.floor(last + 1e-9) + 1)} | dict(profile)
    at = np.array(sorted(design))
    heights = np.array([design[k] for k in at])
    stations = {float(k) for k in at if rng.random() < 0.9}
    if rng.random() < 0.5:
        stations |= {round(float(k), 2) for k in rng.uniform(at[0], at[-1], 4)}
    own = rng.random() < 0.4 and tracks > 1
    rows = []
    for k in sorted(stations):
        design_mm = float(np.interp(k, at, heights))
        headroom = math.nan
        if k + brackets <= last and rng.random() < 0.25:
            above = float(np.interp(k + brackets, at, heights))
            headroom = above - design_mm - structure_mm + rng.normal(0, 0.01 * step * brackets)
        railhead = design_mm + rng.normal(0, off)
        rows.append(Reading(k, None, railhead, headroom))
        if own and rng.random() < 0.7:
            rows.append(
                Reading(k, int(rng.integers(tracks)), railhead + rng.normal(0, off), math.nan)
            )
    return tuple(rows)


def _read(survey: tuple[Reading, ...], track: int) -> dict[float, Reading]:
    """What the survey says of one track: a reading that names it wins over one that names none."""
    found: dict[float, Reading] = {}
    for named in (None, track):
        for row in survey:
            if row.track != named:
                continue
            before = found.get(row.station, row)
            railhead, headroom = (
                old if math.isnan(new) else new
                for old, new in (
                    (before.railhead_mm, row.railhead_mm),
                    (before.headroom_mm, row.headroom_mm),
                )
            )
            found[row.station] = Reading(row.station, track, railhead, headroom)
    return found


def _obstacles(
    rng: np.random.Generator,
    foot: BruteLead | None,
    head: BruteLead | None,
    last: float,
    tallest: float,
    width: float,
    beam_width: float,
    tracks: int,
) -> tuple[PlacedObstacle, ...]:
    """Portals, lamps and fences on the curve and along straight leads."""
    placed = []
    for _ in range(int(rng.integers(0, 4))):
        kind = rng.integers(3)
        headroom = tallest * rng.uniform(0.9, 1.4) if kind != 2 else math.inf
        left, right = width * rng.uniform(0.4, 1.2, 2)
        sides = {0: (math.inf, math.inf), 1: (left, right), 2: (left, math.inf)}[int(kind)]
        heights = (0.0, math.inf) if rng.random() < 0.5 else tuple(sorted(tallest * rng.random(2)))
        figures = (float(headroom), float(beam_width * rng.random()))
        ends: list[tuple[Literal["foot", "head"], BruteLead]] = []
        if foot:
            ends.append(("foot", foot))
        if head:
            ends.append(("head", head))
        if ends and rng.random() < 0.6:
            name, lead = ends[rng.integers(len(ends))]
            distance = lead.length_mm * rng.random()
            obstacle = BruteObstacle.on_lead(name, distance, *figures, *sides, *heights)
        else:
            station = round(rng.uniform(-1.5, last + 1.5), 2)
            obstacle = BruteObstacle(station, *figures, "", 0.0, *sides, *heights)
        placed.append(
            PlacedObstacle(int(rng.integers(tracks)) if rng.random() < 0.5 else None, obstacle)
        )
    return tuple(placed)
