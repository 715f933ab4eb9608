"""Findings in words: what was compared, where, and what would mend it.

Nothing is computed here but roundings. A figure that must not be exceeded is rounded to the safe
side: what is left downwards, what is asked for upwards.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from catalog.lengths import show_length, show_mm, show_within
from clearance.judge.findings import Finding
from clearance.judge.structure import Structure
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, PASSES
from clearance.show.coupling import NOWHERE, mend_coupling, out_of_line
from clearance.show.plain import plain
from clearance.show.words import CHECKS, degrees_left, length_left, show_degrees

__all__ = ["hand_words", "mend", "place_words", "sentence", "station_words", "telling"]

_ORIGINS = {
    "as measured": "headroom as measured",
    "from surveyed railheads": "headroom from surveyed railheads",
    "partly from surveyed railheads": "headroom partly from surveyed railheads",
    "as designed": "headroom as designed",
}
_HAIR_MM = 0.25  # less than this between the two ways round nobody can use
_TIER = ("beam", "deck")  # what the helix file describes by another name says its own headroom


def place_words(finding: Finding, structure: Structure | None = None) -> str:
    """Where a finding is: "Under the beam at bracket 17 (turn 2, 150°)".

    With a ``structure``, a place on a straight lead is said as one.
    """
    place = finding.location
    if place is None:
        return ""
    where = station_words(place, structure)
    if finding.check in ("underside", "coupling"):
        return "" if place["everywhere"] else f"At {where}{_way(finding)}."
    at = f"at every bracket, first at {where}" if place["everywhere"] else f"at {where}"
    preposition, origin = "Beside", ""
    if finding.check == "overhead":
        preposition, origin = "Under", _origin(place)
    return f"{preposition} the {plain(place['obstacle'])} {at}{origin}{_way(finding)}."


def station_words(place: dict[str, Any], structure: Structure | None = None) -> str:
    """A station with its turn and angle: "bracket 17 (turn 2, 150°)"."""
    station = place["station"]
    if structure is not None:
        first, last = structure.curve_stations
        for at, is_beyond in (("foot", station < first), ("head", station > last)):
            if is_beyond and any(lead.at == at for lead in structure.helix.leads):
                return f"station {round(station, 2):g}, on the lead at the {at}"
    name = "bracket" if station >= 0 and station == int(station) else "station"
    return f"{name} {round(station, 2):g} (turn {place['turn']}, {round(place['angle_deg'], 1):g}°)"


def _origin(place: dict[str, Any]) -> str:
    """Where the headroom comes from, where it need not be the same at the next bracket."""
    origin = place.get("origin", "")
    if place["everywhere"] or (origin == "as designed" and place["obstacle"] not in _TIER):
        return ""
    return f", {_ORIGINS[origin]}" if origin else ""


def _way(finding: Finding) -> str:
    """Which way round a finding is, where it matters by more than a hair."""
    other = finding.other_way_gap_mm
    if other is None or finding.gap_mm is None or abs(other - finding.gap_mm) < _HAIR_MM:
        return ""
    turned = f"{show_length(other, 'down')} left" if other > 0 else "it fouls as well"
    return f", {finding.facing}; turned round {turned}"


def sentence(finding: Finding, structure: Structure | None = None, *, stands: bool = True) -> str:
    """One finding with its numbers and its place, as a person would say it.

    ``structure`` is for `place_words`; ``stands`` says whether the car can stand on the track.
    """
    name = CHECKS.get(finding.check, finding.check)
    if finding.gap_mm is None and finding.code == DOES_NOT_FIT:
        if finding.check == "coupling":
            return f"{name}: coupled with {_partner(finding)} it {NOWHERE}"
        has = show_length(finding.available_mm or 0.0, "down")
        return (
            f"{name}: it cannot stand on {has} at all; its supports do not reach round the curve."
        )
    if finding.gap_mm is None or finding.required_mm is None or finding.available_mm is None:
        return f"{name}: not measured; {finding.reason}."
    if finding.check in _SENTENCES:
        words = f"{name}: {_SENTENCES[finding.check](finding)}"
        return f"{words}. {place_words(finding, structure)}".rstrip()
    needs = show_within(finding.required_mm, finding.available_mm)
    has = show_length(finding.available_mm, "down")
    if finding.check == "radius" and not stands:
        return f"{name}: it cannot stand on {has} at all; so long a car needs more than {needs}."
    if finding.check == "radius":
        return f"{name}: needs {needs}, has {has}."
    text = (
        f"{name}: needs {needs}, has {has}: {length_left(finding.gap_mm)}, {_wanted(finding)}. "
        f"{place_words(finding, structure)}"
    )
    return f"{text} Not measured: {finding.reason}." if finding.reason else text


def _wanted(finding: Finding) -> str:
    return f"{show_within(finding.allowance_mm or 0.0, finding.gap_mm or 0.0)} wanted"


def _gauge(finding: Finding) -> str:
    own, other = show_mm(finding.required_mm or 0.0), show_mm(finding.available_mm or 0.0)
    return f"it is not of this helix's gauge; one is {own}, the other {other}"


def _rigid_wheelbase(finding: Finding) -> str:
    needs = show_within(finding.required_mm or 0.0, finding.available_mm or 0.0)
    has = show_length(finding.available_mm or 0.0, "down")
    left = length_left(finding.gap_mm or 0.0, "it binds by")
    return f"a middle axle must shift {needs} on this curve, and can by {has}: {left}"


def _truck_swing(finding: Finding) -> str:
    swing, limit = finding.more["swing_deg"], finding.more["limit_deg"]
    needs, has = show_degrees(swing, up=True), show_degrees(limit, up=False)
    left = degrees_left(limit - swing)
    return f"its trucks turn {needs} under the body, and can by {has}: {left}"


def _underside(finding: Finding) -> str:
    level = show_length(finding.available_mm or 0.0, "down")
    gap = finding.gap_mm or 0.0
    left = length_left(gap, "touches the rails by")
    return f"{level} over the railhead on level track; {left}, {_wanted(finding)}"


def _partner(finding: Finding) -> str:
    """With what a car is coupled."""
    other = finding.location["obstacle"] if finding.location else ""
    own = not other or other.endswith(f" coupler of {finding.car}")
    return "another of its kind" if own else f"the {plain(other)}"


def _coupling(finding: Finding) -> str:
    return f"with {_partner(finding)} it is out of line by {out_of_line(finding.more)}"


_SENTENCES: dict[str, Callable[[Finding], str]] = {
    "gauge": _gauge,
    "rigid_wheelbase": _rigid_wheelbase,
    "truck_swing": _truck_swing,
    "underside": _underside,
    "coupling": _coupling,
}


def hand_words(finding: Finding, structure: Structure | None = None) -> str:
    """The room for a hand over the roof; "": there is nothing over it, or nothing left."""
    room = finding.available_mm
    if room is None or room <= 0 or finding.location is None:
        return ""
    where = f"{station_words(finding.location, structure)}, {plain(finding.track)} track"
    said = f"Room for a hand over the roof: {show_length(room, 'down')} at {where}"
    if finding.gap_mm is None:
        return f"{said}; the helix file does not say how much a hand needs."
    return f"{said}; a hand needs {show_length(room - finding.gap_mm, 'up')}."


def mend(finding: Finding) -> str:
    """What would mend a finding, with the missing millimetres; "": nothing is missing."""
    if finding.check == "coupling":
        return mend_coupling(finding.more)
    spare = finding.spare_mm
    if spare is None or spare >= 0:
        return ""
    short = show_length(-spare, "up")
    if finding.check == "overhead":
        obstacle = finding.location["obstacle"] if finding.location else "beam"
        raised = "the tier above" if obstacle in _TIER else f"the {plain(obstacle)}"
        return f"To mend: {short} off its top, or {raised} raised by as much."
    if finding.check in ("inner_side", "outer_side"):
        return f"To mend: {short} off its side, or what stands there moved away by as much."
    if finding.check == "radius":
        return f"Nothing mends it here: the radius is {short} too small."
    if finding.check == "rigid_wheelbase":
        return (
            f"To mend: {short} more side play; or blind wheels there, and no side play in its row."
        )
    if finding.check == "truck_swing":
        more = show_degrees(finding.more["swing_deg"] - finding.more["limit_deg"], up=True)
        return f"To mend: room for the trucks to turn {more} further."
    if finding.check == "underside":
        return f"To mend: {short} off its underside, or an easier change of grade."
    return ""


def telling(findings: Sequence[Finding], structure: Structure) -> Iterator[str]:
    """What does not pass on a track, worst first, and what would mend it; or what comes nearest.

    ``findings`` are those of one car on one track, worst first.
    """
    counting = [finding for finding in findings if finding.lowers]
    stands = {finding.check for finding in counting} != {"radius"}
    told = [finding for finding in counting if finding.code != PASSES]
    for finding in told or sorted(counting, key=_ease)[:1]:
        yield sentence(finding, structure, stands=stands)
        if advice := mend(finding):
            yield advice
    for finding in findings:
        if finding.check == "coupling" and finding.code in (MARGINAL, DOES_NOT_FIT):
            yield f"Beside the verdict: {sentence(finding, structure)} {mend(finding)}".rstrip()


def _ease(finding: Finding) -> float:
    """How many times its margin a finding has left; a figure without a margin says less."""
    if finding.gap_mm is None or not finding.allowance_mm:
        return math.inf
    return finding.gap_mm / finding.allowance_mm
