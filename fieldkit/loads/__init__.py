"""Masses, axles and tyres: what each vehicle weighs in every state, and what its limits leave.

``weigh`` (a whole trip), ``axle_loads`` (moments), ``load_faults``; ``parse_tyre``, ``tyre_report``, ``load_capacity_kg``,
``derived_features``; ``side_view`` (a drawing as plain data).
"""

from fieldkit.loads.drawing import side_view
from fieldkit.loads.fitted_tyres import derived_features, fitted_tyre
from fieldkit.loads.moments import axle_loads
from fieldkit.loads.placard import cargo_left, normal_occupants
from fieldkit.loads.tyre_load import load_capacity_kg
from fieldkit.loads.tyre_report import odd_sizes, tyre_report
from fieldkit.loads.tyre_size import TyreSize, TyreSizeError, parse_tyre
from fieldkit.loads.weighing import load_faults, weigh

__all__ = [
    "TyreSize",
    "TyreSizeError",
    "axle_loads",
    "cargo_left",
    "derived_features",
    "fitted_tyre",
    "load_capacity_kg",
    "load_faults",
    "normal_occupants",
    "odd_sizes",
    "parse_tyre",
    "side_view",
    "tyre_report",
    "weigh",
]
