"""People's units: what is typed becomes metres and kilograms."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quarterjack.errors import UnitNotUnderstood
from quarterjack.units import length_m, mass_kg, number

# 1 in = 25.4 mm, 1 ft = 12 in, 1 lb = 0.45359237 kg = 16 oz: exact by the International Yard and Pound Agreement, 1959.
LENGTHS = [
    ("25.4", 0.0254),
    ("1 in", 0.0254),
    ('1"', 0.0254),
    ("1 1/4 in", 0.03175),
    ("1-1/4in", 0.03175),
    ("8 ft 2 in", 98 * 0.0254),
    ("8' 2\"", 98 * 0.0254),
    ("0,9 m", 0.9),
    ("12 cm", 0.12),
    ("50 um", 50e-6),
    ("50 µm", 50e-6),
]
MASSES = [("3.4 kg", 3.4), ("7 lb 8 oz", 7.5 * 0.45359237), ("16 oz", 0.45359237), ("250 g", 0.25), ("3,4", 3.4)]


@pytest.mark.parametrize(("typed", "expected"), LENGTHS)
def test_lengths(typed: str, expected: float) -> None:
    assert length_m(typed) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("typed", "expected"), MASSES)
def test_masses(typed: str, expected: float) -> None:
    assert mass_kg(typed) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("12", 12),
        ("3,5", 3.5),
        ("3.5", 3.5),
        ("1 1/4", 1.25),
        ("-1 1/4", -1.25),
        ("−2", -2),
        (" 7/8 ", 0.875),
        (".5", 0.5),
    ],
)
def test_numbers(typed: str, expected: float) -> None:
    assert number(typed) == expected


@pytest.mark.parametrize("typed", ["", "abc", "1/0", "1,2,3", "8 ft 2", "3 furlong", "1 in x", "--2", "1e5"])
def test_what_cannot_be_read_is_refused_with_the_value_and_an_example(typed: str) -> None:
    with pytest.raises(UnitNotUnderstood, match="write") as caught:
        length_m(typed)
    assert caught.value.fields["value"] == typed


@given(st.floats(min_value=0, max_value=1e6, allow_nan=False), st.sampled_from([".", ","]))
def test_decimal_comma_and_point_are_the_same(value: float, mark: str) -> None:
    typed = f"{value:.6f}".replace(".", mark)
    assert number(typed) == float(f"{value:.6f}")


@given(st.text(max_size=20))
def test_any_text_is_read_or_refused_and_nothing_else(typed: str) -> None:
    for reader in (number, length_m, mass_kg):
        with suppress(UnitNotUnderstood):
            assert isinstance(reader(typed), float)
