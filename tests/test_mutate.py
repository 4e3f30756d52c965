"""Every formula that is broken on purpose must still stand in its file, and name tests that hold a source."""

import runpy

import pytest
from evidence import ROOT

TOOL = runpy.run_path(str(ROOT / "tools" / "mutate.py"))


@pytest.mark.parametrize("mutation", TOOL["MUTATIONS"], ids=lambda mutation: mutation.name)
def test_its_line_and_the_tests_that_must_notice_are_there(mutation):
    text = (ROOT / "src" / "ovalwright" / mutation.file).read_text(encoding="utf-8")
    assert mutation.of(text) != text
    watch = (ROOT / "tests" / f"test_{mutation.noticed_by}.py").read_text(encoding="utf-8")
    assert "check" in watch and "from evidence import" in watch


def test_a_line_that_has_moved_ends_the_run():
    with pytest.raises(SystemExit, match="must hold"):
        TOOL["MUTATIONS"][0].of("moved away\n")
