"""A fleet as columns gives back the same cars, and the check of columns agrees with the record."""

import math
from itertools import combinations_with_replacement, permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from catalog.car import Block, Car
from catalog.columns import FIGURES, CarTable
from catalog.parts import BLOCKS, Parts
from catalog.rounding import multiplied_back, round_mm
from catalog.soundness import sound
from tests.catalog.possible import car_tables, cars, framed_cars

BOXCAR = Car(id="27", height_mm=200.0, width_mm=110.0, length_mm=600.0, wheelbase_mm=400.0)


@given(st.lists(st.one_of(cars(), framed_cars()), max_size=4))
def test_cars_come_back_from_their_columns(fleet: list[Car]) -> None:
    assert CarTable.from_cars(fleet).cars() == fleet


@settings(max_examples=50)  # drawing a fleet takes longer than what is asked of it
@given(car_tables(), st.data())
def test_rows_are_picked_with_their_blocks(table: CarTable, data: st.DataObject) -> None:
    indices = data.draw(st.lists(st.integers(0, max(0, len(table) - 1)), max_size=6))
    if not len(table):
        indices = []
    picked = table.take(indices)
    all_cars = table.cars()
    assert picked.cars() == [all_cars[index] for index in indices]


@settings(max_examples=50)  # drawing a fleet takes longer than what is asked of it
@given(car_tables(4), st.data())
def test_a_mask_picks_the_same_rows_as_their_indices(table: CarTable, data: st.DataObject) -> None:
    mask = np.array(data.draw(st.lists(st.booleans(), min_size=len(table), max_size=len(table))))
    assert table.take(mask.astype(bool)) == table.take(np.flatnonzero(mask))


@settings(max_examples=50)  # drawing a fleet takes longer than what is asked of it
@given(car_tables(3), car_tables(3))
def test_tables_joined_are_the_one_and_then_the_other(one: CarTable, other: CarTable) -> None:
    joined = CarTable.joined([one, other])
    assert joined.take(np.arange(len(one))) == one
    assert joined.take(np.arange(len(one), len(joined))) == other


@settings(max_examples=50)  # drawing a fleet takes longer than what is asked of it
@given(car_tables(3), st.data())
def test_a_changed_row_is_the_only_one_that_differs(table: CarTable, data: st.DataObject) -> None:
    if not len(table):
        return
    row = data.draw(st.integers(0, len(table) - 1))
    other = table.take(np.arange(len(table)))
    kinds = ("text", "figure", "blank", "block", "fewer blocks", "frame", "carrier", "fewer frames")
    kind = data.draw(st.sampled_from(kinds))
    mine = np.flatnonzero(table.block_car == row)
    frames = np.flatnonzero(table.frame_car == row)
    if kind == "text":
        other.text["owner"][row] += "x"
    elif kind == "figure":
        other.figures["height_mm"][row] += 1e-6
    elif kind == "blank":
        old = other.figures["underside_mm"][row]
        other.figures["underside_mm"][row] = 1.0 if math.isnan(old) else math.nan
    elif kind in ("frame", "carrier", "fewer frames"):
        if not len(frames):
            return
        if kind == "frame":
            other.frame_figures["rear_support_mm"][frames[-1]] += 1e-6
        elif kind == "carrier":
            other.frame_front_on[frames[-1]] += "x"
        else:
            kept = np.delete(np.arange(len(table.frame_car)), frames[-1])
            other = table.with_frames(
                table.frame_car[kept],
                [table.frame_name[index] for index in kept],
                [table.frame_rear_on[index] for index in kept],
                [table.frame_front_on[index] for index in kept],
                {name: values[kept] for name, values in table.frame_figures.items()},
            )
    elif not len(mine):
        return
    elif kind == "block":
        other.block_figures["top_mm"][mine[-1]] += 1e-6
    else:
        kept = np.delete(np.arange(len(table.block_car)), mine[-1])
        other = table.with_blocks(
            table.block_car[kept],
            [table.block_name[index] for index in kept],
            {name: values[kept] for name, values in table.block_figures.items()},
            [table.block_frame[index] for index in kept],
        )
    assert table.matches(other).tolist() == [index != row for index in range(len(table))]
    assert table != other


@pytest.mark.parametrize(
    ("value", "rounded"),
    # The nearest float to 0.0000005 lies below it, that to 2.0000005 above: as round() has it.
    [(5e-7, 0.0), (1.5e-6, 2e-6), (215.9, 215.9), (-0.0, 0.0), (99999.9999994, 99999.999999)],
)
def test_rounding_to_a_millionth(value: float, rounded: float) -> None:
    assert round_mm(np.array([value])).tolist() == [rounded]
    assert math.copysign(1, round_mm(np.array([value]))[0]) == 1


@given(
    st.lists(st.one_of(st.floats(-1e5, 1e5), st.integers(-(10**7), 10**7).map(lambda n: n * 5e-7)))
)
def test_rounding_is_that_of_round(values: list[float]) -> None:
    assert round_mm(np.array(values)).tolist() == [round(value, 6) for value in values]


@given(st.integers(1, 10**9).map(lambda n: n / 1000), st.floats(1, 1000))
def test_full_size_figures_go_out_as_they_came_in(full_mm: float, scale: float) -> None:
    model = round_mm(np.array([full_mm]) / scale)
    back = multiplied_back(model, np.array([scale]))
    assert round_mm(back / scale) == model


def test_a_figure_written_by_a_person_comes_back_to_the_digit() -> None:
    # 15 ft 6 in = 4724.4 mm, at 1:20.3; not 4724.399998
    model = round_mm(np.array([4724.4]) / 20.3)
    assert multiplied_back(model, np.array([20.3])).tolist() == [4724.4]


def test_columns_that_do_not_belong_together_are_refused() -> None:
    table = CarTable.from_cars([BOXCAR, BOXCAR])
    one = {"name": ["one"], "frame": [""]}
    two = {name: np.array([1.0, 1.0]) for name in BLOCKS.figures}
    with pytest.raises(ValueError, match="differ in length"):
        Parts(np.array([0]), one, two)
    with pytest.raises(ValueError, match="differ in length"):
        CarTable(table.text | {"name": ["one"]}, table.figures)
    with pytest.raises(ValueError, match="order of its cars"):
        Parts(np.array([1, 0]), {"name": ["one", "two"]}, two)
    with pytest.raises(ValueError, match="belongs to none of its cars"):
        table.with_blocks(np.array([0, 2]), ["one", "two"], two)


def _accepted(table: CarTable) -> list[bool]:
    """Which cars the record itself takes."""
    verdicts = []
    for fields in table.fields():
        try:
            Car(**fields)
            verdicts.append(True)
        except ValidationError:
            verdicts.append(False)
    return verdicts


_CONSTANTS = (0.0, 1.0, 90.0, 400.0, 1000.0, 1e5, 1e99, -1.0, math.inf, -math.inf, math.nan)


def _edges(table: CarTable) -> list[float]:
    """Figures at which a rule about this one car may tip: of, between, and just beside its own."""
    own = [*(values[0] for values in table.figures.values()), 1.0]
    own += [value for values in table.block_figures.values() for value in values]
    own.append(0.03 * table.figures["height_mm"][0])
    own = sorted({value for value in own if not math.isnan(value)})
    reached = [*own, *_CONSTANTS, math.hypot(400, 300) / 2]
    reached += [one + other for one, other in combinations_with_replacement(own, 2)]
    reached += [one - other for one, other in permutations(own, 2)]
    reached += [value / 2 for value in own]
    beside = [value + step for value in reached for step in (-1e-6, 0.0, 1e-6)]
    return list(dict.fromkeys(np.round(beside, 6).tolist()))


_BODY = Block(from_mm=0.0, to_mm=600.0, left_mm=55.0, right_mm=55.0, top_mm=200.0)
_STACK = Block(
    from_mm=100.0, to_mm=150.0, left_mm=20.0, right_mm=-5.0, bottom_mm=150.0, top_mm=200.0
)
_EVERY_FIGURE = {
    "scale": 22.5,
    "gauge_mm": 45.0,
    "truck_wheelbase_mm": 300.0,
    "axles": 6.0,
    "front_overhang_mm": 90.0,
    "rear_overhang_mm": 110.0,
    "length_over_couplers_mm": 640.0,
    "underside_mm": 12.0,
    "minimum_radius_mm": 450.0,
    "side_play_mm": 2.5,
    "truck_swing_deg": 12.0,
    "coupler_swing_mm": 8.0,
    "coupler_drop_mm": 3.0,
    "coupler_angle_deg": 20.0,
}
_KINDS = {
    "few figures": BOXCAR,
    "one overhang": BOXCAR.model_copy(update={"rear_overhang_mm": 90.0}),
    "every figure": BOXCAR.model_copy(update=_EVERY_FIGURE | {"tolerance_mm": 3.0}),
    "full size": BOXCAR.model_copy(update=_EVERY_FIGURE | {"dimensions": "full-size"}),
    "blocks": BOXCAR.model_copy(update={"blocks": (_BODY, _STACK)}),
    "blocks, full size": BOXCAR.model_copy(
        update={"blocks": (_BODY, _STACK), "dimensions": "full-size", "scale": 22.5}
    ),
}


@pytest.mark.parametrize("kind", _KINDS)
def test_the_quick_check_and_the_record_agree_at_every_edge(kind: str) -> None:
    """A car that the columns' check lets through is one that `Car` takes, and the other way."""
    one = CarTable.from_cars([_KINDS[kind]])
    assert _accepted(one) == [True]
    edges = np.array(_edges(one))
    for name in FIGURES:
        many = one.take(np.zeros(len(edges), dtype=int))
        many.figures[name][:] = edges
        wrong = np.flatnonzero(sound(many) != _accepted(many))
        assert edges[wrong].tolist() == [], name
    for name, block in product(BLOCKS.figures, range(len(one.block_car))):
        many = one.take(np.zeros(len(edges), dtype=int))
        many.block_figures[name][block :: len(one.block_car)] = edges
        wrong = np.flatnonzero(sound(many) != _accepted(many))
        assert edges[wrong].tolist() == [], name


@given(cars(), st.data())
def test_the_quick_check_and_the_record_agree_on_any_car(car: Car, data: st.DataObject) -> None:
    """The same where several figures of any car are put at an edge at once."""
    one = CarTable.from_cars([car])
    edges = st.sampled_from(_edges(one))
    for name in data.draw(st.sets(st.sampled_from(FIGURES), max_size=3)):
        one.figures[name][0] = data.draw(edges)
    for block in range(len(one.block_car)):
        for name in data.draw(st.sets(st.sampled_from(BLOCKS.figures), max_size=1)):
            one.block_figures[name][block] = data.draw(edges)
    assert sound(one).tolist() == _accepted(one)


@settings(max_examples=50)  # drawing a fleet takes longer than what is asked of it
@given(st.lists(framed_cars(), min_size=1, max_size=3), st.data())
def test_cars_on_frames_are_left_to_the_record(fleet: list[Car], data: st.DataObject) -> None:
    table = CarTable.from_cars([BOXCAR, *fleet, BOXCAR])
    assert sound(table).tolist() == [True, *(False for _ in fleet), True]
    # Whatever its wheelbase says
    row = data.draw(st.integers(1, len(fleet)))
    table.figures["wheelbase_mm"][row] = 10.0
    assert not sound(table)[row]


def test_a_block_on_a_frame_of_a_car_without_is_flagged() -> None:
    table = CarTable.from_cars([BOXCAR.model_copy(update={"blocks": (_BODY,)})] * 2)
    table.block_frame[0] = "boiler"
    assert sound(table).tolist() == _accepted(table) == [False, True]


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("id", ""),
        ("id", "   "),
        ("id", " 27"),
        ("notes", "nul \0"),
        ("notes", "half \ud83d"),
        ("dimensions", ""),
        ("dimensions", "half-size"),
        ("weight", "heavy"),
        ("weight", "2,4 kg"),
        ("measured_on", "31.5.2026"),
        ("measured_on", "20260531"),
        ("measured_on", "2026-02-30"),
        ("measured_on", "2026-W01-1"),
    ],
)
def test_the_quick_check_flags_a_text_that_is_not_as_the_record_leaves_it(
    name: str, text: str
) -> None:
    table = CarTable.from_cars([BOXCAR, BOXCAR])
    table.text[name][1] = text
    assert sound(table).tolist() == [True, False]


def test_a_block_with_a_name_that_cannot_be_written_is_flagged() -> None:
    block = Block(from_mm=0.0, to_mm=600.0, left_mm=55.0, right_mm=55.0, top_mm=200.0)
    table = CarTable.from_cars([BOXCAR.model_copy(update={"blocks": (block,)})])
    assert sound(table).tolist() == [True]
    table.block_name[0] = "\ud800"
    assert sound(table).tolist() == [False]
