"""Where on the line something is, and what stands there."""

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from clearance.geometry.line import station_angle_deg, station_turn

__all__ = ["Place", "numbered", "whole"]


class Place(NamedTuple):
    """Where on the line: a station, and what stands there.

    A row of equal ones reaches from ``station`` to ``last_station``, bracket by bracket. ``origin``
    says where the room that it leaves comes from.
    """

    station: float
    obstacle: str
    last_station: float | None = None
    origin: str = ""

    @property
    def stations(self) -> list[float]:
        """Every station of the row."""
        if self.last_station is None:
            return [self.station]
        return [self.station + step for step in range(int(self.last_station - self.station) + 1)]

    def located(self, brackets_per_turn: int) -> dict[str, Any]:
        """The place as the results give it: station, turn, angle and obstacle.

        ``everywhere`` says that it is the same at every bracket of the row.
        """
        located = {
            "station": whole(self.station),
            "turn": station_turn(self.station, brackets_per_turn),
            "angle_deg": station_angle_deg(self.station, brackets_per_turn),
            "obstacle": self.obstacle,
            "everywhere": self.last_station is not None,
        }
        if self.origin:
            located["origin"] = self.origin
        return located


def numbered(
    stations: NDArray[np.float64], obstacle: str, origin: str = ""
) -> tuple[list[Place], NDArray[np.intp]]:
    """Each place once, in the order of stations, and for each of these the number of its place."""
    distinct, number = np.unique(stations, return_inverse=True)
    return [Place(float(at), obstacle, origin=origin) for at in distinct], number.astype(np.intp)


def whole(station: float) -> float | int:
    """A bracket's number as a whole one; a place between brackets as it is."""
    return int(station) if station == int(station) else station
