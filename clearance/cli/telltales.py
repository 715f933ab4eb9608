"""`clearance telltales`: where they belong and how high."""

from typing import Annotated

import typer

from clearance.cli.options import BuiltSource, Output, number, shared
from clearance.cli.output import emit
from clearance.cli.sources import gather

__all__ = ["telltales"]


@shared
def telltales(
    source: BuiltSource,
    output: Output,
    speed: Annotated[
        float,
        typer.Option(
            help="Of a train that comes up to it. [m/s]", parser=number(0, 20), metavar="NUMBER"
        ),
    ] = 0.35,
    deceleration: Annotated[
        float,
        typer.Option(help="Braking on the level. [m/s2]", parser=number(0, 20), metavar="NUMBER"),
    ] = 2.0,
    reaction: Annotated[
        float,
        typer.Option(
            help="Until the brakes take hold. [s]", parser=number(0, 60), metavar="NUMBER"
        ),
    ] = 1.5,
) -> None:
    """Where the tell-tales hang at both ends of each track, how high, and what they stop.

    Examples: clearance telltales · clearance telltales --speed 0.5 --json
    """
    from clearance.judge import telltales as judge
    from clearance.judge.roster import board_order
    from clearance.show import telltales as show
    from clearance.show.words import from_drawings

    asked = gather(source, none_will_do=True)
    helix, fleet = asked.helix, asked.fleet.select(board_order(asked.fleet))
    driving = judge.Driving(1000 * speed, 1000 * deceleration, reaction)
    found = judge.telltales(helix, fleet, driving, asked.survey)
    drawings = from_drawings(fleet)
    emit(
        output,
        note=asked.note,
        standing=asked.standing,
        text=lambda: show.telltales_text(helix, found, drawings),
        data=lambda: show.telltales_data(helix, found, drawings),
        rows=lambda: show.telltales_rows(helix, found, drawings),
    )
