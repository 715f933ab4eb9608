"""What a check finds, as data: one column a check and track, for all cars at once.

Arrays become findings here, once, on the way out. Everything that is shown or written comes from
`CheckResult`; nothing is worded or rounded for people before `clearance.show`.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix
from clearance.geometry.line import station_angle_deg, station_turn
from clearance.judge.allowance import Budget
from clearance.judge.fleet import FACINGS, Fleet
from clearance.judge.verdict import NOT_MEASURED, PASSES, VERDICTS, Codes, judge_gaps

__all__ = ["CheckColumn", "CheckResult", "Finding", "Place", "whole"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


class Place(NamedTuple):
    """Where on the line: a station, and what stands there.

    A row of equal ones reaches from ``station`` to ``last_station``, bracket by bracket.
    """

    station: float
    obstacle: str
    last_station: float | None = None

    @property
    def stations(self) -> list[float]:
        """Every station of the row."""
        if self.last_station is None:
            return [self.station]
        return [self.station + step for step in range(int(self.last_station - self.station) + 1)]

    def located(self, brackets_per_turn: int) -> dict[str, Any]:
        """The place as the results give it: station, turn, angle and obstacle.

        ``everywhere`` says that it is the same at every bracket of the row.
        """
        return {
            "station": whole(self.station),
            "turn": station_turn(self.station, brackets_per_turn),
            "angle_deg": station_angle_deg(self.station, brackets_per_turn),
            "obstacle": self.obstacle,
            "everywhere": self.last_station is not None,
        }


def whole(station: float) -> float | int:
    """A bracket's number as a whole one; a place between brackets as it is."""
    return int(station) if station == int(station) else station


@dataclass(frozen=True)
class Finding:
    """One check of one car on one track: what governs, and the figures behind the verdict. [mm]

    ``other_way_gap_mm`` is the gap with the car turned round; ``reason`` says what is missing.
    Figures are None where there are none.
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
    lowers
        Whether this check lowers a car's verdict when a figure is missing.
    cap
        The best verdict that can be given; worse than "passes" where a part was not worked out.
    reason
        What is missing, for whom it is not measured.
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
    lowers: bool = True
    cap: int = PASSES
    reason: str = ""

    @cached_property
    def codes(self) -> Codes:
        """The verdict each way round, shape (2, n)."""
        return np.maximum(judge_gaps(self.gap_mm, self.budget.total_mm), np.int8(self.cap))

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
        counts = self.applies & (self.lowers | (self.codes != NOT_MEASURED))
        return np.where(counts, self.codes, PASSES).astype(np.int8)


@dataclass(frozen=True, eq=False)
class CheckResult:
    """All findings of a fleet on a helix. Columns are in the order of tracks, then checks."""

    helix: Helix
    fleet: Fleet
    columns: tuple[CheckColumn, ...]

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
        return iter(sorted(found, key=_urgency))

    def obstacles(self, car: int, track: str) -> list[tuple[float, float]]:
        """Every obstacle over a track: its station, and the gap this car leaves there. [mm]"""
        return sorted(
            (station, float(column.each_gap_mm[number, column.governing[car], car]))
            for column in self.on_track(track)
            if column.each_gap_mm is not None and column.applies[car]
            for number, place in enumerate(column.places)
            for station in place.stations
        )

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
        lopsided = bool(self.fleet.lopsided[car])
        return Finding(
            car=self.fleet.ids[car],
            track=column.track,
            check=column.check,
            code=code,
            lowers=column.lowers or code != NOT_MEASURED,
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
            reason=column.reason if NOT_MEASURED in (code, column.cap) else "",
        )


def _urgency(finding: Finding) -> tuple[bool, int, float]:
    spare = finding.spare_mm
    return not finding.lowers, -finding.code, float("inf") if spare is None else spare
