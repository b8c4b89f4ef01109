"""Every gathered worked example of reliability is checked by a test that exists, or it is said why none is (reliability_rows.toml)."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fieldkit.likelihood.counts import count_tail
from fieldkit.likelihood.diagnosis import noisy_or
from fieldkit.likelihood.ranges import factor_quantile
from fieldkit.likelihood.weibull import cumulative_hazard, expected_failures, life_at
from fieldkit.specs.base import CHANNELS
from fieldkit.specs.library import Library

HERE = Path(__file__).parent
ROWS: dict[str, dict[str, Any]] = tomllib.loads((HERE / "reliability_rows.toml").read_text(encoding="utf-8"))


def test_each_row_names_tests_that_exist_or_says_why_not() -> None:
    known = {
        name
        for path in HERE.parent.rglob("test_*.py")
        for name in re.findall(r"(?m)^def (test_\w+)", path.read_text(encoding="utf-8"))
    }
    for group, rows in ROWS.items():
        for row, said in rows.items():
            assert said["source"], (group, row)
            assert ("tests" in said) != ("why" in said), (group, row)
            assert set(said.get("tests", ())) <= known, (group, row)
    assert sum(len(rows) for rows in ROWS.values()) >= 50


def test_ten_percent_life_der() -> None:
    """DER: shape 2, scale 1000: a tenth has failed at 324.5928."""
    assert float(life_at(0.1, 1000.0, 2.0)) == pytest.approx(324.5928, abs=1e-4)


def test_constant_rate_mission_der() -> None:
    """DER from a formula seen in an R package's documentation: 24 h at 228 h between failures: 0.900088; no age enters."""
    assert float(np.exp(-cumulative_hazard(24.0, 228.0, 1.0))) == pytest.approx(0.900088, abs=1e-6)
    worn = float(np.exp(-expected_failures(5000.0, 24.0, 228.0, 1.0)))
    assert worn == pytest.approx(0.900088, abs=1e-6)
    assert -24.0 / np.log(0.9) == pytest.approx(227.789, abs=1e-3)


def test_mean_rate_as_a_lower_bound_mem() -> None:
    """MEM: NIST e-Handbook 8.4.6: b'/a' = 3309/4 = 827 h is a 57 % lower bound of the mean time between failures."""
    assert 1 / factor_quantile(0.56653, 4.0, 3309.0) == pytest.approx(827.25, abs=0.05)


def test_a_part_in_two_cut_sets() -> None:
    """SCRAM core tests: (A and B) or (B and C) at .1, .2, .3: exact 0.074; the cut sets added up give 0.08."""
    assert 0.2 * noisy_or([0.1, 0.3]) == pytest.approx(0.074, abs=1e-12)


def test_step_from_paved_to_rough_is_in_the_family_of_a_printed_table(library: Library) -> None:
    """MIL-HDBK-217F N2 (constants of an open implementation): ground mobile over ground fixed is 2.0, 1.5 and 3.3 for microcircuits,
    lamps and crystals, and each kind steps differently. Precedent for the form: shaking from sealed road to graded gravel steps within
    that family, and no one multiplier serves every channel.
    """
    printed = {"microcircuits": 4 / 2, "lamps": 3 / 2, "crystals": 10 / 3}
    steps = {c: getattr(library.surfaces["gravel"], c) / getattr(library.surfaces["sealed"], c) for c in CHANNELS}
    for channel in ("vibration", "impact"):
        assert min(printed.values()) <= steps[channel] <= max(printed.values())
    assert len({round(step, 2) for step in steps.values()}) >= 4


def test_surely_known_counts_are_poisson() -> None:
    """Property: a count's variance exceeds its mean while the rate is unsure and tends to it as it is known."""
    spread = []
    for a in (2.0, 20.0, 2e6):
        tails = np.array([float(count_tail(n, 1.5, 0, a, a)) for n in range(1, 200)])
        mean, second = tails.sum(), ((2 * np.arange(1, 200) - 1) * tails).sum()
        assert mean == pytest.approx(1.5, rel=1e-6)
        spread.append(second - mean**2)
    assert spread[0] > spread[1] > spread[2] == pytest.approx(1.5, rel=1e-4)
