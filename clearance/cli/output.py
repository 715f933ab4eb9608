"""Results leave the program here: to the screen or to a file, in the form that was asked for."""

import csv
import io
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from catalog.errors import DataError, UsageError
from clearance.cli.options import Output
from clearance.show.plain import plain

if TYPE_CHECKING:
    from clearance.show.paper import Paper
    from clearance.show.standing import Standing

__all__ = ["emit", "form_of", "say", "say_lines", "spare_others", "write_file", "write_out"]

Row = dict[str, Any]
_PAPER_WIDTH = 80


def form_of(output: Output, *, markdown: bool = False) -> str:
    """Which form is asked for: text, csv, json, or markdown where there is one.

    Raises
    ------
    UsageError
        There is no such form, or two are asked for.
    """
    if output.json and output.format not in ("text", "json"):
        raise UsageError(f"--json contradicts --format {output.format}; write one of them")
    form = "json" if output.json else output.format
    forms = ["text", "csv", "json", *(["markdown"] if markdown else [])]
    if form not in forms:
        raise UsageError(f"--format {form!r} is not one of {', '.join(forms)}")
    return form


def emit(
    output: Output,
    *,
    text: "Callable[[], Paper]",
    data: Callable[[], dict[str, Any]],
    rows: Callable[[], list[Row] | str],
    markdown: Callable[[], str] | None = None,
    note: str = "",
    standing: "Standing | None" = None,
) -> None:
    """Write a result in the form that was asked for; only that form is made.

    ``rows`` are of the CSV, or the whole of it where that is a file to be read back. ``note`` is
    what to know about it, said apart from it, once there is a result. ``standing`` is
    what it is judged by: said below a text, in the JSON, and apart from rows and Markdown.

    Raises
    ------
    UsageError
        There is no such form, or two are asked for.
    DataError
        The file cannot be written.
    """
    form = form_of(output, markdown=markdown is not None)
    if form == "text":
        from clearance.show.paper import as_plain, line, print_styled

        paper = text()
        if standing and standing.lines:
            paper += [line(), *standing.lines]
        if output.output is None and sys.stdout.isatty():
            say(note)
            return print_styled(paper)
        written = as_plain(paper, _PAPER_WIDTH)
    elif form == "csv":
        made = rows()
        written = made if isinstance(made, str) else _as_csv(made)
    elif markdown and form == "markdown":
        written = markdown()
    else:
        result = data() | ({"survey": standing.data} if standing else {})
        written = json.dumps(result, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    if output.output is not None:
        write_file(output.output, written)
    say(note)
    if standing and form in ("csv", "markdown"):
        say_lines(standing.lines)
    if output.output is not None:
        return say(f"written: {output.output}")
    if form == "text":
        sys.stdout.write(written)
    else:
        write_out(written)
    return None


def write_file(path: Path, text: str) -> None:
    """Write a text as UTF-8, its line ends as they are.

    Raises
    ------
    DataError
        It cannot be written.
    """
    try:
        path.write_text(text, encoding="utf-8", newline="")
    except OSError as error:
        raise DataError(
            f"{path}: cannot be written: {error.strerror or error}; "
            f"name a file in a folder where you may write"
        ) from None


def spare_others(path: Path, mark: str, what: str) -> None:
    """Refuse to write over a file that somebody else made.

    Parameters
    ----------
    path
        Where to write.
    mark
        What stands in every file that the program wrote there before.
    what
        What such a file is, in words.

    Raises
    ------
    DataError
        There is a file without that mark.
    """
    try:
        kept = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return
    except (OSError, UnicodeDecodeError):
        kept = ""
    if mark not in kept:
        raise DataError(f"{path}: is there already, and is not {what}; name another file")


def say(words: str) -> None:
    """One line to the person, apart from the result; "": nothing to say."""
    if words:
        print(plain(words), file=sys.stderr)


def say_lines(paper: "Paper") -> None:
    """More than a line to the person, folded."""
    if paper:
        from clearance.show.paper import as_plain

        sys.stderr.write(as_plain(paper, _PAPER_WIDTH))


def write_out(data: str) -> None:
    """Write data to standard output: in a pipe UTF-8 as in a file, whatever the terminal has."""
    reconfigure: Any = getattr(sys.stdout, "reconfigure", None)
    if reconfigure and not sys.stdout.isatty():
        reconfigure(encoding="utf-8", errors="replace")
    sys.stdout.write(data)


def _as_csv(rows: list[Row]) -> str:
    from catalog.sheet import guard_cell

    if not rows:
        return ""
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    # A reader takes a bare \r for the end of a row; the plain writer leaves it without quotes.
    quoting = csv.writer(file, lineterminator="\n", quoting=csv.QUOTE_ALL)
    for row in [list(rows[0]), *(list(row.values()) for row in rows)]:
        cells = [guard_cell(cell) if isinstance(cell, str) else cell for cell in row]
        splits = any(isinstance(cell, str) and "\r" in cell for cell in cells)
        (quoting if splits else writer).writerow(cells)
    return file.getvalue()
