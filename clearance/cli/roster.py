"""`clearance roster`: what is posted."""

from typing import Annotated, Literal

import typer

from clearance.cli.options import Output, Source, shared
from clearance.cli.output import emit
from clearance.cli.sources import gather

__all__ = ["roster"]


@shared
def roster(
    source: Source,
    output: Output,
    sort: Annotated[
        Literal["number", "owner"], typer.Option(help="What the board is sorted by.")
    ] = "number",
) -> None:
    """What is posted: each car by track, and what restricts it.

    Formats: text, csv, json, markdown.

    Examples: clearance roster · clearance roster --format markdown --output roster.md
    """
    from clearance.judge.check import check
    from clearance.judge.roster import board_order, post
    from clearance.show import data, markdown, text
    from clearance.show.heading import roster_heading, roster_notes

    helix, fleet, note = gather(source)
    board = post(check(helix, fleet.select(board_order(fleet, by_owner=sort == "owner"))))
    emit(
        output,
        note=note,
        text=lambda: text.roster_text(board, roster_heading(helix)),
        data=lambda: data.roster_data(board, roster_notes()),
        rows=lambda: data.roster_rows(board),
        markdown=lambda: markdown.roster_markdown(board, roster_heading(helix)),
    )
