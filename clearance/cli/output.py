"""Results leave the program here: to the screen or to a file, in the form that was asked for."""

import csv
import io
import json
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from catalog.errors import UsageError
from clearance.cli.options import Output

if TYPE_CHECKING:
    from rich.console import RenderableType

__all__ = ["emit", "say"]

Row = dict[str, Any]
_PAPER_WIDTH = 80


def emit(
    output: Output,
    *,
    text: "Callable[[], Sequence[RenderableType]]",
    data: Callable[[], Any],
    rows: Callable[[], list[Row]],
    markdown: Callable[[], str] | None = None,
) -> None:
    """Write a result in the form that was asked for; only that form is made.

    Raises
    ------
    UsageError
        There is no such form.
    """
    form = "json" if output.json else output.format
    forms = ["text", "csv", "json", *(["markdown"] if markdown else [])]
    if form == "text" and output.output is None and sys.stdout.isatty():
        return _print(text())
    if form == "text":
        written = _as_text(text())
    elif form == "csv":
        written = _as_csv(rows())
    elif form == "json":
        written = json.dumps(data(), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    elif form == "markdown" and markdown:
        written = markdown()
    else:
        raise UsageError(f"--format {form!r} is not one of {', '.join(forms)}")
    if output.output is None:
        sys.stdout.write(written)
    else:
        output.output.write_text(written, encoding="utf-8", newline="")
        say(f"written: {output.output}")
    return None


def say(words: str) -> None:
    """One line to the person, apart from the result."""
    print(words, file=sys.stderr)


def _print(lines: "Sequence[RenderableType]") -> None:
    from rich.console import Console

    console = Console(highlight=False, markup=False, emoji=False)
    for line in lines:
        console.print(line)


def _as_text(lines: "Sequence[RenderableType]") -> str:
    from rich.console import Console

    file = io.StringIO()
    console = Console(
        file=file, width=_PAPER_WIDTH, highlight=False, markup=False, emoji=False, no_color=True
    )
    for line in lines:
        console.print(line)
    return "".join(f"{line.rstrip()}\n" for line in file.getvalue().splitlines())


def _as_csv(rows: list[Row]) -> str:
    from catalog.sheet import guard_cell

    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    if rows:
        writer.writerow(rows[0])
    for row in rows:
        writer.writerow(
            guard_cell(cell) if isinstance(cell, str) else cell for cell in row.values()
        )
    return file.getvalue()
