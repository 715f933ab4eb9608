"""Hypothesis strategies for cars and helices that are possible, in every combination of figures."""

import math
from typing import Any

from hypothesis import strategies as st

from catalog.car import Block, Car
from catalog.columns import CarTable
from catalog.helix import (
    Adjusters,
    Allowance,
    Deck,
    Helix,
    Lead,
    Obstacle,
    Posts,
    ProfilePoint,
    Track,
)

__all__ = ["car_tables", "cars", "helices", "lengths", "names", "texts"]


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
    "tolerance_mm",
    "measured_on",
)
_PARTS = st.lists(st.integers(0, 10**6).map(lambda n: n / 1e6), min_size=14, max_size=14)
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
    a, b, c, d, e, f, g, h, i, j, k, m, n, o = draw(_PARTS)
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


def car_tables(most: int = 5) -> st.SearchStrategy[CarTable]:
    """Up to so many possible cars, each with an id of its own."""
    fleets = st.lists(cars(), max_size=most, unique_by=lambda car: car.id)
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
        width_mm=st.one_of(st.none(), lengths(0, 400)),
    )
    ends = draw(st.sampled_from(((), ("foot",), ("head",), ("foot", "head"))))
    grades = st.floats(-0.15, 0.15)
    return Helix(
        name=draw(names),
        gauge_mm=gauge,
        turns=draw(st.floats(0.1, 100)),
        rise_per_turn_mm=rise,
        brackets_per_turn=draw(st.integers(3, 720)),
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
            )
        ),
        profile=tuple(
            draw(
                st.lists(
                    st.builds(ProfilePoint, station=place, railhead_mm=lengths(-100, 900)),
                    max_size=3,
                )
            )
        ),
        obstacles=tuple(draw(st.lists(obstacles, max_size=3))),
        leads=tuple(
            Lead(at=end, length_mm=draw(lengths(1, 9000)), grade=draw(grades)) for end in ends
        ),
    )
