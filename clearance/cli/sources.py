"""Where the helix and the cars of a command come from: the catalog, or files in its place."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, NoReturn

from catalog.errors import DataError, StoreError, UsageError
from clearance.cli.options import BuiltSource, CarFigures, CatalogPlace, Source, Units

if TYPE_CHECKING:
    from contextlib import AbstractContextManager
    from datetime import date

    from pydantic import ValidationError

    from catalog.car import Car
    from catalog.columns import CarTable
    from catalog.helix import Helix
    from catalog.store import Catalog
    from catalog.survey import Survey
    from clearance.judge.fleet import Fleet
    from clearance.show.standing import Standing

__all__ = [
    "Question",
    "car_fields",
    "door_car",
    "gather",
    "named_helix",
    "open_catalog",
    "own_cars",
    "read_length",
    "refuse_figures",
    "require_figures",
]

DOOR_ID = "at the door"
ANGLES = ("truck_swing", "coupler_angle")


class Question(NamedTuple):
    """What a command is asked about: a helix as it stands, and the cars in the order named.

    ``note`` says which cars were left out; "": none.
    """

    standing: "Standing"
    fleet: "Fleet"
    note: str

    @property
    def helix(self) -> "Helix":
        """The helix, as designed."""
        return self.standing.helix

    @property
    def survey(self) -> "Survey | None":
        """How it stands; None: as designed."""
        return self.standing.survey


def open_catalog(place: CatalogPlace, *, create: bool = False) -> "AbstractContextManager[Catalog]":
    """Open the catalog that the options name."""
    from catalog.store import Catalog

    return Catalog.open(place.catalog, create=create)


def gather(
    source: Source,
    ids: Sequence[str] = (),
    door: "Car | None" = None,
    *,
    none_will_do: bool = False,
) -> Question:
    """Fetch the helix and the cars.

    Parameters
    ----------
    source
        What the options name.
    ids
        The cars asked for, each once; none: all of the helix's gauge, and the others are counted.
    door
        A car that is in no catalog; then no other is fetched.
    none_will_do
        Whether there is an answer without any car. Nothing passes where nothing was asked.

    Raises
    ------
    ClearanceError
        Something named is not there, or is wrong.
    """
    from catalog.columns import CarTable
    from clearance.judge.fleet import Fleet

    day = _refuse_contradictions(source, ids, door)
    ids = list(dict.fromkeys(ids))
    standing = _from_files(source)
    table = _table_from_files(source, ids) if source.cars else None
    if door:
        table = CarTable.from_cars([door])
    if standing is None or table is None:
        try:
            with open_catalog(source) as catalog:
                standing = standing or _from_catalog(catalog, source, day)
                if table is None:
                    table = catalog.cars(ids or None)
        except StoreError as error:
            if standing is None and source.helix is not None:
                name = repr(source.helix)
                raise StoreError(f"{name} is no file, and no helix of a catalog: {error}") from None
            if standing is None and source.cars is not None:
                raise StoreError(f"no helix is named with --helix, and {error}") from None
            raise
    helix, fleet, note = standing.helix, Fleet(table), ""
    if not ids and door is None:
        fleet, note = _of_its_gauge(helix, fleet)
    if not len(fleet) and not none_will_do:
        where = f"{source.cars}: holds" if source.cars else "the catalog holds"
        hint = "" if source.cars else "; add some with 'clearance car import cars.csv'"
        raise DataError(f"{where} no car of {helix.gauge_mm:g} mm gauge{hint}")
    return Question(standing, fleet, note)


def _refuse_contradictions(source: Source, ids: Sequence[str], door: "Car | None") -> "date | None":
    """Refuse options that do not go together; gives the day that ``--as-of`` names."""
    from clearance.cli.surveys import as_of_day

    for name in ("blocks", "frames"):
        if getattr(source, name) and not source.cars:
            raise UsageError(f"--{name} goes with --cars; name both files")
    if door and (ids or source.cars):
        raise UsageError("name cars, or give the figures of one at the door; not both")
    day = as_of_day(source)
    if day and source.helix is not None and _is_file(source.helix):
        raise UsageError(
            f"--as-of picks a survey of the catalog, but the helix is a file ({source.helix}); "
            f"name a helix of the catalog, or a survey with --survey"
        )
    return day


def _from_files(source: Source) -> "Standing | None":
    """The helix where a file has it, by the survey of a file or as designed; None: no file has."""
    if source.helix is None or not _is_file(source.helix):
        return None
    from catalog.helix_toml import read_helix_toml

    return _by_file(source, read_helix_toml(Path(source.helix), source.units))


def _by_file(source: Source, helix: "Helix") -> "Standing":
    from clearance.show.standing import Standing

    if source.survey is None:
        return Standing(helix)
    from clearance.cli.surveys import surveyed

    return surveyed(source.survey, helix, source.units)


def _from_catalog(catalog: "Catalog", source: Source, day: "date | None") -> "Standing":
    """The helix where the catalog has it, by the survey of a file or of the catalog."""
    helix = _helix_from_catalog(catalog, source.helix)
    if source.survey or not isinstance(source, BuiltSource):
        return _by_file(source, helix)
    from clearance.cli.surveys import kept

    return kept(catalog, helix, day)


def own_cars(catalog: "Catalog", helix: "Helix") -> "tuple[Fleet, str]":
    """The cars of a catalog that are of a helix's gauge, and a note on the others; "": none."""
    from clearance.judge.fleet import Fleet

    return _of_its_gauge(helix, Fleet(catalog.cars()))


def _of_its_gauge(helix: "Helix", fleet: "Fleet") -> "tuple[Fleet, str]":
    runs = fleet.runs_on(helix.gauge_mm)
    if runs.all():
        return fleet, ""
    others = int((~runs).sum())
    note = (
        f"left out: {others} car{'s' * (others > 1)} of another gauge than "
        f"{helix.gauge_mm:g} mm (check CAR asks about one)"
    )
    return fleet.select(runs), note


def _is_file(name: str) -> bool:
    return name.casefold().endswith(".toml") or Path(name).is_file()


def named_helix(place: CatalogPlace, name: str, units: Units | None) -> "Helix":
    """A helix as drawn: from a file, or of the catalog.

    Raises
    ------
    ClearanceError
        There is none of that name, or the file is wrong.
    """
    if _is_file(name):
        from catalog.helix_toml import read_helix_toml

        return read_helix_toml(Path(name), units)
    with open_catalog(place) as catalog:
        return catalog.helix(name)


def _helix_from_catalog(catalog: "Catalog", name: str | None) -> "Helix":
    if name is not None:
        return catalog.helix(name)
    helices = catalog.helices()
    if len(helices) == 1:
        return helices[0]
    if not helices:
        raise DataError(
            "the catalog holds no helix; add one with 'clearance helix add helix.toml', "
            "or name a file with --helix"
        )
    names = ", ".join(repr(helix.name) for helix in helices)
    raise UsageError(f"the catalog holds {len(helices)} helices; say which with --helix: {names}")


def _table_from_files(source: Source, ids: Sequence[str]) -> "CarTable":
    from catalog.cars_csv import read_cars
    from catalog.words import did_you_mean, quoted

    path = source.cars
    assert path is not None
    table = read_cars(path, source.blocks, source.frames, units=source.units)
    if not ids:
        return table
    rows = {name: row for row, name in enumerate(table.text["id"])}
    for name in ids:
        if name not in rows:
            raise DataError(f"{path}: there is no car {quoted(name)}; {did_you_mean(name, rows)}")
    return table.take([rows[name] for name in ids])


def door_car(figures: CarFigures, units: Units | None) -> "Car | None":
    """The car whose figures were typed; None: none were.

    Raises
    ------
    ClearanceError
        A figure is missing, or wrong.
    """
    from pydantic import ValidationError

    from catalog.car import Car

    if all(text is None for text in vars(figures).values()):
        return None
    fields = car_fields(figures, units)
    require_figures(fields)
    try:
        return Car(id=DOOR_ID, **fields)
    except ValidationError as error:
        refuse_figures(error, vars(figures), "the car at the door")


def require_figures(fields: Mapping[str, Any]) -> None:
    """Refuse a car without the four figures that every car needs.

    Raises
    ------
    UsageError
        One is missing.
    """
    for name in ("height", "width", "length", "wheelbase"):
        if f"{name}_mm" not in fields:
            raise UsageError(f"--{name} is missing; a car needs height, width, length, wheelbase")


def refuse_figures(
    error: "ValidationError", typed: Mapping[str, str | None], what: str, hint: str = ""
) -> NoReturn:
    """Say which of the figures that were typed is impossible, by its option and as it was typed.

    ``hint`` says what else may be wrong where figures do not go together.

    Raises
    ------
    ClearanceError
        Always: UsageError for one figure by itself, DataError where several do not go together.
    """
    from catalog.record import complaint_of, refuse
    from catalog.words import quoted

    place, words = complaint_of(error)
    name = str(place[0]).removesuffix("_mm").removesuffix("_deg") if place else ""
    if typed.get(name) is not None:
        raise UsageError(f"--{name.replace('_', '-')}: {quoted(typed[name])} {words}") from None
    if not place:
        raise DataError(f"{what}: {words}{hint}") from None
    refuse(error, what)


def read_length(option: str, text: str, units: Units | None) -> float:
    """The length that an option means. [mm]

    Raises
    ------
    UsageError
        The text is no clear length.
    """
    from catalog.lengths import parse_length

    try:
        return parse_length(text, units)
    except DataError as error:
        raise UsageError(f"{option}: {error}") from None


def _read_angle(option: str, text: str) -> float:
    """The angle that an option means. [degrees]"""
    from catalog.angles import parse_angle

    try:
        return parse_angle(text)
    except DataError as error:
        raise UsageError(f"{option}: {error}") from None


def _read_axles(text: str) -> float:
    """How many axles an option means."""
    from catalog.cars_csv import parse_axles

    try:
        return parse_axles(text.strip())
    except DataError as error:
        raise UsageError(f"--axles: {error}") from None


def car_fields(
    figures: CarFigures, units: Units | None, known: "Car | None" = None
) -> dict[str, Any]:
    """The fields of `Car` that were typed; the lengths of a full-size drawing at model size.

    Angles are the same at any size.

    Parameters
    ----------
    figures
        As typed.
    units
        What a bare number counts.
    known
        The car that they change. Where its figures are a full-size drawing's, a new one must say
        whether it is too.

    Raises
    ------
    UsageError
        A text is no clear length, angle or scale, or it is not clear what it is the length of.
    """
    from catalog.car import LARGEST_GAUGE_MM
    from catalog.scales import parse_scale

    fields: dict[str, Any] = {}
    scale = None if known is None else known.scale
    if figures.scale is not None:
        try:
            fields["scale"] = scale = parse_scale(figures.scale)
        except DataError as error:
            raise UsageError(f"--scale: {error}") from None
    if known is not None and known.dimensions == "full-size" and figures.dimensions != "model":
        _refuse_doubt(figures, known, scale)
    if figures.dimensions is not None:
        fields["dimensions"] = figures.dimensions
    full_size = figures.dimensions == "full-size"
    if full_size and scale is None:
        raise UsageError("--dimensions full-size needs --scale, like 1:22.5")
    for name, text in vars(figures).items():
        if text is None or name in ("scale", "dimensions"):
            continue
        option = f"--{name.replace('_', '-')}"
        if name == "axles":
            fields[name] = _read_axles(text)
            continue
        if name in ANGLES:
            fields[f"{name}_deg"] = _read_angle(option, text)
            continue
        length = read_length(option, text, units)
        if full_size and scale and (name != "gauge" or length > LARGEST_GAUGE_MM):
            length = round(length / scale, 6)
        fields[f"{name}_mm"] = length
    return fields


def _refuse_doubt(figures: CarFigures, known: "Car", scale: float | None) -> None:
    """Refuse a change to a full-size drawing's figures that does not say what it measures."""
    typed = [
        name
        for name, text in vars(figures).items()
        if text is not None and name not in ("scale", "dimensions", "gauge", "axles", *ANGLES)
    ]
    if typed and figures.dimensions is None:
        raise UsageError(
            f"the figures of car {known.id!r} are a full-size drawing's; say whether "
            f"--{typed[0].replace('_', '-')} is too with --dimensions full-size, or --dimensions "
            f"model"
        )
    if scale != known.scale:
        raise UsageError(
            f"the figures of car {known.id!r} were divided by {known.scale:g}; for another scale "
            f"import it again from the drawing's figures, or give the model's with "
            f"--dimensions model"
        )
