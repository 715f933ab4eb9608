"""A working written down so that it can be followed with a calculator: figures, formulas, values.

A formula is written once, with symbols: its value is worked out from that formula, and the working
is the same formula with the numbers put in. A number is written with as many digits as all that is
worked out from it needs, and the same wherever it stands. Angles are in degrees. docs/theory.md.
"""

import ast
import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

__all__ = ["Sheet", "Step", "number"]

_FIGURE_DIGITS = 6  # to which a figure that others start from is written down, and meant
_LEAST_DIGITS, _MOST_DIGITS = 4, 15
# What a typed-in working may miss its value by; no unit: a ratio.
_CLOSE = {"mm": 1e-4, "mm/rad": 1e-4, "deg": 1e-5}
_CLOSE_RATIO = 1e-6
_SYMBOL = r"[A-Za-z_]\w*"

_FUNCTIONS: dict[str, Callable[[float], float]] = {
    "sin": lambda angle_deg: math.sin(math.radians(angle_deg)),
    "cos": lambda angle_deg: math.cos(math.radians(angle_deg)),
    "tan": lambda angle_deg: math.tan(math.radians(angle_deg)),
    "asin": lambda sine: math.degrees(math.asin(sine)),
    "atan": lambda tangent: math.degrees(math.atan(tangent)),
    "sqrt": math.sqrt,
}


@dataclass(frozen=True)
class Step:
    """One line of a working.

    Attributes
    ----------
    what
        What is worked out, and which figures go into it that no step before gave.
    working
        The formula with the numbers put in, "1190 * cos(2.4102)": plain ASCII, ^ is a power, angles
        are in degrees, pi is pi. A figure that was measured or found is just its number. "": there
        is nothing to work out, and ``value`` is nan.
    value
        What it gives.
    shown
        The same as it is written.
    unit
        "mm", "deg", "mm/rad", "station" or "" (a number).
    equation
        Which equation of docs/theory.md, "G2"; "": none.
    """

    what: str
    working: str
    value: float
    shown: str
    unit: str
    equation: str


def number(value: float, digits: int = _FIGURE_DIGITS) -> str:
    """A number as one types it: no trailing zeros, no exponent."""
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


class _Value:
    """A value that is written down, and the digits that what comes after needs of it."""

    def __init__(self, value: float, digits: int) -> None:
        self.value = value
        self.digits = digits

    @property
    def shown(self) -> str:
        return number(self.value, self.digits)


class _Row(NamedTuple):
    """A step before it is known how many digits its numbers need; no formula: a figure."""

    what: str
    formula: str
    names: Mapping[str, _Value]
    value: _Value
    unit: str
    equation: str

    def step(self) -> Step:
        return Step(
            self.what, self.working(), self.value.value, self.value.shown, self.unit, self.equation
        )

    def working(self) -> str:
        """The formula with its numbers put in."""
        if not self.formula:
            return self.value.shown
        working = re.sub(_SYMBOL, lambda found: self._number_for(found[0]), self.formula)
        # One pair of brackets is enough round a number below 0, and none where it stands alone.
        return re.sub(r"\((\(-[\d.]+\))\)|^\((-[\d.]+)\)$", r"\1\2", working)

    def _number_for(self, symbol: str) -> str:
        if symbol not in self.names:
            return symbol
        text = self.names[symbol].shown
        return f"({text})" if text.startswith("-") else text

    def settle(self) -> bool:
        """Give the numbers more digits until, typed in, they give the value; False: they do."""
        changed = False
        while self._off(self.names) > _CLOSE.get(self.unit, _CLOSE_RATIO):
            short = [symbol for symbol in self.names if self.names[symbol].digits < _MOST_DIGITS]
            if not short:
                break
            # That one whose digits tell the most.
            self.names[max(short, key=lambda symbol: self._off((symbol,)))].digits += 1
            changed = True
        return changed

    def _off(self, rounded: Iterable[str]) -> float:
        """How far the formula misses its value with some of its numbers as they are written."""
        if not self.formula:
            return 0.0
        typed = {symbol: one.value for symbol, one in self.names.items()}
        typed |= {symbol: float(self.names[symbol].shown) for symbol in rounded}
        try:
            return abs(_evaluate(self.formula, typed) - self.value.value)
        except (ValueError, ZeroDivisionError):
            return math.inf  # rounded so, it is beyond what can be worked out


class Sheet:
    """A sheet of paper on which a working grows: symbols stand for values written down before."""

    def __init__(self) -> None:
        self._rows: list[_Row] = []
        self._every: list[_Row] = []  # and those of sheets beside it
        self._known: dict[str, _Value] = {}

    @property
    def steps(self) -> tuple[Step, ...]:
        """What is written down so far."""
        while sum(row.settle() for row in self._every):
            pass  # a number with more digits may ask for more of another one
        return tuple(row.step() for row in self._rows)

    def __contains__(self, symbol: str) -> bool:
        return symbol in self._known

    def __getitem__(self, symbol: str) -> float:
        return self._known[symbol].value

    def aside(self) -> "Sheet":
        """Another sheet, empty, on which the symbols of this one are known."""
        other = Sheet()
        other._known = dict(self._known)
        other._every = self._every
        return other

    def figure(
        self, symbol: str, what: str, value: float, unit: str = "mm", equation: str = ""
    ) -> float:
        """Write down a figure that is not worked out here, but was measured, set or found."""
        return self._write(symbol, what, "", {}, _figure(value), unit, equation)

    def work(
        self,
        symbol: str,
        what: str,
        formula: str,
        unit: str = "mm",
        equation: str = "",
        named: Mapping[str, float] | None = None,
    ) -> float:
        """Work out a formula of symbols.

        Parameters
        ----------
        symbol
            What later formulas call the value.
        what, unit, equation
            As for `Step`.
        formula
            In Python's grammar, but ^ is a power; of symbols, numbers, pi and functions of degrees.
        named
            Figures of this formula alone, by symbol; ``what`` names them.
        """
        known = self._known | {key: _figure(value) for key, value in (named or {}).items()}
        names = {key: known[key] for key in re.findall(_SYMBOL, formula) if key in known}
        value = _evaluate(formula, {key: one.value for key, one in names.items()})
        return self._write(
            symbol, what, formula, names, _Value(value, _LEAST_DIGITS), unit, equation
        )

    def _write(
        self,
        symbol: str,
        what: str,
        formula: str,
        names: Mapping[str, _Value],
        value: _Value,
        unit: str,
        equation: str,
    ) -> float:
        row = _Row(what, formula, names, value, unit, equation)
        self._rows.append(row)
        self._every.append(row)
        self._known[symbol] = value
        return value.value


def _figure(value: float) -> _Value:
    return _Value(round(float(value), _FIGURE_DIGITS), _FIGURE_DIGITS)


def _evaluate(formula: str, names: Mapping[str, float]) -> float:
    return _value(_parsed(formula), names)


@cache
def _parsed(formula: str) -> ast.expr:
    return ast.parse(formula.replace("^", "**"), mode="eval").body


def _value(node: ast.expr, names: Mapping[str, float]) -> float:
    match node:
        case ast.Constant(value=int() | float() as value):
            return float(value)
        case ast.Name(id=symbol):
            return math.pi if symbol == "pi" else names[symbol]
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_value(operand, names)
        case ast.Call(func=ast.Name(id=name), args=[argument]):
            return _FUNCTIONS[name](_value(argument, names))
        case ast.BinOp(left=left, op=op, right=right):
            one, other = _value(left, names), _value(right, names)
            match op:
                case ast.Add():
                    return one + other
                case ast.Sub():
                    return one - other
                case ast.Mult():
                    return one * other
                case ast.Div():
                    return one / other
                case ast.Pow():
                    return float(one**other)
    raise AssertionError(f"no formula of a working: {ast.dump(node)}")
