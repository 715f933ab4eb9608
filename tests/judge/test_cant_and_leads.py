"""Cant, and where it ends; leads at the foot and at the head: by hand and by symmetry.

G3, G5 and G8, docs/theory.md.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.car import Car
from catalog.helix import Deck, Helix, Lead, Obstacle, Posts
from catalog.survey import Reading, Survey
from clearance.judge.check import check
from tests.geometry.brute_force import (
    FACINGS,
    BruteBlock,
    BruteCar,
    BruteDeck,
    BruteLead,
    BruteLine,
    BruteObstacle,
    BruteTrack,
    obstacle_side_gaps_mm,
    overhead_gaps_mm,
)
from tests.geometry.random_stock import KINDS
from tests.geometry.test_built_against_drive import as_car
from tests.judge.clubs import block, car, column, finding, fleet_of, single

CANT_MM, GAUGE_MM = 3.0, 45.0
LEAN = math.asin(CANT_MM / GAUGE_MM)


def level(*leads: str, cant_mm: float = 0.0, **changes: object) -> Helix:
    """No record takes a helix that does not climb: this one climbs a micrometre a turn."""
    given: dict[str, object] = {
        "turns": 0.5,
        "rise_per_turn_mm": 0.001,
        "deck": Deck(depth_mm=0.0),
        "leads": tuple(Lead(at=at, length_mm=2500.0) for at in leads),
    }
    return single(1000.0, cant_mm, **(given | changes))


# --- cant -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("leads", [(), ("foot",)])
def test_cant_tilts_rails_and_underside_alike(leads: tuple[str, ...]) -> None:
    """What hangs 60 mm over the rails hangs 60 mm over them leaning 12.8 degrees, too; a plumb
    line would be 1.5 mm shorter."""
    low = car(underside_mm=60.0)
    for cant_mm in (0.0, 10.0):
        found = finding(check(level(*leads, cant_mm=cant_mm), fleet_of(low)), "inner", "underside")
        assert found is not None
        assert_allclose(found.gap_mm, 60, atol=1e-3)


def stack() -> Car:
    """A flat wagon, 60 mm high for 10 mm of its length, by the front axle."""
    return car(
        truck_wheelbase_mm=0.0,
        length_mm=320.0,
        wheelbase_mm=300.0,
        width_mm=100.0,
        height_mm=60.0,
        blocks=(block((0, 10), (50, 50), (0, 60)), block((0, 320), (50, 50), (0, 20))),
    )


@pytest.mark.parametrize(("at", "way"), [("head", "front uphill"), ("foot", "front downhill")])
def test_with_one_axle_off_the_cant_a_roof_leans_half(at: str, way: str) -> None:
    """The front axle is on the level lead, the hind one on the curve still: half the lean, and the
    edge of the roof at 50 mm is higher than before or after.
    """
    lamp = Obstacle(name="lamp", at=at, distance_mm=80.0, headroom_mm=90.0, width_mm=0.0)
    where = level(at, cant_mm=CANT_MM, obstacles=(lamp,))
    over = column(check(where, fleet_of(stack())), "inner", "overhead")
    assert over is not None
    leaning = 90 - 60 * math.cos(LEAN / 2) - 50 * math.sin(LEAN / 2)
    row = ("front uphill", "front downhill").index(way)
    assert_allclose(over.gap_mm[row, 0], leaning, atol=1e-3)
    # The other way round the hind axle comes last, and all of it stands upright.
    assert_allclose(over.gap_mm[1 - row, 0], 90 - 60, atol=1e-3)


# Tall, short and wide far beyond the wheels: under a lamp an edge across may be the highest.
@pytest.mark.parametrize("seed", [5, 51])
def test_across_a_leaning_roof_against_the_slow_drive(seed: int) -> None:
    """On a surveyed line that goes up and down by 15 mm a bracket."""
    draw = np.random.default_rng(seed)
    rise, off = draw.uniform(-60, 60), draw.normal(0, 15, 16)
    wheelbase, over = draw.uniform(150, 300), draw.uniform(100, 350)
    length, half, height = draw.uniform(10, 80), draw.uniform(40, 90), draw.uniform(150, 230)
    cant, width = float(draw.choice([1.0, 3.0])), float(draw.choice([0.0, 5.0, 20.0, 60.0]))
    end = wheelbase / 2 + over
    low = BruteBlock(-end, end, half, half, 5, 20)
    wagon = BruteCar(wheelbase, 0.0, (low, BruteBlock(end - length, end, half, half, 10, height)))

    stations = (4.0, 5.5, 7.0, 8.3, 10.0)
    lamps = tuple(
        Obstacle(name=f"lamp {number}", station=k, headroom_mm=260.0, width_mm=width)
        for number, k in enumerate(stations)
    )
    railheads = [round(float(rise * k + off[k]), 3) for k in range(16)]
    where = single(
        1000.0,
        cant,
        turns=15 / 12,
        rise_per_turn_mm=400.0,
        deck=Deck(depth_mm=1.0),
        obstacles=lamps,
    )
    survey = Survey(
        readings=tuple(Reading(station=k, railhead_mm=z) for k, z in enumerate(railheads))
    )
    fleet = fleet_of(as_car(wagon, "wagon", 5.0))
    found = column(check(where, fleet, survey, every_obstacle=True), "inner", "overhead")
    assert found is not None
    assert found.each_gap_mm is not None

    line = BruteLine(12, 0.0, 15.0, tuple(map(float, range(16))), tuple(railheads))
    there = [BruteObstacle(k, headroom_mm=260.0, width_mm=width) for k in stations]
    for way, facing in enumerate(FACINGS):
        track = BruteTrack(1000.0, cant, GAUGE_MM)
        drive = overhead_gaps_mm(line, track, wagon, BruteDeck(1.0), facing, there)
        slow = [gap.gap_mm for gap in drive if gap.obstacle == "obstacle"]
        rows = [row for row, it in enumerate(found.places) if it.obstacle.startswith("lamp")]
        assert_allclose(found.each_gap_mm[rows, way, 0], slow, atol=0.01)


# Wagons that pass the post just as an axle leaves the cant, and the body rolls at once.
@pytest.mark.parametrize("seed", [2, 11])
def test_past_a_post_as_axles_leave_the_cant_against_the_slow_drive(seed: int) -> None:
    draw = np.random.default_rng(seed)
    wheelbase, front, rear = draw.uniform(150, 400), *draw.uniform(20, 200, 2)
    height, half = draw.uniform(150, 230), draw.uniform(40, 60)
    cant = float(draw.choice([3.0, 6.0]))
    beyond, width = float(draw.uniform(0, wheelbase)), float(draw.choice([1.0, 5.0, 20.0]))
    body = BruteBlock(-wheelbase / 2 - rear, wheelbase / 2 + front, half, half, 10, height)
    wagon = BruteCar(wheelbase, 0.0, (body,))
    sides = {"left_mm": 80.0, "right_mm": 80.0, "bottom_mm": 0.0, "top_mm": 400.0}
    post = Obstacle(name="post", at="head", distance_mm=beyond, width_mm=width, **sides)
    nothing = Posts(inside_mm="none", outside_mm="none")
    where = level("head", cant_mm=cant, obstacles=(post,), posts=nothing)
    result = check(where, fleet_of(as_car(wagon, "wagon", 5.0)))

    line = BruteLine(12, 0.0, 6.0, (0.0, 6.0), (0.0, 0.0005), None, BruteLead(2500, 0.0))
    there = BruteObstacle.on_lead("head", beyond, width_mm=width, **sides)
    for way, facing in enumerate(FACINGS):
        track = BruteTrack(1000.0, cant, GAUGE_MM)
        drive = obstacle_side_gaps_mm(line, track, wagon, [there], facing)[0]
        for name, gap in (("inner_side", drive.left_mm), ("outer_side", drive.right_mm)):
            found = column(result, "inner", name)
            assert found is not None
            assert_allclose(found.gap_mm[way, 0], gap, atol=0.01)


# --- leads at both ends ---------------------------------------------------------------------------


def in_a_mirror(one: Car) -> Car:
    """What was left is right."""
    swapped = tuple(
        it.model_copy(update={"left_mm": it.right_mm, "right_mm": it.left_mm}) for it in one.blocks
    )
    return one.model_copy(update={"blocks": swapped})


# Of each kind one that is furthest out, or in, as the curve ends.
@pytest.mark.parametrize(
    ("kind", "seed"), [("slung", 34), ("fixed", 35), ("bolsters", 35), ("tender", 11)]
)
def test_a_lead_at_the_head_is_one_at_the_foot_in_a_mirror(kind: str, seed: int) -> None:
    """A level line in a mirror is run the other way: what went up front first goes down so."""
    engine = as_car(KINDS[kind](np.random.default_rng(seed), 40.0), "engine", 5.0)
    found = {}
    for at, one in (("", engine), ("head", engine), ("foot", in_a_mirror(engine))):
        posts = Posts(inside_mm=300.0, outside_mm=300.0)
        where = level(*[at] if at else [], cant_mm=CANT_MM, posts=posts)
        result = check(where, fleet_of(one))
        sides = (column(result, "inner", name) for name in ("inner_side", "outer_side"))
        found[at] = np.array([it.gap_mm[:, 0] for it in sides if it])
    assert_allclose(found["foot"], found["head"][:, ::-1], atol=1e-3)
    assert (found[""] - found["head"]).max() > 0.3
