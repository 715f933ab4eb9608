"""How high cords are to end, how wide, and whom they meet: what cars reach against what is spare.

Docs/theory.md, "Tell-tales". Everything here is arrays of n cars both ways round, row 0 front
uphill and row 1 downhill; where the cords hang is a matter of `clearance.judge.approach`.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from catalog.helix import Track
from clearance.judge.findings import CheckColumn
from clearance.judge.fleet import Fleet
from clearance.judge.structure import Structure
from clearance.judge.sweep import passages
from clearance.judge.verdict import DOES_NOT_FIT, MARGINAL, PASSES

__all__ = ["CordWidths", "Effect", "Overhead", "Reach", "Setting", "effect", "setting"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


class Overhead(NamedTuple):
    """What the check found overhead, as far as cords go by it.

    Attributes
    ----------
    spare_mm
        Gap less allowance, shape (2, n). [mm] nan: no finding.
    fails
        Which ways round must be stopped: the car does not fit, or is marginal, shape (2, n).
    measured
        Of which cars the verdict is known, shape (n,).
    """

    spare_mm: Floats
    fails: Mask
    measured: Mask

    @classmethod
    def of(cls, column: CheckColumn | None, count: int) -> "Overhead":
        """From the overhead column of one track; None: nobody has such a finding."""
        if column is None:
            nobody = np.zeros((2, count), bool)
            return cls(np.full((2, count), np.nan), nobody, nobody[0])
        # A part that was not worked out leaves every car's verdict open, whatever the rest says.
        measured = column.applies & (column.cap == PASSES)
        spare = np.where(column.applies, column.gap_mm - column.budget.total_mm, np.nan)
        fails = measured & np.isin(column.codes, (MARGINAL, DOES_NOT_FIT))
        return cls(spare, fails, measured)


class Reach(NamedTuple):
    """How high n cars reach at a place.

    Attributes
    ----------
    height_mm
        Over the railhead, shape (2, n). [mm]
    even
        Whether the line climbs evenly and without cant about the place.
    described
        Whether anybody said what the line is like there.
    """

    height_mm: Floats
    even: bool
    described: bool


class Setting(NamedTuple):
    """Where cords are to end, to the millimetre, and whose limit says so; -1: nobody's."""

    height_mm: float
    car: int


class Effect(NamedTuple):
    """Whom cords stop, shape (n,) each; see `clearance.judge.telltales.Telltale`."""

    stops: Mask
    lets_through: Mask
    false_alarms: Mask
    missed: Mask
    not_measured: Mask


def _least(height_mm: Floats, spare_mm: Floats) -> tuple[float, int]:
    """The least of height and spare, over cars and ways, and whose it is; inf, -1: nobody's."""
    limits = height_mm + spare_mm
    # A car that is short by next to nothing is short: rounding must not lift its limit to its top.
    limits = np.where(spare_mm < 0, np.minimum(limits, np.nextafter(height_mm, 0)), limits)
    limits = np.where(np.isnan(limits), np.inf, limits).min(axis=0, initial=np.inf)
    if not np.isfinite(limits).any():
        return np.inf, -1
    car = int(np.argmin(limits))
    return float(limits[car]), car


def setting(
    height_mm: Floats, reach_mm: Floats, spare_mm: Floats, most_mm: float, *, even: bool = False
) -> Setting:
    """How high cords may end so that no car goes by that must not.

    Parameters
    ----------
    height_mm
        Of each car, shape (n,). [mm]
    reach_mm
        How high each reaches where the cords hang, shape (2, n). [mm] On straight level track that
        is its height.
    spare_mm
        Gap less allowance under what the cords guard, shape (2, n). [mm]
    most_mm
        What hangs lowest there: higher than this cords would warn of nothing. [mm]
    even
        Whether the line climbs evenly and without cant about the cords. A car then reaches little
        higher than it is tall, and the least top limit (height and spare) is on the safe side.

    Returns
    -------
    Setting
        The least of reach and spare, rounded down; on an even line no more than the least top
        limit.
    """
    limit, car = _least(reach_mm, spare_mm)
    if even:
        by_height = _least(np.broadcast_to(height_mm, spare_mm.shape), spare_mm)
        limit, car = min((limit, car), by_height)
    return Setting(float(np.floor(min(limit, most_mm))), car)


def effect(over: Overhead, reach_mm: Floats, hung_mm: float) -> Effect:
    """Whom cords at a height stop.

    A car is stopped where it reaches higher than the cords end, in either way round. It is missed
    where a way round that must be stopped is not.
    """
    meets = reach_mm > hung_mm  # nan, a car that cannot stand there, meets nothing
    stops, fails, missed = (
        np.asarray(ways.any(axis=0)) for ways in (meets, over.fails, over.fails & ~meets)
    )
    return Effect(
        stops=stops,
        lets_through=~stops & over.measured,
        false_alarms=stops & over.measured & ~fails,
        missed=missed,
        not_measured=~over.measured,
    )


class CordWidths:
    """How wide cords must be: every block that is tall enough meets them, wherever it swings.

    Worked out once a track, of the cars that reach somewhat; where none does, of all.

    Parameters
    ----------
    structure, track, fleet
        Whose, and where: n cars.
    reach_mm
        How high each reaches where cords hang, the most of all places, shape (n,). [mm]
    least_mm
        How high the lowest cords end. [mm]
    usual_mm
        Where there is no car. [mm]
    """

    def __init__(
        self,
        structure: Structure,
        track: Track,
        fleet: Fleet,
        reach_mm: Floats,
        least_mm: float,
        usual_mm: float,
    ) -> None:
        self.usual_mm = usual_mm
        self.chosen = np.flatnonzero(reach_mm > least_mm)
        if not len(self.chosen):
            self.chosen = np.arange(len(fleet))
        some = fleet.select(self.chosen)
        self.whose, self.top_mm = some.block_car, some.blocks.top_mm
        self.height_mm = some.figure("height_mm")
        self.swing_mm = np.zeros(len(self.whose))
        for passage in passages(structure, track, some) if len(some) else ():
            inward = track.radius_mm - passage.reach.least_radius_mm
            outward = passage.reach.greatest_radius_mm - track.radius_mm
            for side in (inward, outward):
                self.swing_mm = np.fmax(self.swing_mm, side)

    def at(self, reach_mm: Floats, set_at_mm: float) -> float:
        """Over all cords that end so high, where cars reach so high, shape (2, n). [mm]"""
        raised = np.fmax(np.nan_to_num(reach_mm[:, self.chosen] - self.height_mm), 0.0)
        tall = self.top_mm + raised.max(axis=0)[self.whose] > set_at_mm
        widest = self.swing_mm[tall] if tall.any() else self.swing_mm
        return float(2 * np.ceil(widest.max(initial=0.0) or self.usual_mm))
