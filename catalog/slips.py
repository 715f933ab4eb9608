"""Which slip of units explains a figure: a railhead in centimetres, a headroom in inches."""

from collections.abc import Sequence

__all__ = ["slip_words"]

# By what a figure is out where it was taken in the wrong unit.
_SLIPS = (
    (25.4, "millimetres read as inches"),
    (1 / 25.4, "inches read as millimetres"),
    (10.0, "millimetres read as centimetres"),
    (1 / 10, "centimetres read as millimetres"),
    (1000.0, "millimetres read as metres"),
    (1 / 1000, "metres read as millimetres"),
)
NEAR_FACTOR = 1.25  # near enough not to be taken for another


def slip_words(figures: Sequence[tuple[float, float]], near: float = NEAR_FACTOR) -> str:
    """Name the slip of units that explains a figure beside the one that was expected, if any.

    Parameters
    ----------
    figures
        Pairs of what was read and what was expected, of which the first that is explained counts.
    near
        How closely a slip must explain a figure, as a factor.

    Returns
    -------
    str
        Like " (it looks like inches read as millimetres)"; "": none explains any.
    """
    for value, expected in figures:
        for factor, words in _SLIPS:
            if expected and factor / near <= value / expected <= factor * near:
                return f" (it looks like {words})"
    return ""
