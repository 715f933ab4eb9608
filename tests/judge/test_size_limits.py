"""Limits that contradict each other: the fewest that do, and figures that hold when asked for."""

import re

import pytest

from catalog.errors import DataError
from clearance.judge.size_draft import Limits
from clearance.judge.sizing import size
from tests.judge.clubs import car, fleet_of, helix, single

CARS = fleet_of(car("tall", height_mm=230.0), car("long", length_mm=800.0, wheelbase_mm=560.0))


def complaint(limits: Limits, tracks: int = 1) -> str:
    with pytest.raises(DataError) as refused:
        size(single() if tracks == 1 else helix(), CARS, limits)
    return str(refused.value)


def figure(words: str, pattern: str) -> float:
    found = re.search(pattern, words)
    assert found, words
    return float(found[1])


@pytest.mark.parametrize("tracks", [1, 2])
def test_grade_and_diameter(tracks: int) -> None:
    """The grade and the diameter that it names are the least that serve, each by itself."""
    limits = Limits(max_grade_percent=2.0, max_diameter_mm=3200.0)
    words = complaint(limits, tracks)
    assert "3200 mm contradicts a grade of at most 2 %" in words
    assert "one of the two must give way" in words
    assert "mm of rise a turn for tall" in words
    where = single() if tracks == 1 else helix()
    grade = figure(words, r"a grade of ([\d.]+) %$")
    assert size(where, CARS, limits._replace(max_grade_percent=grade)).footprint_mm <= 3200
    complaint(limits._replace(max_grade_percent=round(grade - 0.1, 1)), tracks)
    diameter = figure(words, r"must give way: a diameter of ([\d.]+) mm")
    size(where, CARS, limits._replace(max_diameter_mm=diameter))
    complaint(limits._replace(max_diameter_mm=diameter - 1), tracks)


def test_a_diameter_for_no_grade() -> None:
    """Even at the steepest: the grade is not named, for it does not matter."""
    words = complaint(Limits(max_diameter_mm=500.0))
    assert "500 mm contradicts" in words
    assert "grade of at most" not in words
    assert "cars be left out" in words


def test_a_diameter_against_a_stated_radius_holds_when_put_back() -> None:
    """The express asks for 1150 mm whatever the grade, also where the long one needs room to stand.

    So no grade is offered, and the diameter that is serves.
    """
    cars = fleet_of(
        car("express", minimum_radius_mm=1150.0),
        car("long", length_mm=900.0, wheelbase_mm=800.0),
        car("tall", height_mm=230.0),
    )
    with pytest.raises(DataError) as refused:
        size(helix(), cars, Limits(max_grade_percent=8.0, max_diameter_mm=2000.0))
    words = str(refused.value)
    assert "contradicts the least radius of express" in words
    needs = figure(words, r"that needs ([\d.]+) mm over all \(radius 1150 mm\)")
    for grade in (8.0, 15.0):
        limits = Limits(max_grade_percent=grade, max_diameter_mm=needs)
        assert size(helix(), cars, limits).radius_mm == 1150


def test_climb_and_turns_with_the_diameter() -> None:
    """1.2 m in 2 turns is 600 mm a turn: at 3 % a radius of over 3.1 m, whatever the cars."""
    limits = Limits(max_diameter_mm=5000.0, climb_mm=1200.0, max_turns=2.0)
    words = complaint(limits)
    assert "a grade of at most 3 % and a climb of 1200 mm in at most 2 turns" in words
    assert "one of the three must give way" in words
    assert "600 mm of rise a turn for the climb" in words
    turns = figure(words, r"([\d.]+) turns$")
    fits = size(single(), CARS, limits._replace(max_turns=turns))
    assert fits.footprint_mm <= 5000
    assert fits.turns <= turns
    complaint(limits._replace(max_turns=turns - 1 / 12))
    grade = figure(words, r"a grade of ([\d.]+) %, or")
    assert size(single(), CARS, limits._replace(max_grade_percent=grade)).footprint_mm <= 5000
    # Each two of the three do without the third.
    size(single(), CARS, limits._replace(climb_mm=None))
    size(single(), CARS, limits._replace(max_diameter_mm=None))
    size(single(), CARS, limits._replace(max_grade_percent=15.0))


def test_a_contradiction_of_two_is_not_told_as_one_of_three() -> None:
    """The grade and the diameter do not go together; that there is a climb as well is no matter."""
    limits = Limits(max_grade_percent=2.0, max_diameter_mm=3200.0, climb_mm=1000.0, max_turns=4.0)
    assert "climb" not in complaint(limits)


def test_a_climb_in_few_turns_makes_each_rise_more() -> None:
    """1 m in at most 2.5 turns of 12 brackets: 400 mm a turn."""
    design = size(single(), CARS, Limits(climb_mm=1000.0, max_turns=2.5))
    assert (design.rise_per_turn_mm, design.turns) == (400.0, 2.5)
    assert design.governing["rise_per_turn"] == "climb"
    # 2.55 turns are 30 whole brackets as well.
    assert size(single(), CARS, Limits(climb_mm=1000.0, max_turns=2.55)).rise_per_turn_mm == 400.0
    easy = size(single(), CARS, Limits(climb_mm=1000.0, max_turns=9.0))
    assert easy.governing["rise_per_turn"] == "tall"


def test_turns_alone_are_no_more_than_that() -> None:
    assert size(single(turns=3.0), CARS, Limits(max_turns=2.5)).turns == 2.5
    assert size(single(turns=2.0), CARS, Limits(max_turns=2.5)).turns == 2.0
    with pytest.raises(DataError, match="less than from one bracket to the next"):
        size(single(), CARS, Limits(max_turns=0.05))
