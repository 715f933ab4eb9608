"""Which cars may pass which, against plain double loops over cars and blocks (G6, G7)."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from catalog.car import Car
from catalog.helix import Allowance, Deck, Helix, Track
from clearance.judge.fleet import Fleet
from clearance.judge.meets import Meeting, barred, meetings, tightest_pair, worst_code
from clearance.judge.structure import Structure
from clearance.judge.sweep import passages
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, PASSES, judge_gaps
from tests.judge.clubs import INNER_MM, block, car, fleet_of, helix, random_fleet

WIDENED_MM = 2.0  # G6: each height range, up and down


def double(spacing_mm: float, **changes: object) -> Helix:
    return helix(
        tracks=(
            Track(name="inner", radius_mm=INNER_MM),
            Track(name="outer", radius_mm=INNER_MM + spacing_mm),
        ),
        **changes,
    )


def only_meeting(where: Helix, cars: Fleet) -> Meeting:
    found = meetings(where, cars)
    assert len(found) == 1
    return found[0]


def looped_gaps(where: Helix, cars: Fleet) -> np.ndarray:
    """The gap of every pair: two loops over cars, two over ways round, two over blocks."""
    inner, outer = where.tracks
    greatest = [p.reach.greatest_radius_mm for p in passages(Structure(where), inner, cars, ())]
    least = [p.reach.least_radius_mm for p in passages(Structure(where), outer, cars, ())]
    members = [np.flatnonzero(cars.block_car == number).tolist() for number in range(len(cars))]
    bottom, top = (
        (cars.blocks.bottom_mm - WIDENED_MM).tolist(),
        (cars.blocks.top_mm + WIDENED_MM).tolist(),
    )
    gaps = np.full((len(cars), len(cars)), math.inf)
    for one, mine in enumerate(members):
        for other, theirs in enumerate(members):
            for a in mine:
                for b in theirs:
                    if bottom[a] <= top[b] and bottom[b] <= top[a]:
                        nearest = min(least[0][b], least[1][b]) - max(
                            greatest[0][a], greatest[1][a]
                        )
                        gaps[one, other] = min(gaps[one, other], nearest)
    return gaps


def everybody(meeting: Meeting) -> np.ndarray:
    return np.arange(len(meeting.fleet))


# --- two cars -------------------------------------------------------------------------------------


def level(radius_mm: float, spacing_mm: float) -> Helix:
    """No record takes a helix that does not climb: this one climbs a micrometre a turn."""
    return helix(
        turns=0.5,
        rise_per_turn_mm=0.001,
        deck=Deck(depth_mm=0.0),
        tracks=(
            Track(name="inner", radius_mm=radius_mm),
            Track(name="outer", radius_mm=radius_mm + spacing_mm),
        ),
    )


LONG = car(length_mm=800.0, wheelbase_mm=600.0, truck_wheelbase_mm=0.0, width_mm=115.0)


def test_two_boxes_by_hand() -> None:
    """Rm = sqrt(R^2 - B^2 / 4): inside less half the width, outside the far corner's distance."""
    meeting = only_meeting(level(1190.0, 190.0), fleet_of(LONG))
    far = math.hypot(math.sqrt(1190**2 - 300**2) + 57.5, 400)
    near = math.sqrt(1380**2 - 300**2) - 57.5
    figures = meeting.figures(everybody(meeting), everybody(meeting))
    assert_allclose(figures.gap_mm, [[near - far]], atol=1e-4)
    assert_allclose(figures.allowance_mm, [[10 + math.sqrt(2)]], rtol=1e-15)
    assert meeting.available_mm == 190


@pytest.mark.parametrize(
    ("spacing_mm", "gap_mm", "code"), [(165.0, -9.0, DOES_NOT_FIT), (190.0, 16.0, PASSES)]
)
def test_two_long_cars_touch_at_165_and_clear_at_190(
    spacing_mm: float, gap_mm: float, code: int
) -> None:
    """Two 800 mm cars on 600 mm truck centres, 115 mm wide, inner radius 1195: common practice."""
    meeting = only_meeting(level(1195.0, spacing_mm), fleet_of(LONG))
    figures = meeting.figures(everybody(meeting), everybody(meeting))
    assert figures.codes[0, 0] == code
    assert_allclose(figures.gap_mm, gap_mm, atol=0.5)


def test_a_tall_car_leans_back_on_a_grade_and_reaches_further_out() -> None:
    """On 3.8 % a roof 190 mm up moves 7 mm towards the rear, so the rear end is 7 mm further off.

    At 400 mm from the middle, about 1250 mm from the axis, that is 400 x 7 / 1250 = 2.3 mm.
    """
    steep = double(190.0)
    grade = steep.grade(steep.tracks[0])
    gaps = [
        only_meeting(where, fleet_of(LONG)).figures(np.array([0]), np.array([0])).gap_mm[0, 0]
        for where in (level(INNER_MM, 190.0), steep)
    ]
    assert_allclose(gaps[0] - gaps[1], 400 * 190 * grade / 1250, atol=0.4)


def wide_above(name: str) -> Car:
    """A narrow frame below 100 mm, a wide roof from 120 mm."""
    return car(
        name,
        width_mm=140.0,
        blocks=(block((0, 600), (20, 20), (10, 100)), block((0, 600), (70, 70), (120, 190))),
    )


def wide_below(name: str) -> Car:
    """Wide cylinders up to 100 mm, nothing above."""
    return car(
        name, width_mm=140.0, height_mm=100.0, blocks=(block((0, 600), (70, 70), (10, 100)),)
    )


def test_only_blocks_at_one_height_meet() -> None:
    cars = fleet_of(wide_above("roof"), wide_below("cylinders"))
    meeting = only_meeting(double(150.0), cars)
    gaps = meeting.figures(everybody(meeting), everybody(meeting)).gap_mm
    assert gaps[0, 0] < 0
    assert gaps[1, 1] < 0
    # Of the first only the frame is as low as the other's cylinders: 50 mm narrower.
    assert_allclose(gaps[0, 1] - gaps[0, 0], 50, atol=2)
    assert_allclose(gaps[1, 0] - gaps[1, 1], 50, atol=0.5)


def low_and_high(apart_mm: float) -> Fleet:
    low = car("low", height_mm=60.0, blocks=(block((0, 600), (55, 55), (0, 60)),))
    high = car("high", blocks=(block((0, 600), (55, 55), (60 + apart_mm, 190)),))
    return fleet_of(low, high)


@pytest.mark.parametrize(("apart_mm", "meets"), [(3.9, True), (4.1, False), (-1.0, True)])
def test_height_ranges_are_widened_by_2_mm_each(apart_mm: float, meets: bool) -> None:
    meeting = only_meeting(double(100.0), low_and_high(apart_mm))
    gaps = meeting.figures(everybody(meeting), everybody(meeting)).gap_mm
    for pair in ((0, 1), (1, 0)):
        assert math.isfinite(gaps[pair]) == meets
    codes = judge_gaps(gaps, 11.4)
    assert (codes[0, 1] == PASSES) != meets  # at 100 mm spacing whatever meets, touches


def test_each_car_is_taken_the_worse_way_round() -> None:
    """A step of 30 mm on one side is met by the other train one way round of the two."""
    right = car(
        "right",
        width_mm=160.0,
        blocks=(block((0, 600), (45, 45), (20, 190)), block((250, 350), (45, 115), (10, 60))),
    )
    left = car(
        "left",
        width_mm=160.0,
        blocks=(block((0, 600), (45, 45), (20, 190)), block((250, 350), (115, 45), (10, 60))),
    )
    plain = car("plain", width_mm=90.0)
    cars = fleet_of(right, left, plain)
    for climbs in ("counterclockwise", "clockwise"):
        meeting = only_meeting(double(190.0, climbs=climbs), cars)
        gaps = meeting.figures(everybody(meeting), everybody(meeting)).gap_mm
        assert_allclose(gaps[0], gaps[1], rtol=0, atol=1e-9)
        assert_allclose(gaps[:, 0], gaps[:, 1], rtol=0, atol=1e-9)
        # On the outer track the step stands 70 mm nearer to the other train than the body does.
        assert_allclose(gaps[2, 2] - gaps[2, 0], 70, atol=1)


def test_a_car_that_cannot_stand_on_a_track_meets_nobody_there() -> None:
    """2500 mm between supports: too long for 1190 mm, not for 1380."""
    long = car("long", wheelbase_mm=2500.0, length_mm=2600.0, truck_wheelbase_mm=0.0)
    meeting = only_meeting(double(190.0), fleet_of(long, car("short")))
    assert_array_equal(meeting.can_run, [[False, True], [True, True]])
    assert_array_equal(np.isnan(meeting.figures(*2 * [everybody(meeting)]).gap_mm[0]), True)
    named = list(barred(meeting, everybody(meeting), everybody(meeting)))
    assert [(one, other) for one, other, _ in named] == [(1, 0)]
    tightest = tightest_pair(meeting)
    assert tightest is not None
    assert tightest[:2] == (1, 0)


def test_nobody_can_stand_nobody_meets() -> None:
    long = car("long", wheelbase_mm=2900.0, length_mm=3000.0)
    meeting = only_meeting(double(190.0), fleet_of(long))
    assert tightest_pair(meeting) is None
    assert list(barred(meeting, everybody(meeting), everybody(meeting))) == []


def test_one_track_has_no_meets_and_three_have_two() -> None:
    tracks = tuple(Track(name=n, radius_mm=1190 + 190.0 * i) for i, n in enumerate("abc"))
    cars = fleet_of(car())
    assert meetings(helix(tracks=tracks[:1]), cars) == []
    found = meetings(helix(tracks=tracks), cars)
    assert [(m.inner.name, m.outer.name) for m in found] == [("a", "b"), ("b", "c")]
    assert meetings(helix(tracks=tracks), fleet_of()) == []


# --- fleets ---------------------------------------------------------------------------------------


def sparse(rng: np.random.Generator, count: int) -> Fleet:
    """Cars of one or two thin slices, at heights that seldom meet, widths that often tie."""
    cars = []
    for number in range(count):
        levels = np.sort(rng.choice(12, int(rng.integers(1, 3)), replace=False))
        blocks = tuple(
            block((0, 600), (half, half), (20 * float(n) + 1, 20 * float(n) + 10))
            for n, half in zip(levels, rng.integers(8, 12, len(levels)) * 5.0, strict=True)
        )
        cars.append(
            car(
                str(number),
                blocks=blocks,
                height_mm=max(b.top_mm for b in blocks),
                width_mm=2 * max(b.left_mm for b in blocks),
                tolerance_mm=float(rng.integers(0, 3)),
            )
        )
    return fleet_of(*cars)


def with_lengths(rng: np.random.Generator, count: int) -> Fleet:
    """Random cars, and some that stand on the outer track alone or on none."""
    cars = random_fleet(rng, count).table.cars()
    cars.insert(3, car("outer only", wheelbase_mm=2500.0, length_mm=2600.0))
    cars.insert(0, car("nowhere", wheelbase_mm=2900.0, length_mm=3000.0))
    return fleet_of(*cars)


def tied(rng: np.random.Generator, count: int) -> Fleet:
    """Few different cars, many of each."""
    kinds = random_fleet(rng, 4).table.cars()
    return fleet_of(
        *(kinds[rng.integers(4)].model_copy(update={"id": str(number)}) for number in range(count))
    )


FLEETS = {"random": with_lengths, "sparse": sparse, "tied": tied}


@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
@pytest.mark.parametrize("kind", FLEETS)
def test_every_pair_against_the_double_loop(kind: str, climbs: str) -> None:
    cars = FLEETS[kind](np.random.default_rng(2), 30)
    where = double(160.0, climbs=climbs)
    meeting = only_meeting(where, cars)
    found = meeting.figures(everybody(meeting), everybody(meeting))
    gaps = looped_gaps(where, cars)
    stands = meeting.can_run[0][:, None] & meeting.can_run[1][None, :]
    assert_allclose(found.gap_mm[stands], gaps[stands], rtol=0, atol=1e-12)
    assert np.isnan(found.gap_mm[~stands]).all()
    assert np.isfinite(gaps[stands]).any()
    if kind == "sparse":
        assert np.isinf(gaps).any()
    tolerance = cars.tolerance_mm
    allowance = 10 + np.sqrt(tolerance[:, None] ** 2 + tolerance[None, :] ** 2)
    assert_allclose(found.allowance_mm, allowance, rtol=1e-15)


def test_some_pairs_are_those_of_the_whole_table() -> None:
    cars = with_lengths(np.random.default_rng(4), 40)
    meeting = only_meeting(double(160.0), cars)
    whole = meeting.figures(everybody(meeting), everybody(meeting))
    rows, columns = np.array([31, 2, 2, 17]), np.array([5, 40, 0])
    part = meeting.figures(rows, columns)
    assert_array_equal(part.gap_mm, whole.gap_mm[np.ix_(rows, columns)])
    assert_array_equal(part.allowance_mm, whole.allowance_mm[np.ix_(rows, columns)])


SPACINGS_MM = (110.0, 150.0, 185.0, 230.0, 400.0)


@pytest.mark.parametrize("kind", FLEETS)
@pytest.mark.parametrize("spacing_mm", SPACINGS_MM)
def test_barred_pairs_are_those_of_the_whole_table(kind: str, spacing_mm: float) -> None:
    rng = np.random.default_rng(int(spacing_mm))
    cars = FLEETS[kind](rng, 120)
    meeting = only_meeting(double(spacing_mm), cars)
    all_cars = everybody(meeting)
    codes = meeting.figures(all_cars, all_cars).codes
    codes[~(meeting.can_run[0][:, None] & meeting.can_run[1][None, :])] = PASSES

    def brute(inner: np.ndarray, outer: np.ndarray) -> set[tuple[int, int, int]]:
        return {
            (int(one), int(other), int(codes[one, other]))
            for one in inner
            for other in outer
            if codes[one, other] != PASSES
        }

    some, others = rng.permutation(len(cars))[:50], rng.permutation(len(cars))[:70]
    for inner, outer in ((all_cars, all_cars), (some, others), (some[:0], others), (some, some)):
        listed = list(barred(meeting, inner, outer))
        assert len(listed) == len(set(listed))
        assert set(listed) == brute(inner, outer)
    chosen = np.isin(all_cars, some[:5])
    named = {c for one, other, c in brute(all_cars, all_cars) if chosen[one] or chosen[other]}
    assert worst_code([meeting], chosen) == max(named, default=PASSES)


def test_the_worst_of_one_car_counts_it_on_either_track() -> None:
    """Long ends on the inner track foul long centres on the outer one, and nothing else does."""
    cars = fleet_of(
        car("ends", length_mm=800.0, wheelbase_mm=300.0),
        car("centres", length_mm=720.0, wheelbase_mm=700.0, truck_wheelbase_mm=0.0),
        car("short", length_mm=200.0, wheelbase_mm=150.0, width_mm=60.0),
    )
    meeting = only_meeting(double(188.0), cars)
    codes = meeting.figures(everybody(meeting), everybody(meeting)).codes
    assert_array_equal(np.argwhere(codes != PASSES), [[0, 1]])
    for number, worst in enumerate((codes[0, 1], codes[0, 1], PASSES)):
        assert worst_code([meeting], everybody(meeting) == number) == worst


def test_the_spacings_above_bar_some_pairs_and_not_others() -> None:
    """Else the tests above could not fail."""
    seen = set()
    for spacing in SPACINGS_MM:
        cars = with_lengths(np.random.default_rng(int(spacing)), 120)
        meeting = only_meeting(double(spacing), cars)
        seen |= set(meeting.figures(everybody(meeting), everybody(meeting)).codes.ravel().tolist())
    assert {PASSES, MARGINAL, DOES_NOT_FIT} <= seen


@pytest.mark.parametrize("kind", FLEETS)
@pytest.mark.parametrize("seed", range(5))
def test_the_tightest_pair_is_that_of_the_whole_table(kind: str, seed: int) -> None:
    """150 cars: more than the foremost few that are tried first."""
    cars = FLEETS[kind](np.random.default_rng(seed), 150)
    meeting = only_meeting(double(180.0), cars)
    figures = meeting.figures(everybody(meeting), everybody(meeting))
    spare = figures.gap_mm - figures.allowance_mm
    found = tightest_pair(meeting)
    assert found is not None
    assert found[2] == np.nanmin(spare)
    assert spare[found[:2]] == found[2]


def test_the_tightest_pair_may_not_be_of_the_foremost() -> None:
    """Many cars reach further, but at heights where nobody else is; their tolerance is small.

    Two ordinary cars are the tightest pair: one of them is known only to 8 mm.
    """
    above, below = block((0, 600), (54, 54), (300, 400)), block((0, 600), (53, 53), (0, 90))
    high = [car(f"high {n}", height_mm=400.0, width_mm=108, blocks=(above,)) for n in range(80)]
    low = [car(f"low {n}", height_mm=90.0, width_mm=106, blocks=(below,)) for n in range(3)]
    low[1] = low[1].model_copy(update={"tolerance_mm": 8.0})
    meeting = only_meeting(double(190.0), fleet_of(*high, *low))
    figures = meeting.figures(everybody(meeting), everybody(meeting))
    spare = figures.gap_mm - figures.allowance_mm
    found = tightest_pair(meeting)
    assert found is not None
    assert found[:2] == (81, 81)
    assert found[2] == spare.min() == spare[81, 81]


def test_a_car_that_stands_outside_alone_and_passes_over_the_others() -> None:
    """It is long, and higher than the one car that the inner track takes."""
    low = car("low", height_mm=60.0, blocks=(block((0, 600), (55, 55), (0, 60)),))
    high = car(
        "high",
        wheelbase_mm=2500.0,
        truck_wheelbase_mm=0.0,
        length_mm=2600.0,
        blocks=(block((0, 2600), (55, 55), (100, 190)),),
    )
    meeting = only_meeting(double(190.0), fleet_of(high))
    assert tightest_pair(meeting) is None  # it stands on the outer track alone
    meeting = only_meeting(double(190.0), fleet_of(high, low))
    found = tightest_pair(meeting)
    assert found is not None
    assert math.isfinite(found[2])  # low meets low
    assert found[:2] == (1, 1)


def test_an_own_meeting_margin_is_kept() -> None:
    own = double(190.0, allowance=Allowance(meeting_mm=2.5))
    meeting = only_meeting(own, fleet_of(car(tolerance_mm=3.0), car("b", tolerance_mm=4.0)))
    figures = meeting.figures(everybody(meeting), everybody(meeting))
    assert_allclose(
        figures.allowance_mm, 2.5 + np.array([[math.sqrt(18), 5], [5, math.sqrt(32)]]), rtol=1e-15
    )
