"""Changes to a checklist: steps put in or replaced, and how an author would write them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from protocol_lang.findings import Remedy
from protocol_lang.model.protocol import Protocol
from protocol_lang.model.steps import (
    AnyOrder,
    InOneGo,
    InOrder,
    Item,
    SideBySide,
    Step,
    Where,
)
from protocol_lang.text import Place


@dataclass(frozen=True, slots=True)
class Change:
    """One change to try: the remedy to tell, and the protocol, or the order pair, that it makes."""

    remedy: Remedy
    protocol: Protocol | None
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
            new += items if item is step else (deeper(item),)
        return tuple(new)

    def deeper(item: Item) -> Item:
        match item:
            case InOrder(inner) | InOneGo(inner):
                return replace(item, items=within(inner))
            case AnyOrder(inner):
                return replace(
                    item, items=tuple(alone if one is step else deeper(one) for one in inner)
                )
            case SideBySide(lanes):
                return replace(item, lanes=tuple((who, within(inner)) for who, inner in lanes))
            case Where(branches):
                return replace(
                    item,
                    branches=tuple((condition, within(inner)) for condition, inner in branches),
                )
            case _:
                return item

    return replace(
        protocol,
        phases=tuple(replace(phase, items=within(phase.items)) for phase in protocol.phases),
    )


def in_any_order(protocol: Protocol, step: Step) -> bool:
    """Whether the step stands by itself in an any-order block."""

    def within(items: tuple[Item, ...]) -> bool:
        return any(deeper(item) for item in items)

    def deeper(item: Item) -> bool:
        match item:
            case AnyOrder(inner):
                return any(one is step for one in inner) or within(inner)
            case InOrder(inner) | InOneGo(inner):
                return within(inner)
            case SideBySide(lanes):
                return any(within(inner) for _, inner in lanes)
            case Where(branches):
                return any(within(inner) for _, inner in branches)
            case _:
                return False

    return any(within(phase.items) for phase in protocol.phases)
