"""`clearance size`: a helix for the biggest car owned."""

import dataclasses
from pathlib import Path
from typing import Annotated

import typer

from catalog.errors import DataError, UsageError
from clearance.cli.options import Output, Source, Units, number, shared
from clearance.cli.output import emit, say, write_file
from clearance.cli.sources import Question, gather, read_length

__all__ = ["size"]

_SIZED = ", as sized"


@shared
def size(
    source: Source,
    output: Output,
    car: Annotated[
        list[str] | None, typer.Argument(help="Cars by id; none: all of the helix's gauge.")
    ] = None,
    max_grade: Annotated[
        float,
        typer.Option(
            help="Greatest grade of the inner track. [percent]",
            parser=number(0.1, 15),
            metavar="NUMBER",
        ),
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
    from clearance.judge import sizing
    from clearance.show import size as show
    from clearance.show.words import from_drawings

    limits = sizing.Limits(
        max_grade,
        _limit("--max-diameter", max_diameter, source.units),
        _limit("--climb", climb, source.units),
    )
    asked = gather(dataclasses.replace(source, survey=None), car or ())
    if source.survey:
        say(f"a new helix has no survey: {source.survey} is left aside")
    _refuse_other_gauge(asked)
    design = sizing.size(asked.helix, asked.fleet, limits)
    if write:
        # Under a name of its own: added to a catalog, it must not take the place of what stands.
        name = f"{design.helix.name.removesuffix(_SIZED)}{_SIZED}"
        write_file(write, write_helix_toml(design.helix.model_copy(update={"name": name})))
        say(f"written: {write}")
    drawings = from_drawings(asked.fleet)
    emit(
        output,
        note=asked.note,
        text=lambda: show.size_text(design, drawings),
        data=lambda: show.size_data(design, drawings),
        rows=lambda: show.size_rows(design, drawings),
    )


def _limit(option: str, text: str | None, units: Units | None) -> float | None:
    if text is None:
        return None
    length = read_length(option, text, units)
    if length <= 0:
        raise UsageError(f"{option}: {text!r} must be more than 0")
    return length


def _refuse_other_gauge(asked: Question) -> None:
    """A helix of one gauge is not sized for a car of another, which would never run on it."""
    runs = asked.fleet.runs_on(asked.helix.gauge_mm)
    if not runs.all():
        other = int(runs.argmin())
        raise DataError(
            f"car {asked.fleet.ids[other]!r} runs on "
            f"{asked.fleet.figure('gauge_mm')[other]:g} mm, the helix on "
            f"{asked.helix.gauge_mm:g} mm; name cars of its gauge"
        )
