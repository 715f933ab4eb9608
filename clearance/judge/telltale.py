"""What a tell-tale is, as data: where the cords hang, how high they end, and whom they stop."""

import math
from dataclasses import dataclass

from catalog.helix import End
from clearance.geometry.stopping import BridgeWarning
from clearance.judge.places import Place

__all__ = ["REFERENCE", "Hung", "Second", "Telltale", "Whom"]

REFERENCE = "reference car"
"""What the car is called that is reckoned with where a fleet is small."""


@dataclass(frozen=True)
class Whom:
    """Whom cords stop, cars by id.

    Attributes
    ----------
    stops
        Those that reach higher than the cords end, one way round at least.
    lets_through
        The others, as far as they were measured.
    false_alarms
        Stopped, though they would pass overhead both ways round.
    missed
        Those that do not pass in a way round in which the cords do not stop them.
    not_measured
        What was not measured overhead is never let through.
    """

    stops: list[str]
    lets_through: list[str]
    false_alarms: list[str]
    missed: list[str]
    not_measured: list[str]


@dataclass(frozen=True)
class Hung(Whom):
    """The same of cords that somebody hung at ``hung_mm``, at the place worked out. [mm]"""

    hung_mm: float


@dataclass(frozen=True)
class Second(Whom):
    """A second tell-tale further on, where two stop fewer cars needlessly than one. [mm]

    Whom the two stop together.

    Attributes
    ----------
    first_set_at_mm, set_at_mm
        Lower ends of the cords, the first one's and its own.
    before_mm, station, width_mm
        As of `Telltale`.
    guards
        The first obstacle that is left to it.
    spares
        Whom it spares a needless stop.
    """

    first_set_at_mm: float
    set_at_mm: float
    before_mm: float
    station: float
    width_mm: float
    guards: Place
    spares: list[str]


@dataclass(frozen=True)
class Telltale(Whom):
    """One tell-tale: where it hangs and what it does. [mm]

    Attributes
    ----------
    set_at_mm
        Lower end of the cords over the railhead.
    before_mm
        Along the track from the cords to the first obstacle beyond them.
    first
        That obstacle.
    station
        Where the cords hang, as a station.
    along_lead_mm
        The same along a straight lead, from where it leaves the curve; None: it hangs on none.
    described
        Whether the helix file describes the track there; else it is taken to go on evenly.
    raised_mm
        How much higher than their own height cars reach there, the least and the most.
    width_mm
        Over all cords, half of it on each side of the track's centreline.
    lowest, headroom_mm
        The lowest place beyond it, and its headroom.
    stopping_mm, ahead_mm, practice
        What ``before_mm`` is made of: the train's own stopping distance, how far a car reaches
        ahead of what of it meets the cords, and full-size practice.
    governing
        The car whose limit sets the height; `REFERENCE`: the reference car of a small fleet; "":
        none can stand there.
    reason
        What of the helix was not worked out; "": nothing.
    second
        A second one further on; None: it would spare nobody a needless stop.
    hung
        What cords do at another height that was asked about.
    """

    track: str
    at: End
    set_at_mm: float
    before_mm: float
    first: Place
    station: float
    along_lead_mm: float | None
    described: bool
    raised_mm: tuple[float, float]
    width_mm: float
    lowest: Place
    headroom_mm: float
    stopping_mm: float
    ahead_mm: float
    practice: BridgeWarning
    governing: str
    reason: str
    second: Second | None = None
    hung: Hung | None = None

    @property
    def below_mm(self) -> float:
        """How far the cords hang below the lowest place beyond them. [mm]"""
        return self.headroom_mm - self.set_at_mm

    @property
    def cords(self) -> int:
        """How many there are, spaced as full-size practice has them."""
        return math.ceil(self.width_mm / self.practice.cords_apart_mm) + 1
