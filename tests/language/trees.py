"""Trees of whole files at random, with comments and blank lines in every gap."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any, TypeVar

from hypothesis import strategies as st

from protocol_lang.language import tree
from protocol_lang.language.tree import BLANK, Remarks, Words
from protocol_lang.text import Place

HERE = Place("f", 1, 1, 2)
Draw = Callable[[st.SearchStrategy[Any]], Any]
Made = TypeVar("Made")

# Words that no line of the language is opened or joined by.
_WORDS = (
    "zorg", "Mull", "x-ray", "operator's", "no.5", "हाथ", "غسل", "ידיים", "2", "室", "é", "o'clock",
    '"wrap with tape"', '"is, and: or; not # to"', '"a b"\'s',
)  # fmt: skip
#: Words that join in some lines and may stand in a name in others.
_SMALL = ("of", "with", "to", "from", "by", "is", "and", "or", "on", "into", "not", "where", "then")


def words(text: str) -> Words:
    return Words(text, HERE)


def _joined(parts: Sequence[str]) -> Words:
    return words(" ".join(parts))


names = st.lists(st.sampled_from(_WORDS), min_size=1, max_size=3).map(_joined)
sentences = st.builds(
    lambda first, rest: _joined([first, *rest]),
    st.sampled_from([word for word in _WORDS if '"' not in word]),
    st.lists(st.sampled_from(_WORDS + _SMALL), max_size=5),
)
labels = st.lists(
    st.sampled_from([word for word in _WORDS if '"' not in word] + ["where", "note", "after"]),
    min_size=1, max_size=4,
).map(_joined)  # fmt: skip
_QUOTED = (*(word for word in _WORDS if '"' not in word), *_SMALL, "#", "a:", "“x”")
quoted = st.lists(st.sampled_from(_QUOTED), min_size=1, max_size=5).map(_joined)
comment_texts = st.one_of(
    st.sampled_from(["", "a comment", '" half a quote', "# twice", "  set in", 'phase "x"', "! x"]),
    sentences.map(lambda made: made.text),
)
name_lists = st.lists(names, min_size=1, max_size=3).map(tuple)
days = st.dates(date(1900, 1, 1), date(2999, 12, 31))
numbers = st.integers(0, 999_999_999)


def _comments(draw: Draw, first: bool) -> tuple[str, ...]:
    """Comments above a line: no two blank lines in a row, none at the start of a block."""
    made: list[str] = []
    for text in draw(st.lists(st.one_of(st.just(BLANK), comment_texts), max_size=3)):
        if text != BLANK or (made[-1:] != [BLANK] and (made or not first)):
            made.append(text)
    return tuple(made)


def _remarks(draw: Draw, first: bool) -> Remarks:
    return Remarks(_comments(draw, first), draw(st.none() | comment_texts))


def _end(draw: Draw, lines: Sequence[object], first: bool = False) -> tuple[str, ...]:
    """Comments after the last of some lines: there must be lines for them to stand after."""
    made = list(_comments(draw, first)) if lines else []
    while made and made[-1] == BLANK:
        made.pop()
    return tuple(made)


def _several(
    draw: Draw,
    make: Callable[[Draw, bool], Made],
    least: int = 1,
    most: int = 3,
    first: bool = True,
) -> tuple[Made, ...]:
    """Lines of a block; ``first``: the first of them is the first of the block."""
    count = draw(st.integers(least, most))
    return tuple(make(draw, first and position == 0) for position in range(count))


# --- Claims and conditions -----------------------------------------------------------------------


def _choice_is(draw: Draw, **more: Any) -> tree.ChoiceIs:
    return tree.ChoiceIs(
        choice=draw(names), value=draw(names), negated=draw(st.booleans()),
        plural=draw(st.booleans()), place=HERE, **more,
    )  # fmt: skip


def _inline_condition(draw: Draw, **more: Any) -> tree.Condition:
    count = draw(st.integers(1, 3))
    if count == 1:
        return _choice_is(draw, **more)
    parts = tuple(_choice_is(draw) for _ in range(count))
    return tree.Joined(every=draw(st.booleans()), parts=parts, place=HERE, **more)


def _spread_condition(draw: Draw, depth: int, **more: Any) -> tree.Joined:
    def part(draw: Draw, first: bool) -> tree.Condition:
        remarks = _remarks(draw, first)
        if depth and draw(st.integers(0, 3)) == 0:
            inner = _spread_condition(draw, depth - 1, remarks=remarks)
            return tree.Joined(
                every=inner.every, parts=inner.parts, spread=True, remarks=remarks,
                end=_end(draw, inner.parts), place=HERE,
            )  # fmt: skip
        return _inline_condition(draw, remarks=remarks)

    parts = _several(draw, part)
    return tree.Joined(every=draw(st.booleans()), parts=parts, spread=True, place=HERE, **more)


def _condition(draw: Draw) -> tree.Condition:
    if draw(st.booleans()):
        return _inline_condition(draw)
    return _spread_condition(draw, 2)


def _said(draw: Draw, **more: Any) -> tree.Claim:
    both = {"negated": draw(st.booleans()), "plural": draw(st.booleans()), "place": HERE, **more}
    what = draw(names)
    match draw(st.integers(0, 6)):
        case 0:
            return tree.Covered(what=what, cover=draw(st.none() | names), **both)
        case 1:
            return tree.Bare(what=what, **both)
        case 2:
            return tree.Dry(what=what, **both)
        case 3:
            return tree.Clean(what=what, of_others=draw(st.booleans()), **both)
        case 4:
            return tree.Wears(who=what, cover=draw(names), **both)
        case 5:
            return tree.FactIs(what=what, fact=draw(names), since=draw(st.none() | names), **both)
        case _:
            since = draw(st.none() | names)
            return tree.FactIs(what=None, fact=what, since=since, **{**both, "plural": False})


def _inline_claim(draw: Draw, **more: Any) -> tree.Claim:
    count = draw(st.integers(1, 3))
    if count == 1:
        return _said(draw, **more)
    parts = tuple(_said(draw) for _ in range(count))
    return tree.JoinedClaims(
        every=draw(st.booleans()), parts=parts, words=words("not compared"), place=HERE, **more
    )


def _spread_claim(draw: Draw, depth: int, **more: Any) -> tree.JoinedClaims:
    def part(draw: Draw, first: bool) -> tree.Claim:
        remarks = _remarks(draw, first)
        if depth and draw(st.integers(0, 3)) == 0:
            inner = _spread_claim(draw, depth - 1)
            return tree.JoinedClaims(
                every=inner.every, parts=inner.parts, spread=True, remarks=remarks,
                end=_end(draw, inner.parts), place=HERE,
            )  # fmt: skip
        return _inline_claim(draw, remarks=remarks)

    parts = _several(draw, part)
    return tree.JoinedClaims(
        every=draw(st.booleans()), parts=parts, spread=True, place=HERE, **more
    )


def _only_when(draw: Draw, first: bool) -> tree.OnlyWhen:
    remarks = _remarks(draw, first)
    if draw(st.booleans()):
        return tree.OnlyWhen(claim=_inline_claim(draw), remarks=remarks, place=HERE)
    claim = _spread_claim(draw, 2)
    return tree.OnlyWhen(claim=claim, remarks=remarks, end=_end(draw, claim.parts), place=HERE)


# --- The checklist -------------------------------------------------------------------------------


def _remark(draw: Draw, first: bool) -> tree.Note | tree.Source:
    kind = draw(st.sampled_from((tree.Note, tree.Source)))
    made: tree.Note | tree.Source = kind(
        text=draw(quoted), remarks=_remarks(draw, first), place=HERE
    )
    return made


def _sets(draw: Draw, first: bool) -> tree.Sets:
    return tree.Sets(
        fact=draw(sentences), value=draw(st.booleans()), remarks=_remarks(draw, first), place=HERE
    )


def _lasts(draw: Draw, first: bool) -> tree.Lasts:
    amounts = st.integers(1, 99).map(lambda one: Words(str(one), HERE))
    return tree.Lasts(
        least=draw(amounts), most=draw(st.none() | amounts), minutes=draw(st.booleans()),
        remarks=_remarks(draw, first), place=HERE,
    )  # fmt: skip


def _step_line(draw: Draw, first: bool) -> Any:
    match draw(st.integers(0, 3)):
        case 0:
            return _only_when(draw, first)
        case 1:
            return _remark(draw, first)
        case 2:
            return _sets(draw, first)
        case _:
            return tree.After(labels=draw(name_lists), remarks=_remarks(draw, first), place=HERE)


def _step(draw: Draw, first: bool) -> tree.Step:
    lines = _several(draw, _step_line, least=0, most=2)
    if draw(st.booleans()):
        short = tree.Short(text=draw(quoted), remarks=_remarks(draw, not lines), place=HERE)
        lines = (*lines, short)
    if draw(st.integers(0, 3)) == 0:
        lines = (*lines, _lasts(draw, not lines))
    label: Words | None = None
    does: Words | tree.Say = draw(sentences)
    match draw(st.integers(0, 2)):
        case 0:
            label = draw(labels)
        case 1:
            does = tree.Say(text=draw(sentences), place=HERE)
    return tree.Step(
        label=label, does=does, lines=lines, remarks=_remarks(draw, first),
        end=_end(draw, lines), place=HERE,
    )  # fmt: skip


def _item(depth: int) -> Callable[[Draw, bool], tree.Item]:
    def make(draw: Draw, first: bool) -> tree.Item:
        kind = draw(st.integers(0, 7)) if depth else 0
        if kind < 3:
            return _step(draw, first)
        if kind == 3:
            return _where(draw, first, depth)
        remarks = _remarks(draw, first)
        if kind == 4:
            lanes = _several(draw, _lane(depth - 1))
            return tree.SideBySide(lanes=lanes, remarks=remarks, end=_end(draw, lanes), place=HERE)
        items = _several(draw, _item(depth - 1))
        more: dict[str, Any] = {"remarks": remarks, "end": _end(draw, items), "place": HERE}
        if kind == 5:
            return tree.InOrder(items=items, **more)
        if kind == 6:
            return tree.InOneGo(items=items, **more)
        return tree.AnyOrder(items=items, mixed=draw(st.booleans()), **more)

    return make


def _lane(depth: int) -> Callable[[Draw, bool], tree.Lane]:
    def make(draw: Draw, first: bool) -> tree.Lane:
        remarks = _remarks(draw, first)
        items = _several(draw, _item(depth))
        return tree.Lane(
            person=draw(names), items=items, remarks=remarks, end=_end(draw, items), place=HERE
        )

    return make


def _where(draw: Draw, first: bool, depth: int) -> tree.Where:
    count = draw(st.integers(1, 3))
    branches = []
    for position in range(count):
        remarks = _remarks(draw, first and position == 0)
        last = position and position == count - 1 and draw(st.booleans())
        condition = None if last else _condition(draw)
        spread = isinstance(condition, tree.Joined) and condition.spread
        items = _several(draw, _item(depth - 1), first=not spread)
        branches.append(
            tree.Branch(
                condition=condition,
                items=items,
                remarks=remarks,
                end=_end(draw, items),
                place=HERE,
            )
        )
    return tree.Where(branches=tuple(branches), place=HERE)


def _phase(draw: Draw, remarks: Remarks) -> tree.Phase:
    lines: tuple[tree.Note | tree.Source | tree.RunsOn, ...] = _several(
        draw, _remark, least=0, most=2
    )
    if draw(st.booleans()):
        lines = (*lines, tree.RunsOn(remarks=_remarks(draw, not lines), place=HERE))
    items = _several(draw, _item(3), first=not lines)
    return tree.Phase(
        title=draw(quoted), lines=lines, items=items, remarks=remarks,
        end=_end(draw, items), place=HERE,
    )  # fmt: skip


# --- Other sections ------------------------------------------------------------------------------


def _block(
    node: Callable[..., Made],
    line: Callable[[Draw, bool], object],
    /,
    **strategies: Any,
) -> Callable[[Draw, Remarks], Made]:
    """A section of lines that are all of one sort; ``strategies`` for what its heading tells."""

    def make(draw: Draw, remarks: Remarks) -> Made:
        told = {name: draw(strategy) for name, strategy in strategies.items()}
        condition = told.get("condition")
        spread = isinstance(condition, tree.Joined) and condition.spread
        lines = _several(draw, line, first=not spread)
        return node(lines=lines, remarks=remarks, end=_end(draw, lines), place=HERE, **told)

    return make


def _leaf(node: Callable[..., Made], /, **strategies: Any) -> Callable[[Draw, bool], Made]:
    def make(draw: Draw, first: bool) -> Made:
        told = {name: draw(strategy) for name, strategy in strategies.items()}
        return node(remarks=_remarks(draw, first), place=HERE, **told)

    return make


def _with_remarks(node: Callable[..., Made], /, **strategies: Any) -> Callable[[Draw, bool], Made]:
    """A line that may have notes and sources under it."""

    def make(draw: Draw, first: bool) -> Made:
        lines = _several(draw, _remark, least=0, most=2)
        told = {name: draw(strategy) for name, strategy in strategies.items()}
        return node(
            lines=lines, remarks=_remarks(draw, first), end=_end(draw, lines), place=HERE, **told
        )

    return make


_germ_level = _with_remarks(
    tree.LevelLine,
    name=names,
    acts_on=st.sampled_from(("rinsed soil", "traces", "all soil")),
    ends=st.none() | name_lists,
)
_rinsing_level = _with_remarks(
    tree.LevelLine, name=names, acts_on=st.just("chemicals"), ends=st.just(())
)


def _level_line(draw: Draw, first: bool) -> tree.LevelLine:
    return (_rinsing_level if draw(st.booleans()) else _germ_level)(draw, first)


def _begins_line(draw: Draw, first: bool) -> tree.BeginsLine:
    kind = draw(st.sampled_from(("covered", "wears", "bare", "used")))
    plural = draw(st.booleans())
    if kind in ("bare", "used"):
        node = tree.Bare if kind == "bare" else tree.FoundUsed
        return tree.BeginsLine(
            claim=node(what=draw(names), plural=plural, place=HERE),
            remarks=_remarks(draw, first),
            place=HERE,
        )
    claim: tree.Covered | tree.Wears = (
        tree.Covered(what=draw(names), cover=draw(names), plural=plural, place=HERE)
        if kind == "covered"
        else tree.Wears(who=draw(names), cover=draw(names), plural=plural, place=HERE)
    )
    if isinstance(claim, tree.Wears) and draw(st.booleans()):
        claim = tree.Wears(
            who=claim.who, cover=claim.cover, negated=True, plural=plural, place=HERE
        )
    return tree.BeginsLine(
        claim=claim, used=draw(st.booleans()), remarks=_remarks(draw, first), place=HERE
    )


def _leaves_line(draw: Draw, first: bool) -> tree.LeavesLine:
    remarks = _remarks(draw, first)
    if draw(st.booleans()):
        return tree.LeavesLine(claim=_inline_claim(draw), remarks=remarks, place=HERE)
    claim = _spread_claim(draw, 1)
    ended = tree.JoinedClaims(
        every=claim.every, parts=claim.parts, spread=True, end=_end(draw, claim.parts), place=HERE
    )
    return tree.LeavesLine(claim=ended, remarks=remarks, place=HERE)


def _traits(draw: Draw) -> tuple[tree.ThingTrait, ...]:
    def name() -> Words:
        made: Words = draw(names)
        return made

    def some() -> tuple[Words, ...]:
        made: tuple[Words, ...] = draw(name_lists)
        return made

    def flag(what: Any) -> tree.Trait:
        return tree.Trait(what=what, place=HERE)

    makers: list[Callable[[], tree.ThingTrait]] = [
        lambda: tree.Has(
            parts=tuple(tree.HasPart(name=part, place=HERE) for part in some()),
            place=HERE,
        ),
        lambda: tree.TakesCover(
            covers=tuple(
                tree.CoverTaken(cover=cover, on=draw(st.just(()) | name_lists), place=HERE)
                for cover in some()
            ),
            place=HERE,
        ),
        lambda: tree.StartsCovered(cover=name(), place=HERE),
        lambda: tree.StartsAs(
            how=draw(st.sampled_from(("kept clean", "everyday", "dirty", "chemical"))), place=HERE
        ),
        lambda: flag("used once"),
        lambda: flag("leaks"),
        lambda: flag("goes in the mouth"),
        lambda: flag("keeps out germs of the air"),
        lambda: flag(draw(st.sampled_from(("heat safe", "not heat safe")))),
        lambda: flag("always sleeved in the mouth"),
        lambda: tree.LetsThrough(names=some(), place=HERE),
        lambda: tree.WornOn(part=name(), over=draw(st.none() | names), place=HERE),
        lambda: (
            tree.From(box=name(), place=HERE)
            if draw(st.booleans())
            else tree.LaidOut(surface=name(), box=name(), place=HERE)
        ),
        lambda: tree.GoesTo(stream=name(), place=HERE),
        lambda: tree.StandsIn(where=name(), place=HERE),
        lambda: tree.TreatsTo(level=name(), place=HERE),
        lambda: tree.StaysWet(minutes=draw(numbers), place=HERE),
    ]
    chosen = draw(st.permutations(makers))[: draw(st.integers(0, 5))]
    return tuple(make() for make in chosen)


def _thing_line(draw: Draw, first: bool) -> tree.ThingLine:
    return tree.ThingLine(
        names=draw(name_lists), kind=draw(names), traits=_traits(draw),
        remarks=_remarks(draw, first), place=HERE,
    )  # fmt: skip


def _verb_line(draw: Draw, first: bool) -> Any:
    if draw(st.integers(0, 4)) == 0:
        return _only_when(draw, first)
    more: dict[str, Any] = {"remarks": _remarks(draw, first), "place": HERE}
    match draw(st.integers(0, 17)):
        case 0:
            return tree.Also(form=draw(sentences), **more)
        case 1:
            return tree.AllowedWhile(fact=draw(sentences), **more)
        case 2:
            return tree.Take(what=draw(names), hands=draw(names), **more)
        case 3:
            return tree.LayOut(what=draw(names), hands=draw(names), **more)
        case 4:
            how = draw(st.sampled_from(({}, {"trace": True}, {"may": True})))
            return tree.Meet(what=draw(name_lists), **how, **more)
        case 5:
            return tree.Pass(
                sources=draw(name_lists), goals=draw(name_lists), trace=draw(st.booleans()), **more
            )
        case 6:
            return tree.Cover(what=draw(names), cover=draw(names), **more)
        case 7:
            return tree.Uncover(what=draw(names), cover=draw(names), **more)
        case 8:
            return tree.Wash(what=draw(name_lists), **more)
        case 9:
            return tree.Reduce(what=draw(name_lists), product=draw(names), **more)
        case 10:
            return tree.Reduce(
                what=draw(name_lists), level=draw(names), through=draw(st.none() | names), **more
            )
        case 11:
            return tree.Retire(what=draw(names), stream=draw(st.none() | names), **more)
        case 12:
            return _sets(draw, first)
        case 13:
            return tree.NoContact(**more)
        case 14:
            return tree.Tear(cover=draw(names), what=draw(names), **more)
        case 15:
            return tree.Moves(who=draw(names), to=draw(st.none() | names), **more)
        case 16:
            return tree.Exposure(who=draw(sentences), **more)
        case _:
            return _remark(draw, first)


def _verb(draw: Draw, remarks: Remarks) -> tree.Verb:
    lines = _several(draw, _verb_line, least=0, most=5)
    return tree.Verb(
        form=draw(sentences), lines=lines, remarks=remarks, end=_end(draw, lines), place=HERE
    )


def _duty(draw: Draw, remarks: Remarks) -> tree.Duty:
    binds = tree.While(
        fact=draw(names), part=draw(names), plural=draw(st.booleans()),
        remarks=_remarks(draw, True), place=HERE,
    )  # fmt: skip
    lines = (binds, *_several(draw, _remark, least=0, most=2, first=False))
    return tree.Duty(
        title=draw(quoted), lines=lines, remarks=remarks, end=_end(draw, lines), place=HERE
    )


_amounts = st.sampled_from(("0", "1", "2.5", "90", "123456.125")).map(words)
_standings = st.lists(
    st.one_of(
        st.builds(
            lambda amount, unit: tree.Amount(amount=amount, unit=unit, place=HERE),
            _amounts,
            st.sampled_from(("m from the patient", "degrees from the beam", "air changes an hour")),
        ),
        st.just(tree.Standing(what="barrier", place=HERE)),
        st.just(tree.Standing(what="dirty side", place=HERE)),
        st.just(tree.Standing(what="patient in view", place=HERE)),
    ),
    max_size=4,
    unique_by=lambda trait: getattr(trait, "unit", None) or getattr(trait, "what", None),
).map(tuple)


def _air_line(draw: Draw, first: bool) -> tree.Carries | tree.Amount:
    more: dict[str, Any] = {"remarks": _remarks(draw, first), "place": HERE}
    match draw(st.integers(0, 2)):
        case 0:
            return tree.Carries(condition=draw(_conditions), **more)
        case 1:
            return tree.Amount(amount=draw(_amounts), unit="percent", **more)
        case _:
            return tree.Amount(amount=draw(_amounts), unit="mixing factor", **more)


_conditions = st.none() | st.composite(lambda draw: _condition(draw))()

SECTIONS: tuple[Callable[[Draw, Remarks], tree.Section], ...] = (
    _phase,
    _block(
        tree.Choices, _leaf(tree.ChoiceLine, name=names, values=name_lists), fixed=st.booleans()
    ),
    _block(tree.BeginsWith, _begins_line),
    _block(tree.Leaves, _leaves_line),
    _block(tree.Kinds, _leaf(tree.NamesLine, names=name_lists)),
    _block(
        tree.Parts,
        _leaf(
            tree.PartLine,
            name=names,
            counts=st.sampled_from(("mouth", "skin", "face", "clothes", "near the face")),
            unclean=st.booleans(),
            full_of=st.sampled_from((None, "saliva", "blood", "body fluid")),
        ),
        of=st.sampled_from(("staff", "patient", "companion")),
    ),
    _block(
        tree.Facts,
        _leaf(tree.FactLine, name=names, lasting=st.booleans()),
        of=st.sampled_from(("visit", "person", "thing", "place")),
    ),
    _duty,
    _verb,
    _block(tree.Germs, _leaf(tree.NamesLine, names=name_lists)),
    _block(tree.Levels, _level_line),
    _block(
        tree.Floors,
        _with_remarks(tree.FloorLine, traits=name_lists, level=names),
        condition=_conditions,
    ),
    _block(
        tree.People,
        _leaf(
            tree.PersonLine,
            names=name_lists,
            kind=st.sampled_from(("staff", "patient", "companion")),
            starts_in=st.none() | names,
            stays=st.booleans(),
        ),
    ),
    _block(tree.Places, _leaf(tree.PlaceLine, names=name_lists, traits=_standings)),
    _block(tree.Air, _air_line),
    _block(tree.Streams, _leaf(tree.StreamLine, name=names, note=st.none() | sentences)),
    _block(tree.Things, _thing_line, heading=st.sampled_from(("surfaces", "boxes", "things"))),
    _block(tree.Groups, _leaf(tree.GroupLine, name=names, members=name_lists)),
    _block(
        tree.ExposureSettings,
        _leaf(
            tree.ExposureLine,
            of=name_lists,
            values=st.lists(
                st.builds(tree.SetTo, amount=_amounts, unit=names, place=st.just(HERE)),
                min_size=1,
                max_size=3,
            ).map(tuple),
        ),
    ),
    _block(tree.WhomToCall, _leaf(tree.CallLine, name=names, how=sentences)),
    _block(
        tree.Figures, _leaf(tree.FigureLine, name=names, amount=_amounts, unit=st.none() | names)
    ),
)


# --- Rules ---------------------------------------------------------------------------------------


def _rule_line(draw: Draw, rule: str, text: str, first: bool, **told: Any) -> tree.RuleLine:
    remarks = told.pop("remarks", None) or _remarks(draw, first)
    return tree.RuleLine(
        rule=f"rule_{rule}", words=words(text), remarks=remarks, place=HERE, **told
    )


def _counts_as_well(draw: Draw, first: bool) -> tree.RuleLine:
    sentence = draw(sentences)
    return _rule_line(draw, "or", f"or {sentence.text}", first, sentence=sentence)


#: Lines with a sentence, by their opening words.
_WITH_SENTENCE = (
    ("always", "always", None), ("never", "never", None), ("never", "but never", "BUT_NEVER"),
    ("before", "before", None), ("after", "after", None), ("comes", "comes", None),
    ("until", "until", None), ("whenever", "whenever", None),
)  # fmt: skip


def _said_in_a_rule(draw: Draw, first: bool) -> tree.RuleLine:
    rule, opening, word = draw(st.sampled_from(_WITH_SENTENCE))
    sentence = draw(sentences)
    others = _several(draw, _counts_as_well, least=0, most=2)
    return _rule_line(
        draw, rule, f"{opening} {sentence.text}", first,
        word=word, sentence=sentence, lines=others, end=_end(draw, others),
    )  # fmt: skip


def _told_in_a_rule(draw: Draw, first: bool) -> tree.RuleLine:
    title, name, sentence = draw(quoted), draw(names), draw(sentences)
    number = words(str(draw(st.integers(0, 999))))
    remarks = _remarks(draw, first)
    condition = _inline_condition(draw)
    lines: dict[str, tuple[str, str, dict[str, Any]]] = {
        "strength": ("strength", "must", {"word": "MUST"}),
        "because": ("because", f'because "{title.plain}"', {"quoted": (title,)}),
        "where": ("where", f"where {_condition_text(condition)}", {"condition": condition}),
        "phase": ("in_phase", f'only in phase "{title.plain}"', {"quoted": (title,)}),
        "for": ("for", f"for {name.text}", {"names": (name,)}),
        "but": ("but", f"but not {name.text}", {"names": (name,)}),
        "most": (
            "at_most", f"at most {number.text} times {sentence.text}",
            {"word": "AT_MOST", "number": number, "sentence": sentence},
        ),
        "days": (
            "every_days", f"at least every {number.text} days {sentence.text}",
            {"number": number, "sentence": sentence},
        ),
        "header": ("header", f"the header says {name.text}", {"names": (name,)}),
        "depends": (
            "no_treatment", f"no treatment depends on {name.text}", {"names": (name,)}
        ),
        "marked": (
            "marked", f'goes into what is marked "{title.plain}"', {"quoted": (title,)}
        ),
        "other": (
            "other", f'loosens "{title.plain}" of "{title.plain}"',
            {"word": "LOOSENS", "quoted": (title, title)},
        ),
    }  # fmt: skip
    rule, text, told = lines[draw(st.sampled_from(sorted(lines)))]
    return _rule_line(draw, rule, text, first, remarks=remarks, **told)


def _condition_text(condition: tree.Condition) -> str:
    parts = condition.parts if isinstance(condition, tree.Joined) else (condition,)
    joint = " and " if not isinstance(condition, tree.Joined) or condition.every else " or "
    said = []
    for part in parts:
        assert isinstance(part, tree.ChoiceIs)
        verb = ("are" if part.plural else "is") + (" not" if part.negated else "")
        said.append(f"{part.choice.text} {verb} {part.value.text}")
    return joint.join(said)


def _example(draw: Draw, first: bool) -> tree.RuleLine:
    rule, text = draw(st.sampled_from((("good", "good example"), ("faulty", "faulty example"))))
    items = _several(draw, _item(1))
    return _rule_line(draw, rule, text, first, items=items, end=_end(draw, items))


def _way(draw: Draw, first: bool) -> tree.RuleLine:
    lines = _several(draw, _said_in_a_rule)
    return _rule_line(draw, "either", "either", first, lines=lines, end=_end(draw, lines))


def _under_rule(draw: Draw, first: bool) -> tree.RuleLine:
    makers = (_said_in_a_rule, _told_in_a_rule, _example, _way)
    made: tree.RuleLine = draw(st.sampled_from(makers))(draw, first)
    return made


RULES: tuple[Callable[[Draw, Remarks], tree.Section], ...] = (
    _block(tree.Settings, _leaf(tree.ChoiceLine, name=names, values=name_lists)),
    _block(tree.Rule, _under_rule, title=quoted),
)


def _header(draw: Draw) -> tuple[tree.HeaderLine, ...]:
    made: list[tree.HeaderLine] = []
    kinds = draw(st.permutations(range(9)))[: draw(st.integers(0, 4))]
    for kind in kinds:
        more: dict[str, Any] = {"remarks": _remarks(draw, not made), "place": HERE}
        match kind:
            case 0:
                made.append(tree.Edition(number=draw(numbers), **more))
            case 1:
                made.append(tree.InForce(day=draw(days), **more))
            case 2:
                made.append(tree.ReviewBy(day=draw(days), **more))
            case 3:
                made.append(tree.Owner(who=draw(sentences), **more))
            case 4:
                titles = tuple(draw(st.lists(quoted, min_size=1, max_size=3)))
                made.append(tree.TakesWords(titles=titles, **more))
            case 5:
                made.append(tree.Then(title=draw(quoted), **more))
            case 6:
                made.append(tree.Follows(**more))
            case 7:
                made.append(tree.Source(text=draw(quoted), **more))
            case _:
                made.append(tree.Note(text=draw(quoted), **more))
    return tuple(made)


@st.composite
def files(draw: Draw) -> tree.File:
    """A whole file without faults."""
    header = _header(draw)
    makers = draw(st.lists(st.sampled_from(SECTIONS), max_size=4))
    sections = tuple(make(draw, _remarks(draw, True)) for make in makers)
    title: Words = draw(quoted)
    return tree.File(
        kind="protocol",
        title=title,
        header=header,
        sections=sections,
        closing=_end(draw, [title], first=True),
        remarks=_remarks(draw, True),
        end=_end(draw, header),
        place=HERE,
    )


@st.composite
def files_of_rules(draw: Draw) -> tree.File:
    """A whole file of rules without faults in its lines."""
    makers = draw(st.lists(st.sampled_from(RULES), max_size=4))
    sections = tuple(make(draw, _remarks(draw, True)) for make in makers)
    title: Words = draw(quoted)
    return tree.File(
        kind="rules",
        title=title,
        sections=sections,
        closing=_end(draw, [title], first=True),
        remarks=_remarks(draw, True),
        place=HERE,
    )
