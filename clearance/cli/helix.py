"""`clearance helix …`: the helices of the catalog."""

from pathlib import Path
from typing import Annotated

import typer

from clearance.cli.options import CatalogPlace, Output, Units, shared
from clearance.cli.output import emit, say, say_lines
from clearance.cli.sources import open_catalog

__all__ = ["app"]

app = typer.Typer(help="The helices of the catalog.", no_args_is_help=True)

Name = Annotated[str, typer.Argument(help="Its name.", metavar="HELIX")]


@app.command("add")
@shared
def add(
    file: Annotated[Path, typer.Argument(help="A file like helix.toml.", metavar="HELIX.TOML")],
    place: CatalogPlace,
    units: Annotated[Units | None, typer.Option(help="What a bare number counts.")] = None,
) -> None:
    """Add a helix, or the next version of one with its name; what stood before is kept.

    Example: clearance helix add quarry-bank.toml
    """
    from catalog.helix_toml import read_helix_toml

    helix = read_helix_toml(file, units)
    with open_catalog(place, create=True) as catalog:
        what = catalog.add_helix(helix)
    say(f"{what}: {helix.name}")


@app.command("list")
@shared
def list_(
    place: CatalogPlace,
    output: Output,
    retired: Annotated[bool, typer.Option(help="The retired ones too.")] = False,
) -> None:
    """List the helices. Formats: text, csv, json.

    Example: clearance helix list
    """
    from clearance.show import listing

    with open_catalog(place) as catalog:
        helices = catalog.helices(include_retired=retired)
        in_use = {helix.name for helix in catalog.helices()}
        surveyed = {
            helix.name: [stored.taken_on for stored in catalog.surveys(helix.name)]
            for helix in helices
        }
    gone = {helix.name for helix in helices} - in_use
    emit(
        output,
        text=lambda: listing.helices_text(helices, gone),
        data=lambda: {
            "helices": [
                listing.helix_data(helix, surveyed[helix.name], retired=helix.name in gone)
                for helix in helices
            ]
        },
        rows=lambda: listing.helix_rows(helices, gone),
    )


@app.command("show")
@shared
def show(name: Name, place: CatalogPlace, output: Output) -> None:
    """Show one helix. Formats: text, csv, json.

    Example: clearance helix show "Quarry Bank helix"
    """
    from clearance.show import listing

    with open_catalog(place) as catalog:
        helix = catalog.helix(name)
        retired = name not in {other.name for other in catalog.helices()}
        surveyed = [stored.taken_on for stored in catalog.surveys(name)]
    emit(
        output,
        text=lambda: listing.helix_text(helix, surveyed, retired=retired),
        data=lambda: listing.helix_data(helix, surveyed, retired=retired),
        rows=lambda: listing.helix_rows([helix], [name] if retired else ()),
    )


@app.command("survey")
@shared
def survey(
    name: Name,
    file: Annotated[Path, typer.Argument(help="A file like survey.csv.", metavar="SURVEY.CSV")],
    place: CatalogPlace,
    units: Annotated[Units | None, typer.Option(help="What a bare number counts.")] = None,
) -> None:
    """Keep a survey of a helix: from its day on the helix is judged by it. None is overwritten.

    Example: clearance helix survey "Quarry Bank helix" survey.csv
    """
    from catalog.survey_csv import read_survey
    from catalog.survey_fit import fit_survey
    from clearance.show.standing import remark_lines

    taken = read_survey(file, units)
    with open_catalog(place) as catalog:
        remarks = fit_survey(taken, catalog.helix(name), source=str(file))
        what = catalog.add_survey(name, taken)
    day = f"of {taken.taken_on}" if taken.taken_on else "without a date: it holds from today"
    say(f"{what}: survey of {name}, {len(taken.readings)} readings, {day}")
    say_lines(remark_lines(remarks))


@app.command("retire")
@shared
def retire(name: Name, place: CatalogPlace) -> None:
    """Leave a helix out of lists; it stays in the catalog.

    Example: clearance helix retire "Quarry Bank helix"
    """
    with open_catalog(place) as catalog:
        catalog.retire_helix(name)
    say(f"retired: {name}")


@app.command("restore")
@shared
def restore(name: Name, place: CatalogPlace) -> None:
    """Bring a retired helix back.

    Example: clearance helix restore "Quarry Bank helix"
    """
    with open_catalog(place) as catalog:
        catalog.restore_helix(name)
    say(f"restored: {name}")
