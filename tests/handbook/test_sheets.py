"""Emergency pages, driver's sheets, checklists and trip sheets."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from html_tools import by_class, main, text, tree

from fieldkit.handbook.emergencies import emergency_pages, emergency_refs, longest_wait
from fieldkit.handbook.facts import Facts
from fieldkit.handbook.lists import list_pages
from fieldkit.handbook.render import render_bodies
from fieldkit.handbook.trip_sheets import devices, position, trip_pages

EMERGENCIES = [
    "fire", "fuel-smell", "grass-fire", "heat", "high-voltage", "hurt", "in-water", "line-accident", "lost", "no-brakes",
    "no-steering", "overdue", "rolled",
]  # fmt: skip


@pytest.mark.parametrize("name", EMERGENCIES)
def test_an_emergency_page_is_short_and_in_the_same_blocks(built: Path, name: str) -> None:
    """H70, H72: at most 250 words; Now, Here, Then (Say), Never, in this order on every page."""
    body = main(built / "emergency" / f"{name}.html")
    assert len(text(body).split()) <= 250
    blocks = [text(s.find("h2")) for s in body.findall("section")]
    assert blocks in (["Now", "Here", "Then", "Never"], ["Now", "Here", "Then", "Say", "Never"])


@pytest.mark.parametrize("name", EMERGENCIES)
def test_nobody_has_to_reckon_in_an_emergency(built: Path, name: str) -> None:
    """H71: no formula, no rate to multiply in what is to be done."""
    body = main(built / "emergency" / f"{name}.html")
    steps = " ".join(text(s) for s in body.findall("section") if text(s.find("h2")) != "Here")
    assert not re.search(r"\bper\b|×|=|\d\s*/\s*\d|\btimes the\b", steps), steps


def test_emergency_titles_say_what_is_seen_and_the_goal(facts: Any) -> None:
    """H37: condition, colon, goal."""
    for ref in emergency_refs(facts):
        condition, _, goal = ref["title"].partition(": ")
        assert condition and goal, ref


def test_emergency_actions_are_short_enough_to_be_read_aloud(facts: Any) -> None:
    """H14, H73: at most 20 words an action, at most four at once."""
    for page in emergency_pages(facts)[1:]:
        assert len(page.context["now"]) <= 4, page.key
        for action in [*page.context["now"], *page.context["then"], *page.context["never"]]:
            assert len(str(action).split()) <= 20, action


def test_values_are_of_this_trip(built: Path) -> None:
    """H71: what the trip knows stands on the page, worked out."""
    said = text(main(built / "emergency" / "heat.html"))
    assert "7 L (1.8 US gal) a day for each person" in said
    assert "Call Ada Brook, club duty phone" in said
    assert "none on this route: call" in said


def test_a_drivers_sheet_is_one_side_of_about_200_words(built: Path) -> None:
    for vehicle in ("tern", "plover"):
        body = main(built / "vehicles" / vehicle / "driver.html")
        words = len(text(by_class(body, "onesheet")[0]).split())
        assert 120 <= words <= 230, (vehicle, words)


def test_a_drivers_sheet_holds_what_a_guest_needs(built: Path) -> None:
    said = text(main(built / "vehicles" / "tern" / "driver.html"))
    for part in (
        "Tyres: pressures in kPa (psi), at most so many km/h (mph) On Front Rear At most sealed road 180 (26) 260 (38) 100 (62)",
        "On corrugations at most 60 km/h (37 mph)",
        "Stop and call when you notice",
        "The steering wheel stands off centre: tie rod bent",
        "First-aid kit: drawers in the load space",
        "hannel 12",
        "Day 1: Salt camp, km 180",
        "Never go under a vehicle on a jack alone",
        "Stay with the vehicle, in the open",
        "Call: Ada Brook, club duty phone",
        "name and signature",
    ):
        assert part in said, part


def test_a_checklist_has_mode_trigger_states_and_an_end(built: Path) -> None:
    """H28, H31, H33, H34, H38."""
    body = main(built / "lists" / "first-light.html")
    said = text(body)
    assert "Checklist · DO-CONFIRM" in said
    assert "When: Before the engine is started in the morning." in said
    assert "Interrupted: start again at the top." in said
    assert "Not yet tried on a vehicle" in said
    lines = [text(li) for li in by_class(body, "check")[0].findall("li")]
    assert lines == [
        "Ground below the engine – dry",
        "Four tyres – standing as high as last night a slow leak shows after a night",
        "Tie rod – straight",
        "Roof load – tight",
        "Fuel caps – closed",
    ]
    ends = [e for e in body.iter() if e.get("data-tick")]
    assert text(ends[-1]) == "List complete"
    assert "50 s to read out and answer" in said


def test_a_line_that_no_vehicle_has_the_part_for_is_left_out(facts: Any) -> None:
    library = facts.library
    library.settings["checklist-of-one"] = {
        "title": "One: is it there?",
        "mode": "READ-DO",
        "trigger": "now",
        "item": [{"object": "Winch", "state": "in", "needs": ["winch"]}, {"object": "Caps", "state": "closed"}],
    }
    try:
        page = next(p for p in list_pages(facts) if p.key == "lists/of-one")
    finally:
        del library.settings["checklist-of-one"]
    assert [str(line["object"]) for line in page.context["chunks"][0]["lines"]] == ["Caps"]


def test_each_pause_point_has_its_moment_its_seconds_and_its_end(facts: Any) -> None:
    """H28, H30, H33: also where a list is split; lines follow the walk, and a line may ask for one part of several."""
    caps = {"object": "Caps", "state": "closed", "station": "rear"}
    library = facts.library
    library.settings["checklist-of-two"] = {
        "title": "Two: are they there?",
        "mode": "READ-DO",
        "trigger": "twice",
        "part": [
            {"title": "Evening", "trigger": "after supper", "item": [caps, {"object": "Nuts", "state": "tight"}]},
            {
                "title": "Morning",
                "trigger": "before tea",
                "item": [caps, {**caps, "needs_one": ["winch", "tie-rod"]}, {**caps, "needs_one": ["winch"]}],
            },
            {"title": "Noon", "trigger": "never here", "item": [{**caps, "needs": ["winch"]}]},
        ],
    }
    try:
        page = next(p for p in list_pages(facts) if p.key == "lists/of-two")
    finally:
        del library.settings["checklist-of-two"]
    evening, morning = page.context["chunks"]
    assert [str(line["object"]) for line in evening["lines"]] == ["Nuts", "Caps"]
    assert [line["id"] for line in morning["lines"]] == ["2-1", "2-2"]
    assert (evening["trigger"], evening["seconds"], evening["end"]) == ("after supper", 20, "1-complete")
    assert morning["end"] == "2-complete"


def test_the_route_sheet_says_going_and_help_in_words(built: Path) -> None:
    rows = [text(r) for r in main(built / "trip" / "route.html").findall(".//tbody/tr")]
    assert "4 of 4, very hard: low range, walk it first" in rows[2]
    assert "none in reach: medical help" in rows[2]
    assert "about 20 hours, then to Reed Wells" in rows[2]


def test_the_convoy_sheet_compares_what_fits_what(built: Path) -> None:
    rows = {text(r.find("th")): text(r) for r in main(built / "trip" / "convoy.html").findall(".//tbody/tr")}
    assert rows["Fuel"].endswith("differ")
    assert rows["Voltage"].endswith("the same")


def test_a_position_is_read_in_degrees_and_minutes() -> None:
    """Rounding never gives 60 minutes. (Our own arithmetic; no published table.)"""
    assert position(-0.9999999, 179.99999) == "-1.0000, 180.0000 (S 1° 00.000′, E 179° 59.999′)"


def test_states_are_a_word_and_a_number(built: Path) -> None:
    said = text(main(built / "vehicles" / "index.html"))
    assert "repair before leaving (3 of 4)" in said
    assert "fit with limits (2 of 4)" in said


def test_chances_are_said_with_the_exact_figure_a_tap_away(built: Path) -> None:
    body = main(built / "vehicles" / "tern" / "index.html")
    first = by_class(by_class(body, "ranked")[0], "fig")[0]
    assert first.tag == "details"
    assert re.fullmatch(r"about \d+ in \d+", text(first.find("summary")))
    assert re.search(r"\d %; likely between .* % and .* %", text(first.find("span")))


def test_drawings_have_a_title_a_description_and_words_beside_them(built: Path) -> None:
    """H66: role, title and description with ids of their own; a caption that says the same."""
    seen = 0
    for path in built.rglob("*.html"):
        for figure in tree(path).iter("figure"):
            drawing = figure.find("{*}svg") if figure.find("svg") is None else figure.find("svg")
            assert drawing is not None and drawing.get("role") == "img", path
            names = str(drawing.get("aria-labelledby")).split()
            inside = {e.get("id"): text(e) for e in drawing.iter() if e.get("id")}
            assert all(inside.get(n) for n in names), path
            assert len(names) == 2
            assert text(figure.find("figcaption")), path
            seen += 1
    assert seen > 10


def test_difficulty_and_state_never_by_colour(built: Path) -> None:
    """Colours in the style belong to the four signal words and the pages' own ink and paper; none to states or legs."""
    css = (built / "handbook.css").read_text(encoding="utf-8")
    for word in ("fit", "repair-first", "off-the-road", "difficulty", "green", "amber"):
        assert f".{word}" not in css


# ------------------------------------------------------------------------------- what is aboard in an emergency
def with_kit(facts: Any, *items: tuple[str, str]) -> Facts:
    """The same plan with nothing packed but one of each of these, by (item, vehicle)."""
    first = facts.plan.kit.items[0]
    packed = tuple(replace(first, item=i, vehicle=v, place="drawers", suits=()) for i, v in items)
    return Facts(SimpleNamespace(**{**vars(facts.plan), "kit": replace(facts.plan.kit, items=packed)}), facts.words)


def values_of(facts: Any, name: str) -> dict[str, str]:
    page = next(p for p in emergency_pages(facts) if p.key == f"emergency/{name}")
    return {v["label"]: v["text"] for v in page.context["values"]}


def test_a_place_is_said_once_with_all_that_have_the_thing_there(facts: Any) -> None:
    """H73: short enough to be read out."""
    both = values_of(with_kit(facts, ("first-aid-kit", "tern"), ("first-aid-kit", "plover")), "hurt")["First-aid kit"]
    place = facts.place("tern", "drawers")
    if place == facts.place("plover", "drawers"):
        assert both == f"Tern, {facts.name('plover')}: {place}"
    else:
        assert both == f"Tern: {place}; {facts.name('plover')}: {facts.place('plover', 'drawers')}"
    assert values_of(with_kit(facts), "hurt")["First-aid kit"] == "NOT PACKED"


def test_what_stands_in_for_a_thing_is_named_in_its_place(facts: Any) -> None:
    """A strap of another size that is aboard must not read as none aboard."""
    library = facts.library
    aid = library.items["first-aid-kit"].model_copy(update={"substitutes": ("duct-tape",)})
    trip = replace(facts.trip, library=replace(library, items={**library.items, "first-aid-kit": aid}))
    plan = SimpleNamespace(**{**vars(with_kit(facts, ("duct-tape", "tern")).plan), "trip": trip})
    said = values_of(Facts(plan, facts.words), "hurt")
    assert said["Cloth tape"].startswith("Tern: ")
    assert "First-aid kit" not in said


def test_packed_devices_stand_on_the_card_though_the_trip_names_fewer(facts: Any) -> None:
    """The card lists what can call, also what the kit added."""
    assert devices(with_kit(facts)) == ["satellite messenger"]
    added = with_kit(facts, ("satellite-messenger", "plover"), ("satellite-phone", "tern"))
    said = devices(added)
    assert f"satellite messenger ({facts.name('plover')})" in said
    assert len(said) == 2


def test_the_longest_wait_is_for_people_and_for_a_dead_vehicle(facts: Any) -> None:
    """People are reached sooner than a vehicle: the first page says both, and where."""
    exposure = facts.plan.exposure
    km = exposure.remoteness.km
    help_h = np.full_like(km, 5.0)
    help_h[3] = 26.0
    plan = SimpleNamespace(**{
        **vars(facts.plan),
        "exposure": replace(exposure, remoteness=replace(exposure.remoteness, help_h=help_h)),
    })  # fmt: skip
    said = longest_wait(Facts(plan, facts.words))
    assert said.startswith(f"about a day for people in need (km {km[3]:.0f}); ")
    assert said.endswith(" for a dead vehicle")


def test_what_is_done_at_once_makes_sense_on_the_sheet_of_all_emergencies(facts: Any) -> None:
    """H70: the first minutes stand on one sheet without the rest of their pages."""
    for page in emergency_pages(facts)[1:]:
        for action in page.context["now"]:
            assert not re.search(r"\b(this|the) page\b|\bbelow\b|\babove\b", str(action)), action


def test_a_life_in_danger_comes_before_the_call_in_words(built: Path) -> None:
    said = text(main(built / "emergency" / "overdue.html"))
    assert (
        0
        < said.index("distress beacon on")
        < said.index("Read your position twice")
        < said.index("Call by every device")
    )


def test_nobody_goes_near_a_rolled_vehicle_before_it_is_propped(built: Path) -> None:
    then = main(built / "emergency" / "rolled.html").findall("section")[2]
    assert text(then.findall("ol/li")[0]).startswith("Prop and chock it before")


def test_the_depth_of_water_is_never_rounded_down(facts: Any) -> None:
    """0.35 m must not read as 0.3 m where a driver decides whether to cross."""
    exposure = facts.plan.exposure
    legs = (replace(exposure.legs[0], water_depth_m=0.35), *exposure.legs[1:])
    plan = SimpleNamespace(**{**vars(facts.plan), "exposure": replace(exposure, legs=legs)})
    route = next(p for p in trip_pages(Facts(plan, facts.words)) if p.key == "trip/route")
    assert route.context["legs"][0]["water"] == "0.35 m"


def test_water_for_a_day_is_one_figure_on_every_page(facts: Any) -> None:
    """The emergency page says as many litres as the route sheet."""
    supplies = replace(facts.plan.exposure.supplies, water_l_per_person_day=7.5)
    plan = SimpleNamespace(**{**vars(facts.plan), "exposure": replace(facts.plan.exposure, supplies=supplies)})
    changed = Facts(plan, facts.words)
    route = next(p for p in trip_pages(changed) if p.key == "trip/route")
    assert route.context["supplies"]["water_day"] == "7.5 L"
    assert values_of(changed, "heat")["Water"].startswith("7.5 L a day for each person.")


# ----------------------------------------------------------------------------------------------- one vehicle alone
def alone(facts: Any) -> Facts:
    """The same trip with Tern only."""
    tern = tuple(v for v in facts.trip.vehicles if v.id == "tern")
    return Facts(SimpleNamespace(**{**vars(facts.plan), "trip": replace(facts.trip, vehicles=tern)}), facts.words)


def then_of(facts: Any) -> str:
    page = next(p for p in emergency_pages(facts) if p.key == "emergency/lost")
    return " ".join(map(str, page.context["then"]))


def test_nobody_alone_is_told_that_a_convoy_looks_for_them(facts: Any) -> None:
    """A party of one vehicle waits for the missed report, and must know it."""
    assert "The convoy looks for you" in then_of(facts)
    assert "The convoy" not in then_of(alone(facts))
    assert "Nobody looks for you before a report is missed" in then_of(alone(facts))


def test_a_vehicle_alone_has_no_rules_for_a_convoy(facts: Any) -> None:
    """Its driver's sheet and its sheet of the trip leave out what only several vehicles can do."""
    together, one = ({p.key: p for p in trip_pages(f)} for f in (facts, alone(facts)))
    assert together["vehicles/tern/driver"].context["rules"]
    assert one["vehicles/tern/driver"].context["rules"] == ""
    assert not together["trip/convoy"].context["alone"]
    page = one["trip/convoy"]
    assert page.context["alone"]
    (body,) = render_bodies(alone(facts), [page])
    assert "Interchange of spares" not in str(body.html)
    assert ">Rules<" not in str(body.html)
