"""The kit as a whole: what is in and why, what was left out, how the choice was proven, and the curve."""

from __future__ import annotations

from typing import Any

from fieldkit.handbook import charts
from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.markup import inline
from fieldkit.handbook.vehicles import packing_line
from fieldkit.handbook.words import Figure, hours, in_words, joined, kilograms
from fieldkit.kit.result import Swap


def kit_page(facts: Facts) -> Page:
    """The chosen kit with its proof, curve, and what it does not cover."""
    kit = facts.plan.kit
    context = {
        "lines": [
            _line(facts, e) for e in sorted(kit.items, key=lambda e: (e.must_carry, -(e.adds_hours or 0), e.item))
        ],
        "mass": f"{kit.mass_kg:.0f} kg",
        "must_mass": f"{kit.must_carry_kg:.0f} kg",
        "without": Figure(hours(kit.hours_without), f"{kit.hours_without:.3g} h"),
        "with_kit": Figure(hours(kit.hours_with), f"{kit.hours_with:.3g} h"),
        "greedy": _greedy(facts),
        "said": facts.words["kit_page"],
        "firm": any(e.firmness for e in kit.items),
        "proof": _proof(facts),
        "curve": charts.kit_curve(facts),
        "left_out": [_left(facts, x) for x in kit.left_out],
        "uncovered": _uncovered(facts),
        "limits": [
            {"name": k.replace("_", " "), "used": f"{used:.4g}", "limit": f"{limit:.4g}"}
            for k, (used, limit) in sorted(kit.limits.items())
        ],
        "backups": list(kit.backups),
        "drop_out": [{"vehicle": facts.name(v), "lines": list(lines)} for v, lines in kit.drop_out.items()],
        "notes": [inline(n) for n in kit.notes],
        "swaps": [
            _swap(facts, words, s)
            for words, s in (("5 kg more buys", kit.next_kg), ("to save 5 kg, drop", kit.drop_kg))
            if s
        ],
        "groups": [
            {"names": joined([facts.item_name(i) for i in g.items]), "adds": hours(g.adds_hours)} for g in kit.groups
        ],
        "lightest": f"{kit.lightest_kg:.0f} kg" if kit.lightest_kg is not None else "",
        "trials": _trials(facts),
    }
    return Page("kit", facts.words["titles"]["kit"], "kit.html", "kit", context)


def _line(facts: Facts, entry: Any) -> dict[str, Any]:
    return {
        **packing_line(facts, entry),
        "where": f"{facts.name(entry.vehicle)}, {facts.place(entry.vehicle, entry.place)}",
        "adds": hours(entry.adds_hours) if entry.adds_hours else "",
        "exact": f"{entry.adds_hours:.3g} h" if entry.adds_hours else "",
    }


def _proof(facts: Facts) -> dict[str, str]:
    proof, kit = facts.plan.kit.proof, facts.plan.kit
    if proof.optimal:
        said = "No kit within the limits would save more hours, as far as the estimates are right. This was proven."
    else:
        said = f"Within {100 * kit.proof.gap:.2g} % of the best possible: the search stopped there."
    by = "failure patterns of simulated trips" if kit.chosen_by == "patterns" else "the plain program"
    return {
        "said": said,
        "by": by,
        "exact": f"saves {proof.objective:.4g} h; bound {proof.bound:.4g} h; gap {proof.gap:.2g}",
    }


def _greedy(facts: Facts) -> Figure | None:
    """What choosing one thing after another would leave lost; None where that was not worked out."""
    kit = facts.plan.kit
    if kit.greedy_hours_with is None:
        return None
    more = kit.greedy_hours_with - kit.hours_with
    apart = f"{more:.3g} h more than this kit" if more > 0.05 else "no more than this kit"
    return Figure(f"{hours(kit.greedy_hours_with)}, {apart}", f"{kit.greedy_hours_with:.4g} h")


def _left(facts: Facts, left: Any) -> dict[str, str]:
    return {
        "name": facts.item_name(left.item),
        "mass": f"{kilograms(left.mass_kg)} kg",
        "adds": hours(left.would_add_hours),
    }


def _swap(facts: Facts, words: str, swap: Swap) -> dict[str, str]:
    """What another few kilograms buy, or what to give up to save some."""
    return {
        "words": words,
        "mass": f"{swap.mass_kg:+.1f} kg",
        "hours": hours(abs(swap.hours)),
        "enters": joined([facts.item_name(i) for i in swap.enters]) or "nothing",
        "leaves": joined([facts.item_name(i) for i in swap.leaves]) or "nothing",
    }


def _uncovered(facts: Facts) -> list[dict[str, Any]]:
    """Weak points that no carried repair covers, most hours first."""
    found = [c for c in facts.plan.kit.cover if not c.procedures and c.mode in facts.library.failure_modes]
    found.sort(key=lambda c: (-c.hours_with, c.vehicle, c.mode))
    return [
        {**facts.mode_ref(c.mode), "vehicle": facts.name(c.vehicle), "lost": hours(c.hours_with), "why": c.why_not}
        for c in found[:20]
    ]


def _trials(facts: Facts) -> dict[str, Any]:
    trials = facts.plan.trials
    error = trials.standard_error

    def exact(name: str, unit: str = "") -> str:
        return f"{getattr(trials, name):.4g}{unit}, standard error {error[name]:.2g}"

    return {
        "unassisted": Figure(in_words(trials.unassisted), exact("unassisted")),
        "stranded": Figure(in_words(trials.stranded), exact("stranded")),
        "lost": Figure(hours(trials.hours_lost), exact("hours_lost", " h")),
        "runs": f"{trials.runs:,}",
        "quantiles": [
            hours(trials.quantiles[q]) if trials.quantiles[q] >= 0.05 else "none" for q in ("10", "50", "90")
        ],
        "trouble": [
            {
                **facts.mode_ref(t.mode),
                "vehicle": facts.name(t.vehicle),
                "failures": facts.words.times(t.failures),
                "lost": hours(t.hours_lost),
                "stranded": in_words(t.stranded),
            }
            for t in trials.trouble[:10]
            if t.mode in facts.library.failure_modes
        ],
        "unused": [
            {"name": facts.item_name(i), "said": in_runs(share)}
            for i, share in sorted(trials.unused.items(), key=lambda u: (-u[1], u[0]))[:15]
        ],
    }


def in_runs(share: float) -> str:
    """A share of the trial runs.

    >>> [in_runs(s) for s in (0.998, 0.91, 0.0)]
    ['nearly all runs', 'about 9 in 10 runs', 'no run']
    """
    said = {"nearly certain": "nearly all runs", "none": "no run"}
    words = in_words(share)
    return said.get(words, f"{words} runs")
