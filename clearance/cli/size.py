"""`clearance size`: a helix for the biggest car owned."""

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from catalog.errors import DataError, UsageError
from clearance.cli.options import Output, Source, Units, number, shared
from clearance.cli.output import emit, say, spare_others, write_file
from clearance.cli.sources import Question, gather, read_length
from clearance.cli.stock import read_beams, read_boards

if TYPE_CHECKING:
    from clearance.judge.size_draft import Limits
    from clearance.judge.stack import Stock

__all__ = ["size"]

_SIZED = ", as sized"
_SITE = "What the site allows"
_TIMBER = "What can be had"


def _limit(words: str) -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(
        help=words, metavar="LENGTH", rich_help_panel=_SITE
    )
    return option


def _count(least: int, most: int) -> Callable[[Any], int]:
    """A parser of whole numbers in a range, for an option."""

    def whole(value: Any) -> int:
        if not str(value).isdecimal() or not least <= int(str(value)) <= most:
            raise typer.BadParameter(f"{value!r} is no whole number from {least} to {most}")
        return int(str(value))

    return whole


@dataclasses.dataclass(frozen=True, eq=False)
class Site:
    """What the site allows."""

    max_grade: Annotated[
        float,
        typer.Option(
            help="Greatest grade of the inner track. [percent]",
            parser=number(0.1, 15),
            metavar="NUMBER",
            rich_help_panel=_SITE,
        ),
    ] = 3.0
    max_diameter: Annotated[str | None, _limit("Greatest diameter over all.")] = None
    max_radius: Annotated[str | None, _limit("The same as a radius: half of it.")] = None
    climb: Annotated[str | None, _limit("Total climb; without it, the turns stay.")] = None
    max_turns: Annotated[
        float | None,
        typer.Option(
            help="Turns at most. With --climb each rises as much as that needs.",
            parser=number(0.01, 100),
            metavar="NUMBER",
            rich_help_panel=_SITE,
        ),
    ] = None


@dataclasses.dataclass(frozen=True, eq=False)
class Timber:
    """What deck and beams can be had."""

    deck_stock: Annotated[
        str | None,
        typer.Option(
            help="Deck boards by thickness, like '12, 18=17.5 mm' (sold as 18, measures 17.5).",
            metavar="LIST",
            rich_help_panel=_TIMBER,
        ),
    ] = None
    beam_stock: Annotated[
        str | None,
        typer.Option(
            help="Beams, width along the track by depth, like '38x24, 38x38 mm'.",
            metavar="LIST",
            rich_help_panel=_TIMBER,
        ),
    ] = None
    track_height: Annotated[
        str | None,
        typer.Option(
            help="Railhead to the top of the deck board: rail, tie, roadbed.",
            metavar="LENGTH",
            rich_help_panel=_TIMBER,
        ),
    ] = None


@shared
def size(
    source: Source,
    site: Site,
    timber: Timber,
    output: Output,
    car: Annotated[
        list[str] | None, typer.Argument(help="Cars by id; none: all of the helix's gauge.")
    ] = None,
    tracks: Annotated[
        int | None,
        typer.Option(
            help="How many tracks; without it, as many as the helix has.",
            parser=_count(1, 9),
            metavar="NUMBER",
        ),
    ] = None,
    write: Annotated[
        Path | None, typer.Option(help="Write the design as a helix file.", metavar="FILE")
    ] = None,
) -> None:
    """A helix for the biggest car owned: the least rise, radius, spacing and room beside it.

    Gauge, tracks, brackets, deck and allowance are those of the helix it starts from.

    Formats: text, csv, json.

    Examples: clearance size --max-grade 3.5 · clearance size 27 104 --tracks 1 --write next.toml ·
    clearance size --climb "90 cm" --max-turns 3 --deck-stock "12, 18 mm" --track-height "20 mm"
    """
    from catalog.helix_toml import write_helix_toml
    from clearance.judge import sizing
    from clearance.judge.size_draft import with_tracks
    from clearance.show import size as show
    from clearance.show.words import from_drawings

    limits, stock = _limits(site, source.units), _stock(timber, source.units)
    asked = gather(dataclasses.replace(source, survey=None), car or ())
    if source.survey:
        say(f"a new helix has no survey: {source.survey} is left aside")
    _refuse_other_gauge(asked)
    helix = asked.helix if tracks is None else with_tracks(asked.helix, tracks)
    design = sizing.size(helix, asked.fleet, limits, stock)
    if write:
        # Under a name of its own: added to a catalog, it must not take the place of what stands.
        spare_others(write, f'{_SIZED}"', "a design that size wrote")
        name = f"{design.helix.name.removesuffix(_SIZED)}{_SIZED}"
        write_file(write, write_helix_toml(design.helix.model_copy(update={"name": name})))
        say(f"written: {write}")
    drawings = from_drawings(asked.fleet)
    emit(
        output,
        note=asked.note,
        text=lambda: show.size_text(design, drawings, inches=source.units == "in"),
        data=lambda: show.size_data(design, drawings),
        rows=lambda: show.size_rows(design, drawings),
    )


def _limits(site: Site, units: Units | None) -> "Limits":
    from clearance.judge.size_draft import Limits

    diameter = _length("--max-diameter", site.max_diameter, units)
    radius = _length("--max-radius", site.max_radius, units)
    if diameter is not None and radius is not None:
        raise UsageError("--max-radius is half of --max-diameter; write one of them")
    return Limits(
        site.max_grade,
        diameter if radius is None else 2 * radius,
        _length("--climb", site.climb, units),
        site.max_turns,
    )


def _stock(timber: Timber, units: Units | None) -> "Stock":
    from clearance.judge.stack import Stock

    return Stock(
        _length("--track-height", timber.track_height, units),
        read_boards("--deck-stock", timber.deck_stock, units),
        read_beams("--beam-stock", timber.beam_stock, units),
    )


def _length(option: str, text: str | None, units: Units | None) -> float | None:
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
