"""Verbs: forms and bodies, each looked up once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from protocol_lang.language import tree
from protocol_lang.language.claims import (
    Reader,
    Speech,
    is_capitals,
    is_of_person,
    person_kinds,
    shown,
)
from protocol_lang.language.declared import Declarations
from protocol_lang.language.frames import (
    BUILT_IN,
    RESERVED_KINDS,
    RESERVED_SLOTS,
    FrameFault,
    is_person,
    parse,
    shape,
    slots_of,
)
from protocol_lang.language.names import ASIDE, words_of
from protocol_lang.language.sections import lasting_of, notes_of, small_words, sources_of
from protocol_lang.language.spaces import Told, name_text
from protocol_lang.language.things import process_name
from protocol_lang.language.tree import Words
from protocol_lang.model.conditions import Claim
from protocol_lang.model.parts import FactOf
from protocol_lang.model.verbs import (
    CoversWith,
    Exposes,
    Frame,
    LaysOut,
    Line,
    Meets,
    Moves,
    OfSlot,
    OfThing,
    Passes,
    Reduces,
    Ref,
    Retires,
    Share,
    Slot,
    Takes,
    Tears,
    Uncovers,
    Verb,
    Washes,
    WhatCameOff,
)
from protocol_lang.text import Place

#: Lines in which something is handled. To wash, to reduce and to state facts is none of them.
_HANDLING = (Meets, Passes, Takes, LaysOut, CoversWith, Uncovers, Tears, Retires)
_HANDLED = (
    tree.Meet,
    tree.Pass,
    tree.Take,
    tree.LayOut,
    tree.Cover,
    tree.Uncover,
    tree.Tear,
    tree.Retire,
)
#: The first use of a form: the form, and the verb that has it.
FormsSeen = dict[tuple[str, ...], tuple[Frame, tree.Verb]]

#: Lines that do something without a contact.
_DOING = (tree.Wash, tree.Reduce, tree.Sets, tree.Moves, tree.Exposure)


def resolve_verbs(
    files: Sequence[tree.File],
    declared: Declarations,
    told: Told,
    seen: FormsSeen | None = None,
) -> tuple[Verb, ...]:
    """The verbs of all files, in import order; ``seen``: the forms of verbs before them."""
    read = verbs_in(files, declared, told, {} if seen is None else seen)
    return tuple(verb_of(node, frames, declared, told) for node, frames in read)


def verbs_in(
    files: Sequence[tree.File], declared: Declarations, told: Told, seen: FormsSeen
) -> Iterator[tuple[tree.Verb, tuple[Frame, ...]]]:
    """The verbs of all files that have a form that can be used, with their forms."""
    for file in files:
        for section in file.sections:
            if isinstance(section, tree.Verb):
                told.context = f"verb {section.form.plain}"
                frames = _frames(section, declared, told, seen)
                told.context = None
                if frames:
                    yield section, frames


def verb_of(node: tree.Verb, frames: tuple[Frame, ...], declared: Declarations, told: Told) -> Verb:
    """A verb of which the forms are known, with all that its lines do."""
    told.context = f"verb {node.form.plain}"
    verb = _verb(node, frames, declared, told)
    told.context = None
    return verb


def _verb(node: tree.Verb, frames: tuple[Frame, ...], declared: Declarations, told: Told) -> Verb:
    body = _Body(frames[0], declared, told)
    claims: list[Claim] = []
    lines: list[Line] = []
    allowed: list[str] = []
    silent: tree.NoContact | None = None
    for line in node.lines:
        match line:
            case tree.Also() | tree.Note() | tree.Source() | tree.Lasts():
                pass
            case tree.Spoiled():
                told.complete = False
            case tree.OnlyWhen():
                claim = body.reader.claim(line.claim, body.speech)
                if claim is not None:
                    claims.append(claim)
            case tree.AllowedWhile():
                fact = declared.facts.look(line.fact, told, "unknown-fact")
                if fact is not None and fact.of is not FactOf.PERSON:
                    told.tell(
                        "fact-whose",
                        line.fact.place,
                        name=fact.name,
                        of=fact.of.value,
                        said="person",
                    )
                elif fact is not None:
                    allowed.append(fact.name)
            case tree.NoContact():
                silent = line
            case _:
                lines.extend(body.line(line))
    if silent is not None:
        _check_silence(node, silent, lines, told)
    else:
        _check_handling(node, frames[0], told)
    return Verb(
        frames=frames,
        claims=tuple(claims),
        lines=tuple(lines),
        allowed=tuple(allowed),
        no_contact=silent is not None,
        notes=notes_of(node.lines),
        sources=sources_of(node.lines),
        place=node.place,
        takes=lasting_of(node.lines, told),
    )


def _check_silence(
    node: tree.Verb, silent: tree.NoContact, lines: Sequence[Line], told: Told
) -> None:
    loud = next((line for line in lines if isinstance(line, _HANDLING)), None)
    if loud is not None:
        told.tell(
            "contact-and-none",
            silent.place,
            others=[("contact", loud.place)],
            form=node.form.plain,
        )


def _check_handling(node: tree.Verb, frame: Frame, told: Told) -> None:
    """Somebody and something or somebody else, and nothing is touched; or nothing done at all.

    An oversight more often than not, and one that hides soil that travels.
    """
    if any(isinstance(line, (*_HANDLED, tree.Spoiled)) for line in node.lines):
        return
    who = next(s for s in slots_of(frame) if is_person(s))
    others = [s for s in slots_of(frame) if s is not who and s.kind not in ASIDE]
    if others or not any(isinstance(line, _DOING) for line in node.lines):
        what = others[0].name if others else None
        told.tell("no-contact-told", node.form.place, form=node.form.plain, who=who.name, what=what)


# --- Forms ---------------------------------------------------------------------------------------


def _frames(
    node: tree.Verb, declared: Declarations, told: Told, seen: FormsSeen
) -> tuple[Frame, ...]:
    """The forms that can be used; the first is the one shown. Empty if that one is at fault."""
    frames: list[Frame] = []
    forms = [node.form, *(line.form for line in node.lines if isinstance(line, tree.Also))]
    for form in forms:
        frame = parse(form, declared.kinds.names())
        if isinstance(frame, FrameFault):
            if not _follows(frame, told):
                meant = _in_capitals(form, declared) if frame.kind == "form-no-person" else None
                told.add(frame.kind, frame.place, {**frame.facts, "meant": meant})
            told.complete = False
            # In small letters a slot looks like a word of the verb.
            slots = {word for kind in declared.kinds.names() for word in words_of(kind)}
            told.forms.append(small_words(form.text) - slots - RESERVED_KINDS)
            continue
        if shape(frame) in BUILT_IN:
            told.tell("form-built-in", form.place, form=form.plain)
            continue
        known, other = seen.setdefault(shape(frame), (frame, node))
        if known is not frame:
            if form is node.form and _says_the_same(node, frame, other, known):
                return ()
            told.tell("form-twice", form.place, others=[("first", known.place)], form=form.plain)
            continue
        if frames:
            paired = _paired(frames[0], frame)
            if paired is None:
                told.tell(
                    "forms-differ",
                    form.place,
                    others=[("first", frames[0].place)],
                    form=form.plain,
                    first=frames[0].text,
                )
                told.forms.append(small_words(form.text))
                continue
            frame = paired
        elif form is not node.form:
            told.forms.append(small_words(form.text))
            continue  # without its first form the slots of the body mean nothing
        frames.append(frame)
    return tuple(frames)


def _says_the_same(node: tree.Verb, frame: Frame, other: tree.Verb, known: Frame) -> bool:
    """Whether a verb of an imported file reads and does all that this one does.

    Then this one may as well be left out: it has no form and no line of its own, and where a slot
    of the other takes a list, one name is a list of one.
    """
    if other.place.file == node.place.file:
        return False
    pairs = zip(slots_of(frame), slots_of(known), strict=True)
    wider = all(a.name == b.name and (a.share is b.share or a.share is Share.ONE) for a, b in pairs)
    return wider and _done_by(node) == _done_by(other)


def _done_by(node: tree.Verb) -> list[tree.VerbLine]:
    """The lines of a verb without comments, notes and sources."""
    remarks = tree.Note | tree.Source
    return [
        replace(line, remarks=tree.NO_REMARKS)
        for line in node.lines
        if not isinstance(line, remarks)
    ]


def _in_capitals(form: Words, declared: Declarations) -> str | None:
    """The form with the words in capitals that may be slots, if that makes it a good one."""
    slots = {*declared.kinds.names(), *RESERVED_SLOTS}
    written = [word.upper() if word in slots else word for word in form.plain.split()]
    meant = Words(" ".join(written), form.place)
    return meant.text if isinstance(parse(meant, declared.kinds.names()), Frame) else None


def _follows(fault: FrameFault, told: Told) -> bool:
    """Whether the fault follows from one already told: a kind that failed to be declared."""
    return fault.kind == "form-unknown-kind" and (
        told.hazy or told.is_spoiled(fault.facts["slot"].removeprefix("OTHER "))
    )


def _paired(main: Frame, other: Frame) -> Frame | None:
    """The other form with its slots called as in the first one.

    Slots of one name belong together; of those left over, in the order written, a person with a
    person, a stream with a stream, a thing with a thing. None if that does not come out even.
    """
    mains, others = slots_of(main), slots_of(other)
    names = {slot.name for slot in mains} & {slot.name for slot in others}
    left = [slot for slot in mains if slot.name not in names]
    extra = [slot for slot in others if slot.name not in names]
    if len(left) != len(extra):
        return None
    called = {name: name for name in names}
    for ours, theirs in zip(left, extra, strict=True):
        if _sort(ours) != _sort(theirs):
            return None
        called[theirs.name] = ours.name
    parts = tuple(
        replace(part, name=called[part.name]) if isinstance(part, Slot) else part
        for part in other.parts
    )
    return Frame(parts, other.text, other.place)


def _sort(slot: Slot) -> str:
    return "person" if is_person(slot) else slot.kind if slot.kind in ASIDE else "thing"


def soiling(nodes: Iterable[tree.VerbLine], declared: Declarations, told: Told) -> tuple[Line, ...]:
    """What lines that stand outside of a verb do: things by their names, no slots."""
    body = _Body(Frame((), "", Place("", 1, 1, 2)), declared, told)
    return tuple(
        done for node in nodes if not isinstance(node, tree.Spoiled) for done in body.line(node)
    )


# --- Bodies --------------------------------------------------------------------------------------


class _Body:
    """Reads the lines of one verb."""

    def __init__(self, frame: Frame, declared: Declarations, told: Told) -> None:
        self.declared = declared
        self.told = told
        self.reader = Reader(declared, told)
        self.slots: Mapping[str, Slot] = {slot.name: slot for slot in slots_of(frame)}
        self.speech = Speech(in_verb=True, slots=self.slots)
        self.uncovered = False

    def line(self, line: tree.VerbLine) -> tuple[Line, ...]:
        """What the line does; empty after telling why it cannot be read."""
        place = line.place
        match line:
            case tree.Meet():
                refs = self._refs(line.what)
                if refs is not None and len(refs) < 2 and not self._holds_list(refs):
                    self.told.tell("meets-alone", place, text=line.what[0].plain)
                    return ()
                return (Meets(refs, line.trace, place),) if refs else ()
            case tree.Pass():
                sources, goals = self._refs(line.sources), self._refs(line.goals)
                return (Passes(sources, goals, line.trace, place),) if sources and goals else ()
            case tree.Take():
                what, hands = self._thing(line.what), self._hands(line.hands)
                return (Takes(what, hands, place),) if what and hands else ()
            case tree.LayOut():
                what, hands = self._thing(line.what), self._hands(line.hands)
                return (LaysOut(what, hands, place),) if what and hands else ()
            case tree.Cover():
                ref, cover = self._one(line.what), self._cover(line.cover)
                return (CoversWith(ref, cover, place),) if ref and cover else ()
            case tree.Uncover():
                ref, cover = self._one(line.what), self._cover(line.cover)
                self.uncovered = True
                return (Uncovers(ref, cover, place),) if ref and cover else ()
            case tree.Tear():
                cover, ref = self._cover(line.cover), self._one(line.what)
                return (Tears(cover, ref, place),) if ref and cover else ()
            case tree.Wash():
                refs = self._refs(line.what)
                return (Washes(refs, place),) if refs else ()
            case tree.Reduce():
                return self._reduce(line)
            case tree.Retire():
                return self._retire(line)
            case tree.Sets():
                return self.reader.sets(line, self.speech)
            case tree.Moves():
                return self._moves(line)
            case tree.Exposure():
                by = self._person(line.who)
                return (Exposes(by, place),) if by else ()
            case _:  # pragma: no cover - the other lines are read by the caller
                return ()

    def _holds_list(self, refs: tuple[Ref, ...]) -> bool:
        """One slot may stand for several things that meet."""
        ref = refs[0]
        return (
            isinstance(ref, OfSlot)
            and ref.slot in self.slots
            and self.slots[ref.slot].share.value == "all"
        )

    def _one(self, words: Words) -> Ref | None:
        ref = self.reader.ref(words, self.speech)
        if ref is None:
            return None
        if isinstance(ref, WhatCameOff) and not self.uncovered:
            self.told.tell("nothing-came-off", words.place)
            return None
        if isinstance(ref, OfSlot) and ref.part is None and ref.slot in self.slots:
            slot = self.slots[ref.slot]
            if is_person(slot):
                self._whole_person(words, slot)
                return None
            if slot.kind in ASIDE:
                self.told.tell(
                    "wrong-kind",
                    words.place,
                    name=slot.name,
                    actual="waste stream" if slot.kind == "stream" else slot.kind,
                    wanted="thing or part",
                )
                return None
        if getattr(ref, "person", None) is not None and getattr(ref, "part", None) is None:
            self.told.tell("person-as-thing", words.place, name=words.plain)
            return None
        return ref

    def _whole_person(self, words: Words, slot: Slot) -> None:
        parts = self.declared.body_part_names(person_kinds(slot))
        example = parts[0] if parts else None
        self.told.tell("person-as-thing", words.place, name=slot.name, part=example)

    def _refs(self, many: Iterable[Words]) -> tuple[Ref, ...] | None:
        refs: list[Ref] = []
        whole = True
        for words in many:
            if self.declared.groups and self._is_group(words):
                refs.extend(self.reader.refs(words, self.speech))
                continue
            ref = self._one(words)
            whole = whole and ref is not None
            if ref is not None:
                refs.append(ref)
        return tuple(refs) if whole else None

    def _is_group(self, words: Words) -> bool:
        named = self.declared.named.find(name_text(words))
        return named is not None and named.kind == "group" and words.plain not in self.slots

    def _thing(self, words: Words) -> OfSlot | OfThing | None:
        """A thing or a part of one, by slot or by name."""
        ref = self._one(words)
        if ref is None:
            return None
        if isinstance(ref, OfThing) or (
            isinstance(ref, OfSlot) and not is_person(self.slots[ref.slot])
        ):
            return ref
        self.told.tell("wrong-kind", words.place, name=words.plain, actual="part", wanted="thing")
        return None

    def _hands(self, words: Words) -> Ref | None:
        """With what something is taken: a part of a person, or a thing held in the hand."""
        return self._one(words)

    def _cover(self, words: Words) -> OfSlot | OfThing | None:
        text = words.plain
        owner = text.removesuffix("'s cover")
        if owner in self.slots or is_capitals(owner):
            return self._thing(words)
        covers = self.reader.covers(words, self.speech)
        if covers is None:
            return None
        if len(covers) != 1:
            self.told.tell("one-cover", words.place, name=text, things=", ".join(covers) or None)
            return None
        return OfThing(covers[0])

    def _reduce(self, line: tree.Reduce) -> tuple[Line, ...]:
        refs = self._refs(line.what)
        level = product = None
        if line.level is not None:
            found = self.declared.levels.look(line.level, self.told, "unknown-level")
            level = found.name if found is not None else None
        if line.product is not None:
            thing = self._thing(line.product)
            if isinstance(thing, OfSlot):
                product = thing.slot
            elif thing is not None:
                product = thing.thing
        if not refs or (level is None and product is None):
            return ()
        through = process_name(line.through) if line.through is not None else None
        return (Reduces(refs, level, product, through, line.place),)

    def _person(self, words: Words) -> Ref | None:
        """A person as a whole, by slot or by name; None after telling why not."""
        ref = self.reader.ref(words, self.speech)
        if ref is None:
            return None
        if getattr(ref, "part", None) is not None or not is_of_person(ref, self.speech):
            self.told.tell(
                "wrong-kind", words.place, name=words.plain, actual="thing", wanted="person"
            )
            return None
        return ref

    def _moves(self, line: tree.Moves) -> tuple[Line, ...]:
        who = self._person(line.who)
        if line.to is None:
            return (Moves(who, None, line.place),) if who else ()
        text = line.to.plain
        to: OfSlot | str
        if text in self.slots:
            if self.slots[text].kind != "place":
                self.told.tell(
                    "wrong-kind", line.to.place, name=text, actual="slot", wanted="place"
                )
                return ()
            to = OfSlot(text)
        elif is_capitals(text):
            self.told.tell("unknown-slot", line.to.place, name=text, slots=shown(self.slots))
            return ()
        else:
            found = self.declared.places.look(line.to, self.told, "unknown-place")
            if found is None:
                return ()
            to = found.name
        return (Moves(who, to, line.place),) if who else ()

    def _retire(self, line: tree.Retire) -> tuple[Line, ...]:
        what = self._one(line.what)
        stream: OfSlot | str | None = None
        if line.stream is not None:
            text = line.stream.plain
            if text in self.slots and self.slots[text].kind == "stream":
                stream = OfSlot(text)
            elif text in self.slots:
                self.told.tell(
                    "wrong-kind",
                    line.stream.place,
                    name=text,
                    actual="thing" if not is_person(self.slots[text]) else "person",
                    wanted="waste stream",
                )
                return ()
            elif is_capitals(text):
                self.told.tell(
                    "unknown-slot", line.stream.place, name=text, slots=shown(self.slots)
                )
                return ()
            else:
                found = self.declared.streams.look(line.stream, self.told, "unknown-stream")
                if found is None:
                    return ()
                stream = found.name
        return (Retires(what, stream, line.place),) if what is not None else ()
