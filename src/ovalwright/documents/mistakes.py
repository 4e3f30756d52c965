"""From pydantic's list of errors to the one sentence a racer reads."""

from __future__ import annotations

import difflib
import types
import typing
from typing import Any

from pydantic import BaseModel, ValidationError

from ovalwright.documents.part import dotted, kind_of
from ovalwright.documents.source import Keys, Source

_SHOWN_KEYS = 12


def sentence(error: ValidationError, model: type[BaseModel], source: Source | None) -> str:
    """The first mistake in a document, what is written wrong before what is missing. Ends with a stop."""
    mistakes = error.errors(include_url=False, include_input=True)
    first = min(mistakes, key=lambda item: _rank(item, source))
    keys: Keys = tuple(first["loc"])
    shown = keys[:-1] if first["type"] == "missing" else keys
    place = source.place(keys) if source else model.__name__.lower()
    what = f"{place}, {_clean(dotted(shown))}" if shown else place
    return f"{what}: {_said(first, keys, model)}."


def _rank(item: Any, source: Source | None) -> tuple[bool, int]:
    return item["type"] in ("missing", "too_short"), source.where(tuple(item["loc"]))[1] if source else 0


def _said(item: Any, keys: Keys, model: type[BaseModel]) -> str:
    context = item.get("ctx", {})
    match item["type"]:
        case "value_error":
            return str(context["error"])
        case "extra_forbidden":
            return _unknown(str(keys[-1]), _model_at(model, keys[:-1]))
        case "missing":
            return _missing(str(keys[-1]), _model_at(model, keys[:-1]))
        case "model_type" | "model_attributes_type" | "dict_type":
            return f"should be a table; write [{_clean(dotted(keys))}] and its keys below"
        case "literal_error":
            return _unknown_word(str(item["input"]), str(context["expected"]))
        case "string_type":
            return 'should be text; write it in quotes, such as "A-12"'
        case "string_too_long":
            return f"is longer than {context['max_length']} characters; write it shorter"
        case "bool_type" | "bool_parsing":
            return "should be true or false"
        case "tuple_type" | "list_type":
            return "should be a list; write [...] or repeated [[...]] tables"
        case "too_short":
            return f"has {context['actual_length']} entries; write at least {context['min_length']}"
        case "too_long":
            return f"has too many entries; write at most {context['max_length']}"
        case "date_type" | "date_from_datetime_parsing" | "date_parsing" | "date_from_datetime_inexact":
            return "is no date; write year-month-day such as 2026-05-09"
        case "finite_number":
            return "is not a finite number; write a plain number"
        case _:
            message = str(item["msg"])
            return message[:1].lower() + message[1:]


def _unknown(key: str, model: type[BaseModel] | None) -> str:
    known = [field.alias or name for name, field in model.model_fields.items()] if model else []
    matches = {name.lower(): name for name in known}
    near = [matches[name] for name in difflib.get_close_matches(key.lower(), matches, n=2, cutoff=0.62)]
    if near:
        return f"this key is not known here; write {' or '.join(near)}"
    listed = ", ".join(known[:_SHOWN_KEYS]) + (", ..." if len(known) > _SHOWN_KEYS else "")
    return f"this key is not known here; the keys here are {listed}"


def _unknown_word(word: str, expected: str) -> str:
    """A word that is none of the few a key may hold, given as pydantic lists them: ``'a', 'b' or 'c'``."""
    words = [known.strip("'") for known in expected.replace(" or ", ", ").split(", ")]
    near = difflib.get_close_matches(word, words, n=2) or words[:_SHOWN_KEYS]
    return f'"{_clean(word)}" is not known here; write {" or ".join(near)}'


def _missing(key: str, model: type[BaseModel] | None) -> str:
    field = model.model_fields.get(key) if model else None
    kind = kind_of(field) if field else None
    about = f" ({field.description})" if field and field.description else ""
    if field and "Place" in str(field.annotation):
        return f'{key} is missing{about}; write {key} = "x, y, z in"'
    if kind:
        return f'{key} is missing{about}; write {key} = "{kind.example}"'
    if field and model_in(field.annotation):
        return f"the table {key} is missing{about}; write [{key}] and its keys below"
    return f"{key} is missing{about}; write {key} = ..."


def _model_at(model: type[BaseModel], keys: Keys) -> type[BaseModel] | None:
    """The model that reads the table at a path."""
    here: Any = model
    for key in keys:
        current = model_in(here)
        if current is not None and isinstance(key, str) and key in current.model_fields:
            here = current.model_fields[key].annotation
        elif current is None:
            return None
    return model_in(here)


def model_in(annotation: Any) -> type[BaseModel] | None:
    """The document model inside an annotation such as ``Model | None`` or ``tuple[Model, ...]``."""
    if isinstance(annotation, type) and not isinstance(annotation, types.GenericAlias):
        return annotation if issubclass(annotation, BaseModel) else None
    inner = (model_in(argument) for argument in typing.get_args(annotation))
    return next((found for found in inner if found is not None), None)


def _clean(text: str) -> str:
    return text if len(text) <= 90 else text[:87] + "..."
