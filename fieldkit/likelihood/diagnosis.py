"""From what people notice to its likely cause: a noisy-or table, the posterior over causes, and the next best look."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fieldkit.likelihood.result import Diagnosis, Risks
from fieldkit.specs.library import FieldTest, Library
from fieldkit.specs.trip import Trip

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Look:
    """One closed question that tells a cause from the others: what it may teach [bits] and teaches per minute."""

    cause: str
    question: str
    minutes: float
    chance_of_yes: float
    bits: float
    bits_per_minute: float


def noisy_or(strengths: ArrayLike, leak: float = 0.0) -> float:
    """Chance of a symptom when several causes are at work: 1 - (1 - leak) * prod(1 - p_i).

    Examples
    --------
    >>> round(noisy_or([0.2, 0.4], leak=0.1), 12)
    0.568
    """
    return float(1.0 - (1.0 - leak) * np.prod(1.0 - np.asarray(strengths, float)))


def diagnosis_table(trip: Trip, risks: Risks, vehicle: str) -> Diagnosis:
    """Causes of a vehicle with their chance on this trip, and how each shows.

    Returns
    -------
    Diagnosis
        Causes most likely first; symptoms by id; causes that cannot happen on this trip are left out.
    """
    library = trip.library
    mine = [r for r in risks.of(vehicle) if r.chance.value > 0.0]
    causes = tuple(r.mode for r in mine)
    symptoms = tuple(sorted({s.id for c in causes for s in library.failure_modes[c].symptoms}))
    at = {s: i for i, s in enumerate(symptoms)}
    link = np.zeros((len(symptoms), len(causes)))
    for j, cause in enumerate(causes):
        for shown in library.failure_modes[cause].symptoms:
            link[at[shown.id], j] = shown.probability
    leak = np.array([library.symptoms[s].leak if s in library.symptoms else 0.0 for s in symptoms], float)
    return Diagnosis(vehicle, causes, symptoms, np.array([r.chance.value for r in mine], float), link, leak)


def posterior(
    table: Diagnosis,
    present: Iterable[str] = (),
    absent: Iterable[str] = (),
    answers: Mapping[str, tuple[FieldTest, bool]] | None = None,
) -> Floats:
    """Chance of each cause given what is noticed, what is not, and questions answered; exact for a single fault.

    Parameters
    ----------
    table : Diagnosis
    present, absent : iterable of str
        Symptoms noticed, and looked for in vain; symptoms unknown to the table are left out.
    answers : mapping or None
        Cause -> (its field test, whether the answer was yes).

    Returns
    -------
    array, shape (causes,)
        Adds to 1 over the causes listed; all 0 where nothing listed explains what was noticed.

    Examples
    --------
    >>> table = Diagnosis("v", ("belt", "fuse"), ("squeal",), np.array([0.1, 0.1]), np.array([[0.9, 0.0]]), np.array([0.1]))
    >>> posterior(table, present=["squeal"]).round(3)
    array([0.901, 0.099])
    """
    weight = table.prior.copy()
    at = {s: i for i, s in enumerate(table.symptoms)}
    shows = 1.0 - (1.0 - table.leak[:, None]) * (1.0 - table.link)
    for symptom in present:
        if symptom in at:
            weight = weight * shows[at[symptom]]
    for symptom in absent:
        if symptom in at:
            weight = weight * (1.0 - shows[at[symptom]])
    for cause, (test, yes) in (answers or {}).items():
        weight = weight * _likelihood(table, cause, test, yes)
    total = weight.sum()
    return np.asarray(weight / total if total > 0 else np.zeros_like(weight))


def _likelihood(table: Diagnosis, cause: str, test: FieldTest, yes: bool) -> Floats:
    """Chance of an answer under each cause."""
    says_yes = np.full(len(table.causes), test.false_alarm)
    if cause in table.causes:
        says_yes[table.causes.index(cause)] = test.hit
    return says_yes if yes else 1.0 - says_yes


def next_look(
    table: Diagnosis,
    library: Library,
    present: Iterable[str] = (),
    absent: Iterable[str] = (),
    answers: Mapping[str, tuple[FieldTest, bool]] | None = None,
) -> list[Look]:
    """Questions not yet asked, by what each may teach per minute; best first.

    What an answer teaches is the expected fall of the posterior's entropy.

    Returns
    -------
    list of Look
        Causes with no chance left have no question.
    """
    answers = answers or {}
    now = posterior(table, present, absent, answers)
    looks = [
        _look(table, cause, library.failure_modes[cause].field_test, now)
        for cause, chance in zip(table.causes, now, strict=True)
        if chance > 0 and cause not in answers
    ]
    return sorted(looks, key=lambda look: (-look.bits_per_minute, look.cause))


def _look(table: Diagnosis, cause: str, test: FieldTest, now: Floats) -> Look:
    yes = _likelihood(table, cause, test, True)
    chance = float(now @ yes)
    bits = _entropy(now)
    for likelihood, share in ((yes, chance), (1.0 - yes, 1.0 - chance)):
        if share > 0:
            bits -= share * _entropy(now * likelihood / share)
    bits = max(0.0, bits)
    return Look(cause, test.question, test.minutes, chance, bits, bits / test.minutes)


def _entropy(chance: Floats) -> float:
    some = chance[chance > 0]
    return float(-(some * np.log2(some)).sum())
