"""A second tell-tale further on, where two stop fewer cars needlessly than one.

Docs/theory.md, "Tell-tales". The first then guards only what comes before the second has room to
warn; the second guards the rest, against those cars only that the first lets by.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import End, Track
from clearance.judge.approach import Approach, Span, walk_mm
from clearance.judge.cords import Effect, Overhead, Reach, Setting, effect, setting
from clearance.judge.drive import deck_hangs_clear, overhead_gaps
from clearance.judge.findings import CheckColumn
from clearance.judge.fleet import Fleet
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
        Where each is.
    spare_mm
        Gap less allowance under each, shape (k, 2, n). [mm]
    headroom_mm
        Shape (k,). [mm]
    """

    spans: list[Span]
    spare_mm: Floats
    headroom_mm: Floats

    @classmethod
    def of(
        cls,
        structure: Structure,
        track: Track,
        fleet: Fleet,
        column: CheckColumn,
        all_spans: list[Span],
        at: End,
    ) -> "Guarded | None":
        """From the overhead column of a track; None: the deck between may be what governs."""
        if structure.is_regular:
            each = column.each_gap_mm
        elif not deck_hangs_clear(structure, track, fleet):
            return None
        else:
            each = overhead_gaps(structure, track, fleet, every=True).each_mm
        assert each is not None
        hung = [span for span in all_spans if span.number >= 0]
        hung.sort(key=lambda span: span.from_rad if at == "foot" else -span.to_rad)
        number = [span.number for span in hung]
        spare = np.where(column.applies, each[number] - column.budget.total_mm, np.nan)
        headrooms = np.array([underside.headroom_mm for underside in structure.hanging(track)])
        return cls(hung, spare, headrooms[number])


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
    near, far = slice(None, split), slice(split, None)
    spare, lowest = guarded.spare_mm[near].min(axis=0), guarded.headroom_mm[near].min()
    low = setting(height_mm, first.height_mm, spare, lowest, even=first.even).height_mm
    # What the first stops does not come to the second.
    stopped = first.height_mm > low
    spare = np.where(stopped, np.nan, guarded.spare_mm[far].min(axis=0))
    lowest = guarded.headroom_mm[far].min()
    high = setting(height_mm, second.height_mm, spare, lowest, even=second.even).height_mm
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
