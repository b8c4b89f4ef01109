"""Kinds of slip that would hurt somebody, looked for in every repair: usual workshop rules, common practice, no source."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from fieldkit.specs.library import Procedure
from fieldkit.specs.read_library import load_library

LIBRARY = load_library()
#: A brake that was opened, taken apart or pushed back: the pedal may find nothing at its first press.
BRAKE_APART = re.compile(
    r"(unbolt|hang|refit|wire|disc,) .{0,25}calliper|brake pipe|push the pistons|brake drum|bleed (that|the) (wheel|circuit)|\bbrake and wheel\b|hub, brake",
    re.I,
)
PEDAL = re.compile(r"(pump|press) the (brake )?pedal", re.I)
#: Words of a step -> the tool that it needs; each pattern is an instruction, not a mention.
NAMED = {
    r"locking (pliers|jaws)": "locking-pliers",
    r"\bdrill (them|it|out|a hole|holes|through)": "hand-drill",
    r"\bsaw (it|off|through|the)": "hacksaw",
    r"torque wrench": "torque-wrench",
    r"flare spanner": "spanner-set",
    r"\bG-clamps?\b": "bolt-g-clamps",
    r"spring balance": "spring-balance",
    r"(hold|place|set|under|above|over) the tray\b": "drain-tray",
    r"test lamp": "test-lamp",
    r"hub socket": "hub-socket",
    r"solder": "soldering-iron",
}
#: A brake that is taken apart so that its dust is stirred.
STIRS_DUST = re.compile(
    r"\b(unbolt|hang|undo) (the )?calliper|calliper (on wire|hung up)|(pads|linings) out|\b(take off|remove) .{0,40}\bdrum\b|\btake the drum off",
    re.I,
)
#: Wheels that somebody keeps from rolling, and the ways of saying that stones do.
CHOCKED = re.compile(r"\bchock(s|ed)?\b", re.I)
STONES = re.compile(r"\bchocks or stones\b|\bstones or (chocks|wood)\b", re.I)
#: Parts under tension or hammered: they fly.
FLIES = re.compile(r"\bcirclips?\b|cone washers|(drive|knock) .{0,25}\bout\b|punch dot|unhook .{0,15}spring", re.I)
#: A step at which the vehicle moves by itself.
MOVES = re.compile(r"^(drive (it|on|in low|off|at|straight)|creep|roll|pull off)\b", re.I)
#: Work that throws chips or fluid at the face.
AT_THE_FACE = {"hand-drill", "hacksaw", "brake-bleed-kit", "flaring-tool"}


def repairs() -> Iterator[tuple[str, Procedure, list[str]]]:
    for key, procedure in sorted(LIBRARY.procedures.items()):
        yield key, procedure, steps_of(procedure)


def steps_of(procedure: Procedure) -> list[str]:
    return re.findall(r"(?m)^\d+\. (.*)$", procedure.sections["Steps"])


def carried(procedure: Procedure) -> set[str]:
    head = procedure.head
    return {*head.tools, *head.supplies, *head.spares}


def test_the_pedal_is_pumped_before_a_vehicle_whose_brake_was_apart_moves() -> None:
    found = []
    for key, _, steps in repairs():
        apart = [n for n, step in enumerate(steps) if BRAKE_APART.search(step)]
        if apart and not any(PEDAL.search(step) for step in steps[apart[-1] :]):
            found.append(f"{key}: {steps[apart[-1]]}")
    assert not found, "\n".join(found)


def test_eyes_are_covered_where_chips_or_brake_fluid_fly() -> None:
    found = [
        f"{key}: {', '.join(sorted(AT_THE_FACE & carried(p)))}"
        for key, p, _ in repairs()
        if AT_THE_FACE & carried(p) and "safety-glasses" not in carried(p)
    ]
    assert not found, "\n".join(found)


def test_a_jack_comes_with_its_plate_and_chocks() -> None:
    found = [
        f"{key}: {item}"
        for key, p, _ in repairs()
        if "bottle-jack" in carried(p)
        for item in ("base-plate", "wheel-chocks")
        if item not in carried(p)
    ]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("words", sorted(NAMED))
def test_a_tool_that_a_step_names_is_listed(words: str) -> None:
    found = [
        f"{key}: {step}"
        for key, p, steps in repairs()
        for step in steps
        if re.search(words, step, re.I) and NAMED[words] not in carried(p)
    ]
    assert not found, "\n".join(found)


def test_a_helper_in_the_steps_is_counted() -> None:
    """A step that has a helper do something is not for one person alone, unless it says what one alone does."""
    helped = re.compile(r"\b(the|a) helper (press|hold|turn|pump|watch|push|swing)|have (the|a) helper", re.I)
    found = [f"{key}: {s}" for key, p, steps in repairs() for s in steps if helped.search(s) and p.head.people < 2]
    assert not found, "\n".join(found)


def test_nobody_is_sent_to_a_running_engine_with_wheels_raised() -> None:
    found = [
        f"{key}: {s}"
        for key, p, steps in repairs()
        for s in (*steps, p.sections["Check"])
        if re.search(r"in gear on stands|engine (running|at idle).{0,40}(off the ground|raised|on stands)", s, re.I)
    ]
    assert not found, "\n".join(found)


def test_protection_that_a_hazard_asks_for_is_listed() -> None:
    """Glasses and gloves named as the way to avoid a hazard are among the repair's tools."""
    found = []
    for key, p, _ in repairs():
        asked = " ".join(a for h in p.head.hazards for a in h.avoid)
        if re.search(r"glasses|cover your eyes|goggles", asked, re.I) and "safety-glasses" not in carried(p):
            found.append(f"{key}: glasses")
        if re.search(r"\bgloves\b", asked) and not any("gloves" in item for item in carried(p)):
            found.append(f"{key}: gloves")
    assert not found, "\n".join(found)


def test_the_pedal_comes_before_the_first_metre() -> None:
    found = []
    for key, _, steps in repairs():
        apart = [n for n, step in enumerate(steps) if BRAKE_APART.search(step)]
        moves = [n for n, step in enumerate(steps) if MOVES.search(step) and apart and n > apart[-1]]
        if moves and not any(PEDAL.search(step) for step in steps[apart[-1] : moves[0]]):
            found.append(f"{key}: {steps[moves[0]]}")
    assert not found, "\n".join(found)


def test_a_brake_that_was_apart_is_tried_at_walking_pace() -> None:
    found = [
        key
        for key, p, steps in repairs()
        if any(BRAKE_APART.search(step) for step in steps)
        and not re.search(r"walking pace|walk the way", " ".join((*steps, p.sections["Check"])), re.I)
    ]
    assert not found, "\n".join(found)


def test_brake_dust_is_wetted_wherever_a_brake_comes_apart() -> None:
    found = []
    for key, p, steps in repairs():
        cautions = [h for h in p.head.hazards if "dust" in h.hazard.lower()]
        if any(STIRS_DUST.search(step) for step in steps) and not cautions:
            found.append(f"{key}: {next(step for step in steps if STIRS_DUST.search(step))}")
    assert not found, "\n".join(found)


def test_whoever_lies_beneath_has_chocks_aboard() -> None:
    """A ground sheet in the list means somebody lies down; chocked wheels then take chocks, not luck."""
    found = [
        key
        for key, p, steps in repairs()
        if "ground-sheet" in p.head.tools
        and CHOCKED.search(" ".join((*p.head.conditions, *steps)))
        and "wheel-chocks" not in carried(p)
    ]
    assert not found, "\n".join(found)


def test_chocks_that_are_spoken_of_are_listed_or_made_of_stones() -> None:
    """Chocked wheels anywhere on the page take chocks from the list, or the page says that stones do."""
    found = []
    for key, p, _ in repairs():
        cautions = (words for h in p.head.hazards for words in (h.hazard, h.consequence, *h.avoid))
        page = " ".join((*p.head.conditions, *cautions, p.head.limits.stop_when, *p.sections.values()))
        if CHOCKED.search(page) and "wheel-chocks" not in carried(p) and not STONES.search(page):
            found.append(key)
    assert not found, "\n".join(found)


def test_a_look_at_chocked_wheels_has_chocks() -> None:
    found = [
        f"{key}: {mode.inspection.how}"
        for key, mode in sorted(LIBRARY.failure_modes.items())
        if mode.inspection and CHOCKED.search(mode.inspection.how) and "wheel-chocks" not in mode.inspection.tools
    ]
    assert not found, "\n".join(found)


def test_eyes_are_covered_where_parts_fly() -> None:
    found = [
        f"{key}: {step}"
        for key, p, steps in repairs()
        for step in steps
        if FLIES.search(step) and "safety-glasses" not in carried(p) and "hammer" in carried(p)
    ]
    assert not found, "\n".join(found)


def test_a_stand_that_is_named_is_listed_with_its_jack() -> None:
    found = [
        f"{key}: {item}"
        for key, p, steps in repairs()
        if re.search(
            r"\bon (a |its )?stands?\b|\bset (the|a) stands?\b",
            " ".join((*p.head.conditions, *steps, p.sections["Check"])),
            re.I,
        )
        for item in ("bottle-jack", "axle-stand")
        if item not in carried(p)
    ]
    assert not found, "\n".join(found)


def test_a_look_that_jacks_has_plate_stand_and_chocks() -> None:
    found = [
        f"{key}: {item}"
        for key, mode in sorted(LIBRARY.failure_modes.items())
        if mode.inspection and "bottle-jack" in mode.inspection.tools
        for item in ("base-plate", "axle-stand", "wheel-chocks")
        if item not in mode.inspection.tools
    ]
    assert not found, "\n".join(found)


def test_nobody_handles_a_raised_wheel_with_the_engine_on() -> None:
    """A field question about a raised wheel says that the engine is off, that a hand turns it or that the pedal is held."""
    found = []
    for key, mode in sorted(LIBRARY.failure_modes.items()):
        words = mode.field_test.question if mode.field_test else ""
        if re.search(r"\bjacked\b|on stands", words) and not re.search(r"engine off|by hand|pedal", words, re.I):
            found.append(f"{key}: {words}")
    assert not found, "\n".join(found)


#: Words of a caution that stands at a step -> the first step at which what it warns of can happen.
ARISES = {
    r"(brake|lining|clutch) dust": rf"{STIRS_DUST.pattern}|\btake the drum off|\bremove the drum",
    r"\bdrill (through|that breaks)|where the drill": r"^drill\b|\bdrill (out|it|the)\b",
    r"\bcirclips?\b": r"\bcirclips? off\b|\btake out .{0,12}circlips",
    r"\bcoil\b.*\b(load|weight|force)": r"^(jack|raise)\b.*\b(chassis|body)|lower the axle",
    r"\bbead (jumps|closes|snaps)|seating bead": r"^(inflate|fill)\b|\bfill it fast|\binflate the tyre",
    r"\btaper (lets|jumps)": r"\bsplitter\b",
    r"\bhose end whips|loose end whips": r"\bhose off\b|\bcut the damaged\b|\bswap the hose",
    r"\bfolded tent\b": r"\bundo what still holds|\bbolts? (out|one by one)",
    r"\bshafts? .{0,20}out, a handbrake": r"\bhalf-shaft\b|\bflange nuts\b",
    r"\bshoe springs|\breturn springs": r"\bunhook\b",
}


@pytest.mark.parametrize("words", sorted(ARISES))
def test_a_caution_stands_no_later_than_what_it_warns_of(words: str) -> None:
    found, seen = [], 0
    for key, p, steps in repairs():
        for h in p.head.hazards:
            if h.step is None or not re.search(words, f"{h.hazard} {h.consequence}", re.I):
                continue
            arises = [n for n, step in enumerate(steps, 1) if re.search(ARISES[words], step, re.I)]
            seen += bool(arises)
            if arises and h.step > arises[0]:
                found.append(f"{key}: '{h.hazard}' before step {h.step}, arises at {arises[0]}: {steps[arises[0] - 1]}")
    assert not found, "\n".join(found)
    assert seen, "no caution has these words: the rule holds nothing"


def test_a_caution_that_asks_for_chocks_comes_before_the_vehicle_is_raised_or_freed() -> None:
    raised = re.compile(r"^(jack|raise)\b|\bunbolt (the|that) flanges?\b|^hold the cone\b", re.I)
    found = []
    for key, p, steps in repairs():
        first = next((n for n, step in enumerate(steps, 1) if raised.search(step)), None)
        for h in p.head.hazards:
            asks = any(re.match(r"chock\b", a, re.I) for a in h.avoid)
            if asks and h.step and first and h.step > first:
                found.append(f"{key}: '{h.hazard}' before step {h.step}, raised or freed at {first}")
    assert not found, "\n".join(found)


#: A battery taken off, put back, and what needs it.
BATTERY_OFF = re.compile(
    r"battery (earth |negative |minus )?(is )?(off|disconnected)\b|disconnect the battery|(take|lift) (off )?(battery )?(minus|negative)\b",
    re.I,
)
BATTERY_ON = re.compile(
    r"\breconnect|\bconnect the battery|battery (on|back)\b|\bminus (back|last|clamp last)\b|then minus\b", re.I
)
NEEDS_CURRENT = re.compile(
    r"\bstart (the engine|and)\b|\brun the (engine|device)\b|\bidl(e|ing)\b|\bcrank(ing)?\b|\bturn the (key|starter)\b|\bunder full load\b",
    re.I,
)


def test_a_battery_that_was_taken_off_is_put_back_before_it_is_needed() -> None:
    found, seen = [], 0
    for key, p, steps in repairs():
        conditions = BATTERY_OFF.search(" ".join(p.head.conditions))
        off = 0 if conditions else next((n for n, s in enumerate(steps, 1) if BATTERY_OFF.search(s)), None)
        if off is None:
            continue
        on = next((n for n, s in enumerate(steps, 1) if n >= off and BATTERY_ON.search(s)), None)
        needed = next((n for n, s in enumerate(steps, 1) if n > off and NEEDS_CURRENT.search(s)), None)
        seen += 1
        if needed and (on is None or needed < on):
            found.append(f"{key}: step {needed} needs the battery, back on at {on}: {steps[needed - 1]}")
        elif on is None and NEEDS_CURRENT.search(p.sections["Check"]):
            found.append(f"{key}: the check needs the battery, and no step puts it back")
    assert seen > 20
    assert not found, "\n".join(found)


#: What can happen -> fire, and fibres in lungs, could kill or seriously injure: such a caution is a WARNING at least.
GRAVE = re.compile(
    r"\b(fire|flares?|alight|explo(des|ding|sion))\b|\blights? (dry )?(grass|gas|fuel)\b|\bcan flash\b|\bfibres\b|\blining dust\b|\bbead (jumps|closes|snaps)",
    re.I,
)


def test_what_could_kill_or_maim_is_a_warning() -> None:
    found = [
        f"{key}: {h.word} {h.hazard} {h.consequence}"
        for key, p, _ in repairs()
        for h in p.head.hazards
        if h.word in ("CAUTION", "NOTICE") and GRAVE.search(f"{h.hazard} {h.consequence}")
    ]
    assert not found, "\n".join(found)


# ------------------------------------------------------------------------------- pages that speak of the same moment
def emergency(key: str) -> str:
    data = LIBRARY.settings["emergencies"]["emergency"][key]
    return " ".join((*data["now"], *data["then"], *data["never"]))


def everything(key: str) -> str:
    p = LIBRARY.procedures[key]
    hazards = " ".join(" ".join((h.hazard, h.consequence, *h.avoid)) for h in p.head.hazards)
    return " ".join((hazards, *p.head.conditions, p.head.limits.stop_when, *p.sections.values()))


def test_how_far_people_stand_off_is_one_figure_for_one_fire() -> None:
    """The emergency page, the sign and the repair say the same metres upwind."""

    def upwind(text: str) -> set[str]:
        near = re.findall(r"(\d+) m\b[^.]{0,25}upwind|upwind[^.]{0,15}?(\d+) m\b", text)
        return {figure for pair in near for figure in pair if figure}

    fire = {*upwind(emergency("fire")), *upwind(LIBRARY.symptoms["smoke-from-under-vehicle"].first_action)}
    assert fire == {"50"}
    battery = {*upwind(emergency("high-voltage")), *upwind(everything("make-a-faulted-electric-vehicle-safe"))}
    assert battery == {"100"}


def test_people_leave_a_vehicle_in_water_by_one_way() -> None:
    """The emergency page and the repair both send them through the windows, and onto the roof where it runs fast."""
    for text in (emergency("in-water"), everything("get-people-out-of-water")):
        assert re.search(r"through (the|a) windows?", text)
        assert "onto the roof" in text
        assert not re.search(r"(up|down)stream (side|window|door)", text)


def test_nobody_goes_back_to_a_burning_vehicle() -> None:
    """Nothing is fetched once people have left."""
    steps = steps_of(LIBRARY.procedures["leave-a-burning-vehicle"])
    assert "Never go back" in everything("leave-a-burning-vehicle")
    assert not [s for s in steps if re.search(r"\b(take|fetch|bring|save)\b", s, re.I)]


def test_a_hot_vehicle_idles_off_dry_grass() -> None:
    """A sign whose first act is to stop with the engine running names the grass below the exhaust."""
    found = [
        f"{key}: {symptom.first_action}"
        for key, symptom in sorted(LIBRARY.symptoms.items())
        if re.search(r"\bengine (at )?idle\b|^Idle\b|ready state so", symptom.first_action)
        and not re.search(r"switch off|dry grass", symptom.first_action, re.I)
    ]
    assert not found, "\n".join(found)


def test_nobody_has_to_double_or_divide_beside_the_track() -> None:
    """H71: figures of a repair and first acts at a sign are worked out, for 24 V as well."""
    reckon = re.compile(r"\b(twice|half) that\b|\bdivid(e|ed) by\b|, divide\b|\bmultipl(y|ied)\b|\btimes the\b", re.I)
    found = [f"{k}: {s.first_action}" for k, s in LIBRARY.symptoms.items() if reckon.search(s.first_action)]
    for key, procedure, steps in repairs():
        text = " ".join((*steps, procedure.sections["Check"], procedure.head.limits.stop_when))
        if "times its length" not in text and reckon.search(text):
            found.append(f"{key}: {reckon.search(text)}")
    assert not found, "\n".join(found)


def test_a_question_about_moving_or_hot_parts_says_how_they_are_stilled() -> None:
    """Belts, blades and shafts with the engine off; a pressure cap cold."""
    found = []
    for key, mode in sorted(LIBRARY.failure_modes.items()):
        words = mode.field_test.question if mode.field_test else ""
        moving = re.search(
            r"\b(idler|fan belt|blades? cracked|shroud|pump pulley|boost hose|lower radiator hose|front cross|rear shaft)\b",
            words,
        )
        if moving and not re.search(r"engine (off|stopped|switched off)|switched off", words, re.I):
            found.append(f"{key}: {words}")
        if re.search(r"\bcap\b", words) and re.search(r"hose|bubbles|coolant", words) and "cold" not in words:
            found.append(f"{key}: {words}")
    assert not found, "\n".join(found)


def test_brake_dust_is_wetted_before_the_brake_comes_apart() -> None:
    """Not after the drum is off: by then it has been breathed."""
    found = []
    for key, _, steps in repairs():
        text = " ".join(steps)
        apart, wet = STIRS_DUST.search(text), re.search(r"\bwet\b", text, re.I)
        if apart and wet and wet.start() > apart.start():
            found.append(f"{key}: {apart[0]}")
    assert not found, "\n".join(found)


def test_chocks_that_were_set_are_cleared_again() -> None:
    """H9: a repair that takes chocks says where they come away, in its steps or afterwards."""
    cleared = re.compile(r"chock|stones", re.I)
    found = [
        key
        for key, p, steps in repairs()
        if "wheel-chocks" in p.head.tools and not cleared.search(f"{' '.join(steps)} {p.sections['Afterwards']}")
    ]
    assert not found, "\n".join(found)
