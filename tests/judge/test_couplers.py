"""Do coupled cars stay coupled: two cars on a level circle and over breaks of grade, by hand.

G8, docs/theory.md.
"""

import itertools
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from catalog.car import Block, Car
from catalog.helix import Deck, Helix, Lead, ProfilePoint
from clearance.judge.check import check
from clearance.judge.couplers import Coupling, couple, couple_either_way
from clearance.judge.findings import Finding
from clearance.judge.fleet import Fleet
from clearance.judge.partners import FRONT, REAR
from clearance.judge.structure import Structure
from clearance.judge.verdict import DOES_NOT_FIT, NOT_MEASURED, PASSES
from tests.judge.clubs import (
    INNER_MM,
    block,
    car,
    finding,
    fleet_of,
    frame,
    random_fleet,
    single,
    with_frames,
)

SETTLED_MM = 2e-3  # supports are settled to half a micrometre; four of them, and levers


def level(radius_mm: float = INNER_MM, **changes: object) -> Helix:
    """No record takes a helix that does not climb: this one climbs a micrometre a turn."""
    return single(radius_mm, turns=0.5, rise_per_turn_mm=0.001, deck=Deck(depth_mm=0.0), **changes)


def coupled(name: str, projection_mm: float = 10.0, **figures: object) -> Car:
    """A four-wheeled car whose couplers reach out so far beyond its body."""
    given: dict[str, object] = {
        "length_mm": 600.0,
        "wheelbase_mm": 400.0,
        "truck_wheelbase_mm": 0.0,
        "coupler_swing_mm": 8.0,
    }
    given |= figures
    length = given["length_mm"]
    assert isinstance(length, float)
    return car(name, length_over_couplers_mm=length + 2 * projection_mm, **given)


def pair(where: Helix, one: Car, other: Car, ends: tuple[int, int] = (FRONT, REAR)) -> Coupling:
    """The first car downhill, coupled at the first of the ends."""
    structure = Structure(where)
    return couple(structure, where.tracks[0], fleet_of(one, other), (0, ends[0]), (1, ends[1]))


def on_a_circle(
    radius_mm: float, half_mm: tuple[float, float], beyond_mm: tuple[float, float]
) -> tuple[float, float]:
    """How far sideways, and at which angle, two four-wheeled cars stand to each other on a circle.

    Complex numbers, the axis at 0. Each car's axles lie on the circle, `half` to each side of its
    middle; its coupler's face lies `beyond` its axle, on its own chord. The two nearest axles are
    as far apart as both reach beyond.
    """
    between = math.asin(sum(beyond_mm) / 2 / radius_mm)
    lower, upper = (math.asin(half / radius_mm) for half in half_mm)
    ahead_low = 1j * np.exp(1j * (-between - lower))
    ahead_up = 1j * np.exp(1j * (between + upper))
    face_low = radius_mm * np.exp(-1j * between) + beyond_mm[0] * ahead_low
    face_up = radius_mm * np.exp(1j * between) - beyond_mm[1] * ahead_up
    both = (ahead_low + ahead_up) / abs(ahead_low + ahead_up)
    sideways = abs(((face_up - face_low) * both.conjugate()).imag)
    return sideways, lower + upper + 2 * between


# --- a level circle -------------------------------------------------------------------------------


@pytest.mark.parametrize("radius_mm", [500.0, INNER_MM, 5000.0])
def test_two_cars_coupled_at_like_ends_are_never_sideways(radius_mm: float) -> None:
    """One is the other's mirror image; the angle is that of two bodies and of the bar between."""
    found = pair(level(radius_mm), coupled("a"), coupled("b")).offsets
    assert found is not None
    assert_allclose((found.sideways_mm, found.vertical_mm), 0, atol=SETTLED_MM)
    angle = 2 * math.asin(200 / radius_mm) + 2 * math.asin(110 / radius_mm)
    assert_allclose(found.angle_rad, angle, rtol=1e-5)


@pytest.mark.parametrize(
    ("front_mm", "ends"), [(30.0, (FRONT, FRONT)), (30.0, (REAR, REAR)), (170.0, (FRONT, FRONT))]
)
def test_like_ends_of_a_lopsided_car_are_mirror_images_too(
    front_mm: float, ends: tuple[int, int]
) -> None:
    found = pair(
        level(),
        coupled("a", front_overhang_mm=front_mm),
        coupled("b", front_overhang_mm=front_mm),
        ends,
    ).offsets
    assert found is not None
    assert_allclose(found.sideways_mm, 0, atol=SETTLED_MM)
    beyond = 10 + (front_mm if ends == (FRONT, FRONT) else 200 - front_mm)
    angle = 2 * math.asin(200 / INNER_MM) + 2 * math.asin(beyond / INNER_MM)
    assert_allclose(found.angle_rad, angle, rtol=1e-5)


@pytest.mark.parametrize("radius_mm", [600.0, INNER_MM])
@pytest.mark.parametrize("climbs", ["counterclockwise", "clockwise"])
def test_a_long_car_beside_a_short_one(radius_mm: float, climbs: str) -> None:
    long = coupled("long", length_mm=800.0, wheelbase_mm=500.0)
    short = coupled("short", 6.0, length_mm=200.0, wheelbase_mm=120.0)
    sideways, angle = on_a_circle(radius_mm, (250, 60), (160, 46))
    assert sideways > 5
    for found in (
        pair(level(radius_mm, climbs=climbs), long, short).offsets,
        pair(level(radius_mm, climbs=climbs), short, long).offsets,
    ):
        assert found is not None
        assert_allclose(found.sideways_mm, sideways, atol=SETTLED_MM)
        assert_allclose(found.vertical_mm, 0, atol=SETTLED_MM)
        assert_allclose(found.angle_rad, angle, rtol=1e-5)


@pytest.mark.parametrize(
    ("ends", "beyond_mm"),
    [
        ((FRONT, REAR), (35, 60)),
        ((REAR, FRONT), (185, 110)),
        ((FRONT, FRONT), (35, 110)),
        ((REAR, REAR), (185, 60)),
    ],
)
def test_each_end_has_its_own_overhang(
    ends: tuple[int, int], beyond_mm: tuple[float, float]
) -> None:
    """A: 25 mm ahead, 175 behind, couplers 10; B: 100 ahead, 50 behind, couplers 10."""
    a = coupled("a", front_overhang_mm=25.0)
    b = coupled("b", length_mm=500.0, wheelbase_mm=350.0, front_overhang_mm=100.0)
    found = pair(level(), a, b, ends).offsets
    assert found is not None
    sideways, angle = on_a_circle(INNER_MM, (200, 175), beyond_mm)
    assert_allclose(found.sideways_mm, sideways, atol=SETTLED_MM)
    assert_allclose(found.angle_rad, angle, rtol=1e-5)


def test_on_trucks_the_pivots_are_the_nearest_supports() -> None:
    """Pivots lie on the circle of sqrt(R^2 - 40^2); the bodies are chords of that."""
    coach = coupled("coach", truck_wheelbase_mm=80.0, length_mm=640.0)
    found = pair(level(), coach, coupled("car", length_mm=300.0, wheelbase_mm=200.0)).offsets
    assert found is not None
    # A bar of 130 + 60 mm from a pivot on the one circle to an axle on the other.
    pivots, apart = math.sqrt(INNER_MM**2 - 40**2), 190.0
    between = math.acos((pivots**2 + INNER_MM**2 - apart**2) / (2 * pivots * INNER_MM))
    lower, upper = math.asin(200 / pivots), math.asin(100 / INNER_MM)
    ahead_low, ahead_up = 1j * np.exp(-1j * lower), 1j * np.exp(1j * (between + upper))
    face_low = pivots + 130 * ahead_low
    face_up = INNER_MM * np.exp(1j * between) - 60 * ahead_up
    both = (ahead_low + ahead_up) / abs(ahead_low + ahead_up)
    sideways = abs(((face_up - face_low) * both.conjugate()).imag)
    assert_allclose(found.sideways_mm, sideways, atol=SETTLED_MM)
    assert_allclose(found.angle_rad, lower + between + upper, rtol=1e-5)


def test_the_couplers_of_an_articulated_engine_are_on_its_end_units() -> None:
    """Its units are cars of their own there: 130 mm of wheelbase, 60 mm and 10 beyond the axle."""
    engine = Car(
        id="engine",
        height_mm=190.0,
        width_mm=110.0,
        length_mm=700.0,
        length_over_couplers_mm=720.0,
        coupler_swing_mm=8.0,
        frames=(
            frame("front unit", (190, "track"), (60, "track")),
            frame("rear unit", (640, "track"), (510, "track")),
            frame("boiler", (560, "rear unit"), (140, "front unit")),
        ),
        blocks=tuple(
            # A tank on each unit; the boiler between reaches less far.
            b.model_copy(update={"frame": name})
            for name, b in (
                ("front unit", block_of(0, 250, 150)),
                ("rear unit", block_of(450, 700, 150)),
                ("boiler", block_of(130, 570, 190)),
            )
        ),
    )
    found = pair(level(), engine, coupled("car")).offsets
    assert found is not None
    sideways, angle = on_a_circle(INNER_MM, (65, 200), (70, 110))
    assert_allclose(found.sideways_mm, sideways, atol=SETTLED_MM)
    assert_allclose(found.angle_rad, angle, rtol=1e-5)


def test_a_coach_and_an_engine_on_a_screw_by_root_finding() -> None:
    """A coach, and uphill of it the rear end of an engine whose boiler is fixed to its hind unit.

    Every axle is found on the screw by a root of its own. The boiler's own rear support, 8 mm ahead
    of the hind axle, is the nearest one; from there it is 45 mm to the end of the body.
    """
    radius, rise = 600.0, 260.0

    def rail(at: float) -> np.ndarray:
        out = radius * np.exp(1j * at)
        return np.array([out.real, out.imag, rise * at / (2 * math.pi)])

    def length(between: np.ndarray) -> float:
        return float(np.linalg.norm(between))

    def chord(at: float, apart: float) -> tuple[np.ndarray, np.ndarray]:
        """A point, and the unit vector to the one uphill that is so far from it."""
        ahead = brentq(lambda s: length(rail(at + s) - rail(at)) - apart, 0, 1.5 * apart / radius)
        between = rail(at + ahead) - rail(at)
        return rail(at), between / length(between)

    def pivot(at: float) -> np.ndarray:
        rear, along = chord(at, 60.0)
        return rear + 30 * along

    def search(apart: object, low_mm: float, high_mm: float) -> float:
        return float(brentq(apart, low_mm / radius, high_mm / radius, xtol=1e-14))

    # The coach: pivots 300 mm apart, 70 mm from the front one to its coupler's face.
    front = search(lambda at: length(pivot(at) - pivot(0)) - 300, 150, 450)
    coach = pivot(front) - pivot(0)
    coach /= length(coach)
    face = pivot(front) + 70 * coach

    def boiler(at: float) -> tuple[np.ndarray, np.ndarray]:
        axle, along = chord(at, 100.0)
        return axle + 8 * along, along

    # A bar of 70 + 45 + 15 mm from that pivot to the boiler's rear support.
    hind = search(lambda at: length(boiler(at)[0] - pivot(front)) - 130, 360, 560)
    support, along = boiler(hind)
    between = support - 60 * along - face
    both = coach[:2] / length(coach[:2]) + along[:2] / length(along[:2])
    both /= length(both)
    sideways = abs(both[0] * between[1] - both[1] * between[0])
    angle = math.asin(
        (coach[0] * along[1] - coach[1] * along[0]) / length(coach[:2]) / length(along[:2])
    )
    assert sideways > 5
    assert 0.005 < abs(between[2]) < 0.05

    engine = Car(
        id="engine",
        height_mm=190.0,
        width_mm=110.0,
        length_mm=400.0,
        length_over_couplers_mm=430.0,
        coupler_swing_mm=8.0,
        frames=(
            frame("hind unit", (363, "track"), (263, "track")),
            frame("front unit", (150, "track"), (50, "track")),
            frame("boiler", (355, "hind unit"), (263, "hind unit")),
        ),
        blocks=tuple(
            b.model_copy(update={"frame": name})
            for name, b in (("boiler", block_of(20, 400, 190)), ("front unit", block_of(0, 90, 80)))
        ),
    )
    where = single(radius, turns=1.5, rise_per_turn_mm=rise)
    behind = coupled(
        "coach", length_mm=420.0, wheelbase_mm=300.0, truck_wheelbase_mm=60.0, projection_mm=10.0
    )
    found = pair(where, behind, engine).offsets
    assert found is not None
    assert_allclose(found.sideways_mm, sideways, atol=SETTLED_MM)
    assert_allclose(found.vertical_mm, abs(between[2]), atol=SETTLED_MM / 2)
    assert_allclose(found.angle_rad, angle, rtol=1e-5)
    # The line written down point by point, and not known to be a screw, gives the same.
    points = tuple(ProfilePoint(station=k, railhead_mm=rise * k / 12) for k in range(19))
    written = pair(where.model_copy(update={"profile": points}), behind, engine).offsets
    assert written is not None
    assert_allclose(written[:3], found[:3], atol=SETTLED_MM / 2)


def block_of(from_mm: float, to_mm: float, top_mm: float) -> Block:
    return block((from_mm, to_mm), (55, 55), (20, top_mm))


# --- breaks of grade ------------------------------------------------------------------------------

# A circle so wide that what is on it stands as on straight track: a bracket every 25 m.
WIDE_MM = 25000 * 12 / (2 * math.pi)


def broken_grade(before: float, after: float) -> Helix:
    points = [(k, (25000 * (k - 3)) * (before if k < 3 else after)) for k in range(7)]
    return single(
        WIDE_MM,
        turns=0.5,
        rise_per_turn_mm=3000.0,
        deck=Deck(depth_mm=1.0),
        profile=tuple(ProfilePoint(station=k, railhead_mm=z) for k, z in points),
    )


@pytest.mark.parametrize(("before", "after"), [(0.0, 0.04), (0.03, -0.01), (-0.04, 0.0)])
def test_over_a_break_of_grade_faces_differ_by_the_overhang_times_the_break(
    before: float, after: float
) -> None:
    """One car wholly on one grade, the other's nearest axle at the break: its face, 110 mm beyond
    that axle, is 0.04 x 110 off the line of the first car's.
    """
    found = pair(broken_grade(before, after), coupled("a"), coupled("b")).offsets
    assert found is not None
    assert_allclose(found.vertical_mm, 0.04 * 110, atol=0.02)
    # On the flattest of circles they are hardly sideways.
    assert found.sideways_mm < 0.02


def test_unequal_overhangs_over_a_break() -> None:
    """90 mm beyond the axle of one car, 190 beyond the other's: the longer one swings further up.

    A car wholly on its grade, the longer one's axle at the break: 0.04 x 190.
    """
    a = coupled("a", front_overhang_mm=180.0)
    b = coupled("b", front_overhang_mm=120.0)
    found = pair(broken_grade(0.0, 0.04), a, b).offsets
    assert found is not None
    assert_allclose(found.vertical_mm, 0.04 * 190, atol=0.02)


# --- onto a straight ------------------------------------------------------------------------------


def swept_over_a_change(
    radius_mm: float, half_mm: tuple[float, float], beyond_mm: tuple[float, float]
) -> tuple[float, float, float]:
    """The greatest offset and angle of two cars that run from a straight onto a circle, level; and
    where the lower one's front axle is at that offset, from the change on.

    The straight is the negative imaginary axis's side of the point R; axles one by one by root
    finding, in small steps.
    """

    def rail(at: float) -> complex:
        if at <= 0:
            return radius_mm + 1j * at
        return radius_mm * complex(np.exp(1j * at / radius_mm))

    def ahead(at: float, apart: float) -> float:
        return float(brentq(lambda s: abs(rail(s) - rail(at)) - apart, at, at + 1.5 * apart))

    worst, where = np.zeros(2), math.nan
    length = 2 * sum(half_mm) + sum(beyond_mm)
    for first in np.linspace(-length - 10, 10, 800):
        places = [first]
        for apart in (2 * half_mm[0], sum(beyond_mm), 2 * half_mm[1]):
            places.append(ahead(places[-1], apart))
        axles = [rail(place) for place in places]
        ways = [(axles[k + 1] - axles[k]) / abs(axles[k + 1] - axles[k]) for k in (0, 2)]
        faces = axles[1] + beyond_mm[0] * ways[0], axles[2] - beyond_mm[1] * ways[1]
        both = (ways[0] + ways[1]) / abs(ways[0] + ways[1])
        sideways = abs(((faces[1] - faces[0]) * both.conjugate()).imag)
        where = places[1] if sideways > worst[0] else where
        worst = np.maximum(worst, [sideways, abs(np.angle(ways[1] / ways[0]))])
    return float(worst[0]), float(worst[1]), where


@pytest.mark.parametrize("at", ["foot", "head"])
def test_equal_cars_are_sideways_at_the_change_to_a_straight(at: str) -> None:
    """On the circle and on the straight they are not; where the one begins, they are. At the head
    it is the same, seen in a mirror.
    """
    where = level(700.0, leads=(Lead(at=at, length_mm=2500.0),))
    found = pair(where, coupled("a"), coupled("b")).offsets
    sideways, angle, place = swept_over_a_change(700.0, (200, 200), (110, 110))
    assert found is not None
    assert sideways > 10
    assert_allclose(found.sideways_mm, sideways, atol=0.02)
    assert_allclose(found.angle_rad, angle, rtol=1e-4)
    if at == "head":
        return
    assert_allclose(found.sideways_rad * 700, place, atol=1.1)  # the step of the sweep
    shown = coupling(where, fleet_of(coupled("a")))
    assert_allclose(shown.location["station"], place / (2 * math.pi * 700 / 12), atol=0.01)


# Pairs that are furthest out of line where no axle stands at a bracket, nor near one.
@pytest.mark.parametrize("seed", [69, 102])
def test_a_lead_at_the_head_is_one_at_the_foot_for_who_follows_whom(seed: int) -> None:
    """A level line run the other way: who was the one downhill is the one uphill."""
    draw = np.random.default_rng(seed)
    fleet, radius = fleet_of(*with_couplers(draw, 2, (1, 30))), float(draw.uniform(600, 1200))
    found = []
    for at, lower, upper in (("head", (0, FRONT), (1, REAR)), ("foot", (1, REAR), (0, FRONT))):
        where = level(radius, leads=(Lead(at=at, length_mm=2000.0),), brackets_per_turn=8)
        track = where.tracks[0]
        offsets = couple(Structure(where), track, fleet, lower, upper).offsets
        assert offsets is not None
        found.append(offsets[:3])
    assert_allclose(*found, atol=0.02)


def test_which_of_two_is_on_the_straight_makes_a_difference() -> None:
    """The long car's end is further out of line with the short one on the straight than with the
    short one on the circle: in a fleet both are looked at, for both cars.
    """
    ends = ((250, 160), (60, 46))
    long = coupled("long", length_mm=800.0, wheelbase_mm=500.0, coupler_swing_mm=34.0)
    short = coupled("short", 6.0, length_mm=200.0, wheelbase_mm=120.0, coupler_swing_mm=10.0)
    where = level(leads=(Lead(at="foot", length_mm=2500.0),))
    sideways = [
        swept_over_a_change(INNER_MM, (low[0], up[0]), (low[1], up[1]))[0]
        for low, up in (ends, ends[::-1])
    ]
    on_the_circle = on_a_circle(INNER_MM, (250, 60), (160, 46))[0]
    assert sideways[1] > on_the_circle + 3
    for cars, expected in (((long, short), sideways[0]), ((short, long), sideways[1])):
        found = pair(where, *cars).offsets
        assert found is not None
        assert_allclose(found.sideways_mm, max(expected, on_the_circle), atol=0.02)
        shown = coupling(where, fleet_of(*cars))
        assert_allclose(shown.gap_mm, 44 - sideways[1], atol=0.02)
        assert shown.code == DOES_NOT_FIT


# --- what couplers bear ---------------------------------------------------------------------------


def test_swings_add_up_and_the_less_of_two_drops_and_angles_holds() -> None:
    a = coupled("a", coupler_swing_mm=5.0, coupler_drop_mm=3.0, coupler_angle_deg=25.0)
    b = coupled("b", coupler_swing_mm=7.0, coupler_drop_mm=2.0, coupler_angle_deg=40.0)
    found = pair(level(), a, b)
    assert (found.swing_mm, found.drop_mm, found.angle_deg) == (12, 2, 25)
    assert found.offsets is not None
    turned = 2 * math.asin(200 / INNER_MM) + 2 * math.asin(110 / INNER_MM)
    # An angle is measured at the corner of the car's end, 55 mm from its middle.
    corner = 55 * (math.sin(math.radians(25)) - math.sin(turned))
    assert_allclose(found.gaps_mm, (12, 2, corner), atol=SETTLED_MM)
    assert found.code == DOES_NOT_FIT  # the angle is 30 degrees
    # What one of the two does not state is not known of the pair.
    half_stated = pair(level(), a, coupled("b", coupler_swing_mm=7.0))
    assert np.isnan([half_stated.drop_mm, half_stated.angle_deg]).all()
    assert half_stated.code == NOT_MEASURED


@pytest.mark.parametrize(
    ("figures", "code"),
    [
        (
            {"coupler_swing_mm": 21.0, "coupler_drop_mm": 1.0, "coupler_angle_deg": 26.0},
            PASSES,
        ),
        # What one of three does not hold, the others do not mend; what nobody stated may not hold.
        ({"coupler_swing_mm": 21.0}, NOT_MEASURED),
        ({"coupler_swing_mm": 20.0}, DOES_NOT_FIT),
        ({"coupler_swing_mm": 21.0, "coupler_angle_deg": 26.0}, NOT_MEASURED),
        ({"coupler_swing_mm": 21.0, "coupler_angle_deg": 24.0}, DOES_NOT_FIT),
        ({"coupler_swing_mm": None}, NOT_MEASURED),
        ({"coupler_swing_mm": None, "coupler_angle_deg": 26.0}, NOT_MEASURED),
    ],
)
def test_the_verdict_of_a_coupling(figures: dict[str, object], code: int) -> None:
    """The long and the short car of above: 41.2 mm sideways and 24.9 degrees on 1190 mm."""
    sideways, angle = on_a_circle(INNER_MM, (250, 60), (160, 46))
    assert 2 * 20 < sideways < 2 * 21
    assert 24 < math.degrees(angle) < 26
    long = coupled("long", length_mm=800.0, wheelbase_mm=500.0, **figures)
    short = coupled("short", 6.0, length_mm=200.0, wheelbase_mm=120.0, **figures)
    assert pair(level(), long, short).code == code


def test_without_a_length_over_couplers_nothing_is_known() -> None:
    found = pair(level(), coupled("a"), car("b", coupler_swing_mm=8.0))
    assert found.offsets is None
    assert np.isnan(found.gaps_mm).all()
    assert found.code == NOT_MEASURED


def test_a_pair_that_cannot_stand_does_not_fit() -> None:
    long = coupled("long", length_mm=2700.0, wheelbase_mm=2500.0)
    found = pair(level(), coupled("a"), long)
    assert found.offsets is not None
    assert math.isnan(found.offsets.sideways_mm)
    assert found.code == DOES_NOT_FIT


# --- as a finding ---------------------------------------------------------------------------------


def coupling(where: Helix, cars: Fleet, number: int = 0) -> Finding:
    found = finding(check(where, cars), "inner", "coupling", number)
    assert found is not None
    return found


def test_each_car_is_coupled_with_the_one_that_puts_it_furthest_out_of_line() -> None:
    swing: dict[str, object] = {
        "coupler_swing_mm": 25.0,
        "coupler_drop_mm": 20.0,
        "coupler_angle_deg": 60.0,
    }
    long = coupled("long", length_mm=800.0, wheelbase_mm=500.0, **swing)
    short = coupled("short", 6.0, length_mm=200.0, wheelbase_mm=120.0, **swing)
    cars = fleet_of(long, coupled("even", **swing), short)
    sideways, angle = on_a_circle(INNER_MM, (250, 60), (160, 46))
    for number, partner in ((0, "short"), (2, "long")):
        shown = coupling(level(), cars, number)
        assert partner in shown.location["obstacle"]
        assert_allclose(shown.required_mm, sideways, atol=SETTLED_MM)
        assert_allclose(shown.available_mm, 50, rtol=1e-12)
        assert_allclose(shown.gap_mm, 50 - sideways, atol=SETTLED_MM)
        assert_allclose(shown.more["sideways_mm"], sideways, atol=SETTLED_MM)
        assert_allclose(shown.more["angle_deg"], math.degrees(angle), rtol=1e-5)
        assert (shown.code, shown.allowance_mm) == (PASSES, 0)
        assert shown.location["everywhere"]


def test_alone_a_car_is_coupled_with_its_like() -> None:
    """One end hangs over 30 mm, the other 170: front to rear of its like is the worst of three."""
    alone = coupled("a", front_overhang_mm=30.0)
    shown = coupling(level(), fleet_of(alone))
    sideways, _ = on_a_circle(INNER_MM, (200, 200), (40, 180))
    assert_allclose(shown.required_mm, sideways, atol=SETTLED_MM)


def with_couplers(rng: np.random.Generator, count: int, swing_mm: tuple[float, float]) -> list[Car]:
    """Random cars, with couplers that reach and swing as it comes."""
    return [
        one.model_copy(
            update={
                "length_over_couplers_mm": one.length_mm + float(rng.uniform(5, 30)),
                "coupler_swing_mm": float(rng.uniform(*swing_mm)),
            }
        )
        for one in random_fleet(rng, count).table.cars()
    ]


def least_of_all_pairs(where: Helix, fleet: Fleet, car: int) -> float:
    """What is left sideways with the worst of all partners and ends, whichever is downhill."""
    structure = Structure(where)
    return min(
        couple_either_way(
            structure, where.tracks[0], fleet, (car, end), (other, other_end)
        ).gaps_mm[0]
        for end, other_end in itertools.product((FRONT, REAR), repeat=2)
        for other in range(len(fleet))
    )


@pytest.mark.parametrize("seed", range(3))
def test_the_partner_is_the_worst_of_all_cars_and_ends(seed: int) -> None:
    """Against every pair of ends, one by one. Which partner is found from how far each swings out;
    that is as good as the offset itself to a part of the angle between the two bodies, squared.
    """
    where, fleet = level(), fleet_of(*with_couplers(np.random.default_rng(seed), 5, (1, 12)))
    for number in range(len(fleet)):
        shown = coupling(where, fleet, number)
        assert_allclose(shown.gap_mm, least_of_all_pairs(where, fleet, number), atol=0.1)


@pytest.mark.parametrize("seed", [0, 7, 10])
def test_the_partner_onto_a_straight_is_the_worst_of_all(seed: int) -> None:
    """There a body that stands far out is the worse the less its partner swings, whoever it is."""
    cars = with_couplers(np.random.default_rng(seed), 4, (1, 30))
    where, fleet = level(800.0, leads=(Lead(at="foot", length_mm=2000.0),)), fleet_of(*cars)
    for number in range(len(fleet)):
        shown = coupling(where, fleet, number)
        assert_allclose(shown.gap_mm, least_of_all_pairs(where, fleet, number), atol=0.1)


def test_who_states_no_swing_hides_none_who_does() -> None:
    """The mute car stands further out, but of what it swings nothing is known."""
    swing: dict[str, object] = {"coupler_swing_mm": 15.0}
    long = coupled("long", length_mm=800.0, wheelbase_mm=500.0, **swing)
    short = coupled("short", 6.0, length_mm=200.0, wheelbase_mm=120.0, **swing)
    mute = coupled("mute", length_mm=840.0, wheelbase_mm=500.0, coupler_swing_mm=None)
    turning = mute.model_copy(update={"id": "turning", "coupler_angle_deg": 80.0})
    sideways, _ = on_a_circle(INNER_MM, (250, 60), (160, 46))
    cars = fleet_of(mute, turning, long, short)
    for number, partner in ((2, "short"), (3, "long")):
        shown = coupling(level(), cars, number)
        assert shown.location["obstacle"].endswith(f"coupler of {partner}")
        assert_allclose(shown.gap_mm, 30 - sideways, atol=SETTLED_MM)
        assert shown.code == DOES_NOT_FIT
    assert coupling(level(), cars, 0).code == NOT_MEASURED
    # Two of its own kind turn by 2 asin(250 / 1190) + 2 asin(180 / 1190) = 41.7 degrees.
    assert coupling(level(), cars, 1).gap_mm > 0


def test_neither_what_fouls_nor_what_is_unknown_lowers_a_car_s_own_verdict() -> None:
    long = coupled("long", length_mm=800.0, wheelbase_mm=500.0, coupler_swing_mm=2.0)
    short = coupled("short", length_mm=200.0, wheelbase_mm=120.0, coupler_swing_mm=2.0)
    result = check(level(), fleet_of(long, short, car("silent")))
    assert result.codes().tolist() == [PASSES, PASSES, PASSES]
    for number in (0, 1):
        fouls = finding(result, "inner", "coupling", number)
        assert fouls is not None
        assert (fouls.code, fouls.lowers) == (DOES_NOT_FIT, False)
    silent = finding(result, "inner", "coupling", 2)
    assert silent is not None
    assert (silent.code, silent.lowers) == (NOT_MEASURED, False)
    assert "couplers" in silent.reason


def test_up_and_down_governs_where_it_leaves_less() -> None:
    a = coupled("a", coupler_drop_mm=5.0)
    where = broken_grade(0.0, 0.04)
    shown = coupling(where, fleet_of(a))
    assert_allclose(shown.gap_mm, 5 - 4.4, atol=0.02)
    assert shown.available_mm == 5
    assert not shown.location["everywhere"]
    assert_allclose(shown.location["station"], 3, atol=0.05)


@pytest.mark.parametrize("swing_mm", [None, 30.0])
def test_up_and_down_the_furthest_beyond_its_wheels_is_tried(swing_mm: float | None) -> None:
    """Faces 190 and 110 mm beyond a wheel, over a break of 0.04. One is 290 mm beyond, and does not
    say how much its couplers hold.
    """
    cars = fleet_of(
        coupled("even", coupler_drop_mm=7.5, coupler_swing_mm=swing_mm),
        coupled("mute", length_mm=960.0, coupler_swing_mm=30.0),
        coupled("lopsided", front_overhang_mm=20.0, coupler_drop_mm=9.0, coupler_swing_mm=swing_mm),
    )
    for number, partner in ((0, "rear coupler of lopsided"), (2, "front coupler of even")):
        shown = coupling(broken_grade(0.0, 0.04), cars, number)
        assert shown.location["obstacle"] == partner
        assert shown.available_mm == 7.5
        assert_allclose(shown.gap_mm, 7.5 - 0.04 * 190, atol=0.02)
        assert shown.code == DOES_NOT_FIT
        assert_allclose(shown.location["station"], 3, atol=0.05)


def test_up_and_down_the_one_that_holds_least_is_tried() -> None:
    """It reaches 60 mm beyond its wheels, the others 110 and 190; but it holds 3 mm."""
    cars = fleet_of(
        coupled("even", coupler_drop_mm=9.0),
        coupled("long", length_mm=760.0, coupler_drop_mm=9.0),
        coupled("weak", length_mm=500.0, coupler_drop_mm=3.0),
    )
    for number, beyond in ((0, 110), (1, 190), (2, 190)):
        shown = coupling(broken_grade(0.0, 0.04), cars, number)
        assert shown.available_mm == 3
        assert_allclose(shown.gap_mm, 3 - 0.04 * beyond, atol=0.02)
        assert shown.code == DOES_NOT_FIT
    assert coupling(broken_grade(0.0, 0.04), cars, 0).location["obstacle"].endswith("of weak")


# --- in angle -------------------------------------------------------------------------------------


def turned_deg(half_mm: tuple[float, float], beyond_mm: tuple[float, float]) -> float:
    """Between two bodies on the circle: half of each chord, and all of the bar's."""
    chords = (*half_mm, sum(beyond_mm) / 2, sum(beyond_mm) / 2)
    return math.degrees(sum(math.asin(half / INNER_MM) for half in chords))


def unlike(**figures: object) -> Fleet:
    """The stretched one turns most, though neither how far its face stands out nor how far it is
    beyond the wheels is the greatest.
    """
    figures = {"coupler_swing_mm": None} | figures
    return fleet_of(
        coupled("even", **figures),
        coupled("stretched", length_mm=900.0, wheelbase_mm=740.0, **figures),
        coupled("nose", length_mm=560.0, wheelbase_mm=200.0, **figures),
    )


def test_in_angle_the_one_that_is_turned_most_is_tried() -> None:
    """Limits are alike, and nothing else is known: measured at the corner of the car's end, 55 mm
    from its middle.
    """
    for number, half, beyond in ((0, 200, 110), (1, 370, 90), (2, 100, 190)):
        shown = coupling(level(), unlike(coupler_angle_deg=36.0), number)
        angle = turned_deg((half, 370), (beyond, 90))
        assert shown.location["obstacle"].endswith("coupler of stretched")
        assert_allclose(shown.more["angle_deg"], angle, rtol=1e-5)
        assert (shown.more["limit_deg"], shown.code) == (36, DOES_NOT_FIT)
        room = 55 * math.sin(math.radians(36))
        assert_allclose(shown.available_mm, room, rtol=1e-12)
        assert_allclose(shown.gap_mm, room - 55 * math.sin(math.radians(angle)), rtol=1e-4)


@pytest.mark.parametrize("limit_deg", [27.0, 32.0])
def test_where_the_angle_leaves_least_the_gap_is_its(limit_deg: float) -> None:
    """On the circle two of a kind are in line, and on the level; at 30 degrees to one another. So
    the gap is no more than 0 just where the angle is more than they bear.
    """
    figures: dict[str, object] = {"coupler_swing_mm": 30.0, "coupler_drop_mm": 20.0}
    one = coupled("a", coupler_angle_deg=limit_deg, **figures)
    shown = coupling(level(), fleet_of(one, coupled("b", width_mm=90.0, **figures)))
    angle = turned_deg((200, 200), (110, 110))
    room, needs = (55 * math.sin(math.radians(it)) for it in (limit_deg, angle))
    assert_allclose((shown.available_mm, shown.required_mm), (room, needs), rtol=1e-4)
    assert_allclose(shown.gap_mm, room - needs, rtol=1e-4)
    assert shown.gap_mm is not None
    assert (shown.gap_mm <= 0) == (shown.code == DOES_NOT_FIT) == (limit_deg < angle)
    assert shown.more["at_mm"] == 55
    assert_allclose(shown.more["angle_deg"], angle, rtol=1e-5)


def test_the_corner_is_that_of_the_narrower_car() -> None:
    wide = coupled("wide", coupler_angle_deg=20.0)
    narrow = coupled("narrow", width_mm=90.0, coupler_angle_deg=20.0)
    for pair_of in ((wide, narrow), (narrow, wide)):
        found = pair(level(), *pair_of)
        assert found.at_mm == 45
        assert_allclose(found.rooms_mm[2], 45 * math.sin(math.radians(20)), rtol=1e-12)


def test_across_one_another_the_angle_counts_as_a_right_one() -> None:
    """Beyond it the sine falls, but nothing is left all the same."""
    found = pair(level(), coupled("a"), coupled("b"))
    assert found.offsets is not None
    turned = found._replace(offsets=found.offsets._replace(angle_rad=3.0), angle_deg=89.0)
    assert turned.gaps_mm[2] < 0
    assert turned.code == DOES_NOT_FIT


def test_in_angle_the_bar_between_counts() -> None:
    """The long nose is turned less than the stretched body, but with the bar it is the worst."""
    figures: dict[str, object] = {"coupler_swing_mm": None, "coupler_angle_deg": 30.0}
    cars = fleet_of(
        coupled("even", **figures),
        coupled("stretched", length_mm=640.0, wheelbase_mm=620.0, **figures),
        coupled("nose", length_mm=980.0, **figures),
    )
    for number, half, beyond in ((0, 200, 110), (1, 310, 20), (2, 200, 300)):
        shown = coupling(level(), cars, number)
        assert shown.location["obstacle"].endswith("coupler of nose")
        angle = turned_deg((half, 200), (beyond, 300))
        assert_allclose(shown.more["angle_deg"], angle, rtol=1e-5)


def test_in_angle_each_end_has_its_own_overhang() -> None:
    """20 mm ahead of the wheels and 280 behind: two of them, tail to tail."""
    lopsided = coupled(
        "a",
        length_mm=700.0,
        front_overhang_mm=20.0,
        coupler_swing_mm=None,
        coupler_angle_deg=30.0,
    )
    shown = coupling(level(), fleet_of(lopsided))
    assert shown.location["obstacle"] == "rear coupler of a"
    assert_allclose(shown.more["angle_deg"], turned_deg((200, 200), (290, 290)), rtol=1e-5)


@pytest.mark.parametrize("figures", [{"coupler_swing_mm": 60.0}, {"coupler_drop_mm": 9.0}])
def test_the_angle_is_tried_beside_the_others(figures: dict[str, object]) -> None:
    """With any other car the stretched one is turned by 37.5 degrees at the most."""
    shown = coupling(level(), unlike(coupler_angle_deg=38.0, **figures), 1)
    assert shown.location["obstacle"].endswith("coupler of stretched")
    assert_allclose(shown.more["angle_deg"], turned_deg((370, 370), (90, 90)), rtol=1e-5)
    assert shown.code == DOES_NOT_FIT


def test_in_angle_the_one_that_bears_least_is_tried() -> None:
    """The stiff one is turned less than the stretched one, but bears 20 degrees and not 38."""
    silent: dict[str, object] = {"coupler_swing_mm": None}
    cars = fleet_of(
        coupled("even", coupler_angle_deg=38.0, **silent),
        coupled("stretched", length_mm=900.0, wheelbase_mm=740.0, coupler_angle_deg=38.0, **silent),
        coupled("stiff", length_mm=300.0, wheelbase_mm=200.0, coupler_angle_deg=20.0, **silent),
        coupled("mute", length_mm=1000.0, wheelbase_mm=800.0),
    )
    for number, half, beyond in ((0, 200, 110), (1, 370, 90)):
        shown = coupling(level(), cars, number)
        assert shown.location["obstacle"].endswith("coupler of stiff")
        assert_allclose(shown.more["angle_deg"], turned_deg((half, 100), (beyond, 60)), rtol=1e-5)
        assert (shown.more["limit_deg"], shown.code) == (20, DOES_NOT_FIT)
    stiff = coupling(level(), cars, 2)
    assert_allclose(stiff.more["angle_deg"], turned_deg((100, 370), (60, 90)), rtol=1e-5)


def test_frames_and_figures_say_the_same() -> None:
    one = coupled("a", truck_wheelbase_mm=60.0, front_overhang_mm=60.0)
    other = coupled("b", length_mm=450.0, wheelbase_mm=300.0)
    for where in (single(), broken_grade(0.0, 0.04)):
        plain, framed = pair(where, one, other), pair(where, with_frames(one), with_frames(other))
        assert plain.offsets is not None
        assert framed.offsets is not None
        assert_allclose(plain.offsets[:3], framed.offsets[:3], rtol=0, atol=SETTLED_MM)
