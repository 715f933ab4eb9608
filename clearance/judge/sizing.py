"""How big must a helix be, for the cars it is built for?

Each dimension is the least that lets every car pass with its allowance, in whole millimetres; with
one less the car that governs it does not pass. Sizing, docs/theory.md.
"""

import math
from dataclasses import dataclass

from pydantic import ValidationError

from catalog.errors import DataError
from catalog.helix import Helix
from catalog.record import refuse
from clearance.judge.fleet import Fleet
from clearance.judge.setting_out import SettingOut, setting_out
from clearance.judge.size_choices import Alternative, Cost, alternatives
from clearance.judge.size_crowd import Crowd
from clearance.judge.size_draft import Limits, grade_percent, spacing_of
from clearance.judge.size_least import Governing, Settled
from clearance.judge.size_limits import refuse_contradiction, refuse_impossible
from clearance.judge.stack import Stack, Stock, stacks
from clearance.judge.structure import headroom_mm

__all__ = ["Design", "StackChoice", "size"]

_ANY_STOCK = Stock()


@dataclass(frozen=True)
class StackChoice:
    """A stack-up that the stock allows, and the helix that it would make. [mm]"""

    stack: Stack
    rise_per_turn_mm: float
    radius_mm: float
    footprint_mm: float


@dataclass(frozen=True)
class Design:
    """A helix that every car passes, with nothing to spare but the rounding up. [mm]

    ``governing`` names the car behind each dimension: ``rise_per_turn`` (or "climb"), ``radius``
    ("grade", or a car), ``track_spacing`` (inner and outer car), ``inside``, ``outside``.
    ``hopeless`` are the cars that fail a running check however wide the helix, and which check;
    the rest of their figures counts. ``left_behind`` is what the helix that it started from has and
    the design has not: leads, a profile, obstacles.
    """

    helix: Helix
    governing: Governing
    limits: Limits
    stack: Stack
    stack_choices: tuple[StackChoice, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    costs: tuple[Cost, ...] = ()
    hopeless: tuple[tuple[str, str], ...] = ()
    left_behind: tuple[str, ...] = ()

    @property
    def rise_per_turn_mm(self) -> float:
        """Railhead to railhead. [mm]"""
        return self.helix.rise_per_turn_mm

    @property
    def radius_mm(self) -> float:
        """Of the inner track. [mm]"""
        return self.helix.tracks[0].radius_mm

    @property
    def track_spacing_mm(self) -> float | None:
        """From each track to the next; None: there is one. [mm]"""
        return spacing_of(self.helix)

    @property
    def inside_mm(self) -> float:
        """From the inner track to the posts inside it. [mm]"""
        assert isinstance(self.helix.posts.inside_mm, float)
        return self.helix.posts.inside_mm

    @property
    def outside_mm(self) -> float:
        """From the outer track to the posts outside it. [mm]"""
        assert isinstance(self.helix.posts.outside_mm, float)
        return self.helix.posts.outside_mm

    @property
    def grade_percent(self) -> float:
        """The steepest track's grade. [%]"""
        return grade_percent(self.helix)

    @property
    def turns(self) -> float:
        """How many turns make the climb."""
        return self.helix.turns

    @property
    def climb_mm(self) -> float:
        """What they climb. [mm]"""
        return self.turns * self.rise_per_turn_mm

    @property
    def headroom_mm(self) -> float:
        """Railhead to the underside of the beam above. [mm]"""
        return headroom_mm(self.helix)

    @property
    def footprint_mm(self) -> float:
        """Diameter of the ground it needs, to the inner faces of the outer posts. [mm]"""
        return Settled(self.helix, self.governing).footprint_mm

    @property
    def step_mm(self) -> float:
        """From one bracket up to the next. [mm]"""
        return self.rise_per_turn_mm / self.helix.brackets_per_turn

    @property
    def runs_mm(self) -> dict[str, float]:
        """How long each track is, along the climb, by its name. [mm]"""
        per_radian = self.rise_per_turn_mm / (2 * math.pi)
        return {
            track.name: 2 * math.pi * self.turns * math.hypot(track.radius_mm, per_radian)
            for track in self.helix.tracks
        }

    @property
    def set_out(self) -> SettingOut:
        """Its circles, and the heights of every bracket."""
        return setting_out(self.helix)


def size(
    helix: Helix, fleet: Fleet, limits: Limits = Limits(), stock: Stock = _ANY_STOCK
) -> Design:
    """Size a helix for a fleet.

    Parameters
    ----------
    helix
        What stays as it is: gauge, number of tracks, brackets, deck and beam, allowance.
    fleet
        The cars to size it for, of the helix's gauge.
    limits
        What the site allows.
    stock
        What deck and beams can be had: of the stack-ups that it allows, the one that needs the
        least rise is taken.

    Returns
    -------
    Design
        The least helix, and what other choices would give.

    Raises
    ------
    DataError
        There is no car to size it for, limits contradict each other, or no helix is so large.
    """
    if not len(fleet):
        raise DataError(f"there is no car of {helix.gauge_mm:g} mm gauge to size a helix for")
    refuse_impossible(helix, limits)
    parts = {"leads": helix.leads, "profile": helix.profile, "obstacles": helix.obstacles}
    left_behind = tuple(name for name, some in parts.items() if some)
    choices = stacks(helix, stock)
    helix = _with(helix, choices[0])
    crowd = Crowd(helix, fleet, limits)
    compared: tuple[StackChoice, ...] = ()
    stack = choices[0]
    if len(choices) > 1:
        compared = tuple(_choice(helix, crowd, limits, choice) for choice in choices)
        stack = min(compared, key=lambda one: (one.rise_per_turn_mm, one.stack.depth_mm)).stack
        helix = _with(helix, stack)
    settled = crowd.least(helix, limits)
    while not crowd.confirmed(settled):
        settled = crowd.least(helix, limits, start=settled.helix)
    refuse_contradiction(helix, crowd, limits, settled)
    try:  # dimensions are put together unchecked while they are settled
        Helix(**dict(settled.helix))
    except ValidationError as error:
        refuse(error, "the helix that these limits ask for")
    others, prices = alternatives(helix, crowd, limits, settled)
    return Design(
        helix=settled.helix,
        governing=settled.governing,
        limits=limits,
        stack=stack,
        stack_choices=compared,
        alternatives=tuple(others),
        costs=tuple(prices),
        hopeless=tuple(crowd.hopeless.items()),
        left_behind=left_behind,
    )


def _with(helix: Helix, stack: Stack) -> Helix:
    return helix.model_copy(update={"deck": stack.deck})


def _choice(helix: Helix, crowd: Crowd, limits: Limits, stack: Stack) -> StackChoice:
    """What a stack-up leads to, by the foremost cars: which these are hangs little on the deck."""
    settled = crowd.least(_with(helix, stack), limits, foremost=True)
    return StackChoice(
        stack,
        settled.helix.rise_per_turn_mm,
        settled.helix.tracks[0].radius_mm,
        settled.footprint_mm,
    )
