"""Everything found on all vehicles, weak point by weak point: what a club or a workshop sees at once."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from fieldkit.inspection.marks import FINDINGS
from fieldkit.specs.trip import Finding, Trip


@dataclass(frozen=True)
class ModeFindings:
    """One weak point over all vehicles; the newest finding of each position counts.

    Attributes
    ----------
    mode, title : str
    unsafe : bool
        Whether a defect here stops a vehicle.
    vehicles : int
        Vehicles on which it was looked at.
    counts : dict of str to int
        Finding -> positions.
    where : dict of str to tuple of str
        Finding -> "vehicle" or "vehicle position", in the trip's order.
    """

    mode: str
    title: str
    unsafe: bool
    vehicles: int
    counts: dict[str, int]
    where: dict[str, tuple[str, ...]]


def findings_by_mode(trip: Trip) -> tuple[ModeFindings, ...]:
    """All findings of a trip by weak point: most defects first, then most wear, then the library's order.

    Raises
    ------
    Nothing; a weak point that nobody looked at has no row.
    """
    newest: dict[tuple[str, str, str], Finding] = {}
    for finding in sorted(trip.findings, key=lambda f: (f.date, f.line)):
        newest[(finding.failure_mode, finding.vehicle, finding.position)] = finding
    order = {v.id: n for n, v in enumerate(trip.vehicles)}
    rows = []
    for mode, spec in trip.library.failure_modes.items():
        mine = sorted((f for key, f in newest.items() if key[0] == mode), key=lambda f: (order[f.vehicle], f.position))
        if not mine:
            continue
        places: dict[str, list[str]] = {kind: [] for kind in FINDINGS}
        for f in mine:
            places[f.finding].append(f"{f.vehicle} {f.position}".strip())
        counts = {kind: len(found) for kind, found in places.items()}
        unsafe = spec.readiness == "unsafe-defect"
        where = {kind: tuple(found) for kind, found in places.items()}
        rows.append(ModeFindings(mode, spec.title, unsafe, len({f.vehicle for f in mine}), counts, where))
    return tuple(sorted(rows, key=lambda r: (-r.counts["defective"], -r.counts["worn"])))


def findings_csv(rows: Sequence[ModeFindings]) -> str:
    """The table as CSV, a row for each weak point.

    Examples
    --------
    >>> row = ModeFindings("belt", "Belt worn", True, 1, dict.fromkeys(FINDINGS, 0) | {"worn": 1}, {"worn": ("a",), "defective": ()})
    >>> print(findings_csv([row]).splitlines()[1])
    belt,Belt worn,yes,1,0,1,0,0,0,a,
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    kinds = [kind.replace("-", "_") for kind in FINDINGS]
    writer.writerow(["failure_mode", "title", "stops_the_vehicle", "vehicles", *kinds, "worn_on", "defective_on"])
    for r in rows:
        told = ["; ".join(r.where[kind]) for kind in ("worn", "defective")]
        counts = [r.counts[kind] for kind in FINDINGS]
        writer.writerow([r.mode, r.title, "yes" if r.unsafe else "no", r.vehicles, *counts, *told])
    return out.getvalue()
