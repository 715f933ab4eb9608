"""The roster as a Markdown table, for a club's web page or wiki."""

import re

from tabulate import tabulate

from clearance.judge.roster import Roster
from clearance.judge.verdict import VERDICTS
from clearance.show import cautions
from clearance.show.plain import plain
from clearance.show.words import restrictions

__all__ = ["roster_markdown"]

# What Markdown or the HTML in it would act on; a text from a catalog is only ever text.
# A point or a hyphen inside a line is only ever itself, but some take www. for a link.
_ACTIVE = re.compile(r"([\\`*_{}\[\]<>()#+!|~&$^=:@]|(?<=www)\.)", re.IGNORECASE)


def _escaped(text: str) -> str:
    return _ACTIVE.sub(r"\\\1", plain(text))


def roster_markdown(roster: Roster, heading: str) -> str:
    """The roster as Markdown, with the rule and the caution below it."""
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
        f"# {_escaped(heading)}\n\n{table}\n\n"
        f"Rule: {cautions.RULE}\n\nCaution: {cautions.RUNNING}\n"
    )
