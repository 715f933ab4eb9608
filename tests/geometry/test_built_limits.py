"""Limits of the engine on lines as built, and which way its figures move with the car.

G2 to G8, docs/theory.md. On a circle of a hundred metres a car stands nearly as on straight track;
there its gaps are those of a flat drawing, worked out here from scratch. Nothing is compared with
stored output.
"""

import functools
import math
from typing import NamedTuple

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.car import Block, Car
from catalog.helix import Deck, Helix, Obstacle, Posts
from catalog.survey import Reading, Survey
from clearance.judge.check import check
from clearance.judge.findings import CheckColumn
from tests.judge.clubs import (
    block,
    car,
    fleet_of,
    one_track,
    random_built,
    random_car,
    single,
    slung,
)

FOUND_MM = 5e-3  # two searches for the same least gap, of which each owes ten times this


def column(where: Helix, survey: Survey, cars: list[Car], name: str, **how: bool) -> CheckColumn:
    result = check(where, fleet_of(*cars), survey, **how)
    (found,) = (it for it in result.columns if it.check == name)
    return found


# --- radius to infinity ---------------------------------------------------------------------------

WIDE_MM = 1e5  # no record takes a wider circle
STATION_MM = 2 * math.pi * WIDE_MM / 12
AT = 3.0  # the lamp's station
FLAT_MM = 0.01


class Drawing(NamedTuple):
    """A line in a vertical plane: straight from point to point, the lamp over 0. [mm]"""

    along_mm: np.ndarray
    height_mm: np.ndarray

    def rail(self, along: np.ndarray) -> np.ndarray:
        return np.interp(along, self.along_mm, self.height_mm)

    def ahead(self, rear: np.ndarray, wheelbase: float) -> np.ndarray:
        """Where the front axle is, so far from the rear one straight through: by bisection."""
        low, high = rear + 0.5 * wheelbase, rear + wheelbase + 1
        for _ in range(60):
            middle = (low + high) / 2
            short = np.hypot(middle - rear, self.rail(middle) - self.rail(rear)) < wheelbase
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        return (low + high) / 2


def jagged(rng: np.random.Generator) -> tuple[Drawing, Survey]:
    """A railhead every 100 mm or so, 1 mm off an even 2 %, and the same as readings."""
    stations = np.round(AT + np.arange(-14, 15) * 100 / STATION_MM, 6)
    along = (stations - AT) * STATION_MM
    height = np.round(5000 + 0.02 * along + rng.normal(0, 1.0, len(along)), 2)
    readings = tuple(
        Reading(station=float(station), railhead_mm=float(z))
        for station, z in zip(stations, height, strict=True)
    )
    return Drawing(along, height), Survey(readings=readings)


def flat(lamp_mm: float = 200.0, width_mm: float = 10.0) -> Helix:
    lamp = Obstacle(name="lamp", station=AT, headroom_mm=lamp_mm, width_mm=width_mm)
    return single(
        WIDE_MM,
        turns=0.5,
        rise_per_turn_mm=20000.0,
        deck=Deck(depth_mm=1.0),
        obstacles=(lamp,),
        posts=Posts(inside_mm=90.0, outside_mm=90.0),
    )


def drawn_gaps(drawing: Drawing, one: Car, lamp_mm: float, width_mm: float) -> tuple[float, float]:
    """The least gap under the lamp, and of the underside over the rails, front uphill.

    The rear axle moves by 0.02 mm; of the roof both sides of what is under the lamp, of the
    underside its ends and what is over a point of the line.
    """
    assert one.wheelbase_mm is not None
    assert one.overhangs_mm is not None
    assert one.underside_mm is not None
    front_mm, rear_mm = one.overhangs_mm
    rear = np.arange(-1000, 500, 0.02)
    front = drawing.ahead(rear, one.wheelbase_mm)
    low = drawing.rail(rear)
    cosine = (front - rear) / one.wheelbase_mm
    sine = (drawing.rail(front) - low) / one.wheelbase_mm
    ends = -rear_mm, one.wheelbase_mm + front_mm

    start, height = rear - one.height_mm * sine, low + one.height_mm * cosine
    roof = [np.clip((side - start) / cosine, *ends) for side in (-width_mm / 2, width_mm / 2)]
    beneath = (start + ends[1] * cosine >= -width_mm / 2) & (
        start - rear_mm * cosine <= width_mm / 2
    )
    highest = np.max([height + x * sine for x in roof], axis=0)[beneath].max()
    overhead = float(drawing.rail(np.zeros(1))[0]) + lamp_mm - highest

    start, height = rear - one.underside_mm * sine, low + one.underside_mm * cosine
    over = [np.full_like(rear, end) for end in ends]
    over += [np.clip((point - start) / cosine, *ends) for point in drawing.along_mm]
    clear = [height + x * sine - drawing.rail(start + x * cosine) for x in over]
    inside = (start - rear_mm > drawing.along_mm[0]) & (start + 800 < drawing.along_mm[-1])
    return overhead, float(np.min(clear, axis=0)[inside].min())


@pytest.mark.parametrize("seed", range(3))
def test_on_the_widest_circle_a_car_is_a_flat_drawing(seed: int) -> None:
    """Overhead and underneath, over a jagged line.

    What the circle adds: an edge half a width inside, as far as 300 mm from the middle of the car,
    is 300 x 55 / R further up the line, 0.2 mm; of that a grade takes a few hundredths.
    """
    rng = np.random.default_rng(seed)
    drawing, survey = jagged(rng)
    one = car(
        height_mm=180.0,
        underside_mm=12.0,
        length_mm=520.0,
        wheelbase_mm=round(float(rng.uniform(200, 400)), 1),
        truck_wheelbase_mm=0.0,
        front_overhang_mm=60.0,
    )
    overhead, underside = drawn_gaps(drawing, one, 200.0, 10.0)
    found = column(flat(), survey, [one], "overhead", every_obstacle=True)
    assert found.each_gap_mm is not None
    (row,) = (n for n, place in enumerate(found.places) if place.obstacle == "lamp")
    assert_allclose(found.each_gap_mm[row, 0, 0], overhead, rtol=0, atol=FLAT_MM)
    low = column(flat(), survey, [one], "underside")
    assert low.gap_mm[0, 0] <= underside + FLAT_MM
    # Beyond the jagged part the line is as drawn, and joins it with a step: there it may be lower.
    beyond = abs(low.places[low.place[0, 0]].station - AT) * STATION_MM
    if beyond < 1000:
        assert_allclose(low.gap_mm[0, 0], underside, rtol=0, atol=FLAT_MM)


def test_on_the_widest_circle_sides_are_half_widths_and_a_throw() -> None:
    """Axles 400 mm apart: 200^2 / 2R = 0.2 mm nearer in the middle; a corner 300 mm ahead of it
    is 300^2 / 2R further out, and on some 4 % a roof of 190 mm leans 8 mm back beyond that.
    """
    _, survey = jagged(np.random.default_rng(1))
    one = car(width_mm=111.0, truck_wheelbase_mm=0.0)
    inner, outer = (column(flat(), survey, [one], f"{side}_side") for side in ("inner", "outer"))
    assert_allclose(inner.gap_mm, 90 - 55.5 - 200**2 / 2 / WIDE_MM, rtol=0, atol=1e-3)
    further = (300**2 - 200**2) / 2 / WIDE_MM
    lean = (308**2 - 300**2) / 2 / WIDE_MM
    assert_allclose(outer.gap_mm, 90 - 55.5 - further - lean / 2, rtol=0, atol=lean / 2)


# --- a larger car needs no less -------------------------------------------------------------------


@functools.cache
def built(seed: int) -> tuple[Helix, Survey]:
    where, survey = one_track(*random_built(np.random.default_rng(seed), straight=bool(seed % 2)))
    few = tuple(it for it in where.obstacles if it.name == "lamp")
    return where.model_copy(update={"obstacles": few}), survey


def stock(seed: int) -> list[Car]:
    rng = np.random.default_rng(seed)
    plain = car("plain", underside_mm=8.0, front_overhang_mm=60.0)
    # Near straight leads everything takes its time.
    drawn = [] if seed % 2 else [random_car(rng, "drawn", (190, 200))]
    return [plain, *drawn, slung(rng, "slung", (190, 200))]


def every_block(one: Car, **more: float) -> tuple[Block, ...]:
    return tuple(
        it.model_copy(update={name: getattr(it, name) + by for name, by in more.items()})
        for it in one.blocks
    )


def higher(one: Car) -> Car:
    blocks = every_block(one, top_mm=3.0)
    return one.model_copy(update={"height_mm": one.height_mm + 3.0, "blocks": blocks})


def wider(one: Car) -> Car:
    blocks = every_block(one, left_mm=2.0, right_mm=1.0)
    return one.model_copy(update={"width_mm": one.width_mm + 4.0, "blocks": blocks})


def longer(one: Car) -> Car:
    """The rear end 15 mm further back; of blocks, all of those there."""
    blocks = tuple(
        it.model_copy(update={"to_mm": it.to_mm + 15.0}) if it.to_mm > one.length_mm - 0.1 else it
        for it in one.blocks
    )
    changes: dict[str, object] = {"length_mm": one.length_mm + 15.0, "blocks": blocks}
    if one.overhangs_mm:
        changes |= {"front_overhang_mm": one.overhangs_mm[0], "rear_overhang_mm": None}
    return one.model_copy(update=changes)


def lower(one: Car) -> Car:
    blocks = tuple(
        it.model_copy(update={"bottom_mm": max(1.0, it.bottom_mm - 2.0)}) if it.bottom_mm else it
        for it in one.blocks
    )
    underside = None if one.underside_mm is None else one.underside_mm - 2.0
    return one.model_copy(update={"underside_mm": underside, "blocks": blocks})


GROWN = {"higher": higher, "wider": wider, "longer": longer, "lower": lower}


@functools.cache
def gaps(seed: int, how: str = "") -> dict[str, np.ndarray]:
    cars = [GROWN[how](one) for one in stock(seed)] if how else stock(seed)
    where, survey = built(seed)
    return {
        it.check: np.where(it.applies, it.gap_mm, np.inf)
        for it in check(where, fleet_of(*cars), survey).columns
        if it.check in ("overhead", "inner_side", "outer_side", "underside")
    }


@pytest.mark.parametrize("seed", [2, 7])
@pytest.mark.parametrize("how", GROWN)
def test_a_larger_car_never_leaves_more_room(how: str, seed: int) -> None:
    small, large = gaps(seed), gaps(seed, how)
    assert set(small) == set(large) == {"overhead", "inner_side", "outer_side", "underside"}
    for name, before in small.items():
        # Nobody said how low a car is that has blocks from the railhead up.
        known = ~np.isnan(before)
        assert (large[name][known] <= before[known] + FOUND_MM).all(), name
        assert known[:, 0].all()


def test_it_does_matter_how_large_a_car_is() -> None:
    """Else the test above could not fail."""
    for how, name, least_mm in (
        ("higher", "overhead", 2.9),
        ("wider", "inner_side", 0.9),
        ("wider", "outer_side", 0.9),
        ("longer", "outer_side", 1.0),
        ("lower", "underside", 1.8),
    ):
        assert (gaps(2)[name][:, 0] - gaps(2, how)[name][:, 0] > least_mm).all(), how


# --- headrooms ------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [2, 7])
def test_a_headroom_measured_lower_lowers_the_gap_under_it_and_no_other(seed: int) -> None:
    """Each by its own amount."""
    where, survey = built(seed)
    measured = [it.station for it in survey.readings if it.headroom_mm is not None]
    assert len(measured) > 2
    by = {station: 0.5 + 0.7 * number for number, station in enumerate(measured)}
    lowered = Survey(
        readings=tuple(
            it.model_copy(update={"headroom_mm": it.headroom_mm - by[it.station]})
            if it.headroom_mm is not None
            else it
            for it in survey.readings
        )
    )
    one, other = (
        column(where, it, stock(seed), "overhead", every_obstacle=True) for it in (survey, lowered)
    )
    assert one.each_gap_mm is not None
    assert other.each_gap_mm is not None
    seen = 0
    for row, place in enumerate(one.places[: len(one.each_gap_mm)]):
        change = by.get(place.station, 0.0) if place.origin == "as measured" else 0.0
        seen += change > 0
        under = np.isfinite(one.each_gap_mm[row])
        difference = one.each_gap_mm[row][under] - other.each_gap_mm[row][under]
        assert_allclose(difference, change, rtol=0, atol=1e-3)
    assert seen == len(measured)


def test_a_wider_underside_leaves_no_more_room() -> None:
    """The same lamp, 0 to 150 mm wide along the track, over a line as built."""
    where, survey = built(2)
    gaps_mm = []
    for width_mm in (0.0, 50.0, 150.0):
        lamp = Obstacle(name="lamp", station=4.6, headroom_mm=215.0, width_mm=width_mm)
        found = column(
            where.model_copy(update={"obstacles": (lamp,)}),
            survey,
            stock(7),
            "overhead",
            every_obstacle=True,
        )
        assert found.each_gap_mm is not None
        (row,) = (n for n, place in enumerate(found.places) if place.obstacle == "lamp")
        gaps_mm.append(found.each_gap_mm[row])
    assert (np.diff(gaps_mm, axis=0) <= FOUND_MM).all()
    # On some 4 % half of 150 mm along the track is 3 mm.
    assert (gaps_mm[0] - gaps_mm[-1] > 1.0).all()


def test_a_block_of_the_same_size_in_a_smaller_one_changes_nothing() -> None:
    """A step within the outline of a body."""
    where, survey = built(2)
    body = block((0, 600), (55, 55), (20, 190))
    step = block((200, 400), (50, 50), (30, 150))
    with_step, without = (
        car(name, blocks=blocks) for name, blocks in (("a", (body, step)), ("b", (body,)))
    )
    for name in ("overhead", "inner_side", "outer_side", "underside"):
        found = column(where, survey, [with_step, without], name)
        assert_allclose(found.gap_mm[:, 0], found.gap_mm[:, 1], rtol=0, atol=FOUND_MM)
