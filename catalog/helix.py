"""What a helix is: its tracks, what carries them, what stands beside them, and the margins kept.

Lengths are millimetres. What was not written is None: it was not measured, and nothing assumes it.
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from catalog.materials import MATERIALS
from catalog.record import DistanceMm, NotNegativeMm, RealNumber, Record, SizeMm, Station, Text
from catalog.slips import slip_words
from catalog.words import did_you_mean, quoted

__all__ = [
    "HEADROOM_READING_MM",
    "SETTLEMENT_MM",
    "SURVEY_EVERY_MONTHS",
    "Adjusters",
    "Allowance",
    "Deck",
    "End",
    "Helix",
    "Lead",
    "Obstacle",
    "Posts",
    "ProfilePoint",
    "Recovery",
    "SideDistance",
    "Stringers",
    "Track",
]

STEEPEST_GRADE = 0.15  # rack railways aside, nothing climbs so; a slip of units does
SLIP_FACTOR = 1.1  # by no more than that a profile is off where a slip of units was made
UNEVEN_MM = 5.0  # by which a board may lie off, however short it is

# What a helix that does not say counts. Common practice, no source: a tape reads as well, and
# timber moves as much, under a small train as under a large one.
HEADROOM_READING_MM = 1.0
SETTLEMENT_MM = 3.0
SURVEY_EVERY_MONTHS = 12.0

End = Literal["foot", "head"]
"""An end of the helix: the lower one, or the upper one."""

SideDistance = SizeMm | Literal["none"] | None
"""A distance [mm], "none" (nothing stands there), or None (nobody measured)."""


def _turns(value: float) -> float:
    if not 0 < value <= 100:
        raise ValueError("must be more than 0, and at most 100")
    return value


def _whole(value: Any) -> Any:
    """12.0 counts as 12."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _brackets(value: int) -> int:
    if not 3 <= value <= 720:
        raise ValueError("must be a whole number from 3 to 720")
    return value


def _some(value: int) -> int:
    if not 1 <= value <= 100:
        raise ValueError("must be a whole number from 1 to 100")
    return value


def _positive(value: float) -> float:
    if not 0 < value <= 1e6:
        raise ValueError("must be more than 0, and no more than a million")
    return value


Positive = Annotated[RealNumber, AfterValidator(_positive)]


def _named(value: str) -> str:
    if not value:
        raise ValueError("is empty")
    return value


class Track(Record):
    """One track: a circle of the given centreline radius, seen from above. [mm]"""

    name: Annotated[Text, AfterValidator(_named)]
    radius_mm: SizeMm
    cant_mm: NotNegativeMm = 0.0


class Deck(Record):
    """What hangs under the railhead of the tier above. [mm]"""

    depth_mm: NotNegativeMm
    beam_depth_mm: NotNegativeMm = 0.0
    beam_width_mm: NotNegativeMm = 0.0


class Posts(Record):
    """From the nearest track's centreline to the nearest face of what stands beside. [mm]"""

    inside_mm: SideDistance = None
    outside_mm: SideDistance = None


class Allowance(Record):
    """The margins that the club keeps. None: the default for the gauge. [mm]"""

    overhead_mm: NotNegativeMm | None = None
    side_mm: NotNegativeMm | None = None
    meeting_mm: NotNegativeMm | None = None
    play_mm: NotNegativeMm | None = None
    headroom_reading_mm: NotNegativeMm | None = None
    settlement_mm: NotNegativeMm | None = None
    survey_every_months: Positive | None = None


class Stringers(Record):
    """What carries the deck from bracket to bracket, and sags under a train. [mm]

    ``count`` boards side by side, each ``width_mm`` by ``height_mm`` (upright), ``span_mm`` from
    support to support (None: from bracket to bracket on the outermost track). They are of a known
    ``material``, or their elastic modulus is given. ``train_kg_per_m`` is the heaviest train's.
    """

    width_mm: SizeMm
    height_mm: SizeMm
    train_kg_per_m: Positive
    count: Annotated[int, BeforeValidator(_whole), AfterValidator(_some)] = 1
    material: Text = ""
    modulus_gpa: Positive | None = None
    span_mm: SizeMm | None = None

    @model_validator(mode="after")
    def _stiffness_is_known(self) -> Self:
        if bool(self.material) == (self.modulus_gpa is not None):
            raise ValueError(
                "need a material, or the elastic modulus as modulus_gpa; one of them "
                f"(materials: {', '.join(MATERIALS)})"
            )
        if self.material and self.material not in MATERIALS:
            raise ValueError(
                f"material {quoted(self.material)} is not known; "
                f"{did_you_mean(self.material, MATERIALS)}, or give modulus_gpa"
            )
        return self


class Adjusters(Record):
    """What raises and lowers a bracket: rise per turn of the nut, finest step, travel. [mm]

    ``wrench`` is what turns the nut, in people's own words.
    """

    pitch_mm: SizeMm
    step: RealNumber = 0.25
    travel_mm: SizeMm
    wrench: Text = ""

    @model_validator(mode="after")
    def _step_is_a_part_of_a_turn(self) -> Self:
        if not 0 < self.step <= 100:
            raise ValueError(f"step must be more than 0 turns (it is {self.step:g})")
        return self


class ProfilePoint(Record):
    """The railhead elevation at a station, where the climb is not regular. [mm]"""

    station: Station
    railhead_mm: DistanceMm


class Obstacle(Record):
    """A portal, a lamp, a cable clip, a fence: at a station, or along a straight lead. [mm]

    ``left_mm`` and ``right_mm`` are seen uphill, from the track's centreline, and hold between the
    heights ``bottom_mm`` and ``top_mm`` over the railhead (None: however high). Without a track it
    stands at all of them; without a ``width_mm`` it is as wide along the track as a beam.
    ``distance_mm`` runs along the straight lead at the end ``at``, None: at the one that has a
    lead, from where the lead leaves the curve.
    """

    name: Annotated[Text, AfterValidator(_named)]
    track: Text = ""
    station: Station | None = None
    distance_mm: NotNegativeMm | None = None
    at: End | None = None
    headroom_mm: SizeMm | None = None
    left_mm: SizeMm | None = None
    right_mm: SizeMm | None = None
    bottom_mm: NotNegativeMm = 0.0
    top_mm: SizeMm | None = None
    width_mm: NotNegativeMm | None = None

    @model_validator(mode="after")
    def _stands_somewhere(self) -> Self:
        if (self.station is None) == (self.distance_mm is None):
            raise ValueError("needs a station, or a distance along a straight lead; one of them")
        if self.headroom_mm is None and self.left_mm is None and self.right_mm is None:
            raise ValueError("says neither headroom nor left nor right: nothing to strike")
        if self.at is not None and self.distance_mm is None:
            raise ValueError(f"at {self.at!r} goes with a distance along the lead there")
        if self.top_mm is not None and self.top_mm <= self.bottom_mm:
            raise ValueError(
                f"top ({self.top_mm:g} mm) must be above bottom ({self.bottom_mm:g} mm)"
            )
        return self


class Lead(Record):
    """Straight track leaving tangent to the helix at its foot or head."""

    at: End
    length_mm: SizeMm
    grade: RealNumber = 0.0

    @model_validator(mode="after")
    def _can_be_climbed(self) -> Self:
        if abs(self.grade) > STEEPEST_GRADE:
            raise ValueError(
                f"grade {self.grade:g} is a rise of {100 * self.grade:g} mm in 100; 0.03 is 3 %"
            )
        return self


class Recovery(Record):
    """Room to lift a train off: how thick a hand must go over a roof, or between trains. [mm]"""

    hand_mm: SizeMm | None = None


class Helix(Record):
    """A helix as drawn. Tracks are listed from the inner to the outer one. [mm]"""

    name: Annotated[Text, AfterValidator(_named)]
    gauge_mm: SizeMm
    turns: Annotated[RealNumber, AfterValidator(_turns)]
    rise_per_turn_mm: SizeMm
    brackets_per_turn: Annotated[int, BeforeValidator(_whole), AfterValidator(_brackets)]
    climbs: Literal["counterclockwise", "clockwise"] = "counterclockwise"
    tracks: Annotated[tuple[Track, ...], Field(min_length=1, strict=False)]
    deck: Deck
    posts: Posts = Posts()
    allowance: Allowance = Allowance()
    adjusters: Adjusters | None = None
    profile: Annotated[tuple[ProfilePoint, ...], Field(strict=False)] = ()
    obstacles: Annotated[tuple[Obstacle, ...], Field(strict=False)] = ()
    leads: Annotated[tuple[Lead, ...], Field(strict=False)] = ()
    recovery: Recovery = Recovery()
    stringers: Stringers | None = None

    @property
    def last_station(self) -> int:
        """The last bracket on the line; the first is 0."""
        return math.floor(self.turns * self.brackets_per_turn + 1e-9)

    def grade(self, track: Track) -> float:
        """Rise over run along a track's centreline: steeper on an inner track. [1]"""
        return self.rise_per_turn_mm / (2 * math.pi * track.radius_mm)

    def design_railheads(self) -> dict[float, float]:
        """Give the railhead elevation by station, as drawn: each bracket, and the profile. [mm]

        In the order of the stations, which are to 1e-6; two at least: of a helix that ends before
        its second bracket, its end.
        """
        rise = self.rise_per_turn_mm / self.brackets_per_turn
        stations = list(map(float, range(self.last_station + 1)))
        if len(stations) == 1:
            stations.append(self.turns * self.brackets_per_turn)
        railheads = {round(station, 6): rise * station for station in stations}
        railheads |= {round(point.station, 6): point.railhead_mm for point in self.profile}
        return dict(sorted(railheads.items()))

    @model_validator(mode="after")
    def _possible(self) -> Self:
        names = [track.name for track in self.tracks]
        if len(set(names)) < len(names):
            raise ValueError(f"two tracks have the same name: {', '.join(names)}")
        for inner, outer in zip(self.tracks, self.tracks[1:], strict=False):
            if outer.radius_mm <= inner.radius_mm + self.gauge_mm:
                raise ValueError(
                    f"track {outer.name!r} (radius {outer.radius_mm:g} mm) must lie outside "
                    f"{inner.name!r} ({inner.radius_mm:g} mm) by more than the gauge "
                    f"({self.gauge_mm:g} mm); list tracks from the inner to the outer one"
                )
        for track in self.tracks:
            self._track_is_possible(track)
        if self.deck.depth_mm + self.deck.beam_depth_mm >= self.rise_per_turn_mm:
            raise ValueError(
                f"deck ({self.deck.depth_mm:g} mm) and beam ({self.deck.beam_depth_mm:g} mm) "
                f"leave no headroom in a rise of {self.rise_per_turn_mm:g} mm a turn"
            )
        for obstacle in self.obstacles:
            if obstacle.track and obstacle.track not in names:
                raise ValueError(
                    f"obstacle {obstacle.name!r} stands at track {obstacle.track!r}; "
                    f"the tracks are {', '.join(names)}"
                )
        if len({lead.at for lead in self.leads}) < len(self.leads):
            raise ValueError("two leads are at the same end")
        for obstacle in self.obstacles:
            self._lead_reaches(obstacle)
        self._profile_can_be_climbed()
        return self

    def _lead_reaches(self, obstacle: Obstacle) -> None:
        """An obstacle along a straight lead stands on one, and on one alone."""
        if obstacle.distance_mm is None:
            self._line_reaches(obstacle)
            return
        what = f"obstacle {obstacle.name!r} stands {obstacle.distance_mm:g} mm along a straight"
        leads = [lead for lead in self.leads if obstacle.at in (None, lead.at)]
        if not leads:
            where = f" at the {obstacle.at}" if obstacle.at else ""
            raise ValueError(
                f"{what} lead, but there is none{where}; describe it under [[leads]], or give a "
                f"station"
            )
        if len(leads) > 1:
            raise ValueError(f'{what} lead, and there are two; add at = "foot" or at = "head"')
        if obstacle.distance_mm > leads[0].length_mm:
            raise ValueError(
                f"{what} lead that is {leads[0].length_mm:g} mm long (at the {leads[0].at})"
            )

    def _line_reaches(self, obstacle: Obstacle) -> None:
        """A straight lead ends where it ends; a curved one goes on as far as anything stands."""
        assert obstacle.station is not None
        known = [0.0, float(self.last_station), self.turns * self.brackets_per_turn]
        known += [point.station for point in self.profile]
        lengths = {lead.at: lead.length_mm for lead in self.leads}
        ends = (("foot", min(known) - obstacle.station), ("head", obstacle.station - max(known)))
        for at, beyond in ends:
            radius = max(it.radius_mm for it in self.tracks if obstacle.track in ("", it.name))
            along = beyond * 2 * math.pi / self.brackets_per_turn * radius
            if at in lengths and along > lengths[at] + UNEVEN_MM:
                raise ValueError(
                    f"obstacle {obstacle.name!r} stands at station {obstacle.station:g}, "
                    f"{along:.0f} mm along a straight lead that is {lengths[at]:g} mm long "
                    f"(at the {at})"
                )

    def _profile_can_be_climbed(self) -> None:
        stations = [round(point.station, 6) for point in self.profile]
        for index, station in enumerate(stations):
            if station in stations[:index]:
                raise ValueError(
                    f"two points of the profile are at station {station:g}; keep one of them"
                )
        if not stations:
            return
        self._profile_has_no_slip(stations)
        step_mm = 2 * math.pi * self.tracks[0].radius_mm / self.brackets_per_turn
        for (here, low), (there, high) in pairwise(self.design_railheads().items()):
            run = (there - here) * step_mm
            if abs(high - low) > STEEPEST_GRADE * run + UNEVEN_MM:
                raise ValueError(
                    f"the railhead goes from {low:g} mm at station {here:g} to {high:g} mm at "
                    f"station {there:g}, {run:g} mm further: no train climbs that; is the "
                    f"profile's railhead in the right unit?"
                )
        self._profile_leaves_headroom()

    def _profile_has_no_slip(self, stations: Sequence[float]) -> None:
        """Where it does not change as the helix climbs, but for a step, and a slip explains that.

        What no slip of units explains may be so: a profile is for a climb that is not regular.
        """
        rise = self.rise_per_turn_mm / self.brackets_per_turn
        for (here, low), (there, high) in pairwise(self.design_railheads().items()):
            even, change = rise * (there - here), high - low
            if abs(change - even) <= max(rise, UNEVEN_MM) * max(1.0, there - here) + 1e-6:
                continue
            known = [(k, z) for k, z in ((here, low), (there, high)) if k in stations]
            worse, found = max(known, key=lambda point: abs(point[1] - rise * point[0]))
            slip = slip_words([(found, rise * worse), (change, even)], SLIP_FACTOR)
            if slip:
                raise ValueError(
                    f"the railhead goes from {low:g} mm at station {here:g} to {high:g} mm at "
                    f"station {there:g}, a change of {change:+.6g} mm where an even climb has "
                    f"{even:+.6g} mm; is the profile's railhead at station {worse:g} in the right "
                    f"unit{slip}?"
                )

    def _profile_leaves_headroom(self) -> None:
        known, depth = self.design_railheads(), self.deck.depth_mm + self.deck.beam_depth_mm
        for station, railhead in known.items():
            above = known.get(station + self.brackets_per_turn)
            if station >= 0 and above is not None and above - railhead <= depth:
                raise ValueError(
                    f"the railheads at station {station:g} ({railhead:g} mm) and a turn above "
                    f"({above:g} mm) are no further apart than deck and beam are deep "
                    f"({depth:g} mm): that leaves no headroom"
                )

    def _track_is_possible(self, track: Track) -> None:
        if track.radius_mm <= self.gauge_mm:
            raise ValueError(
                f"track {track.name!r}: radius {track.radius_mm:g} mm is no more than the gauge "
                f"({self.gauge_mm:g} mm)"
            )
        if self.grade(track) > STEEPEST_GRADE:
            raise ValueError(
                f"track {track.name!r} climbs {100 * self.grade(track):.1f} %: no train does; "
                f"is the rise of {self.rise_per_turn_mm:g} mm a turn in the right unit?"
            )
        if track.cant_mm >= self.gauge_mm / 2:
            raise ValueError(
                f"track {track.name!r}: a cant of {track.cant_mm:g} mm would lay a car on its "
                f"side; about gauge / 15 is the most that is built"
            )
        if self.deck.beam_width_mm / 2 >= track.radius_mm:
            raise ValueError(
                f"a beam {self.deck.beam_width_mm:g} mm wide does not go with track "
                f"{track.name!r}, radius {track.radius_mm:g} mm"
            )
        inside = self.posts.inside_mm
        if track is self.tracks[0] and isinstance(inside, float) and inside >= track.radius_mm:
            raise ValueError(
                f"posts.inside ({inside:g} mm) is beyond the middle of a helix of radius "
                f"{track.radius_mm:g} mm"
            )
