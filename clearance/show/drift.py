"""What a survey shows to have changed, as text, JSON and rows for CSV."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any, NamedTuple

from catalog.helix import Helix
from catalog.helix_store import SurveyChange
from catalog.lengths import show_length, show_mm
from catalog.survey_fit import station_ranges
from catalog.survey_rows import StoredSurvey
from clearance.judge.allowance import margins_of
from clearance.judge.changes import Changes, Since, VerdictChange
from clearance.judge.drift import Figure, Move, common_shift_mm
from clearance.judge.places import Place, whole
from clearance.judge.structure import Structure
from clearance.judge.verdict import VERDICTS
from clearance.show.check import count_words
from clearance.show.data import DIGITS, Row, figure_mm
from clearance.show.paper import Cell, Grid, Line, Paper, Span, grid, line, verdict
from clearance.show.plain import plain
from clearance.show.sentences import station_words
from clearance.show.words import CHECKS, counted, day_words

__all__ = [
    "SurveyReport",
    "place_data",
    "signed_mm",
    "survey_data",
    "survey_rows",
    "survey_text",
]

_SHOWN_MM = 0.05  # what moved by less is shown as nothing
_NOISE_MM = 1e-6

_BEFORE = {
    "as measured": "as measured",
    "from surveyed railheads": "from the railheads",
    "as designed": "as drawn",
}


class SurveyReport(NamedTuple):
    """A survey that was kept, and what it shows to have changed.

    Attributes
    ----------
    helix
        As drawn.
    stored
        The survey.
    change
        What keeping it did.
    approved
        The survey before it with which the helix was approved; None: there is none.
    later
        The day of the survey that stands, where this one is not the latest; None: it is.
    left_out
        The days of earlier surveys that the helix as drawn today could not give.
    changes
        What changed.
    """

    helix: Helix
    stored: StoredSurvey
    change: SurveyChange
    approved: StoredSurvey | None
    later: date | None
    left_out: tuple[date, ...]
    changes: Changes


def survey_text(report: SurveyReport) -> Paper:
    """What moved, bracket by bracket, and whose verdict is not what it was."""
    helix, changes = report.helix, report.changes
    last = changes.since_last.taken_on
    paper = _moves_text(helix, changes.moves, last)
    if changes.lost:
        paper.append(line(f"Measured before, but not this time: {_lost_words(changes)}."))
    paper.append(line())
    judged = changes.now.structure
    if not len(changes.now.fleet):
        paper.append(line("The catalog holds no car of its gauge, so no verdict has changed."))
    elif changes.since_approved is changes.since_last:
        paper += _since_text(changes.since_last, _both_words(report), judged)
    else:
        paper += _since_text(changes.since_last, _since_words(last), judged)
        paper += [line(), *_since_text(changes.since_approved, _approved_words(report), judged)]
    if len(changes.now.fleet):
        paper += [line(), line(f"By this survey, {count_words(changes.now.codes().tolist())}")]
    if report.later is not None:
        paper.append(line(f"It is judged by a later survey, of {day_words(report.later)}."))
    if report.left_out:
        days = ", ".join(map(day_words, report.left_out))
        paper.append(line(f"Drawn anew since, so left aside: the survey of {days}."))
    return paper


def _moves_text(helix: Helix, moves: Sequence[Move], last: date | None) -> Paper:
    reading = margins_of(helix).headroom_reading_mm
    least = max(reading, _SHOWN_MM) + _NOISE_MM
    by_place: dict[tuple[str, float], list[Move]] = {}
    for move in moves:
        by_place.setdefault((move.track, move.station), []).append(move)
    told = {
        place: its
        for place, its in by_place.items()
        if any(it.moved_mm is not None and abs(it.moved_mm) > least for it in its)
    }
    title = "What is not as drawn" if last is None else f"What moved {_since_words(last)}"
    still = len(by_place) - len(told)
    within = f"by more than {show_length(reading)}, about as well as it can be read"
    if not told:
        return [line(Span(title, "bold"), f": nothing {within}.")]
    verb = "is off" if last is None else "moved"
    paper: Paper = [line(Span(title, "bold"), ":"), _moves_grid(helix, told, last)]
    if still:
        places = "place" if still == 1 else "places"
        paper.append(line(f"At {still} more {places} nothing {verb} {within}."))
    shift = common_shift_mm(moves, reading)
    if shift is not None:
        paper.append(
            line(
                f"All railheads moved by about the same, {signed_mm(shift)}: was it measured from "
                f"the same mark?"
            )
        )
    return paper


def _moves_grid(helix: Helix, told: dict[tuple[str, float], list[Move]], last: date | None) -> Grid:
    by_track = any(track for track, _ in told)
    noted = last is not None and any(not it.is_like for its in told.values() for it in its)
    moved = "off by" if last is None else "moved"
    headers = ["bracket", "turn", *(["track"] * by_track)]
    headers += ["railhead", moved, "headroom", moved, *([""] * noted)]
    rows: list[list[Cell]] = []
    for (track, station), its in told.items():
        place = place_data(station, helix)
        row: list[Cell] = [
            Span(f"{round(station, 2):g}", "bold"),
            f"{place['turn']}, {round(place['angle_deg'], 1):g}°",
        ]
        if by_track:
            row.append(plain(track) or "all")
        for what in ("railhead", "headroom"):
            found = [it for it in its if it.what == what]
            row += [show_mm(found[0].now.value_mm), _moved(found[0])] if found else ["", ""]
        if noted:
            row.append("; ".join(_unlike(it) for it in its if not it.is_like))
        rows.append(row)
    return grid(headers, rows)


def _moved(move: Move) -> str:
    return "" if move.moved_mm is None else signed_mm(move.moved_mm)


def signed_mm(value_mm: float) -> str:
    """A movement, upwards with its sign: "+1.5 mm"."""
    words = show_mm(value_mm)
    return words if words.startswith("-") or not float(words.split()[0]) else f"+{words}"


def _unlike(move: Move) -> str:
    """What a figure was before that was not found in the same way as now."""
    if move.before is None:
        return f"{move.what} not known before"
    return f"{move.what} before {_BEFORE[move.before.origin]}"


def _lost_words(changes: Changes) -> str:
    parts: dict[tuple[str, str], list[float]] = {}
    for it in changes.lost:
        parts.setdefault((it.what, it.track), []).append(round(it.station, 2))
    return "; ".join(
        f"{what}{f', {plain(track)} track,' if track else ''} at {station_ranges(stations)}"
        for (what, track), stations in parts.items()
    )


def _since_words(day: date | None) -> str:
    return "since it was drawn" if day is None else f"since the survey of {day_words(day)}"


def _both_words(report: SurveyReport) -> str:
    last = report.changes.since_last.taken_on
    if report.approved is not None:
        return f"{_since_words(last)}, with which it was approved"
    return "since it was drawn; no survey before this one was approved"


def _approved_words(report: SurveyReport) -> str:
    if report.approved is None:
        return _both_words(report)
    return f"since it was approved with the survey of {day_words(report.approved.taken_on)}"


def _since_text(since: Since, words: str, structure: Structure) -> Paper:
    words = words[:1].upper() + words[1:]
    if not since.changes:
        return [line(f"{words}: no verdict has changed.")]
    cars = len({change.car for change in since.changes})
    others = f"another verdict for {counted(cars, 'car')}"
    rows = [_change_row(change, structure) for change in since.changes]
    return [
        line(Span(words, "bold"), f": {others}."),
        grid(["car", "track", "was", "is now", "because of"], rows),
    ]


def _change_row(change: VerdictChange, structure: Structure) -> list[Cell]:
    return [
        Span(plain(change.car), "bold"),
        plain(change.track),
        _verdict(change.before),
        _verdict(change.now),
        _because(change, structure),
    ]


def _verdict(code: int) -> Line:
    return line(verdict(code))


def _because(change: VerdictChange, structure: Structure) -> str:
    """ "overhead at bracket 17 (turn 2, 150°): 0.4 mm short, before 1.9 mm to spare"."""
    finding = change.finding
    words = CHECKS.get(finding.check, finding.check).lower()
    place = finding.location
    if place is not None and not place["everywhere"]:
        words = f"{words} at {station_words(place, structure)}"
    if finding.spare_mm is None:
        return f"{words}: not measured"
    words = f"{words}: {_spare(finding.spare_mm)}"
    if change.spare_before_mm is None:
        return words
    return f"{words}, before {_spare(change.spare_before_mm)}"


def _spare(spare_mm: float) -> str:
    """What is left of a margin, or missing; to the safe side."""
    if spare_mm < 0:
        return f"{show_mm(-spare_mm, 'up')} short"
    return f"{show_mm(spare_mm, 'down')} to spare"


def place_data(station: float, helix: Helix) -> Row:
    """A place on a helix as JSON and CSV have it: station, turn and angle."""
    found = Place(station, "").located(helix.brackets_per_turn)
    return {
        "station": whole(round(station, DIGITS)),
        "turn": found["turn"],
        "angle_deg": round(found["angle_deg"], DIGITS),
    }


def survey_data(report: SurveyReport, remarks: Sequence[str]) -> dict[str, Any]:
    """The JSON of `helix survey`."""
    changes, stored = report.changes, report.stored
    return {
        "helix": report.helix.name,
        "change": report.change,
        "taken_on": stored.taken_on.isoformat(),
        "readings": len(stored.survey.readings),
        "approved": stored.is_approved,
        "remarks": list(remarks),
        "moved": {
            "since": _iso(changes.since_last.taken_on),
            "places": survey_rows(report),
            "no_longer_measured": [
                {"track": it.track, "what": it.what} | place_data(it.station, report.helix)
                for it in changes.lost
            ],
        },
        "changed": {
            "since_last": _since_data(changes.since_last),
            "since_approved": _since_data(changes.since_approved),
        },
        "later_survey": _iso(report.later),
        "left_out": [day.isoformat() for day in report.left_out],
    }


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _since_data(since: Since) -> dict[str, Any]:
    cars = [
        {
            "car": it.car,
            "track": it.track,
            "before": VERDICTS[it.before],
            "now": VERDICTS[it.now],
            "check": it.finding.check,
            "station": _station(it),
            "spare_before_mm": figure_mm(it.spare_before_mm),
            "spare_mm": figure_mm(it.finding.spare_mm),
        }
        for it in since.changes
    ]
    return {"since": _iso(since.taken_on), "cars": cars}


def _station(change: VerdictChange) -> float | int | None:
    place = change.finding.location
    return None if place is None else whole(round(place["station"], DIGITS))


def survey_rows(report: SurveyReport) -> list[Row]:
    """A row a place and figure that the survey found, for CSV."""
    return list(_rows(report.changes.moves, report.helix))


def _rows(moves: Iterable[Move], helix: Helix) -> Iterable[Row]:
    for move in moves:
        before = move.before or Figure(float("nan"), "as designed")
        known = move.before is not None
        yield {
            **place_data(move.station, helix),
            "track": move.track,
            "what": move.what,
            "before_mm": figure_mm(before.value_mm) if known else None,
            "now_mm": figure_mm(move.now.value_mm),
            "moved_mm": figure_mm(move.moved_mm),
            "origin_before": before.origin if known else None,
            "origin": move.now.origin,
        }
