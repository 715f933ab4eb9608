"""`clearance demo`: an invented club, worked through end to end."""

import os
import shlex
import shutil
import sys
from pathlib import Path
from typing import Annotated

import typer

from catalog.errors import UsageError

__all__ = ["demo"]

_FILES = (
    "quarry-bank.toml",
    "cars.csv",
    "blocks.csv",
    "frames.csv",
    "survey.csv",
    "apple-cellar.toml",
    "cellar-cars.csv",
    "cellar-blocks.csv",
)
_GARDEN = "Quarry Bank helix"
# The autumn running day: half a year after the survey, whenever the demonstration is looked at.
_GARDEN_THEN = ("--helix", _GARDEN, "--as-of", "2026-10-03")
_CELLAR = "Apple Cellar helix"


def demo(
    folder: Annotated[
        Path, typer.Argument(help="Where the club's files and catalog go.", metavar="FOLDER")
    ] = Path("clearance-demo"),
) -> None:
    """An invented club, worked through end to end.

    Writes the files that the club would have written, imports them into a catalog of its own, and
    shows what a club asks for. Files that are there already stay as they are.

    Example: clearance demo
    """
    written = _write_files(folder)
    catalog = folder / "catalog.sqlite"
    # The commands below are the ordinary ones; only the catalog is the club's own.
    os.environ["CLEARANCE_CATALOG"] = str(catalog)
    _say(
        f"The club's files are in {folder}{os.sep}"
        + ("" if written else " (they were there already, and stay as they are)")
    )
    _run("helix", "add", str(folder / "quarry-bank.toml"))
    _run("helix", "add", str(folder / "apple-cellar.toml"))
    parts = ["--blocks", str(folder / "blocks.csv"), "--frames", str(folder / "frames.csv")]
    _run("car", "import", str(folder / "cars.csv"), *parts)
    parts = ["--blocks", str(folder / "cellar-blocks.csv")]
    _run("car", "import", str(folder / "cellar-cars.csv"), *parts)
    _run("helix", "survey", _GARDEN, str(folder / "survey.csv"))

    _say("At the bench: does this engine go up, and if not, where does it jam?")
    _run("check", "G 7", "27", "8", "R 7", "X 20", *_GARDEN_THEN)
    _say("The tallest that always went up: does it still, now that the beams are measured?")
    _run("check", "C 5", *_GARDEN_THEN)
    _run("check", "C 5", "--helix", _GARDEN, "--as-of", "2026-04-11")
    _say("For the engine driver: the train as it is made up.")
    _run("check", "--train", "G 7, 104, 104, C 5", *_GARDEN_THEN)
    _say("At the door: a guest's car that is in no catalog.")
    _run(
        *("check", "--height", "8 1/8 in", "--width", "4 1/4 in", "--length", "22 in"),
        *("--wheelbase", "15 in", "--truck-wheelbase", "2 in", *_GARDEN_THEN),
    )
    _say("For the board: the roster.")
    _run("roster", *_GARDEN_THEN)
    _say("For the dispatcher: which trains may not meet.")
    _run("meets", *_GARDEN_THEN)
    _say("Before the first beam: the tell-tales.")
    _run("telltales", *_GARDEN_THEN)
    _say("For the next helix: how big, for the biggest car owned?")
    _run("size", "--helix", _GARDEN, "--max-grade", "3.5")
    _say("The other helix is indoors, in inches, with one track.")
    _run("roster", "--helix", _CELLAR)
    _say(
        f"Now play with it. Its catalog is apart from your own:\n"
        f"{_activation()}"
        f"  export CLEARANCE_CATALOG={shlex.quote(str(catalog))}\n"
        f'  clearance check 27 --helix "{_GARDEN}" --explain\n'
        f'  clearance level --helix "{_GARDEN}"\n'
        f"  clearance car show 118\n"
        f'  clearance check 118 --helix "{_GARDEN}"\n'
        f'  clearance car edit 118 --height "7 7/8 in" --notes "one box high"\n'
        f'  clearance check 118 --helix "{_GARDEN}"\n'
        f'  clearance size --helix "{_GARDEN}" --write next.toml\n'
        f"  clearance check --helix next.toml\n"
        f"For your own club: write files like those in {folder}{os.sep}, then use\n"
        f"'clearance helix add' and 'clearance car import'."
    )


def _activation() -> str:
    """What puts the program on the path, where it is not: it runs from an environment's folder."""
    if shutil.which("clearance"):
        return ""
    return f"  source {shlex.quote(os.path.relpath(Path(sys.prefix, 'bin', 'activate')))}\n"


def _write_files(folder: Path) -> int:
    """Copy the club's files; gives how many were not there yet."""
    from importlib.resources import files

    if folder.exists() and not folder.is_dir():
        raise UsageError(f"{folder} is no folder; name another")
    folder.mkdir(parents=True, exist_ok=True)
    missing = [name for name in _FILES if not (folder / name).exists()]
    for name in missing:
        text = files("clearance.demo").joinpath("files", name).read_text(encoding="utf-8")
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return len(missing)


def _say(words: str) -> None:
    print(f"\n{words}", flush=True)


def _run(*arguments: str) -> None:
    """Show a command as it is typed, and run it."""
    from clearance.cli.app import run

    print(f"\n$ clearance {shlex.join(arguments)}", flush=True)
    status = run(list(arguments))
    if status in (1, 2):  # a file of the club's has been changed, and is wrong now
        raise typer.Exit(status)
