"""A survey that cannot be one of this helix is refused; what is doubtful is remarked on."""

import math
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from catalog.errors import DataError
from catalog.helix import Allowance, Deck, Helix, Lead, Obstacle, ProfilePoint, Track
from catalog.survey import Reading, Survey
from catalog.survey_fit import fit_survey

STEP = 285.0 / 12  # the rise from one bracket to the next [mm]
HEADROOM = 285.0 - 38 - 24  # under deck and beam [mm]
TIERED = range(19)  # the brackets that have another tier above: 30 - 12 is the last


def _helix(**more: Any) -> Helix:
    figures = {
        "name": "quarry",
        "gauge_mm": 45.0,
        "turns": 2.5,
        "rise_per_turn_mm": 285.0,
        "brackets_per_turn": 12,
        "tracks": (
            Track(name="inner", radius_mm=1190.0),
            Track(name="outer", radius_mm=1380.0),
        ),
        "deck": Deck(depth_mm=38.0, beam_depth_mm=24.0, beam_width_mm=38.0),
    }
    return Helix(**(figures | more))


def _roomy(_: float) -> float:
    return HEADROOM


def _built(
    railhead: Callable[[float], float | None] = lambda k: STEP * k,
    headroom: Callable[[float], float | None] = _roomy,
    track: str = "",
) -> list[Reading]:
    """Every bracket as drawn, but for what is given."""
    readings = []
    for k in range(31):
        z, room = railhead(k), headroom(k) if k in TIERED else None
        if z is not None or room is not None:
            readings.append(Reading(station=k, track=track, railhead_mm=z, headroom_mm=room))
    return readings


def _but(values: Mapping[float, float | None], otherwise: Callable[[float], float]) -> Any:
    return lambda k: values[k] if k in values else otherwise(k)


def _drawn(k: float) -> float:
    return STEP * k


def _remarks(*readings: Reading, helix: Helix | None = None) -> list[str]:
    return fit_survey(Survey(readings=readings), helix or _helix())


def _refusal(*readings: Reading, helix: Helix | None = None) -> str:
    with pytest.raises(DataError) as raised:
        fit_survey(Survey(readings=readings), helix or _helix(), source="survey.csv")
    line = str(raised.value)
    assert "\n" not in line
    assert len(line) < 400
    return line


# --- nothing to say -------------------------------------------------------------------------------


def test_a_survey_equal_to_the_design() -> None:
    assert _remarks(*_built()) == []
    assert _remarks(*_built(track="inner"), *_built(track="outer")) == []


@pytest.mark.parametrize(
    "railhead",
    [
        lambda k: STEP * k + 850,  # measured from the floor
        lambda k: STEP * k + 11 * (-1) ** k,  # every bracket off by 11 mm, in turns
        _but({17: STEP * 17 + 23.75}, _drawn),  # one bracket a whole step too high
        lambda k: 1.05 * STEP * k,
    ],
)
def test_what_a_structure_may_do(railhead: Callable[[float], float]) -> None:
    assert _remarks(*_built(railhead, lambda k: railhead(k + 12) - railhead(k) - 62)) == []


def test_a_low_helix_may_move_by_5_mm_whatever_it_rises() -> None:
    low = _helix(rise_per_turn_mm=80.0, brackets_per_turn=40, turns=1)
    sagged = [Reading(station=k, railhead_mm=2.0 * k + (5 if k == 9 else 0)) for k in range(41)]
    assert _remarks(*sagged, helix=low) == ["headroom not surveyed at station 0"]
    sunk = [Reading(station=k, railhead_mm=2.0 * k - (5.1 if k == 9 else 0)) for k in range(41)]
    assert _refusal(*sunk, helix=low).startswith("survey.csv, stations 8 and 9: the railhead goes")


def test_a_level_lead_that_nobody_drew() -> None:
    """Six brackets on, the drawing would have sunk by six steps."""
    readings = [*_built(), Reading(station=-6, railhead_mm=0.0)]
    assert _remarks(*readings) == [
        "railhead not surveyed at stations -5 to -1; headroom not surveyed at stations -6 to -1"
    ]
    below = [*_built(), Reading(station=-6, railhead_mm=3.0)]
    assert _refusal(*below).startswith("survey.csv, stations -6 and 0: the railhead goes from 3 mm")


# --- tracks and stations --------------------------------------------------------------------------


def test_an_unknown_track() -> None:
    line = _refusal(Reading(station=5, track="iner", railhead_mm=118.0))
    assert line == "survey.csv, station 5: there is no track 'iner'; did you mean 'inner'?"
    line = _refusal(Reading(station=5, track="third", railhead_mm=118.0))
    assert line.endswith("there is no track 'third'; known are inner, outer")


@pytest.mark.parametrize(
    ("more", "nearest", "furthest", "last"),
    [
        ({}, -12, 42, "station 0 to 30"),
        ({"turns": 2.49}, -12, 41.88, "station 0 to 29.88"),
        ({"profile": (ProfilePoint(station=-6, railhead_mm=0.0),)}, -18, 42, "station -6 to 30"),
        # What stands beside the line is not the line.
        ({"obstacles": (Obstacle(name="f", station=50, left_mm=9.0),)}, -12, 42, "station 0 to 30"),
    ],
)
def test_a_station_more_than_a_turn_off_the_line(
    more: dict[str, Any], nearest: float, furthest: float, last: str
) -> None:
    helix = _helix(**more)
    lead_in = 0.0 if helix.profile else STEP * nearest
    for station, railhead in ((nearest, lead_in), (furthest, STEP * furthest)):
        beyond = station + math.copysign(0.5, station)
        _remarks(Reading(station=station, railhead_mm=railhead), helix=helix)
        line = _refusal(Reading(station=beyond, railhead_mm=railhead), helix=helix)
        assert line == (
            f"survey.csv, station {beyond:g}: is more than a turn off the line, which runs from "
            f"{last}"
        )


def test_a_station_on_a_straight_lead() -> None:
    helix = _helix(leads=(Lead(at="foot", length_mm=900.0),))
    line = _refusal(Reading(station=-0.5, railhead_mm=-12.0), helix=helix)
    assert line == (
        "survey.csv, station -0.5: is beyond the end of the curve (station 0), where a straight "
        "lead begins; how that climbs is said by its grade in the helix file, under [[leads]]"
    )
    _remarks(Reading(station=31, railhead_mm=736.25), helix=helix)
    helix = _helix(leads=(Lead(at="head", length_mm=900.0),))
    assert "(station 30)" in _refusal(Reading(station=30.1, railhead_mm=714.0), helix=helix)
    _remarks(Reading(station=-1, railhead_mm=-23.75), helix=helix)


# --- railheads ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (25.4, "millimetres read as inches"),
        (1 / 25.4, "inches read as millimetres"),
        (10.0, "millimetres read as centimetres"),
        (0.1, "centimetres read as millimetres"),
        (100.0, ""),
        (1000.0 / 12, ""),
    ],
)
def test_one_railhead_in_the_wrong_unit(factor: float, words: str) -> None:
    line = _refusal(*_built(_but({17: STEP * 17 * factor}, _drawn)))
    assert line.startswith(
        f"survey.csv, stations 16 and 17: the railhead goes from 380 mm to {403.75 * factor:.6g} mm"
    )
    assert "where the design has +23.75 mm; is station 17 in the right unit" in line
    assert line.endswith(
        f"(it looks like {words})?" if words else "and measured from the same level?"
    )


@pytest.mark.parametrize("only", [{17}, {0, 17}, {16, 17, 18}])
def test_one_railhead_in_the_wrong_unit_where_little_was_surveyed(only: set[int]) -> None:
    line = _refusal(
        *(Reading(station=k, railhead_mm=_drawn(k) / (25.4 if k == 17 else 1)) for k in only)
    )
    assert line.startswith("survey.csv, stations 16 and 17: the railhead goes from 380 mm to 15.89")
    assert line.endswith(
        "is station 17 in the right unit (it looks like inches read as millimetres)?"
    )


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (1 / 25.4, "inches read as millimetres"),
        (0.1, "centimetres read as millimetres"),
        (0.001, "metres read as millimetres"),
    ],
)
def test_a_whole_survey_too_small_for_a_jump(factor: float, words: str) -> None:
    line = _refusal(*_built(lambda k: _drawn(k) * factor))
    assert line == (
        f"survey.csv, stations 0 and 30: the railhead goes from 0 mm to {712.5 * factor:.6g} mm, a "
        f"climb of {712.5 * factor:.6g} mm where the design has 712.5 mm; are the readings in the "
        f"right unit (it looks like {words})?"
    )


@pytest.mark.parametrize(
    ("factor", "words"),
    [
        (25.4, "millimetres read as inches"),
        (10.0, "millimetres read as centimetres"),
        (1000.0, "millimetres read as metres"),
    ],
)
def test_a_whole_survey_too_large(factor: float, words: str) -> None:
    """Here the first step is out already."""
    helix = _helix(turns=0.5)
    readings = [Reading(station=k, railhead_mm=_drawn(k) * factor) for k in range(4)]
    line = _refusal(*readings, helix=helix)
    assert line.startswith("survey.csv, stations 0 and 1: the railhead goes from 0 mm to")
    assert line.endswith(f"(it looks like {words})?")


def test_a_survey_the_wrong_way_up() -> None:
    line = _refusal(*_built(lambda k: 100.0 + k))
    assert "a climb of 30 mm where the design has 712.5 mm" in line
    line = _refusal(*_built(lambda _: 850.0))
    assert "a climb of 0 mm where the design has 712.5 mm" in line


def test_a_railhead_of_one_track_in_the_wrong_unit() -> None:
    line = _refusal(*_built(), Reading(station=17, track="outer", railhead_mm=15.9))
    assert line.startswith("survey.csv, stations 16 and 17, track 'outer': the railhead goes from")


# --- headrooms ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("headroom", "words"),
    [
        (HEADROOM / 25.4, " (it looks like inches read as millimetres)"),
        (HEADROOM / 10, " (it looks like centimetres read as millimetres)"),
        (HEADROOM * 10, " (it looks like millimetres read as centimetres)"),
        (HEADROOM * 25.4, " (it looks like millimetres read as inches)"),
        (HEADROOM / 1000, " (it looks like metres read as millimetres)"),
        (HEADROOM * 3.01, ""),
        (HEADROOM / 3.01, ""),
    ],
)
def test_a_headroom_in_the_wrong_unit(headroom: float, words: str) -> None:
    line = _refusal(*_built(headroom=_but({17: headroom}, _roomy)))
    assert line == (
        f"survey.csv, station 17: a headroom of {headroom:.6g} mm, where the design has 223 mm; is "
        f"it in the right unit{words}?"
    )


def test_a_headroom_of_a_third_is_let_through_with_a_remark() -> None:
    (remark,) = _remarks(*_built(headroom=_but({17: 75.0}, _roomy)))
    assert remark.endswith("leave 223 mm under deck and beam: 148 mm less than that")


@pytest.mark.parametrize("headroom", [285.0, 290.0, 600.0])
def test_a_headroom_that_reaches_above_the_next_tier(headroom: float) -> None:
    line = _refusal(Reading(station=17, track="inner", headroom_mm=headroom))
    assert line == (
        f"survey.csv, station 17, track 'inner': a headroom of {headroom:g} mm reaches above the "
        f"next tier: its railhead, at station 29 (688.75 mm), is 285 mm over the one here "
        f"(403.75 mm)"
    )


def test_the_next_tier_is_where_it_was_surveyed() -> None:
    readings = [
        Reading(station=17, railhead_mm=410.0, headroom_mm=262.0),
        Reading(station=29, railhead_mm=671.0),
    ]
    assert "at station 29 (671 mm), is 261 mm over the one here (410 mm)" in _refusal(*readings)


@pytest.mark.parametrize(
    ("headroom", "helix", "words"),
    [
        (227.0, _helix(), None),  # 1 mm for the reading and 3 mm for settlement
        (219.0, _helix(), None),
        (227.1, _helix(), "4.1 mm more"),
        (218.5, _helix(), "4.5 mm less"),
        (230.0, _helix(allowance=Allowance(headroom_reading_mm=2.0, settlement_mm=5.0)), None),
        (
            223.5,
            _helix(allowance=Allowance(headroom_reading_mm=0.0, settlement_mm=0.0)),
            "0.5 mm more",
        ),
        (225.5, _helix(allowance=Allowance(headroom_reading_mm=0.0)), None),
    ],
)
def test_a_headroom_that_the_railheads_contradict(
    headroom: float, helix: Helix, words: str | None
) -> None:
    remarks = _remarks(*_built(headroom=_but({17: headroom}, _roomy)), helix=helix)
    if words is None:
        assert remarks == []
        return
    assert remarks == [
        f"station 17: a headroom of {headroom:g} mm was measured, but the railheads here (403.75 "
        f"mm) and above (688.75 mm, station 29) leave 223 mm under deck and beam: {words} than that"
    ]


@pytest.mark.parametrize(("headroom", "remarked"), [(223, 0), (247, 0), (236, 1), (252, 1)])
def test_between_brackets_headroom_is_to_a_beam_or_to_the_deck(
    headroom: float, remarked: int
) -> None:
    remarks = _remarks(*_built(), Reading(station=6.5, headroom_mm=headroom))
    assert len(remarks) == remarked


def test_where_no_tier_is_above_nothing_contradicts_a_headroom() -> None:
    assert _remarks(*_built(), Reading(station=18.5, headroom_mm=900.0)) == []


def test_a_reading_for_all_tracks_is_remarked_on_once() -> None:
    remarks = _remarks(*_built(headroom=_but({3: 200.0}, _roomy)))
    assert len(remarks) == 1
    own = Reading(station=3, track="outer", headroom_mm=200.0)
    (remark,) = _remarks(*_built(), own)
    assert remark.startswith("station 3, track 'outer': a headroom of 200 mm was measured")


# --- holes ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("railheads", "headrooms", "remark"),
    [
        (
            {3, 4, 5, 9},
            {17},
            "railhead not surveyed at stations 3 to 5, 9; headroom not surveyed at station 17",
        ),
        ({30}, set(), "railhead not surveyed at station 30"),
        ({7, 8}, set(), "railhead not surveyed at stations 7, 8"),
        (set(range(31)), set(), "railhead not surveyed at stations 0 to 30"),
        (set(), set(TIERED) - {4}, "headroom not surveyed at stations 0 to 3, 5 to 18"),
    ],
)
def test_holes_are_listed(railheads: set[int], headrooms: set[int], remark: str) -> None:
    missing_z = dict.fromkeys(railheads)
    missing_room = dict.fromkeys(headrooms)
    readings = _built(_but(missing_z, _drawn), _but(missing_room, _roomy))
    assert _remarks(*readings) == [remark]


def test_holes_of_one_track_name_it() -> None:
    readings = [r for r in _built(track="outer") if r.station != 4]
    assert _remarks(*_built(track="inner"), *readings) == [
        "track 'outer': railhead not surveyed at station 4; headroom not surveyed at station 4"
    ]


def test_points_of_the_profile_are_to_be_surveyed_too() -> None:
    helix = _helix(profile=(ProfilePoint(station=4.5, railhead_mm=106.0),))
    assert _remarks(*_built(), helix=helix) == ["railhead not surveyed at station 4.5"]
