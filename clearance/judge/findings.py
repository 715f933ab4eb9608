"""What a check finds, as data: one column a check and track, for all cars at once.

Arrays become findings here, once, on the way out. Everything that is shown or written comes from
`CheckResult`; nothing is worded or rounded for people before `clearance.show`.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix
from clearance.judge.allowance import Budget
from clearance.judge.fleet import FACINGS, Fleet
from clearance.judge.places import Place
from clearance.judge.structure import Structure
from clearance.judge.verdict import NOT_MEASURED, PASSES, VERDICTS, Codes, judge_gaps

__all__ = ["CheckColumn", "CheckResult", "Finding", "Hung", "plain_column"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


_SAME_MM = 1e-6  # between the two ways round, only rounding


class Hung(NamedTuple):
    """Something that hangs over a track, and the gap that a car leaves beneath it. [mm]

    Of a row of equal ones each has its own ``station``. The gap is that of the worse way round,
    which is ``facing``.
    """

    place: Place
    station: float
    headroom_mm: float
    gap_mm: float
    facing: str


@dataclass(frozen=True)
class Finding:
    """One check of one car on one track: what governs, and the figures behind the verdict. [mm]

    ``other_way_gap_mm`` is the gap with the car turned round; ``reason`` says what is missing;
    ``more`` has figures that only this check has, by name. Figures are None where there are none.
    """

    car: str
    track: str
    check: str
    code: int
    lowers: bool
    location: dict[str, Any] | None
    facing: str
    required_mm: float | None
    available_mm: float | None
    gap_mm: float | None
    allowance_mm: float | None
    allowance_parts: dict[str, float]
    tolerance_parts: dict[str, float]
    other_way_gap_mm: float | None
    reason: str
    more: dict[str, float]

    @property
    def verdict(self) -> str:
        """One of the four words."""
        return VERDICTS[self.code]

    @property
    def spare_mm(self) -> float | None:
        """Gap less allowance: what is left when every margin is kept. [mm]"""
        if self.gap_mm is None or self.allowance_mm is None:
            return None
        return self.gap_mm - self.allowance_mm

    @property
    def urgency(self) -> tuple[bool, int, float]:
        """A key that puts the worst finding first; what lowers no verdict comes last."""
        spare = self.spare_mm
        return not self.lowers, -self.code, float("inf") if spare is None else spare


@dataclass(frozen=True, eq=False)
class CheckColumn:
    """One check on one track, for n cars both ways round: row 0 front uphill, row 1 downhill.

    Attributes
    ----------
    check, track
        Which check, on which track.
    applies
        Whose finding this is at all, shape (n,).
    gap_mm, available_mm
        Shape (2, n). [mm] nan: not measured.
    budget
        The allowance; its arrays broadcast against (2, n).
    place
        Which of ``places`` governs, shape (2, n); -1: no place in particular.
    places
        The places.
    each_gap_mm
        The gap at each of ``places``, shape (places, 2, n); None: there is but one. [mm]
    lowers_unmeasured
        Whether this check lowers a car's verdict when a figure is missing.
    apart
        Whether it is reported beside the verdict and never lowers it.
    cap
        The best verdict that can be given, one for all or shape (2, n); worse than "passes" where
        something else than the gap decides.
    reason
        What is missing, for whom it is not measured.
    more
        Figures that only this check has, by name, shape (2, n).
    """

    check: str
    track: str
    applies: Mask
    gap_mm: Floats
    available_mm: Floats
    budget: Budget
    place: NDArray[np.intp]
    places: tuple[Place, ...] = ()
    each_gap_mm: Floats | None = None
    lowers_unmeasured: bool = True
    apart: bool = False
    cap: int | Codes = PASSES
    reason: str = ""
    more: dict[str, Floats] = field(default_factory=dict)

    @cached_property
    def codes(self) -> Codes:
        """The verdict each way round, shape (2, n)."""
        return np.maximum(
            judge_gaps(self.gap_mm, self.budget.total_mm), np.asarray(self.cap, np.int8)
        )

    @cached_property
    def governing(self) -> NDArray[np.intp]:
        """The worse way round of each car, shape (n,): by verdict, then by what is spare."""
        spare = self.gap_mm - self.budget.total_mm
        with np.errstate(invalid="ignore"):
            worse = (self.codes[1] > self.codes[0]) | (
                (self.codes[1] == self.codes[0]) & (spare[1] < spare[0])
            )
        governing: NDArray[np.intp] = worse.astype(np.intp)
        return governing

    @cached_property
    def effect(self) -> Codes:
        """What each way round does to the car's verdict, shape (2, n)."""
        counted = self.lowers_unmeasured | (self.codes != NOT_MEASURED)
        counts = self.applies & counted & (not self.apart)
        return np.where(counts, self.codes, PASSES).astype(np.int8)


def plain_column(
    check: str,
    track: str,
    applies: Mask,
    available_mm: Floats | float,
    gap_mm: Floats,
    reason: str = "",
    *,
    cap: int | Codes = PASSES,
    more: dict[str, Floats] | None = None,
) -> CheckColumn:
    """A check that is the same both ways round, at no place in particular, without an allowance.

    Parameters are those of `CheckColumn`, of shape (n,). A figure that is missing lowers nothing.
    """
    both = np.broadcast_to(gap_mm, (2, len(gap_mm)))
    return CheckColumn(
        check,
        track,
        applies,
        both,
        np.broadcast_to(available_mm, both.shape),
        Budget(0.0, {}),
        np.full(both.shape, -1, np.intp),
        lowers_unmeasured=False,
        cap=np.broadcast_to(cap, both.shape),
        reason=reason,
        more={name: np.broadcast_to(values, both.shape) for name, values in (more or {}).items()},
    )


@dataclass(frozen=True, eq=False)
class CheckResult:
    """All findings of a fleet on a helix. Columns are in the order of tracks, then checks."""

    structure: Structure
    fleet: Fleet
    columns: tuple[CheckColumn, ...]

    @property
    def helix(self) -> Helix:
        """The helix, as designed."""
        return self.structure.helix

    def on_track(self, track: str) -> list[CheckColumn]:
        """The columns of one track."""
        return [column for column in self.columns if column.track == track]

    def facing_codes(self, track: str) -> Codes:
        """The verdict of each car on a track each way round, shape (2, n)."""
        worst: Codes = np.zeros((2, len(self.fleet)), np.int8)
        for column in self.on_track(track):
            worst = np.maximum(worst, column.effect)
        return worst

    def track_codes(self, track: str) -> Codes:
        """The verdict of each car on a track, both ways round, shape (n,)."""
        worse: Codes = self.facing_codes(track).max(axis=0)
        return worse

    def codes(self) -> Codes:
        """The worst verdict of each car over all tracks, shape (n,)."""
        tracks = [self.track_codes(track.name) for track in self.helix.tracks]
        return np.max(tracks, axis=0) if len(self.fleet) else np.zeros(0, np.int8)

    def findings(self, car: int, track: str) -> Iterator[Finding]:
        """The findings of one car on one track, worst first."""
        found = [
            self._finding(column, car) for column in self.on_track(track) if column.applies[car]
        ]
        # What lowers no verdict comes last, whatever it says.
        return iter(sorted(found, key=lambda finding: finding.urgency))

    def remarks(self, car: int) -> tuple[str, ...]:
        """What is doubtful about how a car was described, though it is possible."""
        plan = self.fleet.plans.get(car)
        return plan.remarks if plan else ()

    def obstacles(self, car: int, track: str) -> list[Hung]:
        """All that hangs over a track, from foot to head, as far as a car comes beneath it."""
        on = next(it for it in self.helix.tracks if it.name == track)
        found = []
        for column in self.on_track(track):
            if column.each_gap_mm is None or not column.applies[car]:
                continue
            # A place of the deck, behind these, has no gap of its own: it is there to govern.
            rows = zip(self.structure.hanging(on), column.each_gap_mm[..., car], strict=True)
            for hung, gaps in rows:
                gaps = np.where(np.isfinite(gaps), gaps, np.inf)
                way = int(gaps[1] < gaps[0] - _SAME_MM)
                found += [
                    Hung(hung.place, station, hung.headroom_mm, float(gaps.min()), FACINGS[way])
                    for station in hung.place.stations
                    if np.isfinite(gaps[way])
                ]
        return sorted(found, key=lambda hung: (hung.station, hung.place.obstacle))

    def _finding(self, column: CheckColumn, car: int) -> Finding:
        way = int(column.governing[car])

        def figure(values: Any, row: int = way) -> float | None:
            value = float(np.broadcast_to(values, column.gap_mm.shape)[row, car])
            return None if np.isnan(value) else value

        def itemised(parts: dict[str, Any]) -> dict[str, float]:
            shown = {name: figure(values) for name, values in parts.items()}
            return {name: value for name, value in shown.items() if value is not None}

        gap, available = figure(column.gap_mm), figure(column.available_mm)
        place = int(column.place[way, car])
        code = int(column.codes[way, car])
        capped = int(np.broadcast_to(column.cap, column.gap_mm.shape)[way, car])
        lopsided = bool(self.fleet.lopsided[car])
        return Finding(
            car=self.fleet.ids[car],
            track=column.track,
            check=column.check,
            code=code,
            lowers=(column.lowers_unmeasured or code != NOT_MEASURED) and not column.apart,
            location=(
                column.places[place].located(self.helix.brackets_per_turn) if place >= 0 else None
            ),
            facing=FACINGS[way],
            required_mm=None if gap is None or available is None else available - gap,
            available_mm=available,
            gap_mm=gap,
            allowance_mm=None if gap is None else figure(column.budget.total_mm),
            allowance_parts={} if gap is None else itemised(column.budget.parts),
            tolerance_parts={} if gap is None else itemised(column.budget.tolerances),
            other_way_gap_mm=figure(column.gap_mm, 1 - way) if lopsided else None,
            reason=column.reason if code == NOT_MEASURED or capped == NOT_MEASURED else "",
            more=itemised(column.more),
        )
