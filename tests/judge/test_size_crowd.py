"""Sizing looks at few cars and means all: the same comes out as when each is tried each time."""

import math

import numpy as np
import pytest

from catalog.helix import Helix
from clearance.judge.check import check
from clearance.judge.size_choices import GRADES_PERCENT
from clearance.judge.size_crowd import Crowd
from clearance.judge.size_draft import Limits, resized, spacing_of
from clearance.judge.size_least import settle
from clearance.judge.sizing import size
from clearance.judge.verdict import MARGINAL
from tests.judge.clubs import car, fleet_of, helix, random_fleet, single


def dimensions(of: Helix) -> tuple[float | None, ...]:
    posts = of.posts
    return (
        of.rise_per_turn_mm,
        of.tracks[0].radius_mm,
        spacing_of(of),
        *(side for side in (posts.inside_mm, posts.outside_mm) if isinstance(side, float)),
    )


@pytest.mark.parametrize("seed", range(4))
def test_few_give_what_all_give(seed: int) -> None:
    cars = random_fleet(np.random.default_rng(seed), 300, (120.0, 240.0))
    where = helix() if seed % 2 else single()
    crowd = Crowd(where, cars, Limits())
    for grade in (3.0, *GRADES_PERCENT):
        limits = Limits(max_grade_percent=grade)
        assert dimensions(crowd.least(where, limits).helix) == dimensions(
            settle(where, cars, limits).helix
        )


@pytest.mark.parametrize("seed", range(3))
def test_without_some_few_give_what_the_others_give(seed: int) -> None:
    """Also without all that came foremost: then the next ones do."""
    rng = np.random.default_rng(40 + seed)
    cars = random_fleet(rng, 200, (120.0, 240.0))
    crowd = Crowd(helix(), cars, Limits())
    crowd.least(helix(), Limits())
    tall = np.argsort(-cars.figure("height_mm"))
    for gone in (tall[:3], tall[:150], rng.choice(200, 120, replace=False)):
        without = np.isin(np.arange(200), gone)
        found = crowd.least(helix(), Limits(), without)
        assert dimensions(found.helix) == dimensions(
            settle(helix(), cars.select(~without), Limits()).helix
        )
        named = [name for by in found.governing.values() for name in ([by] if by else [])]
        flat = {one for name in named for one in (name if isinstance(name, list) else [name])}
        assert not flat & {cars.ids[number] for number in gone}


def test_a_low_wide_car_among_many_tall_ones_is_not_overlooked() -> None:
    """It is foremost in nothing but its width, low down; only its own like meets it there."""
    tall = [car(str(n), height_mm=200.0 + n / 10) for n in range(60)]
    wide = car("wide", height_mm=60.0, width_mm=150.0, length_mm=420.0, wheelbase_mm=300.0)
    design = size(helix(), fleet_of(*tall, wide))
    assert design.governing["inside"] == design.governing["outside"] == "wide"
    assert design.governing["track_spacing"] == ["wide", "wide"]
    assert design.governing["rise_per_turn"] == "59"


def test_a_truck_that_turns_little_governs_the_radius() -> None:
    """asin((B / 2) / (R cos a)), half the angle between the pivots, must not be over the limit.

    With B = 400, trucks of 60 and 6 degrees: R cos a = 200 / sin 6 deg = 1913.4, so
    R = hypot(1913.4, 30) = 1913.6 on the level.
    """
    cars = fleet_of(car("stiff", truck_swing_deg=6.0), car("any"))
    design = size(single(), cars, Limits(max_grade_percent=8.0))
    assert design.governing["radius"] == "stiff"
    assert design.radius_mm in (1914.0, 1915.0)
    assert design.hopeless == ()


@pytest.mark.parametrize(("height_mm", "percent"), [(180.25, 3.0), (180.55, 6.0), (181.25, 3.0)])
def test_where_the_grade_would_let_it_be_tighter_a_car_governs(
    height_mm: float, percent: float
) -> None:
    """With a millimetre less rise the grade allows a tighter curve, and on that it is too little.

    So of the two the lesser rise is kept, on the least radius on which it does.
    """
    figures = {"height_mm": height_mm, "length_mm": 900.0}
    design = size(single(), fleet_of(car("long", **figures)), Limits(percent))
    rise, radius = design.rise_per_turn_mm, design.radius_mm
    assert design.governing["rise_per_turn"] == design.governing["radius"] == "long"
    assert radius > math.ceil(100 * rise / (2 * math.pi * percent))
    for smaller in (
        resized(design.helix, rise=rise - 1),
        resized(design.helix, radius=radius - 1),
    ):
        assert check(smaller, fleet_of(car("long", **figures))).codes() == [MARGINAL]


def test_a_car_that_runs_on_no_helix_is_named_and_the_rest_is_sized() -> None:
    """Its underside hangs 0.5 mm over the rails, which is less than it was measured to."""
    cars = fleet_of(car("low", underside_mm=0.5, tolerance_mm=1.0), car("any"))
    design = size(single(), cars)
    assert design.hopeless == (("low", "underside"),)
    assert design.governing["radius"] == "grade"
    assert design.helix == size(single(), fleet_of(car("a", underside_mm=20.0), car("b"))).helix
