"""Frames that carry a car, and every way in which frames cannot."""

from typing import Any

import pytest
from hypothesis import given
from pydantic import ValidationError

from catalog.car import Block, Car
from catalog.errors import DataError
from catalog.frames import TRACK, Frame, body_frame, bottom_up, uppermost
from catalog.record import complaint_of, refuse
from tests.catalog.possible import framed_cars

SIZES: dict[str, Any] = {"id": "G7", "height_mm": 200.0, "width_mm": 100.0, "length_mm": 620.0}

Row = tuple[str, float, str, float, str]
"""A row of frames.csv: name, rear support and what it rests on, front support and the same."""

REAR: Row = ("rear", 560, TRACK, 440, TRACK)
FRONT: Row = ("front", 180, TRACK, 60, TRACK)
BOILER: Row = ("boiler", 470, "rear", 150, "front")


def _frames(*rows: Row) -> tuple[Frame, ...]:
    names = ("name", "rear_support_mm", "rear_on", "front_support_mm", "front_on")
    return tuple(Frame(**dict(zip(names, row, strict=True))) for row in rows)


def _car(*rows: Row, **figures: Any) -> Car:
    return Car(**(SIZES | {"frames": _frames(*rows)} | figures))


def _block(frame: str, name: str = "") -> Block:
    return Block(
        name=name,
        frame=frame,
        from_mm=0.0,
        to_mm=620.0,
        left_mm=50.0,
        right_mm=50.0,
        top_mm=200.0,
    )


def _refusal(*rows: Row, **figures: Any) -> tuple[str, tuple[str | int, ...]]:
    """The sentence with which a car is refused, and the place that it is about."""
    with pytest.raises(ValidationError) as raised:
        _car(*rows, **figures)
    with pytest.raises(DataError) as told:
        refuse(raised.value, "it")
    line = str(told.value)
    assert "\n" not in line
    return line.removeprefix("it: "), complaint_of(raised.value)[0]


@pytest.mark.parametrize(
    ("rows", "order", "top"),
    [
        ([REAR], ["rear"], ["rear"]),
        # A boiler slung between two engine units, in any order
        ([BOILER, REAR, FRONT], ["rear", "front", "boiler"], ["boiler"]),
        # A boiler fixed to the hind unit: both supports on one frame, even beyond its own
        ([("boiler", 520, "rear", 20, "rear"), REAR], ["rear", "boiler"], ["boiler"]),
        # The same with a front unit that hangs on it: one support an axle, the other on the boiler
        (
            [REAR, ("boiler", 520, "rear", 20, "rear"), ("front", 300, "boiler", 60, TRACK)],
            ["rear", "boiler", "front"],
            ["front"],
        ),
        # Two that nothing joins: they are chained, and neither is the one that the blocks mean
        ([REAR, FRONT], ["rear", "front"], ["rear", "front"]),
        # Span bolsters: four trucks, two bolsters, one load
        (
            [
                ("load", 470, "b", 150, "a"),
                ("a", 180, "t2", 60, "t1"),
                ("b", 560, "t4", 440, "t3"),
                ("t1", 80, TRACK, 40, TRACK),
                ("t2", 200, TRACK, 160, TRACK),
                ("t3", 460, TRACK, 420, TRACK),
                ("t4", 580, TRACK, 540, TRACK),
            ],
            ["t1", "t2", "t3", "t4", "a", "b", "load"],
            ["load"],
        ),
    ],
)
def test_frames_that_carry_a_car(rows: list[Row], order: list[str], top: list[str]) -> None:
    car = _car(*rows)
    assert [frame.name for frame in bottom_up(car.frames)] == order
    assert uppermost(car.frames) == top
    assert car.overhangs_mm is None
    assert car.wheelbase_mm is None


def test_what_a_frame_rests_on() -> None:
    rigid, boiler, mixed = _frames(("b", 500, "a", 20, "a"), BOILER, ("c", 500, "a", 20, TRACK))
    assert (rigid.rests_on, rigid.axles_mm) == (("a",), [])
    assert (boiler.rests_on, boiler.axles_mm) == (("rear", "front"), [])
    assert (mixed.rests_on, mixed.axles_mm) == (("a",), [20.0])


def test_names_are_stripped_and_keep_their_case() -> None:
    frame = Frame(
        name=" Rear ", rear_support_mm=2, rear_on=" track ", front_support_mm=0, front_on="Track"
    )
    assert (frame.name, frame.rear_on, frame.front_on) == ("Rear", TRACK, "Track")


@given(framed_cars())
def test_going_up_every_frame_comes_after_what_carries_it(car: Car) -> None:
    seen: set[str] = set()
    for frame in bottom_up(car.frames):
        assert seen.issuperset(frame.rests_on)
        seen.add(frame.name)
    assert seen == {frame.name for frame in car.frames}
    assert uppermost(car.frames)


@given(framed_cars())
def test_an_axle_pair_needs_a_circle_at_least_as_wide(car: Car) -> None:
    # No two points of a circle are further apart than its diameter.
    for frame in car.frames:
        if frame.rear_on == frame.front_on == TRACK:
            apart = frame.rear_support_mm - frame.front_support_mm
            assert apart <= 2 * car.least_standing_radius_mm * (1 + 1e-12)


def test_the_least_radius_of_a_framed_car_is_that_of_its_longest_unit() -> None:
    assert _car(REAR, FRONT, BOILER).least_standing_radius_mm == 60.0
    assert _car(REAR, FRONT, BOILER, minimum_radius_mm=60.1).minimum_radius_mm == 60.1
    words, _ = _refusal(REAR, FRONT, BOILER, minimum_radius_mm=60.0)
    assert words.startswith("the least radius (60 mm) is one that the car's own length cannot")


@pytest.mark.parametrize(
    ("rows", "words", "frame"),
    [
        (
            [REAR, FRONT, ("boiler", 470, "rear", 150, "fornt")],
            "frame 'boiler' rests on 'fornt', which is no frame of this car; did you mean 'front'?",
            2,
        ),
        (
            [("rear", 560, TRACK, 440, "Track")],
            "frame 'rear' rests on 'Track', which is no frame of this car; did you mean 'track'?",
            0,
        ),
        ([REAR, FRONT, REAR], "two frames are called 'rear'; give each a name of its own", 2),
        (
            [("rear", 620.1, TRACK, 440, TRACK)],
            "frame 'rear': the rear support (620.1 mm) is beyond the rear end of the car (620 mm)",
            0,
        ),
        # Loops, with and without a track beneath
        ([REAR, ("boiler", 470, "boiler", 150, "rear")], "frame 'boiler' rests on itself", 1),
        ([("boiler", 470, "boiler", 150, TRACK)], "frame 'boiler' rests on itself", 0),
        (
            [("cab", 500, "a", 400, "a"), ("a", 470, "b", 150, TRACK), ("b", 400, "a", 200, "a")],
            "frames 'a', 'b' form a loop: each rests on the next, the last on the first",
            1,
        ),
        (
            [
                FRONT,
                ("a", 470, "c", 150, "front"),
                ("b", 400, "a", 200, "a"),
                ("c", 300, "b", 9, "b"),
            ],
            "frames 'a', 'c', 'b' carry one another, and have no track beneath",
            1,
        ),
        # Two units that a boiler joins move against one another, so nothing else may join them
        (
            [REAR, FRONT, BOILER, ("cab", 500, "rear", 100, "front")],
            "frame 'cab' rests on 'rear' and 'front', which are joined already: no curve could be "
            "run",
            3,
        ),
        (
            [("cab", 500, "rear", 100, "boiler"), REAR, FRONT, BOILER],
            "frame 'cab' rests on 'rear' and 'boiler', which are joined already: no curve could be "
            "run",
            0,
        ),
        (
            [REAR, ("front", 440, TRACK, 60, TRACK)],
            "frames 'rear' and 'front' have axles at the same place (440 mm)",
            1,
        ),
        (
            [("front", 500.05, TRACK, 60, TRACK), ("rear", 560, TRACK, 500, TRACK)],
            "frames 'front' and 'rear' have axles at the same place (500.05 mm)",
            1,
        ),
    ],
)
def test_frames_that_cannot_carry_a_car(rows: list[Row], words: str, frame: int) -> None:
    assert _refusal(*rows) == (words, ("frames", frame))


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"name": " "}, "name is empty; every frame needs a name"),
        ({"name": "track"}, "name means the track itself; call the frame something else"),
        ({"rear_on": ""}, "rear_on is empty; it is track, or the name of the frame that carries"),
        ({"rear_support_mm": 60.0}, "frame 'a': the front support (60 mm) is not before the rear"),
        ({"front_support_mm": 200.0}, "frame 'a': the front support (200 mm) is not before the re"),
        ({"front_support_mm": -1.0}, "front_support_mm must not be negative"),
        ({"rear_support_mm": float("nan")}, "rear_support_mm must be a real number"),
        ({"rear_support_mm": 1e6}, "rear_support_mm is absurd"),
    ],
)
def test_an_impossible_frame(fields: dict[str, Any], words: str) -> None:
    good = {
        "name": "a",
        "rear_support_mm": 180.0,
        "rear_on": TRACK,
        "front_support_mm": 60.0,
        "front_on": TRACK,
    }
    Frame(**good)
    with pytest.raises(ValidationError) as raised:
        Frame(**(good | fields))
    with pytest.raises(DataError) as told:
        refuse(raised.value, "it")
    assert str(told.value).startswith(f"it: {words}")


@pytest.mark.parametrize(
    "figures",
    [
        {"wheelbase_mm": 400.0},
        {"truck_wheelbase_mm": 80.0},
        {"front_overhang_mm": 0.0},
        {"rear_overhang_mm": 60.0},
    ],
)
def test_frames_alone_say_where_a_car_is_supported(figures: dict[str, float]) -> None:
    ((name, value),) = figures.items()
    words, place = _refusal(REAR, FRONT, BOILER, **figures)
    called = name.removesuffix("_mm").replace("_", " ")
    assert words == (
        f"the {called} ({value:g} mm) stands beside frames, which say where the car is supported; "
        f"leave it blank"
    )
    assert place == ()


def test_a_car_needs_a_wheelbase_or_frames() -> None:
    assert _refusal() == ("wheelbase_mm is missing", ())
    assert _refusal(wheelbase_mm=None) == ("wheelbase_mm is missing", ())
    assert _car(wheelbase_mm=400.0).overhangs_mm == (110.0, 110.0)


def test_blocks_belong_to_frames() -> None:
    blocks = (_block("front"), _block(""))
    car = _car(REAR, FRONT, BOILER, blocks=blocks)
    assert [car.block_frame(block) for block in blocks] == ["front", "boiler"]
    plain = _car(wheelbase_mm=400.0, blocks=(_block(""),))
    assert plain.block_frame(plain.blocks[0]) == ""


@pytest.mark.parametrize(
    ("rows", "blocks", "words"),
    [
        ([], ["boiler"], "block 1 belongs to frame 'boiler', but the car has no frames"),
        (
            [REAR, FRONT, BOILER],
            ["", "boilre"],
            "block 2 belongs to frame 'boilre', which is no frame of this car; did you mean "
            "'boiler'?",
        ),
        (
            [REAR, FRONT],
            ["front", ""],
            "block 2 does not say to which frame it belongs: rear, front",
        ),
    ],
)
def test_blocks_that_belong_nowhere(rows: list[Row], blocks: list[str], words: str) -> None:
    figures = {} if rows else {"wheelbase_mm": 400.0}
    refused = _refusal(*rows, **figures, blocks=[_block(name) for name in blocks])
    assert refused == (words, ("blocks", len(blocks) - 1))
    named = [_block(name, "hood") for name in blocks]
    words, _ = _refusal(*rows, **figures, blocks=named)
    assert words.startswith("block 'hood' ")


def test_without_blocks_the_body_is_what_carries_all_or_comes_last() -> None:
    """A boiler fixed to the hind unit: the fore unit carries nothing either, in whatever order."""
    fixed: Row = ("boiler", 540, "rear", 450, "rear")
    for rows in ((REAR, FRONT, fixed), (FRONT, REAR, fixed), (REAR, fixed, FRONT)):
        assert body_frame(_frames(*rows)) == "boiler"
    assert body_frame(_frames(REAR, FRONT, BOILER)) == "boiler"
    assert body_frame(()) == ""
