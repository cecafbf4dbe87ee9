"""Waivers counted in: which findings of a file are tolerated on the day, and why others are not.

A waiver is about one finding, by its identity, or about one rule for one thing and, if it says so,
for one value of a choice. It never covers more than that: where a rule fails for the thing with
another value of the choice as well, the finding stays, and the reason is told.

Waivers of the same that follow each other closely are one for how long they last
(:mod:`protocol_lang.audit.spells`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from protocol_lang.audit.asking import Ask
from protocol_lang.audit.lengths import fewest_between, longest
from protocol_lang.audit.roles import nobody_but, two_scripts
from protocol_lang.audit.spells import Line, lined_up
from protocol_lang.audited import FileReport, Found, RuleStanding, Standing, Waiver, WaiverUse
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.worlds import Combination
from protocol_lang.model.protocol import Choice, Protocol
from protocol_lang.model.rules import RuleBook, Strength
from protocol_lang.model.walk import steps_of
from protocol_lang.order.bits import members
from protocol_lang.text import Place
from protocol_lang.wording.plain import count, listed, quoted

#: A path of soil to a patient, and an instrument that is not ready for one, are never tolerated.
#: An order that leaves one open is told as that path in an audit.
NEVER = frozenset({"path-to-patient", "world-to-patient", "not-ready"})
#: What nobody can do as it is written: about such a protocol nothing else is known.
NOT_DONE = frozenset({"order-circle", "group-circle", "no-permitted-order", "never-done"})

IN_USE, ENDED, NOT_BEGUN = "in use", "ended", "not begun"
MATCHES_NOTHING, NOT_ALLOWED = "matches nothing", "not allowed"
NOT_JUDGED = "could not be judged"
#: Why what a waiver would cover is not known.
UNREAD, NOT_ALL = "the file could not be read", "part of the file was not checked"
#: Files that are named beside a waiver of which that is so.
MOST_HIDING = 4

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
    waivers = (*own, *ask.waivers)
    matched = {
        waiver: found
        for waiver in waivers
        if (found := tuple(one for one in report.found if _is_about(waiver, one)))
    }
    refused = {
        waiver: _forbidden(waiver, found, kept, ask, books) for waiver, found in matched.items()
    }
    holding = {
        waiver: frozenset(one.identity for one in matched[waiver])
        for waiver, why in refused.items()
        if why is None
    }
    lines = lined_up(holding, fewest_between(books, dict(kept.settings)))
    uses: list[WaiverUse] = []
    waived: dict[str, str] = {}
    for waiver in waivers:
        if waiver not in matched:
            if waiver in own:
                uses.append(_unmatched(waiver, report))
            continue
        why, line = refused[waiver], lines.get(waiver)
        if line is not None:
            why = _too_long(line, _most(matched[waiver], kept, books))
        use = replace(
            _use(waiver, matched[waiver], why, ask.on), follows=line.follows if line else ()
        )
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


def not_judged(waivers: Iterable[Waiver], why: str) -> tuple[WaiverUse, ...]:
    """Those of a file of which it is not known what they would cover."""
    return tuple(WaiverUse(one, NOT_JUDGED, why) for one in waivers)


def unmatched(waivers: Iterable[Waiver], reports: Iterable[FileReport]) -> tuple[WaiverUse, ...]:
    """Of the waivers of side files those that no file has a finding for; where some file was not
    looked at to the end, nobody knows whether it would have one."""
    seen = tuple(reports)
    used = {use.waiver for report in seen for use in report.waivers}
    return tuple(_of_side_file(one, seen) for one in waivers if one not in used)


def _of_side_file(waiver: Waiver, reports: Iterable[FileReport]) -> WaiverUse:
    hidden = [one.file for one in reports if _may_be_hidden(waiver, one)]
    if not hidden:
        found = (one for report in reports for one in report.found)
        return WaiverUse(waiver, MATCHES_NOTHING, _found_otherwise(waiver, found))
    return WaiverUse(waiver, NOT_JUDGED, _hidden_in(hidden))


def _found_otherwise(waiver: Waiver, found: Iterable[Found]) -> str | None:
    """How a waiver that matches nothing could name what was found of its rule, if anything was."""
    of_rule = [one for one in found if _is_of_rule(waiver, one)]
    if not of_rule:
        return None
    codes = listed([f"finding {code}" for code in dict.fromkeys(one.identity for one in of_rule)])
    things = list(dict.fromkeys(thing for one in of_rule for thing in one.things))
    if not things:
        return f"the rule fails for no thing in particular; it can be named as {codes}"
    return f"the rule fails for {listed(things)}; it can be named so, or as {codes}"


def _unmatched(waiver: Waiver, report: FileReport) -> WaiverUse:
    if _may_be_hidden(waiver, report):
        return WaiverUse(waiver, NOT_JUDGED, NOT_ALL)
    return WaiverUse(waiver, MATCHES_NOTHING, _found_otherwise(waiver, report.found))


def _may_be_hidden(waiver: Waiver, report: FileReport) -> bool:
    """Whether what the waiver is about may be in the file all the same: it was not read, or not
    checked to the end, or the rule was not decided there."""
    if report.state in ("broken text", "not checked"):
        return True
    open_rules = [one for one in report.rules if one.standing is Standing.NOT_DECIDED]
    if waiver.rule is None:
        return bool(open_rules or report.not_checked)
    return any(
        _plain(rule.rule) == _plain(waiver.rule) and _plain(rule.pack) == _plain(waiver.pack or "")
        for rule in open_rules
    )


def _hidden_in(files: Sequence[str]) -> str:
    more = len(files) - MOST_HIDING
    named = [*files[:MOST_HIDING], *([count(more, "more file")] if more > 0 else [])]
    return f"no file that could be judged has it; not judged to the end: {listed(named)}"


def _is_about(waiver: Waiver, found: Found) -> bool:
    if waiver.identity is not None:
        return found.identity == waiver.identity.casefold()
    return _is_of_rule(waiver, found) and _plain(waiver.thing or "") in map(_plain, found.things)


def _is_of_rule(waiver: Waiver, found: Found) -> bool:
    return (
        found.rule is not None
        and _plain(found.rule) == _plain(waiver.rule or "")
        and _plain(found.pack or "") == _plain(waiver.pack or "")
    )


def _use(waiver: Waiver, matched: tuple[Found, ...], why: str | None, on: date) -> WaiverUse:
    """``why``: it is not allowed, if that is so."""
    identities = tuple(dict.fromkeys(found.identity for found in matched))
    if why is not None:
        return WaiverUse(waiver, NOT_ALLOWED, why, identities)
    if on > waiver.ends:
        return WaiverUse(waiver, ENDED, f"it ended on {waiver.ends.isoformat()}", identities)
    if on < waiver.starts:
        why = f"it begins on {waiver.starts.isoformat()}"
        return WaiverUse(waiver, NOT_BEGUN, why, identities)
    return WaiverUse(waiver, IN_USE, None, identities)


def _most(matched: tuple[Found, ...], kept: Kept, books: Sequence[RuleBook]) -> int:
    """So many days it may last."""
    return min(longest(_strength(found), books, dict(kept.settings)) for found in matched)


def _too_long(line: Line, most: int) -> str | None:
    """Why a waiver lasts too long with those that it follows, if that is so."""
    if line.days <= most:
        return None
    named = listed([quoted(one.name) for one in line.follows])
    return (
        f"with {named}, which it follows, it lasts from {line.begins.isoformat()} to "
        f"{line.ends.isoformat()}, longer than {most} days, and nobody is named who renewed it"
    )


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
    most = _most(matched, kept, books)
    if (waiver.ends - waiver.starts).days + 1 > most:
        return f"it lasts longer than {most} days"
    must = any(_strength(found) is Strength.MUST for found in matched)
    why = _not_approved(waiver, kept.protocol, must)
    if why is not None:
        return why
    if waiver.compensated_by is not None:
        why = _not_made_up(waiver, waiver.compensated_by, matched, kept)
        if why is not None:
            return why
    if waiver.choice is not None:
        return _beyond(waiver, kept)
    return None


def _not_approved(waiver: Waiver, protocol: Protocol, must: bool) -> str | None:
    """Why who approved of it, or renewed it, may not; as far as names tell. ``must``: of what."""
    owner = protocol.header.owner
    if owner is None:
        return "the protocol names no owner, who must be somebody else than who approved of it"
    places = [protocol.header.title, *(file.title for file in protocol.files)]
    own = _own_people(protocol)
    for role, did in ((waiver.approved_by, "approved of it"), (waiver.renewed_by, "renewed it")):
        if role is None:
            continue
        if two_scripts(role) is not None:
            return f"the name of who {did} mixes letters of two scripts that look alike"
        if nobody_but(role, [owner], places):
            return f"who owns the protocol {did}"
    if must and nobody_but(waiver.approved_by, own, places):
        return "a rule that must be kept is not waived by the clinic's own people alone"
    if waiver.renewed_by is not None and nobody_but(waiver.renewed_by, own, places):
        return "nothing is renewed by the clinic's own people alone"
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
    return frozenset(names)


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
