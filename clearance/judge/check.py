"""Does each car go up, on which track, which way round: all checks of a fleet on a helix.

G4, G5, G7 and G8, docs/theory.md.
"""

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix, Obstacle, SideDistance, Track
from catalog.survey import Survey
from clearance.judge.allowance import Margins, margins_of, overhead_budget, side_budget
from clearance.judge.drive import overhead_gaps
from clearance.judge.findings import CheckColumn, CheckResult, plain_column
from clearance.judge.fleet import Fleet
from clearance.judge.places import Place, numbered
from clearance.judge.running import running_columns
from clearance.judge.structure import Structure, Underside
from clearance.judge.sweep import Edge, Swept, sweep
from clearance.judge.verdict import DOES_NOT_FIT, NOT_MEASURED, PASSES

__all__ = ["check"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


def check(
    helix: Helix,
    fleet: Fleet,
    survey: Survey | None = None,
    *,
    every_obstacle: bool = False,
    only: Literal["overhead", "others"] | None = None,
) -> CheckResult:
    """Judge every car on every track of a helix, both ways round.

    Parameters
    ----------
    helix
        As designed.
    fleet
        The cars.
    survey
        How it stands; None: as designed. What it does not say falls back on the design.
    every_obstacle
        True: the gap under everything that hangs over a track, not only under what governs.
    only
        "overhead": what hangs over the tracks; "others": all but that and the room for a hand over
        roofs. Either is quicker than both.

    Returns
    -------
    CheckResult
        A column for each track and check, worst verdict and governing figures included.
    """
    structure = Structure(helix, survey)
    columns: list[CheckColumn] = []
    if len(fleet):
        for track in helix.tracks:
            columns += _track_columns(structure, track, fleet, every_obstacle, only)
    return CheckResult(structure, fleet, tuple(columns))


def _track_columns(
    structure: Structure, track: Track, fleet: Fleet, every_obstacle: bool, only: str | None
) -> list[CheckColumn]:
    helix = structure.helix
    margins = margins_of(helix, structure.survey)
    hanging = structure.hanging(track)
    widths = sorted({underside.width_mm for underside in hanging})
    swept = sweep(structure, track, fleet, widths if structure.is_regular else ())
    gauge = fleet.figure("gauge_mm")
    other_gauge = ~fleet.runs_on(helix.gauge_mm)
    # A beam has two sides only for a body that keeps clear of the axis by half its width.
    axis_gap = swept.inner.radius_mm.min(axis=0) - max([0.0, *widths]) / 2
    runs = ~other_gauge & (axis_gap > 0)  # nan, a car that cannot stand there, is no more than 0

    columns = []
    over = None
    if only == "others":
        pass
    elif structure.is_regular and hanging:
        over = _over_regular(track, fleet, hanging, widths, swept, runs, margins)
    elif not structure.is_regular:
        over = _over_built(structure, track, fleet, runs, margins, every=every_obstacle)
    if over:
        columns.append(over)
    if only == "overhead":
        return columns
    for inward in (True, False):
        column = _side(structure, track, fleet, swept, runs, margins, inward=inward)
        if column:
            columns.append(column)
    columns.append(_radius(track, fleet, axis_gap, ~other_gauge))
    columns += running_columns(structure, track, fleet, runs, over)
    if other_gauge.any():
        columns.append(
            plain_column(
                "gauge",
                track.name,
                other_gauge,
                np.fmin(gauge, helix.gauge_mm),
                -np.abs(gauge - helix.gauge_mm),
            )
        )
    return columns


def _over_regular(
    track: Track,
    fleet: Fleet,
    hanging: list[Underside],
    widths: list[float],
    swept: Swept,
    runs: Mask,
    margins: Margins,
) -> CheckColumn:
    """What hangs over a regular helix.

    The deck between the beams is left out: it hangs higher than the beams by their depth, and has
    no width that a car could meet before or after, so a beam always governs (theory, G4).
    """
    gaps = np.array(
        [
            underside.headroom_mm - swept.required_mm[widths.index(underside.width_mm)]
            for underside in hanging
        ]
    )
    headrooms = np.array([underside.headroom_mm for underside in hanging])
    lowest = np.argmin(np.where(np.isnan(gaps), np.inf, gaps), axis=0)
    return CheckColumn(
        "overhead",
        track.name,
        runs,
        np.take_along_axis(gaps, lowest[None], axis=0)[0],
        headrooms[lowest],
        overhead_budget(margins, fleet.tolerance_mm),
        lowest,
        tuple(underside.place for underside in hanging),
        gaps,
    )


def _over_built(
    structure: Structure, track: Track, fleet: Fleet, runs: Mask, margins: Margins, *, every: bool
) -> CheckColumn | None:
    """What hangs over a line as built."""
    hanging = structure.hanging(track)
    over = overhead_gaps(structure, track, fleet, every=every)
    deck = structure.deck(track)
    if not hanging and deck is None:
        return None
    places = [underside.place for underside in hanging]
    which = over.underside.copy()
    headrooms = np.array([*(underside.headroom_mm for underside in hanging), np.nan])
    available = headrooms[which]
    if deck is not None:
        under_deck = np.isfinite(over.deck_rad)
        available[under_deck] = (
            deck.height_mm(over.deck_rad) - structure.line(track).height_mm(over.deck_rad)
        )[under_deck]
        stations = np.round(over.deck_rad[under_deck] / structure.step_rad, 3)
        under, number = numbered(stations, "deck", "as designed")
        which[under_deck] = len(places) + number
        places += under
    # Where nothing comes over any part of a car, nothing is found.
    beneath = np.isfinite(over.gap_mm).any(axis=0)
    return CheckColumn(
        "overhead",
        track.name,
        runs & beneath,
        np.where(np.isfinite(over.gap_mm), over.gap_mm, np.nan),
        available,
        overhead_budget(margins, fleet.tolerance_mm),
        which,
        tuple(places),
        over.each_mm,
    )


def _side(
    structure: Structure,
    track: Track,
    fleet: Fleet,
    swept: Swept,
    runs: Mask,
    margins: Margins,
    *,
    inward: bool,
) -> CheckColumn | None:
    """One side of a track and what stands beside it; None: nothing does.

    Posts are a matter of the inner side of the inner track and the outer side of the outer one.
    Between two tracks nothing stands but what the helix describes; trains that meet there are a
    matter of `clearance.judge.meets`.
    """
    helix = structure.helix
    posts: SideDistance = "none"
    if track is helix.tracks[0 if inward else -1]:
        posts = helix.posts.inside_mm if inward else helix.posts.outside_mm
    beside = _beside(structure, track, inward=inward)
    if posts == "none" and not beside:
        return None
    stands: list[tuple[float, Place, Swept]] = []
    if isinstance(posts, float):
        first, last = structure.curve_stations
        row = Place(math.ceil(first), "post", math.floor(last), origin="as designed")
        stands.append((posts, row, swept))
    for distance, obstacle in beside:
        own = swept
        if not structure.is_regular or obstacle.bottom_mm or obstacle.top_mm is not None:
            own = sweep(structure, track, fleet, abreast=obstacle)
        stands.append((distance, structure.place_of(obstacle, track), own))
    reason = ""
    if posts is None:
        reason = f"the helix does not say what stands {'inside' if inward else 'outside'}"
    shape = swept.inner.radius_mm.shape
    each = [_side_gap(track, own, it, inward=inward) for it, _, own in stands]
    if not stands:
        each = [np.array([np.full(shape, value) for value in (np.nan, 1.0, np.nan)])]
    gap, lever, at_rad = np.stack(each, axis=1)
    spare = gap - side_budget(margins, fleet.tolerance_mm, lever).total_mm
    # What fouls comes before what is only short, and the least of these first.
    urgency = np.where(
        gap > 0, spare, gap - 2 * np.abs(np.nan_to_num(spare, posinf=0)).max(initial=0)
    )
    governs = np.argmin(np.where(np.isnan(urgency), np.inf, urgency), axis=0)[None]
    gap, lever, at_rad = (
        np.take_along_axis(figures, governs, axis=0)[0] for figures in (gap, lever, at_rad)
    )
    distances = np.array([distance for distance, _, _ in stands] or [np.nan])[governs[0]]
    which = governs[0] if stands else np.full(shape, -1, np.intp)
    places = [place for _, place, _ in stands]
    if isinstance(posts, float) and not structure.line(track).is_even:
        # Of a row of posts the one that the car comes closest to.
        beside_posts = (which == 0) & np.isfinite(at_rad)
        stations = np.round(at_rad[beside_posts] / structure.step_rad, 2)
        closest, number = numbered(stations, "post", "as designed")
        which[beside_posts] = len(places) + number
        places += closest
    nothing_there = np.isposinf(gap).all(axis=0)
    return CheckColumn(
        "inner_side" if inward else "outer_side",
        track.name,
        runs & ~nothing_there,
        np.where(np.isfinite(gap), gap, np.nan),
        # The room beside the track's centreline, as the helix gives it.
        distances,
        side_budget(margins, fleet.tolerance_mm, lever),
        which,
        tuple(places),
        cap=NOT_MEASURED if reason else PASSES,
        reason=reason,
    )


def _beside(structure: Structure, track: Track, *, inward: bool) -> list[tuple[float, Obstacle]]:
    """What the helix file describes on one side of a track, and how far away."""
    is_left = inward == (structure.helix.climbs == "counterclockwise")
    return [
        (distance, obstacle)
        for obstacle in structure.obstacles(track)
        if (distance := obstacle.left_mm if is_left else obstacle.right_mm)
    ]


def _side_gap(track: Track, swept: Swept, distance_mm: float, *, inward: bool) -> Floats:
    """The gap to what stands so far away, the lever of the part that makes it, and where.

    Where play costs more than closeness, the loose place governs; but what fouls, fouls.
    """
    closest, loosest = swept.outer, swept.outer_with_play
    if inward:
        closest, loosest = swept.inner, swept.inner_with_play

    def gap_of(edge: Edge) -> Floats:
        swing = track.radius_mm - edge.radius_mm
        return distance_mm - swing if inward else distance_mm + swing

    governs = Edge(*np.where(gap_of(closest) > 0, loosest, closest))
    return np.array([gap_of(governs), governs.lever, governs.place_rad])


def _radius(track: Track, fleet: Fleet, axis_gap: Floats, applies: Mask) -> CheckColumn:
    """The least radius that the car states, and the one below which it cannot stand at all."""
    stated = track.radius_mm - fleet.figure("minimum_radius_mm")
    span = np.hypot(fleet.figure("wheelbase_mm"), fleet.figure("truck_wheelbase_mm"))
    # How far the supports of an articulated car are apart at the least is not one figure.
    short = np.fmin(track.radius_mm - span / 2, 0.0)
    stands = np.where(np.isnan(axis_gap), short, axis_gap)
    gap = np.where(stands > 0, stated, np.fmin(stated, stands))
    # Where a car cannot stand no gap is needed to say so; of an articulated one there is none.
    nowhere = np.isnan(axis_gap)
    gap = np.where(nowhere & ~(short < 0), np.nan, gap)
    return plain_column(
        "radius",
        track.name,
        applies,
        track.radius_mm,
        gap,
        "nobody stated its least radius",
        cap=np.where(nowhere, DOES_NOT_FIT, PASSES).astype(np.int8),
    )
