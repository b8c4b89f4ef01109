"""Prepare ageing, laden off-road vehicles for places with no workshop and no signal.

The names below are the public interface; each is loaded when first used, so that importing the package stays cheap.

>>> import fieldkit
>>> round(float(fieldkit.count_tail(1, 0.5, 1, float("inf"), float("inf"))), 4)
0.3935
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fieldkit.compare import compare_plans
    from fieldkit.export import plan_frames
    from fieldkit.handbook import write_handbook
    from fieldkit.kit import choose_kit
    from fieldkit.likelihood import count_tail
    from fieldkit.loads import axle_loads
    from fieldkit.plan import make_plan
    from fieldkit.recovery import recovery_pull
    from fieldkit.report import check_trip
    from fieldkit.route import read_route
    from fieldkit.specs.read_trip import load_trip
    from fieldkit.trials import trial_runs

__all__ = [
    "axle_loads",
    "check_trip",
    "choose_kit",
    "compare_plans",
    "count_tail",
    "load_trip",
    "make_plan",
    "plan_frames",
    "read_route",
    "recovery_pull",
    "trial_runs",
    "write_handbook",
]

_HOME = {
    "axle_loads": "loads",
    "check_trip": "report",
    "choose_kit": "kit",
    "compare_plans": "compare",
    "count_tail": "likelihood",
    "load_trip": "specs.read_trip",
    "make_plan": "plan",
    "plan_frames": "export",
    "read_route": "route",
    "recovery_pull": "recovery",
    "trial_runs": "trials",
    "write_handbook": "handbook",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'fieldkit' has no attribute {name!r}")
    return getattr(import_module(f"fieldkit.{_HOME[name]}"), name)
