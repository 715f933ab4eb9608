"""What would let a car pass that does not, as text and JSON."""

from collections.abc import Callable, Sequence
from typing import Any

from catalog.lengths import show_length
from clearance.judge.mending import Mend
from clearance.show.data import figure_mm
from clearance.show.level import level_data, moves_words
from clearance.show.paper import Paper, line
from clearance.show.plain import plain
from clearance.show.words import listed

__all__ = ["mends_lines", "with_mends"]

_MOST_NAMED = 12
_OF_LEVEL = ("moves", "before", "after", "limits")


def mends_lines(found: Sequence[Mend], *, passes: bool) -> Paper:
    """A line a mend, below what was found of its car; ``passes``: the car passes as it is."""
    if not found:
        return [] if passes else [line("Nothing that was tried lets it pass.", indent=2)]
    head = "It passes:" if passes else "Would let it pass, each checked again:"
    told = [line(f"{_WORDS[mend.kind](mend)}.", indent=4) for mend in found]
    return [line(head, indent=2), *told]


def _tracks(mend: Mend) -> str:
    return f"{listed(list(mend.tracks))} track{'s' * (len(mend.tracks) > 1)}"


def _brackets(mend: Mend) -> str:
    levelling = mend.levelling
    assert levelling is not None
    assert levelling.after is not None
    count = len(levelling.moves)
    words = (
        f"Bracket{'s' * (count > 1)} {moves_words(levelling.moves)}, for the {_tracks(mend)}; what "
        f"passes overhead now still does"
    )
    grade, change = levelling.after[1:3]
    if mend.wider:
        words += f" (at a grade of {grade:.2f} %, and changes of grade up to {change:.2f} %)"
    return words


def _off_top(mend: Mend) -> str:
    parts = [
        f"{show_length(off_mm, 'up')} off {f'the top of {plain(block)}' if block else 'its top'}"
        for block, off_mm in mend.shaved
    ]
    return f"{', '.join(parts)}, for the {_tracks(mend)}"


def _one_track(mend: Mend) -> str:
    return f"The {_tracks(mend)} only"


def _one_way(mend: Mend) -> str:
    return f"{mend.facing.capitalize()} only, on the {_tracks(mend)}"


def _not_past(mend: Mend) -> str:
    return f"On the {_tracks(mend)} not past {listed(list(mend.cars), _MOST_NAMED)}"


_WORDS: dict[str, Callable[[Mend], str]] = {
    "brackets": _brackets,
    "off_top": _off_top,
    "one_track": _one_track,
    "one_way": _one_way,
    "not_past": _not_past,
}


def with_mends(data: dict[str, Any], found: Sequence[Sequence[Mend]]) -> dict[str, Any]:
    """The JSON of `check`, with the mends of each of its cars."""
    for car, some in zip(data["results"], found, strict=True):
        car["mends"] = [_mend_data(mend) for mend in some]
    return data


def _mend_data(mend: Mend) -> dict[str, Any]:
    data: dict[str, Any] = {"kind": mend.kind, "tracks": list(mend.tracks)}
    if mend.facing:
        data["facing"] = mend.facing
    if mend.shaved:
        data["off"] = [
            {"block": block or None, "off_mm": figure_mm(off_mm)} for block, off_mm in mend.shaved
        ]
    if mend.cars:
        data["cars"] = list(mend.cars)
    if mend.levelling is not None:
        whole = level_data(mend.levelling)
        data |= {name: whole[name] for name in _OF_LEVEL} | {"wider_limits": mend.wider}
    return data
