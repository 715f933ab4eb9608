"""How far a train runs on before it stands, and what full-size practice hangs before a bridge."""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["GRAVITY_MM_S2", "BridgeWarning", "scaled_bridge_warning", "stopping_distance_mm"]

GRAVITY_MM_S2 = 9806.65
"""Standard gravity, ISO 80000-3. [mm/s^2]"""

_FOOT_MM, _INCH_MM = 304.8, 25.4


def stopping_distance_mm(
    speed_mm_s: ArrayLike,
    deceleration_mm_s2: ArrayLike,
    grade: ArrayLike = 0.0,
    reaction_s: ArrayLike = 0.0,
) -> NDArray[np.float64]:
    """Distance from seeing to standing: v t + v^2 / 2(a + g G).

    Parameters
    ----------
    speed_mm_s
        Speed v when the driver sees it. [mm/s]
    deceleration_mm_s2
        Braking a on the level. [mm/s^2]
    grade
        Rise over run G in the direction of travel: uphill helps, downhill (negative) does not.
    reaction_s
        Time t until the brakes take hold. [s]

    Returns
    -------
    ndarray
        Broadcast. [mm] inf: on this grade the brakes do not hold the train.
    """
    speed = np.asarray(speed_mm_s, float)
    slope = np.asarray(grade, float)
    braking = np.asarray(deceleration_mm_s2, float) + GRAVITY_MM_S2 * slope / np.hypot(1, slope)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        distance = np.where(braking > 0, speed * speed / (2 * braking), np.inf)
    return np.asarray(speed * np.asarray(reaction_s, float) + distance)


class BridgeWarning(NamedTuple):
    """The cords that full-size railways hang before a low bridge, at model size. [mm]"""

    before_mm: float
    drop_mm: float
    width_mm: float
    cords_apart_mm: float


def scaled_bridge_warning(scale: float) -> BridgeWarning:
    """Full-size common practice divided by the scale.

    100 ft or more before the obstacle, ends 6 in below it, 8 ft wide, cords 3 in apart: Wikipedia,
    "Tell-tale (bridges)".

    Parameters
    ----------
    scale
        Full size over model size: 22.5 for 1:22.5.
    """
    return BridgeWarning(
        before_mm=100 * _FOOT_MM / scale,
        drop_mm=6 * _INCH_MM / scale,
        width_mm=8 * _FOOT_MM / scale,
        cords_apart_mm=3 * _INCH_MM / scale,
    )
