"""References, claims and conditions: words of a line to records, names looked up."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from protocol_lang.language import tree
from protocol_lang.language.declared import Declarations
from protocol_lang.language.frames import is_person
from protocol_lang.language.names import words_of
from protocol_lang.language.spaces import Told, key_of, name_text
from protocol_lang.language.tree import Words
from protocol_lang.model.conditions import (
    AnySo,
    AnyWhere,
    ChoiceIs,
    Claim,
    Condition,
    EverySo,
    EveryWhere,
    FactHolds,
    FactSince,
    IsCleanOf,
    IsCovered,
    IsDry,
    IsIn,
    NotSo,
    NotWhere,
    StateIs,
)
from protocol_lang.model.parts import Fact, FactOf, PersonKind
from protocol_lang.model.protocol import FOUND, WHAT_HAPPENS
from protocol_lang.model.verbs import (
    OfPatient,
    OfPerson,
    OfPlace,
    OfSlot,
    OfThing,
    Ref,
    SetsFact,
    Slot,
    WhatCameOff,
    WhereFrom,
)

#: "operator's hands": whose, then what. The mark may be the typewriter's or the printer's.
_OWNED = re.compile(r"(?:['’]s|(?<=s)['’])(?=\s)")


@dataclass(frozen=True, slots=True)
class Speech:
    """Who speaks: a verb, with its slots, or a protocol, with none."""

    in_verb: bool
    slots: Mapping[str, Slot] = field(default_factory=dict)


PROTOCOL = Speech(in_verb=False)


class Reader:
    """Looks up what the lines of verbs and protocols refer to."""

    def __init__(self, declared: Declarations, told: Told) -> None:
        self.declared = declared
        self.told = told

    # --- References ------------------------------------------------------------------------------

    def ref(self, words: Words, speech: Speech) -> Ref | None:
        """What the words refer to; None after telling why they refer to nothing."""
        refs = self.refs(words, speech)
        if len(refs) > 1:
            self.told.tell("one-only", words.place, name=name_text(words), wanted="thing")
            return None
        return refs[0] if refs else None

    def refs(self, words: Words, speech: Speech) -> tuple[Ref, ...]:
        """The same, with a group spelt out; empty after telling why."""
        found = self._quiet(words, speech)
        if found is None:
            return self._tell_ref(words, speech)
        return found

    def _quiet(self, words: Words, speech: Speech) -> tuple[Ref, ...] | None:
        """The references that the words can mean; None if there is none. Tells nothing."""
        text = words.plain
        if speech.in_verb and key_of(text) == ("what", "came", "off"):
            return (WhatCameOff(),)
        if text in speech.slots:
            return (OfSlot(text),)
        named = self.declared.named.find(name_text(words))
        if named is not None:
            if named.kind == "group":
                return tuple(self._single(member) for member in named.members)
            return (self._single(named.name),)
        for owner, part in _owned(words):
            found = self._part_of(owner, part, speech)
            if found is not None:
                return (found,)
        return None

    def _single(self, name: str) -> Ref:
        return OfPerson(name, None) if name in self.declared.people else OfThing(name)

    def _part_of(self, owner: Words, part: Words, speech: Speech) -> Ref | None:
        text = part.plain
        slot = speech.slots.get(owner.plain)
        if slot is not None:
            if is_person(slot):
                kinds = person_kinds(slot)
                body_part = self.declared.body_part(text, kinds)
                return OfSlot(slot.name, body_part.name) if body_part is not None else None
            if words_of(text) == ("box",):
                return WhereFrom(OfSlot(slot.name))
            return OfSlot(slot.name, text)
        named = self.declared.named.find(name_text(owner))
        if named is not None and named.name in self.declared.people:
            kind = self.declared.people[named.name].kind
            body_part = self.declared.body_part(text, [kind])
            if body_part is None:
                return None
            if speech.in_verb and kind is PersonKind.PATIENT:
                return OfPatient(body_part.name)
            return OfPerson(named.name, body_part.name)
        if named is not None and named.name in self.declared.things:
            for thing_part in self.declared.things[named.name].parts:
                if words_of(thing_part.name) == words_of(text):
                    return OfThing(named.name, thing_part.name)
            if words_of(text) == ("box",):
                return WhereFrom(OfThing(named.name))
            return None
        if named is None and key_of(owner.plain) == ("patient",):
            body_part = self.declared.body_part(text, [PersonKind.PATIENT])
            return OfPatient(body_part.name) if body_part is not None else None
        return None

    def _tell_ref(self, words: Words, speech: Speech) -> tuple[Ref, ...]:
        """Says what is wrong: the owner, the part, or the whole."""
        told, declared = self.told, self.declared
        if key_of(words.plain) == ("what", "came", "off"):
            told.tell("came-off-outside", words.place)
            return ()
        if told.is_spoiled(name_text(words)):
            told.complete = False
            return ()
        for owner, part in _owned(words):
            if told.is_spoiled(name_text(owner)):
                told.complete = False
                return ()
            parts = self._parts_known(owner, speech)
            if parts is not None:
                told.unknown("unknown-part", part, parts, owner=name_text(owner))
                return ()
            if is_capitals(owner.plain) and speech.in_verb:
                told.tell("unknown-slot", owner.place, name=owner.plain, slots=shown(speech.slots))
                return ()
            told.unknown(
                "unknown-name", owner, declared.named.each_name(), wanted="person or thing"
            )
            return ()
        if is_capitals(words.plain) and speech.in_verb:
            told.tell("unknown-slot", words.place, name=words.plain, slots=shown(speech.slots))
            return ()
        owned = self._unmarked(words, speech) or self._unowned(words, speech)
        more = {} if owned is None else {"nearest": owned}
        told.unknown(
            "unknown-name", words, declared.named.each_name(), wanted="person or thing", **more
        )
        return ()

    def _unmarked(self, words: Words, speech: Speech) -> str | None:
        """ "PATIENT mouth" as "PATIENT's mouth": the one way to put the mark that was left out."""
        found = []
        for match in re.finditer(r"\s+", words.text):
            owner = words.part(0, match.start())
            part = words.part(match.end(), len(words.text))
            if self._part_of(owner, part, speech) is not None:
                found.append(f"{owner.plain}'s {part.plain}")
        return found[0] if len(found) == 1 else None

    def _unowned(self, words: Words, speech: Speech) -> str | None:
        """ "mouth" as "the patient's mouth": whose it is was left out, and one alone is likely.

        A slot that anybody may fill is not likely for what only patients have.
        """
        staff_too = self.declared.body_part(words.plain, [PersonKind.STAFF]) is not None
        slots = [
            slot.name
            for slot in speech.slots.values()
            if (slot.kind != "person" or staff_too)
            and self.declared.body_part(words.plain, person_kinds(slot)) is not None
        ]
        if slots:
            return f"{slots[0]}'s {words.plain}" if len(slots) == 1 else None
        of_patient = self.declared.body_part(words.plain, [PersonKind.PATIENT]) is not None
        return f"the patient's {words.plain}" if of_patient and not staff_too else None

    def _parts_known(self, owner: Words, speech: Speech) -> list[str] | None:
        """The parts that the owner has; None if nobody of that name is known."""
        slot = speech.slots.get(owner.plain)
        if slot is not None:
            return self.declared.body_part_names(person_kinds(slot))
        named = self.declared.named.find(name_text(owner))
        if named is not None and named.name in self.declared.people:
            return self.declared.body_part_names([self.declared.people[named.name].kind])
        if named is not None and named.name in self.declared.things:
            return [part.name for part in self.declared.things[named.name].parts]
        if key_of(owner.plain) == ("patient",):
            return self.declared.body_part_names([PersonKind.PATIENT])
        return None

    def covers(self, words: Words, speech: Speech) -> tuple[str, ...] | None:
        """The covers that the words may mean: a slot, a thing, or every thing of a kind.

        In a verb a kind goes before a thing of that name: a vocabulary knows no room. None after
        telling that nothing is called so.
        """
        text = name_text(words)
        if text in speech.slots:
            return (text,)
        kind = self.declared.kinds.find(text)
        named = self.declared.named.find(text)
        is_thing = named is not None and named.is_thing
        if kind is not None and (speech.in_verb or not is_thing):
            return self.declared.things_of(kind)
        if named is not None and is_thing:
            return (named.name,)
        if named is not None:
            what = "group" if named.kind == "group" else "person"
            self.told.tell("wrong-kind", words.place, name=named.name, actual=what, wanted="cover")
        elif speech.in_verb and is_capitals(text):
            self.told.tell("unknown-slot", words.place, name=text, slots=shown(speech.slots))
        else:
            known = [n.name for n in self.declared.named.values() if n.is_thing]
            self.told.unknown("unknown-name", words, known, wanted="cover")
        return None

    # --- Facts -----------------------------------------------------------------------------------

    def sets(self, line: tree.Sets, speech: Speech) -> tuple[SetsFact, ...]:
        """sets FACT, ends ACTOR FACT: one record for each that a group names."""
        found = self.fact(None, line.fact, speech)
        for fact, _ in found:
            if fact.where is not None:
                self.told.tell("place-set", line.fact.place, where=fact.where)
                return ()
        return tuple(
            SetsFact(fact.name, subject, line.value, line.place) for fact, subject in found
        )

    def fact(
        self, what: Words | None, words: Words, speech: Speech
    ) -> tuple[tuple[Fact, Ref | None], ...]:
        """A fact and whose it is; ``words`` may begin with whose. Empty after telling why not."""
        if what is not None:
            return self._fact_of(what, words, speech)
        whole = self.declared.facts.find(name_text(words))
        readings: list[tuple[tuple[Fact, Ref | None], ...]] = []
        if whole is not None and whole.of is FactOf.VISIT:
            readings.append(((whole, None),))
        for match in re.finditer(r"\s+", words.text):
            owner = words.part(0, match.start())
            rest = words.part(match.end(), len(words.text))
            fact = self.declared.facts.find(rest.plain)
            if fact is None or fact.of is FactOf.VISIT:
                continue
            if fact.of is FactOf.PLACE:
                refs = self._places(owner, speech)
            else:
                refs = self._quiet(owner, speech)
            if refs is None and self.told.is_spoiled(name_text(owner)):
                self.told.complete = False
                return ()
            if refs is not None:
                readings.append(self._owned_fact(fact, refs, owner, speech))
        if len(readings) > 1:
            self.told.tell("two-facts", words.place, text=words.plain)
            return ()
        if readings:
            return readings[0]
        if whole is not None:
            self.told.tell("fact-whose", words.place, name=whole.name, of=whole.of.value)
        else:
            self.told.unknown("unknown-fact", words, self.declared.facts.names())
        return ()

    def _fact_of(
        self, what: Words, words: Words, speech: Speech
    ) -> tuple[tuple[Fact, Ref | None], ...]:
        whole = self.declared.facts.find(f"{what.plain} {words.plain}")
        if whole is not None and whole.of is FactOf.VISIT:
            return ((whole, None),)
        fact = self.declared.facts.find(name_text(words))
        if fact is None:
            self.told.unknown("unknown-fact", words, self.declared.facts.names())
            return ()
        if fact.of is FactOf.VISIT:
            self.told.tell("fact-whose", words.place, name=fact.name, of="visit")
            return ()
        if fact.of is FactOf.PLACE and (
            self._places(what, speech) is not None or self._quiet(what, speech) is None
        ):
            return tuple((fact, where) for where in self._places_told(what, speech))
        return self._owned_fact(fact, self.refs(what, speech), what, speech)

    def _places(self, words: Words, speech: Speech) -> tuple[Ref, ...] | None:
        """The place that the words name, by slot or by name; None if they name none."""
        slot = speech.slots.get(words.plain)
        if slot is not None:
            return (OfSlot(slot.name),) if slot.kind == "place" else None
        where = self.declared.places.find(name_text(words))
        return None if where is None else (OfPlace(where.name),)

    def _owned_fact(
        self, fact: Fact, refs: tuple[Ref, ...], owner: Words, speech: Speech
    ) -> tuple[tuple[Fact, Ref | None], ...]:
        for ref in refs:
            whose = self._sort(ref, speech)
            if whose is not fact.of or getattr(ref, "part", None) is not None:
                said = name_text(owner)
                self.told.tell(
                    "fact-whose", owner.place, name=fact.name, of=fact.of.value, said=said
                )
                return ()
        return tuple((fact, ref) for ref in refs)

    def _sort(self, ref: Ref, speech: Speech) -> FactOf:
        """Whether somebody, something or a place is meant."""
        if is_of_person(ref, speech):
            return FactOf.PERSON
        slot = speech.slots.get(ref.slot) if isinstance(ref, OfSlot) else None
        if isinstance(ref, OfPlace) or (slot is not None and slot.kind == "place"):
            return FactOf.PLACE
        return FactOf.THING

    # --- Claims ----------------------------------------------------------------------------------

    def claim(self, node: tree.Claim, speech: Speech, *, plain: bool = True) -> Claim | None:
        """The claim; None after telling why it says nothing.

        ``plain``: not inside ``or`` or ``not``, where alone "is clean" may stand.
        """
        match node:
            case tree.Spoiled():
                self.told.complete = False
                return None
            case tree.JoinedClaims():
                parts = self._joined(node, speech, plain=plain and node.every)
                if parts is None:
                    return None
                return _all_of(parts) if node.every else AnySo(parts)
            case tree.FactIs(what=Words() as what, fact=fact) if (
                whole := self._so_called(what, fact, node)
            ) is not None:
                return self.claim(whole, speech, plain=plain)
            case tree.FactIs() if (where := self._place_slot(node, speech)) is not None:
                refs = self.refs(node.what, speech) if node.what is not None else ()
                return _every([IsIn(ref, where, node.place) for ref in refs], node)
            case tree.FactIs():
                facts = self.fact(node.what, node.fact, speech)
                return self._facts(node, facts, speech)
            case tree.Wears():
                return self._wears(node, speech)
            case _:
                refs = self.refs(node.what, speech)
                return self._about(node, refs, speech, plain=plain) if refs else None

    def _so_called(
        self, what: Words, so: Words, node: tree.FactIs | tree.ChoiceIs
    ) -> tree.FactIs | None:
        """ "door is shut" where that is one name: of a fact, a mishap or what is found out."""
        name = f"{what.plain} {'are' if node.plural else 'is'} {so.plain}"
        declared = self.declared
        choice = declared.choices.find(name)
        found_out = choice is not None and choice.values == FOUND
        if not (found_out or declared.facts.find(name) or declared.mishaps.find(name)):
            return None
        return tree.FactIs(
            what=None,
            fact=Words(name, node.place),
            since=getattr(node, "since", None),
            negated=node.negated,
            place=node.place,
        )

    def _place_slot(self, node: tree.FactIs, speech: Speech) -> str | None:
        """The slot of a place in "ACTOR is in PLACE"."""
        word, _, slot = node.fact.plain.partition(" ")
        if word != "in" or node.what is None or node.since is not None:
            return None
        known = speech.slots.get(slot)
        return slot if known is not None and known.kind == "place" else None

    def _facts(
        self,
        node: tree.FactIs,
        facts: Sequence[tuple[Fact, Ref | None]],
        speech: Speech,
    ) -> Claim | None:
        """That these facts hold, or what became of them since another was made so."""
        if node.since is None:
            return _every([FactHolds(f.name, who, node.place) for f, who in facts], node)
        found: list[Claim] = []
        for fact, who in facts:
            first = self._since(node.since, fact, who, speech)
            if first is None:
                return None
            since, whose = first
            found.append(FactSince(fact.name, who, since.name, whose, node.negated, node.place))
        return _all_of(found) if found else None

    def _since(
        self, words: Words, later: Fact, whose: Ref | None, speech: Speech
    ) -> tuple[Fact, Ref | None] | None:
        """The fact after "since": of whom the claim speaks, unless it says whose it is."""
        known = self.declared.facts.find(name_text(words))
        if known is not None and known.of is later.of:
            return known, whose
        found = self.fact(None, words, speech)
        if len(found) > 1:
            self.told.tell("one-only", words.place, name=name_text(words), wanted="fact")
            return None
        return found[0] if found else None

    def _joined(
        self, node: tree.JoinedClaims, speech: Speech, *, plain: bool
    ) -> tuple[Claim, ...] | None:
        """The parts; words that were cut inside a name, or a list of subjects, are put together."""
        claims: list[Claim] = []
        whole = True
        waiting: list[tree.FactIs] = []
        for part in node.parts:
            if node.every and self._may_begin_a_subject(part, speech):
                assert isinstance(part, tree.FactIs)
                waiting.append(part)
                continue
            if waiting:
                found = self._with_subjects(waiting, part, node.words, speech, plain=plain)
                waiting = []
            else:
                found = self.claim(part, speech, plain=plain)
            if found is None:
                whole = False
            else:
                claims.append(found)
        for left in waiting:
            self.told.unknown("unknown-fact", left.fact, self.declared.facts.names())
            whole = False
        return tuple(claims) if whole else None

    def _may_begin_a_subject(self, part: tree.Claim, speech: Speech) -> bool:
        """Words that are no fact but may be a thing, or the first words of the name of one."""
        if not isinstance(part, tree.FactIs) or part.what is not None or part.negated:
            return False
        if part.since is not None:
            return False
        if self.declared.facts.find(name_text(part.fact)) is not None:
            return False
        saved, self.told = self.told, Told(hazy=True)
        try:
            return not self.fact(None, part.fact, speech)
        finally:
            self.told = saved

    def _with_subjects(
        self,
        waiting: Sequence[tree.FactIs],
        last: tree.Claim,
        words: Words | None,
        speech: Speech,
        *,
        plain: bool,
    ) -> Claim | None:
        """ "tube head and cone are dry": the claim of the last part, on all of them."""
        subject = _subject(last)
        if subject is None or words is None:
            for part in waiting:
                self.told.unknown("unknown-fact", part.fact, self.declared.facts.names())
            return None
        start = waiting[0].fact.place.column - words.place.column
        end = subject.place.column - words.place.column + len(subject.text)
        together = words.part(start, end)
        named = None
        if isinstance(last, tree.FactIs):
            named = self.declared.facts.find(name_text(last.fact))
        of_places = named is not None and named.of is FactOf.PLACE
        if not of_places and self._quiet(together, speech) is not None:
            refs = self.refs(together, speech)
        else:
            refs = ()
            for piece in [part.fact for part in waiting] + [subject]:
                found = self._list(piece, speech, of_places=of_places)
                if not found:
                    return None
                refs += found
        if isinstance(last, tree.Wears):
            parts = [self._wears_of(last, (ref,), speech) for ref in refs]
        elif isinstance(last, tree.FactIs):
            fact = self.declared.facts.look(last.fact, self.told, "unknown-fact")
            if fact is None:
                return None
            facts = self._owned_fact(fact, refs, together, speech)
            parts = [self._facts(last, facts, speech)]
        elif isinstance(last, tree.Covered | tree.Bare | tree.Dry | tree.Clean):
            parts = [self._about(last, refs, speech, plain=plain)]
        else:  # pragma: no cover - a joined or spoiled claim has no subject
            return None
        good = [part for part in parts if part is not None]
        if len(good) != len(parts) or not good:
            return None
        return _all_of(good)

    def _list(self, words: Words, speech: Speech, *, of_places: bool = False) -> tuple[Ref, ...]:
        """Names with commas between them."""
        refs: tuple[Ref, ...] = ()
        for match in re.finditer(r'(?:"[^"]*"|[^",،、，])+', words.text):
            text = match[0]
            lead = len(text) - len(text.lstrip())
            piece = words.part(match.start() + lead, match.start() + len(text.rstrip()))
            if not piece.text:
                continue
            found = self._places_told(piece, speech) if of_places else self.refs(piece, speech)
            if not found:
                return ()
            refs += found
        return refs

    def _places_told(self, words: Words, speech: Speech) -> tuple[Ref, ...]:
        """The place that the words name; empty after telling that they name none."""
        places = self._places(words, speech)
        if places is None:
            self.told.unknown("unknown-place", words, self.declared.places.names())
        return places or ()

    def _about(
        self,
        node: tree.Covered | tree.Bare | tree.Dry | tree.Clean,
        refs: tuple[Ref, ...],
        speech: Speech,
        *,
        plain: bool,
    ) -> Claim | None:
        place = node.place
        match node:
            case tree.Bare():
                claims: list[Claim] = [IsCovered(ref, None, place) for ref in refs]
                return _every(claims, replace(node, negated=not node.negated))
            case tree.Dry():
                return _every([IsDry(ref, place) for ref in refs], node)
            case tree.Clean():
                if node.negated or not plain:
                    self.told.tell("clean-not-plain", place, what=node.what.plain)
                    return None
                all_soil = not node.of_others
                return _every([IsCleanOf(ref, all_soil, all_soil, place) for ref in refs], node)
            case tree.Covered():
                if node.cover is None:
                    return _every([IsCovered(ref, None, place) for ref in refs], node)
                covers = self.covers(node.cover, speech)
                if covers is None:
                    return None
                return _every(
                    [_any([IsCovered(ref, c, place) for c in covers]) for ref in refs], node
                )

    def _wears(self, node: tree.Wears, speech: Speech) -> Claim | None:
        refs = self.refs(node.who, speech)
        return self._wears_of(node, refs, speech) if refs else None

    def _wears_of(self, node: tree.Wears, refs: tuple[Ref, ...], speech: Speech) -> Claim | None:
        covers = self.covers(node.cover, speech)
        if covers is None:
            return None
        if not self._are_people(node, refs, speech):
            return None
        per_cover = [self.worn(node, refs, cover, speech) for cover in covers]
        if any(len(worn) < len(refs) for worn in per_cover):
            return None
        wholes: list[Claim] = []
        for at in range(len(refs)):
            choices = [
                IsCovered(worn[at], cover, node.place)
                for worn, cover in zip(per_cover, covers, strict=True)
            ]
            wholes.append(_any(choices))
        return _every(wholes, node)

    def worn(
        self, node: tree.Wears, refs: tuple[Ref, ...], cover: str, speech: Speech
    ) -> tuple[Ref, ...]:
        """The parts of these people on which the cover is worn; empty after telling why not."""
        if not self._are_people(node, refs, speech):
            return ()
        found = [self._worn(ref, cover, node, speech) for ref in refs]
        return tuple(ref for ref in found if ref is not None)

    def _are_people(self, node: tree.Wears, refs: tuple[Ref, ...], speech: Speech) -> bool:
        for ref in refs:
            if not is_of_person(ref, speech) or getattr(ref, "part", None) is not None:
                self.told.tell("wearer-no-person", node.who.place, name=name_text(node.who))
                return False
        return True

    def _worn(self, ref: Ref, cover: str, node: tree.Wears, speech: Speech) -> Ref | None:
        """The part that the cover is worn on; the person as such if a slot holds the cover."""
        if cover in speech.slots:
            return ref
        part = self.declared.things[cover].worn_on
        if part is None:
            self.told.complete = False
            if cover not in self.told.dented:
                self.told.tell("not-worn", node.cover.place, cover=cover)
            return None
        if isinstance(ref, OfPerson):
            return OfPerson(ref.person, part)
        return OfSlot(ref.slot, part) if isinstance(ref, OfSlot) else ref

    # --- Conditions on choices -------------------------------------------------------------------

    def condition(self, node: tree.Condition, *, choices_only: bool = False) -> Condition | None:
        """The condition; None after telling why it says nothing.

        ``choices_only``: it stands where there is no moment at which something could be so.
        """
        match node:
            case tree.Spoiled():
                self.told.complete = False
                return None
            case tree.Joined():
                parts = [self.condition(part, choices_only=choices_only) for part in node.parts]
                good = tuple(part for part in parts if part is not None)
                if len(good) < len(parts):
                    return None
                return EveryWhere(good) if node.every else AnyWhere(good)
            case tree.FactIs(what=None, fact=words):
                found = self.declared.choices.find(name_text(words))
                if found is not None and found.values == FOUND:
                    so: Condition = ChoiceIs(found.name, FOUND[0], node.place)
                    return NotWhere(so) if node.negated else so
                mishap = self.declared.mishaps.find(name_text(words))
                if mishap is not None:
                    so = ChoiceIs(WHAT_HAPPENS, mishap, node.place)
                    return NotWhere(so) if node.negated else so
                return self._state(node, choices_only)
            case tree.Covered() | tree.Bare() | tree.Dry():
                called = self._value_so_called(node)
                if called is None:
                    return self._state(node, choices_only)
                return NotWhere(called) if node.negated else called
            case tree.FactIs() | tree.Wears():
                return self._state(node, choices_only)
            case tree.ChoiceIs(choice=what, value=value) if (
                whole := self._so_called(what, value, node)
            ) is not None:
                return self.condition(whole, choices_only=choices_only)
            case tree.ChoiceIs():
                if self.declared.choices.find(name_text(node.choice)) is None:
                    asked = tree.FactIs(
                        what=node.choice,
                        fact=node.value,
                        negated=node.negated,
                        plural=node.plural,
                        place=node.place,
                    )
                    if self._quiet(node.choice, PROTOCOL) is not None:
                        return self._state(asked, choices_only)
                known = ", ".join(self.declared.choices.names()) or None
                choice = self.declared.choices.look(
                    node.choice, self.told, "unknown-choice", choices=known
                )
                if choice is None:
                    return None
                wanted = key_of(name_text(node.value))
                for known_value in choice.values:
                    if key_of(known_value) == wanted:
                        here: Condition = ChoiceIs(choice.name, known_value, node.place)
                        return NotWhere(here) if node.negated else here
                self.told.unknown(
                    "unknown-value",
                    node.value,
                    choice.values,
                    choice=choice.name,
                    values=", ".join(choice.values),
                )
                return None

    def _state(
        self,
        node: tree.Covered | tree.Bare | tree.Dry | tree.Wears | tree.FactIs,
        choices_only: bool,
    ) -> Condition | None:
        """A condition on the state at that moment."""
        if choices_only:
            self.told.tell("choices-only", node.place)
            return None
        if isinstance(node, tree.FactIs) and node.what is None:
            fact = self.declared.facts.find(name_text(node.fact))
            if fact is None and not self._names_a_fact(node.fact):
                known = [*self.declared.choices.names(), *self.declared.mishaps.names()]
                self.told.unknown(
                    "unknown-condition", node.fact, [*known, *self.declared.facts.names()]
                )
                return None
        claim = self.claim(node, PROTOCOL)
        return None if claim is None else StateIs(claim, node.place)

    def _names_a_fact(self, words: Words) -> bool:
        """Whether the words end in the name of a fact: "operator behind the barrier"."""
        return any(
            self.declared.facts.find(words.text[match.end() :]) is not None
            for match in re.finditer(r"\s+", words.text)
        )

    def _value_so_called(self, node: tree.Covered | tree.Bare | tree.Dry) -> ChoiceIs | None:
        """A choice whose value is called "bare", "dry" or "covered"."""
        choice = self.declared.choices.find(name_text(node.what))
        if choice is None or (isinstance(node, tree.Covered) and node.cover is not None):
            return None
        word = type(node).__name__.lower()
        value = next((value for value in choice.values if key_of(value) == (word,)), None)
        return None if value is None else ChoiceIs(choice.name, value, node.place)


def _subject(node: tree.Claim) -> Words | None:
    match node:
        case tree.Wears():
            return node.who
        case tree.Covered() | tree.Bare() | tree.Dry() | tree.Clean() | tree.FactIs():
            return node.what
        case _:
            return None


def _any(claims: Sequence[Claim]) -> Claim:
    return claims[0] if len(claims) == 1 else AnySo(tuple(claims))


def _all_of(claims: Sequence[Claim]) -> Claim:
    """All of the claims, without a claim of all inside another."""
    flat: list[Claim] = []
    for claim in claims:
        flat.extend(claim.parts if isinstance(claim, EverySo) else (claim,))
    return flat[0] if len(flat) == 1 else EverySo(tuple(flat))


def _every(claims: Sequence[Claim], node: tree.Claim) -> Claim | None:
    """One claim for all; with ``not``, each is denied. None if there is none."""
    if not claims:
        return None
    negated = getattr(node, "negated", False)
    turned = [NotSo(claim) if negated else claim for claim in claims]
    return _all_of(turned)


def _owned(words: Words) -> list[tuple[Words, Words]]:
    """The ways to cut "operator's hands" into whose and what, the last mark first."""
    cuts = []
    for match in _OWNED.finditer(words.text):
        after = match.end()
        while after < len(words.text) and words.text[after].isspace():
            after += 1
        if match.start() > 0 and after < len(words.text):
            cuts.append((words.part(0, match.start()), words.part(after, len(words.text))))
    return cuts[::-1]


def is_capitals(text: str) -> bool:
    """Whether the words are written as a slot is."""
    return len(text) > 1 and text.isupper()


def shown(slots: Mapping[str, Slot]) -> str:
    """The slots of a verb, for telling."""
    return ", ".join(slots)


def person_kinds(slot: Slot) -> tuple[PersonKind, ...]:
    """The kinds of people that may fill the slot; none for a slot of things."""
    if slot.kind == "person":
        return tuple(PersonKind)
    return tuple(kind for kind in PersonKind if kind.value == slot.kind)


def is_of_person(ref: Ref, speech: Speech) -> bool:
    """Whether the reference is to a person or a part of one."""
    if isinstance(ref, OfSlot):
        return ref.slot in speech.slots and is_person(speech.slots[ref.slot])
    return isinstance(ref, OfPerson | OfPatient)
