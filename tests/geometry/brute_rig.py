"""How does a vehicle stand? The slow drive's frames on supports, searched for on the track (G2).

Part of `tests.geometry.brute_force`, which says what it is for. Every vehicle, a plain car too, is
a tree of rigid frames. Axles are searched for one after the other, in nested searches: with one
axle given, the truck's other; with one truck given, the next, so that the body between them has its
length; and so on.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from tests.geometry.brute_line import Array, BruteLine, BruteTrack, BruteWay, unit
from tests.geometry.brute_stock import TRACK, BruteCar, BruteVehicle, Facing

__all__ = [
    "BrutePose",
    "BruteStand",
    "Rig",
    "Span",
    "place",
    "rig_of",
    "spans_of",
    "stand",
]

# --- where everything is at n positions ---------------------------------------------------------


@dataclass(frozen=True)
class BrutePose:
    """Where one frame is at each of n positions.

    `axles` (n, a) are the places of the vehicle's axles, going uphill. [rad]
    `origin` is where the vehicle's x is 0 on the frame's base line: mid-wheelbase of a `BruteCar`,
    below the front end of a `BruteVehicle` [mm]; `x` points forward, `y` left, `up`: each (n, 3).
    `near` (n,) is a place of the track beneath it. [rad]
    """

    axles: Array
    origin: Array
    x: Array
    y: Array
    up: Array
    near: Array

    def points(self, local: Array) -> Array:
        """Where points of the frame (n, k, 3), or (k, 3) for all positions, are in space."""
        axes = np.stack([self.x, self.y, self.up], axis=1)
        return np.asarray(self.origin[:, None, :] + local @ axes)


@dataclass(frozen=True)
class BruteStand:
    """Where every frame of a vehicle is: `poses` by name, and the places of its axles (n, a)."""

    axles: Array
    poses: dict[str, BrutePose]


def stand(
    line: BruteLine,
    track: BruteTrack,
    car: BruteCar | BruteVehicle,
    theta: ArrayLike,
    facing: Facing,
) -> BruteStand:
    """Stand a vehicle on the track, for each place of its reference axle (G2, G3).

    Parameters: `theta` (n,), the axle furthest downhill (of nested frames: the one found by going
    from the last frame to its downhill support, and so on) [rad]. Raises ValueError where it cannot
    stand on that radius, or its frames hold one another up.
    """
    rig = rig_of(car, facing)
    return rig.stand(BruteWay(line, track), np.atleast_1d(np.asarray(theta, dtype=float)))


def place(
    line: BruteLine, track: BruteTrack, car: BruteCar, theta: ArrayLike, facing: Facing
) -> BrutePose:
    """Stand a plain car on the track: its body, for each angle of its lowest axle (G2, G3).

    Parameters: `theta` (n,), the axle furthest downhill [rad]. Raises ValueError where the car
    cannot stand on that radius.
    """
    return stand(line, track, car, theta, facing).poses["body"]


# --- frames put together ------------------------------------------------------------------------


class Span(NamedTuple):
    """A frame between two supports, at u: the distance uphill on straight track. [mm]

    `sense` is +1 where the vehicle's front is uphill, `zero` the u of the vehicle's x = 0.
    """

    name: str
    low: float
    low_on: str
    high: float
    high_on: str
    sense: int
    zero: float


class _At(NamedTuple):
    """A support: an axle, or a place on a frame."""

    on: str
    u: float


_Axles = dict[str, tuple[Array, Array]]  # place [rad] and point (3, n), by name
_Bases = dict[
    str, tuple[Array, Array, float]
]  # a point (3, n), the direction uphill, the point's u


_Found = dict[int, Array]  # what was found a moment ago, to begin the next search from


class _Stood(NamedTuple):
    axles: _Axles
    bases: _Bases

    def point(self, at: _At) -> Array:
        if at.on in self.axles:
            return self.axles[at.on][1]
        start, uphill, u = self.bases[at.on]
        return start + (at.u - u) * uphill


class _Axle(NamedTuple):
    name: str
    u: float

    @property
    def reference(self) -> float:
        return self.u

    @property
    def depth(self) -> int:
        return 0

    def axles(self) -> list["_Axle"]:
        return [self]

    def stand(self, way: BruteWay, t: Array, _found: _Found) -> _Stood:
        return _Stood({self.name: (t, way.point(t))}, {})


class _Joined(NamedTuple):
    """Two assemblies held apart by a straight-line distance: by a frame, or chained (no name)."""

    name: str
    low: "_Assembly"
    low_at: _At
    high: "_Assembly"
    high_at: _At

    @property
    def reference(self) -> float:
        return self.low.reference

    @property
    def depth(self) -> int:
        return 1 + max(self.low.depth, self.high.depth)

    def axles(self) -> list[_Axle]:
        return self.low.axles() + self.high.axles()

    def stand(self, way: BruteWay, t: Array, found: _Found) -> _Stood:
        low = self.low.stand(way, t, found)
        start = low.point(self.low_at)
        length = self.high_at.u - self.low_at.u

        def too_far(ahead: Array) -> Array:
            end = self.high.stand(way, t + ahead, found).point(self.high_at)
            return np.asarray(np.sqrt(np.sum((end - start) ** 2, axis=0)) - length)

        # On straight track; and on a level circle.
        straight = (self.high.reference - self.low.reference) / way.R
        round_it = math.copysign(2 * math.asin(min(0.99, abs(straight) / 2)), straight)
        guess = found.get(id(self), np.full_like(t, (straight + round_it) / 2))
        width = 1.1 * abs(round_it - straight) + 0.004 * abs(straight) + 1e-9
        enough = max(1e-9, 16 * np.finfo(float).eps * way.R) * 4**self.depth
        ahead = _root(too_far, guess, width, enough, way.R)
        found[id(self)] = ahead
        high = self.high.stand(way, t + ahead, found)
        end = high.point(self.high_at)
        if np.any(way.track.turning * (start[0] * end[1] - start[1] * end[0]) <= 0):
            raise ValueError("it cannot stand: its supports are half a turn apart on this track")
        bases = {**low.bases, **high.bases}
        if self.name:
            span = end - start
            bases[self.name] = (start, span / np.sqrt(np.sum(span**2, axis=0)), self.low_at.u)
        return _Stood({**low.axles, **high.axles}, bases)


_Assembly = _Axle | _Joined


class Rig:
    """Frames put together, ready to stand on a track."""

    def __init__(
        self, *cars: Sequence[Span], links: Sequence[tuple[tuple[str, float], ...]] = ()
    ) -> None:
        """`cars` go uphill; each of `links` says which places on a frame (its name, and u) of one
        car and of the next keep their distance."""
        self.spans = {span.name: span for car in cars for span in car}
        if len(self.spans) < sum(map(len, cars)):
            raise ValueError("two frames have one name")
        self._same_as: dict[str, str] = {}  # a frame fixed on another lies along its base line
        self._within: dict[str, _Assembly] = {}  # what each frame belongs to, so far
        self.root = self._car(cars[0])
        for car, (low, high) in zip(cars[1:], links, strict=True):
            ends = (_At(self.host(name), u) for name, u in (low, high))
            self.root = _Joined("", self.root, next(ends), self._car(car), next(ends))
        self.axle_names = [axle.name for axle in sorted(self.root.axles(), key=lambda a: a.u)]

    def _car(self, spans: Sequence[Span]) -> _Assembly:
        waiting, names = list(spans), [span.name for span in spans]
        while waiting:
            ready = [s for s in waiting if all(self._stands(on) for on in (s.low_on, s.high_on))]
            if not ready:
                names = ", ".join(sorted(span.name for span in waiting))
                raise ValueError(f"nothing holds up these frames but one another: {names}")
            for span in ready:
                self._put(span)
                waiting.remove(span)
        return self._chained(list({id(a): a for a in map(self._within.get, names)}.values()))

    def _stands(self, on: str) -> bool:
        return on == TRACK or on in self._within

    def _put(self, span: Span) -> None:
        if span.high <= span.low:
            raise ValueError(f"the supports of {span.name} are not apart")
        if span.low_on == span.high_on != TRACK:
            self._same_as[span.name] = self.host(span.low_on)
            self._within[span.name] = self._within[span.low_on]
            return
        low, low_at = self._support(span, "low")
        high, high_at = self._support(span, "high")
        if low is high:
            raise ValueError(f"{span.name} stands on two frames that are not free of one another")
        joined = _Joined(span.name, low, low_at, high, high_at)
        self._within[span.name] = joined
        for name, assembly in self._within.items():
            if assembly is low or assembly is high:
                self._within[name] = joined

    def _support(self, span: Span, end: Literal["low", "high"]) -> tuple[_Assembly, _At]:
        u, on = (span.low, span.low_on) if end == "low" else (span.high, span.high_on)
        if on == TRACK:
            axle = _Axle(f"{span.name}, {end} axle", u)
            return axle, _At(axle.name, u)
        return self._within[on], _At(self.host(on), u)

    @staticmethod
    def _chained(assemblies: list[_Assembly]) -> _Assembly:
        """In order of place, the nearest axles of neighbours keep their distance (G2)."""
        first, *rest = sorted(
            assemblies, key=lambda a: sum(x.u for x in a.axles()) / len(a.axles())
        )
        train = first
        for before, after in zip([first, *rest], rest, strict=False):
            one, other = min(
                product(before.axles(), after.axles()), key=lambda pair: abs(pair[1].u - pair[0].u)
            )
            if other.u <= one.u:
                raise ValueError(f"{one.name} and {other.name} are not in order of place")
            train = _Joined("", train, _At(one.name, one.u), after, _At(other.name, other.u))
        return train

    def host(self, name: str) -> str:
        """The frame along whose base line a frame lies: itself, if it is fixed on none."""
        return self._same_as.get(name, name)

    def supports(self, name: str) -> list[tuple[str, float]]:
        """What holds a frame up, low and high: an axle's or a frame's name, and where (u)."""
        span = self.spans[self.host(name)]
        return [
            (self.host(on) if on != TRACK else f"{span.name}, {end} axle", u)
            for end, on, u in (
                ("low", span.low_on, span.low),
                ("high", span.high_on, span.high),
            )
        ]

    def axles_of(self, name: str) -> list[int]:
        """Which of the axles carry a frame: columns of `BruteStand.axles`."""
        if name in self.axle_names:
            return [self.axle_names.index(name)]
        return sorted({axle for on, _ in self.supports(name) for axle in self.axles_of(on)})

    def stand(self, way: BruteWay, t: Array) -> BruteStand:
        """Where everything is, for each place of the reference axle (n,). [rad]"""
        stood = self.root.stand(way, t, {})
        axles = np.stack([stood.axles[name][0] for name in self.axle_names], axis=1)
        rolls = {name: way.roll(stood.axles[name][0]) for name in self.axle_names}
        poses: dict[str, BrutePose] = {}

        def roll(name: str) -> Array:
            if name not in rolls:
                low, high = (roll(on) for on, _ in self.supports(name))
                rolls[name] = (low + high) / 2
            return rolls[name]

        for name, span in self.spans.items():
            start, uphill, u = stood.bases[self.host(name)]
            origin = (start + (span.zero - u) * uphill).T
            x = span.sense * uphill.T
            level = unit(np.cross([0.0, 0.0, 1.0], x))
            upright = np.cross(x, level)
            # Front uphill on a counterclockwise helix, the axis is on the left.
            lean = -span.sense * way.track.turning * roll(self.host(name))[:, None]
            y = np.cos(lean) * level + np.sin(lean) * upright
            near = axles[:, self.axles_of(name)].mean(axis=1)
            poses[name] = BrutePose(axles, origin, x, y, np.cross(x, y), near)
        return BruteStand(axles, poses)


def spans_of(
    car: BruteCar | BruteVehicle, facing: Facing, zero_mm: float = 0.0, prefix: str = ""
) -> list[Span]:
    """The frames of a vehicle along the track, its x = 0 at `zero_mm`; names get the prefix."""
    spans = []
    for frame in car.frames:
        front, rear = (
            (at, on if on == TRACK else prefix + on)
            for at, on in ((frame.front_mm, frame.front_on), (frame.rear_mm, frame.rear_on))
        )
        sense, low, high = (1, rear, front) if facing == "front uphill" else (-1, front, rear)
        ends = (zero_mm - sense * low[0], low[1], zero_mm - sense * high[0], high[1])
        spans.append(Span(prefix + frame.name, *ends, sense, zero_mm))
    return spans


@lru_cache(maxsize=256)
def rig_of(car: BruteCar | BruteVehicle, facing: Facing) -> Rig:
    """A vehicle ready to stand on a track, one way round."""
    return Rig(spans_of(car, facing))


# --- searching ----------------------------------------------------------------------------------


def _root(
    f: Callable[[Array], Array], guess: Array, width: float, enough: float, slope: float
) -> Array:
    """Where f = 0, for each element.

    f [mm] is a distance too long or too short, and grows, by about `slope` per radian. Secants
    mostly find it; false position, Illinois' way, always does: it begins within `width` of the
    guess and goes further out where it must.
    """
    before, f_before = guess, f(guess)
    here = guess - f_before / slope
    for _ in range(6):
        if np.all(np.abs(f_before) <= enough):
            return before
        f_here = f(here)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = f_here * (here - before) / (f_here - f_before)
        step = np.where(np.abs(f_here) <= enough, 0.0, step)  # nan: it has arrived
        if not np.all(np.abs(here - step - guess) < 3 * width + 1e-6):
            break
        before, f_before, here = here, f_here, here - step
    return _root_between(f, guess, width, enough)


def _root_between(f: Callable[[Array], Array], guess: Array, width: float, enough: float) -> Array:
    low, high = guess - width, guess + width
    f_low, f_high = f(low), f(high)
    step = width
    while np.any(f_low > 0) or np.any(f_high < 0):
        step *= 2
        if step > 2 * math.pi:
            raise ValueError("it cannot stand: its supports are not that far apart on this track")
        down, up = f_low > 0, f_high < 0
        if down.any():
            high, f_high = np.where(down, low, high), np.where(down, f_low, f_high)
            low = np.where(down, low - step, low)
            f_low = np.where(down, f(low), f_low)
        if up.any():
            low, f_low = np.where(up, high, low), np.where(up, f_high, f_low)
            high = np.where(up, high + step, high)
            f_high = np.where(up, f(high), f_high)
    last_moved = np.zeros_like(low)
    for _ in range(200):
        middle = high - f_high * (high - low) / np.where(f_high > f_low, f_high - f_low, 1.0)
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
