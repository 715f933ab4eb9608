"""What moved from one survey to the next, and drift over several: figures by hand.

The helix of `clubs`: 12 brackets a turn, 285 mm a turn, so 23.75 mm from one to the next; deck and
beam are 62 mm deep, so 223 mm under each beam.
"""

from datetime import date

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from catalog.survey import Reading, Survey
from clearance.judge.drift import (
    Dated,
    Drift,
    Figure,
    Lost,
    Move,
    common_shift_mm,
    drifts,
    lost,
    moves,
)
from clearance.judge.trend import DAYS_A_YEAR
from tests.judge.clubs import helix, random_built

STEP_MM, HEADROOM_MM = 23.75, 223.0
MEASURED, BY_RAILHEADS, DRAWN = "as measured", "from surveyed railheads", "as designed"


def survey(*rows: tuple[object, ...]) -> Survey:
    """Rows of station, railhead or None, headroom or None, and a track."""
    return Survey(
        readings=tuple(
            Reading(
                station=row[0],
                railhead_mm=row[1],
                headroom_mm=row[2] if len(row) > 2 else None,
                track=row[3] if len(row) > 3 else "",
            )
            for row in rows
        )
    )


BEFORE = survey((3, 71.0), (15, 356.0, 221.0))
NOW = survey((3, 69.5), (15, 353.0, 219.5))


def found(rows: list[Move], station: float, what: str, track: str = "") -> Move:
    (row,) = [it for it in rows if (it.station, it.what, it.track) == (station, what, track)]
    return row


def test_what_moved_by_hand() -> None:
    """Bracket 3 sank by 1.5, bracket 15 by 3; so the beam over 3 came down by 1.5."""
    rows = moves(helix(), BEFORE, NOW)
    assert [(it.station, it.what) for it in rows] == [
        (3, "railhead"),
        (3, "headroom"),
        (15, "railhead"),
        (15, "headroom"),
    ]
    assert all(it.is_like and it.track == "" for it in rows)
    assert found(rows, 3, "railhead").moved_mm == -1.5
    assert found(rows, 15, "railhead").moved_mm == -3.0
    under = found(rows, 3, "headroom")
    assert (under.before, under.now) == (Figure(223.0, BY_RAILHEADS), Figure(221.5, BY_RAILHEADS))
    assert found(rows, 15, "headroom") == Move(
        "", 15, "headroom", Figure(221.0, MEASURED), Figure(219.5, MEASURED)
    )


def test_without_a_survey_before_the_drawing_stands_for_it() -> None:
    """As drawn 3 is at 71.25 and 15 at 356.25."""
    rows = moves(helix(), None, NOW)
    assert not any(it.is_like for it in rows)
    assert {it.before.origin for it in rows if it.before} == {DRAWN}
    assert_allclose(found(rows, 3, "railhead").moved_mm, 69.5 - 3 * STEP_MM)
    assert_allclose(found(rows, 15, "railhead").moved_mm, 353.0 - 15 * STEP_MM)
    assert_allclose(found(rows, 3, "headroom").moved_mm, 221.5 - HEADROOM_MM)
    assert_allclose(found(rows, 15, "headroom").moved_mm, 219.5 - HEADROOM_MM)


def test_like_is_compared_with_like() -> None:
    """Over 3 the headroom is measured only now: what follows from the railheads moved by -1.5."""
    now = survey((3, 69.5, 220.0), (15, 353.0))
    rows = moves(helix(), BEFORE, now)
    assert found(rows, 3, "headroom") == Move(
        "", 3, "headroom", Figure(223.0, BY_RAILHEADS), Figure(221.5, BY_RAILHEADS)
    )


def test_what_was_found_otherwise_before_is_said_to_be() -> None:
    """A headroom measured now, and before only by the drawing."""
    rows = moves(helix(), BEFORE, survey((5, None, 222.0)))
    (row,) = rows
    assert row.before == Figure(HEADROOM_MM, DRAWN)
    assert row.now == Figure(222.0, MEASURED)
    assert not row.is_like
    assert_allclose(row.moved_mm, -1.0)


def test_between_brackets_no_drawing_says_a_headroom() -> None:
    (row,) = moves(helix(), BEFORE, survey((5.5, None, 240.0)))
    assert (row.before, row.moved_mm, row.is_like) == (None, None, False)


def test_a_headroom_beyond_the_last_tier_is_not_drawn() -> None:
    """30 brackets: over 19 there is none."""
    (row,) = moves(helix(), None, survey((19, None, 250.0)))
    assert row.before is None


def test_tracks_that_differ_are_told_apart() -> None:
    before = survey((3, 71.0), (4, 95.0))
    now = survey((3, 70.0), (4, 94.0, 222.0), (4, 93.5, None, "outer"))
    rows = moves(helix(), before, now)
    assert [(it.track, it.station, it.what, it.moved_mm) for it in rows] == [
        ("", 3, "railhead", -1.0),
        ("inner", 4, "railhead", -1.0),
        ("inner", 4, "headroom", -1.0),
        ("outer", 4, "railhead", -1.5),
        ("outer", 4, "headroom", -1.0),
    ]


def test_a_reading_of_one_track_alone_has_its_name() -> None:
    (row,) = moves(helix(), None, survey((4, None, 222.0, "outer")))
    assert row.track == "outer"


def test_what_is_not_measured_any_more() -> None:
    rows = lost(helix(), BEFORE, survey((3, 69.5)))
    assert rows == [Lost("", 15, "railhead"), Lost("", 15, "headroom")]
    assert lost(helix(), BEFORE, NOW) == []
    assert lost(helix(), None, NOW) == []
    outer = survey((3, 71.0, None, "outer"), (4, 95.0))
    assert lost(helix(), outer, survey((4, 95.0))) == [Lost("outer", 3, "railhead")]


@pytest.mark.parametrize(
    ("shifts_mm", "common_mm"),
    [
        ([5.0, 5.5, 4.5, 5.0], 5.0),
        ([-5.0, -5.0, -5.0, -5.0], -5.0),
        ([5.0, 5.0, 5.0], None),  # three are not many
        ([5.0, 5.0, 5.0, 2.5], None),  # 2.5 apart, and people read to 1
        ([2.0, 2.0, 2.0, 2.0], None),  # no more than readings explain
    ],
)
def test_a_mark_that_moved(shifts_mm: list[float], common_mm: float | None) -> None:
    before = survey(*((k, STEP_MM * k) for k in range(len(shifts_mm))))
    now = survey(*((k, STEP_MM * k + shift) for k, shift in enumerate(shifts_mm)))
    assert common_shift_mm(moves(helix(), before, now), 1.0) == (
        None if common_mm is None else pytest.approx(common_mm)
    )
    assert common_shift_mm(moves(helix(), None, now), 1.0) is None


# --- over several surveys -------------------------------------------------------------------------

DAYS = (date(2016, 3, 1), date(2020, 3, 1), date(2024, 3, 1))  # four years apart


def drift(rows: list[Drift], station: float, what: str) -> Drift:
    (row,) = [it for it in rows if (it.station, it.what) == (station, what)]
    return row


def test_drift_by_hand() -> None:
    """Bracket 15 sinks by 1 mm, then 2: by 3/8 mm a year; nothing else moves."""
    rows = drifts(
        helix(),
        [
            Dated(day, survey((3, 71.0), (15, z)))
            for day, z in zip(DAYS, (356, 355, 353), strict=True)
        ],
    )
    sinking, still, room = (
        drift(rows, *place) for place in ((15, "railhead"), (3, "railhead"), (3, "headroom"))
    )
    assert (sinking.days, sinking.values_mm, sinking.moved_mm) == (DAYS, (356, 355, 353), -3)
    assert_allclose(sinking.trend.rate, -3 / 8)
    # It misses the line by 1/6, 1/3 and 1/6 mm, less than it is read to: to 1 mm, so 1 / sqrt(3) as
    # a standard error. The squares of 4, 0 and 4 years add up to 32.
    assert_allclose(sinking.trend.deviation, np.sqrt(1 / 36 + 1 / 9 + 1 / 36))
    assert_allclose(sinking.trend.rate_error, np.sqrt(1 / 3 / 32))
    assert (still.moved_mm, float(still.trend.rate)) == (0, 0)
    assert (room.origin, room.values_mm) == (BY_RAILHEADS, (223, 222, 220))


def test_a_headroom_is_followed_as_it_was_measured_twice() -> None:
    """Between two measured ones it follows from the railheads, which would mix two kinds."""
    rows = drifts(
        helix(),
        [
            Dated(DAYS[0], survey((3, 71.0, 222.0), (15, 356.0))),
            Dated(DAYS[1], survey((3, 71.0), (15, 356.0))),
            Dated(DAYS[2], survey((3, 71.0, 221.0), (15, 356.0))),
        ],
    )
    room = drift(rows, 3, "headroom")
    assert (room.origin, room.days, room.values_mm) == (MEASURED, DAYS[::2], (222.0, 221.0))


def test_a_headroom_that_was_measured_once_is_followed_by_its_railheads() -> None:
    rows = drifts(
        helix(),
        [
            Dated(DAYS[0], survey((3, 71.0), (15, 356.0))),
            Dated(DAYS[1], survey((3, 71.0, 222.0), (15, 355.0))),
        ],
    )
    room = drift(rows, 3, "headroom")
    assert (room.origin, room.days, room.values_mm) == (BY_RAILHEADS, DAYS[:2], (223.0, 222.0))


def test_of_what_was_measured_once_there_is_no_rate() -> None:
    (row,) = drifts(helix(), [Dated(DAYS[0], survey((3, 71.0)))])
    assert (row.days, row.values_mm) == (DAYS[:1], (71.0,))
    assert np.isnan(row.trend.rate)


@pytest.mark.parametrize("seed", range(10))
def test_random_surveys_as_linregress_has_them(seed: int) -> None:
    """Each place of each track, from its own readings."""
    rng = np.random.default_rng(seed)
    where, first = random_built(rng)
    surveys = [Dated(date(2020, 4, 1), first)]
    for year in (2021, 2022, 2024):
        readings = tuple(
            it.model_copy(
                update={
                    name: round(getattr(it, name) + float(rng.normal(-1, 1)), 1)
                    for name in ("railhead_mm", "headroom_mm")
                    if getattr(it, name) is not None
                }
            )
            for it in surveys[-1].survey.readings
        )
        surveys.append(Dated(date(year, 4, int(rng.integers(1, 28))), Survey(readings=readings)))
    rows = drifts(where, surveys)
    followed = 0
    for track in where.tracks:
        for station in {it.station for it in first.readings}:
            for what in ("railhead", "headroom"):
                read = [
                    (day.toordinal(), value)
                    for day, its in surveys
                    if (value := reading(its, track.name, station, what)) is not None
                ]
                if not read:
                    continue
                (row,) = [
                    it
                    for it in rows
                    if it.station == station and it.what == what and it.track in ("", track.name)
                ]
                outside = stats.linregress(*zip(*read, strict=True))
                assert row.origin == MEASURED
                assert_allclose(row.trend.rate / DAYS_A_YEAR, outside.slope, atol=1e-9)
                scatter = row.trend.deviation / np.sqrt(row.trend.spread)
                assert_allclose(scatter, outside.stderr, atol=1e-9)
                # No surer than what is read to 1 mm.
                when = np.array([day for day, _ in read], float)
                least = np.sqrt(1 / 3 / ((when - when.mean()) ** 2).sum())
                assert_allclose(row.trend.rate_error / DAYS_A_YEAR, max(outside.stderr, least))
                followed += 1
    assert followed > len(first.readings)


def reading(its: Survey, track: str, station: float, what: str) -> float | None:
    """What was read at a place: the track's own before that of all tracks; None: nothing."""
    values = {
        it.track: getattr(it, f"{what}_mm")
        for it in its.readings
        if round(it.station, 6) == round(station, 6) and getattr(it, f"{what}_mm") is not None
    }
    value: float | None = values.get(track, values.get(""))
    return value
