"""What is known of which brackets must be touched, against all answers tried one by one.

Random small questions as in tests/judge/test_turning.py, with demands alike and more demands later.
"""

import time
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from catalog.helix import Adjusters
from clearance.judge.fewest import Touching, fewer_turns
from clearance.judge.levelling import level
from clearance.judge.turning import good_turns
from clearance.judge.turning_program import Demands, Turning
from clearance.show.level import level_data, level_text
from clearance.show.paper import as_plain
from tests.judge.clubs import helix, random_fleet
from tests.judge.test_levelling import just_passing, surveyed

BRACKETS, MOST = 5, 2
STEP_MM = 0.5


def random_question(rng: np.random.Generator, *, hard: float = 1.5) -> Turning:
    """Demands on a few neighbouring brackets each, as cars make them."""
    count = int(rng.integers(3, 9))
    rows = np.zeros((count, BRACKETS))
    for row in rows:
        first = int(rng.integers(0, BRACKETS - 1))
        row[first : first + 3] = rng.normal(0, 1, 3)[: BRACKETS - first]
    low, high = (rng.integers(0, MOST + 1, BRACKETS) for _ in range(2))
    alike = rng.integers(0, 3, count)
    return Turning(Demands(rows, rng.uniform(-1, hard, count), alike), STEP_MM, -low, high)


def answers(turning: Turning) -> np.ndarray:
    """All that meet the demands, shape (a, brackets)."""
    ranges = [range(low, high + 1) for low, high in zip(turning.low, turning.high, strict=True)]
    steps = np.array(list(product(*ranges)))
    short = turning.demands.least - steps @ turning.demands.rows.T * STEP_MM
    return steps[(short <= 1e-9).all(axis=1)]


def test_every_answer_touches_what_is_said_to_be_touched() -> None:
    """The rows hold for every answer there is; the fewest and the least turning are what they are.

    With more demands than they were found with, too.
    """
    rng = np.random.default_rng(6)
    seen = 0
    for _ in range(150):
        turning = random_question(rng)
        good = good_turns(turning)
        every = answers(turning)
        assert (good is None) == (not len(every))
        if good is None or good.proved:
            continue
        touching = Touching(BRACKETS)
        found = fewer_turns(turning, good, touching)
        costs = list(zip(np.count_nonzero(every, axis=1), np.abs(every).sum(axis=1), strict=True))
        assert (np.count_nonzero(found.steps), np.abs(found.steps).sum()) == min(costs)
        assert found.fewest_proved
        assert found.least_proved
        assert touching.least <= min(costs)[0]
        assert len(touching.rows)
        assert ((every != 0) @ touching.rows.T >= 1 - 1e-5).all()
        seen += len(touching.rows)

        more = random_question(rng)
        both = turning.demands, more.demands
        harder = Turning(
            Demands(*(np.concatenate(pair) for pair in zip(*both, strict=True))),
            STEP_MM,
            turning.low,
            turning.high,
        )
        good, every = good_turns(harder), answers(harder)
        if good is not None:
            found = fewer_turns(harder, good, touching)
            costs = zip(np.count_nonzero(every, axis=1), np.abs(every).sum(axis=1), strict=True)
            assert (np.count_nonzero(found.steps), np.abs(found.steps).sum()) == min(costs)
    assert seen > 30


def test_on_a_line_that_is_off_everywhere_the_fewest_are_proved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Thirty-one brackets, forty cars; and whatever a clock says, the answer is the same."""
    nuts = Adjusters(pitch_mm=1.25, step=0.25, travel_mm=40.0)
    where = helix(adjusters=nuts, turns=2.5)
    rng = np.random.default_rng(1)
    survey = surveyed(where, **{f"k{k}": round(float(rng.normal(0, 1)), 1) for k in range(31)})
    fleet = just_passing(rng, where, random_fleet(rng, 40))
    found = level(where, fleet, survey)
    assert len(found.moves) > 8
    assert found.fewest_proved
    assert found.least_proved
    words = " ".join(as_plain(level_text(found), 80).split())
    assert "not proved" not in words
    for proved, said in (
        ((False, False), "That no fewer brackets would do is not proved"),
        (
            (True, False),
            "No fewer brackets would do. That as many could not do it with less turning",
        ),
    ):
        told = replace(found, fewest_proved=proved[0], least_proved=proved[1])
        assert said in " ".join(as_plain(level_text(told), 80).split())
        data = level_data(told)
        assert (data["fewest_proved"], data["fewest_brackets_proved"]) == (False, proved[0])
    late = iter(range(0, 10**9, 1000))
    monkeypatch.setattr(time, "monotonic", lambda: float(next(late)))
    assert level(where, fleet, survey).moves == found.moves
