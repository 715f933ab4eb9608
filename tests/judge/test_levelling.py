"""Levelling put back into `check`, held against all moves tried one by one, and where it cannot be.

Nothing here knows how the answer was found: moves, the survey to expect, and what `check` says.
"""

from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from catalog.helix import Adjusters, Helix, Track
from catalog.survey import Reading, Survey
from catalog.survey_csv import read_survey, write_survey_csv
from catalog.survey_fit import fit_survey
from clearance.judge.check import check
from clearance.judge.fleet import Fleet
from clearance.judge.level_demands import LevelLimits
from clearance.judge.levelled import Levelling
from clearance.judge.levelling import level
from clearance.judge.lifting import grades_percent
from clearance.judge.structure import Structure
from tests.judge.clubs import car, column, fleet_of, helix, random_built, random_car, slung

NUTS = Adjusters(pitch_mm=1.25, step=0.25, travel_mm=40.0)
WIDE = LevelLimits(15.0, 15.0)
ROUNDING = 1e-6


def surveyed(where: Helix, **off_mm: float) -> Survey:
    """Every bracket as drawn, but for those that are off: ``k17=-3.0``."""
    return Survey(
        readings=tuple(
            Reading(station=station, railhead_mm=railhead + off_mm.get(f"k{station:g}", 0.0))
            for station, railhead in where.design_railheads().items()
        )
    )


def spares(where: Helix, fleet: Fleet, survey: Survey | None) -> dict[str, np.ndarray]:
    """Gap less allowance overhead of each car on each track, both ways round, (2, n)."""
    found = {}
    for track in where.tracks:
        over = column(check(where, fleet, survey), track.name, "overhead")
        if over is not None:
            found[track.name] = np.where(over.applies, over.gap_mm - over.budget.total_mm, np.inf)
    return found


def just_passing(rng: np.random.Generator, where: Helix, fleet: Fleet) -> Fleet:
    """The cars of one block, as tall as just passes as drawn on every track, less a little."""
    spare = np.min([it.min(axis=0) for it in spares(where, fleet, None).values()], axis=0)
    cars = []
    for one, left in zip(fleet.table.cars(), spare, strict=True):
        if np.isfinite(left) and not one.blocks:
            height = round(one.height_mm + float(left) - float(rng.uniform(0.2, 2)), 1)
            cars.append(one.model_copy(update={"height_mm": height}))
    return fleet_of(*cars)


# --- by hand --------------------------------------------------------------------------------------


def test_one_low_beam_is_raised_by_what_is_missing() -> None:
    """With 223 mm as drawn and a car that has 1 mm to spare, 4 mm less are 3 mm to make good.

    Ten steps of 0.3125 mm at bracket 17, which carries that beam and has none over itself. To lower
    bracket 5 takes more: the car's pivots stand each side of it, on boards that are let down less.
    """
    where = helix(adjusters=NUTS, turns=1.5)
    one = car()
    spare = min(float(it.min()) for it in spares(where, fleet_of(one), None).values())
    fleet = fleet_of(car(height_mm=round(190 + spare - 1.0, 2)))
    low = Survey(readings=(Reading(station=5, headroom_mm=219.0),))
    found = level(where, fleet, low, limits=WIDE)
    assert found.cannot is None
    assert found.fewest_proved
    assert found.least_proved
    (move,) = found.moves
    assert (move.station, move.move_mm) == (17, 3.125)
    assert move.nut_turns == move.move_mm / NUTS.pitch_mm
    assert found.before.least_spare_mm == pytest.approx(-3.0, abs=0.06)
    assert found.after is not None
    assert found.after.least_spare_mm == pytest.approx(0.125, abs=0.06)


def test_nothing_is_turned_where_all_passes() -> None:
    where = helix(adjusters=NUTS)
    found = level(where, fleet_of(car()))
    assert found.moves == []
    assert found.cannot is None
    assert found.expected is None
    assert found.meant == ["27"]


def test_who_does_not_pass_as_drawn_is_left_out() -> None:
    where = helix(adjusters=NUTS)
    fleet = fleet_of(car(), car("tall", height_mm=230.0), car("long", wheelbase_mm=590.0))
    found = level(where, fleet)
    assert "tall" not in found.meant
    assert {(it.car, it.track) for it in found.left_out} >= {("tall", "inner"), ("tall", "outer")}


# --- all moves tried ------------------------------------------------------------------------------


@dataclass
class Small:
    """A helix of three brackets a turn, five in all, and coarse nuts with little travel."""

    where: Helix
    survey: Survey
    fleet: Fleet
    limits: LevelLimits


def small(rng: np.random.Generator) -> Small:
    nuts = Adjusters(pitch_mm=2.0, step=1.0, travel_mm=4.2)
    where = helix(
        turns=4 / 3,
        brackets_per_turn=3,
        tracks=(Track(name="inner", radius_mm=700.0),),
        rise_per_turn_mm=285.0,
        adjusters=nuts,
    )
    fleet = fleet_of(*(random_car(rng, str(n), (190.0, 190.1)) for n in range(3)))
    fleet = just_passing(rng, where, fleet)
    survey = surveyed(where, **{f"k{k}": round(float(rng.uniform(-3, 3)), 1) for k in range(5)})
    now = grades_percent(Structure(where, survey))
    return Small(where, survey, fleet, LevelLimits(now[0] + 0.2, now[1] + 0.3))


def passes_all(case: Small, steps: tuple[int, ...]) -> bool:
    """Whether so many steps of each nut do: travel, limits and clearances, by `check`."""
    nuts = case.where.adjusters
    assert nuts is not None
    design = case.where.design_railheads()
    readings = []
    for reading, count in zip(case.survey.readings, steps, strict=True):
        assert reading.railhead_mm is not None
        height = reading.railhead_mm + 2.0 * count
        if count and abs(height - design[reading.station]) > nuts.travel_mm + ROUNDING:
            return False
        readings.append(reading.model_copy(update={"railhead_mm": height}))
    survey = Survey(readings=tuple(readings))
    grade, change = grades_percent(Structure(case.where, survey))
    most = case.limits
    assert most.max_grade_percent is not None
    assert most.max_change_percent is not None
    if grade > most.max_grade_percent + ROUNDING or change > most.max_change_percent + ROUNDING:
        return False
    return all((it >= 0).all() for it in spares(case.where, case.fleet, survey).values())


@pytest.mark.parametrize("seed", [0, 3, 5])
def test_no_other_moves_touch_fewer_brackets_or_turn_less(seed: int) -> None:
    case = small(np.random.default_rng(seed))
    if not len(case.fleet):
        pytest.skip("no car of one block among them")
    found = level(case.where, case.fleet, case.survey, limits=case.limits)
    tried = sorted(product(range(-2, 3), repeat=5), key=_cost)
    if found.cannot is not None:
        # All of the 3125 would take long: those with up to three brackets touched, then.
        assert not any(passes_all(case, steps) for steps in tried if _cost(steps)[0] <= 2)
        return
    steps = [0] * 5
    for move in found.moves:
        steps[move.station] = round(move.nut_turns)
    assert passes_all(case, tuple(steps))
    assert found.fewest_proved
    assert found.least_proved
    cheaper = [other for other in tried if _cost(other) < _cost(tuple(steps))]
    assert not any(passes_all(case, other) for other in cheaper)


def _cost(steps: tuple[int, ...]) -> tuple[int, int]:
    return sum(count != 0 for count in steps), sum(map(abs, steps))


# --- back into check ------------------------------------------------------------------------------


def assert_holds(
    where: Helix, fleet: Fleet, survey: Survey | None, found: Levelling, path: Path
) -> None:
    """What was answered is so: moves, travel, grade, and who passes by the survey to expect."""
    nuts = where.adjusters
    assert nuts is not None
    assert found.after is not None
    design = where.design_railheads()
    assert [move.station for move in found.moves] == sorted({it.station for it in found.moves})
    before = Structure(where, survey)
    for move in found.moves:
        steps = move.move_mm / (nuts.pitch_mm * nuts.step)
        assert steps == pytest.approx(round(steps))
        assert round(steps) != 0
        assert move.nut_turns == pytest.approx(move.move_mm / nuts.pitch_mm)
        for track in where.tracks:
            place = np.array([move.station * before.step_rad])
            now = float(before.line(track).height_mm(place)[0])
            off = now + move.move_mm - design[move.station]
            inwards = abs(off) < abs(now - design[move.station])
            assert inwards or abs(off) <= nuts.travel_mm + ROUNDING
    if found.expected is None:
        assert not found.moves
        return
    path.write_text(write_survey_csv(found.expected), encoding="utf-8", newline="")
    expected = read_survey(path)
    fit_survey(expected, where)
    grade, change = grades_percent(Structure(where, expected))
    assert found.limits.max_grade_percent is not None
    assert found.limits.max_change_percent is not None
    assert grade <= found.limits.max_grade_percent + ROUNDING
    assert change <= found.limits.max_change_percent + ROUNDING
    assert found.after.greatest_grade_percent == pytest.approx(grade, abs=ROUNDING)
    drawn = spares(where, fleet, None)
    then = spares(where, fleet, expected)
    for name, as_drawn in drawn.items():
        # Lengths are written to 1e-6 mm.
        assert (then[name][as_drawn >= 0] >= -ROUNDING).all()


SOME = (107, 109)  # what else there is runs with the slow ones


@pytest.mark.parametrize(
    "seed",
    [*SOME, *(pytest.param(it, marks=pytest.mark.slow) for it in (104, 108, 113, 114, 123, 124))],
)
def test_the_survey_to_expect_passes_all_that_are_meant_to(seed: int, tmp_path: Path) -> None:
    """Surveyed lines with leads, lamps, measured headrooms, cant, both ways of climbing."""
    rng = np.random.default_rng(seed)
    where, survey = random_built(rng, noise_mm=3.0)
    where = where.model_copy(update={"adjusters": NUTS})
    fleet = just_passing(
        rng, where, fleet_of(*(random_car(rng, str(n), (190, 206)) for n in range(8)))
    )
    found = level(where, fleet, survey)
    assert found.before.least_spare_mm is not None
    assert found.before.least_spare_mm < 0
    assert found.moves
    assert_holds(where, fleet, survey, found, tmp_path / "expected.csv")


def test_articulated_and_lopsided_cars_on_a_wavy_line(tmp_path: Path) -> None:
    rng = np.random.default_rng(8)
    where = helix(adjusters=NUTS, turns=2.0, climbs="clockwise")
    fleet = fleet_of(
        *(slung(rng, f"slung {n}", (195.0, 206.0)) for n in range(2)),
        *(random_car(rng, str(n), (195.0, 206.0)) for n in range(6)),
    )
    survey = surveyed(where, **{f"k{k}": round(float(rng.normal(0, 4)), 1) for k in range(25)})
    found = level(where, fleet, survey)
    assert found.moves
    assert_holds(where, fleet, survey, found, tmp_path / "expected.csv")


def test_a_steeper_grade_than_asked_for_is_taken_out(tmp_path: Path) -> None:
    """No car is short, but the line is to be levelled to 4.2 % at the most."""
    where = helix(adjusters=NUTS)
    survey = surveyed(where, k7=4.0, k8=-3.0)
    assert grades_percent(Structure(where, survey))[0] > 4.4
    found = level(where, fleet_of(car()), survey, limits=LevelLimits(4.2, None))
    assert found.moves
    assert found.after is not None
    assert found.after.greatest_grade_percent <= 4.2
    assert_holds(where, fleet_of(car()), survey, found, tmp_path / "expected.csv")


def test_what_another_check_loses_is_told() -> None:
    """Beam 5 hangs low, and only bracket 17 carries it: there the line bends, over a low belly.

    The belly is 1.6 mm over the rails, 1 mm wanted; a bend of 5 mm on 623 mm boards takes more.
    """
    where = helix(adjusters=NUTS, turns=1.5)
    fleet = fleet_of(
        car(underside_mm=1.6, height_mm=204.0), car("high", height_mm=204.0, underside_mm=9.0)
    )
    low = surveyed(where).model_copy(
        update={
            "readings": tuple(
                it.model_copy(update={"headroom_mm": 215.0}) if it.station == 5 else it
                for it in surveyed(where).readings
            )
        }
    )
    found = level(where, fleet, low, limits=WIDE)
    assert found.moves
    assert found.expected is not None

    def short(survey: Survey, name: str) -> bool:
        over = column(check(where, fleet, survey), name, "underside")
        assert over is not None
        return bool((over.gap_mm < over.budget.total_mm)[:, 0].any())

    lost = {name for name in ("inner", "outer") if short(found.expected, name)}
    assert lost
    assert not any(short(low, name) for name in lost)
    assert {(it.car, it.track, it.check) for it in found.worse} == {
        ("27", name, "underside") for name in lost
    }
    assert level(where, fleet, low, limits=WIDE, look_beside=False).worse == []


def test_an_overdue_survey_asks_for_more() -> None:
    where = helix(adjusters=NUTS)
    fleet = fleet_of(car())
    spare = min(float(it.min()) for it in spares(where, fleet, None).values())
    fleet = fleet_of(car(height_mm=round(190 + spare - 0.5, 2)))
    fresh = surveyed(where)
    old = fresh.model_copy(update={"age_days": 4 * 366})
    assert level(where, fleet, fresh, limits=WIDE).moves == []
    found = level(where, fleet, old, limits=WIDE)
    assert found.moves
    assert found.after is not None
    assert found.after.least_spare_mm is not None
    assert found.after.least_spare_mm >= 0


# --- what cannot be done --------------------------------------------------------------------------


def test_too_little_travel_is_named_with_the_car_and_the_place() -> None:
    where = helix(adjusters=NUTS.model_copy(update={"travel_mm": 1.0}))
    one = car(height_mm=198.0)
    low = Survey(readings=(Reading(station=5, headroom_mm=200.0),))
    found = level(where, fleet_of(one), low, named=["27"], limits=WIDE)
    assert found.cannot
    assert found.moves == []
    assert found.after is None
    kinds = {it.kind for it in found.cannot}
    assert kinds == {"clearance", "travel"}
    (clearance,) = [it for it in found.cannot if it.kind == "clearance"]
    assert (clearance.cars, clearance.station, clearance.obstacle) == (("27",), 5.0, "beam")
    assert ("up", 17.0) in {(it.end, float(it.station)) for it in found.cannot}
    assert found.would_do is None


def test_a_regular_helix_gives_no_headroom_without_a_steeper_grade() -> None:
    """A millimetre more headroom everywhere is a millimetre more rise; the limits that would do,
    do."""
    where = helix(adjusters=NUTS)
    spare = min(float(it.min()) for it in spares(where, fleet_of(car()), None).values())
    fleet = fleet_of(car(height_mm=round(190 + spare + 1.0, 2)))
    found = level(where, fleet, named=["27"])
    assert found.cannot
    assert {"clearance", "grade"} <= {it.kind for it in found.cannot}
    assert found.would_do is not None
    again = level(where, fleet, named=["27"], limits=found.would_do)
    assert again.cannot is None
    assert again.expected is not None
    for left in spares(where, fleet, again.expected).values():
        assert (left >= 0).all()


def test_only_on_one_track() -> None:
    where = helix(adjusters=NUTS)
    low = Survey(readings=(Reading(station=5, track="outer", headroom_mm=200.0),))
    fleet = fleet_of(car(height_mm=198.0))
    assert level(where, fleet, low, named=["27"], tracks=["inner"], limits=WIDE).moves == []
    assert level(where, fleet, low, named=["27"], tracks=["outer"], limits=WIDE).moves
