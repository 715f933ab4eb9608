"""What does a car really need? A slow, literal drive through a helix, to check the engine against.

Written from the definitions G1 to G6 of docs/theory.md alone; it shares no code with the engine.
Nothing here knows that a regular helix is a screw: every position of the car is solved anew, its
axles searched for on the track. Lengths are millimetres, angles radians, heights over railhead.

How each gap is found
---------------------
- A block is a box, and every obstacle is searched exactly for one position of the car: the highest
  point of a box under a beam is a corner of the box, or a place where one of its twelve edges
  passes below a side of the beam. The places nearest to the axis lie on edges, the furthest are
  corners. Under the deck, slide any point of the body along its face towards or away from the axis:
  the deck stays level, so one of the two ways it comes no lower, and it ends on an edge.
- The positions are searched by driving: a coarse drive first, then ever finer steps wherever the
  body could still come closer by more than `TOLERANCE_MM`, given how steep the track is there.

What the definitions leave open, and how it is read here
--------------------------------------------------------
- Beams and deck reach as far across the track as the body does.
- The deck is an obstacle over every place that is on the line with the place a turn above it too,
  beams or not (this matters only where a beam is less deep than the deck falls along its width).
- Cant turns the body about its own x axis, after y was level.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import combinations, product
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

__all__ = [
    "FACINGS",
    "BruteBlock",
    "BruteCar",
    "BruteDeck",
    "BruteLine",
    "BruteObstacle",
    "BrutePose",
    "BruteTrack",
    "OverheadGap",
    "block_side_radii_mm",
    "meeting_gap_mm",
    "overhead_gap_mm",
    "overhead_gaps_mm",
    "place",
    "side_radii_mm",
    "theta_between",
]

Array = NDArray[np.float64]
Ints = NDArray[np.intp]
Facing = Literal["front uphill", "front downhill"]
Climbs = Literal["counterclockwise", "clockwise"]

FACINGS: tuple[Facing, Facing] = ("front uphill", "front downhill")
TOLERANCE_MM = 0.002  # how far a least gap may lie above the true one
HEIGHT_SLACK_MM = 2.0  # G6: each height range is widened by this
FULL_TURN = 2 * math.pi


@dataclass(frozen=True)
class BruteTrack:
    """One track: its centreline circle and how the rails are canted (G1)."""

    radius_mm: float
    cant_mm: float = 0.0
    gauge_mm: float = 45.0
    climbs: Climbs = "counterclockwise"

    @property
    def turning(self) -> float:
        """+1 where theta grows counterclockwise seen from above, -1 where clockwise."""
        return 1.0 if self.climbs == "counterclockwise" else -1.0

    @property
    def roll_rad(self) -> float:
        """How far the cross-section leans inward (G1)."""
        return math.asin(self.cant_mm / self.gauge_mm)


@dataclass(frozen=True, eq=False)
class BruteLine:
    """The railhead by station, straight between known stations and beyond the outermost (G1)."""

    brackets_per_turn: int
    first_station: float
    last_station: float
    stations: tuple[float, ...]
    railhead_mm: tuple[float, ...]

    @classmethod
    def regular(
        cls,
        rise_per_turn_mm: float,
        brackets_per_turn: int,
        last_station: float,
        first_station: float = 0.0,
    ) -> "BruteLine":
        """A helix that climbs evenly from station 0."""
        return cls(
            brackets_per_turn,
            first_station,
            last_station,
            (0.0, float(brackets_per_turn)),
            (0.0, rise_per_turn_mm),
        )

    @cached_property
    def knots_rad(self) -> Array:
        """Where the railhead is known. [rad]"""
        return np.array([self.theta(station) for station in self.stations])

    @cached_property
    def slopes(self) -> Array:
        """Climb from each known station to the next. [mm/rad]"""
        return np.diff(self.railhead_mm) / np.diff(self.knots_rad)

    def theta(self, station: float) -> float:
        """Angle of a station. [rad]"""
        return FULL_TURN * station / self.brackets_per_turn

    def z(self, theta: Array) -> Array:
        """Railhead elevation at any angle, beyond the ends too. [mm]"""
        piece = self.stretch(theta)
        start = self.knots_rad[piece]
        return self._known_mm[piece] + self.slopes[piece] * (theta - start)

    def stretch(self, theta: Array) -> Ints:
        """On which straight stretch an angle lies."""
        return np.searchsorted(self.knots_rad[1:-1], theta, side="right")

    @cached_property
    def _known_mm(self) -> Array:
        return np.array(self.railhead_mm)

    def slopes_between(self, low: Array, high: Array) -> tuple[Array, Array]:
        """Least and greatest climb anywhere from `low` to `high`, element by element. [mm/rad]"""
        starts = np.append(-np.inf, self.knots_rad[1:-1])
        ends = np.append(self.knots_rad[1:-1], np.inf)
        met = (starts <= high[:, None]) & (ends >= low[:, None])
        return (
            np.where(met, self.slopes, np.inf).min(axis=1),
            np.where(met, self.slopes, -np.inf).max(axis=1),
        )


@dataclass(frozen=True)
class BruteBlock:
    """A box of the body. x runs forward from mid-wheelbase, half widths from the centre line."""

    x_rear_mm: float
    x_front_mm: float
    left_mm: float
    right_mm: float
    bottom_mm: float
    top_mm: float

    @cached_property
    def corners(self) -> Array:
        """(8, 3): x forward, y to the left, height. [mm]"""
        return np.array(
            list(
                product(
                    (self.x_rear_mm, self.x_front_mm),
                    (-self.right_mm, self.left_mm),
                    (self.bottom_mm, self.top_mm),
                )
            )
        )


# Corners that differ in one coordinate alone are joined by an edge.
_EDGES = np.array(
    [
        (i, j)
        for (i, one), (j, other) in combinations(enumerate(product((0, 1), repeat=3)), 2)
        if sum(a != b for a, b in zip(one, other, strict=True)) == 1
    ]
)


@dataclass(frozen=True)
class BruteCar:
    """A body on two trucks, or on its own axles where `truck_wheelbase_mm` is 0 (G2)."""

    wheelbase_mm: float
    truck_wheelbase_mm: float
    blocks: tuple[BruteBlock, ...]

    @cached_property
    def corners(self) -> Array:
        """(blocks, 8, 3), in the body's own axes. [mm]"""
        return np.stack([block.corners for block in self.blocks])

    @property
    def levering(self) -> float:
        """How much faster than its supports the body's furthest end may rise or fall."""
        return 1 + 2 * float(np.abs(self.corners[..., 0]).max()) / self.wheelbase_mm


@dataclass(frozen=True)
class BruteDeck:
    """What hangs under the tier above. A measured headroom, by whole station, replaces a beam's."""

    depth_mm: float
    beam_depth_mm: float = 0.0
    beam_width_mm: float = 0.0
    beam_headroom_mm: Mapping[int, float] = field(default_factory=dict)


@dataclass(frozen=True)
class BruteObstacle:
    """A level underside of the given width along the track, `headroom_mm` over railhead there."""

    station: float
    headroom_mm: float
    width_mm: float = 0.0


class OverheadGap(NamedTuple):
    """The least gap under one obstacle, and where; inf and nan where nothing hangs overhead."""

    gap_mm: float
    station: float
    obstacle: str  # "beam", "obstacle" or "deck"


# --- how a vehicle sits: G2, G3 -----------------------------------------------------------------


@dataclass(frozen=True)
class BrutePose:
    """Where the body is at each of n positions.

    `axles` (n, 4) are the angles of the axles, going uphill; without trucks two and two are alike.
    `origin` is mid-wheelbase [mm], `x` points forward, `y` left, `up`: each (n, 3).
    """

    axles: Array
    origin: Array
    x: Array
    y: Array
    up: Array

    def points(self, local: Array) -> Array:
        """Where points of the body (n, k, 3), or (k, 3) for all positions, are in space."""
        axes = np.stack([self.x, self.y, self.up], axis=1)
        return self.origin[:, None, :] + local @ axes


def place(
    line: BruteLine, track: BruteTrack, car: BruteCar, theta: ArrayLike, facing: Facing
) -> BrutePose:
    """Stand the car on the track, for each angle of its lowest axle (G2, G3).

    Parameters: `theta` (n,), the axle furthest downhill [rad]. Returns a `BrutePose`. Raises
    ValueError where the car cannot stand on that radius.
    """
    theta = np.atleast_1d(np.asarray(theta, dtype=float))
    truck, wheelbase = car.truck_wheelbase_mm, car.wheelbase_mm
    if math.hypot(truck, wheelbase) > 2 * track.radius_mm:
        raise ValueError(f"{car} cannot stand on {track}")
    low, low_upper_axle = _truck(line, track, theta, truck)

    def too_far(ahead: Array) -> Array:
        return _distance(_truck(line, track, theta + ahead, truck)[0], low) - wheelbase

    pivot_circle = math.sqrt(track.radius_mm**2 - truck**2 / 4)
    furthest = _chord_angle(wheelbase, pivot_circle) + _chord_angle(truck, track.radius_mm)
    ahead = _roots(too_far, np.full_like(theta, min(furthest, math.pi)), track.radius_mm)
    high, high_upper_axle = _truck(line, track, theta + ahead, truck)
    axles = np.stack([theta, low_upper_axle, theta + ahead, high_upper_axle], axis=1)

    rear, front = (low.T, high.T) if facing == "front uphill" else (high.T, low.T)
    origin = (rear + front) / 2
    x = _unit(front - rear)
    level = _unit(np.cross([0.0, 0.0, 1.0], x))
    upright = np.cross(x, level)
    left_is_outside = np.sign(np.sum(level[:, :2] * origin[:, :2], axis=1))[:, None]
    y = math.cos(track.roll_rad) * level + left_is_outside * math.sin(track.roll_rad) * upright
    return BrutePose(axles, origin, x, y, np.cross(x, y))


def theta_between(
    line: BruteLine, track: BruteTrack, car: BruteCar, facing: Facing
) -> tuple[float, float]:
    """From which to which angle of its lowest axle has the car any part on the line? (G4) [rad]"""

    def reach(theta: float) -> tuple[float, float]:
        pose = place(line, track, car, theta, facing)
        corners = pose.points(car.corners.reshape(-1, 3))
        angles = _theta_of(track, corners, pose.axles[:, 0])
        return float(angles.min()), float(angles.max())

    first, last = line.theta(line.first_station), line.theta(line.last_station)
    return (
        brentq(lambda theta: reach(theta)[1] - first, first - math.pi, first + math.pi),
        brentq(lambda theta: reach(theta)[0] - last, last - math.pi, last + math.pi),
    )


def _truck(
    line: BruteLine, track: BruteTrack, theta: Array, wheelbase_mm: float
) -> tuple[Array, Array]:
    """Pivot (3, n) of a truck whose lower axle is at `theta`, and the angle of its upper axle."""
    lower = _on_centreline(line, track, theta)
    if wheelbase_mm == 0:
        return lower, theta

    def too_far(ahead: Array) -> Array:
        return _distance(_on_centreline(line, track, theta + ahead), lower) - wheelbase_mm

    furthest = np.full_like(theta, _chord_angle(wheelbase_mm, track.radius_mm))
    upper = theta + _roots(too_far, furthest, track.radius_mm)
    return (lower + _on_centreline(line, track, upper)) / 2, upper


def _on_centreline(line: BruteLine, track: BruteTrack, theta: Array) -> Array:
    """(3, n)"""
    R = track.radius_mm
    return np.stack([R * np.cos(theta), track.turning * R * np.sin(theta), line.z(theta)])


def _chord_angle(chord_mm: float, radius_mm: float) -> float:
    """The angle of a level chord, a hair more: no two points as far apart in space are further."""
    return 2 * math.asin(min(1.0, chord_mm / (2 * radius_mm))) * (1 + 1e-9)


def _roots(f: Callable[[Array], Array], high: Array, radius_mm: float) -> Array:
    """Where f = 0 between 0 and `high`, for each element: false position, Illinois' way.

    f is a distance too long or too short [mm]; the answer is right to rounding of `radius_mm`.
    """
    enough = max(1e-9, 16 * np.finfo(float).eps * radius_mm)
    low, f_low, f_high = np.zeros_like(high), f(np.zeros_like(high)), f(high)
    if np.any(f_low > 0) or np.any(f_high < -enough):
        raise ValueError("the supports cannot be that far apart on this track")
    f_high = np.maximum(f_high, 0.0)
    last_moved = np.zeros_like(high)
    for _ in range(200):
        middle = high - f_high * (high - low) / (f_high - f_low)
        f_middle = f(middle)
        if np.all(np.abs(f_middle) <= enough):
            return middle
        short = f_middle < 0
        # An end that stays for a second time counts half, or it would stay for ever.
        f_high = np.where(short, np.where(last_moved < 0, f_high / 2, f_high), f_middle)
        f_low = np.where(short, f_middle, np.where(last_moved > 0, f_low / 2, f_low))
        low, high = np.where(short, middle, low), np.where(short, high, middle)
        last_moved = np.where(short, -1.0, 1.0)
    raise ArithmeticError("the search for the axles did not settle")


def _distance(a: Array, b: Array) -> Array:
    return np.asarray(np.sqrt(np.sum((a - b) ** 2, axis=0)))


def _unit(vectors: Array) -> Array:
    return np.asarray(vectors / np.linalg.norm(vectors, axis=-1, keepdims=True))


def _theta_of(track: BruteTrack, points: Array, near: Array) -> Array:
    """Angle of points (n, ..., 3) seen from the axis, within half a turn of `near` (n,). [rad]"""
    near = near.reshape(-1, *[1] * (points.ndim - 2))
    along, across = np.cos(near), track.turning * np.sin(near)
    px, py = points[..., 0], points[..., 1]
    return near + np.arctan2(track.turning * (along * py - across * px), along * px + across * py)


# --- the search over all positions --------------------------------------------------------------


class _Fall(NamedTuple):
    """How much lower than at both ends a value may come between two positions: `rate` per radian
    apart; or, where the same point decides at both ends, `bend` per radian apart squared.
    """

    rate: Array
    bend: Array


def _least(
    value: Callable[[Array, Ints], tuple[Array, Ints]],
    low: Array,
    high: Array,
    contest: Ints,
    fall: Callable[[Array, Array], _Fall],
    cells: int,
    fineness: int,
) -> tuple[Array, Array, Ints]:
    """The least value over all positions, for each contest.

    Run i drives from `low[i]` to `high[i]`; several runs may be in one `contest`.
    `value(position, run)` gives the values and, (n, k), what decides each: which edge or corner,
    and on which straight stretch of track each axle stands. `fall(left, right)` says how much
    lower the value can come between two positions. Steps are quartered again and again wherever
    the least could still fall by more than the tolerance. Returns the least of each contest, its
    position and its run.
    """
    best = np.full(contest.max() + 1, np.inf)
    position = np.full_like(best, np.nan)
    winner = np.full(best.shape, -1)

    def ask(places: Array, run: Ints) -> tuple[Array, Ints]:
        values, deciding = value(places.ravel(), np.repeat(run, places.shape[1]))
        values = values.reshape(places.shape)
        column = values.argmin(axis=1)
        row = np.arange(len(run))
        least = values[row, column]
        order = np.argsort(least)[::-1]  # the least of a contest is written last, and stays
        order = order[least[order] < best[contest[run[order]]]]
        best[contest[run[order]]] = least[order]
        position[contest[run[order]]] = places[row, column][order]
        winner[contest[run[order]]] = run[order]
        return values, deciding.reshape(*places.shape, -1)

    run = np.arange(len(low))
    places = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, cells * fineness + 1)
    values, deciding = ask(places, run)
    while True:
        left, right = places[:, :-1].ravel(), places[:, 1:].ravel()
        ends = np.stack([values[:, :-1].ravel(), values[:, 1:].ravel()])
        smooth = np.all(deciding[:, :-1] == deciding[:, 1:], axis=-1).ravel()
        cell_run = np.repeat(run, places.shape[1] - 1)
        rate, bend = fall(left, right)
        step = right - left
        floor = ends.min(axis=0) - np.where(smooth, bend * step, rate) * step
        wanted = np.flatnonzero(floor < best[contest[cell_run]] - TOLERANCE_MM / fineness)
        if not len(wanted):
            return best, position, winner
        cell, column = np.divmod(wanted, places.shape[1] - 1)
        run = cell_run[wanted]
        quarters = left[wanted, None] + step[wanted, None] * np.array([0.0, 0.25, 0.5, 0.75, 1.0])
        inner, inner_deciding = ask(quarters[:, 1:-1], run)
        values = np.concatenate(
            [values[cell, column, None], inner, values[cell, column + 1, None]], axis=1
        )
        deciding = np.concatenate(
            [deciding[cell, column, None], inner_deciding, deciding[cell, column + 1, None]], axis=1
        )
        places = quarters


class _Drive:
    """One car, one way round, over the whole line: its positions and how far each block reaches."""

    def __init__(self, line: BruteLine, track: BruteTrack, car: BruteCar, facing: Facing) -> None:
        self.line, self.track, self.car, self.facing = line, track, car, facing
        self.start, self.end = theta_between(line, track, car, facing)
        pose = place(line, track, car, np.linspace(self.start, self.end, 65), facing)
        corners = pose.points(car.corners.reshape(-1, 3))
        inward = np.sum(corners[..., :2] * _unit(pose.origin[:, :2])[:, None, :], axis=-1)
        if inward.min() <= 0:
            raise ValueError(f"{car} reaches over the axis of {track}")
        lowest = pose.axles[:, 0]
        angles = _theta_of(track, corners, lowest) - lowest[:, None]
        angles = angles.reshape(len(lowest), len(car.blocks), 8)
        low, high = angles.min(axis=(0, 2)), angles.max(axis=(0, 2))
        pad = 0.05 * (high - low)  # between the 65 positions it may be a little more
        self.from_angle, self.to_angle = low - pad, high + pad
        self.inmost_mm = float(inward.min())
        self.outmost_mm = float(np.hypot(corners[..., 0], corners[..., 1]).max())

    @property
    def cells(self) -> int:
        """Steps of the first, coarse drive over the whole line: eight to a station."""
        turns = (self.end - self.start) / FULL_TURN
        return math.ceil(8 * turns * self.line.brackets_per_turn)

    def boxes(self, theta: Array, block: Ints) -> tuple[Array, Ints]:
        """Corners in space (n, 8, 3) of a block at a position, and what each axle stands on."""
        pose = place(self.line, self.track, self.car, theta, self.facing)
        return pose.points(self.car.corners[block]), self.line.stretch(pose.axles)

    def slopes(self, low: Array, high: Array) -> tuple[Array, Array]:
        """Least and greatest climb under the whole car, driven from `low` to `high`. [mm/rad]"""
        return self.line.slopes_between(
            low + min(0.0, self.from_angle.min()), high + max(0.0, self.to_angle.max())
        )

    def bend_of_roof(self, down: Array, up: Array) -> Array:
        """How sharply the roof over one place may rise and fall in passing. [mm/rad2]"""
        steepness = np.maximum(np.abs(down), np.abs(up)) / self.track.radius_mm
        steepness = steepness + math.tan(self.track.roll_rad)
        tipping = self.car.levering * (up - down) / self.car.wheelbase_mm
        return 8 * (steepness + tipping) * self.outmost_mm


@lru_cache(maxsize=64)
def _drive(line: BruteLine, track: BruteTrack, car: BruteCar, facing: Facing) -> _Drive:
    return _Drive(line, track, car, facing)


# --- G4, overhead -------------------------------------------------------------------------------


def overhead_gaps_mm(
    line: BruteLine,
    track: BruteTrack,
    car: BruteCar,
    deck: BruteDeck,
    facing: Facing,
    obstacles: Iterable[BruteObstacle] = (),
    fineness: int = 1,
) -> list[OverheadGap]:
    """The least gap under each beam, each measured obstacle, and the deck (G4), in this order.

    `fineness` 2 halves the steps and the tolerance, and so on. What the car never comes under has
    a gap of inf.
    """
    drive = _drive(line, track, car, facing)
    found = _under_level(drive, _level_obstacles(line, deck, obstacles), fineness)
    if line.last_station - line.brackets_per_turn >= line.first_station:
        found.append(_under_deck(drive, deck, fineness))
    return found


def overhead_gap_mm(
    line: BruteLine,
    track: BruteTrack,
    car: BruteCar,
    deck: BruteDeck,
    facing: Facing,
    obstacles: Iterable[BruteObstacle] = (),
    fineness: int = 1,
) -> OverheadGap:
    """The least of `overhead_gaps_mm`: gap [mm], station, and what hangs there (G4)."""
    found = overhead_gaps_mm(line, track, car, deck, facing, obstacles, fineness)
    return min(found, default=OverheadGap(math.inf, math.nan, ""))


class _Level(NamedTuple):
    kind: str
    station: float
    elevation_mm: float
    width_mm: float


def _level_obstacles(
    line: BruteLine, deck: BruteDeck, obstacles: Iterable[BruteObstacle]
) -> list[_Level]:
    def railhead(station: float) -> float:
        return float(line.z(np.array(line.theta(station))))

    turn = line.brackets_per_turn
    levels = []
    for k in range(math.ceil(line.first_station), math.floor(line.last_station - turn) + 1):
        underside = railhead(k + turn) - deck.depth_mm - deck.beam_depth_mm
        if k in deck.beam_headroom_mm:
            underside = railhead(k) + deck.beam_headroom_mm[k]
        levels.append(_Level("beam", k, underside, deck.beam_width_mm))
    for it in obstacles:
        underside = railhead(it.station) + it.headroom_mm
        levels.append(_Level("obstacle", it.station, underside, it.width_mm))
    return levels


def _under_level(drive: _Drive, levels: list[_Level], fineness: int) -> list[OverheadGap]:
    if not levels:
        return []
    blocks = len(drive.car.blocks)
    which = np.repeat(np.arange(len(levels)), blocks)
    block = np.tile(np.arange(blocks), len(levels))
    theta = np.array([drive.line.theta(level.station) for level in levels])[which]
    elevation = np.array([level.elevation_mm for level in levels])[which]
    half = np.array([level.width_mm / 2 for level in levels])[which]

    # A block is under it only while its own angles reach the strip's.
    strip = np.arcsin(np.minimum(1.0, half / drive.inmost_mm))
    low = np.maximum(theta - strip - drive.to_angle[block], drive.start)
    high = np.minimum(theta + strip - drive.from_angle[block], drive.end)
    met = np.flatnonzero(low <= high)
    which, block, theta = which[met], block[met], theta[met]
    elevation, half, low, high = elevation[met], half[met], low[met], high[met]

    def gap(places: Array, run: Ints) -> tuple[Array, Ints]:
        corners, axles = drive.boxes(places, block[run])
        highest, point = _highest_under(drive.track, corners, theta[run], half[run])
        return elevation[run] - highest, np.column_stack([point, axles])

    def fall(left: Array, right: Array) -> _Fall:
        # The body climbs as its supports do, its ends levered; meanwhile the strip slides along a
        # roof that is no steeper. A quarter to spare.
        down, up = drive.slopes(left, right)
        climb = np.maximum(np.abs(down), np.abs(up)) + drive.car.levering * (up - down)
        rate = 2.5 * climb * drive.outmost_mm / drive.track.radius_mm
        return _Fall(rate, drive.bend_of_roof(down, up))

    gaps = np.full(len(levels), np.inf)
    if len(met):
        best, _, _ = _least(gap, low, high, which, fall, 32, fineness)
        gaps[: len(best)] = best
    return [
        OverheadGap(float(value), level.station, level.kind)
        for value, level in zip(gaps, levels, strict=True)
    ]


def _highest_under(
    track: BruteTrack, corners: Array, theta: Array, half_mm: Array
) -> tuple[Array, Ints]:
    """Elevation of the highest point of a box (n, 8, 3) within the strip at `theta`, and which
    point it is: a corner, or an edge and a side of the strip. -inf: no point is within."""
    ray_x, ray_y = np.cos(theta)[:, None], track.turning * np.sin(theta)[:, None]
    px, py, z = np.moveaxis(corners, -1, 0)
    outward = px * ray_x + py * ray_y
    along = ray_x * py - ray_y * px
    half = half_mm[:, None]
    heights = [np.where((np.abs(along) <= half) & (outward > 0), z, -np.inf)]
    one, other = _EDGES.T
    start, run = along[:, one], along[:, other] - along[:, one]
    for side in (-half, half):
        with np.errstate(divide="ignore", invalid="ignore"):
            t = (side - start) / run
        crosses = (t >= 0) & (t <= 1)  # false where the edge runs along the strip's side: nan
        t = np.where(crosses, t, 0.0)
        crosses &= outward[:, one] + t * (outward[:, other] - outward[:, one]) > 0
        heights.append(np.where(crosses, z[:, one] + t * (z[:, other] - z[:, one]), -np.inf))
    return _pick(np.concatenate(heights, axis=1), np.argmax)


def _pick(values: Array, which: Callable[..., Ints]) -> tuple[Array, Ints]:
    """The one of each row that `which` (argmin, argmax) says, and its number."""
    number = which(values, axis=1)
    return values[np.arange(len(values)), number], number


def _under_deck(drive: _Drive, deck: BruteDeck, fineness: int) -> OverheadGap:
    blocks = len(drive.car.blocks)

    def gap(places: Array, run: Ints) -> tuple[Array, Ints]:
        corners, axles = drive.boxes(places, run)
        gaps, point, theta = _deck_gap(drive, deck, corners, places)
        above = drive.line.stretch(theta + FULL_TURN)
        return gaps, np.column_stack([point, above, axles])

    def fall(left: Array, right: Array) -> _Fall:
        # A point of the body and the deck over it climb alike but for the unlike grades.
        down, up = drive.slopes(left, right)
        down_above, up_above = drive.slopes(left + FULL_TURN, right + FULL_TURN)
        unlike = np.maximum(up, up_above) - np.minimum(down, down_above)
        even = unlike <= 1e-9 * np.abs(up)
        bend = np.where(even, 0.0, drive.bend_of_roof(down, up))
        return _Fall(np.where(even, 0.0, 2 * drive.car.levering * unlike), bend)

    best, position, winner = _least(
        gap,
        np.full(blocks, drive.start),
        np.full(blocks, drive.end),
        np.zeros(blocks, dtype=np.intp),
        fall,
        drive.cells,
        fineness,
    )
    if not np.isfinite(best[0]):
        return OverheadGap(math.inf, math.nan, "deck")
    _, _, theta = _deck_gap(drive, deck, drive.boxes(position, winner)[0], position)
    station = float(theta[0]) * drive.line.brackets_per_turn / FULL_TURN
    return OverheadGap(float(best[0]), station, "deck")


def _deck_gap(
    drive: _Drive, deck: BruteDeck, corners: Array, near: Array
) -> tuple[Array, Ints, Array]:
    """Least gap of boxes (n, 8, 3) under the deck, at which point, and its angle.

    Each edge is tried at its ends, where it passes below a change of grade, and where it climbs
    just as the deck does.
    """
    line, turning = drive.line, drive.track.turning
    first, last = line.theta(line.first_station), line.theta(line.last_station) - FULL_TURN
    a = corners[:, _EDGES[:, 0], None, :]
    d = corners[:, _EDGES[:, 1], None, :] - a
    bends = np.concatenate([line.knots_rad - FULL_TURN, [first, last]])
    ray_x, ray_y = np.cos(bends), turning * np.sin(bends)
    slopes = np.unique(line.slopes)
    with np.errstate(divide="ignore", invalid="ignore"):
        below_bend = -(ray_x * a[..., 1] - ray_y * a[..., 0]) / (
            ray_x * d[..., 1] - ray_y * d[..., 0]
        )
        # slope * dtheta/dt = dz/dt, with dtheta/dt = (a x d) / r^2: a quadratic in t for r^2.
        spin = turning * (a[..., 0] * d[..., 1] - a[..., 1] * d[..., 0])
        square = slopes * spin / d[..., 2]
        aa, ad, dd = (np.sum((p * q)[..., :2], axis=-1) for p, q in ((a, a), (a, d), (d, d)))
        root = np.sqrt(ad**2 - dd * (aa - square))
        steep = np.concatenate([(-ad - root) / dd, (-ad + root) / dd], axis=-1)
    ends = np.broadcast_to([0.0, 1.0], (*a.shape[:2], 2))
    t = np.concatenate([ends, below_bend, steep], axis=-1)
    t = np.where((t >= 0) & (t <= 1), t, 0.0)[..., None]  # elsewhere: the end again, no harm
    points = (a + t * d).reshape(len(corners), -1, 3)
    theta = _theta_of(drive.track, points, near)
    under = (theta >= first - 1e-10) & (theta <= last + 1e-10)
    gaps = np.where(under, line.z(theta + FULL_TURN) - deck.depth_mm - points[..., 2], np.inf)
    least, point = _pick(gaps, np.argmin)
    return least, point, theta[np.arange(len(theta)), point]


# --- G5, sides; G6, meets -----------------------------------------------------------------------


def block_side_radii_mm(
    line: BruteLine, track: BruteTrack, car: BruteCar, facing: Facing, fineness: int = 1
) -> Array:
    """Least and greatest distance from the axis that each block reaches (G5): (blocks, 2)."""
    drive = _drive(line, track, car, facing)
    blocks = len(car.blocks)
    block = np.tile(np.arange(blocks), 2)
    furthest = np.repeat([False, True], blocks)

    def value(places: Array, run: Ints) -> tuple[Array, Ints]:
        corners, axles = drive.boxes(places, block[run])
        px, py, _ = np.moveaxis(corners, -1, 0)
        outmost, corner = _pick(np.hypot(px, py), np.argmax)
        one, other = _EDGES.T
        ax, ay, dx, dy = (
            px[:, one],
            py[:, one],
            px[:, other] - px[:, one],
            py[:, other] - py[:, one],
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            t = -(ax * dx + ay * dy) / (dx * dx + dy * dy)  # nan: an upright edge
        t = np.clip(np.nan_to_num(t), 0.0, 1.0)
        inmost, edge = _pick(np.hypot(ax + t * dx, ay + t * dy), np.argmin)
        point = np.where(furthest[run], corner, edge)
        return np.where(furthest[run], -outmost, inmost), np.column_stack([point, axles])

    arm = float(np.abs(car.corners[..., 0]).max() + np.abs(car.corners[..., 2]).max())

    def fall(left: Array, right: Array) -> _Fall:
        # Only a change of pitch moves a point in or out, by less than its arm from mid-wheelbase.
        down, up = drive.slopes(left, right)
        tipping = 2 * car.levering * (up - down) / car.wheelbase_mm
        return _Fall(tipping * arm, tipping**2 * arm * (1 + arm / drive.inmost_mm))

    start, end = np.full(2 * blocks, drive.start), np.full(2 * blocks, drive.end)
    runs = np.arange(2 * blocks)
    best, _, _ = _least(value, start, end, runs, fall, drive.cells, fineness)
    return np.stack([best[:blocks], -best[blocks:]], axis=1)


def side_radii_mm(
    line: BruteLine, track: BruteTrack, car: BruteCar, facing: Facing, fineness: int = 1
) -> tuple[float, float]:
    """r_min and r_max of the whole car over every position (G5). [mm]"""
    radii = block_side_radii_mm(line, track, car, facing, fineness)
    return float(radii[:, 0].min()), float(radii[:, 1].max())


def meeting_gap_mm(
    line: BruteLine,
    inner_track: BruteTrack,
    inner_car: BruteCar,
    outer_track: BruteTrack,
    outer_car: BruteCar,
    fineness: int = 1,
) -> float:
    """The least gap between two cars that pass, each both ways round (G6). [mm]

    inf where no block of the one is level with any block of the other.
    """
    worst = math.inf
    inner_by_facing = [
        block_side_radii_mm(line, inner_track, inner_car, facing, fineness) for facing in FACINGS
    ]
    outer_by_facing = [
        block_side_radii_mm(line, outer_track, outer_car, facing, fineness) for facing in FACINGS
    ]
    for inner, outer in product(inner_by_facing, outer_by_facing):
        for (i, one), (j, other) in product(
            enumerate(inner_car.blocks), enumerate(outer_car.blocks)
        ):
            apart = max(one.bottom_mm - other.top_mm, other.bottom_mm - one.top_mm)
            if apart <= 2 * HEIGHT_SLACK_MM:
                worst = min(worst, float(outer[j, 0] - inner[i, 1]))
    return worst
