"""How stiff timber and pipe are: elastic moduli of what carries a deck, and who says so."""

from typing import NamedTuple

__all__ = ["MATERIALS", "Material"]

PSI_PA = 6894.757  # one pound-force a square inch, in pascals


class Material(NamedTuple):
    """A material, and who says how stiff it is."""

    modulus_gpa: float
    source: str


def _from_psi(million_psi: float, source: str) -> Material:
    return Material(round(million_psi * PSI_PA / 1000, 2), source)


_HANDBOOK = "Wood Handbook (FPL-GTR-190), table 5-3b, at 12 % moisture; from memory"

MATERIALS: dict[str, Material] = {
    "redwood": _from_psi(1.22, "a timber merchant's sheet, California redwood: 1,220,000 psi"),
    "western redcedar": _from_psi(1.11, _HANDBOOK),
    "coast Douglas-fir": _from_psi(1.95, _HANDBOOK),
    "eastern white pine": _from_psi(1.24, _HANDBOOK),
    "Sitka spruce": _from_psi(1.57, _HANDBOOK),
    "PVC": _from_psi(0.36, "a pipe maker's sheet: flexural modulus 360,000 psi"),
}
"""By the name that a helix file uses. Wood that lies wet, or was loaded for years, is softer."""
