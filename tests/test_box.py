"""Bundles: what is put in comes out, equal content makes equal bytes, and nothing else is ever taken."""

import hashlib
import random
import tracemalloc

import pytest
from boxes import GOOD, HOSTILE, bomb, mutated, vouched, with_member, zipped
from hypothesis import given
from hypothesis import strategies as st

from ovalwright.notebook.sharing import box
from ovalwright.notebook.sharing.box import MANIFEST, read_box, save_box, write_box
from ovalwright.notebook.trouble import NotebookTrouble

# FIPS 180-2 appendix B, kept by NIST as examples to FIPS 180-4: message and SHA-256.
PUBLISHED = {
    "nothing": (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
    "abc": (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    "two blocks": (
        b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
    ),
    "112 letters": (
        b"abcdefghbcdefghicdefghijdefghijkefghijklfghijklmghijklmnhijklmnoijklmnopjklmnopqklmnopqrlmnopqrsmnopqrstnopqrstu",
        "cf5b16a778af8380036ce59e7b0492370b249b11e8f07a51afac45037afee9d1",
    ),
    "a million": (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
}


@pytest.mark.parametrize("message, digest", PUBLISHED.values(), ids=PUBLISHED)
def test_a_member_is_held_to_the_published_sha_256(message, digest):
    ours = write_box({"message.csv": message}, {})
    manifest = (
        f'document = "bundle"\nversion = 1\ncount = 1\n[members]\n"message.csv" = {{ bytes = {len(message)}, '
    )
    for said, taken in ((digest, True), (digest[:-1] + "0", digest[-1] == "0")):
        by_hand = zipped(
            (MANIFEST, (manifest + f'sha256 = "{said}" }}\n').encode()), ("message.csv", message)
        )
        if taken:
            assert read_box(by_hand).members == read_box(ours).members == {"message.csv": message}
        else:
            with pytest.raises(NotebookTrouble, match="not what its manifest vouches for"):
                read_box(by_hand)


NAMES = st.from_regex(r"(?:[a-z0-9_]{1,8}/){0,2}[A-Z0-9]{1,6}\.(?:toml|csv)", fullmatch=True)


@given(
    st.dictionaries(NAMES, st.binary(max_size=400), max_size=6),
    st.dictionaries(st.text(max_size=8), st.text(max_size=20) | st.booleans() | st.integers(0, 10**6)),
)
def test_what_is_put_in_comes_out(members, about):
    raw = write_box(members, about)
    opened = read_box(raw)
    assert opened.members == members
    assert opened.about == about
    assert write_box(dict(reversed(members.items())), about) == raw


def test_a_bundle_is_saved_whole_and_never_over_another(tmp_path):
    path = save_box(tmp_path / "run.ovalbox", GOOD, {"what": "a run"})
    assert read_box(path).members == GOOD
    assert read_box(path).text("laps.csv") == "lap,time\r\n1,15.48\r\n"
    before = path.read_bytes()
    with pytest.raises(NotebookTrouble, match=r"is there already; choose another name for the bundle\.$"):
        save_box(path, {}, {})
    with pytest.raises(NotebookTrouble, match=r"cannot be written \(No such file or directory\)"):
        save_box(tmp_path / "no folder" / "run.ovalbox", GOOD, {})
    assert [file.name for file in tmp_path.iterdir()] == ["run.ovalbox"]
    assert path.read_bytes() == before


def test_no_bundle_is_written_that_nobody_would_take():
    with pytest.raises(NotebookTrouble, match="points outside the bundle"):
        write_box({"../laps.csv": b""}, {})
    with pytest.raises(NotebookTrouble, match="250 times its size"):
        write_box({"laps.csv": bytes(2_000_000)}, {})


@pytest.mark.parametrize("name", ["is not there.ovalbox", "."])
def test_what_is_no_file_is_told(tmp_path, name):
    with pytest.raises(
        NotebookTrouble, match=r"(is not there|is a folder); name a bundle that can be read\.$"
    ):
        read_box(tmp_path / name)


@pytest.mark.parametrize("make, sentence", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_bundle_is_refused_with_one_sentence(make, sentence):
    with pytest.raises(NotebookTrouble) as told:
        read_box(make(), name="sent.ovalbox")
    assert str(told.value) == f"sent.ovalbox: {sentence}"


def test_a_bomb_costs_no_memory():
    raw = bomb(3, 4_000_000)
    tracemalloc.start()
    with pytest.raises(NotebookTrouble):
        read_box(raw)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 400_000


def test_a_bundle_over_the_limit_is_not_opened(monkeypatch):
    raw = write_box(GOOD, {})
    monkeypatch.setattr(box, "LARGEST_PACKED", len(raw) - 1)
    with pytest.raises(NotebookTrouble, match="no bundle is; check the file"):
        read_box(raw)


def test_bundles_by_other_zip_programs_are_read():
    members = dict(GOOD)
    assert read_box(zipped((MANIFEST, vouched(members)), *members.items())).members == members
    assert read_box(with_member("notes.toml", comment=b"by hand", create_system=0)).members["notes.toml"]


def _try_mutations(count: int) -> tuple[int, int]:
    """Bundles mutated and read: how many were refused and how many taken."""
    good = write_box(GOOD, {"what": "setup K7M2QX"})
    other = write_box({**GOOD, "laps.csv": b"lap,time\r\n1,14.02\r\n"}, {"what": "setup K7M2QY"})
    known = {hashlib.sha256(str(read_box(raw).members).encode()).digest() for raw in (good, other)}
    refused = taken = 0
    for seed in range(count):
        raw = mutated(good, other, random.Random(seed))
        try:
            opened = read_box(raw)
        except NotebookTrouble as told:
            assert str(told).endswith(".") and "\n" not in str(told) and len(str(told)) < 300
            refused += 1
        else:
            assert hashlib.sha256(str(opened.members).encode()).digest() in known, seed
            taken += 1
    return refused, taken


def test_a_mutated_bundle_is_refused_or_read_right():
    refused, taken = _try_mutations(1800)
    assert refused > 1000 and taken > 0


@pytest.mark.proof
def test_many_mutated_bundles_are_refused_or_read_right(capsys):
    refused, taken = _try_mutations(100_000)
    with capsys.disabled():
        print(f"\nmutated bundles: {refused} refused with a sentence, {taken} read as they were")
    assert refused + taken == 100_000
