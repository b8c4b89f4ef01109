"""Tyres against printed tables. Each test names its source, how it was seen, and its tolerance."""

from __future__ import annotations

import pytest

from fieldkit.loads.figures import tyre_figures
from fieldkit.loads.tyre_load import high_speed_share, load_capacity_kg, speed_limit_kmh

#: ETRTO / ISO 4000-1 load index -> kg, from a fully printed reprint. 103 and 105 are misprinted there and left out here.
PRINTED = {
    68: 315, 69: 325, 70: 335, 71: 345, 72: 355, 73: 365, 74: 375, 75: 387, 76: 400, 77: 412, 78: 425, 79: 437,
    80: 450, 81: 462, 82: 475, 83: 487, 84: 500, 85: 515, 86: 530, 87: 545, 88: 560, 89: 580, 90: 600,
    91: 615, 92: 630, 93: 650, 94: 670, 95: 690, 96: 710, 97: 730, 98: 750, 99: 775, 100: 800, 101: 825,
    102: 850, 104: 900, 106: 950, 107: 975, 108: 1000, 109: 1030, 110: 1060, 111: 1090, 112: 1120,
    113: 1150, 114: 1180, 115: 1215, 116: 1250, 117: 1285, 118: 1320, 119: 1360, 120: 1400, 121: 1450, 122: 1500, 123: 1550,
}  # fmt: skip


@pytest.mark.parametrize(("index", "printed"), PRINTED.items())
def test_load_index_carries_the_printed_kilograms(index: int, printed: int) -> None:
    """ETRTO Standards Manual / ISO 4000-1, load index table, seen in a full reprint; exact."""
    assert load_capacity_kg(index) == printed


@pytest.mark.parametrize(("index", "misprint"), [(103, 857), (105, 924)])
def test_the_reprints_two_misprints_are_not_taken_over(index: int, misprint: int) -> None:
    """The same reprint prints 857 and 924 where the steps before and after leave no room for them."""
    carried = load_capacity_kg(index)
    assert carried != misprint
    before, after = load_capacity_kg(index - 1), load_capacity_kg(index + 1)
    assert carried == pytest.approx((before + after) / 2, abs=1e-9)  # steps of 25 kg from 99 to 108


def test_steps_follow_the_geometric_form_within_rounding() -> None:
    """The table's law is 250 * 10^((index - 60) / 80); deviation -0.54 % to +1.52 % over 68 to 123 (recomputed)."""
    off = [250 * 10 ** ((i - 60) / 80) / load_capacity_kg(i) - 1 for i in range(68, 124)]
    assert min(off) == pytest.approx(-0.0152, abs=5e-4)
    assert max(off) == pytest.approx(0.0054, abs=5e-4)


@pytest.mark.parametrize(
    ("symbol", "printed"),
    [
        ("L", 120), ("M", 130), ("N", 140), ("P", 150), ("Q", 160), ("R", 170), ("S", 180), ("T", 190),
        ("U", 200), ("H", 210), ("V", 240), ("W", 270), ("Y", 300),
    ],
)  # fmt: skip
def test_speed_symbol_is_the_printed_speed(symbol: str, printed: int) -> None:
    """Speed symbols, ETRTO, seen; exact."""
    assert speed_limit_kmh(symbol) == printed


@pytest.mark.parametrize(
    ("symbol", "speed", "printed"), [("V", 210, 1.0), ("V", 240, 0.91), ("W", 240, 1.0), ("W", 270, 0.85)]
)
def test_load_falls_at_high_speed_as_printed(symbol: str, speed: float, printed: float) -> None:
    """High-speed load cut, seen in a restatement: V carries 91 % at 240 km/h from 210, W 85 % at 270 from 240; exact."""
    assert high_speed_share(symbol, speed) == pytest.approx(printed, abs=1e-12)


def test_pressures_by_surface_are_marked_as_common_practice() -> None:
    """Common practice, no source: only their order is held. Softer ground, softer tyres; nothing above the road's."""
    share = {key: rule.share for key, rule in tyre_figures().surface.items()}
    assert share["sealed"] == 1.0
    assert share["sand"] < share["rock"] < share["gravel"] < share["sealed"]
    assert "common practice, no source" in tyre_figures().text["guidance"].lower()
