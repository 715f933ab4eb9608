"""The surveys of a helix beside one another, as text, JSON and rows for CSV."""

import math
from collections import Counter
from collections.abc import Sequence
from datetime import date
from typing import Any, NamedTuple

from catalog.lengths import show_mm
from catalog.survey_rows import StoredSurvey
from clearance.judge.drift import Drift
from clearance.judge.forecast import HORIZON_YEARS, Forecast, Outlook
from clearance.judge.history import History, Visit
from clearance.judge.places import Place, whole
from clearance.judge.trend import BAND_PERCENT, ENOUGH
from clearance.judge.verdict import PASSES, VERDICTS
from clearance.show.data import DIGITS, Row, figure_mm
from clearance.show.drift import place_data, signed_mm
from clearance.show.paper import Cell, Grid, Paper, Span, grid, line
from clearance.show.plain import plain
from clearance.show.surveys import HEADERS, survey_cells, survey_row
from clearance.show.words import counted, day_words, listed

__all__ = ["Past", "history_data", "history_rows", "history_text"]

_MOST_CARS = 8  # more than these nobody plans for
_FAR = f"> {HORIZON_YEARS} years"


class Past(NamedTuple):
    """The surveys as they are stored, and what they say beside one another, in the same order.

    ``since`` is the day before which they are left out; None: none is.
    """

    stored: tuple[StoredSurvey, ...]
    history: History
    since: date | None


def history_text(past: Past) -> Paper:
    """The surveys, how each bracket drifts, and who is expected to become marginal first."""
    history = past.history
    name = Span(plain(history.helix.name), "bold")
    if not past.stored:
        return [line(name, ": no survey yet; keep one with 'clearance helix survey'.")]
    paper: Paper = [
        line(name, f": {counted(len(past.stored), 'survey')}"),
        _surveys(past),
        *_left_out(history.visits),
    ]
    if len(history.forecast.days) < 2:
        left = counted(len(history.forecast.days), "survey")
        return [*paper, line(), line(f"{left} to go by: it takes two to show a drift.")]
    drifting = [it for it in history.drifts if len(it.days) > 1]
    paper += [line(), line(_drift_words(drifting)), _drift_grid(drifting)]
    if fastest := _fastest(drifting):
        paper.append(line(fastest))
    return [*paper, line(), *_forecast_text(history.forecast)]


def _surveys(past: Past) -> Grid:
    rows = [
        [*survey_cells(row), _passing(visit)]
        for row, visit in zip(past.stored, past.history.visits, strict=True)
    ]
    return grid([*HEADERS, "pass everywhere"], rows)


def _passing(visit: Visit) -> str:
    if visit.result is None:
        return "left out"
    codes = visit.result.codes()
    return f"{int((codes == PASSES).sum())} of {len(codes)}" if len(codes) else "no cars"


def _left_out(visits: Sequence[Visit]) -> Paper:
    return [
        line(f"Left out, of {day_words(visit.taken_on)}: {plain(visit.reason)}.", indent=2)
        for visit in visits
        if visit.result is None
    ]


def _drift_words(drifting: Sequence[Drift]) -> str:
    words = "Drift in mm, from the first survey of each to the last; a year: least squares"
    if any(len(it.days) >= ENOUGH for it in drifting):
        words += ", ± standard error"
    if any(it.origin != "as measured" for it in drifting):
        words += ". A headroom in brackets follows from the railheads"
    return f"{words}."


def _drift_grid(drifting: Sequence[Drift]) -> Grid:
    by_track = any(it.track for it in drifting)
    by_place: dict[tuple[float, str], dict[str, Drift]] = {}
    for it in drifting:
        by_place.setdefault((it.station, it.track), {})[it.what] = it
    rows: list[list[Cell]] = []
    for (station, track), its in by_place.items():
        row: list[Cell] = [Span(f"{round(station, 2):g}", "bold")]
        if by_track:
            row.append(plain(track) or "all")
        for what in ("railhead", "headroom"):
            row += _drift_cells(its.get(what))
        rows.append(row)
    headers = ["bracket", *(["track"] * by_track)]
    return grid([*headers, "railhead", "moved", "a year", "headroom", "moved", "a year"], rows)


def _drift_cells(it: Drift | None) -> list[Cell]:
    if it is None:
        return ["", "", ""]
    last = f"{it.values_mm[-1]:.1f}"
    return [
        last if it.origin == "as measured" else f"({last})",
        _signed(it.moved_mm),
        _rate(float(it.trend.rate), float(it.trend.rate_error)),
    ]


def _rate(rate: float, error: float) -> str:
    return _signed(rate) if math.isnan(error) else f"{_signed(rate)} ± {error:.1f}"


def _signed(value: float) -> str:
    """A number of millimetres with its sign, to 0.1; never minus zero."""
    return signed_mm(value).removesuffix(" mm")


def _fastest(drifting: Sequence[Drift]) -> str:
    """Which headroom shrinks fastest."""
    shrinking = [it for it in drifting if it.what == "headroom" and float(it.trend.rate) < 0]
    if not shrinking:
        return ""
    it = min(shrinking, key=lambda drift: float(drift.trend.rate))
    track = f" on the {plain(it.track)} track" if it.track else ""
    rate = signed_mm(float(it.trend.rate))
    return f"Headroom shrinks fastest at bracket {round(it.station, 2):g}{track}: {rate} a year."


def _forecast_text(forecast: Forecast) -> Paper:
    if forecast.too_few:
        return [
            line(
                f"Too few surveys to say when a car becomes marginal: it takes {ENOUGH} of "
                f"different days, and there are {len(forecast.days)}."
            )
        ]
    paper: Paper = [line(Span(_first_words(forecast), "bold"))]
    soonest = forecast.outlooks[:_MOST_CARS]
    if soonest:
        headers = ["car", "track", "at", "to spare", "a year", "marginal"]
        headers.append(f"{BAND_PERCENT:g} % band")
        paper.append(grid(headers, [_outlook_row(it) for it in soonest]))
    if len(forecast.outlooks) > len(soonest):
        paper.append(line(f"{len(forecast.outlooks) - len(soonest)} more come after these."))
    for words, rows in (
        ("Short overhead already", forecast.short),
        ("Not measured overhead by every survey, so not followed", forecast.not_measured),
    ):
        if rows:
            paper.append(line(f"{words}: {_cars_by_track(rows)}."))
    paper.append(
        line(
            "A straight line through what each car had to spare at each place by each survey. Nuts "
            "that were turned in between bend it: --since DAY leaves out the surveys before."
        )
    )
    return paper


def _first_words(forecast: Forecast) -> str:
    first = forecast.first
    if first is None or first.expected is None:
        if not (forecast.outlooks or forecast.short or forecast.not_measured):
            return "The catalog holds no car of its gauge, so nothing is expected of any."
        if not forecast.outlooks:
            return "No car passes overhead, so none is expected to become marginal."
        return f"No car is expected to become marginal overhead within {HORIZON_YEARS} years."
    who = f"{plain(first.car)} on the {plain(first.track)} track"
    if first.place is not None:
        who += f" at {_at(first.place)}"
    when = day_words(first.expected)
    if first.expected <= forecast.days[-1]:
        when = f"by {when}, though the survey of that day finds it to pass"
    else:
        when = f"about {when}"
    return f"First expected to become marginal overhead: {who}, {when}."


def _outlook_row(it: Outlook) -> list[Cell]:
    rate = "" if it.rate_mm_year is None else _rate(it.rate_mm_year, it.rate_error_mm_year or 0.0)
    return [
        Span(plain(it.car), "bold"),
        plain(it.track),
        "" if it.place is None else _at(it.place),
        show_mm(it.spares_mm[-1], "down"),
        rate,
        _FAR if it.expected is None else it.expected.isoformat(),
        _band(it.earliest, it.latest),
    ]


def _at(place: Place) -> str:
    """ "beam 17", "lamp 3.5"; "station 6.5" for a headroom that was measured between brackets."""
    what = "station" if place.obstacle == "underside" else plain(place.obstacle)
    return f"{what} {round(place.station, 2):g}"


def _band(earliest: date | None, latest: date | None) -> str:
    if earliest is None:
        return _FAR
    if latest is None:
        return f"from {earliest.isoformat()}"
    return f"{earliest.isoformat()} to {latest.isoformat()}"


def _cars_by_track(rows: Sequence[tuple[str, str]]) -> str:
    tracks: dict[str, list[str]] = {}
    for car, track in rows:
        tracks.setdefault(track, []).append(car)
    return "; ".join(f"{plain(track)} track: {listed(cars)}" for track, cars in tracks.items())


def history_data(past: Past) -> dict[str, Any]:
    """The JSON of `helix history`."""
    history = past.history
    forecast = history.forecast
    return {
        "helix": history.helix.name,
        "since": _iso(past.since),
        "surveys": [
            _survey_data(row, visit) for row, visit in zip(past.stored, history.visits, strict=True)
        ],
        "drift": [
            _drift_data(it, history)
            | {
                "readings": [
                    {"taken_on": day.isoformat(), "value_mm": figure_mm(value)}
                    for day, value in zip(it.days, it.values_mm, strict=True)
                ]
            }
            for it in history.drifts
        ],
        "forecast": {
            "surveys": [day.isoformat() for day in forecast.days],
            "too_few_surveys": forecast.too_few,
            "band_percent": BAND_PERCENT,
            "horizon_years": HORIZON_YEARS,
            "first": None if forecast.first is None else _outlook_data(forecast.first),
            "cars": [_outlook_data(it) for it in forecast.outlooks],
            "short": [{"car": car, "track": track} for car, track in forecast.short],
            "not_measured": [{"car": car, "track": track} for car, track in forecast.not_measured],
        },
    }


def _survey_data(row: StoredSurvey, visit: Visit) -> dict[str, Any]:
    data = survey_row(row) | {"verdicts": None, "left_out": visit.reason or None}
    if visit.result is not None:
        by_verdict = Counter(visit.result.codes().tolist())
        data["verdicts"] = {word: by_verdict[code] for code, word in enumerate(VERDICTS)}
    return data


def _drift_data(it: Drift, history: History) -> Row:
    return {
        **place_data(it.station, history.helix),
        "track": it.track,
        "what": it.what,
        "origin": it.origin,
        "moved_mm": figure_mm(it.moved_mm),
        "rate_mm_year": _figure(float(it.trend.rate)),
        "rate_error_mm_year": _figure(float(it.trend.rate_error)),
    }


def _figure(value: float | None) -> float | None:
    return None if value is None or math.isnan(value) else round(value, DIGITS) + 0.0


def _outlook_data(it: Outlook) -> dict[str, Any]:
    return {
        "car": it.car,
        "track": it.track,
        "station": None if it.place is None else whole(round(it.place.station, DIGITS)),
        "obstacle": None if it.place is None else it.place.obstacle,
        "spares_mm": [figure_mm(spare) for spare in it.spares_mm],
        "rate_mm_year": _figure(it.rate_mm_year),
        "rate_error_mm_year": _figure(it.rate_error_mm_year),
        "marginal_on": _iso(it.expected),
        "earliest": _iso(it.earliest),
        "latest": _iso(it.latest),
    }


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def history_rows(past: Past) -> list[Row]:
    """A row a place and figure, for CSV: the first reading, the last, and the rate."""
    rows = []
    for it in past.history.drifts:
        row = _drift_data(it, past.history)
        moved = {name: row.pop(name) for name in list(row) if name.endswith(("_mm", "_year"))}
        rows.append(
            row
            | {
                "surveys": len(it.days),
                "first_on": it.days[0].isoformat(),
                "first_mm": figure_mm(it.values_mm[0]),
                "last_on": it.days[-1].isoformat(),
                "last_mm": figure_mm(it.values_mm[-1]),
            }
            | moved
        )
    return rows
