"""What `check --explain` worked through, as text, JSON and rows for CSV.

A step's value is written with as many digits as what is worked out from it needs.
"""

import math
from collections.abc import Sequence
from typing import Any

from clearance.judge.explain import Explanation
from clearance.judge.explain_sheet import Step
from clearance.judge.explain_train import TrainExplanation
from clearance.judge.findings import CheckResult
from clearance.judge.trains import TrainResult
from clearance.show.check import check_data
from clearance.show.data import Row
from clearance.show.paper import Line, Paper, Span, line, verdict
from clearance.show.plain import plain
from clearance.show.sentences import sentence
from clearance.show.train import train_data
from clearance.show.words import full_size_mark

__all__ = [
    "explain_data",
    "explain_rows",
    "explain_text",
    "explain_train_data",
    "explain_train_text",
]

_VALUE_DIGITS = 6  # in data: what a working starts from is written to as much


def explain_text(result: CheckResult, explanations: Sequence[Explanation]) -> Paper:
    """The finding of each car in a sentence, then its working, and the handbook's beside it."""
    paper: Paper = []
    for car, explanation in enumerate(explanations):
        finding = explanation.finding
        codes = result.track_codes(finding.track)
        called = plain(result.fleet.table.text["name"][car])
        paper += [
            *([line()] if car else []),
            line(
                Span(plain(finding.car), "bold"),
                f" {called}, " if called else ", ",
                f"{plain(finding.track)} track: ",
                verdict(codes[car]),
                full_size_mark(bool(result.fleet.full_size[car])),
            ),
            line(sentence(finding, result.structure), indent=2),
            *_working(explanation),
        ]
    return paper


def explain_train_text(train: TrainResult, found: TrainExplanation) -> Paper:
    """What governs a train in a sentence, then its working, and the handbook's beside it."""
    finding = found.explanation.finding
    called = [f"{plain(train.ids[place])} (car {place + 1})" for place in found.places]
    return [
        line(
            Span(f"Train {', '.join(map(plain, train.ids))}", "bold"),
            f", {plain(finding.track)} track: ",
            verdict(train.code(finding.track)),
        ),
        line(f"{' and '.join(called)}: {sentence(finding, train.result.structure)}", indent=2),
        *_working(found.explanation),
    ]


def _working(explanation: Explanation) -> Paper:
    paper: Paper = [line(), line("Worked through, with angles in degrees:")]
    for place, step in enumerate(explanation.steps, start=1):
        paper += _step_lines(f"{place}. ", step)
    if explanation.rough:
        paper += [line(), line("By the handbook, which no verdict rests on:")]
        paper += [words for step in explanation.rough for words in _step_lines("", step)]
    return paper


def _step_lines(begins: str, step: Step) -> list[Line]:
    """What is worked out, and its working below it; a bare figure stands behind its name."""
    equation = f" ({step.equation})" if step.equation else ""
    what = f"{begins}{plain(step.what)}{equation}"
    if math.isnan(step.value):
        return [line(f"{what}.", indent=2)]
    unit = f" {step.unit}" if step.unit in ("mm", "mm/rad", "deg") else ""
    if _is_figure(step):
        return [line(f"{what} = {step.shown}{unit}", indent=2)]
    return [line(what, indent=2), line(f"{step.working} = {step.shown}{unit}", indent=6)]


def _is_figure(step: Step) -> bool:
    """Whether a step is only a number, with nothing to work out."""
    return not set(step.working) & set(" (^")


def explain_data(result: CheckResult, explanations: Sequence[Explanation]) -> dict[str, Any]:
    """The JSON of `check` with the working of each car's governing finding beside its tracks."""
    data = check_data(result)
    for row, explanation in zip(data["results"], explanations, strict=True):
        row["explanation"] = _data(explanation)
    return data


def explain_train_data(train: TrainResult, found: TrainExplanation) -> dict[str, Any]:
    """The JSON of `check --train` with the working of what governs beside its tracks."""
    data = train_data(train)
    cars = [{"place": place + 1, "car": train.ids[place]} for place in found.places]
    data["train"]["explanation"] = {"cars": cars, **_data(found.explanation)}
    return data


def _data(explanation: Explanation) -> dict[str, Any]:
    return {
        "track": explanation.finding.track,
        "check": explanation.finding.check,
        "steps": list(map(_step_data, explanation.steps)),
        "handbook": list(map(_step_data, explanation.rough)),
    }


def _step_data(step: Step) -> dict[str, Any]:
    return {
        "what": step.what,
        "working": step.working,
        "value": None if math.isnan(step.value) else round(step.value, _VALUE_DIGITS) + 0.0,
        "unit": step.unit,
        "equation": step.equation,
    }


def explain_rows(explanations: Sequence[Explanation]) -> list[Row]:
    """A row a step, for CSV."""
    return [
        {
            "car": explanation.finding.car,
            "track": explanation.finding.track,
            "check": explanation.finding.check,
            "part": part,
            "step": place,
            **_step_data(step),
        }
        for explanation in explanations
        for part, steps in (("exact", explanation.steps), ("handbook", explanation.rough))
        for place, step in enumerate(steps, start=1)
    ]
