"""The four words against the table of G7, docs/theory.md."""

import math

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from clearance.judge.verdict import (
    DOES_NOT_FIT,
    MARGINAL,
    NOT_MEASURED,
    PASSES,
    VERDICTS,
    exit_status,
    judge_gaps,
)

NAN = math.nan


@pytest.mark.parametrize(
    ("gap_mm", "allowance_mm", "word"),
    [
        (20.0, 15.0, "passes"),
        (15.0, 15.0, "passes"),
        (math.nextafter(15.0, 0), 15.0, "marginal"),
        (8.07, 15.3, "marginal"),
        (5e-324, 15.0, "marginal"),
        (0.0, 15.0, "does not fit"),
        (-0.0, 15.0, "does not fit"),
        (-1.0, 15.0, "does not fit"),
        (-1.0, 0.0, "does not fit"),
        (math.inf, 15.0, "passes"),
        (-math.inf, 15.0, "does not fit"),
        (NAN, 15.0, "not measured"),
        (20.0, NAN, "not measured"),
        (-20.0, NAN, "not measured"),
        (NAN, NAN, "not measured"),
    ],
)
def test_the_table(gap_mm: float, allowance_mm: float, word: str) -> None:
    assert VERDICTS[judge_gaps(gap_mm, allowance_mm)] == word


def test_gaps_and_allowances_broadcast() -> None:
    codes = judge_gaps(np.array([[20.0], [5.0], [NAN]]), np.array([10.0, 30.0]))
    assert_array_equal(
        codes, [[PASSES, MARGINAL], [MARGINAL, MARGINAL], [NOT_MEASURED, NOT_MEASURED]]
    )


def test_the_worst_word_has_the_greatest_code() -> None:
    assert DOES_NOT_FIT > MARGINAL > NOT_MEASURED > PASSES
    assert sorted([DOES_NOT_FIT, MARGINAL, NOT_MEASURED, PASSES]) == list(range(len(VERDICTS)))


@pytest.mark.parametrize(
    ("word", "status"), [("passes", 0), ("not measured", 3), ("marginal", 3), ("does not fit", 4)]
)
def test_the_exit_status_of_the_worst(word: str, status: int) -> None:
    assert exit_status(VERDICTS.index(word)) == status
