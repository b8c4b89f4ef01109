"""The fixed form of a field repair's page (docs: handbook requirements H1-H13, H20-H26)."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from html_tools import by_class, main, text

from fieldkit.handbook.facts import Facts
from fieldkit.handbook.repairs import REPEATS_TO_TOP, close_up, hazard_box, place_hazards, repair_pages
from fieldkit.specs.library import Hazard

ORDER = ["glance", "when", "before", "safety", "steps", "check", "after", "fails", "return"]
SLOTS = ["State to reach first", "People and skill", "Time", "Tools", "Supplies", "Spares"]
REPAIRS = [
    "cool-down-and-clear-the-core",
    "fit-the-spare-tie-rod",
    "plug-a-tread-puncture",
    "replace-a-coolant-hose",
    "splint-a-bent-tie-rod",
    "stay-and-call-for-a-tow",
    "wrap-a-coolant-hose-with-tape",
]


def page(built: Path, repair: str) -> Any:
    return main(built / "repairs" / f"{repair}.html")


@pytest.mark.parametrize("repair", REPAIRS)
def test_sections_stand_in_the_fixed_order(built: Path, repair: str) -> None:
    """H1, H72: the same blocks in the same order on every page, title first."""
    body = page(built, repair)
    assert [e.tag for e in body][:3] == ["p", "h1", "p"]
    found = [s.get("id", "").rsplit("-", 1)[-1] for s in body.findall("section")]
    assert found == ORDER


@pytest.mark.parametrize("repair", REPAIRS)
def test_six_slots_none_left_empty(built: Path, repair: str) -> None:
    """H2: an empty slot says None."""
    slots = by_class(page(built, repair), "slots")[0]
    assert [text(d.find("dt")) for d in slots.findall("div")] == SLOTS
    assert all(text(d.find("dd")) for d in slots.findall("div"))


def test_an_empty_slot_says_none(built: Path) -> None:
    slots = by_class(page(built, "wrap-a-coolant-hose-with-tape"), "slots")[0]
    said = {text(d.find("dt")): text(d.find("dd")) for d in slots.findall("div")}
    assert said["Tools"] == "None"
    assert said["Spares"] == "None"
    assert said["People and skill"] == "1 person; anyone"
    assert said["Time"] == "about 20 min"


def test_gear_says_quantity_and_where_it_is_packed(built: Path) -> None:
    """H3: name, quantity with its unit, and the place in the packing list."""
    lines = [text(li) for li in by_class(page(built, "replace-a-coolant-hose"), "gear")[1].findall("li")]
    assert lines == ["hose clamps , 2 of the 12 in a pack: Tern , drawers in the load space"]


def test_gear_that_is_not_carried_says_so(built: Path) -> None:
    """H3: NOT PACKED stands where the kit has none and no stand-in."""
    said = [text(e) for e in by_class(page(built, "fit-the-spare-tie-rod"), "gear")]
    assert said[-1] == "tie rod , 1 piece: NOT PACKED"
    cover = [text(e) for e in page(built, "fit-the-spare-tie-rod").iter("dd") if e.get("data-cover")]
    assert cover == ["Tern: not covered , lacks tie rod"]


def test_a_repair_names_the_vehicles_it_suits_and_no_others(built: Path) -> None:
    """A tie rod repair is not offered on the vehicle that has none."""
    said = [text(e) for e in page(built, "splint-a-bent-tie-rod").iter("dd") if e.get("data-cover")]
    assert said == ["Tern: covered"]


@pytest.mark.parametrize("repair", REPAIRS)
def test_lists_are_nested_once_at_most(built: Path, repair: str) -> None:
    """H6: sub-steps are one level deep."""

    def depth(element: Any) -> int:
        inside = max((depth(child) for child in element), default=0)
        return inside + (element.tag in ("ol", "ul"))

    assert depth(by_class(page(built, repair), "steps")[0]) <= 2


def test_a_step_has_action_expectation_parts_and_note_in_order(built: Path) -> None:
    steps = by_class(page(built, "replace-a-coolant-hose"), "step")
    assert [text(p) for p in steps[1].findall("p")] == [
        "2 Pull off the old hose.",
        "Then: Coolant runs out into the tray.",
    ]
    last = [(e.tag, text(e)) for e in steps[3] if e.tag in ("p", "ul")]
    assert last == [
        ("p", "4 Fill the system to 20 mm (0.8 in) below the neck."),
        ("ul", "If the level falls, top up again."),
        ("p", "Note: The level falls once the thermostat opens."),
    ]


def test_values_are_said_in_both_systems(built: Path) -> None:
    """H7: a pressure never stands in a sentence only."""
    table = main(built / "repairs" / "plug-a-tread-puncture.html").find(".//table")
    assert table is not None
    assert [text(r) for r in table.findall("tbody/tr")] == ["step 3 240 kPa (35 psi)"]


def test_a_step_message_stands_right_before_its_action_in_one_block(built: Path) -> None:
    """H23: inside the same unbreakable block, before the action."""
    step = by_class(page(built, "plug-a-tread-puncture"), "step")[1]
    assert step[0].get("class") == "hazard warning"
    assert step[1].get("class") == "action"
    assert "break-inside: avoid" in next(
        line for line in (built / "handbook.css").read_text().splitlines() if line.startswith(".step,")
    )


def test_only_a_notice_has_no_alert_sign(built: Path) -> None:
    """H21: the safety-alert triangle never stands on a NOTICE."""
    for path in (built / "repairs").glob("*.html"):
        for box in by_class(main(path), "hazard"):
            has_sign = any("alert" in str(e.get("class", "")).split() for e in box.iter())
            assert has_sign is ("notice" not in str(box.get("class")).split())


def test_a_box_takes_the_highest_word() -> None:
    """H26."""
    low = Hazard(word="NOTICE", hazard="a.", consequence="b.", avoid=("Do c.",))
    high = Hazard(word="WARNING", hazard="d.", consequence="e.", avoid=("Do f.",))
    assert hazard_box([low, high])["word"] == "WARNING"


def test_a_message_that_repeats_moves_to_the_top() -> None:
    """H25: the same message at three steps is said once, before step 1."""
    messages = tuple(
        Hazard(word="CAUTION", hazard="Edges cut.", consequence="Hands bleed.", avoid=("Wear gloves.",), step=n)
        for n in range(1, REPEATS_TO_TOP + 1)
    )
    top, by_step = place_hazards(messages, steps=5)
    assert by_step == {}
    assert [len(box["messages"]) for box in top] == [1]


def test_a_message_of_a_step_that_is_not_there_is_not_lost() -> None:
    message = Hazard(word="CAUTION", hazard="Edges cut.", consequence="Hands bleed.", avoid=("Wear gloves.",), step=9)
    top, by_step = place_hazards((message,), steps=3)
    assert len(top) == 1
    assert by_step == {}


def test_a_short_command_leads_its_message(built: Path) -> None:
    """H22: the three parts are there, and a short way to avoid it is said first."""
    box = by_class(page(built, "splint-a-bent-tie-rod"), "hazard")[0]
    assert text(box) == (
        "DANGER Put firm support under the axle. A vehicle on a jack alone can fall. It will crush whoever lies below."
    )


def test_a_get_out_repair_states_its_limits(built: Path) -> None:
    """H10: temporary, speed, distance, when to stop."""
    after = text(page(built, "splint-a-bent-tie-rod").findall("section")[6])
    assert "Temporary" in after
    assert "At most 6 km/h (4 mph)" in after
    assert "No further than 20 km (12 mi)" in after
    assert "People aboard 1" in after
    assert "Stop when The wheel moves without the road wheels." in after


def test_trained_hands_are_asked_for(built: Path) -> None:
    """H11."""
    assert "Do not do this in the field" in text(page(built, "splint-a-bent-tie-rod"))
    assert "Do not do this in the field" not in text(page(built, "plug-a-tread-puncture"))


def test_other_repairs_are_named_with_their_number(built: Path, facts: Any) -> None:
    """H58: a reference says the number, so that paper works."""
    fails = text(page(built, "replace-a-coolant-hose").findall("section")[7])
    number = facts.numbers["wrap-a-coolant-hose-with-tape"]
    assert f"Wrap a coolant hose with tape (repair {number}) and drive out." in fails


def test_numbers_follow_the_chapters(facts: Any) -> None:
    assert [p.subsystem for p in facts.numbered] == ["cooling"] * 4 + ["steering"] * 2 + ["tyres"]
    assert sorted(facts.numbers.values()) == list(range(1, 8))


def test_every_page_carries_revision_date_vehicle_and_trip(built: Path, plan: Any) -> None:
    """H13."""
    for path in built.rglob("*.html"):
        if path.parent.name == "print" and path.name != "index.html":
            continue
        foot = text(next(iter(path_foot(path)), None))
        assert plan.trip.digest in foot, path
        assert "20 April 2031" in foot
        assert "tern, plover" in foot
        assert "Trip trip" in foot


def path_foot(path: Path) -> list[Any]:
    from html_tools import tree

    return list(tree(path).iter("footer"))


def test_a_spare_for_another_build_covers_nothing(built: Path) -> None:
    """The hose aboard suits Tern alone: it is said where it lies for whom, and the other vehicle is not covered."""
    body = page(built, "replace-a-coolant-hose")
    cover = [text(e) for e in body.iter("dd") if e.get("data-cover")]
    assert len(cover) == 1
    assert "Tern: covered" in cover[0]
    assert "Plover & <i>Co</i>: not covered , lacks coolant hose" in cover[0]
    lines = [text(li) for ul in by_class(body, "gear") for li in ul.findall("li")]
    assert [x for x in lines if x.startswith("coolant hose")] == [
        "coolant hose , 1 piece: Plover & <i>Co</i> (for Tern), drawers in the load space"
    ]


@pytest.mark.parametrize(
    ("tools", "steps", "afterwards", "leaves", "added"),
    [
        ({"wheel-chocks": 1}, "1. Lift it.", "- Log it.", "ok", ["chocks_out"]),
        ({}, "1. Chock the rear wheels.", "- Log it.", "limp", ["chocks_out"]),
        ({"wheel-chocks": 1}, "1. Lift it.\n2. Take the chocks out.", "- Log it.", "ok", []),
        ({"wheel-chocks": 1}, "1. Lift it.", "- Take the chocks out and log it.", "ok", []),
        ({"wheel-chocks": 1}, "1. Chock it for the night.", "- Log it.", "disabled", []),
        ({}, "1. Turn the screw.", "- Look again at camp.", "ok", ["log_it"]),
    ],
)  # fmt: skip
def test_the_close_up_takes_chocks_out_and_logs(
    facts: Any, tools: dict[str, int], steps: str, afterwards: str, leaves: str, added: list[str]
) -> None:
    """H9: a line is added only where the repair's own text has none, and chocks stay where the vehicle stays."""
    head = SimpleNamespace(tools=tools, conditions=(), leaves=leaves)
    procedure: Any = SimpleNamespace(head=head, sections={"Steps": steps, "Afterwards": afterwards})
    own = len(close_up(facts, procedure)) - len(added)
    assert own == 1
    assert close_up(facts, procedure)[1:] == [facts.words["words"][key] for key in added]


def test_a_raised_vehicle_sends_the_reader_to_the_rule(facts: Any, built: Path) -> None:
    """H5: how a vehicle is held up is one link away, by a name that works on paper; only where something is raised."""
    library = replace(
        facts.library, texts={**facts.library.texts, "before-going-under": "# Before going under\n\n1. Stands.\n"}
    )
    plan = SimpleNamespace(**{**vars(facts.plan), "trip": replace(facts.trip, library=library)})
    changed = Facts(plan, facts.words)
    raised = {p.key: p.context["raised"] for p in repair_pages(changed) if "raised" in p.context}
    assert raised["repairs/splint-a-bent-tie-rod"] == {"key": "rules/before-going-under", "title": "Before going under"}
    assert raised["repairs/plug-a-tread-puncture"] is None
    assert "say aloud" not in text(page(built, "plug-a-tread-puncture"))


@pytest.mark.parametrize(("repair", "said"), [("splint-a-bent-tie-rod", True), ("stay-and-call-for-a-tow", False)])
def test_a_check_that_moves_a_held_vehicle_says_what_comes_away_first(built: Path, repair: str, said: bool) -> None:
    """The check stands before the close-up: chocks and stands would still be in."""
    check = next(s for s in page(built, repair).findall("section") if s.get("id", "").endswith("-check"))
    assert ("stands and chocks away" in text(check)) == said
