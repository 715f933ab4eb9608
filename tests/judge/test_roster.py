"""What is posted: who runs where, which way round, and past whom not."""

import numpy as np
import pytest

from catalog.car import Car
from catalog.helix import Helix, Posts, Track
from clearance.judge.check import check
from clearance.judge.fleet import Fleet
from clearance.judge.meets import meetings
from clearance.judge.roster import RosterRow, board_order, post
from clearance.judge.verdict import MARGINAL, NOT_MEASURED, PASSES
from tests.judge.clubs import block, car, fleet_of, helix, random_fleet, single


def rows_of(where: Helix, cars: Fleet) -> tuple[RosterRow, ...]:
    roster = post(check(where, cars))
    assert [row.index for row in roster.rows] == list(range(len(cars)))
    return roster.rows


def test_a_car_for_the_outer_track_only() -> None:
    rows = rows_of(helix(), fleet_of(car(minimum_radius_mm=1300.0), car("any")))
    assert rows[0].runs_on == ["outer"]
    assert rows[0].verdict == "passes"
    assert rows[1].runs_on == ["inner", "outer"]


def test_a_car_that_runs_nowhere_has_the_word_of_its_best_track() -> None:
    one = car(minimum_radius_mm=1300.0, height_mm=212.0)
    row = rows_of(helix(), fleet_of(one))[0]
    assert row.runs_on == []
    assert row.code == row.tracks["outer"] == MARGINAL
    assert row.facing == {}
    assert row.not_past == {}


def one_sided(left_mm: float, right_mm: float) -> Car:
    return car(
        width_mm=left_mm + right_mm,
        blocks=(
            block((0, 600), (45, 45), (20, 190)),
            block((280, 320), (left_mm, right_mm), (10, 60)),
        ),
    )


@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
def test_a_step_that_fits_on_the_outside_only(climbs: str) -> None:
    """110 mm to the posts inside, 300 outside; the step reaches 115 mm to one side."""
    where = single(climbs=climbs, posts=Posts(inside_mm=110.0, outside_mm=300.0))
    left_row, right_row = rows_of(where, fleet_of(one_sided(115, 45), one_sided(45, 115)))
    uphill, downhill = "front uphill", "front downhill"
    if climbs == "clockwise":
        uphill, downhill = downhill, uphill
    # Uphill counterclockwise, left is inside.
    assert left_row.facing == {"inner": downhill}
    assert right_row.facing == {"inner": uphill}
    assert left_row.runs_on == right_row.runs_on == ["inner"]


def test_what_passes_both_ways_or_neither_has_no_facing() -> None:
    where = single(posts=Posts(inside_mm=300.0, outside_mm=300.0))
    assert rows_of(where, fleet_of(one_sided(115, 45)))[0].facing == {}
    where = single(posts=Posts(inside_mm=60.0, outside_mm=60.0))
    row = rows_of(where, fleet_of(one_sided(115, 45)))[0]
    assert row.facing == {}
    assert row.runs_on == []


def test_what_was_not_measured_passes_nowhere() -> None:
    where = single(posts=Posts(inside_mm=110.0))
    row = rows_of(where, fleet_of(car()))[0]
    assert row.code == NOT_MEASURED
    assert row.runs_on == []


def test_not_past_is_told_to_both() -> None:
    """Spacing 150 mm: wide cars may not pass one another, narrow ones pass anybody."""
    tight = helix(
        tracks=(Track(name="inner", radius_mm=1190.0), Track(name="outer", radius_mm=1340.0))
    )
    cars = fleet_of(
        car("wide", width_mm=115.0), car("also wide", width_mm=115.0), car("n", width_mm=60.0)
    )
    wide, also, narrow = rows_of(tight, cars)
    # There is only one of each: it cannot meet itself.
    assert wide.not_past == {"inner": ["also wide"], "outer": ["also wide"]}
    assert also.not_past == {"inner": ["wide"], "outer": ["wide"]}
    assert narrow.not_past == {}


@pytest.mark.parametrize("seed", range(4))
def test_restrictions_follow_from_the_check_and_the_meets(seed: int) -> None:
    cars = random_fleet(np.random.default_rng(seed), 60, (190.0, 215.0))
    where = helix(
        tracks=(Track(name="inner", radius_mm=1190.0), Track(name="outer", radius_mm=1365.0)),
        posts=Posts(inside_mm=95.0, outside_mm=95.0),
    )
    result = check(where, cars)
    rows = post(result).rows
    meeting = meetings(where, cars)[0]
    codes = meeting.figures(np.arange(60), np.arange(60)).codes
    runs = {}
    for track in ("inner", "outer"):
        both = result.facing_codes(track)
        runs[track] = (both == PASSES).any(axis=0)
        for row in rows:
            up, down = both[:, row.index]
            assert row.tracks[track] == min(up, down)
            if up == PASSES and down > NOT_MEASURED:
                assert row.facing[track] == "front uphill"
            elif down == PASSES and up > NOT_MEASURED:
                assert row.facing[track] == "front downhill"
            else:
                assert track not in row.facing
            assert (track in row.runs_on) == runs[track][row.index]
    for row in rows:
        for track, other, barred_with in (
            ("inner", "outer", codes[row.index]),
            ("outer", "inner", codes[:, row.index]),
        ):
            expected = [
                cars.ids[number]
                for number in np.flatnonzero((barred_with != PASSES) & runs[other])
                if runs[track][row.index] and number != row.index
            ]
            assert row.not_past.get(track, []) == expected
    assert any(row.not_past for row in rows)
    assert any(row.facing for row in rows)
    # Told to both: X inside is not past Y if and only if Y outside is not past X.
    inside = {(cars.ids[r.index], name) for r in rows for name in r.not_past.get("inner", [])}
    outside = {(name, cars.ids[r.index]) for r in rows for name in r.not_past.get("outer", [])}
    assert inside == outside


def test_a_middle_track_has_neighbours_on_both_sides_and_names_each_car_once() -> None:
    tracks = tuple(Track(name=n, radius_mm=1100 + 115.0 * i) for i, n in enumerate("abc"))
    where = helix(tracks=tracks, posts=Posts(inside_mm=200.0, outside_mm=200.0))
    rows = rows_of(where, fleet_of(car("x"), car("y")))
    for row, other in zip(rows, ("y", "x"), strict=True):
        assert row.not_past == {"a": [other], "b": [other], "c": [other]}


# --- the order of a board -------------------------------------------------------------------------


def ordered(ids: list[str], *, owners: list[str] | None = None) -> list[str]:
    cars = [
        car(name, owner=owner) for name, owner in zip(ids, owners or [""] * len(ids), strict=True)
    ]
    by_owner = owners is not None
    return [ids[number] for number in board_order(fleet_of(*cars), by_owner=by_owner)]


@pytest.mark.parametrize(
    "ids",
    [
        ["9", "10", "100"],
        ["4", "4a", "4B", "5"],
        ["A2", "a10", "B1"],
        ["No. 7", "no. 12", "No. 101"],
        ["2-8", "2-10", "10-2"],
        ["8", "27", "BV 3", "R 7", "R 12"],
    ],
)
def test_numbers_count_as_numbers(ids: list[str]) -> None:
    for shift in range(len(ids)):
        assert ordered(ids[shift:] + ids[:shift]) == ids
    assert ordered(ids[::-1]) == ids


def test_owners_together_and_cars_without_an_owner_last() -> None:
    ids = ["1", "2", "3", "4", "10"]
    owners = ["", "zoe", "Abe", "abe", "ABE"]
    assert ordered(ids, owners=owners) == ["3", "4", "10", "2", "1"]


def test_equal_in_all_but_their_case_stay_as_they_came() -> None:
    assert ordered(["b", "B"]) == ["b", "B"]
    assert ordered(["B", "b"]) == ["B", "b"]


def test_any_figure_that_unicode_knows_is_sorted_somehow() -> None:
    names = ["٣", "²", "½", "x²", "ⅷ", "3"]
    assert sorted(ordered(names)) == sorted(names)
