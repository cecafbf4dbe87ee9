"""A file that does harm takes nothing along but a process of its own; whoever works, one report."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import pytest

from protocol_lang.audit import sharing
from protocol_lang.audit.asking import Ask, Job
from protocol_lang.audit.data import render
from protocol_lang.audit.guard import TRIES, Guard
from protocol_lang.audit.views import standing_of
from protocol_lang.audited import VICTIMS
from protocol_lang.outcome import Standing
from tests.audit.clinics import FAULTY, GOOD, ON, audited, room, write

#: A stand-in for the process: dies, hangs, or says that memory was short, by the name of the file,
#: and writes down each time that it is asked.
STAND_IN = """
import json, os, sys, time
sys.stdin.buffer.readline()
for text in iter(sys.stdin.buffer.readline, b""):
    name = json.loads(text)["name"]
    print(name, file=open({log!r}, "a"), flush=True)
    tries = open({log!r}).read().split().count(name)
    if name == "dies" or (name == "dies-once" and tries == 1):
        os._exit(1)
    if name == "hangs":
        time.sleep(60)
    if name == "memory":
        sys.stdout.buffer.write(b"memory\\n")
        sys.stdout.flush()
        os._exit(1)
    if name == "fault":
        sys.stdout.buffer.write(b"fault KeyError\\n")
    else:
        report = dict(file=name, state="checked")
        sys.stdout.buffer.write(json.dumps(dict(version="v", report=report)).encode() + b"\\n")
    sys.stdout.flush()
"""


@pytest.fixture
def guard(tmp_path: Path):
    log = tmp_path / "log"
    script = tmp_path / "stand_in.py"
    script.write_text(STAND_IN.format(log=str(log)))
    made = Guard(Ask(ON, seconds=3), (sys.executable, str(script)))
    yield made, lambda: log.read_text().split()
    made.close()


@pytest.mark.parametrize(
    ("name", "cause"), [("dies", "ended"), ("hangs", "time"), ("memory", "memory")]
)
def test_a_file_that_ends_its_process_twice_is_not_checked(guard, name: str, cause: str):
    looks, asked = guard
    report = looks.look(Job("/x", name)).report
    assert (report.state, report.cause) == ("not checked", cause) and report.reason
    assert cause in VICTIMS and standing_of(report) is Standing.UNCHECKED
    assert asked() == [name] * TRIES
    assert looks.look(Job("/y", "well")).report.state == "checked"  # and the next one is


def test_a_file_whose_process_ended_once_is_tried_again(guard):
    looks, asked = guard
    assert looks.look(Job("/x", "dies-once")).report.state == "checked"
    assert asked() == ["dies-once"] * 2


def test_a_fault_of_ours_is_told_and_no_victim(guard):
    looks, _ = guard
    report = looks.look(Job("/x", "fault")).report
    assert report.cause == "fault" and report.cause not in VICTIMS
    assert "KeyError" in (report.reason or "")


def test_one_process_serves_many_files(guard):
    looks, _ = guard
    looks.look(Job("/a", "a"))
    first = looks._process.pid
    looks.look(Job("/b", "b"))
    assert looks._process.pid == first


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="no limit of memory elsewhere")
def test_too_little_memory_is_told(tmp_path: Path):
    write(tmp_path, "good", GOOD)
    (file,) = audited(tmp_path, memory=24).files
    assert (file.state, file.cause) == ("not checked", "memory")


def test_workers_do_not_change_the_report(tmp_path: Path):
    room(tmp_path)
    for number in range(6):
        text = FAULTY if number % 2 else GOOD
        write(tmp_path, f"file-{number}", text.replace("  [ ] wash", f"  # {number}\n  [ ] wash"))
    assert render(audited(tmp_path, workers=1)) == render(audited(tmp_path, workers=3))


def test_a_cluster_gives_the_same_report_though_a_worker_is_killed(tmp_path: Path):
    distributed = pytest.importorskip(
        "distributed", reason='the extra for clusters is not installed: "protocol-lang[cluster]"'
    )
    import dask

    where = tmp_path / "clinic"
    where.mkdir()
    room(where)
    for number in range(24):
        text = FAULTY if number % 3 else GOOD
        write(where, f"file-{number:02d}", text.replace("  [ ] wash", f"  # {number}\n  [ ] wash"))
    alone = render(audited(where))
    killed: list[int] = []
    dask.config.set({"distributed.comm.timeouts.connect": "10s"})
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None,
        local_directory=str(tmp_path / "scratch"), silence_logs=50,
    ) as cluster:  # fmt: skip
        pids = [worker.pid for worker in cluster.workers.values()]

        def progress(done: int, every: int) -> None:
            if done == every // 3 and not killed:
                killed.append(_kill(pids))

        from protocol_lang.audit.whole import Wanted, audit

        made = audit(Wanted((where,), ON, cluster=cluster.scheduler_address), progress)
    assert killed
    assert render(made) == alone


def _kill(nannies: list[int | None]) -> int:
    """Kills a worker, the child of its nanny."""
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            parts = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        pid = int(stat.parent.name)
        if pid in nannies or int(parts[1]) in nannies:
            os.kill(pid, signal.SIGKILL)
            return pid
    raise AssertionError("no worker was found")


def test_a_cluster_that_is_not_there_is_told(monkeypatch):
    pytest.importorskip("distributed", reason="the extra for clusters is not installed")
    monkeypatch.setattr(sharing, "MOST_WAIT", 1)
    with pytest.raises(sharing.NoCluster, match="does not answer"):
        list(sharing.looked_at([Job("/x", "x")], Ask(ON), 1, "tcp://127.0.0.1:9"))


def test_guards_end_with_the_audit(tmp_path: Path):
    write(tmp_path, "good", GOOD)
    audited(tmp_path, workers=2)
    assert sharing._all == []
