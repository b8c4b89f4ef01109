"""The figures and words of ``settings/<name>.toml``, checked against a model.

A club's overlay may hold only what differs: it is laid over the shipped file table by table, key by key.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, TypeVar

from fieldkit.errors import InputFaults
from fieldkit.specs.base import Spec
from fieldkit.specs.library import Library
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.reading import lines_of, parse_toml, read_spec
from fieldkit.tables import read_text

S = TypeVar("S", bound=Spec)


def read_settings(name: str, model: type[S], library: Library | None = None, whole_tables: bool = False) -> S:
    """``settings/<name>.toml`` as a model, the library's own table laid over the shipped one.

    Parameters
    ----------
    name : str
        The file's name without its ending.
    model : Spec subclass
        What the file must hold.
    library : Library or None
        The shipped file alone when None.
    whole_tables : bool
        Whether a table of the library's stands in place of the shipped one, not over it key by key.

    Raises
    ------
    InputFaults
        With every fault of the file, by its key.
    """
    own = library.settings.get(name, {}) if library else {}
    shipped, _ = shipped_settings(name)
    if not own or own == shipped:
        return _checked_shipped(name, model)
    data = {**shipped, **own} if whole_tables else laid_over(shipped, own)
    spec, faults = read_spec(model, data, f"settings/{name}.toml", {})  # the shipped file's lines are not the library's
    if spec is None:
        raise InputFaults(sorted(faults))
    return spec


def laid_over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """Two nested tables as one; ``above`` wins key by key.

    Examples
    --------
    >>> laid_over({"a": {"x": 1, "y": 2}}, {"a": {"y": 3}})
    {'a': {'x': 1, 'y': 3}}
    """
    result = dict(below)
    for key, value in above.items():
        old = result.get(key)
        result[key] = laid_over(old, value) if isinstance(old, Mapping) and isinstance(value, Mapping) else value
    return result


@lru_cache(maxsize=32)
def shipped_settings(name: str) -> tuple[dict[str, Any], dict[Any, int]]:
    """The shipped ``settings/<name>.toml`` and the line of each of its keys.

    Raises
    ------
    InputFaults
        If it cannot be read.
    """
    file = f"settings/{name}.toml"
    text, faults = read_text(shipped_folder("vehicle_specs") / "settings" / f"{name}.toml", file)
    data, more = parse_toml(text, file) if not faults else ({}, [])
    if faults or more:
        raise InputFaults([*faults, *more])
    return data, lines_of(text)


@lru_cache(maxsize=32)
def _checked_shipped(name: str, model: type[S]) -> S:
    data, where = shipped_settings(name)
    spec, faults = read_spec(model, data, f"settings/{name}.toml", where)
    if spec is None:
        raise InputFaults(sorted(faults))
    return spec
