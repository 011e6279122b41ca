"""The form of the list of machines."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from nestwright.habitat.form import Length, Quantity
from nestwright.letters import one_line

__all__ = ["MachineForm", "MachinesForm"]
_Offset = Annotated[float | None, Quantity("position")]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class MachineForm(_Table):
    name: Annotated[str, Field(min_length=1, max_length=60), AfterValidator(one_line)] = Field(
        description="as on the plan"
    )
    way: Literal["printed", "resin", "laser", "milled", "turned", "cast", "hand"] = Field(description="what it does")
    hours: Annotated[float, Field(ge=0.5, le=24, allow_inf_nan=False)] = Field(description="that it runs in a day")
    bed: Annotated[list[Length] | None, Field(min_length=2, max_length=3)] = Field(
        None, description="largest piece: width, depth and, of a printer, height"
    )
    hole_offset: _Offset = Field(None, description="that holes come out larger than drawn, from a test piece")
    spigot_offset: _Offset = Field(None, description="that outsides come out larger than drawn, from a test piece")
    offset_error: _Offset = Field(None, description="one standard error of both offsets")
    scale: Annotated[float | None, Field(ge=0.9, le=1.1, strict=True)] = Field(
        None, description="made over drawn length, from a test piece"
    )


class MachinesForm(_Table):
    format: Literal[1] = Field(description="form of this file")
    machine: list[MachineForm] = Field(default_factory=list, max_length=200)
    rules: dict[str, Any] = Field(default_factory=dict, description="own rules of making in place of the shipped ones")
    rates: dict[str, Any] = Field(default_factory=dict, description="own rates in place of the shipped ones")
