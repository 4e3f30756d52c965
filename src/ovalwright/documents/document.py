"""A document: a part that stands in a file of its own, keeps what was typed, and can be changed and saved."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, ClassVar, Self

from pydantic import Field, PrivateAttr, ValidationError, field_validator

from ovalwright.documents import mistakes
from ovalwright.documents.part import Entry, Part, dotted
from ovalwright.documents.source import DocumentError, Keys, Source, read_file, read_text
from ovalwright.units import Place, show, unusual


class Document(Part):
    """A part with a file.

    ``document`` may name its kind, so that a file handed in by mistake is told at once.
    """

    document: str | None = Field(default=None, description="kind of the document")
    _source: Source | None = PrivateAttr(default=None)
    kind_name: ClassVar[str] = ""

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: Any) -> None:
        super().__pydantic_init_subclass__(**kwargs)
        cls.kind_name = cls.__name__.lower()

    @field_validator("document")
    @classmethod
    def _right_kind(cls, value: str | None) -> str | None:
        if value is not None and value != cls.kind_name:
            raise ValueError(f"this file says it is a {value[:40]}; a {cls.kind_name} is wanted here")
        return value

    @classmethod
    def load(cls, path: Path | str) -> Self:
        """Read a file. Raises DocumentError, one sentence; the file is never touched."""
        return cls._from_source(read_file(path))

    @classmethod
    def from_text(cls, text: str, *, name: str = "text", folder: Path | str = ".") -> Self:
        """Read TOML text as if it stood in file ``name`` of ``folder``. Raises DocumentError."""
        return cls._from_source(read_text(text, name=name, folder=Path(folder)))

    @classmethod
    def _from_source(cls, source: Source) -> Self:
        try:
            document = cls.model_validate(source.data)
        except ValidationError as error:
            raise DocumentError(mistakes.sentence(error, cls, source)) from None
        document._source = source
        return document

    @property
    def folder(self) -> Path:
        """Folder the files it names are looked for in."""
        return self._source.folder if self._source else Path()

    @property
    def file_name(self) -> str:
        """Name of its file, or the kind of document when it has none."""
        return self._source.name if self._source else self.kind_name

    @property
    def text(self) -> str:
        """The TOML text: exactly as typed when it was read from text."""
        return self._source.text if self._source else self._dumped()

    @property
    def whole_text(self) -> str:
        """TOML text that needs no file it is ``like``: as typed where it is like none."""
        if self._source is None or self._source.base is None:
            return self.text
        import tomlkit

        return tomlkit.dumps(self._source.data)

    def place(self, *keys: str | int) -> str:
        """``setup.toml line 12`` for a key, for a sentence about it."""
        return self._source.place(keys) if self._source else self.kind_name

    @property
    def warnings(self) -> tuple[str, ...]:
        """One sentence for each input that is unlikely but computed as written."""
        odd = [(entry.path, what) for entry in self.entries() if (what := _odd(entry))]
        return tuple(
            f"{self.place(*keys)}, {dotted(keys)}: {what}." for keys, what in [*odd, *self._remarks()]
        )

    def _remarks(self) -> list[tuple[Keys, str]]:
        """Further warnings of one kind of document."""
        return []

    def changed(self, changes: Mapping[str, object]) -> Self:
        """The document with some keys written anew, such as ``{"LR.coil.rate": "225 lb/in"}``.

        Items of lists count from one: ``lead[2].mass``. Comments and everything else stay as typed. Raises
        DocumentError when the result cannot be.
        """
        source = self._source or read_text(self._dumped(), name=self.file_name, folder=self.folder)
        for key, value in changes.items():
            try:
                source = source.edited(((split_key(key), writable(value)),))
            except (LookupError, TypeError, AttributeError, ValueError):
                raise DocumentError(
                    f"{self.file_name}, {key[:80]}: cannot be written; name a key of the file."
                ) from None
        return self._from_source(source)

    def save(self, path: Path | str) -> Path:
        """Write the text to a file, whole or not at all, and return its path. Raises DocumentError."""
        path = Path(path)
        beside = path.with_name(f".{path.name}.writing")
        try:
            beside.write_text(self.text, encoding="utf-8", newline="")
            beside.replace(path)
        except (OSError, ValueError) as problem:
            reason = getattr(problem, "strerror", None) or "the name cannot be used"
            raise DocumentError(f"{path}: cannot be written ({reason}); name a file that can be.") from None
        return path

    def _dumped(self) -> str:
        import tomlkit

        return tomlkit.dumps(_without_none(self.model_dump(exclude_unset=True)))


def _odd(entry: Entry) -> str:
    """What is unlikely about a value that was written, or nothing."""
    value, kind = entry.value, entry.kind
    if isinstance(value, Place) or not value.known or not unusual(value.si, kind):
        return ""
    return f"{show(value.si, kind)} is {unusual(value.si, kind)}; computed as written"


def split_key(key: str) -> Keys:
    """``"lead[2].mass"`` as ``("lead", 1, "mass")``. Raises ValueError when it is no key."""
    parts = re.findall(r"\[\d+\]|[^.\[\]]+", key)
    if not parts or "[0]" in parts:
        raise ValueError(f"{key} is no key")
    return tuple(int(part[1:-1]) - 1 if part[0] == "[" else part for part in parts)


def writable(value: object) -> object:
    """A value that TOML can hold, or ValueError."""
    if isinstance(value, (str, bool, int, float)):
        return value
    import tomlkit

    return tomlkit.item(value).unwrap()


def _without_none(value: Any) -> Any:
    """A dump fit for TOML: a coil or bar that is not there is ``"none"``, other absent keys are left out."""
    if isinstance(value, dict):
        kept = {
            key: "none" if key in ("coil", "bar") and item is None else item for key, item in value.items()
        }
        return {key: _without_none(item) for key, item in kept.items() if item is not None}
    return [_without_none(item) for item in value] if isinstance(value, (list, tuple)) else value
