"""The allowance of a finding worked through: each part, and who says so.

G7, docs/theory.md.
"""

from catalog.helix import SURVEY_EVERY_MONTHS
from clearance.judge.allowance import MONTH_DAYS, survey_intervals
from clearance.judge.deck_sag import deck_sag
from clearance.judge.explain_case import Case
from clearance.judge.explain_sheet import Sheet

__all__ = ["running_clearance", "tolerances"]

_USUAL = "the usual one, common practice, no source"
_OWN = "set in the helix file"
# The running clearance of a check, by its name in the helix file.
_RUNNING_OF = {"overhead": "overhead_mm", "inner_side": "side_mm", "outer_side": "side_mm"}


def running_clearance(sheet: Sheet, case: Case) -> None:
    """The running clearance, and where it comes from."""
    finding = case.finding
    value = finding.allowance_parts.get("running clearance", 0.0)
    own = _RUNNING_OF.get(finding.check)
    if not value or own is None:
        what = "running clearance: none is asked for here"
    elif getattr(case.structure.helix.allowance, own) is not None:
        what = f"running clearance: {_OWN}"
    else:
        what = f"running clearance: {_USUAL}, by gauge"
    sheet.figure("running", what, value, equation="G7")


def tolerances(sheet: Sheet, case: Case) -> None:
    """How well things are known: each by itself, then the root of their squares."""
    symbols = []
    for name, value_mm in case.finding.tolerance_parts.items():
        if name == "settlement":
            _settlement(sheet, case, value_mm)
        elif name == "deck sag":
            _sag(sheet, case)
        else:
            sheet.figure(_symbol(name), _where_from(case, name), value_mm, equation="G7")
        symbols.append(_symbol(name))
    squares = " + ".join(f"{symbol}^2" for symbol in symbols)
    sheet.work(
        "tolerances", "tolerances: the root of their squares", f"sqrt({squares})", equation="G7"
    )


def _symbol(name: str) -> str:
    return "t_" + name.replace(" ", "_")


def _where_from(case: Case, name: str) -> str:
    if name == "headroom reading":
        own = case.structure.helix.allowance.headroom_reading_mm
        return f"how well headroom is read: {_USUAL if own is None else _OWN}"
    return f"how well the {name} was measured"


def _settlement(sheet: Sheet, case: Case, value_mm: float) -> None:
    """What the structure moves until the next survey; more where that is overdue."""
    helix, survey = case.structure.helix, case.structure.survey
    own = helix.allowance.settlement_mm
    what = f"settlement until the next survey: {_USUAL if own is None else _OWN}"
    intervals = survey_intervals(helix, survey)
    if intervals == 1.0 or survey is None:
        sheet.figure("t_settlement", what, value_mm, equation="G7")
        return
    every = helix.allowance.survey_every_months or SURVEY_EVERY_MONTHS
    sheet.figure("settlement", what, value_mm / intervals, equation="G7")
    sheet.figure("age", "age of the survey, in months", survey.age_days / MONTH_DAYS, "", "G7")
    sheet.figure("every", "a survey was due after so many months", every, "", "G7")
    sheet.work(
        "t_settlement", "settlement, the survey overdue", "settlement * age / every", equation="G7"
    )


def _sag(sheet: Sheet, case: Case) -> None:
    """The textbook beam on two supports."""
    sag = deck_sag(case.structure.helix)
    assert sag is not None
    sheet.figure("load", "weight of the heaviest train, N on each mm", sag.load_n_mm, "", "G7")
    sheet.figure("span", "from bracket to bracket", sag.span_mm, equation="G7")
    sheet.figure("modulus", f"elastic modulus, N/mm2 ({sag.source})", sag.modulus_mpa, "", "G7")
    sheet.figure("second", "second moment of the boards, mm4", sag.second_moment_mm4, "", "G7")
    sheet.work(
        "t_deck_sag",
        "sag of the deck above under that train",
        "5 * load * span^4 / (384 * modulus * second)",
        equation="G7",
    )
