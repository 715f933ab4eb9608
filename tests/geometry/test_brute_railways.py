"""Does the slow drive hold on whole random railways? Against clouds of points, and its own mirror.

The railways of `random_railway` have all that a club may build: surveys, leads, cant, obstacles,
articulated stock. What is checked here does not ask how a least gap was found, but whether any
point of any block ever comes closer.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tests.geometry.brute_force import (
    FACINGS,
    BruteCar,
    BruteCoupled,
    BruteVehicle,
    block_side_radii_mm,
    coupling,
    obstacle_side_gaps_mm,
    overhead_gaps_mm,
    stand,
    theta_between,
    truck_swings_rad,
    undersides_mm,
)
from tests.geometry.random_railway import BruteRailway, random_railway
from tests.geometry.random_stock import KINDS, random_articulated

UPHILL, DOWNHILL = FACINGS
TURN = 2 * math.pi


def railway_with(seed: int, kind: str) -> BruteRailway:
    """Surveyed, with straight leads, wide enough for that kind of engine or car."""
    rng = np.random.default_rng(seed)
    while True:
        railway = random_railway(rng, articulated=True, straight_leads=True, surveyed=True)
        names = {frame.name for frame in railway.cars[1].frames}
        if names == {frame.name for frame in random_articulated(rng, 32, kind).frames}:
            return railway


# --- clouds of points -----------------------------------------------------------------------------


def cloud(block) -> np.ndarray:
    """Points on a box: a net over its six faces, and closer ones along its edges."""
    low = np.array([block.x_rear_mm, -block.right_mm, block.bottom_mm])
    high = np.array([block.x_front_mm, block.left_mm, block.top_mm])
    points = []
    for parts in ((30, 8, 4), (200, 1, 1), (1, 40, 1), (1, 1, 12)):
        steps = [np.linspace(0, 1, n + 1) for n in parts]
        points.append(np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, 3))
    unit = np.concatenate(points)
    on_face = np.any((unit == 0) | (unit == 1), axis=1)
    return low + unit[on_face] * (high - low)


class Plan:
    """Where points are in plan, told by rays and junctions alone."""

    def __init__(self, railway: BruteRailway, track: int) -> None:
        self.line, self.R = railway.lines[track], railway.tracks[track].radius_mm
        self.s = railway.tracks[track].turning
        self.first = self.line.theta(self.line.first_station)
        self.last = self.line.theta(self.line.last_station)

    def along(self, points, theta):
        """How far beyond the radial line at an angle, and how far out along it."""
        cos, sin = math.cos(theta), math.sin(theta)
        x, y = points[..., 0], self.s * points[..., 1]
        return y * cos - x * sin, x * cos + y * sin

    def angle(self, points, near):
        """Seen from the axis, within half a turn of where the track is at `near` (n, 1)."""
        curve = np.clip(
            near, self.first if self.line.foot else -1e9, self.last if self.line.head else 1e9
        )
        near = curve + np.arctan(near - curve)
        turned = self.s * np.arctan2(points[..., 1], points[..., 0]) - near
        return near + (turned + math.pi) % TURN - math.pi

    def offset(self, points, near):
        """Distance from the centreline, outwards."""
        angle = self.angle(points, near)
        off = np.hypot(points[..., 0], points[..., 1])
        if self.line.foot:
            off = np.where(angle < self.first, self.along(points, self.first)[1], off)
        if self.line.head:
            off = np.where(angle > self.last, self.along(points, self.last)[1], off)
        return off - self.R

    def height(self, t):
        """Railhead at a place, leads too."""
        line = self.line
        if line.foot and t < self.first:
            return float(line.z(np.array(self.first))) + line.foot.grade * self.R * (t - self.first)
        if line.head and t > self.last:
            return float(line.z(np.array(self.last))) + line.head.grade * self.R * (t - self.last)
        return float(line.z(np.array(t)))


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_no_point_of_articulated_stock_comes_closer(kind):
    """Driven in steps over the whole line, a cloud of points is part of the vehicle and part of its
    way: it never comes closer than the drive says; under beams it comes all but as close.
    """
    railway = railway_with(40, kind)
    line, track, car, deck = railway.lines[0], railway.tracks[0], railway.cars[1], railway.decks[0]
    obstacles = railway.overhead[0]
    plan = Plan(railway, 0)
    start, end = theta_between(line, track, car, DOWNHILL)
    theta = np.linspace(start, end, 800)
    found = stand(line, track, car, theta, DOWNHILL)
    gaps = overhead_gaps_mm(line, track, car, deck, DOWNHILL, obstacles)
    # Not the end of a deck over the tier beneath, which no point of a cloud need lie under.
    beams = [gap for gap in gaps if gap.obstacle == "beam" and gap.station == int(gap.station)]
    radii = block_side_radii_mm(line, track, car, DOWNHILL)
    sides = obstacle_side_gaps_mm(line, track, car, obstacles, DOWNHILL)
    under = [gap.gap_mm for gap in gaps if gap.obstacle == "deck"]
    seen = np.full(len(beams), np.inf)
    seen_under = np.inf
    seen_sides = np.full((len(sides), 2), np.inf)
    over_lead = math.acos(track.radius_mm / deck.reach_mm) if line.foot else 0.0
    for number, block in enumerate(car.blocks):
        pose = found.poses[block.frame]
        points, near = pose.points(cloud(block)), pose.near[:, None]
        offset, angle, z = plan.offset(points, near), plan.angle(points, near), points[..., 2]
        assert offset.min() + track.radius_mm > radii[number, 0] - 0.003
        assert offset.max() + track.radius_mm < radii[number, 1] + 0.003
        # Every block comes all but as near and as far as it is said to.
        assert offset.min() + track.radius_mm < radii[number, 0] + 1.5
        assert offset.max() + track.radius_mm > radii[number, 1] - 1.5
        for i, beam in enumerate(beams):
            k = line.theta(beam.station)
            underside = plan.height(k + TURN) - deck.depth_mm - deck.beam_depth_mm
            if beam.station in deck.beam_headroom_mm:
                underside = plan.height(k) + deck.beam_headroom_mm[int(beam.station)]
            # Beams of a straight lead at the head lie square to it.
            square_to = min(k, plan.last - TURN) if line.head else k
            past = plan.along(points, square_to)[0] - (k - square_to) * track.radius_mm
            within = (np.abs(past) <= deck.beam_width_mm / 2) & (np.abs(angle - k) < math.pi / 2)
            seen[i] = min(seen[i], underside - np.where(within, z, -np.inf).max())
        decked = (angle >= plan.first - over_lead) & (angle <= plan.last - TURN)
        deck_mm = line.z(angle + TURN) - deck.depth_mm
        seen_under = min(seen_under, np.where(decked, deck_mm - z, np.inf).min())
        base = cloud(block)[:, 2]
        for i, it in enumerate(obstacles):
            far = {"foot": -1, "head": 1, "": 0}[it.lead] * it.distance_mm
            at = {"foot": plan.first, "head": plan.last, "": line.theta(it.station)}[it.lead]
            if not it.lead and ((line.foot and at < plan.first) or (line.head and at > plan.last)):
                end_of_curve = plan.first if at < plan.first else plan.last
                at, far = end_of_curve, (at - end_of_curve) * track.radius_mm
            past, out = plan.along(points, at)
            within = (np.abs(past - far) <= it.width_mm / 2) & (out > 0)
            within &= (base >= it.bottom_mm) & (base <= it.top_mm) & (np.abs(angle - at) < 1.6)
            outward = (
                np.where(within, offset, -np.inf).max(),
                np.where(within, -offset, -np.inf).max(),
            )
            left, right = outward[::-1] if track.turning > 0 else outward
            room = (it.left_mm - left, it.right_mm - right)
            seen_sides[i] = np.minimum(seen_sides[i], room)
    slope = np.abs(line.slopes).max() / track.radius_mm + track.cant_mm / track.gauge_mm
    step_mm = (theta[1] - theta[0]) * track.radius_mm * 2 + np.ptp(car.corners[..., 0]) / 200
    expected = np.array([beam.gap_mm for beam in beams])
    assert len(beams) > 3
    assert np.all(seen > expected - 0.003)
    assert np.all(seen < expected + 3 * slope * step_mm + 0.5)
    assert_allclose(seen_under, under[0], atol=0.5)
    assert seen_under > under[0] - 0.003
    assert np.all(seen_sides >= np.array(sides).reshape(-1, 2) - 0.003)


# --- the drive against itself ---------------------------------------------------------------------


def everything(railway: BruteRailway, fineness: int = 1) -> np.ndarray:
    """Every figure of the second car on the first track, and of the coupling with the other."""
    line, track, car = railway.lines[0], railway.tracks[0], railway.cars[1]
    figures: list[float] = []
    for facing in FACINGS:
        there = (line, track, car)
        gaps = overhead_gaps_mm(
            *there, railway.decks[0], facing, railway.overhead[0], fineness=fineness
        )
        figures += [gap.gap_mm for gap in gaps]
        figures += list(block_side_radii_mm(*there, facing, fineness).ravel())
        for sides in obstacle_side_gaps_mm(*there, railway.overhead[0], facing, fineness):
            figures += sorted(sides)
        figures += list(undersides_mm(*there, facing, fineness))
        figures += [1000 * swing for swing in truck_swings_rad(*there, facing, fineness).values()]
        cars = [
            BruteCoupled(one, facing, projection)
            for one, projection in zip(railway.cars, railway.projections_mm, strict=True)
        ]
        offsets = coupling(line, track, *cars, fineness)
        figures += [offsets.sideways_mm, offsets.vertical_mm, 1000 * offsets.angle_rad]
    return np.array(figures)


@pytest.mark.parametrize("kind", ["bolsters", "slung"])
def test_finer_steps_change_nothing(kind):
    railway = railway_with(60, kind)
    assert_allclose(everything(railway, 2), everything(railway), rtol=0, atol=0.004)


def mirrored(car: BruteCar | BruteVehicle) -> BruteCar | BruteVehicle:
    blocks = tuple(
        replace(block, left_mm=block.right_mm, right_mm=block.left_mm) for block in car.blocks
    )
    return replace(car, blocks=blocks)


@pytest.mark.parametrize("kind", ["fixed", "tender"])
def test_mirror_images_agree(kind):
    """A helix climbing the other way, with what is left and right exchanged."""
    railway = railway_with(80, kind)
    other = {"counterclockwise": "clockwise", "clockwise": "counterclockwise"}
    image = railway._replace(
        tracks=tuple(replace(track, climbs=other[track.climbs]) for track in railway.tracks),
        cars=tuple(mirrored(car) for car in railway.cars),
        overhead=tuple(
            tuple(replace(it, left_mm=it.right_mm, right_mm=it.left_mm) for it in each)
            for each in railway.overhead
        ),
    )
    assert_allclose(everything(image), everything(railway), rtol=0, atol=0.004)


def test_ten_times_as_large_is_ten_times_as_much():
    """Lengths times ten: every gap too, every angle the same."""
    railway = railway_with(90, "slung")
    line = railway.lines[0]

    def lead(it):
        return it and replace(it, length_mm=10 * it.length_mm)

    grown = railway._replace(
        lines=(
            replace(
                line,
                railhead_mm=tuple(10 * z for z in line.railhead_mm),
                foot=lead(line.foot),
                head=lead(line.head),
            ),
        ),
        tracks=(
            replace(
                railway.tracks[0],
                radius_mm=10 * railway.tracks[0].radius_mm,
                cant_mm=10 * railway.tracks[0].cant_mm,
                gauge_mm=10 * railway.tracks[0].gauge_mm,
            ),
        ),
        cars=tuple(larger(car) for car in railway.cars),
        projections_mm=tuple(10 * projection for projection in railway.projections_mm),
        decks=(
            replace(
                railway.decks[0],
                depth_mm=10 * railway.decks[0].depth_mm,
                beam_depth_mm=10 * railway.decks[0].beam_depth_mm,
                beam_width_mm=10 * railway.decks[0].beam_width_mm,
                beam_headroom_mm={
                    k: 10 * room for k, room in railway.decks[0].beam_headroom_mm.items()
                },
                reach_mm=10 * railway.decks[0].reach_mm,
            ),
        ),
        overhead=(
            tuple(
                replace(
                    it,
                    headroom_mm=10 * it.headroom_mm,
                    width_mm=10 * it.width_mm,
                    distance_mm=10 * it.distance_mm,
                    left_mm=10 * it.left_mm,
                    right_mm=10 * it.right_mm,
                    bottom_mm=10 * it.bottom_mm,
                    top_mm=10 * it.top_mm,
                )
                for it in railway.overhead[0]
            ),
        ),
    )
    figures, large = everything(railway), everything(grown)
    alike = np.isfinite(figures)
    ratio = np.where(np.abs(large[alike] - figures[alike]) < 1e-2, 1.0, 10.0)  # angles do not grow
    assert_allclose(large[alike], ratio * figures[alike], rtol=0, atol=0.03)
    assert (ratio == 10).sum() > alike.sum() / 2


def larger(car: BruteCar | BruteVehicle) -> BruteCar | BruteVehicle:
    blocks = tuple(
        replace(
            block,
            **{name: 10 * value for name, value in vars(block).items() if name.endswith("_mm")},
        )
        for block in car.blocks
    )
    if isinstance(car, BruteCar):
        return BruteCar(10 * car.wheelbase_mm, 10 * car.truck_wheelbase_mm, blocks)
    frames = tuple(
        replace(frame, rear_mm=10 * frame.rear_mm, front_mm=10 * frame.front_mm)
        for frame in car.frames
    )
    return BruteVehicle(frames, blocks)


# --- what the cases are ---------------------------------------------------------------------------


def test_random_railways_are_of_every_kind():
    railways = [random_railway(np.random.default_rng(seed)) for seed in range(150)]
    radii = [railway.tracks[0].radius_mm for railway in railways]
    assert 150 <= min(radii) < 300
    assert 3000 < max(radii) <= 10_000
    assert {railway.tracks[0].climbs for railway in railways} == {"clockwise", "counterclockwise"}
    assert {len(railway.tracks) for railway in railways} == {1, 2}
    assert {(r.foot is None, r.head is None) for r in railways} == {
        (a, b) for a in (True, False) for b in (True, False)
    }
    assert any(railway.tracks[0].cant_mm > 0 for railway in railways)
    assert any(min(k for k, *_ in railway.profile) < 0 for railway in railways if railway.profile)
    rows = [row for railway in railways for row in railway.survey]
    assert any(row.track is not None for row in rows)
    assert any(row.station != int(row.station) for row in rows)
    assert any(row.headroom_mm > 0 and row.station == int(row.station) for row in rows)
    assert any(row.headroom_mm > 0 and row.station != int(row.station) for row in rows)
    placed = [it for railway in railways for it in railway.obstacles]
    assert {it.obstacle.lead for it in placed} == {"", "foot", "head"}
    assert any(it.track is None for it in placed)
    assert any(math.isfinite(it.obstacle.left_mm) for it in placed)
    assert any(it.obstacle.bottom_mm > 0 for it in placed)
    kinds = {tuple(sorted(f.name for f in railway.cars[1].frames)) for railway in railways}
    assert len(kinds) >= len(KINDS) + 2  # a plain car with and without trucks beside them
    grades = [r.rise_per_turn_mm / (TURN * r.tracks[0].radius_mm) for r in railways]
    assert min(grades) > 0
    assert max(grades) <= 0.08 + 1e-12


def test_what_is_written_down_is_what_the_drive_takes():
    """A reading that names the track wins over one for all, that over the profile, the design."""
    checked = 0
    for seed in range(30):
        railway = random_railway(np.random.default_rng(seed))
        for number, line in enumerate(railway.lines):
            known = dict(zip(line.stations, line.railhead_mm, strict=True))
            step = railway.rise_per_turn_mm / railway.brackets_per_turn
            profile = dict(railway.profile)
            last_design = math.floor(railway.turns * railway.brackets_per_turn + 1e-9)
            wanted = {*range(last_design + 1), *profile, *(row.station for row in railway.survey)}
            assert set(known) == wanted
            for k in wanted:
                rows = [row for row in railway.survey if row.station == k]
                rows.sort(key=lambda row: row.track is None)
                mine = [row.railhead_mm for row in rows if row.track in (number, None)]
                expected = mine[0] if mine else profile.get(k, step * k)
                assert_allclose(known[k], expected, atol=1e-12)
                checked += 1
            assert line.first_station <= min(0, *wanted)
            assert line.last_station >= max(railway.turns * railway.brackets_per_turn, *wanted)
    assert checked > 500
