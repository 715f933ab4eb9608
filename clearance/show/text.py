"""Results as text for a terminal, 80 columns or what there is.

Every function returns a list of things that a rich console prints; colour only repeats what the
words say.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from catalog.helix import Helix
from catalog.lengths import show_inches, show_length, show_mm
from clearance.judge.findings import CheckResult, Finding
from clearance.judge.fleet import FACINGS
from clearance.judge.meets import Meeting, barred
from clearance.judge.roster import Roster
from clearance.judge.sizing import Alternative, Design
from clearance.judge.telltales import Telltale
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, PASSES, VERDICTS, Codes
from clearance.show import cautions
from clearance.show.plain import plain
from clearance.show.tables import plain_table
from clearance.show.words import (
    CHECKS,
    full_size_mark,
    full_size_note,
    listed,
    mend,
    restrictions,
    sentence,
)

__all__ = ["check_text", "meets_text", "roster_text", "size_text", "telltales_text"]

_COLOURS = ("green", "cyan", "yellow", "red")
_TRACK_COLUMNS = 3


def _verdict(code: int) -> Text:
    return Text(VERDICTS[code], style=f"bold {_COLOURS[code]}")


def _indented(text: str | Text, by: int) -> Padding:
    return Padding(text if isinstance(text, Text) else Text(text), (0, 0, 0, by))


def check_text(result: CheckResult) -> list[RenderableType]:
    """The verdict of each car in words, then by track the finding that governs."""
    fleet, codes = result.fleet, result.codes()
    by_track = {track.name: result.facing_codes(track.name) for track in result.helix.tracks}
    lines: list[RenderableType] = []
    for car, name in enumerate(fleet.ids):
        called = plain(fleet.table.text["name"][car])
        title = Text.assemble((plain(name), "bold"), f" {called}: " if called else ": ")
        title.append_text(_verdict(codes[car]))
        title.append(full_size_mark(bool(fleet.full_size[car])))
        lines.append(title)
        for track, both_ways in by_track.items():
            findings = list(result.findings(car, track))
            lines.append(_indented(_track_line(track, both_ways[:, car], findings), 2))
            lines += [_indented(text, 4) for text in _telling(findings)]
    if len(fleet) > 1:
        lines += [Text(), Text(_count(codes.tolist()))]
    return lines


def _track_line(track: str, both_ways: Codes, findings: Sequence[Finding]) -> Text:
    """The verdict, the way round that is better than it, and what it does not rest on."""
    line = Text.assemble(f"{plain(track)} track: ").append_text(_verdict(both_ways.max()))
    if both_ways.min() == PASSES < both_ways.max():
        line.append(f"; {FACINGS[both_ways.argmin()]} it passes")
    for finding in findings:
        if not finding.lowers:
            name = CHECKS.get(finding.check, finding.check).lower()
            line.append(f"; {name} {finding.verdict}")
    return line


def _telling(findings: Sequence[Finding]) -> Iterable[str]:
    """The governing finding; where the car does not simply pass, the others that do not either."""
    for number, finding in enumerate(finding for finding in findings if finding.lowers):
        if number == 0 or finding.code != PASSES:
            yield sentence(finding)
            if advice := mend(finding):
                yield advice


def _count(codes: Sequence[int]) -> str:
    counted = Counter(codes)
    many = ("pass", "not measured", "marginal", "do not fit")
    parts = [
        f"{counted[code]} {VERDICTS[code] if counted[code] == 1 else phrase}"
        for code, phrase in enumerate(many)
        if counted[code]
    ]
    return f"{len(codes)} car{'s' * (len(codes) != 1)}: {', '.join(parts)}."


def roster_text(roster: Roster, heading: str) -> list[RenderableType]:
    """The board: a row a car, then the rule and the cautions."""
    helix, fleet = roster.result.helix, roster.result.fleet
    tracks = [track.name for track in helix.tracks]
    # A column a track while there is room for them; of more, the tracks by verdict in one.
    apart = len(tracks) <= _TRACK_COLUMNS
    columns = map(plain, tracks) if apart else ["tracks"]
    table = plain_table("car", "name", "owner", *columns, "restrictions")
    text = fleet.table.text
    for row in roster.rows:
        car = row.index
        words = restrictions(row, bool(fleet.full_size[car]))
        table.add_row(
            Text(plain(text["id"][car]), style="bold"),
            Text(plain(text["name"][car])),
            Text(plain(text["owner"][car])),
            *([_verdict(row.tracks[t]) for t in tracks] if apart else [_by_verdict(row.tracks)]),
            Text("; ".join(words)),
        )
    return [
        Text(heading, style="bold"),
        Text(),
        table,
        Text(),
        Text(_count([row.code for row in roster.rows]) + " By each car's best track."),
        Text(f"Rule: {cautions.RULE}"),
        Text(f"Caution: {cautions.RUNNING}"),
    ]


def _by_verdict(tracks: Mapping[str, int]) -> Text:
    """ "passes: inner, middle; does not fit: outer"."""
    words = Text()
    for code, verdict in enumerate(VERDICTS):
        names = [plain(track) for track, other in tracks.items() if other == code]
        if names:
            words.append("; " if words else "")
            words.append(verdict, style=f"bold {_COLOURS[code]}").append(f": {', '.join(names)}")
    return words


def meets_text(
    helix: Helix, found: Sequence[Meeting], chosen: NDArray[np.bool_]
) -> list[RenderableType]:
    """The pairs that may not pass, cars with the same partners on one line."""
    if len(helix.tracks) == 1:
        return [Text(f"{plain(helix.name)} has one track: no trains meet on it.")]
    lines: list[RenderableType] = []
    for meeting in found:
        fleet = meeting.fleet
        inner, outer = plain(meeting.inner.name), plain(meeting.outer.name)
        everybody = np.arange(len(fleet))
        pairs = [
            pair
            for pair in barred(meeting, everybody, everybody)
            if chosen[pair[0]] | chosen[pair[1]]
        ]
        lines.append(
            Text.assemble(
                (f"{inner} and {outer} track", "bold"),
                f", {show_length(meeting.available_mm)} apart",
            )
        )
        if not pairs:
            lines.append(_indented(Text("every car may pass every other", style="green"), 2))
            continue
        for code in (DOES_NOT_FIT, MARGINAL):
            lines += _barred_lines(meeting, [pair[:2] for pair in pairs if pair[2] == code], code)
        drawn = {fleet.ids[car] for pair in pairs for car in pair[:2] if fleet.full_size[car]}
        if drawn:
            lines.append(_indented(full_size_note([n for n in fleet.ids if n in drawn]), 2))
        total = int(meeting.can_run[0].sum() * meeting.can_run[1].sum())
        lines.append(_indented(f"{len(pairs)} of {total} pairs may not pass.", 2))
    return lines


def _barred_lines(
    meeting: Meeting, pairs: Sequence[tuple[int, int]], code: int
) -> list[RenderableType]:
    """The same pairs in as few lines: cars that are barred by the same others stand together."""
    if not pairs:
        return []
    partners: dict[int, list[int]] = {}
    for one, other in pairs:
        partners.setdefault(one, []).append(other)
    alike: dict[frozenset[int], list[int]] = {}
    for one, partnered in partners.items():
        alike.setdefault(frozenset(partnered), []).append(one)
    runs = set(np.flatnonzero(meeting.can_run[1]).tolist())
    heading = "touch" if code == DOES_NOT_FIT else "too close"
    lines: list[RenderableType] = [_indented(Text(heading, style=f"bold {_COLOURS[code]}"), 2)]
    for others, ones in sorted(alike.items(), key=lambda item: -len(item[0])):
        left = runs - others
        barring = [meeting.fleet.ids[car] for car in sorted(others)]
        if not left:
            whom = "any car"
        elif len(left) < len(others):
            whom = f"any car but {listed([meeting.fleet.ids[car] for car in sorted(left)])}"
        else:
            whom = listed(barring)
        names = listed([meeting.fleet.ids[car] for car in ones])
        lines.append(_indented(f"{plain(meeting.inner.name)} {names} not past {whom}", 4))
    return lines


def telltales_text(
    found: Sequence[Telltale], brackets_per_turn: int, drawings: Sequence[str]
) -> list[RenderableType]:
    """Where the tell-tales of each track hang, and what they do; ``drawings`` are to be marked."""
    if not found:
        return [Text("No tier hangs over another, and nothing else does: no tell-tale is needed.")]
    lines: list[RenderableType] = []
    for track in dict.fromkeys(telltale.track for telltale in found):
        ends = [telltale for telltale in found if telltale.track == track]
        one = ends[0]  # what both ends of a track share
        place = one.lowest.located(brackets_per_turn)
        lines.append(
            Text.assemble(
                (f"{plain(track)} track", "bold"),
                ": cords end ",
                (show_length(one.set_at_mm, "down"), "bold"),
                " over the railhead",
            )
        )
        details = [
            f"Set by {plain(one.governing) or 'a long reference car, as the fleet is small'}. "
            f"Lowest beyond it: {show_length(one.headroom_mm, 'down')} under the "
            f"{plain(place['obstacle'])} at bracket {place['station']:g} (turn {place['turn']}, "
            f"{place['angle_deg']:g}°).",
            f"Cords over {show_length(one.width_mm, 'up')}, "
            f"{show_mm(one.practice.cords_apart_mm)} apart.",
            *map(_hanging, ends),
            _effect("Stops", one.stops),
            _effect("Stops needlessly", one.false_alarms),
            _effect("Lets through", one.lets_through, most=12),
            _effect("Misses", one.missed),
        ]
        if one.not_measured:
            details.append(_effect("Not measured overhead", one.not_measured))
        if one.reason:
            details.append(f"{one.reason[0].upper()}{one.reason[1:]}.")
        lines += [*(_indented(text, 2) for text in details), Text()]
    if drawings:
        lines += [Text(full_size_note(list(drawings))), Text()]
    return [*lines, Text(f"Caution: {cautions.TELLTALE}")]


def _hanging(telltale: Telltale) -> str:
    way = "up" if telltale.at == "foot" else "down"
    stopping = show_length(telltale.stopping_mm, "up")
    practice = show_length(telltale.practice.before_mm, "up")
    return (
        f"At the {telltale.at}: {show_length(telltale.before_mm, 'up')} before the first obstacle "
        f"{way}hill, at station {telltale.station:.1f} (a train stops in {stopping}; full-size "
        f"practice at this scale is {practice})."
    )


def _effect(what: str, ids: list[str], most: int | None = None) -> str:
    if not ids:
        return f"{what}: none."
    return f"{what} ({len(ids)}): {listed(ids, most)}."


def size_text(design: Design, drawings: Sequence[str]) -> list[RenderableType]:
    """The least helix, the car behind each dimension, and what other choices would give.

    ``drawings`` are the cars to be marked where they are named.
    """
    limits = design.limits
    heading = f"The least helix at a grade of at most {limits.max_grade_percent:g} %"
    table = plain_table("dimension", "least", "governed by")
    for name, value, by in _dimensions(design):
        table.add_row(name, Text(value, style="bold"), plain(by))
    grades = [other for other in design.alternatives if other.change == "grade"]
    here = Alternative(
        change="grade",
        max_grade_percent=limits.max_grade_percent,
        without=(),
        rise_per_turn_mm=design.rise_per_turn_mm,
        radius_mm=design.radius_mm,
        track_spacing_mm=design.track_spacing_mm,
        footprint_mm=design.footprint_mm,
    )
    trade = plain_table("greatest grade", "rise a turn", "radius", "footprint")
    for other in sorted([*grades, here], key=lambda choice: choice.max_grade_percent):
        mark = "  (this one)" if other is here else ""
        trade.add_row(
            f"{other.max_grade_percent:g} %{mark}",
            show_mm(other.rise_per_turn_mm),
            _short(other.radius_mm),
            _short(other.footprint_mm),
        )
    parts: list[RenderableType] = [
        Text(heading, style="bold"),
        Text(),
        table,
        Text(),
        Text("Grade against radius", style="bold"),
        trade,
    ]
    left_out = [other for other in design.alternatives if other.change != "grade"]
    if left_out:
        parts += [Text(), Text("What leaving out the governing cars would save", style="bold")]
        parts += [_indented(_saving(other), 2) for other in left_out]
    named = _named(design)
    if drawn := [name for name in drawings if name in named]:
        parts += [Text(), Text(full_size_note(drawn))]
    return [*parts, Text(), Text(f"Caution: {cautions.BUILDING}")]


def _named(design: Design) -> set[str]:
    """The cars that a design speaks of."""
    cars = {name for other in design.alternatives for name in other.without}
    for governing in design.governing.values():
        cars |= {governing} if isinstance(governing, str) else set(governing or ())
    return cars


def _dimensions(design: Design) -> Iterable[tuple[str, str, str]]:
    governing = design.governing

    def by(dimension: str) -> str:
        cars = governing[dimension]
        if dimension == "radius" and cars == "grade":
            return "the grade"
        return " past ".join(cars) if isinstance(cars, list) else cars or "the gauge alone"

    yield "rise a turn", show_length(design.rise_per_turn_mm), by("rise_per_turn")
    yield "radius, inner track", show_length(design.radius_mm), by("radius")
    yield "diameter, inner track", show_length(2 * design.radius_mm), ""
    if design.track_spacing_mm is not None:
        yield "track spacing", show_length(design.track_spacing_mm), by("track_spacing")
    yield "free inside", show_length(design.inside_mm), by("inside")
    yield "free outside", show_length(design.outside_mm), by("outside")
    yield "grade, inner track", f"{design.grade_percent:.2f} %", ""
    climb = design.turns * design.rise_per_turn_mm
    yield f"climb in {design.turns:g} turns", show_length(climb), ""
    yield "footprint, diameter", show_length(design.footprint_mm), ""


def _short(mm: float) -> str:
    return f"{mm:.0f} mm ({show_inches(mm)})"


def _saving(other: Alternative) -> str:
    cars = listed(list(other.without))
    if other.change == "rise_per_turn":
        saved = f"{show_length(other.saves_mm or 0.0, 'down')} of rise a turn"
    else:
        saved = f"{show_length(other.saves_mm or 0.0, 'down')} of track spacing"
    return (
        f"Without {cars}: {saved}; radius {other.radius_mm:.0f} mm, "
        f"footprint {other.footprint_mm:.0f} mm."
    )
