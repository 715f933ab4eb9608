"""Many cars at once, a column a figure: what files, the database and the judge hand each other.

A list of `Car` is right for one car and slow for a fleet. `CarTable` holds the same figures as
arrays, nan where a figure is blank, and the blocks and the frames of all cars end to end.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import partial
from itertools import chain
from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import ValidationError

from catalog.car import FULL_SIZE_TOLERANCE, LARGEST_GAUGE_MM, MODEL_TOLERANCE_MM, Car
from catalog.parts import BLOCKS, FRAMES, Parts, column_of, equal_figures, equal_texts
from catalog.record import refuse
from catalog.rounding import Floats, round_mm
from catalog.words import quoted

__all__ = [
    "DIVIDED",
    "FIGURES",
    "TEXTS",
    "CarTable",
    "day_of",
]

TEXTS = (
    "id",
    "name",
    "kind",
    "owner",
    "notes",
    "dimensions",
    "weight",
    "measured_by",
    "measured_on",
)

"""The fields of `Car` that are text; ``measured_on`` is an ISO date or ""."""

FIGURES = (
    "scale",
    "gauge_mm",
    "height_mm",
    "width_mm",
    "length_mm",
    "wheelbase_mm",
    "truck_wheelbase_mm",
    "axles",
    "front_overhang_mm",
    "rear_overhang_mm",
    "length_over_couplers_mm",
    "underside_mm",
    "minimum_radius_mm",
    "side_play_mm",
    "truck_swing_deg",
    "coupler_swing_mm",
    "coupler_drop_mm",
    "coupler_angle_deg",
    "tolerance_mm",
)
"""The fields of `Car` that are numbers: the scale, lengths in millimetres, angles in degrees, and
how many axles."""

DIVIDED = frozenset(name for name in FIGURES if name.endswith("_mm")) - {"gauge_mm"}
"""The lengths that a full-size row gives in full size; a gauge is always the model's."""


@dataclass(frozen=True, eq=False)
class CarTable:
    """Cars as columns. Two tables are equal when every figure and text is.

    Attributes
    ----------
    text
        A list of n texts for each name in `TEXTS`.
    figures
        An array (n,) for each name in `FIGURES`: the model's own lengths, to 1e-6 mm, nan where
        blank. [mm; degrees; scale: full size over model size]
    blocks, frames
        The parts of all cars.
    """

    text: dict[str, list[str]]
    figures: dict[str, Floats]
    blocks: Parts = field(default_factory=partial(Parts.none, BLOCKS))
    frames: Parts = field(default_factory=partial(Parts.none, FRAMES))

    def __post_init__(self) -> None:
        cars = {len(self.text[name]) for name in TEXTS} | {len(self.figures[f]) for f in FIGURES}
        if len(cars) > 1:
            raise ValueError("columns of a CarTable differ in length")
        if any(len(p) and p.owner[-1] >= len(self) for p in (self.blocks, self.frames)):
            raise ValueError("a part of a CarTable belongs to none of its cars")

    def __len__(self) -> int:
        return len(self.text["id"])

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, CarTable):
            return NotImplemented
        return len(self) == len(other) and bool(self.matches(other).all())

    __hash__ = None  # type: ignore[assignment]  # arrays can change

    @property
    def block_car(self) -> NDArray[np.intp]:
        """Which car (0 … n-1) each block belongs to, never decreasing: (m,)."""
        return self.blocks.owner

    @property
    def block_name(self) -> list[str]:
        """The name of each block: m texts."""
        return self.blocks.text["name"]

    @property
    def block_frame(self) -> list[str]:
        """The frame that each block says it belongs to, as written: m texts."""
        return self.blocks.text["frame"]

    @property
    def block_figures(self) -> dict[str, Floats]:
        """The figures of the blocks, (m,) each. [mm]"""
        return self.blocks.figures

    @property
    def frame_car(self) -> NDArray[np.intp]:
        """Which car (0 … n-1) each frame belongs to, never decreasing: (f,)."""
        return self.frames.owner

    @property
    def frame_name(self) -> list[str]:
        """The name of each frame: f texts."""
        return self.frames.text["name"]

    @property
    def frame_rear_on(self) -> list[str]:
        """What the rear support of each frame rests on: f texts."""
        return self.frames.text["rear_on"]

    @property
    def frame_front_on(self) -> list[str]:
        """What the front support of each frame rests on: f texts."""
        return self.frames.text["front_on"]

    @property
    def frame_figures(self) -> dict[str, Floats]:
        """The figures of the frames, (f,) each. [mm]"""
        return self.frames.figures

    @property
    def framed(self) -> NDArray[np.bool_]:
        """Which cars are described by frames: (n,)."""
        described = np.zeros(len(self), dtype=bool)
        described[self.frames.owner] = True
        return described

    @property
    def full_size(self) -> NDArray[np.bool_]:
        """Which cars' figures come from a full-size drawing: (n,)."""
        cells = self.text["dimensions"]
        if "full-size" not in cells:
            return np.zeros(len(cells), dtype=bool)
        return np.array([text == "full-size" for text in cells], dtype=bool)

    @property
    def stated_tolerance_mm(self) -> Floats:
        """`Car.stated_tolerance_mm` of each car: (n,). [mm]"""
        stated = self.figures["tolerance_mm"]
        of_the_height = FULL_SIZE_TOLERANCE * self.figures["height_mm"]
        usual = np.where(self.full_size, of_the_height, MODEL_TOLERANCE_MM)
        return np.where(np.isnan(stated), usual, stated)

    @property
    def overhangs_mm(self) -> tuple[Floats, Floats]:
        """`Car.overhangs_mm` of each car: front and rear, nan for one with frames: (n,) each."""
        rest = self.figures["length_mm"] - self.figures["wheelbase_mm"]
        front, rear = self.figures["front_overhang_mm"], self.figures["rear_overhang_mm"]
        shared = np.where(np.isnan(rear), rest / 2, rest - rear)
        front = np.where(np.isnan(front), shared, front)
        return front, rest - front

    @property
    def divisor(self) -> Floats:
        """What a file's lengths are divided by: the scale of a full-size row, 1 elsewhere: (n,)."""
        return np.where(self.full_size, self.figures["scale"], 1.0)

    def divided(self) -> Self:
        """Turn a table as it stands in a file into the model's own lengths.

        Those of full-size rows are divided by the scale, but for a gauge that some model track
        has: the model stands on model track. Blocks and frames are left as they are.
        """
        if not self.full_size.any():
            return self
        divisor = self.divisor
        figures = {
            name: round_mm(values / divisor) if name in DIVIDED else values
            for name, values in self.figures.items()
        }
        gauge = self.figures["gauge_mm"]
        full_size_track = self.full_size & (gauge > LARGEST_GAUGE_MM)
        figures["gauge_mm"] = np.where(full_size_track, round_mm(gauge / divisor), gauge)
        return replace(self, figures=figures)

    @classmethod
    def from_cars(cls, cars: Iterable[Car]) -> Self:
        """Put records into columns; lengths are rounded to 1e-6 mm.

        Parameters
        ----------
        cars
            Any number of records, none included.
        """
        listed = list(cars)
        text = {name: [getattr(car, name) for car in listed] for name in TEXTS}
        text["measured_on"] = [day.isoformat() if day else "" for day in text["measured_on"]]
        figures = {name: column_of(getattr(car, name) for car in listed) for name in FIGURES}
        return cls(
            text=text,
            figures={
                name: values if name == "scale" else round_mm(values)
                for name, values in figures.items()
            },
            blocks=Parts.of(BLOCKS, (car.blocks for car in listed)),
            frames=Parts.of(FRAMES, (car.frames for car in listed)),
        )

    def cars(self) -> list[Car]:
        """Make a validated record of each car.

        Raises
        ------
        DataError
            A car's figures are impossible; the sentence names the car and the figure.
        """
        made = []
        for fields in self.fields():
            try:
                made.append(Car(**fields))
            except ValidationError as error:
                refuse(error, f"car {quoted(fields['id'])}")
        return made

    @classmethod
    def joined(cls, tables: Sequence["CarTable"]) -> Self:
        """Put tables one below the other.

        Parameters
        ----------
        tables
            At least one.
        """
        starts = [0, *np.cumsum([len(table) for table in tables[:-1]]).tolist()]
        return cls(
            text={
                name: list(chain.from_iterable(table.text[name] for table in tables))
                for name in TEXTS
            },
            figures={
                name: np.concatenate([table.figures[name] for table in tables]) for name in FIGURES
            },
            blocks=Parts.joined([table.blocks for table in tables], starts),
            frames=Parts.joined([table.frames for table in tables], starts),
        )

    def fields(self) -> Iterator[dict[str, Any]]:
        """Give for each car what `Car` is made from, blank figures left out, nothing checked."""
        columns: dict[str, Sequence[Any]] = {
            name: values.tolist() for name, values in self.figures.items()
        }
        columns |= self.text
        columns["measured_on"] = [day_of(text) for text in self.text["measured_on"]]
        blocks, frames = self.blocks.fields(), self.frames.fields()
        names = tuple(columns)
        for index, row in enumerate(zip(*columns.values(), strict=True)):
            # nan is the one value that is not itself.
            known = {n: v for n, v in zip(names, row, strict=True) if v == v and v is not None}
            known["blocks"] = blocks.get(index, ())
            if index in frames:
                known["frames"] = frames[index]
            yield known

    def matches(self, other: "CarTable") -> NDArray[np.bool_]:
        """Say which rows are equal to the same row of another table, parts included.

        Parameters
        ----------
        other
            As many cars as here.

        Returns
        -------
        NDArray
            (n,) of booleans.
        """
        same = np.ones(len(self), dtype=bool)
        for name in TEXTS:
            same &= equal_texts(self.text[name], other.text[name])
        for name in FIGURES:
            same &= equal_figures(self.figures[name], other.figures[name])
        same &= self.blocks.matches(other.blocks, len(self))
        same &= self.frames.matches(other.frames, len(self))
        return same

    def take(self, indices: ArrayLike) -> Self:
        """Pick rows, in the order given, with their parts.

        Parameters
        ----------
        indices
            Whole numbers (k,) from 0 to n-1, or a mask (n,) of booleans.
        """
        picked = np.asarray(indices)
        picked = np.flatnonzero(picked) if picked.dtype == bool else picked.astype(np.intp)
        rows = picked.tolist()
        return type(self)(
            text={name: [cells[row] for row in rows] for name, cells in self.text.items()},
            figures={name: values[picked] for name, values in self.figures.items()},
            blocks=self.blocks.take(picked),
            frames=self.frames.take(picked),
        )

    def with_blocks(
        self,
        owners: NDArray[np.intp],
        names: Sequence[str],
        figures: dict[str, Floats],
        frames: Sequence[str] | None = None,
    ) -> Self:
        """Give the cars these blocks in place of their own.

        Parameters
        ----------
        owners
            Which car each block belongs to, in any order; blocks of one car keep theirs: (m,).
        names
            m texts.
        figures
            An array (m,) for each figure of a block. [mm]
        frames
            The frame that each block belongs to, m texts; None: no block says.
        """
        text = {"name": names, "frame": [""] * len(names) if frames is None else frames}
        return replace(self, blocks=Parts.ordered(owners, text, figures))

    def with_frames(
        self,
        owners: NDArray[np.intp],
        names: Sequence[str],
        rear_on: Sequence[str],
        front_on: Sequence[str],
        figures: dict[str, Floats],
    ) -> Self:
        """Give the cars these frames in place of their own.

        Parameters
        ----------
        owners
            Which car each frame belongs to, in any order; frames of one car keep theirs: (f,).
        names, rear_on, front_on
            f texts each.
        figures
            An array (f,) for each figure of a frame. [mm]
        """
        text = {"name": names, "rear_on": rear_on, "front_on": front_on}
        return replace(self, frames=Parts.ordered(owners, text, figures))


def day_of(text: str) -> date | str | None:
    """Read an ISO day: a date, None for "", and what is no such day as the text it was."""
    if not text:
        return None
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return text
    return day if day.isoformat() == text else text
