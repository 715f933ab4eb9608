"""Text from a catalog or a file is data: here it becomes harmless for a terminal."""

import unicodedata

__all__ = ["plain"]

# Control, format (direction, zero width), half characters, and what breaks a line or a paragraph.
_ACTIVE = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def plain(text: str) -> str:
    """A text without control, direction or line-breaking characters, each shown as replaced."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        "\N{REPLACEMENT CHARACTER}" if unicodedata.category(letter) in _ACTIVE else letter
        for letter in text
    )
