"""Two editions, each with what the check made of it, to all that is different between them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from protocol_lang.compare.basis import assumed, unchecked
from protocol_lang.compare.declared import declared
from protocol_lang.compare.done import cases_of, in_common, same_cases
from protocol_lang.compare.effects import but_what_is_dry, effects_of
from protocol_lang.compare.match import matched
from protocol_lang.compare.order import Orders, come_between, moved, moved_in_text
from protocol_lang.compare.steps import Written, repeated, written
from protocol_lang.comparison import (
    Assumed,
    Between,
    Change,
    Comparison,
    DoesOtherwise,
    DoneWhen,
    Edition,
    Moved,
    Pair,
    Reworded,
    Seen,
    Told,
)
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.findings import Finding
from protocol_lang.identity import identity_of
from protocol_lang.model.protocol import Protocol, Role
from protocol_lang.model.said import claim, reference
from protocol_lang.outcome import FileOutcome
from protocol_lang.text import Place

RUNS_ON = "may run into the next visit"


@dataclass(frozen=True, slots=True)
class Given:
    """One edition after its check; what the check did not get to is None.

    ``texts``: the lines of every file that was read.
    """

    outcome: FileOutcome
    protocol: Protocol | None
    unfolded: Unfolded | None
    judgement: Judgement | None
    texts: frozenset[tuple[str, ...]] = frozenset()

    @property
    def edition(self) -> Edition:
        """What is told of it by itself."""
        header = None if self.protocol is None else self.protocol.header
        return Edition(
            outcome=self.outcome,
            number=self.outcome.edition if header is None else header.edition,
            in_force=None if header is None else _day(header.in_force),
            read=self.protocol is not None,
            ordered=self.judgement is not None and self.judgement.layout is not None,
            whole=self.outcome.coverage is not None and not self.outcome.unchecked,
        )


def compare(old: Given, new: Given) -> Comparison:
    """All that is different. What one of the editions does not let be known is left out: see
    :attr:`~protocol_lang.comparison.Edition.read` and those beside it."""
    whole = Comparison(
        old.edition,
        new.edition,
        findings=_findings(old, new),
        assumed=assumed(old.outcome.coverage, new.outcome.coverage),
        unchecked=unchecked(old.outcome, new.outcome),
        same_text=bool(old.texts) and old.texts == new.texts,
    )
    if old.protocol is None or new.protocol is None:
        return whole
    return _Steps(old, new, old.protocol, new.protocol).added_to(whole)


# --- Findings ------------------------------------------------------------------------------------


def _findings(old: Given, new: Given) -> tuple[Told, ...]:
    """Findings of one cause are one; in the order of the new edition, what is gone last."""
    was, is_now = _by_code(old.outcome.findings), _by_code(new.outcome.findings)
    found = [
        Told(code, was.get(code), finding, code in was or old.edition.whole)
        for code, finding in is_now.items()
    ]
    found += [
        Told(code, finding, None, new.edition.whole)
        for code, finding in was.items()
        if code not in is_now
    ]
    return tuple(found)


def _by_code(findings: Iterable[Finding]) -> dict[str, Finding]:
    """The first finding of each code, by place."""
    found: dict[str, Finding] = {}
    for finding in sorted(findings, key=lambda one: (one.place is not None, one.place)):
        found.setdefault(identity_of(finding), finding)
    return found


def _but_in_other_words(
    assumed: Iterable[Assumed], reworded: Sequence[Reworded]
) -> Iterator[Assumed]:
    """What an answer rests on, without steps that touch nothing and are only said otherwise."""
    same = [one.step for one in reworded if one.same]
    texts = {("without_contact", (pair.is_now.text,), True) for pair in same}
    texts |= {("without_contact", (pair.was.text,), False) for pair in same}
    for one in assumed:
        if (one.kind, one.names, one.newly) not in texts:
            yield one


# --- Header, choices, phases ---------------------------------------------------------------------


def _header(old: Protocol, new: Protocol) -> Iterator[Change]:
    was, is_now = old.header, new.header
    if was.review_by != is_now.review_by:
        yield Change("review by", "", _day(was.review_by), _day(is_now.review_by))
    if was.owner != is_now.owner:
        yield Change("owner", "", was.owner, is_now.owner)
    for sort, before, after in (
        ("source", was.sources, is_now.sources),
        ("note", was.notes, is_now.notes),
    ):
        yield from _only_one(sort, {one: one for one in before}, {one: one for one in after})


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _only_one(sort: str, was: dict[str, str], is_now: dict[str, str]) -> Iterator[Change]:
    """What is in one only, or is said otherwise."""
    for name in dict.fromkeys((*was, *is_now)):
        if was.get(name) != is_now.get(name):
            yield Change(sort, name, was.get(name), is_now.get(name))


def _options(old: Protocol, new: Protocol) -> Iterator[Change]:
    for sort, told in (
        ("choice", _choices),
        ("found out", _found_out),
        ("mishap", _mishaps),
        ("again", _again),
        ("protocol", _parts),
        ("begins", _begins),
        ("leaves", _leaves),
    ):
        yield from _only_one(sort, told(old), told(new))


def _choices(protocol: Protocol) -> dict[str, str]:
    """Of a day without the first one, which says what protocol a visit follows."""
    day = any(part.role is Role.VISIT for part in protocol.parts)
    return {
        choice.name: ", ".join(choice.values)
        + (", fixed for the clinic" if choice.fixed else ", each visit")
        for number, choice in enumerate(protocol.choices)
        if choice.declared and choice.known_after is None and not (day and number == 0)
    }


def _found_out(protocol: Protocol) -> dict[str, str]:
    return {
        choice.name: f'after "{choice.known_after}"'
        for choice in protocol.choices
        if choice.declared and choice.known_after is not None
    }


def _mishaps(protocol: Protocol) -> dict[str, str]:
    found: dict[str, str] = {}
    for mishap in protocol.mishaps:
        if mishap.visit == 1:
            where = ", ".join(f'"{title}"' for title in mishap.phases)
            labels = " or ".join(f'"{label}"' for label in mishap.labels)
            when = f"after {labels}" if labels else f"between any two steps of {mishap.person}"
            found[mishap.name] = f"in {where}, {when}" if where else when
    return found


def _again(protocol: Protocol) -> dict[str, str]:
    return {label: f"at most {most} times" for label, most in repeated(protocol)}


def _parts(protocol: Protocol) -> dict[str, str]:
    return {part.title: part.role.value for part in protocol.parts}


def _begins(protocol: Protocol) -> dict[str, str]:
    """What a part that follows another protocol begins with."""
    found: dict[str, str] = {}
    for line in protocol.begins:
        told = "bare" if line.cover is None else f"covered with {line.cover}"
        soiled = "with this patient's soil on it"
        if line.used:
            told = soiled if line.cover is None else f"{told}, {soiled}"
        found[reference(line.what, {})] = told
    return found


def _leaves(protocol: Protocol) -> dict[str, str]:
    """What is claimed of the end."""
    return {told: told for told in (claim(one, {}) for one in protocol.leaves)}


_Phase = tuple[str, str]


def _phases(old: Protocol, new: Protocol, common: Sequence[Pair]) -> Iterator[Change]:
    was, is_now = _titles(old), _titles(new)
    renamed = _renamed(set(was) - set(is_now), set(is_now) - set(was), common)
    for (part, title), other in renamed.items():
        yield Change("renamed", part, title, other[1])
    for key in dict.fromkeys((*was, *is_now)):
        if key in was and key not in is_now and key not in renamed:
            yield Change("phase", key[0], key[1], None)
        if key in is_now and key not in was and key not in renamed.values():
            yield Change("phase", key[0], None, key[1])
    for key, runs_on in was.items():
        other = renamed.get(key, key)
        if other in is_now and is_now[other] != runs_on:
            yield Change(
                "runs on",
                other[1],
                RUNS_ON if runs_on else None,
                RUNS_ON if is_now[other] else None,
            )


def _titles(protocol: Protocol) -> dict[_Phase, bool]:
    return {(one.part or "", one.title): one.runs_on for one in protocol.phases if one.visit == 1}


def _renamed(was: set[_Phase], is_now: set[_Phase], common: Sequence[Pair]) -> dict[_Phase, _Phase]:
    """Phases that are gone, each with the new phase in which most of its steps are."""
    shared: Counter[tuple[_Phase, _Phase]] = Counter()
    for pair in common:
        before = (pair.was.part or "", pair.was.phase)
        after = (pair.is_now.part or "", pair.is_now.phase)
        if before in was and after in is_now:
            shared[before, after] += 1
    found: dict[_Phase, _Phase] = {}
    ranked = sorted(shared.items(), key=lambda one: (-one[1], sorted(one[0])))
    for (before, after), _ in ranked:
        if before not in found and after not in found.values():
            found[before] = after
    return found


# --- Steps ---------------------------------------------------------------------------------------


class _Steps:
    """What is different about the steps of two editions that could both be read."""

    def __init__(
        self, old: Given, new: Given, old_protocol: Protocol, new_protocol: Protocol
    ) -> None:
        self._old, self._new = old, new
        self._protocols = old_protocol, new_protocol
        self._was, self._is_now = written(old_protocol), written(new_protocol)
        self._matched = matched(self._was, self._is_now)
        self._common = [Pair(self._was[a].seen, self._is_now[b].seen) for a, b in self._matched]

    def added_to(self, whole: Comparison) -> Comparison:
        """The comparison with all about steps, phases, choices and header."""
        effects = self._effects()
        reworded = tuple(self._reworded(effects))
        shifted, between, others, undecided = self._order()
        return replace(
            whole,
            header=tuple(_header(*self._protocols)),
            phases=tuple(_phases(*self._protocols, self._common)),
            options=tuple(_options(*self._protocols)),
            declared=()
            if self._old.unfolded is None or self._new.unfolded is None
            else declared(self._old.unfolded, self._new.unfolded),
            added=self._unmatched(self._is_now, {b for _, b in self._matched}),
            removed=self._unmatched(self._was, {a for a, _ in self._matched}),
            reworded=reworded,
            assumed=tuple(_but_in_other_words(whole.assumed, reworded)),
            moved=shifted,
            between=between,
            moved_in_text=others,
            effects=tuple(effects or ()),
            done=tuple(self._done()),
            undecided=undecided,
        )

    def _unmatched(self, steps: Sequence[Written], known: set[int]) -> tuple[Seen, ...]:
        return tuple(one.seen for number, one in enumerate(steps) if number not in known)

    def _effects(self) -> list[DoesOtherwise] | None:
        """Steps that do something else; None if it is not known what they do."""
        if self._old.unfolded is None or self._new.unfolded is None:
            return None
        was, is_now = effects_of(self._old.unfolded), effects_of(self._new.unfolded)
        found: list[DoesOtherwise] = []
        for pair in self._common:
            before, after = was.get(pair.was.place), is_now.get(pair.is_now.place)
            if before is None or after is None:
                continue  # done in no case: that is told as a finding
            if pair.was.text == pair.is_now.text:
                # What is dry by then depends on other steps, of which it is told.
                before, after = but_what_is_dry(before), but_what_is_dry(after)
            if before == after:
                continue
            found.append(
                DoesOtherwise(
                    pair,
                    tuple(one for one in before if one not in after),
                    tuple(one for one in after if one not in before),
                )
            )
        return found

    def _reworded(self, effects: Sequence[DoesOtherwise] | None) -> Iterator[Reworded]:
        other = {one.step for one in effects or ()}
        for pair in self._common:
            if pair.was.text != pair.is_now.text:
                yield Reworded(pair, None if effects is None else pair not in other)

    def _order(self) -> tuple[tuple[Moved, ...], tuple[Between, ...], tuple[Pair, ...], int]:
        of_old = [a for a, _ in self._matched]
        old, new = self._orders(self._old, True), self._orders(self._new, False)
        if old is None or new is None:
            return (), (), moved_in_text(self._common, of_old, frozenset()), 0
        shifted, changed = moved(self._common, old, new)
        between = come_between(self._common, old, new)
        others = moved_in_text(self._common, of_old, changed)
        return shifted, between, others, old.undecided + new.undecided

    def _orders(self, given: Given, old: bool) -> Orders | None:
        if given.unfolded is None or given.judgement is None or given.judgement.layout is None:
            return None
        places: list[Place] = [(pair.was if old else pair.is_now).place for pair in self._common]
        return Orders(given.unfolded, given.judgement.layout, places)

    def _done(self) -> Iterator[DoneWhen]:
        before = after = None
        if self._old.unfolded is not None and self._new.unfolded is not None:
            common = in_common(*self._protocols)
            before = cases_of(self._old.unfolded, common)
            after = cases_of(self._new.unfolded, common)
        for (a, b), pair in zip(self._matched, self._common, strict=True):
            was, is_now = self._was[a].under, self._is_now[b].under
            cases = (
                None if before is None else before.get(pair.was.place),
                None if after is None else after.get(pair.is_now.place),
            )
            if not same_cases(was, is_now, *cases):
                yield DoneWhen(pair, was, is_now)
