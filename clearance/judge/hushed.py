"""Keep off the standard output what a library in C writes there: the output is the answer's alone.

HiGHS, as scipy 1.17 carries it, now and then writes a line of its own there, whatever it is told.
"""

import contextlib
import ctypes
import os
import sys
from collections.abc import Iterator

__all__ = ["hushed"]

_STDOUT = 1


@contextlib.contextmanager
def hushed() -> Iterator[None]:
    """Leave aside what is written to the standard output meanwhile, from beneath Python too."""
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
        _flush()
        kept = os.dup(_STDOUT)
    except (OSError, ValueError):  # there is none
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, _STDOUT)
        yield
    finally:
        _flush()
        os.dup2(kept, _STDOUT)
        os.close(kept)
        os.close(nowhere)


def _flush() -> None:
    """What C holds back of its output would else come out later."""
    with contextlib.suppress(OSError, AttributeError):
        ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None).fflush(None)
