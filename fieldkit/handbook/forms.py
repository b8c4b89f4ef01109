"""Inspection forms as pages for paper and phone: one self-contained file per vehicle, an index, one file to print them all."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from fieldkit.errors import OutputRefused
from fieldkit.handbook.markup import inline
from fieldkit.handbook.pdf import PAPERS, need_browser, print_sheets, size_style
from fieldkit.handbook.render import digest_source, lower_headings, style_text, templates
from fieldkit.handbook.settings import HandbookSettings
from fieldkit.handbook.site import Writer, built_beside, listing
from fieldkit.handbook.words import Words, day_text
from fieldkit.inspection import inspection_form
from fieldkit.inspection.afterwards import Fault, after_trip
from fieldkit.inspection.buying import buying, cost_to_put_right
from fieldkit.inspection.by_mode import findings_by_mode
from fieldkit.inspection.form import Form, FormLine
from fieldkit.inspection.marks import FINDINGS
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.specs.library import FailureMode, Library
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.settings import read_settings
from fieldkit.specs.trip import Finding, Trip, Vehicle

FINDING_WORDS = {"not-seen": "not seen"}
#: Heads of narrow columns, with the place where a long word may break.
BROKEN = {"defective": "defec\u00adtive", "renewed": "re\u00adnewed"}
#: Date in the PDF of a blank form, which has no trip to date it.
BLANK_DATE = date(2000, 1, 1)
#: Forms that the browser prints in one go.
PRINTED_TOGETHER = 5
FORM_SCRIPTS = ("marks.js", "view.js", "forms.js")


@dataclass(frozen=True)
class Subject:
    """What one form is about: a vehicle of a trip, or a build that nobody has yet put a name to."""

    id: str
    name: str
    build: str
    features: frozenset[str]
    facts: tuple[tuple[str, str], ...]
    found: Mapping[tuple[str, str], Finding]
    figures: Mapping[str, str]


def write_forms(
    library: Library,
    out: Path,
    archetype: str | None,
    trip: Trip | None,
    kind: str = "departure",
    short: bool = False,
    paper: str = "A4",
    pdf: bool = False,
    progress: Callable[[int, int], None] | None = None,
    worth: Mapping[str, Mapping[str, float]] | None = None,
) -> list[Path]:
    """Inspection forms, blank for a build or filled in for each vehicle of a trip.

    Parameters
    ----------
    library : Library
        The points and how to look.
    out : Path
        The folder to write. It must be new, empty, or made by this tool.
    archetype : str or None
        Build to make one blank form for.
    trip : Trip or None
        Trip whose vehicles get a form each; earlier findings are printed beside the points.
    kind : str
        ``departure``, ``shakedown``, ``after-trip`` or ``purchase``.
    short : bool
        Only what tells most per minute.
    paper : str
        ``A4`` or ``Letter``.
    pdf : bool
        Also print all forms into one PDF with an installed Chromium.
    progress : callable or None
        Called with (steps done, steps in all) after each form made and each form printed.
    worth : mapping or None
        Vehicle -> weak point -> hours saved per minute of looking on the trip; a reference trip's where None.

    Returns
    -------
    list of Path
        Every file written.

    Raises
    ------
    OutputRefused
        If ``out`` holds something this tool did not make, the paper is unknown, or no browser is found for the PDF.
    """
    if paper not in PAPERS:
        raise OutputRefused(f"unknown paper '{paper}'; one of: {', '.join(PAPERS)}")
    browser = need_browser() if pdf else ""
    words = Words(read_settings("handbook", HandbookSettings, library).model_dump())
    subjects = [of_vehicle(trip, v) for v in trip.vehicles] if trip else [of_build(library, str(archetype))]
    contexts, bodies = [], []
    tell = progress or (lambda _done, _all: None)
    steps = len(subjects) * (2 if pdf else 1)
    for number, subject in enumerate(subjects, 1):
        contexts.append(form_context(library, words, subject, trip, kind, short, (worth or {}).get(subject.id)))
        bodies.append(templates().get_template("form.html").render(**contexts[-1], words=words, w=words["words"]))
        tell(number, steps)
    with built_beside(Path(out)) as fresh:
        writer = Writer(fresh)
        for context, body in zip(contexts, bodies, strict=True):
            writer.write(f"{context['id']}.html", _page(words, paper, context, [body], script=True))
        writer.write("index.html", _index(words, paper, contexts, trip, short))
        if len(bodies) > 1 or pdf:
            heading = {**contexts[0], "heading": _heading(contexts)}
            writer.write("all.html", _page(words, paper, heading, bodies, script=False))
        if pdf:
            made = trip.head.prepared if trip else BLANK_DATE
            heading = {**contexts[0], "heading": _heading(contexts)}
            sheets = [
                _page(words, paper, heading, bodies[n : n + PRINTED_TOGETHER], script=False)
                for n in range(0, len(bodies), PRINTED_TOGETHER)
            ]
            pdf_file = fresh / f"forms-{paper.lower()}.pdf"
            print_sheets(
                browser, sheets, pdf_file, made, lambda n: tell(min(len(bodies) + n * PRINTED_TOGETHER, steps), steps)
            )
        names = [p.relative_to(fresh) for p in listing(fresh)]
    return [Path(out) / name for name in names]


def _heading(contexts: list[dict[str, Any]]) -> str:
    return f"{contexts[0]['kind_title']}: {len(contexts)} vehicles"


# ---------------------------------------------------------------------------------------------- subjects
def of_vehicle(trip: Trip, vehicle: Vehicle) -> Subject:
    """A vehicle of a trip with what was found on it before; the newest finding of each position counts."""
    found: dict[tuple[str, str], Finding] = {}
    for finding in sorted((f for f in trip.findings if f.vehicle == vehicle.id), key=lambda f: (f.date, f.line)):
        found[(finding.failure_mode, finding.position)] = finding
    age = vehicle.spec.age
    facts = (
        ("Owner", vehicle.spec.identity.owner),
        ("Plate", vehicle.spec.identity.plate),
        ("Built", str(vehicle.spec.identity.built or "")),
        ("Odometer in the file", f"{age.odometer_km:,.0f} km" if age.odometer_km else ""),
    )
    return Subject(
        vehicle.id, vehicle.name, vehicle.archetype.name, features_of(vehicle), facts, found, vehicle.spec.figures
    )


def of_build(library: Library, archetype: str) -> Subject:
    """A build as built, for a form that is filled in by hand."""
    build = library.archetypes[archetype]
    blank = (("Owner", ""), ("Plate", ""), ("Built", ""))
    return Subject(archetype, build.name, build.name, frozenset(build.features), blank, {}, {})


# --------------------------------------------------------------------------------------------- contexts
def form_context(
    library: Library,
    words: Words,
    subject: Subject,
    trip: Trip | None,
    kind: str,
    short: bool,
    worth: Mapping[str, float] | None = None,
) -> dict[str, Any]:
    """Plain data of one form."""
    form = inspection_form(library, subject.features, kind, short, worth)
    rate = trip.head.limits.workshop_rate if trip else 0.0
    return {
        "id": subject.id,
        "slug": f"form-{subject.id}",
        "vehicle": subject.id if trip else "",
        "name": subject.name,
        "build": subject.build,
        "facts": subject.facts,
        "trip": trip.id if trip else subject.id,
        "trip_title": trip.head.title if trip else "",
        "revision": trip.digest if trip else "blank",
        "prepared": day_text(trip.head.prepared) if trip else "",
        "kind": kind,
        "kind_title": form.title,
        "use": form.use,
        "short": short,
        "minutes": f"{form.minutes:.0f}",
        "points": sum(len(s.lines) for s in form.stations),
        "stations": [
            {
                "id": s.station,
                "title": s.title,
                "minutes": f"{sum(line.minutes for line in s.lines):.0f}",
                "lines": [_line(library, subject, line, kind, rate) for line in s.lines],
            }
            for s in form.stations
        ],
        "left_out": form.left_out,
        "dry_runs": [{"id": k, "what": v} for k, v in form.dry_runs],
        "figures": [{"id": k, "what": v, "value": subject.figures.get(k, "").strip()} for k, v in form.figures],
        "findings": [
            {"id": f, "said": FINDING_WORDS.get(f, f), "head": BROKEN.get(f, FINDING_WORDS.get(f, f))}
            for f in FINDINGS
            if not (kind == "purchase" and f == "renewed")
        ],
        "states": list(words["states"].values()),
        "currency": trip.head.currency if trip else "units",
        "rate": f"{rate:g}" if rate else "",
        "buying": _buying(library, subject, form) if kind == "purchase" else None,
        "after": _after(subject, trip) if kind == "after-trip" else None,
    }


def _line(library: Library, subject: Subject, line: FormLine, kind: str, rate: float) -> dict[str, Any]:
    mode = library.failure_modes[line.mode]
    return {
        "number": line.number,
        "mode": line.mode,
        "title": line.title,
        "how": inline(line.how),
        "accept": inline(line.accept),
        "minutes": f"{line.minutes:g}",
        "tools": ", ".join(line.tools),
        "measured": line.measured,
        "unsafe": line.unsafe,
        "sure": line.sure,
        "positions": [{"name": name, "before": _before(subject, line.mode, name)} for name in line.positions or ("",)],
        "cost": _cost(line.mode, mode, rate) if kind == "purchase" else None,
    }


def _before(subject: Subject, mode: str, position: str) -> str:
    """What was found here before, in a few words; blank where nothing was."""
    found = subject.found.get((mode, position)) or subject.found.get((mode, ""))
    if found is None:
        return ""
    said = FINDING_WORDS.get(found.finding, found.finding)
    who = f", {found.inspector}" if found.inspector else ""
    return f"{said}, {found.date.isoformat()}{who}"


def _cost(key: str, mode: FailureMode, rate: float) -> dict[str, Any] | None:
    """What putting it right costs, low and high, with the hours priced where a rate is stated; None without a known work."""
    cost = cost_to_put_right(key, mode)
    if cost is None:
        return None
    low, high = cost.with_work(rate)
    hours = f"{cost.hours_low:g}" if cost.hours_low == cost.hours_high else f"{cost.hours_low:g} to {cost.hours_high:g}"
    return {
        "low": f"{low:.0f}",
        "high": f"{high:.0f}",
        "hours": hours,
        "hours_low": f"{cost.hours_low:g}",
        "hours_high": f"{cost.hours_high:g}",
    }


def _buying(library: Library, subject: Subject, form: Form) -> dict[str, Any]:
    """What a purchase form ends in: reasons to walk away, what carries the vehicle first, and what stays unseen."""
    found = buying(library, subject.features, form)
    return {
        "structure": sorted(found.structure),
        "carries": [title for mode, title in found.walk_away if mode in found.structure],
        "stops": [title for mode, title in found.walk_away if mode not in found.structure],
        "poorly_seen": [f"{title} ({sure.split(';')[0]})" for title, sure in found.poorly_seen],
        "hidden": [{"what": inline(what), "ask": inline(ask)} for what, ask in found.hidden],
    }


def _after(subject: Subject, trip: Trip | None) -> dict[str, Any] | None:
    """What the trip left to do on this vehicle, as it came back; None for a blank form."""
    if trip is None:
        return None
    found = after_trip(trip).of(subject.id)
    names = {v.id: v.name for v in trip.vehicles}
    return {
        "faults": [_fault(f) for f in found.faults],
        "restock": [{"name": r.name, "packs": f"{r.packs:g}", "why": _gone(r.used, r.lost)} for r in found.restock],
        "loans": [
            {
                "name": x.name,
                "packs": f"{x.packs:g}",
                "from": names.get(x.vehicle, x.vehicle),
                "to": names.get(x.to, x.to) or "nobody named",
                "way": "left with" if x.left else "lent to",
                "day": x.day,
                "back": x.back,
            }
            for x in found.loans
        ],
        "out": [{"day": o.day, "kit_moved": o.kit_moved, "note": o.note} for o in found.out],
    }


def _fault(fault: Fault) -> dict[str, Any]:
    work = f"{fault.mend}, {fault.hours:g} h" if fault.mend and fault.hours is not None else ""
    return {
        "title": fault.title,
        "position": fault.position,
        "found": fault.found,
        "unsafe": fault.unsafe,
        "when": "; ".join(filter(None, (fault.day.isoformat(), fault.who, fault.note))),
        "before": not fault.new,
        "work": work,
    }


def _gone(used: float, lost: float) -> str:
    return ", ".join(f"{n:g} {what}" for n, what in ((used, "used"), (lost, "lost")) if n)


# ------------------------------------------------------------------------------------------------ pages
def _page(words: Words, paper: str, context: dict[str, Any], bodies: list[str], script: bool) -> str:
    """A self-contained file: style and script inside, nothing fetched."""
    style = style_text() + size_style(paper) + _footer(context)
    code = _script() if script else ""
    policy = (
        f"default-src 'none'; style-src {digest_source(style)}; "
        + (f"script-src {digest_source(code)}; " if code else "")
        + "img-src data:; base-uri 'none'; form-action 'none'"
    )
    return (
        templates()
        .get_template("form_page.html")
        .render(
            {
                **context,
                "bodies": [lower_headings(b) for b in bodies] if len(bodies) > 1 else bodies,
                "style": style,
                "script": code,
                "policy": policy,
                "language": words["language"],
                "joined": len(bodies) > 1,
            }
        )
    )


def _script() -> str:
    folder = shipped_folder("site_template") / "js"
    return "\n".join((folder / n).read_text(encoding="utf-8") for n in FORM_SCRIPTS).replace("</", "<\\/")


def _footer(context: dict[str, Any]) -> str:
    from fieldkit.handbook.render import css_string

    left = css_string(f"{context['kind_title']} · {context['trip']} · revision {context['revision']}")
    return f"@page {{ @bottom-left {{ content: {left}; }} }}\n"


def _index(words: Words, paper: str, contexts: list[dict[str, Any]], trip: Trip | None, short: bool) -> str:
    """Links to the forms, and what was found so far on all vehicles together."""
    found = [
        {
            "title": r.title,
            "unsafe": r.unsafe and r.counts["defective"] > 0,
            "counts": [r.counts[f] for f in FINDINGS],
            "where": [(FINDING_WORDS.get(f, f), ", ".join(r.where[f])) for f in ("defective", "worn") if r.where[f]],
        }
        for r in (findings_by_mode(trip) if trip else ())
    ]
    body = (
        templates()
        .get_template("form_index.html")
        .render(
            forms=contexts,
            kind_title=contexts[0]["kind_title"],
            short=short,
            many=len(contexts) > 1,
            found=found,
            kinds=[FINDING_WORDS.get(f, f) for f in FINDINGS],
        )
    )
    return _page(words, paper, {**contexts[0], "heading": "Inspection forms", "slug": "forms"}, [body], script=False)
