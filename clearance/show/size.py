"""The design of a helix, as text, JSON and rows for CSV."""

from collections.abc import Iterable, Sequence
from typing import Any

from catalog.lengths import show_inches, show_length, show_mm
from clearance.judge.sizing import Alternative, Design
from clearance.show import cautions
from clearance.show.data import DIGITS, Row, figure_mm
from clearance.show.paper import Cell, Paper, Span, grid, line
from clearance.show.plain import plain
from clearance.show.words import full_size_note, listed

__all__ = ["size_data", "size_rows", "size_text"]


def size_text(design: Design, drawings: Sequence[str]) -> Paper:
    """The least helix, the car behind each dimension, and what other choices would give.

    ``drawings`` are the cars to be marked where they are named.
    """
    limits = design.limits
    heading = f"The least helix at a grade of at most {limits.max_grade_percent:g} %"
    dimensions: list[list[Cell]] = [
        [name, Span(value, "bold"), plain(by)] for name, value, by in _dimensions(design)
    ]
    grades = [other for other in design.alternatives if other.change == "grade"]
    here = Alternative(
        change="grade",
        max_grade_percent=limits.max_grade_percent,
        without=(),
        rise_per_turn_mm=design.rise_per_turn_mm,
        radius_mm=design.radius_mm,
        track_spacing_mm=design.track_spacing_mm,
        footprint_mm=design.footprint_mm,
    )
    trade = [
        [
            f"{other.max_grade_percent:g} %{'  (this one)' if other is here else ''}",
            show_mm(other.rise_per_turn_mm),
            _short(other.radius_mm),
            _short(other.footprint_mm),
        ]
        for other in sorted([*grades, here], key=lambda choice: choice.max_grade_percent)
    ]
    paper: Paper = [
        line(Span(heading, "bold")),
        line(),
        grid(["dimension", "least", "governed by"], dimensions),
        line(),
        line(Span("Grade against radius", "bold")),
        grid(["greatest grade", "rise a turn", "radius", "footprint"], trade),
    ]
    left_out = [other for other in design.alternatives if other.change != "grade"]
    if left_out:
        paper += [line(), line(Span("What leaving out the governing cars would save", "bold"))]
        paper += [line(_saving(other), indent=2) for other in left_out]
    named = _named(design)
    if drawn := [name for name in drawings if name in named]:
        paper += [line(), line(full_size_note(drawn))]
    return [*paper, line(), line(f"Caution: {cautions.BUILDING}")]


def _named(design: Design) -> set[str]:
    """The cars that a design speaks of."""
    cars = {name for other in design.alternatives for name in other.without}
    for governing in design.governing.values():
        cars |= {governing} if isinstance(governing, str) else set(governing or ())
    return cars


def _dimensions(design: Design) -> Iterable[tuple[str, str, str]]:
    governing = design.governing

    def by(dimension: str) -> str:
        cars = governing[dimension]
        if dimension == "radius" and cars == "grade":
            return "the grade"
        return " past ".join(cars) if isinstance(cars, list) else cars or "the gauge alone"

    yield "rise a turn", show_length(design.rise_per_turn_mm), by("rise_per_turn")
    yield "radius, inner track", show_length(design.radius_mm), by("radius")
    yield "diameter, inner track", show_length(2 * design.radius_mm), ""
    if design.track_spacing_mm is not None:
        yield "track spacing", show_length(design.track_spacing_mm), by("track_spacing")
    yield "free inside", show_length(design.inside_mm), by("inside")
    yield "free outside", show_length(design.outside_mm), by("outside")
    yield "grade, inner track", f"{design.grade_percent:.2f} %", ""
    climb = design.turns * design.rise_per_turn_mm
    yield f"climb in {design.turns:g} turns", show_length(climb), ""
    yield "footprint, diameter", show_length(design.footprint_mm), ""


def _short(mm: float) -> str:
    return f"{mm:.0f} mm ({show_inches(mm)})"


def _saving(other: Alternative) -> str:
    cars = listed(list(other.without))
    if other.change == "rise_per_turn":
        saved = f"{show_length(other.saves_mm or 0.0, 'down')} of rise a turn"
    else:
        saved = f"{show_length(other.saves_mm or 0.0, 'down')} of track spacing"
    return (
        f"Without {cars}: {saved}; radius {other.radius_mm:.0f} mm, "
        f"footprint {other.footprint_mm:.0f} mm."
    )


def size_data(design: Design, drawings: Sequence[str]) -> dict[str, Any]:
    """The JSON of `size`; ``drawings`` are the cars whose figures are not the model's."""
    return {
        "governing": {name: cars for name, cars in design.governing.items() if cars is not None},
        "rise_per_turn_mm": design.rise_per_turn_mm,
        "radius_mm": design.radius_mm,
        "track_spacing_mm": design.track_spacing_mm,
        "inside_mm": design.inside_mm,
        "outside_mm": design.outside_mm,
        "grade_percent": round(design.grade_percent, DIGITS),
        "max_grade_percent": design.limits.max_grade_percent,
        "turns": round(design.turns, DIGITS),
        "climb_mm": figure_mm(design.turns * design.rise_per_turn_mm),
        "footprint_mm": design.footprint_mm,
        "alternatives": [
            {
                "change": other.change,
                "max_grade_percent": other.max_grade_percent,
                "without": list(other.without),
                "rise_per_turn_mm": other.rise_per_turn_mm,
                "radius_mm": other.radius_mm,
                "track_spacing_mm": other.track_spacing_mm,
                "footprint_mm": other.footprint_mm,
                "saves_mm": other.saves_mm,
            }
            for other in design.alternatives
        ],
        "full_size": list(drawings),
    }


def size_rows(design: Design, drawings: Sequence[str]) -> list[Row]:
    """The design and its alternatives, a row each, for CSV."""
    data = size_data(design, drawings)
    columns = (
        "rise_per_turn_mm",
        "radius_mm",
        "track_spacing_mm",
        "footprint_mm",
    )
    first: Row = {"change": "design", "max_grade_percent": data["max_grade_percent"], "without": ""}
    first |= {name: data[name] for name in columns} | {"saves_mm": None, "full_size": ""}
    rows = [first]
    for other in data["alternatives"]:
        drawn = [name for name in other["without"] if name in drawings]
        rows.append(other | {"without": "; ".join(other["without"]), "full_size": "; ".join(drawn)})
    return rows
