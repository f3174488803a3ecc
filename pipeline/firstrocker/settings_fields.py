"""What every setting's field and every section of the settings share."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field


def setting(default: Any, *, unit: str, meaning: str, why: str, small: str = "", large: str = "", **bounds: Any) -> Any:
    """A field with all that its documentation needs; ``bounds`` are pydantic's ge, gt, le and lt.

    ``small`` and ``large`` say what a smaller or larger value brings; names and switches leave them out.
    """
    effect = f" Smaller: {small} Larger: {large}" if small or large else ""
    return Field(
        default,
        description=f"{meaning} Unit: {unit}. Why: {why}{effect}",
        json_schema_extra={"unit": unit, "meaning": meaning, "why": why, "small": small, "large": large},
        **bounds,
    )


class Section(BaseModel):
    """What all sections share: unknown keys are refused, values cannot be changed, no infinities."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)
