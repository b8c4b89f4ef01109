"""Which spares, tools, consumables and gear earn their weight, and what work before leaving: chosen together, proven."""

from fieldkit.kit.choosing import choose_kit, decide_kit
from fieldkit.kit.options import KitOptions
from fieldkit.kit.program import Column, Program, Solution, State, Work, make_program
from fieldkit.kit.solve import solve

__all__ = [
    "Column",
    "KitOptions",
    "Program",
    "Solution",
    "State",
    "Work",
    "choose_kit",
    "decide_kit",
    "make_program",
    "solve",
]
