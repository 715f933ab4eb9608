"""What the handbook's approximations give beside an exact working, and how far off they are.

docs/theory.md, G4, G5 and G8. c^2/8R, (L^2 - c^2)/8R with a^2/8R for trucks, and height against
headroom: in every handbook of model railways. None is used for a verdict.
"""

from clearance.judge.explain_case import Case
from clearance.judge.explain_parts import inwards
from clearance.judge.explain_sheet import Sheet, Step, number

__all__ = ["rough_overhead", "rough_rigid_wheelbase", "rough_side"]


def rough_overhead(sheet: Sheet, case: Case) -> tuple[Step, ...]:
    """Height against headroom."""
    if "H" not in sheet:
        return ()
    height = case.figure_mm("height_mm")
    return _beside(
        sheet,
        "H - height",
        "gap",
        f"gap by height against headroom, for a car {number(height)} mm high",
        {"height": height},
    )


def rough_rigid_wheelbase(sheet: Sheet) -> tuple[Step, ...]:
    """B^2/8R."""
    return _beside(sheet, "B^2 / (8 * R)", "shift", "shift of a middle axle by B^2/8R", {})


def rough_side(sheet: Sheet, case: Case, *, inward: bool) -> tuple[Step, ...]:
    """The throw of a car's middle or end, less what its own width takes."""
    if case.fleet.plans or "r" not in sheet or _leaves_the_curve(sheet):
        return ()
    truck = case.figure_mm("truck_wheelbase_mm")
    named = {"trucks": truck}
    over = f" and a^2/8R for trucks of {number(truck)} mm" if truck else ""
    trucks = " + trucks^2" if truck else ""
    # Between a throw of the middle and one of the ends lies any other part of the side.
    middle = inward and abs(sheet["x"]) < sheet["B"] / 20
    if middle:
        formula, what = f"(B^2{trucks}) / (8 * R)", f"centre throw by c^2/8R{over}"
    elif inward:
        formula = f"(B^2{trucks} - (2 * x)^2) / (8 * R)"
        what = f"throw inwards by (c^2 - (2x)^2)/8R{over}"
    else:
        formula = f"((2 * x)^2 - B^2{trucks.replace('+', '-')}) / (8 * R)"
        what = f"end throw by (L^2 - c^2)/8R, L = 2x{over}"
    exact = f"R - r - {inwards(sheet)}" if inward else f"r - R + {inwards(sheet)}"
    return _beside(sheet, formula, exact, what, named)


def _leaves_the_curve(sheet: Sheet) -> bool:
    """Whether an axle stands on a straight lead: then the handbook says nothing."""
    # An axle that has a place in plan has an angle too, but on a lead.
    return any(f"u{axle}" in sheet and f"d{axle}" not in sheet for axle in range(1, 5))


def _beside(
    sheet: Sheet, formula: str, exact: str, what: str, named: dict[str, float]
) -> tuple[Step, ...]:
    """The handbook's value, the exact one, and the first less the second."""
    beside = sheet.aside()
    beside.work("rough", what, formula, named=named)
    beside.work("exact", "the same exactly", exact)
    beside.work("off", "how far the handbook is off", "rough - exact")
    return beside.steps
