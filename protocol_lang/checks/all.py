"""All findings of one judgement, in the order in which they are told."""

from __future__ import annotations

from dataclasses import replace

from protocol_lang.checks.covers import covers
from protocol_lang.checks.keys import key_of_claim
from protocol_lang.checks.order import OrderFindings
from protocol_lang.checks.remedies import Trials
from protocol_lang.checks.soil import SoilFindings
from protocol_lang.checks.story import registers_of
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.findings import Finding, Unchecked


def findings_of(
    unfolded: Unfolded, judgement: Judgement, mend: bool = True
) -> tuple[tuple[Finding, ...], tuple[Unchecked, ...]]:
    """What was found, and what was not checked. ``mend``: whether to look for changes that help."""
    order = OrderFindings(unfolded, judgement)
    found = [_with_orders(order, finding, unfolded, judgement, mend) for finding in order.all()]
    if judgement.layout is not None and judgement.judged:
        found += SoilFindings(unfolded, judgement, mend).all()
    found = [finding for finding in found if not _told_by_soil(finding, found)]
    return tuple(found), tuple(_unchecked(judgement, found))


def _told_by_soil(finding: Finding, found: list[Finding]) -> bool:
    """A duty left undone at the end is not told beside the soil that stays on those hands."""
    return (
        finding.kind == "duty-can-fail"
        and finding.context is None
        and any(
            other.kind == "hands-at-end" and other.facts["who"] == finding.facts["person"]
            for other in found
        )
    )


def _with_orders(
    order: OrderFindings,
    finding: Finding,
    unfolded: Unfolded,
    judgement: Judgement,
    mend: bool,
) -> Finding:
    """The finding with changes that put it right."""
    if not mend or judgement.layout is None:
        return finding
    trials = Trials(unfolded, judgement)
    if finding.kind in ("cover-not-changed", "not-ready", "cover-on-twice"):
        worked = covers(trials, order, finding)
        return replace(finding, remedies=tuple(one.remedy for one in worked))
    if finding.kind not in ("claim-can-fail", "duty-can-fail"):
        return finding
    for failing in judgement.claims:
        if (
            unfolded.acts[failing.act].place == finding.place
            and order.claim_text(failing) == finding.facts["claim"]
        ):
            registers = registers_of(judgement.layout, unfolded.plan.claims[failing.claim])
            key = key_of_claim(unfolded, failing.act, failing.claim)
            worked = trials.for_claim(failing, key, sorted(registers))
            return replace(finding, remedies=tuple(one.remedy for one in worked))
    return finding


def _unchecked(judgement: Judgement, found: list[Finding]) -> list[Unchecked]:
    missing: list[Unchecked] = []
    kinds = ", ".join(dict.fromkeys(finding.kind for finding in found))
    if judgement.layout is None or judgement.no_run or judgement.judged != judgement.layout.worlds:
        missing.append(Unchecked("because-of-findings", {"which": kinds}))
    if judgement.not_ready:
        missing.append(
            Unchecked("next-visits", {"why": "the room is not left as the next visit begins"})
        )
    questions = dict.fromkeys(judgement.undecided)
    if judgement.paths is not None and judgement.paths.undecided:
        questions["where soil can get to"] = None
    missing += [
        Unchecked("too-hard", {"question": question, "spent": "the limit of counted steps"})
        for question in questions
    ]
    return missing
