"""A helix while it is being sized: what the site allows, and the same helix with other dimensions.

Drafts are put together unchecked, so that a dimension may be tried; what comes of them is checked.
"""

import math
from typing import NamedTuple

from catalog.errors import DataError
from catalog.helix import Helix, Posts, Track
from catalog.helix_toml import track_names

__all__ = [
    "WIDEST_MM",
    "Limits",
    "grade_percent",
    "least_radius_of_grade",
    "least_rise_of_climb",
    "resized",
    "spacing_of",
    "turns_of",
    "with_tracks",
]

WIDEST_MM = 90_000.0
"""No helix has a greater radius."""

_HAIR = 1e-9


class Limits(NamedTuple):
    """What the site allows. Lengths in mm; None: no limit.

    ``max_diameter_mm`` is that of the ground, to the inner faces of the outer posts; ``climb_mm``
    is what the helix must climb in all, in no more than ``max_turns``.
    """

    max_grade_percent: float = 3.0
    max_diameter_mm: float | None = None
    climb_mm: float | None = None
    max_turns: float | None = None


def resized(
    helix: Helix,
    rise: float | None = None,
    radius: float | None = None,
    spacing: float | None = None,
    posts: Posts | None = None,
    turns: float | None = None,
) -> Helix:
    """The same helix with other dimensions; nothing of the old site is kept. [mm]"""
    inner = helix.tracks[0].radius_mm if radius is None else radius
    step = (spacing_of(helix) or 0.0) if spacing is None else spacing
    tracks = tuple(
        Track(name=track.name, radius_mm=inner + number * step, cant_mm=track.cant_mm)
        for number, track in enumerate(helix.tracks)
    )
    return helix.model_copy(
        update={
            "tracks": tracks,
            "rise_per_turn_mm": helix.rise_per_turn_mm if rise is None else rise,
            "posts": helix.posts if posts is None else posts,
            "turns": helix.turns if turns is None else turns,
            "profile": (),
            "obstacles": (),
            "leads": (),
        }
    )


def spacing_of(helix: Helix) -> float | None:
    """From each track to the next one; None: there is one track alone. [mm]"""
    if len(helix.tracks) == 1:
        return None
    return helix.tracks[1].radius_mm - helix.tracks[0].radius_mm


def with_tracks(helix: Helix, count: int) -> Helix:
    """The same helix with so many tracks; where that is another number, called by their place.

    Each keeps the cant of the one in its place, further ones have that of the last. They are a
    draft's: sizing says where they go.
    """
    if count == len(helix.tracks):
        return helix
    first, last = helix.tracks[0], helix.tracks[-1]
    tracks = tuple(
        Track(
            name=name,
            radius_mm=first.radius_mm + number * 4 * helix.gauge_mm,
            cant_mm=(*helix.tracks, *[last] * count)[number].cant_mm,
        )
        for number, name in enumerate(track_names(count))
    )
    return helix.model_copy(update={"tracks": tracks})


def grade_percent(helix: Helix) -> float:
    """The grade of the inner track, the steepest. [%]"""
    return 100 * helix.grade(helix.tracks[0])


def least_radius_of_grade(helix: Helix, limits: Limits) -> float:
    """The least inner radius, in whole millimetres, on which the rise is no steeper. [mm]

    Raises
    ------
    DataError
        It is beyond any helix: the cars need more, the wider it is, for the deck sags more.
    """
    radius = float(
        math.ceil(helix.rise_per_turn_mm / (2 * math.pi * limits.max_grade_percent / 100) - _HAIR)
    )
    if radius > WIDEST_MM:
        sags = (
            "; from bracket to bracket the deck sags the more, the wider the helix is: set more "
            "brackets a turn, or stiffer stringers"
            if helix.stringers
            else ""
        )
        raise DataError(
            f"a grade of at most {limits.max_grade_percent:g} % asks for a radius of over "
            f"{WIDEST_MM / 1000:g} m, which is no helix{sags}"
        )
    while grade_percent(resized(helix, radius=radius)) > limits.max_grade_percent:
        radius += 1  # rounding, right at the limit
    return radius


def least_rise_of_climb(helix: Helix, limits: Limits) -> float:
    """The least rise a turn, in whole millimetres, that makes the climb in so many turns. [mm]"""
    if limits.climb_mm is None or limits.max_turns is None:
        return 1.0
    brackets = math.floor(limits.max_turns * helix.brackets_per_turn + _HAIR)
    return max(1.0, float(math.ceil(limits.climb_mm * helix.brackets_per_turn / brackets - _HAIR)))


def turns_of(helix: Helix, limits: Limits) -> float:
    """Enough turns for the climb, to a whole bracket; without a climb, those of the helix."""
    count = helix.brackets_per_turn
    if limits.climb_mm is not None:
        return math.ceil(limits.climb_mm / helix.rise_per_turn_mm * count - 1e-6) / count
    if limits.max_turns is not None and helix.turns > limits.max_turns:
        return math.floor(limits.max_turns * count + _HAIR) / count
    return helix.turns
