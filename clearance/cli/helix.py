"""`clearance helix …`: the helices of the catalog."""

from pathlib import Path
from typing import Annotated

import typer

from catalog.errors import DataError, UsageError
from clearance.cli.options import CatalogPlace, Output, Units, shared
from clearance.cli.output import emit, form_of, say, say_lines
from clearance.cli.sources import named_helix, open_catalog, own_cars, read_length

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
        kept = {helix.name: catalog.surveys(helix.name) for helix in helices}
    gone = {helix.name for helix in helices} - in_use
    emit(
        output,
        text=lambda: listing.helices_text(helices, kept, gone),
        data=lambda: {
            "helices": [
                listing.helix_data(helix, kept[helix.name], retired=helix.name in gone)
                for helix in helices
            ]
        },
        rows=lambda: listing.helix_rows(helices, kept, gone),
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
        kept = catalog.surveys(name)
    emit(
        output,
        text=lambda: listing.helix_text(helix, kept, retired=retired),
        data=lambda: listing.helix_data(helix, kept, retired=retired),
        rows=lambda: listing.helix_rows([helix], {name: kept}, [name] if retired else ()),
    )


@app.command("survey")
@shared
def survey(
    name: Name,
    place: CatalogPlace,
    output: Output,
    file: Annotated[
        Path | None,
        typer.Argument(help="A file like survey.csv; none: what is kept.", metavar="SURVEY.CSV"),
    ] = None,
    units: Annotated[Units | None, typer.Option(help="What a bare number counts.")] = None,
    approve: Annotated[
        bool, typer.Option("--approve", help="The helix is approved as this survey found it.")
    ] = False,
    as_of: Annotated[
        str | None,
        typer.Option(help="Without a file: the readings that stood then.", metavar="DAY"),
    ] = None,
) -> None:
    """Keep a survey of a helix: from its day on the helix is judged by it. None is overwritten.

    Tells what moved since the survey before, and whose verdict changed since then and since the
    helix was approved. Without a file it lists the surveys that are kept, or with --as-of the
    readings of one, whose CSV is a survey.csv again. Formats: text, csv, json.

    Examples: clearance helix survey "Quarry Bank helix" survey.csv ·
    clearance helix survey "Quarry Bank helix" survey.csv --approve ·
    clearance helix survey "Quarry Bank helix" ·
    clearance helix survey "Quarry Bank helix" --as-of 2026-05-31 --format csv
    """
    form_of(output)  # before anything is kept
    if file is None:
        if approve or units:
            raise UsageError("--approve and --units are about a survey file; name it, or neither")
        return _show_surveys(name, place, output, as_of)
    if as_of is not None:
        raise UsageError("--as-of looks at a survey that is kept; name no file beside it")
    from clearance.cli.drift import report
    from clearance.cli.surveys import read_fitting
    from clearance.show import drift as show
    from clearance.show.standing import remark_lines
    from clearance.show.words import counted

    with open_catalog(place) as catalog:
        helix = catalog.helix(name)
        taken, remarks = read_fitting(file, helix, units)
        what = catalog.add_survey(name, taken, approve=approve)
        day = f"of {taken.taken_on}" if taken.taken_on else "without a date: it holds from today"
        say(f"{what}: survey of {name}, {counted(len(taken.readings), 'reading')}, {day}")
        say_lines(remark_lines(remarks))
        fleet, _ = own_cars(catalog, helix)
        found = report(catalog, helix, fleet, taken, what)
    return emit(
        output,
        text=lambda: show.survey_text(found),
        data=lambda: show.survey_data(found, remarks),
        rows=lambda: show.survey_rows(found),
    )


def _show_surveys(name: str, place: CatalogPlace, output: Output, as_of: str | None) -> None:
    """The surveys that are kept of a helix, or the readings of the one that stood on a day."""
    from clearance.cli.surveys import fitting, read_day
    from clearance.show import surveys as show

    day = None if as_of is None else read_day("--as-of", as_of)
    with open_catalog(place) as catalog:
        helix = catalog.helix(name)
        kept = catalog.surveys(name)
        stood = None if day is None else catalog.survey(name, day)
    if day is None:
        return emit(
            output,
            text=lambda: show.surveys_text(helix, kept),
            data=lambda: show.surveys_data(helix, kept),
            rows=lambda: show.surveys_rows(kept),
        )
    if stood is None:
        first = f"the first is of {kept[0].taken_on}" if kept else "none is kept"
        raise DataError(f"there was no survey of {name!r} yet on {day}; {first}")
    from catalog.survey_csv import write_survey_csv

    remarks = fitting(stood, helix)
    return emit(
        output,
        text=lambda: show.readings_text(helix, stood, remarks),
        data=lambda: show.readings_data(helix, stood, remarks),
        rows=lambda: write_survey_csv(stood.survey),
    )


@app.command("history")
@shared
def history(
    name: Name,
    place: CatalogPlace,
    output: Output,
    since: Annotated[
        str | None,
        typer.Option(help="Leave out the surveys before this day.", metavar="DAY"),
    ] = None,
) -> None:
    """How a helix drifts from survey to survey, and which car is expected to become marginal first.

    Formats: text, csv, json.

    Examples: clearance helix history "Quarry Bank helix" ·
    clearance helix history "Quarry Bank helix" --since 2026-03-01
    """
    from clearance.cli.drift import past
    from clearance.cli.surveys import read_day
    from clearance.show import history as show

    day = None if since is None else read_day("--since", since)
    with open_catalog(place) as catalog:
        helix = catalog.helix(name)
        fleet, note = own_cars(catalog, helix)
        found = past(catalog, helix, fleet, day)
    emit(
        output,
        note=note,
        text=lambda: show.history_text(found),
        data=lambda: show.history_data(found),
        rows=lambda: show.history_rows(found),
    )


@app.command("setout")
@shared
def setout(
    name: Annotated[
        str, typer.Argument(help="Its name in the catalog, or a helix file.", metavar="HELIX")
    ],
    place: CatalogPlace,
    output: Output,
    base: Annotated[
        str | None,
        typer.Option(
            help="How far what the posts stand on lies below the helix file's zero.",
            metavar="LENGTH",
        ),
    ] = None,
    sheet: Annotated[
        bool, typer.Option("--sheet", help="In its place, the survey sheet to fill in.")
    ] = False,
    units: Annotated[
        Units | None,
        typer.Option(help="What a bare number counts, and what heights are told in."),
    ] = None,
) -> None:
    """What to set out: circles and chords, and the heights of every bracket, as drawn.

    With --sheet the places to measure; as CSV it is the file that helix survey reads, with blanks.

    Formats: text, csv, json.

    Examples: clearance helix setout "Quarry Bank helix" --base "40 cm" ·
    clearance helix setout "Quarry Bank helix" --sheet --format csv --output survey.csv
    """
    from clearance.judge.setting_out import setting_out, survey_sheet
    from clearance.show import setting_out as show

    base_mm = 0.0 if base is None else read_length("--base", base, units)
    helix = named_helix(place, name, units)
    if sheet:
        if base is not None:
            raise UsageError("--base is for the posts, and --sheet has none; leave one of them out")
        rows = survey_sheet(helix)
        return emit(
            output,
            text=lambda: show.sheet_text(helix.name, rows, inches=units == "in"),
            data=lambda: show.sheet_data(helix.name, rows),
            rows=lambda: show.sheet_rows(rows, units),
        )
    found = setting_out(helix, base_mm)
    return emit(
        output,
        text=lambda: show.setting_out_text(found, inches=units == "in"),
        data=lambda: show.setting_out_data(found),
        rows=lambda: show.setting_out_rows(found),
    )


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
