"""`clearance car …`: the cars of the catalog."""

import dataclasses
from pathlib import Path
from typing import Annotated, Any

import typer

from catalog.errors import UsageError
from clearance.cli.options import CarFigures, CatalogPlace, Output, Units, shared
from clearance.cli.output import emit, say, write_file, write_out
from clearance.cli.sources import car_fields, open_catalog, refuse_figures, require_figures

__all__ = ["app"]

app = typer.Typer(help="The cars of the catalog.", no_args_is_help=True)

Id = Annotated[str, typer.Argument(help="What is painted on it.", metavar="CAR")]
UnitsOption = Annotated[Units | None, typer.Option(help="What a bare number counts.")]

_ABOUT = "About the car"
_NEVER_BLANK = ("wheelbase_mm", "blocks", "frames", "dimensions")


def _about(words: str) -> Any:
    return typer.Option(help=words, metavar="TEXT", rich_help_panel=_ABOUT)


@dataclasses.dataclass(frozen=True)
class About:
    """What is known of a car besides its figures."""

    name: Annotated[str | None, _about("What it is called.")] = None
    kind: Annotated[str | None, _about("Locomotive, coach, boxcar …")] = None
    owner: Annotated[str | None, _about("Whose it is.")] = None
    notes: Annotated[str | None, _about("Anything else.")] = None
    weight: Annotated[str | None, _about("Like 850 g, 2.4 kg or 5 lb.")] = None
    measured_by: Annotated[str | None, _about("Who held the tape.")] = None
    measured_on: Annotated[str | None, _about("When, like 2026-05-31.")] = None

    def fields(self) -> dict[str, Any]:
        """The fields of `Car` that were typed.

        Raises
        ------
        UsageError
            The day is none.
        """
        from datetime import date

        fields: dict[str, Any] = {
            name: text for name, text in vars(self).items() if text is not None
        }
        if self.measured_on is not None:
            try:
                fields["measured_on"] = date.fromisoformat(self.measured_on)
            except ValueError:
                raise UsageError(
                    f"--measured-on {self.measured_on!r} is no day; write one like 2026-05-31"
                ) from None
        return fields


@app.command("add")
@shared
def add(
    car: Id, place: CatalogPlace, figures: CarFigures, about: About, units: UnitsOption = None
) -> None:
    """Add one car.

    Example: clearance car add 27 --height "8 1/2 in" --width 110mm --length 420mm --wheelbase 260mm
    """
    from pydantic import ValidationError

    from catalog.car import Car

    fields = car_fields(figures, units) | about.fields()
    require_figures(fields)
    try:
        record = Car(id=car, **fields)
    except ValidationError as error:
        refuse_figures(error, vars(figures) | vars(about), f"car {car!r}")
    with open_catalog(place, create=True) as catalog:
        catalog.add_car(record)
    say(f"added: {car}")


@app.command("list")
@shared
def list_(
    place: CatalogPlace,
    output: Output,
    retired: Annotated[bool, typer.Option(help="The retired ones too.")] = False,
) -> None:
    """List the cars. Formats: text, csv, json.

    Example: clearance car list --json
    """
    from clearance.show import listing

    with open_catalog(place) as catalog:
        cars = catalog.cars(include_retired=retired).cars()
        gone = catalog.retired_ids()
    emit(
        output,
        text=lambda: listing.cars_text(cars, gone),
        data=lambda: {"cars": [listing.car_data(car, retired=car.id in gone) for car in cars]},
        rows=lambda: listing.car_rows(cars, gone),
    )


@app.command("show")
@shared
def show(car: Id, place: CatalogPlace, output: Output) -> None:
    """Show one car, and what stood before. Formats: text, csv, json.

    Example: clearance car show 27
    """
    from clearance.show import listing

    with open_catalog(place) as catalog:
        record = catalog.car(car)
        versions = catalog.history(car)
    retired = versions[-1].retired
    emit(
        output,
        text=lambda: listing.car_text(record, versions),
        data=lambda: listing.car_data(record, retired=retired),
        rows=lambda: listing.car_rows([record], [car] if retired else ()),
    )


@app.command("edit")
@shared
def edit(
    car: Id,
    place: CatalogPlace,
    figures: CarFigures,
    about: About,
    clear: Annotated[
        list[str] | None,
        typer.Option(help="Make a figure blank, like underside.", metavar="FIGURE"),
    ] = None,
    units: UnitsOption = None,
) -> None:
    """Change some figures of a car; what stood before is kept.

    Example: clearance car edit 27 --height "8 1/4 in" --notes "shorter stack"
    """
    from pydantic import ValidationError

    from catalog.car import Car

    typed = vars(figures) | vars(about)
    changes = about.fields() | {field: Car.model_fields[field].default for field in _cleared(clear)}
    if not changes and not any(text is not None for text in typed.values()):
        raise UsageError("nothing to change; name a figure, like --height '8 1/4 in'")
    with open_catalog(place) as catalog:
        known = catalog.car(car)
        changes |= car_fields(figures, units, known)
        try:
            Car(**dict(known) | changes)
        except ValidationError as error:
            hint = (
                "; its blocks are its shape: 'clearance car import' with --blocks changes both"
                if known.blocks
                else ""
            )
            refuse_figures(error, typed, f"car {car!r}", hint)
        catalog.edit_car(car, changes)
    say(f"changed: {car}")


def _cleared(names: list[str] | None) -> list[str]:
    """The fields of `Car` that shall be blank."""
    from catalog.car import Car
    from catalog.words import did_you_mean, quoted

    can_be = {
        field.removesuffix("_mm").removesuffix("_deg").replace("_", "-"): field
        for field, about in Car.model_fields.items()
        if not about.is_required() and field not in _NEVER_BLANK
    }
    for name in names or ():
        if name.replace("_", "-") not in can_be:
            raise UsageError(
                f"--clear: {quoted(name)} is no figure that can be blank; "
                f"{did_you_mean(name, can_be)}"
            )
    return [can_be[name.replace("_", "-")] for name in names or ()]


@app.command("retire")
@shared
def retire(car: Id, place: CatalogPlace) -> None:
    """Leave a car out of checks and lists; it stays in the catalog.

    Example: clearance car retire 27
    """
    with open_catalog(place) as catalog:
        catalog.retire_car(car)
    say(f"retired: {car}")


@app.command("restore")
@shared
def restore(car: Id, place: CatalogPlace) -> None:
    """Bring a retired car back.

    Example: clearance car restore 27
    """
    with open_catalog(place) as catalog:
        catalog.restore_car(car)
    say(f"restored: {car}")


@app.command("import")
@shared
def import_(
    cars: Annotated[Path, typer.Argument(help="A file like cars.csv.", metavar="CARS.CSV")],
    place: CatalogPlace,
    blocks: Annotated[
        Path | None, typer.Option(help="The file of their blocks.", metavar="FILE")
    ] = None,
    frames: Annotated[
        Path | None,
        typer.Option(help="The file of the frames of articulated stock.", metavar="FILE"),
    ] = None,
    units: UnitsOption = None,
) -> None:
    """Add the cars of a file, and change those that differ; all or nothing.

    Without --blocks, cars that are known keep the blocks they have, and without --frames their
    frames where the file gives no wheelbase.

    Example: clearance car import cars.csv --blocks blocks.csv --frames frames.csv
    """
    from catalog.cars_csv import read_cars

    framed = _framed(place) if frames is None else frozenset()
    table = read_cars(cars, blocks, frames, units=units, framed=framed)
    with open_catalog(place, create=True) as catalog:
        count = catalog.import_cars(table, keep_blocks=blocks is None, keep_frames=frames is None)
    print(f"{count.added} added, {count.changed} changed, {count.unchanged} unchanged")
    if count.retired:
        say(f"still retired: {', '.join(count.retired)}")


def _framed(place: CatalogPlace) -> frozenset[str]:
    """The cars of a catalog that are described by frames; where there is none yet, none."""
    from catalog.errors import StoreError

    try:
        with open_catalog(place) as catalog:
            return catalog.framed_ids()
    except StoreError:  # if more is wrong with it, the import itself will say so
        return frozenset()


@app.command("export")
@shared
def export(
    place: CatalogPlace,
    cars: Annotated[
        Path | None,
        typer.Argument(help="The file to write; none: the screen.", metavar="CARS.CSV"),
    ] = None,
    blocks: Annotated[
        Path | None, typer.Option(help="Where the blocks go.", metavar="FILE")
    ] = None,
    frames: Annotated[
        Path | None, typer.Option(help="Where the frames go.", metavar="FILE")
    ] = None,
    output: Annotated[
        Path | None, typer.Option(help="The same as CARS.CSV.", metavar="FILE")
    ] = None,
) -> None:
    """Write the cars to a file that `car import` reads back equal.

    Example: clearance car export cars.csv --blocks blocks.csv --frames frames.csv
    """
    from catalog.blocks_csv import write_blocks_csv
    from catalog.cars_csv import write_cars_csv
    from catalog.frames_csv import write_frames_csv

    if cars and output:
        raise UsageError(f"the cars cannot go to {cars} and to {output}; name one file")
    file = cars or output
    _refuse_one_file_twice([path for path in (file, blocks, frames) if path])
    with open_catalog(place) as catalog:
        table = catalog.cars()
    if blocks is None and len(table.block_car):
        raise UsageError("some cars have blocks; say with --blocks FILE where these go")
    if frames is None and len(table.frame_car):
        raise UsageError("some cars have frames; say with --frames FILE where these go")
    if blocks:
        write_file(blocks, write_blocks_csv(table))
    if frames:
        write_file(frames, write_frames_csv(table))
    if file is None:
        write_out(write_cars_csv(table))
        return
    write_file(file, write_cars_csv(table))
    written = ", ".join(str(path) for path in (file, blocks, frames) if path)
    say(f"{len(table)} cars written: {written}")


def _refuse_one_file_twice(files: list[Path]) -> None:
    for path in files:
        if sum(other.absolute() == path.absolute() for other in files) > 1:
            raise UsageError(f"cars, blocks and frames cannot go to one file, {path}; name others")
