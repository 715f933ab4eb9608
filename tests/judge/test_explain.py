"""A finding worked through: each line of arithmetic gives its value, and the last one the gap."""

import math
import re
from collections.abc import Iterable

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.car import Car
from catalog.errors import DataError
from catalog.helix import Allowance, Deck, Helix, Lead
from catalog.survey import Survey
from clearance.judge.check import check
from clearance.judge.explain import Explanation, explain
from clearance.judge.explain_sheet import Sheet, Step
from clearance.judge.explain_train import explain_train
from clearance.judge.findings import CheckResult
from clearance.judge.fleet import Fleet
from clearance.judge.trains import check_train
from tests.judge.clubs import (
    block,
    car,
    fleet_of,
    frame,
    one_track,
    random_built,
    single,
    slung,
    with_frames,
)

WORKED_MM = 1e-3  # what a working of a running check may differ by from what the check found
FOUND_AGAIN_MM = 1e-2  # and one under a beam, in a position that is looked for once more
TYPED = 2e-4  # numbers are written so that they give the value to half of that, in mm or degrees
SEEDS = range(20)

CALCULATOR = {
    "pi": math.pi,
    "sqrt": math.sqrt,
    "sin": lambda angle: math.sin(math.radians(angle)),
    "cos": lambda angle: math.cos(math.radians(angle)),
    "tan": lambda angle: math.tan(math.radians(angle)),
    "asin": lambda ratio: math.degrees(math.asin(ratio)),
    "atan": lambda ratio: math.degrees(math.atan(ratio)),
}
OF_FORMULAS = {"2", "4", "8", "180", "360"}  # numbers that stand in formulas as such


def typed(working: str) -> float:
    """What a calculator in degrees shows for a line of the working."""
    assert re.fullmatch(r"[-+*/^(). \da-z]+", working), working
    return float(eval(working.replace("^", "**"), {"__builtins__": {}}, CALCULATOR))


def holds(steps: Iterable[Step], said: set[str] | None = None) -> set[str]:
    """Each line gives its value, from numbers that were said before; all that are said then."""
    said = set(OF_FORMULAS) if said is None else said
    for step in steps:
        assert_allclose(typed(step.working), step.value, rtol=0, atol=TYPED, err_msg=step.what)
        assert_allclose(float(step.shown), step.value, rtol=0, atol=1e-4)
        assert "((-" not in re.sub(r"\(\(-[\d.]+\) ", "", step.working)
        is_figure = step.working == step.shown
        said |= set(re.findall(r"[\d.]*\d", step.what))
        missing = set(re.findall(r"[\d.]*\d", "" if is_figure else step.working)) - said
        assert not missing, (step, missing)
        said.add(step.shown.lstrip("-"))
    return said


def worked(explanation: Explanation, within_mm: float = WORKED_MM) -> dict[str, float]:
    """The values of a working that holds, by what they are; the gap is the one that was found."""
    holds(explanation.rough, holds(explanation.steps))
    found = {step.what.partition(":")[0]: step.value for step in explanation.steps}
    assert not any("only the result" in step.what for step in explanation.steps)
    assert_allclose(found["gap"], explanation.finding.gap_mm, rtol=0, atol=within_mm)
    return found


# --- many, at random ------------------------------------------------------------------------------


def with_figures(rng: np.random.Generator, one: Car, states: str) -> Car:
    """The same with what running checks ask for; of its couplers one figure is stated."""
    bears = {"coupler_swing_mm": 9.0, "coupler_drop_mm": 7.0, "coupler_angle_deg": 24.0}
    figures = {
        "length_over_couplers_mm": one.length_mm + round(float(rng.uniform(4, 30)), 1),
        "underside_mm": round(float(rng.uniform(2, 9)), 1),
        "truck_swing_deg": round(float(rng.uniform(3, 15)), 1),
        "side_play_mm": 1.0,
        states: bears[states],
    }
    return Car(**({name: getattr(one, name) for name in Car.model_fields} | figures))


def some_car(rng: np.random.Generator, name: str, states: str, *, framed: bool) -> Car:
    """On axles or trucks, lopsided; framed: the same in frames, or a boiler slung on two units."""
    if framed and rng.random() < 0.5:
        return with_figures(rng, slung(rng, name, (150.0, 190.0)), states)
    wheelbase = round(float(rng.uniform(120, 480)), 1)
    front, rear = (round(float(end), 1) for end in rng.uniform(60, 0.3 * wheelbase + 80, 2))
    one = car(
        name,
        width_mm=round(float(rng.uniform(60, 120)), 1),
        length_mm=round(wheelbase + front + rear, 1),
        wheelbase_mm=wheelbase,
        truck_wheelbase_mm=float(rng.choice([0.0, round(wheelbase / 5, 1)])),
        front_overhang_mm=front,
    )
    return with_figures(rng, with_frames(one) if framed else one, states)


def some_cars(seed: int, *, framed: bool) -> tuple[np.random.Generator, Fleet]:
    rng = np.random.default_rng(seed)
    states = ("coupler_swing_mm", "coupler_drop_mm", "coupler_angle_deg")[seed % 3]
    return rng, fleet_of(*(some_car(rng, name, states, framed=framed) for name in ("a", "b")))


def drawn(rng: np.random.Generator) -> Helix:
    return single(
        round(float(rng.uniform(600, 1400)), 1),
        cant_mm=float(rng.choice([0.0, 2.0])),
        rise_per_turn_mm=round(float(rng.uniform(200, 300)), 1),
        climbs=str(rng.choice(["clockwise", "counterclockwise"])),
        allowance=Allowance(play_mm=0.5),
    )


def all_worked(where: Helix, survey: Survey | None, cars: Fleet) -> list[Explanation]:
    """Every running check of both cars, and of their train, worked through."""
    result = check(where, cars, survey)
    some = [
        explain(result, number, check=name)
        for number in range(len(cars))
        for name in ("rigid_wheelbase", "truck_swing", "underside", "coupling")
        if any(finding.check == name for finding in result.findings(number, "inner"))
    ]
    some.append(explain_train(check_train(where, cars, ["a", "b"], survey), "coupling").explanation)
    for explanation in some:
        worked(explanation)
    assert {one.finding.check for one in some} >= {"rigid_wheelbase", "underside", "coupling"}
    return some


def in_a_position(explanation: Explanation) -> bool:
    return any("counted uphill" in step.what for step in explanation.steps)


@pytest.mark.parametrize("seed", SEEDS)
def test_running_checks_of_a_regular_helix_in_closed_form(seed: int) -> None:
    rng, cars = some_cars(seed, framed=False)
    assert not any(map(in_a_position, all_worked(drawn(rng), None, cars)))


@pytest.mark.parametrize("seed", SEEDS)
def test_running_checks_of_articulated_cars_on_a_regular_helix(seed: int) -> None:
    rng, cars = some_cars(100 + seed, framed=True)
    assert any(map(in_a_position, all_worked(drawn(rng), None, cars)))


@pytest.mark.parametrize("seed", SEEDS)
def test_running_checks_of_a_helix_as_built(seed: int) -> None:
    rng, cars = some_cars(200 + seed, framed=seed % 4 == 0)
    where, survey = one_track(*random_built(rng))
    assert any(map(in_a_position, all_worked(where, survey, cars)))


@pytest.mark.parametrize("seed", range(8))
def test_what_governs_on_a_helix_as_built(seed: int) -> None:
    rng, cars = some_cars(300 + seed, framed=seed % 2 == 0)
    where, survey = random_built(rng)
    result = check(where, cars, survey)
    for number in (0, 1):
        worked(explain(result, number), FOUND_AGAIN_MM)


# --- one by one -----------------------------------------------------------------------------------


def articulated(**figures: object) -> Car:
    """Two engine units, 130 and 150 mm, and a boiler slung between them."""
    return Car(
        id="slung",
        height_mm=190.0,
        width_mm=110.0,
        length_mm=620.0,
        frames=(
            frame("front unit", (190, "track"), (60, "track")),
            frame("rear unit", (560, "track"), (410, "track")),
            frame("boiler", (470, "rear unit"), (150, "front unit")),
        ),
        **figures,
    )


def test_a_rigid_wheelbase_is_that_of_the_axles_as_they_were_described() -> None:
    cars = fleet_of(articulated(side_play_mm=1.0))
    explanation = explain(check(single(), cars), 0, check="rigid_wheelbase")
    said = worked(explanation)
    assert said["last axle of 'rear unit', the longest, behind the car's front end"] == 560
    assert said["its first axle, behind the car's front end"] == 410
    assert said["rigid wheelbase"] == 150
    assert_allclose(explanation.rough[0].value, 150**2 / 8 / 1190, rtol=1e-9)


def test_the_handbook_stands_beside_truck_swing_and_coupling() -> None:
    """400 / 2380 of a radian; and faces 320 mm ahead of one middle, 320 mm behind the other."""
    one = car("27", truck_swing_deg=12.0, length_over_couplers_mm=640.0, coupler_angle_deg=40.0)
    result = check(single(), fleet_of(one))
    rough, exact, off = explain(result, 0, check="truck_swing").rough
    assert_allclose(rough.value, math.degrees(400 / 2380), rtol=1e-9)
    assert_allclose(off.value, rough.value - exact.value, rtol=0, atol=1e-9)
    assert_allclose(exact.value, 9.68, atol=0.01)
    assert_allclose(
        explain(result, 0, check="coupling").rough[0].value, math.degrees(640 / 1190), rtol=1e-9
    )


def test_the_end_throws_beside_a_coupling() -> None:
    """(640^2 - 400^2) / 8R of the one face, (330^2 - 200^2) / 8R of the other."""
    figures = {"truck_wheelbase_mm": 0.0, "coupler_swing_mm": 8.0}
    long = car("long", length_over_couplers_mm=640.0, **figures)
    short = car(
        "short", length_mm=300.0, wheelbase_mm=200.0, length_over_couplers_mm=330.0, **figures
    )
    found = explain_train(
        check_train(single(), fleet_of(long, short), ["long", "short"]), "coupling"
    )
    assert found.places == (0, 1)
    throws = [(whole**2 - base**2) / (8 * 1190) for whole, base in ((640, 400), (330, 200))]
    assert_allclose(found.explanation.rough[0].value, throws[0] - throws[1], rtol=1e-9)


def test_the_worst_of_a_train_is_worked_through_whichever_it_is() -> None:
    """A coupling that does not hold, before cars that pass; what fouls by more, before that."""
    figures = {"truck_wheelbase_mm": 0.0, "length_over_couplers_mm": 640.0, "coupler_drop_mm": 9.0}
    loose = car("loose", coupler_swing_mm=9.0, coupler_angle_deg=40.0, **figures)
    stiff = car("stiff", coupler_swing_mm=9.0, coupler_angle_deg=8.0, **figures)
    tall = car("tall", height_mm=400.0)
    trains = [("loose", "stiff", "loose"), ("loose", "tall", "stiff", "loose")]
    cars = fleet_of(loose, stiff, tall)
    joint, fouled = (explain_train(check_train(single(), cars, train)) for train in trains)
    assert (joint.places, joint.explanation.finding.check) == ((0, 1), "coupling")
    assert (fouled.places, fouled.explanation.finding.check) == ((1,), "overhead")
    worked(joint.explanation)
    worked(fouled.explanation)


@pytest.mark.parametrize(("brackets", "beam_mm", "obstacle"), [(24, 24, "beam"), (12, 10, "deck")])
def test_under_a_straight_lead_at_the_head(brackets: int, beam_mm: float, obstacle: str) -> None:
    """A level lead: its first beam, 15 degrees on, is 1190 pi / 12 along it; or where it is left.

    Its inner edge, 110 mm inside, is passed where the track has turned by acos(1080 / 1190).
    """
    where = single(
        turns=2.5,
        brackets_per_turn=brackets,
        deck=Deck(depth_mm=38.0, beam_depth_mm=beam_mm, beam_width_mm=38.0),
        leads=(Lead(at="head", length_mm=700.0, grade=0.0),),
    )
    explanation = explain(check(where, fleet_of(car("tall", height_mm=205.0))), 0)
    assert explanation.finding.location is not None
    assert explanation.finding.location["obstacle"] == obstacle
    said = worked(explanation, FOUND_AGAIN_MM)
    along = 1190 * math.pi / 12 if obstacle == "beam" else math.sqrt(1190**2 - 1080**2)
    shown = said["how far along the straight lead at the head that is"]
    assert_allclose(shown, along, rtol=0, atol=1e-5)
    assert_allclose(said["railhead of the lead above"], 2.5 * 285, rtol=1e-12)


def test_a_car_that_goes_up_rear_first_is_said_to() -> None:
    """Its stack is at the rear, and comes closest where that end goes first."""
    blocks = block((0, 600), (55, 55), (8, 150)), block((560, 600), (20, 20), (150, 200))
    stack = car("stack", height_mm=200.0, blocks=blocks)
    explanation = explain(check(single(), fleet_of(stack)), 0)
    assert explanation.finding.facing == "front downhill"
    (x,) = [step for step in explanation.steps if step.what.startswith("x of the point")]
    assert x.what.endswith("; it goes up rear first")


def test_two_that_cannot_stand_coupled() -> None:
    figures = {"length_mm": 300.0, "wheelbase_mm": 200.0, "truck_wheelbase_mm": 0.0}
    far = car("far", length_over_couplers_mm=5300.0, coupler_swing_mm=9.0, **figures)
    explanation = explain(check(single(), fleet_of(far)), 0, check="coupling")
    (step,) = explanation.steps
    assert "the two cannot stand there coupled, does not fit" in step.what


def test_a_check_that_a_car_has_not() -> None:
    result: CheckResult = check(single(), fleet_of(car("27", truck_wheelbase_mm=0.0)))
    with pytest.raises(DataError, match="'27' has no finding 'truck_swing' here; it has these: "):
        explain(result, 0, check="truck_swing")
    with pytest.raises(DataError, match="the train has no finding 'hat' here; it has these: "):
        explain_train(check_train(single(), result.fleet, ["27", "27"]), "hat")


# --- how numbers are written ----------------------------------------------------------------------


def test_a_number_has_the_digits_that_what_comes_after_needs_and_the_same_everywhere() -> None:
    """The tangent close to a right angle asks for more of the angle than its sine does."""
    sheet = Sheet()
    sheet.figure("B", "base", 3.0)
    sheet.figure("L", "length", 40.0)
    sheet.work("angle", "angle", "asin(B / L)", "deg")
    sheet.work("sine", "sine of it", "L * sin(angle)")
    sheet.work("steep", "tangent of the rest", "tan(90 - angle)", "")
    steps = sheet.steps
    holds(steps, {"90"})
    assert len(steps[2].shown.partition(".")[2]) > 4
    assert steps[3].working == f"40 * sin({steps[2].shown})"


def test_brackets_stand_round_a_number_below_0_once() -> None:
    sheet = Sheet()
    sheet.figure("x", "x", -2.5)
    sheet.work("c", "cosine", "cos(x)", "")
    sheet.work("s", "square", "x^2")
    sheet.work("d", "distance", "sqrt(x^2 + (x - 1)^2)")
    sheet.work("x2", "the same", "x")
    workings = [step.working for step in sheet.steps]
    assert workings == ["-2.5", "cos(-2.5)", "(-2.5)^2", "sqrt((-2.5)^2 + ((-2.5) - 1)^2)", "-2.5"]


def test_what_stands_beside_shares_the_numbers() -> None:
    sheet = Sheet()
    sheet.work("third", "a third", "1 / 3")
    beside = sheet.aside()
    beside.work("many", "many of them", "third * 30000")
    assert sheet.steps[0].shown in beside.steps[0].working
    holds([*sheet.steps, *beside.steps], {"1", "3", "30000"})
