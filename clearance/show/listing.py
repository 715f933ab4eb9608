"""What the catalog holds, as text, JSON and rows for CSV: cars and helices."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date
from typing import Any

from catalog.angles import write_angle
from catalog.car import Car
from catalog.helix import Helix, Obstacle, SideDistance
from catalog.history import CarVersion
from catalog.lengths import show_length, show_mm
from catalog.scales import scales_for_gauge, show_scale
from catalog.survey_rows import StoredSurvey
from clearance.judge.allowance import margins_of
from clearance.judge.structure import headroom_mm
from clearance.show.data import Row
from clearance.show.paper import Cell, Grid, Paper, Span, grid, line
from clearance.show.plain import plain
from clearance.show.words import counted, day_words, full_size_mark

__all__ = [
    "car_data",
    "car_rows",
    "car_text",
    "cars_text",
    "helices_text",
    "helix_data",
    "helix_rows",
    "helix_text",
]


_PARTS = ("blocks", "frames")


def cars_text(cars: Sequence[Car], retired: Collection[str]) -> Paper:
    """A row a car."""
    rows: list[list[Cell]] = [
        [
            Span(plain(car.id), "bold"),
            plain(car.name),
            plain(car.owner),
            "" if car.scale is None else show_scale(car.scale),
            *(show_mm(length) for length in (car.height_mm, car.width_mm, car.length_mm)),
            ", ".join(
                ["articulated"] * bool(car.frames)
                + ["drawing"] * (car.dimensions == "full-size")
                + ["retired"] * (car.id in retired)
            ),
        ]
        for car in cars
    ]
    headers = ["car", "name", "owner", "scale", "height", "width", "length", ""]
    return [grid(headers, rows), line(f"{counted(len(cars), 'car')}.")]


def car_text(car: Car, versions: Sequence[CarVersion]) -> Paper:
    """All figures of one car, its frames and blocks, and its history."""
    title = " ".join(filter(None, (plain(car.id), plain(car.name))))
    paper: Paper = [
        line(Span(title + full_size_mark(car.dimensions == "full-size"), "bold")),
        grid([], [fact for fact in _facts(car) if fact[1]]),
    ]
    if car.frames:
        paper += [line(), _frames(car)]
    if car.blocks:
        paper += [line(), _blocks(car)]
    return [*paper, line(), *(line(_version(version)) for version in versions)]


def _facts(car: Car) -> Iterator[tuple[str, str]]:
    """Name and words of each figure; "": it is not known."""
    yield "kind", plain(car.kind)
    yield "owner", plain(car.owner)
    yield "scale", "" if car.scale is None else show_scale(car.scale)
    for field, value in car:
        if field == "truck_wheelbase_mm" and car.frames:
            continue  # the frames say it
        if field == "axles" and value is not None:
            yield field, f"{value:g}"
        elif field.endswith("_mm") and value is not None:
            yield field.removesuffix("_mm").replace("_", " "), show_length(value)
        elif field.endswith("_deg") and value is not None:
            yield field.removesuffix("_deg").replace("_", " "), write_angle(value)
    if car.tolerance_mm is None:
        yield "tolerance", f"{show_length(car.stated_tolerance_mm)}, the usual one"
    yield "weight", car.weight
    yield "measured", " ".join(filter(None, (plain(car.measured_by), str(car.measured_on or ""))))
    yield "notes", plain(car.notes)


def _frames(car: Car) -> Grid:
    rows = [
        [
            plain(frame.name),
            show_mm(frame.rear_support_mm),
            plain(frame.rear_on),
            show_mm(frame.front_support_mm),
            plain(frame.front_on),
        ]
        for frame in car.frames
    ]
    return grid(["frame", "rear support", "on", "front support", "on"], rows)


def _blocks(car: Car) -> Grid:
    framed = bool(car.frames)
    rows = [
        [
            plain(block.name),
            *([plain(car.block_frame(block))] if framed else []),
            *map(
                show_mm,
                (
                    block.from_mm,
                    block.to_mm,
                    block.left_mm,
                    block.right_mm,
                    block.bottom_mm,
                    block.top_mm,
                ),
            ),
        ]
        for block in car.blocks
    ]
    frame = ["frame"] if framed else []
    return grid(["block", *frame, "from", "to", "left", "right", "bottom", "top"], rows)


def _version(version: CarVersion) -> str:
    state = ", retired" if version.retired else ""
    return (
        f"version {version.version}: {version.what} by {plain(version.made_by)}, "
        f"{plain(version.made_at)}{state}"
    )


def car_data(car: Car, *, retired: bool = False) -> dict[str, Any]:
    """One car as JSON: lengths as ``…_mm``, the scale as 1:n."""
    data = car.model_dump(mode="json")
    data["scale"] = None if car.scale is None else show_scale(car.scale)
    return data | {"retired": retired}


def car_rows(cars: list[Car], retired: Collection[str] = ()) -> list[Row]:
    """A row a car, for the listings; without blocks and frames.

    The lengths are the model's own also where ``dimensions`` is full-size. The last column keeps
    such a listing from being taken for a cars.csv, whose full-size rows are divided by the scale.
    """
    rows = [car_data(car, retired=car.id in retired) for car in cars]
    return [{name: row[name] for name in row if name not in _PARTS} for row in rows]


Kept = Mapping[str, Sequence[StoredSurvey]]
"""The surveys that are kept of each helix, by its name, the oldest first."""


def helices_text(helices: Sequence[Helix], kept: Kept, retired: Collection[str]) -> Paper:
    """A row a helix."""
    rows = [
        [
            Span(plain(helix.name), "bold"),
            show_mm(helix.gauge_mm),
            ", ".join(f"{plain(track.name)} {track.radius_mm:g} mm" for track in helix.tracks),
            f"{helix.turns:g}",
            show_mm(helix.rise_per_turn_mm),
            show_mm(headroom_mm(helix), "down"),
            _latest(kept[helix.name]),
            "retired" if helix.name in retired else "",
        ]
        for helix in helices
    ]
    headers = ["helix", "gauge", "tracks", "turns", "rise a turn", "headroom"]
    headers += ["surveyed", ""]
    return [grid(headers, rows), line(f"{len(helices)} heli{'x' if len(helices) == 1 else 'ces'}.")]


def _latest(kept: Sequence[StoredSurvey]) -> str:
    return f"{kept[-1].taken_on}{' approved' if kept[-1].is_approved else ''}" if kept else ""


def _surveyed_on(kept: Sequence[StoredSurvey]) -> tuple[date | None, date | None]:
    """The day of the latest survey, and of the latest with which the helix was approved."""
    approved = (row.taken_on for row in kept if row.is_approved)
    return max((row.taken_on for row in kept), default=None), max(approved, default=None)


def helix_text(helix: Helix, kept: Sequence[StoredSurvey], *, retired: bool) -> Paper:
    """All figures of one helix, the margins that hold on it, and when it was surveyed."""
    title = f"{plain(helix.name)}{' (retired)' if retired else ''}"
    facts = [*_helix_facts(helix), ("surveys", _surveys(kept))]
    return [line(Span(title, "bold")), grid([], facts)]


def _surveys(kept: Sequence[StoredSurvey]) -> str:
    latest, approved = _surveyed_on(kept)
    if latest is None:
        return "none: it is judged as drawn"
    words = f"approved as found on {day_words(approved)}" if approved else "none is approved"
    return f"{len(kept)}, the latest of {day_words(latest)}; {words}"


def _helix_facts(helix: Helix) -> Iterator[tuple[str, str]]:
    margins, own = margins_of(helix), helix.allowance
    scales = ", ".join(show_scale(row.scale) for row in scales_for_gauge(helix.gauge_mm))
    yield "gauge", f"{show_length(helix.gauge_mm)}{f'; runs {scales}' if scales else ''}"
    yield "climbs", f"{helix.climbs}, {helix.turns:g} turns"
    yield "brackets", f"{helix.brackets_per_turn} a turn, 0 to {helix.last_station}"
    yield "rise a turn", show_length(helix.rise_per_turn_mm)
    for track in helix.tracks:
        yield (
            f"{plain(track.name)} track",
            f"radius {show_length(track.radius_mm)}, diameter {show_length(2 * track.radius_mm)}, "
            f"{100 * helix.grade(track):.2f} %"
            + (f", cant {show_length(track.cant_mm)}" if track.cant_mm else ""),
        )
    yield "deck", f"{show_length(helix.deck.depth_mm)} below the railhead"
    depth, width = show_length(helix.deck.beam_depth_mm), show_length(helix.deck.beam_width_mm)
    yield "beam", f"{depth} deep, {width} wide along the track"
    under = "beams" if helix.deck.beam_depth_mm else "deck"
    regular = ", where the climb is regular" if helix.profile else ""
    yield "headroom", f"{show_length(headroom_mm(helix), 'down')} under the {under}{regular}"
    yield "inside", _side(helix.posts.inside_mm)
    yield "outside", _side(helix.posts.outside_mm)
    for name, value in margins._asdict().items():
        if name == "deck_sag_mm":
            continue
        source = "helix file" if getattr(own, name) is not None else "default for the gauge"
        if name in ("headroom_reading_mm", "settlement_mm") and source != "helix file":
            source = "default"
        if name == "play_mm" and own.play_mm is None:
            source = "nobody measured it, none is counted"
        label = f"allowance, {name.removesuffix('_mm').replace('_', ' ')}"
        yield label, f"{show_length(value)}, {source}"
    if own.survey_every_months is not None:
        yield "surveyed", f"every {own.survey_every_months:g} months"
    if helix.stringers is not None:
        yield (
            "deck sag",
            f"{show_length(margins.deck_sag_mm)} under {helix.stringers.train_kg_per_m:g} kg/m",
        )
    for lead in helix.leads:
        climb = f"climbs {100 * lead.grade:g} %" if lead.grade else "level"
        yield f"lead at the {lead.at}", f"straight, {show_length(lead.length_mm)}, {climb}"
    if helix.profile:
        stations = [point.station for point in helix.profile]
        yield "profile", f"{len(stations)} stations, {min(stations):g} to {max(stations):g}"
    for obstacle in helix.obstacles:
        yield "obstacle", _obstacle(obstacle)
    if helix.adjusters is not None:
        nuts = helix.adjusters
        wrench = f", {plain(nuts.wrench)}" if nuts.wrench else ""
        yield (
            "adjusters",
            f"{nuts.pitch_mm:g} mm a turn of the nut, in steps of {nuts.step:g} "
            f"turn{'s' * (nuts.step > 1)}, {show_length(nuts.travel_mm)} each way{wrench}",
        )
    if helix.recovery.hand_mm is not None:
        yield "recovery", f"a hand needs {show_length(helix.recovery.hand_mm)} over a roof"


def _obstacle(obstacle: Obstacle) -> str:
    if obstacle.station is None:
        at = f" at the {obstacle.at}" if obstacle.at else ""
        where = f"{show_length(obstacle.distance_mm or 0.0)} along the lead{at}"
    else:
        where = f"station {obstacle.station:g}"
    track = f", {plain(obstacle.track)} track" if obstacle.track else ""
    room = [
        f"{name} {show_length(value, 'down')}"
        for name, value in (
            ("headroom", obstacle.headroom_mm),
            ("left", obstacle.left_mm),
            ("right", obstacle.right_mm),
        )
        if value is not None
    ]
    return f"{plain(obstacle.name)}, {where}{track}: {', '.join(room)}"


def _side(distance: SideDistance) -> str:
    if distance is None:
        return "not measured"
    return "nothing stands there" if distance == "none" else show_length(distance, "down")


def helix_data(helix: Helix, kept: Sequence[StoredSurvey], *, retired: bool) -> dict[str, Any]:
    """One helix as JSON, with the days of its surveys, and of those with which it was approved."""
    return helix.model_dump(mode="json") | {
        "retired": retired,
        "surveyed_on": [row.taken_on.isoformat() for row in kept],
        "approved_on": [row.taken_on.isoformat() for row in kept if row.is_approved],
    }


def helix_rows(helices: list[Helix], kept: Kept, retired: Collection[str]) -> list[Row]:
    """A row a helix, for the listings; tracks in one cell, and the latest of the surveys."""
    day_cells = {
        name: [day and day.isoformat() for day in _surveyed_on(rows)] for name, rows in kept.items()
    }
    return [
        {
            "name": helix.name,
            "gauge_mm": helix.gauge_mm,
            "turns": helix.turns,
            "rise_per_turn_mm": helix.rise_per_turn_mm,
            "brackets_per_turn": helix.brackets_per_turn,
            "climbs": helix.climbs,
            "tracks": "; ".join(f"{track.name} {track.radius_mm:g} mm" for track in helix.tracks),
            "retired": helix.name in retired,
            "surveyed_on": day_cells[helix.name][0],
            "approved_on": day_cells[helix.name][1],
        }
        for helix in helices
    ]
