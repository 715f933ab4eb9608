"""What a survey may say, and the line that design and survey make together."""

import math
from datetime import date
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from pydantic import ValidationError

from catalog.helix import Deck, Helix, Lead, Obstacle, ProfilePoint, Track
from catalog.record import complaint_of
from catalog.survey import (
    Reading,
    Survey,
    curve_ends,
    headrooms,
    known_railheads,
    not_surveyed,
)
from tests.catalog.possible import helices, surveys

STEP = 285.0 / 12  # the rise from one bracket to the next [mm]


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


def _survey(*readings: tuple[float, str, float | None, float | None]) -> Survey:
    names = ("station", "track", "railhead_mm", "headroom_mm")
    return Survey(readings=tuple(Reading(**dict(zip(names, r, strict=True))) for r in readings))


# --- records --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"station": 3}, "measures neither railhead nor headroom; write one, or leave it out"),
        ({"station": math.nan, "railhead_mm": 1.0}, "must be a real number"),
        ({"station": math.inf, "railhead_mm": 1.0}, "must be a real number"),
        ({"station": "3", "railhead_mm": 1.0}, "must be a number"),
        ({"station": -100_001, "railhead_mm": 1.0}, "is absurd: no helix has 100000 brackets"),
        ({"railhead_mm": 1.0}, "is missing"),
        ({"station": 3, "railhead_mm": math.nan}, "must be a real number"),
        ({"station": 3, "railhead_mm": 1e6}, "is absurd: 1e+06 mm; at most 100000 mm (100 m) is"),
        ({"station": 3, "headroom_mm": 0.0}, "must be more than 0"),
        ({"station": 3, "headroom_mm": -3.0}, "must be more than 0"),
        ({"station": 3, "headroom_mm": 1.0, "taken_on": "May"}, "must be a date like 2026-05-31"),
        ({"station": 3, "headroom_mm": 1.0, "track": "\0"}, "holds a character that no file can"),
    ],
)
def test_an_impossible_reading(fields: dict[str, Any], words: str) -> None:
    with pytest.raises(ValidationError) as raised:
        Reading(**fields)
    assert complaint_of(raised.value)[1].startswith(words)


def test_a_railhead_may_lie_below_the_first_one() -> None:
    assert Reading(station=-3, railhead_mm=-2.5).railhead_mm == -2.5


@pytest.mark.parametrize(
    ("places", "words", "at"),
    [
        ([(3, ""), (4, ""), (3.0, "")], "station 3 stands twice; keep one reading", 2),
        ([(3, "a"), (3.0000001, "a")], "station 3 of track 'a' stands twice; keep one reading", 1),
    ],
)
def test_a_place_stands_once(places: list[tuple[float, str]], words: str, at: int) -> None:
    with pytest.raises(ValidationError) as raised:
        _survey(*((station, track, 1.0, None) for station, track in places))
    assert complaint_of(raised.value) == (("readings", at), words)


def test_a_place_may_stand_once_for_all_tracks_and_once_for_each() -> None:
    _survey((3, "", 70.0, None), (3, "inner", 71.0, None), (3, "outer", 72.0, None))


def test_a_survey_without_a_reading_is_none() -> None:
    with pytest.raises(ValidationError) as raised:
        Survey(readings=())
    assert complaint_of(raised.value)[1] == "must not be empty"


def test_the_day_of_a_survey_is_that_of_its_last_reading() -> None:
    days = (date(2026, 5, 30), None, date(2026, 5, 31), date(2025, 12, 24))
    readings = [Reading(station=n, railhead_mm=n, taken_on=day) for n, day in enumerate(days)]
    assert Survey(readings=readings).taken_on == date(2026, 5, 31)
    assert Survey(readings=readings[1:2]).taken_on is None


# --- the line -------------------------------------------------------------------------------------


def test_without_a_survey_the_line_is_as_drawn() -> None:
    stations, railheads = known_railheads(_helix(), None, "inner")
    assert stations == list(range(31))
    assert_allclose(railheads, np.arange(31) * STEP)
    assert curve_ends(_helix(), None) == (0, 30)
    assert headrooms(_helix(), None, "inner") == {}
    assert not_surveyed(None, _helix(), "inner") == (list(range(31)), list(range(19)))


def test_readings_replace_and_add() -> None:
    helix = _helix(turns=0.25, profile=(ProfilePoint(station=-2, railhead_mm=-5.0),))
    survey = _survey(
        (1, "", 22.0, None),  # in place of 23.75
        (1.5, "", 30.0, None),  # between brackets
        (2, "", None, 200.0),  # says nothing of the railhead
        (2, "outer", 49.0, None),  # one track alone
        (1, "outer", 25.0, 210.0),  # wins over the one for all
        (4, "", 90.0, None),  # beyond the last
    )
    inner = dict(zip(*known_railheads(helix, survey, "inner"), strict=True))
    assert inner == {-2: -5.0, 0: 0.0, 1: 22.0, 1.5: 30.0, 2: 47.5, 3: 71.25, 4: 90.0}
    outer = dict(zip(*known_railheads(helix, survey, "outer"), strict=True))
    assert outer == inner | {1: 25.0, 2: 49.0}
    assert headrooms(helix, survey, "inner") == {2: 200.0}
    assert headrooms(helix, survey, "outer") == {1: 210.0, 2: 200.0}
    assert headrooms(helix, survey, "third") == {}
    assert curve_ends(helix, survey) == (-2, 4)


def test_a_named_reading_takes_from_the_one_for_all_only_what_it_measures() -> None:
    survey = _survey((5, "", 120.0, 220.0), (5, "inner", None, 218.0))
    assert known_railheads(_helix(), survey, "inner")[1][5] == 120.0
    assert headrooms(_helix(), survey, "inner") == {5: 218.0}


FENCES = (
    Obstacle(name="low", station=-9.5, left_mm=90.0),
    Obstacle(name="high", station=33, left_mm=90.0),
)
FOOT = Lead(at="foot", length_mm=9000.0)
HEAD = Lead(at="head", length_mm=9000.0)


@pytest.mark.parametrize(
    ("more", "readings", "ends"),
    [
        ({"turns": 2.49}, [], (0, 29.88)),
        ({"turns": 1 / 3, "brackets_per_turn": 3}, [], (0, 1)),
        # 2.3 * 10 is a hair less than 23 to a computer; bracket 23 is on the line.
        ({"turns": 2.3, "brackets_per_turn": 10}, [], (0, 23)),
        ({"profile": (ProfilePoint(station=-6, railhead_mm=0.0),)}, [], (-6, 30)),
        ({}, [(31.5, "outer", 748.0, None), (-0.5, "", None, 230.0)], (-0.5, 31.5)),
        # An obstacle lengthens a curve, but not one from which a straight lead leaves.
        ({"obstacles": FENCES}, [], (-9.5, 33)),
        ({"obstacles": FENCES, "leads": (FOOT,)}, [], (0, 33)),
        ({"obstacles": FENCES, "leads": (HEAD,)}, [], (-9.5, 30)),
        ({"obstacles": FENCES, "leads": (FOOT, HEAD)}, [], (0, 30)),
        (
            {"leads": (FOOT,), "profile": (ProfilePoint(station=-6, railhead_mm=0.0),)},
            [],
            (-6, 30),
        ),
    ],
)
def test_where_the_curve_ends(
    more: dict[str, Any], readings: list[Any], ends: tuple[float, float]
) -> None:
    survey = _survey(*readings) if readings else None
    assert_allclose(curve_ends(_helix(**more), survey), ends, rtol=0, atol=1e-9)


@settings(max_examples=40)  # drawing a helix takes longer than what is asked of it
@given(helices(), st.data())
def test_the_line_passes_through_every_reading(helix: Helix, data: st.DataObject) -> None:
    track = helix.tracks[-1].name
    survey = data.draw(surveys([track]))
    stations, railheads = known_railheads(helix, survey, track)
    assert len(stations) >= 2
    assert stations == sorted(set(stations))
    known = dict(zip(stations, railheads, strict=True))
    own = {round(r.station, 6) for r in survey.readings if r.track == track and r.railhead_mm}
    first, last = curve_ends(helix, survey)
    for reading in survey.readings:
        assert first <= reading.station <= last
        place = round(reading.station, 6)
        if reading.railhead_mm is not None and (reading.track or place not in own):
            assert known[place] == reading.railhead_mm
    assert set(helix.design_railheads()) <= known.keys()


# --- what is missing ------------------------------------------------------------------------------


def test_what_was_not_surveyed() -> None:
    helix = _helix(
        turns=1.25,
        profile=(
            ProfilePoint(station=-2, railhead_mm=0.0),
            ProfilePoint(station=4.5, railhead_mm=106),
        ),
    )
    # Brackets -2 to 15 are on the line; those up to 3 have another tier above.
    survey = _survey(
        *((k, "", k * STEP, 220.0 if k == 1 else None) for k in range(-1, 15)),
        (2.5, "", None, 220.0),
        (-1, "inner", None, 220.0),
    )
    assert not_surveyed(survey, helix, "inner") == ([-2, 4.5, 15], [-2, 0, 2, 3])
    assert not_surveyed(survey, helix, "outer") == ([-2, 4.5, 15], [-2, -1, 0, 2, 3])


def test_a_helix_of_less_than_a_turn_has_no_headroom_to_survey() -> None:
    assert not_surveyed(None, _helix(turns=0.9), "inner")[1] == []
    assert not_surveyed(None, _helix(turns=1), "inner")[1] == [0]


@settings(max_examples=40)  # drawing a helix takes longer than what is asked of it
@given(helices(), st.data())
def test_each_bracket_is_surveyed_or_not(helix: Helix, data: st.DataObject) -> None:
    track = helix.tracks[0].name
    survey = data.draw(surveys([track]))
    missing, _ = not_surveyed(survey, helix, track)
    measured = {round(r.station, 6) for r in survey.readings if r.railhead_mm is not None}
    first, last = curve_ends(helix, survey)
    on_the_line = set(range(math.ceil(first), math.floor(last) + 1))
    assert measured.isdisjoint(missing)
    assert on_the_line <= measured | set(missing)
