"""What must not matter on any line with any stock, as built: mirrors, turns, words, company, scale.

G1 to G8, docs/theory.md. Random helices with surveys, leads, cant and obstacles; cars of one block,
of several, and articulated ones. Nothing is compared with stored output.
"""

import functools
from collections.abc import Callable
from typing import NamedTuple, TypeVar

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.car import Block, Car
from catalog.helix import Helix
from catalog.record import Record
from catalog.survey import Reading, Survey
from clearance.judge.check import check
from clearance.judge.meets import meetings
from tests.judge.clubs import (
    block,
    car,
    fleet_of,
    frame,
    helix,
    one_track,
    random_built,
    random_car,
    random_fleet,
    slung,
    with_frames,
)

FOUND_MM = 5e-3  # two searches for the same least gap, of which each owes ten times this
ROUNDING_MM = 2e-3  # what a parabola through a tenth of a radian leaves on the tightest circles

Gaps = dict[tuple[str, str], np.ndarray]
"""By track and check: the gap of each car both ways round, shape (2, n); of each pair (n, n)."""


class Case(NamedTuple):
    where: Helix
    survey: Survey | None
    cars: list[Car]


def measured(one: Car) -> Car:
    """With all that the running checks ask for. Couplers that bear little, so that they matter."""
    return one.model_copy(
        update={
            "length_over_couplers_mm": one.length_mm + 24.0,
            "coupler_swing_mm": 6.0,
            "truck_swing_deg": 12.0,
            "underside_mm": None if one.blocks else 7.0,
        }
    )


@functools.cache
def case(seed: int) -> Case:
    """One with a fence; one with straight leads and cant; the last one has two tracks."""
    rng = np.random.default_rng(seed)
    where, survey = random_built(rng, straight=seed == 9)
    if seed != SEEDS[-1]:
        where, survey = one_track(where, survey)
    kept = ("lamp", "fence") if seed == SEEDS[0] else ("lamp",)
    few = tuple(it for it in where.obstacles if it.name in kept)
    where = where.model_copy(update={"obstacles": few})
    cars = [
        roomy(random_car(rng, "drawn", (190, 205))),
        car("coach", front_overhang_mm=130.0, length_mm=560.0, wheelbase_mm=380.0),
        slung(rng, "slung", (190, 205)),
    ]
    return Case(where, survey, [measured(one) for one in cars])


SEEDS = (0, 9, 6)


def roomy(one: Car) -> Car:
    """On trucks that do not reach beyond the body, as frames may not."""
    assert one.overhangs_mm is not None
    truck = min(one.truck_wheelbase_mm, 2 * min(one.overhangs_mm) - 1)
    return one.model_copy(update={"truck_wheelbase_mm": max(truck, 0.0)})


def gaps_of(given: Case, *, every: bool = False) -> Gaps:
    fleet = fleet_of(*given.cars)
    result = check(given.where, fleet, given.survey, every_obstacle=every)
    gaps = {(it.track, it.check): np.where(it.applies, it.gap_mm, np.nan) for it in result.columns}
    everybody = np.arange(len(fleet))
    for meeting in meetings(given.where, fleet, given.survey):
        gaps[meeting.outer.name, "meets"] = meeting.figures(everybody, everybody).gap_mm
    return gaps


@functools.cache
def base(seed: int) -> Gaps:
    return gaps_of(case(seed))


def assert_same(one: Gaps, other: Gaps, within_mm: float = FOUND_MM) -> None:
    assert one.keys() == other.keys()
    for key, gaps in one.items():
        assert_allclose(other[key], gaps, rtol=0, atol=within_mm, err_msg=str(key))


def test_the_cases_are_worth_it() -> None:
    """Something was found of every check, and of leads, cant and both ways up."""
    seen = {
        check_name
        for seed in SEEDS
        for (_, check_name), gaps in base(seed).items()
        if np.isfinite(gaps).all(axis=0).any()
    }
    assert seen >= {
        "overhead",
        "inner_side",
        "outer_side",
        "underside",
        "truck_swing",
        "coupling",
        "meets",
    }
    wheres = [case(seed).where for seed in SEEDS]
    assert {it.climbs for it in wheres} == {"clockwise", "counterclockwise"}
    assert {bool(it.leads) for it in wheres} == {True, False}
    assert {bool(it.tracks[0].cant_mm) for it in wheres} == {True, False}


# --- mirrors and turns ----------------------------------------------------------------------------


def left_for_right(part: Block) -> Block:
    return part.model_copy(update={"left_mm": part.right_mm, "right_mm": part.left_mm})


def mirrored(one: Car) -> Car:
    return one.model_copy(update={"blocks": tuple(map(left_for_right, one.blocks))})


@pytest.mark.parametrize("seed", SEEDS)
def test_in_a_mirror_all_gaps_are_the_same(seed: int) -> None:
    given = case(seed)
    other = {"clockwise": "counterclockwise", "counterclockwise": "clockwise"}
    image = given.where.model_copy(
        update={
            "climbs": other[given.where.climbs],
            "obstacles": tuple(
                it.model_copy(update={"left_mm": it.right_mm, "right_mm": it.left_mm})
                for it in given.where.obstacles
            ),
        }
    )
    there = gaps_of(Case(image, given.survey, [mirrored(one) for one in given.cars]))
    assert_same(base(seed), there, 1e-9)


def rear_for_front(one: Car) -> Car:
    """The same car, its front end called the rear."""
    length = one.length_mm
    blocks = tuple(
        left_for_right(it).model_copy(
            update={"from_mm": length - it.to_mm, "to_mm": length - it.from_mm}
        )
        for it in one.blocks
    )
    changes: dict[str, object] = {"blocks": blocks}
    if one.frames:
        changes["frames"] = tuple(
            frame(
                it.name,
                (length - it.front_support_mm, it.front_on),
                (length - it.rear_support_mm, it.rear_on),
            )
            for it in one.frames
        )
    else:
        assert one.overhangs_mm is not None
        front, rear = one.overhangs_mm
        changes |= {"front_overhang_mm": rear, "rear_overhang_mm": front}
    return one.model_copy(update=changes)


@pytest.mark.parametrize("seed", SEEDS[1:])
def test_a_car_called_the_other_way_round_has_its_gaps_the_other_way_round(seed: int) -> None:
    there = gaps_of(case(seed)._replace(cars=[rear_for_front(one) for one in case(seed).cars]))
    turned = {key: gaps if key[1] == "meets" else gaps[::-1] for key, gaps in there.items()}
    assert_same(base(seed), turned)


@pytest.mark.parametrize("seed", SEEDS[:2])
def test_a_symmetrical_car_turned_round_is_the_same(seed: int) -> None:
    """Of several blocks, so that it is driven both ways; and of frames."""
    body = tuple(
        block(along, (half, half), up)
        for along, half, up in (
            ((0, 200), 55, (20, 120)),
            ((400, 600), 55, (20, 120)),
            ((200, 400), 50, (20, 190)),
            ((290, 310), 65, (10, 60)),
        )
    )
    even = car("even", width_mm=130.0, blocks=body)
    engine = with_frames(even).model_copy(update={"id": "framed"})
    given = case(seed)._replace(cars=[even, engine])
    assert fleet_of(*given.cars).lopsided.all()
    for gaps in gaps_of(given).values():
        assert_allclose(gaps[0], gaps[1], rtol=0, atol=FOUND_MM)


# --- other words for the same thing ---------------------------------------------------------------


@pytest.mark.parametrize("seed", SEEDS[:2])
def test_a_plain_car_written_as_frames_is_the_same_car(seed: int) -> None:
    """But for the rigid wheelbase, of which frames say all that there is to say."""
    cars = [one if one.frames else with_frames(one) for one in case(seed).cars]
    there = gaps_of(case(seed)._replace(cars=cars))
    plain = {key: gaps for key, gaps in base(seed).items() if key[1] != "rigid_wheelbase"}
    assert_same(plain, there)


def split(one: Car, cut: Callable[[Block], tuple[dict[str, float], dict[str, float]]]) -> Car:
    """Every block in two; a car of none becomes two."""
    bottom = one.underside_mm or 0.0
    half = one.width_mm / 2
    whole = one.blocks or (block((0, one.length_mm), (half, half), (bottom, one.height_mm)),)
    halves = [it.model_copy(update=part) for it in whole for part in cut(it)]
    return one.model_copy(update={"blocks": tuple(halves)})


def lengthwise(it: Block) -> tuple[dict[str, float], dict[str, float]]:
    at = it.from_mm + 0.37 * (it.to_mm - it.from_mm)
    return {"to_mm": at}, {"from_mm": at}


def across(it: Block) -> tuple[dict[str, float], dict[str, float]]:
    at = it.left_mm - 0.6 * (it.left_mm + it.right_mm)
    return {"right_mm": -at}, {"left_mm": at}


def upright(it: Block) -> tuple[dict[str, float], dict[str, float]]:
    at = it.bottom_mm + 0.45 * (it.top_mm - it.bottom_mm)
    return {"top_mm": at}, {"bottom_mm": at}


@pytest.mark.parametrize(
    ("seed", "cut"), list(zip(SEEDS, (lengthwise, upright, across), strict=True))
)
def test_a_block_in_two_is_the_same_block(
    seed: int, cut: Callable[[Block], tuple[dict[str, float], dict[str, float]]]
) -> None:
    there = gaps_of(case(seed)._replace(cars=[split(one, cut) for one in case(seed).cars]))
    assert_same(base(seed), there)


Part = TypeVar("Part", bound=Record)


def scaled(record: Part, times: float) -> Part:
    """Every length of a record, and of the records in it."""
    changes: dict[str, object] = {}
    for name in type(record).model_fields:
        value = getattr(record, name)
        if name.endswith("_mm") and isinstance(value, float):
            changes[name] = value * times
        elif isinstance(value, Record):
            changes[name] = scaled(value, times)
        elif isinstance(value, tuple) and value and isinstance(value[0], Record):
            changes[name] = tuple(scaled(it, times) for it in value)
    return record.model_copy(update=changes)


@pytest.mark.parametrize("seed", SEEDS[:2])
def test_ten_times_as_large_leaves_ten_times_the_room(seed: int) -> None:
    given = case(seed)
    assert given.survey is not None
    large = Case(
        scaled(given.where, 10),
        scaled(given.survey, 10),
        [scaled(one, 10) for one in given.cars],
    )
    there = {key: gaps / 10 for key, gaps in gaps_of(large).items()}
    assert_same(base(seed), there)


def as_drawn(where: Helix) -> Survey:
    return Survey(
        readings=tuple(
            Reading(station=station, railhead_mm=height)
            for station, height in where.design_railheads().items()
        )
    )


@pytest.mark.parametrize("seed", range(4))
def test_a_survey_equal_to_the_design_gives_the_answer_of_the_design(seed: int) -> None:
    """A regular helix has one closed form a car, a surveyed one is searched beam by beam."""
    rng = np.random.default_rng(seed)
    drawn, _ = random_built(rng)
    where = drawn.model_copy(
        update={
            "profile": (),
            "leads": (),
            "obstacles": tuple(it for it in drawn.obstacles if it.station is not None),
        }
    )
    few = rng.choice([5, 7, 12, 24])
    where = helix(
        brackets_per_turn=int(few),
        turns=(int(few) + 3) / int(few),
        climbs=where.climbs,
        tracks=where.tracks,
        obstacles=where.obstacles,
    )
    cars = [measured(one) for one in random_fleet(rng, 2).table.cars()]
    cars.append(measured(slung(rng, "slung", (190, 205))))
    regular = gaps_of(Case(where, None, cars))
    built = gaps_of(Case(where, as_drawn(where), cars))
    assert_same(regular, built, ROUNDING_MM)


def test_a_survey_of_a_profile_that_says_the_same_changes_nothing() -> None:
    given = case(SEEDS[0])
    one, other = (gaps_of(given._replace(survey=it)) for it in (None, as_drawn(given.where)))
    assert_same(one, other, 1e-9)


# --- searching and company ------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(10, 13))
def test_what_is_screened_out_could_not_govern(seed: int) -> None:
    """Every obstacle worked out, and only as many as it takes to find the least."""
    rng = np.random.default_rng(seed)
    where, survey = one_track(*random_built(rng, straight=seed == 10))
    low = tuple(it for it in where.obstacles if it.headroom_mm and not it.left_mm)
    where = where.model_copy(update={"obstacles": low})
    cars = [*random_fleet(rng, 2).table.cars(), slung(rng, "slung", (190, 205))]
    results = [
        check(where, fleet_of(*cars), survey, every_obstacle=every) for every in (False, True)
    ]
    least, full = (
        next(it for it in result.columns if it.check == "overhead") for result in results
    )
    assert_allclose(least.gap_mm, full.gap_mm, rtol=0, atol=ROUNDING_MM)
    assert full.each_gap_mm is not None
    # What is listed is never less than what governs, and what governs is listed, or is the deck.
    lowest = np.nanmin(full.each_gap_mm, axis=0)
    assert (lowest >= full.gap_mm - 1e-9).all()
    under_beams = full.place < len(full.each_gap_mm)
    assert_allclose(lowest[under_beams], full.gap_mm[under_beams], rtol=0, atol=1e-9)


@pytest.mark.parametrize("seed", SEEDS[2:])
def test_the_order_of_a_fleet_changes_nothing(seed: int) -> None:
    given, order = case(seed), [2, 0, 1]
    there = gaps_of(given._replace(cars=[given.cars[number] for number in order]))
    mixed = {
        key: gaps[np.ix_(order, order)] if key[1] == "meets" else gaps[:, order]
        for key, gaps in base(seed).items()
    }
    assert_same(mixed, there, 1e-6)


def test_alone_among_300_and_among_5000_a_car_is_judged_alike() -> None:
    """Fleets are worked through in batches of some hundreds and some thousands."""
    rng = np.random.default_rng(21)
    where, survey = one_track(*random_built(rng, straight=False))
    where = where.model_copy(update={"obstacles": ()})
    whole = Survey(readings=tuple(it for it in survey.readings if it.station == int(it.station)))
    kinds = [
        one.model_copy(update={"blocks": (), "front_overhang_mm": None})
        for one in random_fleet(rng, 40).table.cars()
    ]
    fleet = fleet_of(*kinds)
    alone = np.column_stack([gaps_alone(where, whole, one) for one in kinds[:10]])
    for size in (300, 5000):
        drawn = rng.integers(0, 40, size)
        among = check(where, fleet.select(drawn), whole)
        for row, name in enumerate(("overhead", "inner_side", "outer_side")):
            (column,) = (it for it in among.columns if it.check == name)
            first = np.flatnonzero(drawn < 10)
            assert_allclose(column.gap_mm[0, first], alone[row, drawn[first]], rtol=0, atol=1e-6)
            # Twins are judged alike wherever in the fleet they are.
            for kind in range(40):
                assert np.ptp(column.gap_mm[:, drawn == kind]) <= 1e-6


def gaps_alone(where: Helix, survey: Survey, one: Car) -> np.ndarray:
    columns = {it.check: it for it in check(where, fleet_of(one), survey).columns}
    return np.array(
        [columns[name].gap_mm[0, 0] for name in ("overhead", "inner_side", "outer_side")]
    )
