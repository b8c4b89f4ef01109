"""Times of route files and of remoteness, by hand: ``python tests/benchmarks/route.py``. Asserts nothing.

The 120,000-point file is read in place from ``$FIELDKIT_SHARED`` or ../shared; without it a file of the same size is made up.
The plain parse by the general GPX library and our reading, measuring and cutting run in turn in one process; both get the packed
file's path. Second table: 2,000 km with 30 help points and 10 escape roads.
"""

from __future__ import annotations

import gzip
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import gpxpy
import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from made_trip import trip as made_trip  # noqa: E402

from fieldkit.exposure import expose, map_drawing  # noqa: E402
from fieldkit.route import cut_legs, read_route, trip_route  # noqa: E402
from fieldkit.specs.trip import Leg, SurfaceStretch, Trip  # noqa: E402

NAME = "r18-120000-points.gpx.gz"


def big_file(folder: Path) -> Path:
    """The 120,000-point file, or one made up of a walk in open ocean."""
    for base in (os.environ.get("FIELDKIT_SHARED"), ROOT.parent / "shared"):
        if base and (Path(base) / "routes" / NAME).is_file():
            return Path(base) / "routes" / NAME
    draw = np.random.default_rng(1)
    lat, lon = -32.0 + np.cumsum(draw.normal(0, 1e-6, 120_000)), -19.0 + np.cumsum(np.full(120_000, 1e-6))
    rows = "\n".join(
        f'<trkpt lat="{a:.7f}" lon="{b:.7f}"><ele>{100 + i % 50}.0</ele></trkpt>'
        for i, (a, b) in enumerate(zip(lat, lon, strict=True))
    )
    path = folder / NAME
    with gzip.open(path, "wt") as stream:
        stream.write(f'<gpx version="1.1" creator="x"><trk><trkseg>{rows}</trkseg></trk></gpx>')
    return path


def seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def plain_parse(path: Path) -> object:
    with gzip.open(path, "rt", encoding="utf-8") as stream:
        return gpxpy.parse(stream)


def cut(trip: Trip) -> object:
    return cut_legs(trip, trip_route(trip))


def long_trip() -> Trip:
    """2,000 km in 80 legs on ten days, a help point each 66 km and ten escape roads."""
    kinds = ("sealed", "gravel", "corrugated", "sand")
    legs = tuple(Leg(i // 8 + 1, 25.0 * i, 25.0 * (i + 1), kinds[i % 4], line=i + 2) for i in range(80))
    points = [
        {
            "name": f"P{i}",
            "kind": ["fuel", "water", "workshop", "medical", "phone"],
            "km": f"{i * 66} km",
            "off": f"{i} km",
            "open": "Mon-Sat 08:00-18:00",
        }
        for i in range(30)
    ]
    roads = [{"km": f"{180 * i} km", "to": f"P{29 - i}", "distance": "90 km", "surface": "gravel"} for i in range(10)]
    data = {
        "days": 10,
        "stop": [],
        "help": points,
        "escape": roads,
    }
    return made_trip(legs, **data)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = big_file(Path(folder))
        length = read_route(path).length_m / 1000
        base = made_trip((), days=1, stop=[], help=[])
        big = replace(
            base,
            legs=(),
            route_files=(path,),
            surfaces=(
                SurfaceStretch(0, length / 2, "gravel", line=2),
                SurfaceStretch(length / 2, length, "sealed", line=3),
            ),
        )
        theirs, ours = [], []
        for _ in range(7):
            theirs.append(seconds(lambda: plain_parse(path)))
            ours.append(seconds(lambda: cut(big)))
        route = trip_route(big)
        exposure = expose(big, route, None)
        drawing = seconds(lambda: map_drawing(route, exposure, big))
        far = long_trip()
        remote = [seconds(lambda: expose(far, trip_route(far), None)) for _ in range(7)]
    a, b = statistics.median(theirs), statistics.median(ours)
    print("| what | s | ratio |\n|---|---|---|")
    print(f"| general GPX library, plain parse of {path.name} | {a:.3f} | 1 |")
    print(f"| read, measured and cut into legs | {b:.3f} | {b / a:.2f} |")
    print(f"| its map as numbers | {drawing:.3f} | |")
    print(f"| 2,000 km, 30 help points, 10 escape roads: everything | {statistics.median(remote):.3f} | |")


if __name__ == "__main__":
    main()
