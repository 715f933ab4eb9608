"""What it takes that a car clears an underside, as linear demands on the moves of the brackets.

"Levelling", docs/theory.md. In any one position of a car the gap under an underside is linear in
the heights of the brackets, to first order; the least gap is the least over all positions. So each
position gives a demand that every levelling must meet, and those of the tightest positions do.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Track
from clearance.geometry.beams import beam_gaps_mm
from clearance.geometry.boxes import Boxes
from clearance.geometry.rig import settle
from clearance.geometry.undersides import (
    TOUCHING_MM,
    Axes,
    Edges,
    Undersides,
    edge_lines,
    roof_corners,
    roof_edges,
)
from clearance.judge.drive import Drive, drives
from clearance.judge.explain_search import Spot, under_deck, under_strip
from clearance.judge.fleet import Fleet
from clearance.judge.lifting import Lifting
from clearance.judge.structure import Structure

__all__ = ["Clearances", "Standing", "Tight", "all_beam_gaps_mm"]

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Mask = NDArray[np.bool_]

_BETWEEN = 9  # positions looked at between those in which a corner passes a side
_KNOTS = 3  # of the line that each axle passes meanwhile, at the most
_LOOSE_MM = 25.0  # a position that leaves so much more than is wanted is not kept


class Clearances(NamedTuple):
    """c demands: rows times the moves of the brackets, upward, are at least so much.

    Attributes
    ----------
    rows
        Shape (c, brackets). [mm/mm]
    least_mm
        Shape (c,). [mm]
    car
        Whose, shape (c,).
    track, place
        On which track, and under which of what hangs there; -1: the deck. Shape (c,).
    station
        Where, shape (c,).
    """

    rows: Floats
    least_mm: Floats
    car: Indices
    track: Indices
    place: Indices
    station: Floats

    @classmethod
    def joined(cls, parts: Iterable["Clearances"], brackets: int) -> "Clearances":
        """Several of them as one."""
        none = cls(np.zeros((0, brackets)), np.zeros(0), *_NOBODY, np.zeros(0))
        return cls._make(np.concatenate(part) for part in zip(none, *parts, strict=True))

    def take(self, index: Indices) -> "Clearances":
        """Those at ``index``."""
        return Clearances._make(figures[index] for figures in self)


_NOBODY = (np.zeros(0, np.intp), np.zeros(0, np.intp), np.zeros(0, np.intp))


class Tight(NamedTuple):
    """Where cars are tight: way round, car, and underside (-1: the deck), shape (t,) each.

    ``near_rad`` is where under the deck.
    """

    way: Indices
    car: Indices
    place: Indices
    near_rad: Floats

    def take(self, index: Indices) -> "Tight":
        """Those at ``index``."""
        return Tight._make(figures[index] for figures in self)


def all_beam_gaps_mm(structure: Structure, track: Track, fleet: Fleet) -> Floats:
    """The least gap of each car under each underside of a track, without the deck.

    Parameters
    ----------
    structure, track, fleet
        Who goes where.

    Returns
    -------
    ndarray
        Shape (k, 2, n). [mm] inf: it never comes beneath; nan: it cannot stand there.
    """
    undersides = structure.undersides(track)
    found = np.full((len(undersides.place_rad), 2, len(fleet)), np.inf)
    for drive in drives(structure, track, fleet):
        gaps = np.full((len(drive.cars), len(undersides.place_rad)), np.inf)
        for frame, _, boxes in drive.loads:
            ceiling = np.full(len(drive.cars), np.inf)
            where = drive.line, drive.rig, drive.foot, frame, boxes
            gaps = np.minimum(gaps, beam_gaps_mm(*where, undersides, ceiling, every=True))
        for way in {drive.way, 1}:
            found[:, way, drive.cars] = gaps.T
    return found


@dataclass(frozen=True, eq=False)
class Standing:
    """A helix after some moves, and the demands that its cars make there.

    Attributes
    ----------
    lifting
        The helix before the moves.
    structure
        After them.
    move_mm
        The moves, shape (brackets,). [mm]
    """

    lifting: Lifting
    structure: Structure
    move_mm: Floats

    def demands(
        self, number: int, fleet: Fleet, wanted_mm: Floats, tight: Tight, *, search: bool
    ) -> Clearances:
        """What cars that are tight demand of the brackets.

        Parameters
        ----------
        number
            Which track.
        fleet
            The cars.
        wanted_mm
            The gap that each must have, shape (2, n). [mm]
        tight
            Where they are tight.
        search
            True: the tightest position of each is searched for; else some are looked at.
        """
        track = self.structure.helix.tracks[number]
        parts = (
            self._searched(track, fleet, tight) if search else self._sampled(track, fleet, tight)
        )
        elevation, answers = self.lifting.undersides(track)
        stations = np.array([it.place.station for it in self.structure.hanging(track)])
        found = []
        for some in parts:
            wanted = wanted_mm[some.way, some.car] + some.height_mm - some.weight @ self.move_mm
            for above, rows, chosen in self._above(track, some, elevation, answers):
                at = some.place[chosen]
                deck = some.near_rad[chosen] / self.structure.step_rad
                found.append(
                    Clearances(
                        rows - some.weight[chosen],
                        wanted[chosen] - above,
                        some.car[chosen],
                        np.full(len(chosen), number),
                        at,
                        np.where(at < 0, deck, stations[at] if len(stations) else deck),
                    )
                )
        whole = Clearances.joined(found, self.lifting.brackets)
        close = whole.least_mm - whole.rows @ self.move_mm > -_LOOSE_MM
        return whole.take(np.flatnonzero(close))

    def _above(
        self, track: Track, some: "_Seen", elevation: Floats, answers: list[Floats]
    ) -> Iterator[tuple[Floats, Floats, Indices]]:
        """How high what hangs over some positions is before the moves, and how it answers."""
        beams = np.flatnonzero(some.place >= 0)
        most = max((len(answer) for answer in answers), default=0)
        for variant in range(most):
            has = np.array([len(answers[at]) > variant for at in some.place[beams]], bool)
            chosen = beams[has]
            if len(chosen):
                rows = np.array([answers[at][variant] for at in some.place[chosen]])
                yield elevation[some.place[chosen]], rows, chosen
        under_deck = np.flatnonzero(some.place < 0)
        if len(under_deck):
            place = some.near_rad[under_deck]
            deck = self.lifting.structure.deck(track)
            assert deck is not None
            rows = self.lifting.rows(track, place + 2 * np.pi)
            yield deck.height_mm(place), rows, under_deck

    def _sampled(self, track: Track, fleet: Fleet, tight: Tight) -> Iterator["_Seen"]:
        """Positions in which a corner of a roof passes a side, or an axle a knot, and between."""
        undersides = self.structure.undersides(track)
        shape = (2, len(fleet), len(undersides.place_rad))
        wanted = np.zeros(shape, bool)
        beams = tight.place >= 0
        wanted[tight.way[beams], tight.car[beams], tight.place[beams]] = True
        for drive in drives(self.structure, track, fleet):
            mine = wanted[drive.way][drive.cars]
            if drive.way == 0:
                alike = ~fleet.lopsided[drive.cars]
                mine = mine | (wanted[1][drive.cars] & alike[:, None])
            for frame, _, boxes in drive.loads:
                box, underside = np.nonzero(mine[boxes.vehicle])
                stands = drive.foot.stands[boxes.vehicle[box]]
                if stands.any():
                    yield self._look(
                        track, drive, frame, boxes, undersides, box[stands], underside[stands]
                    )

    def _look(
        self,
        track: Track,
        drive: Drive,
        frame: int,
        boxes: Boxes,
        undersides: Undersides,
        box: Indices,
        underside: Indices,
    ) -> "_Seen":
        place = _positions(drive, frame, boxes.take(box), undersides.take(underside))
        pair = np.tile(np.arange(len(box)), len(place))
        some, strips = boxes.take(box[pair]), undersides.take(underside[pair])
        pose = settle(drive.line, drive.rig, some.vehicle, 0, place.ravel(), drive.foot.ahead_rad)
        axes = Axes.of(pose, frame)
        best = np.full(len(pair), -np.inf)
        best_x = np.zeros(len(pair))
        for edges in roof_edges(some, across=drive.line.roll_rad != 0):
            for height, x in _highest(edges, axes, strips, pose.reference_rad):
                higher = height > best
                best, best_x = np.where(higher, height, best), np.where(higher, x, best_x)
        seen = np.flatnonzero(np.isfinite(best))
        return _Seen(
            np.full(len(seen), drive.way),
            drive.cars[some.vehicle[seen]],
            underside[pair[seen]],
            np.full(len(seen), np.nan),
            best[seen],
            self._weight(
                track, drive, frame, some.vehicle[seen], pose.axle_rad[:, seen], best_x[seen]
            ),
        )

    def _weight(
        self,
        track: Track,
        drive: Drive,
        frame: int,
        vehicle: Indices,
        axle_rad: Floats,
        x_mm: Floats,
    ) -> Floats:
        """How much each bracket lifts a point of a frame, (p, brackets): the axles carry it."""
        weights = drive.foot.weights[frame]
        share = weights.mid[:, vehicle] + x_mm * weights.slope[:, vehicle]
        return np.asarray(np.einsum("ap,apk->pk", share, self.lifting.rows(track, axle_rad)))

    def _searched(self, track: Track, fleet: Fleet, tight: Tight) -> Iterator["_Seen"]:
        """The tightest position of each, found again by looking ever closer."""
        undersides = self.structure.undersides(track)
        deck = self.structure.deck(track)
        for way, car, place, _ in zip(*tight, strict=True):
            one = fleet.select([car])
            wanted = way if one.lopsided[0] else 0
            drive = next(it for it in drives(self.structure, track, one) if it.way == wanted)
            if place >= 0:
                spot = under_strip(drive, undersides.take(np.array([place])), endless=False)
            else:
                assert deck is not None
                spot = under_deck(drive, deck)
            if spot is None:
                continue
            yield self._seen(track, drive, spot, (way, car, place))

    def _seen(self, track: Track, drive: Drive, spot: Spot, which: tuple[int, int, int]) -> "_Seen":
        pose, frame = spot.pose, spot.frame
        left, up = pose.axes(frame)
        point = pose.middle_mm[frame] + spot.x_mm * pose.forward[frame]
        point = point + spot.y_mm * left + spot.h_mm * up
        reference = pose.reference_rad
        place = reference + np.arctan2(point[1], point[0])
        way, car, underside = (np.array([number]) for number in which)
        x = np.array([spot.x_mm])
        weight = self._weight(track, drive, frame, np.zeros(1, np.intp), pose.axle_rad, x)
        return _Seen(way, car, underside, place, point[2], weight)


class _Seen(NamedTuple):
    """Points of cars in p positions: whose, under what, how high, and what carries them."""

    way: Indices
    car: Indices
    place: Indices
    near_rad: Floats
    height_mm: Floats
    weight: Floats


def _positions(drive: Drive, frame: int, boxes: Boxes, undersides: Undersides) -> Floats:
    """Where the first axle stands in positions worth looking at, (j, p): boxes under strips."""
    axes = Axes.of(drive.foot.pose.take(boxes.vehicle), frame)
    half = undersides.width_mm / 2 / drive.line.radius_mm
    passing = []
    for x, y in zip(*roof_corners(boxes), strict=True):
        corner = axes.middle_mm + x * axes.forward + y * axes.left + boxes.top_mm * axes.up
        ahead = np.arctan2(corner[1], corner[0])
        passing += [undersides.place_rad - ahead + side for side in (-half, half)]
    low, high = np.min(passing, axis=0), np.max(passing, axis=0)
    share = np.linspace(0, 1, _BETWEEN + 2)[1:-1, None]
    places = [*passing, *(low + share * (high - low))]
    knots = drive.line.knots_rad
    for ahead in drive.foot.ahead_rad[:, boxes.vehicle]:
        first = np.searchsorted(knots, low + ahead)
        places += [
            np.clip(knots[np.minimum(first + more, len(knots) - 1)] - ahead, low, high)
            for more in range(_KNOTS)
        ]
    first, last = drive.foot.span_rad[:, boxes.vehicle]
    return np.asarray(np.clip(np.array(places), first, last))


def _highest(
    edges: Edges, axes: Axes, strips: Undersides, reference_rad: Floats
) -> Iterator[tuple[Floats, Floats]]:
    """How high edges stand under both sides of strips, and how far forward that is. [mm]"""
    start, run = edge_lines(edges, axes)
    turn = strips.plan_rad - reference_rad
    cosine, sine = np.cos(turn), np.sin(turn)
    along = start[1] * cosine - start[0] * sine - strips.along_mm
    gain = run[1] * cosine - run[0] * sine
    half = strips.width_mm / 2
    for side in (half, -half):
        with np.errstate(divide="ignore", invalid="ignore"):
            at = np.fmin(np.fmax((side - along) / gain, edges.from_mm), edges.to_mm)
        there = np.abs(along + at * gain) <= half + TOUCHING_MM
        x = np.where(edges.across, edges.beside_mm, at)
        yield np.where(there, start[2] + at * run[2], -np.inf), x
