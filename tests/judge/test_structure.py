"""A helix as it stands, worked out by hand: its lines, what hangs and what stands where.

G1, G4 and G5, docs/theory.md.

A helix of 285 mm a turn on twelve brackets: 23.75 mm a bracket. Under the railhead of the next tier
are 38 mm of deck and 24 mm of beam.
"""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.helix import Deck, Helix, Lead, Obstacle, Posts, ProfilePoint
from catalog.survey import Reading, Survey
from clearance.judge.structure import Structure, Underside, headroom_mm, screw_of
from tests.judge.clubs import INNER_MM, OUTER_MM, helix, single

STEP_MM = 285 / 12
STEP_RAD = 2 * math.pi / 12
DEPTH_MM = 38 + 24


def point(station: float, railhead_mm: float) -> ProfilePoint:
    return ProfilePoint(station=station, railhead_mm=railhead_mm)


def survey(*readings: Reading) -> Survey:
    return Survey(readings=readings)


def railhead(station: float, height_mm: float, track: str = "") -> Reading:
    return Reading(station=station, track=track, railhead_mm=height_mm)


def headroom(station: float, room_mm: float, track: str = "") -> Reading:
    return Reading(station=station, track=track, headroom_mm=room_mm)


def heights(structure: Structure, stations: list[float], track: int = 0) -> np.ndarray:
    """Elevation of the railhead at some stations of a track. [mm]"""
    line = structure.line(structure.helix.tracks[track])
    return line.height_mm(np.array(stations) * STEP_RAD)


def ends(structure: Structure, track: int = 0) -> tuple[float, float]:
    """From which to which station there is track, leads counted by their length. [1]"""
    line = structure.line(structure.helix.tracks[track])
    return line.start_rad / STEP_RAD, line.end_rad / STEP_RAD


def over(structure: Structure, station: float, track: int = 0) -> Underside:
    """The one underside at a station."""
    found = [
        underside
        for underside in structure.hanging(structure.helix.tracks[track])
        if abs(underside.place.station - station) < 1e-9
    ]
    assert len(found) == 1
    return found[0]


def stations_of(structure: Structure, track: int = 0) -> list[float]:
    return [it.place.station for it in structure.hanging(structure.helix.tracks[track])]


# --- the line -------------------------------------------------------------------------------------


def test_as_designed_it_climbs_evenly() -> None:
    structure = Structure(single())
    assert structure.is_regular
    assert_allclose(heights(structure, [0, 1, 7.5, 30]), [0, 23.75, 178.125, 712.5], atol=1e-9)
    assert_allclose(ends(structure), (0, 30), atol=1e-12)
    # Beyond its ends the slope carries on.
    assert_allclose(heights(structure, [-1.2, 31]), [-1.2 * STEP_MM, 31 * STEP_MM], atol=1e-9)


def test_turns_that_end_between_brackets_carry_the_last_slope_on() -> None:
    structure = Structure(single(turns=2.55, profile=(point(30, 710.0),)))
    assert_allclose(ends(structure), (0, 30.6), atol=1e-12)
    last = 710 - 29 * STEP_MM
    assert_allclose(heights(structure, [30, 30.6]), [710, 710 + 0.6 * last], atol=1e-9)


def test_a_profile_replaces_and_adds() -> None:
    where = single(profile=(point(-3, 2.0), point(5, 110.0), point(7.5, 180.0), point(33, 760.0)))
    structure = Structure(where)
    assert not structure.is_regular
    assert_allclose(ends(structure), (-3, 33), atol=1e-12)
    assert_allclose(heights(structure, [-3, 0, 5, 7.5, 33]), [2, 0, 110, 180, 760], atol=1e-9)
    # Straight from one known station to the next.
    between = [
        (-1.5, (2 + 0) / 2),
        (4.5, (4 * STEP_MM + 110) / 2),
        (7.25, (7 * STEP_MM + 180) / 2),
        (31.5, (30 * STEP_MM + 760) / 2),
    ]
    assert_allclose(heights(structure, [k for k, _ in between]), [z for _, z in between], atol=1e-9)


def test_a_survey_replaces_the_profile_and_a_named_track_wins() -> None:
    where = helix(profile=(point(5, 110.0),))
    structure = Structure(
        where,
        survey(
            railhead(5, 112.0), railhead(6, 140.0), railhead(6, 143.0, "outer"), railhead(8.5, 200)
        ),
    )
    assert_allclose(heights(structure, [4, 5, 6, 8.5, 9]), [95, 112, 140, 200, 213.75], atol=1e-9)
    assert_allclose(heights(structure, [4, 5, 6, 8.5, 9], 1), [95, 112, 143, 200, 213.75])
    assert_allclose(heights(structure, [8.25]), [(8 * STEP_MM + 200) / 2], atol=1e-9)


def test_a_survey_beyond_the_ends_makes_the_line_longer() -> None:
    structure = Structure(single(), survey(railhead(-2, 0.0), railhead(32, 730.0)))
    assert structure.curve_stations == (-2, 32)
    assert_allclose(ends(structure), (-2, 32), atol=1e-12)
    assert_allclose(heights(structure, [-1, 31]), [0, (712.5 + 730) / 2], atol=1e-9)


def test_an_obstacle_beyond_the_ends_makes_the_line_longer_at_the_last_slope() -> None:
    lamp = Obstacle(name="lamp", station=-2.5, headroom_mm=300.0)
    structure = Structure(single(obstacles=(lamp,), profile=(point(1, 20.0),)))
    assert_allclose(ends(structure), (-2.5, 30), atol=1e-12)
    assert_allclose(heights(structure, [-2.5]), [-50.0], atol=1e-9)


def test_straight_leads_leave_the_curve_with_their_own_grade() -> None:
    """A grade is uphill at both ends: at the foot it climbs towards the helix."""
    leads = (Lead(at="foot", length_mm=900.0, grade=0.03), Lead(at="head", length_mm=600.0))
    structure = Structure(helix(leads=leads))
    assert not structure.is_regular
    for number, radius in enumerate((INNER_MM, OUTER_MM)):
        line = structure.line(structure.helix.tracks[number])
        assert_allclose(line.curve_rad, (0, 30 * STEP_RAD), atol=1e-12)
        # A place on a lead goes on as length over radius: as far on either track.
        assert_allclose(line.start_rad, -900 / radius, rtol=1e-12)
        assert_allclose(line.end_rad, 30 * STEP_RAD + 600 / radius, rtol=1e-12)
        places = np.array([-900 / radius, -450 / radius, 0, line.end_rad])
        assert_allclose(line.height_mm(places), [-27, -13.5, 0, 712.5], atol=1e-9)
        # Square to the radius of the foot: the point (R, -450) is on the line, 450 mm before it.
        place, offset = line.locate(np.array([radius]), np.array([-450.0]), np.zeros(1))
        assert_allclose((place[0] * radius, offset[0]), (-450, 0), atol=1e-9)


def test_a_lead_begins_where_the_last_reading_of_the_curve_is() -> None:
    structure = Structure(
        single(leads=(Lead(at="foot", length_mm=500.0, grade=0.02),), profile=(point(-3, -5.0),))
    )
    line = structure.line(structure.helix.tracks[0])
    assert_allclose(line.curve_rad[0], -3 * STEP_RAD, atol=1e-12)
    assert line.curve_rad[1] == math.inf
    assert_allclose(line.start_rad, -3 * STEP_RAD - 500 / INNER_MM, rtol=1e-12)
    assert_allclose(line.height_mm(np.array([line.start_rad, -3 * STEP_RAD])), [-15, -5], atol=1e-9)


def test_cant_is_an_angle_of_the_gauge() -> None:
    where = single(cant_mm=3.0)
    canted = where.tracks[0]
    assert_allclose(screw_of(where, canted).roll_rad, math.asin(3 / 45), rtol=1e-15)
    led = where.model_copy(update={"leads": (Lead(at="foot", length_mm=500.0),)})
    line = Structure(led).line(canted)
    assert_allclose(line.roll_at(np.array([-0.2, 0.2])), [0, math.asin(3 / 45)], rtol=1e-15)


# --- beams ----------------------------------------------------------------------------------------


def test_a_regular_helix_has_one_row_of_equal_beams() -> None:
    structure = Structure(single())
    (row,) = structure.hanging(structure.helix.tracks[0])
    assert (row.place.station, row.place.last_station) == (0, 18)
    assert row.headroom_mm == headroom_mm(structure.helix) == 285 - DEPTH_MM
    assert row.width_mm == 38


@pytest.mark.parametrize(("turns", "count"), [(11 / 12, 0), (1.0, 1), (18.5 / 12, 7)])
def test_no_beam_without_a_bracket_a_turn_above(turns: float, count: int) -> None:
    for given in (None, survey(railhead(0, 0.0))):
        structure = Structure(single(turns=turns), given)
        found = structure.hanging(structure.helix.tracks[0])
        assert sum(len(underside.place.stations) for underside in found) == count


def test_a_beam_hangs_from_the_bracket_a_turn_above() -> None:
    """Bracket 5 at 116 instead of 118.75 mm, bracket 17 at 401 instead of 403.75."""
    structure = Structure(single(), survey(railhead(5, 116.0), railhead(17, 401.0)))
    assert stations_of(structure) == list(range(19))
    five, seventeen = over(structure, 5), over(structure, 17)
    assert_allclose(five.elevation_mm, 401 - DEPTH_MM, rtol=1e-15)
    assert_allclose(five.headroom_mm, 401 - DEPTH_MM - 116, rtol=1e-15)
    assert_allclose(seventeen.elevation_mm, 29 * STEP_MM - DEPTH_MM, rtol=1e-15)
    assert_allclose(seventeen.headroom_mm, 29 * STEP_MM - DEPTH_MM - 401, rtol=1e-15)
    assert_allclose(over(structure, 6).headroom_mm, 223, rtol=1e-12)
    assert_allclose(five.place_rad, 5 * STEP_RAD, rtol=1e-12)


def test_where_a_headroom_comes_from() -> None:
    structure = Structure(
        single(), survey(railhead(5, 116.0), railhead(17, 401.0), headroom(8, 222.0))
    )
    origins = {it.place.station: it.place.origin for it in structure.hanging(single().tracks[0])}
    assert origins.pop(5) == "from surveyed railheads"
    assert origins.pop(8) == "as measured"
    assert origins.pop(17) == "partly from surveyed railheads"  # 29 above it is drawn
    assert set(origins.values()) == {"as designed"}


def test_a_measured_headroom_replaces_the_beam_at_a_whole_station() -> None:
    """Railhead to underside where the railhead really is: 116 + 214.5 mm."""
    structure = Structure(single(), survey(railhead(5, 116.0), headroom(5.0, 214.5, "inner")))
    # One reading a place and track: the railhead of all tracks, the headroom of the inner one.
    assert stations_of(structure) == list(range(19))
    beam = over(structure, 5)
    assert beam.place.obstacle == "beam"
    assert beam.headroom_mm == 214.5
    assert_allclose(beam.elevation_mm, 116 + 214.5, rtol=1e-15)
    assert beam.width_mm == 38


def test_a_headroom_between_brackets_is_an_underside_of_its_own() -> None:
    structure = Structure(single(), survey(headroom(5.4, 214.5), headroom(25, 230.0)))
    assert stations_of(structure) == [*range(6), 5.4, *range(6, 19), 25]
    between, beyond = over(structure, 5.4), over(structure, 25)
    assert between.place.obstacle == beyond.place.obstacle == "underside"
    assert_allclose(between.elevation_mm, 5.4 * STEP_MM + 214.5, rtol=1e-15)
    assert_allclose(beyond.elevation_mm, 25 * STEP_MM + 230, rtol=1e-15)
    assert between.width_mm == beyond.width_mm == 38


def test_a_track_has_its_own_headrooms() -> None:
    structure = Structure(helix(), survey(headroom(5, 214.0), headroom(5, 216.0, "outer")))
    assert over(structure, 5, 0).headroom_mm == 214
    assert over(structure, 5, 1).headroom_mm == 216


def test_leads_on_the_curve_have_beams_over_them() -> None:
    """A level curved lead of three brackets: beams -3 to -1 hang from 9 to 11."""
    structure = Structure(single(profile=(point(-3, 0.0),)))
    assert stations_of(structure) == list(range(-3, 19))
    for station in (-3, -2, -1):
        room = (station + 12) * STEP_MM - DEPTH_MM
        assert_allclose(over(structure, station).headroom_mm, room, rtol=1e-12)


def test_a_deck_without_beams_is_called_a_deck() -> None:
    bare = single(deck=Deck(depth_mm=62.0))
    structure = Structure(bare, survey(railhead(5, 116.0)))
    assert {it.place.obstacle for it in structure.hanging(bare.tracks[0])} == {"deck"}


# --- over a straight lead at the foot -------------------------------------------------------------


def led(outside_mm: float | str | None, grade: float = 0.0, **changes: object) -> Helix:
    lead = Lead(at="foot", length_mm=1500.0, grade=grade)
    posts = Posts(inside_mm=110.0, outside_mm=outside_mm)
    return single(leads=(lead,), posts=posts, **changes)


@pytest.mark.parametrize(
    ("brackets", "outside_mm", "beams"),
    [
        # The lead leaves the tier behind at acos(1190 / (1190 + outside)).
        (12, 120.0, 0),  # 24.7 degrees; a beam every 30
        (12, 300.0, 1),  # 37.0 degrees
        (24, 120.0, 1),  # every 15
        (36, 120.0, 2),  # every 10
        (36, "none", 2),  # two gauges, 90 mm: 21.6 degrees
        (36, None, 2),
        (72, "none", 4),
        (12, 3000.0, 2),  # 73.5 degrees
        (36, 90000.0, 8),  # 89.2 degrees; never square to the lead
    ],
)
def test_how_far_the_tier_above_is_over_the_lead(
    brackets: int, outside_mm: float | str | None, beams: int
) -> None:
    structure = Structure(led(outside_mm, brackets_per_turn=brackets))
    below = [station for station in stations_of(structure) if station < 0]
    assert below == list(range(-beams, 0))


@pytest.mark.parametrize("grade", [0.0, 0.02])
def test_a_beam_over_the_lead_hangs_from_the_curve_and_runs_out_along_its_radius(
    grade: float,
) -> None:
    """Beam -1 is 30 degrees round: it crosses the lead at 1190 tan 30 = 687 mm."""
    structure = Structure(led(300.0, grade))
    beam = over(structure, -1)
    away = INNER_MM * math.tan(math.pi / 6)
    assert_allclose(beam.place_rad, -away / INNER_MM, rtol=1e-12)
    assert_allclose(beam.plan_rad, -math.pi / 6, rtol=1e-12)
    assert beam.along_mm == 0
    assert_allclose(beam.elevation_mm, 11 * STEP_MM - DEPTH_MM, rtol=1e-12)
    assert_allclose(beam.headroom_mm, 11 * STEP_MM - DEPTH_MM + grade * away, rtol=1e-12)


def test_the_outermost_track_says_how_far_the_tier_reaches() -> None:
    """1500 mm to the posts outside: acos(1190 / 1500) = 37.5, acos(1380 / 1500) = 23.1 degrees."""
    lead = Lead(at="foot", length_mm=1500.0)
    structure = Structure(helix(leads=(lead,)))
    assert [min(stations_of(structure, number)) for number in (0, 1)] == [-1, 0]


def test_a_curved_lead_before_the_straight_one_has_its_own_beams() -> None:
    structure = Structure(led(300.0, profile=(point(-2, 0.0),)))
    assert min(stations_of(structure)) == -3
    away = INNER_MM * math.tan(math.pi / 6)
    assert_allclose(over(structure, -3).place_rad, -2 * STEP_RAD - away / INNER_MM, rtol=1e-12)
    assert_allclose(over(structure, -3).elevation_mm, 9 * STEP_MM - DEPTH_MM, rtol=1e-12)
    assert_allclose(over(structure, -2).place_rad, -2 * STEP_RAD, rtol=1e-12)


def test_a_helix_of_less_than_a_turn_covers_no_lead() -> None:
    """Beam -1 would hang from bracket 11, and the line ends at 10."""
    assert stations_of(Structure(led(300.0, turns=10 / 12))) == []


# --- the deck -------------------------------------------------------------------------------------


def test_the_deck_hangs_under_the_line_a_turn_above() -> None:
    structure = Structure(single(), survey(railhead(17, 401.0)))
    deck = structure.deck(structure.helix.tracks[0])
    assert deck is not None
    assert_allclose((deck.start_rad, deck.end_rad), (0, 18 * STEP_RAD), atol=1e-12)
    stations = np.array([0, 3.25, 5, 4.5, 18])
    above = [12 * STEP_MM, 15.25 * STEP_MM, 401, (16 * STEP_MM + 401) / 2, 30 * STEP_MM]
    assert_allclose(deck.height_mm(stations * STEP_RAD), np.array(above) - 38, rtol=1e-12)


def test_no_tier_above_no_deck() -> None:
    eleven = Structure(single(turns=11 / 12), survey(railhead(5, 116.0)))
    assert eleven.deck(eleven.helix.tracks[0]) is None


@pytest.mark.parametrize(("outside_mm", "degrees"), [(300.0, 37.0), ("none", 21.6)])
def test_the_deck_goes_on_over_a_straight_lead(
    outside_mm: float | str | None, degrees: float
) -> None:
    structure = Structure(led(outside_mm))
    deck = structure.deck(structure.helix.tracks[0])
    assert deck is not None
    reach = INNER_MM + (90 if outside_mm == "none" else outside_mm)
    assert_allclose(deck.start_rad, -math.acos(INNER_MM / reach), rtol=1e-12)
    assert_allclose(math.degrees(deck.start_rad), -degrees, atol=0.05)
    assert_allclose(deck.height_mm(np.array([-STEP_RAD / 2])), 11.5 * STEP_MM - 38, rtol=1e-12)


# --- obstacles ------------------------------------------------------------------------------------


def test_an_obstacle_on_the_curve_is_square_to_its_radius() -> None:
    lamp = Obstacle(name="lamp", station=7.5, headroom_mm=210.0, width_mm=5.0)
    structure = Structure(single(obstacles=(lamp,)), survey(railhead(8, 192.0)))
    found = over(structure, 7.5)
    assert (found.place.obstacle, found.width_mm, found.headroom_mm) == ("lamp", 5, 210)
    assert_allclose((found.place_rad, found.plan_rad), 7.5 * STEP_RAD, rtol=1e-12)
    assert_allclose(found.elevation_mm, (7 * STEP_MM + 192) / 2 + 210, rtol=1e-12)
    assert found.along_mm == 0


# --- under a straight lead at the head ------------------------------------------------------------


def test_a_level_lead_at_the_head_comes_down_on_the_tier_beneath() -> None:
    """3-4-5: beneath the deck's inner edge, 960 mm from the axis, a track of 1200 mm has come
    720 mm along and 36.87 degrees round. It climbs all the way; the lead over it does not."""
    where = single(
        radius_mm=1200.0,
        turns=2.0,
        brackets_per_turn=24,
        posts=Posts(inside_mm=240.0, outside_mm=100.0),
        leads=(Lead(at="head", length_mm=2000.0),),
    )
    structure, track = Structure(where), where.tracks[0]
    line, over = structure.line(track), structure.hanging(track)
    beneath = [it for it in over if it.along_mm > 0]
    along = np.array([1200 * math.radians(15), 1200 * math.radians(30), 720.0])
    assert_allclose([it.along_mm for it in beneath], along, rtol=1e-12)
    assert [it.place.obstacle for it in beneath] == ["beam", "beam", "deck"]
    assert [it.place.station for it in beneath[:2]] == [25, 26]
    # The lead leaves at 2 * 285 mm and stays there; so high hangs what it carries.
    assert_allclose([it.elevation_mm for it in beneath], 570 - np.array([62, 62, 38]))
    angles = np.arcsin(along / 1200)
    assert_allclose(math.degrees(angles[2]), 36.8699, atol=1e-4)
    rails = 285 + 285 * angles / (2 * math.pi)
    assert_allclose(line.height_mm(2 * math.pi + angles), rails)
    assert_allclose([it.headroom_mm for it in beneath], 570 - np.array([62, 62, 38]) - rails)


def test_a_short_lead_at_the_head_hangs_over_as_much_as_there_is_of_it() -> None:
    where = single(
        radius_mm=1200.0,
        turns=2.0,
        posts=Posts(inside_mm=240.0, outside_mm=100.0),
        leads=(Lead(at="head", length_mm=300.0, grade=0.02),),
    )
    structure, track = Structure(where), where.tracks[0]
    (end,) = [it for it in structure.hanging(track) if it.along_mm > 0]
    assert_allclose((end.along_mm, end.elevation_mm), (300.0, 570 + 6 - 38))


def test_a_headroom_measured_there_takes_the_place_of_the_drawing() -> None:
    where = single(radius_mm=1200.0, turns=2.0, leads=(Lead(at="head", length_mm=2000.0),))
    structure = Structure(where, survey(headroom(12, 215.0), headroom(13, 205.0)))
    beams = {
        it.place.station: (it.headroom_mm, it.place.origin)
        for it in structure.hanging(where.tracks[0])
        if it.place.station in (12, 13)
    }
    assert beams == {12: (215.0, "as measured"), 13: (205.0, "as measured")}


# --- what a headroom rests on ---------------------------------------------------------------------


def test_a_beam_of_which_one_railhead_was_measured_says_so() -> None:
    """Bracket 5 lies under 17. Only that one was measured, 4 mm low; then both."""
    where = single()
    found = []
    for readings in ((railhead(17, 17 * STEP_MM - 4),), (railhead(17, 400), railhead(5, 118))):
        over = Structure(where, survey(*readings)).hanging(where.tracks[0])
        found.append(next(it for it in over if it.place.station == 5))
    assert [it.place.origin for it in found] == [
        "partly from surveyed railheads",
        "from surveyed railheads",
    ]
    assert_allclose(found[0].headroom_mm, 12 * STEP_MM - 4 - DEPTH_MM)


def test_beams_of_an_incomplete_turn_hang_over_the_lead_before_it() -> None:
    """Nine brackets and a gate nine before the first: six stations lie under another one, whether
    the railheads are drawn or a survey says the same."""
    gate = Obstacle(name="gate", station=-9, headroom_mm=400.0)
    where = single(turns=0.75, obstacles=(gate,))
    for as_it_stands in (None, survey(railhead(0, 0.0))):
        over = Structure(where, as_it_stands).hanging(where.tracks[0])
        stations = [at for it in over if it.place.obstacle == "beam" for at in it.place.stations]
        assert stations == [-9, -8, -7, -6, -5, -4, -3]


@pytest.mark.parametrize("at", ["foot", "head"])
def test_an_obstacle_along_a_lead_is_square_to_the_lead(at: str) -> None:
    """As far along the lead of either track; so at another station of each."""
    lamp = Obstacle(name="lamp", distance_mm=400.0, at=at, headroom_mm=210.0)
    leads = (
        Lead(at="foot", length_mm=900.0, grade=0.02),
        Lead(at="head", length_mm=600.0, grade=0.01),
    )
    structure = Structure(helix(leads=leads, obstacles=(lamp,)))
    for number, radius in enumerate((INNER_MM, OUTER_MM)):
        (found,) = (
            it
            for it in structure.hanging(structure.helix.tracks[number])
            if it.place.obstacle == "lamp"
        )
        sign, bend, end_mm = (-1, 0, 0) if at == "foot" else (1, 30 * STEP_RAD, 30 * STEP_MM)
        assert_allclose(found.place_rad, bend + sign * 400 / radius, rtol=1e-12)
        assert_allclose(found.place.station, found.place_rad / STEP_RAD, rtol=1e-12)
        assert_allclose(found.plan_rad, bend, atol=1e-12)
        assert_allclose(found.along_mm, sign * 400, rtol=1e-12)
        rail = end_mm + sign * 400 * (0.02 if at == "foot" else 0.01)
        assert_allclose(found.elevation_mm, rail + 210, rtol=1e-12)
        assert found.width_mm == 38


def test_with_one_lead_a_distance_needs_no_end() -> None:
    lamp = Obstacle(name="lamp", distance_mm=400.0, headroom_mm=210.0)
    structure = Structure(single(leads=(Lead(at="head", length_mm=600.0),), obstacles=(lamp,)))
    place = structure.place_rad(lamp, structure.helix.tracks[0])
    assert_allclose(place, 30 * STEP_RAD + 400 / INNER_MM, rtol=1e-12)


def test_a_station_beyond_the_curve_is_a_distance_along_the_lead() -> None:
    """Two stations of the inner track are 1190 pi / 3 = 1246 mm, wherever the line is straight."""
    lamp = Obstacle(name="lamp", station=-2.0, headroom_mm=210.0)
    structure = Structure(single(leads=(Lead(at="foot", length_mm=1500.0),), obstacles=(lamp,)))
    found = over(structure, -2)
    assert_allclose(found.along_mm, -INNER_MM * math.pi / 3, rtol=1e-12)
    assert_allclose(found.plan_rad, 0, atol=1e-12)
    # And it does not bend the lead to be there.
    assert structure.curve_stations == (0, 30)


def test_what_stands_at_one_track_only() -> None:
    fence = Obstacle(name="fence", track="outer", station=3.0, left_mm=90.0, width_mm=12.0)
    both = Obstacle(name="wall", station=4.0, right_mm=90.0)
    structure = Structure(helix(obstacles=(fence, both)))
    inner, outer = structure.helix.tracks
    assert [it.name for it in structure.obstacles(inner)] == ["wall"]
    assert [it.name for it in structure.obstacles(outer)] == ["fence", "wall"]
    strip = structure.strip(fence, outer)
    assert strip.width_mm == [12]
    assert_allclose(strip.place_rad, [3 * STEP_RAD], rtol=1e-12)
    # Neither has a headroom: nothing of them hangs.
    assert all(it.place.obstacle == "beam" for it in structure.hanging(outer))


def test_the_arrays_are_the_list() -> None:
    lamp = Obstacle(name="lamp", distance_mm=400.0, headroom_mm=210.0, width_mm=9.0)
    structure = Structure(led(300.0, obstacles=(lamp,)), survey(headroom(4.5, 220.0)))
    track = structure.helix.tracks[0]
    listed, arrays = structure.hanging(track), structure.undersides(track)
    assert [it.place.station for it in listed] == sorted(it.place.station for it in listed)
    assert len(listed) == len(arrays.place_rad) == 1 + 1 + 19 + 1
    for row, underside in enumerate(listed):
        assert underside.elevation_mm == arrays.elevation_mm[row]
        assert underside.width_mm == arrays.width_mm[row]
        assert (underside.place_rad, underside.plan_rad, underside.along_mm) == (
            arrays.place_rad[row],
            arrays.plan_rad[row],
            arrays.along_mm[row],
        )
