"""Findings in words: the sentences, places and figures that people read.

Nothing is computed here but roundings. A figure that must not be exceeded is rounded to the safe
side: what is left downwards, what is asked for upwards.
"""

import unicodedata

from catalog.lengths import show_length
from clearance.judge.findings import Finding
from clearance.judge.roster import RosterRow

__all__ = [
    "CHECKS",
    "FULL_SIZE",
    "full_size_mark",
    "listed",
    "mend",
    "place_words",
    "plain",
    "restrictions",
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

_MOST_NAMED = 6  # more than these nobody remembers at the foot of a helix


def plain(text: str) -> str:
    """Text from a catalog, made harmless for a terminal: no control or direction characters."""
    return "".join(
        "\N{REPLACEMENT CHARACTER}"
        if unicodedata.category(letter) in {"Cc", "Cf", "Cs"}
        else letter
        for letter in text
    )


def full_size_mark(is_full_size: bool) -> str:
    """What is put behind a car whose figures are a full-size drawing's."""
    return f" ({FULL_SIZE})" if is_full_size else ""


def listed(ids: list[str], most: int | None = None) -> str:
    """Ids in a row: "27, 31 and 9"; with ``most``, "27, 31 and 12 more"."""
    if most is not None and len(ids) > most:
        return f"{', '.join(map(plain, ids[: most - 1]))} and {len(ids) - most + 1} more"
    if len(ids) < 2:
        return "".join(map(plain, ids))
    return f"{', '.join(map(plain, ids[:-1]))} and {plain(ids[-1])}"


def place_words(finding: Finding) -> str:
    """Where a finding is: "under the beam at bracket 17, turn 2, 150°"."""
    place = finding.location
    if place is None:
        return ""
    preposition = "under" if finding.check == "overhead" else "beside"
    what = f"{preposition} the {plain(place['obstacle'])}"
    where = f"bracket {place['station']:g}, turn {place['turn']}, {place['angle_deg']:g}°"
    if place["everywhere"]:
        return f"{what} at every bracket, from {where}"
    return f"{what} at {where}"


def sentence(finding: Finding) -> str:
    """One finding with its numbers, as a person would say it."""
    name = CHECKS.get(finding.check, finding.check)
    if finding.gap_mm is None or finding.required_mm is None or finding.available_mm is None:
        return f"{name}: not measured; {finding.reason}."
    if finding.check == "gauge":
        return f"{name}: it is not of this helix's gauge."
    if finding.check == "radius":
        return (
            f"{name}: it needs {show_length(finding.required_mm, 'up')}, the track has "
            f"{show_length(finding.available_mm, 'down')}."
        )
    allowance = finding.allowance_mm or 0.0
    figures = (
        f"needs {show_length(finding.required_mm, 'up')} of "
        f"{show_length(finding.available_mm, 'down')}"
    )
    if finding.gap_mm > 0:
        left = f"leaves {show_length(finding.gap_mm, 'down')}, wants {show_length(allowance, 'up')}"
    else:
        left = f"fouls by {show_length(-finding.gap_mm, 'up')}"
    text = f"{name}, {place_words(finding)}: {figures}; {left}{_way(finding)}."
    return f"{text} Not measured: {finding.reason}." if finding.reason else text


def _way(finding: Finding) -> str:
    """Which way round a finding is, where it matters by more than a hair."""
    other = finding.other_way_gap_mm
    if other is None or finding.gap_mm is None or abs(other - finding.gap_mm) < 0.05:
        return ""
    return f" ({finding.facing}; turned round {show_length(other, 'down')})"


def mend(finding: Finding) -> str:
    """What is missing, and what would mend it; "": nothing is missing, or nothing can."""
    spare = finding.spare_mm
    if spare is None or spare >= 0:
        return ""
    short = show_length(-spare, "up")
    if finding.check == "overhead":
        return f"Short of {short}: take that off its top, or raise the tier above by as much."
    if finding.check in ("inner_side", "outer_side"):
        return f"Short of {short}: take that off its side, or move what stands there as far away."
    if finding.check == "radius":
        return f"Short of {short} of radius: it stays below."
    return ""


def restrictions(row: RosterRow, full_size: bool) -> list[str]:
    """What a car on the board may not do: "outer track only", "not past 31"."""
    words = []
    runs_on = row.runs_on
    if runs_on and len(runs_on) < len(row.tracks):
        words.append(f"{plain(listed(runs_on))} track only")
    ways = {track: way for track, way in row.facing.items() if track in runs_on}
    if ways and len(ways) == len(runs_on) and len(set(ways.values())) == 1:
        words.append(f"{next(iter(ways.values()))} only")
    else:
        words += [f"{way} only on the {plain(track)} track" for track, way in ways.items()]
    for track, others in row.not_past.items():
        where = f" on the {plain(track)} track" if len(runs_on) > 1 else ""
        words.append(f"not past {listed(others, _MOST_NAMED)}{where}")
    if full_size:
        words.append(FULL_SIZE)
    return words
