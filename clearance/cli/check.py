"""`clearance check`: does each car go up, and why."""

from typing import Annotated

import typer

from catalog.errors import UsageError
from clearance.cli.options import BuiltSource, CarFigures, Output, shared
from clearance.cli.output import emit
from clearance.cli.sources import door_car, gather

__all__ = ["check"]


@shared
def check(
    source: BuiltSource,
    output: Output,
    figures: CarFigures,
    car: Annotated[
        list[str] | None, typer.Argument(help="Cars by id; none: all of the helix's gauge.")
    ] = None,
    every_obstacle: Annotated[
        bool, typer.Option(help="The gap under every beam and obstacle, not only the tightest.")
    ] = False,
) -> None:
    """The verdict, and why.

    For cars of the catalog, for files, or for a car whose figures you type.
    Exit status 0: all pass; 3: the worst is marginal or not measured; 4: something does not fit.

    A helix of the catalog is judged by its latest survey, a helix file as drawn or by --survey.

    Examples: clearance check 27 · clearance check --helix helix.toml --cars cars.csv ·
    clearance check --height "8 1/2 in" --width 110mm --length 420mm --wheelbase 260mm ·
    clearance check 27 --as-of 2025-12-31
    """
    from clearance.judge import check as judge
    from clearance.judge.verdict import PASSES, exit_status
    from clearance.show import check as show

    if every_obstacle and output.format == "csv":
        raise UsageError("--every-obstacle goes with text and json; a row of csv is a finding")
    door = door_car(figures, source.units)
    asked = gather(source, car or (), door)
    result = judge.check(asked.helix, asked.fleet, asked.survey, every_obstacle=every_obstacle)
    emit(
        output,
        note=asked.note,
        standing=asked.standing,
        text=lambda: show.check_text(result, every_obstacle=every_obstacle),
        data=lambda: show.check_data(result, every_obstacle=every_obstacle),
        rows=lambda: show.check_rows(result),
    )
    raise typer.Exit(exit_status(int(result.codes().max(initial=PASSES))))
