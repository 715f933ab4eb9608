"""`clearance telltales`: what it says of cords that hang already, and of a clearance gauge."""

import csv
import io
import re
from pathlib import Path

import pytest

from tests.cli.conftest import Clearance

MILL = ("--helix", "mill.toml", "--cars", "cars.csv", "--blocks", "blocks.csv")
LISTS = {"stops", "lets_through", "false_alarms", "missed", "not_measured"}


@pytest.mark.usefixtures("files")
def test_what_is_said_of_each_place(clearance: Clearance) -> None:
    for each in clearance("telltales", *MILL, "--json").data["telltales"]:
        assert set(each["first"]) == {"station", "turn", "angle_deg", "obstacle"}
        # No lead is described: the foot's cords hang beyond the line, the head's over the helix.
        assert each["along_lead_mm"] is None
        assert each["described"] == (each["at"] == "head")
        assert each["below_mm"] == each["lowest"]["headroom_mm"] - each["set_at_mm"]
        assert (each["cords"] - 1) * each["cords_apart_mm"] >= each["width_mm"]
        assert "hung" not in each


@pytest.mark.usefixtures("files")
def test_cords_that_hang_already(clearance: Clearance) -> None:
    """At 400 mm they stop nobody and miss all that do not pass; at 20 mm they stop everybody."""
    right = clearance("telltales", *MILL, "--json").data["telltales"]
    for hung in ("400 mm", "20mm", "15 3/4 in"):
        found = clearance("telltales", *MILL, "--json", "--hung", hung).data["telltales"]
        for each, plain in zip(found, right, strict=True):
            said = each.pop("hung")
            assert each == plain
            assert set(said) == LISTS | {"hung_mm", "raise_mm"}
            assert said["raise_mm"] == each["set_at_mm"] - said["hung_mm"]
            must = set(each["stops"]) - set(each["false_alarms"])
            measured = {*each["stops"], *each["lets_through"]} - set(each["not_measured"])
            if said["hung_mm"] > 100:
                assert said["stops"] == said["false_alarms"] == []
                assert must >= set(said["missed"]) > set()
            else:
                assert set(said["stops"]) >= measured
                assert said["missed"] == []
                assert set(said["false_alarms"]) >= set(each["false_alarms"])
    text = " ".join(clearance("telltales", *MILL, "--hung", "400 mm").out.split())
    assert "Too high: it misses " in text
    text = " ".join(clearance("telltales", *MILL, "--hung", "20 mm").out.split())
    assert "raise it by " in text


@pytest.mark.usefixtures("files")
def test_a_clearance_gauge(clearance: Clearance) -> None:
    data = clearance("telltales", *MILL, "--gauge", "--json").data
    plain = clearance("telltales", *MILL, "--json").data
    gauges = data.pop("gauge")
    assert data == plain
    assert [gauge["track"] for gauge in gauges] == ["near", "far"]
    for gauge in gauges:
        assert set(gauge) == {
            "track", "height_mm", "bands", "not_said", "goes_through", "stops", "one_way",
            "stops_needlessly", "cannot_judge",
        }  # fmt: skip
        assert not set(gauge["goes_through"]) & set(gauge["stops"])
    # Clockwise: the posts inside are on the right; 80 mm less 5, 1.5 of play and 1.
    near, far = ({(b["left_mm"], b["right_mm"]) for b in gauge["bands"]} for gauge in gauges)
    assert near == {(None, 72.0)}
    assert far == {(77.0, None)}
    text = clearance("telltales", *MILL, "--gauge").out
    assert "Clearance gauge, near track: a rigid frame" in text
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.usefixtures("files")
def test_rows_have_the_same_columns(clearance: Clearance) -> None:
    out = clearance("telltales", *MILL, "--format", "csv", "--hung", "6 in").out
    rows = list(csv.DictReader(io.StringIO(out)))
    assert len(rows) == 4
    for row in rows:
        assert None not in row
        assert {"set_at_mm", "first_obstacle", "second_station", "hung_missed"} <= set(row)


@pytest.mark.usefixtures("files")
@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (["--hung", "8"], ["--hung", "write mm or in"]),
        (["--hung", "high"], ["--hung", "'high'"]),
        (["--hung", "0 mm"], ["--hung", "8in"]),
        (["--gauge", "--format", "csv"], ["--gauge has no CSV", "json"]),
    ],
)
def test_what_is_refused(typed: list[str], words: list[str], clearance: Clearance) -> None:
    ended = clearance("telltales", *MILL, *typed)
    assert (ended.status, ended.out) == (2, "")
    assert len(ended.err.splitlines()) == 1
    for word in words:
        assert word in ended.err


@pytest.mark.usefixtures("files")
def test_on_a_straight_lead_places_are_said_along_it(clearance: Clearance) -> None:
    """And stations, as all figures, to four digits."""
    text = Path("mill.toml").read_text(encoding="utf-8")
    lead = '\n[[leads]]\nat = "foot"\nlength = "4 m"\ngrade = 0.02\n'
    Path("leads.toml").write_text(text + lead, encoding="utf-8")
    some = ("--helix", "leads.toml", *MILL[2:])
    places = [
        it[name]
        for it in clearance("telltales", *some, "--json").data["telltales"]
        for name in ("first", "lowest")
    ]
    assert any(it["station"] != int(it["station"]) for it in places)
    for it in places:
        assert it["station"] == round(it["station"], 4)
        assert it["angle_deg"] == round(it["angle_deg"], 4)
    words = " ".join(clearance("telltales", *some).out.split())
    assert re.search(r"At the foot, on the lead, [\d.]+ mm \([^)]*\) from the curve: ", words)
    assert re.search(r"At the head, at station [\d.]+: ", words)
