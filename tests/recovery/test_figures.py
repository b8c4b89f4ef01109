"""The figures of recovery: checked together, so that no wrong one ends in a traceback."""

from __future__ import annotations

from typing import Any

import pytest
from loaded_case import library

from fieldkit.errors import InputFaults
from fieldkit.recovery.figures import recovery_figures


@pytest.mark.parametrize(
    ("own", "said"),
    [
        ({"winch": {"plan_layer": 6}}, "winch: plan_layer 6 has no factor among the 5 layers"),
        (
            {"winch": {"layer_factors": [1.0, 1.1]}},
            "winch: layer_factors are shares up to 1 that fall from layer to layer",
        ),
        ({"winch": {"wraps_m": 30.0}}, "winch: 30 m of wraps leave nothing of 26 m of rope"),
        ({"mire": {"axle": {"low": 2.0}}}, "mire.axle: low 2 is above high 1"),
        ({"straps": {"low": 3.0}}, "straps: low 3 is not below high 3"),
        ({"rigging": {"shackle_bands": [[45, 0.7], [5, 1.0]]}}, "rigging: shackle_bands do not rise from pair to pair"),
        ({"can_bog": {"rock": ["belly"]}}, "rock: unknown depth 'belly'; one of: none, rim, axle, sills"),
        (
            {"mire": {"belly": {"low": 1.0, "high": 2.0, "words": "bellied"}}},
            "[method] says nothing for the depth 'belly'",
        ),
        ({"gear": {"rope": {"role": "string"}}}, "gear.rope.role is 'string'"),
        ({"text": {"zone": "{metres} away"}}, "text.zone: braces that cannot be filled in; expected no braces"),
    ],
)
def test_a_clubs_wrong_figure_is_named(own: dict[str, Any], said: str) -> None:
    with pytest.raises(InputFaults) as odd:
        recovery_figures(library(settings={"recovery": own}))
    assert str(odd.value).startswith("settings/recovery.toml")
    assert said in str(odd.value)


def test_a_clubs_own_gear_is_taken_in() -> None:
    own = recovery_figures(library(settings={"recovery": {"gear": {"long-rope": {"role": "strap", "breaking": True}}}}))
    assert own.gear["long-rope"].role == "strap"
    assert own.gear["recovery-strap"] == recovery_figures().gear["recovery-strap"]
