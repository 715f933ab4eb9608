"""All that a levelling must meet, as one list of demands, and what each of them is about.

"Levelling", docs/theory.md.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import groupby
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.judge.clearing import Clearances
from clearance.judge.lifting import Lifting, grades_percent
from clearance.judge.structure import Structure
from clearance.judge.turning import contradicting, least_excess
from clearance.judge.turning_program import Demands, Turning

__all__ = ["NO_LIMITS", "LevelLimits", "Obstruction", "Wanted", "limits_of"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

CUSHION_MM = 0.002  # more than positions and angles are rounded by, less than anybody can set
_ROUNDING = 1e-9
_NONE = np.zeros(0, np.intp)

Kind = Literal["clearance", "grade", "change", "survey", "travel", "lead"]


class LevelLimits(NamedTuple):
    """The greatest grade and the greatest change of grade at a bend, of any track. [percent]

    None: no worse than now, or as drawn, whichever is more.
    """

    max_grade_percent: float | None = None
    max_change_percent: float | None = None


NO_LIMITS = LevelLimits()
"""Nothing asked for."""


class Obstruction(NamedTuple):
    """Something that stands in the way of a levelling, together with the others.

    Attributes
    ----------
    kind
        "clearance": cars that are meant to pass; "grade", "change": limits of the line; "travel":
        a bracket that can go no further; "lead": one that stays, because a straight lead begins on
        it; "survey": a line so far off the drawing that no survey of it is believed.
    cars
        Whose clearance.
    track
        On which track; "": on all.
    station, to_station
        Where; of a grade, from where to where.
    obstacle
        What hangs there.
    end
        Of the travel.
    """

    kind: Kind
    cars: tuple[str, ...] = ()
    track: str = ""
    station: float = 0.0
    to_station: float | None = None
    obstacle: str = ""
    end: Literal["up", "down", ""] = ""


def limits_of(lifting: Lifting, asked: LevelLimits) -> LevelLimits:
    """The limits that hold, those that were not asked for filled in."""
    now = grades_percent(lifting.structure)
    drawn = grades_percent(Structure(lifting.helix))
    worse = [max(pair) for pair in zip(now, drawn, strict=True)]
    return LevelLimits(
        *(usual if own is None else own for own, usual in zip(asked, worse, strict=True))
    )


@dataclass(eq=False)
class Wanted:
    """What is wanted of the brackets: the shape of the line, and what cars have demanded so far.

    Attributes
    ----------
    lifting
        The helix and its brackets.
    ids
        What is painted on the cars that demand something.
    limits
        Those that hold.
    clearances
        What cars have demanded so far.
    """

    lifting: Lifting
    ids: list[str]
    limits: LevelLimits
    clearances: Clearances = field(init=False)

    def __post_init__(self) -> None:
        self.clearances = Clearances.joined([], self.lifting.brackets)

    def add(self, parts: Iterable[Clearances]) -> Clearances:
        """Take up what cars demand; gives it joined."""
        more = Clearances.joined(parts, self.lifting.brackets)
        # What clears as it stands, by however little, may stay as it is.
        least = more.least_mm
        least = np.where(least > 0, least + CUSHION_MM, np.minimum(least + CUSHION_MM, 0.0))
        more = more._replace(least_mm=least)
        self.clearances = Clearances.joined([self.clearances, more], self.lifting.brackets)
        return more

    @cached_property
    def _line(self) -> tuple[Demands, list[Obstruction]]:
        """What is demanded of the line, and what each of that is about."""
        lifting, limits = self.lifting, self.limits
        about: list[Obstruction] = []
        rows, least = [], []

        def bounded(now: Floats, answer: Floats, most: Floats | float) -> None:
            for sign in (1.0, -1.0):
                rows.append(-sign * answer)
                least.append(sign * now - most - _ROUNDING)

        grades, changes = lifting.grades, lifting.changes
        assert limits.max_grade_percent is not None
        assert limits.max_change_percent is not None
        bounded(grades.percent, grades.rows, limits.max_grade_percent)
        ends = zip(grades.track, grades.from_station, grades.to_station, strict=True)
        of_grade = [Obstruction("grade", (), track, float(a), float(b)) for track, a, b in ends]
        bounded(changes.percent, changes.rows, limits.max_change_percent)
        at = zip(changes.track, changes.station, strict=True)
        of_change = [Obstruction("change", (), track, float(station)) for track, station in at]
        about += [*of_grade, *of_grade, *of_change, *of_change]
        for track in lifting.helix.tracks:
            jumps = lifting.jumps(track)
            bounded(jumps.off_mm, jumps.rows, np.maximum(jumps.most_mm, np.abs(jumps.off_mm)))
            pairs = zip(jumps.from_station, jumps.to_station, strict=True)
            of_jump = [Obstruction("survey", (), track.name, float(a), float(b)) for a, b in pairs]
            about += [*of_jump, *of_jump]
        whole = np.concatenate(rows)
        return Demands(whole, np.concatenate(least), np.arange(len(whole))), about

    @property
    def turning(self) -> Turning:
        """All of it as a question to the solver; the line's demands come first."""
        line, _ = self._line
        mine = self.clearances
        keys = np.column_stack([mine.track, mine.place, np.round(mine.station)])
        _, alike = np.unique(keys, axis=0, return_inverse=True)
        demands = Demands(
            np.concatenate([line.rows, mine.rows]),
            np.concatenate([line.least, mine.least_mm]),
            np.concatenate([line.alike, len(line.least) + alike.ravel()]),
        )
        return Turning(demands, self.lifting.step_mm, *self.lifting.limits)

    def obstructions(self) -> list[Obstruction]:
        """What contradicts, the smallest set; empty: the steps of the nut are too coarse."""
        found = contradicting(self.turning)
        if found is None:
            return []
        line, about = self._line
        cars = self.clearances
        lines, brackets = len(line.least), self.lifting.brackets
        named = []
        for number in found.tolist():
            if number < lines:
                named.append(about[number])
            elif number < lines + len(cars.car):
                named.append(self._clearance(number - lines))
            else:
                bracket = number - lines - len(cars.car)
                named.append(self._travel(bracket % brackets, upper=bracket >= brackets))
        return _together(named)

    def _clearance(self, number: int) -> Obstruction:
        cars = self.clearances
        track = self.lifting.helix.tracks[cars.track[number]]
        place = int(cars.place[number])
        hanging = self.lifting.structure.hanging(track)
        return Obstruction(
            "clearance",
            (self.ids[cars.car[number]],),
            track.name,
            float(cars.station[number]),
            obstacle=hanging[place].place.obstacle if place >= 0 else "deck",
        )

    def _travel(self, bracket: int, *, upper: bool) -> Obstruction:
        if bracket in self.lifting.held:
            return Obstruction("lead", station=bracket)
        return Obstruction("travel", station=bracket, end="up" if upper else "down")

    def loosened(self, more: float) -> LevelLimits | None:
        """The limits of grade and change under which it might do; None: no limits would do.

        ``more`` is what either gets beyond its least, for steps are whole. [percent]
        """
        about = self._line[1]
        kinds = np.array([one.kind for one in about])
        groups = [np.flatnonzero(kinds == kind) for kind in ("grade", "change")]
        excess = least_excess(self.turning, groups)
        if excess is None:
            return None
        wider = []
        for most, excess_percent in zip(self.limits, excess, strict=True):
            assert most is not None
            if excess_percent > _ROUNDING or more:
                # To whole hundredths of a percent, upwards.
                most = math.ceil(100 * (most + excess_percent + more) - _ROUNDING) / 100
            wider.append(most)
        return LevelLimits(*wider)


def _together(named: list[Obstruction]) -> list[Obstruction]:
    """The same with cars under one underside, and pieces of line that join, drawn together."""
    order = ("clearance", "grade", "change", "survey", "travel", "lead")
    found: list[Obstruction] = []

    def key(one: Obstruction) -> tuple[int, str, str, float]:
        return order.index(one.kind), one.track, one.obstacle, one.station

    unique = sorted(set(named), key=key)
    for what, group in groupby(unique, lambda it: (it.kind, it.track, it.obstacle)):
        for one in group:
            last = found[-1] if found else one
            if (last.kind, last.track, last.obstacle) != what or not found:
                found.append(one)
            elif last.kind == "clearance" and last.station == one.station:
                found[-1] = last._replace(cars=tuple(dict.fromkeys([*last.cars, *one.cars])))
            elif last.to_station is not None and last.to_station == one.station:
                found[-1] = last._replace(to_station=one.to_station)
            else:
                found.append(one)
    return found
