"""The checks that carry a source must fail when they should, and write the same file every time."""

import pytest
from evidence import COMMON_PRACTICE, QUICK, READ, ROOT, Check, merged, render, rows_of, stale

SOURCE = {"of": "a figure", "source": "a book", "kind": READ, "area": "springs"}


@pytest.fixture
def checks() -> Check:
    return Check(test="here/this")


@pytest.mark.parametrize(
    ("ours", "expected", "allowed"),
    [
        (1.02, 1.0, {"rel": 0.01}),
        (1.02, 1.0, {"abs": 0.01}),
        (float("nan"), 1.0, {"rel": 0.5}),
        ([1.0, 1.02], [1.0, 1.0], {"rel": 0.01}),
        ([1.0, float("nan")], [1.0, 1.0], {"rel": 0.01}),
    ],
)
def test_a_figure_out_of_tolerance_fails_and_names_the_source(checks, ours, expected, allowed):
    with pytest.raises(AssertionError, match="a book"):
        checks(ours, expected, **allowed, **SOURCE)


def test_the_wider_tolerance_counts(checks):
    checks(1.02, 1.0, rel=0.001, abs=0.05, **SOURCE)


def test_a_tolerance_must_be_given(checks):
    with pytest.raises(TypeError, match="rel=, abs= or both"):
        checks(1.0, 1.0, **SOURCE)


@pytest.mark.parametrize("ours", [0.9, 2.1, float("nan")])
def test_outside_a_range_fails(checks, ours):
    with pytest.raises(AssertionError, match="is not in"):
        checks.between(ours, 1.0, 2.0, **SOURCE)


def test_a_fact_that_does_not_hold_fails(checks):
    with pytest.raises(AssertionError, match="does not hold"):
        checks.fact(False, **SOURCE)


@pytest.mark.parametrize("ours", [100.0, 100.05, float("nan")])
def test_falling_into_a_trap_fails(checks, ours):
    with pytest.raises(AssertionError, match="falls for the wrong figure"):
        checks.trap(ours, 100.0, **SOURCE)


@pytest.mark.parametrize(
    ("change", "says"), [({"kind": "heard"}, "kind"), ({"area": "luck"}, "area"), ({"source": " "}, "source")]
)
def test_a_row_without_a_proper_source_is_refused(checks, change, says):
    with pytest.raises(ValueError, match=says):
        checks.fact(True, **{**SOURCE, **change})


def test_the_file_does_not_show_noise(checks):
    other = Check(test="here/this")
    for collector, noise in ((checks, 0.0), (other, 3e-12)):
        collector(2.0 + noise, 2.0, rel=1e-9, **SOURCE)
        collector(noise, 0.0, abs=1e-9, **SOURCE)
    assert render(checks.rows, QUICK) == render(other.rows, QUICK)


def test_the_file_counts_by_kind_and_area(checks):
    checks.fact(True, **SOURCE)
    checks.fact(True, of="another", source="trade", kind=COMMON_PRACTICE, area="stagger")
    text = render(checks.rows, QUICK)
    assert "| all | 1 | 0 | 0 | 0 | 1 | 2 |" in text
    assert text.index("## Stagger") < text.index("## Springs")


def test_the_file_is_read_as_it_was_written(checks):
    checks.fact(True, **{**SOURCE, "source": "|x| of a table", "area": "load transfer"})
    text = render(checks.rows, QUICK)
    assert rows_of(text) == checks.rows
    whole = (ROOT / "docs" / "evidence.md").read_text(encoding="utf-8")
    assert render(rows_of(whole), QUICK) == whole


def test_a_run_of_some_files_changes_their_rows_alone_and_what_is_stale_is_named(checks):
    other, again = Check(test="there/that"), Check(test="here/this")
    checks.fact(True, **SOURCE)
    other.fact(True, **SOURCE)
    again(1.0, 1.0, rel=0.1, **SOURCE)
    was = render([*checks.rows, *other.rows], QUICK)
    now = render(merged(again.rows, {"here"}, was), QUICK)
    assert now == render([*again.rows, *other.rows], QUICK)
    assert stale(was, now) == ["here/this"]
    assert merged(again.rows, set(), was) == again.rows
