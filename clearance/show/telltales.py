"""The tell-tales, as text, JSON and rows for CSV."""

from collections.abc import Iterator, Sequence
from typing import Any

from catalog.lengths import show_length, show_mm
from clearance.judge.places import Place, whole
from clearance.judge.structure import Structure
from clearance.judge.telltale import REFERENCE, Hung, Second, Telltale, Whom
from clearance.show import cautions
from clearance.show.data import DIGITS, Row, figure_mm
from clearance.show.paper import Paper, Span, line
from clearance.show.plain import plain
from clearance.show.sentences import station_words
from clearance.show.words import full_size_note, listed

__all__ = ["telltales_data", "telltales_rows", "telltales_text"]

_MOST = 12  # cars named of a list that nobody looks through
_TOLD_MM = 0.1


def telltales_text(
    structure: Structure,
    found: Sequence[Telltale],
    drawings: Sequence[str],
    gauges: Paper | None = None,
) -> Paper:
    """Where the tell-tales of each track hang, and what they do.

    ``drawings`` are the cars to be marked; ``gauges`` is what to say of clearance gauges.
    """
    if not found:
        return [line("No tier hangs over another, and nothing else does: no tell-tale is needed.")]
    paper: Paper = []
    for track in dict.fromkeys(telltale.track for telltale in found):
        ends = [telltale for telltale in found if telltale.track == track]
        if _alike(ends):
            paper += _block(structure, f"{plain(track)} track", ends)
        else:
            for one in ends:
                paper += _block(structure, f"{plain(track)} track, {one.at}", [one])
    paper += gauges or []
    if drawings:
        paper += [line(full_size_note(list(drawings))), line()]
    return [*paper, line(f"Caution: {cautions.TELLTALE}")]


def _alike(ends: list[Telltale]) -> bool:
    """Whether both ends of a track can be told in one."""
    shared = [
        (
            one.set_at_mm,
            one.width_mm,
            one.stops,
            one.false_alarms,
            one.missed,
            one.governing,
            one.hung,
        )
        for one in ends
    ]
    same = all(own == shared[0] for own in shared)
    return same and not any(one.second for one in ends)


def _block(structure: Structure, title: str, ends: list[Telltale]) -> Paper:
    """What is said of one tell-tale, or of two that are alike."""
    one = ends[0]
    heading = line(
        Span(title, "bold"),
        ": cords end ",
        Span(show_length(one.set_at_mm, "down"), "bold"),
        " over the railhead",
    )
    details = [
        f"Set by {_governing(one)}. Lowest beyond it: {show_length(one.headroom_mm, 'down')} "
        f"under the {_place(structure, one.lowest)}; "
        f"the cords hang {show_length(one.below_mm, 'down')} below that.",
        f"{one.cords} cords over {show_length(one.width_mm, 'up')}, "
        f"{show_mm(one.practice.cords_apart_mm)} apart.",
        *(words for end in ends for words in _hanging(end)),
        *_effects(one),
    ]
    if one.reason:
        details.append(f"{one.reason[0].upper()}{one.reason[1:]}.")
    if one.hung:
        details.append(_hung(one, one.hung))
    if one.second:
        details.append(_second(structure, one.second))
    return [heading, *(line(text, indent=2) for text in details), line()]


def _place(structure: Structure, where: Place) -> str:
    place = where.located(structure.helix.brackets_per_turn)
    return f"{plain(place['obstacle'])} at {station_words(place, structure)}"


def _governing(telltale: Telltale) -> str:
    if telltale.governing == REFERENCE:
        return "the long reference car of a small fleet"
    return plain(telltale.governing) or "what hangs lowest, as no car can stand there"


def _hanging(telltale: Telltale) -> Iterator[str]:
    way = "up" if telltale.at == "foot" else "down"
    stopping = show_length(telltale.stopping_mm, "up")
    practice = show_length(telltale.practice.before_mm, "up")
    where = f"at station {telltale.station:.1f}"
    if telltale.along_lead_mm is not None:
        where = f"on the lead, {show_length(telltale.along_lead_mm)} from the curve"
    yield (
        f"At the {telltale.at}, {where}: {show_length(telltale.before_mm, 'up')} before the "
        f"{_first(telltale.first)}, the first obstacle {way}hill."
    )
    ahead = ""
    if telltale.ahead_mm:
        past = show_length(telltale.ahead_mm, "up")
        ahead = f"; a car may be {past} past the cords before it meets them"
    yield f"A train stops in {stopping}{ahead}; full-size practice at this scale is {practice}."
    if not telltale.described:
        yield "The helix file does not describe the track there; it is taken to go on evenly."
    least, most = telltale.raised_mm
    if max(abs(least), abs(most)) >= _TOLD_MM:
        yield (
            f"There cars reach from {_more(least)} to {_more(most)} than their height; that is "
            f"reckoned with."
        )


def _first(place: Place) -> str:
    name = plain(place.obstacle)
    if place.obstacle in ("beam", "deck") and place.station >= 0:
        return f"{name} at station {round(place.station, 2):g}"
    return name


def _more(raised_mm: float) -> str:
    if raised_mm < 0:
        return f"{show_mm(-raised_mm, 'up')} less"
    return f"{show_mm(raised_mm, 'up')} more"


def _effects(whom: Whom) -> Iterator[str]:
    yield _effect("Stops", whom.stops)
    yield _effect("Stops needlessly", whom.false_alarms)
    yield _effect("Lets through", whom.lets_through, most=_MOST)
    yield _effect("Misses", whom.missed)
    if whom.not_measured:
        yield _effect("Not measured overhead", whom.not_measured)


def _hung(telltale: Telltale, hung: Hung) -> str:
    """What cords at another height do, and what to do about it."""
    change = telltale.set_at_mm - hung.hung_mm
    up, down = show_length(change, "down"), show_length(-change, "up")
    needless = f"{len(hung.stops)}, needlessly {listed(hung.false_alarms) or 'none'}"
    if hung.missed:
        advice = f"Too high: it misses {listed(hung.missed)}. Lower it by {down}."
    elif len(hung.false_alarms) > len(telltale.false_alarms):
        advice = f"It misses none, but is lower than it need be: raise it by {up}."
    elif change < 0:
        advice = (
            f"It misses none of these cars. One like {_governing(telltale)}, as high as the cords "
            f"let by, would not pass: lower it by {down} to be safe from that too."
        )
    else:
        advice = "Right: it misses none."
    return f"Hung at {show_length(hung.hung_mm)} it stops {needless}. {advice}"


def _second(structure: Structure, second: Second) -> str:
    here = Place(second.station, "").located(structure.helix.brackets_per_turn)
    return (
        f"Two in a row would spare {len(second.spares)} of these ({listed(second.spares)}): this "
        f"one at {show_length(second.first_set_at_mm, 'down')}, a second one at "
        f"{show_length(second.set_at_mm, 'down')}, {show_length(second.width_mm, 'up')} wide, at "
        f"{station_words(here, structure)}, {show_length(second.before_mm, 'up')} before the "
        f"{_place(structure, second.guards)}. Together they stop {len(second.stops)}, needlessly "
        f"{len(second.false_alarms)}, and miss {len(second.missed) or 'none'}."
    )


def _effect(what: str, ids: list[str], most: int | None = None) -> str:
    if not ids:
        return f"{what}: none."
    return f"{what} ({len(ids)}): {listed(ids, most)}."


def telltales_data(
    structure: Structure, found: list[Telltale], drawings: Sequence[str]
) -> dict[str, Any]:
    """The JSON of `telltales`; ``drawings`` are the cars whose figures are not the model's."""
    return {
        "helix": structure.helix.name,
        "telltales": [_telltale_data(structure, telltale) for telltale in found],
        "full_size": list(drawings),
    }


def _telltale_data(structure: Structure, telltale: Telltale) -> dict[str, Any]:
    least, most = telltale.raised_mm
    data: dict[str, Any] = {
        "track": telltale.track,
        "at": telltale.at,
        "set_at_mm": telltale.set_at_mm,
        "before_mm": telltale.before_mm,
        "station": round(telltale.station, DIGITS),
        "along_lead_mm": figure_mm(telltale.along_lead_mm),
        "described": telltale.described,
        "raised_mm": {"least": figure_mm(least), "most": figure_mm(most)},
        "width_mm": telltale.width_mm,
        "cords": telltale.cords,
        "cords_apart_mm": figure_mm(telltale.practice.cords_apart_mm),
        "below_mm": figure_mm(telltale.below_mm),
        "stopping_mm": figure_mm(telltale.stopping_mm),
        "ahead_mm": figure_mm(telltale.ahead_mm),
        "practice_before_mm": figure_mm(telltale.practice.before_mm),
        "practice_drop_mm": figure_mm(telltale.practice.drop_mm),
        "governing": telltale.governing or None,
        "first": _place_data(structure, telltale.first),
        "lowest": _place_data(structure, telltale.lowest)
        | {"headroom_mm": figure_mm(telltale.headroom_mm)},
        **_whom_data(telltale),
        "reason": telltale.reason or None,
        "second": telltale.second and _second_data(structure, telltale.second),
    }
    if telltale.hung:
        hung = telltale.hung
        change = figure_mm(telltale.set_at_mm - hung.hung_mm)
        data["hung"] = {"hung_mm": figure_mm(hung.hung_mm), "raise_mm": change, **_whom_data(hung)}
    return data


def _whom_data(whom: Whom) -> dict[str, Any]:
    return {
        "stops": whom.stops,
        "lets_through": whom.lets_through,
        "false_alarms": whom.false_alarms,
        "missed": whom.missed,
        "not_measured": whom.not_measured,
    }


def _second_data(structure: Structure, second: Second) -> dict[str, Any]:
    return {
        "first_set_at_mm": second.first_set_at_mm,
        "set_at_mm": second.set_at_mm,
        "before_mm": second.before_mm,
        "station": round(second.station, DIGITS),
        "width_mm": second.width_mm,
        "guards": _place_data(structure, second.guards),
        "spares": second.spares,
        **_whom_data(second),
    }


def _place_data(structure: Structure, where: Place) -> dict[str, Any]:
    place = where.located(structure.helix.brackets_per_turn)
    return {
        "station": whole(round(place["station"], DIGITS)),
        "turn": place["turn"],
        "angle_deg": round(place["angle_deg"], DIGITS),
        "obstacle": place["obstacle"],
    }


def telltales_rows(
    structure: Structure, found: list[Telltale], drawings: Sequence[str]
) -> list[Row]:
    """A row a tell-tale, for CSV; lists of cars in one cell."""
    rows = []
    for data in telltales_data(structure, found, drawings)["telltales"]:
        # The same columns in every row, whether there is a second one or not.
        data["second"] = data["second"] or {"station": None, "set_at_mm": None, "spares": []}
        kept = ("station", "first_set_at_mm", "set_at_mm", "spares")
        data["second"] = {name: data["second"].get(name) for name in kept}
        rows.append(_flat(data) | {"full_size": "; ".join(drawings)})
    return rows


def _flat(data: dict[str, Any], before: str = "") -> Row:
    """Nested names in one: lowest_station; lists in one cell."""
    row: Row = {}
    for name, value in data.items():
        if isinstance(value, dict):
            row |= _flat(value, f"{before}{name}_")
        else:
            row[f"{before}{name}"] = "; ".join(value) if isinstance(value, list) else value
    return row
