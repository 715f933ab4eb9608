"""`clearance meets`: which cars may pass which."""

from typing import Annotated

import typer

from clearance.cli.options import BuiltSource, Output, shared
from clearance.cli.output import emit
from clearance.cli.sources import gather

__all__ = ["meets"]


@shared
def meets(
    source: BuiltSource,
    output: Output,
    car: Annotated[
        list[str] | None, typer.Argument(help="Only pairs with one of these cars, by id.")
    ] = None,
) -> None:
    """Which cars may pass which, on two neighbouring tracks.

    The text lists the pairs that may not; csv and json list every pair.
    Exit status 0: all pass; 3: a pair is too close; 4: a pair touches.

    Examples: clearance meets · clearance meets 27 104 --json
    """
    import numpy as np

    from catalog.errors import DataError
    from catalog.words import did_you_mean, quoted
    from clearance.judge.meets import meetings, worst_code
    from clearance.judge.roster import board_order
    from clearance.judge.verdict import exit_status
    from clearance.show import meets as show

    asked = gather(source)
    helix, fleet = asked.helix, asked.fleet.select(board_order(asked.fleet))
    wanted = set(car or fleet.ids)
    for name in car or ():
        if name not in fleet.ids:
            raise DataError(
                f"there is no car {quoted(name)} of {helix.gauge_mm:g} mm gauge; "
                f"{did_you_mean(name, fleet.ids)}"
            )
    chosen = np.array([name in wanted for name in fleet.ids], bool)
    found = meetings(helix, fleet, asked.survey)
    emit(
        output,
        note=asked.note,
        standing=asked.standing,
        text=lambda: show.meets_text(helix, found, chosen),
        data=lambda: show.meets_data(helix, show.meets_rows(found, chosen)),
        rows=lambda: show.meets_rows(found, chosen),
    )
    raise typer.Exit(exit_status(worst_code(found, chosen)))
