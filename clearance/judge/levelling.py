"""Which adjusters to turn, and how far, so that every car meant to pass passes overhead.

"Levelling", docs/theory.md. The answer is looked for with linear demands, and each answer is put to
the engine that judges cars: what does not pass there demands more, until all pass.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix, Track
from catalog.survey import Survey
from clearance.judge.check import check
from clearance.judge.clearing import Clearances, Standing, Tight, all_beam_gaps_mm
from clearance.judge.fewest import Touching, fewer_turns
from clearance.judge.findings import CheckColumn, CheckResult, Finding
from clearance.judge.fleet import Fleet
from clearance.judge.level_demands import NO_LIMITS, LevelLimits, Wanted, limits_of
from clearance.judge.levelled import LeftOut, Levelling, Move, State
from clearance.judge.lifting import Lifting, grades_percent
from clearance.judge.structure import Structure
from clearance.judge.turning import Answer, good_turns
from clearance.judge.verdict import PASSES

__all__ = ["level", "overhead_now"]

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Mask = NDArray[np.bool_]

_NEAR_MM = 2.0  # to spare: what has less is asked what it demands from the start
_EACH = 12  # cars under one underside, at the start; later, those that are short
_EACH_LATER = 6
_ROUNDS = 40
_TRIES = 4  # to make a better answer hold
_SEARCHED = 6  # positions that are searched for on a track, each round
_SEEN_MM = 0.005  # by which the positions looked at may miss the tightest one
_MORE_PERCENT = (0.0, 0.05, 0.2)  # what limits get, for steps are whole
_WORSE_MM = 0.01  # a gap that another check loses by less is only rounding


def level(
    helix: Helix,
    fleet: Fleet,
    survey: Survey | None = None,
    *,
    named: Collection[str] = (),
    tracks: Collection[str] = (),
    limits: LevelLimits = NO_LIMITS,
    keep_others: bool = False,
    look_beside: bool = True,
    asked: CheckResult | None = None,
) -> Levelling:
    """Level a helix for the cars that are meant to pass.

    Parameters
    ----------
    helix
        As designed, with its adjusters.
    fleet
        The cars.
    survey
        How it stands; None: as designed.
    named
        The cars that are meant to pass, by id, both ways round on every track where they can
        stand; none: all that pass overhead on the helix as drawn, where and as they do.
    tracks
        Only on these, by name; none: on all.
    limits
        Of grade and change of grade.
    keep_others
        True: beside the cars that are named, whatever passes overhead now must pass afterwards.
    look_beside
        False: what other checks lose by it is not looked for.
    asked
        With cars named: what `overhead_now` says, where somebody has asked already.

    Returns
    -------
    Levelling
        Checked by `clearance.judge.check.check`.

    Raises
    ------
    DataError
        The helix says nothing of its adjusters.
    """
    lifting = Lifting(helix, survey)
    _ = lifting.adjusters
    if not named:
        asked = check(helix, fleet, only="overhead")
    elif asked is None:
        asked = overhead_now(helix, fleet, survey)
    meant, left_out = _meant(asked, named, tracks, keep_others=keep_others)
    if named:
        bench = _Bench(lifting, fleet, meant, asked)
    else:
        some = np.flatnonzero(_anywhere(meant))
        bench = _Bench(lifting, fleet.select(some), [mask[:, some] for mask in meant])
    found = bench.levelled(limits_of(lifting, limits), left_out)
    worse = bench.worse(found) if look_beside else []
    return replace(found, worse=worse, others_kept=keep_others or not named)


def overhead_now(helix: Helix, fleet: Fleet, survey: Survey | None) -> CheckResult:
    """How cars fare under everything that hangs, before anything is turned."""
    read = Lifting(helix, survey).read
    return check(helix, fleet, read, every_obstacle=True, only="overhead")


def _anywhere(meant: list[Mask]) -> Mask:
    """Which cars are meant to pass on any track, any way round."""
    return np.asarray(np.logical_or.reduce([mask.any(axis=0) for mask in meant]))


def _overhead(result: CheckResult, track: Track) -> CheckColumn | None:
    return next((it for it in result.on_track(track.name) if it.check == "overhead"), None)


def _meant(
    asked: CheckResult, named: Collection[str], tracks: Collection[str], *, keep_others: bool
) -> tuple[list[Mask], list[LeftOut]]:
    """Which cars are meant to pass on each track, each way round, (2, n); and which are not.

    ``asked`` is how they fare now where some are named, else as drawn.
    """
    fleet = asked.fleet
    chosen = np.array([not named or name in named for name in fleet.ids], bool)
    masks, left_out = [], []
    for track in asked.helix.tracks:
        mask = np.zeros((2, len(fleet)), bool)
        masks.append(mask)
        column = _overhead(asked, track)
        if column is None or (tracks and track.name not in tracks):
            continue
        measured = column.applies & np.isfinite(column.gap_mm)
        passes = measured & (column.codes == PASSES)
        if named:
            mask |= measured & chosen
            if keep_others:
                mask |= passes & ~chosen
        else:
            mask |= passes
        for car in np.flatnonzero(chosen & ~mask.all(axis=0)):
            reason = "does not pass as drawn"
            if not column.applies[car]:
                reason = "cannot run there"
            elif mask[:, car].any():
                reason = "passes one way round only as drawn"
            left_out.append(LeftOut(fleet.ids[car], track.name, reason))
    return masks, left_out


@dataclass(frozen=True, eq=False)
class _Bench:
    """A helix, the cars meant to pass, and what the engine says of them after some moves.

    ``meant`` says of each track which cars are, each way round, shape (2, n) each; ``asked`` is how
    they fare now, where that is known.
    """

    lifting: Lifting
    fleet: Fleet
    meant: list[Mask]
    asked: CheckResult | None = None

    @cached_property
    def tracks(self) -> list[tuple[int, Track]]:
        """The tracks on which any car is meant to pass, with their numbers."""
        numbered = enumerate(self.lifting.helix.tracks)
        return [(number, track) for number, track in numbered if self.meant[number].any()]

    @cached_property
    def touching(self) -> Touching:
        """What was found of the brackets that must be touched, from answer to answer."""
        return Touching(self.lifting.brackets)

    @cached_property
    def now(self) -> CheckResult:
        """How all of them fare overhead before anything is turned."""
        if self.asked is not None:
            return self.asked
        return overhead_now(self.lifting.helix, self.fleet, self.lifting.read)

    @cached_property
    def wanted_mm(self) -> dict[str, Floats]:
        """The allowance overhead on each track, shape (2, n). [mm]"""
        found = {}
        for _, track in self.tracks:
            column = _overhead(self.now, track)
            assert column is not None
            found[track.name] = np.broadcast_to(column.budget.total_mm, column.gap_mm.shape)
        return found

    # The way to an answer

    def levelled(self, limits: LevelLimits, left_out: list[LeftOut]) -> Levelling:
        """The whole answer."""
        before = self._state(self.now)
        result = Levelling(
            helix=self.lifting.helix,
            survey=self.lifting.survey,
            meant=[self.fleet.ids[car] for car in np.flatnonzero(_anywhere(self.meant))],
            left_out=left_out,
            limits=limits,
            moves=[],
            before=before,
            after=None,
        )
        wanted = Wanted(self.lifting, self.fleet.ids, limits)
        wanted.add(self._at_first())
        found = self._answer(wanted)
        if found is None:
            return replace(result, cannot=wanted.obstructions(), would_do=self._would_do(wanted))
        answer, after = found
        steps = answer.steps
        return replace(
            result,
            moves=self._moves(steps),
            after=self._state(after),
            expected=self.lifting.survey_after(steps),
            remeasure=self.lifting.remeasure(steps),
            fewest_proved=answer.fewest_proved,
            least_proved=answer.least_proved,
        )

    def _would_do(self, wanted: Wanted) -> LevelLimits | None:
        """Limits with which it can be done; None: there are none, or they forbid nothing."""
        for more in _MORE_PERCENT:
            limits = wanted.loosened(more)
            if limits is None or limits == wanted.limits:
                return None
            loose = Wanted(self.lifting, self.fleet.ids, limits)
            loose.clearances = wanted.clearances
            if self._good(loose) is not None:
                return limits
        return None

    def _moves(self, steps: Whole) -> list[Move]:
        step_mm, turn = self.lifting.step_mm, self.lifting.adjusters.step
        return [
            Move(int(bracket), float(steps[bracket] * step_mm), float(steps[bracket] * turn))
            for bracket in np.flatnonzero(steps)
        ]

    def _answer(self, wanted: Wanted) -> tuple[Answer, CheckResult] | None:
        """The best answer that the engine agrees with, and how all cars fare with it."""
        for _ in range(_ROUNDS):
            good = self._good(wanted)
            if good is None:
                return None
            best = self._better(wanted, good)
            after = self._after(best.steps)
            more = list(self._short_after(after, best.steps))
            if not more:
                return best, after
            wanted.add(more)
        return None

    def _good(self, wanted: Wanted) -> Answer | None:
        """A good answer that holds under all beams; None: there is none, or none is found."""
        for _ in range(_ROUNDS):
            answer = good_turns(wanted.turning)
            if answer is None:
                return None
            if not self._asks_more(wanted, answer.steps):
                return answer
        return None

    def _better(self, wanted: Wanted, good: Answer) -> Answer:
        """The best answer that holds under all beams."""
        for _ in range(_TRIES):
            better = fewer_turns(wanted.turning, good, self.touching)
            if not self._asks_more(wanted, better.steps):
                return better
        return good

    def _asks_more(self, wanted: Wanted, steps: Whole) -> bool:
        """Put an answer to the engine, and take up what cars demand that are short with it."""
        standing = self._standing(steps)
        found = False
        for number, track in self.tracks:
            tight, short_mm = self._short(standing.structure, number, track)
            if not len(tight.car):
                continue
            found = True
            wanted.add(self._demands(standing, number, track, tight, short_mm))
        return found

    def _demands(
        self, standing: Standing, number: int, track: Track, tight: Tight, short_mm: Floats
    ) -> list[Clearances]:
        """What tight cars demand; where what was looked at does not tell, the place is searched."""
        where = number, self.fleet, self.wanted_mm[track.name]
        parts = [standing.demands(*where, tight, search=False)]
        told, _ = _tightest_told(parts, standing, tight)
        untold = np.flatnonzero((told < short_mm - _SEEN_MM) | ((told <= 0) & (short_mm > 0)))
        if not len(untold):
            return parts
        searched = tight.take(untold[:_SEARCHED])
        parts.append(standing.demands(*where, searched, search=True))
        return self._sure(parts, standing, tight, short_mm)

    def _sure(
        self, parts: list[Clearances], standing: Standing, tight: Tight, short_mm: Floats
    ) -> list[Clearances]:
        """The same, and what misses what the engine finds by a thousandth is moved to there."""
        told, tightest = _tightest_told(parts, standing, tight)
        left = np.flatnonzero((told <= 0) & (short_mm > 0) & np.isfinite(told))
        if len(left):
            whole = Clearances.joined(parts, self.lifting.brackets).take(tightest[left])
            parts.append(whole._replace(least_mm=whole.least_mm + short_mm[left] - told[left]))
        return parts

    def _standing(self, steps: Whole) -> Standing:
        return Standing(self.lifting, self.lifting.after(steps), self.lifting.move_mm(steps))

    # What the engine says

    def _at_first(self) -> Iterator[Clearances]:
        """What cars demand that are short, or nearly, before anything is turned."""
        standing = Standing(self.lifting, self.lifting.structure, np.zeros(self.lifting.brackets))
        for number, track in self.tracks:
            column = _overhead(self.now, track)
            assert column is not None
            assert column.each_gap_mm is not None
            spare = self._spare(column.each_gap_mm, number, track)
            tight, short_mm = _tightest(spare, _NEAR_MM, _EACH)
            yield from self._demands(standing, number, track, tight, short_mm)
        yield from self._short_after(self.now, np.zeros(self.lifting.brackets, np.int64))

    def _short(self, structure: Structure, number: int, track: Track) -> tuple[Tight, Floats]:
        gaps = all_beam_gaps_mm(structure, track, self.fleet)
        return _tightest(self._spare(gaps, number, track), 0.0, _EACH_LATER)

    def _spare(self, gaps: Floats, number: int, track: Track) -> Floats:
        """What is left of each gap beyond its allowance; inf: nobody means that car. [mm]"""
        spare = gaps - self.wanted_mm[track.name]
        return np.where(self.meant[number] & np.isfinite(gaps), spare, np.inf)

    def _after(self, steps: Whole) -> CheckResult:
        structure = self.lifting.after(steps)
        return check(structure.helix, self.fleet, structure.survey, only="overhead")

    def _short_after(self, result: CheckResult, steps: Whole) -> Iterator[Clearances]:
        """What cars demand that a check still finds short: under the deck, too."""
        standing = self._standing(steps)
        for number, track in self.tracks:
            column = _overhead(result, track)
            assert column is not None
            spare = self._spare(column.gap_mm, number, track)
            way, car = np.nonzero(spare < 0)
            place = column.place[way, car]
            hanging = len(standing.structure.hanging(track))
            stations = np.array([it.station for it in column.places])[place]
            near = np.where(place < hanging, np.nan, stations * standing.structure.step_rad)
            tight = Tight(way, car, np.where(place < hanging, place, -1), near)
            worst = np.argsort(spare[way, car])[: 2 * _SEARCHED]
            if result is self.now:  # beams have been asked
                worst = worst[place[worst] >= hanging]
            if len(worst):
                where = number, self.fleet, self.wanted_mm[track.name]
                some, short_mm = tight.take(worst), -spare[way, car][worst]
                found = standing.demands(*where, some, search=True)
                yield from self._sure([found], standing, some, short_mm)

    def _state(self, result: CheckResult) -> State:
        least, governing = np.inf, None
        for number, track in self.tracks:
            column = _overhead(result, track)
            assert column is not None
            spare = self._spare(column.gap_mm, number, track)
            car = int(np.argmin(spare.min(axis=0)))
            if spare[:, car].min() < least:
                least = float(spare[:, car].min())
                found = result.findings(car, track.name)
                governing = next(it for it in found if it.check == "overhead")
        grade, change = grades_percent(result.structure)
        return State(least if governing else None, grade, change, governing)

    def worse(self, found: Levelling) -> list[Finding]:
        """What other checks lose by an answer."""
        if not found.moves:
            return []
        steps = np.zeros(self.lifting.brackets, np.int64)
        for move in found.moves:
            steps[move.station] = round(move.nut_turns / self.lifting.adjusters.step)
        structure = self.lifting.after(steps)
        after = check(structure.helix, self.fleet, structure.survey, only="others")
        names = [track.name for track in self.lifting.helix.tracks]
        failing = [
            (column.effect > PASSES) & self.meant[names.index(column.track)]
            for column in after.columns
        ]
        # Only who fails then can have lost anything by it.
        cars = np.flatnonzero(np.any([mask.any(axis=0) for mask in failing], axis=0))
        some = self.fleet.select(cars)
        now = check(self.lifting.helix, some, self.lifting.read, only="others")
        before = {(column.track, column.check): column for column in now.columns}
        lost = []
        for column, fails in zip(after.columns, failing, strict=True):
            for number, car in enumerate(cars):
                once = before.get((column.track, column.check))
                if once is None or not fails[:, car].any():
                    continue
                less = once.gap_mm[:, number] - column.gap_mm[:, car] > _WORSE_MM
                more = column.effect[:, car] > once.effect[:, number]
                if (less & more & fails[:, car]).any():
                    findings = after.findings(int(car), column.track)
                    lost.append(next(it for it in findings if it.check == column.check))
        return lost


def _tightest(spare: Floats, near_mm: float, each: int) -> tuple[Tight, Floats]:
    """The cars with the least to spare under each underside, and by how much each is short."""
    place, way, car = np.nonzero(spare < near_mm)
    value = spare[place, way, car]
    order = np.lexsort((value, place))
    ordered = place[order]
    first = np.searchsorted(ordered, ordered)
    kept = order[np.arange(len(order)) - first < each]
    kept = kept[np.argsort(value[kept])]
    nowhere = np.full(len(kept), np.nan)
    return Tight(way[kept], car[kept], place[kept], nowhere), -value[kept]


def _tightest_told(
    parts: list[Clearances], standing: Standing, tight: Tight
) -> tuple[Floats, NDArray[np.intp]]:
    """By how much each tight car misses its tightest demand so far, and which one that is."""
    seen = Clearances.joined(parts, standing.lifting.brackets)
    missed = seen.least_mm - seen.rows @ standing.move_mm
    told = np.full(len(tight.car), -np.inf)
    which = np.zeros(len(tight.car), np.intp)
    for index, (car, place) in enumerate(zip(tight.car, tight.place, strict=True)):
        mine = np.flatnonzero((seen.car == car) & (seen.place == place))
        if len(mine):
            which[index] = mine[np.argmax(missed[mine])]
            told[index] = missed[which[index]]
    return told, which
