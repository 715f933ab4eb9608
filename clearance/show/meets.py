"""What `meets` found, as text, JSON and rows for CSV."""

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix
from catalog.lengths import show_length
from clearance.judge.meets import Meeting
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, VERDICTS
from clearance.show.data import Row, figure_mm
from clearance.show.paper import Line, Paper, Span, line, verdict
from clearance.show.plain import plain
from clearance.show.words import full_size_note, listed

__all__ = ["meets_data", "meets_rows", "meets_text"]

Group = tuple[frozenset[int], list[int]]
"""Outer cars, and the inner cars that may not pass just these."""

_MOST_LETTERS = 2000  # of one word, half a page; what is longer is put briefly, if less plainly


def meets_text(helix: Helix, found: Sequence[Meeting], chosen: NDArray[np.bool_]) -> Paper:
    """The pairs that may not pass, cars with the same partners on one line."""
    if len(helix.tracks) == 1:
        return [line(f"{plain(helix.name)} has one track: no trains meet on it.")]
    paper: Paper = []
    for meeting in found:
        fleet = meeting.fleet
        inner, outer = plain(meeting.inner.name), plain(meeting.outer.name)
        pairs = meeting.barred_with(chosen)
        paper.append(
            line(
                Span(f"{inner} and {outer} track", "bold"),
                f", {show_length(meeting.available_mm)} apart",
            )
        )
        unknown = [
            f"{plain(name)} cannot stand on the {plain(track)} track"
            for name, track in meeting.stranded(chosen)
        ]
        paper += [line(f"not measured: {words}", indent=2) for words in unknown]
        if not pairs:
            if not unknown:
                paper.append(line(Span("every car may pass every other", "green"), indent=2))
            continue
        for code in (DOES_NOT_FIT, MARGINAL):
            paper += _barred_lines(meeting, pairs, code)
        drawn = {fleet.ids[car] for pair in pairs for car in pair[:2] if fleet.full_size[car]}
        if drawn:
            paper.append(line(full_size_note([n for n in fleet.ids if n in drawn]), indent=2))
        total = int(meeting.can_run[0].sum() * meeting.can_run[1].sum())
        twins = " A car and itself stand for it and its twin." if _twins(pairs) else ""
        paper.append(line(f"{len(pairs)} of {total} pairs may not pass.{twins}", indent=2))
    return paper


def _twins(pairs: Sequence[tuple[int, int, int]]) -> bool:
    return any(one == other for one, other, _ in pairs)


def _barred_lines(meeting: Meeting, pairs: Sequence[tuple[int, int, int]], code: int) -> Paper:
    """The pairs of one word in as few lines: cars barred by the same others stand together."""
    groups = _groups(pair for pair in pairs if pair[2] == code)
    if not groups:
        return []
    words = "touch" if code == DOES_NOT_FIT else "too close"
    lines = [_barred_line(meeting, *group) for group in groups]
    if sum(len(each.text) for each in lines) > _MOST_LETTERS:
        # Whom a car touches lies within whom it may not pass, and that grows with its reach: only
        # the two together fall into ladders.
        if code != DOES_NOT_FIT:
            words, groups = "too close, or touching as above", _groups(pairs)
        lines = [part for ladder in _ladders(groups) for part in _ladder_lines(meeting, ladder)]
    return [line(Span(words, verdict(code).style), indent=2), *lines]


def _groups(pairs: Iterable[tuple[int, int, int]]) -> list[Group]:
    """Pairs by the inner car, cars with the same partners in one; those with most come first."""
    partners: dict[int, list[int]] = {}
    for one, other, _ in pairs:
        partners.setdefault(one, []).append(other)
    alike: dict[frozenset[int], list[int]] = {}
    for one, partnered in partners.items():
        alike.setdefault(frozenset(partnered), []).append(one)
    return sorted(alike.items(), key=lambda group: -len(group[0]))


def _barred_line(meeting: Meeting, others: frozenset[int], ones: Sequence[int]) -> Line:
    left = set(np.flatnonzero(meeting.can_run[1]).tolist()) - others
    if not left:
        whom = "any car"
    elif len(left) < len(others):
        whom = f"any car but {_named(meeting, left)}"
    else:
        whom = _named(meeting, others)
    inner = plain(meeting.inner.name)
    return line(f"{inner} {_named(meeting, ones)} not past {whom}", indent=4)


def _ladders(groups: Sequence[Group]) -> list[list[Group]]:
    """Groups in rows, from the least barred on, in which each bars all that the one before bars.

    The further a car reaches, the more it is barred from: most groups fall into a few such rows.
    """
    ladders: list[list[Group]] = []
    for group in reversed(groups):
        fitting = (ladder for ladder in ladders if ladder[-1][0] <= group[0])
        ladder = max(fitting, key=lambda ladder: len(ladder[-1][0]), default=None)
        if ladder is None:
            ladders.append([group])
        else:
            ladder.append(group)
    return ladders


def _ladder_lines(meeting: Meeting, ladder: Sequence[Group]) -> list[Line]:
    if len(ladder) == 1:
        return [_barred_line(meeting, *ladder[0])]
    steps, named = [], frozenset[int]()
    for others, ones in ladder:
        steps.append(f"{_named(meeting, ones)}: {_named(meeting, others - named)}")
        named = others
    inner, outer = plain(meeting.inner.name), plain(meeting.outer.name)
    return [
        line(f"{inner} cars, each not past all {outer} cars named up to it:", indent=4),
        line("; ".join(steps), indent=6),
    ]


def _named(meeting: Meeting, cars: Iterable[int]) -> str:
    return listed([meeting.fleet.ids[car] for car in sorted(cars)])


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
        codes = figures.codes
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
