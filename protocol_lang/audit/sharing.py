"""Many files over several workers: threads of this process, or the workers of a cluster.

Each worker has a :class:`~protocol_lang.audit.guard.Guard`, so a file that does harm takes along
nothing but the guard's own process. Whoever does what, and in which order it is done, answers come
back in the order of the files.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from contextlib import closing, suppress

from protocol_lang.audit.asking import Ask, Job, Seen
from protocol_lang.audit.guard import Guard

#: Seconds in which a cluster has to answer.
MOST_WAIT = 20


class NoCluster(Exception):
    """No cluster can be used: ``why`` says what to do."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


def looked_at(
    jobs: Sequence[Job], ask: Ask, workers: int, cluster: str | None = None
) -> Iterator[Seen]:
    """What came of each file, in the order of ``jobs``.

    ``workers``: how many files at once on this machine; ``cluster``: the address of a distributed
    scheduler, which then decides. Raises :class:`NoCluster`.
    """
    if cluster is None:
        return _here(jobs, ask, workers)
    return _there(jobs, ask, cluster)


def _here(jobs: Sequence[Job], ask: Ask, workers: int) -> Iterator[Seen]:
    from joblib import Parallel, delayed

    try:
        # The work is done by the guards' processes: threads are enough to wait for them.
        run = Parallel(
            n_jobs=max(1, min(workers, len(jobs) or 1)),
            backend="threading",
            return_as="generator",
            batch_size=1,
        )
        with closing(run(delayed(look_guarded)(job, ask) for job in jobs)) as answers:
            yield from answers
    finally:
        end_guards()


def _there(jobs: Sequence[Job], ask: Ask, cluster: str) -> Iterator[Seen]:
    try:
        from distributed import Client
    except ImportError:
        raise NoCluster(
            'For a cluster more has to be installed: pip install "protocol-lang[cluster]".'
        ) from None
    from joblib import Parallel, delayed, parallel_config

    try:
        client = Client(cluster, timeout=MOST_WAIT)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TypeError) as problem:
        raise NoCluster(f"The cluster does not answer: {type(problem).__name__}.") from None
    with client:
        try:
            with parallel_config(backend="dask"):
                run = Parallel(batch_size=1, return_as="generator")
                with closing(run(delayed(look_guarded)(job, ask) for job in jobs)) as answers:
                    yield from answers
        finally:
            with suppress(OSError, RuntimeError):  # a worker that has just died has no guards
                client.run(end_guards, on_error="ignore")


_guards = threading.local()
_all: list[Guard] = []
_lock = threading.Lock()


def look_guarded(job: Job, ask: Ask) -> Seen:
    """One file in the guarded process of this thread."""
    guard: Guard | None = getattr(_guards, "guard", None)
    if guard is None or guard.ask != ask or guard not in _all:
        if guard is not None:
            guard.close()
        guard = Guard(ask)
        _guards.guard = guard
        with _lock:
            _all.append(guard)
    return guard.look(job)


def end_guards() -> None:
    """End the processes of all threads of this process."""
    with _lock:
        ended, _all[:] = list(_all), []
    for guard in ended:
        guard.close()
