"""A second tell-tale further on, where two stop fewer cars needlessly than one.

Docs/theory.md, "Tell-tales". The first then guards only what comes before the second has room to
warn; the second guards the rest, where cars may reach as high over the rails as they do under it.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import End, Track
from clearance.judge.approach import Approach, Span, spans
from clearance.judge.cords import Effect, Overhead, Reach, Setting, effect, setting
from clearance.judge.drive import deck_gaps_mm, deck_margins_mm, overhead_gaps
from clearance.judge.findings import CheckColumn
from clearance.judge.fleet import Fleet
from clearance.judge.places import Place
from clearance.judge.structure import Structure

__all__ = ["First", "Guarded", "TwoStep", "half_stations", "two_step", "who_matters"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Indices = NDArray[np.intp]

_PITCH_MM = 10.0  # what a car may reach higher or lower in one place than in another, and more
_PER_STATION = 2  # a place every half station
_NOISE = 1e-9


class First(NamedTuple):
    """The one tell-tale: its place, how high cars reach there, and how it is set."""

    approach: Approach
    reach: Reach
    setting: Setting


class Guarded(NamedTuple):
    """What hangs over a track, shape (k,) in the order in which trains from one end come to it.

    Attributes
    ----------
    spans
        Where each is: undersides, the deck between two beams, the deck beyond them.
    spare_mm
        Gap less allowance under each, shape (k, 2, n); of the deck between beams the least that it
        may be. [mm]
    headroom_mm
        Of undersides, shape (k,). [mm] inf: the deck.
    """

    spans: list[Span]
    spare_mm: Floats
    headroom_mm: Floats

    @classmethod
    def of(
        cls, structure: Structure, track: Track, fleet: Fleet, column: CheckColumn, cars: Indices
    ) -> "Guarded":
        """From the overhead column of a track, uphill, of some cars of a fleet, by number."""
        where = structure, track, fleet.select(cars)
        hung = [span for span in spans(structure, track) if span.number >= 0]
        number = [span.number for span in hung]
        headrooms = [structure.hanging(track)[at].headroom_mm for at in number]
        if structure.is_regular:
            assert column.each_gap_mm is not None
            gaps = list(column.each_gap_mm[number][..., cars])
        else:
            each = overhead_gaps(*where, every=True).each_mm
            assert each is not None
            gaps = list(each[number])
            for low, high, gap in _under_deck(*where, dict(zip(number, gaps, strict=True))):
                hung.append(_of_deck(structure, low, high))
                gaps.append(gap)
                headrooms.append(np.inf)
        allowance = np.broadcast_to(column.budget.total_mm, column.gap_mm.shape)[:, cars]
        spare = np.where(column.applies[cars], np.array(gaps) - allowance, np.nan)
        return cls(hung, spare, np.array(headrooms))

    def as_met(self, at: End) -> "Guarded":
        """The same in the order in which trains from an end come to it."""
        order = sorted(
            range(len(self.spans)),
            key=lambda k: self.spans[k].from_rad if at == "foot" else -self.spans[k].to_rad,
        )
        ordered = [self.spans[k] for k in order]
        return Guarded(ordered, self.spare_mm[order], self.headroom_mm[order])


def _under_deck(
    structure: Structure, track: Track, fleet: Fleet, gaps: dict[int, Floats]
) -> Iterator[tuple[float, float, Floats]]:
    """Stretches of the deck, plan angles, and the gap there: no less than it, (2, n). [mm]

    ``gaps`` are those of the undersides by their number. Between two beams of the curve a bound is
    enough; before the first and behind the last the deck is by itself.
    """
    deck = structure.deck(track)
    if deck is None:
        return
    first = structure.curve_stations[0] * structure.step_rad
    beams = sorted(
        (it.place_rad, number)
        for number, it in enumerate(structure.hanging(track))
        if it.place.origin
        and it.place.station == int(it.place.station)
        and first - _NOISE <= it.place_rad <= deck.end_rad + _NOISE
    )
    margins = deck_margins_mm(structure, track, fleet)
    # Where the bound is no good the deck is looked at, for what is lower than the beams.
    doubtful = np.flatnonzero(margins < 0)
    pairs = list(pairwise(beams))
    beside = np.array([np.minimum(gaps[one], gaps[other]) for (_, one), (_, other) in pairs])
    if pairs and len(doubtful):
        known = np.nan_to_num(beside[..., doubtful], nan=np.inf).max(axis=1)
        where = structure, track, fleet.select(doubtful)
        between = [(low, high) for (low, _), (high, _) in pairs]
        under = deck_gaps_mm(*where, between, known)
        beside[..., doubtful] = np.fmin(beside[..., doubtful], under)
    for ((low, _), (high, _)), least in zip(pairs, beside, strict=True):
        yield low, high, least + np.maximum(margins, 0.0)
    ends = [deck.start_rad, *([beams[0][0], beams[-1][0]] if beams else []), deck.end_rad]
    apart = [it for it in zip(ends[::2], ends[1::2], strict=True) if it[1] - it[0] > _NOISE]
    for (low, high), least in zip(apart, deck_gaps_mm(structure, track, fleet, apart), strict=True):
        yield low, high, least


def _of_deck(structure: Structure, low_rad: float, high_rad: float) -> Span:
    """A stretch of the deck as it lies over the track; over a straight lead at the foot further."""
    first = structure.curve_stations[0] * structure.step_rad
    start = first - math.tan(first - low_rad) if low_rad < first else low_rad
    place = Place(start / structure.step_rad, "deck", origin="as designed")
    return Span(-1, place, start, high_rad)


class TwoStep(NamedTuple):
    """Two tell-tales: how high each is set, where the second hangs, and whom both stop.

    ``reach`` is how high cars reach at the second.
    """

    first_mm: float
    second_mm: float
    approach: Approach
    reach: Reach
    whom: Effect


class _Choice(NamedTuple):
    """Two rows of cords: how high they end, what from on the second guards, and where it hangs.

    ``stopped`` is how many would be stopped needlessly.
    """

    stopped: int
    first_mm: float
    second_mm: float
    split: int
    place: int

    @property
    def order(self) -> tuple[float, ...]:
        """The fewest needless stops first; then the highest cords, which stop fewest visitors."""
        return self.stopped, -self.first_mm, -self.second_mm, self.split, self.place


def who_matters(height_mm: Floats, over: Overhead, firsts: Sequence[First], fine: Mask) -> Indices:
    """The cars that a second tell-tale could spare, stop needlessly, or have to be lower for.

    Parameters
    ----------
    height_mm, over
        Of n cars.
    firsts
        Single tell-tales.
    fine
        Whose needless stop counts, shape (n,).

    Returns
    -------
    ndarray
        Their numbers.
    """
    least = min(first.setting.height_mm for first in firsts)
    reach = np.max([first.reach.height_mm for first in firsts], axis=(0, 1))
    stopped = fine & (reach > least)
    if not stopped.any():
        return np.zeros(0, np.intp)
    limit = (height_mm + over.spare_mm).min(axis=0)
    with np.errstate(invalid="ignore"):
        binds = limit < reach[stopped].max() + _PITCH_MM
        return np.flatnonzero(binds | (height_mm > least - _PITCH_MM))


def two_step(
    structure: Structure,
    height_mm: Floats,
    over: Overhead,
    first: First,
    guarded: Guarded,
    some: Indices,
    at: End,
    fine: Mask,
    cords_at: Callable[[list[Span], float], Approach | None],
    reach_at: Callable[[float], Reach],
    others_at: Callable[[float], Reach],
) -> TwoStep | None:
    """Look for a second tell-tale that spares needless stops.

    Parameters
    ----------
    structure
        Where.
    height_mm, over
        Of n cars.
    first
        The one tell-tale.
    guarded
        What hangs over the track, as trains come to it, and what is spare there of some cars.
    some
        Which these are, by number: see `who_matters`.
    at
        The end from which trains come.
    fine
        Whose needless stop counts, shape (n,).
    cords_at
        Cords at a place that guard some spans; None: there is no room to stop before these.
    reach_at, others_at
        How high those cars reach at a place, a half station, and how high all others do.

    Returns
    -------
    TwoStep or None
        The one with the fewest needless stops; None: none has fewer than one tell-tale has.
    """
    needless = fine & (first.reach.height_mm > first.setting.height_mm).any(axis=0)
    fewest, best = int(needless.sum()), None
    if not fewest or len(guarded.spans) < 2:
        return None
    places = half_stations(structure, first, guarded, at)
    pair = _Pair(
        height_mm[some], over.spare_mm[:, some], first, first.reach.height_mm[:, some], guarded
    )
    tried = pair.choices([reach_at(place) for place in places], fine[some], fewest)
    others = np.setdiff1d(np.arange(len(height_mm)), some)
    for choice in sorted(tried, key=lambda choice: choice.order):
        if choice.stopped >= fewest:
            break
        its = cords_at(guarded.spans[choice.split :], places[choice.place])
        if its is None:
            continue
        here, there = reach_at(its.place_rad), others_at(its.place_rad)
        # The others are hardly ever in question: they get what leaves them least anywhere.
        of_others = height_mm[others], over.spare_mm[:, others]
        first_mm = _lowered(
            choice.first_mm, *of_others, first.reach, first.reach.height_mm[:, others]
        )
        second_mm = _lowered(choice.second_mm, *of_others, there, there.height_mm)
        reach = here._replace(height_mm=np.empty_like(over.spare_mm))
        reach.height_mm[:, some], reach.height_mm[:, others] = here.height_mm, there.height_mm
        stopped = (first.reach.height_mm > first_mm) | (reach.height_mm > second_mm)
        whom = effect(over, np.where(stopped, np.inf, -np.inf), 0.0)
        count = int((whom.false_alarms & fine).sum())
        if count < fewest and not whom.missed.any():
            fewest, best = count, TwoStep(first_mm, second_mm, its, reach, whom)
    return best


def _lowered(
    ends_mm: float, height_mm: Floats, spare_mm: Floats, reach: Reach, reach_mm: Floats
) -> float:
    """Cords that end so high, or lower where other cars ask for it. [mm]"""
    return setting(height_mm, reach_mm, spare_mm, ends_mm, even=reach.even).height_mm


def half_stations(structure: Structure, first: First, guarded: Guarded, at: End) -> list[float]:
    """Every half station from a single tell-tale to the last that hangs over the track. [rad]

    Parameters
    ----------
    structure, first, guarded, at
        As of `two_step`.
    """
    step = structure.step_rad / _PER_STATION
    start = first.approach.place_rad
    last = guarded.spans[-1]
    low, high = (start, last.from_rad) if at == "foot" else (last.to_rad, start)
    numbers = range(math.ceil(low / step - _NOISE), math.floor(high / step + _NOISE) + 1)
    found = [number * step for number in numbers]
    return [place for place in found if abs(place - start) > _NOISE]


class _Pair:
    """Two rows of cords before what hangs over a track, the second for what comes from a split on.

    Each is as safe as one alone: a car like any of these, but lower, that would not pass under what
    a row guards meets its cords, or met those before.

    Parameters
    ----------
    height_mm, spare_mm
        Of n cars: heights, (n,), and what is spare overhead where that is least, (2, n). [mm]
    first, reach_mm
        The single tell-tale, and how high they reach there, (2, n). [mm]
    guarded
        What hangs over the track, and what of it is spare of these cars.
    """

    def __init__(
        self, height_mm: Floats, spare_mm: Floats, first: First, reach_mm: Floats, guarded: Guarded
    ) -> None:
        self.height_mm, self.first, self.reach_mm = height_mm, first, reach_mm
        self.even = first.reach.even
        # Nowhere is less spare than where there is least: the deck's bound may say so.
        spare = np.fmax(guarded.spare_mm, spare_mm)
        self.near_mm = np.minimum.accumulate(spare, axis=0)
        self.far_mm = np.minimum.accumulate(spare[::-1], axis=0)[::-1]
        self.near_headroom_mm = np.minimum.accumulate(guarded.headroom_mm)
        self.far_headroom_mm = np.minimum.accumulate(guarded.headroom_mm[::-1])[::-1]

    def first_mm(self, split: int) -> float:
        """The highest that the first may end, for what comes before a split. [mm]"""
        most = float(self.near_headroom_mm[split - 1])
        near = self.near_mm[split - 1]
        return setting(self.height_mm, self.reach_mm, near, most, even=self.even).height_mm

    def second_mm(self, split: int, first_mm: float, reaches: Sequence[Reach]) -> Floats:
        """The highest that the second may end at some places, shape (places,). [mm]"""
        far = np.where(self._held(split, first_mm), np.nan, self.far_mm[split])
        most = float(self.far_headroom_mm[split])
        return np.array(
            [
                setting(self.height_mm, it.height_mm, far, most, even=it.even).height_mm
                for it in reaches
            ]
        )

    def _held(self, split: int, first_mm: float) -> Mask:
        """Whom the first holds back from all that comes after a split, and who is like them."""
        far = self.far_mm[split]
        limit = self.reach_mm + far
        if self.even:
            limit = np.minimum(limit, self.height_mm + far)
        with np.errstate(invalid="ignore"):
            return np.asarray(limit >= first_mm)

    def choices(self, reaches: list[Reach], fine: Mask, fewest: int) -> Iterator[_Choice]:
        """Every split, place and height of the first that stops fewer of those that are fine."""
        reach_1 = np.nan_to_num(self.reach_mm[:, fine]).max(axis=0)
        reach_2 = np.array([np.nan_to_num(it.height_mm[:, fine]).max(axis=0) for it in reaches])
        least = self.first.setting.height_mm
        for split in range(1, len(self.far_mm)):
            if np.array_equal(self.near_mm[split - 1], self.near_mm[split]):
                continue  # the first may as well guard one more
            for first_mm in np.arange(self.first_mm(split), least, -1.0):
                meets = reach_1 > first_mm
                if meets.sum() >= fewest:
                    break  # a lower one meets more
                second = self.second_mm(split, float(first_mm), reaches)
                stopped = (meets | (reach_2 > second[:, None])).sum(axis=1)
                for place in np.flatnonzero(stopped < fewest).tolist():
                    ends = float(first_mm), float(second[place])
                    yield _Choice(int(stopped[place]), *ends, split, place)
