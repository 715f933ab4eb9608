"""Why a car is judged as it is: its governing finding, worked through figure by figure.

G1 to G8, docs/theory.md. On a regular helix a car on two axles or trucks has a closed form;
anything else is followed to the position that governs, and worked through from there. What is
worked out here is held against what the check found: where the two differ, only the result is
shown.
"""

import math
from dataclasses import dataclass

from catalog.errors import DataError
from catalog.words import quoted
from clearance.judge.allowance import margins_of, play_lever
from clearance.judge.explain_allowance import running_clearance, tolerances
from clearance.judge.explain_built import overhead_built, side_built
from clearance.judge.explain_case import Case, case_of
from clearance.judge.explain_coupling import coupling
from clearance.judge.explain_regular import overhead, side
from clearance.judge.explain_rough import rough_beside
from clearance.judge.explain_running import gauge, radius, recovery, rigid_wheelbase
from clearance.judge.explain_sheet import Sheet, Step
from clearance.judge.explain_swing import swing
from clearance.judge.explain_underside import underside
from clearance.judge.findings import CheckResult, Finding
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, PASSES, judge_gaps

__all__ = ["Explanation", "explain", "worked_through"]

_CLOSE_MM, _CLOSE_BUILT_MM = 1e-3, 1e-2
"""Between a gap worked through and the gap found: a closed form, or a position that the engine
gives; and a position found again."""

_RUNNING = {
    "radius": radius,
    "gauge": gauge,
    "rigid_wheelbase": rigid_wheelbase,
    "truck_swing": swing,
    "underside": underside,
    "coupling": coupling,
    "recovery": recovery,
}
_EQUATIONS = {"overhead": "G4", "inner_side": "G5", "outer_side": "G5"}

_RULES = {
    PASSES: "the gap is no less than the allowance: passes",
    MARGINAL: "the gap is more than 0, but less than the allowance: marginal",
    DOES_NOT_FIT: "the gap is no more than 0: does not fit",
}


@dataclass(frozen=True)
class Explanation:
    """A finding worked through.

    Attributes
    ----------
    finding
        What is explained.
    steps
        From the measured figures to the verdict. Of a finding that is not measured one step, whose
        ``what`` says what is missing; its value is nan.
    rough
        What the handbook's approximation gives beside it, and how far off that is; never used for a
        verdict. Empty where there is none.
    """

    finding: Finding
    steps: tuple[Step, ...]
    rough: tuple[Step, ...]


def explain(
    result: CheckResult, car: int, track: str | None = None, check: str | None = None
) -> Explanation:
    """Work through the governing finding of a car, or that of one check.

    Parameters
    ----------
    result
        What a check found.
    car
        The car's number in the result's fleet.
    track
        On which track; None: on that where the car's worst finding is.
    check
        Which check, as findings name it; None: whichever governs.

    Raises
    ------
    DataError
        The helix has no such track, or the car no such finding.
    """
    tracks = [one.name for one in result.helix.tracks]
    if track is not None and track not in tracks:
        raise DataError(
            f"{result.helix.name} has no track {quoted(track)}; its tracks are {', '.join(tracks)}"
        )
    found = [it for one in tracks if track in (None, one) for it in result.findings(car, one)]
    asked = [finding for finding in found if check in (None, finding.check)]
    if not asked:
        has = ", ".join(dict.fromkeys(finding.check for finding in found))
        raise DataError(
            f"{quoted(result.fleet.ids[car])} has no finding {quoted(check or '')} here; it has "
            f"these: {has}"
        )
    finding = min(asked, key=lambda one: one.urgency)
    return worked_through(case_of(result, car, finding))


def worked_through(case: Case) -> Explanation:
    """Work through the finding of a case.

    Returns
    -------
    Explanation
        The last step that is the gap agrees with the finding's to 0.001 mm; overhead and at the
        sides of a helix as built, or of an articulated car, to 0.01 mm.
    """
    finding = case.finding
    if finding.gap_mm is None:
        why = f"not measured: {finding.reason}"
        if finding.code == DOES_NOT_FIT:
            who = "the two cannot stand there coupled" if case.coupled else "it cannot stand there"
            why = f"supports do not reach round the curve: {who}, does not fit"
        missing = Step(why, "", math.nan, "", "", "G2")
        return Explanation(finding, (missing,), ())
    sheet = _worked(case)
    if sheet is None:
        sheet = _result_alone(finding)
    rough = rough_beside(sheet, case)
    _verdict(sheet, case)
    return Explanation(finding, sheet.steps, rough.steps)


def _worked(case: Case) -> Sheet | None:
    """The geometry, up to the gap and the room it leaves; None: not what the check found."""
    sheet, finding = Sheet(), case.finding
    found = True
    if finding.check in _RUNNING:
        found = _RUNNING[finding.check](sheet, case)
    elif finding.check == "overhead" and case.is_closed:
        overhead(sheet, case)
    elif finding.check == "overhead":
        found = overhead_built(sheet, case)
    elif case.is_closed:
        side(sheet, case, inward=finding.check == "inner_side")
    else:
        found = side_built(sheet, case, inward=finding.check == "inner_side")
    close_mm = _CLOSE_MM if case.is_closed or finding.check in _RUNNING else _CLOSE_BUILT_MM
    agrees = found and _near(sheet["gap"], finding.gap_mm, close_mm)
    return sheet if agrees else None


def _near(one_mm: float, other_mm: float | None, close_mm: float) -> bool:
    return other_mm is not None and abs(one_mm - other_mm) <= close_mm


def _result_alone(finding: Finding) -> Sheet:
    """The gap as it was found: a working that does not give it would mislead."""
    sheet = Sheet()
    assert finding.gap_mm is not None
    sheet.figure(
        "gap",
        "gap, as the check found it; only the result is shown, not how it comes about",
        finding.gap_mm,
        equation=_EQUATIONS.get(finding.check, "G8"),
    )
    return sheet


def _verdict(sheet: Sheet, case: Case) -> None:
    """From the gap to the verdict (G7)."""
    finding = case.finding
    available = finding.available_mm
    if available is not None and "needs" not in sheet:
        symbol = next((one for one in ("room", "H", "side", "h") if one in sheet), "")
        if not symbol or not _near(sheet[symbol], available, _CLOSE_BUILT_MM):
            symbol = "available"
            sheet.figure(symbol, "available", available)
        equation = _EQUATIONS.get(finding.check, "G8")
        sheet.work("needs", "required: available less the gap", f"{symbol} - gap", "mm", equation)
    parts = _allowance(sheet, case)
    sheet.work("allowance", "allowance: all of it", " + ".join(parts), equation="G7")
    sheet.work("spare", f"spare: {_rule(finding)}", "gap - allowance", equation="G7")


def _rule(finding: Finding) -> str:
    """The rule that gave the verdict, in words."""
    assert finding.gap_mm is not None
    simple = int(judge_gaps(finding.gap_mm, finding.allowance_mm or 0.0))
    rule = _RULES[simple]
    if finding.reason:
        return f"{rule}; but {finding.reason}: {finding.verdict}"
    if simple != finding.code:
        return f"{rule}; but something else of this check decides: {finding.verdict}"
    return rule


def _allowance(sheet: Sheet, case: Case) -> list[str]:
    """What the allowance is made of: the symbols of its parts (G7)."""
    finding = case.finding
    parts = finding.allowance_parts
    symbols = ["running"]
    running_clearance(sheet, case)
    if "lateral play" in parts:
        symbols.append("play")
        _play(sheet, case, parts["lateral play"])
    if "tolerances" in parts:
        symbols.append("tolerances")
        tolerances(sheet, case)
    return symbols


def _play(sheet: Sheet, case: Case, play_mm: float) -> None:
    """Lateral play, carried to the part of the car that governs."""
    q = margins_of(case.structure.helix).play_mm
    if not q:
        sheet.figure("play", "lateral play: none was measured, none is counted", 0.0, equation="G7")
        return
    sheet.figure("q", "play of a wheelset in the track", q, equation="G7")
    lever = play_mm / q
    known = "x" in sheet and not case.fleet.plans
    if known and _near(float(play_lever(sheet["x"], sheet["B"])), lever, _CLOSE_MM):
        if abs(sheet["x"]) <= sheet["B"] / 2:
            sheet.work("play", "lateral play, between the supports", "q", equation="G7")
            return
        ahead = "x" if sheet["x"] > 0 else "-x"
        sheet.work("over", "how far beyond a support the point is", f"{ahead} - B / 2", "mm", "G7")
        sheet.work(
            "play", "lateral play, carried out there", "q * (2 * over + B) / B", equation="G7"
        )
        return
    sheet.figure("lever", "how far the point moves for each mm that an axle does", lever, "", "G7")
    sheet.work("play", "lateral play, carried there", "q * lever", equation="G7")
