"""The checklist: phases, blocks and steps, each sentence read as a verb."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from protocol_lang.findings import Unchecked
from protocol_lang.language import tree
from protocol_lang.language.claims import PROTOCOL, Reader
from protocol_lang.language.declared import Declarations
from protocol_lang.language.frames import WAITS_MINUTES, WAITS_UNTIL_DRY, actor_slot
from protocol_lang.language.limits import MAX_FAULTS, MAX_LAID_OUT, MAX_ROUNDS
from protocol_lang.language.misread import slips, spelt_out
from protocol_lang.language.names import Names, words_of
from protocol_lang.language.sections import (
    lasting_of,
    notes_of,
    short_of,
    sources_of,
)
from protocol_lang.language.sentences import Form, Reading, Sentences
from protocol_lang.language.spaces import Space, Told, key_of, name_text, stray
from protocol_lang.language.tree import Words
from protocol_lang.language.verbs import soiling
from protocol_lang.model.conditions import Claim
from protocol_lang.model.protocol import Choice
from protocol_lang.model.steps import (
    Again,
    AnyOrder,
    Doing,
    Either,
    ForEach,
    InOneGo,
    InOrder,
    Item,
    MayBeLeftOut,
    Mishap,
    Phase,
    Saying,
    SideBySide,
    Step,
    TimeOnly,
    Waiting,
    Where,
)
from protocol_lang.model.verbs import Lasting, LaysOut, OfSlot, SetsFact, Verb
from protocol_lang.model.walk import steps_of
from protocol_lang.text import Place

_MINUTES = "waits minutes"
_UNTIL_DRY = "waits until dry"

#: How much is done to say what is amiss in sentences: the words of each, squared, a quarter of the
#: names and all forms, added up. Beyond it they are told without advice. A few seconds at most.
MOST_EFFORT = 40_000


def sentences_of(verbs: Sequence[Verb], declared: Declarations, told: Told) -> Sentences:
    """The reader of sentences; a verb goes by its place in the row, waits by a word of ours."""
    forms = [Form(at, frame) for at, verb in enumerate(verbs) for frame in verb.frames]
    forms += [Form(_MINUTES, frame) for frame in WAITS_MINUTES]
    forms += [Form(_UNTIL_DRY, frame) for frame in WAITS_UNTIL_DRY]
    return Sentences(forms, Names(declared.sentence_names(told)))


class Checklist:
    """Reads the phases of one protocol."""

    def __init__(
        self, verbs: Sequence[Verb], sentences: Sentences, declared: Declarations, told: Told
    ) -> None:
        self.verbs = verbs
        self.sentences = sentences
        self.declared = declared
        self.told = told
        self.reader = Reader(declared, told)
        self.labels: Space[str] = Space("label")
        self.title = ""
        self.count = 0
        self.inside_repeat = False
        self.effort = 0
        # Findings of declarations; those of steps come one after the other, in order of lines.
        self.before = len(told.findings)

    def phases(
        self,
        nodes: Sequence[tree.Phase],
        strayed: Sequence[tree.Phase] = (),
        others: Sequence[tuple[tree.Item, ...]] = (),
    ) -> tuple[Phase, ...]:
        """All phases; labels of all steps are known before any ``after`` is looked up.

        ``strayed``: steps that belong to no phase, for what is to be told about them; ``others``:
        those of mishaps.
        """
        for items in (*(node.items for node in (*nodes, *strayed)), *others):
            for step in _steps_in(items):
                if step.label is not None:
                    self.labels.declare(step.label, name_text(step.label), self.told)
        for node in strayed:
            self._phase(node)
        return tuple(self._phase(node) for node in nodes)

    def _phase(self, node: tree.Phase) -> Phase:
        self.title = node.title.plain if node.title is not None else ""
        self.count = 0
        return Phase(
            title=self.title,
            short=short_of(node.lines),
            notes=notes_of(node.lines),
            items=self._items(node.items),
            place=node.place,
            runs_on=any(isinstance(line, tree.RunsOn) for line in node.lines),
        )

    def _items(self, nodes: Iterable[tree.Item]) -> tuple[Item, ...]:
        items = [self._item(node) for node in nodes]
        return tuple(item for item in items if item is not None)

    def _item(self, node: tree.Item) -> Item | None:
        place = node.place
        match node:
            case tree.Step():
                return self._step(node)
            case tree.InOrder():
                return InOrder(self._items(node.items), place)
            case tree.AnyOrder():
                return AnyOrder(self._items(node.items), node.mixed, place)
            case tree.InOneGo():
                return InOneGo(self._items(node.items), place)
            case tree.SideBySide():
                return self._side_by_side(node)
            case tree.Where():
                branches = []
                for branch in node.branches:
                    condition = None
                    if branch.condition is not None:
                        condition = self.reader.condition(branch.condition)
                    branches.append((condition, self._items(branch.items)))
                return Where(tuple(branches), place)
            case tree.Either():
                return self._either(node)
            case tree.MayBeLeftOut():
                when = node.when.plain if node.when is not None else None
                return MayBeLeftOut(self._items(node.items), place, when)
            case tree.ForEach():
                return self._for_each(node)
            case tree.TimeOnly():
                if not self.inside_repeat:
                    self.told.tell("time-only-alone", place, found=_time_only(node))
                return TimeOnly(node.first, self._items(node.items), place)
            case tree.Again():
                return self._again(node)
            case tree.Spoiled():
                self.told.complete = False
                self._items(node.items)  # for what is to be told about them
                return None

    def _either(self, node: tree.Either) -> Either | None:
        ways = tuple(self._items(way.items) for way in node.ways)
        if len(ways) == 1:
            self.told.tell("either-alone", node.place)
            return None
        return Either(ways, node.place)

    def _for_each(self, node: tree.ForEach) -> ForEach:
        if not 1 <= node.most <= MAX_ROUNDS or not 0 <= node.least <= node.most:
            self.told.tell(
                "rounds-number",
                node.place,
                least=str(node.least),
                most=str(node.most),
                limit=str(MAX_ROUNDS),
            )
        before, self.inside_repeat = self.inside_repeat, True
        items = self._items(node.items)
        self.inside_repeat = before
        return ForEach(name_text(node.name), node.least, node.most, items, node.place)

    def _again(self, node: tree.Again) -> Again | None:
        if not 1 <= node.most <= MAX_ROUNDS:
            self.told.tell("again-number", node.place, most=str(node.most), limit=str(MAX_ROUNDS))
        label = self.labels.look(node.label, self.told, "unknown-label")
        return None if label is None else Again(label, node.most, node.place)

    # --- What is found out, and what can happen --------------------------------------------------

    def found_out(self, nodes: Iterable[tree.FoundOut]) -> Mapping[str, Choice]:
        """The facts that are found out on the way, by name, with all that was looked up."""
        found: dict[str, Choice] = {}
        for section in nodes:
            for line in section.lines:
                if isinstance(line, tree.Spoiled):
                    continue
                choice = self.declared.choices.find(name_text(line.name))
                label = self.labels.look(line.label, self.told, "unknown-label")
                if choice is None or label is None:
                    continue
                lines = soiling(line.lines, self.declared, self.told)
                found[choice.name] = replace(
                    choice,
                    known_after=label,
                    soils=tuple(one for one in lines if not isinstance(one, SetsFact)),
                    sets=tuple(one for one in lines if isinstance(one, SetsFact)),
                )
        return found

    def mishaps(self, nodes: Iterable[tree.CanHappen], titles: Sequence[str]) -> tuple[Mishap, ...]:
        """What can happen; ``titles``: those of the phases that there are."""
        made = []
        for section in nodes:
            phases = [self._phase_called(words, titles) for words in section.phases]
            for line in section.lines:
                if isinstance(line, tree.Spoiled):
                    self._item(line)
                    continue
                self.title, self.count = name_text(line.name), 0
                person = None if line.person is None else self._person(line.person)
                found = [self.labels.look(w, self.told, "unknown-label") for w in line.labels]
                labels = tuple(label for label in found if label is not None)
                items = self._items(line.items)
                if None in phases or (person is None and not labels):
                    continue
                made.append(
                    Mishap(
                        name_text(line.name),
                        tuple(phase for phase in phases if phase is not None),
                        person,
                        labels,
                        items,
                        line.place,
                        short=short_of(line.lines),
                    )
                )
        return tuple(made)

    def _phase_called(self, words: Words, titles: Sequence[str]) -> str | None:
        wanted = key_of(words.plain)
        found = next((title for title in titles if key_of(title) == wanted), None)
        if found is None:
            self.told.unknown("unknown-phase", words, titles)
        return found

    def _side_by_side(self, node: tree.SideBySide) -> SideBySide:
        lanes = []
        seen: dict[str, Place] = {}
        for lane in node.lanes:
            if isinstance(lane, tree.Spoiled):
                self._item(lane)
                continue
            person = self._person(lane.person)
            items = self._items(lane.items)
            if person is None:
                continue
            if person in seen:
                self.told.tell(
                    "lane-twice", lane.person.place, others=[("first", seen[person])], name=person
                )
                continue
            seen[person] = lane.person.place
            self._check_lane(person, lane, items)
            lanes.append((person, items))
        return SideBySide(tuple(lanes), node.place)

    def _person(self, words: Words) -> str | None:
        people = list(self.declared.people)
        found = self.declared.named.find(name_text(words))
        if found is None:
            self.told.unknown("unknown-name", words, people, wanted="person")
        elif found.name not in self.declared.people:
            actual = found.kind or "thing"
            self.told.tell(
                "wrong-kind", words.place, name=found.name, actual=actual, wanted="person"
            )
        else:
            return found.name
        return None

    def _check_lane(self, person: str, lane: tree.Lane, items: Iterable[Item]) -> None:
        for step in steps_of(items):
            for actor in actors_of(step):
                if actor != person:
                    self.told.tell(
                        "other-lane",
                        step.place,
                        others=[("lane", lane.person.place)],
                        name=actor,
                        lane=person,
                    )
                    break

    # --- One step --------------------------------------------------------------------------------

    def _step(self, node: tree.Step) -> Step | None:
        self.count += 1
        if len(self.told.findings) - self.before > MAX_FAULTS:
            # As many as are listed have been found; what comes after would not be told.
            self.told.complete = False
            return None
        self.told.context = f'step {self.count} in "{self.title}"' if self.title else None
        try:
            return self._step_itself(node)
        finally:
            self.told.context = None

    def _step_itself(self, node: tree.Step) -> Step | None:
        does = self._does(node.does)
        claims: list[Claim] = []
        sets: list[SetsFact] = []
        after: list[tuple[str, Place]] = []
        for line in node.lines:
            match line:
                case tree.OnlyWhen():
                    claim = self.reader.claim(line.claim, PROTOCOL)
                    if claim is not None:
                        claims.append(claim)
                case tree.Sets():
                    sets.extend(self.reader.sets(line, PROTOCOL))
                case tree.After():
                    for words in line.labels:
                        label = self.labels.look(words, self.told, "unknown-label")
                        if label is not None:
                            after.append((label, words.place))
                case tree.Spoiled():
                    self.told.complete = False
                case _:
                    pass
        text = node.does.plain if isinstance(node.does, Words) else f"say: {node.does.text.plain}"
        if does is None:
            self.told.complete = False
            self.told.unchecked.append(Unchecked("step-left-out", {"text": text}, node.place))
            return None
        return Step(
            label=name_text(node.label) if node.label is not None else None,
            text=text,
            short=short_of(node.lines),
            does=does,
            claims=tuple(claims),
            sets=tuple(sets),
            after=tuple(after),
            notes=notes_of(node.lines),
            sources=sources_of(node.lines),
            place=node.does.place if isinstance(node.does, Words) else node.place,
            takes=self._takes(node, does),
        )

    def _takes(self, node: tree.Step, does: Doing | Saying | Waiting) -> Lasting | None:
        takes = lasting_of(node.lines, self.told)
        if takes is not None and isinstance(does, Waiting):
            self.told.tell("wait-lasts-itself", takes.place)
            return None
        return takes

    def _does(self, words: Words | tree.Say) -> Doing | Saying | Waiting | None:
        if isinstance(words, tree.Say):
            return Saying(words.text.plain)
        reading = self.reading(words)
        if reading is None or not self._numbers_fit(reading, words):
            return None
        return self._doing(reading)

    def reading(self, words: Words) -> Reading | None:
        """The one reading of a sentence; None after telling why there is none, or none alone."""
        readings = self.sentences.read(words.text)
        if not readings:
            self._tell_slips(words)
            return None
        if len(readings) > 1:
            if not any(reading.spoiled for reading in readings):
                self.told.add(
                    "two-readings",
                    words.place,
                    {
                        "text": words.plain,
                        "one": spelt_out(readings[0]),
                        "other": spelt_out(readings[1]),
                        "more": str(len(readings) - 2) if len(readings) > 2 else None,
                    },
                )
            return None
        reading = readings[0]
        if reading.spoiled or not self._each_once(reading, words):
            return None
        return reading

    def _tell_slips(self, words: Words) -> None:
        if self.told.hazy:
            return
        known = len(self.sentences.names.all) // 4 + len(self.sentences.forms)
        self.effort += len(words_of(words.text)) ** 2 + known
        if self.effort > MOST_EFFORT:
            self.told.tell("unknown-sentence", words.place, text=words.plain)
            return
        found = slips(self.sentences, words.text)
        here = set(words_of(words.text))
        for slip in found:
            if any(form <= here for form in self.told.forms):
                continue  # a verb whose form could not be read may say just this
            facts: dict[str, str | None] = {"text": words.plain, **dict(slip.facts)}
            if slip.kind in ("verb-form", "verb-forms") and "meant" in facts:
                facts["word"] = words.text[slip.start : slip.end]
            if slip.kind == "unknown-name":
                facts |= stray(dict(slip.facts)["name"])
            self.told.add(slip.kind, words.at(slip.start, slip.end), facts)

    def _each_once(self, reading: Reading, words: Words) -> bool:
        for names in reading.filled.values():
            twice = next((name for at, name in enumerate(names) if name in names[:at]), None)
            if twice is not None:
                self.told.tell("named-twice", words.place, name=twice, text=words.plain)
                return False
        return True

    def _numbers_fit(self, reading: Reading, words: Words) -> bool:
        """A number says how many of a supply are laid out, and stands nowhere else."""
        verb = reading.form.verb
        laid_out: set[str] = set()
        if isinstance(verb, int):
            lines = (line for line in self.verbs[verb].lines if isinstance(line, LaysOut))
            laid_out = {line.what.slot for line in lines if isinstance(line.what, OfSlot)}
        for slot, numbers in reading.numbers.items():
            for name, number in zip(reading.filled[slot], numbers, strict=True):
                if number is None:
                    continue
                if slot not in laid_out:
                    kind = "number-without-supply"
                elif not 1 <= number <= MAX_LAID_OUT:
                    kind = "number-out-of-range"
                else:
                    continue
                self.told.tell(
                    kind, words.place, name=name, number=str(number), most=f"{MAX_LAID_OUT:,}"
                )
                return False
        return True

    def _doing(self, reading: Reading) -> Doing | Waiting:
        verb = reading.form.verb
        filled = reading.filled
        if verb == _MINUTES:
            return Waiting(filled["ACTOR"][0], int(filled["MINUTES"][0]), None)
        if verb == _UNTIL_DRY:
            return Waiting(filled["ACTOR"][0], None, filled["THING"][0])
        assert isinstance(verb, int)
        return Doing(
            self.verbs[verb], reading.form.frame, dict(filled), numbers=dict(reading.numbers)
        )


def _time_only(node: tree.TimeOnly) -> str:
    return "first time only" if node.first else "last time only"


def actors_of(step: Step) -> tuple[str, ...]:
    """Who does the step; nobody in particular where something is said."""
    match step.does:
        case Doing(frame=frame, filled=filled):
            return filled[actor_slot(frame).name]
        case Waiting(actor=actor):
            return (actor,)
        case Saying():
            return ()


def _steps_in(items: Iterable[tree.Item]) -> Iterable[tree.Step]:
    for item in items:
        match item:
            case tree.Step():
                yield item
            case tree.SideBySide():
                for lane in item.lanes:
                    yield from _steps_in(lane.items)
            case tree.Where():
                for branch in item.branches:
                    yield from _steps_in(branch.items)
            case tree.Either():
                for way in item.ways:
                    yield from _steps_in(way.items)
            case tree.Again():
                pass
            case _:
                yield from _steps_in(item.items)
