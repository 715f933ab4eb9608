"""The surveys that are kept of a helix, and one of them reading by reading."""

from collections.abc import Sequence
from typing import Any

from catalog.helix import Helix
from catalog.lengths import show_mm
from catalog.survey_rows import StoredSurvey
from clearance.judge.places import whole
from clearance.show.data import Row, figure_mm
from clearance.show.paper import Cell, Paper, Span, grid, line
from clearance.show.plain import plain
from clearance.show.standing import remark_lines
from clearance.show.words import counted, day_words

__all__ = [
    "HEADERS",
    "readings_data",
    "readings_text",
    "survey_cells",
    "survey_row",
    "surveys_data",
    "surveys_rows",
    "surveys_text",
]

HEADERS = ["survey", "by", "readings", "approved"]
"""Over `survey_cells`."""


def surveys_text(helix: Helix, kept: Sequence[StoredSurvey]) -> Paper:
    """A row a survey, the oldest first."""
    name = Span(plain(helix.name), "bold")
    if not kept:
        return [line(name, ": no survey yet; keep one with 'clearance helix survey HELIX FILE'.")]
    return [
        line(name, f": {counted(len(kept), 'survey')}"),
        grid(HEADERS, [survey_cells(row) for row in kept]),
        line("With --as-of DAY, the readings of the one that stood then."),
    ]


def survey_cells(row: StoredSurvey) -> list[Cell]:
    """Its day, who took it, how many readings it has, and whether it is approved."""
    approved = f"{row.approved_at[:10]}, {plain(row.approved_by)}" if row.is_approved else ""
    return [
        Span(row.taken_on.isoformat(), "bold"),
        _takers(row),
        str(len(row.survey.readings)),
        approved,
    ]


def _takers(row: StoredSurvey) -> str:
    return ", ".join(map(plain, _taken_by(row))) or f"entered by {plain(row.who)}"


def _taken_by(row: StoredSurvey) -> list[str]:
    return list(dict.fromkeys(it.taken_by for it in row.survey.readings if it.taken_by))


def survey_row(row: StoredSurvey) -> dict[str, Any]:
    """The same as JSON, and when and by whom it was entered."""
    return {
        "taken_on": row.taken_on.isoformat(),
        "taken_by": _taken_by(row),
        "readings": len(row.survey.readings),
        "added_at": row.added_at,
        "added_by": row.who,
        "approved": row.is_approved,
        "approved_at": row.approved_at or None,
        "approved_by": row.approved_by or None,
    }


def surveys_data(helix: Helix, kept: Sequence[StoredSurvey]) -> dict[str, Any]:
    """The JSON of `helix survey` without a file."""
    return {"helix": helix.name, "surveys": [survey_row(row) for row in kept]}


def surveys_rows(kept: Sequence[StoredSurvey]) -> list[Row]:
    """A row a survey, for CSV; those who took it in one cell."""
    rows = map(survey_row, kept)
    return [row | {"taken_by": "; ".join(row["taken_by"])} for row in rows]


def readings_text(helix: Helix, row: StoredSurvey, remarks: Sequence[str]) -> Paper:
    """One survey, a row a reading, and what is doubtful about it."""
    state = f"{counted(len(row.survey.readings), 'reading')}, {_takers(row)}"
    state += ", approved" if row.is_approved else ""
    heading = f"{plain(helix.name)}, surveyed on {day_words(row.taken_on)}"
    readings = row.survey.readings
    columns = {
        "station": [f"{it.station:g}" for it in readings],
        "track": [plain(it.track) or "all" for it in readings],
        "railhead": ["" if it.railhead_mm is None else show_mm(it.railhead_mm) for it in readings],
        "headroom": ["" if it.headroom_mm is None else show_mm(it.headroom_mm) for it in readings],
        "on": ["" if it.taken_on is None else it.taken_on.isoformat() for it in readings],
        "by": [plain(it.taken_by) for it in readings],
    }
    return [
        line(Span(heading, "bold"), f": {state}"),
        grid(list(columns), list(zip(*columns.values(), strict=True))),
        *remark_lines(remarks),
    ]


def readings_data(helix: Helix, row: StoredSurvey, remarks: Sequence[str]) -> dict[str, Any]:
    """The JSON of `helix survey --as-of`."""
    return {
        "helix": helix.name,
        "survey": survey_row(row),
        "remarks": list(remarks),
        "readings": [
            {
                "station": whole(it.station),
                "track": it.track,
                "railhead_mm": figure_mm(it.railhead_mm),
                "headroom_mm": figure_mm(it.headroom_mm),
                "taken_on": None if it.taken_on is None else it.taken_on.isoformat(),
                "taken_by": it.taken_by,
            }
            for it in row.survey.readings
        ],
    }
