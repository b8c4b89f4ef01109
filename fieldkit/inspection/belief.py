"""Findings to beliefs: how likely each position is to be degraded, given who looked and how sure such a look is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fieldkit.inspection.result import Belief, Beliefs
from fieldkit.inspection.settings import Rules, rules_of
from fieldkit.likelihood.result import Hazards, ModeHazard
from fieldkit.specs.library import Inspection
from fieldkit.specs.trip import Finding, Trip

#: Findings from best to worst; a worse one by the same eyes stands.
ORDER = ("renewed", "sound", "not-seen", "worn", "defective")


def bayes(prior: float, hit: float, false_alarm: float, found: bool) -> float:
    """Chance of a fault after a look: P(fault | found) or P(fault | nothing found).

    Parameters
    ----------
    prior : float
        Chance before the look, 0 to 1.
    hit, false_alarm : float
        Chance that the look finds a fault that is there, and one that is not.

    Examples
    --------
    >>> round(bayes(0.01, 0.8, 0.1, True), 6)
    0.074766
    >>> bayes(0.0, 1.0, 0.0, True)
    0.0
    """
    yes, no = (hit, false_alarm) if found else (1.0 - hit, 1.0 - false_alarm)
    total = prior * yes + (1.0 - prior) * no
    return prior * yes / total if total > 0 else prior


def beliefs(trip: Trip, hazards: Hazards) -> Beliefs:
    """What the trip's findings say about every position that anybody looked at.

    Per position: findings before its last renewal are dropped; each inspector's latest stands; of looks that are not
    independent (the same inspector, or one without a name) the worse stands; those of different named inspectors each count.

    Returns
    -------
    Beliefs
        Only weak points with at least one finding; conflicts named.
    """
    rules = rules_of(trip.library)
    by_key: dict[tuple[str, str], tuple[Belief, ...]] = {}
    conflicts: list[str] = []
    for key, found in _by_weak_point(trip.findings).items():
        if key not in hazards.modes:
            continue
        looks = _Looks(trip, rules, hazards.modes[key], found)
        by_key[key] = tuple(looks.belief(i) for i in range(len(hazards.modes[key].positions)))
        conflicts += looks.conflicts()
    return Beliefs(by_key, tuple(sorted(conflicts)))


def _by_weak_point(findings: Iterable[Finding]) -> dict[tuple[str, str], list[Finding]]:
    grouped: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        grouped.setdefault((finding.vehicle, finding.failure_mode), []).append(finding)
    return grouped


@dataclass(frozen=True)
class _Looks:
    """Everything found about one weak point of one vehicle."""

    trip: Trip
    rules: Rules
    hazard: ModeHazard
    findings: Sequence[Finding]

    @property
    def look(self) -> Inspection | None:
        return self.trip.library.failure_modes[self.hazard.mode].inspection

    def standing(self, index: int) -> list[Finding]:
        """Findings that count for one position: each independent inspector's latest, the worse of the others."""
        name = self.hazard.positions[index].name
        mine = [f for f in self.findings if f.position in ("", name)]
        renewed = [f.date for f in mine if f.finding == "renewed"]
        mine = [f for f in mine if not renewed or f.date > max(renewed) or f.finding == "renewed"]
        if not mine:
            return []
        by_inspector: dict[str, list[Finding]] = {}
        for finding in sorted(mine, key=lambda f: f.date):
            by_inspector.setdefault(finding.inspector.strip().lower(), []).append(finding)
        latest = {who: _latest(found) for who, found in by_inspector.items()}
        nameless = latest.pop("", None)
        if nameless and not latest:
            return [nameless]
        if nameless:  # cannot be told from the named inspectors: it counts only where it is worse
            who = max(latest, key=lambda w: ORDER.index(latest[w].finding))
            latest[who] = _worse(latest[who], nameless)
        return list(latest.values())

    def belief(self, index: int) -> Belief:
        prior = self.hazard.positions[index].prior_degraded
        found = self.standing(index)
        if not found:
            return Belief(prior, "not-seen")
        worst = max(found, key=lambda f: (ORDER.index(f.finding), f.date))
        degraded = 0.0 if worst.finding == "renewed" else prior
        for finding in found:
            degraded = self._after(degraded, finding)
        who = ", ".join(sorted({f.inspector for f in found if f.inspector}))
        return Belief(degraded, worst.finding, worst.date.isoformat(), who, worst.note)

    def _after(self, prior: float, finding: Finding) -> float:
        if self.look is None or finding.finding in ("renewed", "not-seen"):
            return prior
        hit, false_alarm = self.look.detects, self.look.false_alarm
        if finding.finding == "sound":
            return bayes(prior, hit, false_alarm, False)
        if finding.finding == "defective":
            false_alarm *= self.rules.findings.defective_false_alarm
        return bayes(max(prior, self.rules.findings.prior_floor), hit, false_alarm, True)

    def conflicts(self) -> list[str]:
        """Positions that one inspector passed and another did not."""
        said = []
        for index, position in enumerate(self.hazard.positions):
            found = self.standing(index)
            good = sorted({f.inspector for f in found if f.finding == "sound"})
            bad = sorted({f.inspector for f in found if f.finding in ("worn", "defective")})
            if good and bad:
                title = self.trip.library.failure_modes[self.hazard.mode].title
                where = f", {position.name}" if position.name else ""
                said.append(
                    f"{self.hazard.vehicle}: {title}{where}: sound for {', '.join(good)}, not for {', '.join(bad)}"
                )
        return list(dict.fromkeys(said))


def _latest(found: Sequence[Finding]) -> Finding:
    """The last finding of one inspector; of one day the worse. "Not seen" never replaces what was seen."""
    seen = [f for f in found if f.finding != "not-seen"] or list(found)
    return max(seen, key=lambda f: (f.date, ORDER.index(f.finding)))


def _worse(one: Finding, other: Finding) -> Finding:
    return max(one, other, key=lambda f: ORDER.index(f.finding))
