"""Hypothesis strategies for possible cars, helices and surveys, in every combination of figures."""

import math
from collections.abc import Sequence
from typing import Any

from hypothesis import strategies as st

from catalog.car import Block, Car
from catalog.columns import CarTable
from catalog.frames import Frame, uppermost
from catalog.helix import (
    Adjusters,
    Allowance,
    Deck,
    Helix,
    Lead,
    Obstacle,
    Posts,
    ProfilePoint,
    Recovery,
    Stringers,
    Track,
)
from catalog.survey import Reading, Survey

__all__ = ["car_tables", "cars", "framed_cars", "helices", "lengths", "names", "surveys", "texts"]


def lengths(least_mm: float, most_mm: float) -> st.SearchStrategy[float]:
    """Lengths to 1e-6 mm, as every reader gives them. [mm]"""
    least, most = math.ceil(least_mm * 1e6), math.floor(most_mm * 1e6)
    return st.integers(least, max(least, most)).map(lambda nanometres: nanometres / 1e6)


# What spreadsheets would run, with and without the guards that are put before it.
_RUNNABLE = ("=", "+", "-", "@", "'=", "''@", "'", "'''-", "'\t", "'\r")


_ANYTHING = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=12)
_AWKWARD = st.text(st.sampled_from("=+-@'\";,\t\r\n é€1a"), max_size=8)
_RUNNABLE_TEXT = st.builds(str.__add__, st.sampled_from(_RUNNABLE), _AWKWARD)

texts = st.one_of(_ANYTHING, _AWKWARD, _RUNNABLE_TEXT).map(str.strip)
"""Any text that a file can hold: line ends, quotes, separators and formulas included."""

names = texts.filter(bool)
"""The same, but not empty."""

_OPTIONAL = (
    "scale",
    "gauge_mm",
    "front_overhang_mm",
    "rear_overhang_mm",
    "length_over_couplers_mm",
    "underside_mm",
    "minimum_radius_mm",
    "side_play_mm",
    "axles",
    "truck_swing_deg",
    "coupler_swing_mm",
    "coupler_drop_mm",
    "coupler_angle_deg",
    "tolerance_mm",
    "measured_on",
)
_PARTS = st.lists(st.integers(0, 10**6).map(lambda n: n / 1e6), min_size=18, max_size=18)
_BLANKS = st.sets(st.sampled_from(_OPTIONAL))
_TEXTS = st.tuples(texts, texts, texts, texts)
_SCALES = st.one_of(
    st.sampled_from((1.0, 22.5, 20.3, 29.0, 32.0)), st.floats(1, 40).map(lambda s: round(s, 4))
)
_BLOCK_PARTS = st.lists(st.tuples(texts, _PARTS), max_size=3)


def _between(least_mm: float, most_mm: float, part: float) -> float:
    return round(least_mm + (most_mm - least_mm) * part, 6)


def _blocks(
    parts: list[tuple[str, list[float]]], height: float, width: float, length: float
) -> tuple[Block, ...]:
    """A block as big as the car, perhaps lopsided, and others within it."""
    if not parts:
        return ()
    (name, (part, *_)), *others = parts
    left = _between(width * 0.1, width * 0.9, part)
    right = round(width - left, 6)
    blocks = [
        Block(name=name, from_mm=0.0, to_mm=length, left_mm=left, right_mm=right, top_mm=height)
    ]
    for name, (a, b, c, d, e, f, *_) in others:
        start, bottom = _between(0, length / 2, a), _between(0, height / 2, c)
        blocks.append(
            Block(
                name=name,
                from_mm=start,
                to_mm=_between(start + 1, length, b),
                left_mm=_between(-right / 2, left, e),
                right_mm=_between(right / 2 + 0.001, right, f),
                bottom_mm=bottom,
                top_mm=_between(bottom + 1, height, d),
            )
        )
    return tuple(blocks)


@st.composite
def cars(draw: st.DrawFn) -> Car:
    """A possible car."""
    a, b, c, d, e, f, g, h, i, j, k, m, n, o, p, q, r, s = draw(_PARTS)
    height, width, length = _between(30, 400, a), _between(20, 200, b), _between(60, 2000, c)
    wheelbase = _between(10, length, d)
    truck = max(0.0, _between(-wheelbase / 2, wheelbase - 0.001, e))
    rest = length - wheelbase
    name, kind, owner, notes = draw(_TEXTS)
    blank = draw(_BLANKS)
    front = None if "front_overhang_mm" in blank else _between(0, rest, f)
    optional = {
        "scale": draw(_SCALES),
        "gauge_mm": _between(6, 400, g),
        "front_overhang_mm": front,
        "rear_overhang_mm": _between(0, 1, h) * rest if front is None else round(rest - front, 6),
        "length_over_couplers_mm": _between(length, length + 100, i),
        "underside_mm": _between(0, height - 0.001, j),
        "minimum_radius_mm": _between(math.hypot(wheelbase, truck) / 2 + 0.001, 2400, k),
        "side_play_mm": _between(0, 20, m),
        "axles": (4 if truck else 2) + math.floor(9 * m),
        "truck_swing_deg": _between(0.001, 90, p),
        "coupler_swing_mm": _between(0, 40, q),
        "coupler_drop_mm": _between(0.001, 40, r),
        "coupler_angle_deg": _between(0.001, 90, s),
        "tolerance_mm": _between(0, 29, n),
        "measured_on": draw(st.dates()),
    }
    optional["rear_overhang_mm"] = round(optional["rear_overhang_mm"], 6)
    return Car(
        id=draw(names),
        name=name,
        kind=kind,
        owner=owner,
        notes=notes,
        dimensions="full-size" if o > 0.5 and "scale" not in blank else "model",
        height_mm=height,
        width_mm=width,
        length_mm=length,
        wheelbase_mm=wheelbase,
        truck_wheelbase_mm=truck,
        weight=("", "850 g", "2.4 kg", "12oz")[int(o * 3)],
        measured_by=owner,
        blocks=_blocks(draw(_BLOCK_PARTS), height, width, length),
        **{name: value for name, value in optional.items() if name not in blank},
    )


_FRAME_NAMES = names.filter(lambda name: name != "track")


@st.composite
def framed_cars(draw: st.DrawFn) -> Car:
    """A possible car on frames: axles in any order under them, joined by whatever can join them."""
    plain = draw(cars())
    called = draw(st.lists(_FRAME_NAMES, min_size=1, max_size=6, unique=True))
    # Places far enough apart to be different axles, wherever the car ends.
    at = draw(st.lists(st.integers(0, 59), min_size=12, max_size=12, unique=True))
    places = [round(place * plain.length_mm / 59, 6) for place in at]
    frames: list[Frame] = []
    groups: dict[str, int] = {}
    for number, name in enumerate(called):
        # What each support may rest on: the track, or frames that are not joined yet.
        rear_on = draw(st.sampled_from(("track", *groups)))
        front_on = draw(
            st.sampled_from(
                ("track", *(n for n in groups if n == rear_on or groups[n] != groups.get(rear_on)))
            )
        )
        front, rear = sorted((places.pop(), places.pop()))
        frames.append(
            Frame(
                name=name,
                rear_support_mm=rear,
                rear_on=rear_on,
                front_support_mm=front,
                front_on=front_on,
            )
        )
        joined = {groups[carrier] for carrier in frames[-1].rests_on}
        groups = {n: number if group in joined else group for n, group in groups.items()}
        groups[name] = number
    top = uppermost(frames)
    owners = st.sampled_from((*called, "") if len(top) == 1 else called)
    blocks = [block.model_copy(update={"frame": draw(owners)}) for block in plain.blocks]
    left_out = {"wheelbase_mm", "truck_wheelbase_mm", "front_overhang_mm", "rear_overhang_mm"}
    fields = {name: value for name, value in plain if name not in left_out}
    if plain.axles is not None:
        fields["axles"] = plain.axles + 12  # six frames stand on no more
    if plain.minimum_radius_mm is not None and plain.minimum_radius_mm <= plain.length_mm / 2:
        fields["minimum_radius_mm"] = None
    return Car(**(fields | {"blocks": blocks, "frames": draw(st.permutations(frames))}))


def car_tables(most: int = 5) -> st.SearchStrategy[CarTable]:
    """Up to so many possible cars, with and without frames, each with an id of its own."""
    either = st.one_of(cars(), framed_cars())
    fleets = st.lists(either, max_size=most, unique_by=lambda car: car.id)
    return fleets.map(CarTable.from_cars)


@st.composite
def helices(draw: st.DrawFn) -> Helix:
    """A possible helix."""

    def maybe(strategy: st.SearchStrategy[Any]) -> Any:
        return draw(st.one_of(st.none(), strategy))

    gauge = draw(lengths(6, 64))
    track_names = draw(st.lists(names, min_size=1, max_size=3, unique=True))
    radius, tracks = 700.0, []
    for name in track_names:
        radius = round(radius + draw(lengths(gauge + 1, 200)), 6)
        tracks.append(Track(name=name, radius_mm=radius, cant_mm=draw(lengths(0, gauge / 3))))
    rise = draw(lengths(100, 400))
    place = st.floats(-20, 200, allow_nan=False)
    sides = st.one_of(st.none(), st.just("none"), lengths(1, 700))
    obstacles = st.builds(
        Obstacle,
        name=names,
        track=st.sampled_from(("", *track_names)),
        station=place,
        headroom_mm=lengths(1, 400),
        left_mm=st.one_of(st.none(), lengths(1, 400)),
        bottom_mm=lengths(0, 20),
        top_mm=st.one_of(st.none(), lengths(21, 400)),
        width_mm=st.one_of(st.none(), lengths(0, 400)),
    )
    ends = draw(st.sampled_from(((), ("foot",), ("head",), ("foot", "head"))))
    along = st.builds(
        Obstacle,
        name=names,
        distance_mm=lengths(0, 900),
        at=st.sampled_from(ends if len(ends) == 2 else (None, *ends)),
        headroom_mm=lengths(1, 400),
    )
    either = st.one_of(obstacles, along) if ends else obstacles
    grades = st.floats(-0.15, 0.15)
    brackets = draw(st.integers(3, 720))
    # As drawn, but for what a profile may differ from it however near its points are.
    railheads = st.tuples(st.integers(-20 * 8, 200 * 8).map(lambda n: n / 8), lengths(-2, 2))
    profile = [
        ProfilePoint(station=at, railhead_mm=round(rise * at / brackets + off, 6))
        for at, off in draw(st.lists(railheads, max_size=3, unique_by=lambda point: point[0]))
    ]
    turns = draw(st.floats(0.1, 100))
    # Where a straight lead is, a station beyond the curve may be beyond that lead as well.
    standing = [
        it
        for it in draw(st.lists(either, max_size=3))
        if not ends or it.station is None or 0 <= it.station <= turns * brackets
    ]
    return Helix(
        name=draw(names),
        gauge_mm=gauge,
        turns=turns,
        rise_per_turn_mm=rise,
        brackets_per_turn=brackets,
        climbs=draw(st.sampled_from(("counterclockwise", "clockwise"))),
        tracks=tuple(tracks),
        deck=Deck(
            depth_mm=draw(lengths(0, 40)),
            beam_depth_mm=draw(lengths(0, 40)),
            beam_width_mm=draw(lengths(0, 60)),
        ),
        posts=Posts(inside_mm=draw(sides), outside_mm=draw(sides)),
        allowance=Allowance(overhead_mm=maybe(lengths(0, 30)), play_mm=maybe(lengths(0, 5))),
        adjusters=maybe(
            st.builds(
                Adjusters,
                pitch_mm=lengths(0.1, 5),
                step=st.floats(0.01, 100),
                travel_mm=lengths(1, 100),
                wrench=st.sampled_from(("", "a 13 mm spanner")),
            )
        ),
        profile=tuple(profile),
        obstacles=tuple(standing),
        leads=tuple(
            Lead(at=end, length_mm=draw(lengths(900, 9000)), grade=draw(grades)) for end in ends
        ),
        recovery=Recovery(hand_mm=maybe(lengths(1, 100))),
        stringers=maybe(
            st.builds(
                Stringers,
                width_mm=lengths(5, 100),
                height_mm=lengths(5, 200),
                train_kg_per_m=st.floats(0.1, 100),
                count=st.integers(1, 4),
                modulus_gpa=st.floats(1, 20),
                span_mm=st.none() | lengths(50, 2000),
            )
        ),
    )


def surveys(track_names: Sequence[str] = ()) -> st.SearchStrategy[Survey]:
    """A possible survey of tracks of these names, or of any; whether it fits a helix or not."""
    railhead, headroom = lengths(-200, 900), lengths(1, 400)
    measured = st.one_of(
        st.tuples(railhead, headroom),
        st.tuples(railhead, st.none()),
        st.tuples(st.none(), headroom),
    )
    readings = st.builds(
        lambda station, track, sizes, day, who: Reading(
            station=station,
            track=track,
            railhead_mm=sizes[0],
            headroom_mm=sizes[1],
            taken_on=day,
            taken_by=who,
        ),
        st.one_of(st.integers(-20, 60), st.floats(-20, 60)),
        st.sampled_from(("", *track_names)) if track_names else texts,
        measured,
        st.one_of(st.none(), st.dates()),
        texts,
    )
    return st.lists(
        readings, min_size=1, max_size=6, unique_by=lambda r: (r.track, round(r.station, 6))
    ).map(lambda listed: Survey(readings=tuple(listed)))
