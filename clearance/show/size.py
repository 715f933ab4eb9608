"""The design of a helix, as text, JSON and rows for CSV."""

from collections.abc import Iterator, Sequence
from typing import Any

from catalog.lengths import show_inches, show_length, show_mm
from clearance.judge.size_choices import Alternative, Cost
from clearance.judge.sizing import Design
from clearance.judge.stack import Stack
from clearance.show import cautions
from clearance.show.data import DIGITS, Row, figure_mm, figures_mm
from clearance.show.paper import Cell, Paper, Span, grid, line
from clearance.show.plain import plain
from clearance.show.words import CHECKS, full_size_note, listed

__all__ = ["size_data", "size_rows", "size_text"]

_ABREAST = 4  # brackets in a line
_CURVE = 44  # letters that the widest radius takes

_DIMENSIONS = {
    "rise_per_turn": "rise a turn",
    "radius": "radius",
    "track_spacing": "track spacing",
    "inside": "free inside",
    "outside": "free outside",
}
_NOBODY = {"grade": "the grade", "climb": "the climb"}


def size_text(design: Design, drawings: Sequence[str], *, inches: bool = False) -> Paper:
    """The least helix, the car behind each dimension, and what other choices would give.

    ``drawings`` are the cars to be marked where they are named; heights of brackets are told
    in mm, or in ``inches``.
    """
    limits = design.limits
    heading = f"The least helix at a grade of at most {limits.max_grade_percent:g} %"
    dimensions: list[list[Cell]] = [
        [name, Span(value, "bold"), by] for name, value, by in _dimensions(design)
    ]
    paper: Paper = [
        line(Span(heading, "bold")),
        line(),
        grid(["dimension", "least", "governed by"], dimensions),
        line(),
        *_stack_text(design),
        line(),
        *_heights(design, inches=inches),
        line(),
        *_trade(design),
        line(),
        *_curve(design),
    ]
    if design.costs:
        paper += [line(), *_costs(design.costs)]
    left_out = [other for other in design.alternatives if len(other.without) > 1]
    if left_out:
        paper += [line(), line(Span("What leaving out more of them would save", "bold"))]
        paper += [line(_saving(other), indent=2) for other in left_out]
    if design.hopeless:
        paper += [line(), line(Span("On no helix, however wide, do all their checks pass", "bold"))]
        paper += [
            line(f"{plain(car)}: {CHECKS[check].lower()}", indent=2)
            for car, check in design.hopeless
        ]
    if design.left_behind:
        paper += [line(), line(_left_behind(design))]
    named = _named(design)
    if drawn := [name for name in drawings if name in named]:
        paper += [line(), line(full_size_note(drawn))]
    return [*paper, line(), line(f"Caution: {cautions.BUILDING}")]


def _left_behind(design: Design) -> str:
    parts = listed(list(design.left_behind))
    words = f"Sized without the {parts} of the helix file; the design has none."
    if "leads" in design.left_behind:
        words += (
            " A lead that climbs less than the helix takes headroom where the deck is still over "
            "it: write the leads into the design, and check it again."
        )
    return words


def _named(design: Design) -> set[str]:
    """The cars that a design speaks of."""
    cars = {
        name for other in design.alternatives for name in (*other.without, other.radius_governed_by)
    }
    cars |= {name for cost in design.costs for name in (cost.car, *cost.next_cars)}
    cars |= {car for car, _ in design.hopeless}
    for governing in design.governing.values():
        cars |= {governing} if isinstance(governing, str) else set(governing or ())
    return cars


def _dimensions(design: Design) -> Iterator[tuple[str, str, str]]:
    governing, helix = design.governing, design.helix

    def by(dimension: str) -> str:
        cars = governing[dimension]
        if isinstance(cars, list):
            return " past ".join(map(plain, cars))
        return _by((cars,) if cars else ()) or "the gauge alone"

    yield "rise a turn", show_length(design.rise_per_turn_mm), by("rise_per_turn")
    yield "radius, inner track", show_length(design.radius_mm), by("radius")
    yield "diameter, inner track", show_length(2 * design.radius_mm), ""
    if design.track_spacing_mm is not None:
        yield "track spacing", show_length(design.track_spacing_mm), by("track_spacing")
    yield "free inside", show_length(design.inside_mm), by("inside")
    yield "free outside", show_length(design.outside_mm), by("outside")
    yield "grade, inner track", f"{design.grade_percent:.2f} %", ""
    yield (
        f"climb in {design.turns:.4g} turn{'s' * (design.turns != 1)}",
        show_length(design.climb_mm),
        "",
    )
    yield "footprint, diameter", show_length(design.footprint_mm), ""
    count = f"{helix.last_station + 1}, {helix.brackets_per_turn} a turn"
    yield "brackets", count, ""
    yield "step, bracket to bracket", show_length(design.step_mm), ""
    for track, run in design.runs_mm.items():
        yield f"run, {plain(track)} track", show_length(run), ""


def _by(cars: Sequence[str]) -> str:
    """Who governs, in words."""
    return " past ".join(_NOBODY.get(car, plain(car)) for car in cars)


def _stack_text(design: Design) -> Paper:
    """What is between one railhead and the next, from the top."""
    stack = design.stack
    rows: list[list[Cell]] = [
        [
            part.name,
            "" if part.sold_mm is None else show_mm(part.sold_mm),
            Span(show_length(part.thickness_mm) if part.measured else "as sold, not measured"),
        ]
        for part in stack.parts
    ]
    rows.append(["railhead to underside", "", Span(show_length(stack.depth_mm), "bold")])
    rows.append(["headroom below it", "", Span(show_length(design.headroom_mm, "down"), "bold")])
    rows.append(["railhead to railhead", "", Span(show_length(design.rise_per_turn_mm), "bold")])
    paper: Paper = [
        line(Span("Stack-up, from the railhead down", "bold")),
        grid(["part", "sold as", "measures"], rows),
    ]
    if stack.taken_as_sold:
        paper.append(
            line(
                "What nobody measured is taken as sold. Measure it before anything is cut: "
                "what it is thicker comes off the headroom.",
                indent=2,
            )
        )
    if design.stack_choices:
        choices = [
            [
                f"{_boards(choice.stack)}{'  (this one)' if choice.stack == stack else ''}",
                show_mm(choice.stack.depth_mm),
                show_mm(choice.rise_per_turn_mm),
                show_mm(choice.radius_mm),
                show_mm(choice.footprint_mm),
            ]
            for choice in design.stack_choices
        ]
        paper += [
            line(),
            line(Span("What the stock allows", "bold")),
            grid(["deck and beam", "depth", "rise a turn", "radius", "footprint"], choices),
        ]
        if design.helix.stringers is None:
            paper.append(
                line(
                    "The one with the least rise is taken. Whether it is stiff enough is not "
                    "looked at: the helix file does not say what carries the deck ([stringers]).",
                    indent=2,
                )
            )
    return paper


def _boards(stack: Stack) -> str:
    """A stack-up by what can be had of it."""
    return " and ".join(
        f"{part.sold_mm:g} mm"
        if part.width_mm is None
        else f"{part.width_mm:g}x{part.sold_mm:g} mm"
        for part in stack.parts
        if part.sold_mm is not None
    )


def _heights(design: Design, *, inches: bool) -> Paper:
    """The railhead at every bracket, some abreast."""
    shown = show_inches if inches else show_mm
    cells = [
        [f"{bracket.station}", shown(bracket.railhead_mm)] for bracket in design.set_out.brackets
    ]
    lines = -(-len(cells) // _ABREAST)
    columns = [cells[first : first + lines] for first in range(0, len(cells), lines)]
    rows: list[list[Cell]] = [
        [cell for column in columns for cell in (column[row] if row < len(column) else ["", ""])]
        for row in range(lines)
    ]
    return [
        line(Span("Railhead at every bracket, above bracket 0", "bold")),
        grid(["bracket", "railhead"] * len(columns), rows),
    ]


def _grades(design: Design) -> list[tuple[Alternative, bool]]:
    """Every grade that was worked out, rising, and whether it is the design's."""
    here = Alternative(
        change="grade",
        max_grade_percent=design.limits.max_grade_percent,
        without=(),
        rise_per_turn_mm=design.rise_per_turn_mm,
        radius_mm=design.radius_mm,
        track_spacing_mm=design.track_spacing_mm,
        footprint_mm=design.footprint_mm,
        radius_governed_by=str(design.governing["radius"]),
    )
    others = [other for other in design.alternatives if other.change == "grade"]
    rising = sorted([*others, here], key=lambda choice: choice.max_grade_percent)
    return [(choice, choice is here) for choice in rising]


def _trade(design: Design) -> Paper:
    most = design.limits.max_diameter_mm
    rows = [
        [
            f"{choice.max_grade_percent:g} %",
            show_mm(choice.rise_per_turn_mm),
            _short(choice.radius_mm),
            _short(choice.footprint_mm),
            "this one" * is_here or "too wide" * (most is not None and choice.footprint_mm > most),
        ]
        for choice, is_here in _grades(design)
    ]
    headers = ["grade", "rise a turn", "radius", "footprint", ""]
    paper: Paper = [
        line(Span("Greatest grade against radius", "bold")),
        grid(headers, rows),
    ]
    by_cars = [choice for choice, _ in _grades(design) if choice.radius_governed_by != "grade"]
    if by_cars:
        words = [
            f"{choice.max_grade_percent:g} % {plain(choice.radius_governed_by)}"
            for choice in by_cars
        ]
        paper.append(
            line(f"Not the grade but a car governs the radius: at {', at '.join(words)}.", indent=2)
        )
    return paper


def _curve(design: Design) -> Paper:
    """The same as a curve: radius to the right, grade downwards."""
    widest = max(choice.radius_mm for choice, _ in _grades(design))
    rows: list[list[Cell]] = []
    for choice, is_here in _grades(design):
        length = max(1, round(_CURVE * choice.radius_mm / widest))
        point = ("o" if is_here else "*").rjust(length, ".")
        rows.append([f"{choice.max_grade_percent:g} %", point, show_mm(choice.radius_mm)])
    return [
        line(Span("The same as a curve", "bold")),
        grid(["grade", "radius of the inner track (o: this one)", ""], rows),
    ]


def _costs(costs: Sequence[Cost]) -> Paper:
    rows: list[list[Cell]] = [
        [
            _DIMENSIONS[cost.dimension],
            Span(plain(cost.car), "bold"),
            show_length(cost.costs_mm) if cost.costs_mm else "less than 1 mm",
            _by(cost.next_cars) or "the gauge alone",
        ]
        for cost in costs
    ]
    return [
        line(Span("What each governing car costs", "bold")),
        grid(["dimension", "car", "costs", "without it, governed by"], rows),
    ]


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
        "climb_mm": figure_mm(design.climb_mm),
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
                "radius_governed_by": other.radius_governed_by,
            }
            for other in design.alternatives
        ],
        "costs": [
            {
                "dimension": cost.dimension,
                "car": cost.car,
                "costs_mm": cost.costs_mm,
                "next": list(cost.next_cars),
            }
            for cost in design.costs
        ],
        "headroom_mm": figure_mm(design.headroom_mm),
        "stack": _stack_data(design.stack),
        "stack_choices": [
            _stack_data(choice.stack)
            | {
                "rise_per_turn_mm": choice.rise_per_turn_mm,
                "radius_mm": choice.radius_mm,
                "footprint_mm": choice.footprint_mm,
            }
            for choice in design.stack_choices
        ],
        "step_mm": figure_mm(design.step_mm),
        "run_mm": figures_mm(design.runs_mm),
        "brackets": [
            {
                "station": bracket.station,
                "turn": bracket.turn,
                "angle_deg": round(bracket.angle_deg, DIGITS),
                "railhead_mm": figure_mm(bracket.railhead_mm),
            }
            for bracket in design.set_out.brackets
        ],
        "left_behind": list(design.left_behind),
        "never_pass": [{"car": car, "check": check} for car, check in design.hopeless],
        "full_size": list(drawings),
    }


def _stack_data(stack: Stack) -> dict[str, Any]:
    return {
        "parts": [
            {
                "part": part.name,
                "thickness_mm": figure_mm(part.thickness_mm),
                "sold_mm": figure_mm(part.sold_mm),
                "measured": part.measured,
            }
            for part in stack.parts
        ],
        "depth_mm": figure_mm(stack.depth_mm),
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
    first |= {name: data[name] for name in columns} | {"saves_mm": None}
    first |= {"radius_governed_by": design.governing["radius"], "full_size": ""}
    rows = [first]
    for other in data["alternatives"]:
        drawn = [name for name in other["without"] if name in drawings]
        rows.append(other | {"without": "; ".join(other["without"]), "full_size": "; ".join(drawn)})
    return rows
