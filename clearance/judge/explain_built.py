"""One position worked through: where a car stands on a line as built, and how much room it leaves.

G1 to G5, docs/theory.md. The position is found by `clearance.judge.explain_search`; from the places
of the axles on, everything is worked out again.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from clearance.geometry.swept import band, beside
from clearance.geometry.undersides import Undersides
from clearance.judge.drive import Drive, drives
from clearance.judge.explain_case import Case
from clearance.judge.explain_regular import cant, headroom, side_gap
from clearance.judge.explain_search import Spot, under_deck, under_strip, widest
from clearance.judge.explain_sheet import Sheet, number
from clearance.judge.structure import Underside
from clearance.judge.sweep import on_screw

__all__ = ["overhead_built", "side_built"]
