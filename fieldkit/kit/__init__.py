"""Which spares, tools, consumables and gear earn their weight, and what work before leaving: chosen together, proven."""

from fieldkit.kit.program import Column, Program, Solution, State, Work, make_program
from fieldkit.kit.solve import solve

__all__ = ["Column", "Program", "Solution", "State", "Work", "make_program", "solve"]
