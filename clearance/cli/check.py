"""`clearance check`: does each car go up, and why."""

from typing import Annotated

import typer

from catalog.errors import UsageError
from clearance.cli.options import CarFigures, Output, Source, shared
from clearance.cli.output import emit
from clearance.cli.sources import door_car, gather

__all__ = ["check"]


@shared
def check(
    source: Source,
    output: Output,
    figures: CarFigures,
    car: Annotated[
        list[str] | None, typer.Argument(help="Cars by id; none: all of the helix's gauge.")
    ] = None,
    every_obstacle: Annotated[
        bool, typer.Option(help="With --json: the gap at every beam and obstacle.")
    ] = False,
) -> None:
    """The verdict, and why.

    For cars of the catalog, for files, or for a car whose figures you type.
    Exit status 0: all pass; 3: the worst is marginal or not measured; 4: something does not fit.

    Examples: clearance check 27 · clearance check --helix helix.toml --cars cars.csv ·
    clearance check --height "8 1/2 in" --width 110mm --length 420mm --wheelbase 260mm
    """
    from clearance.judge import check as judge
    from clearance.judge.verdict import PASSES, exit_status
    from clearance.show import check as show

    if every_obstacle and not (output.json or output.format == "json"):
        raise UsageError("--every-obstacle goes with --json; the text names the governing one")
    door = door_car(figures, source.units)
    helix, fleet, note = gather(source, car or (), door)
    result = judge.check(helix, fleet)
    emit(
        output,
        note=note,
        text=lambda: show.check_text(result),
        data=lambda: show.check_data(result, every_obstacle=every_obstacle),
        rows=lambda: show.check_rows(result),
    )
    raise typer.Exit(exit_status(int(result.codes().max(initial=PASSES))))
