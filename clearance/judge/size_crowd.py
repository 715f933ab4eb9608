"""The cars of a fleet that can govern a helix: found by looking at all of them few times.

Sizing tries many drafts. It does so with the cars that come foremost, and looks at all of them when
a design is done; whoever does not pass it joins the front. Of thousands a few dozen are ever tried
more than a few times.

What all cars asked of one draft rules most of them out on the next: on a wider curve a car swings
out less, on one that is q times tighter its swing grows by less than q squared.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix
from clearance.judge.allowance import margins_of, meeting_budget, overhead_budget
from clearance.judge.check import check
from clearance.judge.fleet import Fleet
from clearance.judge.meets import meetings
from clearance.judge.size_draft import WIDEST_MM, Limits, grade_percent, resized, spacing_of
from clearance.judge.size_least import Settled, first_draft, settle
from clearance.judge.size_spare import Spares, spares_of, tightest
from clearance.judge.structure import headroom_mm
from clearance.judge.verdict import NOT_MEASURED

__all__ = ["Crowd"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Mask = NDArray[np.bool_]

_FOREMOST = 8  # cars taken from the front of each list
_TIGHTER = 1.1  # as much tighter than what was seen, a draft is still judged by it
_STEEPER_PERCENT = 0.05
_SLACK_MM = 0.5  # on a wider curve the crest of a roof may lie a little higher
_RUNNING = ("rigid_wheelbase", "truck_swing", "underside", "coupling")
_RUNNING_FIGURES = (
    "side_play_mm",
    "truck_swing_deg",
    "coupler_swing_mm",
    "coupler_drop_mm",
    "coupler_angle_deg",
)


class _Seen(NamedTuple):
    """What all cars asked of a draft, shape (n,) each, and (tracks - 1, n). [mm]

    Headroom without its allowance; room at the sides with it; reach towards the other track.
    """

    draft: Helix
    headroom_mm: Floats
    inside_mm: Floats
    outside_mm: Floats
    out_mm: Floats
    in_mm: Floats

    def tighter(self, draft: Helix) -> float:
        """How many times tighter another draft is at the most; inf: what was seen says nothing."""
        if (
            grade_percent(draft) > grade_percent(self.draft) + _STEEPER_PERCENT
            or draft.deck.beam_width_mm > self.draft.deck.beam_width_mm
        ):
            return np.inf
        tracks = zip(self.draft.tracks, draft.tracks, strict=True)
        ratio = max(here.radius_mm / there.radius_mm for here, there in tracks)
        return ratio if ratio <= _TIGHTER else np.inf


def _seen(draft: Helix, fleet: Fleet, spares: Spares) -> _Seen:
    allowance = overhead_budget(margins_of(draft), fleet.tolerance_mm).total_mm
    inside, outside = (
        float(side) if isinstance(side, float) else 0.0
        for side in (draft.posts.inside_mm, draft.posts.outside_mm)
    )
    return _Seen(
        draft,
        headroom_mm(draft) - allowance - spares.over_mm,
        inside - spares.inside_mm,
        outside - spares.outside_mm,
        spares.out_mm,
        spares.in_mm,
    )


class Crowd:
    """A fleet that a helix is sized for, and what was seen of it so far.

    Parameters
    ----------
    helix
        What stays: gauge, tracks and cant, brackets, allowance.
    fleet
        The cars, one at the least.
    limits
        What the site allows.
    """

    def __init__(self, helix: Helix, fleet: Fleet, limits: Limits) -> None:
        self.fleet = fleet
        self.hopeless: dict[str, str] = {}
        """The cars that fail a running check on any radius, and which."""
        stated = [~np.isnan(fleet.figure(name)) for name in _RUNNING_FIGURES]
        self._runners: Mask = np.any(stated, axis=0)
        self._runs_from_mm = np.inf
        self._front = np.zeros(len(fleet), bool)
        draft = first_draft(helix, fleet, limits)
        self._asked = [_seen(draft, fleet, spares_of(draft, fleet))]
        self._join(self._asked[0], np.ones(len(fleet), bool))

    def least(
        self,
        helix: Helix,
        limits: Limits,
        without: Mask | None = None,
        start: Helix | None = None,
        *,
        foremost: bool = False,
    ) -> Settled:
        """The least helix for all cars, or all but some.

        Parameters
        ----------
        helix
            What stays.
        limits
            What the site allows.
        without
            Who is left out, shape (n,); None: nobody.
        start
            A draft to begin with; None: a guess.
        foremost
            True: only for the foremost cars, as far as they are known.
        """
        kept = np.ones(len(self.fleet), bool) if without is None else ~without
        if not (self._front & kept).any():
            self._join(self._asked[0], kept)
        while True:
            front = self.fleet.select(np.flatnonzero(self._front & kept))
            settled = settle(
                helix, front, limits, lambda draft: self._too_tight(draft, kept), start
            )
            if foremost:
                return settled
            missing = self._missing(settled.helix, kept)
            if not len(missing):
                return settled
            self._front[missing] = True
            start = settled.helix

    def confirmed(self, settled: Settled) -> bool:
        """Whether `check` lets all cars pass a design; who runs badly there is taken note of."""
        failing = self._failing(settled.helix, np.ones(len(self.fleet), bool))
        new = [car for car in failing if car not in self.hopeless]
        self._runners |= np.isin(self.fleet.ids, new)
        self._runs_from_mm = np.inf if new else self._runs_from_mm
        return not new

    def _join(self, asked: _Seen, kept: Mask) -> None:
        """Put the foremost of each list to the front."""
        stated = np.nan_to_num(self.fleet.figure("minimum_radius_mm"), nan=0.0)
        tolerant = self.fleet.tolerance_mm
        lists = [asked.headroom_mm + tolerant, asked.inside_mm, asked.outside_mm, stated]
        lists += [*(asked.out_mm + tolerant), *(asked.in_mm + tolerant)]
        cars = np.flatnonzero(kept)
        count = min(_FOREMOST, len(cars))
        for figures in lists:
            own = np.nan_to_num(figures[cars], nan=np.inf)
            self._front[cars[np.argpartition(-own, count - 1)[:count]]] = True

    def _nearest(self, draft: Helix) -> tuple[_Seen, float] | None:
        """What was seen of the most similar draft, and how many times tighter this one is.

        That is 1 at the least; None: nothing that was seen says anything of this one.
        """
        found = [
            (abs(ratio - 1), ratio, one) for one in self._asked if (ratio := one.tighter(draft))
        ]
        _, ratio, best = min(found, key=lambda one: one[0])
        return None if np.isinf(ratio) else (best, max(1.0, ratio))

    def _missing(self, draft: Helix, kept: Mask) -> Indices:
        """Who of those kept does not pass on a draft; the worst of them."""
        number = np.flatnonzero(kept & ~self._front & ~self._has_room(draft))
        if 2 * len(number) > kept.sum():
            # As well look at everybody: then the next draft may be spared it.
            spares = spares_of(draft, self.fleet)
            self._asked.append(_seen(draft, self.fleet, spares))
            worst = np.where(kept, spares.worst_mm, np.inf)
        else:
            worst = np.full(len(self.fleet), np.inf)
            if len(number):
                worst[number] = spares_of(draft, self.fleet.select(number)).worst_mm
        short = np.flatnonzero(worst < 0)
        if len(short):
            return short[np.argsort(worst[short])[: 8 * _FOREMOST]]
        return self._missing_in_meets(draft, kept)

    def _has_room(self, draft: Helix) -> Mask:
        """Who has room overhead and beside a draft, going by what was seen; of many unknown."""
        nearest = self._nearest(draft)
        if nearest is None:
            return np.zeros(len(self.fleet), bool)
        asked, ratio = nearest
        allowance = overhead_budget(margins_of(draft), self.fleet.tolerance_mm).total_mm
        inside, outside = draft.posts.inside_mm, draft.posts.outside_mm
        assert isinstance(inside, float)
        assert isinstance(outside, float)
        has_room: Mask = (
            (asked.headroom_mm + allowance + _SLACK_MM < headroom_mm(draft))
            & (asked.inside_mm * ratio**2 + _SLACK_MM < inside)
            & (asked.outside_mm * ratio**2 + _SLACK_MM < outside)
        )
        return has_room

    def _missing_in_meets(self, draft: Helix, kept: Mask) -> Indices:
        """Who of those kept is in a pair that does not pass; the worst of them."""
        nobody = np.zeros(0, np.intp)
        if spacing_of(draft) is None:
            return nobody
        number = np.flatnonzero(kept & self._could_meet(draft, kept))
        if not len(number):
            return nobody
        few = self.fleet.select(number)
        pair = tightest(draft, few)
        if pair is None or pair[2] >= 0:
            return nobody
        # Of the many that a draft far too narrow bars, the foremost will do: it will be widened.
        cars = [
            car for meeting in meetings(draft, few) for one in meeting.barred for car in one[:2]
        ]
        often = np.bincount([*pair[:2], *cars], minlength=len(few))
        often[list(pair[:2])] += len(cars)
        return number[np.argsort(-often)[: min(8 * _FOREMOST, int((often > 0).sum()))]]

    def _could_meet(self, draft: Helix, kept: Mask) -> Mask:
        """Who could be in a pair that does not pass, going by what was seen; heights left aside."""
        nearest = self._nearest(draft)
        if nearest is None:
            return kept
        asked, ratio = nearest
        tolerance = self.fleet.tolerance_mm
        spacing = spacing_of(draft) or 0.0
        allowance = meeting_budget(margins_of(draft), tolerance, tolerance[kept].max()).total_mm
        could = np.zeros(len(self.fleet), bool)
        reaches = (np.nan_to_num(reach * ratio**2, nan=np.inf) for reach in asked[-2:])
        for out, into in zip(*reaches, strict=True):
            room = spacing - allowance - 2 * _SLACK_MM
            could |= (out + into[kept].max() >= room) | (into + out[kept].max() >= room)
        return could

    def _too_tight(self, draft: Helix, kept: Mask) -> str | None:
        """A car whose running checks fail on a draft and not on a wider one; None: none."""
        radius = draft.tracks[0].radius_mm
        if radius >= self._runs_from_mm:
            return None
        runners = self._runners & kept
        failing = self._failing(draft, runners)
        if failing and not failing.keys() <= self.hopeless.keys():
            wide = resized(draft, radius=WIDEST_MM)
            self.hopeless |= self._failing(wide, runners)
        found = next((car for car in failing if car not in self.hopeless), None)
        if found is None and kept.all():
            self._runs_from_mm = radius
        return found

    def _failing(self, draft: Helix, some: Mask) -> dict[str, str]:
        """Which of some cars fail a running check on a draft, and which check."""
        if not some.any():
            return {}
        fleet = self.fleet.select(np.flatnonzero(some))
        return {
            fleet.ids[car]: column.check
            for column in check(draft, fleet).columns
            if column.check in _RUNNING
            for car in np.flatnonzero(column.effect.max(axis=0) > NOT_MEASURED)
        }
