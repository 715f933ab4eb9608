"""Whose verdict changed when the helix moved: since the survey before, and since it was approved.

The cars are those of today on both sides, and each survey is judged as of its own day, so nothing
but the helix has moved between them. "What changed", docs/theory.md.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from catalog.helix import Helix
from catalog.survey import Survey
from clearance.judge.check import check
from clearance.judge.drift import Dated, Lost, Move, lost, moves
from clearance.judge.findings import CheckResult, Finding
from clearance.judge.fleet import Fleet

__all__ = ["Changes", "Since", "VerdictChange", "verdict_changes", "what_changed"]


@dataclass(frozen=True)
class VerdictChange:
    """One car on one track whose verdict is not what it was.

    Attributes
    ----------
    car, track
        Which.
    before, now
        The codes of both verdicts.
    finding
        The check that made the worse of the two, as it is found now.
    spare_before_mm
        What that check had to spare before. [mm] None: nothing was measured there.
    """

    car: str
    track: str
    before: int
    now: int
    finding: Finding
    spare_before_mm: float | None


@dataclass(frozen=True)
class Since:
    """Whose verdicts changed since a survey; ``taken_on`` None: since the drawing."""

    taken_on: date | None
    changes: tuple[VerdictChange, ...]


@dataclass(frozen=True)
class Changes:
    """What a survey shows to have changed.

    Attributes
    ----------
    now
        How the helix stands by it, for every car.
    moves, lost
        What moved since the survey before, and what is not measured any more.
    since_last, since_approved
        Whose verdicts changed since the survey before, and since the helix was approved; where no
        survey is marked as approved, the drawing stands for it.
    """

    now: CheckResult
    moves: tuple[Move, ...]
    lost: tuple[Lost, ...]
    since_last: Since
    since_approved: Since


def what_changed(
    helix: Helix, fleet: Fleet, now: Survey, last: Dated | None, approved: Dated | None
) -> Changes:
    """Hold a survey against the one before, and against the one that was approved.

    Parameters
    ----------
    helix, fleet
        As drawn, and the cars.
    now
        The survey.
    last
        The survey before; None: there was none, and the drawing stands for it.
    approved
        The survey with which the helix was approved; None: as it is drawn.
    """
    result = check(helix, fleet, now)

    def since(then: Dated | None) -> Since:
        if then is None:
            return Since(None, verdict_changes(check(helix, fleet), result))
        return Since(then.taken_on, verdict_changes(check(helix, fleet, then.survey), result))

    since_last = since(last)
    before = None if last is None else last.survey
    return Changes(
        result,
        tuple(moves(helix, before, now)),
        tuple(lost(helix, before, now)),
        since_last,
        since_last if approved == last else since(approved),
    )


def verdict_changes(before: CheckResult, now: CheckResult) -> tuple[VerdictChange, ...]:
    """Say whose verdict changed between two checks of the same cars on the same helix.

    Parameters
    ----------
    before, now
        What was found.

    Returns
    -------
    tuple
        In the order of the cars, then of the tracks.
    """
    changes = []
    codes = {
        track.name: (before.track_codes(track.name), now.track_codes(track.name))
        for track in now.helix.tracks
    }
    for number, car in enumerate(now.fleet.ids):
        for track, (old, new) in codes.items():
            was, code = int(old[number]), int(new[number])
            if was == code:
                continue
            worse = now if code > was else before
            found = _worst(worse.findings(number, track))
            here, there = (
                _of_check(result.findings(number, track), found.check) for result in (now, before)
            )
            spare = None if there is None else there.spare_mm
            changes.append(VerdictChange(car, track, was, code, here or found, spare))
    return tuple(changes)


def _worst(findings: Iterable[Finding]) -> Finding:
    """What makes the verdict. `findings` puts it first, but for what lowers no verdict."""
    return next(finding for finding in findings if finding.lowers)


def _of_check(findings: Iterable[Finding], check: str) -> Finding | None:
    return next((finding for finding in findings if finding.check == check), None)
