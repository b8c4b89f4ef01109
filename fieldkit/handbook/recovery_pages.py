"""Recovery: the order of methods, what must be pulled, and rig sheets with every part's load."""

from __future__ import annotations

from typing import Any

from fieldkit.handbook import charts
from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.library_texts import text_body
from fieldkit.handbook.markup import inline
from fieldkit.handbook.words import percent
from fieldkit.recovery import rig_sheet
from fieldkit.recovery.result import Rig, VehicleRecovery


def recovery_pages(facts: Facts) -> list[Page]:
    """The order of methods for everybody, and the figures of each vehicle."""
    recovery = facts.plan.recovery
    context = {
        "safety": [inline(s) for s in recovery.safety],
        "order": [inline(o) for o in recovery.order],
        "text": text_body(facts, "recovery-order"),
        "vehicles": [{"key": f"recovery/{v.vehicle}", "name": facts.name(v.vehicle)} for v in recovery.vehicles],
        "gear": _gear(facts),
    }
    index = Page("recovery/index", facts.words["titles"]["recovery"], "recovery_index.html", "recovery", context)
    return [index, *(_page(facts, v) for v in recovery.vehicles)]


def _gear(facts: Facts) -> list[dict[str, Any]]:
    """Recovery gear that is carried, what it is rated for, and where it is."""
    found = []
    for item, spots in sorted(facts.spots.items()):
        known = facts.library.items.get(item)
        if known and known.kind == "recovery":
            rated = f"{known.rating_kg:,.0f} kg" if known.rating_kg else "not rated"
            found.append({"name": known.name, "rated": rated, "spots": spots})
    return found


def _page(facts: Facts, found: VehicleRecovery) -> Page:
    context = {
        "name": facts.name(found.vehicle),
        "gross": facts.words.quantity(found.gross_kg, "kg", 0),
        "safety": [inline(s) for s in facts.plan.recovery.safety],
        "surfaces": _pull_table(facts, found),
        "rigs": [_rig(r) for r in found.rigs],
        "refused": [{"what": facts.item_name(a), "why": b} for a, b in found.refused],
        "cautions": [inline(c) for c in found.cautions],
    }
    title = f"Recovery figures: {facts.name(found.vehicle)}"
    return Page(f"recovery/{found.vehicle}", title, "recovery.html", "recovery", context, about=(found.vehicle,))


def _pull_table(facts: Facts, found: VehicleRecovery) -> list[dict[str, Any]]:
    """The pull table by surface, what is tried first said once for the slopes that share it; pulls from low to high, since sources disagree."""
    groups: dict[str, list[dict[str, Any]]] = {}
    for surface, slope, depth, low, high, method in found.table:
        blocks = groups.setdefault(surface, [])
        if not blocks or (blocks[-1]["depth"], blocks[-1]["method"]) != (depth, method):
            blocks.append({"depth": depth, "method": method, "rows": []})
        blocks[-1]["rows"].append({"slope": f"{slope:.0f}°", "pull": f"{low:,.0f} to {high:,.0f} kg"})
    return [{"name": charts.surface_name(facts, s), "blocks": blocks} for s, blocks in groups.items()]


def _rig(rig: Rig) -> dict[str, Any]:
    return {
        "title": rig.title or f"{rig.lines}-part line",
        "drawing": rig_sheet(rig),
        "zone": f"{rig.zone_m:.0f} m" if rig.zone_m is not None else "",
        "lines": rig.lines,
        "sheaves": rig.sheaves,
        "total": f"{rig.total_kgf:,.0f} kg",
        "fall": f"{rig.fall_line_kgf:,.0f} kg",
        "fits": rig.fits,
        "unmarked": [p.name for p in rig.parts if p.used is None],
        "weakest": rig.weakest,
        "note": rig.note,
        "parts": [
            {
                "n": n,
                "name": p.name,
                "load": f"{p.load_kgf:,.0f} kg",
                "rated": f"{p.rated_kgf:,.0f} kg" if p.rated_kgf else "not rated",
                "used": percent(p.used) if p.used is not None else "unknown",
                "weakest": p.name == rig.weakest,
            }
            for n, p in enumerate(rig.parts, 1)
        ],
    }
