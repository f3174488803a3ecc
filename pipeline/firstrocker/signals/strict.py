"""Strict models of what people write by hand, and their mistakes in plain words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, BeforeValidator, ConfigDict, StringConstraints, ValidationError
from pydantic_core import ErrorDetails, PydanticCustomError


class Strict(BaseModel):
    """Unknown keys are refused, types are not converted, values cannot be changed, no infinities."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


@dataclass(frozen=True)
class Problem:
    """One mistake: the key it stands at, what is wrong, how to mend it."""

    key: str
    what: str
    remedy: str = ""

    def __str__(self) -> str:
        return f"{self.key}: {self.what} {self.remedy}".strip() if self.key else f"{self.what} {self.remedy}".strip()


def mistake(what: str, remedy: str = "") -> PydanticCustomError:
    """An error that a validator can raise, with its remedy."""
    return PydanticCustomError("mistake", "{what}", {"what": what, "remedy": remedy})


def did_you_mean(name: str, known: Iterable[str], *, also: str = "Known are") -> str:
    """A remedy that names the nearest known name, or all of them.

    >>> did_you_mean("condtion", ["condition", "walk"])
    "Did you mean 'condition'?"
    """
    names = sorted(set(known))
    close = get_close_matches(name, names, n=1, cutoff=0.6)
    if close:
        return f"Did you mean {quoted(close[0])}?"
    return f"{also}: {', '.join(names[:20])}{' ...' if len(names) > 20 else ''}." if names else ""


def quoted(value: object, *, limit: int = 40) -> str:
    """A value as it may be shown in a sentence: short, in one line, nothing unprintable."""
    text = str(value)
    text = "".join(c if c.isprintable() else "?" for c in text[: limit + 1])
    return f"'{text[:limit]}...'" if len(text) > limit else f"'{text}'"


def _as_label(value: object) -> object:
    """YAML reads a label of digits as a number; it is meant as text."""
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


Label = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9]{1,40}$"), BeforeValidator(_as_label)]
"""Letters and digits of ASCII, at most 40: what folder names and tables can carry."""


def problems_of(error: ValidationError, model: type[BaseModel]) -> list[Problem]:
    """Every mistake of a validation error, each at its key, in plain words."""
    return [_problem(details, model) for details in error.errors(include_url=False)]


def _problem(details: ErrorDetails, model: type[BaseModel]) -> Problem:
    location = tuple(details["loc"])
    key, kind, given = key_path(location), details["type"], details["input"]
    last = str(location[-1]) if location else ""
    context: dict[str, Any] = details.get("ctx") or {}
    match kind:
        case "extra_forbidden":
            known = _fields_at(model, location[:-1])
            return Problem(key, f"There is no key {quoted(last)} here.", did_you_mean(last, known, also="Allowed are"))
        case "missing":
            return Problem(key, f"The key {quoted(last)} is missing.", "Add it.")
        case "mistake":
            return Problem(key, str(context["what"]), str(context["remedy"]))
        case "literal_error":
            return Problem(
                key, f"{quoted(given)} is not one of the words allowed here.", f"Write {context['expected']}."
            )
        case "string_pattern_mismatch":
            return _pattern_problem(key, given, str(context.get("pattern", "")))
        case "float_type" | "float_parsing" | "int_type" | "int_parsing" | "finite_number":
            return Problem(key, f"{quoted(given)} is not a number.", "Write a plain number, without a unit and quotes.")
        case "string_too_long" | "string_too_short":
            bound = context.get("max_length", context.get("min_length"))
            word = "at most" if kind == "string_too_long" else "at least"
            signs = "sign" if bound == 1 else "signs"
            return Problem(key, f"{quoted(given)} must have {word} {bound} {signs}.", "Make it so.")
        case "string_type":
            return Problem(key, f"{quoted(given)} is not text.", "Write it in quotes.")
        case "model_type" | "dict_type" | "model_attributes_type":
            return Problem(key, "There must be keys with values here.", "Write one 'key: value' per line, indented.")
        case "list_type" | "tuple_type":
            return Problem(key, "There must be a list here.", "Begin each entry with '- '.")
        case "greater_than" | "greater_than_equal" | "less_than" | "less_than_equal":
            limit = next(value for name, value in context.items() if name in ("gt", "ge", "lt", "le"))
            word = {"greater_than": "over", "greater_than_equal": "at least", "less_than": "under"}.get(kind, "at most")
            return Problem(key, f"{quoted(given)} cannot be right: it must be {word} {limit}.", "Check value and unit.")
        case "too_short" | "too_long":
            bound = context.get("min_length", context.get("max_length"))
            word = "at least" if kind == "too_short" else "at most"
            entries = "one entry" if bound == 1 else f"{bound} entries"
            return Problem(key, f"There must be {word} {entries} here.", "Add or take away entries.")
    message = details["msg"]
    return Problem(key, f"{message[:1].upper()}{message[1:]}.")


def _pattern_problem(key: str, given: object, pattern: str) -> Problem:
    if pattern.startswith(r"^[A-Za-z0-9]{"):
        return Problem(key, f"{quoted(given)} is not a label.", "Use letters and digits only, at most 40 of them.")
    remedy = "Use letters, digits, spaces and simple signs only, and begin with a letter or digit."
    return Problem(key, f"{quoted(given)} holds signs that are not allowed here.", remedy)


def key_path(location: Sequence[int | str]) -> str:
    """Keys and list places as people read them, counted from 1.

    >>> key_path(("walks", 0, "logs", 1, "side"))
    'walks[1].logs[2].side'
    """
    path = ""
    for part in location:
        if isinstance(part, int):
            path += f"[{part + 1}]"
        else:
            path += f".{part}" if path else part
    return path[:120]


def _fields_at(model: type[BaseModel], location: Sequence[int | str]) -> list[str]:
    """Names of the keys allowed where ``location`` leads, empty where it leads out of the models."""
    here: Any = model
    for part in location:
        here = _unwrap(here)
        if isinstance(here, type) and issubclass(here, BaseModel):
            field = here.model_fields.get(str(part))
            if field is None:
                return []
            here = field.annotation
        elif get_origin(here) in (list, tuple, dict):
            here = get_args(here)[1 if get_origin(here) is dict else 0]
        # Any other part names the branch of a union that was tried, which is no key.
    here = _unwrap(here)
    return list(here.model_fields) if isinstance(here, type) and issubclass(here, BaseModel) else []


def _unwrap(annotation: Any) -> Any:
    """The model, list or mapping inside ``X | None`` and ``Annotated[X, ...]``."""
    while True:
        origin = get_origin(annotation)
        if origin is Annotated:
            annotation = get_args(annotation)[0]
        elif origin in (Union, UnionType):
            inside = [a for a in get_args(annotation) if a is not type(None)]
            models = [a for a in inside if isinstance(a, type) and issubclass(a, BaseModel)]
            annotation = (models or inside)[0]
            if not models and len(inside) > 1:
                return annotation
        else:
            return annotation
