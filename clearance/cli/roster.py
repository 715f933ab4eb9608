"""`clearance roster`: what is posted."""

from typing import Annotated, Literal

import typer

from clearance.cli.options import BuiltSource, PostedOutput, shared
from clearance.cli.output import emit
from clearance.cli.sources import gather

__all__ = ["roster"]


@shared
def roster(
    source: BuiltSource,
    output: PostedOutput,
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

    asked = gather(source)
    fleet = asked.fleet.select(board_order(asked.fleet, by_owner=sort == "owner"))
    board, standing = post(check(asked.helix, fleet, asked.survey)), asked.standing
    emit(
        output,
        note=asked.note,
        standing=standing,
        text=lambda: show.roster_text(board, standing),
        data=lambda: show.roster_data(board, standing),
        rows=lambda: show.roster_rows(board),
        markdown=lambda: show.roster_markdown(board, standing),
    )
