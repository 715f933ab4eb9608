"""Helices kept across runs, and the versions that stood before."""

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings

from catalog.errors import DataError
from catalog.helix import Deck, Helix, Track
from catalog.store import Catalog
from tests.catalog.possible import helices


def _helix(name: str, rise_mm: float = 285.0) -> Helix:
    return Helix(
        name=name,
        gauge_mm=45.0,
        turns=2.5,
        rise_per_turn_mm=rise_mm,
        brackets_per_turn=12,
        tracks=(Track(name="inner", radius_mm=1190.0),),
        deck=Deck(depth_mm=38.0),
    )


@pytest.fixture
def catalog(tmp_path: Path) -> Iterator[Catalog]:
    """An empty catalog."""
    with Catalog.open(tmp_path / "catalog.sqlite", create=True) as opened:
        yield opened


@settings(max_examples=40)  # each writes a file
@given(helices())
def test_a_helix_is_kept_across_runs(
    tmp_path_factory: pytest.TempPathFactory, helix: Helix
) -> None:
    path = tmp_path_factory.getbasetemp() / "helix.sqlite"
    path.unlink(missing_ok=True)
    with Catalog.open(path, create=True) as opened:
        assert opened.add_helix(helix) == "added"
    with Catalog.open(path, create=False) as opened:
        assert opened.helices() == [helix]
        assert opened.helix(helix.name) == helix
        assert opened.add_helix(helix) == "unchanged"


def test_a_helix_of_the_same_name_is_its_next_version(catalog: Catalog) -> None:
    assert catalog.add_helix(_helix("quarry"), who="Ann") == "added"
    assert catalog.add_helix(_helix("attic")) == "added"
    assert catalog.add_helix(_helix("quarry", 270.0), who="Bob") == "changed"
    assert catalog.helices() == [_helix("quarry", 270.0), _helix("attic")]
    with sqlite3.connect(catalog.path) as plain:
        rows = plain.execute(
            "SELECT document, version, made_by FROM helix_history "
            "JOIN changes ON changes.number = change"
        ).fetchall()
    assert [(json.loads(text)["rise_per_turn_mm"], v, who) for text, v, who in rows] == [
        (285.0, 1, "Ann")
    ]


def test_adding_an_equal_helix_leaves_no_trace(catalog: Catalog) -> None:
    catalog.add_helix(_helix("quarry"))
    before = catalog.path.read_bytes()
    assert catalog.add_helix(_helix("quarry")) == "unchanged"
    assert catalog.path.read_bytes() == before


def test_retire_and_restore(catalog: Catalog) -> None:
    catalog.add_helix(_helix("quarry"))
    catalog.add_helix(_helix("attic"))
    catalog.retire_helix("quarry")
    assert catalog.helices() == [_helix("attic")]
    assert catalog.helices(include_retired=True) == [_helix("quarry"), _helix("attic")]
    assert catalog.helix("quarry") == _helix("quarry")
    with pytest.raises(DataError, match="helix 'quarry' is retired already"):
        catalog.retire_helix("quarry")
    catalog.restore_helix("quarry")
    assert catalog.helices() == [_helix("quarry"), _helix("attic")]
    with pytest.raises(DataError, match="helix 'quarry' is not retired"):
        catalog.restore_helix("quarry")


def test_adding_a_retired_helix_brings_it_back(catalog: Catalog) -> None:
    catalog.add_helix(_helix("quarry"))
    catalog.retire_helix("quarry")
    assert catalog.add_helix(_helix("quarry")) == "changed"
    assert catalog.helices() == [_helix("quarry")]


def test_an_unknown_helix_is_answered_with_the_nearest(catalog: Catalog) -> None:
    with pytest.raises(DataError, match="no helix 'quarry' in the catalog; there are none yet"):
        catalog.helix("quarry")
    catalog.add_helix(_helix("Quarry Bank helix"))
    for method in (catalog.helix, catalog.retire_helix, catalog.restore_helix):
        with pytest.raises(DataError, match="did you mean 'Quarry Bank helix'"):
            method("Quary Bank helix")
