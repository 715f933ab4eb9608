"""What a text result is made of, and how it is set: lines and grids, on a screen or on plain paper.

The topics of `clearance.show` say what stands in a line; here it is folded to the width and, on a
screen, coloured. Plain lines are set without loading what only a screen or a grid needs.
"""

import io
import re
import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from clearance.judge.verdict import VERDICTS

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.text import Text

__all__ = [
    "Cell",
    "Grid",
    "Line",
    "Paper",
    "Span",
    "as_plain",
    "grid",
    "line",
    "print_styled",
    "verdict",
]

_COLOURS = ("green", "cyan", "yellow", "red")
_FIRST_WIDE_LETTER = "\u0300"  # from here on a letter may take two columns, or none
_LENGTH = re.compile(r"-?[0-9.]+ mm(?: \([^()]* in\))?")
_JOINED = "\N{NO-BREAK SPACE}"


class Span(NamedTuple):
    """Some letters in one style; "": no style. A style only repeats what the words say."""

    text: str
    style: str = ""


class Line(NamedTuple):
    """One paragraph, folded below its own indent."""

    spans: tuple[Span, ...]
    indent: int = 0

    @property
    def text(self) -> str:
        """Its letters."""
        return "".join(span.text for span in self.spans)


class Grid(NamedTuple):
    """A table without rules, its columns folded where there is little room. No headers: facts."""

    headers: tuple[str, ...]
    rows: list[tuple[Line, ...]]


Cell = str | Span | Line
"""What a cell of a grid is written as."""

Paper = list[Line | Grid]
"""A whole text result, from top to bottom."""


def line(*parts: str | Span, indent: int = 0) -> Line:
    """A line of some parts."""
    spans = tuple(Span(part) if isinstance(part, str) else part for part in parts)
    return Line(spans, indent)


def grid(headers: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Grid:
    """A table; a cell is text, a span, or a line of spans."""
    return Grid(
        tuple(headers),
        [tuple(cell if isinstance(cell, Line) else line(cell) for cell in row) for row in rows],
    )


def verdict(code: int) -> Span:
    """The word for a verdict, in its colour."""
    return Span(VERDICTS[code], f"bold {_COLOURS[code]}")


def as_plain(paper: Paper, width: int) -> str:
    """The text for a file or a pipe: no colour, no line longer than ``width``."""
    set_lines: list[str] = []
    for part in paper:
        if isinstance(part, Line) and _all_narrow(part.text):
            set_lines += _folded(part, width)
        else:
            set_lines += _by_console(part, width)
    return "".join(f"{text.rstrip()}\n" for text in set_lines)


def print_styled(paper: Paper) -> None:
    """The text on the screen, in colour where it has any, as wide as it is."""
    from rich.console import Console

    console = Console(highlight=False, markup=False, emoji=False)
    for part in paper:
        console.print(_renderable(part, console.width))


def _all_narrow(text: str) -> bool:
    return text.isprintable() and max(text, default="") < _FIRST_WIDE_LETTER


def _folded(part: Line, width: int) -> list[str]:
    """Lines no longer than the width; a length with its inches stays whole, as it is read."""
    indent = " " * part.indent
    joined = _LENGTH.sub(lambda length: length[0].replace(" ", _JOINED), part.text)
    lines = textwrap.wrap(
        joined, width, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False
    )
    return [text.replace(_JOINED, " ") for text in lines] or [""]


def _by_console(part: Line | Grid, width: int) -> list[str]:
    """What needs letters measured or columns fitted."""
    from rich.console import Console

    file = io.StringIO()
    # Plain text, even where the surroundings ask for colour: this is a pipe or a file.
    console = Console(
        file=file,
        width=width,
        highlight=False,
        markup=False,
        emoji=False,
        force_terminal=False,
        color_system=None,
    )
    console.print(_renderable(part, width))
    return file.getvalue().splitlines()


def _renderable(part: Line | Grid, width: int) -> "RenderableType":
    from rich.padding import Padding

    if isinstance(part, Line):
        if _all_narrow(part.text):
            return _styled_lines(part, width)
        return Padding(_styled(part), (0, 0, 0, part.indent))
    from rich.table import Table

    facts = not part.headers
    table = Table(
        box=None,
        pad_edge=False,
        padding=(0, 2, 0, 2 if facts else 0),
        show_header=not facts,
        header_style="bold",
    )
    if facts:
        table.add_column(style="dim", no_wrap=True)
        table.add_column(overflow="fold")
    for header in part.headers:
        table.add_column(header, overflow="fold")
    for row in part.rows:
        table.add_row(*map(_styled, row))
    return table


def _styled(part: Line) -> "Text":
    from rich.text import Text

    return Text.assemble(*part.spans)


def _styled_lines(part: Line, width: int) -> "Text":
    """A line folded as on plain paper, its spans' styles where their letters have come to stand."""
    from rich.text import Text

    styled, whole, start = _styled(part), Text(), 0
    for number, text in enumerate(_folded(part, width)):
        letters = text.strip()
        start = part.text.index(letters, start)
        whole.append("\n" if number else "").append(" " * part.indent if letters else "")
        whole.append_text(styled[start : start + len(letters)])
        start += len(letters)
    return whole
