"""Random articulated stock: engines and heavy cars whose frames rest on frames (G2)."""

from collections.abc import Callable

import numpy as np

from tests.geometry.brute_force import BruteBlock, BruteCar, BruteFrame, BruteVehicle

__all__ = ["KINDS", "random_articulated", "spans_mm"]


def spans_mm(car: BruteCar | BruteVehicle) -> float:
    """The longest distance between two supports of one frame."""
    return max(frame.rear_mm - frame.front_mm for frame in car.frames)


def random_articulated(
    rng: np.random.Generator, scale: float, kind: str | None = None
) -> BruteVehicle:
    """One of `KINDS`, or any."""
    names = sorted(KINDS)
    return KINDS[kind or names[rng.integers(len(names))]](rng, 1000 / scale)


def _stack(rng: np.random.Generator, m: float, at: float, top: float, frame: str) -> BruteBlock:
    """A narrow stack, off the centre line."""
    aside, half = rng.uniform(-0.3, 0.3) * m, rng.uniform(0.1, 0.25) * m
    sides = (half + aside, half - aside)
    return BruteBlock.from_front(
        at - half, at + half, *sides, 0.7 * top, top * rng.uniform(0.9, 1.12), frame
    )


def _slung(rng: np.random.Generator, m: float) -> BruteVehicle:
    """A boiler slung between two engine units, which carry tank and bunker."""
    half, top = rng.uniform(0.9, 1.5) * m, rng.uniform(2.6, 4.2) * m
    unit, base = rng.uniform(4, 8) * m, rng.uniform(0.4, 0.7)
    between = rng.uniform(0.2, 0.5) * unit
    length = 2 * unit + between

    def ends(front: float) -> tuple[float, float]:
        return front + unit * (1 + base) / 2, front + unit * (1 - base) / 2

    rear, fore = ends(unit + between), ends(0.0)
    # The pivots stand anywhere from the middle of a unit to a little beyond its inner axle.
    inward = rng.uniform(0, 0.4) * unit
    pivots = (length - unit / 2 - inward, unit / 2 + inward)
    frames = (
        BruteFrame("rear unit", rear[0], "track", rear[1], "track"),
        BruteFrame("front unit", fore[0], "track", fore[1], "track"),
        BruteFrame("boiler", pivots[0], "rear unit", pivots[1], "front unit"),
    )
    low = rng.uniform(0.3, 0.8) * m
    return BruteVehicle(
        frames,
        (
            BruteBlock.from_front(
                0, unit * 0.7, half, half * rng.uniform(0.9, 1), low, 0.8 * top, "front unit"
            ),
            BruteBlock.from_front(
                length - unit * 0.7, length, half, half, low, 0.85 * top, "rear unit"
            ),
            BruteBlock.from_front(
                pivots[1] - 0.1 * unit, pivots[0] + 0.1 * unit, half, half, 2 * low, top, "boiler"
            ),
            _stack(rng, m, pivots[1], top, "boiler"),
        ),
    )


def _fixed(rng: np.random.Generator, m: float) -> BruteVehicle:
    """A boiler fixed to the hind engine unit; the front unit finds its own way ahead of it."""
    half, top = rng.uniform(0.9, 1.5) * m, rng.uniform(2.8, 4.5) * m
    unit = rng.uniform(3.5, 6) * m
    base = unit * rng.uniform(0.5, 0.75)
    gap = rng.uniform(0.1, 0.4) * unit
    ahead = 0.12 * unit
    front = (ahead + (unit + base) / 2, ahead + (unit - base) / 2)
    hind = (front[0] + gap + unit, front[0] + gap + unit - base)
    length = hind[0] + rng.uniform(0.2, 0.5) * unit
    frames = (
        BruteFrame("hind unit", hind[0], "track", hind[1], "track"),
        BruteFrame("front unit", front[0], "track", front[1], "track"),
        BruteFrame("boiler", hind[0] - 0.1 * base, "hind unit", hind[1], "hind unit"),
    )
    low = rng.uniform(0.3, 0.8) * m
    return BruteVehicle(
        frames,
        (
            BruteBlock.from_front(
                ahead, length - 0.3 * unit, 0.7 * half, 0.7 * half, 2 * low, 0.85 * top, "boiler"
            ),
            BruteBlock.from_front(length - 0.5 * unit, length, half, half, low, top, "boiler"),
            _stack(rng, m, 2.5 * ahead, top, "boiler"),
            BruteBlock.from_front(
                0, 0.5 * unit, half, 0.95 * half, 0.5 * low, 0.35 * top, "front unit"
            ),
        ),
    )


def _on_bolsters(rng: np.random.Generator, m: float) -> BruteVehicle:
    """A heavy-load car: its body on two span bolsters, each on two trucks."""
    truck = rng.uniform(1.2, 2.0) * m
    bolster = truck * rng.uniform(1.8, 2.6)
    centres = bolster * rng.uniform(1.5, 2.6)
    over = truck / 2 + rng.uniform(0.1, 0.6) * m
    middle = over + (bolster + centres) / 2
    frames = []
    for name, at in (("rear", middle + centres / 2), ("front", middle - centres / 2)):
        for end, pivot in (("hind", at + bolster / 2), ("fore", at - bolster / 2)):
            axles = (pivot + truck / 2, "track", pivot - truck / 2, "track")
            frames.append(BruteFrame(f"{name} {end} truck", *axles))
        trucks = (at + bolster / 2, f"{name} hind truck", at - bolster / 2, f"{name} fore truck")
        frames.append(BruteFrame(f"{name} bolster", *trucks))
    bolsters = (middle + centres / 2, "rear bolster", middle - centres / 2, "front bolster")
    frames.append(BruteFrame("body", *bolsters))
    half, top = rng.uniform(1.0, 1.7) * m, rng.uniform(2.4, 4.6) * m
    low = rng.uniform(0.5, 1.1) * m
    load = sorted(rng.uniform(0.1, 0.9, 2) * 2 * middle)
    return BruteVehicle(
        tuple(frames),
        (
            BruteBlock.from_front(0, 2 * middle, half, half, low, 0.6 * top, "body"),
            BruteBlock.from_front(
                load[0], load[1] + 0.05 * middle, 0.8 * half, 1.1 * half, 0.55 * top, top, "body"
            ),
            BruteBlock.from_front(
                middle - centres / 2 - bolster * 0.6,
                middle - centres / 2 + bolster * 0.6,
                0.8 * half,
                0.8 * half,
                0.5 * low,
                low,
                "front bolster",
            ),
        ),
    )


def _with_tender(rng: np.random.Generator, m: float) -> BruteVehicle:
    """An engine on its drivers, and its tender on axles or trucks, drawn by a bar."""
    half, top = rng.uniform(0.9, 1.5) * m, rng.uniform(2.6, 4.5) * m
    engine, tender = rng.uniform(6, 11) * m, rng.uniform(4, 8) * m
    gap = rng.uniform(0.2, 0.6) * m
    base = engine * rng.uniform(0.3, 0.5)
    hind = engine * rng.uniform(0.75, 0.9)
    start, length = engine + gap, engine + gap + tender
    frames = [BruteFrame("engine", hind, "track", hind - base, "track")]
    supports = (start + 0.8 * tender, start + 0.2 * tender)
    if rng.random() < 0.5:
        truck = 0.1 * tender
        for name, pivot in zip(("tender hind truck", "tender fore truck"), supports, strict=True):
            frames.append(BruteFrame(name, pivot + truck, "track", pivot - truck, "track"))
        frames.append(
            BruteFrame("tender", supports[0], "tender hind truck", supports[1], "tender fore truck")
        )
    else:
        frames.append(BruteFrame("tender", supports[0], "track", supports[1], "track"))
    low = rng.uniform(0.3, 0.8) * m
    return BruteVehicle(
        tuple(frames),
        (
            BruteBlock.from_front(
                0, 0.8 * engine, 0.7 * half, 0.7 * half, low, 0.8 * top, "engine"
            ),
            BruteBlock.from_front(0.7 * engine, engine, half, half, 2 * low, top, "engine"),
            _stack(rng, m, 0.12 * engine, top, "engine"),
            BruteBlock.from_front(start, length, half, 0.96 * half, low, 0.75 * top, "tender"),
        ),
    )


KINDS: dict[str, Callable[[np.random.Generator, float], BruteVehicle]] = {
    "slung": _slung,
    "fixed": _fixed,
    "bolsters": _on_bolsters,
    "tender": _with_tender,
}
