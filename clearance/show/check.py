"""What `check` found, as text, JSON and rows for CSV."""

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import chain
from typing import Any, NamedTuple

from catalog.helix import Track
from catalog.lengths import show_mm
from clearance.judge.findings import CheckResult, Finding, Hung
from clearance.judge.fleet import FACINGS
from clearance.judge.places import whole
from clearance.judge.structure import Structure
from clearance.judge.verdict import DOES_NOT_FIT, NOT_MEASURED, PASSES, VERDICTS, Codes
from clearance.show.data import DIGITS, Row, figure_mm, figures_mm
from clearance.show.paper import Grid, Paper, Span, grid, line, verdict
from clearance.show.plain import plain
from clearance.show.sentences import hand_words, telling
from clearance.show.words import CHECKS, counted, full_size_mark

__all__ = ["check_data", "check_rows", "check_text", "count_words", "finding_data", "remarks"]


def check_text(
    result: CheckResult, *, every_obstacle: bool = False, below: Sequence[Paper] = ()
) -> Paper:
    """The verdict of each car in words, then by track the finding that governs.

    ``below`` is what else there is to say of each car.
    """
    fleet, codes = result.fleet, result.codes()
    tracks = [
        _TrackColumn(result, track, result.facing_codes(track.name))
        for track in result.helix.tracks
    ]
    alone = len(fleet) == 1
    paper: Paper = []
    for car, name in enumerate(fleet.ids):
        called = plain(fleet.table.text["name"][car])
        paper.append(
            line(
                Span(plain(name), "bold"),
                f" {called}: " if called else ": ",
                verdict(codes[car]),
                full_size_mark(bool(fleet.full_size[car])),
            )
        )
        findings = [list(result.findings(car, track.track.name)) for track in tracks]
        unmeasured = list(map(_unmeasured, findings))
        same = len(set(unmeasured)) == 1
        for track, found, missing in zip(tracks, findings, unmeasured, strict=True):
            paper += track.lines(car, found)
            if missing and not same:
                paper.append(line(f"Not measured: {missing}.", indent=4))
            if every_obstacle and (rows := result.obstacles(car, track.track.name)):
                lopsided = bool(fleet.lopsided[car])
                paper += [line(), _over_grid(rows, lopsided=lopsided), line()]
        if words := _hand(chain.from_iterable(findings), result.structure, alone=alone):
            paper.append(line(words, indent=2))
        if unmeasured[0] and same:
            paper.append(line(f"not measured: {unmeasured[0]}", indent=2))
        paper += remarks(result, car)
        if below:
            paper += below[car]
    if len(fleet) > 1:
        paper += [line(), line(count_words(codes.tolist()))]
    return paper


def remarks(result: CheckResult, car: int, *, of: str = "") -> Paper:
    """What is doubtful about how a car was described, a line each; ``of`` names the car."""
    head = f"Remark on {plain(of)}" if of else "Remark"
    return [line(f"{head}: {plain(words)}", indent=2) for words in result.remarks(car)]


class _TrackColumn(NamedTuple):
    """One track of a result, as the text tells it car by car."""

    result: CheckResult
    track: Track
    both_ways: Codes

    def lines(self, car: int, findings: Sequence[Finding]) -> Paper:
        """The verdict, and what governs."""
        both = self.both_ways[:, car]
        way = f"; {FACINGS[both.argmin()]} it passes" if both.min() == PASSES < both.max() else ""
        head = line(f"{plain(self.track.name)} track: ", verdict(both.max()), way, indent=2)
        told = telling(findings, self.result.structure)
        return [head, *(line(text, indent=4) for text in told)]


def _hand(findings: Iterable[Finding], structure: Structure, *, alone: bool) -> str:
    """The least room for a hand on any track; of several cars only where a hand has none."""
    recovery = [
        finding
        for finding in findings
        if finding.check == "recovery" and (alone or finding.code == DOES_NOT_FIT)
    ]
    least = min(recovery, key=_room_mm, default=None)
    return "" if least is None else hand_words(least, structure)


def _room_mm(finding: Finding) -> float:
    return math.inf if finding.available_mm is None else finding.available_mm


def _unmeasured(findings: Iterable[Finding]) -> str:
    """What was not measured of a car, and lowers nothing."""
    return ", ".join(
        CHECKS.get(finding.check, finding.check).lower()
        for finding in findings
        if finding.code == NOT_MEASURED and not finding.lowers and finding.check != "recovery"
    )


def _over_grid(rows: Sequence[Hung], *, lopsided: bool) -> Grid:
    """With the way round that leaves less, where it makes a difference."""
    cells = [
        [
            f"{round(row.station, 2):g}",
            plain(row.place.obstacle),
            show_mm(row.headroom_mm, "down"),
            show_mm(row.gap_mm, "down"),
            *([row.facing] if lopsided else []),
            row.place.origin,
        ]
        for row in rows
    ]
    way = ["the worse way"] if lopsided else []
    return grid(["station", "what", "headroom", "gap", *way, "from"], cells)


def count_words(codes: Sequence[int]) -> str:
    """How many cars there are of each verdict: "5 cars: 3 pass, 2 do not fit."."""
    by_verdict = Counter(codes)
    many = ("pass", "not measured", "marginal", "do not fit")
    parts = [
        f"{by_verdict[code]} {VERDICTS[code] if by_verdict[code] == 1 else phrase}"
        for code, phrase in enumerate(many)
        if by_verdict[code]
    ]
    return f"{counted(len(codes), 'car')}: {', '.join(parts)}."


def check_data(result: CheckResult, *, every_obstacle: bool = False) -> dict[str, Any]:
    """The JSON of `check`."""
    cars = []
    codes = result.codes()
    by_track = [(track.name, result.track_codes(track.name)) for track in result.helix.tracks]
    for car, name in enumerate(result.fleet.ids):
        tracks = []
        for track, verdicts in by_track:
            findings = [finding_data(finding) for finding in result.findings(car, track)]
            if every_obstacle:
                for finding in findings:
                    if finding["check"] == "overhead":
                        finding["obstacles"] = [
                            {
                                "station": whole(round(row.station, DIGITS)),
                                "gap_mm": figure_mm(row.gap_mm),
                                "obstacle": row.place.obstacle,
                                "headroom_mm": figure_mm(row.headroom_mm),
                                "origin": row.place.origin,
                                "facing": row.facing,
                            }
                            for row in result.obstacles(car, track)
                        ]
            tracks.append(
                {"track": track, "verdict": VERDICTS[verdicts[car]], "findings": findings}
            )
        cars.append(
            {
                "car": name,
                "verdict": VERDICTS[codes[car]],
                "dimensions": result.fleet.table.text["dimensions"][car],
                "tracks": tracks,
                "remarks": list(result.remarks(car)),
            }
        )
    return {"helix": result.helix.name, "results": cars}


def _located(place: dict[str, Any] | None) -> dict[str, Any] | None:
    """A place with its station and angle as they are written."""
    if place is None:
        return None
    angle = round(place["angle_deg"], DIGITS)
    return place | {"station": whole(round(place["station"], DIGITS)), "angle_deg": angle}


def finding_data(finding: Finding) -> dict[str, Any]:
    """One finding as JSON."""
    data: dict[str, Any] = {
        "check": finding.check,
        "verdict": finding.verdict,
        "location": _located(finding.location),
        "facing": finding.facing,
        "required_mm": figure_mm(finding.required_mm),
        "available_mm": figure_mm(finding.available_mm),
        "gap_mm": figure_mm(finding.gap_mm),
        "allowance_mm": figure_mm(finding.allowance_mm),
        "allowance_parts": figures_mm(finding.allowance_parts),
        "tolerance_parts": figures_mm(finding.tolerance_parts),
    }
    if finding.other_way_gap_mm is not None:
        data["other_way_gap_mm"] = figure_mm(finding.other_way_gap_mm)
    if not finding.lowers:
        data["lowers_the_verdict"] = False
    if finding.reason:
        data["reason"] = finding.reason
    return data | {name: round(value, DIGITS) + 0.0 for name, value in finding.more.items()}


def check_rows(result: CheckResult) -> list[Row]:
    """A row a car, track and finding, for CSV."""
    rows = []
    for car in check_data(result)["results"]:
        for track in car["tracks"]:
            for finding in track["findings"]:
                place = finding["location"] or {}
                rows.append(
                    {
                        "car": car["car"],
                        "dimensions": car["dimensions"],
                        "car_verdict": car["verdict"],
                        "track": track["track"],
                        "track_verdict": track["verdict"],
                        "check": finding["check"],
                        "verdict": finding["verdict"],
                        "station": place.get("station"),
                        "turn": place.get("turn"),
                        "angle_deg": place.get("angle_deg"),
                        "obstacle": place.get("obstacle"),
                        "facing": finding["facing"],
                        "required_mm": finding["required_mm"],
                        "available_mm": finding["available_mm"],
                        "gap_mm": finding["gap_mm"],
                        "allowance_mm": finding["allowance_mm"],
                        "origin": place.get("origin"),
                        "reason": finding.get("reason"),
                        **{column: finding.get(name) for column, name in _MORE.items()},
                    }
                )
    return rows


# The angle of a coupling goes by another name in a row, which has that of the place in it.
_MORE = {
    "swing_deg": "swing_deg",
    "limit_deg": "limit_deg",
    "at_mm": "at_mm",
    "sideways_mm": "sideways_mm",
    "swing_mm": "swing_mm",
    "vertical_mm": "vertical_mm",
    "drop_mm": "drop_mm",
    "coupling_deg": "angle_deg",
}
