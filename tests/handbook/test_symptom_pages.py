"""Symptom pages: ranking, table and the numbered tree (docs: handbook requirements H39-H44)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import networkx as nx
import pytest
from html_tools import by_class, main, text

from fieldkit.handbook.symptoms import finder_data, question_tree, ranked_causes
from fieldkit.likelihood import posterior

SYMPTOMS = ["gauge-climbs", "puddle-below", "pulls-to-a-side", "sweet-smell", "wheel-off-centre", "white-smoke"]


def graph_of(tree: dict[str, Any]) -> nx.DiGraph:
    """The tree as it is printed: questions, repairs (with the question to resume at), and the stop."""
    graph = nx.DiGraph()
    graph.add_node("stop", kind="stop")
    for node in tree["nodes"]:
        graph.add_node(node["number"], kind="question")
        for _, kind, target in node["exits"]:
            name = target if kind != "repair" else f"repair {node['number']} {target}"
            graph.add_node(name, kind={"step": "question"}.get(kind, kind))
            graph.add_edge(node["number"], name)
            if kind == "repair":
                graph.add_edge(name, "stop" if node["resume"][0] == "stop" else node["resume"][1])
    return graph


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_the_tree_has_no_dead_end_no_circle_and_typed_leaves(facts: Any, symptom: str) -> None:
    """H40: every exit is a question, a repair or the stop; all are reached; nothing goes round."""
    graph = graph_of(question_tree(facts, symptom, ranked_causes(facts, symptom)))
    assert nx.is_directed_acyclic_graph(graph)
    assert set(nx.descendants(graph, 1)) | {1} == set(graph.nodes)
    assert [n for n in graph if graph.out_degree(n) == 0] == ["stop"]
    assert {d["kind"] for _, d in graph.nodes(data=True)} <= {"question", "repair", "stop"}


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_both_answers_have_an_exit_and_paths_are_short(facts: Any, symptom: str) -> None:
    """H40, H42: closed questions, at most eight."""
    tree = question_tree(facts, symptom, ranked_causes(facts, symptom))
    assert len(tree["nodes"]) <= 8
    for node in tree["nodes"]:
        assert {answer for answer, _, _ in node["exits"]} == {"yes", "no"}
        assert str(node["question"]).endswith("?")


def test_questions_go_by_chance_and_payoff_per_minute(facts: Any) -> None:
    """H42: quick, telling and grave ones first."""
    ranked = ranked_causes(facts, "gauge-climbs")
    settings = facts.words["tree"]

    def worth(cause: dict[str, Any]) -> float:
        mode = facts.mode(cause["mode"])
        return float(
            cause["mean"] * settings["payoff"][mode.severity] / (mode.field_test.minutes + settings["risk_minutes"])
        )

    expected = [c["mode"] for c in sorted(ranked, key=worth, reverse=True)]
    assert [n["cause"]["id"] for n in question_tree(facts, "gauge-climbs", ranked)["nodes"]] == expected


def test_the_table_ranks_by_the_posterior(facts: Any) -> None:
    """The figures are the likelihood rank's own, not the pages'."""
    ranked = ranked_causes(facts, "gauge-climbs")
    diagnosis = facts.plan.diagnosis["tern"]
    exact = posterior(diagnosis, ["gauge-climbs"])
    for cause in ranked:
        assert cause["by"]["tern"] == exact[diagnosis.causes.index(cause["mode"])]
    means = [c["mean"] for c in ranked]
    assert means == sorted(means, reverse=True)


def test_a_cause_says_its_repairs_or_that_there_is_none(built: Path) -> None:
    """H39: cause and remedy in pairs; H58: by number."""
    rows = main(built / "symptoms" / "wheel-off-centre.html").findall(".//tbody/tr")
    then = {text(r.find("th/a")): text(r.findall("td")[-1]) for r in rows}
    assert "Fit the spare tie rod (repair 5)" in then["Tie rod bent"]
    assert "not covered" in then["Tie rod bent"]
    assert "Plug a tread puncture (repair 7)" in then["Tyre punctured in the tread"]


def test_the_tree_is_numbered_text(built: Path) -> None:
    """H43: exits are words that work on paper."""
    body = main(built / "symptoms" / "wheel-off-centre.html")
    nodes = by_class(body, "tree")[0].findall("li")
    assert text(nodes[0].find("p")).startswith("1 ")
    assert "Go to question 2" in text(nodes[0])
    assert "Stop and call" in text(nodes[-1])


def test_the_stop_says_what_to_tell(built: Path, facts: Any) -> None:
    """H44."""
    stop = by_class(main(built / "symptoms" / "white-smoke.html"), "stop")[0]
    assert [text(li) for li in stop.findall("ol/li")] == list(facts.words["help_call"]["tell"])


def test_every_repair_of_a_tree_has_a_check(facts: Any) -> None:
    """H41: after the repair its check shows whether the sign is gone."""
    for symptom in SYMPTOMS:
        for node in question_tree(facts, symptom, ranked_causes(facts, symptom))["nodes"]:
            for repair in node["repairs"]:
                assert facts.library.procedures[repair["id"]].sections["Check"]


def test_a_symptom_of_other_builds_only_says_so(facts: Any, built: Path) -> None:
    """Plover has no tie rod: the weak point is kept in the book, and marked as not its own."""
    body = text(main(built / "weak-points" / "rod-bent.html"))
    assert "Plover" not in body
    assert "Tern" in body


def test_finder_data_holds_the_tables_unrounded(facts: Any) -> None:
    data = finder_data(facts)
    diagnosis = facts.plan.diagnosis["plover"]
    table = data["vehicles"]["plover"]
    assert table["prior"] == [float(p) for p in diagnosis.prior]
    assert [tuple(x) for x in table["link"]] == [
        (r, c, float(diagnosis.link[r, c]))
        for r in range(len(diagnosis.symptoms))
        for c in range(len(diagnosis.causes))
        if diagnosis.link[r, c] > 0
    ]
