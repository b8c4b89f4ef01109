"""Cross-checks of recovery: worked here from published rules (DER), from memory (MEM), or common practice. Not published."""

from __future__ import annotations

from itertools import pairwise
from math import radians, sin

import pytest

from fieldkit.recovery import rig, strap_accepts, winch_pull_by_layer
from fieldkit.recovery.figures import recovery_figures
from fieldkit.recovery.rigging import exclusion_m, fall_line, least_lines
from fieldkit.specs.library import Library


@pytest.mark.parametrize(
    ("pull", "winch", "lines", "total", "fall"),
    [
        (40_000, 25_000, 2, 44_000, 22_000),
        (60_000, 25_000, 3, 72_000, 24_000),
        (60_000, 21_000, 4, 78_000, 19_500),  # 3 lines give 24,000, which fails
    ],
)
def test_rigging_problems_der(pull: float, winch: float, lines: int, total: float, fall: float) -> None:
    """DER: the Army lesson's rule applied to made-up figures; exact."""
    found = rig(pull, winch)
    assert found.lines == lines
    assert found.sheaves == lines - 1
    assert found.total_kgf == pytest.approx(total)
    assert found.fall_line_kgf == pytest.approx(fall)
    assert found.fits


def test_first_try_of_the_third_problem_fails_der() -> None:
    """DER: 60,000 by 21,000 begins with 3 lines and 24,000 in the fall line, above the capacity."""
    assert least_lines(60_000, 21_000) == 3
    assert fall_line(60_000, 3)[1] == pytest.approx(24_000)


def test_mire_factors_mem() -> None:
    """MEM: the recovery manuals' 1 for wheel depth and 2 to the mudguards are our high figures for axle and sills; rising by depth."""
    mire = recovery_figures().mire
    assert (mire["axle"].high, mire["sills"].high) == (1.0, 2.0)
    order = [mire[d] for d in ("none", "rim", "axle", "sills")]
    assert [m.low for m in order] == sorted(m.low for m in order)
    assert all(m.low <= m.high for m in order)


@pytest.mark.parametrize(
    ("surface", "share"), [("sealed", 1 / 25), ("gravel", 1 / 5), ("sand", 1 / 4), ("clay-wet", 1 / 3)]
)
def test_rolling_fractions_mem(library: Library, surface: str, share: float) -> None:
    """MEM: recovery-training convention; within our low and high."""
    found = library.surfaces[surface]
    high = max(found.rolling_high, recovery_figures().to_move[surface])
    assert found.rolling_low <= share <= high + 0.004  # 1/3 is written 0.33


@pytest.mark.parametrize(
    ("slope", "sine", "rule"), [(5, 0.0872, 0.0833), (10, 0.1736, 0.1667), (20, 0.3420, 0.3333), (30, 0.5, 0.5)]
)
def test_sixtieth_rule_mem(slope: float, sine: float, rule: float) -> None:
    """MEM for the rule, DER for the figures: never above the sine below 30 degrees, at worst 4.5 % under it."""
    assert sin(radians(slope)) == pytest.approx(sine, abs=5e-5)
    assert slope / 60 == pytest.approx(rule, abs=5e-5)
    assert -0.046 <= (slope / 60) / sin(radians(slope)) - 1 <= 1e-9


@pytest.mark.parametrize(("mbs", "accepted"), [(6_000, True), (9_000, True), (5_999, False), (9_001, False)])
def test_strap_for_3000_kg_der(mbs: float, accepted: bool) -> None:
    """DER from the 2017 standard's 2 to 3 times."""
    assert strap_accepts(mbs, 3_000) is accepted


def test_winch_layers_common_practice() -> None:
    """Common practice, no source: each layer pulls about 10 to 12 % less than the one below."""
    pulls = [winch_pull_by_layer(1000, layer) for layer in (1, 2, 3, 4, 5)]
    steps = [b / a for a, b in pairwise(pulls)]
    assert pulls[0] == 1000
    assert all(0.87 <= step <= 0.91 for step in steps)


def test_winch_rating_and_zone_common_practice() -> None:
    """Common practice, no source: rating at least 1.5 times the laden mass; everybody 1.5 lengths of the line away."""
    assert recovery_figures().winch.share_of_gross == 1.5
    assert exclusion_m(10) == 15
