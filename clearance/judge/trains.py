"""Does a train go up as it is made up: every car, every coupling, and its length.

G8, docs/theory.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from catalog.helix import Helix, Track
from catalog.survey import Survey
from clearance.geometry.line import Screw
from clearance.judge.check import check
from clearance.judge.couplers import Coupling, couple
from clearance.judge.findings import CheckResult, Finding
from clearance.judge.fleet import Fleet
from clearance.judge.partners import FRONT, REAR
from clearance.judge.verdict import NOT_MEASURED, PASSES

__all__ = ["Joint", "Reach", "TrainResult", "check_train"]


@dataclass(frozen=True)
class Joint:
    """Two neighbours of a train on a track: the place of the first in the train, from its head."""

    place: int
    coupling: Coupling


@dataclass(frozen=True)
class Reach:
    """What a train's length is compared with on a track. [mm]

    ``foot_mm`` and ``head_mm`` are the leads before the first and beyond the last bracket.
    """

    turn_mm: float
    foot_mm: float
    head_mm: float


@dataclass(frozen=True, eq=False)
class TrainResult:
    """A train on a helix, its head uphill and each car front first.

    Attributes
    ----------
    result
        What was found for each of its cars, each once.
    order
        The train from its head: numbers of cars of the result's fleet.
    """

    result: CheckResult
    order: tuple[int, ...]

    @property
    def ids(self) -> list[str]:
        """What is painted on the cars, from the head of the train."""
        return [self.result.fleet.ids[car] for car in self.order]

    @property
    def length_mm(self) -> float | None:
        """Over the couplers of its ends; None: a car's length over couplers is missing. [mm]"""
        lengths = self.result.fleet.figure("length_over_couplers_mm")[list(self.order)]
        return None if np.isnan(lengths).any() else float(lengths.sum())

    def reach(self, track: Track) -> Reach:
        """How long a turn is on a track, and its leads."""
        structure = self.result.structure
        line = structure.line(track)
        last_rad = structure.helix.last_station * structure.step_rad
        # The helix itself, from end to end: leads climb otherwise.
        ends = np.array([0.0, structure.helix.turns * 2 * np.pi])
        rise = float(np.diff(line.height_mm(ends))[0]) / structure.helix.turns
        return Reach(
            2 * np.pi * Screw(line.radius_mm, rise).length_per_radian_mm,
            -line.start_rad * line.radius_mm,
            (line.end_rad - last_rad) * line.radius_mm,
        )

    def joints(self, track: str) -> list[Joint]:
        """The couplings between neighbours on a track, from the head of the train."""
        pairs = pairwise(self.order)
        return [Joint(place, self._coupling(track, *pair)) for place, pair in enumerate(pairs)]

    @cached_property
    def _known(self) -> dict[tuple[str, int, int], Coupling]:
        return {}

    def _coupling(self, track: str, ahead: int, behind: int) -> Coupling:
        """The rear of one car and the front of the next; equal pairs are worked out once."""
        key = track, ahead, behind
        if key not in self._known:
            structure, fleet = self.result.structure, self.result.fleet
            on = next(it for it in structure.helix.tracks if it.name == track)
            self._known[key] = couple(structure, on, fleet, (behind, FRONT), (ahead, REAR))
        return self._known[key]

    def code(self, track: str) -> int:
        """The verdict of the train on a track: the worst of its cars and couplings.

        A coupling that was not measured lowers nothing, as with single cars.
        """
        cars = self.result.track_codes(track)[list(self.order)]
        joints = [joint.coupling.code for joint in self.joints(track)]
        return max(int(cars.max()), *(code for code in (*joints, PASSES) if code != NOT_MEASURED))

    def worst(self, track: str) -> tuple[int, Finding] | None:
        """The most urgent finding of all cars on a track, and that car's place in the train."""
        found = [
            (finding, place)
            for place, car in enumerate(self.order)
            for finding in self.result.findings(car, track)
            if finding.lowers
        ]
        if not found:
            return None
        finding, place = min(found, key=lambda pair: (pair[0].urgency, pair[1]))
        return place, finding

    def leave_off(self, track: str) -> list[int]:
        """Which places of the train to leave off so that the rest passes on a track.

        Cars that do not pass by themselves first; then, while a coupling of the rest does not
        hold, the car with the most such couplings, of equals the one nearer the rear.
        """
        codes = self.result.track_codes(track)
        kept = [place for place, car in enumerate(self.order) if codes[car] == PASSES]
        while True:
            bad: dict[int, int] = {}
            for ahead, behind in pairwise(kept):
                coupling = self._coupling(track, self.order[ahead], self.order[behind])
                if coupling.code not in (PASSES, NOT_MEASURED):
                    for place in (ahead, behind):
                        bad[place] = bad.get(place, 0) + 1
            if not bad:
                return [place for place in range(len(self.order)) if place not in kept]
            kept.remove(max(bad, key=lambda place: (bad[place], place)))


def check_train(
    helix: Helix, fleet: Fleet, ids: Sequence[str], survey: Survey | None = None
) -> TrainResult:
    """Judge a train.

    Parameters
    ----------
    helix
        As designed.
    fleet
        Cars among which those of the train are.
    ids
        The train from its head, which goes uphill first; a car may be named more than once, for
        others of its kind.
    survey
        How the helix stands; None: as designed.
    """
    numbers = {name: number for number, name in enumerate(fleet.ids)}
    distinct = list(dict.fromkeys(ids))
    some = fleet.select([numbers[name] for name in distinct])
    result = check(helix, some, survey)
    # With whom else its cars could be coupled is no matter here; the train's own joints are.
    own = tuple(column for column in result.columns if column.check != "coupling")
    return TrainResult(replace(result, columns=own), tuple(distinct.index(name) for name in ids))
