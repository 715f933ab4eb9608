"""What each car has to spare on a draft of a helix: overhead, at the sides, and past the others.

The same figures as `clearance.judge.check` and `clearance.judge.meets` compare, G4 to G7 in
docs/theory.md, and nothing else: a draft is tried often.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix
from clearance.judge.allowance import margins_of, overhead_budget, side_budget
from clearance.judge.fleet import Fleet
from clearance.judge.meets import meetings, tightest_pair
from clearance.judge.structure import Structure, headroom_mm
from clearance.judge.sweep import sweep

__all__ = ["Spares", "spares_of", "tightest"]

Floats = NDArray[np.float64]


class Spares(NamedTuple):
    """Gap less allowance of each car, the worst of all tracks and both ways round, (n,). [mm]

    Of a car that cannot stand on the draft all are minus infinity.

    Attributes
    ----------
    over_mm, inside_mm, outside_mm
        Overhead; to the posts on the inner track's inner side, on the outer track's outer side.
    stands
        Whether it stands there, with the axis and the inner posts on the far side of it, (n,).
    out_mm, in_mm
        How far it reaches beyond its track's centreline towards the next track out, and towards
        the next track in, allowance not counted: a row for each two neighbours, (tracks - 1, n).
    """

    over_mm: Floats
    inside_mm: Floats
    outside_mm: Floats
    stands: NDArray[np.bool_]
    out_mm: Floats
    in_mm: Floats

    @property
    def worst_mm(self) -> Floats:
        """The least of the three, shape (n,). [mm]"""
        return np.minimum(self.over_mm, np.minimum(self.inside_mm, self.outside_mm))


def spares_of(draft: Helix, fleet: Fleet) -> Spares:
    """What each car of a fleet has to spare on a draft.

    Parameters
    ----------
    draft
        A regular helix; posts that are no distance count as standing on the centreline.
    fleet
        n cars.
    """
    framed = fleet.table.framed
    if framed.all() or not framed.any():
        return _spares_of(draft, fleet)
    # Articulated cars are settled one by one; the others need not be, and are quick by themselves.
    parts = [np.flatnonzero(framed), np.flatnonzero(~framed)]
    found = [_spares_of(draft, fleet.select(part)) for part in parts]
    back = np.argsort(np.concatenate(parts))
    return Spares(*(np.concatenate(pair, axis=-1)[..., back] for pair in zip(*found, strict=True)))


def _spares_of(draft: Helix, fleet: Fleet) -> Spares:
    structure, margins = Structure(draft), margins_of(draft)
    tolerance = fleet.tolerance_mm
    allowance = overhead_budget(margins, tolerance).total_mm
    over = np.full(len(fleet), np.inf)
    reaches = []
    inside = outside = over
    stands = np.ones(len(fleet), bool)
    inner_post, outer_post = (
        float(side) if isinstance(side, float) else 0.0
        for side in (draft.posts.inside_mm, draft.posts.outside_mm)
    )
    for track in draft.tracks:
        swept = sweep(structure, track, fleet, [draft.deck.beam_width_mm])
        gap = headroom_mm(draft) - swept.required_mm[0]
        over = np.minimum(over, (gap - allowance).min(axis=0))
        reaches.append(
            (
                swept.outer.radius_mm.max(axis=0) - track.radius_mm,
                track.radius_mm - swept.inner.radius_mm.min(axis=0),
            )
        )
        axis_gap = swept.inner.radius_mm.min(axis=0) - draft.deck.beam_width_mm / 2
        stands &= axis_gap > 0  # nan: it cannot stand there at all
        if track is draft.tracks[0]:
            edge = swept.inner_with_play
            budget = side_budget(margins, tolerance, edge.lever).total_mm
            swing = track.radius_mm - edge.radius_mm
            inside = (inner_post - swing - budget).min(axis=0)
            # A post on this side of the axis, in whole millimetres.
            stands &= np.ceil((swing + budget).max(axis=0)) < track.radius_mm
        if track is draft.tracks[-1]:
            edge = swept.outer_with_play
            budget = side_budget(margins, tolerance, edge.lever).total_mm
            swing = track.radius_mm - edge.radius_mm
            outside = (outer_post + swing - budget).min(axis=0)
    out, into = (np.array(figures) for figures in zip(*reaches, strict=True))
    over, inside, outside = (
        np.where(stands & ~np.isnan(figures), figures, -np.inf)
        for figures in (over, inside, outside)
    )
    return Spares(over, inside, outside, stands, out[:-1], into[1:])


def tightest(draft: Helix, fleet: Fleet) -> tuple[int, int, float] | None:
    """The two cars with the least to spare past each other, inner and outer, and that spare. [mm]

    None: there is one track alone, or nothing of any two cars is at one height.
    """
    pairs = [pair for meeting in meetings(draft, fleet) if (pair := tightest_pair(meeting))]
    found = [pair for pair in pairs if np.isfinite(pair[2])]
    return min(found, key=lambda pair: pair[2]) if found else None
