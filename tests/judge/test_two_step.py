"""A second tell-tale further on: when it is offered, where, and whom the two stop."""

import math

import numpy as np
import pytest

from catalog.helix import Helix, Lead, Obstacle
from catalog.survey import Reading, Survey
from clearance.geometry.stopping import scaled_bridge_warning
from clearance.judge.approach import Driving, Span, approach_from, walk_mm
from clearance.judge.check import check
from clearance.judge.cords import Overhead
from clearance.judge.fleet import Fleet
from clearance.judge.heights import is_even, required_heights_mm
from clearance.judge.places import Place
from clearance.judge.structure import Structure
from clearance.judge.telltale import Telltale
from clearance.judge.telltales import telltales
from clearance.judge.two_step import Guarded
from tests.judge.clubs import INNER_MM, car, column, fleet_of, random_built, random_fleet, single

USUAL_MM = 12 + math.sqrt(11)  # allowance: tolerances 1, 1 and 3 mm
BOARD_MM = 2 * math.pi * INNER_MM / 12
SLOW = Driving(speed_mm_s=50.0)


def portal_helix(at: str, headroom_mm: float) -> Helix:
    """A portal 2.5 m out on a lead that climbs as the helix does; beams at 223 mm over 0 to 18."""
    grade = 285 / (2 * np.pi * INNER_MM)
    portal = Obstacle(name="portal", distance_mm=2500.0, headroom_mm=headroom_mm, width_mm=10.0)
    return single(leads=(Lead(at=at, length_mm=6000.0, grade=grade),), obstacles=(portal,))


def test_on_a_hump_like_that_before_the_low_beam_it_tells_the_long_car_from_the_short_one() -> None:
    """Brackets 3 and 9 stand 6 mm high, and half a board beyond 9 there are only 215 mm.

    The long car's noses hang 320 mm over its axles, so half a board beyond a hump they ride up by
    half of what the two boards bend: 6 mm. On the even lead it is but as tall as it is. So one row
    there must be lower than it by what it is short, 196 + 6 + 15.3 - 215 = 2.3 mm, and stops the
    short car, which passes. Beyond the first hump both reach what they need at the low beam.
    """
    where = single()
    humps = {3: 6.0, 9: 6.0}
    readings = [
        Reading(station=k, railhead_mm=23.75 * k + humps.get(k, 0.0))
        for k in range(where.last_station + 1)
    ]
    low = Reading(station=9.5, headroom_mm=215.0)
    long_car = car("long", height_mm=196.0, length_mm=840.0, wheelbase_mm=200.0)
    short_car = car("short", height_mm=195.0, length_mm=300.0, wheelbase_mm=200.0)
    others = [car(str(n), height_mm=150.0) for n in range(4)]  # no reference car is called in
    fleet = fleet_of(long_car, short_car, *others)
    each = telltales(where, fleet, SLOW, Survey(readings=(*readings, low)))[0]
    assert each.set_at_mm == pytest.approx(196 - (196 + 6 + USUAL_MM - 215), abs=1.5)
    assert (each.stops, each.false_alarms) == (["long", "short"], ["short"])
    two = each.second
    assert two is not None
    assert two.station in (2.5, 3.5)
    assert two.set_at_mm == pytest.approx(215 - USUAL_MM, abs=1.5)
    assert two.first_set_at_mm > 196
    assert (two.stops, two.false_alarms, two.missed) == (["long"], [], [])
    assert two.spares == ["short"]
    assert each.station < two.station < 9.5
    assert two.before_mm >= each.practice.before_mm


@pytest.mark.parametrize(("at", "number"), [("foot", 0), ("head", 1)])
def test_none_is_offered_that_a_lower_car_of_the_kind_would_go_by(at: str, number: int) -> None:
    """Eight cars pass; a tall one, measured to 9 mm, does not, and sets one row under all of them.

    A first row for the portal could be 3 mm higher and stop it all the same. But one like it, a
    little lower, would go by, and by a second row that did not reckon with it; one that does hangs
    as low as one row by itself.
    """
    usual = (car(str(n), height_mm=201.0 + n / 2) for n in range(8))
    cars = fleet_of(*usual, car("vague", height_mm=209.0, tolerance_mm=9.0))
    each = telltales(portal_helix(at, 226.0), cars, SLOW)[number]
    assert each.false_alarms == [str(n) for n in range(8)]
    assert each.second is None


def test_none_is_offered_where_nobody_is_stopped_needlessly() -> None:
    cars = fleet_of(*(car(str(n), height_mm=210.0) for n in range(8)))
    for each in telltales(portal_helix("foot", 226.0), cars, SLOW):
        assert (each.false_alarms, each.second) == ([], None)


# --- all pairs of rows tried ----------------------------------------------------------------------


def noisy(seed: int) -> tuple[Helix, Survey, Fleet]:
    """A line as built, and cars about as high as what passes."""
    rng = np.random.default_rng(seed)
    where, survey = random_built(rng, straight=False)
    where = where.model_copy(update={"obstacles": ()})
    survey = survey.model_copy(
        update={"readings": tuple(it for it in survey.readings if it.station == int(it.station))}
    )
    return where, survey, random_fleet(rng, 25, (175.0, 212.0))


def fewest_needless(where: Helix, survey: Survey, cars: Fleet, each: Telltale) -> int:
    """How many two rows must stop needlessly at the least: every place, split and height tried.

    A car of a kind that is lower by d reaches d less and has d more to spare; d may be below 0.
    None of these kinds, however high, may come under what it does not pass but by cords it met.
    """
    structure = Structure(where, survey)
    track = next(it for it in where.tracks if it.name == each.track)
    over = column(check(where, cars, survey), track.name, "overhead")
    assert over is not None
    found = Overhead.of(over, len(cars))
    guarded = Guarded.of(structure, track, cars, over, np.arange(len(cars))).as_met(each.at)
    spare = np.fmax(guarded.spare_mm, found.spare_mm)
    fine = found.measured & ~found.fails.any(axis=0)
    line, half = structure.line(track), structure.step_rad / 2
    sign = 1 if each.at == "foot" else -1
    start = each.station * structure.step_rad
    longest = cars.figure("length_mm").max() / track.radius_mm

    def reach_at(place: float) -> np.ndarray:
        if not line.start_rad <= place <= line.end_rad:
            return np.broadcast_to(cars.figure("height_mm"), (2, len(cars)))
        assert not is_even(line, place, longest)
        (reach,) = required_heights_mm(structure, track, cars, np.array([place]))
        return reach

    first = reach_at(start)
    fewest = len(cars)
    ends = (math.ceil(line.start_rad / half) - 20, math.floor(line.end_rad / half) + 20)
    for place in (number * half for number in range(*ends)):
        if sign * (place - start) <= 1e-9:
            continue
        far_from = [
            split
            for split in range(1, len(guarded.spans))
            if approach_from(
                structure,
                track,
                guarded.spans[split:],
                each.at,
                SLOW,
                each.practice.before_mm,
                place,
                each.ahead_mm,
            )
        ]
        if not far_from:
            continue
        second = reach_at(place)
        for split in far_from:
            near, far = spare[:split].min(axis=0), spare[split:].min(axis=0)
            for low in np.arange(each.set_at_mm - 3, each.set_at_mm + 30):
                met = first - low  # by so much lower, or less than so much higher, it goes by
                if (near + met < -1e-9).any() or low > guarded.headroom_mm[:split].min():
                    continue
                for high in np.arange(each.set_at_mm + 30, each.set_at_mm - 3, -1):
                    goes_by = np.maximum(met, second - high)
                    if (far + goes_by < -1e-9).any() or high > guarded.headroom_mm[split:].min():
                        continue
                    stopped = (first > low).any(axis=0) | (second > high).any(axis=0)
                    fewest = min(fewest, int((stopped & fine).sum()))
                    break
    return fewest


@pytest.mark.parametrize(
    "seed", [pytest.param(2, marks=pytest.mark.slow), pytest.param(3, marks=pytest.mark.slow), 10]
)
def test_it_is_offered_wherever_two_rows_spare_anybody_and_none_spares_more(seed: int) -> None:
    where, survey, cars = noisy(seed)
    found = telltales(where, cars, SLOW, survey)
    assert any(each.second for each in found)
    for each in found:
        needless = len(each.false_alarms)
        offered = len(each.second.false_alarms) if each.second else needless
        fewest = min(needless, fewest_needless(where, survey, cars, each)) if needless else 0
        assert offered == fewest


@pytest.mark.parametrize("seed", [2, 7])
def test_two_never_miss_and_spare_somebody(seed: int) -> None:
    """On lines as built, with fleets about as high as what passes."""
    where, survey, cars = noisy(seed)
    found = telltales(where, cars, SLOW, survey)
    assert any(each.second for each in found)
    for each in found:
        two = each.second
        if two is None:
            continue
        assert two.missed == []
        assert (2 * two.station) == pytest.approx(round(2 * two.station))
        assert len(two.false_alarms) < len(each.false_alarms)
        assert set(two.spares) == set(each.false_alarms) - set(two.false_alarms)
        over = column(check(where, cars, survey), each.track, "overhead")
        assert over is not None
        short = (over.gap_mm < over.budget.total_mm).any(axis=0) & over.applies
        assert {cars.ids[n] for n in np.flatnonzero(short)} <= set(two.stops)


@pytest.mark.parametrize(("at", "sign"), [("foot", 1), ("head", -1)])
def test_cords_at_a_place_need_room_to_stop_before_what_they_guard(at: str, sign: int) -> None:
    """Stopping takes 0.05 x 1.5 s and v^2 / 2a: under 80 mm; full-size practice asks for 1.3 m."""
    where = single()
    structure, track = Structure(where), where.tracks[0]
    practice = scaled_bridge_warning(22.5).before_mm
    line = structure.line(track)
    beam = Span(0, Place(9, "beam"), 9 * structure.step_rad, 9 * structure.step_rad)
    for boards, room in ((2, False), (3, True)):
        assert (boards * BOARD_MM > practice) == room
        place = (9 - sign * boards) * structure.step_rad
        found = approach_from(structure, track, [beam], at, SLOW, practice, place)
        assert (found is not None) == room
        if found:
            apart = abs(walk_mm(line, beam.from_rad) - walk_mm(line, place))
            assert found.before_mm == math.floor(apart)
            assert apart == pytest.approx(boards * math.hypot(BOARD_MM, 23.75))
    behind = (9 + sign) * structure.step_rad
    assert approach_from(structure, track, [beam], at, SLOW, 10.0, behind) is None
    near = (9 - sign) * structure.step_rad
    assert approach_from(structure, track, [beam], at, SLOW, 10.0, near) is not None
    assert approach_from(structure, track, [beam], at, SLOW, 10.0, near, BOARD_MM) is None
