"""What a car is: the figures that somebody measured, the blocks that make its shape, its frames.

All lengths are the model's own, in millimetres. A car whose figures come from a full-size drawing
is already divided by its scale, and keeps ``dimensions = "full-size"`` so that everybody is told.
"""

import math
import re
from datetime import date
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from catalog.frames import Frame, body_frame, refuse_impossible_frames, uppermost
from catalog.record import DistanceMm, NotNegativeMm, Number, PartError, Record, SizeMm, Text
from catalog.words import did_you_mean, quoted

__all__ = [
    "AGREEMENT_MM",
    "FULL_SIZE_TOLERANCE",
    "LARGEST_GAUGE_MM",
    "MODEL_TOLERANCE_MM",
    "MOST_AXLES",
    "WEIGHT",
    "WIDEST_SWING_DEG",
    "Block",
    "Car",
    "Dimensions",
]

Dimensions = Literal["model", "full-size"]

MODEL_TOLERANCE_MM = 1.0  # docs/formats: a careful tape or square
FULL_SIZE_TOLERANCE = 0.03  # of the height: a drawing is not the model
AGREEMENT_MM = 1.0  # how closely blocks must agree with the car's own figures, at the least
LARGEST_GAUGE_MM = 400.0
MOST_AXLES = 100
WIDEST_SWING_DEG = 90.0  # beyond it a truck stands across its car

WEIGHT = re.compile(r"\d+(\.\d+)?\s*(g|kg|oz|lb)?", re.IGNORECASE)


def _identity(value: str) -> str:
    if not value:
        raise ValueError("is empty; it is what is painted on the car")
    return value


def _scale(value: float) -> float:
    if not math.isfinite(value) or not 1 <= value <= 1000:
        raise ValueError("must be like 1:22.5, between 1:1 and 1:1000")
    return value


def _gauge(value: float) -> float:
    if value > LARGEST_GAUGE_MM:
        raise ValueError(
            "is no model's track; give the gauge the model runs on, "
            "or leave it blank for the helix's"
        )
    return value


def _weight(value: str) -> str:
    if value and not WEIGHT.fullmatch(value):
        raise ValueError("must be a weight like 850 g, 2.4 kg, 12 oz or 5 lb")
    return value


def _axles(value: float) -> float:
    if not (2 <= value <= MOST_AXLES and float(value).is_integer()):
        raise ValueError(f"must be a whole number from 2 to {MOST_AXLES}")
    return value


def _degrees(value: float) -> float:
    if not 0 < value <= WIDEST_SWING_DEG:
        raise ValueError(f"must be more than 0 degrees, and at most {WIDEST_SWING_DEG:g}")
    return value


Degrees = Annotated[Number, AfterValidator(_degrees)]


class Block(Record):
    """One box of a car's shape.

    ``from_mm`` and ``to_mm`` run from the front end of the body towards the rear; ``left_mm`` and
    ``right_mm`` are half widths from the car's centre line (negative: the block lies wholly on the
    other side); ``bottom_mm`` and ``top_mm`` are heights over the railhead. [mm] ``frame`` is the
    frame that it belongs to; "": the one that no other rests on, `Car.block_frame`.
    """

    name: Text = ""
    frame: Text = ""
    from_mm: NotNegativeMm
    to_mm: SizeMm
    left_mm: DistanceMm
    right_mm: DistanceMm
    bottom_mm: NotNegativeMm = 0.0
    top_mm: SizeMm

    @model_validator(mode="after")
    def _is_a_box(self) -> Self:
        if self.to_mm <= self.from_mm:
            raise ValueError(
                f"to ({self.to_mm:g} mm) must be further from the front than from "
                f"({self.from_mm:g} mm)"
            )
        if self.left_mm + self.right_mm <= 0:
            raise ValueError(
                f"left ({self.left_mm:g} mm) and right ({self.right_mm:g} mm) leave no width"
            )
        if self.top_mm <= self.bottom_mm:
            raise ValueError(
                f"top ({self.top_mm:g} mm) must be above bottom ({self.bottom_mm:g} mm)"
            )
        return self


class Car(Record):
    """One locomotive or car, as measured. See the column list of `cars.csv`.

    Blank optional figures are None (or ""): they were not measured, and nothing assumes them.
    `overhangs_mm` and `stated_tolerance_mm` give the values to reckon with. Where there are
    frames, they say where the car is supported, and wheelbase and overhangs are blank.
    """

    id: Annotated[Text, AfterValidator(_identity)]
    name: Text = ""
    kind: Text = ""
    owner: Text = ""
    notes: Text = ""
    scale: Annotated[Number, AfterValidator(_scale)] | None = None
    gauge_mm: Annotated[SizeMm, AfterValidator(_gauge)] | None = None
    dimensions: Dimensions = "model"
    height_mm: SizeMm
    width_mm: SizeMm
    length_mm: SizeMm
    wheelbase_mm: SizeMm | None = None
    truck_wheelbase_mm: NotNegativeMm = 0.0
    axles: Annotated[Number, AfterValidator(_axles)] | None = None
    front_overhang_mm: NotNegativeMm | None = None
    rear_overhang_mm: NotNegativeMm | None = None
    length_over_couplers_mm: SizeMm | None = None
    underside_mm: NotNegativeMm | None = None
    minimum_radius_mm: SizeMm | None = None
    side_play_mm: NotNegativeMm | None = None
    truck_swing_deg: Degrees | None = None
    coupler_swing_mm: NotNegativeMm | None = None
    coupler_drop_mm: SizeMm | None = None
    coupler_angle_deg: Degrees | None = None
    weight: Annotated[Text, AfterValidator(_weight)] = ""
    tolerance_mm: NotNegativeMm | None = None
    measured_by: Text = ""
    measured_on: date | None = None
    blocks: tuple[Block, ...] = Field(default=(), strict=False)
    frames: tuple[Frame, ...] = Field(default=(), strict=False)

    @property
    def stated_tolerance_mm(self) -> float:
        """How well the figures are known: as stated, or 1 mm (model), 3 % of the height."""
        if self.tolerance_mm is not None:
            return self.tolerance_mm
        if self.dimensions == "full-size":
            return FULL_SIZE_TOLERANCE * self.height_mm
        return MODEL_TOLERANCE_MM

    @property
    def overhangs_mm(self) -> tuple[float, float] | None:
        """Front and rear overhang, support to body end; what is blank shares the rest. [mm]

        None where frames say how the car is supported.
        """
        if self.wheelbase_mm is None:
            return None
        rest = self.length_mm - self.wheelbase_mm
        front, rear = self.front_overhang_mm, self.rear_overhang_mm
        if front is None:
            front = rest / 2 if rear is None else rest - rear
        return front, rest - front

    @property
    def least_standing_radius_mm(self) -> float:
        """The radius below which this car's own supports cannot reach the track. [mm]

        Of a car with frames only a lower bound: each frame's own two axles, whatever joins them.
        """
        if self.wheelbase_mm is None:
            axles = [frame.axles_mm for frame in self.frames]
            return max((pair[0] - pair[1] for pair in axles if len(pair) == 2), default=0.0) / 2
        return math.hypot(self.wheelbase_mm, self.truck_wheelbase_mm) / 2

    @property
    def guiding_axles(self) -> int:
        """Of how many axles its own figures tell: any more stand between two of these."""
        if self.frames:
            return sum(len(frame.axles_mm) for frame in self.frames)
        return 4 if self.truck_wheelbase_mm else 2

    def block_frame(self, block: Block) -> str:
        """Name the frame that one of the car's blocks belongs to; "" where there are no frames."""
        return block.frame or body_frame(self.frames)

    @model_validator(mode="after")
    def _possible(self) -> Self:
        # Written in the order in which a person checks: length first, then what hangs on it.
        if self.dimensions == "full-size" and self.scale is None:
            raise ValueError("scale is missing; full-size figures need one, like 1:22.5")
        if self.frames:
            self._supports_are_left_to_frames()
            refuse_impossible_frames(self.frames, self.length_mm)
        else:
            self._wheelbase_fits_the_body()
        if self.axles is not None and self.axles < self.guiding_axles:
            raise ValueError(
                f"it has {self.axles:g} axles, but its {'frames' if self.frames else 'two trucks'} "
                f"stand on {self.guiding_axles}; axles are those of the whole car"
            )
        couplers = self.length_over_couplers_mm
        if couplers is not None and couplers < self.length_mm:
            raise ValueError(
                f"the length over couplers ({couplers:g} mm) is shorter than the body "
                f"({self.length_mm:g} mm)"
            )
        if self.underside_mm is not None and self.underside_mm >= self.height_mm:
            raise ValueError(
                f"the underside ({self.underside_mm:g} mm) is not below the top "
                f"({self.height_mm:g} mm)"
            )
        if self.stated_tolerance_mm >= self.height_mm:
            raise ValueError(
                f"the tolerance ({self.stated_tolerance_mm:g} mm) is as large as the height "
                f"({self.height_mm:g} mm)"
            )
        if (
            self.minimum_radius_mm is not None
            and self.minimum_radius_mm <= self.least_standing_radius_mm
        ):
            raise ValueError(
                f"the least radius ({self.minimum_radius_mm:g} mm) is one that the car's own "
                f"length cannot stand on: its supports need more than "
                f"{self.least_standing_radius_mm:.1f} mm"
            )
        self._blocks_have_frames()
        self._blocks_agree()
        return self

    def _wheelbase_fits_the_body(self) -> None:
        wheelbase, overhangs = self.wheelbase_mm, self.overhangs_mm
        if wheelbase is None or overhangs is None:
            raise ValueError("wheelbase_mm is missing")
        if wheelbase > self.length_mm:
            raise ValueError(
                f"the wheelbase ({wheelbase:g} mm) is longer than the body ({self.length_mm:g} mm)"
            )
        if self.truck_wheelbase_mm >= wheelbase:
            raise ValueError(
                f"the truck wheelbase ({self.truck_wheelbase_mm:g} mm) must be shorter than the "
                f"wheelbase ({wheelbase:g} mm): wheelbase is between truck centres"
            )
        front, rear = overhangs
        if min(front, rear) < -1e-6:
            raise ValueError(
                f"overhang and wheelbase together are longer than the body ({self.length_mm:g} mm)"
            )
        if self.rear_overhang_mm is None or abs(rear - self.rear_overhang_mm) <= max(
            AGREEMENT_MM, self.stated_tolerance_mm
        ):
            return
        raise ValueError(
            f"front overhang, wheelbase and rear overhang make "
            f"{front + wheelbase + self.rear_overhang_mm:g} mm, "
            f"but the length is {self.length_mm:g} mm"
        )

    def _supports_are_left_to_frames(self) -> None:
        for name in ("wheelbase", "truck_wheelbase", "front_overhang", "rear_overhang"):
            given = getattr(self, f"{name}_mm")
            if given is not None and (given or name != "truck_wheelbase"):
                raise ValueError(
                    f"the {name.replace('_', ' ')} ({given:g} mm) stands beside frames, which say "
                    f"where the car is supported; leave it blank"
                )

    def _blocks_have_frames(self) -> None:
        names = [frame.name for frame in self.frames]
        top = uppermost(self.frames)
        for index, block in enumerate(self.blocks):
            what = f"block {quoted(block.name)}" if block.name else f"block {index + 1}"
            if block.frame in names or not (block.frame or names):
                continue
            if not names:
                words = f"belongs to frame {quoted(block.frame)}, but the car has no frames"
            elif block.frame:
                words = f"belongs to frame {quoted(block.frame)}, which is no frame of this car; "
                words += did_you_mean(block.frame, names)
            elif len(top) > 1:
                words = f"does not say to which frame it belongs: {', '.join(top)}"
            else:
                continue
            raise PartError(f"{what} {words}", "blocks", index)

    def _blocks_agree(self) -> None:
        if not self.blocks:
            return
        near = max(AGREEMENT_MM, self.stated_tolerance_mm)
        top = max(block.top_mm for block in self.blocks)
        left = max(block.left_mm for block in self.blocks)
        right = max(block.right_mm for block in self.blocks)
        first = min(block.from_mm for block in self.blocks)
        last = max(block.to_mm for block in self.blocks)
        if abs(top - self.height_mm) > near:
            raise ValueError(
                f"the tallest block is {top:g} mm high, but the height is {self.height_mm:g} mm"
            )
        # "Over everything" is measured across, or as twice the side that stands out further.
        across = (left + right, 2 * max(left, right))
        if min(abs(width - self.width_mm) for width in across) > near:
            raise ValueError(
                f"the blocks are {across[0]:g} mm wide, but the width is {self.width_mm:g} mm"
            )
        if first > near or abs(last - self.length_mm) > near:
            raise ValueError(
                f"the blocks reach from {first:g} to {last:g} mm, but the body from 0 to "
                f"{self.length_mm:g} mm"
            )
