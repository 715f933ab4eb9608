"""Why a train is judged as it is: the worst of its cars and couplings, worked through.

G8, docs/theory.md.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

from catalog.errors import DataError
from catalog.helix import Track
from catalog.words import quoted
from clearance.judge.couplers import REASON, coupling_place
from clearance.judge.explain import Explanation, worked_through
from clearance.judge.explain_case import Case, Coupled, case_of
from clearance.judge.findings import Finding
from clearance.judge.fleet import FACINGS
from clearance.judge.partners import FRONT, REAR
from clearance.judge.trains import Joint, TrainResult
from clearance.judge.verdict import NOT_MEASURED

__all__ = ["TrainExplanation", "explain_train"]


class TrainExplanation(NamedTuple):
    """What governs a train, worked through.

    ``places`` are those of the car, or of the two coupled ones, from the head of the train.
    """

    places: tuple[int, ...]
    explanation: Explanation


class _Found(NamedTuple):
    track: Track
    finding: Finding
    places: tuple[int, ...]


def explain_train(train: TrainResult, check: str | None = None) -> TrainExplanation:
    """Work through the governing finding of a train, or that of one check.

    Parameters
    ----------
    train
        What a check found.
    check
        Which check, as findings name it; None: whichever governs.

    Raises
    ------
    DataError
        No car, and no coupling, has such a finding.
    """
    found = [one for track in train.result.helix.tracks for one in _found(train, track)]
    asked = [
        one
        for one in found
        if (one.finding.lowers if check is None else one.finding.check == check)
    ]
    if not asked:
        has = ", ".join(dict.fromkeys(one.finding.check for one in found))
        raise DataError(f"the train has no finding {quoted(check or '')} here; it has these: {has}")
    track, finding, places = min(asked, key=lambda one: (one.finding.urgency, one.places))
    first, last = (train.order[place] for place in (places[0], places[-1]))
    if len(places) == 1:
        return TrainExplanation(places, worked_through(case_of(train.result, first, finding)))
    case = Case(
        train.result.structure,
        track,
        train.result.fleet.select([last]),
        finding,
        turned=False,
        place=None,
        number=-1,
        coupled=Coupled(train.result.fleet, (last, FRONT), (first, REAR), either_way=False),
    )
    return TrainExplanation(places, worked_through(case))


def _found(train: TrainResult, track: Track) -> Iterator[_Found]:
    for place, car in enumerate(train.order):
        for finding in train.result.findings(car, track.name):
            yield _Found(track, finding, (place,))
    for joint in train.joints(track.name):
        yield _Found(track, _coupling(train, track, joint), (joint.place, joint.place + 1))


def _coupling(train: TrainResult, track: Track, joint: Joint) -> Finding:
    """The coupling of two neighbours as a finding of the one behind."""
    fleet, structure, coupling = train.result.fleet, train.result.structure, joint.coupling
    ahead, behind = (train.order[place] for place in (joint.place, joint.place + 1))
    place = coupling_place(structure, fleet, (ahead, REAR), coupling)
    gap, room = (
        None if math.isnan(figure) else figure
        for figure in (coupling.gap_mm, coupling.rooms_mm[coupling.governs])
    )
    return Finding(
        car=fleet.ids[behind],
        track=track.name,
        check="coupling",
        code=coupling.code,
        lowers=coupling.code != NOT_MEASURED,
        location=place.located(structure.helix.brackets_per_turn),
        facing=FACINGS[0],
        required_mm=None if gap is None or room is None else room - gap,
        available_mm=room,
        gap_mm=gap,
        allowance_mm=None if gap is None else 0.0,
        allowance_parts={} if gap is None else {"running clearance": 0.0},
        tolerance_parts={},
        other_way_gap_mm=None,
        reason=REASON if coupling.code == NOT_MEASURED else "",
        more=coupling.figures,
    )
