"""A helix for the cars owned: all of them pass on it, and with a millimetre less one does not."""

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.errors import DataError
from catalog.helix import Allowance, Deck, Helix, Lead, Obstacle, Posts, Track
from catalog.helix_toml import read_helix_toml, write_helix_toml
from clearance.judge.check import check
from clearance.judge.findings import Finding
from clearance.judge.fleet import Fleet
from clearance.judge.meets import Meeting, meetings, tightest_pair
from clearance.judge.size_choices import GRADES_PERCENT, Alternative
from clearance.judge.size_draft import Limits
from clearance.judge.sizing import Design, size
from clearance.judge.verdict import DOES_NOT_FIT, PASSES
from tests.judge.clubs import car, fleet_of, helix, random_fleet

LESS_MM = 1.0


def start(tracks: int, **changes: object) -> Helix:
    """What stays: gauge, number of tracks, brackets, deck, allowance; not the radii."""
    return helix(
        tracks=tuple(
            Track(name=name, radius_mm=1190.0 + 190 * n, cant_mm=1.5 * n)
            for n, name in enumerate("abc"[:tracks])
        ),
        allowance=Allowance(play_mm=1.5),
        **changes,
    )


def drawn(seed: int, count: int) -> Fleet:
    return random_fleet(np.random.default_rng(seed), count, (120.0, 240.0))


CASES = [(tracks, seed) for tracks in (1, 2, 3) for seed in range(3)]
COUNTS = (1, 4, 25)


@pytest.fixture(scope="module")
def designs() -> dict[tuple[int, int], tuple[Fleet, Design]]:
    """A design for each case, counterclockwise and clockwise, made once."""
    made = {}
    for tracks, seed in CASES:
        cars = drawn(10 * tracks + seed, COUNTS[seed])
        climbs = ("counterclockwise", "clockwise")[seed % 2]
        made[tracks, seed] = cars, size(start(tracks, climbs=climbs), cars)
    return made


def every_pair(meeting: Meeting) -> np.ndarray:
    numbers = np.arange(len(meeting.fleet))
    return meeting.figures(numbers, numbers).codes


def of(where: Helix, cars: Fleet, track: Track, name: str, check_name: str) -> Finding:
    """One finding of a car by its id."""
    result = check(where, cars)
    found = [f for f in result.findings(cars.ids.index(name), track.name) if f.check == check_name]
    assert len(found) == 1
    return found[0]


def changed(design: Design, **changes: object) -> Helix:
    return design.helix.model_copy(update=changes)


# --- all pass, with nothing to spare --------------------------------------------------------------


@pytest.mark.parametrize("case", CASES)
def test_put_back_into_check_and_meets_all_pass(
    designs: dict[tuple[int, int], tuple[Fleet, Design]], case: tuple[int, int]
) -> None:
    cars, design = designs[case]
    result = check(design.helix, cars)
    assert (result.codes() == PASSES).all()
    for number in range(len(cars)):
        for track in design.helix.tracks:
            for found in result.findings(number, track.name):
                assert found.code == PASSES or (not found.lowers and found.gap_mm is None)
    for meeting in meetings(design.helix, cars):
        assert (every_pair(meeting) == PASSES).all()


@pytest.mark.parametrize("case", CASES)
def test_the_design_says_what_its_helix_is(
    designs: dict[tuple[int, int], tuple[Fleet, Design]], case: tuple[int, int]
) -> None:
    _, design = designs[case]
    tracks, where = design.helix.tracks, design.helix
    assert design.radius_mm == tracks[0].radius_mm
    assert design.rise_per_turn_mm == where.rise_per_turn_mm
    assert (design.inside_mm, design.outside_mm) == (where.posts.inside_mm, where.posts.outside_mm)
    steps = [b.radius_mm - a.radius_mm for a, b in pairwise(tracks)]
    assert steps == [design.track_spacing_mm] * (len(tracks) - 1)
    assert (design.track_spacing_mm is None) == (len(tracks) == 1)
    assert_allclose(
        design.grade_percent,
        100 * design.rise_per_turn_mm / (2 * math.pi * design.radius_mm),
        rtol=1e-12,
    )
    assert design.grade_percent <= 3.0
    assert design.footprint_mm == 2 * (tracks[-1].radius_mm + design.outside_mm)
    for whole in (design.radius_mm, design.rise_per_turn_mm, design.inside_mm, design.outside_mm):
        assert whole == round(whole)
    # A record takes it: nothing impossible was put together.
    assert Helix(**{name: getattr(where, name) for name in Helix.model_fields}) == where


@pytest.mark.parametrize("case", CASES)
def test_a_millimetre_less_rise_and_the_governing_car_does_not_pass(
    designs: dict[tuple[int, int], tuple[Fleet, Design]], case: tuple[int, int]
) -> None:
    cars, design = designs[case]
    lower = changed(design, rise_per_turn_mm=design.rise_per_turn_mm - LESS_MM)
    name = design.governing["rise_per_turn"]
    assert isinstance(name, str)
    codes = [of(lower, cars, track, name, "overhead").code for track in lower.tracks]
    assert max(codes) > PASSES


@pytest.mark.parametrize("case", [case for case in CASES if case[0] > 1])
def test_a_millimetre_less_spacing_and_the_governing_pair_does_not_pass(
    designs: dict[tuple[int, int], tuple[Fleet, Design]], case: tuple[int, int]
) -> None:
    cars, design = designs[case]
    assert design.track_spacing_mm is not None
    step = design.track_spacing_mm - LESS_MM
    tracks = tuple(
        track.model_copy(update={"radius_mm": design.radius_mm + n * step})
        for n, track in enumerate(design.helix.tracks)
    )
    pair = design.governing["track_spacing"]
    assert isinstance(pair, list)
    one, other = (cars.ids.index(name) for name in pair)
    codes = [every_pair(m)[one, other] for m in meetings(changed(design, tracks=tracks), cars)]
    assert max(codes) > PASSES


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("side", ["inside", "outside"])
def test_a_millimetre_less_beside_and_the_governing_car_does_not_pass(
    designs: dict[tuple[int, int], tuple[Fleet, Design]], case: tuple[int, int], side: str
) -> None:
    cars, design = designs[case]
    room = {"inside_mm": design.inside_mm, "outside_mm": design.outside_mm}
    room[f"{side}_mm"] -= 1
    closer = changed(design, posts=Posts(**room))
    name = design.governing[side]
    assert isinstance(name, str)
    track, check_name = (
        (closer.tracks[0], "inner_side") if side == "inside" else (closer.tracks[-1], "outer_side")
    )
    assert of(closer, cars, track, name, check_name).code > PASSES


@pytest.mark.parametrize("case", CASES)
def test_a_millimetre_less_radius_and_the_grade_is_too_much(
    designs: dict[tuple[int, int], tuple[Fleet, Design]], case: tuple[int, int]
) -> None:
    _, design = designs[case]
    assert design.governing["radius"] == "grade"
    steeper = design.rise_per_turn_mm / (2 * math.pi * (design.radius_mm - 1))
    assert 100 * steeper > 3.0 >= design.grade_percent


def test_a_car_that_states_a_great_radius_governs_it() -> None:
    cars = fleet_of(car("any"), car("express", minimum_radius_mm=2320.0), car("third"))
    design = size(start(2), cars)
    assert design.governing["radius"] == "express"
    assert design.radius_mm == 2320
    assert design.grade_percent < 3.0
    assert (check(design.helix, cars).codes() == PASSES).all()
    tighter = tuple(
        track.model_copy(update={"radius_mm": track.radius_mm - 1}) for track in design.helix.tracks
    )
    found = of(changed(design, tracks=tighter), cars, tighter[0], "express", "radius")
    assert found.code == DOES_NOT_FIT


def test_a_stated_radius_stays_where_another_car_needs_room_to_stand() -> None:
    """At 15 % the tall car's rise alone would do on a circle that the long one cannot stand on."""
    cars = fleet_of(
        car("express", minimum_radius_mm=1150.0),
        car("long", length_mm=900.0, wheelbase_mm=800.0),
    )
    limits = Limits(max_grade_percent=15.0)
    alone = size(start(2), cars.select(np.array([1])), limits)
    assert 400 < alone.radius_mm < 1150
    design = size(start(2), cars, limits)
    assert (design.radius_mm, design.governing["radius"]) == (1150, "express")
    assert (check(design.helix, cars).codes() == PASSES).all()


def test_a_long_low_car_on_a_steep_grade_still_stands_and_passes() -> None:
    """6 % of so low a car would be a circle that the car cannot stand on, or only just.

    The beams are wide: there must be room for half of one between its side and the axis.
    """
    cars = fleet_of(
        car("long", height_mm=40.0, length_mm=1500.0, wheelbase_mm=1100.0, width_mm=90.0)
    )
    deck = Deck(depth_mm=38.0, beam_depth_mm=24.0, beam_width_mm=90.0)
    design = size(start(2, deck=deck), cars, Limits(max_grade_percent=6.0))
    assert design.governing["radius"] == "long"
    assert design.radius_mm > math.hypot(1100, 60) / 2
    assert design.grade_percent < 6.0
    assert (check(design.helix, cars).codes() == PASSES).all()
    assert all((every_pair(m) == PASSES).all() for m in meetings(design.helix, cars))


def test_each_dimension_has_its_own_governing_car() -> None:
    cars = fleet_of(
        car("tall", height_mm=235.0, width_mm=80.0, length_mm=300.0, wheelbase_mm=200.0),
        car("long centres", length_mm=640.0, wheelbase_mm=600.0, width_mm=100.0),
        car("long ends", length_mm=800.0, wheelbase_mm=300.0, width_mm=100.0),
    )
    design = size(start(2), cars)
    assert design.governing == {
        "rise_per_turn": "tall",
        "radius": "grade",
        # Its ends on the inner track against the middle of the other.
        "track_spacing": ["long ends", "long centres"],
        "inside": "long centres",
        "outside": "long ends",
    }


def test_what_was_on_the_old_site_is_left_behind() -> None:
    old = start(2).model_copy(
        update={"posts": Posts(inside_mm="none", outside_mm=20.0), "rise_per_turn_mm": 900.0}
    )
    cars = drawn(3, 8)
    one, other = size(old, cars), size(start(2), cars)
    assert one.helix == other.helix


def test_what_the_design_has_not_is_said() -> None:
    lead = Lead(at="foot", length_mm=2000.0, grade=0.0)
    portal = Obstacle(name="portal", station=3.0, headroom_mm=240.0)
    cars = fleet_of(car())
    assert size(start(1), cars).left_behind == ()
    assert size(start(1, leads=(lead,)), cars).left_behind == ("leads",)
    both = size(start(1, leads=(lead,), obstacles=(portal,)), cars)
    assert both.left_behind == ("leads", "obstacles")
    assert (both.helix.leads, both.helix.obstacles) == ((), ())


def test_a_fleet_of_twins_is_sized_like_one_car() -> None:
    one = size(start(2), fleet_of(car("1")))
    many = size(start(2), fleet_of(*(car(str(n)) for n in range(1, 4))))
    assert one.helix == many.helix
    assert one.governing["track_spacing"] == ["1", "1"]


def test_rounding_up_is_upwards() -> None:
    """A car that needs less than a millionth more than whole millimetres is given the next one.

    Its tolerance makes up what the rounding left; it is low and runs wide, so nothing else moves.
    """
    tall = car("tall", width_mm=60.0, minimum_radius_mm=3000.0)

    def cars(tolerance_mm: float) -> Fleet:
        return fleet_of(
            tall, car("wide", height_mm=90.0, width_mm=140.0, tolerance_mm=tolerance_mm)
        )

    design = size(start(1), cars(0.0))
    assert design.governing["inside"] == "wide"
    found = of(design.helix, cars(0.0), design.helix.tracks[0], "wide", "inner_side")
    assert found.spare_mm is not None
    # Records keep tolerances to a millionth: the least that takes more than what is spare.
    vague = cars(math.ceil(found.spare_mm * 1e6) / 1e6)
    assert vague.tolerance_mm[1] > found.spare_mm
    design = size(start(1), vague)
    assert (check(design.helix, vague).codes() == PASSES).all()


def test_written_as_a_file_and_read_back_all_still_pass(tmp_path: Path) -> None:
    cars = drawn(31, 12)
    design = size(start(2), cars)
    file = tmp_path / "next.toml"
    file.write_text(write_helix_toml(design.helix), encoding="utf-8")
    read = read_helix_toml(file)
    assert read == design.helix
    assert (check(read, cars).codes() == PASSES).all()
    assert all((every_pair(m) == PASSES).all() for m in meetings(read, cars))


# --- limits ---------------------------------------------------------------------------------------


def test_a_diameter_that_contradicts_the_grade_is_refused() -> None:
    cars = drawn(5, 6)
    design = size(start(2), cars)
    over_all = design.footprint_mm
    same = size(start(2), cars, Limits(max_diameter_mm=over_all))
    assert same.helix == design.helix
    with pytest.raises(DataError) as refused:
        size(start(2), cars, Limits(max_diameter_mm=over_all - 1))
    words = str(refused.value)
    assert f"a diameter of at most {over_all - 1:g} mm" in words
    assert "a grade of at most 3 %" in words
    assert f"needs {over_all:g} mm" in words


def test_a_diameter_that_contradicts_a_car_names_it() -> None:
    cars = fleet_of(car(), car("express", minimum_radius_mm=2320.0))
    with pytest.raises(DataError, match=r"3000 mm contradicts the least radius of express"):
        size(start(1), cars, Limits(max_diameter_mm=3000.0))


@pytest.mark.parametrize("climb_mm", [100.0, 700.0, 1000.0, 2345.6])
@pytest.mark.parametrize("brackets", [7, 12])
def test_a_climb_gives_whole_brackets_and_no_more_than_it_takes(
    climb_mm: float, brackets: int
) -> None:
    design = size(start(1, brackets_per_turn=brackets), drawn(1, 5), Limits(climb_mm=climb_mm))
    count = design.turns * brackets
    assert_allclose(count, round(count), rtol=0, atol=1e-9)
    assert design.helix.last_station == round(count)
    assert design.turns * design.rise_per_turn_mm >= climb_mm - 1e-6
    assert (round(count) - 1) / brackets * design.rise_per_turn_mm < climb_mm


def test_a_climb_of_whole_brackets_takes_just_these() -> None:
    rise = size(start(1), drawn(1, 5)).rise_per_turn_mm
    design = size(start(1), drawn(1, 5), Limits(climb_mm=rise * 31 / 12))
    assert_allclose(design.turns, 31 / 12, rtol=1e-15)


def test_without_a_climb_the_turns_stay() -> None:
    assert size(start(1, turns=3.25), drawn(1, 5)).turns == 3.25


@pytest.mark.parametrize("percent", [0.0, -1.0, 15.1, math.nan, math.inf])
def test_a_grade_that_makes_no_helix_is_refused(percent: float) -> None:
    with pytest.raises(DataError, match="greatest grade"):
        size(start(1), drawn(1, 3), Limits(max_grade_percent=percent))


def test_nobody_to_size_it_for() -> None:
    with pytest.raises(DataError, match="no car of 45 mm gauge"):
        size(start(1), fleet_of())


# --- alternatives ---------------------------------------------------------------------------------


def dimensions(one: Design | Alternative) -> tuple[float | None, ...]:
    return one.rise_per_turn_mm, one.radius_mm, one.track_spacing_mm, one.footprint_mm


@pytest.mark.parametrize("percent", [3.0, 2.5, 3.3])
def test_each_other_grade_has_its_radius(percent: float) -> None:
    cars = drawn(7, 8)
    design = size(start(2), cars, Limits(max_grade_percent=percent))
    grades = [a for a in design.alternatives if a.change == "grade"]
    assert [a.max_grade_percent for a in grades] == [g for g in GRADES_PERCENT if g != percent]
    for each in grades:
        again = size(start(2), cars, Limits(max_grade_percent=each.max_grade_percent))
        assert dimensions(each) == dimensions(again)
        assert each.without == ()
    radii = [a.radius_mm for a in sorted(grades, key=lambda a: a.max_grade_percent)]
    assert radii == sorted(radii, reverse=True)
    assert len(set(radii)) == len(radii)


@pytest.mark.parametrize(("tracks", "count"), [(1, 12), (2, 12), (2, 3), (3, 6)])
def test_leaving_cars_out_saves_what_it_says(tracks: int, count: int) -> None:
    cars = drawn(20 + tracks + count, count)
    design = size(start(tracks), cars)
    for dimension in ("rise_per_turn", "track_spacing"):
        listed = [a for a in design.alternatives if a.change == dimension]
        if dimension == "track_spacing" and tracks == 1:
            assert listed == []
            continue
        assert [len(a.without) for a in listed] == list(range(1, min(3, count - 1) + 1))
        governing = design.governing[dimension]
        assert listed[0].without[0] in (governing if isinstance(governing, list) else [governing])
        before = 0.0
        for number, each in enumerate(listed):
            assert each.without[:number] == (listed[number - 1].without if number else ())
            kept = np.array([name not in each.without for name in cars.ids])
            assert kept.sum() == count - len(each.without)
            again = size(start(tracks), cars.select(kept))
            assert dimensions(each) == dimensions(again)
            name = f"{dimension}_mm"
            assert each.saves_mm == getattr(design, name) - getattr(again, name)
            assert each.saves_mm >= before
            before = each.saves_mm


@pytest.mark.parametrize("longer", ["ends", "centres"])
def test_of_a_tight_pair_the_one_is_left_out_that_saves_more(longer: str) -> None:
    """The ends of one against the middle of the other; whichever is the longer of its kind goes."""
    ends, centres = (900.0, 560.0) if longer == "ends" else (760.0, 760.0)
    cars = fleet_of(
        car("ends", length_mm=ends, wheelbase_mm=300.0),
        car("centres", length_mm=centres + 10, wheelbase_mm=centres, truck_wheelbase_mm=0.0),
        *(car(str(n)) for n in range(3)),
    )
    design = size(start(2), cars)
    assert design.governing["track_spacing"] == ["ends", "centres"]
    spacings = {
        name: size(start(2), cars.select([n != name for n in cars.ids])).track_spacing_mm
        for name in ("ends", "centres")
    }
    assert spacings["ends"] != spacings["centres"]
    first = next(a for a in design.alternatives if a.change == "track_spacing")
    assert first.without == (longer,)
    assert first.track_spacing_mm == min(s for s in spacings.values() if s is not None)


def test_the_pair_named_is_that_of_the_two_tightest_tracks() -> None:
    """The middle track is canted: a tall car leans 40 mm on it, towards the inner track.

    So a wide car inside and the tall one need the spacing; of the outer two tracks, two wide cars.
    """
    tracks = tuple(
        Track(name=name, radius_mm=1190.0 + 190 * n, cant_mm=6.0 * (n == 1))
        for n, name in enumerate("abc")
    )
    cars = fleet_of(
        car("wide", width_mm=130.0, height_mm=100.0), car("tall", width_mm=90.0, height_mm=300.0)
    )
    design = size(helix(tracks=tracks), cars)
    pairs = [tightest_pair(meeting) for meeting in meetings(design.helix, cars)]
    assert [pair[:2] for pair in pairs if pair] == [(0, 1), (0, 0)]
    assert design.governing["track_spacing"] == ["wide", "tall"]


def test_the_only_car_cannot_be_left_out() -> None:
    design = size(start(2), fleet_of(car()))
    assert {a.change for a in design.alternatives} == {"grade"}


def test_a_deck_twice_as_deep_lifts_the_tier_by_as_much() -> None:
    """And by what the steeper pitch takes, which is less than a millimetre."""
    cars = drawn(9, 10)
    shallow, deep = (
        size(start(1, deck=Deck(depth_mm=depth, beam_depth_mm=24.0, beam_width_mm=38.0)), cars)
        for depth in (38.0, 76.0)
    )
    assert deep.rise_per_turn_mm - shallow.rise_per_turn_mm in (38, 39)
