"""Stack-ups from stock: what can be had is put together, and the one with the least rise taken."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.errors import DataError
from catalog.helix import Deck
from clearance.judge.check import check
from clearance.judge.sizing import size
from clearance.judge.stack import Beam, Board, Stock, stacks
from clearance.judge.verdict import PASSES
from tests.judge.clubs import car, fleet_of, helix, random_fleet, single


def beam(width: float, depth: float) -> Beam:
    return Beam(Board(width), Board(depth))


def test_every_board_goes_with_every_beam() -> None:
    stock = Stock(20.0, (Board(12.0), Board(18.0, 17.5)), (beam(38, 24), beam(38, 38)))
    decks = [stack.deck for stack in stacks(helix(), stock)]
    assert decks == [
        Deck(depth_mm=32.0, beam_depth_mm=24.0, beam_width_mm=38.0),
        Deck(depth_mm=32.0, beam_depth_mm=38.0, beam_width_mm=38.0),
        Deck(depth_mm=37.5, beam_depth_mm=24.0, beam_width_mm=38.0),
        Deck(depth_mm=37.5, beam_depth_mm=38.0, beam_width_mm=38.0),
    ]


def test_parts_add_up_and_say_what_was_measured() -> None:
    stack = stacks(helix(), Stock(20.0, (Board(18.0, 17.5),), (beam(38, 24),)))[0]
    assert [(part.sold_mm, part.thickness_mm, part.measured) for part in stack.parts] == [
        (None, 20.0, True),
        (18.0, 17.5, True),
        (24.0, 24.0, False),
    ]
    assert_allclose(stack.depth_mm, 20 + 17.5 + 24, rtol=1e-15)
    assert [part.sold_mm for part in stack.taken_as_sold] == [24.0]


def test_without_stock_the_deck_stays() -> None:
    where = helix()
    (stack,) = stacks(where, Stock())
    assert stack.deck == where.deck
    assert [part.thickness_mm for part in stack.parts] == [38.0, 24.0]
    (known,) = stacks(where, Stock(track_mm=20.0))
    assert known.deck == where.deck
    assert [part.thickness_mm for part in known.parts] == [20.0, 18.0, 24.0]
    (bare,) = stacks(helix(deck=Deck(depth_mm=30.0)), Stock())
    assert [part.thickness_mm for part in bare.parts] == [30.0]


def test_boards_without_what_lies_on_them_are_refused() -> None:
    with pytest.raises(DataError, match="--track-height"):
        stacks(helix(), Stock(boards=(Board(12.0),)))
    with pytest.raises(DataError, match="leaves no deck in the 38 mm"):
        stacks(helix(), Stock(track_mm=40.0))


def test_the_least_rise_is_taken_and_is_the_headroom_and_the_stack() -> None:
    cars = random_fleet(np.random.default_rng(3), 10, (150.0, 220.0))
    stock = Stock(20.0, (Board(18.0, 17.5), Board(12.0)), (beam(38, 38), beam(38, 24)))
    design = size(helix(), cars, stock=stock)
    assert design.stack.deck == Deck(depth_mm=32.0, beam_depth_mm=24.0, beam_width_mm=38.0)
    assert_allclose(design.headroom_mm + design.stack.depth_mm, design.rise_per_turn_mm)
    assert (check(design.helix, cars).codes() == PASSES).all()
    rises = [choice.rise_per_turn_mm for choice in design.stack_choices]
    assert len(rises) == 4
    assert min(rises) == design.rise_per_turn_mm
    # What is 14 mm deeper lifts the tier by 14 mm, or by one more for the pitch.
    by_depth = {choice.stack.depth_mm: choice.rise_per_turn_mm for choice in design.stack_choices}
    assert by_depth[70.0] - by_depth[56.0] in (14, 15)


def test_a_board_measured_thicker_costs_what_it_is_thicker() -> None:
    cars = fleet_of(car())
    thin, thick = (
        size(single(), cars, stock=Stock(20.0, (Board(12.0, measured),)))
        for measured in (12.0, 15.0)
    )
    assert thick.rise_per_turn_mm - thin.rise_per_turn_mm in (3, 4)
