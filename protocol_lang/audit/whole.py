"""The audit as a whole: files gathered, looked at, put together, in the order of its lines."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from protocol_lang import __version__
from protocol_lang.audit.asking import MOST_MEMORY, MOST_SECONDS, Ask, Job, Seen
from protocol_lang.audit.complete import incomplete
from protocol_lang.audit.gather import Gathered, gather
from protocol_lang.audit.packs import Pack
from protocol_lang.audit.sharing import NoCluster, looked_at
from protocol_lang.audit.since import beside
from protocol_lang.audit.waiving import unmatched
from protocol_lang.audited import Audit, FileReport, Standing, Waiver
from protocol_lang.rules.relations import Relation, relations
from protocol_lang.wording import rule_faults


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be audited, and how.

    ``settings``: of the packs. ``waivers``: those of side files, and ``waiver_files`` their titles
    and fingerprints. ``earlier``: an earlier report and its fingerprint. ``workers``, ``cluster``:
    who does it; the report does not depend on them. ``memory``, ``seconds``: for one file.
    ``changes``: changes that put findings right are tried too.
    """

    paths: tuple[Path, ...]
    on: date
    packs: tuple[Pack, ...] = ()
    settings: tuple[tuple[str, str], ...] = ()
    waivers: tuple[Waiver, ...] = ()
    waiver_files: tuple[tuple[str, str], ...] = ()
    earlier: tuple[Audit, str] | None = None
    workers: int = 1
    cluster: str | None = None
    memory: int = MOST_MEMORY
    seconds: float = MOST_SECONDS
    changes: bool = False


#: Told after each file: how many are done, and of how many.
Progress = Callable[[int, int], None]


def audit(wanted: Wanted, progress: Progress | None = None) -> Audit:
    """The audit of all that is wanted.

    Raises :class:`~protocol_lang.audit.gather.TooMany` and
    :class:`~protocol_lang.audit.sharing.NoCluster`; what is wrong with single files is in the
    report.
    """
    gathered = gather(wanted.paths)
    seen = tuple(_seen(gathered, wanted, progress))
    reports = tuple(one.report for one in seen)
    made = Audit(
        version=__version__,
        on=wanted.on,
        packs=tuple(pack.used(dict(wanted.settings)) for pack in wanted.packs),
        files=reports,
        never=_never(wanted.packs, reports),
        incomplete=incomplete(seen, wanted.on),
        prevails=tuple(map(prevailing, relations([pack.book for pack in wanted.packs]))),
        waivers=unmatched(wanted.waivers, reports),
        waiver_files=wanted.waiver_files,
        changes=wanted.changes,
    )
    if wanted.earlier is None:
        return made
    earlier, fingerprint = wanted.earlier
    return replace(beside(made, earlier), earlier=fingerprint)


def _seen(
    gathered: Sequence[Gathered], wanted: Wanted, progress: Progress | None
) -> Iterator[Seen]:
    """What came of every file that was gathered, in order; what cannot be looked at too."""
    ask = Ask(
        on=wanted.on,
        packs=tuple(str(pack.path) for pack in wanted.packs),
        settings=wanted.settings,
        waivers=wanted.waivers,
        memory=wanted.memory,
        seconds=wanted.seconds,
        changes=wanted.changes,
    )
    jobs = [Job(str(one.path.absolute()), one.name) for one in gathered if one.cause is None]
    answers = iter(looked_at(jobs, ask, wanted.workers, wanted.cluster))
    for number, one in enumerate(gathered, 1):
        if one.cause is None:
            seen = next(answers)
            if seen.version != __version__:
                raise NoCluster(
                    f"A worker of the cluster has another version ({seen.version}) than this one."
                )
            yield seen
        else:
            report = FileReport(one.name, "not checked", reason=one.reason, cause=one.cause)
            yield Seen(__version__, report)
        if progress is not None:
            progress(number, len(gathered))
    next(answers, None)  # lets the workers go


def prevailing(relation: Relation) -> str:
    """Which of two rules holds that speak of each other, in a sentence."""
    return rule_faults.prevails(
        relation.prevails.value,
        relation.tightens,
        (relation.rule, relation.pack),
        (relation.other, relation.other_pack),
        relation.asks.value,
    )


def _never(packs: Iterable[Pack], reports: Sequence[FileReport]) -> tuple[tuple[str, str], ...]:
    """The rules that applied to no file at all."""
    applied = {
        (rule.pack, rule.rule)
        for report in reports
        for rule in report.rules
        if rule.standing is not Standing.NOT_APPLICABLE
    }
    every = ((pack.book.header.title, rule.title) for pack in packs for rule in pack.book.rules)
    return tuple(one for one in every if one not in applied)
