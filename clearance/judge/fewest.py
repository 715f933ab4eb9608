"""The fewest brackets that have to be touched, and of these ways the least turning.

"Levelling", docs/theory.md. What makes the program hard is which brackets to touch. So that is
asked by itself: some brackets cannot all stay where they are, wherever the others go; each such set
is found with a small program without whole steps, and the fewest brackets that have a part in every
set found so far are the least that can do.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.judge.hushed import hushed
from clearance.judge.turning import Answer
from clearance.judge.turning_program import MEETS, Program, Turning, worst_alike

__all__ = ["Touching", "fewer_turns"]

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Indices = NDArray[np.intp]
Mask = NDArray[np.bool_]

_ASKED = 300  # programs without whole steps, in all, before whole ones are asked, which cost more
_REFUSED = 3  # choices of brackets that would do but for whole steps
_NODES, _NODES_ONLY = 400, 2000  # of the solver: with all brackets, with a few
_NODES_MORE = 10  # for less turning, where the fewest brackets were hard to find
_DIGITS = 1e6  # shares are rounded upwards to so many parts, which asks for less
_NOISE = 1e-9


class Touching:
    """What is known of which brackets must be touched; it stays true where more is demanded.

    Parameters
    ----------
    brackets
        How many there are.
    """

    def __init__(self, brackets: int) -> None:
        self.rows: Floats = np.zeros((0, brackets))
        """Shares, shape (c, brackets): those of the brackets touched add up to 1 at least."""
        self.least = 0
        """So many must be touched at the least."""
        self.asked = 0
        """How many programs it took."""

    def add(self, shares: Floats) -> None:
        """Take up more such rows, shape (brackets,) or (c, brackets)."""
        whole = np.ceil(np.atleast_2d(shares) * _DIGITS - _NOISE) / _DIGITS
        self.rows = np.concatenate([self.rows, np.minimum(whole, 1.0)])

    def fewest(self, free: Indices) -> Mask | None:
        """The fewest of the brackets that can move with which all is kept; None: none do."""
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        chosen = np.zeros(self.rows.shape[1], bool)
        if not len(self.rows):
            return chosen
        with hushed():
            found = milp(
                np.ones(len(free)),
                constraints=LinearConstraint(csr_array(self.rows[:, free]), 1 - _NOISE, np.inf),
                integrality=np.ones(len(free)),
                bounds=Bounds(0, 1),
            )
        if found.x is None:
            return None
        chosen[free] = found.x > 0.5
        return chosen


class _Conflict(NamedTuple):
    """Shares of brackets that cannot all stay, (brackets,), and the demands that say so."""

    shares: Floats
    demands: Indices

    @property
    def brackets(self) -> Indices:
        """Which they are, those with the least share first."""
        some = np.flatnonzero(self.shares)
        return np.asarray(some[np.argsort(self.shares[some], kind="stable")])


class _Asking:
    """The question without whole steps, put for some brackets that may move."""

    def __init__(self, turning: Turning, steps: Whole) -> None:
        from scipy.sparse import csr_array

        self.demands, self.step_mm = turning.demands, turning.step_mm
        rows = np.where(np.abs(self.demands.rows) > _NOISE, self.demands.rows, 0.0)
        self.rows = csr_array(rows * self.step_mm)
        self.low, self.high = turning.low.astype(float), turning.high.astype(float)
        self.asked = 0
        self.active = np.zeros(len(self.demands.least), bool)
        self._take(self.demands.least)
        self._take(turning.short(steps) + self.step_mm)

    def _take(self, short: Floats) -> bool:
        """Take up the demands that are missed the most; whether there are any."""
        more = worst_alike(np.where(self.active, 0.0, short), self.demands.alike)
        self.active |= more
        return bool(more.any())

    def single(self) -> Floats:
        """Of each demand that is missed as it stands: which brackets it takes, (c, brackets).

        Without those that follow from others.
        """
        missed = np.flatnonzero(self.demands.least > 2 * MEETS)
        if not len(missed):
            return np.zeros((0, len(self.low)))
        rows = self.rows[missed].toarray()
        helps = np.maximum(rows * self.low, rows * self.high)
        need = self.demands.least[missed] - MEETS
        shares = np.unique(np.ceil(np.minimum(helps / need[:, None], 1.0) * _DIGITS), axis=0)
        kept: list[Floats] = []
        for row in shares[np.argsort(shares.sum(axis=1), kind="stable")]:
            if not any((other <= row).all() for other in kept):
                kept.append(row)
        return np.array(kept) / _DIGITS

    def conflict(self, may: Mask, among: Indices | None = None) -> _Conflict | None:
        """Why it cannot be done by moving some brackets alone; None: it can, steps not whole.

        ``among``: only these demands are looked at.
        """
        while True:
            number = np.flatnonzero(self.active) if among is None else among
            missed, prices, steps = self._least_missed(may, number)
            if missed > 2 * MEETS:
                return self._shares(may, number, prices)
            if among is not None or not self._take(self.demands.least - self.rows @ steps):
                return None

    def _least_missed(self, may: Mask, number: Indices) -> tuple[float, Floats, Floats]:
        """By how much demands must be missed at the least, each one's price, and the steps."""
        from scipy.optimize import linprog
        from scipy.sparse import csc_array, hstack

        self.asked += 1
        free = np.flatnonzero(may)
        missing = csc_array(np.full((len(number), 1), -1.0))
        found = linprog(
            np.append(np.zeros(len(free)), 1.0),
            hstack([-self.rows[number][:, free], missing], format="csc"),
            -self.demands.least[number],
            bounds=[*zip(self.low[free], self.high[free], strict=True), (0.0, None)],
        )
        steps = np.zeros(len(self.low))
        steps[free] = found.x[:-1]
        return float(found.fun), np.maximum(-found.ineqlin.marginals, 0.0), steps

    def _shares(self, may: Mask, number: Indices, prices: Floats) -> _Conflict | None:
        """What the priced demands together ask of the brackets that stay.

        Added up they are ``sum of answers n_k >= least``, of which those that may move do so much
        at the most; the rest falls to the others, each of which can do no more than all of it.
        """
        priced = prices > _NOISE
        rows, prices = number[priced], prices[priced]
        answers = self.rows[rows].T @ prices
        answers[np.abs(answers) < _NOISE] = 0.0
        helps = np.maximum(answers * self.low, answers * self.high)
        # Each demand may be missed by the solver's own rounding.
        left = prices @ self.demands.least[rows] - helps[may].sum() - MEETS * prices.sum()
        if left <= MEETS:
            return None
        return _Conflict(np.where(may, 0.0, np.minimum(helps / left, 1.0)), rows)

    def smaller(self, conflict: _Conflict) -> _Conflict:
        """The same with fewer brackets: those left out that need not stay."""
        for demands in (conflict.demands, None):  # a few demands are soon asked
            tried: set[int] = set()
            while left := [it for it in conflict.brackets.tolist() if it not in tried]:
                if len(conflict.brackets) == 1:
                    break
                tried.add(left[0])
                may = conflict.shares == 0
                may[left[0]] = True
                found = self.conflict(may, None if demands is None else conflict.demands)
                conflict = found or conflict
        return conflict


def fewer_turns(turning: Turning, good: Answer, touching: Touching | None = None) -> Answer:
    """Meet all demands with the fewest brackets touched, and of these ways the least turning.

    Parameters
    ----------
    turning
        The question.
    good
        An answer to it.
    touching
        What is known from the same question with fewer demands; what is found is added.

    Returns
    -------
    Answer
        The best that was found with so much asked: the same on every machine.
    """
    if good.proved:
        return good
    touching = touching or Touching(len(turning.low))
    program = Program(turning, good.steps)
    best = _fewest(turning, program, good.steps, touching)
    soon = _touched(best) <= touching.least
    if not soon:
        most = _touched(best) - 1
        fewer, sure = program.whole(
            program.fewest, at_most=most, touching=touching.rows, nodes=_NODES
        )
        if fewer is not None:
            best = fewer
        if sure:
            touching.least = max(touching.least, _touched(best))
    # What these brackets can do at the least, then whether others can do with less.
    most, known = _touched(best), touching.rows
    least, _ = program.whole(
        program.least, at_most=most, only=best != 0, touching=known, nodes=_NODES_ONLY
    )
    best = _better(best, least)
    nodes = _NODES if soon else _NODES_MORE
    least, sure = program.whole(program.least, at_most=most, touching=known, nodes=nodes)
    best = _better(best, least)
    return Answer(best, _touched(best) <= touching.least, sure and least is not None)


def _fewest(turning: Turning, program: Program, steps: Whole, touching: Touching) -> Whole:
    """An answer with few brackets; what is found of those that must be touched is noted."""
    asking = _Asking(turning, steps)
    touching.add(asking.single())
    asked, refused = touching.asked, 0
    while _touched(steps) > touching.least and touching.asked < _ASKED:
        chosen = touching.fewest(turning.free)
        if chosen is None:
            break
        touching.least = max(touching.least, int(chosen.sum()))
        if touching.least >= _touched(steps):
            break
        found = list(_conflicts(asking, chosen))
        touching.asked = asked + asking.asked
        if found:
            touching.add(np.array(found))
            continue
        # It can be done with these but for whole steps.
        program.active |= asking.active
        whole, sure = program.whole(program.least, at_most=None, only=chosen, nodes=_NODES_ONLY)
        if whole is not None:
            steps = whole
        elif sure and refused < _REFUSED:
            touching.add((~chosen).astype(float))
            refused += 1
        else:
            break  # all in one program is sooner done
    program.active |= asking.active
    return steps


def _conflicts(asking: _Asking, chosen: Mask) -> Iterator[Floats]:
    """Shares of brackets that cannot all stay, apart from one another; none: these do."""
    may = chosen.copy()
    while (conflict := asking.conflict(may)) is not None:
        conflict = asking.smaller(conflict)
        yield conflict.shares
        may[conflict.brackets] = True


def _touched(steps: Whole) -> int:
    return int(np.count_nonzero(steps))


def _better(one: Whole, other: Whole | None) -> Whole:
    """The one that touches fewer brackets, then the one that turns less, then the first."""
    if other is None:
        return one
    return min(one, other, key=lambda steps: (_touched(steps), int(np.abs(steps).sum())))
