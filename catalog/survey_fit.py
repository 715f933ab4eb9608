"""Does a survey go with the helix it was taken on? Refuses what cannot be, remarks on what may not.

A reading in the wrong unit, a station that is not there, a headroom that the tier above
contradicts: each would move a verdict without anybody noticing.
"""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Literal, NoReturn

from catalog.errors import DataError
from catalog.helix import HEADROOM_READING_MM, SETTLEMENT_MM, Helix, Track
from catalog.slips import slip_words
from catalog.survey import (
    Survey,
    curve_ends,
    headrooms,
    known_railheads,
    not_surveyed,
    reading_place,
)
from catalog.words import did_you_mean, quoted

__all__ = ["LEAST_STEP_MM", "fit_survey", "holes", "station_ranges"]

LEAST_STEP_MM = 5.0  # what a bracket may have moved, however little it rises to the next
FACTOR = 3.0  # no structure moves so far; a slip of units does
HAIR = 1e-6  # of a station, and of a millimetre


def fit_survey(
    survey: Survey, helix: Helix, *, source: str = "the survey", rows: Sequence[int] = ()
) -> list[str]:
    """Say what is doubtful about a survey, and refuse what cannot be.

    Parameters
    ----------
    survey, helix
        What was measured, and the design.
    source, rows
        What the survey is called in a refusal, like its file, and the row of the file on which each
        of its readings stands; none: it comes from no file.

    Returns
    -------
    list
        A line each: headrooms that the tier above contradicts by more than readings and
        settlement explain, and `holes`. Empty: nothing is doubtful.

    Raises
    ------
    DataError
        One line: an unknown track, a station off the line, a railhead or a headroom in the wrong
        unit, a headroom higher than the next tier.
    """
    _refuse_tracks(survey, helix, source, rows)
    _refuse_stations(survey, helix, source, rows)
    remarks: list[str] = []
    for track in helix.tracks:
        at = _AtTrack(survey, helix, track, source, rows)
        _refuse_jumps(at)
        _refuse_climb(at)
        for station, headroom in headrooms(helix, survey, track.name).items():
            remarks += _headroom_remarks(at, station, headroom)
    return [*dict.fromkeys(remarks), *holes(survey, helix)]


def holes(survey: Survey, helix: Helix) -> list[str]:
    """Say which stations were not surveyed: a line for the tracks that are alike in that."""
    found: dict[str, list[str]] = {}
    for track in helix.tracks:
        words = "; ".join(_holes(survey, helix, track.name))
        if words:
            found.setdefault(words, []).append(track.name)
    return [
        words
        if len(names) == len(helix.tracks)
        else f"track {', '.join(map(quoted, names))}: {words}"
        for words, names in found.items()
    ]


@dataclass(frozen=True)
class _Line:
    """Elevations by station, straight between them and beyond their ends. [mm]"""

    stations: Sequence[float]
    railheads: Sequence[float]

    def at(self, station: float) -> float:
        """The elevation at any station. [mm]"""
        upper = min(max(bisect_right(self.stations, station), 1), len(self.stations) - 1)
        here, there = self.stations[upper - 1], self.stations[upper]
        low, high = self.railheads[upper - 1], self.railheads[upper]
        return low + (high - low) * (station - here) / (there - here)


@dataclass(frozen=True)
class _AtTrack:
    """One track as surveyed beside its design, and how a complaint about it begins."""

    survey: Survey
    helix: Helix
    track: Track
    source: str
    rows: Sequence[int]
    measured: _Line = field(init=False)
    design: _Line = field(init=False)

    def __post_init__(self) -> None:
        name = self.track.name
        for line, survey in (("measured", self.survey), ("design", None)):
            object.__setattr__(self, line, _Line(*known_railheads(self.helix, survey, name)))

    @property
    def surveyed(self) -> list[float]:
        """The stations whose railhead was measured, rising."""
        names = ("", self.track.name)
        return sorted(
            reading.station
            for reading in self.survey.readings
            if reading.railhead_mm is not None and reading.track in names
        )

    @property
    def step_mm(self) -> float:
        """By how much the change from one bracket to the next may differ from the design's."""
        return max(self.helix.rise_per_turn_mm / self.helix.brackets_per_turn, LEAST_STEP_MM)

    def place(self, *stations: float) -> str:
        """Where something is, with the track where it has readings of its own there."""
        own = any(
            reading.track == self.track.name and reading.station in stations
            for reading in self.survey.readings
        )
        number = " and ".join(f"{station:g}" for station in stations)
        track = f", track {quoted(self.track.name)}" if own else ""
        return f"station{'s' if len(stations) > 1 else ''} {number}{track}"

    def refuse(
        self, words: str, *stations: float, of: float, column: Literal["railhead", "headroom"]
    ) -> NoReturn:
        """Raise a refusal about some stations; what is likely wrong is the reading ``of`` one."""
        numbers = [
            number
            for number, reading in enumerate(self.survey.readings)
            if abs(reading.station - of) < HAIR
            and reading.track in ("", self.track.name)
            and getattr(reading, f"{column}_mm") is not None
        ]
        # Of two, the one that names the track is the one that counts.
        number = max(numbers, key=lambda it: bool(self.survey.readings[it].track))
        where = reading_place(self.source, self.rows, number, column)
        raise DataError(f"{where}, {self.place(*stations)}: {words}")


def _refuse_tracks(survey: Survey, helix: Helix, source: str, rows: Sequence[int]) -> None:
    names = [track.name for track in helix.tracks]
    for number, reading in enumerate(survey.readings):
        if reading.track and reading.track not in names:
            where = reading_place(source, rows, number, "track")
            raise DataError(
                f"{where}, station {reading.station:g}: there is no track "
                f"{quoted(reading.track)}; {did_you_mean(reading.track, names)}"
            )


def _refuse_stations(survey: Survey, helix: Helix, source: str, rows: Sequence[int]) -> None:
    turn = helix.brackets_per_turn
    first, last = curve_ends(helix.model_copy(update={"obstacles": ()}), None)
    straight = {lead.at for lead in helix.leads}
    for number, reading in enumerate(survey.readings):
        station = reading.station
        end = "foot" if station < first - HAIR else "head"
        beyond = max(first - station, station - last)
        place = f"{reading_place(source, rows, number, 'station')}, station {station:g}"
        if beyond > HAIR and end in straight:
            raise DataError(
                f"{place}: is beyond the end of the curve (station "
                f"{first if end == 'foot' else last:g}), where a straight lead begins; how that "
                f"climbs is said by its grade in the helix file, under [[leads]]"
            )
        if beyond > turn + HAIR:
            raise DataError(
                f"{place}: is more than a turn off the line, which runs from station {first:g} to "
                f"{last:g}"
            )


def _refuse_jumps(at: _AtTrack) -> None:
    """Between neighbours the railhead changes as the design does, but for what a bracket moves.

    Neighbours more than a bracket apart are on a lead that nobody drew: it may well be level.
    """
    surveyed = set(at.surveyed)
    stations, railheads = at.measured.stations, at.measured.railheads
    for (here, low), (there, high) in pairwise(zip(stations, railheads, strict=True)):
        if surveyed.isdisjoint((here, there)):
            continue
        drawn = at.design.at(there) - at.design.at(here)
        if abs(high - low - drawn) <= at.step_mm * max(1.0, there - here) + HAIR:
            continue
        off = {k: z - at.design.at(k) for k, z in ((here, low), (there, high)) if k in surveyed}
        worse = max(off, key=lambda station: abs(off[station]))
        figures = ((at.measured.at(worse), at.design.at(worse)), (high - low, drawn))
        at.refuse(
            f"the railhead goes from {low:.6g} mm to {high:.6g} mm, a change of "
            f"{high - low:+.6g} mm where the design has {drawn:+.6g} mm; is station {worse:g} in "
            f"the right unit{slip_words(figures) or ', and measured from the same level'}?",
            here,
            there,
            of=worse,
            column="railhead",
        )


def _refuse_climb(at: _AtTrack) -> None:
    """A whole survey in the wrong unit need not jump anywhere."""
    design = at.design.stations
    surveyed = [k for k in at.surveyed if design[0] - HAIR <= k <= design[-1] + HAIR]
    if len(surveyed) < 2:
        return
    first, last = surveyed[0], surveyed[-1]
    climb = at.measured.at(last) - at.measured.at(first)
    drawn = at.design.at(last) - at.design.at(first)
    if abs(climb - drawn) > at.step_mm and not _within_factor(climb, drawn):
        at.refuse(
            f"the railhead goes from {at.measured.at(first):.6g} mm to "
            f"{at.measured.at(last):.6g} mm, a climb of {climb:.6g} mm where the design has "
            f"{drawn:.6g} mm; are the readings in the right unit{slip_words([(climb, drawn)])}?",
            first,
            last,
            of=last,
            column="railhead",
        )


def _headroom_remarks(at: _AtTrack, station: float, headroom: float) -> Iterator[str]:
    """Hold a measured headroom against the tier above."""
    helix = at.helix
    above = station + helix.brackets_per_turn
    if above > curve_ends(helix, at.survey)[1] + HAIR:
        return
    deck, beam = helix.deck.depth_mm, helix.deck.beam_depth_mm
    drawn = at.design.at(above) - at.design.at(station) - deck - beam
    if drawn > 0 and not _within_factor(headroom, drawn):
        at.refuse(
            f"a headroom of {headroom:.6g} mm, where the design has {drawn:.6g} mm; is it in the "
            f"right unit{slip_words([(headroom, drawn)])}?",
            station,
            of=station,
            column="headroom",
        )
    here_mm, above_mm = at.measured.at(station), at.measured.at(above)
    if headroom >= above_mm - here_mm:
        at.refuse(
            f"a headroom of {headroom:.6g} mm reaches above the next tier: its railhead, at "
            f"station {above:g} ({above_mm:.6g} mm), is {above_mm - here_mm:.6g} mm over the one "
            f"here ({here_mm:.6g} mm)",
            station,
            of=station,
            column="headroom",
        )
    # Between brackets there may be no beam to measure to.
    undersides = [deck + beam] if station.is_integer() else [deck + beam, deck]
    expected = [above_mm - here_mm - underside for underside in undersides]
    by_railheads = min(expected, key=lambda room: abs(headroom - room))
    difference = headroom - by_railheads
    if abs(difference) > _margin_mm(helix) + HAIR:
        yield (
            f"{at.place(station)}: a headroom of {headroom:.6g} mm was measured, but the railheads "
            f"here ({here_mm:.6g} mm) and above ({above_mm:.6g} mm, station {above:g}) leave "
            f"{by_railheads:.6g} mm under deck and beam: {abs(difference):.6g} mm "
            f"{'more' if difference > 0 else 'less'} than that"
        )


def _margin_mm(helix: Helix) -> float:
    """By how much headroom and railheads may contradict one another unremarked."""
    reading, settlement = helix.allowance.headroom_reading_mm, helix.allowance.settlement_mm
    return (HEADROOM_READING_MM if reading is None else reading) + (
        SETTLEMENT_MM if settlement is None else settlement
    )


def _within_factor(value: float, expected: float) -> bool:
    """Whether two figures have one sign, and neither is more than three times the other."""
    return value * expected > 0 and 1 / FACTOR <= value / expected <= FACTOR


def _holes(survey: Survey, helix: Helix, track: str) -> Iterator[str]:
    stations = not_surveyed(survey, helix, track)
    for what, missing in zip(("railhead", "headroom"), stations, strict=True):
        if missing:
            yield f"{what} not surveyed at {station_ranges(missing)}"


def station_ranges(stations: Sequence[float]) -> str:
    """``stations 3 to 5, 9``: whole numbers that follow one another are drawn together."""
    runs: list[list[float]] = []
    for station in stations:
        if runs and station.is_integer() and station == runs[-1][-1] + 1:
            runs[-1].append(station)
        else:
            runs.append([station])
    parts = [
        f"{run[0]:g} to {run[-1]:g}" if len(run) > 2 else ", ".join(f"{k:g}" for k in run)
        for run in runs
    ]
    return f"station{'s' if len(stations) > 1 else ''} {', '.join(parts)}"
