"""Cross-check, not a published value: lengths by a second geodesic library, which solves the same problem with code of its own."""

from __future__ import annotations

import numpy as np
import pytest

from fieldkit.route.geodesic import step_lengths

geographiclib = pytest.importorskip("geographiclib.geodesic", reason="needs the crosscheck extra")


def test_two_libraries_agree_on_lines_all_over_the_earth() -> None:
    """500 random lines, up to antipodal ones: within 0.1 mm."""
    draw = np.random.default_rng(7)
    lat, lon = draw.uniform(-90, 90, 501), draw.uniform(-180, 180, 501)
    ours = step_lengths(lat, lon)
    theirs = [geographiclib.Geodesic.WGS84.Inverse(lat[i], lon[i], lat[i + 1], lon[i + 1])["s12"] for i in range(500)]
    assert ours == pytest.approx(theirs, abs=1e-4)
