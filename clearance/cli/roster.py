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
    from clearance.show import roster as show

    helix, fleet, note = gather(source)
    board = post(check(helix, fleet.select(board_order(fleet, by_owner=sort == "owner"))))
    emit(
        output,
        note=note,
        text=lambda: show.roster_text(board),
        data=lambda: show.roster_data(board),
        rows=lambda: show.roster_rows(board),
        markdown=lambda: show.roster_markdown(board),
    )
