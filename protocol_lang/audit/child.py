"""The process in which files are looked at: one after the other, until its input ends.

One line of JSON comes in for what holds for all files, then one for each; one line goes out for
each. What a file says can cost no more memory than is allowed, and if the process ends over it, the
audit goes on.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
from typing import BinaryIO

from protocol_lang.audit.asking import Ask, Job

#: What is answered when the memory allowed was not enough; the process then ends.
NO_MEMORY = b"memory\n"

#: Records that one file may make before what it holds in circles is searched for.
AT_MOST_MADE = 2_000_000
#: Records that files may leave behind before that is done.
MOST_LEFT = 100_000

#: What is answered, with a reason behind it, for a fault of ours.
FAULT = b"fault "


def main() -> int:
    """Serve until the input ends. Return 0, or 1 when the memory was not enough."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever prints must not come between the answers
    if hasattr(signal, "SIGINT"):
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # whoever started us ends us
    return serve(sys.stdin.buffer, answers)


def serve(jobs: BinaryIO, answers: BinaryIO) -> int:
    """As :func:`main`, over any two streams."""
    from protocol_lang.audit.data import from_line, line
    from protocol_lang.audit.look import look
    from protocol_lang.language.reading.lines import terminals

    ask = from_line(jobs.readline(), Ask)
    terminals()  # the grammar is read before memory counts: a library half imported tells nothing
    # What was made so far stays; what a file makes is nearly all freed without being searched for
    # circles, and searching for them often costs a fifth of the time: so between files, if at all.
    gc.freeze()
    gc.set_threshold(AT_MOST_MADE, 20, 100)
    _limit(ask.memory)
    for text in iter(jobs.readline, b""):
        job = from_line(text, Job)
        try:
            answer = line(look(job, ask))
        except MemoryError:
            answer = NO_MEMORY
        except Exception as fault:
            if os.environ.get("PROTOCOL_LANG_TRACE"):
                raise
            answer = FAULT + _told(fault).encode() + b"\n"
        answers.write(answer)
        answers.flush()
        if gc.get_count()[0] > MOST_LEFT:
            gc.collect(0)
        if answer == NO_MEMORY:
            return 1
    return 0


def _told(fault: Exception) -> str:
    """What kind of fault it is: no words of the file, which might be anything."""
    return type(fault).__name__


def _limit(mebibytes: int) -> None:
    """No more memory than that, and no picture of it on disk, where the system can see to it."""
    try:
        import resource
    except ImportError:
        return
    for which, most in ((resource.RLIMIT_AS, mebibytes << 20), (resource.RLIMIT_CORE, 0)):
        try:
            _, hard = resource.getrlimit(which)
            within = most if hard == resource.RLIM_INFINITY else min(most, hard)
            resource.setrlimit(which, (within, hard))
        except (OSError, ValueError):
            continue


if __name__ == "__main__":
    sys.exit(main())
