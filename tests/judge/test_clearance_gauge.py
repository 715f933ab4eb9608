"""The opening of a rigid frame at the door, worked by hand, and what it does with cars."""

import math

import numpy as np
import pytest

from catalog.helix import Allowance, Helix, Obstacle, Posts
from clearance.judge.check import check
from clearance.judge.clearance_gauge import ClearanceGauge, clearance_gauges
from clearance.judge.fleet import Fleet
from clearance.judge.telltales import SMALL_FLEET, find_telltales
from clearance.judge.verdict import PASSES
from tests.judge.clubs import block, car, fleet_of, helix, random_fleet, single

# Of 45 mm gauge: 6 mm at the side, and a car is measured to 1 mm.
SIDE_MM = 6.0 + 1.0


def gauges(where: Helix, cars: Fleet) -> list[ClearanceGauge]:
    return clearance_gauges(cars, find_telltales(where, cars))


def bands(gauge: ClearanceGauge) -> list[tuple[float, float, float | None, float | None]]:
    return [(b.bottom_mm, b.top_mm, b.left_mm, b.right_mm) for b in gauge.bands]


def test_between_posts() -> None:
    """110 mm inside and 120 mm outside, less 7; as high as the cords on level track."""
    cars = fleet_of(*(car(str(n)) for n in range(SMALL_FLEET)))
    found = find_telltales(single(), cars)
    (gauge,) = clearance_gauges(cars, found)
    assert gauge.height_mm == found.found[0].set_at_mm
    assert bands(gauge) == [(0.0, gauge.height_mm, 103.0, 113.0)]
    # Clockwise, the axis is on the right.
    (gauge,) = gauges(single(climbs="clockwise"), cars)
    assert bands(gauge) == [(0.0, gauge.height_mm, 113.0, 103.0)]


def test_play_narrows_it() -> None:
    """1.5 mm on each side, and no lever: on straight track both axles lean the same way."""
    cars = fleet_of(*(car(str(n)) for n in range(SMALL_FLEET)))
    (gauge,) = gauges(single(allowance=Allowance(play_mm=1.5)), cars)
    assert bands(gauge) == [(0.0, gauge.height_mm, 101.0, 111.0)]


def test_a_lamp_narrows_it_where_it_is() -> None:
    """98 mm on the right, from 150 to 180 mm: 91 mm there, 113 below and above."""
    lamp = Obstacle(name="lamp", station=3, right_mm=98.0, bottom_mm=150.0, top_mm=180.0)
    cars = fleet_of(*(car(str(n)) for n in range(SMALL_FLEET)))
    (gauge,) = gauges(single(obstacles=(lamp,)), cars)
    top = gauge.height_mm
    assert bands(gauge) == [
        (0.0, 150.0, 103.0, 113.0),
        (150.0, 180.0, 103.0, 91.0),
        (180.0, top, 103.0, 113.0),
    ]


def test_two_tracks_are_open_towards_each_other() -> None:
    cars = fleet_of(*(car(str(n)) for n in range(SMALL_FLEET)))
    inner, outer = gauges(helix(), cars)
    assert bands(inner) == [(0.0, inner.height_mm, 103.0, None)]
    assert bands(outer) == [(0.0, outer.height_mm, None, 113.0)]
    assert inner.not_said == outer.not_said == []


def test_a_side_that_nobody_described_is_open_and_said_so() -> None:
    cars = fleet_of(*(car(str(n)) for n in range(SMALL_FLEET)))
    (gauge,) = gauges(single(posts=Posts(inside_mm=110.0)), cars)
    assert bands(gauge) == [(0.0, gauge.height_mm, 103.0, None)]
    assert gauge.not_said == ["right"]


def test_cant_leans_it() -> None:
    """3 mm on 45: a point h up leans in by h / 15. At any height the frame is no wider than that
    leaves, and by no more than 2 mm of lean and the rounding narrower."""
    cars = fleet_of(*(car(str(n)) for n in range(SMALL_FLEET)))
    (gauge,) = gauges(single(cant_mm=3.0), cars)
    sine, cosine = 3 / 45, math.sqrt(1 - (3 / 45) ** 2)
    assert gauge.bands[0].bottom_mm == 0
    assert gauge.bands[-1].top_mm == gauge.height_mm
    for band in gauge.bands:
        assert band.left_mm is not None
        assert band.right_mm is not None
        for height in np.linspace(band.bottom_mm, band.top_mm, 5):
            left = (110 - SIDE_MM - height * sine) / cosine
            right = (120 - SIDE_MM + height * sine) / cosine
            assert left - 3.1 <= band.left_mm <= left + 1e-9
            assert right - 3.1 <= band.right_mm <= right + 1e-9


def test_what_it_does_with_cars() -> None:
    wide = 2 * 103.0
    cars = fleet_of(
        car("goes"),
        car("high", height_mm=221.0),
        # 640 mm long on a wheelbase of 20: on the curve its ends swing out by 43 mm.
        car("swings", width_mm=200.0, length_mm=640.0, wheelbase_mm=20.0, truck_wheelbase_mm=0.0),
        car("wide", width_mm=wide + 2),
        # Its middle swings in by 17 mm; the wide part is at the end, where it swings out.
        car(
            "wide at its end",
            width_mm=208.0,
            blocks=(
                block((0, 600), (50, 50), (20, 190)),
                block((560, 600), (104, 104), (60, 80)),
            ),
        ),
        car("rests", width_mm=100.0, minimum_radius_mm=1500.0),
    )
    (gauge,) = gauges(single(posts=Posts(inside_mm=110.0, outside_mm=140.0)), cars)
    assert gauge.goes_through == ["goes", "swings", "rests"]
    assert gauge.stops == ["high", "wide", "wide at its end"]
    assert gauge.stops_needlessly == ["wide at its end"]
    assert gauge.cannot_judge == {"swings": ["outer_side"], "rests": ["radius"]}
    assert gauge.one_way == {}


def test_a_lopsided_car_goes_through_one_way_round() -> None:
    """105 mm on its left: the frame leaves 103 on the left and 113 on the right, seen uphill."""
    blocks = (block((0, 600), (50, 50), (20, 190)), block((280, 320), (105, 50), (60, 80)))
    lopsided = car("left", width_mm=155.0, blocks=blocks)
    (gauge,) = gauges(single(), fleet_of(lopsided))
    assert gauge.goes_through == ["left"]
    assert gauge.one_way == {"left": "front downhill"}
    assert gauge.stops == []


def test_two_that_may_not_meet() -> None:
    """As wide as fits beside the posts, on tracks 190 mm apart: no two can pass."""
    cars = fleet_of(*(car(str(n), width_mm=180.0, length_mm=300.0, wheelbase_mm=200.0)
                      for n in range(SMALL_FLEET)))  # fmt: skip
    for gauge in gauges(helix(), cars):
        assert gauge.goes_through == cars.ids
        assert gauge.cannot_judge == {name: ["meet"] for name in cars.ids}


def test_where_nothing_hangs_there_is_none() -> None:
    assert gauges(single(turns=0.5), fleet_of(car())) == []


@pytest.mark.parametrize("seed", range(5))
def test_on_a_great_radius_it_is_the_verdict(seed: int) -> None:
    """Radius 100 m, no grade to speak of: nothing swings by more than 0.3 mm. What goes through
    passes where there is a millimetre more; what passes where there is one less goes through."""
    rng = np.random.default_rng(seed)
    drawn = random_fleet(rng, 60, (185.0, 222.0)).table.cars()
    drawn = [one.model_copy(update={"tolerance_mm": None, "minimum_radius_mm": None})
             for one in drawn]  # fmt: skip
    where = single(100_000.0, posts=Posts(inside_mm=62.0, outside_mm=66.0))
    cars = fleet_of(*drawn)
    (gauge,) = gauges(where, cars)
    passing = []
    for more in (1.0, -1.0):
        posts = Posts(inside_mm=62.0 + more, outside_mm=66.0 + more)
        other = single(100_000.0, posts=posts, rise_per_turn_mm=285.0 + more)
        codes = check(other, cars).facing_codes("inner")
        passing.append({cars.ids[n] for n in np.flatnonzero((codes == PASSES).any(axis=0))})
    roomy, tight = passing
    assert tight <= set(gauge.goes_through) <= roomy
    assert len(tight) > 0
    assert len(roomy) < len(drawn)
