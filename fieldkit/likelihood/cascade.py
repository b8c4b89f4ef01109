"""One failure raising another: the graph of secondary damage, its total means, and what it must never be."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from fieldkit.errors import Fault, InputFaults
from fieldkit.specs.base import Severity
from fieldkit.specs.library import Library

Floats = NDArray[np.float64]
Edge = tuple[str, str, float]

#: A round of damage that returns this share of itself, or more, is refused.
LARGEST_RADIUS = 1.0 - 1e-9


def damage_edges(library: Library, modes: Iterable[str], driven_on: Mapping[Severity, float]) -> list[Edge]:
    """(failing, damaged, chance per failure) among weak points that a vehicle has.

    Damage that only follows when the vehicle is driven on is scaled by the share of failures after which it is, by
    the failing mode's severity.
    """
    have = set(modes)
    edges = []
    for key in sorted(have):
        mode = library.failure_modes[key]
        for damage in mode.damages:
            if damage.mode in have:
                share = driven_on[mode.severity] if damage.if_driven_on else 1.0
                edges.append((key, damage.mode, damage.probability * share))
    return edges


def damage_matrix(names: Sequence[str], edges: Iterable[Edge]) -> Floats:
    """P with P[f, g] the chance that one failure of f damages g, shape (modes, modes).

    Raises
    ------
    InputFaults
        If a round of damage amplifies itself (spectral radius of P at 1 or above); names the round.
    """
    at = {name: i for i, name in enumerate(names)}
    matrix = np.zeros((len(names), len(names)))
    for source, target, probability in edges:
        matrix[at[source], at[target]] += probability
    faults = [_amplifying(round_) for round_ in _amplifying_rounds(names, matrix)]
    if faults:
        raise InputFaults(faults)
    return matrix


def cascade(own: Floats, matrix: Floats) -> tuple[Floats, Floats]:
    """Total means with every round of damage in, and the share B each root has in each mode.

    mu = (I - P^T)^-1 mu_own; B = (I - P)^-1, so that mu[f] = sum_r B[r, f] mu_own[r].

    Parameters
    ----------
    own : array, shape (modes,) or (modes, legs)
        Means of each mode's own causes; damage falls on the same leg.
    matrix : array, shape (modes, modes)
        From ``damage_matrix``: spectral radius below 1.

    Returns
    -------
    total : array, shape of own
    shares : array, shape (modes, modes)

    Examples
    --------
    >>> total, shares = cascade(np.array([0.2, 0.1]), np.array([[0.0, 0.5], [0.0, 0.0]]))
    >>> total.tolist()
    [0.2, 0.2]
    """
    shares: Floats = np.linalg.inv(np.eye(len(matrix)) - matrix).astype(np.float64)
    return np.asarray(shares.T @ own), shares


def combined_evidence(own: Floats, shares: Floats, worth: Floats) -> Floats:
    """Failures' worth of each total mean: k' = mu^2 / sum_r (B[r, f] mu_own[r])^2 / k_r.

    Parameters
    ----------
    own, worth : array, shape (modes,)
        Own means and their failures' worth (infinite allowed).
    shares : array, shape (modes, modes)

    Examples
    --------
    >>> combined_evidence(np.array([1.0, 1.0]), np.eye(2), np.array([2.0, 5.0]))
    array([2., 5.])
    """
    parts = shares * own[:, None]
    spread = (parts**2 / worth[:, None]).sum(axis=0)
    total = parts.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(spread > 0, total**2 / spread, worth)


def _amplifying_rounds(names: Sequence[str], matrix: Floats) -> list[list[str]]:
    _, part_of = connected_components(csr_array(matrix), connection="strong")
    rounds = []
    for part in np.unique(part_of).tolist():
        pick = np.flatnonzero(part_of == part).tolist()
        block = matrix[np.ix_(pick, pick)]
        if block.any() and max(abs(np.linalg.eigvals(block))) > LARGEST_RADIUS:
            rounds.append(_strongest_round([names[i] for i in pick], block))
    return sorted(rounds)


def _strongest_round(names: Sequence[str], matrix: Floats) -> list[str]:
    import networkx as nx  # only where a library is refused

    at = {name: i for i, name in enumerate(names)}
    graph = nx.DiGraph([(names[i], names[j]) for i, j in zip(*np.nonzero(matrix), strict=True)])

    def strength(nodes: list[str]) -> float:
        pairs = zip(nodes, [*nodes[1:], nodes[0]], strict=True)
        return float(np.prod([matrix[at[a], at[b]] for a, b in pairs]))

    rounds = list(nx.simple_cycles(graph, length_bound=6)) or [[a for a, _ in nx.find_cycle(graph)]]
    best = max(sorted(map(_from_first, rounds)), key=lambda r: (strength(r), -len(r)))
    return [*best, best[0]]


def _from_first(nodes: list[str]) -> list[str]:
    i = nodes.index(min(nodes))
    return nodes[i:] + nodes[:i]


def _amplifying(round_: Sequence[str]) -> Fault:
    return Fault(
        "failure_modes",
        f"damage goes round and grows: {' -> '.join(round_)}",
        "probabilities in 'damages' whose rounds shrink (product below 1)",
    )


def library_faults(library: Library) -> list[Fault]:
    """Amplifying rounds of a whole library, whatever vehicle it is for, every damage taken as certain to be driven on."""
    always: dict[Severity, float] = {"unsafe": 1.0, "disabled": 1.0, "limp": 1.0, "nuisance": 1.0}
    edges = damage_edges(library, library.failure_modes, always)
    try:
        damage_matrix(list(library.failure_modes), edges)
    except InputFaults as odd:
        return list(odd.faults)
    return []
