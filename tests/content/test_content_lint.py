"""The lint over the shipped knowledge: what an experienced mechanic would strike out, checked by rule.

Each test lists every offender with its file and line. The rules on words come from docs: H14-H17 (short
imperative steps), H20-H25 (hazard messages), H28-H34 (checklists), H70 (emergency pages); the rules on numbers
from the model (p0 at mean life, spectral radius of the damage graph).
"""

from __future__ import annotations

import math
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import networkx as nx
import numpy as np
import pytest

from fieldkit.specs.checklists import along_the_walk, fits, seconds
from fieldkit.specs.library import FailureMode, Library, Procedure

# The loader refuses a library with an unknown reference. This lint reads the same files with the loader's own
# parts and without that refusal, so that one missing id does not hide every other offender.
from fieldkit.specs.read_library import _Found, _read_folder, _reference_faults, shipped_folder

STEP = re.compile(r"^(\s*)\d+\.\s+(.*)$")
INJURY = re.compile(
    r"\b(injur\w*|burn\w*|scald\w*|death|dead|die|dies|kill\w*|crush\w*|maim\w*|bone\w*|blind\w*|wound\w*|finger\w*|"
    r"hand is|eye|eyes|skin|people|person|somebody|anybody)\b",
    re.I,
)
WEAK = re.compile(r"\b(should|may|might)\b", re.I)
NEXT = re.compile(r"\b(stop|call|stay|wait|leave|tow|help|drive|go|walk|use|carry|try|fit|repeat|keep|move)\w*\b", re.I)


@dataclass(frozen=True)
class Words:
    """One piece of prose: where it stands and what it says."""

    place: str
    text: str
    law: bool = False


@dataclass(frozen=True)
class Read:
    """The shipped library as far as it could be read, where each entry stands, and the loader's faults."""

    library: Library
    found: _Found

    def place(self, kind: str, key: str) -> str:
        return f"{self.found.place.get((kind, key), kind)} [{key}]"


@pytest.fixture(scope="module")
def read() -> Read:
    folder = shipped_folder("vehicle_specs")
    found = _Found()
    library = Library(folder)
    _read_folder(folder, library, found)
    return Read(library, found)


def offenders(lines: Iterable[str]) -> None:
    """Fail with every offender on its own line."""
    if listed := sorted(set(lines)):
        pytest.fail(f"{len(listed)} offenders:\n" + "\n".join(listed), pytrace=False)


# ------------------------------------------------------------------------------------------ reading prose
def sentences(text: str) -> list[str]:
    """Sentences of a text, marks of emphasis removed; a line of a list ends a sentence."""
    plain = re.sub(r"[*_`#>|]", " ", text)
    plain = re.sub(r"^\s*(?:\d+\.|-)\s+", "", plain, flags=re.M)
    pieces = re.split(r"(?<=[.!?])\s+|\n\s*\n|\n(?=\S)", plain)
    return [p.strip() for p in pieces if p.strip()]


def count(text: str) -> int:
    """Words by one simple count: a hyphenated word, and a number with its unit, is one; brackets count inside."""
    joined = re.sub(r"(\d)\s+(km/h|km|kPa|bar|psi|mm|cm|m|kg|t|L|ml|V|A|h|min|°C|degrees|%)(?![\w])", r"\1\2", text)
    return len(re.findall(r"[A-Za-z0-9][\w'’/.,+×°%-]*", joined))


def normal(sentence: str) -> str:
    return " ".join(re.findall(r"[a-z0-9'-]+", sentence.lower()))


def steps(procedure: Procedure) -> list[str]:
    """The steps of a field repair, continuation lines joined, expected results (in italics) still in."""
    out: list[str] = []
    for line in procedure.sections.get("Steps", "").splitlines():
        if match := STEP.match(line):
            out.append(match[2])
        elif line.strip() and out:
            out[-1] += " " + line.strip()
    return out


def instruction(step: str) -> str:
    """A step without its expected result."""
    return re.sub(r"\*[^*]+\*", "", step).strip()


def mode_words(read: Read) -> Iterator[Words]:
    for key, mode in read.library.failure_modes.items():
        at = read.place("failure mode", key)
        yield Words(at, mode.mechanism)
        yield Words(at, mode.effects)
        yield Words(at, mode.field_test.question)
        if mode.inspection:
            yield Words(at, mode.inspection.how)
            yield Words(at, mode.inspection.accept.replace(";", "."))
        for option in mode.workshop:
            yield Words(at, option.title)
            yield Words(at, option.gives_up)
            yield Words(at, option.legality, law=True)


def procedure_words(read: Read) -> Iterator[Words]:
    for key, procedure in read.library.procedures.items():
        at, head = read.place("procedure", key), procedure.head
        yield Words(at, head.applies_to)
        yield Words(at, head.limits.stop_when)
        for condition in head.conditions:
            yield Words(at, condition)
        for hazard in head.hazards:
            for text in (hazard.hazard, hazard.consequence, *hazard.avoid):
                yield Words(at, text)
        for section in procedure.sections.values():
            yield Words(at, section)


def other_words(read: Read) -> Iterator[Words]:
    lib = read.library
    for key, symptom in lib.symptoms.items():
        for text in (symptom.text, symptom.first_action):
            yield Words(read.place("symptom", key), text)
    for key, part in lib.modifications.items():
        at = read.place("modification", key)
        yield Words(at, part.summary)
        yield Words(at, part.gives_up)
        yield Words(at, part.legality, law=True)
    for key, rule in lib.matching.items():
        for text in (rule.title, rule.why, rule.mend):
            yield Words(read.place("matching", key), text)
    for key, carried in lib.must_carry.items():
        yield Words(read.place("must_carry", key), carried.why)
    for key, text in lib.texts.items():
        yield Words(f"texts/{key}.md", text)
    for key, part, item in checklist_items(read):
        yield Words(f"checklists/{key}.toml {part}", str(item.get("why", "")))


def all_words(read: Read) -> Iterator[Words]:
    yield from mode_words(read)
    yield from procedure_words(read)
    yield from other_words(read)


def test_sentences_and_words_are_counted_simply() -> None:
    """The lint's own ruler: sentences end at full stops and list lines; a number with its unit is one word."""
    assert sentences("Stop. Let the tyres down to 120 kPa.\n- Dig *now*") == [
        "Stop.",
        "Let the tyres down to 120 kPa.",
        "Dig  now",
    ]
    assert count("Let the well-worn tyres down to 120 kPa (sand).") == 8
    assert instruction("Mark it with chalk. *You see bubbles.*") == "Mark it with chalk."


# ----------------------------------------------------------------------------------------------- references
def test_the_library_reads_without_a_fault(read: Read) -> None:
    """Files parse, keys are known, every id that is named exists."""
    offenders(str(f) for f in [*read.found.faults, *_reference_faults(read.library, read.found)])


def test_every_item_is_used(read: Read) -> None:
    """By a field repair, a must-carry rule or an inspection; recovery gear by recovery planning."""
    lib = read.library
    used = {i for p in lib.procedures.values() for i in p.items()}
    used |= {r.item for r in lib.must_carry.values()}
    used |= {t for m in lib.failure_modes.values() if m.inspection for t in m.inspection.tools}
    used |= {s for i in lib.items.values() if i.id in used for s in i.substitutes}
    offenders(read.place("item", i) for i, x in lib.items.items() if i not in used and x.kind != "recovery")


def test_every_symptom_belongs_to_a_weak_point(read: Read) -> None:
    lib = read.library
    used = {s.id for m in lib.failure_modes.values() for s in m.symptoms}
    offenders(read.place("symptom", s) for s in lib.symptoms if s not in used)


def test_no_feature_is_an_orphan(read: Read) -> None:
    """Every word of the vocabulary is read or set somewhere."""
    lib = read.library
    named: set[str] = set()
    for mode in lib.failure_modes.values():
        named |= {*mode.needs, *mode.needs_any, *mode.without}
    for head in (p.head for p in lib.procedures.values()):
        named |= {*head.needs, *head.without}
    for part in lib.modifications.values():
        named |= {*part.needs, *part.without, *part.adds, *part.removes}
    for rule in lib.matching.values():
        named |= {*rule.parts, *rule.with_any}
    for build in lib.archetypes.values():
        named |= set(build.features)
    named |= {f for i in lib.items.values() for f in i.fits} | {n for r in lib.must_carry.values() for n in r.needs}
    offenders(f"features.toml [{f}]" for f in lib.features if f not in named)


def test_companions_of_an_item_are_listed_with_it(read: Read) -> None:
    """A jack with its base plate, plugs with the compressor (settings/companions.toml)."""
    lib = read.library
    table = lib.settings["companions"]["companions"]
    assert isinstance(table, dict)
    unknown = {i for k, v in table.items() for i in (k, *v)} - set(lib.items)
    offenders(
        [f"settings/companions.toml: no item '{i}'" for i in unknown]
        + [
            f"{read.place('procedure', key)}: {item} without {need}"
            for key, p in lib.procedures.items()
            for item in p.items()
            for need in table.get(item, ())
            if need not in p.items()
        ]
    )


# ----------------------------------------------------------------------------------------------- weak points
def applies(mode: FailureMode, features: Iterable[str]) -> bool:
    has = set(features)
    any_of = not mode.needs_any or bool(set(mode.needs_any) & has)
    return set(mode.needs) <= has and any_of and not set(mode.without) & has


def test_wearing_modes_have_an_inspection_and_events_have_none(read: Read) -> None:
    offenders(
        read.place("failure mode", k)
        for k, m in read.library.failure_modes.items()
        if (m.clock == "event") == (m.inspection is not None)
    )


def test_every_mode_has_a_way_out(read: Read) -> None:
    """Some field repair of any kind."""
    repaired = {m for p in read.library.procedures.values() for m in p.head.repairs}
    offenders(read.place("failure mode", k) for k in read.library.failure_modes if k not in repaired)


def test_disabled_and_unsafe_modes_have_a_way_out_with_empty_hands(read: Read) -> None:
    """At least one field repair that needs no items, or only what must be carried anyway."""
    lib = read.library
    carried = {r.item for r in lib.must_carry.values()}
    helped = {m for p in lib.procedures.values() if set(p.items()) <= carried for m in p.head.repairs}
    grave = {"disabled", "unsafe"}
    offenders(
        read.place("failure mode", k)
        for k, m in lib.failure_modes.items()
        if ({m.severity} | set(m.severity_where.values())) & grave and k not in helped
    )


def test_unsafe_modes_stop_a_departure(read: Read) -> None:
    offenders(
        read.place("failure mode", k)
        for k, m in read.library.failure_modes.items()
        if m.severity == "unsafe" and m.readiness != "unsafe-defect"
    )


def share_found_degraded(mode: FailureMode) -> float:
    """p0 at the mean life: (1 - sudden) * tau * H'(mean), H(x) = (x / eta) ** beta (model, Inspection)."""
    life = {"km": mode.life_km, "days": mode.life_days}.get(mode.clock)
    tau = {"km": mode.warning_km, "days": mode.warning_days}.get(mode.clock)
    if not life or not tau:
        return 0.0
    mean_over_life = math.gamma(1 + 1 / mode.shape)
    return (1 - mode.sudden) * tau * mode.shape / life * mean_over_life ** (mode.shape - 1)


def test_the_share_found_degraded_at_mean_life_is_believable(read: Read) -> None:
    """p0 above 0.9 would say that nearly every part at its mean life already shows the fault."""
    offenders(
        f"{read.place('failure mode', k)}: p0 at mean life {share_found_degraded(m):.2f}"
        for k, m in read.library.failure_modes.items()
        if share_found_degraded(m) > 0.9
    )


def test_damage_dies_out(read: Read) -> None:
    """Spectral radius of the damage matrix below 1, or one failure would bring endless others."""
    graph = nx.DiGraph()
    for key, mode in read.library.failure_modes.items():
        for damage in mode.damages:
            graph.add_edge(key, damage.mode, weight=damage.probability)
    assert graph.number_of_edges() > 0
    bad = []
    for group in nx.strongly_connected_components(graph):
        matrix = nx.to_numpy_array(graph.subgraph(group), weight="weight")
        radius = float(max(abs(np.linalg.eigvals(matrix))))
        if radius >= 1:
            bad.append(f"cycle {', '.join(sorted(group))}: spectral radius {radius:.2f}")
    offenders(bad)


def test_every_build_has_enough_weak_points(read: Read) -> None:
    """Forty apply to a vehicle, seven to a trailer; fewer would mean that its features are not told."""
    lib = read.library
    bad = []
    for key, build in lib.archetypes.items():
        least = 7 if "trailer" in build.features else 40
        number = sum(applies(m, build.features) for m in lib.failure_modes.values())
        if number < least:
            bad.append(f"{read.place('archetype', key)}: {number} weak points apply, {least} expected")
    offenders(bad)


def test_workshop_options_have_ids_of_their_own(read: Read) -> None:
    bad = []
    for key, mode in read.library.failure_modes.items():
        ids = [o.id for o in mode.workshop]
        bad += [f"{read.place('failure mode', key)}: option '{i}' twice" for i in ids if ids.count(i) > 1]
    offenders(bad)


# --------------------------------------------------------------------------------------------- field repairs
def test_every_field_repair_has_safety_check_and_limits(read: Read) -> None:
    """Hazards or the standing rules; a check that can be failed; what to do then; when to stop."""
    bad = []
    for key, procedure in read.library.procedures.items():
        at = read.place("procedure", key)
        if not procedure.head.hazards and not procedure.head.standing_rules_only:
            bad.append(f"{at}: no safety")
        if count(procedure.sections.get("Check", "")) < 5:
            bad.append(f"{at}: the check says too little")
        if not NEXT.search(last := procedure.sections.get("If it fails", "")) and '"' not in last:
            bad.append(f"{at}: 'If it fails' names nothing to do next")
        if not procedure.head.limits.stop_when:
            bad.append(f"{at}: no limit")
        if not steps(procedure):
            bad.append(f"{at}: no numbered steps")
    offenders(bad)


def test_steps_have_at_most_twenty_words(read: Read) -> None:
    """H14; the expected result in italics is a sentence of its own."""
    offenders(
        f"{read.place('procedure', key)} step {n}: {count(instruction(step))} words: {step}"
        for key, p in read.library.procedures.items()
        for n, step in enumerate(steps(p), 1)
        if count(instruction(step)) > 20
    )


def first_words(step: str) -> list[str]:
    """The word that must be a verb: the first, or the first after the condition's comma."""
    words = re.findall(r"[A-Za-z'-]+", step)
    if words and words[0].lower() in {"if", "when"}:
        after = step.split(",", 1)[1] if "," in step else ""
        words = re.findall(r"[A-Za-z'-]+", after)
    return [w.lower() for w in words[:1]]


def test_steps_begin_with_a_verb_of_the_closed_list(read: Read) -> None:
    """H16: settings/words.toml [steps] verbs; If and When may come before, with a comma."""
    table = read.library.settings["words"]["steps"]
    assert isinstance(table, dict)
    verbs = set(table["verbs"])
    offenders(
        f"{read.place('procedure', key)} step {n}: '{' '.join(first_words(step)) or step}'"
        for key, p in read.library.procedures.items()
        for n, step in enumerate(steps(p), 1)
        if not set(first_words(instruction(step))) & verbs
    )


def test_steps_give_one_plain_instruction(read: Read) -> None:
    """H15, H17: no should, may, might; no semicolon; no 'and then'."""
    offenders(
        f"{read.place('procedure', key)} step {n}: {step}"
        for key, p in read.library.procedures.items()
        for n, step in enumerate(steps(p), 1)
        if WEAK.search(step) or ";" in step or " and then" in step
    )


#: Words that are verbs of the closed list and, inside a step, mostly names of parts or a way of looking.
ALSO_NOUNS = frozenset({"block", "brake", "drain", "smell", "switch", "tension", "turn", "wheel"})


def test_no_step_holds_three_instructions(read: Read) -> None:
    """H15: one at a time, two only where they go together: who reads aloud waits after each."""
    table = read.library.settings["words"]["steps"]
    assert isinstance(table, dict)
    verbs = set(table["verbs"])

    def acts(step: str) -> int:
        pieces = [p.split() for p in re.split(r", and |, | and |\. ", instruction(step))]
        first, later = pieces[0], [p for p in pieces[1:] if p and p[0].strip(".,").lower() in verbs - ALSO_NOUNS]
        return bool(first and first[0].lower() in verbs) + len(later)

    assert acts("Slacken the nuts, raise the wheel and set the stand.") == 3
    offenders(
        f"{read.place('procedure', key)} step {n}: {step}"
        for key, p in read.library.procedures.items()
        for n, step in enumerate(steps(p), 1)
        if acts(step) > 2
    )


def test_hazards_are_avoided_by_doing_something(read: Read) -> None:
    """H22: each way to avoid a hazard is an instruction, a ban, or says who stays away."""
    table = read.library.settings["words"]["steps"]
    assert isinstance(table, dict)
    allowed = {*table["verbs"], "do", "don't", "everybody", "never", "no", "nobody", "only"}
    offenders(
        f"{read.place('procedure', key)}: {avoid}"
        for key, p in read.library.procedures.items()
        for hazard in p.head.hazards
        for avoid in hazard.avoid
        if not set(first_words(avoid)) & allowed
    )


def test_quantities_are_above_nought(read: Read) -> None:
    offenders(
        f"{read.place('procedure', key)}: {quantity} of {item}"
        for key, p in read.library.procedures.items()
        for item, quantity in p.items().items()
        if quantity <= 0
    )


def test_gear_stands_under_its_kind(read: Read) -> None:
    """Tools come back, supplies are used up, spares stay fitted."""
    kinds = {"tools": {"tool", "recovery", "safety"}, "supplies": {"supply"}, "spares": {"spare", "safety"}}
    items = read.library.items
    offenders(
        f"{read.place('procedure', key)}: {item} ({items[item].kind}) under {group}"
        for key, p in read.library.procedures.items()
        for group, allowed in kinds.items()
        for item in getattr(p.head, group)
        if item in items and items[item].kind not in allowed
    )


def test_get_out_repairs_of_unsafe_weak_points_stay_at_walking_pace(read: Read) -> None:
    """An unsafe vehicle gets out at a walk (10 km/h) or not at all; what must not move has no get-out repair."""
    bad = []
    for key, procedure in read.library.procedures.items():
        kinds = {
            m: read.library.failure_modes[m].unsafe_kind
            for m in procedure.head.repairs
            if m in read.library.failure_modes
        }
        grave = {m: k for m, k in kinds.items() if k}
        if procedure.head.kind != "get-out" or not grave:
            continue
        at, speed = read.place("procedure", key), procedure.head.limits.speed_kmh
        bad += [f"{at}: {m} must not be moved" for m, k in grave.items() if k == "do-not-move"]
        if speed is None or speed > 10:
            bad.append(f"{at}: {speed} km/h with {', '.join(sorted(grave))}")
    offenders(bad)


def test_hazard_steps_exist(read: Read) -> None:
    """A hazard shown before a step names a step that there is."""
    offenders(
        f"{read.place('procedure', key)}: hazard before step {h.step} of {len(steps(p))}"
        for key, p in read.library.procedures.items()
        for h in p.head.hazards
        if h.step and h.step > len(steps(p))
    )


def test_pages_named_in_a_field_repair_exist(read: Read) -> None:
    """What stands in quotation marks with a capital and three words or more is a title of a repair or a text."""
    titles = {p.head.title for p in read.library.procedures.values()}
    titles |= {t.splitlines()[0].removeprefix("# ") for t in read.library.texts.values()}
    offenders(
        f"{read.place('procedure', key)}: no page '{name}'"
        for key, p in read.library.procedures.items()
        for section in p.sections.values()
        for name in re.findall(r'"([A-Z][^"]+)"', section)
        if len(name.split()) >= 3 and not name.endswith((".", "!", "?")) and name not in titles
    )


def test_danger_is_rare(read: Read) -> None:
    """H25: at most one DANGER per field repair."""
    offenders(
        read.place("procedure", key)
        for key, p in read.library.procedures.items()
        if sum(h.word == "DANGER" for h in p.head.hazards) > 1
    )


def test_notices_speak_of_things_only(read: Read) -> None:
    """H20: NOTICE never names an injury."""
    offenders(
        f"{read.place('procedure', key)}: {h.hazard} {h.consequence}"
        for key, p in read.library.procedures.items()
        for h in p.head.hazards
        if h.word == "NOTICE" and INJURY.search(f"{h.hazard} {h.consequence}")
    )


# --------------------------------------------------------------------------------------------------- words
def test_sentences_have_at_most_twenty_five_words(read: Read) -> None:
    """H14, everywhere; in an inspection's limits a semicolon ends an entry of a list."""
    offenders(f"{w.place}: {count(s)} words: {s}" for w in all_words(read) for s in sentences(w.text) if count(s) > 25)


def test_no_sentence_stands_in_two_texts(read: Read) -> None:
    """Nine words or more: each text is written for its own case. Standing rules, notes on
    the law and the titles of pages may recur."""
    standing = {normal(s) for s in sentences(read.library.texts.get("standing-rules", ""))}
    where: dict[str, list[str]] = defaultdict(list)
    for words in all_words(read):
        for sentence in () if words.law else sentences(words.text):
            if count(re.sub(r'"[^"]+"', "title", sentence)) >= 9:
                where[normal(sentence)].append(words.place)
    offenders(
        f"{' | '.join(places)}: {sentence}"
        for sentence, places in where.items()
        if len(places) > 1 and sentence not in standing
    )


def test_one_name_for_one_thing(read: Read) -> None:
    """H12: words that never stand on a page (settings/words.toml [instead]); they lead there from the search only."""
    table = read.library.settings["words"]["instead"]
    assert isinstance(table, dict)
    never = re.compile(
        r"(?<![\w-])(" + "|".join(map(re.escape, sorted(table, key=len, reverse=True))) + r")(?![\w-])", re.I
    )
    offenders(
        f"{w.place}: '{hit}' is '{table[hit.lower()]}' here: {w.text[:80]}"
        for w in [*all_words(read), *names(read)]
        for hit in never.findall(w.text)
    )


def names(read: Read) -> Iterator[Words]:
    """Titles and names, which are prose too short for the other rules."""
    lib = read.library
    for key, mode in lib.failure_modes.items():
        yield Words(read.place("failure mode", key), f"{mode.item}. {mode.mode}. {mode.title}")
    for key, procedure in lib.procedures.items():
        yield Words(read.place("procedure", key), procedure.head.title)
    for key, item in lib.items.items():
        yield Words(read.place("item", key), item.name)
    for key, part in lib.modifications.items():
        yield Words(read.place("modification", key), part.name)
    for key, listed in checklists(read).items():
        yield Words(f"checklists/{key}.toml", f"{listed.get('title')} {listed.get('trigger')}")
        for _, items in parts(listed):
            for line in items:
                yield Words(f"checklists/{key}.toml", f"{line.get('object')}: {line.get('state')}")


def test_texts_have_a_title_and_stay_short(read: Read) -> None:
    """H70: one side of one sheet, at most 250 words; the two reference lists may have 450, and the method, read at home, 600."""
    long = {"standing-rules", "never-in-the-field"}
    bad = []
    for key, text in read.library.texts.items():
        if not text.startswith("# "):
            bad.append(f"texts/{key}.md: the first line is not '# Title'")
        limit = 600 if key == "method" else 450 if key in long else 250
        if count(text) > limit:
            bad.append(f"texts/{key}.md: {count(text)} words, {limit} allowed")
    offenders(bad)


# ---------------------------------------------------------------------------------------------- checklists
def checklists(read: Read) -> dict[str, dict[str, object]]:
    return {k.removeprefix("checklist-"): v for k, v in read.library.settings.items() if k.startswith("checklist-")}


def parts(listed: dict[str, object]) -> list[tuple[str, list[dict[str, object]]]]:
    """Titled parts of a checklist; one without a title where it is not split."""
    whole = listed.get("item", [])
    split = listed.get("part", [])
    assert isinstance(whole, list) and isinstance(split, list)
    return [("", whole)] if whole else [(str(p.get("title", "")), p.get("item", [])) for p in split]


def checklist_items(read: Read) -> Iterator[tuple[str, str, dict[str, object]]]:
    for key, listed in checklists(read).items():
        for title, items in parts(listed):
            for item in items:
                yield key, title, item


def test_checklists_declare_themselves(read: Read) -> None:
    """H28, H37: title, mode and trigger, and each of several pause points its own; only known keys."""
    bad = []
    for key, listed in checklists(read).items():
        at = f"checklists/{key}.toml"
        if listed.get("mode") not in {"READ-DO", "DO-CONFIRM"}:
            bad.append(f"{at}: mode {listed.get('mode')!r}")
        bad += [f"{at}: no {k}" for k in ("title", "trigger") if not listed.get(k)]
        bad += [f"{at}: unknown key '{k}'" for k in set(listed) - {"title", "mode", "trigger", "item", "part"}]
        if bool(listed.get("item")) == bool(listed.get("part")):
            bad.append(f"{at}: items, or parts with items")
        split = listed.get("part", [])
        assert isinstance(split, list)
        for part in split:
            if set(part) != {"title", "trigger", "item"} or not part["trigger"] or not part["title"]:
                bad.append(f"{at} {part.get('title')}: a title, a trigger and items")
        if len({part["trigger"] for part in split}) != len(split):
            bad.append(f"{at}: two parts at one moment are one pause point")
    offenders(bad)


def test_a_pause_point_has_five_to_nine_lines_and_takes_60_to_90_seconds(read: Read) -> None:
    """H29, H30; also with what each kind of vehicle has, where fewer lines may take less time."""
    bad = []
    for key, listed in checklists(read).items():
        for title, items in parts(listed):
            at = f"checklists/{key}.toml {title}"
            if not (5 <= len(items) <= 9 and 60 <= seconds(items) <= 90):
                bad.append(f"{at}: {len(items)} lines, {seconds(items)} s")
            for name, kind in read.library.archetypes.items():
                left = [i for i in items if fits(i, frozenset(kind.features))]
                if "trailer" not in name and len(left) < 5:
                    bad.append(f"{at}: {len(left)} lines on {name}")
    offenders(bad)


#: Where a thing is on the walk; the first row that matches a line holds.
PLACES = [
    (r"seat belts|drivers belted|windows|doors|electric fan|low range|^gear\b|\bcans\b|straps|lashings", "inside"),
    (r"\brear (hubs|door)|spare wheel (held|and)|trailer", "rear"),
    (
        r"\bfront\b|bonnet|radiator|engine|belts|air (filter|intake)|batter(y|ies) (isolator|clamps)|blind|winch",
        "front",
    ),
    (r"four tyres|tyre|hubs|roof|rack|wheel nut|caps", "round"),
    (r"chassis|exhaust|gearbox|propshaft|axle|shields", "below"),
    (r"^line\b|on the line$|shackle pins", "along"),
    (r"people|log\b|contact|handbook|pages|watcher|answered", "people"),
]


def test_checklist_lines_follow_one_walk_after_the_most_critical(read: Read) -> None:
    """H32: as written, what is most critical stands first, then places in the walk's order, each line at its own place."""
    bad = []
    for key, listed in checklists(read).items():
        for title, items in parts(listed):
            at = f"checklists/{key}.toml {title}"
            stations = [str(i.get("station")) for i in items]
            if items != along_the_walk(items):
                bad.append(f"{at}: {stations} do not follow one walk")
            if not 1 <= stations.count("first") <= len(items) / 2:
                bad.append(f"{at}: {stations.count('first')} of {len(items)} lines are most critical")
            for item, station in zip(items, stations, strict=True):
                said = f"{item['object']} {item['state']}".lower()
                place = next((place for words, place in PLACES if re.search(words, said)), station)
                if station not in ("first", place):
                    bad.append(f"{at}: '{said}' stands at {station}, is found at {place}")
    offenders(bad)


def test_checklist_lines_are_an_object_and_one_state(read: Read) -> None:
    """H31: one state that can be seen, never 'checked', nor two in one line; no object twice in a pause point."""
    bad = []
    for key, listed in checklists(read).items():
        for title, items in parts(listed):
            at = f"checklists/{key}.toml {title}"
            objects = [str(i.get("object")) for i in items]
            bad += [f"{at}: {o} twice" for o in set(objects) if objects.count(o) > 1]
            for item in items:
                name, state = f"{at}: {item.get('object')}", str(item.get("state", ""))
                if not item.get("object") or not state:
                    bad.append(f"{name}: object and state")
                if re.search(r"\bcheck(ed)?\b", state, re.I):
                    bad.append(f"{name}: '{state}' is not a state")
                if re.search(r"[,;:]", state) and not re.search(r"carried jack, plate, chocks and wrench$", state):
                    bad.append(f"{name}: '{state}' is more than one state")
                if count(state) > 10:
                    bad.append(f"{name}: '{state}' has {count(state)} words, 10 allowed")
                bad += [
                    f"{name}: unknown key '{k}'"
                    for k in set(item) - {"object", "state", "station", "why", "needs", "needs_one", "dry_run"}
                ]
                needs, one = item.get("needs", []), item.get("needs_one", [])
                assert isinstance(needs, list) and isinstance(one, list)
                known = {*read.library.features, *read.library.modifications}
                bad += [f"{name}: unknown feature '{n}'" for n in [*needs, *one] if n not in known]
    offenders(bad)


def test_a_dry_run_is_asked_of_the_vehicles_whose_list_has_its_line(read: Read) -> None:
    """A dry run that readiness asks for has a line on the list, which shows where the vehicle has the part for it."""
    rules = read.library.settings["readiness"]
    lines = {i["dry_run"]: i for key, _, i in checklist_items(read) if key == "dry-run-at-home" and "dry_run" in i}
    assert set(lines) == set(rules["dry_runs"])
    for key, needs in rules["dry_run_needs"].items():
        for kind in read.library.archetypes.values():
            have = frozenset(kind.features)
            if have & set(needs):
                assert fits(lines[key], have), (key, sorted(have & set(needs)))


def test_pages_named_in_an_emergency_exist(read: Read) -> None:
    """H36: each emergency leads on to pages that are there."""
    library = read.library
    texts = {f"rules/{k}" for k in library.texts}
    lists = {f"lists/{k.removeprefix('checklist-')}" for k in library.settings if k.startswith("checklist-")}
    for name, data in library.settings["emergencies"]["emergency"].items():
        assert set(data.get("symptoms", ())) <= set(library.symptoms), name
        assert set(data.get("repairs", ())) <= set(library.procedures), name
        assert set(data.get("pages", ())) <= texts | lists, name
        items = [i for v in data.get("values", ()) if v.startswith("gear:") for i in v[5:].split()]
        assert set(items) <= set(library.items), name
