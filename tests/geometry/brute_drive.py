"""The slow drive itself: every position of a vehicle along a line, and the least of anything there.

Part of `tests.geometry.brute_force`, which says what it is for. `least` drives a coarse drive
first, then ever finer steps wherever the value could still fall by more than `TOLERANCE_MM`. How
fast it can fall is bounded from how steep the track is there, how far the block reaches beyond its
supports, and whether the vehicle is just going over from curve to straight.
"""

import math
from collections.abc import Callable, Sequence
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np

from tests.geometry.brute_line import Array, BruteLine, BruteTrack, BruteWay, Ints
from tests.geometry.brute_rig import BruteStand, Rig, rig_of
from tests.geometry.brute_stock import BruteBlock, BruteCar, BruteVehicle, Facing

__all__ = [
    "CELLS",
    "EDGES",
    "TOLERANCE_MM",
    "Drive",
    "Fall",
    "Found",
    "Runs",
    "drive_of",
    "least",
    "nearest_to_grade",
    "pick",
    "theta_between",
]

TOLERANCE_MM = 0.002  # how far a least gap may lie above the true one
CELLS = 24  # at least as many steps to the way that a block is beneath an obstacle

# Corners that differ in one coordinate alone are joined by an edge.
EDGES = np.array([(i, j) for i in range(8) for j in range(i) if (i ^ j) in (1, 2, 4)])


class Fall(NamedTuple):
    """How much lower than at both ends a value may come between two positions: `rate` per radian
    apart; or, where the same point decides at both ends, `bend` per radian apart squared.
    """

    rate: Array
    bend: Array


class Runs(NamedTuple):
    """Drives from `low` to `high` with steps of at most `step`; several may be in one `contest`.

    `what` says which of the caller's things each one is about.
    """

    low: Array
    high: Array
    step: Array
    contest: Ints
    what: Ints


class Found(NamedTuple):
    """The least value of each contest, its position and what won it (inf, nan, -1: nothing)."""

    value: Array
    position: Array
    what: Ints


def least(
    value: Callable[[Array, Ints], tuple[Array, Ints]],
    runs: Runs,
    contests: int,
    fall: Callable[[Array, Array, Ints], Fall],
    tolerance: float = TOLERANCE_MM,
) -> Found:
    """The least value over all positions, for each contest.

    `value(position, what)` gives the values and, (n, k), what decides each: which edge or corner,
    and on which straight stretch of track each axle stands. `fall(left, right, what)` says how much
    lower the value can come between two positions. Steps are quartered again and again wherever
    the least could still fall by more than the tolerance.
    """
    best = Found(np.full(contests, np.inf), np.full(contests, np.nan), np.full(contests, -1))

    def ask(places: Array, run: Ints) -> tuple[Array, Ints]:
        values, deciding = value(places, runs.what[run])
        order = np.argsort(values)[::-1]  # the least of a contest is written last, and stays
        contest = runs.contest[run[order]]
        order = order[values[order] < best.value[contest]]
        contest = runs.contest[run[order]]
        best.value[contest] = values[order]
        best.position[contest] = places[order]
        best.what[contest] = runs.what[run[order]]
        return values, deciding

    grids = [_lattice(*run) for run in zip(runs.low, runs.high, runs.step, strict=True)]
    if not grids:
        return best
    places = np.concatenate(grids)
    run = np.repeat(np.arange(len(grids)), [len(grid) for grid in grids])
    values, deciding = ask(places, run)
    inside = np.flatnonzero(run[:-1] == run[1:])
    left, right, run = places[inside], places[inside + 1], run[inside]
    ends = np.stack([values[inside], values[inside + 1]])
    who = np.stack([deciding[inside], deciding[inside + 1]])
    while True:
        step = right - left
        smooth = np.all(who[0] == who[1], axis=-1)
        rate, bend = fall(left, right, runs.what[run])
        floor = ends.min(axis=0) - np.where(smooth, np.minimum(bend * step, rate), rate) * step
        wanted = np.flatnonzero(floor < best.value[runs.contest[run]] - tolerance)
        if not len(wanted):
            return best
        left, step, run = left[wanted], step[wanted], run[wanted]
        quarters = left[:, None] + step[:, None] * np.array([0.0, 0.25, 0.5, 0.75, 1.0])
        quarters[:, -1] = right[wanted]
        inner, inner_who = ask(quarters[:, 1:-1].ravel(), np.repeat(run, 3))
        values = np.column_stack([ends[0, wanted], inner.reshape(-1, 3), ends[1, wanted]])
        inner_who = inner_who.reshape(len(wanted), 3, -1)
        deciding = np.concatenate([who[0, wanted, None], inner_who, who[1, wanted, None]], axis=1)
        left, right = quarters[:, :-1].ravel(), quarters[:, 1:].ravel()
        ends = np.stack([values[:, :-1].ravel(), values[:, 1:].ravel()])
        who = np.stack([deciding[:, :-1], deciding[:, 1:]]).reshape(2, len(left), -1)
        run = np.repeat(run, 4)


def _lattice(low: float, high: float, step: float) -> Array:
    """Positions from low to high on a grid that many runs share: they cost one pose."""
    if high <= low:
        return np.array([low])
    step = 2.0 ** math.floor(math.log2(step))
    inner = step * np.arange(math.floor(low / step) + 1, math.ceil(high / step))
    return np.concatenate([[low], inner, [high]])


def pick(values: Array, which: Callable[..., Ints]) -> tuple[Array, Ints]:
    """The one of each row that `which` (argmin, argmax) says, and the first that is as good: an
    upper and a lower corner do not take turns by rounding."""
    row = np.arange(len(values))
    best = values[row, which(values, axis=1)]
    with np.errstate(invalid="ignore"):  # inf - inf: nothing is there at all
        number = np.argmax(np.abs(values - best[:, None]) <= 1e-7, axis=1)
    return np.where(np.isfinite(best), values[row, number], best), number


def nearest_to_grade(
    way: BruteWay, edges: Array, near: Array, ahead: float, limits: Array
) -> Array:
    """Points of edges (n, e, 2, 3) of which one is as far above or below the railhead `ahead`
    radians on as any: its ends, where it passes a change of grade or one of the `limits` [rad], and
    where it climbs just as the railhead does. (n, k, 3)
    """
    a = edges[:, :, :1]
    d = edges[:, :, 1:] - a
    # Only the changes of grade abreast of the edges: from `low` on, `more` of them at most.
    abreast = way.bearings(edges.reshape(len(edges), -1, 3), near) + ahead
    low, high = (way.stretch(end(abreast, axis=1)) for end in (np.min, np.max))
    more = int((high - low).max())
    breaks = np.append(way.breaks, np.inf) - ahead
    number = np.minimum(low[:, None] + np.arange(more), len(breaks) - 1)
    limits = np.broadcast_to(limits, (len(edges), len(limits)))
    bends = np.column_stack([breaks[number], limits])[:, None, :]
    number = np.minimum(low[:, None] + np.arange(more + 1), len(way.slopes) - 1)
    slopes = way.slopes[number][:, None, :]
    with np.errstate(divide="ignore", invalid="ignore"):  # nan: no such place
        passing = -way.along(a, bends) / way.along(d, bends)
        # slope * dtheta/dt = dz/dt, with dtheta/dt = (a x d) / r^2: a quadratic in t for r^2.
        spin = way.track.turning * (a[..., 0] * d[..., 1] - a[..., 1] * d[..., 0])
        square = slopes * spin / d[..., 2]
        aa, ad, dd = (np.sum((p * q)[..., :2], axis=-1) for p, q in ((a, a), (a, d), (d, d)))
        root = np.sqrt(ad**2 - dd * (aa - square))
        steep = np.concatenate([(-ad - root) / dd, (-ad + root) / dd], axis=-1)
    ends = np.broadcast_to([0.0, 1.0], (*edges.shape[:2], 2))
    t = np.concatenate([ends, passing, steep], axis=-1)
    t = np.where((t >= 0) & (t <= 1), t, 0.0)[..., None]  # elsewhere: the end again, no harm
    return np.asarray((a + t * d).reshape(len(edges), -1, 3))


class Drive:
    """One rig over a whole line: its positions, and how far each block reaches."""

    def __init__(self, way: BruteWay, rig: Rig, blocks: Sequence[BruteBlock], what: str) -> None:
        self.way, self.rig, self.blocks = way, rig, tuple(blocks)
        self.corners = np.stack([block.corners for block in blocks])
        self.hosts = [rig.host(block.frame) for block in blocks]
        self.start = self._when(way.start, np.max)
        self.end = self._when(way.end, np.min)
        station = way.line.theta(1.0)
        n = math.ceil((self.end - self.start) / min(station / 8, 0.02))
        self.grid = np.linspace(self.start, self.end, max(n, 64) + 1)
        self.coarse = station / 8
        """A step that is fine enough where a block is beneath something all the way. [rad]"""

        stand = rig.stand(way, self.grid)
        bearings, places, inmost, outmost = [], [], math.inf, 0.0
        for block, corners in zip(blocks, self.corners, strict=True):
            pose = stand.poses[block.frame]
            points = pose.points(corners)
            bearings.append(way.bearings(points, pose.near))
            places.append(way.places(points, pose.near))
            radii = way.radii(points, pose.near)
            towards = np.stack([np.cos(way.bearing(pose.near)), np.sin(way.bearing(pose.near))])
            towards[1] *= way.track.turning
            facing = np.einsum("nkc,cn->nk", points[..., :2], towards)
            if facing.min() <= 0:
                raise ValueError(f"{what} reaches over the axis of {way.track}")
            inmost = min(inmost, float(facing.min()), float(radii.min()))
            outmost = max(outmost, float(radii.max()))
        self.inmost_mm, self.outmost_mm = inmost, outmost
        self._bearings, self._places = np.stack(bearings), np.stack(places)  # (blocks, n, 8)
        self._reaches(stand)

    # --- positions ---

    def _when(self, target: float, which: Callable[[Array], float]) -> float:
        """The position where the first (max) or last (min) part comes to a place."""
        low, high = target - math.pi, target + math.pi
        while high - low > 1e-11 * max(1.0, abs(low)):
            tried = np.linspace(low, high, 65)
            stand = self.rig.stand(self.way, tried)
            ends = []
            for block, corners in zip(self.blocks, self.corners, strict=True):
                pose = stand.poses[block.frame]
                ends.append(self.way.places(pose.points(corners), pose.near))
            reach = np.array([which(row) for row in np.concatenate(ends, axis=1)])
            beyond = int(np.argmax(reach >= target)) if np.any(reach >= target) else 64
            low, high = tried[max(beyond - 1, 0)], tried[max(beyond, 1)]
        return float((low + high) / 2)

    @cached_property
    def _roll_jumps(self) -> Array:
        """Positions where an axle steps from canted onto straight track or back."""
        if self.way.track.roll_rad == 0:
            return np.array([])
        at = self.rig.stand(self.way, self.grid).axles
        events = [
            (axle, junction, cell)
            for junction in self.way.junctions
            for axle, cell in enumerate((at < junction).sum(axis=0))
            if 0 < cell < len(at)
        ]
        axle, cell = (np.array([event[i] for event in events], dtype=np.intp) for i in (0, 2))
        junction = np.array([event[1] for event in events])
        low, high = self.grid[cell - 1], self.grid[cell]
        while np.any(high - low > 1e-11 * np.maximum(1.0, np.abs(low))):
            tried = low + np.linspace(0.0, 1.0, 33)[:, None] * (high - low)
            at = self.rig.stand(self.way, tried.ravel()).axles.reshape(*tried.shape, -1)
            passed = at[:, np.arange(len(axle)), axle] >= junction
            first = np.clip(passed.argmax(axis=0), 1, 32)
            low, high = (tried[first - more, np.arange(len(axle))] for more in (1, 0))
        return np.sort((low + high) / 2)

    def _reaches(self, stand: BruteStand) -> None:
        """What bounds how fast each block can rise, fall and swing."""
        rig, way = self.rig, self.way
        lever, tip, arm, low, high = [], [], [], [], []
        for number, (block, host) in enumerate(zip(self.blocks, self.hosts, strict=True)):
            span = rig.spans[host]
            ends = [span.zero + span.sense * x for x in (block.x_rear_mm, block.x_front_mm)]
            lever.append(max(self.lever(host, u) for u in ends))
            tip.append(self.tip(host))
            middle = (span.low + span.high) / 2
            height = max(abs(block.bottom_mm), abs(block.top_mm))
            arm.append(max(abs(u - middle) for u in ends) + height)
            axles = stand.axles[:, rig.axles_of(host)]
            reach = np.concatenate([axles, self._places[number]], axis=1) - self.grid[:, None]
            pad = 0.05 * (reach.max() - reach.min())  # between these positions it may be more
            low.append(reach.min() - pad)
            high.append(reach.max() + pad)
        self.levers, self.tips, self.arms = np.array(lever), np.array(tip), np.array(arm)
        self.reach_low, self.reach_high = np.array(low), np.array(high)
        self.spans_mm = way.R * (self.reach_high - self.reach_low)

    def lever(self, name: str, u: float) -> float:
        """How much faster than the track a place on a frame may rise or fall."""
        if name not in self.rig.spans:
            return 1.0
        span = self.rig.spans[name]
        over = abs(u - (span.low + span.high) / 2) / (span.high - span.low)
        return (1 + 2 * over) * max(self.lever(on, at) for on, at in self.rig.supports(name))

    def tip(self, name: str) -> float:
        """How fast a frame may pitch, for supports that rise by as much. [1/mm]"""
        span = self.rig.spans[name]
        levers = [self.lever(on, at) for on, at in self.rig.supports(name)]
        return max(levers) / (span.high - span.low)

    def runs(
        self, low: Array, high: Array, step: Array, contest: Ints, what: Ints, rolls: bool = True
    ) -> Runs:
        """Drives between positions on the line; anew wherever an axle steps off the cant, if what
        is asked feels how the frames roll."""
        low, high = np.maximum(low, self.start), np.minimum(high, self.end)
        kept = np.flatnonzero(low <= high)
        runs = Runs(low[kept], high[kept], step[kept], contest[kept], what[kept])
        for jump in self._roll_jumps if rolls else ():
            cut = np.flatnonzero((runs.low < jump) & (runs.high > jump))
            after = runs.low.copy(), runs.high.copy()
            after[1][cut] = jump - 1e-9
            again = Runs(*(column[cut] for column in runs))
            runs = Runs(
                np.append(after[0], np.full(len(cut), jump + 1e-9)),
                np.append(after[1], again.high),
                np.append(runs.step, again.step),
                np.append(runs.contest, again.contest),
                np.append(runs.what, again.what),
            )
        return runs

    def everywhere(self, contests: int, fineness: int, rolls: bool = True) -> Runs:
        """A drive over the whole line for each contest."""
        low, high = np.full(contests, self.start), np.full(contests, self.end)
        step, number = np.full(contests, self.coarse / fineness), np.arange(contests)
        return self.runs(low, high, step, number, number, rolls)

    def beneath(
        self, block: Ints, low: Array, high: Array, along_lead: bool | Array
    ) -> tuple[Array, Array]:
        """From which to which position has each block any part between two angles, or between two
        places along a lead? A little too much rather than too little; high < low: never."""
        start, end = np.empty(len(block)), np.empty(len(block))
        along_lead = np.broadcast_to(along_lead, len(block))
        for number in np.unique(block):
            for lead, reach in ((False, self._bearings[number]), (True, self._places[number])):
                these = np.flatnonzero((block == number) & (along_lead == lead))
                first = np.maximum.accumulate(reach.max(axis=1))
                last = np.maximum.accumulate(reach.min(axis=1))
                start[these] = self._at(first, low[these])
                end[these] = self._at(last, high[these])
        height = self.corners[block, :, 2].max(axis=1)
        pad = 0.25 * np.maximum(end - start, 0.0) + 1e-4
        pad = pad + 0.3 * height * math.tan(self.way.track.roll_rad) / self.way.R
        return start - pad, end + pad

    def _at(self, reach: Array, target: Array) -> Array:
        """Where a growing reach comes to a target; beyond the ends it goes on one to one."""
        at = np.interp(target, reach, self.grid)
        return np.asarray(
            at + np.minimum(target - reach[0], 0.0) + np.maximum(target - reach[-1], 0.0)
        )

    # --- where things are ---

    def boxes(self, places: Array, block: Ints) -> tuple[Array, Ints, Array]:
        """Corners in space (n, 8, 3) of a block at a position; what each axle stands on; a place
        of the track beneath."""
        own, row = np.unique(places, return_inverse=True)
        stand = self.rig.stand(self.way, own)
        corners = np.empty((len(places), 8, 3))
        near = np.empty(len(places))
        for number in np.unique(block):
            these = np.flatnonzero(block == number)
            pose = stand.poses[self.blocks[number].frame]
            axes = np.stack([pose.x, pose.y, pose.up], axis=1)[row[these]]
            corners[these] = pose.origin[row[these], None, :] + self.corners[number] @ axes
            near[these] = pose.near[row[these]]
        return corners, self.way.stretch(stand.axles)[row], near

    # --- how fast things change ---

    def slopes(self, low: Array, high: Array, block: Ints) -> tuple[Array, Array]:
        """Least and greatest climb beneath a block and what carries it, from `low` to `high`."""
        return self.way.slopes_between(low + self.reach_low[block], high + self.reach_high[block])

    def straightening(self, low: Array, high: Array, block: Ints) -> Array:
        """Whether a block or what carries it passes a junction, from `low` to `high`."""
        return self.way.turns_into_straight(
            low + self.reach_low[block], high + self.reach_high[block]
        )

    def bend_of_roof(self, down: Array, up: Array, block: Ints, straightening: Array) -> Array:
        """How sharply the roof over one place may rise and fall in passing. [mm/rad2]"""
        steepness = np.maximum(np.abs(down), np.abs(up)) / self.way.R
        steepness = steepness + math.tan(self.way.track.roll_rad)
        tipping = self.levers[block] * self.tips[block] * (up - down)
        swing = np.where(straightening, 1 + self.levers[block], 1.0)
        return np.asarray(8 * (steepness * swing + tipping) * self.outmost_mm)

    def swing(self, block: Ints, straightening: Array) -> Array:
        """How fast a block may move sideways in going from curve to straight. [mm/rad]"""
        return np.where(straightening, 2 * self.levers[block] * self.spans_mm[block], 0.0)


def theta_between(
    line: BruteLine, track: BruteTrack, car: BruteCar | BruteVehicle, facing: Facing
) -> tuple[float, float]:
    """From which to which place of its reference axle has a vehicle any part on the line? [rad]"""
    drive = drive_of(line, track, car, facing)
    return drive.start, drive.end


@lru_cache(maxsize=64)
def drive_of(
    line: BruteLine, track: BruteTrack, car: BruteCar | BruteVehicle, facing: Facing
) -> Drive:
    """A vehicle's drive over a line, one way round."""
    return Drive(BruteWay(line, track), rig_of(car, facing), car.blocks, str(car))
