"""Where everything of a helix goes: the circles on the ground, and the heights of every bracket.

Circles are about the helix axis, in plan; heights are above the zero of the helix file (the
railhead at bracket 0, where a profile does not say otherwise). As drawn: what a survey found is
another matter.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from catalog.helix import Helix
from catalog.survey import curve_ends
from clearance.geometry.line import station_angle_deg, station_turn
from clearance.judge.structure import Structure

__all__ = ["Bracket", "Circle", "SettingOut", "SheetRow", "setting_out", "survey_sheet"]

_NOISE = 1e-9


class Circle(NamedTuple):
    """A track's centreline, or the near faces of the posts on one side. [mm]

    ``kind`` is "track", "inside posts" or "outside posts"; ``name`` the track's.
    """

    kind: str
    name: str
    radius_mm: float
    chord_mm: float


class Bracket(NamedTuple):
    """Where one bracket is, and how high what it carries. [mm]

    Attributes
    ----------
    station, turn, angle_deg
        Its place.
    railhead_mm
        Above the zero of the helix file.
    rise_mm
        To the railhead of the next one; None: it is the last.
    deck_mm
        The underside of the deck, above the same zero.
    post_mm
        From what the posts stand on to the underside of the beam, where it rests.
    headroom_mm
        To the underside of the beam a turn above; None: nothing is above.
    """

    station: int
    turn: int
    angle_deg: float
    railhead_mm: float
    rise_mm: float | None
    deck_mm: float
    post_mm: float
    headroom_mm: float | None


@dataclass(frozen=True)
class SettingOut:
    """What is set out of a helix: circles from the inside, brackets from the foot."""

    helix: Helix
    base_mm: float
    circles: tuple[Circle, ...]
    brackets: tuple[Bracket, ...]

    @property
    def step_deg(self) -> float:
        """From one bracket to the next."""
        return 360 / self.helix.brackets_per_turn


class SheetRow(NamedTuple):
    """A place to measure: what the drawing has there; None: nothing is above. [mm]"""

    bracket: Bracket
    track: str


def setting_out(helix: Helix, base_mm: float = 0.0) -> SettingOut:
    """Set out a helix as drawn.

    Parameters
    ----------
    helix
        As designed.
    base_mm
        How far what the posts stand on lies below the zero of the helix file.
    """
    chord = 2 * math.sin(math.pi / helix.brackets_per_turn)
    rows = [("track", track.name, track.radius_mm) for track in helix.tracks]
    if isinstance(helix.posts.inside_mm, float):
        rows.insert(0, ("inside posts", "", helix.tracks[0].radius_mm - helix.posts.inside_mm))
    if isinstance(helix.posts.outside_mm, float):
        rows.append(("outside posts", "", helix.tracks[-1].radius_mm + helix.posts.outside_mm))
    circles = tuple(Circle(kind, name, radius, chord * radius) for kind, name, radius in rows)
    return SettingOut(helix, base_mm, circles, tuple(_brackets(helix, base_mm)))


def _brackets(helix: Helix, base_mm: float) -> list[Bracket]:
    structure = Structure(helix)
    first, last = curve_ends(helix, None)
    stations = list(range(math.ceil(first - _NOISE), math.floor(last + _NOISE) + 1))
    places = np.array(stations, float)
    line = structure.line(helix.tracks[0])  # as drawn all tracks are equally high
    step, turn = structure.step_rad, helix.brackets_per_turn
    railheads = line.height_mm(np.multiply(places, step)).tolist()
    above = line.height_mm(np.multiply(places + turn, step)).tolist()
    depth = helix.deck.depth_mm + helix.deck.beam_depth_mm
    return [
        Bracket(
            station,
            station_turn(station, turn),
            station_angle_deg(station, turn),
            railhead,
            railheads[number + 1] - railhead if number + 1 < len(railheads) else None,
            railhead - helix.deck.depth_mm,
            base_mm + railhead - depth,
            above[number] - depth - railhead if station + turn <= last + _NOISE else None,
        )
        for number, (station, railhead) in enumerate(zip(stations, railheads, strict=True))
    ]


def survey_sheet(helix: Helix) -> list[SheetRow]:
    """Every bracket and track to be measured, in walking order up the helix."""
    return [
        SheetRow(bracket, track.name) for bracket in _brackets(helix, 0.0) for track in helix.tracks
    ]
