"""The least dimensions for some cars: settled in turn until none moves, then tried one by one.

What a car asks of one dimension depends a little on the others (a steeper track pitches it more),
so they are settled in rounds. Rounding up to whole millimetres may then leave one of them a
millimetre more than it need be; each is tried a millimetre less, until with any one less somebody
does not pass. Who that is governs it.
"""

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from catalog.errors import DataError
from catalog.helix import Helix, Posts
from clearance.judge.fleet import Fleet
from clearance.judge.size_draft import (
    WIDEST_MM,
    Limits,
    grade_percent,
    least_radius_of_grade,
    least_rise_of_climb,
    resized,
    spacing_of,
    turns_of,
)
from clearance.judge.size_spare import spares_of, tightest

__all__ = ["CLIMB", "GRADE", "Governing", "Running", "Settled", "first_draft", "settle"]

Governing = dict[str, str | list[str] | None]
"""The car behind each dimension; of the spacing two; what else it is in its place."""

Running = Callable[[Helix], str | None]
"""A car whose running checks a draft is too tight for; None: there is none."""

GRADE, CLIMB = "grade", "climb"
"""What governs the radius, and the rise, where no car does."""

_FREE_ROUNDS, _ROUNDS = 10, 60


class Settled(NamedTuple):
    """A helix that some cars just pass, and who governs each dimension."""

    helix: Helix
    governing: Governing

    @property
    def outside_mm(self) -> float:
        """From the outer track to the outer posts. [mm]"""
        assert isinstance(self.helix.posts.outside_mm, float)
        return self.helix.posts.outside_mm

    @property
    def footprint_mm(self) -> float:
        """Diameter of the ground, to the inner faces of the outer posts. [mm]"""
        return 2 * (self.helix.tracks[-1].radius_mm + self.outside_mm)


def first_draft(helix: Helix, fleet: Fleet, limits: Limits) -> Helix:
    """A helix to begin with: as high as the highest car, as wide as the grade then asks."""
    height = np.nanmax(fleet.figure("height_mm"))
    depth = helix.deck.depth_mm + helix.deck.beam_depth_mm
    rise = max(_up(height + depth), least_rise_of_climb(helix, limits))
    draft = resized(helix, rise=rise, spacing=4 * helix.gauge_mm, posts=Posts())
    return resized(draft, radius=max(least_radius_of_grade(draft, limits), 4 * helix.gauge_mm))


def settle(
    helix: Helix,
    fleet: Fleet,
    limits: Limits,
    running: Running = lambda _: None,
    start: Helix | None = None,
) -> Settled:
    """The least helix for some cars.

    Parameters
    ----------
    helix
        What stays: gauge, tracks and cant, brackets, deck, allowance.
    fleet
        The cars, one at the least.
    limits
        What the site allows; its diameter is not looked at.
    running
        Names a car that does not run on a draft, however much room it has there.
    start
        A draft to begin with, of the same deck. None: a guess.

    Raises
    ------
    DataError
        Some car does not stand on any radius, or the dimensions do not settle.
    """
    draft = resized(start, posts=Posts()) if start else first_draft(helix, fleet, limits)
    radius_floor = max(_stated(fleet)[0], _over(helix.gauge_mm))
    least_rise = least_rise_of_climb(helix, limits)
    for turn in range(_ROUNDS):
        spares = spares_of(draft, fleet)
        if not spares.stands.all():
            least = _least_radius(draft, lambda tried: _all_stand(tried, fleet))
            radius_floor = max(radius_floor, least)
            draft = resized(draft, radius=radius_floor)
            spares = spares_of(draft, fleet)
        rise = max(least_rise, draft.rise_per_turn_mm - _whole(float(spares.over_mm.min())))
        spacing = _spacing(draft, fleet)
        if turn > _FREE_ROUNDS:  # rounding up may swing to and fro between two millimetres
            rise = max(rise, draft.rise_per_turn_mm)
            spacing = spacing and max(spacing, spacing_of(draft) or 0.0)
        settled = resized(draft, rise=rise, spacing=spacing)
        settled = resized(settled, radius=max(least_radius_of_grade(settled, limits), radius_floor))
        if settled == draft:
            if running(draft) is None:
                break
            least = _least_radius(draft, lambda tried: running(tried) is None)
            radius_floor = max(radius_floor, least)
        draft = settled
    else:
        raise DataError("the dimensions do not settle; leave out the car with the oddest figures")
    return _tightened(draft, fleet, limits, running)


def _tightened(draft: Helix, fleet: Fleet, limits: Limits, running: Running) -> Settled:
    """Take off whole millimetres while everybody still passes; then say who keeps the last ones."""
    blocked: Governing = {"track_spacing": None}
    names = ["rise_per_turn", "radius"] + ["track_spacing"] * (len(draft.tracks) > 1)
    moved = True
    while moved:
        moved = False
        for name in names:
            while (by := _blocker(name, _less(draft, name), fleet, limits, running)) is None:
                draft, moved = _less(draft, name), True
            blocked[name] = by
    spares = spares_of(draft, fleet)  # with no posts yet: what is missing to the centreline
    room = [-_whole(float(spare.min())) for spare in (spares.inside_mm, spares.outside_mm)]
    with_posts = resized(draft, posts=Posts(inside_mm=room[0], outside_mm=room[1]))
    blocked["inside"] = fleet.ids[int(spares.inside_mm.argmin())]
    blocked["outside"] = fleet.ids[int(spares.outside_mm.argmin())]
    if blocked["track_spacing"] == _GAUGE:
        blocked["track_spacing"] = None
    return Settled(resized(with_posts, turns=turns_of(with_posts, limits)), blocked)


_GAUGE = "gauge"


def _less(draft: Helix, name: str) -> Helix:
    """The draft with a millimetre less of one dimension."""
    if name == "rise_per_turn":
        return resized(draft, rise=draft.rise_per_turn_mm - 1)
    if name == "radius":
        return resized(draft, radius=draft.tracks[0].radius_mm - 1)
    return resized(draft, spacing=(spacing_of(draft) or 0.0) - 1)


def _blocker(
    name: str, tried: Helix, fleet: Fleet, limits: Limits, running: Running
) -> str | list[str] | None:
    """What keeps a draft with a millimetre less from serving; None: it serves."""
    return next(_blockers(name, tried, fleet, limits, running), None)


def _blockers(
    name: str, tried: Helix, fleet: Fleet, limits: Limits, running: Running
) -> Iterator[str | list[str]]:
    """Quick ones first."""
    if name == "rise_per_turn":
        if tried.rise_per_turn_mm < least_rise_of_climb(tried, limits):
            yield CLIMB
    elif name == "radius":
        stated, whose = _stated(fleet)
        if grade_percent(tried) > limits.max_grade_percent:
            yield GRADE
        if tried.tracks[0].radius_mm < stated:
            yield whose
        if tried.tracks[0].radius_mm <= tried.gauge_mm:
            yield _GAUGE
    else:
        if (spacing_of(tried) or 0.0) <= tried.gauge_mm:
            yield _GAUGE
        if pair := _barred(tried, fleet):
            yield pair
    spares = spares_of(tried, fleet)
    if not spares.stands.all():
        yield fleet.ids[int(spares.stands.argmin())]
    if spares.over_mm.min() < 0:
        yield fleet.ids[int(spares.over_mm.argmin())]
    if name != "track_spacing" and (pair := _barred(tried, fleet)):
        yield pair[0]  # a single car's dimension names one of the two
    if name == "radius" and (car := running(tried)) is not None:
        yield car


def _barred(draft: Helix, fleet: Fleet) -> list[str] | None:
    """The tightest pair, inner and outer, where it does not pass; None: all pass."""
    pair = tightest(draft, fleet)
    return [fleet.ids[car] for car in pair[:2]] if pair and pair[2] < 0 else None


def _spacing(draft: Helix, fleet: Fleet) -> float | None:
    """The spacing with which the tightest pair would have nothing to spare, rounded up. [mm]"""
    spacing = spacing_of(draft)
    if spacing is None:
        return None
    pair = tightest(draft, fleet)
    least = _over(draft.gauge_mm)
    return least if pair is None else max(least, spacing - _whole(pair[2]))


def _stated(fleet: Fleet) -> tuple[float, str]:
    """The greatest least radius that a car states, and which car; 0: none does. [mm]"""
    stated = np.nan_to_num(fleet.figure("minimum_radius_mm"), nan=0.0)
    car = int(stated.argmax())
    return _up(float(stated[car])), fleet.ids[car]


def _all_stand(draft: Helix, fleet: Fleet) -> bool:
    return bool(spares_of(draft, fleet).stands.all())


def _least_radius(draft: Helix, serves: Callable[[Helix], bool]) -> float:
    """The least inner radius that serves, from that of the draft upwards. [mm]

    Raises
    ------
    DataError
        None does.
    """
    low, high = draft.tracks[0].radius_mm, 2 * draft.tracks[0].radius_mm
    while not serves(resized(draft, radius=high)):
        if 2 * high > WIDEST_MM:
            raise DataError(
                f"some car stands on no curve of this helix, not even at radius {high:g} mm"
            )
        low, high = high, 2 * high
    while high - low > 1:
        middle = math.floor((low + high) / 2)
        if serves(resized(draft, radius=float(middle))):
            high = float(middle)
        else:
            low = float(middle)
    return high


def _whole(spare_mm: float) -> float:
    """How many whole millimetres can be taken off what is spare; negative: must be added."""
    return float(math.floor(spare_mm))


def _up(value_mm: float) -> float:
    return float(math.ceil(value_mm))


def _over(value_mm: float) -> float:
    """The least whole number of millimetres that is more."""
    return float(math.floor(value_mm) + 1)
