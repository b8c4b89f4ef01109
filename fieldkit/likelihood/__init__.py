"""How likely each weak point is to give trouble: stress, age, counts, damage from others, totals, diagnosis."""

from fieldkit.likelihood.cascade import cascade
from fieldkit.likelihood.coolant import coolant_margin
from fieldkit.likelihood.counts import count_tail, factor_nodes
from fieldkit.likelihood.diagnosis import diagnosis_table, next_look, posterior
from fieldkit.likelihood.hazard import hazards
from fieldkit.likelihood.moves import what_moves
from fieldkit.likelihood.risk import risks
from fieldkit.likelihood.stress import stress
from fieldkit.likelihood.totals import any_of, whole_trip

__all__ = [
    "any_of",
    "cascade",
    "coolant_margin",
    "count_tail",
    "diagnosis_table",
    "factor_nodes",
    "hazards",
    "next_look",
    "posterior",
    "risks",
    "stress",
    "what_moves",
    "whole_trip",
]
