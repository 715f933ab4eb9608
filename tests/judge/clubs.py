"""Cars, helices and random fleets for the tests of the judge."""

from itertools import pairwise

import numpy as np

from catalog.car import Block, Car
from catalog.columns import CarTable
from catalog.frames import Frame
from catalog.helix import Deck, Helix, Lead, Obstacle, Posts, ProfilePoint, Track
from catalog.survey import Reading, Survey
from clearance.judge.findings import CheckColumn, CheckResult, Finding
from clearance.judge.fleet import Fleet

INNER_MM, OUTER_MM = 1190.0, 1380.0


def car(name: str = "27", **changes: object) -> Car:
    """A boxcar on trucks; any figure can be changed."""
    figures: dict[str, object] = {
        "height_mm": 190.0,
        "width_mm": 110.0,
        "length_mm": 600.0,
        "wheelbase_mm": 400.0,
        "truck_wheelbase_mm": 60.0,
    }
    return Car(id=name, **(figures | changes))


def block(along: tuple[float, float], sides: tuple[float, float], up: tuple[float, float]) -> Block:
    """A block: from and to, left and right, bottom and top. [mm]"""
    return Block(
        from_mm=along[0],
        to_mm=along[1],
        left_mm=sides[0],
        right_mm=sides[1],
        bottom_mm=up[0],
        top_mm=up[1],
    )


def fleet_of(*cars: Car) -> Fleet:
    return Fleet(CarTable.from_cars(cars))


def helix(**changes: object) -> Helix:
    """A double-track helix of 285 mm a turn (headroom 223 mm); any figure can be changed."""
    figures: dict[str, object] = {
        "name": "Quarry Bank",
        "gauge_mm": 45.0,
        "turns": 2.5,
        "rise_per_turn_mm": 285.0,
        "brackets_per_turn": 12,
        "tracks": (
            Track(name="inner", radius_mm=INNER_MM),
            Track(name="outer", radius_mm=OUTER_MM),
        ),
        "deck": Deck(depth_mm=38.0, beam_depth_mm=24.0, beam_width_mm=38.0),
        "posts": Posts(inside_mm=110.0, outside_mm=120.0),
    }
    return Helix(**(figures | changes))


def single(radius_mm: float = INNER_MM, cant_mm: float = 0.0, **changes: object) -> Helix:
    """The same with the inner track alone."""
    track = Track(name="inner", radius_mm=radius_mm, cant_mm=cant_mm)
    return helix(tracks=(track,), **changes)


def column(result: CheckResult, track: str, check: str) -> CheckColumn | None:
    """The column of one check on one track; None: there is none."""
    found = [column for column in result.on_track(track) if column.check == check]
    assert len(found) <= 1
    return found[0] if found else None


def finding(result: CheckResult, track: str, check: str, number: int = 0) -> Finding | None:
    """The finding of one car by its number; None: there is none."""
    found = [f for f in result.findings(number, track) if f.check == check]
    assert len(found) <= 1
    return found[0] if found else None


def random_car(rng: np.random.Generator, name: str, height_mm: tuple[float, float]) -> Car:
    """From a four-wheel truck to a long car; half of them of several blocks, most lopsided."""
    wheelbase = round(float(rng.uniform(80, 480)), 1)
    front, rear = (round(float(part), 1) for part in rng.uniform(5, 0.45 * wheelbase + 40, 2))
    length = round(wheelbase + front + rear, 1)
    height = round(float(rng.uniform(*height_mm)), 1)
    left, right = (round(float(side), 1) for side in rng.uniform(30, 75, 2))
    blocks: list[Block] = []
    if rng.random() < 0.5:
        cuts = np.sort(rng.uniform(0.05, 0.95, int(rng.integers(1, 4)))) * length
        edges = [0.0, *(round(float(cut), 1) for cut in cuts), length]
        for start, end in pairwise(edges):
            if end - start > 1:
                low, high = (round(float(part) * height, -1) for part in np.sort(rng.random(2)))
                low = min(low, height - 20)
                narrow = rng.uniform(0.4, 1.0, 2)
                sides = round(left * narrow[0], 1), round(right * narrow[1], 1)
                blocks.append(block((start, end), sides, (low, min(high + 10, height))))
        full = block((0.0, length), (left, right), (30.0, 50.0))
        stack = block((length / 3, length / 2), (left / 2, right / 2), (40.0, height))
        blocks += [full, stack]
    return Car(
        id=name,
        height_mm=height,
        width_mm=left + right if blocks else 2 * left,
        length_mm=length,
        wheelbase_mm=wheelbase,
        truck_wheelbase_mm=float(rng.choice([0.0, round(wheelbase / 5, 1)])),
        front_overhang_mm=None if rng.random() < 0.3 else front,
        minimum_radius_mm=None if rng.random() < 0.5 else round(float(rng.uniform(500, 1100)), 0),
        tolerance_mm=None if rng.random() < 0.5 else round(float(rng.uniform(0, 3)), 1),
        blocks=tuple(blocks),
    )


def random_fleet(
    rng: np.random.Generator, count: int, height_mm: tuple[float, float] = (195.0, 215.0)
) -> Fleet:
    """Random cars, numbered from 0."""
    return fleet_of(*(random_car(rng, str(number), height_mm) for number in range(count)))


# --- articulated cars -----------------------------------------------------------------------------


def frame(name: str, rear: tuple[float, str], front: tuple[float, str]) -> Frame:
    """A frame: where each support is, from the front end of the vehicle, and on what. [mm]"""
    return Frame(
        name=name,
        rear_support_mm=rear[0],
        rear_on=rear[1],
        front_support_mm=front[0],
        front_on=front[1],
    )


def with_frames(one: Car) -> Car:
    """The same car written down as frames: a body on two axles, or on two trucks.

    Frames must not reach beyond the body.
    """
    assert one.overhangs_mm is not None
    assert one.wheelbase_mm is not None
    front = one.overhangs_mm[0]
    rear, half = front + one.wheelbase_mm, one.truck_wheelbase_mm / 2
    frames = [frame("body", (rear, "track"), (front, "track"))]
    if half:
        frames = [
            frame("body", (rear, "rear truck"), (front, "front truck")),
            frame("rear truck", (rear + half, "track"), (rear - half, "track")),
            frame("front truck", (front + half, "track"), (front - half, "track")),
        ]
    given = {name: getattr(one, name) for name in Car.model_fields}
    given |= {"wheelbase_mm": None, "truck_wheelbase_mm": 0.0}
    given |= {"front_overhang_mm": None, "rear_overhang_mm": None}
    return Car(**(given | {"frames": tuple(frames)}))


def slung(rng: np.random.Generator, name: str, height_mm: tuple[float, float]) -> Car:
    """A boiler slung between two engine units; on each unit a tank, lopsided."""
    base, gap, over = (round(float(part), 1) for part in rng.uniform((60, 80, 10), (130, 180, 40)))
    inward = round(float(rng.uniform(0, 0.4)) * base, 1)
    fore, hind = (over, over + base), (over + base + gap, over + 2 * base + gap)
    length = hind[1] + over
    pivots = (fore[1] - base / 2 + inward, hind[0] + base / 2 - inward)
    height = round(float(rng.uniform(*height_mm)), 1)
    left, right = (round(float(side), 1) for side in rng.uniform(42, 65, 2))
    tank = round(0.8 * height, 1)
    return Car(
        id=name,
        height_mm=height,
        width_mm=left + right,
        length_mm=length,
        tolerance_mm=1.0,
        frames=(
            frame("rear unit", (hind[1], "track"), (hind[0], "track")),
            frame("front unit", (fore[1], "track"), (fore[0], "track")),
            frame("boiler", (pivots[1], "rear unit"), (pivots[0], "front unit")),
        ),
        blocks=(
            on("front unit", block((0, fore[1] + 5), (left, right), (8, tank))),
            on("rear unit", block((hind[0] - 5, length), (left, right), (9, tank))),
            on("boiler", block((pivots[0], pivots[1]), (40, 40), (60, height - 15))),
            on("boiler", block((pivots[0], pivots[0] + 30), (12, 8), (60, height))),
        ),
    )


def on(frame_name: str, one: Block) -> Block:
    """A block, carried by a frame."""
    return one.model_copy(update={"frame": frame_name})


# --- a helix as it stands -------------------------------------------------------------------------


def random_built(
    rng: np.random.Generator, *, straight: bool | None = None, noise_mm: float = 3.0
) -> tuple[Helix, Survey]:
    """A two-track helix and its survey: boards off their heights, headrooms measured, leads.

    ``straight``: whether there are straight leads; None: as it comes.
    """
    brackets = int(rng.choice([7, 12, 16]))
    last = brackets + int(rng.integers(2, brackets))
    radius = round(float(rng.uniform(700, 1400)), 0)
    leads = []
    if straight is None:
        straight = rng.random() < 0.5
    ends = rng.choice(3) if straight else -1
    for number, at in enumerate(("foot", "head")):
        if straight and ends != number:
            grade = round(float(rng.uniform(-0.01, 0.03)), 3)
            leads.append(Lead(at=at, length_mm=float(rng.integers(300, 900)), grade=grade))
    profile = []
    if not straight and rng.random() < 0.5:
        profile = [ProfilePoint(station=-k, railhead_mm=0.0) for k in (1, 3)]
    obstacles = [
        Obstacle(name="lamp", station=2.4, headroom_mm=222.0, width_mm=6.0),
        Obstacle(name="fence", track="inner", station=3.1, left_mm=99, right_mm=99, top_mm=150),
    ]
    if leads:
        at = leads[0].at
        away = round(float(rng.uniform(0, 0.6)) * leads[0].length_mm, 0)
        obstacles.append(
            Obstacle(name="portal", distance_mm=away, at=at, headroom_mm=225, left_mm=98)
        )
    where = helix(
        turns=last / brackets,
        brackets_per_turn=brackets,
        climbs=str(rng.choice(["counterclockwise", "clockwise"])),
        tracks=(
            Track(name="inner", radius_mm=radius, cant_mm=float(rng.choice([0.0, 2.0]))),
            Track(name="outer", radius_mm=radius + 190),
        ),
        profile=tuple(profile),
        leads=tuple(leads),
        obstacles=tuple(obstacles),
    )
    design = where.design_railheads()
    readings = []
    for station, railhead in design.items():
        if rng.random() < 0.9:
            off = float(rng.normal(0, noise_mm))
            room = round(float(rng.normal(223, noise_mm)), 1) if rng.random() < 0.25 else None
            readings.append(
                Reading(station=station, railhead_mm=round(railhead + off, 1), headroom_mm=room)
            )
            if rng.random() < 0.2:
                readings.append(
                    Reading(station=station, track="outer", railhead_mm=round(railhead - off, 1))
                )
    step = where.rise_per_turn_mm / brackets
    between = round(int(rng.integers(0, last - brackets)) + float(rng.uniform(0.3, 0.7)), 2)
    readings.append(Reading(station=between, railhead_mm=step * between - 1.0, headroom_mm=221.3))
    return where, Survey(readings=tuple(readings))


def one_track(where: Helix, survey: Survey) -> tuple[Helix, Survey]:
    """The same without the outer track, what is read there, and what stands at it alone."""
    inner = where.tracks[:1]
    readings = tuple(it for it in survey.readings if it.track in ("", inner[0].name))
    standing = tuple(it for it in where.obstacles if it.track in ("", inner[0].name))
    return (
        where.model_copy(update={"tracks": inner, "obstacles": standing}),
        Survey(readings=readings),
    )
