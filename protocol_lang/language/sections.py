"""What the files declare, gathered in import order: kinds, parts, facts, levels, people, things.

Two rounds: first every name is taken in, then what stands beside the names is looked up. So the
order of declarations does not matter, within a file or between files.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TypeVar

from protocol_lang.language import tree
from protocol_lang.language.declared import Declarations
from protocol_lang.language.frames import RESERVED_KINDS
from protocol_lang.language.names import Name, folded, words_of
from protocol_lang.language.places import declare_places, start_in_place
from protocol_lang.language.spaces import Space, Told, key_of, name_text
from protocol_lang.language.things import declare_things
from protocol_lang.language.tree import Words
from protocol_lang.model.parts import (
    ActsOn,
    BodyPart,
    Counts,
    Duty,
    Fact,
    FactOf,
    GermClass,
    Group,
    LevelOfTreatment,
    Person,
    PersonKind,
    Stream,
)
from protocol_lang.model.protocol import FOUND, Call, Choice, ExposureSetting, Figure
from protocol_lang.model.verbs import Lasting


def gather(
    files: Sequence[tree.File], told: Told, before: Declarations | None = None
) -> Declarations:
    """All that the files declare but verbs, choices' conditions and steps.

    ``before``: what files before them declare, which stays as it is.
    """
    declared = Declarations() if before is None else before.copy()
    later = _Later()
    for file in files:
        remember_spoiled(file, told)
    for file in files:
        for section in file.sections:
            _first_round(section, declared, told, later)
    for file in files:
        for section in file.sections:
            if isinstance(section, tree.Levels):
                _levels(section, declared, told)
            elif isinstance(section, tree.Duty):
                _duty(section, declared, told)
    for line, names in later.things:
        declare_things(line, names, declared, told)
    _groups(later.groups, declared, told)
    for name, who in later.people:
        start_in_place(name, who, declared, told)
    return declared


def remember_spoiled(file: tree.File, told: Told) -> None:
    """Names that a line would have declared that could not be read are not unknown."""
    for section in file.sections:
        lines = getattr(section, "lines", ())
        for part in (section, *lines):
            if isinstance(part, tree.Spoiled):
                told.complete = False
                for name in part.names:
                    told.spoil(name)
        if isinstance(section, tree.Spoiled) and section.words.text.startswith("verb"):
            told.forms.append(small_words(section.words.text))


def small_words(form: str) -> frozenset[str]:
    """The words of a form that are not slots, but for the opener."""
    plain = [folded(w) for w in form.split() if not (len(w) > 1 and w.isupper())]
    return frozenset(plain) - {"verb", "also"}


L = TypeVar("L")


def only(lines: Iterable[object], kind: type[L]) -> Iterator[L]:
    """The lines of one kind; the spoiled ones have been reported."""
    return (line for line in lines if isinstance(line, kind))


@dataclass(frozen=True, slots=True)
class _Later:
    """What the second round looks at."""

    things: list[tuple[tree.ThingLine, tuple[Words, ...]]] = field(default_factory=list)
    groups: list[tree.GroupLine] = field(default_factory=list)
    people: list[tuple[str, tree.PersonLine]] = field(default_factory=list)


def _first_round(section: tree.Section, declared: Declarations, told: Told, later: _Later) -> None:
    match section:
        case tree.Kinds():
            for line in only(section.lines, tree.NamesLine):
                for words in line.names:
                    _kind(words, declared, told)
        case tree.Parts():
            kind = PersonKind(section.of)
            for part in only(section.lines, tree.PartLine):
                body_part = BodyPart(
                    name_text(part.name),
                    kind,
                    Counts(part.counts),
                    part.unclean,
                    part.full_of,
                    part.name.place,
                )
                space = declared.parts[kind]
                space.declare(part.name, body_part, told, space.says(part.name, body_part))
        case tree.Facts():
            for told_fact in only(section.lines, tree.FactLine):
                fact = Fact(
                    name_text(told_fact.name),
                    FactOf(section.of),
                    told_fact.lasting,
                    told_fact.name.place,
                )
                again = declared.facts.says(told_fact.name, fact)
                declared.facts.declare(told_fact.name, fact, told, again)
        case tree.Germs():
            listed = [w for line in only(section.lines, tree.NamesLine) for w in line.names]
            again = _repeats(listed, declared.germs.names())
            for words in listed:
                germ = GermClass(name_text(words), words.place)
                declared.germs.declare(words, germ, told, again)
        case tree.People():
            for who in only(section.lines, tree.PersonLine):
                for words in who.names:
                    name = name_text(words)
                    if declared.named.declare(words, Name(name, who.kind), told):
                        declared.people[name] = Person(
                            name, PersonKind(who.kind), words.place, stays=who.stays
                        )
                        later.people.append((name, who))
        case tree.Places():
            for standing in only(section.lines, tree.PlaceLine):
                declare_places(standing, declared, told)
        case tree.Streams():
            for way in only(section.lines, tree.StreamLine):
                note = way.note.plain if way.note is not None else None
                stream = Stream(name_text(way.name), note, way.name.place)
                again = declared.streams.says(way.name, stream)
                declared.streams.declare(way.name, stream, told, again)
        case tree.Things():
            for named in only(section.lines, tree.ThingLine):
                taken = [
                    words
                    for words in named.names
                    if declared.named.declare(words, Name(name_text(words), "", True), told)
                ]
                if taken:
                    later.things.append((named, tuple(taken)))
        case tree.Groups():
            for group in only(section.lines, tree.GroupLine):
                if declared.named.declare(group.name, Name(name_text(group.name), "group"), told):
                    later.groups.append(group)
        case tree.Choices():
            for choice in only(section.lines, tree.ChoiceLine):
                _choice(choice, section.fixed, declared, told)
        case tree.Figures():
            for told_figure in only(section.lines, tree.FigureLine):
                figure = Figure(
                    name_text(told_figure.name),
                    Fraction(told_figure.amount.text),
                    told_figure.unit.plain if told_figure.unit is not None else None,
                    told_figure.place,
                )
                declared.figures.declare(told_figure.name, figure, told)
        case tree.ExposureSettings():
            declared.notes_of_exposures += notes_of(section.lines)
            for setting in only(section.lines, tree.ExposureLine):
                _exposure(setting, declared, told)
        case tree.WhomToCall():
            declared.notes_of_calls += notes_of(section.lines)
            for call in only(section.lines, tree.CallLine):
                someone = Call(name_text(call.name), call.how.plain, call.name.place)
                again = declared.calls.says(call.name, someone)
                declared.calls.declare(call.name, someone, told, again)
        case tree.FoundOut():
            for found in only(section.lines, tree.FoundOutLine):
                name = name_text(found.name)
                unknown = Choice(name, FOUND, False, found.name.place, name_text(found.label))
                declared.choices.declare(found.name, unknown, told)
        case tree.CanHappen():
            for mishap in only(section.lines, tree.Mishap):
                declared.mishaps.declare(mishap.name, name_text(mishap.name), told)
        case _:
            pass


def _exposure(line: tree.ExposureLine, declared: Declarations, told: Told) -> None:
    names = [name_text(words) for words in line.of]
    values = tuple(f"{one.amount.text} {name_text(one.unit)}" for one in line.values)
    setting = ExposureSetting(", ".join(names), values, line.place)
    # Looked up by all of its words together: a name holds no commas.
    first, last = line.of[0], line.of[-1]
    whole = Words(" ".join(names), replace(first.place, end=last.place.end))
    again = declared.exposures.says(whole, setting)
    declared.exposures.declare(whole, setting, told, again)


def _kind(words: Words, declared: Declarations, told: Told) -> None:
    name = name_text(words)
    if " ".join(words_of(name)) in RESERVED_KINDS:
        told.tell("kind-reserved", words.place, name=name)
        told.spoil(words)
    else:
        declared.kinds.declare(words, folded(name), told, again=True)


def _choice(line: tree.ChoiceLine, fixed: bool, declared: Declarations, told: Told) -> None:
    values: Space[str] = Space(f"value of {name_text(line.name)}")
    for words in line.values:
        values.declare(words, name_text(words), told)
    choice = Choice(name_text(line.name), values.values(), fixed, line.name.place)
    declared.choices.declare(line.name, choice, told)


def _levels(section: tree.Levels, declared: Declarations, told: Told) -> None:
    """The ranks go on counting over several sections, in import order."""
    lines = list(only(section.lines, tree.LevelLine))
    again = _repeats([line.name for line in lines], declared.levels.names())
    for line in lines:
        if line.ends is None:
            ends = declared.germs.names()
        else:
            found = [declared.germs.look(words, told, "unknown-germs") for words in line.ends]
            ends = tuple(germ.name for germ in found if germ is not None)
        level = LevelOfTreatment(
            name_text(line.name),
            len(declared.levels.names()) + 1,
            ActsOn(line.acts_on),
            ends,
            source_of(line.lines),
            line.name.place,
        )
        known = declared.levels.find(level.name)
        same = known is not None and declared.levels.says(
            line.name, replace(level, rank=known.rank, source=known.source)
        )
        declared.levels.declare(line.name, level, told, again and same)


def _repeats(listed: Sequence[Words], known: Sequence[str]) -> bool:
    """Whether a list in order holds only names that are known, in the order in which they are.

    A new one among them, or another order, would say something that the first list does not.
    """
    keys = [key_of(name) for name in known]
    places = [keys.index(key) if key in keys else -1 for key in map(key_of, map(name_text, listed))]
    return -1 not in places and places == sorted(places)


def source_of(lines: Iterable[object]) -> str | None:
    """What the source lines among these say, joined; None if there is none."""
    texts = [line.text.plain for line in only(lines, tree.Source)]
    return "; ".join(texts) if texts else None


def notes_of(lines: Iterable[object]) -> tuple[str, ...]:
    """What the notes among these lines say."""
    return tuple(line.text.plain for line in only(lines, tree.Note))


def sources_of(lines: Iterable[object]) -> tuple[str, ...]:
    """What the sources among these lines say."""
    return tuple(line.text.plain for line in only(lines, tree.Source))


def short_of(lines: Iterable[object]) -> str | None:
    """The short text for the wall among these lines, if there is one."""
    return next((line.text.plain for line in only(lines, tree.Short)), None)


#: Nothing that is done in a room takes longer, in seconds: a day.
MOST_SECONDS = 24 * 60 * 60


def lasting_of(lines: Iterable[object], told: Told) -> Lasting | None:
    """How long it takes, if one of these lines says so; tells what cannot be."""
    line = next(only(lines, tree.Lasts), None)
    if line is None:
        return None
    least = Fraction(line.least.text)
    most = least if line.most is None else Fraction(line.most.text)
    if not 0 < least <= most:
        told.tell("lasting-number", line.place, least=line.least.plain, most=f"{most}")
        return None
    unit = 60 if line.minutes else 1
    if most * unit > MOST_SECONDS:
        told.tell("lasting-number", line.place, least=line.least.plain, most=f"{most}")
        return None
    return Lasting(least * unit, most * unit, line.place)


def _duty(section: tree.Duty, declared: Declarations, told: Told) -> None:
    for line in only(section.lines, tree.While):
        fact = declared.facts.look(line.fact, told, "unknown-fact")
        part = declared.body_part(name_text(line.part))
        if part is None:
            told.unknown("unknown-part", line.part, declared.body_part_names(), owner="a person")
        if fact is not None and fact.of is not FactOf.PERSON:
            told.tell(
                "fact-whose", line.fact.place, name=fact.name, of=fact.of.value, said="person"
            )
        elif fact is not None and part is not None:
            title = section.title.plain if section.title is not None else ""
            source = source_of(section.lines)
            duty = Duty(title, fact.name, part.name, source, section.place)
            declared.duties.append(duty)


def _groups(lines: Sequence[tree.GroupLine], declared: Declarations, told: Told) -> None:
    """Groups of groups are spelt out; a group that holds itself is told once."""
    by_name = {name_text(line.name): line for line in lines}
    found: dict[str, list[Name]] = {}
    for name, line in by_name.items():
        looked = [
            declared.named.look(words, told, "unknown-name", wanted="thing")
            for words in line.members
        ]
        found[name] = [member for member in looked if member is not None]
    for name in _inner_first(by_name, found, told):
        members: list[str] = []
        for member in found[name]:
            named = declared.named.find(member.name) or member
            spelt = named.members if named.kind == "group" else (named.name,)
            members += [each for each in spelt if each not in members]
        line = by_name[name]
        if members:
            declared.groups[name] = Group(name, tuple(members), line.name.place)
            declared.named.put(name, Name(name, "group", members=tuple(members)))
        else:
            told.spoil(line.name)
            declared.named.put(name, Name(name, "group", spoiled=True))


def _inner_first(
    by_name: Mapping[str, tree.GroupLine], found: Mapping[str, list[Name]], told: Told
) -> list[str]:
    """The groups, each after those that it names; where they name each other, that is told.

    By a stack of our own: groups may name each other as deeply as a file has lines.
    """
    done: dict[str, None] = {}
    for first in by_name:
        way: list[str] = [first] if first not in done else []
        while way:
            here = way[-1]
            named = [m.name for m in found[here] if m.kind == "group" and m.name in by_name]
            inner = [name for name in named if name not in done]
            circle = next((name for name in inner if name in way), None)
            if circle is not None:
                at = [name_text(words) for words in by_name[here].members].index(circle)
                told.tell("group-circle", by_name[here].members[at].place, name=circle)
                found[here][:] = [member for member in found[here] if member.name != circle]
            elif inner:
                way.append(inner[0])
            else:
                done[here] = None
                way.pop()
    return list(done)
