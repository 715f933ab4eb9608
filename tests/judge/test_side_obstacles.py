"""What stands beside a track, at which height, against what of a car is as high: by hand (G5)."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from catalog.car import Car
from catalog.helix import Allowance, Deck, Helix, Lead, Obstacle, Posts
from catalog.survey import Reading, Survey
from clearance.judge.check import check
from clearance.judge.findings import Finding
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, NOT_MEASURED, PASSES
from tests.judge.clubs import INNER_MM, block, car, column, finding, fleet_of, frame, on, single

NOTHING = Posts(inside_mm="none", outside_mm="none")


def side(where: Helix, one: Car, name: str, survey: Survey | None = None) -> Finding | None:
    return finding(check(where, fleet_of(one), survey), "inner", name)


def engine() -> Car:
    """A boiler of 90 mm from 70 mm up; cylinders of 150 mm from 5 to 60 mm, wider to the left."""
    return car(
        width_mm=155.0,
        blocks=(
            block((0, 600), (45, 45), (70, 190)),
            block((100, 160), (80, 75), (5, 60)),
            block((100, 160), (40, 40), (60, 70)),
        ),
    )


def fence(**figures: object) -> Obstacle:
    """Beside a straight lead, so far along it that a car of 600 mm is wholly on the straight."""
    return Obstacle(name="fence", **({"distance_mm": 1000.0} | figures))


def beside_a_lead(*obstacles: Obstacle, **changes: object) -> Helix:
    """Half a turn: what hangs overhead is no matter here."""
    lead = Lead(at="foot", length_mm=2000.0)
    return single(turns=0.5, leads=(lead,), obstacles=obstacles, posts=NOTHING, **changes)


# --- heights --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bottom_mm", "top_mm", "reach_mm"),
    [
        (0.0, None, 80),
        (0.0, 65.0, 80),
        (59.0, None, 80),
        (61.0, None, 45),
        (61.0, 69.0, 40),
        (70.0, 300.0, 45),
        (189.9, None, 45),
        (0.0, 6.0, 80),
    ],
)
def test_only_what_is_as_high_as_the_fence_counts(
    bottom_mm: float, top_mm: float | None, reach_mm: float
) -> None:
    """Left is towards the axis, uphill; the other way round the cylinders reach 75 mm there."""
    where = beside_a_lead(fence(left_mm=100.0, bottom_mm=bottom_mm, top_mm=top_mm))
    found = side(where, engine(), "inner_side")
    assert found is not None
    assert_allclose(found.gap_mm, 100 - reach_mm, atol=1e-6)
    assert_allclose(found.available_mm, 100)
    other = 75 if reach_mm == 80 else reach_mm
    assert_allclose(found.other_way_gap_mm, 100 - other, atol=1e-6)


@pytest.mark.parametrize(("bottom_mm", "top_mm"), [(0.0, 4.9), (190.1, None), (191.0, 400.0)])
def test_what_is_nowhere_as_high_as_the_car_is_no_finding(
    bottom_mm: float, top_mm: float | None
) -> None:
    obstacle = fence(left_mm=20.0, bottom_mm=bottom_mm, top_mm=top_mm)
    for where in (
        beside_a_lead(obstacle),
        single(
            posts=NOTHING,
            obstacles=(obstacle.model_copy(update={"distance_mm": None, "station": 4.0}),),
        ),
    ):
        assert side(where, engine(), "inner_side") is None
        assert check(where, fleet_of(engine())).codes()[0] == PASSES


def test_beside_posts_what_is_too_low_to_matter_leaves_the_posts() -> None:
    low = Obstacle(name="kerb", station=4.0, left_mm=20.0, top_mm=4.0)
    found = side(single(obstacles=(low,)), engine(), "inner_side")
    assert found is not None
    assert (found.location["obstacle"], found.available_mm) == ("post", 110)


def test_of_two_fences_the_one_with_the_least_to_spare_governs() -> None:
    """30 mm from the cylinders, 27 from the boiler."""
    low, high = fence(left_mm=110.0, top_mm=65.0), fence(left_mm=72.0, bottom_mm=65.0)
    high = high.model_copy(update={"name": "hedge"})
    found = side(beside_a_lead(low, high), engine(), "inner_side")
    assert found is not None
    assert found.location["obstacle"] == "hedge"
    assert_allclose((found.gap_mm, found.available_mm), (27, 72), atol=1e-6)


@pytest.mark.parametrize("grade", [0.0, 0.06])
def test_heights_are_over_the_cars_own_base_line(grade: float) -> None:
    """The fence is read as if it leant with the car, so a grade changes nothing."""
    where = single(
        leads=(Lead(at="head", length_mm=2000.0, grade=grade),),
        obstacles=(fence(right_mm=100.0, bottom_mm=60.5),),
        posts=NOTHING,
    )
    found = side(where, engine(), "outer_side")
    assert found is not None
    assert_allclose(found.gap_mm, 55, atol=1e-6)


@pytest.mark.parametrize("top_mm", [189.0, None])
def test_cant_leans_what_is_higher_further(top_mm: float | None) -> None:
    """3 mm on 45: sin = 1 / 15. A slice of 189 to 190 mm, and one from the foot to 189 mm."""
    where = single(
        cant_mm=3.0,
        turns=0.5,
        rise_per_turn_mm=0.001,
        deck=Deck(depth_mm=0.0),
        posts=NOTHING,
        obstacles=(
            Obstacle(
                name="fence",
                station=3,
                left_mm=120.0,
                bottom_mm=0.0 if top_mm else 189.0,
                top_mm=top_mm,
            ),
        ),
    )
    one = car(truck_wheelbase_mm=0.0)
    found = side(where, one, "inner_side")
    assert found is not None
    mid = math.sqrt(INNER_MM**2 - 200**2)
    cosine = math.sqrt(1 - 1 / 225)
    height = top_mm or 190.0
    nearest = mid - 55 * cosine - height / 15
    assert_allclose(found.gap_mm, nearest - (INNER_MM - 120), atol=1e-3)


# --- on the curve ---------------------------------------------------------------------------------


@pytest.mark.parametrize("surveyed", [False, True])
@pytest.mark.parametrize("width_mm", [0.0, 5.0, 200.0])
def test_a_post_on_a_level_curve_is_passed_by_every_part(width_mm: float, surveyed: bool) -> None:
    """So it meets the whole band of G5, however narrow it is."""
    post = Obstacle(name="post", station=3.0, left_mm=95.0, right_mm=104.0, width_mm=width_mm)
    where = single(
        turns=0.5,
        rise_per_turn_mm=0.001,
        deck=Deck(depth_mm=0.0),
        posts=NOTHING,
        obstacles=(post,),
    )
    survey = Survey(readings=(Reading(station=2, railhead_mm=0.0),)) if surveyed else None
    one = car(truck_wheelbase_mm=80.0)
    mid = math.sqrt(INNER_MM**2 - 40**2 - 200**2)
    inner, outer = (side(where, one, name, survey) for name in ("inner_side", "outer_side"))
    assert inner is not None
    assert outer is not None
    assert_allclose(inner.gap_mm, mid - 55 - (INNER_MM - 95), atol=2e-3)
    assert_allclose(outer.gap_mm, INNER_MM + 104 - math.hypot(mid + 55, 300), atol=2e-3)


def level_with_a_lead(*obstacles: Obstacle) -> Helix:
    return single(
        700.0,
        turns=0.5,
        rise_per_turn_mm=0.001,
        deck=Deck(depth_mm=0.0),
        leads=(Lead(at="foot", length_mm=3000.0),),
        posts=NOTHING,
        obstacles=obstacles,
    )


def test_the_tail_passes_the_change_as_if_all_were_curved() -> None:
    """A post at the very end of the curve, outside: when the tail passes it, going uphill, both
    axles are on the circle; there its corner is 400 mm from the middle of the wagon.
    """
    one = car(truck_wheelbase_mm=0.0, length_mm=800.0, width_mm=100.0)
    post = Obstacle(name="post", distance_mm=0.0, right_mm=300.0, width_mm=0.0)
    found = side(level_with_a_lead(post), one, "outer_side")
    assert found is not None
    furthest = math.hypot(math.sqrt(700**2 - 200**2) + 50, 400)
    assert_allclose(found.gap_mm, 1000 - furthest, atol=2e-3)


def plan_of_a_wagon(front_axle: np.ndarray, radius_mm: float, wheelbase_mm: float) -> np.ndarray:
    """Where the rear and the front axle are in plan, as complex numbers, shape (2, n).

    Track: straight up to the point R, a circle from there. The rear axle by bisection.
    """

    def rail(at: np.ndarray) -> np.ndarray:
        circle = radius_mm * np.exp(1j * np.maximum(at, 0) / radius_mm)
        return np.where(at <= 0, radius_mm + 1j * np.minimum(at, 0), circle)

    front = rail(front_axle)
    low, high = front_axle - 1.5 * wheelbase_mm, front_axle
    for _ in range(60):
        middle = (low + high) / 2
        far = np.abs(front - rail(middle)) > wheelbase_mm
        low, high = np.where(far, middle, low), np.where(far, high, middle)
    return np.array([rail((low + high) / 2), front])


def past_the_post(
    places: np.ndarray, ends_mm: tuple[float, float], from_mm: float, width_mm: float
) -> tuple[np.ndarray, np.ndarray]:
    """The least and the greatest offset of a body 100 mm wide abreast of a post, for each position.

    Offsets are from the radius, on the straight from the line. Of each long side, what lies within
    the post's width: 31 points from end to end of that. inf and -inf: it is not abreast.
    """
    rear, front = plan_of_a_wagon(places, 700.0, 400.0)
    ahead = (front - rear) / abs(front - rear)
    least, most = np.full(len(places), np.inf), np.full(len(places), -np.inf)
    for side in (50, -50):
        start = rear + 1j * side * ahead
        low, high = (
            np.clip((from_mm + end - start.imag) / ahead.imag, *ends_mm)
            for end in (-width_mm / 2, width_mm / 2)
        )
        body = start + (low + np.linspace(0, 1, 31)[:, None] * (high - low)) * ahead
        offset = np.where(body.imag <= 0, body.real, np.abs(body)) - 700
        abreast = np.abs(body.imag - from_mm) <= width_mm / 2 + 1e-6
        least = np.minimum(least, np.where(abreast, offset, np.inf).min(axis=0))
        most = np.maximum(most, np.where(abreast, offset, -np.inf).max(axis=0))
    return least, most


@pytest.mark.parametrize("distance_mm", [0.0, 90.0, 250.0, 500.0])
@pytest.mark.parametrize("width_mm", [0.0, 120.0])
def test_beside_the_lead_against_a_dense_drive_in_plan(distance_mm: float, width_mm: float) -> None:
    """A level line, so a plan is all; the straight runs up along the imaginary axis.

    Every half a millimetre, then every micrometre about the closest.
    """
    one = car(truck_wheelbase_mm=0.0, length_mm=800.0, width_mm=100.0, front_overhang_mm=260.0)
    post = Obstacle(
        name="post", distance_mm=distance_mm, left_mm=300.0, right_mm=300.0, width_mm=width_mm
    )
    result = check(level_with_a_lead(post), fleet_of(one))
    places = np.arange(-distance_mm - 900, 900, 0.5)
    for way, ends in enumerate(((-140.0, 660.0), (-260.0, 540.0))):
        for name, extreme, sign in (("inner_side", 0, 1), ("outer_side", 1, -1)):
            coarse = sign * past_the_post(places, ends, -distance_mm, width_mm)[extreme]
            near = places[coarse.argmin()] + np.arange(-0.6, 0.6, 1e-3)
            fine = sign * past_the_post(near, ends, -distance_mm, width_mm)[extreme]
            each = column(result, "inner", name)
            assert each is not None
            assert_allclose(each.gap_mm[way, 0], 300 + fine.min(), atol=0.01)


# --- play and frames ------------------------------------------------------------------------------


def test_play_is_that_of_the_part_that_is_as_high() -> None:
    """1.5 mm at the axles: 1.5 at mid-car, 1.5 x (2 x 100 + 400) / 400 = 2.25 mm at the ends."""
    own = Allowance(side_mm=6.0, play_mm=1.5)
    cylinders = block((280, 320), (80, 80), (5, 60))
    one = car(width_mm=160.0, blocks=(block((0, 600), (45, 45), (70, 190)), cylinders))
    for bottom_mm, top_mm, play in ((0.0, 65.0, 1.5), (65.0, None, 2.25)):
        where = beside_a_lead(
            fence(left_mm=100.0, bottom_mm=bottom_mm, top_mm=top_mm), allowance=own
        )
        found = side(where, one, "inner_side")
        assert found is not None
        assert_allclose(found.allowance_parts["lateral play"], play, rtol=1e-9)
        assert_allclose(found.allowance_mm, 6 + play + 1, rtol=1e-9)


def test_blocks_of_every_frame_are_cut_to_the_height() -> None:
    one = Car(
        id="engine",
        height_mm=190.0,
        width_mm=140.0,
        length_mm=620.0,
        frames=(
            frame("rear unit", (560, "track"), (440, "track")),
            frame("front unit", (180, "track"), (60, "track")),
            frame("boiler", (470, "rear unit"), (150, "front unit")),
        ),
        blocks=(
            on("front unit", block((0, 200), (70, 60), (10, 80))),
            on("rear unit", block((430, 620), (65, 60), (10, 80))),
            on("boiler", block((150, 470), (40, 40), (75, 190))),
        ),
    )
    for bottom_mm, top_mm, reach_mm in ((0.0, None, 70), (0.0, 70.0, 70), (81.0, None, 40)):
        found = side(
            beside_a_lead(fence(left_mm=100.0, bottom_mm=bottom_mm, top_mm=top_mm)),
            one,
            "inner_side",
        )
        assert found is not None
        assert_allclose(found.gap_mm, 100 - reach_mm, atol=1e-3)


@pytest.mark.parametrize(
    ("left_mm", "code"), [(52.9, DOES_NOT_FIT), (60.0, MARGINAL), (62.1, PASSES)]
)
def test_the_verdict_at_a_fence(left_mm: float, code: int) -> None:
    """A car of 110 mm, 6 mm of running clearance and 1 mm of tolerance: 62 mm."""
    found = side(beside_a_lead(fence(left_mm=left_mm)), car(), "inner_side")
    assert found is not None
    assert found.code == code


def test_a_side_of_which_nothing_is_said_stays_not_measured_beside_a_fence() -> None:
    obstacle = Obstacle(name="fence", station=3, left_mm=200.0)
    found = side(single(posts=Posts(outside_mm=120.0), obstacles=(obstacle,)), car(), "inner_side")
    assert found is not None
    assert found.code == NOT_MEASURED
    assert "inside" in found.reason
