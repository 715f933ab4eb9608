"""What cars run on, and where their frames are on a curve and over a break of grade: by hand.

G2, G3 and G7, docs/theory.md.
"""

import itertools
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from catalog.car import Block, Car
from catalog.frames import Frame
from catalog.helix import Allowance, Deck, Helix, Lead, Obstacle, Posts, ProfilePoint, Track
from clearance.geometry.rig import settle
from clearance.judge.allowance import play_lever
from clearance.judge.check import check
from clearance.judge.findings import Finding
from clearance.judge.gear import FramePlan, framed_plans, gears
from clearance.judge.structure import Structure
from clearance.judge.verdict import DOES_NOT_FIT, PASSES
from clearance.show.check import check_data, check_text
from clearance.show.paper import Line
from tests.judge.clubs import (
    INNER_MM,
    block,
    car,
    finding,
    fleet_of,
    frame,
    helix,
    on,
    one_track,
    random_built,
    random_car,
    single,
    slung,
    with_frames,
)

TRACK = "track"


def vehicle(name: str, length_mm: float, frames: tuple[Frame, ...], *blocks: Block) -> Car:
    return Car(
        id=name,
        height_mm=max((b.top_mm for b in blocks), default=190.0),
        width_mm=max((b.left_mm + b.right_mm for b in blocks), default=110.0),
        length_mm=length_mm,
        tolerance_mm=1.0,
        frames=frames,
        blocks=blocks,
    )


def narrow(from_mm: float, to_mm: float, half_mm: float = 20.0, top_mm: float = 190.0) -> Block:
    return block((from_mm, to_mm), (half_mm, half_mm), (20, top_mm))


# The boiler slung between two engine units of docs/formats.md, 120 mm each; its pivots 30 mm
# inside the middles of the units, 320 mm apart.
UNITS = (
    frame("rear unit", (560, TRACK), (440, TRACK)),
    frame("front unit", (180, TRACK), (60, TRACK)),
)
BOILER = frame("boiler", (470, "rear unit"), (150, "front unit"))


def on_trucks(rear_on: str, front_on: str) -> Car:
    """A body on two trucks: the fore one from 70 to 130 mm, the hind one from 510 to 570 mm."""
    frames = (
        frame("fore", (130, TRACK), (70, TRACK)),
        frame("hind", (570, TRACK), (510, TRACK)),
        frame("body", (540, rear_on), (100, front_on)),
    )
    return Car(id="C", height_mm=190.0, width_mm=105.0, length_mm=640.0, frames=frames)


@pytest.mark.parametrize(
    ("rear_on", "front_on", "is_odd"),
    [("hind", "fore", False), ("fore", "hind", True), ("hind", "hind", False)],
)
def test_a_body_crosswise_on_its_trucks_is_remarked_on(
    rear_on: str, front_on: str, is_odd: bool
) -> None:
    """It is possible, and judged; but who swapped two cells is told."""
    cars = fleet_of(car(), on_trucks(rear_on, front_on))
    result = check(level(), cars)
    assert result.remarks(0) == ()
    assert len(result.remarks(1)) == is_odd
    if is_odd:
        (words,) = result.remarks(1)
        for name in ("body", "fore", "hind", "crosswise"):
            assert name in words
    (plain, framed) = check_data(result)["results"]
    assert (plain["remarks"], framed["remarks"]) == ([], list(result.remarks(1)))
    lines = [it.text for it in check_text(result) if isinstance(it, Line)]
    assert [words for words in lines if "Remark" in words] == [
        f"Remark: {words}" for words in result.remarks(1)
    ]


def test_half_on_the_track_nothing_lies_crosswise() -> None:
    """Each unit of these carries the next one's fore end; the last axle stands behind them all."""
    frames = (
        frame("first", (260, TRACK), (60, TRACK)),
        frame("second", (460, TRACK), (250, "first")),
    )
    one = Car(id="C", height_mm=190.0, width_mm=105.0, length_mm=540.0, frames=frames)
    assert check(level(), fleet_of(one)).remarks(0) == ()


def plan_of(one: Car) -> FramePlan:
    plans = framed_plans(fleet_of(car(), one).table)
    assert list(plans) == [1]
    return plans[1]


def level(radius_mm: float = INNER_MM, **changes: object) -> Helix:
    """No record takes a helix that does not climb: this one climbs a micrometre a turn."""
    return single(radius_mm, turns=0.5, rise_per_turn_mm=0.001, deck=Deck(depth_mm=0.0), **changes)


def found(where: Helix, one: Car, name: str) -> Finding:
    only = finding(check(where, fleet_of(one)), "inner", name)
    assert only is not None
    return only


# --- from a list of frames to a chassis -----------------------------------------------------------


def test_frames_come_after_those_that_carry_them() -> None:
    plan = plan_of(vehicle("slung", 620, (BOILER, *UNITS)))
    assert plan.names == ["rear unit", "front unit", "boiler"]
    assert plan.top == "boiler"
    assert plan.chassis.axles == 4
    assert plan.chassis.rests == ((0, 1), (2, 3), (-1, -2))
    assert plan.chassis.links == ()
    # Forward from the front end, so all are behind it.
    assert_array_equal(plan.axle_mm, [-560, -440, -180, -60])
    assert_array_equal(plan.rear_mm, [-560, -180, -470])
    assert_array_equal(plan.front_mm, [-440, -60, -150])
    assert plan.middle_mm(2) == -310


def test_an_engine_and_its_tender_are_chained_by_their_nearest_axles() -> None:
    """The tender stands on trucks; the nearest of its axles is the fore one of its fore truck."""
    tender = (
        frame("tender", (700, "hind truck"), (560, "fore truck")),
        frame("hind truck", (720, TRACK), (680, TRACK)),
        frame("fore truck", (580, TRACK), (540, TRACK)),
    )
    engine = frame("engine", (400, TRACK), (150, TRACK))
    plan = plan_of(
        vehicle(
            "both",
            760,
            (*tender, engine),
            on("engine", narrow(0, 450)),
            on("tender", narrow(470, 760)),
        )
    )
    (link,) = plan.chassis.links
    assert [plan.axle_mm[axle] for axle in link] == [-540, -400]


def test_a_chain_goes_from_neighbour_to_neighbour_however_it_is_listed() -> None:
    frames = tuple(
        frame(name, (at + 60, TRACK), (at, TRACK))
        for name, at in (("middle", 200), ("last", 400), ("first", 20))
    )
    blocks = tuple(on(f.name, narrow(f.front_support_mm, f.rear_support_mm)) for f in frames)
    blocks += (on("first", narrow(0, 80)), on("last", narrow(400, 480)))
    plan = plan_of(vehicle("three", 480, frames, *blocks))
    places = [tuple(plan.axle_mm[axle] for axle in link) for link in plan.chassis.links]
    assert places == [(-400, -260), (-200, -80)]


def test_a_boiler_fixed_to_its_hind_unit_leaves_the_front_unit_chained() -> None:
    fixed = frame("boiler", (560, "rear unit"), (440, "rear unit"))
    plan = plan_of(vehicle("fixed", 620, (*UNITS, fixed), on("boiler", narrow(0, 620))))
    assert plan.chassis.rests[2] == (-1, -1)
    (link,) = plan.chassis.links
    assert [plan.axle_mm[axle] for axle in link] == [-440, -180]


def test_cars_that_rest_alike_are_one_gear() -> None:
    engines = [vehicle(name, 620, (*UNITS, BOILER)) for name in ("s1", "s2")]
    fixed = vehicle("fixed", 620, (*UNITS, frame("boiler", (560, "rear unit"), (440, "rear unit"))))
    wagon = car("wagon", truck_wheelbase_mm=0.0)
    table = fleet_of(engines[0], car("coach"), wagon, fixed, engines[1], car("other")).table
    made = gears(table, framed_plans(table))
    assert [gear.cars.tolist() for gear in made] == [[2], [1, 5], [0, 4], [3]]
    on_axles, on_trucks, hung, _ = made
    assert (on_axles.body, on_trucks.body, hung.body) == (0, 2, 2)
    # Of cars without frames lengths count from the middle of the wheelbase.
    assert_array_equal(on_axles.rig.axle_mm[:, 0], [-200, 200])
    assert_array_equal(on_trucks.rig.axle_mm[:, 0], [-230, -170, 170, 230])
    assert_array_equal(hung.rig.axle_mm, np.array([[-560, -440, -180, -60]] * 2).T)


def test_blocks_lie_where_their_frames_are() -> None:
    """From the middle of the frame, forwards: the front unit's is 120 mm behind the front end."""
    one = vehicle(
        "slung",
        620,
        (BOILER, *UNITS),
        on("front unit", narrow(0, 200)),
        narrow(150, 470),
        on("rear unit", narrow(430, 620)),
    )
    fleet = fleet_of(car(), one)
    frames, blocks = fleet.shape.frame, fleet.blocks
    # Of what names no frame the boiler, frame 2, is the one: nothing rests on it.
    assert frames.tolist() == [2, 1, 2, 0]
    assert_array_equal(blocks.x_front_mm[1:], [120, 160, 500 - 430])
    assert_array_equal(blocks.x_rear_mm[1:], [120 - 200, 310 - 470, 500 - 620])
    assert fleet.lopsided.tolist() == [False, True]


# --- on a level circle ----------------------------------------------------------------------------


def test_a_slung_boiler_is_a_chord_of_the_circle_of_its_pivots() -> None:
    """A unit's middle is at sqrt(R^2 - 60^2); 30 mm along the unit its pivot is a little further.

    The pivots are 320 mm apart: mid-boiler is the nearest to the axis, less its half width.
    """
    one = vehicle(
        "slung",
        620,
        (*UNITS, BOILER),
        narrow(150, 470, 55),
        on("front unit", narrow(0, 60)),
        on("rear unit", narrow(560, 620)),
    )
    pivots = math.hypot(math.sqrt(INNER_MM**2 - 60**2), 30)
    nearest = math.sqrt(pivots**2 - 160**2) - 55
    shown = found(level(), one, "inner_side")
    assert_allclose(shown.gap_mm, nearest - (INNER_MM - 110), atol=1e-3)


@pytest.mark.parametrize("turned", [False, True])
def test_a_fixed_boiler_swings_out_as_its_unit_points(turned: bool) -> None:
    """Its nose is 500 mm ahead of the middle of the hind unit, itself at sqrt(R^2 - 60^2)."""
    frames = (*UNITS, frame("boiler", (560, "rear unit"), (440, "rear unit")))
    blocks = (on("boiler", narrow(0, 580, 30)), on("rear unit", narrow(500, 620, 20)))
    if turned:
        frames = tuple(
            frame(
                f.name, (620 - f.front_support_mm, f.front_on), (620 - f.rear_support_mm, f.rear_on)
            )
            for f in frames
        )
        blocks = tuple(
            b.model_copy(update={"from_mm": 620 - b.to_mm, "to_mm": 620 - b.from_mm})
            for b in blocks
        )
    one = vehicle("fixed", 620, frames, *blocks)
    furthest = math.hypot(math.sqrt(INNER_MM**2 - 60**2) + 30, 500)
    shown = found(level(posts=Posts(inside_mm=300, outside_mm=300)), one, "outer_side")
    assert_allclose(shown.gap_mm, INNER_MM + 300 - furthest, atol=2e-3)


def on_bolsters() -> Car:
    """Trucks of 40 mm, bolsters of 120, the body on pivots 320 mm apart."""
    frames = [frame("body", (550, "hind bolster"), (230, "fore bolster"))]
    for name, at in (("hind", 550), ("fore", 230)):
        trucks = f"{name} hind truck", f"{name} fore truck"
        frames.append(frame(f"{name} bolster", (at + 60, trucks[0]), (at - 60, trucks[1])))
        frames.append(frame(trucks[0], (at + 80, TRACK), (at + 40, TRACK)))
        frames.append(frame(trucks[1], (at - 40, TRACK), (at - 80, TRACK)))
    return vehicle("heavy", 780, tuple(frames), narrow(0, 780, 50))


def test_every_storey_of_a_heavy_car_is_nearer_to_the_axis() -> None:
    """sqrt(R^2 - 20^2 - 60^2 - 160^2) in the middle; a corner of its end is 390 mm ahead of it."""
    mid = math.sqrt(INNER_MM**2 - 20**2 - 60**2 - 160**2)
    inner, outer = (found(level(), on_bolsters(), side) for side in ("inner_side", "outer_side"))
    assert_allclose(inner.gap_mm, mid - 50 - (INNER_MM - 110), atol=2e-3)
    assert_allclose(outer.gap_mm, INNER_MM + 120 - math.hypot(mid + 50, 390), atol=2e-3)


def test_chained_units_keep_their_nearest_axles_apart() -> None:
    """440 less 180: 260 mm, straight through."""
    fixed = vehicle("fixed", 620, (*UNITS, frame("boiler", (560, "rear unit"), (440, "rear unit"))))
    fleet = fleet_of(fixed)
    (gear,) = fleet.gears
    structure = Structure(level(600.0))
    pose = settle(
        structure.line(structure.helix.tracks[0]), gear.rig, np.zeros(1, np.intp), 0, np.zeros(1)
    )
    ahead = np.diff(pose.axle_rad[:, 0])
    assert_allclose(ahead, 2 * np.arcsin(np.array([120, 260, 120]) / 2 / 600), rtol=1e-5)


# --- grades ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(3))
def test_on_a_straight_grade_all_frames_are_in_one_plane(seed: int) -> None:
    """A roof T over it needs T sqrt(1 + G^2) + G w / 2, whatever carries it (w: the lamp's width).

    The tallest is the short stack on the boiler.
    """
    lamp = Obstacle(name="lamp", distance_mm=900.0, headroom_mm=200.0, width_mm=20.0)
    lead = Lead(at="head", length_mm=2000.0, grade=0.05)
    one = slung(np.random.default_rng(seed), "slung", (190, 195))
    shown = found(single(leads=(lead,), obstacles=(lamp,), turns=0.9), one, "overhead")
    required = one.height_mm * math.hypot(1, 0.05) + 0.05 * 20 / 2
    assert_allclose(shown.required_mm, required, atol=2e-3)


# A circle so wide that what is on it stands as on straight track: a bracket every 25 m.
WIDE_MM = 25000 * 12 / (2 * math.pi)


def test_over_a_crest_a_slung_boiler_hangs_between_its_pivots() -> None:
    """Each pivot is 160 mm from a break of 4 %, each unit wholly beyond it: 0.04 x 320 / 4."""
    crest = single(
        WIDE_MM,
        turns=0.5,
        rise_per_turn_mm=3000.0,
        deck=Deck(depth_mm=1.0),
        profile=tuple(
            ProfilePoint(station=k, railhead_mm=-25000 * abs(k - 3) * 0.02) for k in range(7)
        ),
    )
    low = block((150, 470), (40, 40), (12, 190))
    high = narrow(0, 200), narrow(430, 620)
    one = vehicle(
        "slung", 620, (*UNITS, BOILER), low, on("front unit", high[0]), on("rear unit", high[1])
    )
    assert_allclose(found(crest, one, "underside").gap_mm, 12 - 0.04 * 320 / 4, atol=0.02)


# --- cars that cannot stand -----------------------------------------------------------------------


def test_a_framed_car_that_cannot_stand_does_not_fit_by_radius_alone() -> None:
    """Pivots 2500 mm apart on circles of 1190 and 1380 mm."""
    frames = (
        frame("rear unit", (2660, TRACK), (2540, TRACK)),
        frame("front unit", (160, TRACK), (40, TRACK)),
        frame("boiler", (2600, "rear unit"), (100, "front unit")),
    )
    long = vehicle("long", 2700, frames, narrow(0, 2700))
    result = check(helix(), fleet_of(car(), long, with_frames(car("framed"))))
    shown = list(result.findings(1, "inner"))
    assert [each.check for each in shown] == ["radius"]
    assert shown[0].code == DOES_NOT_FIT
    # There is no one figure by which it is too long; that it cannot stand is enough.
    assert shown[0].gap_mm is None
    assert result.track_codes("inner").tolist() == [PASSES, DOES_NOT_FIT, PASSES]
    # 1380 mm is wide enough for it to stand, not to pass.
    assert "overhead" in {each.check for each in result.findings(1, "outer")}


def test_its_stated_radius_counts_too() -> None:
    engine = vehicle("slung", 620, (*UNITS, BOILER))
    stated = engine.model_copy(update={"minimum_radius_mm": 1300.0})
    result = check(helix(), fleet_of(stated))
    inner, outer = (finding(result, track, "radius") for track in ("inner", "outer"))
    assert inner is not None
    assert outer is not None
    assert_allclose((inner.gap_mm, outer.gap_mm), (1190 - 1300, 1380 - 1300))


# --- lateral play ---------------------------------------------------------------------------------


def carried(one: Car, frame_name: str, from_front_mm: float, shifts: dict[float, float]) -> float:
    """How far a place on a frame moves when the axles do: straight along each frame."""
    (mine,) = (f for f in one.frames if f.name == frame_name)
    ends = []
    for at, carrier in (
        (mine.rear_support_mm, mine.rear_on),
        (mine.front_support_mm, mine.front_on),
    ):
        ends.append(shifts[at] if carrier == TRACK else carried(one, carrier, at, shifts))
    part = (from_front_mm - mine.rear_support_mm) / (mine.front_support_mm - mine.rear_support_mm)
    return ends[0] + part * (ends[1] - ends[0])


@pytest.mark.parametrize("seed", range(4))
def test_play_is_carried_through_every_storey(seed: int) -> None:
    """Every way to shift the axles by 1 mm to either side; the ends of every block."""
    one = on_bolsters() if seed == 3 else slung(np.random.default_rng(seed), "s", (190, 200))
    fleet = fleet_of(car(), one)
    axles = sorted({at for f in one.frames for at in f.axles_mm})
    for end in ("x_rear_mm", "x_front_mm"):
        lever = fleet.lever(fleet.shape, getattr(fleet.blocks, end))
        assert_allclose(lever[0], play_lever(300.0, 400.0), rtol=1e-12)
        for number, part in enumerate(one.blocks):
            at = part.to_mm if end == "x_rear_mm" else part.from_mm
            furthest = max(
                carried(one, one.block_frame(part), at, dict(zip(axles, signs, strict=True)))
                for signs in itertools.product((-1, 1), repeat=len(axles))
            )
            assert_allclose(lever[1 + number], furthest, rtol=1e-12)


# --- the same car in other words ------------------------------------------------------------------


FOUND_MM = 5e-3  # two searches for the same least gap, of which each owes ten times this


def test_the_order_of_frames_changes_nothing() -> None:
    """Listed last, first and between; which axle is the first one is another one then."""
    one = slung(np.random.default_rng(2), "s", (190, 200))
    mixed = one.model_copy(update={"frames": tuple(one.frames[k] for k in (1, 2, 0))})
    where, survey = one_track(*random_built(np.random.default_rng(2), straight=False))
    first, second = (check(where, fleet_of(each), survey).columns for each in (one, mixed))
    assert len(first) == len(second)
    for here, there in zip(first, second, strict=True):
        assert here.check == there.check
        assert_allclose(here.gap_mm, there.gap_mm, rtol=0, atol=FOUND_MM)


@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
@pytest.mark.parametrize("truck_mm", [0.0, 60.0])
def test_a_plain_car_written_as_frames_on_a_regular_helix(truck_mm: float, climbs: str) -> None:
    """With cant, and with lateral play that is carried to its ends."""
    drawn = [random_car(np.random.default_rng(seed), str(seed), (190, 215)) for seed in range(6)]
    cars = [
        replaced
        for one in drawn
        if min((replaced := trucked(one, truck_mm)).overhangs_mm) > truck_mm / 2
    ]
    assert len(cars) > 2
    where = helix(
        climbs=climbs,
        tracks=(
            Track(name="inner", radius_mm=INNER_MM, cant_mm=2.0),
            Track(name="outer", radius_mm=1380.0),
        ),
        allowance=Allowance(play_mm=1.5),
    )
    plain = check(where, fleet_of(*cars))
    framed = check(where, fleet_of(*map(with_frames, cars)))
    for track in ("inner", "outer"):
        for one in plain.on_track(track):
            if one.check == "rigid_wheelbase":
                continue
            (other,) = (it for it in framed.on_track(track) if it.check == one.check)
            assert_allclose(other.gap_mm, one.gap_mm, rtol=0, atol=1e-3)
            assert_allclose(
                np.broadcast_to(other.budget.total_mm, other.gap_mm.shape),
                np.broadcast_to(one.budget.total_mm, one.gap_mm.shape),
                rtol=0,
                atol=1e-9,
            )


def trucked(one: Car, truck_mm: float) -> Car:
    return one.model_copy(update={"truck_wheelbase_mm": truck_mm})
