"""A complaint leaves the program here: one line on standard error, whatever it quotes."""

import sys

from clearance.show.plain import plain

__all__ = ["complain"]


def complain(words: str) -> None:
    """Say what is wrong, on one line."""
    print(f"clearance: {plain(' '.join(words.split()))}", file=sys.stderr)
