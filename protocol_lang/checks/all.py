"""All findings of one judgement, in the order in which they are told."""

from __future__ import annotations

from dataclasses import replace

from protocol_lang.checks.covers import covers
from protocol_lang.checks.keys import Key, key_of_claim
from protocol_lang.checks.order import OrderFindings
from protocol_lang.checks.products import product_findings
from protocol_lang.checks.remedies import Trials
from protocol_lang.checks.soil import SoilFindings
from protocol_lang.checks.story import registers_of
from protocol_lang.checks.streams import streams_of, wrong_streams
from protocol_lang.checks.supplies import supply_findings
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.findings import Finding, Unchecked


def findings_of(
    unfolded: Unfolded, judgement: Judgement, mend: bool = True, lasting: bool = False
) -> tuple[tuple[Finding, ...], tuple[Unchecked, ...]]:
    """What was found, and what was not checked.

    ``mend``: whether to look for changes that help. Where one visit runs into the next none are
    looked for: a line that is added stands in both, and a label speaks within one of them.
    ``lasting``: the same is found whether changes are looked for or not; they are only told beside
    it. So a finding has one identity, whoever asks for it and in whatever way.
    """
    mend = mend and all(phase.visit == 1 for phase in unfolded.protocol.phases)
    order = OrderFindings(unfolded, judgement)
    found = [_with_changes(order, finding, unfolded, judgement, mend) for finding in order.all()]
    if judgement.layout is not None and judgement.judged:
        for finding, worked in SoilFindings(unfolded, judgement, mend, lasting).all():
            left = worked[0].left if worked and not lasting else None
            also = [] if left is None else [one for one in found if _gone(order, one, left)]
            if also and finding.kind == "hands-at-end":
                # The duty that was not done says it more directly than the hands that stay soiled.
                first = found.index(also[0])
                soiled = f"soil can then still be on {finding.facts['who']}'s hands at the end"
                keys = order.keys_of(found[first])
                enough = tuple(one.remedy for one in worked if not keys & one.left)
                told = replace(found[first], remedies=(*found[first].remedies, *enough))
                found[first] = _with_follows(told, soiled)
                continue
            found = [one for one in found if one not in also]
            gone = frozenset(key for one in also for key in order.keys_of(one))
            enough = tuple(one.remedy for one in worked if not gone & one.left)
            found.append(_with_also(replace(finding, remedies=enough), also))
    found = [finding for finding in found if not _told_by_soil(finding, found)]
    found += streams_of(unfolded)
    found += wrong_streams(unfolded)
    short, unsettled = supply_findings(unfolded, judgement)
    found += short
    used, left_open = product_findings(unfolded, judgement)
    found += [one for one in used if not _told_of_what_follows(one, found)]
    return tuple(found), (*_unchecked(judgement, found), *unsettled, *left_open)


def _told_of_what_follows(finding: Finding, found: list[Finding]) -> bool:
    """That something is too weak for a level is told with the soil that gets on because of it, or
    with what is given back at too low a level."""
    if finding.kind != "product-too-weak":
        return False
    level, floor = finding.facts["level"], finding.facts["floor"]
    return any(
        other.facts.get("level") == level
        and (
            ("treated" in other.facts and other.facts.get("floor") == floor)
            or (other.kind == "given-back-too-low" and other.facts["asked"] == floor)
        )
        for other in found
    )


def _gone(order: OrderFindings, finding: Finding, left: frozenset[Key]) -> bool:
    """Whether the finding has gone once a path is put right: then the path is its cause too."""
    keys = order.keys_of(finding)
    return bool(keys) and not keys & left


def _with_also(finding: Finding, also: list[Finding]) -> Finding:
    """The finding, saying what else is put right with it."""
    steps = list(dict.fromkeys(f'"{one.facts["step"]}"' for one in also if "step" in one.facts))
    if not steps:
        return finding
    return _with_follows(
        finding, f"this also puts right what is wrong with {' and '.join(steps[:3])}"
    )


def _with_follows(finding: Finding, told: str) -> Finding:
    before = finding.facts.get("follows")
    follows = f"{before}; {told}" if before else told
    return replace(finding, facts={**finding.facts, "follows": follows})


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


def _with_changes(
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
    if finding.kind not in (
        "claim-can-fail",
        "duty-can-fail",
        "touched-from-afar",
        "near-an-exposure",
        "air-breathed",
        "gloves-off-the-dirty-side",
        "air-not-clear",
    ):
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
