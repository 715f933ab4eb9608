"""`clearance telltales`: where they belong and how high."""

from typing import Annotated

import typer

from clearance.cli.options import BuiltSource, Output, number, shared
from clearance.cli.output import emit
from clearance.cli.sources import gather, read_length

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
    hung: Annotated[
        str | None,
        typer.Option(help="Cords that hang at this height: is that right?", metavar="LENGTH"),
    ] = None,
    gauge: Annotated[
        bool,
        typer.Option("--gauge", help="A clearance gauge for each track, too: a rigid frame."),
    ] = False,
) -> None:
    """Where the tell-tales hang at both ends of each track, how high, and what they stop.

    Examples: clearance telltales · clearance telltales --hung 8in · clearance telltales --gauge
    """
    from catalog.errors import UsageError
    from clearance.judge import telltales as judge
    from clearance.judge.approach import Driving
    from clearance.judge.roster import board_order
    from clearance.show import telltales as show
    from clearance.show.clearance_gauge import gauges_data, gauges_text
    from clearance.show.words import from_drawings

    hung_mm = None if hung is None else read_length("--hung", hung, source.units)
    if hung_mm is not None and hung_mm <= 0:
        raise UsageError(f"--hung: {hung!r} is not above the railhead; give a height like 8in")
    if gauge and output.format == "csv":
        raise UsageError("--gauge has no CSV; write text or json")
    asked = gather(source, none_will_do=True)
    helix, fleet = asked.helix, asked.fleet.select(board_order(asked.fleet))
    driving = Driving(1000 * speed, 1000 * deceleration, reaction)
    found = judge.find_telltales(helix, fleet, driving, asked.survey, hung_mm=hung_mm)
    drawings = from_drawings(fleet)
    frames = []
    if gauge:
        from clearance.judge.clearance_gauge import clearance_gauges

        frames = clearance_gauges(fleet, found)
    telltales, structure = found.found, found.result.structure
    emit(
        output,
        note=asked.note,
        standing=asked.standing,
        text=lambda: show.telltales_text(structure, telltales, drawings, gauges_text(frames)),
        data=lambda: (
            show.telltales_data(structure, telltales, drawings)
            | ({"gauge": gauges_data(frames)} if gauge else {})
        ),
        rows=lambda: show.telltales_rows(structure, telltales, drawings),
    )
