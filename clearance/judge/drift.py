"""What moved on a helix from one survey to the next, and how does each bracket drift over time?

Like is compared with like: a measured headroom with a measured one, a headroom that follows from
the railheads with one that did so before. "What changed", docs/theory.md.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Literal, NamedTuple, TypeVar

import numpy as np

from catalog.helix import Helix, Track
from catalog.survey import Survey, headrooms, railheads
from clearance.judge.allowance import margins_of
from clearance.judge.structure import Origin, Structure
from clearance.judge.trend import Trend, fit_trend

__all__ = [
    "Dated",
    "Drift",
    "Figure",
    "Lost",
    "Move",
    "What",
    "common_shift_mm",
    "drifts",
    "lost",
    "moves",
]

What = Literal["railhead", "headroom"]
"""What is measured at a place."""

_FIGURES: tuple[What, ...] = ("railhead", "headroom")
_BEST_FIRST: tuple[Origin, ...] = ("as measured", "from surveyed railheads", "as designed")
_HAIR = 1e-6  # of a station
_MANY = 4  # brackets do not move alike by chance


class Dated(NamedTuple):
    """A survey, and the day it holds from."""

    taken_on: date
    survey: Survey


class Figure(NamedTuple):
    """A railhead or a headroom, and what it rests on. [mm]"""

    value_mm: float
    origin: Origin


class Move(NamedTuple):
    """How a railhead or a headroom stood before, and how it stands now.

    ``track`` is "" where all tracks moved alike at that station; ``before`` is None where not even
    the drawing says how it stood.
    """

    track: str
    station: float
    what: What
    before: Figure | None
    now: Figure

    @property
    def moved_mm(self) -> float | None:
        """By how much, upwards positive. [mm]"""
        return None if self.before is None else self.now.value_mm - self.before.value_mm

    @property
    def is_like(self) -> bool:
        """Whether both were found in the same way, so that the difference is a movement."""
        return self.before is not None and self.before.origin == self.now.origin


class Lost(NamedTuple):
    """What was measured before, and is not any more; it is judged by something else now."""

    track: str
    station: float
    what: What


@dataclass(frozen=True, eq=False)
class Drift:
    """One railhead or headroom over several surveys. [mm]

    ``track`` is "" where all tracks have the same at that station; ``days`` rise; ``read_to_mm`` is
    how well each was read.
    """

    track: str
    station: float
    what: What
    origin: Origin
    days: tuple[date, ...]
    values_mm: tuple[float, ...]
    read_to_mm: float = 0.0

    @property
    def moved_mm(self) -> float:
        """From the first of these surveys to the last, upwards positive. [mm]"""
        return self.values_mm[-1] - self.values_mm[0]

    @cached_property
    def trend(self) -> Trend:
        """The straight line through them, shape (). [mm]"""
        return fit_trend(self.days, self.values_mm, self.read_to_mm)


class _Known:
    """What is known of one track by a survey; None: by the drawing alone."""

    def __init__(self, helix: Helix, survey: Survey | None, track: Track) -> None:
        self._helix = helix
        self._track = track
        self.railheads = railheads(helix, survey, track.name)
        self.headrooms = headrooms(helix, survey, track.name)

    @cached_property
    def _drawn(self) -> Structure:
        return Structure(self._helix)

    def _drawn_mm(self, station: float) -> float:
        line = self._drawn.line(self._track)
        return float(line.height_mm(np.array(station * self._drawn.step_rad)))

    def places(self) -> dict[What, list[float]]:
        """The stations at which anything was measured, or follows from what was."""
        turn = self._helix.brackets_per_turn
        beneath = {k for k in self.railheads if k.is_integer() and k + turn in self.railheads}
        return {
            "railhead": sorted(self.railheads),
            "headroom": sorted({*self.headrooms, *beneath}),
        }

    def at(self, what: What, station: float) -> dict[Origin, float]:
        """All that is known of a figure, the drawing left out. [mm]"""
        if what == "railhead":
            known = self.railheads.get(station)
            return {} if known is None else {"as measured": known}
        found: dict[Origin, float] = {}
        if station in self.headrooms:
            found["as measured"] = self.headrooms[station]
        above = self.railheads.get(station + self._helix.brackets_per_turn)
        here = self.railheads.get(station)
        if station.is_integer() and above is not None and here is not None:
            found["from surveyed railheads"] = above - here - _depth_mm(self._helix)
        return found

    def drawn(self, what: What, station: float) -> dict[Origin, float]:
        """The same figure as the drawing has it; empty: it has none. [mm]"""
        if what == "railhead":
            return {"as designed": self._drawn_mm(station)}
        above = station + self._helix.brackets_per_turn
        if not station.is_integer() or above > self._drawn.curve_stations[1] + _HAIR:
            return {}
        room = self._drawn_mm(above) - self._drawn_mm(station) - _depth_mm(self._helix)
        return {"as designed": room}


def _depth_mm(helix: Helix) -> float:
    return helix.deck.depth_mm + helix.deck.beam_depth_mm


def moves(helix: Helix, before: Survey | None, now: Survey) -> list[Move]:
    """Say how everything that a survey found stood before.

    Parameters
    ----------
    helix
        As drawn.
    before
        The survey before; None: there was none, and the drawing stands for it.
    now
        The survey.

    Returns
    -------
    list
        By station; railheads, and the headrooms that were measured or that follow from surveyed
        railheads here and a turn above.
    """
    by_track: dict[str, dict[tuple[float, What], Move]] = {}
    for track in helix.tracks:
        old, new = _Known(helix, before, track), _Known(helix, now, track)
        by_track[track.name] = {
            (station, what): _move(station, what, old, new)
            for what, stations in new.places().items()
            for station in stations
        }
    return list(_drawn_together(by_track))


def _move(station: float, what: What, old: _Known, new: _Known) -> Move:
    was, now = old.at(what, station), new.at(what, station)
    for origin in _BEST_FIRST:
        if origin in was and origin in now:
            pair = Figure(was[origin], origin), Figure(now[origin], origin)
            return Move("", station, what, *pair)
    before = _best(was or old.drawn(what, station))
    found = _best(now)
    assert found is not None
    return Move("", station, what, before, found)


def _best(known: Mapping[Origin, float]) -> Figure | None:
    return next((Figure(known[it], it) for it in _BEST_FIRST if it in known), None)


def lost(helix: Helix, before: Survey | None, now: Survey) -> list[Lost]:
    """Say what was measured before and is not any more.

    Parameters
    ----------
    helix, before, now
        As for `moves`.

    Returns
    -------
    list
        By station.
    """
    by_track: dict[str, dict[tuple[float, What], Lost]] = {}
    for track in helix.tracks:
        old, new = _Known(helix, before, track), _Known(helix, now, track)
        gone: list[tuple[What, set[float]]] = [
            ("railhead", set(old.railheads).difference(new.railheads)),
            ("headroom", set(old.headrooms).difference(new.headrooms)),
        ]
        by_track[track.name] = {
            (station, what): Lost("", station, what)
            for what, stations in gone
            for station in stations
        }
    return list(_drawn_together(by_track))


def common_shift_mm(moves: Sequence[Move], reading_mm: float) -> float | None:
    """Say by how much all railheads moved alike, which a helix seldom does, and a bench mark may.

    Parameters
    ----------
    moves
        What moved.
    reading_mm
        How well people read. [mm]

    Returns
    -------
    float or None
        The mean, where four railheads or more moved by the same but for twice ``reading_mm``, and
        by more than that. [mm]
    """
    moved = [it.moved_mm for it in moves if it.what == "railhead" and it.is_like]
    known = [value for value in moved if value is not None]
    if len(known) < _MANY or max(known) - min(known) > 2 * reading_mm:
        return None
    mean = sum(known) / len(known)
    return mean if abs(mean) > 2 * reading_mm else None


def drifts(helix: Helix, surveys: Sequence[Dated]) -> list[Drift]:
    """Follow every railhead and headroom through several surveys.

    Of a headroom that was measured at least twice these readings are followed; of any other one
    what follows from the railheads, or what was measured once.

    Parameters
    ----------
    helix
        As drawn.
    surveys
        The oldest first, one a day.

    Returns
    -------
    list
        By station, then as in a survey: railhead, headroom.
    """
    by_track: dict[str, dict[tuple[float, What], _Followed]] = {}
    for track in helix.tracks:
        known = [(day, _Known(helix, survey, track)) for day, survey in surveys]
        found: dict[tuple[float, What], dict[Origin, dict[date, float]]] = {}
        for day, at_day in known:
            for what, stations in at_day.places().items():
                for station in stations:
                    for origin, value in at_day.at(what, station).items():
                        series = found.setdefault((station, what), {}).setdefault(origin, {})
                        series[day] = value
        by_track[track.name] = {
            place: _Followed("", *place, *_followed(series)) for place, series in found.items()
        }
    read_to = margins_of(helix).headroom_reading_mm
    return [_drift(followed, read_to) for followed in _drawn_together(by_track)]


def _drift(its: "_Followed", read_to_mm: float) -> Drift:
    days, values = zip(*its.values, strict=True)
    return Drift(its.track, its.station, its.what, its.origin, days, values, read_to_mm)


class _Followed(NamedTuple):
    track: str
    station: float
    what: What
    origin: Origin
    values: tuple[tuple[date, float], ...]


def _followed(
    series: Mapping[Origin, Mapping[date, float]],
) -> tuple[Origin, tuple[tuple[date, float], ...]]:
    """Which of the ways in which a figure was found is followed, and what it gave day by day."""
    enough = [origin for origin in _BEST_FIRST if len(series.get(origin, ())) > 1]
    origin = (enough or [it for it in _BEST_FIRST if it in series])[0]
    return origin, tuple(sorted(series[origin].items()))


_Row = TypeVar("_Row", Move, Lost, _Followed)


def _drawn_together(by_track: Mapping[str, Mapping[tuple[float, What], _Row]]) -> Iterator[_Row]:
    """The rows of all tracks by their station: one where all say the same, else one a track."""
    stations = sorted({station for rows in by_track.values() for station, _ in rows})
    for station in stations:
        here: dict[str, list[_Row]] = {
            track: [rows[station, what] for what in _FIGURES if (station, what) in rows]
            for track, rows in by_track.items()
        }
        first, *others = here.values()
        if all(rows == first for rows in others):
            yield from first
        else:
            for track, rows in here.items():
                yield from (row._replace(track=track) for row in rows)
