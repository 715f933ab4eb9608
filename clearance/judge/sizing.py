"""How big must a helix be, for the cars it is built for?

Each dimension is the least that lets every car pass with its allowance, rounded up to whole
millimetres; the car that asks for it governs it. What a car asks of one dimension depends a little
on the others (a steeper track pitches a car more), so they are settled in turn until none moves.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from catalog.errors import DataError
from catalog.helix import Helix, Posts, Track
from catalog.record import refuse
from clearance.judge.allowance import margins_of, overhead_budget, side_budget
from clearance.judge.fleet import Fleet
from clearance.judge.meets import meetings, tightest_pair
from clearance.judge.structure import Structure
from clearance.judge.sweep import sweep

__all__ = ["GRADES_PERCENT", "Alternative", "Design", "Limits", "size"]

Floats = NDArray[np.float64]

GRADES_PERCENT = (2.0, 2.5, 3.0, 3.5, 4.0)
"""The grades whose price in radius is shown."""

# Each dimension moves a hundredth of what moved it, so a handful of rounds is enough.
_FREE_ROUNDS, _ROUNDS = 10, 50


class Limits(NamedTuple):
    """What the site allows. Lengths in mm; None: no limit."""

    max_grade_percent: float = 3.0
    max_diameter_mm: float | None = None
    climb_mm: float | None = None


@dataclass(frozen=True)
class Alternative:
    """What another choice would give: another grade, or leaving out the cars that govern."""

    change: str
    max_grade_percent: float
    without: tuple[str, ...]
    rise_per_turn_mm: float
    radius_mm: float
    track_spacing_mm: float | None
    footprint_mm: float
    saves_mm: float | None = None


@dataclass(frozen=True)
class Design:
    """A helix that every car passes, with nothing to spare but the rounding up. [mm]

    ``governing`` names the car behind each dimension: ``rise_per_turn``, ``radius`` ("grade", or
    the car whose least radius it is), ``track_spacing`` (inner and outer car), ``inside``,
    ``outside``.
    """

    helix: Helix
    governing: dict[str, str | list[str] | None]
    rise_per_turn_mm: float
    radius_mm: float
    track_spacing_mm: float | None
    inside_mm: float
    outside_mm: float
    limits: Limits
    alternatives: tuple[Alternative, ...] = ()

    @property
    def grade_percent(self) -> float:
        """The steepest track's grade. [%]"""
        return 100 * self.helix.grade(self.helix.tracks[0])

    @property
    def turns(self) -> float:
        """How many turns make the climb."""
        return self.helix.turns

    @property
    def footprint_mm(self) -> float:
        """Diameter of the ground it needs, to the inner faces of the outer posts. [mm]"""
        return 2 * (self.helix.tracks[-1].radius_mm + self.outside_mm)


def size(helix: Helix, fleet: Fleet, limits: Limits = Limits()) -> Design:
    """Size a helix for a fleet.

    Parameters
    ----------
    helix
        What stays as it is: gauge, number of tracks, brackets, deck and beam, allowance.
    fleet
        The cars to size it for, of the helix's gauge.
    limits
        What the site allows.

    Returns
    -------
    Design
        The least helix, and what other choices would give.

    Raises
    ------
    DataError
        There is no car to size it for, two limits contradict each other, or no helix is so large.
    """
    if not len(fleet):
        raise DataError(f"there is no car of {helix.gauge_mm:g} mm gauge to size a helix for")
    design = _least(helix, fleet, limits)
    _refuse_contradiction(design)
    try:  # dimensions are put together unchecked while they are settled
        Helix(**dict(design.helix))
    except ValidationError as error:
        refuse(error, "the helix that these limits ask for")
    return replace(design, alternatives=tuple(_alternatives(helix, fleet, design)))


def _refuse_contradiction(design: Design) -> None:
    most = design.limits.max_diameter_mm
    if most is None or design.footprint_mm <= most:
        return
    cause = design.governing["radius"]
    reason = (
        f"a grade of at most {design.limits.max_grade_percent:g} %"
        if cause == "grade"
        else f"the least radius of {cause}"
    )
    raise DataError(
        f"a diameter of at most {most:g} mm contradicts {reason}: that needs "
        f"{design.footprint_mm:g} mm over all (radius {design.radius_mm:g} mm); "
        f"one of the two must give way"
    )


def _least(helix: Helix, fleet: Fleet, limits: Limits) -> Design:
    if not 0 < limits.max_grade_percent <= 15:
        raise DataError(
            f"a greatest grade of {limits.max_grade_percent:g} % makes no helix; "
            f"give a percentage like 3.0"
        )
    floor, floor_car = _radius_floor(helix, fleet)
    draft = _resized(helix, radius=floor, spacing=4 * helix.gauge_mm)  # a first guess
    rise_car = spacing_cars = None
    for turn in range(_ROUNDS):
        rise, rise_car = _rise(draft, fleet)
        spacing, spacing_cars = _spacing(draft, fleet)
        if turn > _FREE_ROUNDS:  # rounding up may swing to and fro between two millimetres
            rise = max(rise, draft.rise_per_turn_mm)
            spacing = spacing and max(spacing, _spacing_of(draft) or 0.0)
        steepest = rise / (2 * math.pi * limits.max_grade_percent / 100)
        radius = max(floor, _up(steepest))
        settled = _resized(draft, rise=rise, radius=radius, spacing=spacing)
        if settled == draft:
            break
        draft = settled
    else:
        raise DataError("the dimensions do not settle; leave out the car with the oddest figures")
    inside, inside_car = _side(draft, fleet, inward=True)
    outside, outside_car = _side(draft, fleet, inward=False)
    final = _resized(
        draft, posts=Posts(inside_mm=inside, outside_mm=outside), turns=_turns(draft, limits)
    )
    return Design(
        helix=final,
        governing={
            "rise_per_turn": rise_car,
            "radius": floor_car if draft.tracks[0].radius_mm <= floor else "grade",
            "track_spacing": spacing_cars,
            "inside": inside_car,
            "outside": outside_car,
        },
        rise_per_turn_mm=draft.rise_per_turn_mm,
        radius_mm=draft.tracks[0].radius_mm,
        track_spacing_mm=_spacing_of(draft),
        inside_mm=inside,
        outside_mm=outside,
        limits=limits,
    )


def _up(value_mm: float) -> float:
    """Up to the whole millimetre: a verdict has no slack, so neither has this."""
    return float(math.ceil(value_mm))


def _resized(
    helix: Helix,
    rise: float | None = None,
    radius: float | None = None,
    spacing: float | None = None,
    posts: Posts | None = None,
    turns: float | None = None,
) -> Helix:
    """The same helix with other dimensions; nothing of the old site is kept."""
    inner = helix.tracks[0].radius_mm if radius is None else radius
    step = (_spacing_of(helix) or 0.0) if spacing is None else spacing
    tracks = tuple(
        Track(name=track.name, radius_mm=inner + number * step, cant_mm=track.cant_mm)
        for number, track in enumerate(helix.tracks)
    )
    return helix.model_copy(
        update={
            "tracks": tracks,
            "rise_per_turn_mm": helix.rise_per_turn_mm if rise is None else rise,
            "posts": helix.posts if posts is None else posts,
            "turns": helix.turns if turns is None else turns,
            "profile": (),
            "obstacles": (),
            "leads": (),
        }
    )


def _spacing_of(helix: Helix) -> float | None:
    if len(helix.tracks) == 1:
        return None
    return helix.tracks[1].radius_mm - helix.tracks[0].radius_mm


def _turns(helix: Helix, limits: Limits) -> float:
    """Enough turns for the climb, to a whole bracket."""
    if limits.climb_mm is None:
        return helix.turns
    brackets = limits.climb_mm / helix.rise_per_turn_mm * helix.brackets_per_turn
    return math.ceil(brackets - 1e-6) / helix.brackets_per_turn


def _radius_floor(helix: Helix, fleet: Fleet) -> tuple[float, str]:
    """The least radius that any car can do with at all, and the car that asks for it."""
    stated = fleet.figure("minimum_radius_mm")
    span = np.hypot(fleet.figure("wheelbase_mm"), fleet.figure("truck_wheelbase_mm")) / 2
    for car, plan in fleet.plans.items():
        # No radius is safe for all of an articulated car; half its wheelbase is a first guess.
        span[car] = (max(plan.axle_mm) - min(plan.axle_mm)) / 2
    # A car that just stands on a radius has its middle at the axis. Its side must keep clear of
    # that, and of a post on this side of it.
    widest = np.maximum.reduceat(
        np.maximum(fleet.blocks.left_mm, fleet.blocks.right_mm), fleet.block_start
    )
    margins = margins_of(helix)
    clear = helix.deck.beam_width_mm / 2 + margins.side_mm + fleet.tolerance_mm
    stands = np.hypot(span, widest + clear + margins.play_mm + helix.gauge_mm / 2)
    least = np.fmax(stated, stands)
    car = int(np.argmax(least))
    return max(_up(float(least[car])), _up(helix.gauge_mm) + 1), fleet.ids[car]


def _rise(draft: Helix, fleet: Fleet) -> tuple[float, str]:
    """The rise a turn that gives every car its headroom on every track."""
    allowance = overhead_budget(margins_of(draft), fleet.tolerance_mm).total_mm
    needed = np.zeros(len(fleet))
    for track in draft.tracks:
        swept = sweep(Structure(draft), track, fleet, [draft.deck.beam_width_mm])
        needed = np.maximum(needed, swept.required_mm[0].max(axis=0) + allowance)
    car = int(np.argmax(needed))
    return _up(float(needed[car]) + draft.deck.depth_mm + draft.deck.beam_depth_mm), fleet.ids[car]


def _spacing(draft: Helix, fleet: Fleet) -> tuple[float | None, list[str] | None]:
    """The track spacing at which every two cars pass, and the two that ask for it."""
    spacing = _spacing_of(draft)
    if spacing is None:
        return None, None
    least, cars = draft.gauge_mm + 1, None
    for meeting in meetings(draft, fleet):
        tightest = tightest_pair(meeting)
        if tightest and math.isfinite(tightest[2]):
            needed = spacing - tightest[2]
            if needed > least:
                least, cars = needed, [fleet.ids[car] for car in tightest[:2]]
    return _up(least), cars


def _side(draft: Helix, fleet: Fleet, *, inward: bool) -> tuple[float, str]:
    """The room that the widest swing asks for inside the inner, or outside the outer track."""
    track = draft.tracks[0] if inward else draft.tracks[-1]
    swept = sweep(Structure(draft), track, fleet)
    edge = swept.inner_with_play if inward else swept.outer_with_play
    swing = np.abs(edge.radius_mm - track.radius_mm)
    budget = side_budget(margins_of(draft), fleet.tolerance_mm, edge.lever)
    needed = (swing + budget.total_mm).max(axis=0)
    car = int(np.argmax(needed))
    return _up(float(needed[car])), fleet.ids[car]


def _alternatives(helix: Helix, fleet: Fleet, design: Design) -> Iterator[Alternative]:
    for grade in GRADES_PERCENT:
        if grade != design.limits.max_grade_percent:
            other = _least(helix, fleet, design.limits._replace(max_grade_percent=grade))
            yield _alternative("grade", other, ())
    yield from _leaving_out(helix, fleet, design, "rise_per_turn")
    if design.track_spacing_mm is not None:
        yield from _leaving_out(helix, fleet, design, "track_spacing")


def _leaving_out(
    helix: Helix, fleet: Fleet, design: Design, dimension: str
) -> Iterator[Alternative]:
    """Leave out the car that governs a dimension, then the next, then a third."""
    current, without = design, list[str]()
    while len(without) < 3 and len(fleet) > 1:
        governors = current.governing[dimension]
        candidates = [governors] if isinstance(governors, str) else list(governors or ())
        if not candidates:
            return
        # Of the two cars of a tight pair, the one whose absence saves more.
        tried = [
            (_least(helix, fleet.select(_all_but(fleet, car)), design.limits), car)
            for car in dict.fromkeys(candidates)
        ]
        current, car = min(tried, key=lambda pair: _dimension(pair[0], dimension))
        fleet = fleet.select(_all_but(fleet, car))
        without.append(car)
        saves = _dimension(design, dimension) - _dimension(current, dimension)
        yield _alternative(dimension, current, tuple(without), saves)


def _all_but(fleet: Fleet, car: str) -> NDArray[np.bool_]:
    return np.array([name != car for name in fleet.ids], bool)


def _dimension(design: Design, dimension: str) -> float:
    if dimension == "rise_per_turn":
        return design.rise_per_turn_mm
    return design.track_spacing_mm or 0.0


def _alternative(
    change: str, design: Design, without: tuple[str, ...], saves_mm: float | None = None
) -> Alternative:
    return Alternative(
        change=change,
        max_grade_percent=design.limits.max_grade_percent,
        without=without,
        rise_per_turn_mm=design.rise_per_turn_mm,
        radius_mm=design.radius_mm,
        track_spacing_mm=design.track_spacing_mm,
        footprint_mm=design.footprint_mm,
        saves_mm=saves_mm,
    )
