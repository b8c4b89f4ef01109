"""Symptom pages: causes ranked, what to look at, and a numbered tree that works on paper; the finder's data."""

from __future__ import annotations

from typing import Any

from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.markup import inline
from fieldkit.handbook.other_units import in_both
from fieldkit.handbook.words import LADDER, Figure
from fieldkit.likelihood import posterior
from fieldkit.likelihood.result import Diagnosis
from fieldkit.specs.library import FailureMode, Symptom

SENSES = ("see", "hear", "smell", "feel", "gauge")


def symptom_pages(facts: Facts) -> list[Page]:
    """The finder with the list by sense, and one page per symptom."""
    return [_index(facts), *(_page(facts, key, symptom) for key, symptom in sorted(facts.library.symptoms.items()))]


def _index(facts: Facts) -> Page:
    groups = []
    for sense in SENSES:
        found = [
            {"key": f"symptoms/{k}", "id": k, "text": s.text, "stop_first": s.stop_first}
            for k, s in sorted(facts.library.symptoms.items(), key=lambda x: x[1].text)
            if s.sense == sense
        ]
        if found:
            groups.append({"sense": sense, "name": facts.words.label("senses", sense), "symptoms": found})
    context = {
        "groups": groups,
        "vehicles": [{"id": v.id, "name": v.name} for v in facts.vehicles],
    }
    return Page("symptoms/index", facts.words["titles"]["symptoms"], "symptoms.html", "symptoms", context)


def _page(facts: Facts, key: str, symptom: Symptom) -> Page:
    ranked = ranked_causes(facts, key)
    context = {
        "id": key,
        "sense": facts.words.label("senses", symptom.sense),
        "also_called": list(symptom.also_called),
        "stop_first": symptom.stop_first,
        "first_action": inline(symptom.first_action),
        "causes": [_cause(facts, key, c) for c in ranked],
        "elsewhere": _elsewhere(facts, key),
        "tree": question_tree(facts, key, ranked),
        "tell": list(facts.words["help_call"]["tell"]),
    }
    return Page(f"symptoms/{key}", symptom.text, "symptom.html", "symptoms", context, also=symptom.also_called)


# ---------------------------------------------------------------------------------------------- ranking
def ranked_causes(facts: Facts, symptom: str) -> list[dict[str, Any]]:
    """Weak points that show this symptom on a vehicle of the trip, likeliest first.

    Each with its chance by vehicle (None where the vehicle has no such part) and the mean over those that have it.
    """
    table: dict[str, dict[str, float]] = {}
    for vehicle in facts.vehicles:
        diagnosis = facts.plan.diagnosis[vehicle.id]
        if symptom not in diagnosis.symptoms:
            continue
        row = diagnosis.symptoms.index(symptom)
        chances = posterior(diagnosis, [symptom])
        for n, cause in enumerate(diagnosis.causes):
            if diagnosis.link[row, n] > 0:
                table.setdefault(cause, {})[vehicle.id] = float(chances[n])
    mean = {c: sum(by.values()) / len(by) for c, by in table.items()}
    return [{"mode": c, "by": table[c], "mean": mean[c]} for c in sorted(table, key=lambda c: (-mean[c], c))]


def _cause(facts: Facts, symptom: str, ranked: dict[str, Any]) -> dict[str, Any]:
    mode_id = ranked["mode"]
    mode = facts.mode(mode_id)
    shows = next(s.probability for s in mode.symptoms if s.id == symptom)
    return {
        **facts.mode_ref(mode_id),
        "chances": _chances(facts, ranked["by"]),
        "why": inline(mode.mechanism),
        "shows": facts.words.chance(shows),
        "question": inline(mode.field_test.question),
        "minutes": mode.field_test.minutes,
        "severity": severity_words(facts, mode),
        "repairs": [facts.repair_ref(p) for p in facts.repairs_of.get(mode_id, ()) if facts.suits(p.id)],
    }


def _chances(facts: Facts, by: dict[str, float]) -> list[dict[str, Any]]:
    """Chances in words, vehicles of the same words together; each one's own percentage a tap away."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for vehicle in facts.vehicles:
        if vehicle.id in by:
            figure = facts.words.chance_figure(by[vehicle.id])
            groups.setdefault(figure.said, []).append((vehicle.name, figure.exact))
    return [
        {"vehicles": ", ".join(name for name, _ in found), "said": Figure(said, ", ".join(exact for _, exact in found))}
        for said, found in groups.items()
    ]


def severity_words(facts: Facts, mode: FailureMode) -> str:
    """A severity in words, with the sub-kind of an unsafe one."""
    said = facts.words.label("severities", mode.severity)
    if mode.unsafe_kind:
        said += f": {facts.words.label('unsafe_kinds', mode.unsafe_kind)}"
    return said


def _elsewhere(facts: Facts, symptom: str) -> list[dict[str, Any]]:
    """Weak points with this symptom that no vehicle of the trip has: kept, since a handbook may be lent."""
    return [
        facts.mode_ref(m)
        for m in facts.modes_in_order
        if any(s.id == symptom for s in facts.mode(m).symptoms) and not any(facts.has(v, m) for v in facts.vehicles)
    ]


# ------------------------------------------------------------------------------------------------- tree
def question_tree(facts: Facts, symptom: str, ranked: list[dict[str, Any]]) -> dict[str, Any]:
    """The closed questions in order of (chance x payoff) / (minutes + risk), at most eight.

    Every exit is a step of this page, a repair, or a stop: ``exits`` holds (answer, kind, target). A repair's own
    check comes after it; where the symptom stays, the tree goes on at ``resume``.
    """
    settings = facts.words["tree"]
    order = sorted(ranked, key=lambda c: (-_worth(facts, c, settings), c["mode"]))[: settings["most_questions"]]
    nodes = []
    for number, cause in enumerate(order, 1):
        last = number == len(order)
        onward = ("stop", "stop") if last else ("step", number + 1)
        mode = facts.mode(cause["mode"])
        repairs = [facts.repair_ref(p) for p in facts.repairs_of.get(cause["mode"], ()) if facts.suits(p.id)]
        yes = [("yes", "repair", r["id"]) for r in repairs] or [("yes", "stop", "stop")]
        nodes.append(
            {
                "number": number,
                "question": inline(mode.field_test.question),
                "minutes": mode.field_test.minutes,
                "cause": facts.mode_ref(cause["mode"]),
                "stop_first": mode.severity == "unsafe",
                "severity": severity_words(facts, mode),
                "repairs": repairs,
                "exits": [*yes, ("no", *onward)],
                "resume": onward,
            }
        )
    return {"nodes": nodes, "left_over": [facts.mode_ref(c["mode"]) for c in ranked if c not in order]}


def _worth(facts: Facts, cause: dict[str, Any], settings: dict[str, Any]) -> float:
    mode = facts.mode(cause["mode"])
    return float(
        cause["mean"] * settings["payoff"][mode.severity] / (mode.field_test.minutes + settings["risk_minutes"])
    )


# ---------------------------------------------------------------------------------------------- finder
def finder_data(facts: Facts) -> dict[str, Any]:
    """What the finder's script needs: the diagnosis tables at full precision, repairs, and words.

    ``vehicles[id]``: ``causes`` with ``prior``, ``symptoms`` with ``leak``, ``link`` as [symptom, cause, p] triples.
    """
    modes = sorted({c for v in facts.vehicles for c in facts.plan.diagnosis[v.id].causes})
    return {
        "symptoms": {
            k: {"text": s.text, "also": list(s.also_called)} for k, s in sorted(facts.library.symptoms.items())
        },
        "ladder": [list(rung) for rung in LADDER],
        "modes": {m: _finder_mode(facts, m) for m in modes},
        "vehicles": {v.id: _table(facts.plan.diagnosis[v.id]) for v in facts.vehicles},
    }


def _finder_mode(facts: Facts, mode_id: str) -> dict[str, Any]:
    mode = facts.mode(mode_id)
    test = mode.field_test
    return {
        "title": mode.title,
        "why": in_both(mode.mechanism, facts.words.imperial),
        "severity": severity_words(facts, mode),
        "look": in_both(test.question, facts.words.imperial),
        "minutes": test.minutes,
        "hit": test.hit,
        "false": test.false_alarm,
        "repairs": [p.id for p in facts.repairs_of.get(mode_id, ())],
    }


def _table(d: Diagnosis) -> dict[str, Any]:
    return {
        "causes": list(d.causes),
        "prior": [float(p) for p in d.prior],
        "symptoms": list(d.symptoms),
        "leak": [float(p) for p in d.leak],
        "link": [
            [row, column, float(d.link[row, column])]
            for row in range(len(d.symptoms))
            for column in range(len(d.causes))
            if d.link[row, column] > 0
        ],
    }
