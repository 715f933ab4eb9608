"""What would let a car pass: each mend applied to car, helix or question, and checked again."""

from catalog.car import Car
from catalog.helix import Adjusters, Helix
from catalog.survey import Reading, Survey
from clearance.judge.check import check
from clearance.judge.mending import Mend, mends
from tests.judge.clubs import block, car, fleet_of, helix

NUTS = Adjusters(pitch_mm=1.25, step=0.25, travel_mm=40.0)
LOW = Survey(readings=(Reading(station=5, headroom_mm=212.0),))


def mends_of(one: Car, where: Helix, survey: Survey | None, *others: Car) -> dict[str, Mend]:
    (found,) = mends(check(where, fleet_of(one), survey), fleet_of(one, *others))
    assert len({it.kind for it in found}) == len(found)
    return {it.kind: it for it in found}


def verdict(one: Car, where: Helix, survey: Survey | None) -> int:
    return int(check(where, fleet_of(one), survey).codes()[0])


def test_what_passes_needs_no_mending() -> None:
    assert mends_of(car(), helix(adjusters=NUTS), None) == {}


def test_so_much_off_the_top_and_no_less() -> None:
    where, one = helix(), car(height_mm=202.0)
    assert verdict(one, where, LOW) != 0
    found = mends_of(one, where, LOW)
    assert set(found) == {"off_top"}
    (shaved,) = found["off_top"].shaved
    assert shaved.block == ""
    cut = one.model_copy(update={"height_mm": 202.0 - shaved.off_mm})
    assert verdict(cut, where, LOW) == 0
    not_enough = one.model_copy(update={"height_mm": 203.0 - shaved.off_mm})
    assert verdict(not_enough, where, LOW) != 0


def test_only_blocks_that_are_too_high_are_cut() -> None:
    body = block((0.0, 600.0), (55.0, 55.0), (30.0, 150.0))
    stack = block((80.0, 120.0), (15.0, 15.0), (150.0, 202.0))
    dome = block((280.0, 330.0), (20.0, 20.0), (150.0, 206.0))
    named = [
        it.model_copy(update={"name": name})
        for it, name in ((body, "body"), (stack, "stack"), (dome, "dome"))
    ]
    one = car(height_mm=206.0, blocks=tuple(named))
    where = helix()
    off = {it.block: it.off_mm for it in mends_of(one, where, LOW)["off_top"].shaved}
    assert set(off) == {"stack", "dome"}

    def with_off(**less: float) -> Car:
        blocks = [
            it.model_copy(update={"top_mm": it.top_mm - off.get(it.name, 0) + less.get(it.name, 0)})
            for it in named
        ]
        height = max(it.top_mm for it in blocks)
        return one.model_copy(update={"blocks": tuple(blocks), "height_mm": height})

    assert verdict(with_off(), where, LOW) == 0
    assert verdict(with_off(stack=1.0), where, LOW) != 0
    assert verdict(with_off(dome=1.0), where, LOW) != 0


def test_brackets_let_it_pass_and_spoil_it_for_nobody() -> None:
    where = helix(adjusters=NUTS)
    one, other = car(height_mm=198.0), car("104", height_mm=180.0)
    wave = [Reading(station=k, railhead_mm=23.75 * k + (-1) ** k * 2.0) for k in range(31)]
    low = Reading(station=5.5, track="inner", headroom_mm=212.0)
    wavy = Survey(readings=(*wave, low))
    assert verdict(one, where, wavy) != 0
    mend = mends_of(one, where, wavy, other)["brackets"]
    assert mend.levelling is not None
    expected = mend.levelling.expected
    assert verdict(one, where, expected) == 0
    assert verdict(other, where, wavy) == 0
    assert verdict(other, where, expected) == 0


def test_one_track_only() -> None:
    low = Survey(readings=(Reading(station=5, track="inner", headroom_mm=200.0),))
    found = mends_of(car(), helix(), low)
    assert found["one_track"].tracks == ("outer",)


def test_one_way_round_only() -> None:
    """A stack that stands off the centre line, on a canted curve, is lower on the inner side."""
    tracks = tuple(it.model_copy(update={"cant_mm": 3.0}) for it in helix().tracks)
    where = helix(tracks=tracks)
    body = block((0.0, 600.0), (55.0, 55.0), (30.0, 150.0))
    found = {}
    for top in range(195, 212):
        stack = block((280.0, 320.0), (50.0, -20.0), (150.0, float(top)))
        one = car(height_mm=float(top), blocks=(body, stack))
        result = check(where, fleet_of(one))
        ways = result.facing_codes("inner")[:, 0]
        if ways.min() == 0 < ways.max():
            found = mends_of(one, where, None)
            assert "inner" in found["one_way"].tracks
            passing = ("front uphill", "front downhill")[int(ways.argmin())]
            assert found["one_way"].facing == passing
    assert found


def test_not_past_the_wide_one() -> None:
    """110 and 230 mm wide, 190 mm apart: 20 mm less the throws of both, and 10 mm are wanted."""
    wide = car("wide", width_mm=230.0)
    result = check(helix(), fleet_of(car()))
    (found,) = mends(result, fleet_of(car(), wide, car("narrow", width_mm=80.0)))
    past = {it.tracks: it.cars for it in found}
    assert past == {("inner",): ("wide",), ("outer",): ("wide",)}


def test_sides_are_not_mended_from_above() -> None:
    """Too wide as well as too tall: nothing off its top lets it pass."""
    found = mends_of(car(height_mm=230.0, width_mm=260.0), helix(adjusters=NUTS), None)
    assert "off_top" not in found
    assert "brackets" not in found
