"""The figures' files: read, checked, and laid over by a club's own."""

from __future__ import annotations

from typing import Any

import pytest
from loaded_case import library, trip, vehicle

from fieldkit.errors import InputFaults
from fieldkit.loads import weigh
from fieldkit.loads.figures import load_figures, tyre_figures
from fieldkit.specs.settings import laid_over


def test_a_clubs_file_need_hold_only_what_differs() -> None:
    """Passengers of 90 kg; everything else stays as shipped."""
    own = library(settings={"loads": {"people": {"passenger": "90 kg"}}})
    figures = load_figures(own)
    assert (figures.people.passenger_kg, figures.people.driver_kg) == (90, 75)
    heavy = weigh(trip(vehicle(crew=3), lib=own))["wagon"].states["departure"].gross_kg
    plain = weigh(trip(vehicle(crew=3)))["wagon"].states["departure"].gross_kg
    assert heavy - plain == pytest.approx(2 * 15)


@pytest.mark.parametrize(
    ("own", "said"),
    [
        ({"people": {"passenger": 90}}, 'people.passenger: 90 has no unit; write it like "85 kg"'),
        ({"peopel": {}}, "unknown key 'peopel'"),
        ({"verdict": {"near": 1.5}}, "verdict.near is 1.5"),
        ({"people": {"pasenger": "90 kg"}}, "did you mean 'passenger'?"),
    ],
)
def test_a_mistake_in_a_clubs_file_is_named(own: dict[str, Any], said: str) -> None:
    with pytest.raises(InputFaults) as odd:
        load_figures(library(settings={"loads": own}))
    assert "settings/loads.toml" in str(odd.value)
    assert said in str(odd.value)


def test_a_load_table_that_falls_is_refused() -> None:
    with pytest.raises(InputFaults, match="load index 113 carries 900 kg, no more than 112"):
        tyre_figures(library(settings={"tyres": {"load_index": {"113": 900}}}))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ({"roll": "It tips at {angle} degrees."}, "text.roll: braces that cannot be filled in; expected {loss}"),
        ({"roll": "It tips {at once."}, "text.roll: braces that cannot be filled in; expected {loss}"),
        ({"wheels": "{kg}"}, "text.wheels: braces that cannot be filled in; expected no braces"),
        ({"rol": "It tips."}, "unknown sentence 'text.rol'"),
    ],
)
def test_a_clubs_sentence_that_cannot_be_printed_is_refused(text: dict[str, str], said: str) -> None:
    with pytest.raises(InputFaults) as odd:
        load_figures(library(settings={"loads": {"text": text}}))
    assert str(odd.value).startswith(f"settings/loads.toml: {said}")


def test_a_clubs_own_sentence_is_printed() -> None:
    own = library(settings={"loads": {"text": {"roll": "Loses {loss:.0f} degrees on springs."}}})
    assert "Loses 8 degrees on springs." in weigh(trip(vehicle(), lib=own))["wagon"].cautions


def test_laying_over_leaves_the_lower_table_as_it_was() -> None:
    below = {"a": {"x": 1}}
    assert laid_over(below, {"a": {"y": 2}, "b": 3}) == {"a": {"x": 1, "y": 2}, "b": 3}
    assert below == {"a": {"x": 1}}


def test_every_text_of_the_file_is_used_and_every_used_text_is_there() -> None:
    """No sentence lies about unused, none is missing."""
    import re
    from pathlib import Path

    import fieldkit.loads as package

    code = "".join(p.read_text(encoding="utf-8") for p in Path(package.__file__).parent.glob("*.py"))
    for texts in (load_figures().text, tyre_figures().text):
        assert {k for k in texts if f'"{k}"' not in code} == set()
    used = set(re.findall(r'text\["(\w+)"\]', code))
    assert used <= set(load_figures().text) | set(tyre_figures().text)
