"""What other choices would give: another grade, or leaving out the cars that govern.

Each is a helix of its own, sized as the design is; docs/theory.md, Sizing.
"""

from dataclasses import dataclass

import numpy as np

from catalog.helix import Helix
from clearance.judge.size_crowd import Crowd
from clearance.judge.size_draft import Limits, spacing_of
from clearance.judge.size_least import CLIMB, GRADE, Governing, Settled
from clearance.judge.size_spare import spares_of

__all__ = ["GRADES_PERCENT", "Alternative", "Cost", "alternatives", "dimension_mm"]

GRADES_PERCENT = (1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0)
"""The grades whose price in radius is shown."""

_MOST_LEFT_OUT = 3


@dataclass(frozen=True)
class Alternative:
    """What another choice would give: another grade, or leaving out the cars that govern. [mm]

    ``radius_governed_by`` is "grade", or the car that no tighter curve lets pass.
    """

    change: str
    max_grade_percent: float
    without: tuple[str, ...]
    rise_per_turn_mm: float
    radius_mm: float
    track_spacing_mm: float | None
    footprint_mm: float
    saves_mm: float | None = None
    radius_governed_by: str = GRADE


@dataclass(frozen=True)
class Cost:
    """What one car costs by governing a dimension: how much less would do without it. [mm]

    ``next_cars`` are those that would govern then; "grade", or none.
    """

    dimension: str
    car: str
    costs_mm: float
    next_cars: tuple[str, ...]


def alternatives(
    helix: Helix, crowd: Crowd, limits: Limits, settled: Settled
) -> tuple[list[Alternative], list[Cost]]:
    """Every other choice, and what the governing cars cost.

    Parameters
    ----------
    helix
        What stays.
    crowd
        The cars.
    limits
        What the site allows.
    settled
        The least helix for them.
    """
    grades = [grade for grade in GRADES_PERCENT if grade != limits.max_grade_percent]
    found = {}
    # The steepest first: what the cars ask of the tightest curve rules most of them out on others.
    for grade in sorted(grades, reverse=True):
        other = crowd.least(helix, limits._replace(max_grade_percent=grade))
        found[grade] = _alternative("grade", other, grade)
    others = [found[grade] for grade in grades]
    prices: list[Cost] = []
    for dimension in ("rise_per_turn", "track_spacing"):
        left_out, its = _leaving_out(helix, crowd, limits, settled, dimension)
        others += left_out
        prices += its
    prices += _of_the_radius(helix, crowd, limits, settled)
    return others, prices + _beside(crowd, settled)


def _leaving_out(
    helix: Helix, crowd: Crowd, limits: Limits, settled: Settled, dimension: str
) -> tuple[list[Alternative], list[Cost]]:
    """Leave out the car that governs a dimension, then the next, then a third."""
    current, without = settled, list[str]()
    found, prices = list[Alternative](), list[Cost]()
    before = dimension_mm(settled, dimension)
    while len(without) < _MOST_LEFT_OUT and len(crowd.fleet) > len(without) + 1:
        candidates = _cars(current.governing, dimension)
        if not candidates:
            break
        # Of the two cars of a tight pair, the one whose absence saves more.
        tried = [
            (_without(helix, crowd, limits, [*without, car], current), car) for car in candidates
        ]
        if not without:
            prices = [
                Cost(
                    dimension,
                    car,
                    before - dimension_mm(other, dimension),
                    tuple(_named(other.governing, dimension)),
                )
                for other, car in tried
            ]
        current, car = min(tried, key=lambda pair: dimension_mm(pair[0], dimension))
        without.append(car)
        saves = before - dimension_mm(current, dimension)
        found.append(
            _alternative(dimension, current, limits.max_grade_percent, tuple(without), saves)
        )
    return found, prices


def _of_the_radius(helix: Helix, crowd: Crowd, limits: Limits, settled: Settled) -> list[Cost]:
    """What the car costs that governs the radius, where the grade does not."""
    return [
        Cost(
            "radius",
            car,
            dimension_mm(settled, "radius") - dimension_mm(other, "radius"),
            tuple(_named(other.governing, "radius")),
        )
        for car in _cars(settled.governing, "radius")
        if len(crowd.fleet) > 1 and (other := _without(helix, crowd, limits, [car], settled))
    ]


def _beside(crowd: Crowd, settled: Settled) -> list[Cost]:
    """What the cars cost that need the most room beside the tracks."""
    if len(crowd.fleet) < 2:
        return []
    spares = spares_of(settled.helix, crowd.fleet)
    found = []
    for dimension, spare in (("inside", spares.inside_mm), ("outside", spares.outside_mm)):
        first, second = np.argsort(spare, kind="stable")[:2]
        # What the next car leaves to spare is what could be taken off, in whole millimetres.
        found.append(
            Cost(
                dimension,
                crowd.fleet.ids[first],
                float(np.floor(spare[second])),
                (crowd.fleet.ids[second],),
            )
        )
    return found


def _without(
    helix: Helix, crowd: Crowd, limits: Limits, cars: list[str], start: Settled
) -> Settled:
    return crowd.least(helix, limits, np.isin(crowd.fleet.ids, cars), start.helix)


def dimension_mm(settled: Settled, dimension: str) -> float:
    """A dimension of a helix by its name, 0 where it has none. [mm]"""
    if dimension == "rise_per_turn":
        return settled.helix.rise_per_turn_mm
    if dimension == "radius":
        return settled.helix.tracks[0].radius_mm
    return spacing_of(settled.helix) or 0.0


def _named(governing: Governing, dimension: str) -> list[str]:
    """Who, or what, governs a dimension: two for a pair, none where nobody does."""
    named = governing[dimension]
    return [named] if isinstance(named, str) else list(named or ())


def _cars(governing: Governing, dimension: str) -> list[str]:
    """The same, cars alone, each once."""
    return [car for car in dict.fromkeys(_named(governing, dimension)) if car not in (GRADE, CLIMB)]


def _alternative(
    change: str,
    settled: Settled,
    max_grade_percent: float,
    without: tuple[str, ...] = (),
    saves_mm: float | None = None,
) -> Alternative:
    return Alternative(
        change=change,
        max_grade_percent=max_grade_percent,
        without=without,
        rise_per_turn_mm=settled.helix.rise_per_turn_mm,
        radius_mm=settled.helix.tracks[0].radius_mm,
        track_spacing_mm=spacing_of(settled.helix),
        footprint_mm=settled.footprint_mm,
        saves_mm=saves_mm,
        radius_governed_by="".join(_named(settled.governing, "radius")),
    )
