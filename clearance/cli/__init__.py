"""The command line: what was typed goes to the judge, what it finds goes to show."""

import atexit
import gc
import os
import sys

__all__ = ["main"]

_GARBAGE = 200_000  # new objects, until it is worth looking which of them are garbage


def main() -> None:
    """Run one command, and leave with its exit status.

    Whatever goes wrong ends in one line on standard error: 1 bad data, 2 bad usage, 130 stopped.
    ``CLEARANCE_DEBUG=1`` shows where an unexpected error comes from instead.
    """
    # What is loaded is needed to the end. To look through it for garbage, again and again while it
    # grows and once more on the way out, would be a good part of the time of a short command.
    gc.set_threshold(_GARBAGE)
    atexit.register(gc.freeze)
    for stream in ("stdout", "stderr"):
        if getattr(sys, stream) is None:  # closed by the shell: nobody wants to read it
            setattr(sys, stream, os.fdopen(os.open(os.devnull, os.O_WRONLY), "w"))
    try:
        from clearance.cli.app import run

        status = run()
        sys.stdout.flush()
    except KeyboardInterrupt:
        _complain("stopped; nothing was left half-done")
        status = 130
    except BrokenPipeError:
        # Whoever read us has read enough. What is still buffered has nowhere to go.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        status = 1
    except OSError as error:
        where = error.filename or "the output cannot be written"
        _complain(f"{where}: {error.strerror or error}")
        status = 1
    except Exception as error:
        if os.environ.get("CLEARANCE_DEBUG"):
            raise
        _complain(
            f"this should not have happened ({type(error).__name__}: {error}); "
            f"please report it. CLEARANCE_DEBUG=1 shows where"
        )
        status = 1
    sys.exit(status)


def _complain(words: str) -> None:
    # Not at the top: even what a complaint needs may be stopped or fail while it is loaded.
    from clearance.cli.complaint import complain

    complain(words)
