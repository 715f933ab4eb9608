"""`clearance level`: which nuts to turn, and how far."""

from pathlib import Path
from typing import Annotated

import typer

from catalog.errors import UsageError
from clearance.cli.options import BuiltSource, Output, number, shared
from clearance.cli.output import emit, say, spare_others, write_file
from clearance.cli.sources import gather

__all__ = ["level"]

_CANNOT = 4


@shared
def level(
    source: BuiltSource,
    output: Output,
    car: Annotated[
        list[str] | None,
        typer.Argument(help="Cars meant to pass, by id; none: all that pass as drawn."),
    ] = None,
    track: Annotated[
        list[str] | None, typer.Option(help="Only on this track; can be said again.")
    ] = None,
    max_grade: Annotated[
        float | None,
        typer.Option(
            help="Greatest grade of any track; else as now or as drawn, whichever is more. "
            "[percent]",
            parser=number(0, 100),
            metavar="NUMBER",
        ),
    ] = None,
    max_change: Annotated[
        float | None,
        typer.Option(
            help="Greatest change of grade at a bracket; else as now or as drawn. [percent]",
            parser=number(0, 100),
            metavar="NUMBER",
        ),
    ] = None,
    write: Annotated[
        Path | None, typer.Option(help="Write the survey to expect afterwards.", metavar="FILE")
    ] = None,
) -> None:
    """Which adjusters to turn, and how far, so that every car meant to pass passes overhead.

    As few brackets as possible, then as little turning. Exit status 0: so it can be done;
    4: it cannot, and what stands in the way is said.

    Examples: clearance level · clearance level 27 --max-grade 3.9 ·
    clearance level --write expected.csv
    """
    from catalog.survey_csv import write_survey_csv
    from clearance.judge import levelling
    from clearance.judge.level_demands import LevelLimits
    from clearance.judge.lifting import EXPECTED_BY
    from clearance.show import level as show

    asked = gather(source, car or ())
    names = [it.name for it in asked.helix.tracks]
    for name in track or ():
        if name not in names:
            raise UsageError(f"--track {name!r}: the tracks are {', '.join(names)}")
    found = levelling.level(
        asked.helix,
        asked.fleet,
        asked.survey,
        named=car or (),
        tracks=track or (),
        limits=LevelLimits(max_grade, max_change),
    )
    if write and found.expected is not None and found.moves:
        spare_others(write, EXPECTED_BY, "a survey that level wrote")
        write_file(write, write_survey_csv(found.expected))
        say(f"written: {write}, what to expect; measure it all the same")
    elif write:
        why = "nothing is to be turned" if found.cannot is None else "there is nothing to expect"
        say(f"{write} is not written: {why}")
    emit(
        output,
        note=asked.note,
        standing=asked.standing,
        text=lambda: show.level_text(found),
        data=lambda: show.level_data(found),
        rows=lambda: show.level_rows(found),
    )
    raise typer.Exit(0 if found.cannot is None else _CANNOT)
