"""What the real world takes away from a gap: running clearance, lateral play, tolerances.

G7, docs/theory.md. Geometry knows nothing of these; they stand apart and are shown part by part.
"""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from catalog.helix import HEADROOM_READING_MM, SETTLEMENT_MM, SURVEY_EVERY_MONTHS, Helix
from catalog.survey import Survey
from clearance.judge.deck_sag import deck_sag

__all__ = [
    "MONTH_DAYS",
    "Budget",
    "Margins",
    "margins_of",
    "meeting_budget",
    "overhead_budget",
    "play_lever",
    "side_budget",
    "survey_intervals",
]

Floats = NDArray[np.float64]

# Defaults for 45 mm gauge, other gauges in proportion. Common practice, no source.
_DEFAULT_GAUGE_MM = 45.0
_OVERHEAD_MM, _SIDE_MM, _MEETING_MM = 12.0, 6.0, 10.0

MONTH_DAYS = 365.25 / 12
"""Of an average month."""


class Margins(NamedTuple):
    """The margins that hold on a helix, defaults filled in. [mm]

    ``play_mm`` is how far a wheelset can shift sideways from the middle of the track; a helix that
    does not say counts none, for nobody measured it. Nor is any deck sag counted of a helix that
    does not say what carries its deck.
    """

    overhead_mm: float
    side_mm: float
    meeting_mm: float
    play_mm: float
    headroom_reading_mm: float
    settlement_mm: float
    deck_sag_mm: float = 0.0


@dataclass(frozen=True)
class Budget:
    """An allowance and what it is made of; every array of one shape, or a number. [mm]

    The total is the sum of ``parts``. One of these, "tolerances", is the root of the sum of the
    squares of ``tolerances``: independent errors seldom all go the same way.
    """

    running_mm: float
    tolerances: dict[str, ArrayLike]
    play_mm: ArrayLike | None = None
    parts: dict[str, Floats] = field(init=False)
    total_mm: Floats = field(init=False)

    def __post_init__(self) -> None:
        squares = [np.square(np.asarray(part, float)) for part in self.tolerances.values()]
        parts = {"running clearance": np.asarray(self.running_mm, float)}
        if self.play_mm is not None:
            parts["lateral play"] = np.asarray(self.play_mm, float)
        if squares:
            parts["tolerances"] = np.sqrt(sum(squares[1:], start=squares[0]))
        object.__setattr__(self, "parts", parts)
        object.__setattr__(self, "total_mm", sum(parts.values(), start=np.zeros(())))


def survey_intervals(helix: Helix, survey: Survey | None) -> float:
    """What settlement grows by: how many intervals old a survey is, 1 until the next one is due.

    The settlement stated is what is expected from one survey to the next. Once that is overdue,
    more of the same is expected, in proportion to the survey's age. Common practice, no source.
    """
    if survey is None:
        return 1.0
    every = helix.allowance.survey_every_months or SURVEY_EVERY_MONTHS
    return max(1.0, survey.age_days / (every * MONTH_DAYS))


def margins_of(helix: Helix, survey: Survey | None = None) -> Margins:
    """The margins of a helix: its own, and where it is silent the defaults for its gauge.

    Parameters
    ----------
    helix
        As designed.
    survey
        What it is judged by; one that is overdue lets it settle more.
    """
    own = helix.allowance
    sag = deck_sag(helix)
    size = helix.gauge_mm / _DEFAULT_GAUGE_MM

    def given(value: float | None, usual: float) -> float:
        return usual if value is None else value

    return Margins(
        overhead_mm=given(own.overhead_mm, _OVERHEAD_MM * size),
        side_mm=given(own.side_mm, _SIDE_MM * size),
        meeting_mm=given(own.meeting_mm, _MEETING_MM * size),
        play_mm=given(own.play_mm, 0.0),
        headroom_reading_mm=given(own.headroom_reading_mm, HEADROOM_READING_MM),
        settlement_mm=given(own.settlement_mm, SETTLEMENT_MM) * survey_intervals(helix, survey),
        deck_sag_mm=sag.sag_mm if sag else 0.0,
    )


def overhead_budget(margins: Margins, car_tolerance_mm: ArrayLike) -> Budget:
    """The allowance overhead, for cars known to ``car_tolerance_mm``. [mm]"""
    tolerances = {
        "car": car_tolerance_mm,
        "headroom reading": margins.headroom_reading_mm,
        "settlement": margins.settlement_mm,
    }
    if margins.deck_sag_mm:
        tolerances["deck sag"] = margins.deck_sag_mm
    return Budget(margins.overhead_mm, tolerances)


def play_lever(x_mm: ArrayLike, wheelbase_mm: ArrayLike) -> Floats:
    """How far a place on a body shifts for each millimetre that a wheelset does (G7).

    1 between the supports, (2n + B) / B at n beyond one.

    Parameters
    ----------
    x_mm
        The place, from the middle of the wheelbase, shape (n,). [mm]
    wheelbase_mm
        B, shape (n,). [mm]

    Returns
    -------
    ndarray
        Shape (n,).
    """
    wheelbase = np.asarray(wheelbase_mm, float)
    beyond = np.maximum(np.abs(x_mm) - wheelbase / 2, 0.0)
    return np.asarray((2 * beyond + wheelbase) / wheelbase)


def side_budget(margins: Margins, car_tolerance_mm: ArrayLike, lever: ArrayLike) -> Budget:
    """The allowance at the side of a place of each car, see `play_lever`. [mm]"""
    return Budget(
        margins.side_mm, {"car": car_tolerance_mm}, margins.play_mm * np.asarray(lever, float)
    )


def meeting_budget(margins: Margins, inner_mm: ArrayLike, outer_mm: ArrayLike) -> Budget:
    """The allowance between two cars, each known to its own tolerance. [mm]"""
    return Budget(margins.meeting_mm, {"inner car": inner_mm, "outer car": outer_mm})
