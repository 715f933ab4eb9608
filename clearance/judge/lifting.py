"""What turning the nuts does: railheads, headrooms and grades, as linear functions of the moves.

"Levelling", docs/theory.md. A bracket carries all tracks of its tier. Raised by 1 mm it lifts the
railhead there by 1 mm, and in proportion as far as its neighbours; it lifts the beam that it
carries over the tier below; and it takes from the headroom over itself.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from catalog.errors import DataError
from catalog.helix import Adjusters, Helix, Obstacle, Track
from catalog.survey import Reading, Survey
from catalog.survey_fit import LEAST_STEP_MM
from clearance.geometry.line import Line
from clearance.judge.structure import Structure

__all__ = ["EXPECTED_BY", "Changes", "Grades", "Jumps", "Lifting", "Remeasure", "grades_percent"]

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

EXPECTED_BY = "expected, not measured"
"""Who took a reading that was reckoned from the turns of a nut."""

_DIGITS = 6  # of a millimetre, as a survey is written
_NOISE = 1e-9


class Grades(NamedTuple):
    """The grade of every straight piece of every track, and how it answers to the moves.

    Attributes
    ----------
    track
        The name of each piece's track.
    from_station, to_station
        Where it lies, shape (p,).
    percent
        As it stands, shape (p,). [percent]
    rows
        What a move of each bracket adds, shape (p, brackets). [percent/mm]
    """

    track: list[str]
    from_station: Floats
    to_station: Floats
    percent: Floats
    rows: Floats


class Changes(NamedTuple):
    """The change of grade at every bend of every track, shapes as for `Grades`. [percent]"""

    track: list[str]
    station: Floats
    percent: Floats
    rows: Floats


class Jumps(NamedTuple):
    """How much more a track climbs between known stations than drawn, shape (j,). [mm]

    ``rows`` is what a move of each bracket adds, shape (j, brackets); ``most_mm`` is what a survey
    may differ from the drawing by.
    """

    from_station: Floats
    to_station: Floats
    off_mm: Floats
    rows: Floats
    most_mm: Floats


class Remeasure(NamedTuple):
    """Something that the helix file describes, and the least headroom to expect under it. [mm]"""

    obstacle: str
    headroom_mm: float


def grades_percent(structure: Structure) -> tuple[float, float]:
    """The greatest grade of a helix, and its greatest change of grade, on any track. [percent]"""
    grades, changes = [0.0], [0.0]
    for track in structure.helix.tracks:
        line = structure.line(track)
        percent = 100 * line.slope_mm / line.radius_mm
        grades.append(float(np.abs(percent).max()))
        changes.append(float(np.abs(np.diff(percent)).max(initial=0.0)))
    return max(grades), max(changes)


@dataclass(frozen=True, eq=False)
class Lifting:
    """The brackets of a helix as it stands, and what follows when they are moved.

    Moves are millimetres upward, or whole steps of the nut, of all brackets from 0 to the last.
    """

    helix: Helix
    survey: Survey | None = None

    @cached_property
    def adjusters(self) -> Adjusters:
        """What the helix file says of its adjusters.

        Raises
        ------
        DataError
            It says nothing.
        """
        if self.helix.adjusters is None:
            raise DataError(
                f"helix {self.helix.name!r} says nothing of its adjusters; write under [adjusters] "
                f'in its file: pitch = "1.25 mm" (what a turn of the nut raises), step = 0.25 (the '
                f'finest part of a turn that people set), travel = "40 mm" (each way from the '
                f"design height)"
            )
        return self.helix.adjusters

    @property
    def step_mm(self) -> float:
        """What the finest turn of a nut raises. [mm]"""
        return self.adjusters.pitch_mm * self.adjusters.step

    def move_mm(self, steps: Whole) -> Floats:
        """Whole steps of each bracket's nut as moves. [mm]"""
        return np.asarray(steps * self.step_mm, float)

    @property
    def brackets(self) -> int:
        """How many brackets there are."""
        return self.helix.last_station + 1

    @cached_property
    def structure(self) -> Structure:
        """The helix as it stands, every beam by itself."""
        return Structure(self.helix, self.read)

    @cached_property
    def read(self) -> Survey:
        """The survey; without one, a single reading that says what the drawing says."""
        if self.survey is not None:
            return self.survey
        railhead = self.helix.design_railheads()[0.0]
        return Survey(readings=(Reading(station=0.0, railhead_mm=railhead),))

    # How far a bracket can go

    @cached_property
    def held(self) -> frozenset[int]:
        """The brackets that carry the beginning of a straight lead, and stay where they are."""
        found: set[int] = set()
        for end, station in zip(("foot", "head"), self.structure.curve_stations, strict=True):
            if any(lead.at == end for lead in self.helix.leads):
                for track in self.helix.tracks:
                    found |= set(np.flatnonzero(self._free_rows(track, [station])[0]).tolist())
        return frozenset(found)

    @cached_property
    def limits(self) -> tuple[Whole, Whole]:
        """How many steps down and up each bracket can go from where it stands.

        Within the travel, each way from the design height, on every track. A bracket that stands
        beyond its travel may stay, or come nearer.
        """
        design = self.helix.design_railheads()
        stations = np.arange(self.brackets)
        drawn = np.array([design[float(k)] for k in stations])
        places = np.asarray(stations * self.structure.step_rad, float)
        heights = [self.structure.line(track).height_mm(places) for track in self.helix.tracks]
        off = np.array(heights) - drawn
        travel, step = self.adjusters.travel_mm, self.step_mm
        low = np.ceil((-travel - off.min(axis=0)) / step - _NOISE)
        high = np.floor((travel - off.max(axis=0)) / step + _NOISE)
        low, high = np.minimum(low, 0), np.maximum(high, 0)
        held = sorted(self.held)
        low[held] = high[held] = 0
        return low.astype(np.int64), high.astype(np.int64)

    # How the line answers

    def rows(self, track: Track, place_rad: ArrayLike) -> Floats:
        """How much a move of each bracket lifts the railhead at places, (..., brackets). [1]"""
        line, knots = self.structure.line(track), self._knots[track.name]
        place = np.asarray(place_rad, float)
        piece = line.piece(place)
        start, end = line.knots_rad[piece], line.knots_rad[piece + 1]
        part = ((place - start) / (end - start))[..., None]
        return np.asarray(knots[piece] + part * (knots[piece + 1] - knots[piece]))

    @cached_property
    def _knots(self) -> dict[str, Floats]:
        return {track.name: self._knots_of(track) for track in self.helix.tracks}

    def _knots_of(self, track: Track) -> Floats:
        """How much a move of each bracket lifts each knot of a track's line, (knots, brackets)."""
        line = self.structure.line(track)
        # A straight lead begins as high as the curve ends.
        rows = self._free_rows(
            track, np.clip(line.knots_rad, *line.curve_rad) / self.structure.step_rad
        )
        rows[:, sorted(self.held)] = 0.0
        return rows

    def _free_rows(self, track: Track, stations: ArrayLike) -> Floats:
        """The same at any stations of the curve, were no bracket held."""
        step = self.structure.step_rad
        known = self._known_stations(track)
        columns = [
            Line(1.0, known * step, share, 0.0, 0.0).height_mm(np.asarray(stations, float) * step)
            for share in self._share(known).T
        ]
        rows = np.array(columns).T
        rows[np.abs(rows) < _NOISE] = 0.0
        return rows

    def _known_stations(self, track: Track) -> Floats:
        named = ("", track.name)
        surveyed = [
            round(reading.station, _DIGITS)
            for reading in self.read.readings
            if reading.track in named and reading.railhead_mm is not None
        ]
        return np.unique([*self.helix.design_railheads(), *surveyed])

    def _share(self, stations: Floats) -> Floats:
        """What each bracket lifts where the railhead is known, (stations, brackets).

        Between two brackets in proportion; what is beyond the first and the last rests elsewhere.
        """
        numbers = np.arange(self.brackets)
        share = np.maximum(1 - np.abs(stations[:, None] - numbers), 0.0)
        share[(stations < 0) | (stations > self.helix.last_station)] = 0.0
        return np.asarray(share)

    @cached_property
    def grades(self) -> Grades:
        """The grade of every piece, leads included."""
        tracks: list[str] = []
        parts = []
        for track in self.helix.tracks:
            line, knots = self.structure.line(track), self._knots[track.name]
            run = np.diff(line.knots_rad) * line.radius_mm
            stations = line.knots_rad / self.structure.step_rad
            percent = 100 * np.diff(line.railhead_mm) / run
            rows = 100 * np.diff(knots, axis=0) / run[:, None]
            tracks += [track.name] * len(run)
            parts.append((stations[:-1], stations[1:], percent, rows))
        return Grades(tracks, *(np.concatenate(part) for part in zip(*parts, strict=True)))

    @cached_property
    def changes(self) -> Changes:
        """The change of grade at every bend."""
        grades = self.grades
        joined = [
            here == there for here, there in zip(grades.track, grades.track[1:], strict=False)
        ]
        at = np.flatnonzero(joined)
        return Changes(
            [grades.track[number] for number in at],
            grades.to_station[at],
            grades.percent[at + 1] - grades.percent[at],
            grades.rows[at + 1] - grades.rows[at],
        )

    def jumps(self, track: Track) -> Jumps:
        """What lies between the known stations of a track, beside what the drawing has there.

        A survey with greater differences than are believed is refused when it is read.
        """
        known, line = self._known_stations(track), self.structure.line(track)
        drawn = self.as_drawn().structure.line(track)
        place = known * self.structure.step_rad
        off = line.height_mm(place) - drawn.height_mm(place)
        most = max(self.helix.rise_per_turn_mm / self.helix.brackets_per_turn, LEAST_STEP_MM)
        return Jumps(
            known[:-1],
            known[1:],
            np.diff(off),
            np.diff(self._share(known), axis=0),
            most * np.maximum(1.0, np.diff(known)),
        )

    def undersides(self, track: Track) -> tuple[Floats, list[Floats]]:
        """The elevation of what hangs over a track, and how it answers to the moves.

        Parameters
        ----------
        track
            Over which.

        Returns
        -------
        tuple
            Elevations as they stand, (k,) [mm]; and for each underside the rows, (v, brackets), of
            which the least holds: of what the helix file describes nobody knows what carries it.
        """
        structure = self.structure
        described = {
            structure.place_of(it, track): it
            for it in structure.obstacles(track)
            if it.headroom_mm is not None
        }
        turn = self.helix.brackets_per_turn
        hanging = structure.hanging(track)
        answers = []
        for underside in hanging:
            station = underside.place.station
            if underside.place in described:
                answers.append(self._any_of(track, described[underside.place]))
            elif underside.place.origin != "as measured" or self._is_beneath(station):
                answers.append(self.rows(track, [(station + turn) * structure.step_rad]))
            else:
                # What hangs where no tier is above hangs from something that stays.
                answers.append(np.zeros((1, self.brackets)))
        return np.array([underside.elevation_mm for underside in hanging]), answers

    def _is_beneath(self, station: float) -> bool:
        """Whether a place is under another tier."""
        last = self.structure.curve_stations[1]
        return station + self.helix.brackets_per_turn <= last + _NOISE

    def _any_of(self, track: Track, obstacle: Obstacle) -> Floats:
        """The answers of what stands on the track's own deck, stays, or hangs from the tier above.

        The first is that of the track itself.
        """
        place = self.structure.place_rad(obstacle, track)
        here = self.rows(track, [place])
        answers = np.concatenate([here, np.zeros_like(here)])
        if obstacle.station is None or not self._is_beneath(obstacle.station):
            return answers
        return np.concatenate([answers, self.rows(track, [place + 2 * math.pi])])

    # The helix after the moves

    def after(self, steps: Whole) -> Structure:
        """The helix as it is to be expected after some moves."""
        helix = self.helix.model_copy(update={"obstacles": self._obstacles_after(steps)})
        return Structure(helix, self.survey_after(steps) or self.read)

    def survey_after(self, steps: Whole) -> Survey | None:
        """The survey to expect after some moves; None: nothing was surveyed, and nothing moves."""
        move = self.move_mm(steps)
        rows = {(it.track, round(it.station, _DIGITS)): it for it in self.read.readings}
        if self.survey is None:
            rows.clear()
        self._add_untaken(rows, move)
        if not rows:
            return None
        readings = tuple(self._moved(reading, move) for reading in rows.values())
        if self.survey is None:
            return Survey(readings=readings)
        return self.survey.model_copy(update={"readings": readings})

    def _add_untaken(self, rows: dict[tuple[str, float], Reading], move: Floats) -> None:
        """Give what moves and was not surveyed its drawn height, to be moved with the rest."""
        design = self.helix.design_railheads()
        stations = np.array(list(design))
        for station, lift in zip(stations, self._share(stations) @ move, strict=True):
            own = [rows.get((name, station)) for name in self._track_names]
            taken = [it is not None and it.railhead_mm is not None for it in own]
            common = rows.get(("", station))
            if not lift or all(taken) or (common and common.railhead_mm is not None):
                continue
            drawn = Reading(station=station, railhead_mm=design[station])
            if common:
                drawn = common.model_copy(update={"railhead_mm": drawn.railhead_mm})
            rows["", station] = drawn

    @property
    def _track_names(self) -> list[str]:
        return [track.name for track in self.helix.tracks]

    def _moved(self, reading: Reading, move: Floats) -> Reading:
        place = np.array([round(reading.station, _DIGITS)])
        update: dict[str, object] = {}
        if reading.railhead_mm is not None:
            lift = float((self._share(place) @ move)[0])
            if lift:
                update["railhead_mm"] = round(reading.railhead_mm + lift, _DIGITS)
        if reading.headroom_mm is not None:
            more = self._room(reading, move)
            if more:
                update["headroom_mm"] = round(reading.headroom_mm + more, _DIGITS)
        if update:
            update["taken_by"] = EXPECTED_BY
        return reading.model_copy(update=update)

    def _room(self, reading: Reading, move: Floats) -> float:
        """What a measured headroom gains; where tracks differ, the least of them. [mm]"""
        place = reading.station * self.structure.step_rad
        gains = []
        for track in self.helix.tracks:
            if reading.track not in ("", track.name):
                continue
            here = float((self.rows(track, [place]) @ move)[0])
            if self._is_beneath(reading.station):
                gains.append(float((self.rows(track, [place + 2 * math.pi]) @ move)[0]) - here)
            else:
                gains.append(-here)
        return min(gains)

    def _obstacles_after(self, steps: Whole) -> tuple[Obstacle, ...]:
        changed = []
        for obstacle in self.helix.obstacles:
            lost = self._lost_mm(obstacle, self.move_mm(steps))
            if lost and obstacle.headroom_mm is not None:
                left = max(round(obstacle.headroom_mm - lost, _DIGITS), 10.0**-_DIGITS)
                obstacle = obstacle.model_copy(update={"headroom_mm": left})
            changed.append(obstacle)
        return tuple(changed)

    def _lost_mm(self, obstacle: Obstacle, move: Floats) -> float:
        """The most that the headroom under a described obstacle may lose. [mm]"""
        lost = 0.0
        for track in self.helix.tracks:
            if obstacle.headroom_mm is None or obstacle.track not in ("", track.name):
                continue
            answers = self._any_of(track, obstacle) @ move
            lost = max(lost, float(answers[0] - answers.min()))
        return lost

    def remeasure(self, steps: Whole) -> list[Remeasure]:
        """What the helix file describes and what may have less headroom after the moves."""
        pairs: Sequence[tuple[Obstacle, Obstacle]] = list(
            zip(self.helix.obstacles, self._obstacles_after(steps), strict=True)
        )
        return [
            Remeasure(after.name, after.headroom_mm)
            for before, after in pairs
            if after.headroom_mm is not None and after.headroom_mm != before.headroom_mm
        ]

    def as_drawn(self) -> "Lifting":
        """The same helix before anybody surveyed it."""
        return replace(self, survey=None)
