"""The one input check of this room: scalars and arrays through the same code, bounds named in the error."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from quarterjack.errors import OutOfRange

Number = TypeVar("Number", float, NDArray[np.float64])
"""A float, or an array of floats; what goes in comes out."""


def checked(
    name: str,
    value: Number,
    *,
    low: float | None = None,
    high: float | None = None,
    above: float | None = None,
    unit: str = "",
) -> Number:
    """Return the value as a float, or as an array of float64, if every element is finite and within bounds.

    Parameters
    ----------
    name : str
        What the value is called in the error.
    value : float or float64[...]
        Never changed.
    low, high : float, optional
        Bounds that are still allowed.
    above : float, optional
        A lower bound that is not allowed itself.
    unit : str, optional
        Unit for the error.

    Returns
    -------
    float or float64[...]

    Raises
    ------
    OutOfRange
        With the first value that does not fit, and what is allowed.
    """
    values = np.asarray(value, dtype=np.float64)
    good = np.isfinite(values)
    rules = []
    if low is not None:
        good &= values >= low
        rules.append(f"at least {low:g}")
    if above is not None:
        good &= values > above
        rules.append(f"above {above:g}")
    if high is not None:
        good &= values <= high
        rules.append(f"at most {high:g}")
    if not good.all():
        worst = float(values[~good].flat[0]) if values.ndim else float(values)
        allowed = " and ".join(rules) or "any finite number"
        spaced = f" {unit}" if unit else ""
        raise OutOfRange(
            f"{name} is {worst:g}{spaced}; allowed is {allowed}{spaced}.", name=name, value=worst, allowed=allowed
        )
    result: Number = values if values.ndim else float(values)  # type: ignore[assignment]
    return result


def root(value: Number) -> Number:
    """Give the square root of what is already known not to be negative."""
    values = np.sqrt(value)
    result: Number = values if np.ndim(values) else float(values)  # type: ignore[assignment]
    return result
