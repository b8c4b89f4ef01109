"""Recovery straps against the Australian safety standard of 2017."""

from __future__ import annotations

import pytest

from fieldkit.recovery import strap_accepts
from fieldkit.recovery.figures import recovery_figures
from fieldkit.recovery.rigging import strap_range_kg


def test_breaking_strength_is_two_to_three_times_the_lighter_vehicles_gross_mass() -> None:
    """Consumer Goods (Motor Vehicle Recovery Straps) Safety Standard 2017 (and the 2010 regulation), as summarised by the
    product-safety regulator (seen): minimum breaking strength 2 to 3 x the gross vehicle mass of the lighter vehicle; exact."""
    straps = recovery_figures().straps
    assert (straps.low, straps.high) == (2.0, 3.0)
    assert strap_range_kg(3000) == (6000, 9000)


@pytest.mark.parametrize(("mbs", "accepted"), [(5_999, False), (6_000, True), (9_000, True), (9_001, False)])
def test_edges_for_a_lighter_vehicle_of_3000_kg(mbs: float, accepted: bool) -> None:
    """The edges of that rule, worked out here (derived from it)."""
    assert strap_accepts(mbs, 3000) is accepted
