"""What `check --train` found, as text, JSON and rows for CSV."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from catalog.helix import Track
from catalog.lengths import show_length
from clearance.judge.trains import Joint, Reach, TrainResult
from clearance.judge.verdict import NOT_MEASURED, PASSES, VERDICTS
from clearance.show.check import check_data, finding_data, remarks
from clearance.show.coupling import NOWHERE, mend_coupling, out_of_line
from clearance.show.data import DIGITS, Row, figure_mm
from clearance.show.paper import Paper, Span, line, verdict
from clearance.show.plain import plain
from clearance.show.sentences import telling
from clearance.show.words import counted, from_drawings, full_size_note, listed

__all__ = ["train_data", "train_rows", "train_text"]


def train_text(train: TrainResult) -> Paper:
    """The train by track: the worst of it, what else does not pass, and what to leave off."""
    count, length = len(train.order), train.length_mm
    over = "" if length is None else f", {show_length(length, 'up')} over the couplers"
    paper: Paper = [
        line(
            Span(f"Train {', '.join(map(plain, train.ids))}", "bold"),
            f": {counted(count, 'car')}{over}",
        )
    ]
    for track in train.result.helix.tracks:
        paper.append(
            line(f"{plain(track.name)} track: ", verdict(train.code(track.name)), indent=2)
        )
        paper += [line(words, indent=4) for words in _track_words(train, track)]
    if length is None:
        without = [
            name
            for name, car in zip(train.ids, train.order, strict=True)
            if np.isnan(train.result.fleet.figure("length_over_couplers_mm")[car])
        ]
        names = listed(list(dict.fromkeys(without)))
        paper.append(line(f"not measured: its length, for want of that of {names}", indent=2))
    for car in sorted(set(train.order)):
        paper += remarks(train.result, car, of=train.result.fleet.ids[car])
    if drawn := from_drawings(train.result.fleet):
        paper.append(line(full_size_note(drawn), indent=2))
    return paper


def _track_words(train: TrainResult, track: Track) -> Iterator[str]:
    worst = train.worst(track.name)
    codes = train.result.track_codes(track.name)
    if worst is not None:
        place, _ = worst
        findings = list(train.result.findings(train.order[place], track.name))
        first, *rest = telling(findings, train.result.structure)
        yield f"{_called(train, place)}: {first}"
        yield from rest
        others = {
            train.ids[other]: int(codes[car])
            for other, car in enumerate(train.order)
            if train.ids[other] != train.ids[place] and codes[car] != PASSES
        }
        for code in sorted(set(others.values()), reverse=True):
            names = [name for name, other in others.items() if other == code]
            yield f"Also {VERDICTS[code]}: {listed(names)}."
    yield from _coupling_words(train, train.joints(track.name))
    yield from _length_words(train.length_mm, train.reach(track))
    yield from _leave_off_words(train, train.leave_off(track.name))


def _called(train: TrainResult, place: int) -> str:
    """A car with its place, counted from the head of the train."""
    return f"{plain(train.ids[place])} (car {place + 1})"


def _coupling_words(train: TrainResult, joints: list[Joint]) -> Iterator[str]:
    unknown = []
    for joint in joints:
        ahead, behind = (_called(train, place) for place in (joint.place, joint.place + 1))
        if joint.coupling.code == NOT_MEASURED:
            unknown.append(f"{ahead} to {behind}")
        elif not joint.coupling.stands:
            yield f"Coupling of {ahead} and {behind}: coupled they {NOWHERE}"
        elif joint.coupling.code != PASSES:
            figures = joint.coupling.figures
            yield f"Coupling of {ahead} and {behind}: out of line by {out_of_line(figures)}."
            yield mend_coupling(figures)
    if unknown:
        yield f"Couplings not measured: {', '.join(unknown)}."
    elif joints and all(joint.coupling.code == PASSES for joint in joints):
        yield "Every coupling holds."


def _length_words(length_mm: float | None, reach: Reach) -> Iterator[str]:
    if length_mm is None:
        return
    turn = show_length(reach.turn_mm, "down")
    if length_mm >= reach.turn_mm:
        yield f"It is longer than a turn ({turn}): its head runs over its tail."
    else:
        yield f"It is shorter than a turn ({turn})."
    for at, lead_mm in (("foot", reach.foot_mm), ("head", reach.head_mm)):
        if lead_mm > 0:
            stands = "stands on" if length_mm <= lead_mm else "is longer than"
            yield f"It {stands} the lead at the {at} ({show_length(lead_mm, 'down')})."


def _leave_off_words(train: TrainResult, places: list[int]) -> Iterator[str]:
    if not places:
        return
    if len(places) == len(train.order):
        yield "No car of it passes here."
    else:
        cars = [f"{train.ids[place]} (car {place + 1})" for place in places]
        yield f"Leave off {listed(cars)}; the rest passes."


def train_data(train: TrainResult) -> dict[str, Any]:
    """The JSON of `check --train`: the train by track, then each of its cars once.

    ``car`` counts from the head of the train, beginning with 1.
    """
    return {
        "helix": train.result.helix.name,
        "train": {
            "cars": train.ids,
            "length_over_couplers_mm": figure_mm(train.length_mm),
            "tracks": [_track_data(train, track) for track in train.result.helix.tracks],
        },
        "results": check_data(train.result)["results"],
    }


def _track_data(train: TrainResult, track: Track) -> dict[str, Any]:
    worst, reach = train.worst(track.name), train.reach(track)
    return {
        "track": track.name,
        "verdict": VERDICTS[train.code(track.name)],
        "turn_mm": figure_mm(reach.turn_mm),
        "lead_at_foot_mm": figure_mm(reach.foot_mm),
        "lead_at_head_mm": figure_mm(reach.head_mm),
        "worst": worst and {**_place_data(train, worst[0]), "finding": finding_data(worst[1])},
        "couplings": [_joint_data(train, joint) for joint in train.joints(track.name)],
        "leave_off": [_place_data(train, place) for place in train.leave_off(track.name)],
    }


def _place_data(train: TrainResult, place: int) -> dict[str, Any]:
    return {"place": place + 1, "car": train.ids[place]}


def _joint_data(train: TrainResult, joint: Joint) -> dict[str, Any]:
    figures = joint.coupling.figures
    return {
        "ahead": _place_data(train, joint.place),
        "behind": _place_data(train, joint.place + 1),
        "verdict": VERDICTS[joint.coupling.code],
        **{name: round(value, DIGITS) + 0.0 for name, value in figures.items()},
    }


def train_rows(train: TrainResult) -> list[Row]:
    """A row a track and car, from the head of the train, for CSV."""
    rows = []
    dimensions = train.result.fleet.table.text["dimensions"]
    for track in train.result.helix.tracks:
        codes = train.result.track_codes(track.name)
        joints = train.joints(track.name)
        leave_off = train.leave_off(track.name)
        for place, car in enumerate(train.order):
            coupling = joints[place].coupling if place < len(joints) else None
            figures = coupling.figures if coupling else {}
            rows.append(
                {
                    "track": track.name,
                    "place": place + 1,
                    "car": train.ids[place],
                    "dimensions": dimensions[car],
                    "verdict": VERDICTS[codes[car]],
                    "leave_off": place in leave_off,
                    "coupling_behind": VERDICTS[coupling.code] if coupling else None,
                    **{
                        name: round(figures[name], DIGITS) + 0.0 if name in figures else None
                        for name in ("sideways_mm", "vertical_mm", "angle_deg")
                    },
                    "train_verdict": VERDICTS[train.code(track.name)],
                }
            )
    return rows
