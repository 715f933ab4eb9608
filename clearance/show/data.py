"""What the JSON and the CSV of all results share."""

from typing import Any

__all__ = ["DIGITS", "Row", "figure_mm", "figures_mm"]

DIGITS = 4
"""Of a millimetre: 0.1 micrometre is below what matters, and above what a float keeps."""

Row = dict[str, Any]
"""One row of a CSV, or one object of a JSON: names and values."""


def figure_mm(value: float | None) -> float | None:
    """A length as it is written, never minus zero. [mm]"""
    return None if value is None else round(value, DIGITS) + 0.0


def figures_mm(parts: dict[str, float]) -> dict[str, float]:
    """Named lengths as they are written. [mm]"""
    return {name: round(value, DIGITS) + 0.0 for name, value in parts.items()}
