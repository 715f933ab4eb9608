"""All commands in one program, and its errors as one line each."""

import sys
from collections.abc import Iterable
from importlib import import_module
from typing import Any

import typer

from catalog.errors import ClearanceError
from clearance.cli.complaint import complain

__all__ = ["program", "run"]

_STOPPED = 130
"""The exit status after Ctrl-C, as shells have it."""

_COMMANDS = ("demo", "check", "meets", "roster", "telltales", "size", "level")
_GROUPS = ("car", "helix")


def program(names: Iterable[str] = (*_COMMANDS, *_GROUPS)) -> typer.Typer:
    """The program with these commands; each is the thing of that name in the module of that name.

    A command that is run needs none of the others, and they take a while to read.
    """
    app = typer.Typer(
        name="clearance",
        epilog="Start with: clearance demo",
        no_args_is_help=True,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(_about)
    for name in names:
        module = import_module(f"clearance.cli.{name}")
        if name in _GROUPS:
            app.add_typer(module.app, name=name)
        else:
            app.command(name)(getattr(module, name))
    return app


def _about() -> None:
    """Tells a model-railway club which of its locomotives and cars fit through its helix."""


def run(arguments: list[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments
        What was typed after the program's name; None: what the shell gave.

    Returns
    -------
    int
        The exit status.

    Raises
    ------
    KeyboardInterrupt
        The person stopped it.
    """
    # Catalogs hold any script; a terminal that cannot show a letter shows a question mark.
    for stream in (sys.stdout, sys.stderr):
        reconfigure: Any = getattr(stream, "reconfigure", None)
        if reconfigure:
            reconfigure(errors="replace")
    typed = sys.argv[1:] if arguments is None else arguments
    known = [name for name in typed[:1] if name in _COMMANDS or name in _GROUPS]
    app = program(known) if known else program()
    try:
        status = int(app(args=typed, standalone_mode=False, prog_name="clearance") or 0)
    except ClearanceError as error:
        complain(str(error))
        return error.exit_status
    except typer.Abort:
        status = _STOPPED
    except Exception as error:
        # What the option parser complains about, whichever parser typer brings along.
        wording: Any = getattr(error, "format_message", None)
        if wording is None:
            raise
        if type(error).__name__ == "NoArgsIsHelpError":
            return 2  # the help itself has been printed
        # One parser puts its own error's kind before ours, and ends some sentences with a point.
        words = str(wording()).replace("Value error, ", "").strip().rstrip(".")
        context = getattr(error, "ctx", None)
        complain(f"{words} (see {context.command_path if context else 'clearance'} --help)")
        return int(getattr(error, "exit_code", 2))
    if status == _STOPPED:  # what the parser has made of Ctrl-C
        raise KeyboardInterrupt
    return status
