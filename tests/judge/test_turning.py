"""The mixed-integer program against all answers tried one by one, and its contradictions."""

from itertools import product

import numpy as np
import pytest
from scipy.optimize import linprog

from clearance.judge.fewest import fewer_turns
from clearance.judge.turning import contradicting, good_turns, least_excess
from clearance.judge.turning_program import Demands, Turning

BRACKETS, MOST = 4, 3
STEP_MM = 0.5


def random_question(rng: np.random.Generator, *, hard: float) -> Turning:
    """Demands on a few neighbouring brackets each, as cars make them."""
    count = int(rng.integers(2, 7))
    rows = np.where(rng.random((count, BRACKETS)) < 0.7, rng.normal(0, 1, (count, BRACKETS)), 0.0)
    least = rng.uniform(-1, hard, count)
    low = -rng.integers(0, MOST + 1, BRACKETS)
    high = rng.integers(0, MOST + 1, BRACKETS)
    return Turning(Demands(rows, least, np.arange(count)), STEP_MM, low, high)


def best_of_all(turning: Turning) -> tuple[int, int] | None:
    """Brackets touched and steps turned of the best answer, of all there are."""
    ranges = [range(low, high + 1) for low, high in zip(turning.low, turning.high, strict=True)]
    steps = np.array(list(product(*ranges)))
    meets = (steps * STEP_MM @ turning.demands.rows.T >= turning.demands.least - 1e-9).all(axis=1)
    if not meets.any():
        return None
    some = steps[meets]
    costs = zip(np.count_nonzero(some, axis=1), np.abs(some).sum(axis=1), strict=True)
    touched, turned = min(costs)
    return int(touched), int(turned)


def test_the_best_answer_is_found_and_proved() -> None:
    rng = np.random.default_rng(4)
    found = 0
    for _ in range(80):
        turning = random_question(rng, hard=1.5)
        expected = best_of_all(turning)
        good = good_turns(turning)
        assert (good is None) == (expected is None)
        if good is None or expected is None:
            continue
        answer = fewer_turns(turning, good)
        assert answer.proved
        assert (turning.short(answer.steps) <= 1e-6).all()
        assert (np.count_nonzero(answer.steps), np.abs(answer.steps).sum()) == expected
        found += expected[0] > 0
    assert found > 20


def can_be_met(rows: np.ndarray, least: np.ndarray) -> bool:
    done = linprog(np.zeros(rows.shape[1]), -rows, -least, bounds=[(None, None)] * rows.shape[1])
    return bool(done.status == 0)


def test_a_contradiction_is_one_and_has_nothing_to_spare() -> None:
    rng = np.random.default_rng(5)
    found = 0
    for _ in range(60):
        turning = random_question(rng, hard=6.0)
        if good_turns(turning) is not None:
            continue
        number = contradicting(turning)
        if number is None:
            continue
        ends = np.eye(BRACKETS)
        rows = np.concatenate([turning.demands.rows, ends, -ends])
        least = np.concatenate(
            [turning.demands.least, turning.low * STEP_MM, -turning.high * STEP_MM]
        )
        assert not can_be_met(rows[number], least[number])
        for left_out in number:
            rest = number[number != left_out]
            assert can_be_met(rows[rest], least[rest])
        found += 1
    assert found > 20


def test_steps_alone_can_stand_in_the_way() -> None:
    """Between 0.1 and 0.4 mm there is no whole step of 0.5 mm, but there is a height."""
    rows = np.array([[1.0], [-1.0]])
    demands = Demands(rows, np.array([0.1, -0.4]), np.arange(2))
    turning = Turning(demands, STEP_MM, np.array([-9]), np.array([9]))
    assert good_turns(turning) is None
    assert contradicting(turning) is None


def test_the_least_by_which_a_limit_gives_way() -> None:
    """One bracket must rise by 2 mm, and a limit lets it by 1.25 at 2 percent a millimetre."""
    rows = np.array([[1.0, 0.0], [-2.0, 0.0]])
    demands = Demands(rows, np.array([2.0, -2.5]), np.arange(2))
    turning = Turning(demands, STEP_MM, np.array([-9, -9]), np.array([9, 9]))
    assert good_turns(turning) is None
    excess = least_excess(turning, [np.array([1])])
    assert excess == [pytest.approx(1.5)]
    assert least_excess(turning, [np.array([], np.intp)]) is None
