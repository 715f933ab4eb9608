"""Setting out: circles, chords and heights against school geometry; the sheet has every place."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.helix import Deck, Lead, Posts, ProfilePoint
from clearance.judge.check import check
from clearance.judge.setting_out import setting_out, survey_sheet
from tests.judge.clubs import car, column, fleet_of, helix, single


def test_a_hexagon_by_hand() -> None:
    """Six brackets a turn: the chord is the radius, and each turn is 360 degrees of 60."""
    where = single(radius_mm=1000.0, brackets_per_turn=6, turns=2.0, rise_per_turn_mm=300.0)
    found = setting_out(where, base_mm=500.0)
    kinds = [(c.kind, c.name, c.radius_mm) for c in found.circles]
    assert kinds == [
        ("inside posts", "", 890.0),
        ("track", "inner", 1000.0),
        ("outside posts", "", 1120.0),
    ]
    assert_allclose([c.chord_mm for c in found.circles], [890, 1000, 1120], rtol=1e-12)
    assert found.step_deg == 60
    assert [b.station for b in found.brackets] == list(range(13))
    assert [b.turn for b in found.brackets] == [1] * 6 + [2] * 6 + [3]
    assert_allclose([b.angle_deg for b in found.brackets], [*range(0, 360, 60)] * 2 + [0])
    railheads = 50.0 * np.arange(13)
    assert_allclose([b.railhead_mm for b in found.brackets], railheads, atol=1e-9)
    assert_allclose([b.deck_mm for b in found.brackets], railheads - 38, atol=1e-9)
    # 500 mm under the zero stand the posts; the beam's underside is 38 + 24 under the railhead.
    assert_allclose([b.post_mm for b in found.brackets], railheads + 500 - 62, atol=1e-9)
    assert_allclose([b.headroom_mm for b in found.brackets[:7]], [300 - 62] * 7, atol=1e-9)
    assert {b.headroom_mm for b in found.brackets[7:]} == {None}
    assert_allclose([b.rise_mm for b in found.brackets[:-1]], [50] * 12, atol=1e-9)
    assert found.brackets[-1].rise_mm is None


@pytest.mark.parametrize("brackets", [3, 7, 12, 60])
def test_chords_are_those_between_points_of_the_circle(brackets: int) -> None:
    found = setting_out(helix(brackets_per_turn=brackets))
    angle = math.radians(found.step_deg)
    for circle in found.circles:
        here = np.array([circle.radius_mm, 0.0])
        there = circle.radius_mm * np.array([math.cos(angle), math.sin(angle)])
        assert_allclose(circle.chord_mm, np.linalg.norm(there - here), rtol=1e-12)


def test_heights_of_a_profile_are_those_that_a_check_goes_by() -> None:
    """Headroom as the check has it, under every beam; a lead of curved track has brackets, too."""
    where = helix(
        profile=tuple(
            ProfilePoint(station=k, railhead_mm=height)
            for k, height in ((-2, -20.0), (0, -10.0), (1, 4.0), (2.5, 50.0))
        ),
        leads=(Lead(at="head", length_mm=900.0, grade=0.01),),
    )
    found = setting_out(where)
    assert found.brackets[0].station == -2
    known = {b.station: b for b in found.brackets}
    assert (known[-2].railhead_mm, known[-1].railhead_mm, known[1].railhead_mm) == (-20, -15, 4)
    assert (known[-2].turn, known[-2].angle_deg) == (0, 300)
    # Of station 2 the profile says nothing: it is as the regular climb has it, 2 / 12 of 285.
    assert_allclose(known[2].railhead_mm, 47.5)
    over = column(check(where, fleet_of(car()), every_obstacle=True), "inner", "overhead")
    assert over is not None
    beams = {place.station for place in over.places if place.obstacle == "beam"}
    assert beams == {b.station for b in found.brackets if b.headroom_mm is not None}
    for bracket in found.brackets:
        if bracket.headroom_mm is not None:
            above = known[bracket.station + 12].railhead_mm
            assert_allclose(bracket.headroom_mm, above - 62 - bracket.railhead_mm)


def test_where_nothing_stands_no_post_is_set_out() -> None:
    for inside in ("none", None):
        found = setting_out(helix(posts=Posts(inside_mm=inside, outside_mm=120.0)))
        assert [c.kind for c in found.circles] == ["track", "track", "outside posts"]


def test_without_a_beam_the_deck_rests_on_the_post() -> None:
    found = setting_out(helix(deck=Deck(depth_mm=30.0)))
    assert all(b.post_mm == b.deck_mm for b in found.brackets)


def test_the_sheet_asks_for_every_bracket_on_every_track() -> None:
    rows = survey_sheet(helix())
    assert [(r.bracket.station, r.track) for r in rows] == [
        (station, track) for station in range(31) for track in ("inner", "outer")
    ]
