"""What an audit of many files costs: files a second, alone and with all processors, and memory.

A generator writes varied protocols, each with as many lines as the longest that is shipped: the
visits of one image, with steps left out and steps added. So some have something to correct, as
first drafts do. Then the same with all shipped files of rules, and how much dearer the longest
shipped protocol is, which is up to 20 exposures with a mishap at any moment.
"""

from __future__ import annotations

import os
import random
import re
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from bench.check import bar, longest
from protocol_lang.audit.packs import Pack, open_pack
from protocol_lang.audit.whole import Wanted, audit
from protocol_lang.audited import Audit
from protocol_lang.resources import folder

FILES = (10, 100, 1_000)
#: Bar: seconds by the clock for a thousand files on two processors.
THOUSAND = 60.0
ON = date(2026, 11, 25)

_BASES = ("intraoral-wired-sensor", "intraoral-film", "intraoral-phosphor-plates")


def varied(number: int) -> str:
    """A protocol, another for each number: as many lines as the longest shipped one."""
    chance = random.Random(number)
    base = _BASES[number % len(_BASES)]
    text = (folder("protocols") / "imaging-room-2" / f"{base}.protocol").read_text("utf-8")
    lines = text.splitlines()
    lines[0] = f'protocol "Visit {number}"'
    steps = [at for at, line in enumerate(lines) if re.match(r" +\[ \] [^:]+$", line)]
    for at in sorted(chance.sample(steps, chance.randrange(3)), reverse=True):
        deeper = len(lines[at]) - len(lines[at].lstrip())
        del lines[at]
        while at < len(lines) and re.match(rf" {{{deeper + 1},}}\S", lines[at]):
            del lines[at]  # what is told of the step goes with it
    size = len(longest().read_text("utf-8").splitlines())
    lines.append(f'\nphase "Papers {number}"')
    while len(lines) < size:
        lines.append(f"  [ ] say: paper {len(lines)} of {number} is filled in")
    return "\n".join(lines) + "\n"


def written(where: Path, many: int) -> None:
    """So many of them in a folder, with the room that they take words from."""
    room = folder("protocols") / "imaging-room-2" / "imaging-room-2.protocol"
    (where / room.name).write_text(room.read_text("utf-8"), "utf-8")
    for number in range(many):
        (where / f"visit-{number}.protocol").write_text(varied(number), "utf-8")


def memory_of(process: str) -> float:
    """MB that a process has in memory; 0 where the system does not tell."""
    try:
        told = Path(f"/proc/{process}/status").read_text()
    except OSError:
        return 0.0
    found = re.search(r"VmRSS:\s+(\d+)", told)
    return int(found[1]) / 1024 if found else 0.0


def children() -> Iterator[str]:
    """The processes that this one has started."""
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            if f"PPid:\t{os.getpid()}\n" in status.read_text():
                yield status.parent.name
        except OSError:
            continue


def spent() -> float:
    """Seconds of processor time of this process, and of those it started that have ended."""
    try:
        import resource
    except ImportError:
        return time.process_time()
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


class Watch(threading.Thread):
    """The greatest memory of this process and of any that it started."""

    def __init__(self) -> None:
        super().__init__(daemon=True)
        self.own = self.worker = self.spent = 0.0
        self._done = threading.Event()

    def run(self) -> None:
        """Look a few times a second."""
        while not self._done.wait(0.2):
            self.own = max(self.own, memory_of("self"))
            self.worker = max([self.worker, *map(memory_of, children())])

    def end(self) -> None:
        """Look no more."""
        self._done.set()
        self.join()


def measured(where: Path, workers: int, packs: tuple[Pack, ...] = ()) -> tuple[float, Watch, Audit]:
    """Seconds by the clock, memory, and the audit; ``packs``: rules that are judged too."""
    watch = Watch()
    watch.start()
    begun, before = time.perf_counter(), spent()
    made = audit(Wanted((where,), ON, packs=packs, workers=workers))
    took = time.perf_counter() - begun
    watch.spent = spent() - before
    watch.end()
    return took, watch, made


def main() -> int:
    """Print the figures. Return 0."""
    processors = os.cpu_count() or 1
    most = int(os.environ.get("PROTOCOL_LANG_BENCH_FILES", FILES[-1]))
    print("  files  workers   seconds   files/s   processor s   MB here   MB a worker   to correct")
    for many in [one for one in FILES if one <= most]:
        with tempfile.TemporaryDirectory() as place:
            written(Path(place), many)
            for workers in sorted({1, processors}):
                took, watch, made = measured(Path(place), workers)
                wrong = sum(bool(file.found) for file in made.files)
                told = (
                    f"{watch.own:9.0f} {watch.worker:13.0f}" if watch.own else " not measured here"
                )
                barred = ""
                if many == FILES[-1] and workers == processors:
                    barred = f"   (bar {bar(took, THOUSAND)} s on two processors)"
                head = f"{many:7,d} {workers:8d} {took:9.1f} {many / took:9.1f}"
                print(f"{head} {watch.spent:13.1f} {told} {wrong:12d}{barred}", flush=True)
    some = min(most, FILES[1])
    packs = tuple(
        open_pack(str(path)) for path in sorted((folder("protocols") / "rules").glob("*.protocol"))
    )
    with tempfile.TemporaryDirectory() as place:
        written(Path(place), some)
        took, watch, made = measured(Path(place), processors, packs)
    rules = sum(len(pack.book.rules) for pack in packs)
    print(
        f"{some} files with {rules} rules, {processors} workers: {took:.1f} s, "
        f"{some / took:.1f} files/s, {watch.spent:.1f} processor s, {watch.worker:.0f} MB a worker"
    )
    took, watch, _ = measured(longest(), 1)
    print(f"{longest().name} alone: {took:.1f} s, {watch.worker:.0f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
