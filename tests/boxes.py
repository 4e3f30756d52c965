"""Bundles as they should not be: put together by hand, byte by byte where no tool would make them so."""

from __future__ import annotations

import hashlib
import io
import random
import struct
import zipfile
from collections.abc import Callable, Mapping
from typing import Any

from ovalwright.notebook.sharing.box import MANIFEST, write_box

GOOD = {"setups/K7M2QX.toml": b'name = "short run"\n', "laps.csv": b"lap,time\r\n1,15.48\r\n"}


def vouched(members: Mapping[str, bytes], *, head: str = 'document = "bundle"\nversion = 1\n') -> bytes:
    """A manifest that vouches for members, under a head of our choosing."""
    lines = [
        f'"{name}" = {{ bytes = {len(raw)}, sha256 = "{hashlib.sha256(raw).hexdigest()}" }}\n'
        for name, raw in members.items()
    ]
    return (head + f"count = {len(members)}\n[members]\n" + "".join(lines)).encode()


def zipped(*members: tuple[str, bytes], **fields: Any) -> bytes:
    """A zip of members in this order, the fields of the last of them changed."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, raw in members:
            info = zipfile.ZipInfo(name)
            info.compress_type = zipfile.ZIP_DEFLATED
            if (name, raw) == members[-1]:
                for field, value in fields.items():
                    setattr(info, field, value)
            archive.writestr(info, raw)
    return out.getvalue()


def with_member(name: str, raw: bytes = b"x = 1\n", **fields: Any) -> bytes:
    """A good bundle with one more member that its manifest vouches for."""
    members = {**GOOD, name: raw}
    return zipped((MANIFEST, vouched(members)), *GOOD.items(), (name, raw), **fields)


def renamed(old: str, new: str) -> bytes:
    """A good bundle with the name of a member changed everywhere but in its manifest."""
    assert len(old) == len(new)
    head, _, rest = write_box(GOOD, {}).partition(old.encode())
    return head + new.encode() + rest.replace(old.encode(), new.encode())


def patched(raw: bytes, mark: bytes, at: int, code: str, value: int) -> bytes:
    """Bytes with one number changed in every record that begins with a mark."""
    changed, here = bytearray(raw), raw.find(mark)
    while here >= 0:
        struct.pack_into(code, changed, here + at, value)
        here = raw.find(mark, here + 1)
    return bytes(changed)


def damaged() -> bytes:
    """A good bundle with one bit flipped in what laps.csv packs."""
    raw = bytearray(write_box(GOOD, {}))
    raw[raw.index(b"laps.csv") + len("laps.csv") + 4] ^= 1
    return bytes(raw)


def lying(declared: int) -> bytes:
    """A good bundle whose last member says another size, in its manifest too, than it unpacks to."""
    name, long = "laps.csv", b"1,15.48\r\n" * 9000
    members = {name: long[:declared].ljust(declared, b"x")}
    raw = bytearray(zipped((MANIFEST, vouched(members)), (name, long)))
    for mark, at in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        struct.pack_into("<L", raw, raw.rfind(mark) + at, declared)
    return bytes(raw)


def bomb(members: int, each: int) -> bytes:
    """A bundle of members that are nothing but zeros."""
    held = {f"laps_{k}.csv": bytes(each) for k in range(members)}
    return zipped((MANIFEST, vouched(held)), *held.items())


def mutated(raw: bytes, other: bytes, dice: random.Random) -> bytes:
    """A bundle after an accident: bits flipped, cut short, a stretch lost, doubled, or of another bundle."""
    raw = bytes(raw)
    first, second = sorted(dice.randrange(len(raw)) for _ in range(2))
    match dice.randrange(7):
        case 0 | 1:
            changed = bytearray(raw)
            for _ in range(dice.choice((1, 1, 2, 5, 40))):
                changed[dice.randrange(len(raw))] ^= 1 << dice.randrange(8)
            return bytes(changed)
        case 2:
            return raw[:first]
        case 3:
            return raw[:first] + raw[second:]
        case 4:
            return raw[:second] + raw[first:]
        case 5:
            return raw[:first] + other[dice.randrange(len(other)) :]
        case _:
            return _respliced(raw, other, dice)


def _respliced(raw: bytes, other: bytes, dice: random.Random) -> bytes:
    """A sound zip, but some members are changed, lost, renamed, or those of another bundle."""
    with zipfile.ZipFile(io.BytesIO(raw)) as mine, zipfile.ZipFile(io.BytesIO(other)) as theirs:
        members = {name: mine.read(name) for name in mine.namelist()}
        foreign = {name: theirs.read(name) for name in theirs.namelist()}
    for _ in range(dice.choice((1, 1, 2, 3))):
        name = dice.choice([*members, MANIFEST])
        match dice.randrange(4):
            case 0:
                members.pop(name, None)
            case 1:
                taken = dice.choice(list(foreign))
                members[taken] = foreign[taken]
            case 2:
                members[name] = members.get(name, b"")[: dice.randrange(200)]
            case _:
                members[dice.choice(("..", "a")) + name] = members.get(name, b"")
    return zipped(*members.items()) if members else b""


Maker = Callable[[], bytes]
TWICE = b"PK\x01\x02"
HOSTILE: dict[str, tuple[Maker, str]] = {
    "no zip": (
        lambda: b"lap,time\r\n1,15.48\r\n",
        "is no bundle; name a file that `share` wrote, and send it as it is.",
    ),
    "nothing": (lambda: b"", "is no bundle; name a file that `share` wrote, and send it as it is."),
    "cut short": (
        lambda: write_box(GOOD, {})[:-40],
        "is cut short, or has something added at its end; ask for it to be sent again.",
    ),
    "something added": (
        lambda: write_box(GOOD, {}) + b"#!/bin/sh\n",
        "is cut short, or has something added at its end; ask for it to be sent again.",
    ),
    "something before": (
        lambda: b"PK\x03\x04" + write_box(GOOD, {}),
        "its list of members does not fit the file; ask for it to be sent again.",
    ),
    "a damaged member": (
        damaged,
        "is damaged; ask for it to be sent again.",
    ),
    "another member under the same name": (
        lambda: zipped((MANIFEST, vouched(GOOD)), *{**GOOD, "laps.csv": b"lap,time\r\n1,14.48\r\n"}.items()),
        "laps.csv is not what its manifest vouches for; ask for it to be sent again.",
    ),
    "no manifest": (
        lambda: zipped(*GOOD.items()),
        "has no manifest.toml, so nothing vouches for it; ask for it to be made again.",
    ),
    "an odd manifest": (
        lambda: zipped((MANIFEST, b"\xff\xfe = ["), *GOOD.items()),
        "its manifest.toml cannot be read; ask for it to be made again.",
    ),
    "a manifest of something else": (
        lambda: zipped((MANIFEST, vouched(GOOD, head='document = "car"\n')), *GOOD.items()),
        "its manifest.toml does not say which bundle it is; ask for it to be made again.",
    ),
    "a manifest with odd members": (
        lambda: zipped(
            (MANIFEST, b'document = "bundle"\nversion = 1\ncount = 1\n[members]\n"laps.csv" = "yes"\n'),
            *GOOD.items(),
        ),
        "its manifest.toml holds something else than it should; ask for it to be made again.",
    ),
    "a manifest cut short": (
        lambda: zipped((MANIFEST, vouched(GOOD).rpartition(b'"laps')[0]), *list(GOOD.items())[:1]),
        "its manifest.toml does not vouch for all members; ask for it to be made again.",
    ),
    "a newer version": (
        lambda: zipped((MANIFEST, vouched(GOOD, head='document = "bundle"\nversion = 4\n')), *GOOD.items()),
        "is a bundle of version 4, and this program reads up to 3; bring the program up to date.",
    ),
    "a member that is not in the manifest": (
        lambda: zipped((MANIFEST, vouched(GOOD)), *GOOD.items(), ("spy.toml", b"")),
        "'spy.toml' is not in its manifest; ask for it to be made again.",
    ),
    "a member that is missing": (
        lambda: zipped((MANIFEST, vouched(GOOD)), *list(GOOD.items())[:1]),
        "'laps.csv' is missing; ask for it to be made again.",
    ),
    "a path up": (
        lambda: with_member("../../car.toml"),
        "'../../car.toml' points outside the bundle; do not trust where it comes from.",
    ),
    "a path from the root": (
        lambda: with_member("/etc/car.toml"),
        "'/etc/car.toml' points outside the bundle; do not trust where it comes from.",
    ),
    "a path on a drive": (
        lambda: with_member("C:/car.toml"),
        "'C:/car.toml' points outside the bundle; do not trust where it comes from.",
    ),
    "a path with backslashes": (
        lambda: with_member("..\\car.toml"),
        "'..\\\\car.toml' points outside the bundle; do not trust where it comes from.",
    ),
    "a name with a hidden end": (
        lambda: renamed("laps.csv", "laps\0csv"),
        "'laps\\x00csv' is no name of a member; only .toml and .csv with plain names belong in a bundle.",
    ),
    "a folder": (
        lambda: with_member("setups/", b""),
        "'setups/' is no name of a member; only .toml and .csv with plain names belong in a bundle.",
    ),
    "a zip in the zip": (
        lambda: with_member("more.zip", write_box(GOOD, {})),
        "'more.zip' is no name of a member; only .toml and .csv with plain names belong in a bundle.",
    ),
    "a link": (
        lambda: with_member("link.toml", b"/etc/passwd", external_attr=0o120777 << 16, create_system=3),
        "link.toml is a link or no plain file; do not trust where it comes from.",
    ),
    "a pipe": (
        lambda: with_member("pipe.toml", b"", external_attr=0o010644 << 16, create_system=3),
        "pipe.toml is a link or no plain file; do not trust where it comes from.",
    ),
    "a name twice": (
        lambda: zipped((MANIFEST, vouched(GOOD)), *GOOD.items(), ("laps.csw", b"")).replace(
            b"laps.csw", b"laps.csv"
        ),
        "laps.csv is in it twice; ask for it to be made again.",
    ),
    "names that differ by case": (
        lambda: with_member("Laps.csv"),
        "Laps.csv is in it twice; ask for it to be made again.",
    ),
    "a password": (
        lambda: patched(write_box(GOOD, {}), TWICE, 8, "<H", 1),
        "manifest.toml is locked with a password; ask for it without one.",
    ),
    "another way to pack": (
        lambda: with_member("slow.toml", compress_type=zipfile.ZIP_LZMA),
        "slow.toml is packed in a way that is not read here; ask for it to be made again.",
    ),
    "too many members": (
        lambda: zipped((MANIFEST, b""), *((f"l{k}.csv", b"") for k in range(10_001))),
        "has more than 10000 members, no bundle has; check where it comes from.",
    ),
    "a bomb": (
        lambda: bomb(2, 2_000_000),
        "laps_0.csv unpacks to more than 250 times its size; do not trust where it comes from.",
    ),
    "a member that says it is huge": (
        lambda: patched(write_box(GOOD, {}), TWICE, 24, "<L", 600_000_000),
        "unpacks to more than 512 MB, or manifest.toml alone to more than 256 MB; check where it comes from.",
    ),
    "a member that is larger than it says": (lambda: lying(90), "is damaged; ask for it to be sent again."),
    "a member that is smaller than it says": (
        lambda: lying(90_000),
        "laps.csv has another size than it says; ask for it to be sent again.",
    ),
    "two lists of members": (
        lambda: write_box(GOOD, {}) + write_box(GOOD, {}),
        "its list of members does not fit the file; ask for it to be sent again.",
    ),
}
"""Kind of hostile bundle: how it is made, and what is said of it."""
