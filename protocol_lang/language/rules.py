"""Files of rules: trees to a book in which every word has been looked up.

The sentences of rules are read as those of protocols are, with two additions. A kind ("staff",
"receptor") is a name that stands for anybody or anything of the kind; and what happens to things
can be told in a few sentences that every rule knows, whatever the verbs are called.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import fields
from fractions import Fraction

from protocol_lang.language import tree
from protocol_lang.language.claims import PROTOCOL, Reader
from protocol_lang.language.declared import Declarations
from protocol_lang.language.names import Name, words_of
from protocol_lang.language.neaten import printed
from protocol_lang.language.resolve import Resolved, header_of, in_order
from protocol_lang.language.sections import gather
from protocol_lang.language.sentences import Form, Reading, Sentences
from protocol_lang.language.spaces import Told, name_text
from protocol_lang.language.steps import Checklist, sentences_of
from protocol_lang.language.things import traits_of
from protocol_lang.language.tree import Words
from protocol_lang.language.verbs import resolve_verbs
from protocol_lang.model.parts import Person, PersonKind, RoomPlace, Stream, Thing
from protocol_lang.model.protocol import Source
from protocol_lang.model.rules import (
    About,
    After,
    Always,
    Asked,
    Before,
    Declared,
    Duty,
    Event,
    EveryDays,
    Example,
    FigureIs,
    Happening,
    Happenings,
    HeaderSays,
    Marked,
    Never,
    NotBetween,
    NoTreatmentDependsOn,
    OneOf,
    OtherRule,
    Rule,
    RuleBook,
    Setting,
    Strength,
    Times,
    Until,
    Whenever,
)
from protocol_lang.model.steps import Doing
from protocol_lang.model.verbs import Frame, Slot, Verb
from protocol_lang.text import Place

_NOWHERE = Place("", 1, 1, 2)
_PERSON, _OTHER_PERSON = Slot("PERSON", "person"), Slot("OTHER PERSON", "person")
_THING, _OTHER_THING = Slot("THING", "thing"), Slot("OTHER THING", "thing")
_MINUTES = Slot("MINUTES", "minutes")

#: What may be told of a header.
HEADER_LINES = ("owner", "edition", "source", "in force from", "review by")

#: Words for anything at all, for any place and for any waste stream.
ANYTHING, ANY_PLACE, ANY_STREAM = "thing", "place", "waste stream"


def _event_forms(
    levels: Iterable[str],
) -> Iterable[tuple[Event, str | None, tuple[str | Slot, ...]]]:
    for one in (_PERSON, _THING):
        for other in (_OTHER_PERSON, _OTHER_THING):
            for word in ("touches", "touch"):
                yield Event.TOUCHES, None, (one, word, other)
    for verb in ("goes", "go"):
        yield Event.INTO_THE_MOUTH, None, (_THING, verb, "into", "mouth", "of", _PERSON)
        for onto in (_PERSON, _OTHER_THING):
            yield Event.GOES_ONTO, None, (_THING, verb, "onto", onto)
    for verb in ("comes", "come"):
        for off in (_PERSON, _OTHER_THING):
            yield Event.COMES_OFF, None, (_THING, verb, "off", off)
    yield Event.HANDS_CLEANED, None, ("hands", "of", _PERSON, "are", "cleaned")
    for verb in ("is", "are"):
        yield Event.CLEANED, None, (_THING, verb, "cleaned")
        yield Event.THROWN_AWAY, None, (_THING, verb, "thrown", "away")
        yield (
            Event.THROWN_AWAY, None, (_THING, verb, "thrown", "into", Slot("STREAM", "stream")),
        )  # fmt: skip
        for level in levels:
            least = (verb, "treated", "to", "at", "least", *words_of(level))
            yield Event.TREATED, level, (_THING, *least)
            yield Event.TREATED, level, ("hands", "of", _PERSON, *least)
    yield Event.EXPOSURE, None, (_PERSON, "makes", "exposure")
    yield Event.WAITS, None, (_PERSON, "waits")
    for minutes in ("minutes", "minute"):
        yield Event.WAITS, None, (_PERSON, "waits", "at", "least", _MINUTES, minutes)
    for verb in ("is", "are"):
        yield Event.WAITS_UNTIL_DRY, None, (_PERSON, "waits", "until", _THING, verb, "dry")


def _event_sentences(known: Sentences, levels: Iterable[str]) -> Sentences:
    """The sentences of verbs, and those that every rule knows."""
    forms = list(known.forms)
    for event, level, parts in _event_forms(levels):
        text = " ".join(part if isinstance(part, str) else part.name for part in parts)
        forms.append(Form((event, level), Frame(parts, text, _NOWHERE)))
    return Sentences(forms, known.names)


def resolve_rules(
    files: Sequence[tree.File], sources: Sequence[Source] = (), *, hazy: bool = False
) -> Resolved:
    """The book of the last file, with all that the files before it declare; see
    :func:`protocol_lang.language.resolve.resolve`."""
    told = Told(hazy=hazy)
    root = files[-1]
    declared = gather(files, told)
    verbs = resolve_verbs(files, declared, told)
    kinds = _kinds(declared, root.place)
    reader = _Rules(root, verbs, kinds, declared, told)
    settings = reader.settings()
    rules = tuple(
        rule
        for section in root.sections
        if isinstance(section, tree.Rule) and (rule := reader.rule(section)) is not None
    )
    ranked = sorted(declared.levels.values(), key=lambda level: level.rank)
    levels = tuple(level.name for level in ranked)
    book = RuleBook(header_of(root), settings, rules, kinds, tuple(sources), levels)
    findings, unchecked = in_order(told, files)
    return Resolved(None, findings, unchecked, told.complete, book)


def _kinds(declared: Declarations, place: Place) -> Mapping[str, str]:
    """Every kind, by the name that stands for it in sentences; those of no name are declared."""
    kinds: dict[str, str] = {}
    for kind in PersonKind:
        kinds[kind.value] = kind.value
        if declared.named.find(kind.value) is None:
            declared.named.add(kind.value, Name(kind.value, kind.value), place)
            declared.people[kind.value] = Person(kind.value, kind, place)
    for name in (*declared.kinds.names(), ANYTHING):
        kinds[name] = declared.kinds.find(name) or name
        if declared.named.find(name) is None:
            declared.named.add(name, Name(name, kinds[name], True), place)
            declared.things[name] = Thing(name, kinds[name], place)
    if declared.places.find(ANY_PLACE) is None:
        kinds[ANY_PLACE] = ANY_PLACE
        declared.places.add(ANY_PLACE, RoomPlace(ANY_PLACE, place), place)
    if declared.streams.find(ANY_STREAM) is None:
        kinds[ANY_STREAM] = ANY_STREAM
        declared.streams.add(ANY_STREAM, Stream(ANY_STREAM, None, place), place)
    return kinds


class _Rules:
    """Reads the rules of one file."""

    def __init__(
        self,
        root: tree.File,
        verbs: Sequence[Verb],
        kinds: Mapping[str, str],
        declared: Declarations,
        told: Told,
    ) -> None:
        self.root = root
        self.kinds = kinds
        self.declared = declared
        self.told = told
        self.reader = Reader(declared, told)
        sentences = _event_sentences(sentences_of(verbs, declared, told), declared.levels.names())
        self.checklist = Checklist(verbs, sentences, declared, told)
        self.known_settings: dict[str, Setting] = {}
        self.titles: dict[str, Place] = {}

    def settings(self) -> tuple[Setting, ...]:
        """What the file lets be chosen."""
        for section in self.root.sections:
            if isinstance(section, tree.Settings):
                for line in section.lines:
                    if isinstance(line, tree.ChoiceLine):
                        name = name_text(line.name)
                        values = tuple(name_text(words) for words in line.values)
                        self.known_settings[name] = Setting(name, values, line.place)
        return tuple(self.known_settings.values())

    def rule(self, node: tree.Rule) -> Rule | None:
        """One rule; None after telling what is wrong."""
        if node.title is None:
            self.told.complete = False
            return None
        title = node.title.plain
        self.told.context = f'rule "{title}"'
        first = self.titles.setdefault(title.casefold(), node.place)
        if first is not node.place:
            self.told.tell("rule-twice", node.place, others=[("first", first)], title=title)
        try:
            return self._rule(node, title)
        finally:
            self.told.context = None

    def _rule(self, node: tree.Rule, title: str) -> Rule | None:
        before = len(self.told.findings)
        lines = [line for line in node.lines if isinstance(line, tree.RuleLine)]
        if len(lines) < len(node.lines):
            self.told.complete = False
            return None

        def of(name: str) -> list[tree.RuleLine]:
            return [line for line in lines if line.rule == f"rule_{name}"]

        strengths = of("strength")
        if len(strengths) != 1:
            self.told.tell("rule-strength", node.place, title=title, count=str(len(strengths)))
        about = [self._about(line) for line in of("for")]
        but = [self._not_counting(words) for line in of("but") for words in line.names]
        where = [asked for line in of("where") for asked in self._where(line)]
        duty = self._duty([line for line in lines if line.rule in _OF_DUTIES], node.place)
        examples = tuple(
            self._example(line, title)
            for line in lines
            if line.rule in ("rule_good", "rule_faulty")
        )
        if len(self.told.findings) > before or duty is None:
            return None
        return Rule(
            title=title,
            strength=Strength((strengths[0].word or "must").lower()),
            sources=_texts(of("source")),
            because=next(iter(_texts(of("because"))), None),
            notes=_texts(of("note")),
            about=about[0] if about else None,
            where=tuple(where),
            phases=tuple(words.plain for line in of("in_phase") for words in line.quoted),
            but=tuple(name for name in but if name is not None),
            duty=duty,
            others=tuple(
                OtherRule(
                    line.word == "TIGHTENS", line.quoted[0].plain, line.quoted[1].plain, line.place
                )
                for line in of("other")
            ),
            examples=examples,
            place=node.place,
        )

    def _about(self, line: tree.RuleLine) -> About | None:
        name = line.names[0]
        kind = self.kinds.get(" ".join(words_of(name_text(name))))
        named = self.declared.named.find(name_text(name))
        if kind is None and (named is None or not named.is_thing):
            self.told.unknown("unknown-kind", name, self.kinds, wanted="kind of thing")
            return None
        traits = self._traits(line)
        return About(kind or name_text(name), traits, line.words.plain)

    def _not_counting(self, words: Words) -> str | None:
        """A name that does not count, as it is declared: of a kind, or of somebody or something;
        None after telling that nothing is called so."""
        name = name_text(words)
        kind = " ".join(words_of(name))
        if kind in self.kinds:
            return kind
        named = self.declared.named.find(name)
        if named is None:
            known = [*self.kinds, *self.declared.named.each_name()]
            self.told.unknown("unknown-name", words, known, wanted="person or thing")
            return None
        return named.name

    def _traits(self, line: tree.RuleLine) -> Mapping[str, object]:
        """The fields of a thing that the traits on the line set."""
        read = traits_of(line.traits, self.declared, self.told, line.place)
        plain = Thing("", "", line.place)
        return {
            field.name: value
            for field in fields(Thing)
            if field.name not in ("name", "kind", "place")
            and (value := getattr(read, field.name)) != getattr(plain, field.name)
        }

    def _where(self, line: tree.RuleLine) -> Iterable[Asked]:
        condition = line.condition
        parts = condition.parts if isinstance(condition, tree.Joined) else (condition,)
        if isinstance(condition, tree.Joined) and not condition.every:
            self.told.tell("rule-where-or", line.place)
            return
        for part in parts:
            if not isinstance(part, tree.ChoiceIs):
                self.told.tell("rule-where-form", line.place)
                continue
            name, value = name_text(part.choice), name_text(part.value)
            setting = self.known_settings.get(name)
            if setting is not None and value not in setting.values:
                known = ", ".join(setting.values)
                self.told.unknown(
                    "unknown-value", part.value, setting.values, choice=name, values=known
                )
            yield Asked(name, value, not part.negated, setting is not None)

    # --- What is asked ---------------------------------------------------------------------------

    def _duty(self, lines: Sequence[tree.RuleLine], place: Place) -> Duty | None:
        """The duty that the lines make up; None after telling why they make up none, or two."""
        if not lines:
            self.told.tell("rule-without-duty", place)
            return None
        first, *others = lines
        if first.rule == "rule_either":
            ways = [first, *others]
            if len(ways) < 2 or any(
                line.rule != "rule_or" or line.sentence is not None for line in others
            ):
                self.told.tell("rule-ways", first.place)
                return None
            duties = [
                self._duty([one for one in way.lines if isinstance(one, tree.RuleLine)], way.place)
                for way in ways
            ]
            if any(duty is None for duty in duties):
                return None
            return OneOf(tuple(duty for duty in duties if duty is not None))
        maker: Callable[..., Duty | None] | None = _FORMS.get(
            tuple(line.rule.removeprefix("rule_") for line in lines)
        )
        if maker is None:
            self.told.tell("rule-form", first.place, lines="; ".join(_opening(x) for x in lines))
            return None
        return maker(self, *lines)

    def _said(self, line: tree.RuleLine) -> Happenings | None:
        """The sentence on the line, and those that count as well."""
        nodes = [line, *(one for one in line.lines if isinstance(one, tree.RuleLine))]
        found = [self._happening(one.sentence) for one in nodes if one.sentence is not None]
        if len(nodes) <= len(line.lines) or any(one is None for one in found):
            self.told.complete = False
            return None
        return tuple(one for one in found if one is not None)

    def _happening(self, words: Words) -> Happening | None:
        reading = self._read(words)
        if reading is None:
            self.told.complete = False
            return None
        filled = {}
        for slot, names in reading.filled.items():
            if len(names) != 1:
                self.told.tell("rule-list", words.place, text=words.plain)
                return None
            filled[slot] = names[0]
        return self._of_reading(reading, filled, words)

    def _read(self, words: Words) -> Reading | None:
        """The reading of a sentence. What happens goes before a verb that says it in the same
        words: whatever the verb does, the happening is that too."""
        readings = self.checklist.sentences.read(words.text)
        happening = [one for one in readings if isinstance(one.form.verb, tuple)]
        return happening[0] if len(happening) == 1 else self.checklist.reading(words)

    def _of_reading(
        self, reading: Reading, filled: Mapping[str, str], words: Words
    ) -> Happening | None:
        match reading.form.verb:
            case (Event() as event, str() | None as level):
                named = {slot: name for slot, name in filled.items() if slot != _MINUTES.name}
                minutes = filled.get(_MINUTES.name)
                least = None if minutes is None else int(minutes)
                return Happening(event, named, words.plain, words.place, level, least)
            case int(verb):
                doing = Doing(self.checklist.verbs[verb], reading.form.frame, reading.filled)
                return Happening(doing, filled, words.plain, words.place)
            case _:
                self.told.tell("rule-wait", words.place, text=words.plain)
                return None

    def _always(self, line: tree.RuleLine) -> Duty | None:
        what = self._said(line)
        return None if what is None else Always(what)

    def _never(self, line: tree.RuleLine) -> Duty | None:
        what = self._said(line)
        return None if what is None or line.word == "BUT_NEVER" else Never(what)

    def _before(
        self, line: tree.RuleLine, comes: tree.RuleLine, never: tree.RuleLine | None = None
    ) -> Duty | None:
        what, first = self._said(line), self._said(comes)
        between = () if never is None else self._said(never)
        if what is None or first is None or between is None:
            return None
        return Before(what, first, between)

    def _after(
        self, line: tree.RuleLine, comes: tree.RuleLine, before: tree.RuleLine
    ) -> Duty | None:
        what, then, until = self._said(line), self._said(comes), self._until(before)
        if what is None or then is None or until is None:
            return None
        return After(what, then, until)

    def _not_between(
        self, line: tree.RuleLine, until: tree.RuleLine, never: tree.RuleLine
    ) -> Duty | None:
        what, end, none = self._said(line), self._until(until), self._said(never)
        if what is None or end is None or none is None:
            return None
        return NotBetween(what, end, none)

    def _until(self, line: tree.RuleLine) -> Happenings | Until | None:
        if line.sentence is not None and not line.lines:
            for until in Until:
                if " ".join(line.sentence.plain.split()) == until.value:
                    return until
        return self._said(line)

    def _whenever(self, line: tree.RuleLine, only_when: tree.RuleLine) -> Duty | None:
        what = self._said(line)
        assert only_when.claim is not None
        claim = self.reader.claim(only_when.claim, PROTOCOL)
        if what is None or claim is None:
            return None
        return Whenever(what, claim, only_when.words.plain.removeprefix("only when").strip())

    def _at_most(self, line: tree.RuleLine) -> Duty | None:
        what = self._said(line)
        return None if what is None else Times(what, most=int(_number(line)))

    def _at_least(self, line: tree.RuleLine) -> Duty | None:
        what = self._said(line)
        return None if what is None else Times(what, least=int(_number(line)))

    def _every_days(self, line: tree.RuleLine) -> Duty | None:
        what = self._said(line)
        return None if what is None else EveryDays(what, int(_number(line)))

    def _declared(self, line: tree.RuleLine) -> Duty | None:
        return Declared(self._traits(line), line.words.plain.removeprefix("is declared").strip())

    def _marked(self, line: tree.RuleLine) -> Duty | None:
        return Marked(line.quoted[0].plain)

    def _header(self, line: tree.RuleLine) -> Duty | None:
        what = line.names[0].plain
        if what not in HEADER_LINES:
            self.told.tell("rule-header", line.names[0].place, known=", ".join(HEADER_LINES))
            return None
        return HeaderSays(what)

    def _figure(self, line: tree.RuleLine) -> Duty | None:
        name, *unit = line.names
        how = {"AT_LEAST": ">=", "AT_MOST": "<="}.get(line.word or "", "=")
        return FigureIs(
            name_text(name),
            how,
            Fraction(_number(line)),
            unit[0].plain if unit else None,
            line.words.plain,
        )

    def _no_treatment(self, line: tree.RuleLine) -> Duty | None:
        return NoTreatmentDependsOn(name_text(line.names[0]))

    # --- Examples --------------------------------------------------------------------------------

    def _example(self, line: tree.RuleLine, title: str) -> Example:
        """The example as the text of a protocol of its own."""
        taken = [
            words
            for header in self.root.header
            if isinstance(header, tree.TakesWords | tree.ExamplesIn)
            for words in header.titles
        ]
        header = line.header
        if taken:
            header = (*header, tree.TakesWords(titles=tuple(taken), place=line.place))
        phase = tree.Phase(title=Words("Example", line.place), items=line.items, place=line.place)
        file = tree.File(
            kind="protocol",
            title=Words("Example", line.place),
            header=header,
            sections=(*line.sections, *((phase,) if line.items else ())),
            place=line.place,
        )
        try:
            text = printed(file)
        except ValueError:  # a line of it was spoiled, and has been told
            self.told.complete = False
            text = ""
        return Example(line.rule == "rule_good", text, line.place)


#: Lines that say what is asked.
_OF_DUTIES = frozenset(
    f"rule_{name}"
    for name in (
        "always", "never", "before", "after", "comes", "until", "whenever", "only_when", "at_most",
        "at_least", "every_days", "declared", "header", "figure", "no_treatment", "marked",
        "either", "or",
    )
)  # fmt: skip

#: Which lines after each other make up which duty.
_FORMS: Mapping[tuple[str, ...], Callable[..., Duty | None]] = {
    ("always",): _Rules._always,
    ("never",): _Rules._never,
    ("before", "comes"): _Rules._before,
    ("before", "comes", "never"): _Rules._before,
    ("after", "comes", "before"): _Rules._after,
    ("after", "until", "never"): _Rules._not_between,
    ("whenever", "only_when"): _Rules._whenever,
    ("at_most",): _Rules._at_most,
    ("at_least",): _Rules._at_least,
    ("every_days",): _Rules._every_days,
    ("declared",): _Rules._declared,
    ("marked",): _Rules._marked,
    ("header",): _Rules._header,
    ("figure",): _Rules._figure,
    ("no_treatment",): _Rules._no_treatment,
}


def _number(line: tree.RuleLine) -> str:
    assert line.number is not None
    return line.number.text


def _opening(line: tree.RuleLine) -> str:
    return " ".join(line.words.plain.split()[:2])


def _texts(lines: Iterable[tree.RuleLine]) -> tuple[str, ...]:
    return tuple(words.plain for line in lines for words in line.quoted)
