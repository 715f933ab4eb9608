"""Does each car go up, on which track, which way round: all checks of a fleet on a helix.

G4, G5, G7 and the least radius of G8, docs/theory.md.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix, Obstacle, SideDistance, Track
from clearance.judge.allowance import (
    Budget,
    Margins,
    margins_of,
    overhead_budget,
    side_budget,
)
from clearance.judge.findings import CheckColumn, CheckResult, Place
from clearance.judge.fleet import Fleet
from clearance.judge.sweep import Edge, Swept, sweep
from clearance.judge.verdict import NOT_MEASURED, PASSES

__all__ = ["Underside", "check", "headroom_mm", "not_worked_out", "undersides"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


class Underside(NamedTuple):
    """One level underside over a track, or a row of equal ones. [mm]"""

    place: Place
    headroom_mm: float
    width_mm: float


def headroom_mm(helix: Helix) -> float:
    """Railhead to the underside of the beam of the next tier. [mm]"""
    return helix.rise_per_turn_mm - helix.deck.depth_mm - helix.deck.beam_depth_mm


def check(helix: Helix, fleet: Fleet) -> CheckResult:
    """Judge every car on every track of a helix, both ways round.

    Parameters
    ----------
    helix
        A regular helix. Where it describes leads or a profile, what depends on them is reported
        as not measured, never as passed.
    fleet
        The cars.

    Returns
    -------
    CheckResult
        A column for each track and check, worst verdict and governing figures included.
    """
    columns: list[CheckColumn] = []
    if len(fleet):
        for track in helix.tracks:
            columns += _track_columns(helix, track, fleet)
    return CheckResult(helix, fleet, tuple(columns))


def _track_columns(helix: Helix, track: Track, fleet: Fleet) -> list[CheckColumn]:
    margins = margins_of(helix)
    hanging = undersides(helix, track)
    widths = sorted({underside.width_mm for underside in hanging})
    swept = sweep(helix, track, fleet, widths)
    gauge = fleet.figure("gauge_mm")
    other_gauge = ~fleet.runs_on(helix.gauge_mm)
    # A beam has two sides only for a body that keeps clear of the axis by half its width.
    axis_gap = swept.inner.radius_mm.min(axis=0) - max([0.0, *widths]) / 2
    runs = ~other_gauge & (axis_gap > 0)  # nan, a car that cannot stand there, is no more than 0

    columns = []
    low = [obstacle for obstacle in _obstacles_at(helix, track) if obstacle.headroom_mm]
    missing = not_worked_out(helix, low)
    if hanging or missing:
        gaps = _overhead_gaps(hanging, widths, swept)
        columns.append(_overhead(track, fleet, hanging, gaps, runs, margins, missing))
    for inward in (True, False):
        column = _side(helix, track, fleet, swept, runs, margins, inward=inward)
        if column:
            columns.append(column)
    columns.append(_radius(track, fleet, axis_gap, ~other_gauge))
    if other_gauge.any():
        columns.append(
            _plain_column(
                "gauge",
                track,
                other_gauge,
                np.fmin(gauge, helix.gauge_mm),
                -np.abs(gauge - helix.gauge_mm),
            )
        )
    return columns


def undersides(helix: Helix, track: Track) -> list[Underside]:
    """What hangs over a track of a regular helix.

    The deck between the beams is left out: it hangs higher than the beams by their depth, and has
    no width that a car could meet before or after, so a beam always governs (theory, G4).
    """
    found = []
    if helix.last_station >= helix.brackets_per_turn:
        name = "beam" if helix.deck.beam_depth_mm else "deck"
        row = Place(0, name, helix.last_station - helix.brackets_per_turn)
        found.append(Underside(row, headroom_mm(helix), helix.deck.beam_width_mm))
    for obstacle in _obstacles_at(helix, track):
        if obstacle.headroom_mm is None or _off_the_screw(helix, obstacle):
            continue
        width = helix.deck.beam_width_mm if obstacle.width_mm is None else obstacle.width_mm
        place = Place(obstacle.station or 0, obstacle.name)
        found.append(Underside(place, obstacle.headroom_mm, width))
    return found


def _obstacles_at(helix: Helix, track: Track) -> list[Obstacle]:
    """The obstacles of a track, those of all tracks included."""
    return [obstacle for obstacle in helix.obstacles if obstacle.track in ("", track.name)]


def _off_the_screw(helix: Helix, obstacle: Obstacle) -> bool:
    """Whether an obstacle stands on a lead, which is not worked out yet."""
    ends = {lead.at for lead in helix.leads}
    if obstacle.station is None:
        return True
    return (obstacle.station < 0 and "foot" in ends) or (
        obstacle.station > helix.last_station and "head" in ends
    )


def not_worked_out(helix: Helix, obstacles: Sequence[Obstacle] = ()) -> str:
    """What a helix describes that a regular helix does not have, as a reason; "": nothing.

    A profile and leads change how cars stand, and so every gap; ``obstacles`` are those that
    matter to the check at hand, of which some may stand on a lead.
    """
    parts = ["the profile"] * bool(helix.profile)
    parts += [f"the lead at the {lead.at}" for lead in helix.leads]
    parts += [
        f"{obstacle.name} on the lead" for obstacle in obstacles if _off_the_screw(helix, obstacle)
    ]
    if not parts:
        return ""
    return f"this release does not work out {', '.join(parts)}; figures are the regular helix's"


def _overhead_gaps(hanging: list[Underside], widths: list[float], swept: Swept) -> Floats:
    """The gap under each underside, shape (undersides, 2, n). [mm]"""
    gaps = [
        underside.headroom_mm - swept.required_mm[widths.index(underside.width_mm)]
        for underside in hanging
    ]
    return np.array(gaps).reshape(len(hanging), *swept.inner.radius_mm.shape)


def _overhead(
    track: Track,
    fleet: Fleet,
    hanging: list[Underside],
    gaps: Floats,
    runs: Mask,
    margins: Margins,
    missing: str,
) -> CheckColumn:
    """The lowest of what hangs over a track; ``missing`` is what was not worked out of it."""
    # Where all that could hang is not worked out, there is no gap, and no place.
    headrooms = np.array([underside.headroom_mm for underside in hanging] or [np.nan])
    known = gaps if hanging else np.full((1, *gaps.shape[1:]), np.nan)
    lowest = np.argmin(np.where(np.isnan(known), np.inf, known), axis=0)
    return CheckColumn(
        "overhead",
        track.name,
        runs,
        np.take_along_axis(known, lowest[None], axis=0)[0],
        headrooms[lowest],
        overhead_budget(margins, fleet.tolerance_mm),
        lowest if hanging else np.full_like(lowest, -1),
        tuple(underside.place for underside in hanging),
        gaps,
        cap=NOT_MEASURED if missing else PASSES,
        reason=missing,
    )


def _side(
    helix: Helix,
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
    is_left = inward == (helix.climbs == "counterclockwise")
    beside = [
        (distance, obstacle)
        for obstacle in _obstacles_at(helix, track)
        if (distance := obstacle.left_mm if is_left else obstacle.right_mm)
    ]
    nearest = [
        (distance, Place(obstacle.station or 0, obstacle.name))
        for distance, obstacle in beside
        if not _off_the_screw(helix, obstacle)
    ]
    posts: SideDistance = "none"
    if track is helix.tracks[0 if inward else -1]:
        posts = helix.posts.inside_mm if inward else helix.posts.outside_mm
    if isinstance(posts, float):
        nearest.append((posts, Place(0, "post", helix.last_station)))
    if posts == "none" and not beside:
        return None
    distance, place = min(nearest, default=(math.nan, None))
    reason = not_worked_out(helix, [obstacle for _, obstacle in beside])
    if posts is None:
        reason = f"the helix does not say what stands {'inside' if inward else 'outside'}"

    closest, loosest = swept.outer, swept.outer_with_play
    if inward:
        closest, loosest = swept.inner, swept.inner_with_play
    gap = _side_gap(track, closest, distance, inward=inward)
    # Where play costs more than closeness, the loose place governs; but what fouls, fouls.
    governs = np.where(gap > 0, loosest, closest)
    return CheckColumn(
        "inner_side" if inward else "outer_side",
        track.name,
        runs,
        _side_gap(track, Edge(*governs), distance, inward=inward),
        # The room beside the track's centreline, as the helix gives it.
        np.full(gap.shape, distance),
        side_budget(margins, fleet.tolerance_mm, governs[1], fleet.figure("wheelbase_mm")),
        np.full(gap.shape, -1 if place is None else 0, np.intp),
        () if place is None else (place,),
        cap=NOT_MEASURED if reason else PASSES,
        reason=reason,
    )


def _side_gap(track: Track, edge: Edge, distance_mm: float, *, inward: bool) -> Floats:
    swing = track.radius_mm - edge.radius_mm
    return distance_mm - swing if inward else distance_mm + swing


def _radius(track: Track, fleet: Fleet, axis_gap: Floats, applies: Mask) -> CheckColumn:
    """The least radius that the car states, and the one below which it cannot stand at all."""
    stated = track.radius_mm - fleet.figure("minimum_radius_mm")
    span = np.hypot(fleet.figure("wheelbase_mm"), fleet.figure("truck_wheelbase_mm"))
    stands = np.where(np.isnan(axis_gap), track.radius_mm - span / 2, axis_gap)
    gap = np.where(stands > 0, stated, np.fmin(stated, stands))
    return _plain_column("radius", track, applies, track.radius_mm, gap)


def _plain_column(
    name: str, track: Track, applies: Mask, available_mm: Floats | float, gap: Floats
) -> CheckColumn:
    """A comparison of two stated figures: no place, no allowance, the same both ways round."""
    both = np.broadcast_to(gap, (2, len(gap)))
    return CheckColumn(
        name,
        track.name,
        applies,
        both,
        np.broadcast_to(available_mm, both.shape),
        Budget(0.0, {}),
        np.full(both.shape, -1, np.intp),
        lowers=False,
        reason="nobody stated its least radius",
    )
