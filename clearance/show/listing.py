"""What the catalog holds, as text: cars and helices, in lists and one by one."""

from collections.abc import Collection, Sequence

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from catalog.car import Car
from catalog.helix import Helix, SideDistance
from catalog.history import CarVersion
from catalog.lengths import show_length, show_mm
from catalog.scales import scales_for_gauge, show_scale
from clearance.judge.allowance import margins_of
from clearance.judge.check import headroom_mm
from clearance.show.plain import plain
from clearance.show.tables import fact_table, plain_table
from clearance.show.words import full_size_mark

__all__ = ["car_text", "cars_text", "helices_text", "helix_text"]


def cars_text(cars: Sequence[Car], retired: Collection[str]) -> list[RenderableType]:
    """A row a car."""
    table = plain_table("car", "name", "owner", "scale", "height", "width", "length", "")
    for car in cars:
        marks = [
            "drawing" if car.dimensions == "full-size" else "",
            "retired" if car.id in retired else "",
        ]
        table.add_row(
            Text(plain(car.id), style="bold"),
            Text(plain(car.name)),
            Text(plain(car.owner)),
            "" if car.scale is None else show_scale(car.scale),
            *(show_mm(length) for length in (car.height_mm, car.width_mm, car.length_mm)),
            ", ".join(filter(None, marks)),
        )
    return [table, Text(f"{len(cars)} car{'s' * (len(cars) != 1)}.")]


def car_text(car: Car, versions: Sequence[CarVersion]) -> list[RenderableType]:
    """All figures of one car, its blocks, and its history."""
    title = " ".join(filter(None, (plain(car.id), plain(car.name))))
    facts = fact_table()
    for name, text in (("kind", car.kind), ("owner", car.owner)):
        _fact(facts, name, plain(text))
    _fact(facts, "scale", "" if car.scale is None else show_scale(car.scale))
    for field, value in car:
        if field.endswith("_mm") and value is not None:
            _fact(facts, field.removesuffix("_mm").replace("_", " "), show_length(value))
    if car.tolerance_mm is None:
        _fact(facts, "tolerance", f"{show_length(car.stated_tolerance_mm)}, the usual one")
    by = " ".join(filter(None, (plain(car.measured_by), str(car.measured_on or ""))))
    for name, text in (("weight", car.weight), ("measured", by), ("notes", plain(car.notes))):
        _fact(facts, name, text)
    lines: list[RenderableType] = [
        Text(title + full_size_mark(car.dimensions == "full-size"), style="bold"),
        facts,
    ]
    if car.blocks:
        lines += [Text(), _blocks(car)]
    lines += [Text(), *(Text(_version(version)) for version in versions)]
    return lines


def _fact(table: Table, name: str, text: str) -> None:
    if text:
        table.add_row(name, Text(text))


def _blocks(car: Car) -> Table:
    table = plain_table("block", "from", "to", "left", "right", "bottom", "top")
    for block in car.blocks:
        lengths = (
            block.from_mm,
            block.to_mm,
            block.left_mm,
            block.right_mm,
            block.bottom_mm,
            block.top_mm,
        )
        table.add_row(Text(plain(block.name)), *(show_mm(length) for length in lengths))
    return table


def _version(version: CarVersion) -> str:
    state = ", retired" if version.retired else ""
    return (
        f"version {version.version}: {version.what} by {plain(version.made_by)}, "
        f"{plain(version.made_at)}{state}"
    )


def helices_text(helices: Sequence[Helix], retired: Collection[str]) -> list[RenderableType]:
    """A row a helix."""
    table = plain_table("helix", "gauge", "tracks", "turns", "rise a turn", "headroom", "")
    for helix in helices:
        table.add_row(
            Text(plain(helix.name), style="bold"),
            show_mm(helix.gauge_mm),
            ", ".join(f"{plain(track.name)} {track.radius_mm:g} mm" for track in helix.tracks),
            f"{helix.turns:g}",
            show_mm(helix.rise_per_turn_mm),
            show_mm(headroom_mm(helix), "down"),
            "retired" if helix.name in retired else "",
        )
    return [table, Text(f"{len(helices)} heli{'x' if len(helices) == 1 else 'ces'}.")]


def helix_text(helix: Helix, *, retired: bool) -> list[RenderableType]:
    """All figures of one helix, and the margins that hold on it."""
    margins, own = margins_of(helix), helix.allowance
    facts = fact_table()
    scales = ", ".join(show_scale(row.scale) for row in scales_for_gauge(helix.gauge_mm))
    facts.add_row("gauge", f"{show_length(helix.gauge_mm)}{f'; runs {scales}' if scales else ''}")
    facts.add_row("climbs", f"{helix.climbs}, {helix.turns:g} turns")
    facts.add_row("brackets", f"{helix.brackets_per_turn} a turn, 0 to {helix.last_station}")
    facts.add_row("rise a turn", show_length(helix.rise_per_turn_mm))
    for track in helix.tracks:
        facts.add_row(
            f"{plain(track.name)} track",
            f"radius {show_length(track.radius_mm)}, diameter {show_length(2 * track.radius_mm)}, "
            f"{100 * helix.grade(track):.2f} %"
            + (f", cant {show_length(track.cant_mm)}" if track.cant_mm else ""),
        )
    facts.add_row("deck", f"{show_length(helix.deck.depth_mm)} below the railhead")
    depth, width = show_length(helix.deck.beam_depth_mm), show_length(helix.deck.beam_width_mm)
    facts.add_row("beam", f"{depth} deep, {width} wide along the track")
    under = "beams" if helix.deck.beam_depth_mm else "deck"
    facts.add_row("headroom", f"{show_length(headroom_mm(helix), 'down')} under the {under}")
    facts.add_row("inside", _side(helix.posts.inside_mm))
    facts.add_row("outside", _side(helix.posts.outside_mm))
    for name, value in margins._asdict().items():
        source = "helix file" if getattr(own, name) is not None else "default for the gauge"
        if name in ("headroom_reading_mm", "settlement_mm") and source != "helix file":
            source = "default"
        if name == "play_mm" and own.play_mm is None:
            source = "nobody measured it, none is counted"
        label = f"allowance, {name.removesuffix('_mm').replace('_', ' ')}"
        facts.add_row(label, f"{show_length(value)}, {source}")
    for lead in helix.leads:
        facts.add_row(
            f"lead at the {lead.at}", f"{show_length(lead.length_mm)}, not worked out yet"
        )
    if helix.profile:
        facts.add_row("profile", f"{len(helix.profile)} stations, not worked out yet")
    for obstacle in helix.obstacles:
        where = "on the lead" if obstacle.station is None else f"station {obstacle.station:g}"
        facts.add_row("obstacle", f"{plain(obstacle.name)}, {where}")
    title = f"{plain(helix.name)}{' (retired)' if retired else ''}"
    return [Text(title, style="bold"), facts]


def _side(distance: SideDistance) -> str:
    if distance is None:
        return "not measured"
    return "nothing stands there" if distance == "none" else show_length(distance, "down")
