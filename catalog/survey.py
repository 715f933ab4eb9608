"""What was measured on a helix as it stands, and what line design and survey together make.

A survey never replaces the design: where a reading is missing, the design holds, and
`not_surveyed` says where. G1, docs/theory.md.
"""

import math
from collections.abc import Sequence
from datetime import date
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from catalog.helix import Helix
from catalog.record import DistanceMm, PartError, Record, SizeMm, Station, Text
from catalog.words import quoted

__all__ = [
    "Reading",
    "Survey",
    "curve_ends",
    "headrooms",
    "known_railheads",
    "not_surveyed",
    "railheads",
    "reading_place",
]

HAIR = 1e-6  # of a station: two closer than this are one place


class Reading(Record):
    """What was measured at a station: the railhead's elevation, the headroom, or both. [mm]

    ``track`` is "" where the reading holds for all tracks.
    """

    station: Station
    track: Text = ""
    railhead_mm: DistanceMm | None = None
    headroom_mm: SizeMm | None = None
    taken_on: date | None = None
    taken_by: Text = ""

    @model_validator(mode="after")
    def _measures_something(self) -> Self:
        if self.railhead_mm is None and self.headroom_mm is None:
            raise ValueError("measures neither railhead nor headroom; write one, or leave it out")
        return self


class Survey(Record):
    """The readings of one going over a helix, in any order.

    ``age_days`` is how old it is on the day that is asked about; it is no part of what is kept.
    """

    readings: Annotated[tuple[Reading, ...], Field(min_length=1, strict=False)]
    age_days: Annotated[float, Field(ge=0, exclude=True)] = 0.0

    @property
    def taken_on(self) -> date | None:
        """The day of its latest reading; None: no reading has a date."""
        return max((r.taken_on for r in self.readings if r.taken_on), default=None)

    def seen_on(self, day: date, taken_on: date | None) -> "Survey":
        """The same on a day; a survey without a date is as good as new."""
        age = (day - taken_on).days if taken_on else 0
        return self.model_copy(update={"age_days": float(max(age, 0))})

    @model_validator(mode="after")
    def _each_place_once(self) -> Self:
        seen: set[tuple[str, float]] = set()
        for index, reading in enumerate(self.readings):
            place = (reading.track, _place(reading.station))
            if place in seen:
                track = f" of track {quoted(reading.track)}" if reading.track else ""
                words = f"station {reading.station:g}{track} stands twice; keep one reading"
                raise PartError(words, "readings", index)
            seen.add(place)
        return self


def reading_place(source: str, rows: Sequence[int], number: int, column: str) -> str:
    """Where a reading stands: "survey.csv, row 7, headroom", or ``source`` alone without rows.

    Parameters
    ----------
    source
        What the survey is called, like its file.
    rows
        The row of the file on which each of its readings stands; none: it comes from no file.
    number, column
        Which of its readings, and which cell of that row.
    """
    return f"{source}, row {rows[number]}, {column}" if rows else source


def known_railheads(
    helix: Helix, survey: Survey | None, track: str
) -> tuple[list[float], list[float]]:
    """Give the railhead wherever it is known: as drawn, and where surveyed as measured.

    Parameters
    ----------
    helix, survey
        The design, and what was measured; None: nothing was.
    track
        The track's name; a reading that names it wins over one that names none.

    Returns
    -------
    tuple
        Stations, rising, two at least, and the elevation of the railhead at each. [mm]
    """
    known = helix.design_railheads() | _measured(survey, track, "railhead_mm")
    stations = sorted(known)
    return stations, [known[station] for station in stations]


def headrooms(helix: Helix, survey: Survey | None, track: str) -> dict[float, float]:
    """Give the measured headrooms over a track by their station, in that order. [mm]

    Parameters
    ----------
    helix, survey, track
        As for `known_railheads`.

    Returns
    -------
    dict
        Empty for a track that the helix does not have.
    """
    return _by_station(helix, survey, track, "headroom_mm")


def railheads(helix: Helix, survey: Survey | None, track: str) -> dict[float, float]:
    """Give the measured railheads of a track by their station, in that order. [mm]

    Parameters
    ----------
    helix, survey, track
        As for `known_railheads`.

    Returns
    -------
    dict
        Empty for a track that the helix does not have.
    """
    return _by_station(helix, survey, track, "railhead_mm")


def curve_ends(helix: Helix, survey: Survey | None) -> tuple[float, float]:
    """Say from which to which station the line is curved.

    It reaches from the first bracket to the last, and beyond them as far as the profile or a
    survey says anything, or an obstacle stands where no straight lead begins.

    Parameters
    ----------
    helix, survey
        The design, and what was measured; None: nothing was.

    Returns
    -------
    tuple
        The first station and the last.
    """
    known = [0.0, float(helix.last_station), helix.turns * helix.brackets_per_turn]
    known += [point.station for point in helix.profile]
    known += [reading.station for reading in survey.readings] if survey else []
    standing = [o.station for o in helix.obstacles if o.station is not None]
    straight = {lead.at for lead in helix.leads}
    first = min(known if "foot" in straight else known + standing)
    last = max(known if "head" in straight else known + standing)
    return first, last


def not_surveyed(
    survey: Survey | None, helix: Helix, track: str
) -> tuple[list[float], list[float]]:
    """Say where the line rests on the drawing alone.

    Parameters
    ----------
    survey, helix, track
        As for `known_railheads`.

    Returns
    -------
    tuple
        The stations, rising, whose railhead was not measured: brackets, and points of the
        profile; and the brackets under another tier whose headroom was not.
    """
    first, last = curve_ends(helix, survey)
    brackets = [float(k) for k in range(math.ceil(first - HAIR), math.floor(last + HAIR) + 1)]
    railhead = {*brackets, *(_place(point.station) for point in helix.profile)}
    beneath = [k for k in brackets if k + helix.brackets_per_turn <= last + HAIR]
    return (
        sorted(railhead.difference(_measured(survey, track, "railhead_mm"))),
        sorted(set(beneath).difference(_measured(survey, track, "headroom_mm"))),
    )


def _by_station(
    helix: Helix, survey: Survey | None, track: str, what: Literal["railhead_mm", "headroom_mm"]
) -> dict[float, float]:
    if track not in [known.name for known in helix.tracks]:
        return {}
    return dict(sorted(_measured(survey, track, what).items()))


def _measured(
    survey: Survey | None, track: str, what: Literal["railhead_mm", "headroom_mm"]
) -> dict[float, float]:
    """What was measured at a track, by station: its own readings win over those of all tracks."""
    found: dict[float, float] = {}
    for named in ("", track):
        for reading in survey.readings if survey else ():
            value = getattr(reading, what)
            if reading.track == named and value is not None:
                found[_place(reading.station)] = value
    return found


def _place(station: float) -> float:
    """A station to 1e-6, so that one place has one number."""
    return round(station, 6)
