"""How far does a vehicle reach to the sides? The slow drive past posts and others (G5, G6).

Part of `tests.geometry.brute_force`, which says what it is for. The places of a box nearest to the
axis lie on edges, the furthest are corners; beside a straight lead both are corners, or where an
edge passes from curve to straight.
"""

import math
from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

import numpy as np

from tests.geometry.brute_drive import (
    CELLS,
    EDGES,
    TOLERANCE_MM,
    Drive,
    Fall,
    drive_of,
    least,
    pick,
)
from tests.geometry.brute_gaps import BruteObstacle, Strips, strip_of
from tests.geometry.brute_line import Array, BruteLine, BruteTrack, BruteWay, Ints
from tests.geometry.brute_stock import FACINGS, BruteBlock, BruteCar, BruteVehicle, Facing

__all__ = [
    "SideGap",
    "block_side_radii_mm",
    "meeting_gap_mm",
    "obstacle_side_gaps_mm",
    "side_radii_mm",
]

HEIGHT_SLACK_MM = 2.0  # G6: each height range is widened by this

_Car = BruteCar | BruteVehicle


class SideGap(NamedTuple):
    """Least room beside an obstacle's left and right face, looking uphill. inf: none comes by."""

    left_mm: float
    right_mm: float


def block_side_radii_mm(
    line: BruteLine, track: BruteTrack, car: _Car, facing: Facing, fineness: int = 1
) -> Array:
    """R and the least and the greatest sideways offset that each block reaches (G5): (blocks, 2).

    On the curve these are distances from the helix axis. [mm]
    """
    drive = drive_of(line, track, car, facing)
    way, blocks = drive.way, len(car.blocks)
    block = np.tile(np.arange(blocks), 2)
    furthest = np.repeat([False, True], blocks)

    def value(places: Array, run: Ints) -> tuple[Array, Ints]:
        corners, axles, near = drive.boxes(places, block[run])
        outmost, corner = pick(way.radii(corners, near), np.argmax)
        inmost, edge = _inmost(way, corners, near)
        point = np.where(furthest[run], corner, edge)
        return np.where(furthest[run], -outmost, inmost), np.column_stack([point, axles])

    def fall(left: Array, right: Array, run: Ints) -> Fall:
        return _sway(drive, left, right, block[run])

    runs = drive.everywhere(2 * blocks, fineness)
    best = least(value, runs, 2 * blocks, fall, TOLERANCE_MM / fineness).value
    return np.stack([best[:blocks], -best[blocks:]], axis=1)


def side_radii_mm(
    line: BruteLine, track: BruteTrack, car: _Car, facing: Facing, fineness: int = 1
) -> tuple[float, float]:
    """r_min and r_max of the whole car over every position (G5). [mm]"""
    radii = block_side_radii_mm(line, track, car, facing, fineness)
    return float(radii[:, 0].min()), float(radii[:, 1].max())


def _sway(drive: Drive, left: Array, right: Array, block: Ints) -> Fall:
    """How fast a block may move sideways between positions."""
    # Along the curve only a change of pitch moves a point in or out, by less than its arm from
    # the middle of its supports.
    down, up = drive.slopes(left, right, block)
    tipping = 2 * drive.tips[block] * (up - down)
    arm = drive.arms[block]
    straightening = drive.straightening(left, right, block)
    bend = tipping**2 * arm * (1 + arm / drive.inmost_mm)
    bend = bend + np.where(straightening, 4 * drive.levers[block] * drive.way.R, 0.0)
    return Fall(tipping * arm + drive.swing(block, straightening), bend)


def _tried(way: BruteWay, corners: Array, more: Sequence[Array] = ()) -> Array:
    """Points of the edges of boxes (n, 8, 3) of which one is nearest to the axis: the ends, where
    the edge is square to the radius, where it passes from curve to straight; and at fractions
    `more`. (n, k, 3)"""
    a = corners[:, EDGES[:, 0]]
    d = corners[:, EDGES[:, 1]] - a
    with np.errstate(divide="ignore", invalid="ignore"):  # nan: no such place
        square = -np.sum((a * d)[..., :2], axis=-1) / np.sum((d * d)[..., :2], axis=-1)
        passing = [-way.along(a, t) / way.along(d, t) for t in way.junctions]
    t = np.stack([np.zeros_like(square), np.ones_like(square), square, *passing, *more], axis=-1)
    t = np.where((t >= 0) & (t <= 1), t, 0.0)[..., None]  # elsewhere: the end again, no harm
    return np.asarray((a[:, :, None] + t * d[:, :, None]).reshape(len(corners), -1, 3))


def _inmost(way: BruteWay, corners: Array, near: Array) -> tuple[Array, Ints]:
    return pick(way.radii(_tried(way, corners), near), np.argmin)


# --- beside an obstacle ---------------------------------------------------------------------------


def obstacle_side_gaps_mm(
    line: BruteLine,
    track: BruteTrack,
    car: _Car,
    obstacles: Sequence[BruteObstacle],
    facing: Facing,
    fineness: int = 1,
) -> list[SideGap]:
    """The least room beside the left and the right face of each obstacle (G5)."""
    drive = drive_of(line, track, car, facing)
    way = drive.way
    contests = [
        (it, strip_of(way, it), side)
        for it in obstacles
        for side in ("left", "right")
        if math.isfinite(it.left_mm if side == "left" else it.right_mm)
    ]
    pairs = [
        (number, block)
        for number, (it, _, _) in enumerate(contests)
        for block, box in enumerate(drive.blocks)
        if box.bottom_mm <= it.top_mm and box.top_mm >= it.bottom_mm
    ]
    which, block = np.array(pairs, dtype=np.intp).reshape(-1, 2).T
    strips = Strips.of([contests[number][1] for number in which])
    face = np.array([it.left_mm if side == "left" else it.right_mm for it, _, side in contests])
    # The axis is on the left of the way up, where it climbs counterclockwise.
    inside = np.array([(side == "left") == (track.turning > 0) for _, _, side in contests])
    share = np.array(
        [_height_share(drive.blocks[b], contests[number][0]) for number, b in pairs]
    ).reshape(-1, 2)
    low, high = strips.beneath(drive, block)

    def gap(places: Array, pair: Ints) -> tuple[Array, Ints]:
        corners, axles, near = drive.boxes(places, block[pair])
        corners = _sliced(corners, share[pair])
        mine = strips.some(pair)
        side = inside[which[pair]]
        offset, point = _furthest_within(way, corners, near, mine, side)
        return face[which[pair]] - offset, np.column_stack([point, axles])

    def fall(left: Array, right: Array, pair: Ints) -> Fall:
        # A side that lies askew to the track slides along the strip.
        number = block[pair]
        sway = _sway(drive, left, right, number)
        return Fall(
            sway.rate + 2 * drive.spans_mm[number], 2 * sway.bend + 4 * way.R * drive.levers[number]
        )

    step = np.maximum(high - low, 1e-9) / (CELLS * fineness)
    runs = drive.runs(low, high, step, which, np.arange(len(which)))
    value = least(gap, runs, len(contests), fall, TOLERANCE_MM / fineness).value
    found = {(id(it), side): float(v) for (it, _, side), v in zip(contests, value, strict=True)}
    return [
        SideGap(found.get((id(it), "left"), math.inf), found.get((id(it), "right"), math.inf))
        for it in obstacles
    ]


def _height_share(block: BruteBlock, it: BruteObstacle) -> tuple[float, float]:
    """From which to which fraction of its height a block is beside an obstacle."""
    tall = block.top_mm - block.bottom_mm
    if tall == 0:
        return 0.0, 1.0
    return (
        max(0.0, (it.bottom_mm - block.bottom_mm) / tall),
        min(1.0, (it.top_mm - block.bottom_mm) / tall),
    )


def _sliced(corners: Array, share: Array) -> Array:
    """The part of boxes (n, 8, 3) between two fractions of their height (n, 2)."""
    below, above = corners[:, 0::2], corners[:, 1::2]
    sliced = np.empty_like(corners)
    sliced[:, 0::2] = below + share[:, :1, None] * (above - below)
    sliced[:, 1::2] = below + share[:, 1:, None] * (above - below)
    return sliced


def _furthest_within(
    way: BruteWay, corners: Array, near: Array, strips: Strips, inside: Ints
) -> tuple[Array, Ints]:
    """How far boxes (n, 8, 3) reach towards the axis, or away from it, from their track within a
    strip, and with which point. -inf: nothing is within."""
    _, along = strips.seen(way, corners)
    start = along[:, EDGES[:, 0]]
    run = along[:, EDGES[:, 1]] - start
    half = strips.half_mm[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):  # nan: no such place
        sides = [(side - start) / run for side in (-half, half)]
    points = _tried(way, corners, sides)
    out, along = strips.seen(way, points)
    within = (np.abs(along) <= half + 1e-9 * way.R) & (out > 0)
    offset = way.radii(points, near) - way.R
    offset = np.where(inside[:, None], -offset, offset)
    return pick(np.where(within, offset, -np.inf), np.argmax)


# --- meets ----------------------------------------------------------------------------------------


def meeting_gap_mm(
    line: BruteLine,
    inner_track: BruteTrack,
    inner_car: _Car,
    outer_track: BruteTrack,
    outer_car: _Car,
    fineness: int = 1,
    outer_line: BruteLine | None = None,
) -> float:
    """The least gap between two cars that pass, each both ways round (G6). [mm]

    `outer_line` is the outer track's own line, where it has one. inf where no block of the one is
    level with any block of the other.
    """
    worst = math.inf
    inner_by_facing = [
        block_side_radii_mm(line, inner_track, inner_car, facing, fineness) for facing in FACINGS
    ]
    outer_by_facing = [
        block_side_radii_mm(outer_line or line, outer_track, outer_car, facing, fineness)
        for facing in FACINGS
    ]
    for inner, outer in product(inner_by_facing, outer_by_facing):
        for (i, one), (j, other) in product(
            enumerate(inner_car.blocks), enumerate(outer_car.blocks)
        ):
            apart = max(one.bottom_mm - other.top_mm, other.bottom_mm - one.top_mm)
            if apart <= 2 * HEIGHT_SLACK_MM:
                worst = min(worst, float(outer[j, 0] - inner[i, 1]))
    return worst
