"""A helix as it stands: its lines, what hangs over them and what stands beside, as arrays.

G1, G4 and G5, docs/theory.md. The design, the profile and a survey make the railhead of each track;
what the survey does not say falls back on the design, and says so.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Helix, Lead, Obstacle, Track
from catalog.survey import Survey, curve_ends, headrooms, known_railheads, not_surveyed
from clearance.geometry.line import Line, Screw
from clearance.geometry.undersides import Undersides
from clearance.judge.places import Place

__all__ = ["Origin", "Structure", "Underside", "headroom_mm", "screw_of"]

Floats = NDArray[np.float64]

Origin = Literal[
    "as designed", "partly from surveyed railheads", "from surveyed railheads", "as measured"
]
"""Where a headroom comes from."""

# By how many of the two railheads that make it nobody measured.
_SURVEYED: tuple[Origin, ...] = (
    "from surveyed railheads",
    "partly from surveyed railheads",
    "as designed",
)

_SQUARE_RAD = math.pi / 2 * 0.999  # further round, a beam is not over a lead any more


class Underside(NamedTuple):
    """One level underside over a track, or a row of equal ones.

    Attributes
    ----------
    place
        Where it is.
    headroom_mm, width_mm
        Over the railhead beneath its centre line; along the track. [mm]
    place_rad, plan_rad, along_mm, elevation_mm
        The same as the geometry wants it, see `clearance.geometry.undersides.Undersides`.
    """

    place: Place
    headroom_mm: float
    width_mm: float
    place_rad: float = 0.0
    plan_rad: float = 0.0
    along_mm: float = 0.0
    elevation_mm: float = 0.0


def headroom_mm(helix: Helix) -> float:
    """Railhead to the underside of the beam of the next tier, as designed. [mm]"""
    return helix.rise_per_turn_mm - helix.deck.depth_mm - helix.deck.beam_depth_mm


def screw_of(helix: Helix, track: Track) -> Screw:
    """The line of one track of a regular helix."""
    return Screw(track.radius_mm, helix.rise_per_turn_mm, _roll_rad(helix, track))


def _roll_rad(helix: Helix, track: Track) -> float:
    """How far cant leans a track towards the axis. [rad]"""
    return math.asin(track.cant_mm / helix.gauge_mm)


@dataclass(frozen=True, eq=False)
class Structure:
    """A helix, and the survey that it is judged by; None: as designed."""

    helix: Helix
    survey: Survey | None = None

    @property
    def is_regular(self) -> bool:
        """Whether every place of it is like every other, so that one pose a car is enough."""
        return self.survey is None and not self.helix.profile and not self.helix.leads

    @cached_property
    def step_rad(self) -> float:
        """From one bracket to the next."""
        return 2 * math.pi / self.helix.brackets_per_turn

    @cached_property
    def curve_stations(self) -> tuple[float, float]:
        """The stations from which, and to which, the tracks curve."""
        return curve_ends(self.helix, self.survey)

    def lead(self, at: Literal["foot", "head"]) -> Lead | None:
        """The straight lead at one end."""
        return next((lead for lead in self.helix.leads if lead.at == at), None)

    @cached_property
    def _lines(self) -> dict[str, Line]:
        return {track.name: self._line_of(track) for track in self.helix.tracks}

    def line(self, track: Track) -> Line:
        """The centreline of a track."""
        return self._lines[track.name]

    def _line_of(self, track: Track) -> Line:
        stations, railheads = known_railheads(self.helix, self.survey, track.name)
        known = Line(
            track.radius_mm,
            np.array(stations) * self.step_rad,
            np.array(railheads, float),
            0.0,
            0.0,
        )
        first, last = (self._snapped(stations, at) for at in self.curve_stations)
        start, end = first, last
        knots = np.unique(np.concatenate([known.knots_rad, [start, end]]))
        heights = known.height_mm(knots)
        foot, head = self.lead("foot"), self.lead("head")
        if foot:
            start -= foot.length_mm / track.radius_mm
            knots = np.insert(knots, 0, start)
            heights = np.insert(heights, 0, heights[0] - foot.grade * foot.length_mm)
        if head:
            end += head.length_mm / track.radius_mm
            knots = np.append(knots, end)
            heights = np.append(heights, heights[-1] + head.grade * head.length_mm)
        return Line(
            track.radius_mm,
            knots,
            heights,
            start,
            end,
            (first if foot else -math.inf, last if head else math.inf),
            _roll_rad(self.helix, track),
        )

    def _snapped(self, stations: list[float], station: float) -> float:
        """A station as an angle: that of a known one, where only rounding is between."""
        nearest = min(stations, key=lambda known: abs(known - station))
        return (nearest if abs(nearest - station) < _NOISE else station) * self.step_rad

    # What hangs overhead

    def hanging(self, track: Track) -> list[Underside]:
        """What hangs over a track, from foot to head; on a regular helix, equal beams as one.

        The deck between the beams is apart, see `deck`.
        """
        return self._hanging[track.name]

    @cached_property
    def _hanging(self) -> dict[str, list[Underside]]:
        return {track.name: self._hanging_over(track) for track in self.helix.tracks}

    def _hanging_over(self, track: Track) -> list[Underside]:
        if self.is_regular:
            return self._regular_row() + self._described(track)
        found = self._beams(track) + self._measured_between(track) + self._described(track)
        return sorted(found, key=lambda underside: underside.place.station)

    def undersides(self, track: Track) -> Undersides:
        """The same as arrays."""
        return self._undersides[track.name]

    @cached_property
    def _undersides(self) -> dict[str, Undersides]:
        return {track.name: self._undersides_over(track) for track in self.helix.tracks}

    def _undersides_over(self, track: Track) -> Undersides:
        hanging = self.hanging(track)
        rows = [underside[3:] for underside in hanging]
        widths = [underside.width_mm for underside in hanging]
        figures = np.column_stack([np.array(rows, float).reshape(-1, 4), widths])
        return Undersides._make(figures.T)

    def _beam_at(self, station: float, origin: Origin) -> Place:
        return Place(station, "beam" if self.helix.deck.beam_depth_mm else "deck", origin=origin)

    def _regular_row(self) -> list[Underside]:
        helix = self.helix
        first, last = self.curve_stations
        start, end = math.ceil(first), math.floor(last - helix.brackets_per_turn + _NOISE)
        if end < start:
            return []
        row = self._beam_at(start, "as designed")._replace(last_station=end)
        return [Underside(row, headroom_mm(helix), helix.deck.beam_width_mm)]

    def _beams(self, track: Track) -> list[Underside]:
        """Every bracket that has another one a turn above it; over a straight lead, too."""
        helix = self.helix
        first, last = self.curve_stations
        turn = helix.brackets_per_turn
        measured = headrooms(helix, self.survey, track.name)
        unknown = set(not_surveyed(self.survey, helix, track.name)[0]) if self.survey else None
        depth_mm = helix.deck.depth_mm + helix.deck.beam_depth_mm
        line = self.line(track)
        found = []
        for station in range(math.ceil(first), math.floor(last - turn + _NOISE) + 1):
            if station in measured:
                name = self._beam_at(station, "as measured").obstacle
                found.append(self._measured(track, station, measured[station], name))
                continue
            above = float(line.height_mm(np.array((station + turn) * self.step_rad)))
            missing = 2 if unknown is None else len(unknown & {station, station + turn})
            found.append(
                self._underside(
                    track,
                    self._beam_at(station, _SURVEYED[missing]),
                    station * self.step_rad,
                    elevation_mm=above - depth_mm,
                )
            )
        if self.lead("foot"):
            found += self._over_the_lead(track, depth_mm)
        if self.lead("head"):
            found += self._under_the_lead(track, set(measured))
        return found

    def _over_the_lead(self, track: Track, depth_mm: float) -> list[Underside]:
        """Beams of the first tier as far as a straight lead at the foot is beneath it."""
        first, last = self.curve_stations
        turn = self.helix.brackets_per_turn
        line = self.line(track)
        found = []
        for station in range(math.ceil(first) - 1, math.ceil(first) - turn, -1):
            away = (first - station) * self.step_rad
            if away > min(self._covered_rad(track), _SQUARE_RAD) or station + turn > last + _NOISE:
                break
            above = float(line.height_mm(np.array((station + turn) * self.step_rad)))
            found.append(
                self._underside(
                    track,
                    self._beam_at(station, "as designed"),
                    first * self.step_rad - math.tan(away),
                    plan_rad=station * self.step_rad,
                    elevation_mm=above - depth_mm,
                )
            )
        return found

    def _under_the_lead(self, track: Track, measured: set[float]) -> list[Underside]:
        """What a straight lead at the head carries over the tier beneath, until that has curved
        away from under it: its beams, and the deck where it ends."""
        deck, lead = self.helix.deck, self.lead("head")
        assert lead is not None
        first, last = self.curve_stations
        turn, radius = self.helix.brackets_per_turn, track.radius_mm
        along_mm = min(lead.length_mm, radius * math.sin(self._crossed_rad(track)))
        rows: list[tuple[Place, float, float, float | None]] = []
        station = math.floor(last + _NOISE) + 1
        while (at_mm := (station - last) * self.step_rad * radius) <= along_mm:
            if station - turn not in measured:
                name = self._beam_at(station - turn, "as designed")
                rows.append((name, at_mm, deck.depth_mm + deck.beam_depth_mm, None))
            station += 1
        beyond = math.asin(along_mm / radius) / self.step_rad
        end = Place(round(last - turn + beyond, 2), "deck", origin="as designed")
        rows.append((end, along_mm, deck.depth_mm, 0.0))
        found = []
        for place, at_mm, depth_mm, width_mm in rows:
            above = self.line(track).height_mm(np.array(last * self.step_rad + at_mm / radius))
            beneath = (last - turn) * self.step_rad + math.asin(at_mm / radius)
            if beneath >= first * self.step_rad:
                found.append(
                    self._underside(
                        track,
                        place,
                        beneath,
                        elevation_mm=float(above) - depth_mm,
                        plan_rad=(last - turn) * self.step_rad,
                        along_mm=at_mm,
                        width_mm=width_mm,
                    )
                )
        return found

    def _crossed_rad(self, track: Track) -> float:
        """How far round a track goes on beneath a straight lead at the head of the tier above."""
        inside, radius = self.helix.posts.inside_mm, self.helix.tracks[0].radius_mm
        edge = radius - (inside if isinstance(inside, float) else 2 * self.helix.gauge_mm)
        return min(math.acos(max(edge, 0.0) / track.radius_mm), _SQUARE_RAD)

    def _covered_rad(self, track: Track) -> float:
        """How far round a straight lead at the foot goes on beneath the tier above."""
        outside = self.helix.posts.outside_mm
        beyond = outside if isinstance(outside, float) else 2 * self.helix.gauge_mm
        return math.acos(track.radius_mm / (self.helix.tracks[-1].radius_mm + beyond))

    def _measured_between(self, track: Track) -> list[Underside]:
        """Headrooms measured where no bracket is, or where none is a turn above."""
        first, last = self.curve_stations
        found = []
        for station, headroom in headrooms(self.helix, self.survey, track.name).items():
            is_beam = (
                station == int(station) and first <= station <= last - self.helix.brackets_per_turn
            )
            if not is_beam:
                found.append(self._measured(track, station, headroom, "underside"))
        return found

    def _measured(self, track: Track, station: float, headroom: float, name: str) -> Underside:
        return self._underside(
            track,
            Place(station, name, origin="as measured"),
            station * self.step_rad,
            headroom_mm=headroom,
        )

    def _described(self, track: Track) -> list[Underside]:
        """The low ones of the obstacles that the helix file describes."""
        return [
            self._underside(
                track,
                self.place_of(obstacle, track),
                self.place_rad(obstacle, track),
                headroom_mm=obstacle.headroom_mm,
                width_mm=obstacle.width_mm,
            )
            for obstacle in self.obstacles(track)
            if obstacle.headroom_mm is not None
        ]

    def _underside(
        self,
        track: Track,
        place: Place,
        place_rad: float,
        *,
        headroom_mm: float | None = None,
        elevation_mm: float = math.nan,
        plan_rad: float | None = None,
        along_mm: float = 0.0,
        width_mm: float | None = None,
    ) -> Underside:
        """An underside of which the headroom, or else the elevation, is known."""
        railhead = float(self.line(track).height_mm(np.array(place_rad)))
        curve = self.line(track).curve_rad
        if plan_rad is None:
            plan_rad = min(max(place_rad, curve[0]), curve[1])
            along_mm = track.radius_mm * (place_rad - plan_rad)
        if headroom_mm is None:
            headroom_mm = elevation_mm - railhead
        return Underside(
            place,
            headroom_mm,
            self.helix.deck.beam_width_mm if width_mm is None else width_mm,
            place_rad,
            plan_rad,
            along_mm,
            railhead + headroom_mm,
        )

    def deck(self, track: Track) -> Line | None:
        """The underside of the deck over a track, as a line; None: no tier above."""
        return self._decks[track.name]

    @cached_property
    def _decks(self) -> dict[str, Line | None]:
        return {track.name: self._deck_over(track) for track in self.helix.tracks}

    def _deck_over(self, track: Track) -> Line | None:
        first, last = (station * self.step_rad for station in self.curve_stations)
        line = self.line(track)
        start = first - (self._covered_rad(track) if self.lead("foot") else 0.0)
        end = last - 2 * math.pi
        if end <= start:
            return None
        return Line(
            track.radius_mm,
            line.knots_rad - 2 * math.pi,
            line.railhead_mm - self.helix.deck.depth_mm,
            max(start, first - 2 * math.pi),
            end,
        )

    # What stands beside

    def strip(self, obstacle: Obstacle, track: Track) -> Undersides:
        """How far along the track an obstacle reaches, as an array of one."""
        row = self._underside(
            track,
            self.place_of(obstacle, track),
            self.place_rad(obstacle, track),
            headroom_mm=obstacle.headroom_mm or 0.0,
            width_mm=obstacle.width_mm,
        )
        figures = (*row[3:], row.width_mm)
        return Undersides(*(np.array([figure]) for figure in figures))

    def obstacles(self, track: Track) -> list[Obstacle]:
        """The obstacles that the helix file describes at a track, those of all tracks included."""
        return [it for it in self.helix.obstacles if it.track in ("", track.name)]

    def place_rad(self, obstacle: Obstacle, track: Track) -> float:
        """Where the track passes an obstacle."""
        if obstacle.station is not None:
            return obstacle.station * self.step_rad
        assert obstacle.distance_mm is not None
        first, last = self.curve_stations
        away = obstacle.distance_mm / track.radius_mm
        at = obstacle.at or self.helix.leads[0].at
        return first * self.step_rad - away if at == "foot" else last * self.step_rad + away

    def place_of(self, obstacle: Obstacle, track: Track) -> Place:
        """The same for people."""
        station = obstacle.station
        if station is None:
            station = self.place_rad(obstacle, track) / self.step_rad
        return Place(station, obstacle.name, origin="as designed")


_NOISE = 1e-9
