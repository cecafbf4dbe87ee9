"""Changes to a checklist: steps put in or replaced, and how an author would write them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from protocol_lang.findings import Remedy
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import (
    AnyOrder,
    InOneGo,
    InOrder,
    Item,
    Step,
)
from protocol_lang.model.walk import parts_of, with_parts
from protocol_lang.text import Place


@dataclass(frozen=True, slots=True)
class Change:
    """One change to try: the remedy to tell, and the protocol, or the order pair, that it makes.

    The protocol is made when it is tried: many changes are thought of twice, and few of all are.
    """

    remedy: Remedy
    protocol: Callable[[], Protocol] | None
    order: tuple[int, int] | None = None


def label_for(text: str) -> str:
    """A short name for a step that has none: its verb and the next word."""
    words = text.split()
    return " ".join(words[1:3]) if len(words) > 2 else text


def placed(item: Item, place: Place) -> Item:
    """The item with every step in it standing at ``place``."""
    if isinstance(item, Step):
        return replace(item, place=place)
    if isinstance(item, InOneGo):
        return InOneGo(tuple(placed(inner, place) for inner in item.items), place)
    return item


def written(items: Iterable[Item], indent: str = "") -> list[str]:
    """The lines that an author would write for the items."""
    lines: list[str] = []
    for item in items:
        if isinstance(item, Step):
            label = f"{item.label}: " if item.label else ""
            lines.append(f"{indent}[ ] {label}{item.text}")
        elif isinstance(item, InOneGo):
            lines += [f"{indent}in one go", *written(item.items, indent + "  ")]
    return lines


def inserted(
    protocol: Protocol, step: Step, items: tuple[Item, ...], after: bool = False
) -> Protocol:
    """The protocol with ``items`` just before (or after) ``step``, in the same list.

    In an any-order block what is added goes with the step, as a list.
    """
    both = (step, *items) if after else (*items, step)
    return _put(protocol, step, both, InOrder(both, step.place))


def replaced(protocol: Protocol, step: Step, by: Step) -> Protocol:
    """The protocol with ``by`` in the place of ``step``; what belongs to the step stays."""
    kept = replace(
        by,
        label=step.label,
        claims=step.claims,
        sets=step.sets,
        after=step.after,
        place=step.place,
    )
    return _put(protocol, step, (kept,), kept)


def _put(protocol: Protocol, step: Step, items: tuple[Item, ...], alone: Item) -> Protocol:
    """The protocol with ``items`` for ``step``; where its place in an order is free, ``alone``."""

    def within(old: tuple[Item, ...]) -> tuple[Item, ...]:
        new: list[Item] = []
        for item in old:
            new += items if _is(item, step) else (deeper(item),)
        return tuple(new)

    def deeper(item: Item) -> Item:
        if isinstance(item, AnyOrder):
            kept = tuple(alone if _is(one, step) else deeper(one) for one in item.items)
            return replace(item, items=kept)
        return with_parts(item, within)

    return replace(
        protocol,
        phases=tuple(replace(phase, items=within(phase.items)) for phase in protocol.phases),
        mishaps=tuple(replace(one, items=within(one.items)) for one in protocol.mishaps),
    )


def _is(item: Item, step: Step) -> bool:
    """Whether the item is the step as written, of which the other may be one time round."""
    return isinstance(item, Step) and item.place == step.place and item.text == step.text


def in_any_order(protocol: Protocol, step: Step) -> bool:
    """Whether the step stands by itself in an any-order block."""

    def within(items: tuple[Item, ...]) -> bool:
        return any(deeper(item) for item in items)

    def deeper(item: Item) -> bool:
        if isinstance(item, AnyOrder) and any(_is(one, step) for one in item.items):
            return True
        return any(within(inner) for inner in parts_of(item))

    lists = (
        *(phase.items for phase in protocol.phases),
        *(mishap.items for mishap in protocol.mishaps),
    )
    return any(within(items) for items in lists)
