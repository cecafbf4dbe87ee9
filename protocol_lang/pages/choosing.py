"""Which combinations of choices are shown together, and what they are called."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.unfold.spelling import NOTHING_HAPPENS
from protocol_lang.model.protocol import WHAT_HAPPENS

#: Choices by name, or some of them.
Choices = Mapping[str, str]
#: The same in order.
Pairs = tuple[tuple[str, str], ...]


def worlds_wanted(unfolded: Unfolded, wanted: Choices) -> tuple[int, ...]:
    """The worlds that agree with the choices wanted, in the order of the values as declared."""
    choices = unfolded.worlds.choices

    def place(world: int) -> list[int]:
        told = unfolded.worlds.example(world)
        return [choice.values.index(told[choice.name]) for choice in choices]

    agreeing = (
        world
        for world, examples in enumerate(unfolded.worlds.examples)
        if any(
            all(one.get(name, value) == value for name, value in wanted.items()) for one in examples
        )
    )
    return tuple(sorted(agreeing, key=place))


def choices_that_matter(unfolded: Unfolded, world: int) -> Pairs:
    """The choices that make this world another than the rest, with their values.

    A choice that no condition asks for matters nowhere; one that all other choices of this world
    make irrelevant does not matter here.
    """
    first, *others = unfolded.worlds.examples[world]
    return tuple(
        (choice.name, first[choice.name])
        for choice in unfolded.protocol.choices
        if choice.name in first
        and len(choice.values) > 1
        and all(other.get(choice.name) == first[choice.name] for other in others)
    )


def number_of_sheets(unfolded: Unfolded, wanted: Choices) -> int:
    """How many ways, settled before the visit, agree with ``wanted``: at most so many sheets."""
    return sum(1 for _ in alike(unfolded, worlds_wanted(unfolded, wanted)))


def alike(
    unfolded: Unfolded, worlds: Iterable[int]
) -> Iterator[tuple[Choices, tuple[int, ...], tuple[int, ...]]]:
    """Worlds that are on one sheet: what is settled before the visit is the same in them, and
    which way they go is seen on the way. First those in which nothing goes wrong, then all."""
    settled = [
        choice
        for choice in unfolded.protocol.choices
        if choice.declared and choice.known_after is None
    ]
    groups: dict[tuple[str, ...], list[int]] = {}
    for world in worlds:
        example = unfolded.worlds.example(world)
        groups.setdefault(tuple(example[choice.name] for choice in settled), []).append(world)
    for values, members in groups.items():
        names = (choice.name for choice in settled)
        # The sheet is for a visit as it should go: what hands are like after a mishap is not on it.
        smooth = [world for world in members if not _goes_wrong(unfolded, world)]
        settled_so = dict(zip(names, values, strict=True))
        yield settled_so, tuple(smooth or members), tuple(members)


def _goes_wrong(unfolded: Unfolded, world: int) -> bool:
    """Whether a mishap happens in it."""
    happens = unfolded.worlds.examples[world][0].get(WHAT_HAPPENS, NOTHING_HAPPENS)
    return happens != NOTHING_HAPPENS


def titles(alike: Sequence[Pairs], every: Sequence[Pairs]) -> list[Pairs]:
    """The choices that say when a sheet holds: what all of ``alike`` share, if it suffices."""
    common = tuple(pair for pair in alike[0] if all(pair in other for other in alike))
    meant = [pairs for pairs in every if set(common) <= set(pairs)]
    return [common] if len(meant) == len(alike) else list(alike)
