"""The roster, as text, Markdown, JSON and rows for CSV."""

import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from catalog.clock import today
from catalog.scales import show_scale
from clearance.judge.roster import Roster, RosterRow
from clearance.judge.verdict import VERDICTS
from clearance.show import cautions
from clearance.show.check import count_words
from clearance.show.data import Row
from clearance.show.paper import Line, Paper, Span, grid, line, verdict
from clearance.show.plain import plain
from clearance.show.standing import Standing
from clearance.show.words import FULL_SIZE, day_words, listed

__all__ = ["restrictions", "roster_data", "roster_markdown", "roster_rows", "roster_text"]

_TRACK_COLUMNS = 3
_MOST_NAMED = 8  # more than these nobody remembers at the foot of a helix

# What Markdown or the HTML in it would act on; a text from a catalog is only ever text.
# A point or a hyphen inside a line is only ever itself, but some take www. for a link.
_ACTIVE = re.compile(r"([\\`*_{}\[\]<>()#+!|~&$^=:@]|(?<=www)\.)", re.IGNORECASE)


def roster_text(roster: Roster, standing: Standing) -> Paper:
    """The board: a row a car, then the rule and the cautions."""
    helix, fleet = roster.result.helix, roster.result.fleet
    tracks = [track.name for track in helix.tracks]
    # A column a track while there is room for them; of more, the tracks by verdict in one.
    apart = len(tracks) <= _TRACK_COLUMNS
    columns = map(plain, tracks) if apart else ["tracks"]
    text = fleet.table.text
    rows = [
        [
            Span(plain(text["id"][row.index]), "bold"),
            plain(text["name"][row.index]),
            plain(text["owner"][row.index]),
            *([verdict(row.tracks[t]) for t in tracks] if apart else [_by_verdict(row.tracks)]),
            "; ".join(restrictions(row, bool(fleet.full_size[row.index]))),
        ]
        for row in roster.rows
    ]
    return [
        line(Span(_heading(standing), "bold")),
        line(),
        grid(["car", "name", "owner", *columns, "restrictions"], rows),
        line(),
        line(count_words([row.code for row in roster.rows]) + " By each car's best track."),
        line(f"Rule: {cautions.RULE}"),
        line(f"Caution: {cautions.RUNNING}"),
    ]


def _by_verdict(tracks: Mapping[str, int]) -> Line:
    """ "passes: inner, middle; does not fit: outer"."""
    spans: list[str | Span] = []
    for code in range(len(VERDICTS)):
        names = [plain(track) for track, other in tracks.items() if other == code]
        if names:
            spans += ["; " if spans else "", verdict(code), f": {', '.join(names)}"]
    return line(*spans)


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
        where = f"on the {plain(track)} track " if len(runs_on) > 1 else ""
        rest = " (see meets)" if len(others) > _MOST_NAMED else ""
        words.append(f"{where}not past {listed(others, _MOST_NAMED)}{rest}")
    for name in dict.fromkeys(row.not_coupled.values()):
        words.append(f"not coupled to the {plain(name)}")
    if full_size:
        words.append(FULL_SIZE)
    return words


def _heading(standing: Standing) -> str:
    """The line over a roster. It says what it rests on."""
    name = plain(standing.helix.name)
    by = "for" if standing.survey is None else "by"
    return f"{name}: roster of {day_words(today())}, {by} {standing.rests_on}"


def _notes(standing: Standing) -> dict[str, str]:
    """The same for programs: the date, what the roster rests on, the rule and the caution."""
    return {
        "date": today().isoformat(),
        "rests_on": standing.rests_on,
        "rule": cautions.RULE,
        "caution": cautions.RUNNING,
    }


def roster_data(roster: Roster, standing: Standing) -> dict[str, Any]:
    """The JSON of `roster`, with the date, the rule and the caution that are posted with it.

    ``restrictions`` are the words on the board, which leave some names out of a long list;
    ``facing``, ``not_past`` and ``not_coupled`` are the whole of it, by track.
    """
    return {"helix": standing.helix.name, **_notes(standing), "cars": _roster_cars(roster)}


def roster_rows(roster: Roster) -> list[Row]:
    """A row a car for CSV, in the order of the roster: a column a track, lists in one cell."""
    rows = []
    for row in _roster_cars(roster):
        tracks, words = row.pop("tracks"), row.pop("restrictions")
        not_past = row.pop("not_past")
        del row["facing"], row["not_coupled"]  # the words say it
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
                "not_coupled": dict(row.not_coupled),
                "restrictions": restrictions(row, full_size),
            }
        )
    return rows


def roster_markdown(roster: Roster, standing: Standing) -> str:
    """The roster as Markdown, with the rule and the caution below it."""
    from tabulate import tabulate  # needed by nothing else

    helix, fleet = roster.result.helix, roster.result.fleet
    tracks = [track.name for track in helix.tracks]
    text = fleet.table.text
    rows = []
    for row in roster.rows:
        car = row.index
        words = restrictions(row, bool(fleet.full_size[car]))
        rows.append(
            [
                f"**{_escaped(text['id'][car])}**",
                _escaped(text["name"][car]),
                _escaped(text["owner"][car]),
                *(VERDICTS[row.tracks[track]] for track in tracks),
                _escaped("; ".join(words)),
            ]
        )
    headers = ["car", "name", "owner", *map(_escaped, tracks), "restrictions"]
    table = tabulate(rows, headers, tablefmt="pipe", disable_numparse=True)
    return (
        f"# {_escaped(_heading(standing))}\n\n{table}\n\n"
        f"Rule: {cautions.RULE}\n\nCaution: {cautions.RUNNING}\n"
    )


def _escaped(text: str) -> str:
    return _ACTIVE.sub(r"\\\1", plain(text))
