"""Options that several commands share, each declared once.

A command takes a whole group as one parameter: ``def check(source: Source, output: Output)``.
`shared` unfolds the groups into options for the parser and folds them up again for the command.
"""

import dataclasses
import functools
import inspect
import math
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, Literal, get_type_hints

import typer

__all__ = [
    "BuiltSource",
    "CarFigures",
    "CatalogPlace",
    "Output",
    "PostedOutput",
    "Source",
    "Units",
    "number",
    "shared",
]

Units = Literal["mm", "in"]

_SOURCE = "What is checked"
_FIGURES = "A car's figures"
_OUTPUT = "What comes out"


def _length(words: str, *names: str) -> Any:
    return typer.Option(*names, help=words, metavar="LENGTH", rich_help_panel=_FIGURES)


def _angle(words: str, *names: str) -> Any:
    return typer.Option(*names, help=words, metavar="ANGLE", rich_help_panel=_FIGURES)


def _text(words: str, *names: str) -> Any:
    return typer.Option(*names, help=words, metavar="TEXT", rich_help_panel=_FIGURES)


def number(least: float, most: float) -> Callable[[Any], float]:
    """What reads an option that is a number in a range; anything else is refused as it stands."""

    def read(text: Any) -> float:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not least <= value <= most:
            raise typer.BadParameter(f"{text!r} is no number from {least:g} to {most:g}")
        return value

    return read


@dataclasses.dataclass(frozen=True, eq=False)
class CatalogPlace:
    """Which catalog."""

    catalog: Annotated[
        str | None,
        typer.Option(
            help="The catalog: a path or URL. Without it, the one in your data folder.",
            envvar="CLEARANCE_CATALOG",
            metavar="PATH",
            rich_help_panel=_SOURCE,
        ),
    ] = None


@dataclasses.dataclass(frozen=True, eq=False)
class Source(CatalogPlace):
    """Which helix and which cars: from the catalog, or from files in its place."""

    helix: Annotated[
        str | None,
        typer.Option(
            help="The helix: its name in the catalog, or a file like helix.toml.",
            metavar="NAME|FILE",
            rich_help_panel=_SOURCE,
        ),
    ] = None
    cars: Annotated[
        Path | None,
        typer.Option(
            help="A file of cars in place of the catalog's.",
            metavar="FILE",
            rich_help_panel=_SOURCE,
        ),
    ] = None
    blocks: Annotated[
        Path | None,
        typer.Option(
            help="The file of their blocks, beside --cars.",
            metavar="FILE",
            rich_help_panel=_SOURCE,
        ),
    ] = None
    frames: Annotated[
        Path | None,
        typer.Option(
            help="The file of their frames, beside --cars.",
            metavar="FILE",
            rich_help_panel=_SOURCE,
        ),
    ] = None
    survey: Annotated[
        Path | None,
        typer.Option(
            help="A survey of the helix, in place of the catalog's.",
            metavar="FILE",
            rich_help_panel=_SOURCE,
        ),
    ] = None
    units: Annotated[
        Units | None,
        typer.Option(help="What a bare number counts.", rich_help_panel=_SOURCE),
    ] = None


@dataclasses.dataclass(frozen=True, eq=False)
class BuiltSource(Source):
    """The same for what is asked of a helix as it stands, today or on another day."""

    as_of: Annotated[
        str | None,
        typer.Option(
            help="The survey that stood then, like 2026-05-31. Without it, the latest.",
            metavar="DAY",
            rich_help_panel=_SOURCE,
        ),
    ] = None


@dataclasses.dataclass(frozen=True, eq=False)
class Output:
    """How a result comes out, and where to."""

    format: Annotated[
        str,
        typer.Option(help="text, csv or json.", rich_help_panel=_OUTPUT),
    ] = "text"
    json: Annotated[
        bool, typer.Option("--json", help="Short for --format json.", rich_help_panel=_OUTPUT)
    ] = False
    output: Annotated[
        Path | None,
        typer.Option(help="Write to this file.", metavar="FILE", rich_help_panel=_OUTPUT),
    ] = None


@dataclasses.dataclass(frozen=True, eq=False)
class PostedOutput(Output):
    """The same for what is posted as well."""

    format: Annotated[
        str,
        typer.Option(help="text, csv, json or markdown.", rich_help_panel=_OUTPUT),
    ] = "text"


@dataclasses.dataclass(frozen=True, eq=False)
class CarFigures:
    """The figures of one car, as typed: lengths like "8 1/2 in", angles like "12" or "12 deg"."""

    height: Annotated[str | None, _length("Railhead to the highest point.")] = None
    width: Annotated[str | None, _length("Over everything.")] = None
    length: Annotated[str | None, _length("Over the body, without couplers.")] = None
    wheelbase: Annotated[str | None, _length("Truck centres, or first to last axle.")] = None
    truck_wheelbase: Annotated[str | None, _length("Axle spacing of a truck.")] = None
    axles: Annotated[str | None, _text("How many axles in all.")] = None
    front_overhang: Annotated[str | None, _length("Front support to body end.")] = None
    rear_overhang: Annotated[str | None, _length("Rear support to body end.")] = None
    underside: Annotated[str | None, _length("Railhead to the lowest part.")] = None
    minimum_radius: Annotated[str | None, _length("The least radius it runs on.")] = None
    side_play: Annotated[str | None, _length("Side play of its middle axles.")] = None
    truck_swing: Annotated[str | None, _angle("How far its trucks turn, like 12 deg.")] = None
    length_over_couplers: Annotated[str | None, _length("Over the couplers.")] = None
    coupler_swing: Annotated[str | None, _length("How far a coupler's face moves, each way.")] = (
        None
    )
    coupler_drop: Annotated[str | None, _length("The step between two faces that still holds.")] = (
        None
    )
    coupler_angle: Annotated[str | None, _angle("The angle to the next car that it bears.")] = None
    gauge: Annotated[str | None, _length("Track gauge, if not the helix's.")] = None
    tolerance: Annotated[str | None, _length("How well it was measured.")] = None
    scale: Annotated[str | None, _text("Its scale, like 1:22.5.")] = None
    dimensions: Annotated[
        Literal["model", "full-size"] | None,
        typer.Option(
            help="full-size: a drawing's lengths, divided by the scale.", rich_help_panel=_FIGURES
        ),
    ] = None


def shared(command: Callable[..., Any]) -> Callable[..., Any]:
    """Unfold a command's groups of options, so that the parser sees each option by itself."""
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {
        name: hint for name, hint in hints.items() if dataclasses.is_dataclass(hint)
    }
    parameters = []
    for name, parameter in inspect.signature(command).parameters.items():
        if name not in groups:
            parameters.append(parameter.replace(annotation=hints[name]))
            continue
        group = groups[name]
        fields = get_type_hints(group, include_extras=True)
        parameters += [
            inspect.Parameter(
                option.name,
                inspect.Parameter.KEYWORD_ONLY,
                default=option.default,
                annotation=fields[option.name],
            )
            for option in dataclasses.fields(group)
        ]
    positional = [p for p in parameters if p.kind is not inspect.Parameter.KEYWORD_ONLY]
    keywords = [p for p in parameters if p.kind is inspect.Parameter.KEYWORD_ONLY]

    @functools.wraps(command)
    def unfolded(**values: Any) -> Any:
        folded = {
            name: group(**{f.name: values.pop(f.name) for f in dataclasses.fields(group)})
            for name, group in groups.items()
        }
        return command(**values, **folded)

    unfolded.__signature__ = inspect.Signature([*positional, *keywords])  # type: ignore[attr-defined]
    unfolded.__annotations__ = {p.name: p.annotation for p in parameters}
    # Otherwise the parser would look through to the command and see the groups again.
    del unfolded.__wrapped__
    return unfolded
