"""Freeing a stuck vehicle: pulls, rigs with every part's load, gear rated for the vehicles it must serve.

``plan_recovery`` (a whole trip), ``recovery_pull``, ``rig``, ``gear_refused``; ``block_load``, ``bridle_leg``,
``winch_pull_by_layer``, ``strap_accepts``; ``rig_sheet`` (a drawing as plain data).
"""

from fieldkit.recovery.drawing import rig_sheet
from fieldkit.recovery.gear import gear_refused
from fieldkit.recovery.planning import plan_recovery
from fieldkit.recovery.pull import recovery_pull
from fieldkit.recovery.rig import Angles, Block, Gear, rig
from fieldkit.recovery.rigging import block_load, bridle_leg, shackle_share, strap_accepts, winch_pull_by_layer
from fieldkit.recovery.told import as_text

__all__ = [
    "Angles",
    "Block",
    "Gear",
    "as_text",
    "block_load",
    "bridle_leg",
    "gear_refused",
    "plan_recovery",
    "recovery_pull",
    "rig",
    "rig_sheet",
    "shackle_share",
    "strap_accepts",
    "winch_pull_by_layer",
]
