"""What `meets` found, as text, JSON and rows for CSV."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix
from catalog.lengths import show_length
from clearance.judge.meets import Meeting, barred
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, NOT_MEASURED, PASSES, VERDICTS
from clearance.show.data import Row, figure_mm
from clearance.show.paper import Paper, Span, line, verdict
from clearance.show.plain import plain
from clearance.show.words import full_size_note, listed

__all__ = ["meets_data", "meets_rows", "meets_text"]


def meets_text(helix: Helix, found: Sequence[Meeting], chosen: NDArray[np.bool_]) -> Paper:
    """The pairs that may not pass, cars with the same partners on one line."""
    if len(helix.tracks) == 1:
        return [line(f"{plain(helix.name)} has one track: no trains meet on it.")]
    paper: Paper = []
    for meeting in found:
        fleet = meeting.fleet
        inner, outer = plain(meeting.inner.name), plain(meeting.outer.name)
        everybody = np.arange(len(fleet))
        pairs = [
            pair
            for pair in barred(meeting, everybody, everybody)
            if chosen[pair[0]] | chosen[pair[1]]
        ]
        paper.append(
            line(
                Span(f"{inner} and {outer} track", "bold"),
                f", {show_length(meeting.available_mm)} apart",
            )
        )
        unknown = [meeting.missing] * bool(meeting.missing)
        unknown += [
            f"{plain(name)} cannot stand on the {plain(track)} track"
            for name, track in meeting.stranded(chosen)
        ]
        paper += [line(f"not measured: {words}", indent=2) for words in unknown]
        if not pairs:
            if not unknown:
                paper.append(line(Span("every car may pass every other", "green"), indent=2))
            continue
        for code in (DOES_NOT_FIT, MARGINAL):
            paper += _barred_lines(meeting, [pair[:2] for pair in pairs if pair[2] == code], code)
        drawn = {fleet.ids[car] for pair in pairs for car in pair[:2] if fleet.full_size[car]}
        if drawn:
            paper.append(line(full_size_note([n for n in fleet.ids if n in drawn]), indent=2))
        total = int(meeting.can_run[0].sum() * meeting.can_run[1].sum())
        twins = " A car and itself stand for it and its twin." if _twins(pairs) else ""
        paper.append(line(f"{len(pairs)} of {total} pairs may not pass.{twins}", indent=2))
    return paper


def _twins(pairs: Sequence[tuple[int, int, int]]) -> bool:
    return any(one == other for one, other, _ in pairs)


def _barred_lines(meeting: Meeting, pairs: Sequence[tuple[int, int]], code: int) -> Paper:
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
    paper: Paper = [line(Span(heading, verdict(code).style), indent=2)]
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
        paper.append(line(f"{plain(meeting.inner.name)} {names} not past {whom}", indent=4))
    return paper


def meets_data(helix: Helix, rows: list[Row]) -> dict[str, Any]:
    """The JSON of `meets`."""
    return {"helix": helix.name, "pairs": rows}


def meets_rows(found: list[Meeting], chosen: NDArray[np.bool_]) -> list[Row]:
    """A row a pair in which one of the chosen cars is, on every two neighbouring tracks."""
    rows = []
    for meeting in found:
        everybody = np.arange(len(meeting.fleet))
        dimensions = meeting.fleet.table.text["dimensions"]
        figures = meeting.figures(everybody, everybody)
        codes = np.maximum(figures.codes, NOT_MEASURED if meeting.missing else PASSES)
        for one, other in zip(*np.nonzero(chosen[:, None] | chosen), strict=True):
            # Not finite: nothing of the two is at one height, or one of them cannot stand.
            clear = float(figures.gap_mm[one, other])
            gap = clear if np.isfinite(clear) else None
            rows.append(
                {
                    "inner": meeting.fleet.ids[one],
                    "outer": meeting.fleet.ids[other],
                    "inner_track": meeting.inner.name,
                    "outer_track": meeting.outer.name,
                    "inner_dimensions": dimensions[one],
                    "outer_dimensions": dimensions[other],
                    "verdict": VERDICTS[codes[one, other]],
                    "required_mm": None if gap is None else figure_mm(meeting.available_mm - gap),
                    "available_mm": figure_mm(meeting.available_mm),
                    "gap_mm": figure_mm(gap),
                    "allowance_mm": figure_mm(float(figures.allowance_mm[one, other])),
                }
            )
    return rows
