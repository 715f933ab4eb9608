"""What a levelling comes to, as data: what to turn, and what it does.

"Levelling", docs/theory.md.
"""

from dataclasses import dataclass, field
from typing import NamedTuple

from catalog.helix import Helix
from catalog.survey import Survey
from clearance.judge.findings import Finding
from clearance.judge.level_demands import LevelLimits, Obstruction
from clearance.judge.lifting import Remeasure
from clearance.judge.structure import Structure

__all__ = ["LeftOut", "Levelling", "Move", "State"]


class Move(NamedTuple):
    """One bracket to turn: how far, upward, in millimetres and in turns of its nut."""

    station: int
    move_mm: float
    nut_turns: float


class State(NamedTuple):
    """How a helix stands with the cars that are meant to pass.

    Attributes
    ----------
    least_spare_mm
        Gap less allowance overhead of the governing one; None: nothing is over any of them. [mm]
    greatest_grade_percent, greatest_change_percent
        Of any track.
    governing
        The finding that has it; None: there is none.
    """

    least_spare_mm: float | None
    greatest_grade_percent: float
    greatest_change_percent: float
    governing: Finding | None


class LeftOut(NamedTuple):
    """A car that is not meant to pass on a track, and why not."""

    car: str
    track: str
    reason: str


@dataclass(frozen=True)
class Levelling:
    """What to turn, and what comes of it.

    Attributes
    ----------
    helix, survey
        What was asked about.
    meant
        The cars that are meant to pass on some track at least.
    others_kept
        Whether all else that passes as drawn, or now, was reckoned with as well.
    left_out
        Cars that are not, with tracks and reasons.
    limits
        Those that hold.
    moves
        In walking order, up the helix; empty: nothing needs turning, or nothing helps.
    before, after
        How it stands, and how it will; ``after`` is None where it cannot be done.
    expected
        The survey to expect; None: nothing was surveyed and nothing moves, or it cannot be done.
    remeasure
        What the helix file describes and what may have less headroom afterwards.
    fewest_proved, least_proved
        Whether it is sure that no fewer brackets would do; that with as many no less turning would.
    cannot
        What stands in the way, together; None: it can be done. Empty: only the steps of the nut.
    would_do
        Limits with which it could be done; None: it can without, or no limits would do.
    worse
        Findings of other checks that would be worse than they are now.
    """

    helix: Helix
    survey: Survey | None
    meant: list[str]
    left_out: list[LeftOut]
    limits: LevelLimits
    moves: list[Move]
    before: State
    after: State | None
    expected: Survey | None = None
    remeasure: list[Remeasure] = field(default_factory=list)
    fewest_proved: bool = True
    least_proved: bool = True
    cannot: list[Obstruction] | None = None
    would_do: LevelLimits | None = None
    worse: list[Finding] = field(default_factory=list)
    others_kept: bool = True

    @property
    def structure(self) -> Structure:
        """How the helix stands before anything is turned."""
        return Structure(self.helix, self.survey)
