"""Which place a finding names where several are alike, and where one is worse by a hair."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.car import Car
from catalog.helix import Helix, Lead
from catalog.survey import Reading, Survey
from clearance.judge.check import check
from clearance.show.check import check_data, check_text
from clearance.show.paper import as_plain
from tests.judge.clubs import (
    INNER_MM,
    block,
    car,
    column,
    finding,
    fleet_of,
    random_built,
    single,
)


def as_drawn(where: Helix) -> Survey:
    """Every bracket surveyed, just where it was drawn."""
    heights = where.design_railheads().items()
    return Survey(readings=tuple(Reading(station=k, railhead_mm=z) for k, z in heights))


@pytest.mark.parametrize("rise_mm", [264.0, 277.0, 291.3])
def test_of_equal_beams_the_first_one_uphill_is_named(rise_mm: float) -> None:
    """Their heights are sums that differ in the last figure; so do the gaps beneath."""
    where = single(rise_per_turn_mm=rise_mm, turns=3.0)
    cars = fleet_of(car(), car("short", length_mm=300.0, wheelbase_mm=180.0))
    result = check(where, cars, as_drawn(where))
    gaps = column(result, "inner", "overhead")
    assert gaps is not None
    for number in range(2):
        shown = finding(result, "inner", "overhead", number)
        assert shown is not None
        assert shown.location is not None
        assert shown.location["station"] == 0


GRADE = 0.02
FIRST, LAST = 7, 9
"""Between these brackets the line below is level, or twice as steep as elsewhere."""


def uneven(where: Helix, share: float) -> Survey:
    """Surveyed so that it climbs by ``share`` of what is drawn, from bracket 7 to bracket 9."""
    step = where.rise_per_turn_mm / where.brackets_per_turn
    return Survey(
        readings=tuple(
            Reading(
                station=k,
                railhead_mm=step * (k - (1 - share) * float(np.clip(k - FIRST, 0, LAST - FIRST))),
            )
            for k in range(where.last_station + 1)
        )
    )


def beside(where: Helix, share: float, side: str) -> tuple[float, float]:
    """The gap and the place of a four-wheeled car, 190 x 110 x 600 mm, its axles 400 mm apart."""
    cars = fleet_of(car(truck_wheelbase_mm=0.0))
    shown = finding(check(where, cars, uneven(where, share)), "inner", side)
    assert shown is not None
    assert shown.location is not None
    assert shown.gap_mm is not None
    assert (shown.location["obstacle"], shown.location["everywhere"]) == ("post", False)
    return shown.gap_mm, shown.location["station"]


@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
@pytest.mark.parametrize("share", [0.0, 2.0])
def test_beside_posts_the_place_is_where_the_car_swings_most(share: float, climbs: str) -> None:
    """Pitched by p, its axles stand `400 cos p` apart in plan, so its middle is
    `sqrt(R^2 - (200 cos p)^2)` from the axis: it comes in most on the level. The upper corner of
    its lower end, 190 mm up, is `300 cos p + 190 sin p` behind: it goes out most where it is steep.
    """
    where = single(rise_per_turn_mm=GRADE * 2 * math.pi * INNER_MM, climbs=climbs)

    def by_hand(side: str, grade: float) -> float:
        arc_mm = 2 * INNER_MM * math.asin(200 / INNER_MM)
        pitch = math.asin(grade * arc_mm / 400)
        middle_mm = math.sqrt(INNER_MM**2 - (200 * math.cos(pitch)) ** 2)
        if side == "inner_side":
            return 110 - (INNER_MM - middle_mm + 55)
        behind_mm = 300 * math.cos(pitch) + 190 * math.sin(pitch)
        return 120 - (math.hypot(middle_mm + 55, behind_mm) - INNER_MM)

    corner = 310 / INNER_MM * 12 / (2 * math.pi)  # in stations, from the middle of the car
    for side, beyond in (("inner_side", 0.0), ("outer_side", corner)):
        gap_mm, station = beside(where, share, side)
        elsewhere, there = by_hand(side, GRADE), by_hand(side, share * GRADE)
        assert abs(elsewhere - there) > 0.005
        assert_allclose(gap_mm, min(elsewhere, there), atol=0.002)
        on_the_stretch = FIRST - beyond <= station <= LAST + beyond
        # Else it is the first place of all, with the lower axle on the first bracket.
        assert on_the_stretch if there < elsewhere else station < 1


def test_where_all_places_are_alike_beside_posts_it_is_everywhere() -> None:
    where = single(turns=3.0)
    result = check(where, fleet_of(car()), as_drawn(where))
    for name in ("inner_side", "outer_side"):
        shown = finding(result, "inner", name)
        assert shown is not None
        assert shown.location is not None
        assert (shown.location["station"], shown.location["everywhere"]) == (0, True)


def test_beside_a_lead_posts_matter_where_the_car_is_wholly_on_the_curve() -> None:
    """Onto a straight lead a car swings in less and less: the first place on the curve is named."""
    where = single(leads=(Lead(at="foot", length_mm=1500.0, grade=0.0),))
    result = check(where, fleet_of(car(truck_wheelbase_mm=0.0)))
    shown = finding(result, "inner", "inner_side")
    assert shown is not None
    assert shown.location is not None
    half = math.asin(200 / INNER_MM) * 12 / (2 * math.pi)
    assert_allclose(shown.location["station"], half, atol=0.6)
    assert not shown.location["everywhere"]


# --- every obstacle -------------------------------------------------------------------------------


def nosed(name: str = "nosed") -> Car:
    """Its stack stands at the front end, so it matters which end is in front."""
    blocks = (
        block((0.0, 600.0), (55, 55), (20, 185)),
        block((10.0, 40.0), (20, 20), (20, 200)),
    )
    return car(name, height_mm=200.0, blocks=blocks)


def test_under_each_obstacle_the_worse_way_round_is_told() -> None:
    """One gap an obstacle, and it need not be that of the way round that governs elsewhere."""
    where, survey = random_built(np.random.default_rng(5), straight=False)
    cars = fleet_of(nosed(), car("even"))
    result = check(where, cars, survey, every_obstacle=True)
    over = column(result, "inner", "overhead")
    assert over is not None
    assert over.each_gap_mm is not None
    each = over.each_gap_mm[..., 0]
    listed = result.obstacles(0, "inner")
    assert len(listed) == len(each)
    assert_allclose([hung.gap_mm for hung in listed], each.min(axis=1), rtol=1e-15)
    ways = ["front uphill" if one <= other else "front downhill" for one, other in each]
    assert [hung.facing for hung in listed] == ways
    assert len(set(ways)) == 2
    governs = finding(result, "inner", "overhead")
    assert governs is not None
    assert min(hung.gap_mm for hung in listed) == governs.gap_mm
    assert {hung.facing for hung in result.obstacles(1, "inner")} == {"front uphill"}


def test_the_text_names_the_worse_way_where_it_makes_a_difference() -> None:
    where, survey = random_built(np.random.default_rng(5), straight=False)
    result = check(where, fleet_of(nosed(), car("even")), survey, every_obstacle=True)
    data = check_data(result, every_obstacle=True)
    ways = [
        {hung["facing"] for finding in track["findings"] for hung in finding.get("obstacles", ())}
        for one in data["results"]
        for track in one["tracks"]
    ]
    assert ways[0] == {"front uphill", "front downhill"}
    text = as_plain(check_text(result, every_obstacle=True), 100)
    lopsided, even = text.split("\neven: ")
    assert "front downhill" in lopsided
    assert "front uphill" not in even
