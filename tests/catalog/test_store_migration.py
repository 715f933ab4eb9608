"""A catalog that an older program made is brought up to date when it is opened; nothing is lost."""

import importlib.resources
import shutil
import sqlite3
import subprocess
import sys
from datetime import date
from itertools import product
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine
from sqlalchemy.pool import NullPool

import catalog.database
from catalog.car import Block, Car
from catalog.columns import CarTable
from catalog.errors import StoreError
from catalog.frames import TRACK, Frame
from catalog.helix import Adjusters, Deck, Helix, Posts, ProfilePoint, Track
from catalog.migrations import upgrade
from catalog.store import Catalog
from catalog.survey import Reading, Survey
from catalog.tables import SCHEMA_NUMBER, metadata

SCHEMAS = Path(__file__).parents[1] / "data" / "catalog"
SCHEMA_1, SCHEMA_2, SCHEMA_3 = (SCHEMAS / f"schema_{number}.sql" for number in (1, 2, 3))

# What the older program was told, and wrote into that file.
BOXCAR = Car(
    id="27",
    name='Bergwerk\'s "Emma"',
    kind="boxcar",
    owner="Ann",
    notes="two\nlines; =1+1",
    scale=22.5,
    gauge_mm=45.0,
    height_mm=216.0,
    width_mm=112.0,
    length_mm=650.0,
    wheelbase_mm=400.0,
    truck_wheelbase_mm=80.0,
    front_overhang_mm=120.0,
    rear_overhang_mm=130.0,
    length_over_couplers_mm=690.0,
    underside_mm=12.5,
    minimum_radius_mm=600.0,
    side_play_mm=1.5,
    weight="2.4 kg",
    tolerance_mm=0.5,
    measured_by="Bob",
    measured_on=date(2026, 5, 1),
)
TANK = Car(
    id="G 4",
    owner="Cem",
    height_mm=180.0,
    width_mm=100.0,
    length_mm=300.0,
    wheelbase_mm=150.0,
    dimensions="full-size",
    scale=22.5,
    blocks=(
        Block(
            name="tank",
            from_mm=0,
            to_mm=300,
            left_mm=40,
            right_mm=40,
            bottom_mm=60,
            top_mm=160,
        ),
        Block(name="dome", from_mm=140, to_mm=160, left_mm=50, right_mm=50, top_mm=180),
    ),
)
PLAIN = Car(
    id="10", name="Otto", height_mm=191.0, width_mm=105.0, length_mm=500.0, wheelbase_mm=300.0
)
QUARRY = Helix(
    name="Quarry Bank helix",
    gauge_mm=45.0,
    turns=2.5,
    rise_per_turn_mm=290.0,
    brackets_per_turn=12,
    tracks=(
        Track(name="inner", radius_mm=1190.0),
        Track(name="outer", radius_mm=1380.0, cant_mm=3.0),
    ),
    deck=Deck(depth_mm=38.0, beam_depth_mm=24.0, beam_width_mm=38.0),
    posts=Posts(inside_mm="none", outside_mm=120.0),
    profile=(ProfilePoint(station=-6, railhead_mm=0.0),),
    adjusters=Adjusters(pitch_mm=1.25, travel_mm=40.0),
)


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A catalog of schema 1: three cars, one of them retired, and three helices."""
    return _made(tmp_path / "catalog.sqlite", SCHEMA_1)


@pytest.fixture
def second(tmp_path: Path) -> Path:
    """A catalog of schema 2: a helix with two surveys, and a car."""
    return _made(tmp_path / "second.sqlite", SCHEMA_2)


@pytest.fixture
def third(tmp_path: Path) -> Path:
    """A catalog of schema 3: a helix with an approved survey, and a car."""
    return _made(tmp_path / "third.sqlite", SCHEMA_3)


def _made(path: Path, script: Path) -> Path:
    plain = sqlite3.connect(path)
    plain.executescript(script.read_text(encoding="utf-8"))
    plain.close()
    return path


def _rows(path: Path, query: str) -> list[tuple[object, ...]]:
    plain = sqlite3.connect(path)
    rows = plain.execute(query).fetchall()
    plain.close()
    return rows


def test_an_old_catalog_is_found_again(old: Path) -> None:
    with Catalog.open(old, create=False) as opened:
        assert opened.cars(include_retired=True) == CarTable.from_cars([BOXCAR, TANK, PLAIN])
        assert opened.retired_ids() == {"G 4"}
        assert opened.helix("Quarry Bank helix") == QUARRY
        otto = opened.history("10")
        assert [(v.version, v.what, v.made_by, v.car.height_mm) for v in otto] == [
            (1, "import", "Ann", 190.0),
            (2, "edit", "Bob", 191.0),
        ]
        assert otto[0].made_at == "2026-05-30T09:01:00+00:00"
        tank = opened.history("G 4")
        assert [(v.car.owner, v.retired) for v in tank] == [
            ("", False),
            ("Cem", False),
            ("Cem", True),
        ]
        assert all(v.car.blocks == TANK.blocks for v in tank)
    rises = _rows(
        old,
        "SELECT name, json_extract(h.document, '$.rise_per_turn_mm') FROM helix_history h "
        "JOIN helices ON number = helix ORDER BY 1",
    )
    assert rises == [("Quarry Bank helix", 285.0), ("attic", 280.0)]
    assert _rows(old, "SELECT count(*), sum(added), sum(changed) FROM changes") == [(9, 6, 5)]


def test_what_is_new_can_be_kept_in_it(old: Path) -> None:
    unit = Frame(
        name="unit", rear_support_mm=500, rear_on=TRACK, front_support_mm=100, front_on=TRACK
    )
    framed = Car(id="G7", height_mm=200.0, width_mm=100.0, length_mm=620.0, frames=(unit,))
    survey = Survey(readings=(Reading(station=3, railhead_mm=72.0),))
    with Catalog.open(old, create=False) as opened:
        opened.add_car(framed)
        opened.edit_car("10", {"truck_swing_deg": 12.0, "coupler_drop_mm": 3.0})
        opened.add_survey("Quarry Bank helix", survey)
        assert opened.import_cars(CarTable.from_cars([BOXCAR])).unchanged == 1
    with Catalog.open(old, create=False) as opened:
        assert opened.car("G7") == framed
        assert opened.car("10").truck_swing_deg == 12.0
        assert opened.survey("Quarry Bank helix").survey == survey
    assert _rows(old, "PRAGMA foreign_key_check") == []
    assert _rows(old, "PRAGMA integrity_check") == [("ok",)]


def test_surveys_that_nobody_could_approve_yet(second: Path) -> None:
    """They are as they were, none is approved, and each can be."""
    autumn = Survey(
        readings=(
            Reading(station=3, railhead_mm=71.0, taken_on=date(2025, 10, 4), taken_by="Ann"),
            Reading(station=3, track="outer", railhead_mm=70.5),
        )
    )
    name = "Quarry Bank helix"
    with Catalog.open(second, create=False) as opened:
        old, new = opened.surveys(name)
        assert (old.survey, old.taken_on, old.who) == (autumn, date(2025, 10, 4), "Ann")
        assert (new.taken_on, new.added_at) == (date(2026, 4, 12), "2026-04-12T09:03:00+00:00")
        assert new.survey.readings[0].headroom_mm == 222.5
        assert not old.is_approved
        assert not new.is_approved
        assert opened.add_survey(name, autumn, approve=True, who="Cem") == "approved"
    with Catalog.open(second, create=False) as opened:
        old, new = opened.surveys(name)
        assert (old.approved_by, new.approved_by) == ("Cem", "")
        assert opened.cars().text["id"] == ["27"]
    assert _rows(second, "PRAGMA foreign_key_check") == []
    assert _rows(second, "SELECT what FROM changes ORDER BY number DESC LIMIT 1") == [
        ("approve survey",)
    ]


def test_cars_that_could_not_say_how_many_axles_they_have(third: Path) -> None:
    name = "Quarry Bank helix"
    with Catalog.open(third, create=False) as opened:
        old = opened.car("27")
        assert (old.axles, old.side_play_mm, old.height_mm) == (None, 1.5, 216.0)
        (survey,) = opened.surveys(name)
        assert (survey.is_approved, survey.approved_by) == (True, "Cem")
        assert opened.helix(name) == QUARRY
        assert opened.edit_car("27", {"axles": 3}).axles == 3
    with Catalog.open(third, create=False) as opened:
        assert opened.car("27").axles == 3
        assert [version.car.axles for version in opened.history("27")] == [None, 3]
    assert _rows(third, "PRAGMA foreign_key_check") == []


def test_the_third_step_makes_the_schema_as_it_stood(third: Path, tmp_path: Path) -> None:
    path = tmp_path / "made.sqlite"
    engine = create_engine(f"sqlite:///{path}", poolclass=NullPool)
    with engine.begin() as connection:
        upgrade(connection, 0, 3)
    assert _shape(path) == _shape(third)


def test_the_second_step_makes_the_schema_as_it_stood(second: Path, tmp_path: Path) -> None:
    path = tmp_path / "made.sqlite"
    engine = create_engine(f"sqlite:///{path}", poolclass=NullPool)
    with engine.begin() as connection:
        upgrade(connection, 0, 2)
    assert _shape(path) == _shape(second)


def test_what_the_older_program_let_through_is_told_and_can_be_put_right(old: Path) -> None:
    """It took an obstacle along a straight lead of a helix that has none."""
    with Catalog.open(old, create=False) as opened:
        for ask in (opened.helices, lambda: opened.helix("old shed")):
            with pytest.raises(StoreError) as raised:
                ask()
            assert str(raised.value) == (
                f"{old}: is damaged: table helices, helix 'old shed': obstacle 'lamp' stands 500 "
                f"mm along a straight lead, but there is none; describe it under [[leads]], or "
                f"give a station; put back a copy of it, or add the helix again from its file"
            )
        shed = QUARRY.model_copy(update={"name": "old shed"})
        assert opened.add_helix(shed) == "changed"
        assert opened.helices() == [QUARRY, shed]
    ((document,),) = _rows(old, "SELECT document FROM helix_history WHERE helix = 3")
    assert '"name":"lamp"' in str(document)


def test_foreign_keys_are_watched_again_afterwards(old: Path) -> None:
    with Catalog.open(old, create=False) as opened:
        (on,) = opened._connection.exec_driver_sql("PRAGMA foreign_keys").one()
    assert on == 1


# --- the steps and the tables ---------------------------------------------------------------------


def _shape(path: Path) -> dict[tuple[str, str], set[tuple[str, ...]]]:
    """The columns, foreign keys and indices of each table, as SQLite itself tells them."""
    # What each pragma tells first is a number; columns may stand in another order in a table.
    pragmas = {"table_info": 1, "foreign_key_list": 2, "index_list": 1}
    tables = [
        str(name) for (name,) in _rows(path, "SELECT name FROM sqlite_master WHERE sql <> ''")
    ]
    return {
        (table, pragma): {
            tuple(str(cell).strip("()") for cell in row[start:])
            for row in _rows(path, f"PRAGMA {pragma}({table})")
        }
        for table, (pragma, start) in product(tables, pragmas.items())
    }


def _shape_of_a_new_one(path: Path) -> dict[tuple[str, str], set[tuple[str, ...]]]:
    with Catalog.open(path, create=True):
        pass
    return _shape(path)


def test_the_steps_from_nothing_make_the_tables_as_they_are(tmp_path: Path) -> None:
    """What a new catalog gets at once, and what an old one gets step by step, is the same."""
    engine = create_engine(f"sqlite:///{tmp_path / 'steps.sqlite'}", poolclass=NullPool)
    with engine.begin() as connection:
        upgrade(connection, 0, SCHEMA_NUMBER)
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    made = _shape(tmp_path / "steps.sqlite")
    assert ("surveys", "table_info") in made
    assert made == _shape_of_a_new_one(tmp_path / "once.sqlite")


def test_an_old_catalog_gets_the_shape_of_a_new_one(
    old: Path, second: Path, third: Path, tmp_path: Path
) -> None:
    wanted = _shape_of_a_new_one(tmp_path / "new.sqlite")
    for path in (old, second, third):
        assert _shape(path) != wanted
        with Catalog.open(path, create=False):
            pass
        assert _shape(path) == wanted


def test_the_first_step_makes_the_schema_as_it_stood(old: Path, tmp_path: Path) -> None:
    path = tmp_path / "first.sqlite"
    engine = create_engine(f"sqlite:///{path}", poolclass=NullPool)
    with engine.begin() as connection:
        upgrade(connection, 0, 1)
    assert _shape(path) == _shape(old)


def test_a_column_that_no_step_makes_would_be_seen(tmp_path: Path) -> None:
    engine = create_engine(f"sqlite:///{tmp_path / 'steps.sqlite'}", poolclass=NullPool)
    with engine.begin() as connection:
        upgrade(connection, 0, 1)
        assert compare_metadata(MigrationContext.configure(connection), metadata) != []


def test_alembic_is_read_for_an_old_catalog_alone(old: Path, tmp_path: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from catalog.store import Catalog\n"
        "for path in sys.argv[1:]:\n"
        "    with Catalog.open(Path(path), create=True) as opened: opened.cars()\n"
        "    print('alembic' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "new.sqlite"), str(old)],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.split() == ["False", "True"]


def test_the_steps_are_part_of_the_package() -> None:
    steps = importlib.resources.files("catalog.migrations") / "versions"
    names = {step.name for step in steps.iterdir() if step.name.startswith("schema_")}
    assert names == {f"schema_{number:04}.py" for number in range(1, SCHEMA_NUMBER + 1)}


# --- when it cannot be done -----------------------------------------------------------------------


def _refusal(path: Path) -> str:
    """The one line with which opening ends; the file stays as it was."""
    before = path.read_bytes()
    with pytest.raises(StoreError) as raised:
        Catalog.open(path, create=False).__enter__()
    assert path.read_bytes() == before
    line = str(raised.value)
    assert "\n" not in line
    return line.removeprefix(f"{path}: ")


def test_an_old_catalog_that_is_read_only(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def prepare(raw: sqlite3.Connection, record: object) -> None:
        ever(raw, record)
        raw.execute("PRAGMA query_only = ON")

    ever = catalog.database._prepare
    monkeypatch.setattr(catalog.database, "_prepare", prepare)
    assert _refusal(old).startswith(
        "was made by an older program, and cannot be brought up to date, for it is read-only; "
        "give yourself the right to write it, or open a copy with --catalog"
    )


def test_an_old_catalog_that_is_busy(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(catalog.database, "LOCK_WAIT_S", 0.02)
    busy = sqlite3.connect(old, isolation_level=None)
    busy.execute("BEGIN IMMEDIATE")
    assert _refusal(old).startswith("is in use by another program; nothing was stored; try again")
    busy.execute("COMMIT")
    busy.close()
    with Catalog.open(old, create=False) as opened:
        assert len(opened.cars(include_retired=True)) == 3


def test_a_disk_that_is_full_while_it_is_brought_up_to_date(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pages = len(old.read_bytes()) // 4096

    def prepare(raw: sqlite3.Connection, record: object) -> None:
        ever(raw, record)
        raw.execute(f"PRAGMA max_page_count = {pages}")

    ever = catalog.database._prepare
    monkeypatch.setattr(catalog.database, "_prepare", prepare)
    assert _refusal(old).startswith("does not fit on the disk, which is full; nothing was stored")


def test_an_interrupted_step_leaves_the_old_catalog(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As Ctrl-C does, after the last step and before the end."""

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    before = old.read_bytes()
    monkeypatch.setattr(catalog.database, "_refuse_missing", interrupted)
    with pytest.raises(KeyboardInterrupt):
        Catalog.open(old, create=False).__enter__()
    assert old.read_bytes() == before


def test_two_programs_at_once_do_it_once(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other one was quicker, between our looking and our lock."""
    looked = catalog.database._bring_up_to_date

    def later(*arguments: object) -> None:
        monkeypatch.undo()
        shutil.copy(old, quick)
        with Catalog.open(quick, create=False):
            pass
        shutil.copy(quick, old)
        looked(*arguments)  # type: ignore[arg-type]

    quick = old.with_name("quick.sqlite")
    monkeypatch.setattr(catalog.database, "_bring_up_to_date", later)
    with Catalog.open(old, create=False) as opened:
        assert opened.cars(include_retired=True).text["id"] == ["27", "G 4", "10"]


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("DROP TABLE cars", "is damaged: it cannot be brought up to date ('cars')"),
        ("DROP TABLE blocks", "is damaged, or no catalog of this program ('no such table: blocks"),
        ("DROP TABLE helices", "is damaged: table helices is missing"),
        ("ALTER TABLE cars DROP COLUMN wheelbase_mm", "is damaged: it cannot be brought up to"),
        ("UPDATE clearance_schema SET number = 0", "is damaged: it does not say which schema"),
    ],
)
def test_an_old_catalog_that_is_damaged(old: Path, statement: str, words: str) -> None:
    plain = sqlite3.connect(old, isolation_level=None)
    plain.execute("PRAGMA foreign_keys = OFF")
    plain.execute(statement)
    plain.close()
    assert _refusal(old).startswith(words)
