"""Side clearances, overhead clearances and track centres in the rules of American states.

Full size, standard gauge. The rules are data; checked is that `check` and the meets take them at
their word: of two cars, one an eighth of an inch narrower or lower than the rule leaves room for
passes, and one as much beyond does not fit. Margins are set to nothing for it. A car 1 mm long on a
radius of about 100 m stands for one on tangent track.

Tunnels are a half circle of radius 8 ft, tangent to a level line 22 ft 6 in above the rail; so its
centre is 14 ft 6 in up. Here it is a stack of walls half a foot high, each as near as its narrowest
part, and the cars end where a wall ends.
"""

import math

import numpy as np
import pytest

from catalog.car import Block, Car
from catalog.helix import Allowance, Obstacle, Posts
from clearance.judge.check import check
from clearance.judge.meets import meetings
from tests.published.record import SEEN, Source, Work

SOURCE = Source(
    "US state clearance rules",
    (
        Work(
            "a. Washington, WAC 480-60-050, side and overhead clearances",
            SEEN,
            ("https://apps.leg.wa.gov/wac/default.aspx?cite=480-60-050",),
        ),
        Work(
            "b. Washington, WAC 480-60-060, track centres; the same numbers in WAC "
            "296-860-20060, table 5",
            SEEN,
            ("https://app.leg.wa.gov/WAC/default.aspx?cite=480-60-060",),
        ),
        Work(
            "c. Montana, ARM 38.4.406 (the same half circle) and 38.4.414 (side clearances on "
            "curves are to be increased as necessary to be equivalent to those on tangent track)",
            SEEN,
        ),
        Work(
            "d. Minnesota Statutes 219.46",
            SEEN,
            (
                "https://www.legalfix.com/statutes/state-codes/minnesota/chapters-218-222/"
                "chapter-219/section-219-46",
            ),
        ),
        Work("e. Oregon, OAR 741-310-0050", SEEN),
        Work(
            "f. California, General Order 95, appendix E, which refers to General Order 26-D",
            SEEN,
        ),
    ),
)

MM = 1.0
INCH = 25.4
FOOT = 304.8
GAUGE_MM = 1435.0
TANGENT_MM = 99_000.0
EIGHTH_MM = INCH / 8
WIDTH_MM = 10 * FOOT + 8 * INCH  # of the AAR plates, see test_aar_plates.py
NO_MARGIN = Allowance(
    overhead_mm=0.0, side_mm=0.0, meeting_mm=0.0, headroom_reading_mm=0.0, settlement_mm=0.0
)

# What stands there, from the track's centre line, where it is printed. [ft, in]
SIDES = [
    ("Washington, side", 8, 6, "a"),
    ("Washington, bridges and tunnels", 8, 0, "a"),
    ("Minnesota, side", 8, 0, "d"),
    ("Minnesota, side after 1943", 8, 6, "d"),
    ("Oregon, refuge platforms", 8, 0, "e"),
    ("Oregon, engine-house doors", 6, 3, "e"),
    ("Oregon, inside engine houses", 5, 5, "e"),
    ("California, poles", 8, 6, "f"),
]
OVERHEAD = [
    ("Washington, top of the half circle", 22, 6, "a"),
    ("Minnesota, overhead", 21, 0, "d"),
    ("Minnesota, overhead after 1943", 22, 0, "d"),
]
CENTRES = [
    ("parallel tracks", 14, 0),
    ("subsidiary beside main track", 15, 0),
    ("team, house and industry tracks", 13, 0),
    ("ladder tracks", 20, 0),
]


def boxcar(
    name: str,
    width_mm: float,
    height_mm: float = 15 * FOOT + 1 * INCH,
    *,
    length_mm: float = 1.0,
    pivots_mm: float = 1.0,
    underside_mm: float | None = None,
) -> Car:
    """A box, as short as not to swing if nothing else is said; its figures are exact."""
    return Car(
        id=name,
        height_mm=height_mm,
        width_mm=width_mm,
        length_mm=length_mm,
        wheelbase_mm=pivots_mm,
        underside_mm=underside_mm,
        tolerance_mm=0.0,
    )


@pytest.fixture(scope="module")
def found_by_check(level_helix, fleet_of):
    """The findings of one car on a helix without margins, by check."""

    def judged(car, radius_mm=TANGENT_MM, posts=None, obstacles=()):
        posts = posts or Posts(inside_mm="none", outside_mm="none")
        helix = level_helix(GAUGE_MM, (radius_mm,), posts, tuple(obstacles))
        helix = helix.model_copy(update={"allowance": NO_MARGIN})
        found = check(helix, fleet_of(car)).findings(0, helix.tracks[0].name)
        return {finding.check: finding for finding in found}

    return judged


@pytest.mark.parametrize(("what", "feet", "inches", "where"), SIDES)
def test_a_car_just_passes_and_one_just_fouls_at_the_side(
    matches, found_by_check, what, feet, inches, where
) -> None:
    side_mm = feet * FOOT + inches * INCH
    posts = Posts(inside_mm=side_mm, outside_mm=side_mm)
    narrow = found_by_check(boxcar("narrow", 2 * (side_mm - EIGHTH_MM)), posts=posts)
    plate = found_by_check(boxcar("plate", WIDTH_MM), posts=posts)
    wide = found_by_check(boxcar("wide", 2 * (side_mm + EIGHTH_MM)), posts=posts)
    for side in ("inner_side", "outer_side"):
        known = {"where": where, "cell": f"{what}, {side.replace('_', ' ')}"}
        left_in = plate[side].gap_mm / INCH
        by_hand_in = 12 * feet + inches - 64
        matches(
            "beside a car 10 ft 8 in wide, printed less 5 ft 4 in",
            left_in,
            by_hand_in,
            1e-4,
            "in",
            **known,
        )
        matches.exactly(
            "a side 1/8 in nearer than the rule", narrow[side].verdict, "passes", **known
        )
        matches.exactly(
            "a side 1/8 in beyond the rule", wide[side].verdict, "does not fit", **known
        )


@pytest.mark.parametrize(("what", "feet", "inches", "where"), OVERHEAD)
def test_a_car_just_passes_and_one_just_fouls_overhead(
    matches, found_by_check, what, feet, inches, where
) -> None:
    top_mm = feet * FOOT + inches * INCH
    portal = Obstacle(name="portal", station=3, headroom_mm=top_mm, width_mm=0.0)

    def overhead(height_mm):
        return found_by_check(boxcar("car", WIDTH_MM, height_mm), obstacles=(portal,))["overhead"]

    known = {"where": where, "cell": what}
    # Plate H is 20 ft 2 in high, see test_aar_plates.py.
    left_in = overhead(20 * FOOT + 2 * INCH).gap_mm / INCH
    matches(
        "above plate H, printed less 20 ft 2 in",
        left_in,
        12 * feet + inches - 242,
        1e-4,
        "in",
        **known,
    )
    low, high = overhead(top_mm - EIGHTH_MM), overhead(top_mm + EIGHTH_MM)
    matches.exactly("a car 1/8 in lower than the rule", low.verdict, "passes", **known)
    matches.exactly("a car 1/8 in higher than the rule", high.verdict, "does not fit", **known)


@pytest.mark.parametrize(("what", "feet", "inches"), CENTRES)
def test_two_cars_just_pass_and_two_just_foul(
    matches, level_helix, fleet_of, what, feet, inches
) -> None:
    centres_mm = feet * FOOT + inches * INCH
    helix = level_helix(GAUGE_MM, (TANGENT_MM - centres_mm, TANGENT_MM))
    helix = helix.model_copy(update={"allowance": NO_MARGIN})
    narrow, wide = centres_mm - EIGHTH_MM, centres_mm + EIGHTH_MM
    (meeting,) = meetings(helix, fleet_of(*(boxcar(f"{w}", w) for w in (narrow, WIDTH_MM, wide))))
    gaps_in = np.diag(meeting.figures(np.arange(3), np.arange(3)).gap_mm) / INCH
    known = {"where": "b", "cell": what}
    by_hand_in = 12 * feet + inches - 128
    matches("between cars, printed less 10 ft 8 in", gaps_in[1], by_hand_in, 1e-4, "in", **known)
    barred = {(inner, outer) for inner, outer, _ in meeting.barred}
    passing = "pass" if (0, 0) not in barred else "barred"
    matches.exactly("cars 1/8 in narrower than the centres", passing, "pass", **known)
    passing = "pass" if (2, 2) not in barred else "barred"
    matches.exactly("cars 1/8 in wider than the centres", passing, "barred", **known)


@pytest.mark.parametrize("degrees", [20.0, 25.0])
def test_on_a_curve_the_side_is_increased_by_what_the_car_takes(
    matches, found_by_check, chord_radius, degrees
) -> None:
    # Montana gives no number a degree: "equivalent" is what the car takes, no more and no less. By
    # hand, for an 85 ft car on 59 1/2 ft truck centres, 10 ft 8 in wide.
    radius_mm = chord_radius(degrees, 100 * FOOT)
    length_mm, pivots_mm = 85 * FOOT, 59.5 * FOOT
    middle_mm = math.sqrt(radius_mm**2 - (pivots_mm / 2) ** 2)
    inside_mm = radius_mm - middle_mm
    outside_mm = math.hypot(middle_mm + WIDTH_MM / 2, length_mm / 2) - radius_mm - WIDTH_MM / 2
    side_mm = 8 * FOOT + 6 * INCH
    posts = Posts(inside_mm=side_mm + inside_mm, outside_mm=side_mm + outside_mm)
    car = boxcar("85 ft", WIDTH_MM, length_mm=length_mm, pivots_mm=pivots_mm)
    found = found_by_check(car, radius_mm, posts)
    for side in ("inner_side", "outer_side"):
        cell = f"{degrees:g} degrees, {side.replace('_', ' ')}"
        left_in = found[side].gap_mm / INCH
        what = "beside an 85 ft car, as on tangent track"
        matches(what, left_in, 102 - 64, 1e-4, "in", where="c, by hand", cell=cell)


# --- rules that hold between heights --------------------------------------------------------------

CENTRE_FT, ARCH_FT = 14.5, 8.0


def wall(name: str, half_ft: float, bottom_ft: float, top_ft: float) -> Obstacle:
    """A wall on both sides, between two heights."""
    return Obstacle(
        name=name,
        station=3,
        left_mm=half_ft * FOOT,
        right_mm=half_ft * FOOT,
        bottom_mm=bottom_ft * FOOT,
        top_mm=top_ft * FOOT,
        width_mm=0.0,
    )


def half_circle_ft(height_ft: float) -> float:
    """Half the width of the tunnel at a height. [ft]"""
    return math.sqrt(ARCH_FT**2 - (height_ft - CENTRE_FT) ** 2)


@pytest.fixture(scope="module")
def tunnel():
    """Made when a test asks for it: the walls, the arch, and the line at the foot."""

    def walls():
        arch = np.arange(CENTRE_FT, CENTRE_FT + ARCH_FT, 0.5)
        stack = [wall(f"arch {h}", half_circle_ft(h + 0.5), h, h + 0.5) for h in arch[:-1]]
        # From 5 ft out at the railhead to 8 ft out, 4 ft up: a wall is nearest at its foot.
        foot = [wall(f"foot {h}", 5 + 3 / 4 * h, h, h + 0.5) for h in np.arange(0, 4, 0.5)]
        top = Obstacle(name="top", station=3, headroom_mm=22.5 * FOOT, width_mm=0.0)
        return (*foot, wall("side", 8.0, 4.0, CENTRE_FT), *stack, top)

    return walls


@pytest.mark.parametrize(
    ("height_ft", "by_hand_ft"),
    [(16.5, 7.75), (18.0, 7.19), (20.0, 5.81), (21.0, 4.66), (22.0, 2.78)],
)
def test_half_circle_of_a_tunnel(matches, found_by_check, tunnel, height_ft, by_hand_ft) -> None:
    # sqrt(64 - (h - 14.5)^2) to two decimals. The car is a hair lower than the wall's upper edge,
    # narrow enough to pass, and above the lower part of a bridge.
    half_ft = 2.5
    high_mm = {"height_mm": height_ft * FOOT - 1e-3, "underside_mm": 4 * FOOT + 1e-3}
    car = boxcar("tall", 2 * half_ft * FOOT, **high_mm)
    found = found_by_check(car, obstacles=tunnel())
    for side in ("inner_side", "outer_side"):
        ours_ft = half_ft + found[side].gap_mm / FOOT
        known = {"where": "a and c, by hand", "cell": f"{height_ft:g} ft up, {side[:5]} side"}
        matches("half width of the tunnel", ours_ft, by_hand_ft, 0.005, "ft", **known)
    left_ft = found["overhead"].gap_mm / FOOT
    matches(
        "left above", left_ft, 22.5 - height_ft, 1e-4, "ft", where="a", cell=f"{height_ft:g} ft"
    )


def test_each_part_of_a_car_meets_the_tunnel_at_its_own_height(
    matches, found_by_check, tunnel
) -> None:
    # A body 10 ft wide to 15 ft and a roof 6 ft wide to 20 ft: the roof is nearer, 5.81 - 3 ft.
    # Steps 11 ft wide from 1 ft up are nearer still: 5 + 3/4 - 5.5 ft.
    def block(name, half_ft, bottom_ft, top_ft):
        return Block(
            name=name,
            from_mm=0.0,
            to_mm=1.0,
            left_mm=half_ft * FOOT,
            right_mm=half_ft * FOOT,
            bottom_mm=bottom_ft * FOOT + 1e-3,
            top_mm=top_ft * FOOT - 1e-3,
        )

    body, roof = block("body", 5.0, 4.0, 15.0), block("roof", 3.0, 15.0, 20.0)
    steps = block("steps", 5.5, 1.0, 4.0)
    for blocks, by_hand_ft in (((body, roof), 2.81), ((steps, body, roof), 0.25)):
        half_ft = max(one.left_mm for one in blocks) / FOOT
        car = Car(
            id="car",
            height_mm=20 * FOOT,
            width_mm=2 * half_ft * FOOT,
            length_mm=1.0,
            wheelbase_mm=1.0,
            tolerance_mm=0.0,
            blocks=blocks,
        )
        ours_ft = found_by_check(car, obstacles=tunnel())["inner_side"].gap_mm / FOOT
        cell = blocks[0].name
        matches("nearest part", ours_ft, by_hand_ft, 0.005, "ft", where="a, by hand", cell=cell)


@pytest.mark.parametrize(
    ("what", "feet", "inches", "top_in", "where"),
    [
        ("Washington, platform", 4, 8, 8, "a"),
        ("Washington, platform", 7, 3, 48, "a"),
        ("Washington, platform for refrigerator cars", 8, 0, 54, "a"),
        ("Oregon, signal", 6, 0, 36, "e"),
        ("Oregon, handrail", 7, 9, 44, "e"),
    ],
)
def test_what_is_low_stands_nearer(
    matches, found_by_check, what, feet, inches, top_in, where
) -> None:
    # A body 10 ft 8 in wide that ends an inch above it is not held up, a low one 9 ft wide that
    # reaches down to it has what is printed less 4 ft 6 in.
    side_in = 12 * feet + inches
    low = wall(what, side_in / 12, 0.0, top_in / 12)
    high = boxcar("high", WIDTH_MM, underside_mm=(top_in + 1) * INCH)
    reaching = boxcar("low", 9 * FOOT, underside_mm=6 * INCH)
    posts = Posts(inside_mm=side_in * INCH + FOOT, outside_mm=side_in * INCH + FOOT)
    known = {"where": where, "cell": f"{what} {top_in} in high"}
    over_it = found_by_check(high, posts=posts, obstacles=(low,))["inner_side"]
    beyond_in = over_it.gap_mm / INCH
    matches(
        "a body above it, to a post 1 ft further", beyond_in, side_in + 12 - 64, 1e-4, "in", **known
    )
    beside_it = found_by_check(reaching, posts=posts, obstacles=(low,))["inner_side"]
    left_in = beside_it.gap_mm / INCH
    matches(
        "beside a low body 9 ft wide, printed less 4 ft 6 in",
        left_in,
        side_in - 54,
        1e-4,
        "in",
        **known,
    )
