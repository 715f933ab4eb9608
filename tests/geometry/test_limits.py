"""What must hold for any car on any regular helix: limits, symmetries, and which way figures move.

G2 to G6, docs/theory.md. Nothing here is compared with stored output: each property follows from
the definitions, and each closed form is derived in its test.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy.optimize import brentq

from clearance.geometry.line import Screw
from clearance.geometry.overhead import required_headroom_mm
from clearance.geometry.sides import Reach, side_reach
from clearance.geometry.stand import Stance, stand

quick = settings(deadline=None, derandomize=True, max_examples=80)
NOISE_MM = 1e-7  # rounding of sums and roots of some metres; a thousandth of what is owed is 5e-5


@dataclass(frozen=True)
class Situation:
    """One block of one car on one track, and a beam. [mm]"""

    radius: float
    rise: float
    roll: float
    wheelbase: float
    truck: float
    x_rear: float
    x_front: float
    left: float
    right: float
    bottom: float
    top: float
    beam: float

    @property
    def screw(self) -> Screw:
        return Screw(self.radius, self.rise, self.roll)

    @property
    def stance(self) -> Stance:
        return stand(self.screw, [self.wheelbase], [self.truck])

    @property
    def headroom(self) -> float:
        return float(
            required_headroom_mm(
                self.stance,
                [self.x_rear],
                [self.x_front],
                [self.left],
                [self.right],
                [self.top],
                self.beam,
            )[0]
        )

    @property
    def reach(self) -> Reach:
        return side_reach(
            self.stance,
            [self.x_rear],
            [self.x_front],
            [self.left],
            [self.right],
            [self.bottom],
            [self.top],
        )

    @property
    def radii(self) -> tuple[float, float]:
        return float(self.reach.least_radius_mm[0]), float(self.reach.greatest_radius_mm[0])

    @property
    def longest(self) -> float:
        return max(abs(self.x_rear), abs(self.x_front))

    @property
    def widest(self) -> float:
        return max(abs(self.left), abs(self.right))


@st.composite
def situations(draw: st.DrawFn, level: bool = False, canted: bool = True) -> Situation:
    """Cars of any shape that keep clear of the axis, on tight and on wide radii, up to 8 %."""
    wheelbase = draw(st.floats(80, 600))
    radius = 200 + wheelbase * draw(st.floats(1, 100))
    grade = 0.0 if level else draw(st.sampled_from([0.0, 0.01, 0.03, 0.08]))
    half = wheelbase / 2
    return Situation(
        radius=radius,
        rise=2 * math.pi * radius * grade,
        roll=draw(st.sampled_from([0.0, math.asin(3 / 45)])) if canted else 0.0,
        wheelbase=wheelbase,
        truck=draw(st.sampled_from([0.0, 0.1, 0.3])) * wheelbase,
        x_rear=-draw(st.floats(-0.8, 1.8)) * half,
        x_front=draw(st.floats(0.85, 1.8)) * half,
        left=draw(st.floats(1, 80)),
        right=draw(st.floats(1, 80)),
        bottom=draw(st.floats(0, 60)),
        top=draw(st.floats(61, 250)),
        beam=draw(st.sampled_from([0.0, 12.0, 38.0, 60.0])),
    )


# --- radius to infinity ---------------------------------------------------------------------------


@quick
@given(situations(canted=False), st.floats(1e3, 1e6))
def test_overhead_tends_to_the_straight_car_as_the_radius_grows(
    at: Situation, times: float
) -> None:
    """On straight track of grade G a roof needs T sqrt(1 + G^2), and G w / 2 for the beam's width.

    On a curve an edge that lies `a` nearer the axis than the track climbs by a / R more, over as
    far as the car reaches from its middle to the beam's centre: the difference is about
    G (reach + w / 2) a / R. Edges lie nearer by the half width and by the throw, about reach^2 / R.
    """
    grade = at.screw.grade
    radius = times * (at.longest + at.widest + at.beam)
    there = replace(at, radius=radius, rise=2 * math.pi * radius * grade)
    straight = at.top * math.hypot(1, grade) + grade * at.beam / 2
    span = at.longest + at.top * grade + at.beam
    difference = 1.1 * grade * span * (at.widest + span**2 / radius) / radius
    assert abs(there.headroom - straight) <= difference + NOISE_MM


@quick
@given(situations(level=True, canted=False), st.floats(1e3, 1e5))
def test_sides_tend_to_the_straight_car_as_the_radius_grows(at: Situation, times: float) -> None:
    """The difference is the handbook's throw: (B^2 + b^2) / 8R, and (4 n^2 - B^2 - b^2) / 8R."""
    at = replace(at, x_rear=-abs(at.x_rear) - 1)  # mid-wheelbase is inside
    radius = times * (at.longest + at.widest)
    near, far = replace(at, radius=radius).radii
    supports = at.wheelbase**2 + at.truck**2
    inward = radius - at.left - near
    outward = far - (radius + at.right)
    # The handbook leaves out terms of this part of its own.
    left_out = 2 / times
    assert_allclose(inward, supports / (8 * radius), rtol=left_out, atol=1e-9 * radius)
    assert_allclose(
        outward,
        (4 * at.longest**2 - supports) / (8 * radius),
        rtol=0,
        atol=left_out * (supports + 4 * at.longest**2) / (8 * radius) + 1e-9 * radius,
    )


def test_the_handbook_form_is_unsafe_on_a_tight_curve() -> None:
    """c^2 / 8R at R 600, c 600: 75 mm; two axles on the circle leave 600 - sqrt(600^2 - 300^2)."""
    at = Situation(600, 0, 0, 600, 0, -300, 300, 0, 0, 0, 100, 0)
    throw = 600 - at.radii[0]
    assert_allclose(throw, 600 - math.sqrt(600**2 - 300**2), rtol=1e-12)
    assert throw > 600**2 / (8 * 600)
    assert f"{throw:.1f}" == "80.4"


# --- closed forms on a level track ----------------------------------------------------------------


def circle_outline(at: Situation) -> tuple[complex, complex, complex]:
    """Mid-wheelbase, direction ahead and direction left of a car stood on a level circle.

    From scratch: each truck's two axles lie on the circle, its pivot midway between them; the two
    pivots are the wheelbase apart. Complex numbers, the axis at 0.
    """

    def pivot(turned: float) -> complex:
        half = math.asin(at.truck / 2 / at.radius)
        rear, front = (at.radius * np.exp(1j * (turned + side * half)) for side in (-1, 1))
        return (rear + front) / 2

    def too_far(half: float) -> float:
        return abs(pivot(half) - pivot(-half)) - at.wheelbase

    half = brentq(too_far, 0, math.pi / 2, xtol=1e-15)
    rear, front = pivot(-half), pivot(half)
    ahead = (front - rear) / abs(front - rear)
    return (front + rear) / 2, ahead, 1j * ahead


@quick
@given(situations(level=True, canted=False))
def test_the_band_on_a_level_circle_from_scratch(at: Situation) -> None:
    middle, ahead, left = circle_outline(at)
    xs = np.linspace(at.x_rear, at.x_front, 4001)
    inside = np.abs(middle + xs * ahead + at.left * left)
    outside = np.abs(middle + xs * ahead - at.right * left)
    near, far = at.radii
    # Between two of the 4001 places the distance can dip by step^2 / 8 r.
    dip = (xs[1] - xs[0]) ** 2 / (8 * inside.min())
    assert inside.min() - dip - NOISE_MM <= near <= inside.min() + NOISE_MM
    assert_allclose(far, outside.max(), rtol=1e-11)


@quick
@given(situations(level=True, canted=False))
def test_g5_closed_form(at: Situation) -> None:
    mid = math.sqrt(at.radius**2 - (at.truck / 2) ** 2 - (at.wheelbase / 2) ** 2)
    near, far = at.radii
    abreast = min(max(0.0, at.x_rear), at.x_front)  # the place nearest to mid-wheelbase
    assert_allclose(near, math.hypot(mid - at.left, abreast), rtol=1e-12)
    assert_allclose(far, math.hypot(mid + at.right, at.longest), rtol=1e-12)


@quick
@given(situations(level=True, canted=False))
def test_on_the_level_a_car_needs_its_own_height(at: Situation) -> None:
    assert_allclose(at.headroom, at.top, rtol=1e-13)


@quick
@given(situations(level=True))
def test_on_the_level_uphill_and_downhill_are_one(at: Situation) -> None:
    back = replace(at, x_rear=-at.x_front, x_front=-at.x_rear)
    assert_allclose(back.radii, at.radii, rtol=1e-12)
    assert_allclose(back.headroom, at.headroom, rtol=1e-12)


# --- scale ----------------------------------------------------------------------------------------


@quick
@given(situations())
def test_ten_times_as_large_asks_for_ten_times_the_room(at: Situation) -> None:
    lengths = {name: 10 * value for name, value in vars(at).items() if name != "roll"}
    large = Situation(roll=at.roll, **lengths)
    assert_allclose(large.radii, 10 * np.array(at.radii), rtol=1e-12)
    assert_allclose(large.headroom, 10 * at.headroom, rtol=1e-12)


# --- a larger car needs no less -------------------------------------------------------------------

GROWN = {
    "x_rear": lambda at, by: replace(at, x_rear=at.x_rear - by),
    "x_front": lambda at, by: replace(at, x_front=at.x_front + by),
    "left": lambda at, by: replace(at, left=at.left + by),
    "right": lambda at, by: replace(at, right=at.right + by),
    "bottom": lambda at, by: replace(at, bottom=max(0.0, at.bottom - by)),
    "top": lambda at, by: replace(at, top=at.top + by),
}


@pytest.mark.parametrize("side", GROWN)
@settings(deadline=None, derandomize=True, max_examples=30)
@given(at=situations(), by=st.floats(0, 20))
def test_a_larger_car_never_leaves_more_room(side: str, at: Situation, by: float) -> None:
    large = GROWN[side](at, by)
    assert large.radii[0] <= at.radii[0] + NOISE_MM
    assert large.radii[1] >= at.radii[1] - NOISE_MM
    assert large.headroom >= at.headroom - NOISE_MM


@quick
@given(situations(), st.floats(0, 80), st.floats(0, 80))
def test_a_wider_beam_never_asks_for_less_headroom(at: Situation, one: float, other: float) -> None:
    """Width 0 is the deck between the beams: it hangs no lower than they, so it never governs."""
    narrow, wide = sorted((one, other))
    deck, thin, thick = (replace(at, beam=width).headroom for width in (0.0, narrow, wide))
    assert deck <= thin + NOISE_MM
    assert thin <= thick + NOISE_MM


@quick
@given(situations(), st.floats(0.05, 0.95), st.sampled_from(["along", "across", "up"]))
def test_two_abutting_halves_are_the_whole(at: Situation, part: float, way: str) -> None:
    if way == "along":
        cut = at.x_rear + part * (at.x_front - at.x_rear)
        halves = replace(at, x_front=cut), replace(at, x_rear=cut)
    elif way == "across":
        cut = part * (at.left + at.right) - at.right  # to the left of the centre line
        halves = replace(at, right=-cut), replace(at, left=cut)
    else:
        cut = at.bottom + part * (at.top - at.bottom)
        halves = replace(at, top=cut), replace(at, bottom=cut)
    near, far = zip(*(half.radii for half in halves), strict=True)
    assert_allclose((min(near), max(far)), at.radii, rtol=1e-12)
    assert_allclose(max(half.headroom for half in halves), at.headroom, rtol=1e-12)


# --- cars that cannot stand -----------------------------------------------------------------------


@quick
@given(situations(level=True), st.floats(0.5, 2.0))
def test_a_car_whose_supports_span_more_than_the_circle_gives_nan(
    at: Situation, times: float
) -> None:
    """Pivots lie at sqrt(R^2 - b^2 / 4), so what fits has B^2 + b^2 <= 4 R^2."""
    radius = times * math.hypot(at.wheelbase, at.truck) / 2
    there = replace(at, radius=radius)
    figures = np.array([*there.radii, there.stance.mid_radius_mm[0], there.headroom])
    if times < 1 - 1e-9:
        assert_array_equal(figures, np.nan)
    elif times > 1 + 1e-9:
        assert not np.isnan(figures[:3]).any()


def test_a_car_that_cannot_stand_leaves_its_neighbours_alone() -> None:
    at = Situation(500, 90, 0.05, 400, 60, -250, 260, 40, 50, 10, 200, 30)
    stance = stand(at.screw, [400, 1001, 400], [60, 0, 60])
    same = np.full(3, 1.0)
    required = required_headroom_mm(
        stance, -250 * same, 260 * same, 40 * same, 50 * same, 200 * same, 30
    )
    reach = side_reach(stance, -250 * same, 260 * same, 40 * same, 50 * same, 10 * same, 200 * same)
    assert_array_equal(required, [at.headroom, np.nan, at.headroom])
    assert_array_equal(reach.least_radius_mm, [at.radii[0], np.nan, at.radii[0]])
    assert_array_equal(reach.greatest_radius_mm, [at.radii[1], np.nan, at.radii[1]])


def test_a_body_that_swallows_the_axis_leaves_no_side_and_no_beam() -> None:
    """Its inner side is beyond the axis: a radius below 0 that no post can be short of, no beam."""
    at = Situation(300, 60, 0, 500, 0, -250, 250, 200, 30, 10, 200, 20)
    mid = math.sqrt(300**2 - 250**2)  # 165.8 mm on the level: 34 mm past the axis
    assert_allclose(at.radii[0], mid - 200, atol=0.5)
    assert at.radii[0] < 0
    assert math.isnan(at.headroom)


# --- cant -----------------------------------------------------------------------------------------


@quick
@given(situations(level=True, canted=False), st.floats(0, 6), st.sampled_from([45.0, 32.0]))
def test_cant_moves_a_roof_inward_by_cant_over_gauge_times_its_height(
    at: Situation, cant: float, gauge: float
) -> None:
    """The rest is of the second order: half the square of cant / gauge times the half width."""
    roof = replace(at, bottom=at.top - 1)
    leaning = replace(roof, roll=math.asin(cant / gauge))
    lean = cant / gauge
    straddling = (
        replace(roof, x_rear=-abs(roof.x_rear) - 1),
        replace(leaning, x_rear=-abs(leaning.x_rear) - 1),
    )
    moved = straddling[0].radii[0] - straddling[1].radii[0]
    assert_allclose(moved, lean * at.top, atol=lean**2 * at.left + NOISE_MM)


def test_three_millimetres_of_cant_on_45_move_a_235_mm_roof_16_mm() -> None:
    at = Situation(1190, 0, 0, 400, 60, -300, 300, 55, 55, 234, 235, 0)
    moved = at.radii[0] - replace(at, roll=math.asin(3 / 45)).radii[0]
    assert f"{moved:.0f}" == "16"


@quick
@given(situations(level=True, canted=False), st.floats(0.01, 0.2))
def test_cant_lifts_the_outer_edge_of_a_roof(at: Situation, lean: float) -> None:
    """Rolled about the railhead, the outer edge rises to T cos + W sin; it needs that headroom."""
    leaning = replace(at, roll=lean)
    assert_allclose(
        leaning.headroom, at.top * math.cos(lean) + at.right * math.sin(lean), rtol=1e-12
    )


# --- the search for the highest point under a beam ------------------------------------------------


def stood_from_scratch(at: Situation) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Origin, ahead, left and up of a car on a screw line: axles by root finding (G2, G3)."""
    climb = at.rise / (2 * math.pi)

    def rail(turned: float) -> np.ndarray:
        return np.array(
            [at.radius * math.cos(turned), at.radius * math.sin(turned), climb * turned]
        )

    def apart(place, half: float, distance: float) -> float:
        return float(np.linalg.norm(place(half) - place(-half))) - distance

    half_truck = brentq(lambda a: apart(rail, a, at.truck), 0, 1.5, xtol=1e-15) if at.truck else 0.0

    def pivot(turned: float) -> np.ndarray:
        return (rail(turned - half_truck) + rail(turned + half_truck)) / 2

    half = brentq(lambda a: apart(pivot, a, at.wheelbase), 0, 1.5, xtol=1e-15)
    rear, front = pivot(-half), pivot(half)
    ahead = (front - rear) / np.linalg.norm(front - rear)
    level_left = np.cross([0, 0, 1], ahead)
    level_left /= np.linalg.norm(level_left)
    level_up = np.cross(ahead, level_left)
    left = math.cos(at.roll) * level_left - math.sin(at.roll) * level_up
    up = math.sin(at.roll) * level_left + math.cos(at.roll) * level_up
    return (rear + front) / 2, ahead, left, up


def dense_headroom(at: Situation) -> tuple[float, float]:
    """The highest roof point over the railhead, over every place of the beam; and how coarsely.

    A plain maximum over a grid of roof points and a grid of beams, by the definition of G4: of all
    points under a beam, the height over the railhead at the beam's centre line.
    """
    origin, ahead, left, up = stood_from_scratch(at)
    x, y = np.meshgrid(
        np.linspace(at.x_rear, at.x_front, 801),
        np.linspace(-at.right, at.left, 5),
        indexing="ij",
    )
    x, y = x.ravel(), y.ravel()
    points = origin + x[:, None] * ahead + y[:, None] * left + at.top * up
    turned = np.arctan2(points[:, 1], points[:, 0])
    radius = np.hypot(points[:, 0], points[:, 1])
    climb = at.rise / (2 * math.pi)
    half = at.beam / 2
    widest = math.asin(min(1.0, half / radius.min())) + 1e-3
    beams = np.linspace(turned.min() - widest, turned.max() + widest, 1501)
    highest = -math.inf
    for beam in beams:
        under = np.abs(radius * np.sin(turned - beam)) <= half + 1e-9
        if under.any():
            highest = max(highest, float(points[under, 2].max() - climb * beam))
    along, between = (at.x_front - at.x_rear) / 800, beams[1] - beams[0]
    # A grid misses at most one step of roof, and one step of track.
    return highest, climb * between + along * climb / radius.min()


CRESTS = {
    "a long car on a tight radius": Situation(600, 170, 0, 400, 60, -300, 310, 45, 45, 0, 195, 38),
    "beam as wide as the truck": Situation(1190, 285, 0, 400, 60, -300, 300, 55, 55, 0, 190, 60),
    "the roof's front end governs": Situation(900, 320, 0, 120, 0, -60, 420, 50, 20, 0, 190, 30),
    "the roof's rear end governs": Situation(900, 320, 0, 120, 0, -420, 60, 50, 20, 0, 190, 30),
    "a stack on one side": Situation(900, 450, 0, 300, 40, 90, 130, 5, -1, 0, 230, 38),
    "canted": Situation(1190, 285, math.asin(3 / 45), 450, 80, -340, 330, 60, 60, 0, 235, 38),
    "eight percent": Situation(300, 150, 0, 250, 50, -190, 170, 40, 35, 0, 120, 25),
}


@pytest.mark.parametrize("name", CRESTS)
def test_the_highest_point_under_a_beam_against_a_dense_search(name: str) -> None:
    at = CRESTS[name]
    dense, coarse = dense_headroom(at)
    assert coarse < 0.3
    assert dense - NOISE_MM <= at.headroom <= dense + coarse + NOISE_MM


@settings(deadline=None, derandomize=True, max_examples=12)
@given(situations())
def test_any_roof_under_a_beam_against_a_dense_search(at: Situation) -> None:
    at = replace(at, beam=max(at.beam, 6.0))  # a grid sees nothing under a beam of no width
    dense, coarse = dense_headroom(at)
    assert dense - NOISE_MM <= at.headroom <= dense + coarse + NOISE_MM


def dense_radii(at: Situation) -> tuple[float, float, float]:
    """Least and greatest distance from the axis over a grid of the whole box; and how coarsely."""
    origin, ahead, left, up = stood_from_scratch(at)
    grid = np.meshgrid(
        np.linspace(at.x_rear, at.x_front, 201),
        np.linspace(-at.right, at.left, 9),
        np.linspace(at.bottom, at.top, 101),
        indexing="ij",
    )
    x, y, height = (part.ravel() for part in grid)
    points = origin + x[:, None] * ahead + y[:, None] * left + height[:, None] * up
    radius = np.hypot(points[:, 0], points[:, 1])
    steps = (at.x_front - at.x_rear) / 200, (at.top - at.bottom) / 100
    # Sides are on the grid; between two of its points on a side a radius dips by step^2 / 8 r.
    return radius.min(), radius.max(), math.hypot(*steps) ** 2 / (4 * radius.min())


# On 12 % a box leans back by 30 mm over 250 mm of height.
LEANING = {
    "a box ahead of the middle": Situation(300, 226, 0, 250, 40, 8, 200, 40, 30, 0, 250, 0),
    "a stack that leans over it": Situation(300, 226, 0, 250, 40, 8, 18, 40, 30, 0, 250, 0),
    "a box astern, canted": Situation(300, 226, 0.01, 250, 40, -200, -2, 40, 30, 0, 250, 0),
    "a box ahead, well canted": Situation(300, 226, 0.1, 250, 40, 12, 200, 40, 30, 0, 250, 0),
    "all of the body": Situation(300, 226, 0.1, 250, 40, -200, 180, 40, 30, 5, 250, 0),
}


@pytest.mark.parametrize("name", LEANING)
def test_the_band_of_a_leaning_box_against_a_dense_search(name: str) -> None:
    at = LEANING[name]
    near, far, coarse = dense_radii(at)
    assert coarse < 0.02
    assert near - coarse - NOISE_MM <= at.radii[0] <= near + NOISE_MM
    assert_allclose(at.radii[1], far, rtol=0, atol=NOISE_MM)


@pytest.mark.parametrize("name", ["a stack that leans over it", "a box astern, canted"])
def test_a_leaning_end_may_be_nearest_part_way_up(name: str) -> None:
    """Else the search above would show nothing that foot and top do not."""
    at = LEANING[name]
    foot, top = replace(at, top=0.01), replace(at, bottom=249.99)
    assert min(foot.radii[0], top.radii[0]) > at.radii[0] + 0.1


@settings(deadline=None, derandomize=True, max_examples=12)
@given(situations())
def test_the_band_of_any_box_against_a_dense_search(at: Situation) -> None:
    near, far, coarse = dense_radii(at)
    assert near - coarse - NOISE_MM <= at.radii[0] <= near + NOISE_MM
    assert_allclose(at.radii[1], far, rtol=0, atol=NOISE_MM)


def test_the_crest_lies_where_the_track_is_as_steep_as_the_roof() -> None:
    """By hand: a roof edge U from the axis, T behind the middle, has track p U / (U^2 + T^2) under
    it for each millimetre ahead; the body's own slope is p 2a / B. R 600, B 400, the edge 60 mm
    inside mid-body: R' = sqrt(600^2 - 30^2) = 599.2, a = asin(200 / 599.2), U = 504.9 mm; the two
    are equal at T = 205 mm. So a strip of roof there needs what the whole roof needs.
    """
    pivot_radius = math.sqrt(600**2 - 30**2)
    half = math.asin(200 / pivot_radius)
    edge = pivot_radius * math.cos(half) - 60
    behind = math.sqrt(edge * 400 / (2 * half) - edge**2)
    assert f"{edge:.1f}" == "504.9"
    assert f"{behind:.0f}" == "205"

    # So level that pitch moves nothing: 1 mm a turn.
    whole = Situation(600, 1, 0, 400, 60, -300, 100, 60, -59, 0, 190, 0)
    strip = replace(whole, x_rear=-behind - 2, x_front=-behind + 2)
    ahead = replace(whole, x_rear=-behind + 20)
    astern = replace(whole, x_front=-behind - 20)
    assert_allclose(strip.headroom, whole.headroom, rtol=0, atol=1e-6)
    assert max(ahead.headroom, astern.headroom) < whole.headroom - 1e-5
