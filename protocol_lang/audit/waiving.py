"""Waivers counted in: which findings of a file are tolerated on the day, and why others are not.

A waiver is about one finding, by its identity, or about one rule for one thing and, if it says so,
for one value of a choice. It never covers more than that: where a rule fails for the thing with
another value of the choice as well, the finding stays, and the reason is told.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from protocol_lang.audit.asking import Ask
from protocol_lang.audit.lengths import longest
from protocol_lang.audited import FileReport, Found, RuleStanding, Standing, Waiver, WaiverUse
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.worlds import Combination
from protocol_lang.model.protocol import Choice, Protocol
from protocol_lang.model.rules import RuleBook, Strength
from protocol_lang.model.walk import steps_of
from protocol_lang.order.bits import members
from protocol_lang.text import Place

#: A path of soil to a patient, and an instrument that is not ready for one, are never tolerated;
#: nor is one that some permitted order leaves open ("not-ordered").
NEVER = frozenset({"path-to-patient", "world-to-patient", "not-ready", "not-ordered"})
#: What nobody can do as it is written: about such a protocol nothing else is known.
NOT_DONE = frozenset({"order-circle", "group-circle", "no-permitted-order", "never-done"})

IN_USE, ENDED, NOT_BEGUN = "in use", "ended", "not begun"
MATCHES_NOTHING, NOT_ALLOWED = "matches nothing", "not allowed"

#: What fails when a choice has one value alone: (pack, rule, thing).
Again = Callable[[tuple[str, str]], frozenset[tuple[str, str, str]]]


@dataclass(frozen=True, slots=True)
class Kept:
    """What must be known of the protocol. ``unfolded``: its acts; ``settings``: of the rules;
    ``again``: the protocol judged with one value of a choice alone."""

    protocol: Protocol
    unfolded: Unfolded
    settings: tuple[tuple[str, str], ...]
    again: Again


def waive(
    report: FileReport,
    kept: Kept,
    own: Sequence[Waiver],
    ask: Ask,
    books: Sequence[RuleBook],
) -> FileReport:
    """The report with its waivers counted in.

    ``own``: waivers that stand in the protocol itself; those of side files are told of only where
    they match something.
    """
    uses: list[WaiverUse] = []
    waived: dict[str, str] = {}
    for waiver in (*own, *ask.waivers):
        matched = tuple(found for found in report.found if _is_about(waiver, found))
        if not matched:
            if waiver in own:
                uses.append(WaiverUse(waiver, MATCHES_NOTHING))
            continue
        use = _use(waiver, matched, kept, ask, books)
        uses.append(use)
        if use.state == IN_USE:
            for identity in use.identities:
                waived.setdefault(identity, waiver.name)
    found = tuple(
        replace(one, waived=waived[one.identity]) if one.identity in waived else one
        for one in report.found
    )
    rules = tuple(_rule(rule, waived) for rule in report.rules)
    return replace(report, found=found, rules=rules, waivers=tuple(uses))


def unmatched(waivers: Iterable[Waiver], reports: Iterable[FileReport]) -> tuple[WaiverUse, ...]:
    """Of the waivers of side files those that no file has a finding for."""
    used = {use.waiver for report in reports for use in report.waivers}
    return tuple(WaiverUse(one, MATCHES_NOTHING) for one in waivers if one not in used)


def _is_about(waiver: Waiver, found: Found) -> bool:
    if waiver.identity is not None:
        return found.identity == waiver.identity.casefold()
    return (
        found.rule is not None
        and _plain(found.rule) == _plain(waiver.rule or "")
        and _plain(found.pack or "") == _plain(waiver.pack or "")
        and _plain(waiver.thing or "") in map(_plain, found.things)
    )


def _use(
    waiver: Waiver,
    matched: tuple[Found, ...],
    kept: Kept,
    ask: Ask,
    books: Sequence[RuleBook],
) -> WaiverUse:
    identities = tuple(dict.fromkeys(found.identity for found in matched))
    why = _forbidden(waiver, matched, kept, ask, books)
    if why is not None:
        return WaiverUse(waiver, NOT_ALLOWED, why, identities)
    if ask.on > waiver.ends:
        return WaiverUse(waiver, ENDED, f"it ended on {waiver.ends.isoformat()}", identities)
    if ask.on < waiver.starts:
        why = f"it begins on {waiver.starts.isoformat()}"
        return WaiverUse(waiver, NOT_BEGUN, why, identities)
    return WaiverUse(waiver, IN_USE, None, identities)


def _forbidden(
    waiver: Waiver,
    matched: tuple[Found, ...],
    kept: Kept,
    ask: Ask,
    books: Sequence[RuleBook],
) -> str | None:
    """Why the waiver does not hold here, whatever the day."""
    if any(found.kind in NEVER for found in matched):
        return "a path to the next patient is never waived"
    if any(found.kind in NOT_DONE for found in matched):
        return "what cannot be done as it is written is never waived"
    strengths = {_strength(found) for found in matched}
    most = min(longest(one, books, dict(kept.settings)) for one in strengths)
    if (waiver.ends - waiver.starts).days + 1 > most:
        return f"it lasts longer than {most} days"
    approver = _plain(waiver.approved_by)
    owner = kept.protocol.header.owner
    if owner is None:
        return "the protocol names no owner, who must be somebody else than who approved of it"
    if approver == _plain(owner):
        return "who owns the protocol approved of it"
    if Strength.MUST in strengths and approver in _own_people(kept.protocol):
        return "a rule that must be kept is not waived by the clinic's own people alone"
    if waiver.compensated_by is not None:
        why = _not_made_up(waiver, waiver.compensated_by, matched, kept)
        if why is not None:
            return why
    if waiver.choice is not None:
        return _beyond(waiver, kept)
    return None


def _not_made_up(waiver: Waiver, label: str, matched: tuple[Found, ...], kept: Kept) -> str | None:
    """Why the step that should make up for it does not: it has to be another one than the step at
    fault, and to be done in every visit that the waiver is about, whatever else is chosen there."""
    named = f'the step with the label "{label}"'
    places = _labelled(kept.protocol, label)
    if not places:
        return f'the protocol has no step with the label "{label}"'
    if {place.line for place in places} & {found.line for found in matched}:
        return f"{named} is the one that it is about"
    unfolded = kept.unfolded
    done = 0
    for step, acts in zip(unfolded.steps, unfolded.acts_of, strict=True):
        if step.place in places:
            for act in acts:
                done |= unfolded.plan.acts[act].worlds
    left = unfolded.worlds.all & ~done
    if waiver.choice is not None:
        name, value = waiver.choice
        left = sum(
            1 << world
            for world in members(left)
            if any(_agrees(one, name, value) for one in unfolded.worlds.examples[world])
        )
    return f"{named} is not done in every such visit" if left else None


def _agrees(combination: Combination, name: str, value: str) -> bool:
    """Whether the choice may have that value there."""
    known = {_plain(one): _plain(other) for one, other in combination.items()}
    return known.get(_plain(name), _plain(value)) == _plain(value)


def _beyond(waiver: Waiver, kept: Kept) -> str | None:
    """Why a waiver for one value of a choice does not cover what was found."""
    assert waiver.choice is not None
    name, value = waiver.choice
    choice = _choice(kept.protocol, name)
    if choice is None or _plain(value) not in map(_plain, choice.values):
        return f'the protocol has no choice "{name}" with the value "{value}"'
    for other in choice.values:
        if _plain(other) != _plain(value) and _fails(waiver, kept.again((choice.name, other))):
            return f"it fails where {choice.name} is {other} as well"
    return None


def _fails(waiver: Waiver, failing: frozenset[tuple[str, str, str]]) -> bool:
    wanted = (waiver.pack or "", waiver.rule or "", waiver.thing or "")
    return any(tuple(map(_plain, one)) == tuple(map(_plain, wanted)) for one in failing)


def _choice(protocol: Protocol, name: str) -> Choice | None:
    return next((one for one in protocol.choices if _plain(one.name) == _plain(name)), None)


def _strength(found: Found) -> Strength:
    """Of what is no rule, the greatest: the check looks for nothing that is only advice."""
    return Strength.MUST if found.strength is None else Strength(found.strength)


def _own_people(protocol: Protocol) -> frozenset[str]:
    """Who belongs to the clinic itself, as far as its protocol tells: everybody whom the protocol
    and its room declare, their groups, and the owner."""
    names = [*protocol.people, *protocol.groups]
    if protocol.header.owner is not None:
        names.append(protocol.header.owner)
    return frozenset(map(_plain, names))


def _labelled(protocol: Protocol, label: str) -> frozenset[Place]:
    """Where the steps with that label stand."""
    holders = [phase.items for phase in protocol.phases]
    holders += [mishap.items for mishap in protocol.mishaps]
    return frozenset(
        step.place
        for items in holders
        for step in steps_of(items)
        if step.label is not None and _plain(step.label) == _plain(label)
    )


def _plain(name: str) -> str:
    """A name as names are compared: without capitals, articles and hyphens."""
    words = name.casefold().replace("-", " ").split()
    return " ".join(word for word in words if word not in ("a", "an", "the"))


def _rule(rule: RuleStanding, waived: Mapping[str, str]) -> RuleStanding:
    """A failed rule is waived when everything found for it is."""
    if rule.standing is Standing.FAILED and rule.found and all(f in waived for f in rule.found):
        return replace(rule, standing=Standing.WAIVED)
    return rule
