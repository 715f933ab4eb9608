"""Every figure that cannot be is refused, in words that a club member understands."""

import math
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from catalog.car import Block, Car
from catalog.errors import DataError
from catalog.frames import Frame
from catalog.helix import (
    Adjusters,
    Allowance,
    Deck,
    Helix,
    Lead,
    Obstacle,
    Posts,
    ProfilePoint,
    Recovery,
    Stringers,
    Track,
)
from catalog.record import Record, complaint_of, refuse
from catalog.survey import Reading, Survey
from tests.catalog.possible import cars, helices

CAR: dict[str, Any] = {
    "id": "27",
    "height_mm": 200.0,
    "width_mm": 110.0,
    "length_mm": 600.0,
    "wheelbase_mm": 400.0,
}
BLOCK: dict[str, Any] = {
    "from_mm": 0.0,
    "to_mm": 600.0,
    "left_mm": 55.0,
    "right_mm": 55.0,
    "top_mm": 200.0,
}
HELIX: dict[str, Any] = {
    "name": "Quarry Bank helix",
    "gauge_mm": 45.0,
    "turns": 2.5,
    "rise_per_turn_mm": 285.0,
    "brackets_per_turn": 12,
    "tracks": ({"name": "inner", "radius_mm": 1190.0}, {"name": "outer", "radius_mm": 1380.0}),
    "deck": {"depth_mm": 38.0, "beam_depth_mm": 24.0, "beam_width_mm": 38.0},
}


def _sentence(kind: type[Record], fields: dict[str, Any]) -> str:
    """The sentence with which a record is refused."""
    with pytest.raises(ValidationError) as raised:
        kind(**fields)
    with pytest.raises(DataError) as told:
        refuse(raised.value, "it")
    line = str(told.value)
    assert line.startswith("it: ")
    assert "\n" not in line
    return line.removeprefix("it: ")


CAR_SIZES = ("height_mm", "width_mm", "length_mm", "wheelbase_mm")
CAR_OPTIONAL_SIZES = (
    "gauge_mm",
    "length_over_couplers_mm",
    "minimum_radius_mm",
    "coupler_drop_mm",
)
CAR_ANGLES = ("truck_swing_deg", "coupler_angle_deg")
CAR_NOT_NEGATIVE = (
    "truck_wheelbase_mm",
    "front_overhang_mm",
    "rear_overhang_mm",
    "underside_mm",
    "side_play_mm",
    "coupler_swing_mm",
    "tolerance_mm",
)


@pytest.mark.parametrize("name", [*CAR_SIZES, *CAR_OPTIONAL_SIZES])
@pytest.mark.parametrize("value", [0.0, -0.0, -1.0, -1e-9])
def test_a_size_must_be_more_than_nothing(name: str, value: float) -> None:
    assert _sentence(Car, CAR | {name: value}) == f"{name} must be more than 0 (it is {value!r})"


@pytest.mark.parametrize("axles", [1, 0, -2, 2.5, math.nan, math.inf, 101])
def test_axles_are_counted(axles: float) -> None:
    assert _sentence(Car, CAR | {"axles": axles}).startswith("axles must be a whole number from 2")


@pytest.mark.parametrize(
    ("fields", "guiding"),
    [
        ({"truck_wheelbase_mm": 60.0}, 4),
        ({"truck_wheelbase_mm": 0.0}, 2),
    ],
)
def test_any_more_axles_than_guide_it_stand_between(fields: dict[str, Any], guiding: int) -> None:
    assert Car(**(CAR | fields)).guiding_axles == guiding
    for axles in (guiding, guiding + 3):
        assert Car(**(CAR | fields | {"axles": axles})).axles == axles
    if guiding > 2:
        line = _sentence(Car, CAR | fields | {"axles": guiding - 1})
        assert line.startswith("it has 3 axles, but its two trucks stand on 4")


@pytest.mark.parametrize("name", CAR_NOT_NEGATIVE)
def test_a_distance_must_not_be_negative(name: str) -> None:
    assert _sentence(Car, CAR | {name: -1.0}) == f"{name} must not be negative (it is -1.0)"


@pytest.mark.parametrize("name", [*CAR_SIZES, *CAR_OPTIONAL_SIZES, *CAR_NOT_NEGATIVE])
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_length_must_be_real(name: str, value: float) -> None:
    assert _sentence(Car, CAR | {name: value}).startswith(f"{name} must be a real number")


@pytest.mark.parametrize("name", [*CAR_SIZES, *CAR_OPTIONAL_SIZES, *CAR_NOT_NEGATIVE])
@pytest.mark.parametrize("value", [1e99, 100_000.1, 10**400, 100_001])
def test_a_length_must_not_be_absurd(name: str, value: float) -> None:
    line = _sentence(Car, CAR | {name: value})
    assert line.startswith(f"{name} is absurd") or line.startswith(f"{name} must be a real number")
    assert len(line) < 200


@pytest.mark.parametrize("name", [*CAR_SIZES, *CAR_OPTIONAL_SIZES, *CAR_NOT_NEGATIVE, "scale"])
@pytest.mark.parametrize("value", ["216", True, b"216", [216.0], 216j])
def test_a_length_must_be_a_number(name: str, value: object) -> None:
    assert _sentence(Car, CAR | {name: value}).startswith(f"{name} must be a number")


@pytest.mark.parametrize("name", CAR_ANGLES)
@pytest.mark.parametrize("value", [0.0, -1.0, 90.001, 1e99, math.nan, math.inf])
def test_a_swing_is_more_than_nothing_and_no_more_than_square(name: str, value: float) -> None:
    words = f"{name} must be more than 0 degrees, and at most 90 (it is {value!r})"
    assert _sentence(Car, CAR | {name: value}) == words


@pytest.mark.parametrize("name", CAR_ANGLES)
@pytest.mark.parametrize("value", [1e-6, 12, 90.0])
def test_a_possible_swing(name: str, value: float) -> None:
    assert getattr(Car(**(CAR | {name: value})), name) == value


@pytest.mark.parametrize("name", ["id", *CAR_SIZES])
def test_what_every_car_has(name: str) -> None:
    fields = {field: value for field, value in CAR.items() if field != name}
    assert _sentence(Car, fields) == f"{name} is missing"


@pytest.mark.parametrize("value", [0.0, -22.5, 0.999, 1000.1, 1e99, math.nan, math.inf])
def test_a_scale_is_between_1_and_1000(value: float) -> None:
    assert _sentence(Car, CAR | {"scale": value}).startswith("scale must be like 1:22.5, between")


@pytest.mark.parametrize("value", [1, 1.0, 22.5, 1000])
def test_a_possible_scale(value: float) -> None:
    assert Car(**CAR, scale=value).scale == value


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"id": ""}, "id is empty; it is what is painted on the car"),
        ({"id": "  "}, "id is empty"),
        ({"id": 27}, "id must be text (it is 27)"),
        ({"notes": "\0"}, "notes holds a character that no file can hold"),
        ({"owner": "caf\udce9"}, "owner holds a character that no file can hold"),
        ({"gauge_mm": 1435.0}, "gauge_mm is no model's track; give the gauge the model runs on"),
        ({"dimensions": "half"}, "dimensions must be 'model' or 'full-size' (it is 'half')"),
        ({"dimensions": "full-size"}, "scale is missing; full-size figures need one, like 1:22.5"),
        ({"weight": "heavy"}, "weight must be a weight like 850 g, 2.4 kg, 12 oz or 5 lb"),
        ({"weight": "-1 kg"}, "weight must be a weight like"),
        ({"measured_on": "31.5.2026"}, "measured_on must be a date like 2026-05-31"),
        ({"colour": "red"}, "colour is not a known field"),
        ({"wheelbase_mm": 600.1}, "the wheelbase (600.1 mm) is longer than the body (600 mm)"),
        ({"truck_wheelbase_mm": 400.0}, "the truck wheelbase (400 mm) must be shorter than the wh"),
        ({"truck_wheelbase_mm": 500.0}, "the truck wheelbase (500 mm) must be shorter than the wh"),
        ({"front_overhang_mm": 201.0}, "overhang and wheelbase together are longer than the body"),
        ({"rear_overhang_mm": 201.0}, "overhang and wheelbase together are longer than the body"),
        (
            {"front_overhang_mm": 100.0, "rear_overhang_mm": 98.0},
            "front overhang, wheelbase and rear overhang make 598 mm, but the length is 600 mm",
        ),
        ({"length_over_couplers_mm": 599.0}, "the length over couplers (599 mm) is shorter than"),
        ({"underside_mm": 200.0}, "the underside (200 mm) is not below the top (200 mm)"),
        ({"tolerance_mm": 200.0}, "the tolerance (200 mm) is as large as the height (200 mm)"),
        ({"height_mm": 1.0}, "the tolerance (1 mm) is as large as the height (1 mm)"),
        # The supports, 400 mm apart, lie on no circle of less than 200 mm radius.
        ({"minimum_radius_mm": 200.0}, "the least radius (200 mm) is one that the car's own len"),
        (
            # Axles at both ends of trucks 300 mm long, 400 mm apart: 3-4-5, so 250 mm.
            {"minimum_radius_mm": 250.0, "truck_wheelbase_mm": 300.0},
            "the least radius (250 mm) is one that the car's own length cannot stand on: "
            "its supports need more than 250.0 mm",
        ),
        ({"blocks": [BLOCK | {"to_mm": 0.0}]}, "blocks.0.to_mm must be more than 0"),
        ({"blocks": [BLOCK | {"top_mm": 230.0}]}, "the tallest block is 230 mm high, but the hei"),
        ({"blocks": [BLOCK | {"top_mm": 170.0}]}, "the tallest block is 170 mm high, but the hei"),
        ({"blocks": [BLOCK | {"right_mm": 70.0}]}, "the blocks are 125 mm wide, but the width is"),
        ({"blocks": [BLOCK | {"from_mm": 5.0}]}, "the blocks reach from 5 to 600 mm, but the bo"),
        ({"blocks": [BLOCK | {"to_mm": 590.0}]}, "the blocks reach from 0 to 590 mm, but the bo"),
    ],
)
def test_an_impossible_car(fields: dict[str, Any], words: str) -> None:
    assert _sentence(Car, CAR | fields).startswith(words)


@pytest.mark.parametrize(
    "fields",
    [
        {"wheelbase_mm": 600.0},
        {"truck_wheelbase_mm": 399.9},
        {"front_overhang_mm": 200.0},
        {"front_overhang_mm": 100.0, "rear_overhang_mm": 99.5},
        {"front_overhang_mm": 100.0, "rear_overhang_mm": 90.0, "tolerance_mm": 10.0},
        {"length_over_couplers_mm": 600.0},
        {"minimum_radius_mm": 200.1},
        {"height_mm": 216},  # a whole number is a number
        {"blocks": [BLOCK]},
        {"blocks": [BLOCK | {"left_mm": 10.0, "right_mm": 100.0}]},
        # Twice the side that stands out further is how a gauge frame measures width.
        {"blocks": [BLOCK | {"left_mm": 30.0, "right_mm": 55.0}]},
        {"measured_on": date(2026, 5, 31), "weight": "2.4 kg"},
    ],
)
def test_a_car_at_the_edge_of_the_possible(fields: dict[str, Any]) -> None:
    Car(**(CAR | fields))


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"from_mm": 600.0}, "to (600 mm) must be further from the front than from (600 mm)"),
        ({"from_mm": -1.0}, "from_mm must not be negative"),
        ({"left_mm": -55.0}, "left (-55 mm) and right (55 mm) leave no width"),
        ({"left_mm": math.nan}, "left_mm must be a real number"),
        ({"bottom_mm": 200.0}, "top (200 mm) must be above bottom (200 mm)"),
        ({"bottom_mm": -3.0}, "bottom_mm must not be negative"),
        ({"top_mm": 0.0}, "top_mm must be more than 0"),
    ],
)
def test_an_impossible_block(fields: dict[str, Any], words: str) -> None:
    assert _sentence(Block, BLOCK | fields).startswith(words)


@given(cars())
def test_overhangs_fill_the_body(car: Car) -> None:
    front, rear = car.overhangs_mm
    assert math.isclose(front + car.wheelbase_mm + rear, car.length_mm, abs_tol=1e-9)
    assert min(front, rear) > -1e-5


@given(cars(), st.floats(1.001, 40))
def test_no_car_has_a_wheelbase_longer_than_its_body(car: Car, times: float) -> None:
    longer = {**car.model_dump(), "wheelbase_mm": car.length_mm * times}
    assert _sentence(Car, longer).startswith("the wheelbase (")


@given(cars(), st.floats(0, 1, exclude_min=True))
def test_no_car_states_a_radius_that_it_cannot_stand_on(car: Car, part: float) -> None:
    # A chord is no longer than the diameter: the supports' own distance is the least diameter.
    axles = math.hypot(car.wheelbase_mm, car.truck_wheelbase_mm)
    shorter = {**car.model_dump(), "minimum_radius_mm": axles / 2 * part}
    if shorter["minimum_radius_mm"] > 0:
        assert "cannot stand on" in _sentence(Car, shorter)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"name": " "}, "name is empty"),
        ({"gauge_mm": 0.0}, "gauge_mm must be more than 0"),
        ({"gauge_mm": math.nan}, "gauge_mm must be a real number"),
        ({"turns": 0.0}, "turns must be more than 0, and at most 100"),
        ({"turns": 101.0}, "turns must be more than 0, and at most 100"),
        ({"turns": math.inf}, "turns must be a real number"),
        ({"turns": 10**400}, "turns must be a real number"),
        ({"rise_per_turn_mm": -285.0}, "rise_per_turn_mm must be more than 0"),
        ({"rise_per_turn_mm": 1e99}, "rise_per_turn_mm is absurd"),
        ({"rise_per_turn_mm": 62.0}, "deck (38 mm) and beam (24 mm) leave no headroom in a rise"),
        ({"rise_per_turn_mm": 2850.0}, "track 'inner' climbs 38.1 %: no train does; is the rise"),
        ({"brackets_per_turn": 2}, "brackets_per_turn must be a whole number from 3 to 720"),
        ({"brackets_per_turn": 721}, "brackets_per_turn must be a whole number from 3 to 720"),
        ({"brackets_per_turn": 12.5}, "brackets_per_turn must be a whole number (it is 12.5)"),
        ({"climbs": "up"}, "climbs must be 'counterclockwise' or 'clockwise'"),
        ({"tracks": ()}, "tracks must not be empty"),
        ({"tracks": ({"name": "", "radius_mm": 9.0},)}, "tracks.0.name is empty"),
        ({"tracks": ({"name": "a", "radius_mm": 0.0},)}, "tracks.0.radius_mm must be more than 0"),
        (
            {"tracks": ({"name": "a", "radius_mm": 45.0},)},
            "track 'a': radius 45 mm is no more than",
        ),
        (
            {"tracks": ({"name": "a", "radius_mm": 1190.0, "cant_mm": 22.5},)},
            "track 'a': a cant of 22.5 mm would lay a car on its side",
        ),
        (
            {"tracks": ({"name": "a", "radius_mm": 1190.0}, {"name": "a", "radius_mm": 1380.0})},
            "two tracks have the same name: a, a",
        ),
        (
            {"tracks": ({"name": "a", "radius_mm": 1190.0}, {"name": "b", "radius_mm": 1235.0})},
            "track 'b' (radius 1235 mm) must lie outside 'a' (1190 mm) by more than the gauge",
        ),
        (
            {"tracks": ({"name": "a", "radius_mm": 1380.0}, {"name": "b", "radius_mm": 1190.0})},
            "track 'b' (radius 1190 mm) must lie outside 'a' (1380 mm)",
        ),
        ({"deck": {"depth_mm": -1.0}}, "deck.depth_mm must not be negative"),
        ({"deck": {"depth_mm": 9.0, "beam_width_mm": 2400.0}}, "a beam 2400 mm wide does not go"),
        ({"posts": {"inside_mm": 1190.0}}, "posts.inside (1190 mm) is beyond the middle of a hel"),
        ({"posts": {"inside_mm": -1.0}}, "posts.inside_mm"),
        ({"allowance": {"overhead_mm": -1.0}}, "allowance.overhead_mm must not be negative"),
        ({"allowance": {"headroom": 1.0}}, "allowance.headroom is not a known field"),
        ({"adjusters": {"pitch_mm": 0.0, "travel_mm": 1.0}}, "adjusters.pitch_mm must be more th"),
        (
            {"adjusters": {"pitch_mm": 1.25, "travel_mm": 40.0, "step": 0.0}},
            "adjusters step must be more than 0 turns (it is 0)",
        ),
        ({"profile": ({"station": math.nan, "railhead_mm": 0.0},)}, "profile.0.station must be a"),
        (
            {"profile": ({"station": 1e9, "railhead_mm": 0.0},)},
            "profile.0.station is absurd: no he",
        ),
        (
            {"obstacles": ({"name": "lamp", "station": -1e9, "left_mm": 9.0},)},
            "obstacles.0.station is absurd: no helix has 100000 brackets",
        ),
        (
            {"obstacles": ({"name": "lamp", "track": "third", "station": 1, "left_mm": 9.0},)},
            "obstacle 'lamp' stands at track 'third'; the tracks are inner, outer",
        ),
        ({"obstacles": ({"name": "lamp", "station": 1},)}, "obstacles.0 says neither headroom nor"),
        (
            {
                "obstacles": (
                    {"name": "f", "station": 1, "left_mm": 9.0, "bottom_mm": 8, "top_mm": 8},
                )
            },
            "obstacles.0 top (8 mm) must be above bottom (8 mm)",
        ),
        (
            {"obstacles": ({"name": "f", "station": 1, "left_mm": 9.0, "at": "foot"},)},
            "obstacles.0 at 'foot' goes with a distance along the lead there",
        ),
        (
            {"obstacles": ({"name": "f", "distance_mm": 1, "left_mm": 9.0, "at": "top"},)},
            "obstacles.0.at must be 'foot' or 'head' (it is 'top')",
        ),
        (
            {"obstacles": ({"name": "lamp", "distance_mm": 500.0, "left_mm": 9.0},)},
            "obstacle 'lamp' stands 500 mm along a straight lead, but there is none; describe it",
        ),
        (
            {
                "obstacles": ({"name": "f", "distance_mm": 500.0, "left_mm": 9.0, "at": "head"},),
                "leads": ({"at": "foot", "length_mm": 900.0},),
            },
            "obstacle 'f' stands 500 mm along a straight lead, but there is none at the head; desc",
        ),
        (
            {
                "obstacles": ({"name": "f", "distance_mm": 500.0, "left_mm": 9.0},),
                "leads": (
                    {"at": "foot", "length_mm": 900.0},
                    {"at": "head", "length_mm": 900.0},
                ),
            },
            "obstacle 'f' stands 500 mm along a straight lead, and there are two; add at = ",
        ),
        (
            {
                "obstacles": ({"name": "f", "distance_mm": 900.1, "left_mm": 9.0},),
                "leads": ({"at": "foot", "length_mm": 900.0},),
            },
            "obstacle 'f' stands 900.1 mm along a straight lead that is 900 mm long (at the foot)",
        ),
        (
            {
                "obstacles": ({"name": "f", "station": -3.0, "left_mm": 9.0},),
                "leads": ({"at": "foot", "length_mm": 900.0},),
            },
            "obstacle 'f' stands at station -3, ",
        ),
        (
            {
                "profile": (
                    {"station": 2.0, "railhead_mm": 50.0},
                    {"station": 3, "railhead_mm": 71.0},
                    {"station": 2, "railhead_mm": 47.5},
                )
            },
            "two points of the profile are at station 2; keep one of them",
        ),
        (
            {"profile": ({"station": 5, "railhead_mm": 600.0},)},
            "the railhead goes from 95 mm at station 4 to 600 mm at station 5, 623.083 mm furth",
        ),
        (
            # 118.75 mm is where a regular climb would be; 1190 mm radius, 12 brackets a turn.
            {"profile": ({"station": 5, "railhead_mm": 1187.5},)},
            "the railhead goes from 95 mm at station 4 to 1187.5 mm at station 5, a change of +10",
        ),
        ({"profile": ({"station": 5, "railhead_mm": 2e5},)}, "profile.0.railhead_mm is absurd"),
        (
            {"profile": ({"station": 3, "railhead_mm": 7.125},)},
            "the railhead goes from 47.5 mm at station 2 to 7.125 mm at station 3, a change of "
            "-40.375 mm where an even climb has +23.75 mm; is the profile's railhead at station 3 "
            "in the right unit (it looks like centimetres read as millimetres)?",
        ),
        (
            {"profile": ({"station": -2, "railhead_mm": -475.0},)},
            "the railhead goes from -475 mm at station -2 to 0 mm at station 0, a change of +475 "
            "mm where an even climb has +47.5 mm; is the profile's railhead at station -2 in the "
            "right unit (it looks like millimetres read as centimetres)?",
        ),
        (
            # 142.5 mm are 5.61 in.
            {"profile": ({"station": 6, "railhead_mm": 5.61},)},
            "the railhead goes from 118.75 mm at station 5 to 5.61 mm at station 6, a change of "
            "-113.14 mm where an even climb has +23.75 mm; is the profile's railhead at station 6 "
            "in the right unit (it looks like inches read as millimetres)?",
        ),
        (
            {
                "turns": 2.0,
                "profile": tuple({"station": k, "railhead_mm": 9.0} for k in range(1, 25)),
            },
            "the railheads at station 0 (0 mm) and a turn above (9 mm) are no further apart than "
            "deck and beam are deep (62 mm): that leaves no headroom",
        ),
        ({"recovery": {"hand_mm": 0.0}}, "recovery.hand_mm must be more than 0"),
        ({"recovery": {"hand": 60.0}}, "recovery.hand is not a known field"),
        ({"obstacles": ({"name": "lamp", "left_mm": 9.0},)}, "obstacles.0 needs a station, or"),
        ({"leads": ({"at": "foot", "length_mm": 0.0},)}, "leads.0.length_mm must be more than 0"),
        ({"leads": ({"at": "foot", "length_mm": 9.0, "grade": 3.0},)}, "leads.0 grade 3 is a rise"),
        (
            {"leads": ({"at": "foot", "length_mm": 9.0}, {"at": "foot", "length_mm": 9.0})},
            "two leads are at the same end",
        ),
    ],
)
def test_an_impossible_helix(fields: dict[str, Any], words: str) -> None:
    assert _sentence(Helix, HELIX | fields).startswith(words)


LEADS = ({"at": "foot", "length_mm": 900.0}, {"at": "head", "length_mm": 600.0})


@pytest.mark.parametrize(
    "fields",
    [
        {"obstacles": ({"name": "f", "distance_mm": 900.0, "left_mm": 9.0},), "leads": LEADS[:1]},
        {
            "obstacles": (
                {"name": "f", "distance_mm": 900.0, "left_mm": 9.0, "at": "foot"},
                {"name": "f", "distance_mm": 0.0, "headroom_mm": 9.0, "at": "head"},
            ),
            "leads": LEADS,
        },
        {"obstacles": ({"name": "f", "station": 1, "left_mm": 9.0, "bottom_mm": 8, "top_mm": 9},)},
        # Level where the rest climbs, and a lead that is
        {"profile": ({"station": 4, "railhead_mm": 71.25}, {"station": -6, "railhead_mm": 0.0})},
        # 15 % of 623.08 mm and 5 mm more: the steepest that is let through
        {
            "rise_per_turn_mm": 600.0,
            "profile": ({"station": 31, "railhead_mm": 1500 + 98.4},),
        },
        # Off by more than a bracket moves, but no slip of units explains it: up and down again.
        {"profile": ({"station": 5, "railhead_mm": 60.0}, {"station": 6, "railhead_mm": 142.5})},
        {"profile": ({"station": -2, "railhead_mm": 100.0},)},
        # A tenth of what is drawn; but however little it rises, a board may lie 5 mm off.
        {
            "rise_per_turn_mm": 36.0,
            "deck": {"depth_mm": 20.0},
            "profile": ({"station": 1, "railhead_mm": 0.3},),
        },
        {"recovery": {"hand_mm": 60.0}},
    ],
)
def test_a_helix_at_the_edge_of_the_possible(fields: dict[str, Any]) -> None:
    Helix(**(HELIX | fields))


def test_the_railhead_as_drawn() -> None:
    points = ({"station": 2.5, "railhead_mm": 60.0}, {"station": 1, "railhead_mm": 20.0})
    helix = Helix(**(HELIX | {"turns": 0.25, "profile": points}))
    # 285 mm a turn of 12 brackets is 23.75 mm a bracket.
    assert list(helix.design_railheads().items()) == [
        (0.0, 0.0),
        (1.0, 20.0),
        (2.0, 47.5),
        (2.5, 60.0),
        (3.0, 71.25),
    ]


def test_a_helix_that_ends_before_its_second_bracket_has_an_end() -> None:
    helix = Helix(**(HELIX | {"turns": 0.05}))
    assert list(helix.design_railheads()) == [0.0, 0.6]
    assert math.isclose(helix.design_railheads()[0.6], 0.05 * 285)


@given(helices())
def test_an_outer_track_climbs_less_steeply(helix: Helix) -> None:
    grades = [helix.grade(track) for track in helix.tracks]
    assert grades == sorted(grades, reverse=True)
    # Rise over run: as many millimetres up as the helix rises in a turn, in one circumference.
    for grade, track in zip(grades, helix.tracks, strict=True):
        assert math.isclose(grade * math.tau * track.radius_mm, helix.rise_per_turn_mm)


@pytest.mark.parametrize(
    ("turns", "brackets", "last"), [(2.5, 12, 30), (2.49, 12, 29), (1 / 3, 3, 1), (0.1, 3, 0)]
)
def test_the_last_station_is_the_last_whole_one(turns: float, brackets: int, last: int) -> None:
    helix = Helix(**(HELIX | {"turns": turns, "brackets_per_turn": brackets}))
    assert helix.last_station == last


@pytest.mark.parametrize(
    "kind",
    [
        Adjusters,
        Allowance,
        Block,
        Car,
        Deck,
        Frame,
        Helix,
        Lead,
        Obstacle,
        Posts,
        ProfilePoint,
        Reading,
        Recovery,
        Stringers,
        Survey,
        Track,
    ],
)
def test_every_record_refuses_an_unknown_field(kind: type[Record]) -> None:
    with pytest.raises(ValidationError) as raised:
        kind(rubbish=1)
    places = {error["loc"]: error["type"] for error in raised.value.errors()}
    assert places[("rubbish",)] == "extra_forbidden"


def test_a_record_stays_as_it_is() -> None:
    car = Car(**CAR)
    with pytest.raises(ValidationError):
        car.height_mm = 1.0  # type: ignore[misc]


def test_a_complaint_about_several_fields_has_no_place() -> None:
    with pytest.raises(ValidationError) as raised:
        Car(**(CAR | {"wheelbase_mm": 700.0}))
    place, words = complaint_of(raised.value)
    assert place == ()
    assert words.startswith("the wheelbase (700 mm)")
