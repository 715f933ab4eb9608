"""Which cars may pass which, on every two neighbouring tracks.

G6 and G7, docs/theory.md. Each car is taken the worse way round.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix, Track
from catalog.survey import Survey
from clearance.geometry.meets import MeetingSide, meeting_gaps_mm
from clearance.judge.allowance import margins_of, meeting_budget
from clearance.judge.fleet import Fleet
from clearance.judge.structure import Structure
from clearance.judge.sweep import passages
from clearance.judge.verdict import NOT_MEASURED, PASSES, Codes, judge_gaps

__all__ = ["Meeting", "PairFigures", "barred", "meetings", "tightest_pair", "worst_code"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_FOREMOST = 64  # cars a side that are tried first for the tightest pair
_PAIRS_AT_ONCE = 1 << 22


@dataclass(frozen=True, eq=False)
class PairFigures:
    """Gaps and allowances of every pair of some inner with some outer cars, shape (i, j). [mm]"""

    gap_mm: Floats
    allowance_mm: Floats

    @property
    def codes(self) -> Codes:
        """The verdict of each pair; cars with nothing at one height pass."""
        return judge_gaps(self.gap_mm, self.allowance_mm)


@dataclass(frozen=True, eq=False)
class Meeting:
    """All that passes all on two neighbouring tracks.

    Attributes
    ----------
    structure, fleet
        What was asked.
    inner, outer
        The two tracks.
    inner_side, outer_side
        What each car turns to the other track there; (n, k), the worse way round.
    can_run
        Which cars can stand on each of the two tracks, shape (2, n).
    """

    structure: Structure
    fleet: Fleet
    inner: Track
    outer: Track
    inner_side: MeetingSide
    outer_side: MeetingSide
    can_run: NDArray[np.bool_]

    def stranded(self, chosen: NDArray[np.bool_]) -> list[tuple[str, str]]:
        """Which of the chosen cars cannot stand on which of the two tracks: id and track."""
        return [
            (self.fleet.ids[car], track.name)
            for track, can_run in zip((self.inner, self.outer), self.can_run, strict=True)
            for car in np.flatnonzero(chosen & ~can_run)
        ]

    @cached_property
    def barred(self) -> list[tuple[int, int, int]]:
        """The pairs of all cars that do not pass: inner car, outer car, code."""
        everybody = np.arange(len(self.fleet))
        return list(barred(self, everybody, everybody))

    def barred_with(self, chosen: NDArray[np.bool_]) -> list[tuple[int, int, int]]:
        """Those of `barred` in which one of the chosen cars is."""
        return [pair for pair in self.barred if chosen[pair[0]] or chosen[pair[1]]]

    @property
    def available_mm(self) -> float:
        """Between the two centrelines. [mm]"""
        return self.outer.radius_mm - self.inner.radius_mm

    def figures(self, inner: Indices, outer: Indices) -> PairFigures:
        """Gap and allowance of each car in ``inner`` with each in ``outer``."""
        gap = meeting_gaps_mm(_rows(self.inner_side, inner), _rows(self.outer_side, outer))
        tolerance = self.fleet.tolerance_mm
        budget = meeting_budget(
            margins_of(self.structure.helix), tolerance[inner][:, None], tolerance[outer][None, :]
        )
        return PairFigures(gap, budget.total_mm)

    def close(self, spare_mm: float) -> tuple[Indices, Indices]:
        """The cars that could be in a pair with less than ``spare_mm`` to spare, at the most.

        Heights are left aside and the widest tolerance is taken, so none is missed.
        """
        inner = np.flatnonzero(self.can_run[0])
        outer = np.flatnonzero(self.can_run[1])
        if not len(inner) or not len(outer):
            return inner, outer
        reach = self.inner_side.radius_mm.max(axis=1)
        nearest = self.outer_side.radius_mm.min(axis=1)
        tolerance = self.fleet.tolerance_mm
        margins = margins_of(self.structure.helix)
        widest_inner, widest_outer = tolerance[inner].max(), tolerance[outer].max()

        def could(gap: Floats, own: Floats, other: float) -> NDArray[np.bool_]:
            allowance = meeting_budget(margins, own, other).total_mm
            return np.asarray(gap - allowance < spare_mm)

        return (
            inner[could(nearest[outer].min() - reach[inner], tolerance[inner], widest_outer)],
            outer[could(nearest[outer] - reach[inner].max(), tolerance[outer], widest_inner)],
        )


def meetings(helix: Helix, fleet: Fleet, survey: Survey | None = None) -> list[Meeting]:
    """The meeting of every two neighbouring tracks, from the inside outwards."""
    if not len(fleet):
        return []
    structure = Structure(helix, survey)
    return [_meeting(structure, fleet, inner, outer) for inner, outer in pairwise(helix.tracks)]


def _meeting(structure: Structure, fleet: Fleet, inner: Track, outer: Track) -> Meeting:
    greatest = [p.reach.greatest_radius_mm for p in passages(structure, inner, fleet)]
    least = [p.reach.least_radius_mm for p in passages(structure, outer, fleet)]
    inner_side = _side(fleet, np.maximum(*greatest), -np.inf)
    outer_side = _side(fleet, np.minimum(*least), np.inf)
    can_run = ~np.isnan([side.radius_mm.max(axis=1) for side in (inner_side, outer_side)])
    return Meeting(structure, fleet, inner, outer, inner_side, outer_side, can_run)


def _side(fleet: Fleet, radius: Floats, empty: float) -> MeetingSide:
    """Blocks end to end become rows of blocks, a row a car."""
    column = np.arange(len(fleet.block_car)) - fleet.block_start[fleet.block_car]
    shape = (len(fleet), int(column.max()) + 1)

    def rows(figures: Floats, nothing: float) -> Floats:
        padded = np.full(shape, nothing)
        padded[fleet.block_car, column] = figures
        return padded

    blocks = fleet.blocks
    return MeetingSide(
        rows(radius, empty), rows(blocks.bottom_mm, np.inf), rows(blocks.top_mm, -np.inf)
    )


def _rows(side: MeetingSide, chosen: Indices) -> MeetingSide:
    return MeetingSide(*(figures[chosen] for figures in side))


def barred(meeting: Meeting, inner: Indices, outer: Indices) -> Iterator[tuple[int, int, int]]:
    """The pairs that do not pass: inner car, outer car, code; of the cars named, by number."""
    near_inner, near_outer = meeting.close(0.0)
    rows, columns = np.intersect1d(near_inner, inner), np.intersect1d(near_outer, outer)
    for some, figures in _in_strips(meeting, rows, columns):
        codes = figures.codes
        for row, column in zip(*np.nonzero(codes != PASSES), strict=True):
            yield int(some[row]), int(columns[column]), int(codes[row, column])


def worst_code(found: Sequence[Meeting], chosen: NDArray[np.bool_]) -> int:
    """The worst verdict of all pairs in which one of the chosen cars is."""
    codes = [code for meeting in found for _, _, code in meeting.barred_with(chosen)]
    if any(meeting.stranded(chosen) for meeting in found):
        codes.append(NOT_MEASURED)
    return max(codes, default=PASSES)


def tightest_pair(meeting: Meeting) -> tuple[int, int, float] | None:
    """The pair with the least to spare, and that spare; None: no two cars can meet. [mm]"""
    inner, outer = np.flatnonzero(meeting.can_run[0]), np.flatnonzero(meeting.can_run[1])
    if not len(inner) or not len(outer):
        return None
    reach = meeting.inner_side.radius_mm.max(axis=1)[inner]
    nearest = meeting.outer_side.radius_mm.min(axis=1)[outer]
    # The tightest of the foremost few says how tight a pair must be to matter at all.
    few = inner[np.argsort(-reach)[:_FOREMOST]], outer[np.argsort(nearest)[:_FOREMOST]]
    _, _, spare = _tightest(meeting, *few)
    return _tightest(meeting, *meeting.close(np.nextafter(spare, np.inf)))


def _tightest(meeting: Meeting, inner: Indices, outer: Indices) -> tuple[int, int, float]:
    best = -1, -1, np.inf
    for some, figures in _in_strips(meeting, inner, outer):
        spare = figures.gap_mm - figures.allowance_mm
        row, column = np.unravel_index(np.argmin(spare), spare.shape)
        if best[0] < 0 or spare[row, column] < best[2]:
            best = int(some[row]), int(outer[column]), float(spare[row, column])
    return best


def _in_strips(
    meeting: Meeting, inner: Indices, outer: Indices
) -> Iterator[tuple[Indices, PairFigures]]:
    """Some inner cars at a time with all outer ones, so that memory stays bounded."""
    if not len(outer):
        return
    rows = max(1, _PAIRS_AT_ONCE // len(outer))
    for first in range(0, len(inner), rows):
        some = inner[first : first + rows]
        yield some, meeting.figures(some, outer)
