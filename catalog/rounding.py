"""Lengths to whole nanometres: rounded as one number is, for whole columns; and multiplied back."""

import numpy as np
from numpy.typing import NDArray

__all__ = ["Floats", "multiplied_back", "round_mm"]

Floats = NDArray[np.float64]

NEAR_HALF = 1e-3  # of 1e-6 mm: wide beside the error of multiplying 100 m by a million


def round_mm(values: Floats) -> Floats:
    """Round lengths to 1e-6 mm, to the same number that ``round(value, 6)`` gives for each.

    Parameters
    ----------
    values
        Any shape, nan stays nan. [mm]
    """
    nanometres = values * 1e6
    whole = np.rint(nanometres)
    rounded: Floats = whole / 1e6 + 0.0
    with np.errstate(invalid="ignore"):
        # Where the product may have crossed the half, the exact decimal rule decides.
        unsure = np.flatnonzero(np.abs(np.abs(nanometres - whole) - 0.5) < NEAR_HALF)
    for index in unsure.tolist():
        rounded.flat[index] = round(float(values.flat[index]), 6) + 0.0
    return rounded


def multiplied_back(values: Floats, divisor: Floats) -> Floats:
    """Give the full-size lengths that these models' lengths came from.

    Of all lengths that give the model's own again when divided and rounded to 1e-6 mm, the one
    with the fewest decimals: what a person wrote, not what rounding made of it.

    Parameters
    ----------
    values
        The models' lengths, to 1e-6 mm: (n,). [mm]
    divisor
        What full-size lengths are divided by: (n,).
    """
    exact = values * divisor
    found = round_mm(exact)
    for decimals in range(5, -1, -1):
        rounder = np.round(exact, decimals)
        found = np.where(round_mm(rounder / divisor) == values, rounder, found)
    return np.where(divisor == 1, values, found)
