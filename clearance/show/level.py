"""Which nuts to turn, as a work list, JSON and rows for CSV."""

import math
from collections.abc import Iterator, Sequence
from typing import Any

from catalog.helix import Adjusters, Helix
from catalog.lengths import show_length
from clearance.geometry.line import station_angle_deg, station_turn
from clearance.judge.findings import Finding
from clearance.judge.level_demands import LevelLimits, Obstruction
from clearance.judge.levelled import Levelling, Move, State
from clearance.judge.places import Place, whole
from clearance.judge.structure import Structure
from clearance.show import cautions
from clearance.show.data import DIGITS, Row, figure_mm
from clearance.show.paper import Paper, Span, grid, line
from clearance.show.plain import plain
from clearance.show.sentences import station_words
from clearance.show.words import CHECKS, listed

__all__ = ["level_data", "level_rows", "level_text", "limits_words", "moves_words"]

_MOST_NAMED = 12
_NOISE = 1e-6


def level_text(found: Levelling) -> Paper:
    """The work list in walking order, and what comes of it; or what stands in the way."""
    if found.cannot is not None:
        return [*_cannot(found), line(), *_cars(found)]
    paper: Paper = []
    if not found.moves:
        paper.append(line(Span("Nothing to turn", "bold"), ": all that is meant to pass does."))
    else:
        paper += [*_work_list(found), line(), *_outcome(found)]
    paper += [line(), *_cars(found)]
    for name, headroom_mm in found.remeasure:
        paper.append(
            line(
                f"Measure again: under the {plain(name)} there may be as little as "
                f"{show_length(headroom_mm, 'down')}; then change the helix file."
            )
        )
    for finding in found.worse:
        paper.append(line(_worse(finding)))
    if found.moves:
        paper += [line(), line(f"Caution: {cautions.TURNING}")]
    return paper


def _adjusters(helix: Helix) -> Adjusters:
    assert helix.adjusters is not None
    return helix.adjusters


def _work_list(found: Levelling) -> Paper:
    adjusters = _adjusters(found.helix)
    turns = sum(abs(move.nut_turns) for move in found.moves)
    count = len(found.moves)
    heading = (
        f"{count} bracket{'s' * (count != 1)} to turn, {turns:g} turn{'s' * (turns != 1)} in all"
    )
    rows = [
        [
            Span(str(move.station), "bold"),
            f"turn {_turn(found, move.station)}, {round(_angle(found, move.station), 1):g}°",
            "raise" if move.move_mm > 0 else "lower",
            f"{abs(move.move_mm):.2f} mm",
            Span(f"{abs(move.nut_turns):g}", "bold"),
        ]
        for move in found.moves
    ]
    wrench = f"with {plain(adjusters.wrench)}; " if adjusters.wrench else ""
    paper: Paper = [
        line(Span(heading, "bold"), ", up the helix:"),
        line(),
        grid(["bracket", "where", "", "by", "turns"], rows),
        line(),
        line(
            f"Turns of the nut, {wrench}one raises {adjusters.pitch_mm:g} mm; "
            f"in steps of {adjusters.step:g} turn{'s' * (adjusters.step > 1)}."
        ),
    ]
    if not found.fewest_proved:
        paper.append(
            line(
                "That no fewer brackets would do is not proved: this is the best of what was tried."
            )
        )
    elif not found.least_proved:
        paper.append(
            line(
                "No fewer brackets would do. That as many could not do it with less turning is not "
                "proved."
            )
        )
    return paper


def _turn(found: Levelling, station: float) -> int:
    return station_turn(station, found.helix.brackets_per_turn)


def _angle(found: Levelling, station: float) -> float:
    return station_angle_deg(station, found.helix.brackets_per_turn)


def _outcome(found: Levelling) -> Paper:
    assert found.after is not None
    before, after = found.before, found.after
    rows = [
        ["least to spare overhead", _spare(before), _spare(after)],
        [
            "greatest grade",
            f"{before.greatest_grade_percent:.2f} %",
            f"{after.greatest_grade_percent:.2f} %",
        ],
        [
            "greatest change of grade",
            f"{before.greatest_change_percent:.2f} %",
            f"{after.greatest_change_percent:.2f} %",
        ],
    ]
    paper: Paper = [grid(["", "before", "after"], rows)]
    structure = found.structure
    for words, state in (("Before", before), ("After", after)):
        if state.governing is not None:
            paper.append(line(f"{words}, {_governing(state.governing, structure)}."))
    return paper


def _spare(state: State) -> str:
    return "-" if state.least_spare_mm is None else _fine(state.least_spare_mm)


def _fine(mm: float) -> str:
    """A length as fine as a nut is turned: to 0.01 mm, downwards. [mm]"""
    return f"{math.floor(100 * mm + _NOISE) / 100:.2f} mm"


def _governing(finding: Finding, structure: Structure) -> str:
    place, where = finding.location, ""
    if place:
        where = f" under the {plain(place['obstacle'])} at {station_words(place, structure)}"
    return f"{plain(finding.car)} governs{where}, {plain(finding.track)} track"


def _cars(found: Levelling) -> Paper:
    count = len(found.meant)
    paper: Paper = [line(f"Meant to pass ({count}): {listed(found.meant, _MOST_NAMED) or 'none'}.")]
    if not found.others_kept and found.moves:
        paper.append(line("Others were not looked at: what passes now may not afterwards."))
    reasons: dict[tuple[str, str], list[str]] = {}
    for out in found.left_out:
        reasons.setdefault((out.reason, out.track), []).append(out.car)
    together: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    for (reason, track), cars in reasons.items():
        together.setdefault((reason, tuple(cars)), []).append(track)
    for (reason, some), tracks in together.items():
        where = f"{listed(tracks)} track{'s' * (len(tracks) > 1)}"
        cars_words = listed(list(some), _MOST_NAMED)
        paper.append(line(f"Left out on the {where}, {reason}: {cars_words}."))
    return paper


def _worse(finding: Finding) -> str:
    name = CHECKS.get(finding.check, finding.check).lower()
    return (
        f"Mind: {plain(finding.car)} is then {finding.verdict} by its {name}, "
        f"{plain(finding.track)} track, and is better now."
    )


def _cannot(found: Levelling) -> Paper:
    paper: Paper = [line(Span("Cannot be done by turning nuts.", "bold"))]
    if found.cannot:
        paper.append(line("These stand in the way, and none of them may be left out:"))
        paper += [line(words, indent=2) for words in map(_obstruction(found), found.cannot)]
    else:
        step = _adjusters(found.helix).step
        steps = f"{step:g} turn{'s' * (step > 1)}"
        paper.append(line(f"No way was found in steps of {steps}; finer ones might do."))
    if found.would_do is not None:
        paper.append(line(f"It can be done with {limits_words(found, found.would_do)}."))
    return paper


def limits_words(found: Levelling, limits: LevelLimits) -> str:
    """Limits other than those that hold, as they are typed."""
    options = ("--max-grade", "--max-change")
    triples = zip(options, limits, found.limits, strict=True)
    return " ".join(f"{option} {most:g}" for option, most, now in triples if most != now)


def _obstruction(found: Levelling) -> Any:
    structure = found.structure

    def words(one: Obstruction) -> str:
        located = Place(one.station, one.obstacle).located(found.helix.brackets_per_turn)
        at = station_words(located, structure)
        track = f"{plain(one.track)} track"
        travel = show_length(_adjusters(found.helix).travel_mm)
        grade, change = found.limits
        told = {
            "clearance": f"{listed(list(one.cars))} under the {plain(one.obstacle)} at {at}, "
            f"{track}",
            "grade": f"a grade of no more than {grade:.2f} % from station {one.station:g} to "
            f"{one.to_station or 0:g}, {track}",
            "change": f"a change of grade of no more than {change:.2f} % at {at}, {track}",
            "survey": f"between stations {one.station:g} and {one.to_station or 0:g} the {track} "
            f"would lie further off the drawing than any survey may say; if it is meant to, "
            f"draw it so, under [[profile]]",
            "travel": f"{at} is at the {'upper' if one.end == 'up' else 'lower'} end of its travel "
            f"({travel} from the design height)",
            "lead": f"{at} stays, for a straight lead begins there",
        }
        return f"{told[one.kind]}."

    return words


def moves_words(moves: Sequence[Move]) -> str:
    """Brackets and moves in a row: "15 up 6.25 mm, 27 down 1.25 mm"."""
    parts = [
        f"{move.station} {'up' if move.move_mm > 0 else 'down'} {abs(move.move_mm):.2f} mm"
        for move in moves
    ]
    return ", ".join(parts)


def level_data(found: Levelling) -> dict[str, Any]:
    """The JSON of `level`."""
    adjusters = _adjusters(found.helix)
    return {
        "helix": found.helix.name,
        "moves": [_move_data(found, move) for move in found.moves],
        "before": _state_data(found.before),
        "after": None if found.after is None else _state_data(found.after),
        "limits": _limits_data(found.limits),
        "fewest_proved": found.fewest_proved and found.least_proved,
        "fewest_brackets_proved": found.fewest_proved,
        "meant": found.meant,
        "left_out": [out._asdict() for out in found.left_out],
        "cannot": None if found.cannot is None else list(_cannot_data(found, found.cannot)),
        "would_do": None if found.would_do is None else _limits_data(found.would_do),
        "remeasure": [
            {"obstacle": name, "headroom_mm": figure_mm(headroom)}
            for name, headroom in found.remeasure
        ],
        "worse": [
            {"car": it.car, "track": it.track, "check": it.check, "verdict": it.verdict}
            for it in found.worse
        ],
        "adjusters": {
            "pitch_mm": adjusters.pitch_mm,
            "step": adjusters.step,
            "travel_mm": adjusters.travel_mm,
            "wrench": adjusters.wrench or None,
        },
    }


def _move_data(found: Levelling, move: Move) -> dict[str, Any]:
    return {
        "station": move.station,
        "turn": _turn(found, move.station),
        "angle_deg": round(_angle(found, move.station), DIGITS),
        "move_mm": figure_mm(move.move_mm),
        "nut_turns": round(move.nut_turns, DIGITS),
    }


def _limits_data(limits: LevelLimits) -> dict[str, float | None]:
    return {name: figure_mm(most) for name, most in limits._asdict().items()}


def _state_data(state: State) -> dict[str, Any]:
    governing = state.governing
    place = governing.location if governing else None
    return {
        "least_spare_mm": figure_mm(state.least_spare_mm),
        "greatest_grade_percent": figure_mm(state.greatest_grade_percent),
        "greatest_change_percent": figure_mm(state.greatest_change_percent),
        "governing": governing
        and {
            "car": governing.car,
            "track": governing.track,
            "facing": governing.facing,
            "station": whole(round(place["station"], DIGITS)) if place else None,
            "obstacle": place["obstacle"] if place else None,
        },
    }


def _cannot_data(found: Levelling, cannot: Sequence[Obstruction]) -> Iterator[dict[str, Any]]:
    for one in cannot:
        data: dict[str, Any] = {"kind": one.kind, "station": whole(round(one.station, DIGITS))}
        if one.to_station is not None:
            data["to_station"] = whole(round(one.to_station, DIGITS))
        if one.track:
            data["track"] = one.track
        if one.kind == "clearance":
            data |= {"cars": list(one.cars), "obstacle": one.obstacle}
        if one.kind == "travel":
            data["end"] = one.end
        if one.kind in ("grade", "change"):
            name = f"max_{one.kind}_percent"
            data[name] = _limits_data(found.limits)[name]
        yield data


def level_rows(found: Levelling) -> list[Row]:
    """A row a bracket to turn, for CSV."""
    return [_move_data(found, move) for move in found.moves]
