"""Long work: progress, answers, trouble, stopping, a full queue, a process that dies."""

from __future__ import annotations

import os
import time

import pytest

from ovalwright.web import long_work
from ovalwright.web.long_work import LongWork, TooBusy


@pytest.fixture(scope="module")
def work():
    found = LongWork()
    yield found
    found.close()


def sums(numbers, progress):
    for done in range(len(numbers)):
        progress(done + 1, len(numbers))
    return sum(numbers)


def endless(progress):
    while True:
        progress(1, 2)
        time.sleep(0.01)


def deaf(progress):
    progress(1, 2)
    time.sleep(60)


def faulty(progress):
    raise ValueError("no steady state at that speed")


def buggy(progress):
    raise KeyError("inside")


def dying(progress):
    os._exit(9)


def secretive(progress):
    return lambda: "cannot be handed over"


class Unreadable:
    """A document that can be sent and not be read again."""

    def __reduce__(self):
        return int, ("no number",)


def hands_back_unreadable(progress):
    return Unreadable()


def wait_for(job, state):
    until = time.monotonic() + 60.0
    while job.state != state:
        assert time.monotonic() < until, (job.state, job.trouble)
        time.sleep(0.01)


def test_a_study_is_done_and_its_answer_kept_under_its_key(work):
    job = work.submit("sum", sums, [1, 2, 3], told="adding")
    wait_for(job, "done")
    assert (job.answer, job.done, job.total) == (6, 3, 3)
    assert work.submit("sum", sums, [1, 2, 3], told="adding") is job
    assert work.look("sum") is work.find(job.id) is job


def test_trouble_is_one_sentence_and_the_study_can_be_asked_again(work):
    job = work.submit("faulty", faulty, told="trying")
    wait_for(job, "failed")
    assert job.trouble == "no steady state at that speed."
    assert work.submit("faulty", faulty, told="trying") is not job
    bug = work.submit("buggy", buggy, told="trying")
    wait_for(bug, "failed")
    assert "KeyError" in bug.trouble and "inside" not in bug.trouble


def test_a_study_is_stopped_and_the_next_one_begins(work):
    job = work.submit("endless", endless, told="turning")
    after = work.submit("after", sums, [4], told="adding")
    wait_for(job, "running")
    assert after.state == "waiting"
    work.stop(job.id)
    wait_for(after, "done")
    assert job.state == "stopped"


def test_one_that_does_not_listen_is_ended(work, monkeypatch):
    monkeypatch.setattr(long_work, "PATIENCE", 0.2)
    job = work.submit("deaf", deaf, told="sleeping")
    wait_for(job, "running")
    while not job.done:
        time.sleep(0.01)
    work.stop(job.id)
    after = work.submit("after the deaf", sums, [5], told="adding")
    wait_for(after, "done")
    assert job.state == "stopped"


def test_a_process_that_dies_is_said_and_begun_anew(work):
    job = work.submit("dying", dying, told="dying")
    wait_for(job, "failed")
    assert "broke off" in job.trouble
    wait_for(work.submit("after the dead", sums, [6], told="adding"), "done")


@pytest.mark.parametrize(
    ("study", "documents"),
    [
        (lambda progress: 1, ()),
        (sums, (lambda: 1,)),
        (sums, (Unreadable(),)),
        (secretive, ()),
        (hands_back_unreadable, ()),
    ],
)
def test_what_cannot_be_handed_over_fails_and_the_next_study_is_done(work, study, documents):
    job = work.submit(("cannot be handed over", study, documents), study, *documents, told="trying")
    wait_for(job, "failed")
    assert job.trouble.endswith(".")
    wait_for(work.submit(("after it", job.id), sums, [7], told="adding"), "done")


def test_a_bench_that_closes_begins_nothing_and_says_so():
    closing = LongWork()
    closing.close()
    with pytest.raises(TooBusy, match="closing"):
        closing.submit("late", sums, [1], told="adding")
    assert not closing.jobs()


def test_the_queue_is_bounded_and_one_that_waits_is_taken_out(work):
    first = work.submit("first", endless, told="turning")
    wait_for(first, "running")
    waiting = [work.submit(n, sums, [n], told="adding") for n in range(long_work.MOST_WAITING)]
    with pytest.raises(TooBusy, match="waiting already"):
        work.submit("one too many", sums, [1], told="adding")
    for job in waiting[1:]:
        work.stop(job.id)
    work.stop(first.id)
    wait_for(waiting[0], "done")
    assert all(job.state == "stopped" for job in waiting[1:])


def test_only_so_many_answers_are_kept(work, monkeypatch):
    monkeypatch.setattr(long_work, "MOST_KEPT", 3)
    for n in range(6):
        wait_for(work.submit(("kept", n), sums, [n], told="adding"), "done")
    assert len(work.jobs()) <= 3
    assert work.look(("kept", 5)).answer == 5


def test_how_long_it_will_take_is_told_from_how_long_it_took(work):
    job = long_work.Job("x", "x", sums, ())
    assert job.seconds_left is None
    job.state, job.began, job.done, job.total = "running", time.monotonic() - 2.0, 1, 4
    assert 5.9 < job.seconds_left < 6.5
