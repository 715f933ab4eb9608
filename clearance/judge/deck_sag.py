"""How far the deck above sags under a heavy train, between two brackets.

G7, docs/theory.md. A board from bracket to bracket that carries the same load all along sags in
the middle by 5 q L^4 / (384 E I): the textbook beam on two supports (Euler and Bernoulli). One that
runs on over the brackets sags less; so this is on the safe side.
"""

import math
from typing import NamedTuple

from catalog.helix import Helix
from catalog.materials import MATERIALS

__all__ = ["DeckSag", "deck_sag"]

_GRAVITY_M_S2 = 9.80665


class DeckSag(NamedTuple):
    """The sag of a deck, and what it is made of.

    Attributes
    ----------
    load_n_mm
        Weight of the train on each millimetre. [N/mm]
    span_mm
        From support to support. [mm]
    modulus_mpa, source
        Elastic modulus [N/mm2], and who says so.
    second_moment_mm4
        Of all boards together. [mm^4]
    sag_mm
        In the middle. [mm]
    """

    load_n_mm: float
    span_mm: float
    modulus_mpa: float
    source: str
    second_moment_mm4: float
    sag_mm: float


def deck_sag(helix: Helix) -> DeckSag | None:
    """The sag under the heaviest train; None: the helix does not say what carries its deck."""
    boards = helix.stringers
    if boards is None:
        return None
    chord = 2 * helix.tracks[-1].radius_mm * math.sin(math.pi / helix.brackets_per_turn)
    span = chord if boards.span_mm is None else boards.span_mm
    load = boards.train_kg_per_m * _GRAVITY_M_S2 / 1000
    modulus, source = boards.modulus_gpa, "helix file"
    if modulus is None:
        modulus, source = MATERIALS[boards.material]
    second_moment = boards.count * boards.width_mm * boards.height_mm**3 / 12
    sag = 5 * load * span**4 / (384 * 1000 * modulus * second_moment)
    return DeckSag(load, span, 1000 * modulus, source, second_moment, sag)
