"""The box that holds a bundle: a zip of TOML documents and CSV tables, and a manifest that vouches for them.

Reading trusts nothing: what is cut short, damaged, added, too large or aimed at another folder is
refused with one sentence, and nothing is ever written to disk. Equal members make equal bytes.
"""

from __future__ import annotations

import hashlib
import io
import os
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import tomlkit

from ovalwright.documents.source import DocumentError, parsed, read_bytes
from ovalwright.notebook.trouble import NotebookTrouble

SUFFIX = ".ovalbox"
MANIFEST = "manifest.toml"
VERSION = 3
"""Version of the bundle that is written; a newer one is not read."""
MOST_MEMBERS = 10_000
LARGEST_PACKED = 64_000_000
"""Bytes of a bundle as it is sent."""
LARGEST_UNPACKED = 512_000_000
"""Bytes of all its members together."""
LARGEST_MEMBER = 256_000_000
LARGEST_MANIFEST = 2_000_000
HIGHEST_RATIO = 250
"""No member of more than `SMALL` bytes unpacks to more than this many times its packed size."""
SMALL = 1_000_000
LONGEST_NAME = 120
_NAME = re.compile(r"(?:[A-Za-z0-9_][A-Za-z0-9_-]*/){0,3}[A-Za-z0-9_][A-Za-z0-9_-]*\.(?:toml|csv)")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_CHUNK = 1 << 16
_FIRST_DATE = (1980, 1, 1, 0, 0, 0)
_PLAIN_FILE = (stat.S_IFREG | 0o644) << 16
_END = struct.Struct("<4s4H2LH")
_END_MARK, _LONG_MARK, _FIRST_MARK = b"PK\x05\x06", b"PK\x06\x07", b"PK\x03\x04"
_LARGEST_LIST = (MOST_MEMBERS + 1) * (46 + LONGEST_NAME + 100)
_SCRAMBLED = 0x1 | 0x40 | 0x2000
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ZIP_FAULTS = (
    zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, RuntimeError, OverflowError, ValueError,
    LookupError,
)  # fmt: skip

About = Mapping[str, str | int | bool]


@dataclass(frozen=True)
class Box:
    """An opened bundle: what it is called, what it says it is, and its members, all of them vouched for."""

    name: str
    about: About
    members: Mapping[str, bytes]

    def text(self, member: str) -> str:
        """A member as text. Raises NotebookTrouble when it is no UTF-8."""
        try:
            return self.members[member].decode("utf-8-sig")
        except UnicodeDecodeError:
            _refuse(self.name, f"{member} holds bytes that are no UTF-8 text", "ask for it to be made again")


def write_box(members: Mapping[str, bytes], about: About) -> bytes:
    """The bundle of some members, such as ``{"setups/K7M2QX.toml": b"..."}``, as bytes.

    It is read back before it is given. Raises NotebookTrouble when no reader would take it.
    """
    content = {MANIFEST: _manifest(members, about), **dict(sorted(members.items()))}
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, raw in content.items():
            info = zipfile.ZipInfo(name, _FIRST_DATE)
            info.create_system, info.external_attr = 3, _PLAIN_FILE
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, raw, compresslevel=6)
    written = buffer.getvalue()
    read_box(written, name="the bundle")
    return written


def save_box(path: Path | str, members: Mapping[str, bytes], about: About) -> Path:
    """Write a bundle to a new file, whole or not at all, and return its path.

    A file that is there is never written over. Raises NotebookTrouble.
    """
    path = Path(path)
    written = write_box(members, about)
    beside = path.with_name(f".{path.name}.writing")
    try:
        if path.exists():
            _refuse(str(path), "is there already", "choose another name for the bundle")
        with beside.open("wb") as file:
            file.write(written)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except (OSError, ValueError) as problem:
        if isinstance(problem, NotebookTrouble):
            raise
        beside.unlink(missing_ok=True)
        reason = getattr(problem, "strerror", None) or "the name cannot be used"
        _refuse(str(path), f"cannot be written ({reason})", "name a file that can be")
    return path


def read_box(box: Path | str | bytes, *, name: str = "") -> Box:
    """Open a bundle, from a file or from its bytes, and check all of it.

    Raises NotebookTrouble, one sentence, for anything that is not a whole bundle of this version or an older.
    """
    if isinstance(box, bytes):
        raw, name = box, name or "the bundle"
    else:
        raw, name = _read_file(Path(box)), name or Path(box).name
    if len(raw) > LARGEST_PACKED:
        _refuse(name, f"is larger than {LARGEST_PACKED // 10**6} MB, no bundle is", "check the file")
    _check_ends(raw, name)
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            return _opened(archive, name)
    except NotebookTrouble:
        raise
    except _ZIP_FAULTS:
        _refuse(name, "is damaged", "ask for it to be sent again")


def _refuse(name: str, wrong: str, right: str) -> NoReturn:
    raise NotebookTrouble(f"{name}: {wrong}; {right}.") from None


def _read_file(path: Path) -> bytes:
    try:
        return read_bytes(path, "a bundle", largest=LARGEST_PACKED)
    except DocumentError as problem:
        raise NotebookTrouble(str(problem).replace("no document is", "no bundle is")) from None


# ---------------- the manifest


def _manifest(members: Mapping[str, bytes], about: About) -> bytes:
    """The manifest of some members: its version, their count, what they are about, size and SHA-256."""
    told = tomlkit.dumps(
        {"document": "bundle", "version": VERSION, "count": len(members), "about": dict(about)}
    )
    lines = [
        f'"{name}" = {{ bytes = {len(raw)}, sha256 = "{hashlib.sha256(raw).hexdigest()}" }}\n'
        for name, raw in sorted(members.items())
    ]
    return (told + "\n[members]\n" + "".join(lines)).encode()


@dataclass(frozen=True)
class _Promise:
    """What the manifest says of a member."""

    size: int
    digest: str


def _read_manifest(raw: bytes, name: str) -> tuple[About, dict[str, _Promise]]:
    try:
        data = parsed(raw.decode("utf-8"), MANIFEST, largest=LARGEST_MANIFEST)
    except (UnicodeDecodeError, DocumentError):
        _refuse(name, f"its {MANIFEST} cannot be read", "ask for it to be made again")
    version = data.get("version")
    if data.get("document") != "bundle" or type(version) is not int or version < 1:
        _refuse(name, f"its {MANIFEST} does not say which bundle it is", "ask for it to be made again")
    if version > VERSION:
        _refuse(
            name,
            f"is a bundle of version {min(version, 10**9)}, and this program reads up to {VERSION}",
            "bring the program up to date",
        )
    about, promised = data.get("about", {}), data.get("members")
    if set(data) - {"document", "version", "count", "about", "members"} or not isinstance(promised, dict):
        _refuse(name, f"its {MANIFEST} has other keys than a bundle has", "ask for it to be made again")
    if not _is_about(about) or not all(_is_promise(promise) for promise in promised.values()):
        _refuse(name, f"its {MANIFEST} holds something else than it should", "ask for it to be made again")
    if data.get("count") != len(promised):
        _refuse(name, f"its {MANIFEST} does not vouch for all members", "ask for it to be made again")
    return about, {
        member: _Promise(promise["bytes"], promise["sha256"]) for member, promise in promised.items()
    }


def _is_about(about: Any) -> bool:
    return (
        isinstance(about, dict)
        and len(about) <= 40
        and all(isinstance(value, (str, int, bool)) and len(str(value)) <= 400 for value in about.values())
    )


def _is_promise(promise: Any) -> bool:
    return (
        isinstance(promise, dict)
        and set(promise) == {"bytes", "sha256"}
        and type(promise["bytes"]) is int
        and promise["bytes"] >= 0
        and isinstance(promise["sha256"], str)
        and _DIGEST.fullmatch(promise["sha256"]) is not None
    )


# ---------------- the zip


def _check_ends(raw: bytes, name: str) -> None:
    """The bytes begin with a member and end with a list of members that fits between, nothing around them."""
    if raw[:4] not in (_FIRST_MARK, _END_MARK):
        _refuse(name, "is no bundle", "name a file that `share` wrote, and send it as it is")
    if len(raw) < _END.size or raw[-_END.size :][:4] != _END_MARK:
        _refuse(name, "is cut short, or has something added at its end", "ask for it to be sent again")
    _, disk, list_disk, here, count, size, start, comment = _END.unpack(raw[-_END.size :])
    whole = start + size == len(raw) - _END.size and not disk and not list_disk and not comment
    if not whole or here != count or raw[-_END.size - 20 :][:4] == _LONG_MARK:
        _refuse(name, "its list of members does not fit the file", "ask for it to be sent again")
    if count > MOST_MEMBERS + 1 or size > _LARGEST_LIST:
        _refuse(name, f"has more than {MOST_MEMBERS} members, no bundle has", "check where it comes from")


def _opened(archive: zipfile.ZipFile, name: str) -> Box:
    infos = archive.infolist()
    _check_names(infos, name)
    for info in infos:
        _check_kind(info, name)
    _check_sizes(infos, name)
    found = {info.filename: info for info in infos}
    if MANIFEST not in found:
        _refuse(name, f"has no {MANIFEST}, so nothing vouches for it", "ask for it to be made again")
    manifest = found.pop(MANIFEST)
    if manifest.file_size > LARGEST_MANIFEST:
        _refuse(name, f"its {MANIFEST} is too large", "check where it comes from")
    about, promised = _read_manifest(_unpacked(archive, manifest, name), name)
    for member in sorted(set(found) ^ set(promised)):
        what = "is not in its manifest" if member in found else "is missing"
        _refuse(name, f"{_shown(member)} {what}", "ask for it to be made again")
    members = {}
    for member in sorted(found):
        raw = _unpacked(archive, found[member], name)
        if len(raw) != promised[member].size or hashlib.sha256(raw).hexdigest() != promised[member].digest:
            _refuse(name, f"{member} is not what its manifest vouches for", "ask for it to be sent again")
        members[member] = raw
    return Box(name, about, members)


def _check_names(infos: Iterable[zipfile.ZipInfo], name: str) -> None:
    seen: set[str] = set()
    for info in infos:
        member = info.orig_filename
        parts = re.split(r"[/\\]", member)
        if member[:1] in ("/", "\\") or ".." in parts or ":" in member or "\\" in member:
            _refuse(name, f"{_shown(member)} points outside the bundle", "do not trust where it comes from")
        if member != info.filename or not _NAME.fullmatch(member) or len(member) > LONGEST_NAME:
            _refuse(
                name,
                f"{_shown(member)} is no name of a member",
                "only .toml and .csv with plain names belong in a bundle",
            )
        if member.lower() in seen:
            _refuse(name, f"{member} is in it twice", "ask for it to be made again")
        seen.add(member.lower())


def _check_kind(info: zipfile.ZipInfo, name: str) -> None:
    """A plain file, packed in a known way, open to read."""
    member = info.filename
    if stat.S_IFMT(info.external_attr >> 16) not in (0, stat.S_IFREG):
        _refuse(name, f"{member} is a link or no plain file", "do not trust where it comes from")
    if info.flag_bits & _SCRAMBLED:
        _refuse(name, f"{member} is locked with a password", "ask for it without one")
    if info.compress_type not in _METHODS:
        _refuse(name, f"{member} is packed in a way that is not read here", "ask for it to be made again")


def _check_sizes(infos: Iterable[zipfile.ZipInfo], name: str) -> None:
    """Sizes as declared; what is really unpacked is held to them again."""
    total = 0
    for info in infos:
        total += info.file_size
        if info.file_size > LARGEST_MEMBER or total > LARGEST_UNPACKED:
            _refuse(
                name,
                f"unpacks to more than {LARGEST_UNPACKED // 10**6} MB, or {info.filename} alone to more than "
                f"{LARGEST_MEMBER // 10**6} MB",
                "check where it comes from",
            )
        if info.file_size > SMALL and info.file_size > HIGHEST_RATIO * info.compress_size:
            _refuse(
                name,
                f"{info.filename} unpacks to more than {HIGHEST_RATIO} times its size",
                "do not trust where it comes from",
            )


def _unpacked(archive: zipfile.ZipFile, info: zipfile.ZipInfo, name: str) -> bytes:
    """A member, read in chunks and never further than its declared size."""
    raw = bytearray()
    with archive.open(info) as file:
        while chunk := file.read(_CHUNK):
            raw += chunk
            if len(raw) > info.file_size:
                break
    if len(raw) != info.file_size:
        _refuse(name, f"{info.filename} has another size than it says", "ask for it to be sent again")
    return bytes(raw)


def _shown(member: str) -> str:
    return repr(member if len(member) <= 60 else member[:57] + "...")
