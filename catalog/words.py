"""How a complaint speaks of what somebody wrote: shortened, and with the nearest known word."""

from collections.abc import Iterable, Sequence
from difflib import get_close_matches

__all__ = ["did_you_mean", "quoted"]

MOST_LISTED = 40  # as many as a person runs an eye over
LONGEST_QUOTED = 60  # characters; a complaint stays one line


def quoted(value: object) -> str:
    """Quote a value, with its line ends spelled out and its middle left out where it is long."""
    text = repr(value)
    if len(text) <= LONGEST_QUOTED:
        return text
    half = LONGEST_QUOTED // 2
    return f"{text[:half]}…{text[-half:]}"


def did_you_mean(word: str, close_to: Iterable[str], known: Sequence[str] = ()) -> str:
    """Finish a sentence about an unknown word.

    Parameters
    ----------
    word
        What was written.
    close_to
        The words that it may be a slip of.
    known
        What to list where nothing is close; by default ``close_to``.

    Returns
    -------
    str
        ``did you mean 'height'?``, or ``known are id, name, …``.
    """
    words = list(close_to)
    nearest = get_close_matches(word, words, n=1)
    if nearest:
        return f"did you mean {quoted(nearest[0])}?"
    listed = list(known) or words
    if not listed:
        return "there are none yet"
    more = ", …" if len(listed) > MOST_LISTED else ""
    return f"known are {', '.join(listed[:MOST_LISTED])}{more}"
