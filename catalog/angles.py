"""Which angle does a text mean, and how is an angle written? Always in degrees."""

import re

from catalog.errors import DataError
from catalog.words import quoted

__all__ = ["parse_angle", "write_angle"]

_ANGLE = re.compile(r"(\d+\.?\d*|\.\d+)\s*(°|deg\.?|degrees?)?", re.IGNORECASE | re.ASCII)
LONGEST_TEXT = 40  # characters


def parse_angle(text: str) -> float:
    """Say which angle a text means: 12.5 for ``12.5``, ``12.5 deg`` and ``12.5°``.

    Returns
    -------
    float
        To 1e-6 degrees. [degrees]

    Raises
    ------
    DataError
        The text is no angle: one sentence with the text.
    """
    written = _ANGLE.fullmatch(text.strip()) if len(text) <= LONGEST_TEXT else None
    if written is None:
        raise DataError(f"{quoted(text)} is not an angle; write it in degrees, like 12.5 or 12 deg")
    return round(float(written[1]), 6)


def write_angle(degrees: float) -> str:
    """Write an angle, for people and for files, as `parse_angle` reads it back: ``12.5 deg``."""
    decimal = f"{degrees:.6f}".rstrip("0").rstrip(".")
    return f"{decimal} deg"
