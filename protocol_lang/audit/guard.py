"""A process beside this one for files that may be anything: kept for many, made anew after a death.

Each thread that looks at files has one. A file over which it ends twice is not looked at a third
time, here or elsewhere.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import threading
from dataclasses import dataclass, field
from pathlib import Path

from protocol_lang import __version__
from protocol_lang.audit.asking import Ask, Job, Seen
from protocol_lang.audit.child import FAULT, NO_MEMORY
from protocol_lang.audit.data import from_line, line
from protocol_lang.audited import FileReport

#: Times that a file is tried; a process can also end for reasons that are not in the file.
TRIES = 2

_ROOT = Path(__file__).resolve().parents[2]


@dataclass(slots=True, eq=False)
class Guard:
    """Looks at files in a process of its own."""

    ask: Ask
    command: tuple[str, ...] = (sys.executable, "-P", "-m", "protocol_lang.audit.child")
    _process: subprocess.Popen[bytes] | None = None
    _late: threading.Event = field(default_factory=threading.Event)

    def look(self, job: Job) -> Seen:
        """What came of the file, or why it was not looked at to the end."""
        cause = "ended"
        for _ in range(TRIES):
            answer = self._answer(job)
            if answer.endswith(b"\n") and answer != NO_MEMORY:
                if answer.startswith(FAULT):
                    kind = answer.removeprefix(FAULT).decode().strip()
                    return _not_checked(job, "fault", f"a fault of protocol-lang itself ({kind})")
                return from_line(answer, Seen)
            cause = "time" if self._late.is_set() else "ended"
            cause = "memory" if answer == NO_MEMORY else cause
            self.close()
        return _not_checked(job, cause, _WHY[cause].format(self.ask))

    def close(self) -> None:
        """End the process, if there is one."""
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()
        process.wait()

    def _answer(self, job: Job) -> bytes:
        """One line from the process; less than that if it ended."""
        process = self._started()
        assert process.stdin is not None and process.stdout is not None
        self._late.clear()
        guard = threading.Timer(self.ask.seconds, self._end_late, [process])
        guard.daemon = True
        guard.start()
        try:
            process.stdin.write(line(job))
            process.stdin.flush()
            return process.stdout.readline()
        except OSError:
            return b""
        finally:
            guard.cancel()

    def _end_late(self, process: subprocess.Popen[bytes]) -> None:
        self._late.set()
        process.kill()

    def _started(self) -> subprocess.Popen[bytes]:
        if self._process is None:
            searched = [str(_ROOT), os.environ.get("PYTHONPATH", "")]
            self._process = subprocess.Popen(
                self.command,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, searched))},
            )
            assert self._process.stdin is not None
            with contextlib.suppress(OSError):  # an early end is told by the answer that lacks
                self._process.stdin.write(line(self.ask))
        return self._process


_WHY = {
    "ended": "the process that looked at it ended twice",
    "memory": "it needs more than {0.memory:,} MiB of memory",
    "time": "it was not done after {0.seconds:g} seconds",
}


def _not_checked(job: Job, cause: str, why: str) -> Seen:
    return Seen(__version__, FileReport(job.name, "not checked", reason=why, cause=cause))
