"""What a device says of a session, and the interface described in OpenAPI."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self
from uuid import UUID

from pydantic import Field, model_validator

from firstrocker import __version__
from firstrocker.model import Condition, Side
from firstrocker.signals.session import FootSensor, SettingEntry, Shoe
from firstrocker.signals.strict import Label, Strict, mistake
from firstrocker.web.details import MOST_WALKS, Details, WalkEntry


class WalkSaid(Strict):
    """One walk."""

    walk: Label
    condition: Condition
    setting: SettingEntry | None = None


class HandIn(Strict):
    """A session as a device describes it; a clinician completes, checks and runs it."""

    id: Annotated[UUID, Field(description="drawn by the device for this session; the same when it is sent again")]
    subject: Annotated[Label, Field(description="the person's code, never a name")]
    session: Label
    affected_side: Side
    worn: Literal["affected", "both"] = "affected"
    foot_sensor: FootSensor | None = None
    shoe: Shoe | None = None
    walks: Annotated[list[WalkSaid], Field(min_length=1, max_length=MOST_WALKS)]

    @model_validator(mode="after")
    def _once_each(self) -> Self:
        names = [walk.walk.lower() for walk in self.walks]
        if len(set(names)) != len(names):
            raise mistake("Two walks have one label.", "Give each walk its own.")
        return self

    def details(self) -> Details:
        """As if it had been filled in by hand."""
        foot, shoe = self.foot_sensor or FootSensor(), self.shoe
        return Details(
            affected_side=self.affected_side,
            worn=self.worn,
            to_toe_mm=_text(foot.to_toe_mm),
            above_ground_mm=_text(foot.above_ground_mm),
            outsole_mm=_text(shoe.outsole_mm if shoe else None),
            shoe_size=_text(shoe.size if shoe else None),
            shoe_system=(shoe.system if shoe else None) or "",
            walks=tuple(
                WalkEntry(
                    walk.walk,
                    walk.condition,
                    walk.setting.label if walk.setting else "",
                    _text(walk.setting.resistance if walk.setting else None),
                    (walk.setting.unit if walk.setting else None) or "",
                )
                for walk in self.walks
            ),
        )


def _text(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


_RECEIPT = {
    "type": "object",
    "required": ["id", "logs"],
    "properties": {
        "id": {"type": "string"},
        "logs": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["name", "taken", "again", "refused"],
                "properties": {
                    "name": {"type": "string"},
                    "taken": {"type": "boolean"},
                    "again": {"type": "boolean", "description": "the session had this very log already"},
                    "refused": {"type": "string", "description": "why it was not taken; empty where it was"},
                },
            },
        },
    },
}
_REFUSAL = {
    "type": "object",
    "required": ["what"],
    "properties": {"what": {"type": "string"}, "remedy": {"type": "string"}},
}


def openapi(address: str) -> dict[str, Any]:
    """The interface for devices."""
    form = HandIn.model_json_schema(ref_template="#/components/schemas/{model}")
    schemas = form.pop("$defs", {})

    def answer(about: str, schema: dict[str, Any]) -> dict[str, Any]:
        return {"description": about, "content": {"application/json": {"schema": schema}}}

    refusals = {
        "400": "the form is broken or broke off",
        "401": "no device has this token",
        "403": "a browser sent this from another page",
        "409": "the person has a session of this label already",
        "413": "too large or too many",
        "415": "not a multipart form",
        "422": "the description is missing or wrong",
    }
    responses: dict[str, Any] = {code: answer(about, _REFUSAL) for code, about in refusals.items()}
    responses["403"] = {"description": refusals["403"]}
    responses["201"] = answer("a new session", _RECEIPT)
    responses["200"] = answer("the session of this id, once more", _RECEIPT)
    log = {"type": "string", "format": "binary", "description": "named walk:side:segment, such as slot:a:left:foot"}
    body = {
        "type": "object",
        "required": ["session"],
        "properties": {"session": {"$ref": "#/components/schemas/HandIn"}},
        "additionalProperties": log,
    }
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Hand a session in",
            "version": __version__,
            "description": "For a logger's own programme: the session's description first, then its logs.",
        },
        "servers": [{"url": address}],
        "paths": {
            "/api/v1/sessions": {
                "post": {
                    "operationId": "handIn",
                    "summary": "Hand a session in; sending it again does nothing twice",
                    "security": [{"device": []}],
                    "requestBody": {
                        "required": True,
                        "content": {
                            "multipart/form-data": {
                                "schema": body,
                                "encoding": {"session": {"contentType": "application/json"}},
                            }
                        },
                    },
                    "responses": responses,
                }
            }
        },
        "components": {
            "securitySchemes": {"device": {"type": "http", "scheme": "bearer"}},
            "schemas": {**schemas, "HandIn": form},
        },
    }
