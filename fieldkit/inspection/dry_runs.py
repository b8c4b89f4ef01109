"""Dry runs at home: ticks as evidence that a repair will succeed on the track."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from fieldkit.inspection.result import Reason
from fieldkit.inspection.settings import Rules
from fieldkit.specs.checklists import along_the_walk, pauses
from fieldkit.specs.marked import Tick
from fieldkit.specs.trip import Trip, Vehicle

#: The checklist whose lines may name the dry run that they prove (key ``dry_run``).
LIST = "dry-run-at-home"


@dataclass(frozen=True)
class DryRuns:
    """One vehicle's dry runs.

    ``done``, ``missing``: id -> words, in the rules' order; ``last``: day of the latest tick, blank where none has a date;
    ``unnamed``: ticks on the shared checklist, which say no vehicle (only where the trip has several).
    """

    done: dict[str, str]
    missing: dict[str, str]
    last: str
    unnamed: int


def asked(rules: Rules, features: frozenset[str]) -> dict[str, str]:
    """Dry runs that a vehicle has the parts for: id -> words."""
    return {
        key: words
        for key, words in rules.dry_runs.items()
        if not rules.dry_run_needs.get(key) or set(rules.dry_run_needs[key]) & features
    }


def dry_runs(trip: Trip, vehicle: Vehicle, rules: Rules, features: frozenset[str]) -> DryRuns:
    """What was tried at home on a vehicle.

    A tick counts for the vehicle whose form it stands on, or whose id ends the list's name; ticks of the shared checklist
    count where the trip has one vehicle only.

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> tick = Tick(list="form-departure-copper", item="dry-run-filter-bled", at="2027-06-05T10:00:00Z")
    >>> trip = N(ticks=(tick,), vehicles=(1, 2), library=N(settings={}))
    >>> rules = N(dry_runs={"filter-bled": "Filter", "key": "Key"}, dry_run_needs={}, form=N(kind={"departure": 1}))
    >>> found = dry_runs(trip, N(id="copper"), rules, frozenset())
    >>> found.done, found.missing, found.last
    ({'filter-bled': 'Filter'}, {'key': 'Key'}, '2027-06-05')
    """
    wanted = asked(rules, features)
    shared = [t for t in trip.ticks if t.list in (LIST, f"lists/{LIST}")]
    mine = [t for t in trip.ticks if t.list in _own_lists(vehicle.id, rules)]
    if len(trip.vehicles) == 1:
        mine, shared = [*mine, *shared], []
    proven = {key: tick for tick in mine for key in _proves(tick, trip)}
    done = {k: w for k, w in wanted.items() if k in proven}
    return DryRuns(
        done,
        {k: w for k, w in wanted.items() if k not in proven},
        max((proven[k].at[:10] for k in done), default=""),
        len(shared),
    )


def _own_lists(vehicle: str, rules: Rules) -> set[str]:
    return {f"{LIST}-{vehicle}", *(f"form-{kind}-{vehicle}" for kind in rules.form.kind)}


def _proves(tick: Tick, trip: Trip) -> Iterator[str]:
    """Dry runs that one tick proves: by its own id, or by the checklist line that names one."""
    yield tick.item.removeprefix("dry-run-")
    listed: Any = trip.library.settings.get(f"checklist-{LIST}", {})
    for number, part in enumerate(pauses(listed), 1):
        for place, line in enumerate(along_the_walk(part["item"]), 1):
            if tick.item == f"{number}-{place}" and line.get("dry_run"):
                yield line["dry_run"]


def dry_run_words(runs: DryRuns) -> str:
    """The note beside the other evidence; blank where nothing is asked.

    Examples
    --------
    >>> dry_run_words(DryRuns({"a": "A"}, {"b": "B"}, "2027-06-05", 0))
    '1 of 2 dry runs at home done, the last 2027-06-05'
    """
    count = len(runs.done) + len(runs.missing)
    if not count:
        return ""
    when = f", the last {runs.last}" if runs.last else ""
    return f"{len(runs.done)} of {count} dry runs at home done{when}" if runs.done else "no dry run at home ticked"


def not_tried(runs: DryRuns) -> list[Reason]:
    """Advice where dry runs are missing; never more than advice, whatever the rules say."""
    if not runs.missing:
        return []
    named = list(runs.missing.values())
    more = f"; and {len(named) - 3} more" if len(named) > 3 else ""
    mend = "Do them with what is packed, and tick them on the vehicle's departure form."
    if runs.unnamed:
        mend += f" {runs.unnamed} ticks stand on the shared checklist, which says no vehicle."
    return [Reason(f"Not yet tried at home: {'; '.join(named[:3])}{more}", "fit", None, mend, "driver")]
