"""From railhead to the underside of the beam, part by part: as sold, and as it measures.

What is sold as 18 mm seldom measures 18 mm. Only what was measured holds a car up; the name is for
the shop.
"""

from typing import NamedTuple

from catalog.errors import DataError
from catalog.helix import Deck, Helix

__all__ = ["Beam", "Board", "Part", "Stack", "Stock", "stacks"]


class Board(NamedTuple):
    """A thickness of deck that can be had. [mm]

    ``measured_mm`` is None where nobody measured it: then it is taken as sold.
    """

    sold_mm: float
    measured_mm: float | None = None

    @property
    def thickness_mm(self) -> float:
        """As it measures. [mm]"""
        return self.sold_mm if self.measured_mm is None else self.measured_mm


class Beam(NamedTuple):
    """A section of beam that can be had: width along the track, and depth. [mm]"""

    width: Board
    depth: Board


class Stock(NamedTuple):
    """What can be had. Nothing of a kind: the helix keeps its own.

    ``track_mm`` is what lies on the deck, railhead to the top of the board: rail, tie, roadbed;
    None: nobody said. [mm]
    """

    track_mm: float | None = None
    boards: tuple[Board, ...] = ()
    beams: tuple[Beam, ...] = ()


class Part(NamedTuple):
    """A part of a stack-up. [mm]

    ``sold_mm`` is None where it is not sold by a thickness; ``measured`` says whether anybody
    measured it; ``width_mm`` is a beam's along the track, as sold.
    """

    name: str
    thickness_mm: float
    sold_mm: float | None = None
    measured: bool = True
    width_mm: float | None = None


class Stack(NamedTuple):
    """A stack-up: its parts from the top, and the deck of the helix that it makes."""

    parts: tuple[Part, ...]
    deck: Deck

    @property
    def depth_mm(self) -> float:
        """Railhead to the underside of all. [mm]"""
        return self.deck.depth_mm + self.deck.beam_depth_mm

    @property
    def taken_as_sold(self) -> tuple[Part, ...]:
        """The parts that nobody measured."""
        return tuple(part for part in self.parts if not part.measured)


def stacks(helix: Helix, stock: Stock) -> list[Stack]:
    """Every stack-up that the stock allows, in the order in which it is listed.

    Parameters
    ----------
    helix
        Whose deck holds where the stock says nothing.
    stock
        What can be had.

    Raises
    ------
    DataError
        Boards are listed, and nobody said what lies on them.
    """
    deck = helix.deck
    if stock.boards and stock.track_mm is None:
        raise DataError(
            f"deck stock says how thick the board is, and not what lies on it; give the height "
            f"from the railhead to the top of the board as well (rail, tie, roadbed), with "
            f"--track-height; the helix file has {deck.depth_mm:g} mm for both together"
        )
    found = []
    for board in stock.boards or (None,):
        on_top = _on_top(deck, stock, board)
        for beam in stock.beams or (None,):
            parts = (*on_top, *_below(deck, beam))
            depth = sum(part.thickness_mm for part in on_top)
            made = Deck(
                depth_mm=round(depth, 6),
                beam_depth_mm=beam.depth.thickness_mm if beam else deck.beam_depth_mm,
                beam_width_mm=beam.width.thickness_mm if beam else deck.beam_width_mm,
            )
            found.append(Stack(parts, made))
    return found


def _on_top(deck: Deck, stock: Stock, board: Board | None) -> tuple[Part, ...]:
    """Track and deck."""
    if board is not None and stock.track_mm is not None:
        return Part("rail, tie and roadbed", stock.track_mm), _part("deck board", board)
    if stock.track_mm is not None:
        if stock.track_mm > deck.depth_mm:
            raise DataError(
                f"a track height of {stock.track_mm:g} mm leaves no deck in the "
                f"{deck.depth_mm:g} mm from railhead to underside of the helix file"
            )
        rest = Part("deck board, of the helix file", deck.depth_mm - stock.track_mm)
        return Part("rail, tie and roadbed", stock.track_mm), rest
    return (Part("track and deck, of the helix file", deck.depth_mm),)


def _below(deck: Deck, beam: Beam | None) -> tuple[Part, ...]:
    if beam is not None:
        part = _part(f"beam, {beam.width.thickness_mm:g} mm along the track", beam.depth)
        return (part._replace(width_mm=beam.width.sold_mm),)
    if deck.beam_depth_mm:
        return (Part("beam, of the helix file", deck.beam_depth_mm),)
    return ()


def _part(name: str, sold: Board) -> Part:
    return Part(name, sold.thickness_mm, sold.sold_mm, sold.measured_mm is not None)
