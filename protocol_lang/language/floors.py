"""Floors: to which level something has to be treated at least, by what it is."""

from __future__ import annotations

from collections.abc import Sequence

from protocol_lang.language import tree
from protocol_lang.language.claims import Reader
from protocol_lang.language.declared import Declarations
from protocol_lang.language.sections import only, source_of
from protocol_lang.language.spaces import Told, name_text
from protocol_lang.language.tree import Words
from protocol_lang.model.protocol import Floor

#: Traits of a floor that are not the name of a part or of a kind.
FLOOR_TRAITS = frozenset(
    {"goes in the mouth", "heat safe", "not heat safe", "always sleeved in the mouth"}
)


def floors_of(files: Sequence[tree.File], declared: Declarations, told: Told) -> tuple[Floor, ...]:
    """Floors of all files. What traits there are is known only where kinds are declared."""
    reader = Reader(declared, told)
    known = bool(declared.kinds.names())
    floors = []
    for file in files:
        for section in file.sections:
            if not isinstance(section, tree.Floors):
                continue
            where = None
            if section.condition is not None:
                where = reader.condition(section.condition, choices_only=True)
                if where is None:
                    continue
            for line in only(section.lines, tree.FloorLine):
                level = declared.levels.look(line.level, told, "unknown-level")
                traits = [_trait(words, declared, told, known) for words in line.traits]
                if level is not None and None not in traits:
                    floors.append(
                        Floor(
                            frozenset(trait for trait in traits if trait is not None),
                            level.name,
                            where,
                            source_of(line.lines),
                            line.place,
                        )
                    )
    return tuple(floors)


def _trait(words: Words, declared: Declarations, told: Told, known: bool) -> str | None:
    name = name_text(words)
    if name in FLOOR_TRAITS:
        return name
    part = declared.body_part(name)
    if part is not None:
        return part.name
    kind = declared.kinds.find(name)
    if kind is not None:
        return kind
    if not known:
        return name
    names = [*FLOOR_TRAITS, *declared.kinds.names(), *declared.body_part_names()]
    told.unknown("unknown-trait", words, names)
    return None
