"""A working written down so that it can be followed with a calculator: figures, formulas, values.

A formula is written once, with symbols: its value is worked out from that formula, and the working
is the same formula with the numbers put in. Angles are in degrees. docs/theory.md.
"""

import ast
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

__all__ = ["Sheet", "Step", "number"]

_FIGURE_DIGITS = 6  # to which a figure that others start from is written down, and meant
_FEWEST_DIGITS, _MOST_DIGITS = 4, 15
# What a typed-in working may miss its value by; no unit: a ratio.
_CLOSE = {"mm": 1e-4, "mm/rad": 1e-4, "deg": 1e-5}
_CLOSE_RATIO = 1e-6

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
    unit
        "mm", "deg", "mm/rad", "station" or "" (a number).
    equation
        Which equation of docs/theory.md, "G2"; "": none.
    """

    what: str
    working: str
    value: float
    unit: str
    equation: str


def number(value: float, digits: int = _FIGURE_DIGITS) -> str:
    """A number as one types it: no trailing zeros, no exponent."""
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


class Sheet:
    """A sheet of paper on which a working grows: symbols stand for values written down before."""

    def __init__(self) -> None:
        self._steps: list[Step] = []
        self._known: dict[str, float] = {}

    @property
    def steps(self) -> tuple[Step, ...]:
        """What is written down so far."""
        return tuple(self._steps)

    def __contains__(self, symbol: str) -> bool:
        return symbol in self._known

    def __getitem__(self, symbol: str) -> float:
        return self._known[symbol]

    def aside(self) -> "Sheet":
        """Another sheet, empty, on which the symbols of this one are known."""
        other = Sheet()
        other._known = dict(self._known)
        return other

    def figure(
        self, symbol: str, what: str, value: float, unit: str = "mm", equation: str = ""
    ) -> float:
        """Write down a figure that is not worked out here, but was measured, set or found."""
        value = round(float(value), _FIGURE_DIGITS)
        self._known[symbol] = value
        self._steps.append(Step(what, number(value), value, unit, equation))
        return value

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
        names = self._known | {key: round(value, 6) for key, value in (named or {}).items()}
        value = _evaluate(formula, names)
        self._known[symbol] = value
        self._steps.append(Step(what, _printed(formula, names, value, unit), value, unit, equation))
        return value


def _printed(formula: str, names: Mapping[str, float], value: float, unit: str) -> str:
    """The formula with as many digits of its numbers as its value needs."""
    working = ""
    for digits in range(_FEWEST_DIGITS, _MOST_DIGITS + 1):
        working = re.sub(
            r"[A-Za-z_]\w*",
            lambda found, digits=digits: _number_for(found[0], names, digits),  # type: ignore[misc]
            formula,
        )
        try:
            again = _evaluate(working, {})
        except (ValueError, ZeroDivisionError):
            continue  # rounded so, it is beyond what can be worked out
        if abs(again - value) <= _CLOSE.get(unit, _CLOSE_RATIO):
            break
    return working


def _number_for(symbol: str, names: Mapping[str, float], digits: int) -> str:
    if symbol not in names:
        return symbol
    text = number(names[symbol], digits)
    return f"({text})" if text.startswith("-") else text


def _evaluate(formula: str, names: Mapping[str, float]) -> float:
    return _value(ast.parse(formula.replace("^", "**"), mode="eval").body, names)


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
