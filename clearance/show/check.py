"""What `check` found, as text, JSON and rows for CSV."""

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Any

from clearance.judge.findings import CheckResult, Finding
from clearance.judge.fleet import FACINGS
from clearance.judge.places import whole
from clearance.judge.verdict import PASSES, VERDICTS, Codes
from clearance.show.data import Row, figure_mm, figures_mm
from clearance.show.paper import Line, Paper, Span, line, verdict
from clearance.show.plain import plain
from clearance.show.words import CHECKS, full_size_mark, mend, sentence

__all__ = ["check_data", "check_rows", "check_text", "count_words"]


def check_text(result: CheckResult) -> Paper:
    """The verdict of each car in words, then by track the finding that governs."""
    fleet, codes = result.fleet, result.codes()
    by_track = {track.name: result.facing_codes(track.name) for track in result.helix.tracks}
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
        for track, both_ways in by_track.items():
            findings = list(result.findings(car, track))
            paper.append(_track_line(track, both_ways[:, car], findings))
            paper += [line(text, indent=4) for text in _telling(findings)]
    if len(fleet) > 1:
        paper += [line(), line(count_words(codes.tolist()))]
    return paper


def _track_line(track: str, both_ways: Codes, findings: Sequence[Finding]) -> Line:
    """The verdict, the way round that is better than it, and what it does not rest on."""
    more = ""
    if both_ways.min() == PASSES < both_ways.max():
        more += f"; {FACINGS[both_ways.argmin()]} it passes"
    for finding in findings:
        if not finding.lowers:
            more += f"; {CHECKS.get(finding.check, finding.check).lower()} {finding.verdict}"
    return line(f"{plain(track)} track: ", verdict(both_ways.max()), more, indent=2)


def _telling(findings: Sequence[Finding]) -> Iterable[str]:
    """The governing finding; where the car does not simply pass, the others that do not either."""
    for number, finding in enumerate(finding for finding in findings if finding.lowers):
        if number == 0 or finding.code != PASSES:
            yield sentence(finding)
            if advice := mend(finding):
                yield advice


def count_words(codes: Sequence[int]) -> str:
    """How many cars there are of each verdict: "5 cars: 3 pass, 2 do not fit."."""
    counted = Counter(codes)
    many = ("pass", "not measured", "marginal", "do not fit")
    parts = [
        f"{counted[code]} {VERDICTS[code] if counted[code] == 1 else phrase}"
        for code, phrase in enumerate(many)
        if counted[code]
    ]
    return f"{len(codes)} car{'s' * (len(codes) != 1)}: {', '.join(parts)}."


def check_data(result: CheckResult, *, every_obstacle: bool = False) -> dict[str, Any]:
    """The JSON of `check`."""
    cars = []
    codes = result.codes()
    by_track = {track.name: result.track_codes(track.name) for track in result.helix.tracks}
    for car, name in enumerate(result.fleet.ids):
        tracks = []
        for track, verdicts in by_track.items():
            findings = [_finding_data(finding) for finding in result.findings(car, track)]
            if every_obstacle:
                for finding in findings:
                    if finding["check"] == "overhead":
                        finding["obstacles"] = [
                            {"station": whole(station), "gap_mm": figure_mm(gap)}
                            for station, gap in result.obstacles(car, track)
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
            }
        )
    return {"helix": result.helix.name, "results": cars}


def _finding_data(finding: Finding) -> dict[str, Any]:
    data: dict[str, Any] = {
        "check": finding.check,
        "verdict": finding.verdict,
        "location": finding.location,
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
    return data


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
                    }
                )
    return rows
