"""What a car has many of, its blocks and its frames, as columns: all cars' parts end to end.

`CarTable` holds one `Parts` a kind. How parts are picked, joined and compared does not depend on
what they are; which columns a kind has is said by `Kind`.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any, NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from catalog.record import Record
from catalog.rounding import Floats, round_mm

__all__ = ["BLOCKS", "FRAMES", "Kind", "Parts", "column_of", "equal_figures", "equal_texts"]


class Kind(NamedTuple):
    """Which fields of a part's record are text, and which are lengths. [mm]"""

    texts: tuple[str, ...]
    figures: tuple[str, ...]


BLOCKS = Kind(
    texts=("name", "frame"),
    figures=("from_mm", "to_mm", "left_mm", "right_mm", "bottom_mm", "top_mm"),
)
FRAMES = Kind(
    texts=("name", "rear_on", "front_on"), figures=("rear_support_mm", "front_support_mm")
)


@dataclass(frozen=True, eq=False)
class Parts:
    """The parts of one kind of n cars.

    Attributes
    ----------
    owner
        Which car (0 … n-1) each part belongs to, never decreasing: (m,).
    text
        A list of m texts for each text of the kind.
    figures
        An array (m,) for each figure of the kind. [mm]
    """

    owner: NDArray[np.intp]
    text: dict[str, list[str]]
    figures: dict[str, Floats]

    def __post_init__(self) -> None:
        columns: list[Sequence[Any] | Floats] = [*self.text.values(), *self.figures.values()]
        if any(len(column) != len(self.owner) for column in columns):
            raise ValueError("columns of a CarTable differ in length")
        if len(self.owner) and (self.owner[0] < 0 or (np.diff(self.owner) < 0).any()):
            raise ValueError("parts of a CarTable are not in the order of its cars")

    def __len__(self) -> int:
        return len(self.owner)

    @classmethod
    def none(cls, kind: Kind) -> Self:
        """No parts of a kind."""
        return cls(
            owner=np.empty(0, dtype=np.intp),
            text={name: [] for name in kind.texts},
            figures={name: np.empty(0) for name in kind.figures},
        )

    @classmethod
    def ordered(
        cls,
        owners: NDArray[np.intp],
        text: Mapping[str, Sequence[str]],
        figures: Mapping[str, Floats],
    ) -> Self:
        """Put parts in the order of their cars; those of one car keep theirs.

        Parameters
        ----------
        owners
            Which car each belongs to, in any order: (m,).
        text, figures
            The columns of the kind, in the same order.
        """
        order = np.argsort(owners, kind="stable")
        rows = order.tolist()
        return cls(
            owner=owners[order],
            text={name: [cells[row] for row in rows] for name, cells in text.items()},
            figures={name: values[order] for name, values in figures.items()},
        )

    @classmethod
    def of(cls, kind: Kind, records: Iterable[Sequence[Record]]) -> Self:
        """Put records into columns; lengths are rounded to 1e-6 mm.

        Parameters
        ----------
        kind
            What they are.
        records
            The parts of each car, in the order of the cars.
        """
        listed = [(index, part) for index, parts in enumerate(records) for part in parts]
        return cls(
            owner=np.array([index for index, _ in listed], dtype=np.intp),
            text={name: [getattr(part, name) for _, part in listed] for name in kind.texts},
            figures={
                name: round_mm(column_of(getattr(part, name) for _, part in listed))
                for name in kind.figures
            },
        )

    @classmethod
    def joined(cls, parts: Sequence["Parts"], starts: Sequence[int]) -> Self:
        """Put the parts of several tables one below the other.

        Parameters
        ----------
        parts
            Of one kind, at least one.
        starts
            Which car of the whole is the first of each table.
        """
        first = parts[0]
        return cls(
            owner=np.concatenate([p.owner + start for p, start in zip(parts, starts, strict=True)]),
            text={
                name: list(chain.from_iterable(p.text[name] for p in parts)) for name in first.text
            },
            figures={
                name: np.concatenate([p.figures[name] for p in parts]) for name in first.figures
            },
        )

    def take(self, cars: NDArray[np.intp]) -> Self:
        """Pick the parts of some cars, in the order in which the cars are given."""
        if not len(self):
            return self
        starts = np.searchsorted(self.owner, cars, side="left")
        counts = np.searchsorted(self.owner, cars, side="right") - starts
        # Each picked car's parts are a run; number the members of all runs one after another.
        before = np.cumsum(counts) - counts
        picked = np.arange(counts.sum()) + np.repeat(starts - before, counts)
        rows = picked.tolist()
        return type(self)(
            owner=np.repeat(np.arange(len(cars)), counts),
            text={name: [cells[row] for row in rows] for name, cells in self.text.items()},
            figures={name: values[picked] for name, values in self.figures.items()},
        )

    def matches(self, other: "Parts", cars: int) -> NDArray[np.bool_]:
        """Say which cars have equal parts here and there.

        Parameters
        ----------
        other
            The parts of as many cars.
        cars
            How many.

        Returns
        -------
        NDArray
            (n,) of booleans.
        """
        if not (len(self) or len(other)):
            return np.ones(cars, dtype=bool)
        mine = np.bincount(self.owner, minlength=cars)
        theirs = np.bincount(other.owner, minlength=cars)
        same: NDArray[np.bool_] = mine == theirs
        # Parts of cars that have as many stand one against the other; the rest is settled.
        here = np.flatnonzero(same[self.owner])
        there = np.flatnonzero(same[other.owner])
        equal = np.ones(len(here), dtype=bool)
        for name, cells in self.text.items():
            equal &= equal_texts(
                [cells[part] for part in here.tolist()],
                [other.text[name][part] for part in there.tolist()],
            )
        for name, values in self.figures.items():
            equal &= equal_figures(values[here], other.figures[name][there])
        same[self.owner[here[~equal]]] = False
        return same

    def fields(self) -> dict[int, list[dict[str, Any]]]:
        """What the records are made from, by the index of their car; blank figures left out."""
        fields: dict[int, list[dict[str, Any]]] = {}
        names = (*self.text, *self.figures)
        columns = [*self.text.values(), *(values.tolist() for values in self.figures.values())]
        for owner, *row in zip(self.owner.tolist(), *columns, strict=True):
            # nan is the one value that is not itself.
            known = {name: value for name, value in zip(names, row, strict=True) if value == value}
            fields.setdefault(owner, []).append(known)
        return fields


def column_of(values: Iterable[float | None]) -> Floats:
    """Numbers as an array, None as nan."""
    return np.array(list(values), dtype=np.float64)


def equal_figures(one: Floats, other: Floats) -> NDArray[np.bool_]:
    """Where two columns are equal, or both blank: (n,)."""
    equal: NDArray[np.bool_] = (one == other) | (np.isnan(one) & np.isnan(other))
    return equal


def equal_texts(one: list[str], other: list[str]) -> NDArray[np.bool_]:
    """Where two columns of texts are equal: (n,)."""
    if one == other:
        return np.ones(len(one), dtype=bool)
    return np.array([a == b for a, b in zip(one, other, strict=True)], dtype=bool)
