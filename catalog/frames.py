"""Frames: the rigid parts of articulated stock, and whether they can carry a car.

A locomotive with two engine units and a boiler slung between them is three frames; so is a body on
two trucks, but that is common enough for figures of its own.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Annotated, NoReturn, Self

from pydantic import AfterValidator, model_validator

from catalog.record import NotNegativeMm, PartError, Record, SizeMm, Text
from catalog.words import did_you_mean, quoted

__all__ = [
    "TRACK",
    "Frame",
    "body_frame",
    "bottom_up",
    "crosswise",
    "refuse_impossible_frames",
    "uppermost",
]

TRACK = "track"
"""What a support rests on where no frame carries it: an axle."""

SAME_PLACE_MM = 0.1  # no two wheels stand so close


def _frame_name(value: str) -> str:
    if not value:
        raise ValueError("is empty; every frame needs a name")
    if value == TRACK:
        raise ValueError("means the track itself; call the frame something else")
    return value


def _carrier(value: str) -> str:
    if not value:
        raise ValueError(f"is empty; it is {TRACK}, or the name of the frame that carries it there")
    return value


class Frame(Record):
    """One rigid part of articulated stock, on two supports. G2, docs/theory.md.

    Supports are distances from the front end of the whole vehicle, standing on straight track.
    ``…_on`` is `TRACK`, an axle, or the name of the frame that carries this one there. [mm]
    """

    name: Annotated[Text, AfterValidator(_frame_name)]
    rear_support_mm: SizeMm
    rear_on: Annotated[Text, AfterValidator(_carrier)]
    front_support_mm: NotNegativeMm
    front_on: Annotated[Text, AfterValidator(_carrier)]

    @property
    def rests_on(self) -> tuple[str, ...]:
        """The frames that carry it: rear one first, one name where both are the same."""
        carriers = dict.fromkeys((self.rear_on, self.front_on))
        return tuple(name for name in carriers if name != TRACK)

    @property
    def axles_mm(self) -> list[float]:
        """Which of its supports are axles, the rear one first, from the vehicle's front end."""
        supports = ((self.rear_support_mm, self.rear_on), (self.front_support_mm, self.front_on))
        return [place for place, carrier in supports if carrier == TRACK]

    @model_validator(mode="after")
    def _front_before_rear(self) -> Self:
        if self.front_support_mm >= self.rear_support_mm:
            raise ValueError(
                f"frame {quoted(self.name)}: the front support ({self.front_support_mm:g} mm) is "
                f"not before the rear one ({self.rear_support_mm:g} mm); both are measured from "
                f"the front end of the vehicle"
            )
        return self


def refuse_impossible_frames(frames: Sequence[Frame], length_mm: float) -> None:
    """Refuse frames that cannot carry a car: the first that is wrong, by its name.

    Parameters
    ----------
    frames
        All frames of a car, each possible by itself.
    length_mm
        The length of the car. [mm]

    Raises
    ------
    PartError
        What is wrong, and at which place of ``frames``.
    """
    names = [frame.name for frame in frames]
    for index, frame in enumerate(frames):
        words = ""
        if frame.name in names[:index]:
            words = f"two frames are called {quoted(frame.name)}; give each a name of its own"
        elif frame.rear_support_mm > length_mm:
            words = (
                f"frame {quoted(frame.name)}: the rear support ({frame.rear_support_mm:g} mm) is "
                f"beyond the rear end of the car ({length_mm:g} mm)"
            )
        for carrier in frame.rests_on:
            if carrier not in names:
                words = words or (
                    f"frame {quoted(frame.name)} rests on {quoted(carrier)}, which is no frame of "
                    f"this car; {did_you_mean(carrier, [TRACK, *names])}"
                )
        if words:
            raise PartError(words, "frames", index)
    _refuse_second_ties(frames, bottom_up(frames))
    _refuse_axles_at_one_place(frames)


def uppermost(frames: Sequence[Frame]) -> list[str]:
    """Name the frames that no other frame rests on."""
    carrying = {carrier for frame in frames for carrier in frame.rests_on}
    return [frame.name for frame in frames if frame.name not in carrying]


def body_frame(frames: Sequence[Frame]) -> str:
    """Name the frame that carries the body: the one that carries all, or the last of them.

    Last is what comes last where each stands after those that carry it; so the order in which
    frames are written seldom matters. "": there are none.
    """
    return "".join(uppermost(bottom_up(frames))[-1:])


def crosswise(frames: Sequence[Frame]) -> list[str]:
    """Say which frames lie crosswise on what carries them: possible, but likelier a slip.

    Such a one rests with its front support on the carrier that lies behind the other. Where the two
    are swapped by mistake, each support is far beyond the wheels beneath it.

    Returns
    -------
    list
        A sentence each.
    """
    middle = {it.name: (it.rear_support_mm + it.front_support_mm) / 2 for it in frames}
    return [
        f"frame {quoted(it.name)} lies crosswise: its front support rests on "
        f"{quoted(it.front_on)}, which stands behind {quoted(it.rear_on)}; are the two swapped?"
        for it in frames
        if {it.rear_on, it.front_on} <= middle.keys() and middle[it.front_on] > middle[it.rear_on]
    ]


def bottom_up(frames: Sequence[Frame]) -> list[Frame]:
    """Give the frames in an order in which each comes after those that carry it.

    Raises
    ------
    PartError
        They rest on one another in a loop.
    """
    left = list(frames)
    ordered: list[Frame] = []
    while left:
        missing = {frame.name for frame in left}
        ready = [frame for frame in left if missing.isdisjoint(frame.rests_on)]
        if not ready:
            _refuse_loop(frames, {frame.name: frame for frame in left})
        ordered += ready
        left = [frame for frame in left if frame not in ready]
    return ordered


def _refuse_loop(frames: Sequence[Frame], left: dict[str, Frame]) -> NoReturn:
    """Each of those left rests on another of them, so going down from any ends in a loop."""
    way: list[str] = []
    name = next(iter(left))
    while name not in way:
        way.append(name)
        name = next(carrier for carrier in left[name].rests_on if carrier in left)
    loop = way[way.index(name) :]
    listed = ", ".join(map(quoted, loop))
    if len(loop) == 1:
        words = f"frame {listed} rests on itself"
    elif any(left[name].axles_mm for name in loop):
        words = f"frames {listed} form a loop: each rests on the next, the last on the first"
    else:
        words = f"frames {listed} carry one another, and have no track beneath"
    raise PartError(words, "frames", frames.index(left[loop[0]]))


def _refuse_second_ties(frames: Sequence[Frame], ordered: Sequence[Frame]) -> None:
    """Two frames move against one another on a curve; what ties them twice would hold them."""
    group: dict[str, int] = {}
    for number, frame in enumerate(ordered):
        joined = [group[carrier] for carrier in frame.rests_on]
        if len(joined) == 2 and joined[0] == joined[1]:
            one, other = map(quoted, frame.rests_on)
            words = f"{one} and {other}, which are joined already: no curve could be run"
            raise PartError(
                f"frame {quoted(frame.name)} rests on {words}", "frames", frames.index(frame)
            )
        group = {name: number if old in joined else old for name, old in group.items()}
        group[frame.name] = number


def _refuse_axles_at_one_place(frames: Sequence[Frame]) -> None:
    axles = sorted((place, index) for index, f in enumerate(frames) for place in f.axles_mm)
    for (near_mm, one), (far_mm, other) in pairwise(axles):
        if one != other and far_mm - near_mm < SAME_PLACE_MM:
            names = " and ".join(quoted(frames[index].name) for index in sorted((one, other)))
            words = f"frames {names} have axles at the same place ({far_mm:g} mm)"
            raise PartError(words, "frames", max(one, other))
