"""People's units at the edge: what a person types becomes SI inside, and SI becomes what a person reads."""

from __future__ import annotations

import re
from fractions import Fraction

from quarterjack.errors import UnitNotUnderstood

_LENGTH_M = {
    "m": 1.0,
    "mm": 1e-3,
    "cm": 1e-2,
    "um": 1e-6,
    "µm": 1e-6,
    "in": 0.0254,
    '"': 0.0254,
    "ft": 0.3048,
    "'": 0.3048,
}
_MASS_KG = {"kg": 1.0, "g": 1e-3, "lb": 0.45359237, "oz": 0.028349523125}
_NUMBER = r"[-+]?(?:\d+\s+\d+/\d+|\d+-\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?|[.,]\d+)"
_PART = re.compile(rf"\s*({_NUMBER})\s*([^\d\s.,+\-/]*)\s*")


def number(text: str) -> float:
    """Read a number as people write it: decimal point or comma, or a fraction such as `1 1/4` or `1-1/4`.

    Raises
    ------
    UnitNotUnderstood
        If the text is not a number.
    """
    cleaned = text.strip().replace("−", "-")
    if re.fullmatch(_NUMBER, cleaned):
        if "/" in cleaned:
            negative = cleaned.startswith("-")
            pieces = re.split(r"[\s-]+", cleaned.lstrip("+-"))
            if all(int(piece.split("/")[1]) for piece in pieces if "/" in piece):
                value = float(sum(Fraction(piece) for piece in pieces))
                return -value if negative else value
        else:
            return float(cleaned.replace(",", "."))
    raise UnitNotUnderstood(f"{text!r} is not a number; write for example 12, 3.5, 3,5 or 1 1/4.", value=text)


def _quantity(text: str, units: dict[str, float], default: str, what: str) -> float:
    total, at = 0.0, 0
    while at < len(text):
        found = _PART.match(text, at)
        if not found or found.end() == at:
            break
        unit = found.group(2).lower()
        # A bare number has the default unit only where it stands alone: "1,2,3" is no sum.
        if not unit and at == 0 and found.end() == len(text):
            unit = default
        if unit not in units:
            break
        total += number(found.group(1)) * units[unit]
        at = found.end()
    if at == 0 or at < len(text):
        raise UnitNotUnderstood(
            f"{text!r} is not a {what}; write a number and one of: {', '.join(units)} (without a unit: {default}).",
            value=text,
            allowed=tuple(units),
        )
    return total


def length_m(text: str, *, default: str = "mm") -> float:
    """Read a length (`25.4`, `1 1/4 in`, `8 ft 2 in`, `0,9 m`) as metres."""
    return _quantity(text, _LENGTH_M, default, "length")


def mass_kg(text: str, *, default: str = "kg") -> float:
    """Read a mass (`3.4 kg`, `7 lb 8 oz`) as kilograms."""
    return _quantity(text, _MASS_KG, default, "mass")
