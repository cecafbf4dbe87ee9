"""The room picture: things in their zones, who meets what, how far a patient's soil can get.

One room, or two that are compared: then both have the same places, so that what is different is
seen at a glance.
"""

from __future__ import annotations

from collections.abc import Iterator

from protocol_lang.diagram.page import Page, Panel, Sample
from protocol_lang.diagram.room import Contact, Far, Kind, Room, Spot
from protocol_lang.diagram.sketch import Box, Line, Sketch, Zone

#: What is said of each in the key, and in the words.
MEANINGS = {
    Far.SOURCE: "where the {soil} comes from",
    Far.ONWARD: "reached, and still so for the next patient",
    Far.TRACE: "the same, but only as a trace",
    Far.ENDED: "reached, ended before the next patient",
    Far.NEVER: "never reached",
}
#: The zones in each column, from left to right.
_COLUMNS = (
    (Kind.PATIENT,),
    (Kind.PEOPLE,),
    (Kind.IN_USE,),
    (Kind.SURFACE,),
    (Kind.KEPT_CLEAN, Kind.WASTE, Kind.NEXT),
)


def room_page(
    room: Room,
    after: Room | None = None,
    headings: tuple[str, str] = ("", ""),
    changes: tuple[str, ...] = (),
) -> Page:
    """The page of a room; with ``after``, of both side by side under their headings.

    ``changes``: in words, what makes the difference between the two.
    """
    rooms = (room,) if after is None else (room, after)
    spots = _all_spots(rooms)
    contacts = _all_contacts(rooms)
    name = {spot.id: f"n{n}" for n, spot in enumerate(spots, start=1)}
    column = {kind: at for at, kinds in enumerate(_COLUMNS) for kind in kinds}
    place = {spot.id: (column[spot.kind], n) for n, spot in enumerate(spots)}
    zones = tuple(
        Zone(
            {"sort": "zone", "text": kind.value.capitalize(), "width": 106},
            tuple(
                Box(
                    name[spot.id],
                    {
                        "sort": "thing",
                        "text": _shown(spot.text),
                        "note": _shown(spot.note),
                        "person": spot.person,
                        "far": spot.far.value,
                    },
                )
                for spot in spots
                if spot.kind is kind
            ),
        )
        for kinds in _COLUMNS
        for kind in kinds
        if any(spot.kind is kind for spot in spots)
    )
    lines = []
    ends: dict[frozenset[str], tuple[str, str]] = {}
    for one in contacts:
        first, second = sorted((one.one, one.other), key=place.__getitem__)
        ends[frozenset((first, second))] = (name[first], name[second])
        flat = place[first][0] == place[second][0]
        wish = "constraint=false" if flat else ""
        lines.append(Line(name[first], name[second], one.far.value, wish=wish))
    panels = tuple(
        Panel(
            _shown(heading),
            {
                name[spot.id]: next(
                    (mine.far.value for mine in one.spots if mine.id == spot.id), "gone"
                )
                for spot in spots
            },
            {
                ends[frozenset((contact.one, contact.other))]: contact.far.value
                for contact in one.contacts
            },
        )
        for one, heading in zip(rooms, headings, strict=False)
    )
    return Page(
        title=room.title,
        under=_under(rooms, changes),
        key=tuple(_key(rooms)),
        alt=" ".join(
            filter(
                None,
                (
                    f"{heading}: {in_words(one)}" if heading else in_words(one)
                    for one, heading in zip(rooms, headings, strict=False)
                ),
            )
        ),
        sketch=Sketch(
            zones,
            tuple(lines),
            "rankdir=LR, newrank=true, nodesep=0.14, ranksep=1.25, pad=0, splines=true",
            tuple(_columns(spots, name)),
        ),
        panels=panels,
    )


def _all_spots(rooms: tuple[Room, ...]) -> list[Spot]:
    found: dict[str, Spot] = {}
    for room in rooms:
        for spot in room.spots:
            found.setdefault(spot.id, spot)
    return list(found.values())


def _all_contacts(rooms: tuple[Room, ...]) -> list[Contact]:
    found: dict[frozenset[str], Contact] = {}
    for room in rooms:
        for one in room.contacts:
            found.setdefault(frozenset((one.one, one.other)), one)
    return list(found.values())


def _columns(spots: list[Spot], name: dict[str, str]) -> Iterator[str]:
    """Each column in one line, one after the other, in the order of the room file."""
    firsts = []
    for kinds in _COLUMNS:
        inside = [name[spot.id] for kind in kinds for spot in spots if spot.kind is kind]
        if not inside:
            continue
        firsts.append(inside[0])
        yield f"{{ rank=same; {'; '.join(inside)}; }}"
    if len(firsts) > 1:
        yield f"{' -> '.join(firsts)} [style=invis];"


def _under(rooms: tuple[Room, ...], changes: tuple[str, ...]) -> str:
    told = (
        f"How far the {_soil(rooms)} of one patient can get, in any permitted order of the steps. "
        "A line: the two meet in some step."
    )
    said = " ".join(dict.fromkeys((told, *(room.said for room in rooms if room.said))))
    return "\n".join((said, *map(_shown, changes)))


def _key(rooms: tuple[Room, ...]) -> Iterator[Sample]:
    boxes = {spot.far for room in rooms for spot in room.spots}
    for far in Far:
        if far in boxes:
            yield Sample("box", far.value, MEANINGS[far].format(soil=_soil(rooms)))
    carried = {contact.far for room in rooms for contact in room.contacts}
    words = {
        Far.ONWARD: "passes on what the next patient meets",
        Far.TRACE: "passes on a trace of it",
        Far.ENDED: f"passes {_soil(rooms)} on in the same visit only",
        Far.NEVER: "passes none on",
    }
    for far in words:
        if far in carried:
            yield Sample("line", far.value, words[far])


def in_words(room: Room) -> str:
    """The picture in words: how far saliva gets, then by which contacts it passes on."""
    told = [f"How far a patient's {_soil((room,))} can get, of “{_shown(room.title)}”."]
    for far in Far:
        inside = [_shown(spot.text) for spot in room.spots if spot.far is far]
        if inside:
            meaning = MEANINGS[far].format(soil=_soil((room,))).capitalize()
            told.append(f"{meaning}: {', '.join(inside)}.")
    text = {spot.id: _shown(spot.text) for spot in room.spots}
    for far, how in ((Far.ONWARD, "as far as to the next patient"), (Far.TRACE, "as a trace")):
        pairs = [
            f"{text[one.one]} and {text[one.other]}" for one in room.contacts if one.far is far
        ]
        if pairs:
            told.append(f"It passes on, {how}, where these meet: {'; '.join(pairs)}.")
    return " ".join(told)


def _soil(rooms: tuple[Room, ...]) -> str:
    """What the soil of a patient is called, as the protocol says it."""
    return _shown(rooms[0].soil)


def _shown(words: str) -> str:
    return "".join(one if one.isprintable() else "\N{REPLACEMENT CHARACTER}" for one in words)
