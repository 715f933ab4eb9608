"""What the handbook's approximations give beside an exact working, and how far off they are.

docs/theory.md, G4, G5 and G8. c^2/8R, (L^2 - c^2)/8R with a^2/8R for trucks, arcs for chords, and
heights as on level track: in every handbook of model railways. None is used for a verdict.
"""

from collections.abc import Callable

from clearance.judge.explain_case import Case
from clearance.judge.explain_parts import inwards
from clearance.judge.explain_sheet import Sheet, number
from clearance.judge.partners import faces_mm

__all__ = ["rough_beside"]

_MOST_AXLES = 64


def rough_beside(sheet: Sheet, case: Case) -> Sheet:
    """The handbook's value, the exact one, and the first less the second: a sheet beside.

    Empty where the handbook has nothing for this finding.
    """
    beside = sheet.aside()
    rough = _ROUGH.get(case.finding.check)
    if rough is not None:
        rough(beside, case)
    return beside


def _beside(
    sheet: Sheet, formula: str, exact: str, what: str, named: dict[str, float], unit: str = "mm"
) -> None:
    sheet.work("rough", what, formula, unit, named=named)
    sheet.work("exact", "the same exactly", exact, unit)
    sheet.work("off", "how far the handbook is off", "rough - exact", unit)


def _overhead(sheet: Sheet, case: Case) -> None:
    """Height against headroom."""
    if "H" in sheet:
        height = case.figure_mm("height_mm")
        what = f"gap by height against headroom, for a car {number(height)} mm high"
        _beside(sheet, "H - height", "gap", what, {"height": height})


def _underside(sheet: Sheet, _: Case) -> None:
    """As on level track."""
    if "h" in sheet:
        _beside(sheet, "h", "gap", "gap as on level track", {})


def _rigid_wheelbase(sheet: Sheet, _: Case) -> None:
    """B^2/8R."""
    _beside(sheet, "B^2 / (8 * R)", "shift", "shift of a middle axle by B^2/8R", {})


def _swing(sheet: Sheet, case: Case) -> None:
    """The arc for the chord."""
    if case.fleet.plans or _leaves_the_curve(sheet):
        return
    wheelbase = case.figure_mm("wheelbase_mm")
    what = f"swing by B/2R, the arc for the chord, for a wheelbase of {number(wheelbase)} mm"
    named = {"wheelbase": wheelbase}
    _beside(sheet, "wheelbase / (2 * R) * 180 / pi", "swing", what, named, "deg")


def _inner_side(sheet: Sheet, case: Case) -> None:
    _side(sheet, case, inward=True)


def _outer_side(sheet: Sheet, case: Case) -> None:
    _side(sheet, case, inward=False)


def _side(sheet: Sheet, case: Case, *, inward: bool) -> None:
    """The throw of a car's middle or end, less what its own width takes."""
    if case.fleet.plans or "r" not in sheet or _leaves_the_curve(sheet):
        return
    truck = case.figure_mm("truck_wheelbase_mm")
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
    _beside(sheet, formula, exact, what, {"trucks": truck})


def _coupling(sheet: Sheet, case: Case) -> None:
    """The end throws of both faces; in angle the arc from middle to middle."""
    pair = case.coupled
    if pair is None or _leaves_the_curve(sheet):
        return
    named: dict[str, float] = {}
    throws, told = [], []
    for mark, (car, end) in enumerate((pair.lower, pair.upper)):
        one = case.alone(pair.fleet, car)
        if one.fleet.plans:
            return
        face = abs(float(faces_mm(one.fleet)[end, 0]))
        wheelbase, truck = one.figure_mm("wheelbase_mm"), one.figure_mm("truck_wheelbase_mm")
        named |= {f"f{mark}": face, f"c{mark}": wheelbase, f"a{mark}": truck}
        trucks = f" - a{mark}^2" if truck else ""
        throw = 4 * face**2 - wheelbase**2 - truck**2
        throws.append((-throw, f"((2 * f{mark})^2 - c{mark}^2{trucks}) / (8 * R)"))
        over = f", trucks {number(truck)}" if truck else ""
        told.append(f"{number(face)} (wheelbase {number(wheelbase)}{over})")
    faces = f"faces {' and '.join(told)} mm from the middle"
    if "sideways" in sheet:
        what = f"by the end throws of both, (L^2 - c^2)/8R with a^2/8R for trucks: {faces}"
        formula = " - ".join(formula for _, formula in sorted(throws))
        _beside(sheet, formula, "sideways", what, named)
    elif "limit" in sheet:
        what = f"angle by the arc from middle to middle: {faces}"
        _beside(sheet, "(f0 + f1) / R * 180 / pi", "turned", what, named, "deg")


def _leaves_the_curve(sheet: Sheet) -> bool:
    """Whether an axle stands on a straight lead: then the handbook says nothing."""
    # An axle that has a place in plan has an angle too, but on a lead.
    return any(f"u{axle}" in sheet and f"d{axle}" not in sheet for axle in range(1, _MOST_AXLES))


_ROUGH: dict[str, Callable[[Sheet, Case], None]] = {
    "overhead": _overhead,
    "inner_side": _inner_side,
    "outer_side": _outer_side,
    "rigid_wheelbase": _rigid_wheelbase,
    "truck_swing": _swing,
    "underside": _underside,
    "coupling": _coupling,
}
