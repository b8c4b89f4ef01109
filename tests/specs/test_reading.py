"""Line numbers and quantities, for any text (property tests)."""

from __future__ import annotations

import tomllib

from hypothesis import given
from hypothesis import strategies as st

from fieldkit.quantities import QuantityError, parse
from fieldkit.specs.reading import lines_of, parse_toml


@given(st.floats(0, 50_000, allow_nan=False), st.sampled_from(["kg", "t", "lb", "g"]))
def test_masses_scale_with_their_unit(value: float, unit: str) -> None:
    """A mass in any unit is read in kilograms, or refused as impossible; never anything between."""
    factor = {"kg": 1.0, "t": 1000.0, "lb": 0.45359237, "g": 0.001}[unit]
    try:
        read = parse(f"{value:.6f} {unit}", "mass")
    except QuantityError as odd:
        assert "possible" in str(odd)
        assert value * factor > 59_999
    else:
        assert abs(read - round(value, 6) * factor) <= 1e-6 * max(1.0, read)


@given(st.text(max_size=30))
def test_any_text_is_a_quantity_or_a_clear_refusal(text: str) -> None:
    """No text raises anything but a QuantityError, whose message shows how to write it."""
    try:
        parse(text, "mass")
    except QuantityError as odd:
        assert "kg" in str(odd)


@given(st.text(max_size=80))
def test_any_text_is_toml_or_one_fault(text: str) -> None:
    """The reader never raises: broken TOML is one fault that names the file and a line."""
    data, faults = parse_toml(text, "x.toml")
    assert (data == {} and len(faults) == 1 and str(faults[0]).startswith("x.toml:")) or faults == []


@given(st.lists(st.sampled_from(["[a]", "[[b]]", "k = 1", "m = 2", "# note", ""]), max_size=12))
def test_lines_of_finds_every_key_that_toml_finds(lines: list[str]) -> None:
    """Each key of a readable text has a line that holds it."""
    text = "\n".join(lines)
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    where = lines_of(text)

    def walk(value: object, path: tuple[object, ...]) -> None:
        if isinstance(value, dict):
            for key, inner in value.items():
                assert (*path, key) in where or isinstance(inner, list), (path, key)
                walk(inner, (*path, key))
        elif isinstance(value, list):
            for i, inner in enumerate(value):
                assert (*path, i) in where
                walk(inner, (*path, i))
        else:
            assert str(path[-1]) in text.splitlines()[where[path] - 1]

    walk(data, ())
