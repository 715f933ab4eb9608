"""Findings in words: the sentences, places and figures that people read.

Nothing is computed here but roundings. A figure that must not be exceeded is rounded to the safe
side: what is left downwards, what is asked for upwards.
"""

from catalog.lengths import show_length, show_mm
from clearance.judge.findings import Finding
from clearance.judge.fleet import Fleet
from clearance.show.plain import plain

__all__ = [
    "CHECKS",
    "FULL_SIZE",
    "from_drawings",
    "full_size_mark",
    "full_size_note",
    "listed",
    "mend",
    "place_words",
    "sentence",
]

CHECKS = {
    "overhead": "Overhead",
    "inner_side": "Inner side",
    "outer_side": "Outer side",
    "radius": "Least radius",
    "gauge": "Gauge",
}
"""What each check is called on paper."""

FULL_SIZE = "from a full-size drawing, not measured on the model"


def full_size_mark(is_full_size: bool) -> str:
    """What is put behind a car whose figures are a full-size drawing's."""
    return f" ({FULL_SIZE})" if is_full_size else ""


def from_drawings(fleet: Fleet) -> list[str]:
    """The ids of the cars whose figures are a full-size drawing's."""
    return [name for name, drawn in zip(fleet.ids, fleet.full_size, strict=True) if drawn]


def full_size_note(ids: list[str]) -> str:
    """The same mark under a list of bare ids; "": there is nothing to mark."""
    return f"{listed(ids)}: {FULL_SIZE}." if ids else ""


def listed(ids: list[str], most: int | None = None) -> str:
    """Ids in a row: "27, 31 and 9"; with ``most``, "27, 31 and 12 more"."""
    if most is not None and len(ids) > most:
        return f"{', '.join(map(plain, ids[: most - 1]))} and {len(ids) - most + 1} more"
    if len(ids) < 2:
        return "".join(map(plain, ids))
    return f"{', '.join(map(plain, ids[:-1]))} and {plain(ids[-1])}"


def place_words(finding: Finding) -> str:
    """Where a finding is: "Under the beam at bracket 17 (turn 2, 150°)"."""
    place = finding.location
    if place is None:
        return ""
    preposition = "Under" if finding.check == "overhead" else "Beside"
    where = f"bracket {place['station']:g} (turn {place['turn']}, {place['angle_deg']:g}°)"
    at = f"at every bracket, first at {where}" if place["everywhere"] else f"at {where}"
    return f"{preposition} the {plain(place['obstacle'])} {at}{_way(finding)}."


def _way(finding: Finding) -> str:
    """Which way round a finding is, where it matters by more than a hair."""
    other = finding.other_way_gap_mm
    if other is None or finding.gap_mm is None or abs(other - finding.gap_mm) < 0.05:
        return ""
    turned = f"{show_length(other, 'down')} left" if other > 0 else "it fouls as well"
    return f", {finding.facing}; turned round {turned}"


def sentence(finding: Finding) -> str:
    """One finding with its numbers and its place, as a person would say it."""
    name = CHECKS.get(finding.check, finding.check)
    if finding.gap_mm is None or finding.required_mm is None or finding.available_mm is None:
        return f"{name}: not measured; {finding.reason}."
    if finding.check == "gauge":
        own, other = show_mm(finding.required_mm), show_mm(finding.available_mm)
        return f"{name}: it is not of this helix's gauge; one is {own}, the other {other}."
    has = (
        f"{name}: needs {show_length(finding.required_mm, 'up')}, "
        f"has {show_length(finding.available_mm, 'down')}"
    )
    if finding.check == "radius":
        return f"{has}."
    if finding.gap_mm > 0:
        left = f"{show_length(finding.gap_mm, 'down')} left"
    else:
        left = f"fouls by {show_length(-finding.gap_mm, 'up')}"
    wanted = show_length(finding.allowance_mm or 0.0, "up")
    text = f"{has}: {left}, {wanted} wanted. {place_words(finding)}"
    return f"{text} Not measured: {finding.reason}." if finding.reason else text


def mend(finding: Finding) -> str:
    """What would mend a finding, with the missing millimetres; "": nothing is missing."""
    spare = finding.spare_mm
    if spare is None or spare >= 0:
        return ""
    short = show_length(-spare, "up")
    if finding.check == "overhead":
        return f"To mend: {short} off its top, or the tier above raised by as much."
    if finding.check in ("inner_side", "outer_side"):
        return f"To mend: {short} off its side, or what stands there moved away by as much."
    if finding.check == "radius":
        return f"Nothing mends it here: the radius is {short} too small."
    return ""
