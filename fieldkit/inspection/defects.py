"""Reasons that findings and fitted parts give against leaving: defects, wear, what nobody looked at, sets that do not match."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from fieldkit.inspection.result import Belief, Beliefs, Reason
from fieldkit.inspection.settings import Rules
from fieldkit.inspection.work import renewed_by, suits, within
from fieldkit.likelihood.hazard import has_part, position_names
from fieldkit.likelihood.result import Risks
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.quantities import both
from fieldkit.specs.library import FailureMode, MatchingRule, WorkshopOption
from fieldkit.specs.trip import Trip, Vehicle


@dataclass(frozen=True)
class Case:
    """One vehicle before departure, as every kind of reason looks at it."""

    trip: Trip
    vehicle: Vehicle
    risks: Risks
    beliefs: Beliefs
    rules: Rules

    @property
    def features(self) -> frozenset[str]:
        return features_of(self.vehicle)

    def modes(self) -> Iterator[tuple[str, FailureMode]]:
        """Weak points the vehicle has."""
        features = self.features
        for key, mode in self.trip.library.failure_modes.items():
            if has_part(mode, features):
                yield key, mode

    def believed(self, key: str) -> tuple[Belief, ...]:
        return self.beliefs.by_key.get((self.vehicle.id, key), ())

    def options(self, key: str) -> list[WorkshopOption]:
        """Options that make a weak point new, its own and others', each of which alone keeps to hours, money and lead time."""
        library, features = self.trip.library, self.features
        found = {
            (owner, o.id): o
            for owner, mode in self.modes()
            for o in mode.workshop
            if key in renewed_by(owner, o) and suits(o, library, self.vehicle, features)
        }
        return [o for o in found.values() if within([o], self.trip)]


def unsafe_defect(mode: FailureMode) -> bool:
    """Whether a defect of this weak point can never be outweighed: its own rule, and every unsafe one."""
    return mode.readiness == "unsafe-defect" or mode.severity == "unsafe"


def defects(case: Case) -> list[Reason]:
    """Reasons from findings of wear and defects, by weak point."""
    reasons = []
    for key, mode in case.modes():
        named = list(zip(position_names(mode), case.believed(key), strict=False))
        for finding in ("defective", "worn"):
            there = [(name, belief) for name, belief in named if belief.finding == finding]
            if there:
                reasons.append(_finding_reason(case, key, mode, finding, there))
    return reasons


def _finding_reason(
    case: Case, key: str, mode: FailureMode, finding: str, there: Sequence[tuple[str, Belief]]
) -> Reason:
    states, belief = case.rules.states, there[0][1]
    where = ", ".join(name for name, _ in there if name)
    text = f"{mode.title}{f' ({where})' if where else ''}: {finding}"
    evidence = " ".join(filter(None, (belief.date, belief.inspector, belief.note and f"({belief.note})")))
    if finding == "defective" and unsafe_defect(mode):
        return blocking(f"{text}; unsafe to drive", key, case.options(key), evidence)
    options = sorted(case.options(key), key=lambda o: (o.hours, o.id))
    mend, hours = (options[0].title, options[0].hours) if options else ("", None)
    if finding == "worn":
        state = states.unsafe_worn if unsafe_defect(mode) else states.other_worn
    else:
        state = states.limits_defective if mode.readiness == "limits" else states.advice_defective
    return Reason(text, state, key, mend, "workshop" if state != "fit" else "driver", evidence, hours)


def blocking(text: str, key: str | None, options: Sequence[WorkshopOption], evidence: str) -> Reason:
    """A reason that nothing carried outweighs: repaired first where a workshop can in time, else off the road."""
    if not options:
        mend = "No work within the stated hours, money and lead time mends it."
        return Reason(text, "off-the-road", key, mend, "nobody", evidence)
    best = min(options, key=lambda o: (o.hours, o.cost_low, o.id))
    return Reason(text, "repair-first", key, best.title, "workshop", evidence, best.hours)


def limits_of(case: Case, reasons: Iterable[Reason]) -> list[str]:
    """What the driver keeps to while wear and defects that do not block stand."""
    words, limits = case.rules.limit_words, []
    for reason in reasons:
        mode = case.trip.library.failure_modes.get(reason.mode or "")
        if mode is None or reason.state != "fit-with-limits" or reason.cleared:
            continue
        if mode.limp_speed_kmh and ": defective" in reason.text:
            limits.append(words.speed.format(speed=both(mode.limp_speed_kmh, "km/h")) + f": {mode.title}")
        else:
            limits.append(words.watch.format(title=mode.title))
    return limits


# ------------------------------------------------------------------------------------- evidence
def unseen(case: Case) -> list[Reason]:
    """What nobody looked at: points whose defect would be unsafe, and those nearly certain to be worn."""
    states = case.rules.states
    blind = [
        (key, mode)
        for key, mode in case.modes()
        if mode.inspection and unsafe_defect(mode) and all(b.finding == "not-seen" for b in case.believed(key))
    ]
    reasons = []
    if blind:
        words = ", ".join(mode.title for _, mode in blind[:4]) + (
            f" and {len(blind) - 4} more" if len(blind) > 4 else ""
        )
        minutes = sum(m.inspection.minutes for _, m in blind if m.inspection)
        text = f"{len(blind)} points whose defect would be unsafe were not looked at: {words}"
        reasons.append(Reason(text, states.unseen, None, "Look at them.", "driver", hours=minutes / 60.0))
    for key, mode in blind:
        risk = case.risks.by_key.get((case.vehicle.id, key))
        if risk and any(p.prior_degraded >= 0.9 for p in risk.hazard.positions):
            text = f"{mode.title}: nearly certain to be worn at this age, and nobody looked"
            reasons.append(Reason(text, states.nearly_certain, key, "Look, or renew.", "driver", risk.evidence))
    return reasons


def conflicts(case: Case) -> list[Reason]:
    """Positions that one inspector passed and another did not."""
    mine = [c for c in case.beliefs.conflicts if c.startswith(f"{case.vehicle.id}: ")]
    state = case.rules.states.conflict
    return [Reason(f"Inspectors differ: {c.split(': ', 1)[1]}", state, mend="Look together.") for c in mine]


# ---------------------------------------------------------------------------------- matching sets
def broken_rules(rules: dict[str, MatchingRule], features: frozenset[str]) -> dict[str, tuple[set[str], set[str]]]:
    """Sets that do not match: rule -> (parts fitted, parts missing or in the way).

    Examples
    --------
    >>> rule = MatchingRule(title="Set", kind="all-or-none", parts=("a", "b"), why="x", mend="y")
    >>> broken_rules({"set": rule}, frozenset({"a"}))
    {'set': ({'a'}, {'b'})}
    """
    found = {}
    for key, rule in rules.items():
        have, other = set(rule.parts) & features, set(rule.with_any) & features
        if rule.kind == "all-or-none" and have and have != set(rule.parts):
            found[key] = (have, set(rule.parts) - have)
        elif rule.kind == "needs" and have and not other:
            found[key] = (have, set(rule.with_any))
        elif rule.kind == "conflict" and have and other:
            found[key] = (have, other)
    return found


def unmatched(case: Case, features: frozenset[str] | None = None) -> list[Reason]:
    """Sets of fitted parts that do not match, each named whole."""
    library, reasons = case.trip.library, []
    for key, (have, other) in broken_rules(library.matching, features or case.features).items():
        rule = library.matching[key]
        words = {"all-or-none": "missing", "needs": "needs one of", "conflict": "does not go with"}[rule.kind]
        text = f"{rule.title}: fitted {_named(case, have)}; {words} {_named(case, other)}. {rule.why}"
        if not rule.unsafe:
            reasons.append(Reason(text, case.rules.states.unmatched, None, rule.mend, "workshop", rule.evidence))
            continue
        found = blocking(text, None, _completing(case, rule, other), rule.evidence)
        reasons.append(replace(found, mend=rule.mend if found.hours is None else f"{rule.mend} ({found.mend})"))
    return reasons


def _named(case: Case, ids: Iterable[str]) -> str:
    library = case.trip.library
    names = {
        i: library.modifications[i].name if i in library.modifications else library.features.get(i, i) for i in ids
    }
    return ", ".join(names[i] for i in sorted(names))


def _completing(case: Case, rule: MatchingRule, missing: set[str]) -> list[WorkshopOption]:
    """Options that complete a set: one that fits all that is missing, or any of what is needed."""
    if rule.kind == "conflict":
        return []
    wanted = [set(missing)] if rule.kind == "all-or-none" else [{m} for m in missing]
    options = []
    for _, mode in case.modes():
        for option in mode.workshop:
            gives = set(option.fits)
            for part in option.fits:
                gives |= set(case.trip.library.modifications[part].adds)
            if any(w <= gives for w in wanted) and within([option], case.trip):
                options.append(option)
    return options
