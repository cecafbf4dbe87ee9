"""Random small checklists and random rules, each as text and as records of the oracle."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from tests.rules.reading import (
    CLAIMS,
    SENTENCES,
    STAFF,
    SURFACES,
    Asked,
    Block,
    Branches,
    Checklist,
    Deed,
    Item,
    Lanes,
    Once,
    Rule,
    Sentence,
    deed,
)

PHASES = "Take", "Turn over"

#: What a step is, by how often; "a" is the doer.
_VERBS: Sequence[tuple[int, str, tuple[str, ...]]] = (
    (4, "cleans hands", ("a",)),
    (2, "washes hands", ("a",)),
    (1, "washes hands at", ("a", "surface")),
    (1, "washes without a towel", ("a", "surface")),
    (5, "puts on", ("a", "gloves")),
    (5, "takes off", ("a", "gloves")),
    (2, "changes", ("a", "gloves")),
    (4, "works at", ("a", "surface")),
    (1, "opens the record", ("a", "keyboard")),
    (4, "places", ("a", "sensor")),
    (2, "takes out", ("a", "sensor")),
    (1, "places with", ("a", "holder", "sensor")),
    (1, "lays on", ("a", "sensor", "surface")),
    (2, "cleans", ("a", "soiled", "wipe")),
    (3, "disinfects", ("a", "soiled", "wipe")),
    (1, "takes", ("operator", "swab")),
    (1, "throws", ("operator", "swab", "stream")),
    (2, "exposes", ("a", "tube")),
    (1, "goes behind", ("a",)),
    (1, "comes back", ("a",)),
    (1, "hands over", ("a", "sensor", "b")),
)

#: The same, of checklists in which people wait.
_WAITING = (*_VERBS, (9, "waits", ("a", "minutes")), (5, "waits until dry", ("a", "glove box")))

_FILLINGS = {
    "surface": SURFACES,
    "soiled": (*SURFACES, "sensor", "sensor", "holder"),
    "stream": ("clinical waste", "general waste"),
    "minutes": ("2", "5", "10"),
}

DECLARED = {"staffing": ("alone", "paired")}
FIXED = {"shielding": ("none", "collar")}


@dataclass
class Written:
    """A checklist as records and as text; ``lines``: at which line each deed stands."""

    checklist: Checklist
    text: str
    lines: dict[int, int] = field(default_factory=dict)


@dataclass
class _Maker:
    rng: random.Random
    people: Sequence[str]
    left: int
    phase: str = ""
    made: int = 0
    verbs: Sequence[tuple[int, str, tuple[str, ...]]] = _VERBS
    choices: dict[str, tuple[str, ...]] = field(default_factory=lambda: dict(DECLARED))
    gloved: set[str] = field(default_factory=set)

    def once(self, who: str | None = None) -> Once:
        rng = self.rng
        who = who or rng.choice(self.people)
        for _ in range(8):
            verb, slots = rng.choices(
                [(verb, slots) for _, verb, slots in self.verbs],
                [often for often, *_ in self.verbs],
            )[0]
            if slots[0] == "operator" and who != "operator":
                continue
            # gloves mostly as they can be put on and off; now and then as they cannot
            fits = {"puts on": who not in self.gloved, "takes off": who in self.gloved,
                    "changes": who in self.gloved, "throws": False}.get(verb, True)  # fmt: skip
            if not fits and rng.random() < 0.93:
                continue
            break
        if verb == "puts on":
            self.gloved.add(who)
        if verb == "takes off":
            self.gloved.discard(who)
        filled = [
            who if slot == "a" else next(x for x in STAFF if x != who) if slot == "b" else
            rng.choice(_FILLINGS[slot]) if slot in _FILLINGS else slot
            for slot in slots
        ]  # fmt: skip
        deeds = [self._deed(verb, *filled)]
        if verb in ("works at", "disinfects") and self.left > 1 and rng.random() < 0.25:
            at = slots.index("surface") if "surface" in slots else slots.index("soiled")
            other = rng.choice([one for one in _FILLINGS[slots[at]] if one != filled[at]])
            filled[at] = other
            deeds.append(self._deed(verb, *filled))
        if verb == "takes" and rng.random() < 0.8:
            return Once(tuple(deeds))
        return Once(tuple(deeds))

    def _deed(self, verb: str, *filled: str) -> Deed:
        self.made += 1
        self.left -= 1
        return deed(self.made, verb, *filled, phase=self.phase)

    def items(self, most: int, depth: int = 0, who: str | None = None) -> tuple[Item, ...]:
        """Between one and ``most`` items, as long as steps are left."""
        found: list[Item] = []
        for _ in range(self.rng.randint(1, most)):
            if self.left <= 0 and found:
                break
            found.append(self.item(depth, who))
        return tuple(found)

    def item(self, depth: int, who: str | None) -> Item:
        rng = self.rng
        if depth > 1 or self.left < 2 or rng.random() < 0.5:
            if depth == 0 and "operator" in self.people and self.left > 1 and rng.random() < 0.05:
                took = self._deed("takes", "operator", "swab")
                thrown = self._deed("throws", "operator", "swab", rng.choice(_FILLINGS["stream"]))
                return Block("in order", (Once((took,)), Once((thrown,))))
            return self.once(who)
        sort = rng.choice(
            ["any order", "any order", "any order, mixed", "in one go", "in one go", "side by side",
             "where", "where", "where fixed", "either", "may be left out"]
        )  # fmt: skip
        if sort == "side by side" and (who is not None or len(self.people) < 2):
            sort = "any order"
        if sort == "side by side":
            return Lanes(tuple((one, self.items(2, depth + 1, one)) for one in self.people))
        if sort in ("any order", "any order, mixed", "in one go"):
            inner = tuple(self._part(sort, depth, who) for _ in range(rng.randint(2, 3)))
            return Block(sort, inner)
        worn = set(self.gloved)
        if sort == "may be left out":
            inner = self.items(2, depth + 1, who)
            self.gloved = worn
            return self._branches(("done", "left out"), (inner, ()), "left out")
        first = self.items(2, depth + 1, who)
        self.gloved, worn_first = worn, self.gloved
        second = self.items(2, depth + 1, who) if sort == "either" or rng.random() < 0.6 else ()
        if rng.random() < 0.5:
            self.gloved = worn_first
        if sort == "either":
            return self._branches(("1", "2"), (first, second), "either")
        name, values = next(iter((FIXED if sort == "where fixed" else DECLARED).items()))
        return Branches(name, values, (first, second))

    def _part(self, sort: str, depth: int, who: str | None) -> Item:
        if sort != "in one go" and self.left > 1 and self.rng.random() < 0.4:
            return Block("in order", self.items(2, depth + 1, who))
        return self.item(depth + 1, who)

    def _branches(
        self, values: tuple[str, ...], ways: tuple[tuple[Item, ...], ...], sort: str
    ) -> Branches:
        name = f"{sort} {len(self.choices)}"
        self.choices[name] = values
        return Branches(name, values, ways)


def waiting(rng: random.Random) -> Written:
    """A checklist of four to seven steps, many of which are waits."""
    return checklist(rng, _WAITING)


def checklist(
    rng: random.Random, verbs: Sequence[tuple[int, str, tuple[str, ...]]] = _VERBS
) -> Written:
    """A checklist of four to seven steps."""
    people = ("operator",) if rng.random() < 0.35 else STAFF
    maker = _Maker(rng, people, rng.randint(4, 7), verbs=verbs)
    phases: list[tuple[str, tuple[Item, ...]]] = []
    titles = PHASES if rng.random() < 0.6 else PHASES[:1]
    for number, title in enumerate(titles):
        maker.phase = title
        kept = 0 if number + 1 == len(titles) else maker.left // 2
        maker.left -= kept
        inner: list[Item] = []
        while maker.left > 0:
            inner.append(maker.item(0, None))
        maker.left += kept
        if inner:
            phases.append((title, tuple(inner)))
    made = Checklist(tuple(phases), maker.choices, FIXED)
    return written(made)


def branching(rng: random.Random) -> Written:
    """A checklist of a few steps, nearly each of which hangs on a choice: for what one visit leaves
    to the next."""
    maker = _Maker(rng, ("operator",), 9, PHASES[0])
    phases: list[tuple[str, tuple[Item, ...]]] = []
    for title in PHASES[: rng.randint(1, 2)]:
        maker.phase = title
        phases.append((title, tuple(_hanging(rng, maker) for _ in range(rng.randint(1, 3)))))
    return written(Checklist(tuple(phases), maker.choices, FIXED))


def _hanging(rng: random.Random, maker: _Maker) -> Item:
    one, other = (Once((maker._deed(*rng.choice(_LEFT)),)) for _ in range(2))
    match rng.choice(
        ("step", "where", "where", "where fixed", "where fixed", "either", "left out")
    ):
        case "step":
            return one
        case "either":
            return maker._branches(("1", "2"), ((one,), (other,)), "either")
        case "left out":
            return maker._branches(("done", "left out"), ((one,), ()), "left out")
        case sort:
            name, values = next(iter((FIXED if sort == "where fixed" else DECLARED).items()))
            ways = ((one,), (other,) if rng.random() < 0.5 else ())
            return Branches(name, values, ways)


_LEFT = (
    ("places", "operator", "sensor"),
    ("disinfects", "operator", "sensor", "wipe"),
    ("works at", "operator", "phone"),
    ("cleans hands", "operator"),
)


def leaving(rng: random.Random) -> Rule:
    """A rule about what one visit leaves to the next."""
    first = rng.choice((
        Sentence("mouth", ("receptor", "patient")),
        Sentence("places", ("staff", "receptor"), verb=True),
        Sentence("touches", ("staff", "phone")),
    ))  # fmt: skip
    second = rng.choice((
        Sentence("treated", ("receptor", "low")),
        Sentence("disinfects", ("staff", "thing", "wipe"), verb=True),
        Sentence("hands", ("staff",)),
    ))  # fmt: skip
    where = []
    if rng.random() < 0.5:
        where.append(("staffing", rng.choice(("alone", "paired")), rng.random() < 0.5))
    if rng.random() < 0.3:
        where.append(("shielding", rng.choice(("none", "collar")), rng.random() < 0.5))
    phase = rng.choice(PHASES) if rng.random() < 0.2 else None
    return Rule((Asked("after, to the next", (first,), (second,)),), tuple(where), phase)


def written(made: Checklist) -> Written:
    """The text of a checklist, with the line of each deed."""
    lines = [
        'protocol "Small"', "  edition 1", '  takes words from "Small room"', "",
        "choices, each visit", "  staffing: alone, paired", "",
        "choices, fixed for the clinic", "  shielding: none, collar", "",
    ]  # fmt: skip
    at: dict[int, int] = {}
    for title, inner in made.phases:
        lines.append(f'phase "{title}"')
        _write(inner, "  ", lines, at)
        lines.append("")
    return Written(made, "\n".join(lines), at)


def _write(items: Iterable[Item], indent: str, lines: list[str], at: dict[int, int]) -> None:
    deeper = indent + "  "
    for item in items:
        match item:
            case Once(deeds):
                lines.append(f"{indent}[ ] {_line(deeds)}")
                at.update((one.number, len(lines)) for one in deeds)
            case Block(sort, inner):
                lines.append(indent + sort)
                _write(inner, deeper, lines, at)
            case Lanes(lanes):
                lines.append(f"{indent}side by side")
                for who, inner in lanes:
                    lines.append(deeper + who)
                    _write(inner, deeper + "  ", lines, at)
            case Branches(name, values, ways):
                for opening, way in zip(_openings(name, values, ways), ways, strict=True):
                    if way:
                        lines.append(indent + opening)
                        _write(way, deeper, lines, at)


def _openings(name: str, values: tuple[str, ...], ways: tuple[tuple[Item, ...], ...]) -> list[str]:
    if name.startswith("left out"):
        return ["may be left out", ""]
    if name.startswith("either"):
        return ["either", "or"]
    return [f"where {name} is {values[0]}", "otherwise"]


def _line(deeds: Sequence[Deed]) -> str:
    first = list(deeds[0].filled)
    if len(deeds) > 1:
        differs = next(i for i, name in enumerate(first) if deeds[1].filled[i] != name)
        first[differs] = ", ".join(one.filled[differs] for one in deeds)
    return SENTENCES[deeds[0].verb].format(*first)


# --- Rules ---------------------------------------------------------------------------------------

_EVENTS: Sequence[tuple[int, str, tuple[tuple[str, ...], ...]]] = (
    (6, "touches", (("staff", "surface"), ("staff", "thing"), ("staff", "patient"),
                    ("staff", "receptor"), ("staff", "keyboard"), ("helper", "thing"),
                    ("receptor", "surface"), ("receptor", "patient"), ("staff", "box"),
                    ("thing", "patient"), ("operator", "helper"), ("wipe", "surface"))),
    (3, "mouth", (("receptor", "patient"), ("thing", "patient"), ("holder", "patient"))),
    (3, "onto", (("gloves", "staff"), ("gloves", "operator"), ("gloves", "staff"),
                 ("mask", "staff"))),
    (3, "off", (("gloves", "staff"), ("gloves", "helper"), ("thing", "staff"))),
    (5, "hands", (("staff",), ("staff",), ("operator",))),
    (1, "hands to", (("staff", "hand wash"),)),
    (1, "cleaned", (("receptor",), ("surface",), ("thing",))),
    (3, "treated", (("receptor", "intermediate"), ("surface", "low"), ("thing", "intermediate"),
                    ("receptor", "high"), ("receptor", "low"))),
    (1, "thrown", (("gloves",), ("supply",), ("thing",))),
    (1, "thrown into", (("supply", "clinical waste"), ("gloves", "clinical waste"),
                        ("thing", "general waste"))),
    (2, "exposure", (("staff",), ("operator",))),
)  # fmt: skip

_EVENTS_OF_WAITS: Sequence[tuple[int, str, tuple[tuple[str, ...], ...]]] = (
    (2, "waiting", (("staff",), ("operator",))),
    (4, "waiting so long", (("staff", "2"), ("staff", "5"), ("helper", "6"), ("staff", "10"))),
    (3, "waiting for", (("staff", "thing"), ("staff", "box"), ("staff", "surface"))),
)

_OF_VERBS: Sequence[tuple[str, tuple[str, ...]]] = (
    ("cleans hands", ("staff",)),
    ("washes hands", ("staff",)),
    ("washes without a towel", ("staff", "surface")),
    ("puts on", ("staff", "gloves")),
    ("takes off", ("staff", "gloves")),
    ("takes off", ("operator", "gloves")),
    ("changes", ("staff", "gloves")),
    ("works at", ("staff", "surface")),
    ("works at", ("staff", "phone")),
    ("places", ("staff", "receptor")),
    ("disinfects", ("staff", "thing", "wipe")),
    ("goes behind", ("staff",)),
    ("exposes", ("staff", "tube")),
)

FORMS = (
    "always", "never", "before", "before, never", "after", "after, to the end",
    "after, to the next", "between", "between, to the end", "whenever", "at most", "at least",
)  # fmt: skip


def about_waits(rng: random.Random) -> Iterator[Rule]:
    """A rule of every form, about waits among other things."""
    for form in FORMS:
        made = rule(rng, form)
        yield replace(made, ways=tuple(_with_waits(rng, way) for way in made.ways))


def _with_waits(rng: random.Random, way: Asked) -> Asked:
    """The same, with a sentence about a wait beside the others, or in their place."""

    def among(sentences: tuple[Sentence, ...]) -> tuple[Sentence, ...]:
        if not sentences or rng.random() < 0.3:
            return sentences
        _, sort, fillings = rng.choices(
            _EVENTS_OF_WAITS, [often for often, *_ in _EVENTS_OF_WAITS]
        )[0]
        one = Sentence(sort, rng.choice(fillings))
        return (one,) if rng.random() < 0.7 else (one, *sentences)

    return replace(way, first=among(way.first), second=among(way.second), third=among(way.third))


def _sentence(rng: random.Random) -> Sentence:
    if rng.random() < 0.35:
        return Sentence(*rng.choice(_OF_VERBS), verb=True)
    _, sort, fillings = rng.choices(_EVENTS, [often for often, *_ in _EVENTS])[0]
    return Sentence(sort, rng.choice(fillings))


def _sentences(rng: random.Random) -> tuple[Sentence, ...]:
    number = rng.choice((1, 1, 1, 2, 2, 3))
    return tuple(dict.fromkeys(_sentence(rng) for _ in range(number)))


#: Sentences that are often about something: what comes first, and what is not to be done.
_PREPARING = (
    Sentence("hands", ("staff",)),
    Sentence("cleans hands", ("staff",), verb=True),
    Sentence("touches", ("staff", "thing")),
    Sentence("treated", ("thing", "low")),
)
_SPOILING = (
    Sentence("touches", ("staff", "thing")),
    Sentence("touches", ("staff", "surface")),
    Sentence("hands", ("staff",)),
    Sentence("works at", ("staff", "surface"), verb=True),
)


def _asked(rng: random.Random, form: str) -> Asked:
    first, second, third = (_sentences(rng) for _ in range(3))
    if rng.random() < (0.7 if form.startswith("before") or form.endswith("next") else 0.3):
        second = tuple(dict.fromkeys((*rng.sample(_PREPARING, 2), *second)))
    if rng.random() < (0.3 if form.startswith("before") else 0.8):
        third = tuple(dict.fromkeys((*rng.sample(_SPOILING, 2), *third)))
    match form:
        case "always" | "never":
            return Asked(form, first)
        case "before":
            return Asked(form, first, second)
        case "before, never" | "after" | "between":
            return Asked(form, first, second, third)
        case "after, to the end" | "after, to the next":
            return Asked(form, first, second)
        case "between, to the end":
            return Asked(form, first, (), third)
        case "whenever":
            return Asked(form, first, claim=rng.choice(list(CLAIMS)))
        case _:
            return Asked(form, first, number=rng.choice((1, 1, 1, 2, 3)))


def rule(rng: random.Random, form: str) -> Rule:
    """A rule of that form, or with several ways of which the first is of that form."""
    ways = [_asked(rng, form)]
    if rng.random() < 0.15:
        ways += [_asked(rng, rng.choice(FORMS)) for _ in range(rng.randint(1, 2))]
    where = []
    if rng.random() < 0.3:
        where.append(("staffing", rng.choice(("alone", "paired")), rng.random() < 0.5))
    if rng.random() < 0.15:
        where.append(("shielding", rng.choice(("none", "collar")), rng.random() < 0.5))
    return Rule(
        tuple(ways),
        tuple(where),
        rng.choice(PHASES) if rng.random() < 0.2 else None,
        tuple(rng.sample(("helper", "phone", "wipe", "glove box", "sensor"), rng.randint(1, 2)))
        if rng.random() < 0.2
        else (),
        rng.choice(("receptor", "surface", "holder", "box")) if rng.random() < 0.25 else None,
    )


def rules(rng: random.Random, times: int = 1) -> Iterator[Rule]:
    """``times`` rules of every form."""
    for _ in range(times):
        for form in FORMS:
            yield rule(rng, form)


def book(some: Iterable[Rule]) -> str:
    """A file of rules."""
    head = 'rules "Random"\n  edition 1\n  takes words from "Small room"\n\n'
    return head + "\n".join(one.text(f"rule {number}") for number, one in enumerate(some))
