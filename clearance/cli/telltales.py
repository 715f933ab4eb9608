"""`clearance telltales`: where they belong and how high."""

from typing import Annotated

import typer

from clearance.cli.options import Output, Source, shared
from clearance.cli.output import emit
from clearance.cli.sources import gather

__all__ = ["telltales"]


@shared
def telltales(
    source: Source,
    output: Output,
    speed: Annotated[
        float, typer.Option(help="Of a train that comes up to it. [m/s]", min=0.0)
    ] = 0.35,
    deceleration: Annotated[
        float, typer.Option(help="Braking on the level. [m/s2]", min=0.0)
    ] = 1.0,
    reaction: Annotated[float, typer.Option(help="Until the brakes take hold. [s]", min=0.0)] = 1.5,
) -> None:
    """Where the tell-tales hang at both ends of each track, how high, and what they stop.

    Examples: clearance telltales · clearance telltales --speed 0.5 --json
    """
    from clearance.judge import telltales as judge
    from clearance.show import data, text

    helix, fleet = gather(source)
    driving = judge.Driving(1000 * speed, 1000 * deceleration, reaction)
    found = judge.telltales(helix, fleet, driving)
    emit(
        output,
        text=lambda: text.telltales_text(found, helix.brackets_per_turn),
        data=lambda: data.telltales_data(helix, found),
        rows=lambda: data.telltales_rows(helix, found),
    )
