"""A second tell-tale further on, where two stop fewer cars needlessly than one.

Docs/theory.md, "Tell-tales". The first then guards only what comes before the second has room to
warn; the second guards the rest, against those cars only that the first lets by.
"""

import math
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import End, Track
from clearance.judge.approach import Approach, Span, spans, walk_mm
from clearance.judge.cords import Effect, Overhead, Reach, Setting, effect, setting
from clearance.judge.drive import deck_gaps_mm, deck_margins_mm, overhead_gaps
from clearance.judge.findings import CheckColumn
from clearance.judge.fleet import Fleet
from clearance.judge.places import Place
from clearance.judge.structure import Structure

__all__ = ["First", "Guarded", "TwoStep", "two_step"]

Floats = NDArray[np.float64]

_TRIED = 3  # places worked out with the true heights, the most promising first
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
    def of(cls, structure: Structure, track: Track, fleet: Fleet, column: CheckColumn) -> "Guarded":
        """From the overhead column of a track, uphill."""
        where = structure, track, fleet
        hung = [span for span in spans(structure, track) if span.number >= 0]
        number = [span.number for span in hung]
        headrooms = [structure.hanging(track)[at].headroom_mm for at in number]
        each = column.each_gap_mm
        if not structure.is_regular:
            each = overhead_gaps(*where, every=True).each_mm
        assert each is not None
        gaps = list(each[number])
        if not structure.is_regular:
            for low, high, gap in _under_deck(*where, dict(zip(number, gaps, strict=True))):
                hung.append(_of_deck(structure, low, high))
                gaps.append(gap)
                headrooms.append(np.inf)
        spare = np.where(column.applies, np.array(gaps) - column.budget.total_mm, np.nan)
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
    for (low, one), (high, other) in pairwise(beams):
        yield low, high, np.minimum(gaps[one], gaps[other]) + margins
    ends = [deck.start_rad, *([beams[0][0], beams[-1][0]] if beams else []), deck.end_rad]
    for low, high in zip(ends[::2], ends[1::2], strict=True):
        if high - low > _NOISE:
            yield low, high, deck_gaps_mm(structure, track, fleet, low, high)


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


def two_step(
    structure: Structure,
    track: Track,
    height_mm: Floats,
    over: Overhead,
    first: First,
    guarded: Guarded,
    at: End,
    counts: NDArray[np.bool_],
    place_before: Callable[[list[Span]], Approach],
    reach_at: Callable[[float], Reach],
) -> TwoStep | None:
    """Look for a second tell-tale that spares needless stops.

    Parameters
    ----------
    structure, track
        Where.
    height_mm, over
        Of n cars.
    first
        The one tell-tale.
    guarded
        What hangs over the track.
    at
        The end from which trains come.
    counts
        Whose needless stop counts, shape (n,).
    place_before
        Where cords hang that guard some spans.
    reach_at
        How high each car reaches at a place.

    Returns
    -------
    TwoStep or None
        The one with the fewest needless stops; None: none has fewer than one tell-tale has.
    """
    alone = effect(over, first.reach.height_mm, first.setting.height_mm)
    best, fewest = None, int((alone.false_alarms & counts).sum())
    if not fewest:
        return None
    level = Reach(np.broadcast_to(height_mm, over.spare_mm.shape), even=True, described=False)
    known = height_mm, over, guarded, first.reach
    promising = []
    for split in range(1, len(guarded.spans)):
        # Before the place is known, as on level track.
        guess = _together(*known, level, split)
        stopped = int((guess[2].false_alarms & counts).sum())
        if stopped < fewest:
            promising.append((stopped, split))
    tried = 0
    for _, split in sorted(promising):
        its = _between(structure, track, first, guarded, split, at, place_before)
        if its is None:
            continue
        reach = reach_at(its.place_rad)
        low, high, whom = _together(*known, reach, split)
        stopped = int((whom.false_alarms & counts).sum())
        if stopped < fewest and not whom.missed.any():
            fewest, best = stopped, TwoStep(low, high, its, reach, whom)
        tried += 1
        if tried == _TRIED:
            break
    return best


def _together(
    height_mm: Floats,
    over: Overhead,
    guarded: Guarded,
    first: Reach,
    second: Reach,
    split: int,
) -> tuple[float, float, Effect]:
    """Two tell-tales, the second for what comes from ``split`` on: both heights, and whom."""
    # Nowhere is less spare than where there is least: the deck's bound may say so.
    near, far = (
        np.fmax(spare.min(axis=0), over.spare_mm)
        for spare in (guarded.spare_mm[:split], guarded.spare_mm[split:])
    )
    lowest = guarded.headroom_mm[:split].min()
    low = setting(height_mm, first.height_mm, near, lowest, even=first.even).height_mm
    # What the first stops does not come to the second.
    stopped = first.height_mm > low
    far = np.where(stopped, np.nan, far)
    lowest = guarded.headroom_mm[split:].min()
    high = setting(height_mm, second.height_mm, far, lowest, even=second.even).height_mm
    either = np.where(stopped | (second.height_mm > high), np.inf, -np.inf)
    return low, high, effect(over, either, 0.0)


def _between(
    structure: Structure,
    track: Track,
    first: First,
    guarded: Guarded,
    split: int,
    at: End,
    place_before: Callable[[list[Span]], Approach],
) -> Approach | None:
    """The half station nearest to what the second guards, with room to stop; None: there is none.

    It lies further on than the first one.
    """
    its = place_before(guarded.spans[split:])
    step = structure.step_rad / _PER_STATION
    if at == "foot":
        place = np.floor(its.place_rad / step + _NOISE) * step
        beyond = place > first.approach.place_rad
    else:
        place = np.ceil(its.place_rad / step - _NOISE) * step
        beyond = place < first.approach.place_rad
    if not beyond:
        return None
    line = structure.line(track)
    more = abs(walk_mm(line, place) - walk_mm(line, its.place_rad))
    return its._replace(place_rad=float(place), before_mm=float(np.floor(its.before_mm + more)))
