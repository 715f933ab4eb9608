"""Cars kept across runs: added, imported, edited, retired, restored, and what stood before."""

import getpass
import math
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalog.car import Block, Car
from catalog.columns import CarTable
from catalog.errors import DataError
from catalog.frames import TRACK, Frame
from catalog.store import Catalog, ImportCount
from tests.catalog.possible import car_tables


def _car(id: str, **figures: object) -> Car:
    sizes = {"height_mm": 200.0, "width_mm": 110.0, "length_mm": 600.0, "wheelbase_mm": 400.0}
    return Car(id=id, **(sizes | figures))


def _block(**figures: object) -> Block:
    sizes = {"from_mm": 0.0, "to_mm": 600.0, "left_mm": 55.0, "right_mm": 55.0, "top_mm": 200.0}
    return Block(**(sizes | figures))


def _fleet(*cars: Car) -> CarTable:
    return CarTable.from_cars(cars)


@pytest.fixture
def catalog(tmp_path: Path) -> Iterator[Catalog]:
    """An empty catalog."""
    with Catalog.open(tmp_path / "catalog.sqlite", create=True) as opened:
        yield opened


def test_a_fleet_is_kept_across_runs(tmp_path: Path) -> None:
    path = tmp_path / "catalog.sqlite"
    fleet = _fleet(_car("27"), _car("4", blocks=(_block(name="body"),)), _car("10"))
    with Catalog.open(path, create=True) as opened:
        assert opened.import_cars(fleet) == ImportCount(added=3, changed=0, unchanged=0)
    for where in (path, str(path), f"sqlite:///{path}"):
        with Catalog.open(where, create=False) as opened:
            assert opened.cars() == fleet
            assert opened.car("4").blocks == (_block(name="body"),)


@settings(max_examples=40)  # each writes a file
@given(car_tables(4))
def test_what_is_stored_is_read_back_equal(
    tmp_path_factory: pytest.TempPathFactory, table: CarTable
) -> None:
    path = tmp_path_factory.getbasetemp() / "property.sqlite"
    path.unlink(missing_ok=True)
    with Catalog.open(path, create=True) as opened:
        assert opened.import_cars(table).added == len(table)
        assert opened.cars() == table
        assert opened.import_cars(table) == ImportCount(0, 0, len(table))


def test_importing_the_same_again_changes_nothing_at_all(catalog: Catalog) -> None:
    fleet = _fleet(_car("27", blocks=(_block(), _block(top_mm=100.0))), _car("28"))
    catalog.import_cars(fleet)
    before = catalog.path.read_bytes()
    assert catalog.import_cars(fleet) == ImportCount(added=0, changed=0, unchanged=2)
    assert catalog.path.read_bytes() == before
    assert [version.version for version in catalog.history("27")] == [1]


def test_an_import_counts_and_keeps_what_stood_before(catalog: Catalog) -> None:
    catalog.import_cars(_fleet(_car("27"), _car("28"), _car("29")), who="Ann")
    changed = _car("28", height_mm=190.0)
    count = catalog.import_cars(_fleet(_car("27"), _car("30"), changed), who="Bob")
    assert count == ImportCount(added=1, changed=1, unchanged=1)
    assert catalog.cars().text["id"] == ["27", "28", "29", "30"]
    assert catalog.car("28") == changed
    before, now = catalog.history("28")
    assert (before.version, before.car, before.what, before.made_by) == (
        1,
        _car("28"),
        "import",
        "Ann",
    )
    assert (now.version, now.car, now.what, now.made_by) == (2, changed, "import", "Bob")
    assert len(catalog.history("27")) == 1


@pytest.mark.parametrize(
    "other",
    [
        _car("27", name="Emma"),
        _car("27", height_mm=200.000001),
        _car("27", underside_mm=3.0),
        _car("27", blocks=(_block(),)),
        _car("27", measured_by="Ann", tolerance_mm=1.0),
    ],
)
def test_any_difference_is_a_change(catalog: Catalog, other: Car) -> None:
    catalog.import_cars(_fleet(_car("26"), _car("27"), _car("28")))
    assert catalog.import_cars(_fleet(other)) == ImportCount(added=0, changed=1, unchanged=0)
    assert catalog.import_cars(_fleet(_car("27"))) == ImportCount(added=0, changed=1, unchanged=0)
    assert [version.car for version in catalog.history("27")] == [_car("27"), other, _car("27")]


def test_blocks_of_other_cars_stay_where_they_are(catalog: Catalog) -> None:
    shapes = {id: (_block(name=id), _block(name=id, top_mm=90.0)) for id in ("a", "b", "c")}
    catalog.import_cars(_fleet(*(_car(id, blocks=blocks) for id, blocks in shapes.items())))
    catalog.import_cars(_fleet(_car("b", blocks=(_block(name="new"),))))
    assert catalog.car("a").blocks == shapes["a"]
    assert catalog.car("b").blocks == (_block(name="new"),)
    assert catalog.car("c").blocks == shapes["c"]


def test_a_file_without_blocks_takes_none_away(catalog: Catalog) -> None:
    catalog.import_cars(_fleet(_car("27", blocks=(_block(),)), _car("28")))
    again = _fleet(_car("28"), _car("27"), _car("29"))
    assert catalog.import_cars(again, keep_blocks=True) == ImportCount(1, 0, 2)
    assert catalog.car("27").blocks == (_block(),)
    assert catalog.import_cars(again) == ImportCount(0, 1, 2)
    assert catalog.car("27").blocks == ()


def test_kept_blocks_must_agree_with_the_new_figures(catalog: Catalog) -> None:
    catalog.import_cars(_fleet(_car("27", blocks=(_block(),))))
    fleet = _fleet(_car("26"), _car("27", height_mm=230.0))
    with pytest.raises(DataError, match="car '27': the tallest block is 200 mm high"):
        catalog.import_cars(fleet, keep_blocks=True)
    assert catalog.cars().text["id"] == ["27"]


def test_an_import_is_all_or_nothing(catalog: Catalog) -> None:
    catalog.import_cars(_fleet(_car("27")))
    fleet = _fleet(_car("26"), _car("27", height_mm=190.0), _car("28"))
    fleet.figures["height_mm"][2] = -1.0
    before = catalog.path.read_bytes()
    with pytest.raises(DataError, match="car '28': height_mm must be more than 0"):
        catalog.import_cars(fleet)
    with pytest.raises(DataError, match="car '26' stands twice"):
        catalog.import_cars(_fleet(_car("26"), _car("27"), _car("26")))
    assert catalog.path.read_bytes() == before


def test_a_retired_car_in_a_file_stays_retired(catalog: Catalog) -> None:
    catalog.import_cars(_fleet(_car("27"), _car("28")))
    catalog.retire_car("27")
    count = catalog.import_cars(_fleet(_car("27"), _car("28")))
    assert count == ImportCount(added=0, changed=0, unchanged=2, retired=("27",))
    count = catalog.import_cars(_fleet(_car("27", height_mm=190.0)))
    assert count == ImportCount(added=0, changed=1, unchanged=0, retired=("27",))
    assert catalog.cars().text["id"] == ["28"]
    assert catalog.car("27").height_mm == 190.0


def test_cars_by_id(catalog: Catalog) -> None:
    catalog.import_cars(_fleet(*(_car(str(n)) for n in range(600))))
    assert catalog.cars(["5", "3", "5"]).text["id"] == ["5", "3"]
    many = [str(n) for n in range(599, -1, -1)]
    assert catalog.cars(many).text["id"] == many
    assert len(catalog.cars([])) == 0
    catalog.retire_car("3")
    with pytest.raises(DataError, match="car '3' is retired; 'clearance car restore 3' brings"):
        catalog.cars(["5", "3"])
    assert catalog.cars(["5", "3"], include_retired=True).text["id"] == ["5", "3"]


def test_an_unknown_car_is_answered_with_the_nearest(catalog: Catalog) -> None:
    with pytest.raises(DataError, match="no car '27' in the catalog; there are none yet"):
        catalog.car("27")
    catalog.import_cars(_fleet(_car("Emma"), _car("Otto")))
    with pytest.raises(DataError, match="no car 'Ema' in the catalog; did you mean 'Emma'"):
        catalog.car("Ema")
    for method in (catalog.car, catalog.history, catalog.retire_car, catalog.restore_car):
        with pytest.raises(DataError, match="no car '27' in the catalog; known are Emma, Otto"):
            method("27")
    with pytest.raises(DataError, match="no car '27'"):
        catalog.edit_car("27", {"height_mm": 190.0})


def test_an_id_that_no_file_can_hold_is_an_unknown_one(catalog: Catalog) -> None:
    """As a terminal hands over bytes that are not UTF-8."""
    catalog.add_car(_car("27"), who="Ann\udce9")
    for id in ("27\udce9", "27\0"):
        with pytest.raises(DataError, match="there is no car '27") as raised:
            catalog.car(id)
        assert str(raised.value).encode().isascii()
    assert [version.made_by for version in catalog.history("27")] == ["Ann?"]


def test_a_car_is_added_once(catalog: Catalog) -> None:
    assert catalog.add_car(_car("27", height_mm=200.00000049)) == _car("27")
    assert catalog.car("27") == _car("27")
    with pytest.raises(DataError, match="car '27' is in the catalog, already; 'clearance car edit"):
        catalog.add_car(_car("27"))
    catalog.retire_car("27")
    with pytest.raises(DataError, match="car '27' is in the catalog, retired; 'clearance car rest"):
        catalog.add_car(_car("27"))
    assert [version.what for version in catalog.history("27")] == ["add", "retire"]


def test_a_car_that_rounding_makes_impossible_is_refused(catalog: Catalog) -> None:
    with pytest.raises(DataError, match="car '27': gauge_mm must be more than 0"):
        catalog.add_car(_car("27", gauge_mm=1e-7))
    assert len(catalog.cars()) == 0


def test_an_edit_keeps_the_rest_and_what_stood_before(catalog: Catalog) -> None:
    old = _car("27", owner="Ann", underside_mm=5.0, blocks=(_block(),))
    catalog.add_car(old, who="Ann")
    new = catalog.edit_car("27", {"width_mm": 110.5, "underside_mm": None}, who="Bob")
    assert new == _car("27", owner="Ann", width_mm=110.5, blocks=(_block(),))
    assert catalog.car("27") == new
    assert [(v.version, v.car, v.made_by) for v in catalog.history("27")] == [
        (1, old, "Ann"),
        (2, new, "Bob"),
    ]


def test_an_edit_that_changes_nothing_leaves_no_trace(catalog: Catalog) -> None:
    catalog.add_car(_car("27"))
    before = catalog.path.read_bytes()
    assert catalog.edit_car("27", {"height_mm": 200.0, "name": " "}) == _car("27")
    assert catalog.path.read_bytes() == before


@pytest.mark.parametrize(
    ("edits", "words"),
    [
        ({"height_mm": -1.0}, "car '27': height_mm must be more than 0"),
        ({"height_mm": math.nan}, "car '27': height_mm must be a real number"),
        ({"height_mm": 230.0}, "car '27': the tallest block is 200 mm high, but the height is 230"),
        ({"wheelbase_mm": 700.0}, "car '27': the wheelbase (700 mm) is longer than the body"),
        ({"hieght_mm": 1.0}, "car '27': hieght_mm is not a known field"),
        ({"id": "28"}, "car '28' is in the catalog, already"),
        ({"id": ""}, "car '27': id is empty"),
        ({"height_mm": None}, "car '27': height_mm must be a number"),
        ({"blocks": [{"top_mm": 1.0}]}, "car '27': blocks.0.from_mm is missing"),
    ],
)
def test_an_edit_that_makes_no_possible_car(
    catalog: Catalog, edits: dict[str, object], words: str
) -> None:
    catalog.import_cars(_fleet(_car("27", blocks=(_block(),)), _car("28")))
    before = catalog.path.read_bytes()
    with pytest.raises(DataError) as raised:
        catalog.edit_car("27", edits)
    assert str(raised.value).startswith(words)
    assert catalog.path.read_bytes() == before


def test_a_car_gets_another_id_and_keeps_its_history(catalog: Catalog) -> None:
    catalog.import_cars(_fleet(_car("27", blocks=(_block(),)), _car("28")))
    catalog.edit_car("27", {"id": "127"})
    assert catalog.cars().text["id"] == ["127", "28"]
    assert [version.car.id for version in catalog.history("127")] == ["27", "127"]
    assert catalog.car("127").blocks == (_block(),)


def test_blocks_are_given_by_an_edit(catalog: Catalog) -> None:
    catalog.add_car(_car("27"))
    catalog.edit_car("27", {"blocks": [_block(name="body")]})
    assert catalog.car("27").blocks == (_block(name="body"),)
    catalog.edit_car("27", {"height_mm": 230.0, "blocks": []})
    assert catalog.car("27") == _car("27", height_mm=230.0)


def test_retire_and_restore(catalog: Catalog) -> None:
    catalog.import_cars(_fleet(_car("27"), _car("28")))
    catalog.retire_car("27", who="Ann")
    assert catalog.cars().text["id"] == ["28"]
    assert catalog.cars(include_retired=True).text["id"] == ["27", "28"]
    assert catalog.retired_ids() == {"27"}
    assert catalog.car("27") == _car("27")
    with pytest.raises(DataError, match="car '27' is retired already"):
        catalog.retire_car("27")
    catalog.restore_car("27", who="Bob")
    with pytest.raises(DataError, match="car '27' is not retired"):
        catalog.restore_car("27")
    assert catalog.retired_ids() == frozenset()
    assert [(v.what, v.retired, v.made_by) for v in catalog.history("27")][1:] == [
        ("retire", True, "Ann"),
        ("restore", False, "Bob"),
    ]


def test_who_is_the_login_name_and_when_is_now(
    catalog: Catalog, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(getpass, "getuser", lambda: "carla")
    catalog.add_car(_car("27"))

    def nobody() -> str:
        raise KeyError("getpwuid(): uid not found: 12345")

    monkeypatch.setattr(getpass, "getuser", nobody)
    catalog.edit_car("27", {"name": "Emma"})
    history = catalog.history("27")
    assert [version.made_by for version in history] == ["carla", "unknown"]
    for version in history:
        age = datetime.now().astimezone() - datetime.fromisoformat(version.made_at)
        assert 0 <= age.total_seconds() + 1 < 60


@settings(max_examples=25)  # each writes a file
@given(car_tables(4), car_tables(4), st.data())
def test_any_two_imports_leave_the_second_one_s_cars(
    tmp_path_factory: pytest.TempPathFactory,
    first: CarTable,
    second: CarTable,
    data: st.DataObject,
) -> None:
    """Whatever stood before: named cars are as the last file says, the others as they were."""
    # Let some of the second file be cars of the first, the same or changed.
    rename = data.draw(st.integers(0, min(len(first), len(second))))
    ids = first.text["id"][:rename]
    second.text["id"][:rename] = ids
    second = second.take(
        [n for n, id in enumerate(second.text["id"]) if n < rename or id not in ids]
    )
    path = tmp_path_factory.getbasetemp() / "two.sqlite"
    path.unlink(missing_ok=True)
    with Catalog.open(path, create=True) as opened:
        opened.import_cars(first)
        count = opened.import_cars(second)
        kept = [n for n, id in enumerate(first.text["id"]) if id not in second.text["id"]]
        expected = {
            car.id: car for car in [*first.take(np.array(kept, int)).cars(), *second.cars()]
        }
        assert {car.id: car for car in opened.cars().cars()} == expected
        assert count.added + count.changed + count.unchanged == len(second)
        assert len(opened.cars()) == len(first) + count.added


# --- cars on frames -------------------------------------------------------------------------------

UNITS = (
    Frame(name="rear", rear_support_mm=560, rear_on=TRACK, front_support_mm=440, front_on=TRACK),
    Frame(name="front", rear_support_mm=180, rear_on=TRACK, front_support_mm=60, front_on=TRACK),
    Frame(
        name="boiler", rear_support_mm=470, rear_on="rear", front_support_mm=150, front_on="front"
    ),
)


def _framed(id: str, **figures: object) -> Car:
    sizes = {"height_mm": 200.0, "width_mm": 110.0, "length_mm": 600.0, "frames": UNITS}
    return Car(id=id, **(sizes | figures))


def test_frames_are_kept_and_edited_with_what_stood_before(catalog: Catalog) -> None:
    first = _framed("G7", blocks=(_block(frame="boiler"), _block(frame="front", top_mm=90.0)))
    catalog.import_cars(_fleet(_car("27"), first, _car("28")), who="Ann")
    assert catalog.car("G7") == first
    longer = UNITS[2].model_copy(update={"rear_support_mm": 480.0})
    second = catalog.edit_car("G7", {"frames": [*UNITS[:2], longer]}, who="Bob")
    assert second.frames[2].rear_support_mm == 480.0
    third = catalog.edit_car("G7", {"frames": [], "wheelbase_mm": 400.0, "blocks": []})
    assert (third.frames, third.wheelbase_mm) == ((), 400.0)
    fourth = catalog.edit_car("G7", {"frames": UNITS, "wheelbase_mm": None})
    assert [version.car for version in catalog.history("G7")] == [first, second, third, fourth]
    assert catalog.cars().frame_car.tolist() == [1, 1, 1]
    assert catalog.car("27") == _car("27")
    with pytest.raises(DataError, match="car 'G7': wheelbase_mm is missing"):
        catalog.edit_car("G7", {"frames": []})
    with pytest.raises(DataError, match="car 'G7': frame 'front' rests on itself"):
        catalog.edit_car("G7", {"frames": [UNITS[1].model_copy(update={"rear_on": "front"})]})


def test_importing_frames_again_changes_nothing_and_a_difference_is_a_change(
    catalog: Catalog,
) -> None:
    fleet = _fleet(_framed("G7"), _car("27"), _framed("G8", frames=UNITS[:1]))
    catalog.import_cars(fleet)
    before = catalog.path.read_bytes()
    assert catalog.import_cars(fleet) == ImportCount(0, 0, 3)
    assert catalog.path.read_bytes() == before
    assert catalog.import_cars(_fleet(_framed("G8", frames=UNITS[1:2]))) == ImportCount(0, 1, 0)
    assert catalog.car("G8").frames == UNITS[1:2]
    assert catalog.car("G7").frames == UNITS


def test_blocks_that_are_kept_keep_their_frames(catalog: Catalog) -> None:
    shaped = _framed("G7", blocks=(_block(frame="rear"),))
    catalog.import_cars(_fleet(shaped))
    count = catalog.import_cars(_fleet(_framed("G7", name="Emma")), keep_blocks=True)
    assert count == ImportCount(0, 1, 0)
    assert catalog.car("G7").blocks == (_block(frame="rear"),)
    with pytest.raises(DataError, match="car 'G7': block 1 belongs to frame 'rear', but the car"):
        catalog.import_cars(_fleet(_car("G7")), keep_blocks=True)
    with pytest.raises(DataError, match="block 1 belongs to frame 'rear', which is no frame of"):
        catalog.import_cars(_fleet(_framed("G7", frames=UNITS[1:2])), keep_blocks=True)


def test_what_trucks_and_couplers_bear_is_kept(catalog: Catalog) -> None:
    figures = {
        "truck_swing_deg": 12.5,
        "coupler_swing_mm": 0.0,
        "coupler_drop_mm": 3.0,
        "coupler_angle_deg": 20.0,
    }
    catalog.import_cars(_fleet(_car("27", **figures), _car("28")))
    assert catalog.car("27") == _car("27", **figures)
    assert np.isnan(catalog.cars().figures["coupler_swing_mm"]).tolist() == [False, True]
    catalog.edit_car("27", dict.fromkeys(figures))
    assert catalog.car("27") == _car("27")
