"""Results as data: the JSON that other programs read, and rows for CSV. See docs/formats.md."""

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from catalog.car import Car
from catalog.helix import Helix
from catalog.scales import show_scale
from clearance.judge.findings import CheckResult, Finding, whole
from clearance.judge.meets import Meeting
from clearance.judge.roster import Roster
from clearance.judge.sizing import Design
from clearance.judge.telltales import Telltale
from clearance.judge.verdict import VERDICTS
from clearance.show.words import restrictions

__all__ = [
    "car_data",
    "car_rows",
    "check_data",
    "check_rows",
    "helix_data",
    "helix_rows",
    "meets_data",
    "meets_rows",
    "roster_data",
    "roster_rows",
    "size_data",
    "size_rows",
    "telltales_data",
    "telltales_rows",
]

_DIGITS = 4  # 0.1 micrometre: below what matters, above what a float keeps

Row = dict[str, Any]


def _mm(value: float | None) -> float | None:
    return None if value is None else round(value, _DIGITS) + 0.0


def _parts(parts: dict[str, float]) -> dict[str, float]:
    return {name: round(value, _DIGITS) + 0.0 for name, value in parts.items()}


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
                            {"station": whole(station), "gap_mm": _mm(gap)}
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
        "required_mm": _mm(finding.required_mm),
        "available_mm": _mm(finding.available_mm),
        "gap_mm": _mm(finding.gap_mm),
        "allowance_mm": _mm(finding.allowance_mm),
        "allowance_parts": _parts(finding.allowance_parts),
        "tolerance_parts": _parts(finding.tolerance_parts),
    }
    if finding.other_way_gap_mm is not None:
        data["other_way_gap_mm"] = _mm(finding.other_way_gap_mm)
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


def meets_data(helix: Helix, rows: list[Row]) -> dict[str, Any]:
    """The JSON of `meets`."""
    return {"helix": helix.name, "pairs": rows}


def meets_rows(found: list[Meeting], chosen: NDArray[np.bool_]) -> list[Row]:
    """A row a pair in which one of the chosen cars is, on every two neighbouring tracks."""
    rows = []
    for meeting in found:
        inner, outer = (np.flatnonzero(can_run) for can_run in meeting.can_run)
        if not len(inner) or not len(outer):
            continue
        dimensions = meeting.fleet.table.text["dimensions"]
        figures = meeting.figures(inner, outer)
        codes = figures.codes
        for row, one in enumerate(inner):
            for column, other in enumerate(outer):
                if not (chosen[one] or chosen[other]):
                    continue
                gap = float(figures.gap_mm[row, column])
                apart = not np.isfinite(gap)  # nothing of the two is at one height
                rows.append(
                    {
                        "inner": meeting.fleet.ids[one],
                        "outer": meeting.fleet.ids[other],
                        "inner_track": meeting.inner.name,
                        "outer_track": meeting.outer.name,
                        "inner_dimensions": dimensions[one],
                        "outer_dimensions": dimensions[other],
                        "verdict": VERDICTS[codes[row, column]],
                        "required_mm": None if apart else _mm(meeting.available_mm - gap),
                        "available_mm": _mm(meeting.available_mm),
                        "gap_mm": None if apart else _mm(gap),
                        "allowance_mm": _mm(float(figures.allowance_mm[row, column])),
                    }
                )
    return rows


def roster_data(roster: Roster, notes: dict[str, Any]) -> dict[str, Any]:
    """The JSON of `roster`; ``notes`` are the date, the rule and the caution posted with it.

    ``restrictions`` are the words on the board, which leave some names out of a long list;
    ``facing`` and ``not_past`` are the whole of it, by track.
    """
    return {"helix": roster.result.helix.name, **notes, "cars": _roster_cars(roster)}


def roster_rows(roster: Roster) -> list[Row]:
    """A row a car for CSV, in the order of the roster: a column a track, lists in one cell."""
    rows = []
    for row in _roster_cars(roster):
        tracks, words = row.pop("tracks"), row.pop("restrictions")
        not_past = row.pop("not_past")
        del row["facing"]  # the words say it
        row |= {f"{track} track": verdict for track, verdict in tracks.items()}
        row["restrictions"] = "; ".join(words)
        row |= {f"{track} track, not past": "; ".join(not_past.get(track, ())) for track in tracks}
        rows.append(row)
    return rows


def _roster_cars(roster: Roster) -> list[Row]:
    fleet = roster.result.fleet
    text = fleet.table.text
    scales = fleet.figure("scale")
    rows = []
    for row in roster.rows:
        car = row.index
        full_size = bool(fleet.full_size[car])
        rows.append(
            {
                "car": text["id"][car],
                "name": text["name"][car],
                "owner": text["owner"][car],
                "kind": text["kind"][car],
                "scale": "" if np.isnan(scales[car]) else show_scale(float(scales[car])),
                "dimensions": text["dimensions"][car],
                "verdict": row.verdict,
                "tracks": {track: VERDICTS[code] for track, code in row.tracks.items()},
                "facing": dict(row.facing),
                "not_past": {track: list(cars) for track, cars in row.not_past.items()},
                "restrictions": restrictions(row, full_size),
            }
        )
    return rows


def telltales_data(helix: Helix, found: list[Telltale], drawings: Sequence[str]) -> dict[str, Any]:
    """The JSON of `telltales`; ``drawings`` are the cars whose figures are not the model's."""
    return {
        "helix": helix.name,
        "telltales": [_telltale_data(helix, telltale) for telltale in found],
        "full_size": list(drawings),
    }


def _telltale_data(helix: Helix, telltale: Telltale) -> dict[str, Any]:
    place = telltale.lowest.located(helix.brackets_per_turn)
    return {
        "track": telltale.track,
        "at": telltale.at,
        "set_at_mm": telltale.set_at_mm,
        "before_mm": telltale.before_mm,
        "station": round(telltale.station, _DIGITS),
        "width_mm": telltale.width_mm,
        "cords_apart_mm": _mm(telltale.practice.cords_apart_mm),
        "stopping_mm": _mm(telltale.stopping_mm),
        "practice_before_mm": _mm(telltale.practice.before_mm),
        "practice_drop_mm": _mm(telltale.practice.drop_mm),
        "governing": telltale.governing or None,
        "lowest": {
            "station": place["station"],
            "turn": place["turn"],
            "angle_deg": place["angle_deg"],
            "obstacle": place["obstacle"],
            "headroom_mm": _mm(telltale.headroom_mm),
        },
        "stops": telltale.stops,
        "lets_through": telltale.lets_through,
        "false_alarms": telltale.false_alarms,
        "missed": telltale.missed,
        "not_measured": telltale.not_measured,
    }


def telltales_rows(helix: Helix, found: list[Telltale], drawings: Sequence[str]) -> list[Row]:
    """A row a tell-tale, for CSV; lists of cars in one cell."""
    rows = []
    for data in telltales_data(helix, found, drawings)["telltales"]:
        place = data.pop("lowest")
        flat = {
            name: "; ".join(value) if isinstance(value, list) else value
            for name, value in data.items()
        }
        flat |= {f"lowest_{name}": value for name, value in place.items()}
        rows.append(flat | {"full_size": "; ".join(drawings)})
    return rows


def size_data(design: Design, drawings: Sequence[str]) -> dict[str, Any]:
    """The JSON of `size`; ``drawings`` are the cars whose figures are not the model's."""
    return {
        "governing": {name: cars for name, cars in design.governing.items() if cars is not None},
        "rise_per_turn_mm": design.rise_per_turn_mm,
        "radius_mm": design.radius_mm,
        "track_spacing_mm": design.track_spacing_mm,
        "inside_mm": design.inside_mm,
        "outside_mm": design.outside_mm,
        "grade_percent": round(design.grade_percent, _DIGITS),
        "max_grade_percent": design.limits.max_grade_percent,
        "turns": round(design.turns, _DIGITS),
        "climb_mm": _mm(design.turns * design.rise_per_turn_mm),
        "footprint_mm": design.footprint_mm,
        "alternatives": [
            {
                "change": other.change,
                "max_grade_percent": other.max_grade_percent,
                "without": list(other.without),
                "rise_per_turn_mm": other.rise_per_turn_mm,
                "radius_mm": other.radius_mm,
                "track_spacing_mm": other.track_spacing_mm,
                "footprint_mm": other.footprint_mm,
                "saves_mm": other.saves_mm,
            }
            for other in design.alternatives
        ],
        "full_size": list(drawings),
    }


def size_rows(design: Design, drawings: Sequence[str]) -> list[Row]:
    """The design and its alternatives, a row each, for CSV."""
    data = size_data(design, drawings)
    columns = (
        "rise_per_turn_mm",
        "radius_mm",
        "track_spacing_mm",
        "footprint_mm",
    )
    first: Row = {"change": "design", "max_grade_percent": data["max_grade_percent"], "without": ""}
    first |= {name: data[name] for name in columns} | {"saves_mm": None, "full_size": ""}
    rows = [first]
    for other in data["alternatives"]:
        drawn = [name for name in other["without"] if name in drawings]
        rows.append(other | {"without": "; ".join(other["without"]), "full_size": "; ".join(drawn)})
    return rows


def car_data(car: Car, *, retired: bool = False) -> dict[str, Any]:
    """One car as JSON: lengths as ``…_mm``, the scale as 1:n."""
    data = car.model_dump(mode="json")
    data["scale"] = None if car.scale is None else show_scale(car.scale)
    return data | {"retired": retired}


def car_rows(cars: list[Car], retired: Collection[str] = ()) -> list[Row]:
    """A row a car, for the listings; without the blocks.

    The lengths are the model's own also where ``dimensions`` is full-size. The last column keeps
    such a listing from being taken for a cars.csv, whose full-size rows are divided by the scale.
    """
    rows = [car_data(car, retired=car.id in retired) for car in cars]
    return [{name: row[name] for name in row if name != "blocks"} for row in rows]


def helix_data(helix: Helix, *, retired: bool) -> dict[str, Any]:
    """One helix as JSON."""
    return helix.model_dump(mode="json") | {"retired": retired}


def helix_rows(helices: list[Helix], retired: Collection[str]) -> list[Row]:
    """A row a helix, for the listings; tracks in one cell."""
    return [
        {
            "name": helix.name,
            "gauge_mm": helix.gauge_mm,
            "turns": helix.turns,
            "rise_per_turn_mm": helix.rise_per_turn_mm,
            "brackets_per_turn": helix.brackets_per_turn,
            "climbs": helix.climbs,
            "tracks": "; ".join(f"{track.name} {track.radius_mm:g} mm" for track in helix.tracks),
            "retired": helix.name in retired,
        }
        for helix in helices
    ]
