"""The four words, and which of them is the worst.

G7, docs/theory.md. Arrays keep verdicts as small codes; a greater code is a worse verdict.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "DOES_NOT_FIT",
    "MARGINAL",
    "NOT_MEASURED",
    "PASSES",
    "VERDICTS",
    "Codes",
    "exit_status",
    "judge_gaps",
]

Codes = NDArray[np.int8]

PASSES: Final = 0
NOT_MEASURED: Final = 1
MARGINAL: Final = 2
DOES_NOT_FIT: Final = 3

VERDICTS: Final = ("passes", "not measured", "marginal", "does not fit")
"""The word for each code."""


def judge_gaps(gap_mm: ArrayLike, allowance_mm: ArrayLike) -> Codes:
    """Compare gaps with allowances: passes, marginal, does not fit; nan: not measured.

    Parameters
    ----------
    gap_mm, allowance_mm
        Broadcast against each other. [mm]

    Returns
    -------
    ndarray of int8
        Codes, see `VERDICTS`.
    """
    gap, allowance = np.asarray(gap_mm, float), np.asarray(allowance_mm, float)
    with np.errstate(invalid="ignore"):
        codes = np.where(gap >= allowance, PASSES, np.where(gap > 0, MARGINAL, DOES_NOT_FIT))
    return np.where(np.isnan(gap) | np.isnan(allowance), NOT_MEASURED, codes).astype(np.int8)


def exit_status(worst: int) -> int:
    """What the shell is told: 0 all pass, 3 marginal or not measured, 4 something does not fit."""
    return {PASSES: 0, NOT_MEASURED: 3, MARGINAL: 3, DOES_NOT_FIT: 4}[worst]
