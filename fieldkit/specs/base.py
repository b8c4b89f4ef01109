"""What every specification shares: frozen, unknown keys refused, quantities as text with a unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints, WithJsonSchema

from fieldkit.quantities import INSIDE, parse


class Spec(BaseModel):
    """Base of everything people write. TOML keys are the aliases; attributes carry the unit."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


def _reader(kind: str) -> Callable[[Any], float]:
    def read(value: Any) -> float:
        return parse(value, kind)

    return read


def _schema(kind: str) -> WithJsonSchema:
    unit, example, _, _ = INSIDE[kind]
    return WithJsonSchema(
        {"type": "string", "description": f"a {kind} with its unit; read as {unit}", "examples": [example]}
    )


Mass = Annotated[float, BeforeValidator(_reader("mass")), _schema("mass")]
Length = Annotated[float, BeforeValidator(_reader("length")), _schema("length")]
Distance = Annotated[float, BeforeValidator(_reader("distance")), _schema("distance")]
Depth = Annotated[float, BeforeValidator(_reader("depth")), _schema("depth")]
Volume = Annotated[float, BeforeValidator(_reader("volume")), _schema("volume")]
Speed = Annotated[float, BeforeValidator(_reader("speed")), _schema("speed")]
Hours = Annotated[float, BeforeValidator(_reader("time")), _schema("time")]
Days = Annotated[float, BeforeValidator(_reader("days")), _schema("days")]
Pressure = Annotated[float, BeforeValidator(_reader("pressure")), _schema("pressure")]
Power = Annotated[float, BeforeValidator(_reader("power")), _schema("power")]
Consumption = Annotated[float, BeforeValidator(_reader("consumption")), _schema("consumption")]
Temperature = Annotated[float, BeforeValidator(_reader("temperature")), _schema("temperature")]

Share = Annotated[float, Field(ge=0.0, le=1.0)]
Factor = Annotated[float, Field(gt=0.0, le=50.0)]
Id = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
Text = Annotated[str, StringConstraints(min_length=1)]

Severity = Literal["unsafe", "disabled", "limp", "nuisance"]
UnsafeKind = Literal["do-not-move", "get-out-only"]
Skill = Literal["anyone", "practised", "trained"]
Grade = Literal["maker", "good", "bargain"]
Need = Literal["highway", "two-wheel", "four-wheel", "low-range"]
Channel = Literal["vibration", "torque", "impact", "heat", "water", "abrasion", "dust", "braking"]
Driver = Literal[
    "tyre", "mass", "front_load", "rear_load", "front_torque", "rear_torque",
    "power", "airflow", "lift", "unsprung", "roof", "electrical",
]  # fmt: skip

CHANNELS: tuple[str, ...] = ("vibration", "torque", "impact", "heat", "water", "abrasion", "dust", "braking")
NEEDS: tuple[str, ...] = ("highway", "two-wheel", "four-wheel", "low-range")
SKILLS: tuple[str, ...] = ("anyone", "practised", "trained")
