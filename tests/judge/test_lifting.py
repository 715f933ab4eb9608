"""What turning a nut does to railheads, headrooms and grades, by hand and as the engine sees it."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.errors import DataError
from catalog.helix import Adjusters, Helix, Obstacle
from catalog.survey import Reading, Survey
from clearance.judge.lifting import EXPECTED_BY, Lifting
from tests.judge.clubs import helix, random_built

NUTS = Adjusters(pitch_mm=1.25, step=0.25, travel_mm=40.0)
STEP_MM = 0.3125  # a quarter turn of 1.25 mm
ROUNDING_MM = 1e-6  # surveys are written to this


def steps_of(where: Helix, **moved: int) -> np.ndarray:
    """Steps by bracket: ``k17=4``."""
    steps = np.zeros(where.last_station + 1, np.int64)
    for name, count in moved.items():
        steps[int(name[1:])] = count
    return steps


def readings_of(survey: Survey | None) -> dict[tuple[str, float], Reading]:
    assert survey is not None
    return {(it.track, it.station): it for it in survey.readings}


def test_raising_a_bracket_lifts_its_railhead_and_its_beam_and_eats_its_own_headroom() -> None:
    survey = Survey(
        readings=(
            Reading(station=5, headroom_mm=220.0),
            Reading(station=17, railhead_mm=404.0, headroom_mm=221.0),
            Reading(station=17.5, railhead_mm=416.0),
            Reading(station=4.5, headroom_mm=219.0),
        )
    )
    where = helix(adjusters=NUTS)
    after = readings_of(Lifting(where, survey).survey_after(steps_of(where, k17=8)))
    up = 8 * STEP_MM
    assert up == 2.5
    assert_allclose(after["", 17].railhead_mm, 404.0 + up, atol=ROUNDING_MM)
    # Nothing is over bracket 17 of 30 brackets, 12 a turn, but 29 is.
    assert_allclose(after["", 17].headroom_mm, 221.0 - up, atol=ROUNDING_MM)
    assert_allclose(after["", 5].headroom_mm, 220.0 + up, atol=ROUNDING_MM)
    assert_allclose(after["", 17.5].railhead_mm, 416.0 + up / 2, atol=ROUNDING_MM)
    assert_allclose(after["", 4.5].headroom_mm, 219.0 + up / 2, atol=ROUNDING_MM)
    assert after["", 17].taken_by == EXPECTED_BY


def test_what_hangs_where_no_tier_is_above_stays_where_it_is() -> None:
    survey = Survey(readings=(Reading(station=25, headroom_mm=230.0),))
    where = helix(adjusters=NUTS)
    for count in (-4, 4):
        after = readings_of(Lifting(where, survey).survey_after(steps_of(where, k25=count)))
        assert_allclose(after["", 25].headroom_mm, 230.0 - count * STEP_MM, atol=ROUNDING_MM)


def test_of_a_described_obstacle_the_worse_is_reckoned_with() -> None:
    """Nobody says whether a lamp stands on the ground, on the deck, or hangs from the next one."""
    lamp = Obstacle(name="lamp", station=5.0, headroom_mm=222.0)
    where = helix(adjusters=NUTS, obstacles=(lamp,))
    lifting = Lifting(where)
    for moved, lost in ({"k5": 4}, 4), ({"k5": -4}, 0), ({"k17": -4}, 4), ({"k17": 4}, 0):
        steps = steps_of(where, **moved)
        (after,) = lifting.after(steps).helix.obstacles
        assert_allclose(after.headroom_mm, 222.0 - lost * STEP_MM, atol=ROUNDING_MM)
        assert len(lifting.remeasure(steps)) == bool(lost)


def test_untaken_brackets_come_into_the_survey_from_the_drawing() -> None:
    where = helix(adjusters=NUTS)
    after = readings_of(Lifting(where).survey_after(steps_of(where, k3=-2)))
    assert set(after) == {("", 3.0)}
    assert_allclose(after["", 3.0].railhead_mm, 3 * 285 / 12 - 2 * STEP_MM, atol=ROUNDING_MM)
    assert Lifting(where).survey_after(steps_of(where)) is None


def test_travel_counts_from_the_design_height() -> None:
    survey = Survey(
        readings=(
            Reading(station=3, railhead_mm=3 * 23.75 + 39.0),
            Reading(station=4, track="outer", railhead_mm=4 * 23.75 - 39.0),
            Reading(station=5, railhead_mm=5 * 23.75 + 45.0),
        )
    )
    low, high = Lifting(helix(adjusters=NUTS), survey).limits
    most = 40 / STEP_MM
    assert (low[0], high[0]) == (-most, most)
    # 1 mm is left, three steps of it; 79 mm the other way, 252 steps and a part.
    assert (low[3], high[3]) == (-252, 3)
    # The outer track is 39 mm low there, the inner one is not: both stay within their travel.
    assert (low[4], high[4]) == (-3, most)
    # Beyond its travel already: it may come back, or stay.
    assert (low[5], high[5]) == (-272, 0)


@pytest.mark.parametrize("seed", range(8))
def test_lines_and_what_hangs_over_them_answer_as_they_are_said_to(seed: int) -> None:
    """The engine's own line and undersides after random moves, against rows times moves."""
    rng = np.random.default_rng(seed)
    where, survey = random_built(rng)
    where = where.model_copy(update={"adjusters": NUTS})
    lifting = Lifting(where, survey if seed % 4 else None)
    steps = rng.integers(-4, 5, lifting.brackets)
    steps[sorted(lifting.held)] = 0
    move, after = lifting.move_mm(steps), lifting.after(steps)
    for track in where.tracks:
        before, line = lifting.structure.line(track), after.line(track)
        places = np.linspace(before.start_rad, before.end_rad, 200)
        expected = before.height_mm(places) + lifting.rows(track, places) @ move
        assert_allclose(line.height_mm(places), expected, atol=1e-5)
        elevation, answers = lifting.undersides(track)
        hanging = after.undersides(track)
        expected = elevation + np.array([(answer @ move).min() for answer in answers])
        described = {it.name for it in where.obstacles}
        for number, underside in enumerate(after.hanging(track)):
            found = hanging.elevation_mm[number]
            if underside.place.obstacle in described:
                # One obstacle over two tracks gets the lesser headroom of both.
                assert found <= expected[number] + 1e-5
            else:
                assert_allclose(found, expected[number], atol=1e-5)
    assert len(lifting.grades.percent) == len(lifting.grades.rows)
    now = np.concatenate([100 * after.line(t).slope_mm / t.radius_mm for t in where.tracks])
    assert_allclose(lifting.grades.percent + lifting.grades.rows @ move, now, atol=1e-5)


def test_where_a_straight_lead_begins_brackets_stay() -> None:
    held = 0
    for seed in range(20):
        where, survey = random_built(np.random.default_rng(seed), straight=True)
        where = where.model_copy(update={"adjusters": NUTS})
        lifting = Lifting(where, survey)
        first, last = lifting.structure.curve_stations
        if first == 0 and any(lead.at == "foot" for lead in where.leads):
            assert 0 in lifting.held
            held += 1
        if last == where.last_station and any(lead.at == "head" for lead in where.leads):
            assert where.last_station in lifting.held
            held += 1
        assert not lifting.held & set(range(3, where.last_station - 2))
    assert held > 10


def test_without_adjusters_it_says_what_to_write() -> None:
    with pytest.raises(DataError, match=r"\[adjusters\].*pitch = .*step = .*travel = "):
        _ = Lifting(helix()).step_mm
