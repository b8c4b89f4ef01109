"""What commands print: each function does one command's work and returns its text."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from fieldkit.beside import Beside
from fieldkit.errors import CannotBeSolved, Fault, InputFaults, NotFit
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.read_trip import load_trip

if TYPE_CHECKING:
    from fieldkit.compare import Comparison, PlanFigures, Row
    from fieldkit.plan import Plan
    from fieldkit.plan_options import PlanOptions

#: Vehicles up to which a short form is ordered by what a look saves on the trip; beyond, by a reference trip.
ORDERED_BY_TRIP = 12
STATE_WORDS = {
    "fit": "fit",
    "fit-with-limits": "fit with limits",
    "repair-first": "repair first",
    "off-the-road": "off the road",
}


def example_folder(solo: bool = False) -> Path:
    """The shipped example trip: the convoy, or the solo traveller."""
    return shipped_folder("vehicle_specs") / "example_trips" / ("solo" if solo else "convoy")


def check_trip(folder: Path) -> str:
    """Read a trip whole and say what it holds; the sum of expected failures shows lives that add up too high."""
    from fieldkit.exposure import expose
    from fieldkit.inspection import beliefs
    from fieldkit.likelihood import hazards, risks
    from fieldkit.loads import weigh
    from fieldkit.route import trip_route

    trip = load_trip(folder)
    route = trip_route(trip)
    loads = weigh(trip)
    exposure = expose(trip, route, loads)
    hazard = hazards(trip, exposure, loads)
    belief = beliefs(trip, hazard)
    found = risks(trip, hazard, {k: tuple(b.degraded for b in v) for k, v in belief.by_key.items()})
    lines = [
        f"{trip.head.title}: {_count(len(trip.vehicles), 'vehicle')}, {_count(len(exposure.legs), 'leg')}, "
        f"{route.length_km:.0f} km, {_count(trip.head.days, 'day')}. No mistakes found.",
        "",
        f"{'vehicle':<16}{'weak points':>12}{'failures expected':>20}{'of these disabling':>20}",
    ]
    for vehicle in trip.vehicles:
        mine = found.of(vehicle.id)
        stops = [r for r in mine if trip.library.failure_modes[r.mode].severity in ("disabled", "unsafe")]
        total, severe = (sum(r.expected.value for r in group) for group in (mine, stops))
        lines.append(f"{vehicle.id:<16}{len(mine):>12}{total:>20.2f}{severe:>20.2f}")
    lines += [*_notes(route.warnings), *_notes(trip.warnings), *_notes(exposure.cautions)]
    return "\n".join(lines)


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def _notes(notes: tuple[str, ...]) -> list[str]:
    """Notes within 80 columns, what runs on indented."""
    return [line for n in notes for line in wrap(f"note: {n}", 79, subsequent_indent="  ", break_on_hyphens=False)]


def plan_trip(
    folder: Path,
    out: Path,
    options: PlanOptions,
    one_file: bool,
    pdf: bool,
    need_fit: bool,
    no_workshop: bool,
    step: Callable[[str], None],
) -> str:
    """Plan a trip, write its handbook and ``plan.json``, and sum up for the terminal. Works with two processes.

    Raises
    ------
    InputFaults, CannotBeSolved, OutputRefused
        Nothing is written then; an earlier handbook stays as it was.
    NotFit
        If ``need_fit`` and a vehicle is not fit to leave (the handbook is written first).
    """
    step("reading the trip")
    with Beside(second=True) as beside:
        beside.get_ready("fieldkit.plan")
        beside.get_ready("fieldkit.handbook")
        trip = load_trip(folder)
        step("working out the plan")
        from fieldkit.plan import make_plan, without_workshop

        plan = make_plan(without_workshop(trip) if no_workshop else trip, options, beside)
        step("writing the handbook")
        from fieldkit.export import write_plan_files
        from fieldkit.handbook import write_handbook

        files = partial(write_plan_files, plan)
        write_handbook(plan, out, one_file=one_file, pdf=pdf, extra=files, beside=beside)
    text = summary(plan, out) + "".join(f"\n{line}" for line in _to_send(out, trip.id if one_file else ""))
    unfit = [r.vehicle for r in plan.readiness.values() if r.after_work in ("repair-first", "off-the-road")]
    if need_fit and unfit:
        raise NotFit(f"{text}\n\nNot fit to leave: {', '.join(sorted(unfit))}.")
    return text


def _to_send(out: Path, trip: str) -> list[str]:
    """Name and size of the one-file handbook; nothing where none was asked for."""
    if not trip:
        return []
    file = out / f"{trip}-handbook.html"
    return [f"Or send {file} ({file.stat().st_size / 1e6:.1f} MB)"]


def summary(plan: Plan, out: Path) -> str:
    """A plan in at most 80 columns."""
    from fieldkit.handbook.words import about_hours, in_words

    kit, trials = plan.kit, plan.trials
    lines = [f"{plan.trip.head.title}: {plan.route.length_km:.0f} km, {_count(plan.trip.head.days, 'day')}", ""]
    lines.append(f"{'vehicle':<18}{'as found':<18}{'after the work':<18}{'payload left':>14}")
    for vehicle in plan.trip.vehicles:
        ready, loads = plan.readiness[vehicle.id], plan.loads[vehicle.id]
        lines.append(
            f"{vehicle.id:<18}{STATE_WORDS[ready.as_found]:<18}{STATE_WORDS[ready.after_work]:<18}"
            f"{loads.payload_left_kg:>11.0f} kg"
        )
    proof = "proven best" if kit.proof.optimal else f"within {100 * kit.proof.gap:.2g} % of the best possible"
    lines += [
        "",
        f"Kit: {kit.mass_kg:.0f} kg, of which {kit.must_carry_kg:.0f} kg must be carried; {proof}.",
        f"Time lost to failures: {about_hours(kit.hours_without)} without a kit, {about_hours(kit.hours_with)} with it.",
        f"Chance to finish without outside help: {in_words(trials.unassisted)} (trial runs).",
        "",
        f"Open {out / 'index.html'}",
    ]
    return "\n".join(lines)


def route_report(file: Path, line: str | None, as_json: bool) -> str:
    """A route file's figures as text, or as JSON in the published shape."""
    from fieldkit.route import read_route, route_json

    data = route_json(read_route(file, line))
    if as_json:
        return json.dumps(data, indent=1, ensure_ascii=False)
    rows = [
        ("length", f"{data['length_m'] / 1000:.2f} km"),
        ("climb", "unknown (no heights)" if data["climb_m"] is None else f"{data['climb_m']:.0f} m"),
        ("descent", "unknown (no heights)" if data["descent_m"] is None else f"{data['descent_m']:.0f} m"),
        ("points", f"{data['points']} in {data['segments']} segments of {data['tracks']} tracks"),
        ("routes", str(data["routes"])),
        ("waypoints", str(data["waypoints"])),
    ]
    lines = [file.name, *(f"  {name:<10} {value}" for name, value in rows)]
    for x in data["lines"]:
        said = f"line '{x['name']}' ({x['kind']}): {x['length_m'] / 1000:.2f} km{', taken' if x['chosen'] else ''}"
        lines += wrap(said, 79, initial_indent="  ", subsequent_indent="    ")
    return "\n".join([*lines, *_notes(tuple(data["warnings"]))])


def recovery_report(folder: Path, as_json: bool) -> str:
    """Pulls and rigs of a trip's vehicles, safety first."""
    from fieldkit.export import plain
    from fieldkit.loads import weigh
    from fieldkit.recovery import as_text, plan_recovery

    trip = load_trip(folder)
    found = plan_recovery(trip, weigh(trip), None)
    if as_json:
        return json.dumps(
            {"safety": found.safety, "order": found.order, "recovery": plain(found.vehicles)},
            indent=1,
            ensure_ascii=False,
        )
    return as_text(found, trip)


def forms_report(
    trip_folder: Path | None,
    build: str | None,
    out: Path,
    kind: str,
    short: bool,
    paper: str,
    pdf: bool,
    progress: Callable[[int, int], None] | None = None,
) -> str:
    """Write inspection forms and name the files."""
    from fieldkit.errors import nearest_name, several
    from fieldkit.handbook import write_forms
    from fieldkit.specs.read_library import load_library

    trip = load_trip(trip_folder) if trip_folder else None
    library = trip.library if trip else load_library()
    if build and build not in library.archetypes:
        known = list(library.archetypes)
        raise InputFaults(
            [Fault("--build", f"unknown build '{build}'", f"one of: {several(known, 20)}", nearest_name(build, known))]
        )
    worth: dict[str, dict[str, float]] | None = None
    if trip and short and len(trip.vehicles) <= ORDERED_BY_TRIP:
        from fieldkit.plan import looks_of

        try:
            worth = looks_of(trip)
        except CannotBeSolved:  # a form is wanted before the trip's limits are right
            worth = None
    written = write_forms(
        library, out, build, trip, worth=worth, kind=kind, short=short, paper=paper, pdf=pdf, progress=progress
    )
    return "\n".join(f"wrote {path}" for path in written)


def findings_report(folder: Path, files: Sequence[Path], keep_good_rows: bool = False) -> str:
    """Merge marks and findings into a trip; say what changed, and what is now to put right, replace and bring back."""
    from fieldkit.inspection.afterwards import after_lines, after_trip
    from fieldkit.inspection.marks import TABLES, bring_back

    trip = load_trip(folder)
    back = bring_back(trip, files, keep_good_rows)
    lines = [
        f"{TABLES[kind][0]:<18} {count} new, {back.known[kind]} known already"
        for kind, count in back.added.items()
        if count or back.known[kind]
    ]
    lines += [f"disagree: {c}" for c in back.conflicts] + _notes(back.notes)
    if back.left_out:
        lines += ["", "Left out; mend them in the file and read it again:", *map(str, back.left_out)]
    if not lines:
        return "nothing in these files"
    return "\n".join([*lines, *after_lines(after_trip(load_trip(folder, trip.library)), trip.head.currency)])


def findings_table(folder: Path, out: Path | None) -> str:
    """All findings of a trip by weak point, in 80 columns; with ``out`` also as a CSV table."""
    from fieldkit.errors import OutputRefused
    from fieldkit.inspection.by_mode import findings_by_mode, findings_csv

    trip = load_trip(folder)
    rows = findings_by_mode(trip)
    if not rows:
        return "No findings yet."
    lines = [f"{'weak point':<38}{'vehicles':>9}{'defective':>11}{'worn':>6}{'sound':>7}{'not seen':>9}"]
    for r in rows:
        c = r.counts
        name = _cut(r.title, 37)
        lines.append(
            f"{name:<38}{r.vehicles:>9}{c['defective']:>11}{c['worn']:>6}{c['sound'] + c['renewed']:>7}{c['not-seen']:>9}"
        )
        for kind in ("defective", "worn"):
            if r.where[kind]:
                said = f"{kind}: {', '.join(r.where[kind])}"
                lines += wrap(said, 76, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)
    if out:
        try:
            out.write_text(findings_csv(rows), encoding="utf-8", newline="")
        except OSError as odd:
            raise OutputRefused(f"{out} cannot be written ({odd.strerror or odd})") from None
        lines.append(f"wrote {out}")
    return "\n".join(lines)


def compare_report(first: Path, second: Path, out: Path | None) -> str:
    """Two plans side by side in 80 columns; with ``out`` also as a page."""
    from fieldkit.compare import compare_plans, read_plan
    from fieldkit.specs.read_library import load_library

    one, other = _both(read_plan, first, second)
    found = compare_plans(one, other, {i: item.name for i, item in load_library().items.items()})
    names = _short_names(first, second)
    sections = _compared(found)
    if out:
        from fieldkit.handbook import write_comparison

        write_comparison(out, names, sections, found.notes)
    lines = [f"{'':<36}{_cut(names[0], 21):<22}{_cut(names[1], 21)}"]
    for title, rows in sections:
        if rows:
            lines += ["", title, *(line for row in rows for line in _columns(row))]
    return "\n".join([*lines, "", *_notes(found.notes), *([f"wrote {out}"] if out else [])]).rstrip()


def _both(read: Callable[[Path], PlanFigures], *places: Path) -> list[PlanFigures]:
    """Each place read; the faults of all of them together."""
    found: list[PlanFigures] = []
    faults: list[Fault] = []
    for place in places:
        try:
            found.append(read(place))
        except InputFaults as odd:
            faults += odd.faults
    if faults:
        raise InputFaults(faults)
    return found


def _short_names(first: Path, second: Path) -> tuple[str, str]:
    """The last parts of two paths by which they differ.

    >>> _short_names(Path("a/handbook"), Path("b/handbook"))
    ('a/handbook', 'b/handbook')
    """
    one, other = (p.resolve().parts for p in (first, second))
    for length in range(1, max(len(one), len(other)) + 1):
        if one[-length:] != other[-length:]:
            return "/".join(one[-length:]), "/".join(other[-length:])
    return str(first), str(second)


def _compared(found: Comparison) -> list[tuple[str, list[tuple[str, str, str]]]]:
    parts = [
        *found.sections,
        ("Work that only one has", found.work),
        ("Carried in other numbers", found.items),
        ("Hours lost with the kit: the largest differences", found.weak_points),
    ]
    return [
        (title, [(row.what, _said(row, row.first), _said(row, row.second)) for row in rows]) for title, rows in parts
    ]


def _said(row: Row, value: Any) -> str:
    from fieldkit.handbook.words import percent

    if value is None:
        return "not in it"
    ways: dict[str, Callable[[Any], str]] = {
        "kg": lambda v: f"{v:.0f} kg",
        "km": lambda v: f"{v:.0f} km",
        "h": lambda v: f"{v:.1f} h",
        "count": lambda v: f"{v:.4g}" if v < 1000 else f"{v:.0f}",
        "chance": percent,
        "share": lambda v: "proven best" if v == 0 else f"within {100 * v:.2g} %",
        "state": lambda v: STATE_WORDS[v],
        "done": lambda v: "done" if v else "not done",
    }
    return ways.get(row.unit, str)(value)


def _columns(row: tuple[str, str, str]) -> list[str]:
    """A row in three columns, each wrapped to its width."""
    from itertools import zip_longest

    cells = [wrap(text, width) for text, width in zip(row, (33, 21, 21), strict=True)]
    return [f"  {a:<34}{b:<22}{c}".rstrip() for a, b, c in zip_longest(*cells, fillvalue="")]


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else "..." + text[3 - width :]
