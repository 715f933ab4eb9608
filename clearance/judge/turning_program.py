"""The program behind levelling: whole steps of the nuts that meet all demands, solved by HiGHS.

"Levelling", docs/theory.md. There are many demands and few that matter: a program is solved with
some of them, those that its answer misses are added, and so on until none is.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.judge.hushed import hushed

__all__ = ["FOUND", "MEETS", "Demands", "Program", "Turning", "worst_alike"]

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Indices = NDArray[np.intp]
Mask = NDArray[np.bool_]

MEETS = 1e-6
"""By which a demand may be missed: the solver's own rounding."""

FOUND = 0
"""What scipy says where the best was found."""

_IMPOSSIBLE = 2
_ROUNDING = 1e-9
_SPARER = 6  # times that the brackets which turn least are made dearer
_BRACKET_STEPS = 0.5  # what turning a bracket at all weighs beside its steps, when made dearer
_NEARLY = 0.05  # by what part a good answer may turn more than need be
_NODES_OF_GOOD = 2000
_ROUNDS = 50  # of adding demands to a program in whole steps
_AT_LAST_S = 30.0  # nodes end a search, which is the same on every machine; this only a wild one


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


class Program:
    """The program with as many demands as have mattered so far.

    Unknowns are the steps of each free bracket, how many of them there are up or down, and whether
    there are any; where steps need not be whole, this last is left out.

    Parameters
    ----------
    turning
        The question.
    known
        Answers to it: the demands that they only just meet are likely to matter.
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
            self.active |= worst_alike(tight, turning.demands.alike)
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
            supports.append(turned > MEETS)
        for support in reversed(supports):
            best = self._relaxed(turning, support, rounded=True)
            if best is not None:
                return self._steps(self._without(best, support))
        # Rounding is too rough where there is little room.
        return self.whole(self.least, at_most=None, nodes=_NODES_OF_GOOD, gap=_NEARLY)[0]

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
        found = worst_alike(short, self.turning.demands.alike)
        return found if found.any() else None

    def _relaxed(
        self, cost: Floats, only: Mask | None = None, *, rounded: bool = False
    ) -> Floats | None:
        """The best unknowns, steps not whole; None: nothing meets all demands.

        ``only`` says which of the free brackets may be touched; ``rounded`` that all demands must
        be met after steps are rounded to whole ones.
        """
        from scipy.optimize import linprog
        from scipy.sparse import csr_array, eye_array, hstack, vstack

        turning, count = self.turning, self.count
        allowed = np.ones(count) if only is None else only.astype(float)
        lost = np.zeros(len(turning.demands.least))
        if rounded:
            lost = np.abs(turning.demands.rows[:, turning.free]) @ (allowed * turning.step_mm / 2)
        one = eye_array(count)
        ups = vstack([hstack([one, -one]), hstack([-one, -one])])
        whole = np.zeros(len(turning.low))
        while True:
            number = np.flatnonzero(self.active)
            rows = csr_array(turning.demands.rows[np.ix_(number, turning.free)] * -turning.step_mm)
            low, high = self.low * allowed, self.high * allowed
            found = linprog(
                cost,
                vstack([hstack([rows, csr_array(rows.shape)]), ups], format="csc"),
                np.concatenate([-(turning.demands.least + lost)[number], np.zeros(2 * count)]),
                bounds=[*zip(low, high, strict=True), *((0.0, it) for it in -low + high)],
            )
            if found.status != FOUND:
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
        nodes: int,
        only: Mask | None = None,
        touching: Floats | None = None,
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
        touching
            What is known of which brackets must be touched, shape (c, brackets): each row times
            whether they are is at least 1. None: nothing.
        gap
            By what part of its cost the answer may be worse than the best.
        nodes
            How many nodes the solver may look at, each time.
        """
        for _ in range(_ROUNDS):
            found = self._solve(cost, at_most, only, touching, gap, nodes)
            if found.x is None:
                return None, found.status == _IMPOSSIBLE
            steps = self._steps(found.x)
            more = self._missed(steps)
            if more is None:
                return steps, found.status == FOUND
            self.active |= more
        return None, False

    def _solve(
        self,
        cost: Floats,
        at_most: int | None,
        only: Mask | None,
        touching: Floats | None,
        gap: float,
        nodes: int,
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
        if touching is not None and len(touching):
            among = csr_array(touching[:, turning.free])
            beside = csr_array((len(touching), 2 * count))
            constraints.append(LinearConstraint(hstack([beside, among]), 1 - _ROUNDING, np.inf))
        counted = np.full(count, at_most is not None)
        with hushed():
            return milp(
                cost,
                constraints=constraints,
                integrality=np.concatenate([np.ones(count), np.zeros(count), counted]),
                bounds=Bounds(
                    np.concatenate([self.low * allowed, np.zeros(2 * count)]),
                    np.concatenate([self.high * allowed, most * allowed, allowed]),
                ),
                options={"node_limit": nodes, "time_limit": _AT_LAST_S, "mip_rel_gap": gap},
            )


def worst_alike(short: Floats, alike: Indices) -> Mask:
    """Of the demands that are missed, the one that is missed by most of those that are alike."""
    chosen = np.zeros(len(short), bool)
    missed = np.flatnonzero(short > MEETS)
    order = missed[np.lexsort((-short[missed], alike[missed]))]
    chosen[order[np.diff(alike[order], prepend=-1) > 0]] = True
    return chosen
