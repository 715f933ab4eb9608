"""Which limits contradict each other, when no helix is within all of them: the fewest that do.

Grade, diameter, and climb with its turns. The cars need a rise a turn, the grade then a radius; the
climb may need a greater rise.
"""

import math
from collections.abc import Callable

from catalog.errors import DataError
from catalog.helix import Helix
from clearance.judge.size_crowd import Crowd
from clearance.judge.size_draft import Limits, spacing_of
from clearance.judge.size_least import CLIMB, GRADE, Settled

__all__ = ["STEEPEST_PERCENT", "refuse_contradiction", "refuse_impossible"]

STEEPEST_PERCENT = 15.0
"""No helix is steeper."""

_GRADE_STEPS = 10  # to a percent


def refuse_impossible(helix: Helix, limits: Limits) -> None:
    """Refuse a limit that no helix keeps, whatever the cars.

    Raises
    ------
    DataError
        There is one.
    """
    grade, turns = limits.max_grade_percent, limits.max_turns
    if not 0 < grade <= STEEPEST_PERCENT:
        raise DataError(
            f"a greatest grade of {grade:g} % makes no helix; give a percentage like 3.0"
        )
    if turns is not None and not turns * helix.brackets_per_turn >= 1:
        raise DataError(
            f"{turns:g} turns are less than from one bracket to the next "
            f"(there are {helix.brackets_per_turn} a turn); give a number like 2.5"
        )


def refuse_contradiction(helix: Helix, crowd: Crowd, limits: Limits, settled: Settled) -> None:
    """Refuse limits that no helix for these cars keeps all at once: the fewest of them.

    Parameters
    ----------
    helix, crowd, limits
        What was asked.
    settled
        The least helix with the grade, the climb and the turns; its diameter is looked at.

    Raises
    ------
    DataError
        It is too wide; names the limits, and what each would have to be with the others kept.
    """
    most = limits.max_diameter_mm
    if most is None or settled.footprint_mm <= most:
        return
    any_grade = limits._replace(max_grade_percent=STEEPEST_PERCENT)
    no_climb = limits._replace(climb_mm=None)
    climbs = limits.climb_mm is not None and limits.max_turns is not None
    # The fewest first: the diameter alone, with the grade, with climb and turns, with all of them.
    sets = [any_grade._replace(climb_mm=None), no_climb]
    if climbs:
        sets += [any_grade, limits]
    for some in sets:
        least = crowd.least(helix, some)
        if least.footprint_mm > most:
            raise DataError(_complaint(helix, crowd, limits, some, least))


def _complaint(helix: Helix, crowd: Crowd, limits: Limits, some: Limits, least: Settled) -> str:
    most = limits.max_diameter_mm or 0.0
    graded = some.max_grade_percent == limits.max_grade_percent < STEEPEST_PERCENT
    climbing = some.climb_mm is not None and some.max_turns is not None
    tracks = least.helix.tracks
    needs = f"{least.footprint_mm:g} mm over all (radius {tracks[0].radius_mm:g} mm)"

    def fits(tried: Limits) -> bool:
        return crowd.least(helix, tried, foremost=True).footprint_mm <= most

    against, ways = [], [f"a diameter of {least.footprint_mm:g} mm"]
    if graded:
        against.append(f"a grade of at most {some.max_grade_percent:g} %")
        steps = _first(
            math.ceil(some.max_grade_percent * _GRADE_STEPS + 1e-9),
            round(STEEPEST_PERCENT * _GRADE_STEPS),
            lambda step: fits(some._replace(max_grade_percent=step / _GRADE_STEPS)),
        )
        if steps is not None:
            ways.append(f"a grade of {steps / _GRADE_STEPS:g} %")
    if climbing:
        against.append(f"a climb of {some.climb_mm:g} mm in at most {some.max_turns:g} turns")
        count = helix.brackets_per_turn
        brackets = _first(
            math.floor((some.max_turns or 0.0) * count + 1e-9) + 1,
            100 * count,
            lambda step: fits(some._replace(max_turns=step / count)),
        )
        if brackets is not None:
            # Rounded up, so that what is typed is still enough for the last bracket.
            ways.append(f"{math.ceil(1000 * brackets / count - 1e-9) / 1000:g} turns")
    told = f"a diameter of at most {most:g} mm contradicts "
    who = _who(least)
    if not against:
        cause = least.governing["radius"]
        reason = f"the least radius of {cause}" if cause != GRADE else "the cars at any grade"
        return (
            f"{told}{reason}: that needs {needs}: {who}; either the limit must give way, or cars "
            f"be left out"
        )
    number = {1: "two", 2: "three"}[len(against)]
    return (
        f"{told}{' and '.join(against)}: that needs {needs}: {who}; one of the {number} must give "
        f"way: {', or '.join(ways)}"
    )


def _who(least: Settled) -> str:
    """Who needs what of a helix, in a line."""
    governing, helix = least.governing, least.helix
    tallest = governing["rise_per_turn"]
    whom = "the climb" if tallest == CLIMB else tallest
    parts = [f"{helix.rise_per_turn_mm:g} mm of rise a turn for {whom}"]
    pair = governing["track_spacing"]
    if isinstance(pair, list):
        parts.append(f"{spacing_of(helix):g} mm of track spacing for {' past '.join(pair)}")
    parts.append(f"{least.outside_mm:g} mm outside for {governing['outside']}")
    return ", ".join(parts)


def _first(low: int, high: int, serves: Callable[[int], bool]) -> int | None:
    """The first whole number from low to high that serves, where all after it do; None: none."""
    if low > high or not serves(high):
        return None
    while low < high:
        middle = (low + high) // 2
        if serves(middle):
            high = middle
        else:
            low = middle + 1
    return high
