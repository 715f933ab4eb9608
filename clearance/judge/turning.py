"""Which nuts to turn so that all demands are met with few brackets, or why nothing meets them.

"Levelling", docs/theory.md.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.judge.turning_program import FOUND, MEETS, Program, Turning, worst_alike

__all__ = ["Answer", "contradicting", "good_turns", "least_excess"]

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Indices = NDArray[np.intp]


class Answer(NamedTuple):
    """An answer to a question of turning.

    Attributes
    ----------
    steps
        Of each bracket, shape (brackets,).
    fewest_proved
        Whether it is sure that no fewer brackets would do.
    least_proved
        Whether it is sure that no less turning would do with as many brackets.
    """

    steps: Whole
    fewest_proved: bool = False
    least_proved: bool = False

    @property
    def proved(self) -> bool:
        """Whether no other answer is better."""
        return self.fewest_proved and self.least_proved


def good_turns(turning: Turning) -> Answer | None:
    """Meet all demands with few brackets touched, soon.

    Parameters
    ----------
    turning
        The question.

    Returns
    -------
    Answer
        None: nothing meets them all; or nothing in whole steps was found.
    """
    nothing = np.zeros(len(turning.low), np.int64)
    if turning.short(nothing).max(initial=0.0) <= MEETS:
        return Answer(nothing, fewest_proved=True, least_proved=True)
    steps = Program(turning).good()
    return None if steps is None else Answer(steps)


def contradicting(turning: Turning) -> Indices | None:
    """A smallest set of demands and of ends of travel that nothing meets.

    Parameters
    ----------
    turning
        A question without an answer.

    Returns
    -------
    ndarray
        Numbers of demands; then, counted on from these, the lower ends of the brackets' travel, and
        the upper ones. Leave any one of them out, and the rest can be met. None: there is an
        answer but for the steps, which would have to be finer.
    """
    demands, count = turning.demands, len(turning.low)
    mattered = Program(turning).mattered
    ends = np.eye(count)
    rows = np.concatenate([demands.rows[mattered], ends, -ends])
    travel = [turning.low * turning.step_mm, -turning.high * turning.step_mm]
    least = np.concatenate([demands.least[mattered], *travel])
    number = np.concatenate([mattered, len(demands.least) + np.arange(2 * count)])
    prices = _prices(rows, least)
    if prices is None:
        return None
    # What has a price is a contradiction by itself; then leave out whatever it does not need.
    left = np.flatnonzero(prices > MEETS)
    for row in sorted(left.tolist(), key=lambda row: float(prices[row])):
        fewer = left[left != row]
        if _prices(rows[fewer], least[fewer]) is not None:
            left = fewer
    return np.asarray(number[left])


def _prices(rows: Floats, least: Floats) -> Floats | None:
    """The price of each demand where all may give way, the sum made least; None: none need to."""
    from scipy.optimize import linprog
    from scipy.sparse import csr_array, eye_array, hstack

    count, brackets = rows.shape
    found = linprog(
        np.append(np.zeros(brackets), np.ones(count)),
        hstack([csr_array(-rows), -eye_array(count)], format="csr"),
        -least,
        bounds=[(None, None)] * brackets + [(0.0, None)] * count,
    )
    return None if found.fun <= MEETS else np.asarray(-found.ineqlin.marginals)


def least_excess(turning: Turning, groups: list[Indices]) -> list[float] | None:
    """By how much groups of demands must give way for the rest to be met: the least sum.

    Parameters
    ----------
    turning
        A question without an answer.
    groups
        The demands of each group, by number; a group gives way by one measure.

    Returns
    -------
    list of float
        The measure of each group, steps not counted as whole; None: that does not help.
    """
    from scipy.optimize import linprog

    demands, free = turning.demands, turning.free
    gives = np.zeros((len(demands.least), len(groups)))
    for column, members in enumerate(groups):
        gives[members, column] = 1.0
    low, high = turning.low[free] * turning.step_mm, turning.high[free] * turning.step_mm
    active = worst_alike(demands.least, demands.alike)
    while True:
        number = np.flatnonzero(active)
        found = linprog(
            np.append(np.zeros(len(free)), np.ones(len(groups))),
            -np.hstack([demands.rows[np.ix_(number, free)], gives[number]]),
            -demands.least[number],
            bounds=[*zip(low, high, strict=True), *[(0.0, None)] * len(groups)],
        )
        if found.status != FOUND:
            return None
        short = demands.least - demands.rows[:, free] @ found.x[: len(free)]
        short -= gives @ found.x[len(free) :]
        short[number] = 0.0
        more = worst_alike(short, demands.alike)
        if not more.any():
            return [float(measure) for measure in found.x[len(free) :]]
        active |= more
