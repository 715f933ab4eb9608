"""What would let a car pass that does not: the least changes, each of them checked again.

Brackets turned; so much off its top; one track, or one way round, only; not past some cars.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.car import Block, Car
from catalog.columns import CarTable
from clearance.judge.check import check
from clearance.judge.findings import CheckResult
from clearance.judge.fleet import FACINGS, Fleet
from clearance.judge.level_demands import NO_LIMITS, LevelLimits
from clearance.judge.levelled import Levelling
from clearance.judge.levelling import level, overhead_now
from clearance.judge.lifting import Lifting
from clearance.judge.meets import Meeting, meetings
from clearance.judge.structure import Structure
from clearance.judge.verdict import PASSES

__all__ = ["Mend", "Shaved", "mends"]

Mask = NDArray[np.bool_]

_ROUNDS = 8  # each cuts a millimetre more where the last was not enough
_NOISE_MM = 1e-9


class Shaved(NamedTuple):
    """How much comes off the top of a block; "" as its name: the car is one block. [mm]"""

    block: str
    off_mm: float


@dataclass(frozen=True)
class Mend:
    """One change that lets a car pass.

    Attributes
    ----------
    kind
        "brackets": turned as ``levelling`` says; "off_top": ``shaved`` comes off its blocks;
        "one_track": it passes on ``tracks`` as it is; "one_way": it does so ``facing`` that way;
        "not_past": there it passes, but must not meet ``cars``.
    tracks
        On which tracks it then passes.
    facing
        Which way round; "": either.
    wider
        Whether the brackets make the line steeper, or bend it more, than it is now and as drawn.
    """

    kind: Literal["brackets", "off_top", "one_track", "one_way", "not_past"]
    tracks: tuple[str, ...]
    facing: str = ""
    shaved: tuple[Shaved, ...] = ()
    cars: tuple[str, ...] = ()
    levelling: Levelling | None = None
    wider: bool = False


def mends(result: CheckResult, others: Fleet) -> list[list[Mend]]:
    """Look for what would let the cars of a check pass.

    Parameters
    ----------
    result
        Of the cars that were asked about.
    others
        The cars that must go on passing, and that they may meet; those asked about may be among
        them.

    Returns
    -------
    list
        For each car of the check, what was found; empty: it passes as it is, or nothing helps.
    """
    fleet = result.fleet
    known = set(fleet.ids)
    rest = np.array([name not in known for name in others.ids], bool)
    everybody = Fleet(CarTable.joined([fleet.table, others.select(rest).table]))
    around = _Around(result, everybody)
    return [list(_of(result, car, around)) for car in range(len(fleet))]


class _Around:
    """All that run on the helix of a check, and what is asked of them once."""

    def __init__(self, result: CheckResult, everybody: Fleet) -> None:
        self.helix, self.survey = result.helix, result.structure.survey
        self.everybody = everybody

    @cached_property
    def meetings(self) -> Sequence[Meeting]:
        """Who may not pass whom."""
        return meetings(self.helix, self.everybody, self.survey)

    @cached_property
    def overhead(self) -> CheckResult:
        """How all fare overhead now."""
        return overhead_now(self.helix, self.everybody, self.survey)


def _of(result: CheckResult, car: int, around: _Around) -> Iterator[Mend]:
    names = [track.name for track in result.helix.tracks]
    codes = {name: result.facing_codes(name)[:, car] for name in names}
    passing = tuple(name for name in names if codes[name].max() == PASSES)
    low = tuple(name for name in names if _is_low(result, car, name))
    if low:
        yield from _brackets(around, car, low)
        yield from _off_top(result, car, low)
    if passing and len(passing) < len(names):
        yield Mend("one_track", passing)
    for way, facing in enumerate(FACINGS):
        one_way = [it for it in names if codes[it][way] == PASSES < codes[it].max()]
        if one_way:
            yield Mend("one_way", tuple(one_way), facing)
    runs = [name for name in names if codes[name].min() == PASSES]
    yield from _not_past(around, car, runs)


def _is_low(result: CheckResult, car: int, track: str) -> bool:
    """Whether something hangs too low over a car."""
    return any(
        column.check == "overhead"
        and column.applies[car]
        and bool((column.gap_mm < column.budget.total_mm)[:, car].any())
        for column in result.on_track(track)
    )


def _passes(result: CheckResult, car: int, tracks: Sequence[str]) -> bool:
    return all(int(result.track_codes(track)[car]) == PASSES for track in tracks)


def _brackets(around: _Around, car: int, low: Sequence[str]) -> Iterator[Mend]:
    """What turning nuts does; where the limits of the line forbid it, with the least wider ones."""
    helix, survey, everybody = around.helix, around.survey, around.everybody
    if helix.adjusters is None:
        return
    limits: LevelLimits | None = NO_LIMITS
    while limits is not None:
        found = level(
            helix,
            everybody,
            survey,
            named=[everybody.ids[car]],
            tracks=low,
            limits=limits,
            keep_others=True,
            look_beside=False,
            asked=around.overhead,
        )
        if found.cannot is None:
            break
        limits = found.would_do if limits == NO_LIMITS else None
    if limits is None or not found.moves:
        return
    steps = np.zeros(helix.last_station + 1, np.int64)
    for move in found.moves:
        steps[move.station] = round(move.nut_turns / helix.adjusters.step)
    after = Lifting(helix, survey).after(steps)
    if _passes(check(after.helix, everybody.select([car]), after.survey), 0, low):
        yield Mend("brackets", tuple(low), levelling=found, wider=limits != NO_LIMITS)


def _off_top(result: CheckResult, car: int, low: Sequence[str]) -> Iterator[Mend]:
    """The least off each block that is too high, in whole millimetres."""
    (one,) = result.fleet.select([car]).table.cars()
    # However it is cut, it was measured as well as before.
    one = one.model_copy(update={"tolerance_mm": one.stated_tolerance_mm})
    blocks = list(one.blocks)
    off = [0.0] * max(len(blocks), 1)
    for _ in range(_ROUNDS):
        short = _short_mm(result.structure, [_cut(one, off, only) for only in range(len(off))], low)
        if short.max() <= 0:
            cut = _fleet_of(_cut(one, off))
            if _passes(check(result.helix, cut, result.structure.survey), 0, low):
                names = [it.name or f"block {n + 1}" for n, it in enumerate(blocks)] or [""]
                pairs = zip(names, off, strict=True)
                yield Mend(
                    "off_top", tuple(low), shaved=tuple(Shaved(*it) for it in pairs if it[1])
                )
            return
        off = [
            depth + (math.ceil(more - _NOISE_MM) if more > 0 else 0)
            for depth, more in zip(off, short.tolist(), strict=True)
        ]
        floors = [it.bottom_mm for it in blocks] or [one.underside_mm or 0.0]
        tops = [it.top_mm for it in blocks] or [one.height_mm]
        if any(top - depth <= floor for top, depth, floor in zip(tops, off, floors, strict=True)):
            return  # nothing would be left of it


def _cut(one: Car, off: Sequence[float], only: int | None = None) -> Car:
    """A car with its blocks cut down; ``only``: one block of it alone. Its records are not asked
    whether they go together: a car in the saw need not."""
    if not one.blocks:
        return one.model_copy(update={"height_mm": one.height_mm - off[0]})
    blocks: list[Block] = []
    for number, (block, depth) in enumerate(zip(one.blocks, off, strict=True)):
        if only in (None, number):
            blocks.append(block.model_copy(update={"top_mm": block.top_mm - depth}))
    height = max(block.top_mm for block in blocks)
    return one.model_copy(update={"blocks": tuple(blocks), "height_mm": height})


def _fleet_of(*cars: Car) -> Fleet:
    return Fleet(CarTable.from_cars(cars))


def _short_mm(
    structure: Structure, cars: Sequence[Car], tracks: Sequence[str]
) -> NDArray[np.float64]:
    """By how much each of some cars is short of its allowance overhead, at the most. [mm]"""
    distinct = [car.model_copy(update={"id": str(number)}) for number, car in enumerate(cars)]
    result = check(structure.helix, _fleet_of(*distinct), structure.survey, only="overhead")
    short = np.full(len(cars), -np.inf)
    for column in result.columns:
        if column.check == "overhead" and column.track in tracks:
            missing = (column.budget.total_mm - column.gap_mm).max(axis=0)
            short = np.fmax(short, np.where(column.applies, missing, -np.inf))
    return short


def _not_past(around: _Around, car: int, runs: Sequence[str]) -> Iterator[Mend]:
    """Whom a car must not meet on each track where it passes, its own like included."""
    everybody = around.everybody
    chosen = np.zeros(len(everybody), bool)
    chosen[car] = True
    for track in runs:
        past: list[int] = []
        for meeting in around.meetings:
            pairs = meeting.barred_with(chosen)
            if meeting.inner.name == track:
                past += [outer for inner, outer, _ in pairs if inner == car]
            if meeting.outer.name == track:
                past += [inner for inner, outer, _ in pairs if outer == car]
        if past:
            cars = tuple(everybody.ids[other] for other in sorted(set(past)))
            yield Mend("not_past", (track,), cars=cars)
