"""Documents written side by side are the same as one after the other, and a worker's failure is an error."""

import errno
import hashlib
import json
import os
import signal

import pytest
from small_job import small_job

from takeoff import __version__, documents
from takeoff.beside import WorkerError, can_fork
from takeoff.documents import write_documents
from takeoff.settings import Settings
from takeoff.summary import figures, summary

forks = pytest.mark.skipif(not can_fork(), reason="one processor, or no cheap fork")


def content(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@forks
def test_side_by_side_gives_the_same_bytes(tmp_path, monkeypatch):
    for name, limit in (("one after the other", 10**9), ("side by side", 0)):
        monkeypatch.setattr(documents, "BIG", limit)
        (tmp_path / name).mkdir()
        names = write_documents(small_job(held=True), Settings(), tmp_path / name)
        assert names == sorted(content(tmp_path / name))
    one, other = content(tmp_path / "one after the other"), content(tmp_path / "side by side")
    assert one == other
    assert {"cut-and-punch.pdf", "bolts.pdf", "weights.pdf", "queries.pdf", "review.html"} <= set(one)


def test_nothing_to_ask_gives_no_query_sheet(tmp_path):
    assert "queries.pdf" not in write_documents(small_job(queries=False), Settings(), tmp_path)


def full(takeoff, folder, *_):
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(folder / "lists.xlsx"))


def faulty(takeoff, folder, *_):
    raise ZeroDivisionError("in the worker")


def killed(takeoff, folder, *_):
    os.kill(os.getpid(), signal.SIGKILL)


@forks
@pytest.mark.parametrize(
    ("worker", "error", "said"),
    [
        (full, OSError, "No space left"),
        (faulty, WorkerError, "ZeroDivisionError: in the worker"),
        (killed, WorkerError, "ended with status -9"),
    ],
)
def test_a_failing_worker_is_an_error(worker, error, said, tmp_path, monkeypatch):
    monkeypatch.setattr(documents, "BIG", 0)
    monkeypatch.setattr(documents, "write_tables", worker)
    monkeypatch.setattr(documents, "write_sheets", lambda *_: None)
    with pytest.raises(error, match=said):
        write_documents(small_job(), Settings(), tmp_path)


@forks
def test_a_failure_here_ends_the_worker(tmp_path, monkeypatch):
    import time

    monkeypatch.setattr(documents, "BIG", 0)
    monkeypatch.setattr(documents, "write_tables", lambda *_: time.sleep(60))
    monkeypatch.setattr(documents, "write_sheets", lambda takeoff, settings, folder, *_: faulty(takeoff, folder))
    start = time.monotonic()
    with pytest.raises(ZeroDivisionError):
        write_documents(small_job(), Settings(), tmp_path)
    assert time.monotonic() - start < 30


def test_the_summary_counts_weighs_and_names_what_was_used(tmp_path):
    names = write_documents(small_job(held=True), Settings(), tmp_path)
    text = (tmp_path / "summary.json").read_text(encoding="utf-8")
    found = json.loads(text)
    assert json.dumps(found, indent=2, sort_keys=True, ensure_ascii=False) + "\n" == text
    assert found["counts"]["parts"] == {"in_model": 5, "listed": 2, "held": 1, "left out": 1, "bought out": 1}
    assert found["counts"]["pieces"] == 3
    assert found["counts"]["holes"] == 3
    assert found["counts"]["queries"] == {"hold": 1, "check": 1, "assumed": 1}
    # 2 angles of 14.6245 kg and a flat of 1.86 kg, the flat held.
    assert found["totals"]["net_weight_kg"] == pytest.approx(31.109)
    assert found["totals"]["held_net_weight_kg"] == pytest.approx(1.86)
    assert found["totals"]["surface_m2"] == pytest.approx(0.99)
    assert found["reconciliation"]["parts_in_model"] == 5
    assert found["model"]["sha256"] == small_job().model.checksum
    assert found["model"]["header_date"] == "2031-04-30"
    assert found["settings"]["holes"]["rule"] == "EN 1090-2"
    assert found["versions"]["takeoff"] == __version__
    assert found["versions"]["ifcopenshell"][0].isdigit()
    assert sorted([*found["files"], "summary.json"]) == names
    for name, checksum in found["files"].items():
        assert hashlib.sha256((tmp_path / name).read_bytes()).hexdigest() == checksum


def test_a_bolt_without_weight_makes_the_total_unknown(tmp_path):
    import dataclasses

    job = small_job()
    job = dataclasses.replace(job, bolt_lines=(*job.bolt_lines, dataclasses.replace(job.bolt_lines[0], weight=None)))
    assert figures(job).bolt_weight_kg is None
    assert summary(job, Settings(), tmp_path, ())["totals"]["bolt_weight_kg"] is None
