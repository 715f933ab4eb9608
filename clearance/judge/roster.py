"""What is posted: each car by track, and what restricts it.

A car is posted for a track when it passes there at least one way round; what it may not do is
kept beside it as data, and worded by `clearance.show`.
"""

import re
from dataclasses import dataclass, field

import numpy as np

from clearance.judge.findings import CheckResult
from clearance.judge.fleet import FACINGS, Fleet
from clearance.judge.meets import barred, meetings
from clearance.judge.verdict import NOT_MEASURED, PASSES, VERDICTS, Codes

__all__ = ["Roster", "RosterRow", "board_order", "post"]


@dataclass(frozen=True)
class RosterRow:
    """One car on the board.

    Attributes
    ----------
    index
        Which car of the fleet.
    tracks
        For each track, the code of its better way round.
    facing
        For each track that it may run on one way round only: which way.
    not_past
        For each track, the cars that it may not pass there, by id.
    not_coupled
        For each track on which not every coupling holds: the coupler that is worst for its own.
    """

    index: int
    tracks: dict[str, int]
    facing: dict[str, str]
    not_past: dict[str, list[str]]
    not_coupled: dict[str, str] = field(default_factory=dict)

    @property
    def code(self) -> int:
        """The best that the car can do: its code on its best track."""
        return min(self.tracks.values())

    @property
    def verdict(self) -> str:
        """The word for `code`."""
        return VERDICTS[self.code]

    @property
    def runs_on(self) -> list[str]:
        """The tracks on which it passes, at least one way round."""
        return [track for track, code in self.tracks.items() if code == PASSES]


@dataclass(frozen=True)
class Roster:
    """The board of a helix: its rows, in the order of the fleet, and what they rest on."""

    result: CheckResult
    rows: tuple[RosterRow, ...]


def post(result: CheckResult) -> Roster:
    """Make the roster of checked cars.

    Parameters
    ----------
    result
        What `clearance.judge.check.check` found.
    """
    helix, fleet = result.helix, result.fleet
    codes = {track.name: result.facing_codes(track.name) for track in helix.tracks}
    runs = {track: np.flatnonzero(both.min(axis=0) == PASSES) for track, both in codes.items()}
    # Each name once: on a middle track a car may be met on both sides.
    not_past: list[dict[str, dict[str, None]]] = [{} for _ in fleet.ids]
    for meeting in meetings(helix, fleet, result.structure.survey):
        inner, outer = meeting.inner.name, meeting.outer.name
        for one, other, _ in barred(meeting, runs[inner], runs[outer]):
            if one != other:  # its twin may be a matter for `meets`, but there is only one of it
                not_past[one].setdefault(inner, {})[fleet.ids[other]] = None
                not_past[other].setdefault(outer, {})[fleet.ids[one]] = None
    parted = {track.name: _parted(result, track.name) for track in helix.tracks}
    rows = [
        RosterRow(
            car,
            {track: int(both[:, car].min()) for track, both in codes.items()},
            {track: way for track, both in codes.items() if (way := _only_way(both[:, car]))},
            {track: list(others) for track, others in not_past[car].items()},
            {track: others[car] for track, others in parted.items() if car in others},
        )
        for car in range(len(fleet))
    ]
    return Roster(result, tuple(rows))


def board_order(fleet: Fleet, *, by_owner: bool = False) -> list[int]:
    """The cars as people look them up on a board: 9 before 10 before A 1, by owner first if asked.

    Parameters
    ----------
    fleet
        The cars.
    by_owner
        Owners together, in the order of the alphabet; cars without an owner last.

    Returns
    -------
    list of int
        The numbers of the cars, in that order.
    """
    owners = fleet.table.text["owner"]

    def key(car: int) -> tuple[bool, str, list[tuple[bool, int, str]]]:
        owner = owners[car].casefold() if by_owner else ""
        pieces = re.findall(r"[0-9]+|[^0-9]+", fleet.ids[car].casefold())
        # A number by how many digits it has, then by these: an id may be longer than any int.
        digits = [piece.lstrip("0") if piece.isdecimal() else "" for piece in pieces]
        numbered = [
            (False, len(number), number) if piece.isdecimal() else (True, 0, piece.strip())
            for piece, number in zip(pieces, digits, strict=True)
        ]
        return by_owner and not owner, owner, numbered

    return sorted(range(len(fleet)), key=key)


def _parted(result: CheckResult, track: str) -> dict[int, str]:
    """The cars that cannot be coupled with every other, and the coupler that is worst for each."""
    return {
        car: column.places[int(column.place[0, car])].obstacle
        for column in result.on_track(track)
        if column.check == "coupling"
        for car in np.flatnonzero(
            column.applies & (column.codes.max(axis=0) > NOT_MEASURED)
        ).tolist()
    }


def _only_way(both: Codes) -> str:
    """Which way round a car passes, where the other way it does not; "": no matter."""
    passes = both == PASSES
    return "" if passes[0] == passes[1] else FACINGS[int(passes[1])]
