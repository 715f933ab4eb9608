"""Where tell-tales hang, how high, and whom they stop: recomputed from what `check` finds."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from catalog.car import Car
from catalog.errors import UsageError
from catalog.helix import Allowance, Deck, Helix, Lead, Obstacle, Posts, ProfilePoint, Track
from catalog.survey import Reading, Survey
from clearance.judge.approach import Driving
from clearance.judge.check import check
from clearance.judge.fleet import Fleet
from clearance.judge.telltale import REFERENCE, Telltale
from clearance.judge.telltales import SMALL_FLEET, telltales
from tests.judge.clubs import block, car, column, finding, fleet_of, helix, random_fleet, single

Floats = NDArray[np.float64]

GRAVITY = 9806.65  # mm/s^2, ISO 80000-3
HUNDRED_FEET_MM = 30480.0
SIDES = Posts(inside_mm=300.0, outside_mm=300.0)


def top_limits_mm(where: Helix, cars: Fleet, track: str) -> dict[str, tuple[float, float]]:
    """Of each car with an overhead finding: its top limit, and what is spare overhead. [mm]"""
    result = check(where, cars)
    found = {}
    for number, name in enumerate(cars.ids):
        overhead = finding(result, track, "overhead", number)
        if overhead is not None:
            assert overhead.spare_mm is not None
            height = float(cars.figure("height_mm")[number])
            found[name] = height + overhead.spare_mm, overhead.spare_mm
    return found


def reaches_mm(where: Helix, cars: Fleet, cords: Telltale, survey: Survey | None = None) -> Floats:
    """How high cars reach at the cords: what the check finds under a lath there, shape (2, n)."""
    lath = Obstacle(
        name="cords", track=cords.track, station=cords.station, headroom_mm=100.0, width_mm=0.0
    )
    laid = where.model_copy(update={"obstacles": (*where.obstacles, lath)})
    it = column(check(laid, cars, survey, every_obstacle=True), cords.track, "overhead")
    assert it is not None
    assert it.each_gap_mm is not None
    number = [place.obstacle for place in it.places].index("cords")
    return np.where(it.applies, 100.0 - it.each_gap_mm[number], np.nan)


WHERE = {
    "two tracks": helix(),
    "a low lamp inside": helix(
        obstacles=(Obstacle(name="lamp", track="inner", station=-4.5, headroom_mm=217.0),)
    ),
    "clockwise, one track": single(climbs="clockwise"),
    "level leads, one bracket low": single(
        leads=(Lead(at="foot", length_mm=900.0), Lead(at="head", length_mm=900.0, grade=0.02)),
        profile=(ProfilePoint(station=17, railhead_mm=285 * 17 / 12 - 3),),
    ),
}


@pytest.mark.parametrize(
    ("which", "seed"),
    [(which, seed) for which, where in WHERE.items() for seed in range(1 if where.leads else 6)],
)
def test_whom_they_stop(which: str, seed: int) -> None:
    where, uneven = WHERE[which], which == "level leads, one bracket low"
    drawn = random_fleet(np.random.default_rng(seed), 40, (185.0, 222.0)).table.cars()
    long = car("long", wheelbase_mm=2900.0, length_mm=3000.0, height_mm=120.0)
    cars = fleet_of(*drawn, long)
    height = dict(zip(cars.ids, cars.figure("height_mm").tolist(), strict=True))
    made = telltales(where, cars)
    assert [(t.track, t.at) for t in made] == [
        (track.name, at) for track in where.tracks for at in ("foot", "head")
    ]
    for each in made:
        limits = top_limits_mm(where, cars, each.track)
        passing = {name for name, (_, spare) in limits.items() if spare >= 0}
        reach = height
        if uneven and each.at == "head":
            # Near a bracket that is low: not what it is tall decides, but what it reaches there.
            over = column(check(where, cars), each.track, "overhead")
            assert over is not None
            both = reaches_mm(where, cars, each)
            spare = over.gap_mm - over.budget.total_mm
            assert each.set_at_mm == math.floor(np.nanmin(both + spare))
            worse = np.nan_to_num(both).max(axis=0)
            reach = dict(zip(cars.ids, worse.tolist(), strict=True))
        else:
            least = min(limit for limit, _ in limits.values())
            assert each.set_at_mm == math.floor(least)
            assert_allclose(limits[each.governing][0], least, rtol=1e-12)
            if each.described:  # more than a hair over its height counts on an even climb, too
                both = reaches_mm(where, cars, each)
                worse = np.nan_to_num(both).max(axis=0)
                far = np.flatnonzero(worse - cars.figure("height_mm") >= 1.0)
                reach = height | {cars.ids[one]: float(worse[one]) for one in far}
        stopped = {name for name in cars.ids if reach[name] > each.set_at_mm}
        assert set(each.stops) == stopped
        # Whether it would pass is open for one that cannot stand here at all.
        assert set(each.lets_through) == set(cars.ids) - stopped - {"long"}
        assert set(each.false_alarms) == passing & stopped
        assert each.missed == []
        assert set(limits) - passing <= stopped
        assert each.not_measured == ["long"]
    assert any(t.stops for t in made)


def test_a_car_of_a_wide_tolerance_costs_false_alarms() -> None:
    """223 mm of headroom less 1 to 3 mm for pitch and beam, less 12 + sqrt(91): 198 to 201 mm."""
    boxcars = [car(str(n), height_mm=201.0 + n / 2) for n in range(8)]
    each = telltales(single(), fleet_of(*boxcars, car("vague", tolerance_mm=9)))[0]
    assert each.governing == "vague"
    assert 198 <= each.set_at_mm <= 200
    assert each.false_alarms == each.stops == [str(n) for n in range(8)]
    assert each.lets_through == ["vague"]
    assert telltales(single(), fleet_of(*boxcars))[0].false_alarms == []


@pytest.mark.parametrize("short_mm", [1e-6, 5e-10, 1e-12, 0.0])
def test_nobody_is_missed_by_a_rounding_error(short_mm: float) -> None:
    """A car of whole millimetres that is short of its allowance by next to nothing is stopped."""
    own = Allowance(overhead_mm=12, headroom_reading_mm=0, settlement_mm=0)
    cars = fleet_of(*(car(str(n), height_mm=203.0, tolerance_mm=0.0) for n in range(SMALL_FLEET)))
    bare = single(allowance=own, turns=0.5)

    def under(headroom_mm: float) -> Helix:
        lamp = Obstacle(name="lamp", station=3, headroom_mm=headroom_mm)
        return bare.model_copy(update={"obstacles": (lamp,)})

    found = finding(check(under(240.0), cars), "inner", "overhead")
    assert found is not None
    where = under(found.required_mm + 12 - short_mm)
    for each in telltales(where, cars):
        assert each.missed == []
        spare = [spare for _, spare in top_limits_mm(where, cars, "inner").values()]
        assert (each.stops == cars.ids) == (each.set_at_mm < 203)
        if min(spare) < 0:
            assert each.stops == cars.ids


# --- where they hang ------------------------------------------------------------------------------


def track_mm(where: Helix, track: Track, stations: float) -> float:
    """Length of rail between places that many stations apart: a screw line is straight unrolled."""
    turns = stations / where.brackets_per_turn
    return math.hypot(2 * math.pi * track.radius_mm, where.rise_per_turn_mm) * turns


@pytest.mark.parametrize("speed", [100.0, 350.0, 1200.0])
def test_before_is_enough_to_stop_in_and_what_full_size_practice_keeps(speed: float) -> None:
    driving = Driving(speed_mm_s=speed, deceleration_mm_s2=800.0, reaction_s=1.2)
    cars = fleet_of(car(scale=29.0), car("narrow", scale=22.5), car("no scale"))
    for each in telltales(helix(), cars, driving):
        grade = helix().grade(next(t for t in helix().tracks if t.name == each.track))
        along = GRAVITY * math.sin(math.atan(grade if each.at == "foot" else -grade))
        stopping = speed * 1.2 + speed**2 / (2 * (800 + along))
        assert_allclose(each.stopping_mm, stopping, rtol=1e-9)
        # 100 ft at the largest scale of the fleet.
        assert_allclose(each.practice.before_mm, HUNDRED_FEET_MM / 22.5, rtol=1e-12)
        needed = max(stopping, HUNDRED_FEET_MM / 22.5)
        assert needed <= each.before_mm < needed + 1


def test_downhill_takes_longer_to_stop() -> None:
    foot, head = telltales(single(), fleet_of(car()))
    assert foot.stopping_mm < head.stopping_mm


def test_brakes_that_do_not_hold_on_the_grade_are_refused() -> None:
    with pytest.raises(UsageError, match=r"does not hold a train on the 3\.8 %"):
        telltales(single(), fleet_of(car()), Driving(deceleration_mm_s2=300.0))


def test_without_a_scale_the_gauge_says_it() -> None:
    """1435 mm over 45 mm: 1:31.9."""
    each = telltales(single(), fleet_of(car()))[0]
    assert_allclose(each.practice.before_mm, HUNDRED_FEET_MM * 45 / 1435, rtol=1e-12)


def test_they_hang_before_the_first_and_after_the_last_beam() -> None:
    """Thirty brackets of a turn of twelve: beams over 0 to 18, each 38 mm wide."""
    where = helix()
    for each in telltales(where, fleet_of(car())):
        track = next(t for t in where.tracks if t.name == each.track)
        away = -each.station if each.at == "foot" else each.station - 18
        assert_allclose(track_mm(where, track, away), each.before_mm + 19, rtol=1e-9)


def test_they_hang_before_the_first_obstacle_wherever_it_is() -> None:
    first = Obstacle(name="portal", station=-6.5, headroom_mm=230.0, width_mm=100.0)
    last = Obstacle(name="lamp", track="inner", station=31, headroom_mm=300.0, width_mm=0.0)
    where = helix(obstacles=(first, last))
    for each in telltales(where, fleet_of(car())):
        track = next(t for t in where.tracks if t.name == each.track)
        if each.at == "foot":
            away, half = -6.5 - each.station, 50.0
        elif each.track == "inner":
            away, half = each.station - 31, 0.0
        else:  # there is track up to the lamp's station, so beams hang a turn beneath it
            away, half = each.station - 19, 19.0
        assert_allclose(track_mm(where, track, away), each.before_mm + half, rtol=1e-9)


def test_a_wide_obstacle_is_first_where_its_edge_is() -> None:
    """Its middle is above bracket 1, but it reaches 1000 mm to both sides: past the beam at 0."""
    tunnel = Obstacle(name="tunnel", station=1.0, headroom_mm=230.0, width_mm=2000.0)
    far = Obstacle(name="far tunnel", station=17.0, headroom_mm=230.0, width_mm=2000.0)
    where = single(obstacles=(tunnel, far))
    track = where.tracks[0]
    for each in telltales(where, fleet_of(car())):
        middle = 1.0 - each.station if each.at == "foot" else each.station - 17.0
        edge_mm = track_mm(where, track, middle) - 1000
        assert edge_mm >= each.before_mm - 1e-6


def test_the_lowest_place_is_named() -> None:
    lamp = Obstacle(name="lamp", track="inner", station=13.5, headroom_mm=210.0)
    for each in telltales(helix(obstacles=(lamp,)), fleet_of(car())):
        if each.track == "inner":
            assert (each.lowest.obstacle, each.lowest.station) == ("lamp", 13.5)
            assert each.headroom_mm == 210
        else:
            assert (each.lowest.obstacle, each.headroom_mm) == ("beam", 285 - 38 - 24)


def test_where_nothing_hangs_there_are_none() -> None:
    assert telltales(helix(turns=0.9), fleet_of(car())) == []
    lamp = Obstacle(name="lamp", track="outer", station=3, headroom_mm=210.0)
    made = telltales(helix(turns=0.9, obstacles=(lamp,)), fleet_of(car()))
    assert [t.track for t in made] == ["outer", "outer"]


def test_what_hangs_over_a_level_lead_counts() -> None:
    """A deck that still climbs hangs lowest where a level lead has only just begun: beam -1.

    It hangs 1/12 of 285 mm lower than the beam over bracket 0, and the lead has not dropped.
    """
    lead = Lead(at="foot", length_mm=900.0)
    for each in telltales(single(leads=(lead,), posts=SIDES), fleet_of(car(height_mm=120.0))):
        assert (each.lowest.obstacle, each.lowest.station) == ("beam", -1)
        assert_allclose(each.headroom_mm, 285 - 38 - 24 - 285 / 12, rtol=1e-12)
        assert each.set_at_mm < each.headroom_mm


def test_a_survey_lowers_them() -> None:
    """A beam that hangs 6 mm lower than drawn; 223 mm less 6, and what the drawn one asks for."""
    low = Survey(readings=(Reading(station=7, headroom_mm=217.0),))
    cars = fleet_of(*(car(str(n)) for n in range(SMALL_FLEET)))
    for drawn, built in zip(
        telltales(single(), cars), telltales(single(), cars, survey=low), strict=True
    ):
        assert (built.lowest.station, built.headroom_mm) == (7, 217.0)
        assert built.lowest.origin == "as measured"
        assert built.set_at_mm == drawn.set_at_mm - 6


# --- small fleets ---------------------------------------------------------------------------------


@pytest.mark.parametrize("count", range(SMALL_FLEET))
def test_a_reference_car_never_lets_more_through(count: int) -> None:
    """It takes a long passenger car into account; it may lower the cords and never raises them."""
    short = [
        car(str(n), length_mm=120.0, wheelbase_mm=60.0, truck_wheelbase_mm=0.0)
        for n in range(SMALL_FLEET)
    ]
    low, many = fleet_of(*short[:count]), fleet_of(*short)
    reckoned, alone = (telltales(single(), cars)[0] for cars in (low, many))
    assert alone.governing == "0"
    assert reckoned.set_at_mm <= alone.set_at_mm
    if count:
        limits = top_limits_mm(single(), low, "inner")
        assert reckoned.set_at_mm <= math.floor(min(limit for limit, _ in limits.values()))
    # 85 ft asks for more than a four-wheel truck does.
    assert reckoned.governing == REFERENCE
    assert reckoned.missed == []


def test_a_demanding_car_governs_even_a_small_fleet() -> None:
    vague = fleet_of(car("vague", tolerance_mm=15.0))
    each = telltales(single(), vague)[0]
    assert each.governing == "vague"
    assert each.set_at_mm == math.floor(top_limits_mm(single(), vague, "inner")["vague"][0])


def test_the_reference_car_is_an_85_ft_car_of_the_gauge() -> None:
    """85 ft long on 59 1/2 ft centres with 8 1/2 ft trucks, 10 ft wide, at 1435 / 45."""
    foot = 304.8 * 45 / 1435
    long = car(
        "85 ft",
        length_mm=85 * foot,
        wheelbase_mm=59.5 * foot,
        truck_wheelbase_mm=8.5 * foot,
        width_mm=10 * foot,
        height_mm=10 * foot,
    )
    limit, _ = top_limits_mm(single(), fleet_of(long), "inner")["85 ft"]
    assert telltales(single(), fleet_of())[0].set_at_mm == math.floor(limit)


def test_nobody_at_all() -> None:
    for each in telltales(helix(), fleet_of()):
        assert (each.stops, each.lets_through, each.governing) == ([], [], REFERENCE)
        assert 150 < each.set_at_mm < 285 - 38 - 24
        assert each.width_mm > 0


def test_a_fleet_that_stands_nowhere_gets_the_headroom() -> None:
    cars = fleet_of(
        *(car(str(n), wheelbase_mm=2900.0, length_mm=3000.0) for n in range(SMALL_FLEET))
    )
    for each in telltales(helix(), cars):
        assert each.set_at_mm == 285 - 38 - 24
        assert each.not_measured == cars.ids
        assert (each.false_alarms, each.missed) == ([], [])


# --- width ----------------------------------------------------------------------------------------


def swing_mm(where: Helix, one: Car) -> float:
    """How far a car reaches from its track's centreline, to either side, the worse way round."""
    result = check(where, fleet_of(one))
    sides = [finding(result, "inner", side) for side in ("inner_side", "outer_side")]
    return max(float(side.required_mm or 0) for side in sides if side is not None)


@pytest.mark.parametrize("seed", range(4))
def test_the_cords_cover_every_car_that_they_stop(seed: int) -> None:
    """Cars of one block, so that the side findings are those of what meets the cords."""
    rng = np.random.default_rng(seed)
    drawn = [
        one.model_copy(update={"blocks": ()})
        for one in random_fleet(rng, 30, (195.0, 222.0)).table.cars()
    ]
    where = single(posts=Posts(inside_mm=400.0, outside_mm=400.0))
    each = telltales(where, fleet_of(*drawn))[0]
    reaches = [swing_mm(where, one) for one in drawn if one.height_mm > each.set_at_mm]
    assert reaches
    assert max(reaches) <= each.width_mm / 2 < max(reaches) + 1


def test_what_is_lower_than_the_cords_needs_none_of_them() -> None:
    """Cylinders 300 mm across, 60 mm high, under a body of 100 mm."""
    body, cylinders = block((0, 600), (50, 50), (20, 215)), block((250, 350), (150, 150), (5, 60))
    wide = [car(str(n), height_mm=215, width_mm=300, blocks=(body, cylinders)) for n in range(5)]
    slim = [car(str(n), height_mm=215, width_mm=100, blocks=(body,)) for n in range(5)]
    widths = [telltales(single(), fleet_of(*cars))[0].width_mm for cars in (wide, slim)]
    assert widths[0] == widths[1] < 300


def test_they_cover_the_way_round_that_reaches_further() -> None:
    """A tall stack 100 mm to the left, nothing to the right: it may be on either side."""
    stack = block((280, 320), (100, -60), (20, 215))
    body = block((0, 600), (50, 50), (20, 120))
    for sides in (stack, stack.model_copy(update={"left_mm": -60.0, "right_mm": 100.0})):
        cars = [car(str(n), height_mm=215, width_mm=200, blocks=(body, sides)) for n in range(5)]
        each = telltales(single(), fleet_of(*cars))[0]
        assert each.width_mm >= 200


def test_a_helix_of_a_deck_alone() -> None:
    bare = single(deck=Deck(depth_mm=62.0))
    each = telltales(bare, fleet_of(car()))[0]
    assert each.lowest.obstacle == "deck"
    assert each.headroom_mm == 223


# --- as built -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("grade", "at_mm"), [(-0.03, 0.0), (0.0, 3.0)])
def test_on_a_lead_that_breaks_away_a_car_reaches_higher(grade: float, at_mm: float) -> None:
    """What it reaches is what the check leaves under a lath there, both ways round."""
    cars = random_fleet(np.random.default_rng(5), 12, (180.0, 215.0))
    near = fleet_of(*(one.model_copy(update={"scale": 900.0}) for one in cars.table.cars()))
    lead = Lead(at="foot", length_mm=1500.0, grade=grade)
    lamp = Obstacle(name="lamp", station=0.3, headroom_mm=224.0, width_mm=5.0)
    where = single(cant_mm=at_mm, turns=0.9, leads=(lead,), obstacles=(lamp,))
    each = telltales(where, near, Driving(speed_mm_s=20.0))[0]
    # So near the end of the curve that cars which touch the cords stand on both.
    assert each.along_lead_mm is not None
    assert each.along_lead_mm < 500
    both = reaches_mm(where, near, each)
    over = column(check(where, near), "inner", "overhead")
    assert over is not None
    spare = over.gap_mm - over.budget.total_mm
    assert each.set_at_mm == math.floor((both + spare).min())
    raised = both - near.figure("height_mm")
    assert raised.max() > 1
    assert_allclose(each.raised_mm, (raised.min(), raised.max()), atol=2e-3)
    assert set(each.stops) == {
        near.ids[n] for n in np.flatnonzero((both > each.set_at_mm).any(axis=0))
    }
    assert each.missed == []


def test_how_far_along_a_lead() -> None:
    """The portal is 700 mm along, 10 mm wide; the cords hang so much further out."""
    portal = Obstacle(name="portal", distance_mm=700.0, headroom_mm=230.0, width_mm=10.0)
    lead = Lead(at="foot", length_mm=3000.0)
    where = single(leads=(lead,), obstacles=(portal,))
    foot, head = telltales(where, fleet_of(car()))
    assert (foot.first.obstacle, head.first.obstacle) == ("portal", "beam")
    assert foot.along_lead_mm is not None
    assert_allclose(foot.along_lead_mm, 700 + 5 + foot.before_mm, rtol=1e-9)
    assert foot.described
    assert foot.raised_mm == (0.0, 0.0)
    assert head.along_lead_mm is None


def test_the_grade_on_which_it_stops_is_that_of_the_lead() -> None:
    """A lead that falls 4 % towards the helix: a train to the portal runs on for longer."""
    portal = Obstacle(name="portal", distance_mm=0.0, headroom_mm=230.0, width_mm=0.0)
    driving = Driving(speed_mm_s=1000.0, deceleration_mm_s2=800.0, reaction_s=1.0)
    for grade in (-0.04, 0.0, 0.04):
        lead = Lead(at="foot", length_mm=6000.0, grade=grade)
        where = single(leads=(lead,), obstacles=(portal,), posts=SIDES)
        foot, _ = telltales(where, fleet_of(car()), driving)
        # The lead's own end is not described beyond: all of the way is on it.
        assert foot.along_lead_mm is not None
        assert foot.along_lead_mm < 6000
        along = GRAVITY * math.sin(math.atan(grade))
        # Beams hang over the foot of the lead; the first of them is before the portal.
        assert_allclose(foot.stopping_mm, 1000 + 1000**2 / (2 * (800 + along)), rtol=1e-9)


def test_what_reaches_ahead_of_the_cords_is_added() -> None:
    """A crane: its house stands 400 mm behind the end of its jib, and is what meets the cords."""
    blocks = (block((0, 420), (10, 10), (150, 170)), block((400, 600), (55, 55), (20, 222)))
    crane = car("crane", height_mm=222.0, blocks=blocks)
    others = [car(str(n)) for n in range(SMALL_FLEET)]
    driving = Driving(speed_mm_s=900.0)
    for each in telltales(single(), fleet_of(crane, *others), driving):
        assert "crane" in each.stops
        # One way round the jib is ahead, whichever way the train goes.
        assert each.ahead_mm == 400
        assert each.before_mm == math.ceil(each.stopping_mm + 400)
    for each in telltales(single(), fleet_of(*others), driving):
        assert each.ahead_mm == 0


def test_one_way_round_is_enough_to_be_stopped_for() -> None:
    """A long nose, under a lamp where the climb begins: it passes one way round only."""
    lamp = Obstacle(name="lamp", station=0.6, headroom_mm=224.0, width_mm=5.0)
    where = single(turns=0.9, leads=(Lead(at="foot", length_mm=4000.0),), obstacles=(lamp,))

    def nose(height_mm: float) -> Car:
        return car(
            "nose",
            height_mm=height_mm,
            wheelbase_mm=200.0,
            truck_wheelbase_mm=0.0,
            front_overhang_mm=350.0,
        )

    over = column(check(where, fleet_of(nose(180.0))), "inner", "overhead")
    assert over is not None
    spare = (over.gap_mm - over.budget.total_mm)[:, 0]
    assert abs(spare[0] - spare[1]) > 0.2
    others = (car(str(n), height_mm=150.0) for n in range(SMALL_FLEET))
    cars = fleet_of(nose(180.0 + float(spare.mean())), *others)
    over = column(check(where, cars), "inner", "overhead")
    assert over is not None
    short = (over.gap_mm < over.budget.total_mm)[:, 0]
    assert short[0] != short[1]
    for each in telltales(where, cars):
        assert each.stops == ["nose"]
        assert each.false_alarms == each.missed == []


# --- cords that hang already ----------------------------------------------------------------------


def test_cords_that_hang_too_high_miss_some_and_too_low_stop_more() -> None:
    """Heights 198 to 212 mm on straight level track: whom cords stop is by height alone."""
    cars = fleet_of(*(car(str(n), height_mm=198.0 + n) for n in range(15)))
    right = telltales(single(), cars)[0]
    assert right.hung is None
    result = check(single(), cars)
    passing = {
        cars.ids[n]
        for n in range(15)
        if (found := finding(result, "inner", "overhead", n)) and (found.spare_mm or 0) >= 0
    }
    assert 0 < len(passing) < 15
    for hung_mm in (196.0, right.set_at_mm, 209.5):
        foot = telltales(single(), cars, hung_mm=hung_mm)[0]
        hung = foot.hung
        assert hung is not None
        assert foot.set_at_mm == right.set_at_mm
        assert hung.hung_mm == hung_mm
        stopped = {str(n) for n in range(15) if 198 + n > hung_mm}
        assert set(hung.stops) == stopped
        assert set(hung.false_alarms) == stopped & passing
        assert set(hung.missed) == set(cars.ids) - passing - stopped
        assert set(hung.lets_through) == set(cars.ids) - stopped
    assert hung.missed
    assert right.false_alarms == []


def test_how_many_cords() -> None:
    """Wikipedia's 8 ft at 3 in is 33 of them; ours as many as cover the width at that spacing."""
    each = telltales(single(), fleet_of(car()))[0]
    gaps = each.cords - 1
    assert (gaps - 1) * each.practice.cords_apart_mm < each.width_mm
    assert each.width_mm <= gaps * each.practice.cords_apart_mm
    assert_allclose(each.below_mm, each.headroom_mm - each.set_at_mm, rtol=1e-12)
