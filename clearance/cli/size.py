"""`clearance size`: a helix for the biggest car owned."""

from pathlib import Path
from typing import Annotated

import typer

from clearance.cli.options import Output, Source, shared
from clearance.cli.output import emit, say
from clearance.cli.sources import gather

__all__ = ["size"]


@shared
def size(
    source: Source,
    output: Output,
    car: Annotated[
        list[str] | None, typer.Argument(help="Cars by id; none: all of the helix's gauge.")
    ] = None,
    max_grade: Annotated[
        float, typer.Option(help="Greatest grade of the inner track. [percent]")
    ] = 3.0,
    max_diameter: Annotated[
        str | None, typer.Option(help="Greatest diameter over all.", metavar="LENGTH")
    ] = None,
    climb: Annotated[
        str | None, typer.Option(help="Total climb; without it, the turns stay.", metavar="LENGTH")
    ] = None,
    write: Annotated[
        Path | None, typer.Option(help="Write the design as a helix file.", metavar="FILE")
    ] = None,
) -> None:
    """A helix for the biggest car owned: the least rise, radius, spacing and room beside it.

    Gauge, tracks, brackets, deck and allowance are those of the helix it starts from.

    Examples: clearance size --max-grade 3.5 · clearance size 27 104 --write next.toml
    """
    from catalog.helix_toml import write_helix_toml
    from catalog.lengths import parse_length
    from clearance.judge import sizing
    from clearance.show import data, text

    helix, fleet = gather(source, car or ())
    limits = sizing.Limits(
        max_grade,
        None if max_diameter is None else parse_length(max_diameter, source.units),
        None if climb is None else parse_length(climb, source.units),
    )
    design = sizing.size(helix, fleet, limits)
    if write:
        write.write_text(write_helix_toml(design.helix), encoding="utf-8")
        say(f"written: {write}")
    emit(
        output,
        text=lambda: text.size_text(design),
        data=lambda: data.size_data(design),
        rows=lambda: data.size_rows(design),
    )
