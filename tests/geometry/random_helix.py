"""Random helices and cars as somebody might have them, for the brute-force drive and the engine."""

import math
from typing import NamedTuple

import numpy as np

from tests.geometry.brute_force import (
    FULL_TURN,
    BruteBlock,
    BruteCar,
    BruteDeck,
    BruteLine,
    BruteObstacle,
    BruteTrack,
    Climbs,
)

__all__ = ["SCALES", "BruteCase", "random_car", "random_case"]

# Scale and gauge [mm] of what runs on helices, N to seven-eighths.
SCALES = (
    (160.0, 9.0),
    (87.1, 16.5),
    (64.0, 22.42),
    (48.0, 31.75),
    (32.0, 45.0),
    (29.0, 45.0),
    (22.5, 45.0),
    (20.3, 45.0),
    (13.7, 45.0),
)


class BruteCase(NamedTuple):
    """A helix, its tracks from the inner to the outer, two cars, and what hangs overhead."""

    line: BruteLine
    tracks: tuple[BruteTrack, ...]
    cars: tuple[BruteCar, BruteCar]
    deck: BruteDeck
    obstacles: tuple[BruteObstacle, ...]


def random_case(rng: np.random.Generator, as_built: bool = False) -> BruteCase:
    """A helix and two cars as somebody might have them; both can stand on its inner track.

    `as_built`: every bracket a little off its height, the foot level for a few brackets, some
    headrooms measured. Else the helix is regular.
    """
    scale, gauge = SCALES[rng.integers(len(SCALES))]
    cars = (random_car(rng, scale), random_car(rng, scale))
    R = _random_radius(rng, cars)

    brackets = int(rng.integers(6, 25))
    last = int(rng.integers(brackets + 1, int(2.2 * brackets) + 2))
    tallest = max(float(car.corners[..., 2].max()) for car in cars)
    size = math.sqrt(gauge / 45)
    beam_width = size * rng.uniform(5, 60) if rng.random() < 0.75 else 0.0
    # A beam is deeper than the deck falls along its width, so that it is a beam at all.
    beam_depth = max(size * rng.uniform(4, 40), 0.12 * beam_width) if beam_width else 0.0
    depth = size * rng.uniform(8, 50)
    # Most builders leave just room for the cars, if the grade can be climbed; some think of grade.
    grade = rng.uniform(0.005, 0.08)
    if rng.random() < 0.75:
        needed = (tallest * rng.uniform(0.95, 1.2) + depth + beam_depth) / (FULL_TURN * R)
        grade = min(0.08, needed)
    rise = FULL_TURN * R * grade
    deck = BruteDeck(depth, beam_depth, beam_width)

    line = BruteLine.regular(rise, brackets, last)
    obstacles: tuple[BruteObstacle, ...] = ()
    if rng.random() < 0.3:
        headroom = tallest * rng.uniform(0.9, 1.4)
        station = rng.uniform(0, last)
        obstacles = (BruteObstacle(station, headroom, beam_width * rng.uniform(0, 1)),)
    if as_built:
        line = _as_built(rng, line, rise, 0.002 * R * FULL_TURN / brackets)
        measured = {
            int(k): float(rise - depth - beam_depth + rng.normal(0, 0.01 * rise))
            for k in rng.integers(0, last - brackets + 1, 3)
        }
        deck = BruteDeck(depth, beam_depth, beam_width, measured)

    climbs: Climbs = "clockwise" if rng.random() < 0.5 else "counterclockwise"
    cant = gauge * rng.uniform(0, 1 / 12) if rng.random() < 0.3 else 0.0
    tracks = [BruteTrack(R, cant, gauge, climbs)]
    if rng.random() < 0.5:
        width = max(float(np.ptp(car.corners[..., 1])) for car in cars)
        tracks.append(BruteTrack(R + width * rng.uniform(1.0, 1.8), cant, gauge, climbs))
    return BruteCase(line, tuple(tracks), cars, deck, obstacles)


def _as_built(
    rng: np.random.Generator, line: BruteLine, rise_mm: float, off_mm: float
) -> BruteLine:
    turn = line.brackets_per_turn
    first = -int(rng.integers(0, turn // 3 + 1))
    stations = np.arange(first, int(line.last_station) + 1)
    railhead = np.maximum(0.0, stations * rise_mm / turn) + rng.normal(0, off_mm, len(stations))
    return BruteLine(
        turn,
        first,
        line.last_station,
        tuple(float(k) for k in stations),
        tuple(float(z) for z in railhead),
    )


def _random_radius(rng: np.random.Generator, cars: tuple[BruteCar, ...]) -> float:
    """From as sharp as the cars can just bear, to 10 m."""
    sharpest = 150.0
    for car in cars:
        stand = math.hypot(car.wheelbase_mm, car.truck_wheelbase_mm) / 2
        width = float(np.abs(car.corners[..., 1]).max())
        length = float(np.ptp(car.corners[..., 0]))
        sharpest = max(sharpest, 1.3 * stand + 1.5 * width + 0.2 * length)
    widest = min(1e4, 12 * sharpest)
    # Sharp is where the throws are: the power leans that way.
    return float(sharpest * (widest / sharpest) ** (rng.random() ** 1.5))


def random_car(rng: np.random.Generator, scale: float) -> BruteCar:
    """A wagon, a coach or an engine; full-size metres over the scale."""
    m = 1000 / scale
    narrow_gauge = scale < 25
    length = rng.uniform(5, 14 if narrow_gauge else 26) * m
    wheelbase = length * rng.uniform(0.4, 0.85)
    truck = wheelbase * rng.uniform(0.06, 0.35) if rng.random() < 0.6 else 0.0
    spare = length - wheelbase
    # Half of them hang over more at one end.
    behind = spare * (0.5 if rng.random() < 0.5 else rng.uniform(0.15, 0.85))
    rear, front = -wheelbase / 2 - behind, wheelbase / 2 + spare - behind
    half = rng.uniform(0.9, 1.6) * m
    bottom = rng.uniform(0.2, 1.1) * m
    top = rng.uniform(2.2, 4.8) * m

    def along(fraction: float) -> float:
        return rear + fraction * length

    kind = rng.integers(4)
    if kind == 0:  # a plain box
        blocks = [BruteBlock(rear, front, half, half, bottom, top)]
    elif kind == 1:  # lopsided
        other = half * rng.uniform(0.7, 1.1)
        blocks = [BruteBlock(rear, front, half, other, bottom, top)]
    elif kind == 2:  # a box with something on its roof, aside of the centre line
        at, wide = rng.uniform(0.05, 0.9), rng.uniform(0.1, 0.4) * m
        near = rng.uniform(0.0, half - wide)
        sides = (near + wide, -near) if rng.random() < 0.5 else (-near, near + wide)
        long = length * rng.uniform(0.01, 0.09)
        more = top + rng.uniform(0.05, 0.7) * m
        blocks = [
            BruteBlock(rear, front, half, half, bottom, top),
            BruteBlock(along(at), along(at) + long, *sides, top * 0.99, more),
        ]
    else:  # an engine: boiler, cab, stack off the centre line, cylinders, pilot step
        cab, stack = rng.uniform(0.15, 0.4), rng.uniform(0.75, 0.95)
        aside = rng.uniform(-0.3, 0.3) * m
        radius = rng.uniform(0.1, 0.25) * m
        blocks = [
            BruteBlock(along(cab), along(0.98), 0.6 * half, 0.6 * half, bottom, 0.8 * top),
            BruteBlock(
                along(0.0), along(cab), half, 0.97 * half, bottom, rng.uniform(0.9, 1) * top
            ),
            BruteBlock(
                along(stack) - radius,
                along(stack) + radius,
                aside + radius,
                radius - aside,
                0.7 * top,
                top * rng.uniform(0.85, 1.1),
            ),
            BruteBlock(
                along(0.7),
                along(0.85),
                half * rng.uniform(0.9, 1.15),
                half * rng.uniform(0.9, 1.15),
                0.4 * bottom,
                bottom + 0.15 * top,
            ),
            BruteBlock(along(0.97), along(1.0), 0.9 * half, 0.9 * half, 0.3 * bottom, 0.9 * bottom),
        ]
    return BruteCar(float(wheelbase), float(truck), tuple(blocks))
