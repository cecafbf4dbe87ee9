"""What rooms and words say of what a protocol uses: what is declared otherwise now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

from protocol_lang.compare.steps import told_condition
from protocol_lang.comparison import Change
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.model.conditions import (
    AnyWhere,
    ChoiceIs,
    EveryWhere,
    NotWhere,
    StateIs,
)
from protocol_lang.model.running import NEXT
from protocol_lang.model.steps import Doing
from protocol_lang.model.verbs import Verb
from protocol_lang.text import Place

#: Stands where something is declared of which nothing more needs to be said.
DECLARED = "declared"

_CONDITIONS = ChoiceIs | StateIs | NotWhere | EveryWhere | AnyWhere


def declared(old: Unfolded, new: Unfolded) -> tuple[Change, ...]:
    """Things, people, verbs, levels, floors, products and more that are declared otherwise."""
    return tuple(change for sort in _SORTS for change in _of_sort(sort, old, new))


def _of_sort(sort: str, old: Unfolded, new: Unfolded) -> Iterator[Change]:
    was, is_now = _SORTS[sort](old), _SORTS[sort](new)
    for name in dict.fromkeys((*was, *is_now)):
        before, after = was.get(name), is_now.get(name)
        if before is None or after is None:
            # A verb, a thing or a fact that only one edition uses is told by the steps that use it.
            if sort not in ("verb", "thing", "fact"):
                yield Change(
                    sort,
                    name,
                    None if before is None else DECLARED,
                    None if after is None else DECLARED,
                )
        elif sort == "verb":
            if _bare(before) != _bare(after):
                yield Change(sort, name, DECLARED, DECLARED)
        else:
            yield from _fields(sort, name, before, after)


def _fields(sort: str, name: str, before: Any, after: Any) -> Iterator[Change]:
    for field in fields(before):
        if field.name == "place":
            continue
        one, other = getattr(before, field.name), getattr(after, field.name)
        if _bare(one) != _bare(other):
            yield Change(sort, f"{name}: {field.name}", _words(one), _words(other))


def _things(unfolded: Unfolded) -> Mapping[str, Any]:
    used = {piece.kind for piece in unfolded.plan.pieces}
    used |= {name for note in unfolded.acts for names in note.filled.values() for name in names}
    things = unfolded.protocol.things
    return {name: things[name] for name in things if name in used and not name.endswith(NEXT)}


def _streams(unfolded: Unfolded) -> Mapping[str, Any]:
    used = {thing.stream for thing in _things(unfolded).values()}
    return {name: one for name, one in unfolded.protocol.streams.items() if name in used}


def _products(unfolded: Unfolded) -> Mapping[str, Any]:
    used = {thing.product for thing in _things(unfolded).values()}
    return {name: one for name, one in unfolded.protocol.products.items() if name in used}


def _verbs(unfolded: Unfolded) -> Mapping[str, Verb]:
    verbs = (step.does.verb for step in unfolded.steps if isinstance(step.does, Doing))
    # What is found out is done by a verb without a sentence of its own.
    return {verb.frames[0].text: verb for verb in verbs if verb.frames}


def _floors(unfolded: Unfolded) -> Mapping[str, Any]:
    found: dict[str, Any] = {}
    for floor in unfolded.protocol.floors:
        where = "" if floor.where is None else f" where {told_condition(floor.where)}"
        found[f"{', '.join(sorted(floor.traits))}{where}"] = floor
    return found


def _people(unfolded: Unfolded) -> Mapping[str, Any]:
    people = unfolded.protocol.people
    return {name: one for name, one in people.items() if not one.second}


def _named(items: Iterable[Any]) -> Mapping[str, Any]:
    return {item.name: item for item in items}


_SORTS: Mapping[str, Any] = {
    "thing": _things,
    "person": _people,
    "part of a person": lambda one: _named(one.protocol.body_parts),
    "place": lambda one: one.protocol.places,
    "waste stream": _streams,
    "product": _products,
    "level": lambda one: one.protocol.levels,
    "floor": _floors,
    "kind of germ": lambda one: _named(one.protocol.germs),
    "duty": lambda one: _named(one.protocol.duties),
    "fact": lambda one: one.protocol.facts,
    "verb": _verbs,
    "exposure setting": lambda one: one.protocol.exposures,
    "call": lambda one: one.protocol.calls,
    "air": lambda one: {} if one.protocol.air is None else {"air": one.protocol.air},
}


def _bare(value: Any) -> Any:
    """The value without places in files, and with sets in an order of their own."""
    if isinstance(value, Place):
        return None
    if is_dataclass(value) and not isinstance(value, type):
        inner = tuple(_bare(getattr(value, field.name)) for field in fields(value))
        return (type(value).__name__, inner)
    if isinstance(value, Mapping):
        return tuple(sorted((str(key), _bare(one)) for key, one in value.items()))
    if isinstance(value, frozenset | set):
        return tuple(sorted(map(str, value)))
    if isinstance(value, list | tuple):
        return tuple(map(_bare, value))
    return value


def _words(value: Any) -> str | None:
    """A value in words; None for nothing."""
    match value:
        case None | () | "":
            return None
        case bool():
            return "yes" if value else "no"
        case Enum():
            return str(value.value)
        case frozenset():
            return ", ".join(sorted(map(str, value))) or None
        case tuple():
            return ", ".join(filter(None, map(_words, value))) or None
        case _ if isinstance(value, _CONDITIONS):
            return told_condition(value)
        case _ if is_dataclass(value) and hasattr(value, "name"):
            return str(value.name)
        case _:
            return str(value)
