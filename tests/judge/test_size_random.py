"""Random clubs: on the design all pass, and with a millimetre less who governs it does not.

Cars on trucks, on axles and on frames, of one block and of many, some with a least radius or a
limit of their trucks; one to three tracks, canted or not; gentle grades and steep ones; decks that
sag and decks of which nobody said so.
"""

from collections import Counter

import numpy as np
import pytest
from pydantic import ValidationError

from catalog.car import Car
from catalog.helix import Allowance, Helix, Posts, Stringers, Track
from clearance.judge.check import check
from clearance.judge.fleet import Fleet
from clearance.judge.meets import meetings
from clearance.judge.size_draft import Limits, resized
from clearance.judge.sizing import Design, size
from clearance.judge.verdict import NOT_MEASURED, PASSES
from tests.judge.clubs import fleet_of, helix, random_car, slung

SEEDS = range(14)
MANY = range(100, 200)


def random_stock(rng: np.random.Generator, name: str) -> Car:
    if rng.random() < 0.1:
        return slung(rng, name, (120.0, 240.0))
    one = random_car(rng, name, (120.0, 240.0))
    more: dict[str, object] = {}
    if rng.random() < 0.2 and one.truck_wheelbase_mm:
        more["truck_swing_deg"] = round(float(rng.uniform(8, 20)), 1)
    if rng.random() < 0.1:
        more["minimum_radius_mm"] = round(float(rng.uniform(800, 1900)), 1)
    return one.model_copy(update=more)


def random_club(seed: int) -> tuple[Helix, Fleet, Limits]:
    rng = np.random.default_rng(seed)
    cars = [random_stock(rng, str(number)) for number in range(int(rng.choice([1, 3, 8, 30])))]
    where = helix(
        climbs=str(rng.choice(["counterclockwise", "clockwise"])),
        brackets_per_turn=int(rng.integers(7, 17)),
        turns=float(rng.choice([1.5, 2.0, 3.0])),
        tracks=tuple(
            Track(name=name, radius_mm=1190.0 + 190 * n, cant_mm=float(rng.choice([0, 1.5, 3])))
            for n, name in enumerate("abc"[: int(rng.integers(1, 4))])
        ),
        allowance=Allowance(play_mm=float(rng.choice([0, 1.5]))),
        stringers=(
            Stringers(width_mm=18, height_mm=60, count=2, modulus_gpa=8.4, train_kg_per_m=15)
            if rng.random() < 0.3
            else None
        ),
    )
    limits = Limits(max_grade_percent=float(rng.choice([2, 3, 3.5, 5, 8, 12])))
    if rng.random() < 0.3:
        turns = float(rng.choice([1.5, 2, 2.7]))
        limits = limits._replace(climb_mm=float(rng.integers(500, 1200)), max_turns=turns)
    return where, fleet_of(*cars), limits


def does_not_serve(where: Helix, cars: Fleet, name: str) -> bool:
    """Whether a car does not pass a helix, or there is no such helix."""
    try:
        Helix(**dict(where))
    except ValidationError:
        return True
    number = cars.ids.index(name)
    if check(where, cars).codes()[number] > NOT_MEASURED:
        return True
    return any(number in pair[:2] for meeting in meetings(where, cars) for pair in meeting.barred)


def less(design: Design) -> dict[str, Helix]:
    """The design with a millimetre less of each of its dimensions, nothing else changed."""
    made = {
        "rise_per_turn": resized(design.helix, rise=design.rise_per_turn_mm - 1),
        "radius": resized(design.helix, radius=design.radius_mm - 1),
    }
    if design.track_spacing_mm is not None:
        made["track_spacing"] = resized(design.helix, spacing=design.track_spacing_mm - 1)
    for side in ("inside", "outside"):
        room = {"inside_mm": design.inside_mm, "outside_mm": design.outside_mm}
        room[f"{side}_mm"] -= 1
        made[side] = resized(design.helix, posts=Posts(**room))
    return made


def tried(seed: int) -> Counter[str]:
    """Size for one club and try the design; gives what governed."""
    where, cars, limits = random_club(seed)
    design = size(where, cars, limits)
    never = {car for car, _ in design.hopeless}
    codes = check(design.helix, cars).codes()
    assert {cars.ids[n] for n in np.flatnonzero(codes != PASSES)} <= never
    assert not any(meeting.barred for meeting in meetings(design.helix, cars))
    assert design.grade_percent <= limits.max_grade_percent
    if limits.climb_mm is not None and limits.max_turns is not None:
        assert design.turns <= limits.max_turns
        assert design.climb_mm >= limits.climb_mm - 1e-6
    kinds: Counter[str] = Counter()
    for dimension, smaller in less(design).items():
        by = design.governing[dimension]
        if by == "grade":
            assert 100 * smaller.grade(smaller.tracks[0]) > limits.max_grade_percent
        elif by == "climb":
            assert limits.climb_mm is not None
            assert limits.max_turns is not None
            whole = np.floor(limits.max_turns * where.brackets_per_turn + 1e-9)
            assert smaller.rise_per_turn_mm * whole / where.brackets_per_turn < limits.climb_mm
        elif isinstance(by, list):
            pair = cars.ids.index(by[0]), cars.ids.index(by[1])
            barred = [one[:2] for meeting in meetings(smaller, cars) for one in meeting.barred]
            assert pair in barred
        else:
            assert by is not None
            assert does_not_serve(smaller, cars, by), (dimension, by)
        kinds[f"{dimension} {by if by in ('grade', 'climb') else 'car'}"] += 1
    return kinds


def test_a_millimetre_less_of_anything_and_who_governs_it_does_not_pass() -> None:
    kinds = sum((tried(seed) for seed in SEEDS), Counter[str]())
    # Everything that can govern a dimension is among them.
    for kind in ("rise_per_turn car", "rise_per_turn climb", "radius grade", "radius car"):
        assert kinds[kind] >= 2
    assert kinds["inside car"] == kinds["outside car"] == len(SEEDS)


@pytest.mark.slow
@pytest.mark.parametrize("seed", MANY)
def test_the_same_of_many_more(seed: int) -> None:
    assert tried(seed)["inside car"] == 1
