"""Which nuts to turn so that all demands are met: the fewest brackets, then the least turning.

"Levelling", docs/theory.md. A mixed-integer program in whole steps of the nut, solved by HiGHS
through scipy. There are many demands and few that matter: it is solved with some of them, those
that its answer misses are added, and so on until none is.
"""

import time
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "Answer",
    "Demands",
    "Turning",
    "contradicting",
    "fewer_turns",
    "good_turns",
    "least_excess",
]

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Indices = NDArray[np.intp]
Mask = NDArray[np.bool_]

SECONDS = 1.5
"""How long the solver may look for something better than a good answer, for each question."""

_MEETS = 1e-6  # by which a demand may be missed: the solver's own rounding
_SPARER = 6  # times that the brackets which turn least are made dearer
_BRACKET_STEPS = 0.5  # what turning a bracket at all weighs beside its steps, when made dearer
_NEARLY = 0.05  # by what part a good answer may turn more than need be
_FOUND, _IMPOSSIBLE = 0, 2  # what scipy's status says


class Demands(NamedTuple):
    """r demands: ``rows`` times the moves of the brackets is at least ``least``.

    Attributes
    ----------
    rows, least
        Shape (r, brackets), (r,). [mm/mm and mm, or percent/mm and percent]
    alike
        A number that demands have in common of which one at a time is enough to look at, (r,).
    """

    rows: Floats
    least: Floats
    alike: Indices

    def take(self, index: Indices) -> "Demands":
        """Those at ``index``."""
        return Demands(self.rows[index], self.least[index], self.alike[index])


@dataclass(frozen=True, eq=False)
class Turning:
    """A question to the solver.

    Attributes
    ----------
    demands
        What the moves must meet.
    step_mm
        What one step of the nut raises. [mm]
    low, high
        How many steps down (negative) and up each bracket can go, shape (brackets,).
    """

    demands: Demands
    step_mm: float
    low: Whole
    high: Whole

    @cached_property
    def free(self) -> Indices:
        """The brackets that can move at all."""
        return np.flatnonzero(self.high > self.low)

    def short(self, steps: Whole | Floats) -> Floats:
        """By how much each demand is missed, shape (r,)."""
        return np.asarray(self.demands.least - self.demands.rows @ (steps * self.step_mm))


class Answer(NamedTuple):
    """Steps of each bracket, and whether no other answer is proved to be better."""

    steps: Whole
    proved: bool


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
    if turning.short(nothing).max(initial=0.0) <= _MEETS:
        return Answer(nothing, proved=True)
    steps = _Program(turning).good()
    return None if steps is None else Answer(steps, proved=False)


def fewer_turns(turning: Turning, good: Answer) -> Answer:
    """Meet all demands with the fewest brackets touched, and of these ways the least turning.

    Parameters
    ----------
    turning
        The question.
    good
        An answer to it.

    Returns
    -------
    Answer
        The best that was found in the time there is.
    """
    if good.proved:
        return good
    program = _Program(turning, good.steps)
    fewest, sure = program.whole(program.fewest, at_most=_touched(good.steps) - 1)
    found = [good.steps] if fewest is None else [fewest]
    # What the few brackets can do at the least, then whether others can do with less.
    for only in (found[0] != 0, None):
        least, least_sure = program.whole(program.least, at_most=_touched(found[0]), only=only)
        if least is not None:
            found.append(least)
    best = min(found, key=lambda steps: (_touched(steps), int(np.abs(steps).sum())))
    return Answer(best, sure and least_sure)


def _touched(steps: Whole) -> int:
    return int(np.count_nonzero(steps))


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
    mattered = _Program(turning).mattered
    ends = np.eye(count)
    rows = np.concatenate([demands.rows[mattered], ends, -ends])
    travel = [turning.low * turning.step_mm, -turning.high * turning.step_mm]
    least = np.concatenate([demands.least[mattered], *travel])
    number = np.concatenate([mattered, len(demands.least) + np.arange(2 * count)])
    prices = _prices(rows, least)
    if prices is None:
        return None
    # What has a price is a contradiction by itself; then leave out whatever it does not need.
    left = np.flatnonzero(prices > _MEETS)
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
    return None if found.fun <= _MEETS else np.asarray(-found.ineqlin.marginals)


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
    active = _worst(demands.least, demands.alike)
    while True:
        number = np.flatnonzero(active)
        found = linprog(
            np.append(np.zeros(len(free)), np.ones(len(groups))),
            -np.hstack([demands.rows[np.ix_(number, free)], gives[number]]),
            -demands.least[number],
            bounds=[*zip(low, high, strict=True), *[(0.0, None)] * len(groups)],
        )
        if found.status != _FOUND:
            return None
        short = demands.least - demands.rows[:, free] @ found.x[: len(free)]
        short -= gives @ found.x[len(free) :]
        short[number] = 0.0
        more = _worst(short, demands.alike)
        if not more.any():
            return [float(measure) for measure in found.x[len(free) :]]
        active |= more


class _Program:
    """The program with as many demands as have mattered so far.

    Unknowns are the steps of each free bracket, how many of them there are up or down, and whether
    there are any; where steps need not be whole, this last is left out.
    """

    def __init__(self, turning: Turning, *known: Whole) -> None:
        self.turning = turning
        self.count = len(turning.free)
        self.low = turning.low[turning.free].astype(float)
        self.high = turning.high[turning.free].astype(float)
        self.active = np.zeros(len(turning.demands.least), bool)
        for steps in (np.zeros(len(turning.low)), *known):
            tight = turning.short(np.asarray(steps, float)) + (
                turning.step_mm if steps.any() else 0.0
            )
            self.active |= _worst(tight, turning.demands.alike)
        ones, zeros = np.ones(self.count), np.zeros(self.count)
        self.fewest = np.concatenate([zeros, zeros, ones])
        self.least = np.concatenate([zeros, ones, zeros])

    @property
    def mattered(self) -> Indices:
        """The demands that matter where steps need not be whole; all else follows from these."""
        if self.count:
            self._relaxed(np.zeros(2 * self.count))
        return np.flatnonzero(self.active)

    def good(self) -> Whole | None:
        """A good answer, soon: brackets that turn little are made dearer, then left out by turns.

        Room is left for steps to be rounded to whole ones.
        """
        turning = self.least[: 2 * self.count]
        weights = np.ones(self.count)
        supports = [np.ones(self.count, bool)]
        for _ in range(_SPARER):
            found = self._relaxed(np.concatenate([np.zeros(self.count), weights]))
            if found is None:
                return None
            turned = np.abs(found[: self.count])
            weights = 1.0 / (turned + _BRACKET_STEPS)
            supports.append(turned > _MEETS)
        for support in reversed(supports):
            best = self._relaxed(turning, support, rounded=True)
            if best is not None:
                return self._steps(self._without(best, support))
        # Rounding is too rough where there is little room.
        return self.whole(self.least, at_most=None, gap=_NEARLY)[0]

    def _without(self, best: Floats, support: Mask) -> Floats:
        """An answer without the brackets that it can do without, the least turned first."""
        turning = self.least[: 2 * self.count]
        tried: set[int] = set()
        while left := set(np.flatnonzero(support).tolist()) - tried:
            turned = np.abs(best[: self.count])
            least = min(left, key=lambda bracket: float(turned[bracket]))
            tried.add(least)
            fewer = support.copy()
            fewer[least] = False
            found = self._relaxed(turning, fewer, rounded=True)
            if found is not None:
                best, support = found, fewer
        return best

    def _steps(self, unknowns: Floats) -> Whole:
        steps = np.zeros(len(self.turning.low), np.int64)
        steps[self.turning.free] = np.round(unknowns[: self.count]).astype(np.int64)
        return steps

    def _missed(self, steps: Floats | Whole, lost: Floats | float = 0.0) -> Mask | None:
        """The demands to add, for an answer misses them; None: it misses none."""
        short = self.turning.short(steps) + lost
        short[self.active] = 0.0
        found = _worst(short, self.turning.demands.alike)
        return found if found.any() else None

    def _relaxed(
        self, cost: Floats, only: Mask | None = None, *, rounded: bool = False
    ) -> Floats | None:
        """The best unknowns, steps not whole; None: nothing meets all demands.

        ``only`` says which of the free brackets may be touched; ``rounded`` that all demands must
        be met after steps are rounded to whole ones.
        """
        from scipy.optimize import linprog

        turning, count = self.turning, self.count
        allowed = np.ones(count) if only is None else only.astype(float)
        lost = np.zeros(len(turning.demands.least))
        if rounded:
            lost = np.abs(turning.demands.rows[:, turning.free]) @ (allowed * turning.step_mm / 2)
        one = np.eye(count)
        ups = np.block([[one, -one], [-one, -one]])
        whole = np.zeros(len(turning.low))
        while True:
            number = np.flatnonzero(self.active)
            rows = turning.demands.rows[np.ix_(number, turning.free)] * turning.step_mm
            low, high = self.low * allowed, self.high * allowed
            found = linprog(
                cost,
                np.vstack([np.hstack([-rows, np.zeros_like(rows)]), ups]),
                np.concatenate([-(turning.demands.least + lost)[number], np.zeros(2 * count)]),
                bounds=[*zip(low, high, strict=True), *((0.0, it) for it in -low + high)],
            )
            if found.status != _FOUND:
                return None
            whole[turning.free] = found.x[:count]
            more = self._missed(whole, lost)
            if more is None:
                return np.asarray(found.x)
            self.active |= more

    def whole(
        self,
        cost: Floats,
        *,
        at_most: int | None,
        only: Mask | None = None,
        gap: float = 0.0,
    ) -> tuple[Whole | None, bool]:
        """The best answer in whole steps, and whether it is sure that there is none better.

        Parameters
        ----------
        cost
            Of the unknowns.
        at_most
            How many brackets may be touched; None: any number.
        only
            Which brackets may be, shape (brackets,); None: all that can move.
        gap
            By what part of its cost the answer may be worse than the best.
        """
        until = time.monotonic() + SECONDS
        while True:
            found = self._solve(cost, at_most, only, gap, max(until - time.monotonic(), 0.1))
            if found.x is None:
                return None, found.status == _IMPOSSIBLE
            steps = self._steps(found.x)
            more = self._missed(steps)
            if more is None:
                return steps, found.status == _FOUND
            if time.monotonic() > until:
                return None, False
            self.active |= more

    def _solve(
        self,
        cost: Floats,
        at_most: int | None,
        only: Mask | None,
        gap: float,
        seconds: float,
    ) -> Any:
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array, diags_array, eye_array, hstack

        turning, count = self.turning, self.count
        number = np.flatnonzero(self.active)
        rows = csr_array(turning.demands.rows[np.ix_(number, turning.free)] * turning.step_mm)
        allowed = np.ones(count) if only is None else only[turning.free].astype(float)
        most = np.maximum(-self.low, self.high)
        one, none = eye_array(count), csr_array((count, count))
        constraints = [
            LinearConstraint(
                hstack([rows, csr_array((len(number), 2 * count))]),
                turning.demands.least[number],
                np.inf,
            ),
            LinearConstraint(hstack([-one, one, none]), 0, np.inf),
            LinearConstraint(hstack([one, one, none]), 0, np.inf),
            LinearConstraint(hstack([none, -one, diags_array(most)]), 0, np.inf),
        ]
        if at_most is not None:
            constraints.append(LinearConstraint(self.fewest[None], -np.inf, at_most))
        counted = np.full(count, at_most is not None)
        return milp(
            cost,
            constraints=constraints,
            integrality=np.concatenate([np.ones(count), np.zeros(count), counted]),
            bounds=Bounds(
                np.concatenate([self.low * allowed, np.zeros(2 * count)]),
                np.concatenate([self.high * allowed, most * allowed, allowed]),
            ),
            options={"time_limit": seconds, "mip_rel_gap": gap},
        )


def _worst(short: Floats, alike: Indices) -> Mask:
    """Of the demands that are missed, the one that is missed by most of those that are alike."""
    chosen = np.zeros(len(short), bool)
    missed = np.flatnonzero(short > _MEETS)
    order = missed[np.lexsort((-short[missed], alike[missed]))]
    chosen[order[np.diff(alike[order], prepend=-1) > 0]] = True
    return chosen
