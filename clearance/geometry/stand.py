"""How cars stand on a regular helix: one pose a car, the same at every place.

G2 and G3, docs/theory.md. A chord between two points of a screw line is found first for the axles
of a truck, then for the two truck pivots, which lie on a screw line of their own.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clearance.geometry.line import Screw

__all__ = ["Stance", "half_angle_rad", "stand"]

Floats = NDArray[np.float64]

# Newton doubles the digits a step, so after a step as small as this the next would be rounding. Two
# are enough for any real car; supports that span nearly the diameter take a few more.
_SMALL_STEP = 1e-7
_MOST_STEPS = 30


@dataclass(frozen=True)
class Stance:
    """The pose of n cars at one place of a screw line, the car's front uphill.

    The middle of the wheelbase stands at plan angle 0. A point of the body that is `x` before the
    middle, `y` to the left and `h` over the line through the supports lies, in plan,

        U = mid_radius_mm - (y cos_roll + h sin_roll)       from the axis towards the car
        T = x cos_pitch - (h cos_roll - y sin_roll) sin_pitch      uphill, at right angles to U

    and x sin_pitch + (h cos_roll - y sin_roll) cos_pitch above the railhead there (G3).

    Attributes
    ----------
    screw
        The track.
    mid_radius_mm
        Distance of the middle of the wheelbase from the axis, shape (n,). [mm] nan: the car's
        supports are too far apart to stand on this radius.
    sin_pitch, cos_pitch
        Slope of the body's base line, shape (n,).
    sin_roll, cos_roll
        Lean of the track towards the axis.
    """

    screw: Screw
    mid_radius_mm: Floats
    sin_pitch: Floats
    cos_pitch: Floats
    sin_roll: float
    cos_roll: float

    def take(self, index: NDArray[np.intp]) -> "Stance":
        """The poses of the cars at ``index``: of one car more than once, where it has blocks."""
        return Stance(
            self.screw,
            self.mid_radius_mm[index],
            self.sin_pitch[index],
            self.cos_pitch[index],
            self.sin_roll,
            self.cos_roll,
        )


def half_angle_rad(
    chord_mm: ArrayLike, radius_mm: ArrayLike, rise_per_radian_mm: float = 0.0
) -> Floats:
    """Half the plan angle between two points of a screw line that are a given distance apart.

    Solves (2 R sin a)^2 + (2 p a)^2 = c^2 for a, 0 <= a < pi/2 (G2).

    Parameters
    ----------
    chord_mm
        Straight-line distance in space, shape (n,). [mm]
    radius_mm
        Radius of the screw line, broadcast against ``chord_mm``. [mm]
    rise_per_radian_mm
        Its climb for each radian. [mm/rad]

    Returns
    -------
    ndarray
        The angle a. [rad] nan where the chord is longer than the diameter.
    """
    radius = np.asarray(radius_mm, float)
    half_sine = np.asarray(chord_mm, float) / (2 * radius)
    with np.errstate(invalid="ignore"):
        level: Floats = np.arcsin(half_sine)
    slope = (rise_per_radian_mm / radius) ** 2
    if not np.any(slope):
        return level
    # In units of the radius: sin(a)^2 + slope a^2 = half_sine^2, from the level answer downwards.
    angle: Floats = level / np.sqrt(1 + slope)
    for _ in range(_MOST_STEPS):
        sine = np.sin(angle)
        cosine = np.sqrt(1 - sine * sine)
        excess = sine * sine + slope * angle * angle - half_sine * half_sine
        with np.errstate(invalid="ignore", divide="ignore"):
            step = excess / (2 * (sine * cosine + slope * angle))
        # A chord of no length has no slope to follow; it is already at its answer, 0.
        step = np.where(angle > 0, step, 0.0)
        angle = np.minimum(angle - step, np.pi / 2)
        if not (np.abs(step) > _SMALL_STEP).any():
            break
    return angle


def stand(screw: Screw, wheelbase_mm: ArrayLike, truck_wheelbase_mm: ArrayLike) -> Stance:
    """Stand cars on a track.

    Parameters
    ----------
    screw
        The track.
    wheelbase_mm
        Between the two points that guide the body, shape (n,). [mm]
    truck_wheelbase_mm
        Axle spacing of each truck, shape (n,); 0: the points are axles. [mm]

    Returns
    -------
    Stance
        One pose a car; ``mid_radius_mm`` is nan for a car that cannot stand on this radius.
    """
    climb = screw.rise_per_radian_mm
    wheelbase = np.asarray(wheelbase_mm, float)
    truck = np.asarray(truck_wheelbase_mm, float)
    pivot_radius: float | Floats = screw.radius_mm
    if np.any(truck):
        pivot_radius = screw.radius_mm * np.cos(half_angle_rad(truck, screw.radius_mm, climb))
    turned = half_angle_rad(wheelbase, pivot_radius, climb)
    sin_pitch = 2 * climb * turned / wheelbase
    return Stance(
        screw,
        pivot_radius * np.cos(turned),
        sin_pitch,
        np.sqrt(1 - sin_pitch * sin_pitch),
        float(np.sin(screw.roll_rad)),
        float(np.cos(screw.roll_rad)),
    )
