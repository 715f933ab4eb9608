"""What docs/theory.md says of its formulas: each derivation that no other test works through.

Expected values here are worked out beside the engine, from the text: plain sums, dense positions,
or the same search with every short cut taken away.
"""

import ast
import importlib
import inspect
import math
import pkgutil
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from numpy.testing import assert_allclose

import clearance.geometry
from catalog.helix import Deck, Lead, Obstacle, Posts
from catalog.survey import Reading, Survey
from clearance.geometry import beams, profile, rig
from clearance.geometry.boxes import Boxes, Footing, footing
from clearance.geometry.line import Line
from clearance.geometry.profile import ceiling_gaps_mm, upside_down
from clearance.geometry.ridges import Bounds, Ridges, upper_ridges
from clearance.geometry.rig import Chassis, Rig, coach, settle, wagon
from clearance.geometry.sides import side_reach
from clearance.geometry.stand import half_angle_rad
from clearance.geometry.swept import band, stance_of
from clearance.geometry.swing import truck_swing
from clearance.judge.check import check
from clearance.judge.couplers import couple
from clearance.judge.drive import Drive, drives, overhead_gaps
from clearance.judge.fleet import Fleet
from clearance.judge.partners import FRONT, REAR
from clearance.judge.running import running_columns
from clearance.judge.structure import Structure
from clearance.judge.sweep import sweep
from tests.judge.clubs import car, fleet_of, one_track, random_built, random_fleet, single, slung

THEORY = Path(__file__).resolve().parents[2] / "docs" / "theory.md"

# A boiler slung between two units, the pivots anywhere on them; then a tender behind, on a link.
MALLET = Chassis(4, ((0, 1), (2, 3), (-1, -2)))
WITH_TENDER = Chassis(6, ((0, 1), (2, 3), (4, 5), (-2, -3)), ((1, 2),))


def jagged(rng: np.random.Generator, *, roll_rad: float = 0.0) -> Line:
    """A line whose railheads are off by up to a few parts in a hundred of the way between them."""
    radius, brackets = rng.uniform(300, 1500), int(rng.choice([7, 12, 16]))
    step = 2 * math.pi / brackets
    knots = step * np.arange(-2, 2 * brackets - 2)
    climb = rng.uniform(0, 0.06) * radius
    off = rng.normal(0, 0.012 * radius * step, len(knots))
    return Line(radius, knots, climb * knots + off, knots[0], knots[-1], roll_rad=roll_rad)


def rigs(rng: np.random.Generator, radius_mm: float) -> list[Rig]:
    """One vehicle of each kind, in proportion to the curve."""

    def size(least: float, most: float) -> float:
        return float(rng.uniform(least, most)) * radius_mm

    two = wagon(np.array([size(0.05, 0.4)]))
    four = coach(np.array([size(0.2, 0.4)]), np.array([size(0.03, 0.08)]))
    base, apart = size(0.05, 0.12), size(0.02, 0.06)
    axles = np.cumsum([0.0, base, apart, base])
    pivots = axles[0] + rng.uniform(0.3, 0.9) * base, axles[2] + rng.uniform(0.1, 0.7) * base

    def columns(*figures: float) -> np.ndarray:
        return np.array(figures)[:, None]

    mallet = Rig(
        MALLET,
        columns(*axles),
        columns(axles[0], axles[2], pivots[0]),
        columns(axles[1], axles[3], pivots[1]),
    )
    behind = np.array([-apart - base, -apart])
    tender = Rig(
        WITH_TENDER,
        columns(*behind, *axles),
        columns(behind[0], axles[0], axles[2], pivots[0]),
        columns(behind[1], axles[1], axles[3], pivots[1]),
    )
    return [two, four, mallet, tender]


def box(*figures: float) -> Boxes:
    """One block: x from, x to, left, right, bottom, top. [mm]"""
    return Boxes(np.zeros(1, np.intp), *(np.array([float(figure)]) for figure in figures))


def everywhere(line: Line, foot: Footing, count: int, vehicle: int = 0) -> np.ndarray:
    """Places of the first axle from end to end of a line, and where any axle stands on a knot."""
    low, high = foot.span_rad[:, vehicle]
    knots = (line.knots_rad - foot.ahead_rad[:, vehicle, None]).ravel()
    inside = knots[(knots > low) & (knots < high)]
    return np.unique(np.concatenate([np.linspace(low, high, count), inside]))


def club(seed: int, *, straight: bool | None = None, even: bool = False) -> tuple[Structure, Fleet]:
    """A surveyed helix of two tracks and a few cars, one of them articulated.

    ``even``: its railheads are known at brackets alone.
    """
    rng = np.random.default_rng(seed)
    where, survey = random_built(rng, straight=straight)
    if even:
        survey = at_brackets(survey)
    cars = [*random_fleet(rng, 3).table.cars(), slung(rng, "slung", (190, 215))]
    return Structure(where, survey), fleet_of(*cars)


def at_brackets(survey: Survey) -> Survey:
    """Without what was read between them."""
    whole = (reading for reading in survey.readings if reading.station % 1 == 0)
    return Survey(readings=tuple(whole))


def driven(structure: Structure, fleet: Fleet) -> list[Drive]:
    """Every gear of a fleet, both ways round, on every track."""
    return [it for track in structure.helix.tracks for it in drives(structure, track, fleet)]


# --- G2: frames on supports -----------------------------------------------------------------------


def supports(vehicle: Rig, axles: np.ndarray) -> list[tuple[np.ndarray, np.ndarray, float]]:
    """The two supports of every frame in space, and how far apart they belong; (3,) each."""
    found: list[tuple[np.ndarray, np.ndarray, float]] = []

    def point(on: int, at_mm: float) -> np.ndarray:
        if on >= 0:
            return axles[:, on]
        rear, front, _ = found[-1 - on]
        share = (at_mm - vehicle.rear_mm[-1 - on, 0]) / (
            vehicle.front_mm[-1 - on, 0] - vehicle.rear_mm[-1 - on, 0]
        )
        return rear + share * (front - rear)

    for frame, (rear_on, front_on) in enumerate(vehicle.chassis.rests):
        rear_mm, front_mm = vehicle.rear_mm[frame, 0], vehicle.front_mm[frame, 0]
        found.append((point(rear_on, rear_mm), point(front_on, front_mm), front_mm - rear_mm))
    return found


@pytest.mark.parametrize("seed", range(6))
def test_few_steps_set_every_distance_right(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """From the pose on the even climb one or two steps do, and two or three for what is linked."""
    rounds = [0]
    frames = rig._frames

    def counted(*arguments: object) -> object:
        rounds[-1] += 1
        return frames(*arguments)

    monkeypatch.setattr(rig, "_frames", counted)
    rng = np.random.default_rng(seed)
    line = jagged(rng)
    for vehicle in rigs(rng, line.radius_mm):
        most = 4 if vehicle.chassis.links else 2
        foot = footing(line, vehicle)
        for place in rng.uniform(0, 6, 20):
            rounds[-1] = 0
            pose = settle(line, vehicle, np.zeros(1, int), 0, np.array([place]), foot.ahead_rad)
            at = pose.axle_rad[:, 0]
            axles = np.array(
                [line.radius_mm * np.cos(at), line.radius_mm * np.sin(at), line.height_mm(at)]
            )
            for rear, front, apart in supports(vehicle, axles):
                assert_allclose(np.linalg.norm(front - rear), apart, atol=6e-4)
            for behind, ahead in vehicle.chassis.links:
                apart = vehicle.axle_mm[ahead, 0] - vehicle.axle_mm[behind, 0]
                between = np.linalg.norm(axles[:, ahead] - axles[:, behind])
                assert_allclose(between, apart, atol=6e-4)
            assert rounds[-1] - 1 <= most  # the last round only sees that nothing is left to do


def test_one_step_leaves_the_square_of_what_was_wrong() -> None:
    """Two axles c = 2 R sin(t / 2) apart, e too far on: a step leaves e^2 tan(t / 2) / 4."""
    for turned in (0.2, 0.8, 1.6):
        for wrong in (0.004, -0.002):
            apart = 2 * math.sin((turned + wrong) / 2) - 2 * math.sin(turned / 2)
            left = wrong - apart / math.cos((turned + wrong) / 2)
            assert_allclose(left, -math.tan(turned / 2) / 4 * wrong**2, rtol=0.02)


def test_what_is_ahead_goes_along_the_screw_and_keeps_its_own_distances() -> None:
    """A screw turned and raised lies on itself, so axles moved on together stay as far apart."""
    line = Line(700.0, np.array([0.0, 1.0]), np.array([0.0, 30.0]), 0.0, 6.0)
    at = np.array([1.0, 1.1, 1.35])
    before, after = (
        np.array([700 * np.cos(t), 700 * np.sin(t), line.height_mm(t)]) for t in (at, at + 0.4)
    )
    for one, other in ((0, 1), (1, 2), (0, 2)):
        far = [np.linalg.norm(them[:, one] - them[:, other]) for them in (before, after)]
        assert_allclose(far[0], far[1], rtol=1e-12)


# --- G3: the body's axes --------------------------------------------------------------------------


@pytest.mark.parametrize("rho", [0.0, 0.067])
def test_a_point_of_the_body_lies_where_the_text_says(rho: float) -> None:
    line = Line(600.0, np.array([0.0, 1.0]), np.array([0.0, 40.0]), 0.0, 6.0, roll_rad=rho)
    vehicle = wagon(np.array([250.0]))
    foot = footing(line, vehicle)
    middle = foot.ahead_rad[1, 0] / 2
    left, up = (figures[:, 0] for figures in foot.pose.axes(0))
    x, y, h = 180.0, 45.0, 190.0
    point = foot.pose.middle_mm[0, :, 0] + x * foot.pose.forward[0, :, 0] + y * left + h * up
    turn = np.array([[math.cos(middle), math.sin(middle)], [-math.sin(middle), math.cos(middle)]])
    out, along = turn @ point[:2]

    climb = 40.0
    psi = math.asin(2 * climb * middle / 250.0)
    r_mid = 600.0 * math.cos(middle)
    lifted = h * math.cos(rho) - y * math.sin(rho)
    assert_allclose(out, r_mid - (y * math.cos(rho) + h * math.sin(rho)), atol=1e-3)
    assert_allclose(along, x * math.cos(psi) - lifted * math.sin(psi), atol=1e-3)
    height = x * math.sin(psi) + lifted * math.cos(psi)
    assert_allclose(point[2] - line.height_mm(np.array(middle)), height, atol=1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_a_frame_stands_at_a_weighted_mean_of_the_railheads(seed: int) -> None:
    rng = np.random.default_rng(seed)
    line = jagged(rng)
    for vehicle in rigs(rng, line.radius_mm):
        foot = footing(line, vehicle)
        places = rng.uniform(0, 6, 40)
        pose = settle(line, vehicle, np.zeros(40, int), 0, places, foot.ahead_rad)
        railheads = line.height_mm(pose.axle_rad)
        for frame, weights in enumerate(foot.weights):
            assert_allclose(weights.mid.sum(), 1.0, rtol=1e-12)
            assert_allclose(weights.slope.sum(), 0.0, atol=1e-12)
            middle = (weights.mid * railheads).sum(axis=0)
            assert_allclose(pose.middle_mm[frame, 2], middle, atol=2e-5)
            slope = (weights.slope * railheads).sum(axis=0)
            assert_allclose(pose.forward[frame, 2], slope, atol=1e-5)


def test_the_weights_of_a_coach_by_hand() -> None:
    """Each of four axles a quarter; the slope is that between the two trucks' middles."""
    weights = footing(
        Line(1000.0, np.array([0.0, 1.0]), np.array([0.0, 0.0]), 0.0, 6.0),
        coach(np.array([400.0]), np.array([60.0])),
    ).weights[2]
    assert_allclose(weights.mid[:, 0], [0.25, 0.25, 0.25, 0.25])
    assert_allclose(weights.slope[:, 0], np.array([-1, -1, 1, 1]) / 800)


# --- G4: overhead on a line as built --------------------------------------------------------------


def test_a_point_that_moves_along_a_turning_frame_draws_an_arch() -> None:
    """x and slope both run evenly: x slope stands -dx dslope / 4 above its chord, midway."""
    share = np.linspace(0, 1, 1001)
    for x, slope in (((-40.0, 55.0), (0.05, 0.01)), ((120.0, 20.0), (-0.02, 0.04))):
        height = (x[0] + share * (x[1] - x[0])) * (slope[0] + share * (slope[1] - slope[0]))
        over = height - (height[0] + share * (height[-1] - height[0]))
        assert_allclose(over.max(), -(x[1] - x[0]) * (slope[1] - slope[0]) / 4, rtol=1e-9)
        assert over.argmax() == 500


@pytest.mark.parametrize("middle", [0.0, 0.1, 0.35])
@pytest.mark.parametrize("width", [0.02, 0.1])
def test_a_point_under_the_strip_moves_nearly_evenly(middle: float, width: float) -> None:
    """U tan(angle) leaves its chord by U tan (1 + tan^2) width^2 / 4; a third is counted."""
    angle = middle + np.linspace(-width / 2, width / 2, 401)
    off = np.interp(angle, angle[[0, -1]], np.tan(angle[[0, -1]])) - np.tan(angle)
    furthest = math.tan(abs(middle) + width / 2)
    assert np.abs(off).max() <= furthest * (1 + furthest**2) * width**2 / 4
    assert np.abs(off).max() <= furthest * (1 + furthest**2) * width**2 / 3


def test_under_a_side_of_a_strip_pitch_tells_by_half_its_square() -> None:
    """A roof h up, sloping psi, at s along the track: s tan(psi) + h / cos(psi) over its middle.

    The model takes its lean from the even climb's psi0 and its slope as it is; s apart, that is
    off by h (psi - psi0)^2 / 2.
    """
    h = 200.0
    for even, there in ((0.03, 0.05), (0.06, 0.01), (-0.01, 0.02)):
        true = h / math.cos(there)
        model = h * math.sin(even) * math.sin(there) / math.cos(even) + h * math.cos(even)
        assert_allclose(true - model, h * (there - even) ** 2 / 2, rtol=0.01)


@pytest.mark.parametrize("seed", range(10))
def test_what_is_screened_out_holds_no_least_gap(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every piece worked out, as near a straight lead, finds no smaller gap."""
    structure, fleet = club(seed, straight=False, even=True)
    for drive in driven(structure, fleet):
        track = next(it for it in structure.helix.tracks if it.radius_mm == drive.line.radius_mm)
        undersides = structure.undersides(track)
        for frame, _, boxes in drive.loads:
            found = []
            for every_piece in (False, True):
                with monkeypatch.context() as patch:
                    if every_piece:
                        patch.setattr(beams, "grids", lambda *_: [])
                    found.append(
                        beams.beam_gaps_mm(
                            drive.line,
                            drive.rig,
                            drive.foot,
                            frame,
                            boxes,
                            undersides,
                            np.full(len(drive.cars), np.inf),
                        ).min(axis=1)
                    )
            assert_allclose(found[0], found[1], atol=0.005)


@pytest.mark.parametrize("seed", range(6))
def test_what_is_screened_out_holds_no_least_gap_under_a_deck(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same under a ceiling that follows the line, and over the rails."""
    bounds = profile.bounds_mm

    def nothing_known(*arguments: object) -> Bounds:
        found = bounds(*arguments)
        return found._replace(gap_mm=np.full_like(found.gap_mm, -np.inf))

    structure, fleet = club(seed)
    for drive in driven(structure, fleet):
        track = next(it for it in structure.helix.tracks if it.radius_mm == drive.line.radius_mm)
        deck, below = structure.deck(track), upside_down(drive.line)
        for frame, _, boxes in drive.loads:
            low = Ridges(
                boxes.vehicle, boxes.x_rear_mm, boxes.x_front_mm, 0 * boxes.top_mm, -boxes.bottom_mm
            )
            for line, ridges, ceiling in (
                (drive.line, upper_ridges(boxes), deck),
                (below, low, below),
            ):
                if ceiling is None:
                    continue
                asked = line, drive.rig, drive.foot, frame, ridges, ceiling
                quick = ceiling_gaps_mm(*asked).gap_mm
                with monkeypatch.context() as patch:
                    patch.setattr(profile, "bounds_mm", nothing_known)
                    assert_allclose(quick, ceiling_gaps_mm(*asked).gap_mm, atol=1e-4)


def test_how_far_the_tier_above_covers_a_straight_lead() -> None:
    """A right angle: R, along the lead, and the reach of the tier, which is 3-4-5 here."""
    where = single(
        radius_mm=1200.0,
        brackets_per_turn=24,
        deck=Deck(depth_mm=38.0, beam_depth_mm=24.0, beam_width_mm=38.0),
        posts=Posts(outside_mm=300.0),
        leads=(Lead(at="foot", length_mm=2000.0),),
    )
    structure, track = Structure(where), where.tracks[0]
    undersides, deck = structure.undersides(track), structure.deck(track)
    covered = math.acos(1200 / 1500)
    assert deck is not None
    assert_allclose(deck.start_rad, -covered)
    over_lead = undersides.place_rad < -1e-9
    # 900 mm of it lie beneath the tier; a bracket at 15 degrees is 1200 tan(15) along.
    assert_allclose(1200 * math.tan(covered), 900.0)
    away = np.radians([15.0, 30.0])
    assert_allclose(np.sort(-undersides.place_rad[over_lead]), np.tan(away))
    assert 1200 / math.cos(away[-1]) <= 1500 < 1200 / math.cos(math.radians(45))
    # They hang as high as the tier a turn on from their own stations.
    above = 285 * (1 - away / (2 * math.pi)) - 38 - 24
    assert_allclose(np.sort(undersides.elevation_mm[over_lead]), np.sort(above))


def test_a_ridge_is_nearest_where_it_climbs_as_the_ceiling_does() -> None:
    """Where slope spin / r^2 = forward_z: from that point the gap grows both ways."""
    start, forward, slope = np.array([400.0, -20.0]), np.array([0.02, 0.9991, 0.0374]), 17.0
    x = np.linspace(-400, 400, 80001)
    out, along = start[0] + x * forward[0], start[1] + x * forward[1]
    gap = slope * np.arctan2(along, out) - x * forward[2]
    spin = start[0] * forward[1] - start[1] * forward[0]
    run, across = forward[0] ** 2 + forward[1] ** 2, start @ forward[:2]
    square = start @ start - slope * spin / forward[2]
    roots = (-across + np.array([-1, 1]) * math.sqrt(across**2 - run * square)) / run
    turns = x[1:-1][np.diff(np.sign(np.diff(gap))) != 0]
    assert_allclose(np.sort(turns), np.sort(roots), atol=0.02)


def test_a_bent_line_sags_by_a_quarter_of_what_it_turns() -> None:
    """Turned by k in all over a length, it lies at most k length / 4 off its chord."""
    rng = np.random.default_rng(3)
    for _ in range(200):
        knots = np.sort(np.concatenate([[0.0, 1.0], rng.uniform(0, 1, 4)]))
        heights = rng.normal(0, 1, 6)
        turned = np.abs(np.diff(np.diff(heights) / np.diff(knots))).sum()
        chord = heights[0] + knots * (heights[-1] - heights[0])
        assert np.abs(heights - chord).max() <= turned / 4 + 1e-12
    assert_allclose(abs(0.5 - 0.0), 2.0 * 1.0 / 4)  # one bend, midway: from slope 1 to slope -1


def test_a_deck_between_beams_that_waves_is_looked_at() -> None:
    """Many knots between two brackets: none bends much, and the deck sags below its beams."""
    where = single(turns=1.5, deck=Deck(depth_mm=20.0, beam_depth_mm=10.0, beam_width_mm=10.0))
    step, wave = 285 / 12, 8.9
    readings = []
    for sign, first in ((1, 0), (-1, 12)):
        for part in range(6 * 24):
            station = first + part / 24
            off = sign * wave * math.sin(math.pi * part / 24) ** 2
            readings.append(Reading(station=station, railhead_mm=step * station + off))
    survey = Survey(readings=tuple(readings))
    small = car(length_mm=100.0, wheelbase_mm=80.0, truck_wheelbase_mm=0.0, height_mm=100.0)
    columns = check(where, fleet_of(small), survey).on_track("inner")
    gap = next(column for column in columns if column.check == "overhead").gap_mm[0, 0]
    # Midway between brackets the deck is a wave lower, the roof a wave higher, and it climbs.
    assert gap < 285 - 20 - 100 - 2 * wave + 0.5


# --- G5: sides on a line as built -----------------------------------------------------------------


@pytest.mark.parametrize("seed", range(12))
def test_three_pitches_give_the_band_of_every_position(seed: int) -> None:
    rng = np.random.default_rng(seed)
    line = jagged(rng, roll_rad=float(rng.choice([0.0, 0.06])))
    for vehicle in rigs(rng, line.radius_mm):
        frame = len(vehicle.chassis.rests) - 1
        half = (vehicle.front_mm - vehicle.rear_mm)[frame, 0] / 2
        rear, front = -half * rng.uniform(0.5, 1.4), half * rng.uniform(0.5, 1.4)
        sides = rng.uniform(0.02, 0.06, 2) * line.radius_mm
        block = box(rear, front, *sides, 10, rng.uniform(0.1, 0.2) * line.radius_mm)
        foot = footing(line, vehicle, [(frame, block)])
        found = band(line, vehicle, foot, frame, block)
        places = everywhere(line, foot, 600)
        many = np.zeros(len(places), int)
        pose = settle(line, vehicle, many, 0, places, foot.ahead_rad)
        stance, x_foot, _ = stance_of(line, pose, frame)
        one = block.take(many)
        dense = side_reach(stance, one.x_rear_mm - x_foot, one.x_front_mm - x_foot, *one[3:])
        assert_allclose(found.least_radius_mm[0], dense.least_radius_mm.min(), atol=0.003)
        assert_allclose(found.greatest_radius_mm[0], dense.greatest_radius_mm.max(), atol=0.003)


# --- G8: running ----------------------------------------------------------------------------------


def test_a_truck_turns_under_the_body_by_half_the_angle_between_the_pivots() -> None:
    radius, wheelbase, truck = 800.0, np.array([300.0]), np.array([70.0])
    level = Line(radius, np.array([0.0, 1.0]), np.array([0.0, 0.0]), 0.0, 6.0)
    vehicle = coach(wheelbase, truck)
    swing = truck_swing(level, vehicle, footing(level, vehicle), regular=True).values
    pivots = radius * math.cos(half_angle_rad(truck, radius)[0])
    assert_allclose(swing, math.asin(150.0 / pivots), atol=1e-6)


# --- Accuracy -------------------------------------------------------------------------------------

COSTS = re.compile(
    r"^\| `(\w+)\.(\w+)` \| ([\d.e-]+) \| ([\d.e-]+) \|[^|]+\| ([\d.e-]+) mm \|$", re.MULTILINE
)
CLUBS = 30
# In which of them each constant is tried with every run: where it costs most, or where it counts.
WHERE = {
    0: ("beams._LONGEST_RAD", "beams._WORTH_MM", "grid._SAME", "screen._NEARLY_MM"),
    2: ("follow._FINER", "follow._PARTS", "ridges._ROUNDING_MM", "rig._CLOSE_MM"),
    4: ("rig._STRAIGHT_MM", "screen._ROUNDING_MM", "profile._EVENT_STEPS"),
}
ELSEWHERE = 3
GEOMETRY = {
    it.name: importlib.import_module(f"clearance.geometry.{it.name}")
    for it in pkgutil.iter_modules(clearance.geometry.__path__)
}
# Room for what other tolerances leave can be less only where these leave less.
WITH = {
    "undersides.TOUCHING_MM": ("beams._NEAR_MM", "rig._CLOSE_MM"),
    "rig.JUST_BESIDE_MM": ("rig._CLOSE_MM",),
    "ridges.BESIDE_RAD": ("rig._CLOSE_MM",),
    "swept._TOUCHING_MM": ("swept._PASSES_MM", "passing.PASSING_STEPS", "rig._CLOSE_MM"),
}
# Constants on which no accuracy hangs, beside those that say how much is worked out at once.
OTHERS = {
    "grid._MOST_PARTS": "what is screened, and what is worked out in full",
    "line._ACUTE_RAD": "by a root or by a cosine",
    "line._EVEN_MM": "whether a place has a name of its own",
    "line._MOST_CELLS": "by a table or by a search",
    "line._NEAR_RAD": "what can be near at all",
    "line._STATION_NOISE": "how stations are named",
    "meets.HEIGHT_MARGIN_MM": "G6 says so",
    "passing._APART_RAD": "what is square to the track beneath it, and what aslant",
    "passing._LEAST_SHARE": "how fast a corner is moved to a side",
    "pieces.NO_EVENT": "a mark",
    "rig._STEADY_STEPS": "when it is helped to settle",
    "rig._FURTHEST_RAD": "how what settles nowhere is kept from going astray",
    "screen._NOWHERE_MM": "a mark",
    "stopping.GRAVITY_MM_S2": "a constant of nature",
    "swept._EQUAL_MM": "which of equal places is named",
    "swept._EQUAL_SLOPE": "which of equal places is named",
}
Figures = dict[str, np.ndarray]


class Tolerance(NamedTuple):
    """A row of the table of docs/theory.md: a constant, its value, one that is more exact, and the
    most by which the two differ in any gap."""

    module: str
    name: str
    value: float
    finer: float
    cost_mm: float


@cache
def costs() -> dict[str, Tolerance]:
    """The table of docs/theory.md."""
    return {
        f"{module}.{name}": Tolerance(module, name, *map(float, figures))
        for module, name, *figures in COSTS.findall(THEORY.read_text(encoding="utf-8"))
    }


@cache
def known_club(number: int) -> tuple[Structure, Fleet]:
    """A surveyed helix of one track, a car and an articulated one, of which everything is known.

    Odd numbers have straight leads, with a gate at the end. Of each four two have railheads at
    brackets alone, which can be screened; of each eight four have a deck without beams.
    """
    rng = np.random.default_rng(number)
    where, survey = one_track(*random_built(rng, straight=number % 2 == 1))
    if number % 4 < 2:
        survey = at_brackets(survey)
    gates = tuple(
        Obstacle(name="gate", at=lead.at, distance_mm=lead.length_mm, headroom_mm=221, width_mm=30)
        for lead in where.leads
    )
    where = where.model_copy(update={"obstacles": where.obstacles + gates})
    if number % 8 < 4:
        where = where.model_copy(update={"deck": Deck(depth_mm=61.0)})
    stated = {
        "truck_swing_deg": 40.0,
        "coupler_swing_mm": 9.0,
        "coupler_drop_mm": 9.0,
        "underside_mm": 12.0,
    }
    cars = [
        one.model_copy(update=stated | {"length_over_couplers_mm": one.length_mm + 24.0})
        for one in (*random_fleet(rng, 1).table.cars(), slung(rng, "slung", (190, 215)))
    ]
    return Structure(where, survey), fleet_of(*cars)


def over(structure: Structure, fleet: Fleet) -> Figures:
    """The gaps under everything that hangs over the track, and the least of each car. [mm]"""
    (track,) = structure.helix.tracks
    every = overhead_gaps(structure, track, fleet, every=True)
    assert every.each_mm is not None
    return {
        "least": overhead_gaps(structure, track, fleet).gap_mm,
        "least of each": every.gap_mm,
        "each": every.each_mm,
    }


def beside(structure: Structure, fleet: Fleet) -> Figures:
    """The band that cars sweep, and what they take of the room at each obstacle. [mm]"""
    (track,) = structure.helix.tracks
    found: Figures = {}
    for abreast in (None, *structure.obstacles(track)):
        swept = sweep(structure, track, fleet, abreast=abreast)
        at = abreast.name if abreast else "the whole line"
        found |= {f"inner, {at}": swept.inner.radius_mm, f"outer, {at}": swept.outer.radius_mm}
    return found


def beneath(structure: Structure, fleet: Fleet) -> Figures:
    """The gaps over the rails, at the trucks, and at the couplers of the two cars. [mm]"""
    (track,) = structure.helix.tracks
    found = {
        column.check: column.gap_mm
        for column in running_columns(structure, track, fleet, np.ones(len(fleet), bool), None)
        if column.check in ("underside", "truck_swing")
    }
    for lower, upper in ((0, 1), (1, 0)):
        coupled = couple(structure, track, fleet, (lower, FRONT), (upper, REAR))
        found[f"{lower} coupled with {upper}"] = np.array(coupled.gaps_mm)
    return found


def evenly(structure: Structure, fleet: Fleet) -> Figures:
    """Headroom and band on the same helix as drawn. [mm]"""
    drawn = Structure(structure.helix.model_copy(update={"profile": (), "leads": ()}))
    assert drawn.is_regular
    (track,) = drawn.helix.tracks
    found: Figures = {}
    for number, what in ((0, "car"), (1, "articulated")):
        swept = sweep(drawn, track, fleet.select(np.array([number])), widths_mm=(0.0, 38.0))
        found |= {
            f"required, {what}": swept.required_mm,
            f"inner, {what}": swept.inner.radius_mm,
            f"outer, {what}": swept.outer.radius_mm,
        }
    return found


Question = Callable[[Structure, Fleet], Figures]

# In which gaps a module has a part.
ASKED: dict[str, tuple[Question, ...]] = {
    "rig": (over, beside, beneath, evenly),
    "boxes": (over, beside, beneath),
    "stand": (evenly,),
    "undersides": (over, beside),
    "beams": (over,),
    "passing": (over, beside),
    "grid": (over, beside),
    "screen": (over,),
    "profile": (over, beneath),
    "ridges": (over, beneath),
    "follow": (beneath,),
    "swept": (beside,),
}


@cache
def usual(question: Question, number: int) -> Figures:
    return question(*known_club(number))


def put(patch: pytest.MonkeyPatch, constant: str, value: float) -> None:
    """Change a constant: a public one in every module that has taken it from its own."""
    home, name = constant.split(".")
    now = getattr(GEOMETRY[home], name)
    for module in [GEOMETRY[home]] if name.startswith("_") else GEOMETRY.values():
        if hasattr(module, name):
            patch.setattr(module, name, type(now)(value))


def hold_the_cost(constant: str, number: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The constant made more exact, no gap of a club moves by more than the table says."""
    table = costs()
    for question in ASKED[table[constant].module]:
        as_is = usual(question, number)
        with monkeypatch.context() as patch:
            for it in (constant, *WITH.get(constant, ())):
                put(patch, it, table[it].finer)
            finer = question(*known_club(number))
        assert as_is.keys() == finer.keys()
        for what, gap in as_is.items():
            assert_allclose(gap, finer[what], rtol=0, atol=table[constant].cost_mm, err_msg=what)


@pytest.mark.parametrize("constant", costs())
def test_what_a_tolerance_costs(constant: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is what the table says, and costs no more."""
    tolerance = costs()[constant]
    assert getattr(GEOMETRY[tolerance.module], tolerance.name) == tolerance.value
    where = next((number for number, those in WHERE.items() if constant in those), ELSEWHERE)
    hold_the_cost(constant, where, monkeypatch)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(CLUBS))
def test_what_every_tolerance_costs_in_every_club(
    number: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    for constant in costs():
        hold_the_cost(constant, number, monkeypatch)


def test_the_table_of_tolerances_is_read() -> None:
    """Every figure that a module of the geometry is content with has its row."""
    found = set()
    for home, module in GEOMETRY.items():
        for line in ast.parse(inspect.getsource(module)).body:
            if isinstance(line, ast.Assign) and isinstance(line.targets[0], ast.Name):
                name = line.targets[0].id
                if isinstance(getattr(module, name), int | float) and not name.endswith("_AT_ONCE"):
                    found.add(f"{home}.{name}")
    assert found == costs().keys() | OTHERS.keys()
