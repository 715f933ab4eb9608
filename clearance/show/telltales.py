"""The tell-tales, as text, JSON and rows for CSV."""

from collections.abc import Sequence
from typing import Any

from catalog.helix import Helix
from catalog.lengths import show_length, show_mm
from clearance.judge.telltales import REFERENCE, Telltale
from clearance.show import cautions
from clearance.show.data import DIGITS, Row, figure_mm
from clearance.show.paper import Paper, Span, line
from clearance.show.plain import plain
from clearance.show.sentences import station_words
from clearance.show.words import full_size_note, listed

__all__ = ["telltales_data", "telltales_rows", "telltales_text"]


def telltales_text(helix: Helix, found: Sequence[Telltale], drawings: Sequence[str]) -> Paper:
    """Where the tell-tales of each track hang, and what they do; ``drawings`` are to be marked."""
    if not found:
        return [line("No tier hangs over another, and nothing else does: no tell-tale is needed.")]
    paper: Paper = []
    for track in dict.fromkeys(telltale.track for telltale in found):
        ends = [telltale for telltale in found if telltale.track == track]
        one = ends[0]  # what both ends of a track share
        place = one.lowest.located(helix.brackets_per_turn)
        paper.append(
            line(
                Span(f"{plain(track)} track", "bold"),
                ": cords end ",
                Span(show_length(one.set_at_mm, "down"), "bold"),
                " over the railhead",
            )
        )
        details = [
            f"Set by {_governing(one)}. "
            f"Lowest beyond it: {show_length(one.headroom_mm, 'down')} under the "
            f"{plain(place['obstacle'])} at {station_words(place)}.",
            f"Cords over {show_length(one.width_mm, 'up')}, "
            f"{show_mm(one.practice.cords_apart_mm)} apart.",
            *map(_hanging, ends),
            _effect("Stops", one.stops),
            _effect("Stops needlessly", one.false_alarms),
            _effect("Lets through", one.lets_through, most=12),
            _effect("Misses", one.missed),
        ]
        if one.not_measured:
            details.append(_effect("Not measured overhead", one.not_measured))
        if one.reason:
            details.append(f"{one.reason[0].upper()}{one.reason[1:]}.")
        paper += [*(line(text, indent=2) for text in details), line()]
    if drawings:
        paper += [line(full_size_note(list(drawings))), line()]
    return [*paper, line(f"Caution: {cautions.TELLTALE}")]


def _governing(telltale: Telltale) -> str:
    if telltale.governing == REFERENCE:
        return "a long reference car, as the fleet is small"
    return plain(telltale.governing) or "what hangs lowest, as no car can stand there"


def _hanging(telltale: Telltale) -> str:
    way = "up" if telltale.at == "foot" else "down"
    stopping = show_length(telltale.stopping_mm, "up")
    practice = show_length(telltale.practice.before_mm, "up")
    return (
        f"At the {telltale.at}: {show_length(telltale.before_mm, 'up')} before the first obstacle "
        f"{way}hill, at station {telltale.station:.1f} (a train stops in {stopping}; full-size "
        f"practice at this scale is {practice})."
    )


def _effect(what: str, ids: list[str], most: int | None = None) -> str:
    if not ids:
        return f"{what}: none."
    return f"{what} ({len(ids)}): {listed(ids, most)}."


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
        "station": round(telltale.station, DIGITS),
        "width_mm": telltale.width_mm,
        "cords_apart_mm": figure_mm(telltale.practice.cords_apart_mm),
        "stopping_mm": figure_mm(telltale.stopping_mm),
        "practice_before_mm": figure_mm(telltale.practice.before_mm),
        "practice_drop_mm": figure_mm(telltale.practice.drop_mm),
        "governing": telltale.governing or None,
        "lowest": {
            "station": place["station"],
            "turn": place["turn"],
            "angle_deg": place["angle_deg"],
            "obstacle": place["obstacle"],
            "headroom_mm": figure_mm(telltale.headroom_mm),
        },
        "stops": telltale.stops,
        "lets_through": telltale.lets_through,
        "false_alarms": telltale.false_alarms,
        "missed": telltale.missed,
        "not_measured": telltale.not_measured,
        "reason": telltale.reason or None,
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
