"""The base of every document model.

How a field says its kind, its typical value, and that it may be left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, NamedTuple

from pydantic import BaseModel, ConfigDict, Field, GetCoreSchemaHandler, ValidationInfo, field_validator
from pydantic.fields import FieldInfo
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import PydanticUndefined, core_schema

from ovalwright.units import (
    KINDS,
    STATED_EVIDENCE,
    Kind,
    Place,
    Quantity,
    read_place,
    read_quantity,
    typical_place,
    typical_quantity,
)

_MOST_ENTRIES = 3000


class _Written:
    """Tells pydantic how a quantity or a place is checked, written out and described to an editor."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        as_written = core_schema.plain_serializer_function_ser_schema(written)
        return core_schema.is_instance_schema(source, serialization=as_written)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> JsonSchemaValue:
        amount = {"type": ["string", "number"]}
        evidence = {"enum": list(STATED_EVIDENCE)}
        full = {
            "type": "object",
            "properties": {"value": amount, "give_or_take": amount, "from": evidence},
            "required": ["value"],
            "additionalProperties": False,
        }
        return {"anyOf": [amount, full]}


Amount = Annotated[Quantity, _Written()]
Spot = Annotated[Place, _Written()]


def written(value: Quantity | Place) -> str | dict[str, str]:
    """A quantity or place as it is written in a file."""
    if value.evidence == "unstated" and not value.give_text:
        return value.text
    full = {"value": value.text}
    if value.give_text:
        full["give_or_take"] = value.give_text
    if value.evidence != "unstated":
        full["from"] = value.evidence
    return full


_POINT = "5.50, 9.60, 6.20 in"


def _schema_of(kind: str, example: str = "", **more: str) -> dict[str, Any]:
    """What an editor is told of a field; ``kind`` is also how the field knows its own."""
    return {"kind": kind, "examples": [example or KINDS[kind].example], **more}


def given(kind: str, about: str = "") -> Any:
    """A field that must be written."""
    return Field(description=about or None, json_schema_extra=_schema_of(kind))


def optional(kind: str, about: str = "") -> Any:
    """A field that may be left out; None then."""
    return Field(default=None, description=about or None, json_schema_extra=_schema_of(kind))


def typical(kind: str, text: str, spread: str, about: str = "") -> Any:
    """A field that takes ``text`` when left out.

    ``spread`` is one standard deviation (``5 in``, ``5 %``, ``x2``).
    """
    stand_in = typical_quantity(text, KINDS[kind], spread)
    extra = _schema_of(kind, default=text)
    return Field(default=stand_in, description=about or None, json_schema_extra=extra)


def spot(about: str = "") -> Any:
    """A point of the car that must be written."""
    return Field(description=about or None, json_schema_extra=_schema_of("point", _POINT))


def typical_spot(text: str, spread: str, about: str = "") -> Any:
    """A point of the car that takes ``text`` when left out; ``spread`` is one standard deviation per axis."""
    stand_in = typical_place(text, KINDS["point"], spread)
    extra = _schema_of("point", _POINT, default=text)
    return Field(default=stand_in, description=about or None, json_schema_extra=extra)


def kind_of(field: FieldInfo) -> Kind | None:
    """The kind of a field, None when it holds no quantity."""
    extra = field.json_schema_extra
    name = extra.get("kind") if isinstance(extra, dict) else None
    return KINDS[str(name)] if name else None


class Entry(NamedTuple):
    """One quantity or place of a document: where it stands, what kind it is, and what it holds."""

    path: tuple[str | int, ...]
    kind: Kind
    value: Quantity | Place

    @property
    def key(self) -> str:
        """The path as it is written in the file, for instance ``LR.coil.rate``."""
        return dotted(self.path)


def dotted(path: tuple[str | int, ...]) -> str:
    """``("ballast", 0, "mass")`` as ``ballast[1].mass``: people count from one."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


class Part(BaseModel):
    """A table of a document: unknown keys are errors, values never change, quantities are read here."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_max_length=4000, hide_input_in_errors=True)

    @field_validator("*", mode="before")
    @classmethod
    def _read(cls, value: Any, info: ValidationInfo) -> Any:
        field = cls.model_fields[info.field_name or ""]
        kind = kind_of(field)
        if isinstance(value, (list, tuple, dict)) and len(value) > _MOST_ENTRIES:
            raise ValueError(f"has {len(value)} entries; write at most {_MOST_ENTRIES}")
        if kind is None or isinstance(value, (Quantity, Place)) or (value is None and field.default is None):
            return value
        if _holds_place(field):
            return read_place(value, kind)
        return read_quantity(value, kind, spread=_spread(field))

    def entries(self, path: tuple[str | int, ...] = ()) -> Iterator[Entry]:
        """Every quantity and place in this part and the parts below it, those left out included."""
        for name, field in type(self).model_fields.items():
            value = getattr(self, name)
            kind = kind_of(field)
            if kind is not None and isinstance(value, (Quantity, Place)):
                yield Entry((*path, name), kind, value)
            else:
                yield from _entries_below(value, (*path, name))

    def left_out(self) -> tuple[str, ...]:
        """Keys whose typical value stands in because nothing was written."""
        return tuple(entry.key for entry in self.entries() if not entry.value.known)


def _entries_below(value: object, path: tuple[str | int, ...]) -> Iterator[Entry]:
    if isinstance(value, Part):
        yield from value.entries(path)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _entries_below(item, (*path, key))
    elif isinstance(value, (list, tuple)):
        for index, item in enumerate(value):
            yield from _entries_below(item, (*path, index))


def _holds_place(field: FieldInfo) -> bool:
    return "Place" in str(field.annotation)


def _spread(field: FieldInfo) -> float | None:
    """One standard deviation, SI, of the typical value of a field that has one."""
    default = field.default
    if default is PydanticUndefined or not isinstance(default, Quantity):
        return None
    return default.give_or_take / 2
