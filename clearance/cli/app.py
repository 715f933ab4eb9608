"""All commands in one program, and its errors as one line each."""

import sys
from typing import Any

import typer

from catalog.errors import ClearanceError
from clearance.cli import car, helix
from clearance.cli.check import check
from clearance.cli.demo import demo
from clearance.cli.meets import meets
from clearance.cli.roster import roster
from clearance.cli.size import size
from clearance.cli.telltales import telltales
from clearance.show.plain import plain

__all__ = ["app", "run"]

app = typer.Typer(
    name="clearance",
    help="Tells a model-railway club which of its locomotives and cars fit through its helix.",
    epilog="Start with: clearance demo",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("demo")(demo)
app.add_typer(car.app, name="car")
app.add_typer(helix.app, name="helix")
app.command("check")(check)
app.command("meets")(meets)
app.command("roster")(roster)
app.command("telltales")(telltales)
app.command("size")(size)


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
    """
    # Catalogs hold any script; a terminal that cannot show a letter shows a question mark.
    for stream in (sys.stdout, sys.stderr):
        reconfigure: Any = getattr(stream, "reconfigure", None)
        if reconfigure:
            reconfigure(errors="replace")
    try:
        return int(app(args=arguments, standalone_mode=False, prog_name="clearance") or 0)
    except ClearanceError as error:
        _say(str(error))
        return error.exit_status
    except typer.Abort:
        raise KeyboardInterrupt from None
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
        _say(f"{words} (see {context.command_path if context else 'clearance'} --help)")
        return int(getattr(error, "exit_code", 2))


def _say(words: str) -> None:
    """A complaint, on one line whatever it quotes."""
    print(f"clearance: {plain(' '.join(words.split()))}", file=sys.stderr)
