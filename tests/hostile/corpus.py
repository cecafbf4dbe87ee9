"""Files that nobody should give a program: cut, torn, huge, of mixed scripts, linked out, alike.

Each is made in a folder of its own, so that what one of them declares cannot help another.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

#: A protocol that is sound.
BASE = (
    'protocol "Base"\n  edition 3\n  in force from 2026-01-05\n  owner infection control lead\n'
    '  takes words from "Imaging room 2"\n\nchoices, each visit\n  staffing: alone, paired\n\n'
    'phase "All"\n  [ ] washing: operator cleans hands\n  any order\n'
    "    [ ] operator looks at the image\n    [ ] operator opens the record at keyboard\n"
    '  where staffing is paired\n    [ ] helper cleans hands\n      note "Well."\n'
)
PACK = (
    'rules "Pack"\n  edition 1\n  takes words from "Dental imaging"\n\nrule "Hands are cleaned"\n'
    '  must\n  because "Hands carry."\n  source "A handbook"\n  never operator cleans hands\n'
)
WAIVER = (
    'waivers "Tolerated"\n\nwaiver "Hands"\n  rule "Hands are cleaned" of "Pack"\n'
    '  reason "New ones come."\n  approved by infection control lead\n'
    "  from 2026-11-02 to 2026-12-15\n"
)
DAY = 'day "Days"\n  visits "Base"\n'
ROOM = 'room "Hall"\n  takes words from "Dental imaging"\n\npeople\n  operator: staff\n'
WORDS = 'words "Sayings"\n\nverb ACTOR nods\n  no contact\n'
DATA = 'data "Figures"\n\nlevels, weakest first\n  low: acts on rinsed soil; ends every class\n'
PO = 'msgid ""\nmsgstr ""\n"Language: es\\n"\n\nmsgid "Base"\nmsgstr "Base"\n'

#: One of each kind of file that commands read.
SOUND = {
    "base.protocol": BASE,
    "pack.protocol": PACK,
    "tolerated.protocol": WAIVER,
    "days.protocol": DAY,
    "hall.protocol": ROOM,
    "sayings.protocol": WORDS,
    "figures.protocol": DATA,
    "base.es.po": PO,
}


@dataclass(frozen=True)
class Hostile:
    """``name``: of the case. ``file``: the file to be given to a command, in the case's folder.
    ``sort``: "text" (a file of the language), "po" or "report"."""

    name: str
    file: str
    make: Callable[[Path], None]
    sort: str = "text"

    def made(self, folder: Path) -> Path:
        """The case made in a folder that is there and empty."""
        self.make(folder)
        return folder / self.file


def _writes(file: str, data: bytes | str, **beside: str) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        content = data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass")
        (folder / file).write_bytes(content)
        for name, text in beside.items():
            (folder / f"{name}.protocol").write_text(text, "utf-8")

    return make


def _text(name: str, data: bytes | str, **beside: str) -> Hostile:
    return Hostile(name, "base.protocol", _writes("base.protocol", data, **beside))


def texts() -> Iterator[Hostile]:
    """Files of the language."""
    yield from _bytes()
    yield from _cut()
    yield from _scripts()
    yield from _sizes()
    yield from _names()
    yield from _places()


def _bytes() -> Iterator[Hostile]:
    yield _text("nothing", b"")
    yield _text("blanks", b"   \n\t\n  ")
    yield _text("a mark of byte order alone", b"\xef\xbb\xbf")
    yield _text("zero bytes", b"\x00" * 500)
    yield _text("zero bytes within", BASE.encode().replace(b"hands", b"ha\x00nds"))
    yield _text("no UTF-8", BASE.encode().replace(b"hands", b"h\xff\xfends"))
    yield _text("UTF-16", BASE.encode("utf-16"))
    yield _text("halves of signs", BASE.replace("Well", "\ud800Well"))
    yield _text("Latin 1", BASE.replace("Well", "Zürich").encode("latin-1"))
    yield _text("random bytes", bytes((i * 7919 + i * i * 31) % 256 for i in range(4000)))
    yield _text("a picture", b"\x89PNG\r\n\x1a\n" + bytes(range(256)))
    yield _text("control signs", BASE.replace("Well", "\x1b[2J\x1b]0;owned\x07Well\x08\x7f"))
    yield _text("control signs in the title", BASE.replace('"Base"', '"\x1b[31mBase\r\x1b[0m"'))
    yield _text("ends of lines of all sorts", BASE.replace("\n", "\r\n", 4).replace("\n", "\r", 9))
    yield _text("tabs", BASE.replace("  ", "\t"))


def _cut() -> Iterator[Hostile]:
    for name, whole in SOUND.items():
        if name.endswith(".protocol"):
            for part in (1, 3, 5, 7):
                yield _text(f"{name} cut at {part} eighths", whole[: len(whole) * part // 8])
    lines = BASE.split("\n")
    yield _text("upside down", "\n".join(reversed(lines)))
    yield _text("without indentation", "\n".join(line.strip() for line in lines))
    yield _text("quotes left open", BASE.replace('"Base"', '"Base'))
    yield _text("twice the same", BASE + BASE)


def _scripts() -> Iterator[Hostile]:
    yield _text("a Cyrillic letter in a keyword", BASE.replace("protocol", "prоtocol"))
    yield _text("a Cyrillic letter in a name", BASE.replace("operator cleans", "оperator cleans"))
    yield _text("signs that turn the line", BASE.replace("operator looks", "\u202eoperator\u2066"))
    yield _text("signs that show nothing", BASE.replace("hands", "ha\u200bnds\u2060"))
    yield _text("marks piled up", BASE.replace("Well", "W" + "\u0301" * 300))
    yield _text("joined pictures", BASE.replace("Well", "👩‍⚕️🏳️‍🌈"))
    yield _text("Arabic digits", BASE.replace("edition 3", "edition ٣"))
    yield _text("raised digits", BASE.replace("edition 3", "edition ³"))
    yield _text("full width", BASE.replace("[ ] operator looks", "［ ］ operator looks"))
    yield _text("a title of another script", BASE.replace('"Base"', '"洗手の手順"'))
    yield _text("a title of dots", BASE.replace('"Base"', '"..."'))
    yield _text("a title that is a way out", BASE.replace('"Base"', '"../../etc/passwd"'))
    yield _text("a title that is a device", BASE.replace('"Base"', '"CON"'))
    yield _text("an empty title", BASE.replace('"Base"', '""'))


def _sizes() -> Iterator[Hostile]:
    yield _text("one long line", BASE + "  [ ] " + "x" * 600_000)
    yield _text("more than a megabyte", BASE + "# so\n" * 300_000)
    yield _text("very many lines", BASE + "\n" * 30_000)
    yield _text("a long name", BASE.replace("keyboard", "k" * 450))
    yield _text("a long title", BASE.replace('"Base"', f'"{"B" * 450}"'))
    deep = "".join("  " * (i + 1) + "any order\n" for i in range(200))
    yield _text("deep", BASE + deep + "  " * 201 + "[ ] operator cleans hands\n")
    yield _text("very many steps", BASE + "  [ ] operator looks at the image\n" * 5_000)
    loose = "  any order\n" + "    [ ] operator looks at the image\n" * 60
    yield _text("very many orders", BASE + loose)
    many = "".join(f"  choice{i}: one, two, three\n" for i in range(40))
    asks = "".join(f"  where choice{i} is one\n    [ ] operator cleans hands\n" for i in range(40))
    yield _text("very many choices", BASE.replace("  staffing", f"{many}  staffing") + asks)
    each = "  for each image, 1 to 999999999\n    [ ] operator looks at the image\n"
    yield _text("very many rounds", BASE + each)
    yield _text("again and again", BASE + "  again from washing, at most 999999999 times\n")
    yield _text("a large edition", BASE.replace("edition 3", "edition 999999999"))
    yield _text("a larger edition", BASE.replace("edition 3", "edition " + "9" * 400))
    yield _text("no such day", BASE.replace("2026-01-05", "0000-00-00"))
    yield _text("the last day", BASE.replace("2026-01-05", "9999-12-31"))
    taking = "  [ ] operator looks at the image\n      takes 999999 to 999999 minutes\n"
    yield _text("a long time", BASE + taking)
    laid = "  [ ] operator lays out 999999999 wipes\n"
    yield _text("a large number of wipes", BASE + laid)
    wanted = ", ".join(f'"Room {i}"' for i in range(60))
    yield _text("words from very many files", BASE.replace('"Imaging room 2"', wanted))
    groups = "".join(f"  group {i}: group {i + 1}\n" for i in range(2_000))
    yield _text("groups of groups", BASE.replace("phase", f"groups\n{groups}\nphase", 1))
    claims = "      only when " + " or ".join(["operator's hands are bare"] * 16)
    yield _text("a long claim", BASE + "  [ ] operator cleans hands\n" + claims + "\n")


def _names() -> Iterator[Hostile]:
    yield _text("words from itself", BASE.replace('"Imaging room 2"', '"Base"'))
    other = BASE.replace('"Base"', '"Other"').replace('"Imaging room 2"', '"Base"')
    yield _text("words in a circle", BASE.replace('"Imaging room 2"', '"Other"'), other=other)
    yield _text("then itself", BASE.replace("\n\nchoices", '\n  then "Base"\n\nchoices'))
    yield _text("a day of itself", DAY.replace('"Base"', '"Days"').replace('"Days"', '"Base"'))
    yield _text("a day of what is not there", DAY.replace('"Base"', '"Nowhere"'))
    yield _text("a day of a room", DAY.replace('"Base"', '"Imaging room 2"'))
    clash = 'room "Imaging room 2"\n'
    yield Hostile(
        "a room of a shipped name", "base.protocol", _beside(BASE, "imaging-room-2", clash)
    )
    yield _text(
        "the same name as another", BASE.replace("phase", "things\n  keyboard: surface\n\nphase", 1)
    )
    yield _text(
        "a thing called as a person", BASE.replace("phase", "things\n  helper: surface\n\nphase", 1)
    )
    yield _text("a group of itself", BASE.replace("phase", "groups\n  us: us\n\nphase", 1))
    yield _text(
        "a verb that is there", BASE.replace("phase", "verb ACTOR cleans hands\n\nphase", 1)
    )
    yield _text(
        "a verb of slots alone", BASE.replace("phase", "verb ACTOR THING\n  no contact\n\nphase", 1)
    )
    yield _text("a label twice", BASE + "  [ ] washing: operator cleans hands\n")
    yield _text("after itself", BASE + "  [ ] x: operator cleans hands\n      after x\n")
    yield _text(
        "a product of itself", BASE.replace("phase", "products\n  a: treats to a\n\nphase", 1)
    )
    yield _text("rules that loosen themselves", PACK + '  loosens "Hands are cleaned" of "Pack"\n')
    yield _text(
        "names that differ in capitals",
        BASE.replace("phase", "things\n  Jug, jug: surface\n\nphase", 1),
    )


def _beside(text: str, name: str, other: str) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        (folder / "base.protocol").write_text(text, "utf-8")
        (folder / f"{name}.protocol").write_text(other, "utf-8")

    return make


def _places() -> Iterator[Hostile]:
    """Files that are none, or lie elsewhere."""

    def link(to: str) -> Callable[[Path], None]:
        def make(folder: Path) -> None:
            outside = folder.parent / f"{folder.name}-outside"
            outside.mkdir(exist_ok=True)
            (outside / "base.protocol").write_text(BASE, "utf-8")
            target = to.replace("OUTSIDE", str(outside))
            (folder / "base.protocol").symlink_to(target)

        return make

    yield Hostile("a link out of the folder", "base.protocol", link("OUTSIDE/base.protocol"))
    yield Hostile("a link to itself", "base.protocol", link("base.protocol"))
    yield Hostile("a link to nothing", "base.protocol", link("nowhere.protocol"))
    yield Hostile("a link to a device without end", "base.protocol", link("/dev/zero"))
    yield Hostile("a folder", "base.protocol", lambda f: (f / "base.protocol").mkdir())
    yield Hostile("a pipe", "base.protocol", lambda f: os.mkfifo(f / "base.protocol"))
    yield Hostile("nothing there", "base.protocol", lambda f: None)
    yield Hostile(
        "a file as a folder", "base.protocol/more.protocol", _writes("base.protocol", BASE)
    )
    for what, name in (
        ("a line end", "ba\nse.protocol"),
        ("control signs", "ba\x1b[31mse.protocol"),
        ("signs that turn the line", "ba\u202ese.protocol"),
        ("no UTF-8", os.fsdecode(b"ba\xffse.protocol")),
        ("nothing but an ending", ".protocol"),
        ("a long name", "b" * 240 + ".protocol"),
        ("blanks", " base .protocol"),
    ):
        yield Hostile(f"a file name with {what}", name, _writes(name, BASE))
    yield Hostile("too long a file name", "b" * 400 + ".protocol", lambda f: None)
    yield Hostile("a file name with zero", "ba\x00se.protocol", lambda f: None)

    def linked_room(folder: Path) -> None:
        outside = folder.parent / f"{folder.name}-outside"
        outside.mkdir(exist_ok=True)
        (outside / "secret.protocol").write_text(ROOM.replace("Hall", "Secret"), "utf-8")
        (folder / "base.protocol").write_text(BASE.replace("Imaging room 2", "Secret"), "utf-8")
        (folder / "secret.protocol").symlink_to(outside / "secret.protocol")

    yield Hostile("words from a link out of the folder", "base.protocol", linked_room)


def translations() -> Iterator[Hostile]:
    """Translation files that lie beside a sound protocol."""

    def po(name: str, data: bytes | str) -> Hostile:
        def make(folder: Path) -> None:
            (folder / "base.protocol").write_text(BASE, "utf-8")
            content = data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass")
            (folder / "base.es.po").write_bytes(content)

        return Hostile(f"translation: {name}", "base.protocol", make, "po")

    yield po("nothing", b"")
    yield po("no UTF-8", b"\xff\xfe\x00")
    yield po("zero bytes", b"\x00" * 99)
    for part in range(1, 8):
        yield po(f"cut at {part} eighths", PO[: len(PO) * part // 8])
    yield po("an endless text", PO + 'msgid "x"\nmsgstr "' + "y" * 300_000)
    yield po("quotes", PO + 'msgid "x""y\nmsgstr \\"\n')
    yield po("a way to the screen", PO + 'msgid "operator"\nmsgstr "\\x1b[31m\\033[2J"\n')
    yield po("another language", PO.replace("es", "tlh"))
    yield po("forms without end", PO + 'msgid "a"\nmsgid_plural "b"\nmsgstr[99999999999] "c"\n')
    yield po(
        "plural forms that compute", 'msgid ""\nmsgstr ""\n"Plural-Forms: nplurals=9**9;\\n"\n'
    )
    yield po("many texts", PO + "".join(f'msgid "{i}"\nmsgstr "{i}"\n\n' for i in range(30_000)))
    yield po("a text twice", PO + PO)


def reports(whole: str) -> Iterator[Hostile]:
    """Reports of an audit, made from a sound one, beside a sound protocol."""

    def report(name: str, data: bytes | str) -> Hostile:
        def make(folder: Path) -> None:
            (folder / "base.protocol").write_text(BASE, "utf-8")
            content = data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass")
            (folder / "report.json").write_bytes(content)

        return Hostile(f"report: {name}", "report.json", make, "report")

    for name, text in (
        ("nothing", ""),
        ("a list", "[]"),
        ("an object", "{}"),
        ("null", "null"),
        ("a number without end", "1e999999"),
        ("not a number", '{"format": NaN}'),
        ("a very large number", '{"edition": ' + "9" * 5_000 + "}"),
        ("deep", "[" * 100_000),
        ("deep and closed", "[" * 50_000 + "]" * 50_000),
        ("deep objects", '{"a":' * 50_000),
        ("halves of signs", '{"format": "\\ud800"}'),
        ("a text", "protocol"),
        ("the same key twice", '{"format": 1, "format": 2}'),
    ):
        yield report(name, text)
    yield report("no UTF-8", b'{"format": "\xff"}')
    for part in range(1, 8):
        yield report(f"cut at {part} eighths", whole[: len(whole) * part // 8])
    known = json.loads(whole)
    for way, value in _leaves(known, ()):
        other: object
        for other in (None, -1, "\x1b[31m", [], {"x": {}}, 10**30):
            if type(other) is not type(value):
                yield report(
                    f"{'.'.join(way)} is {str(other)[:9]!r}", json.dumps(_with(known, way, other))
                )
                break
    for key in known:
        yield report(f"without {key}", json.dumps({k: v for k, v in known.items() if k != key}))


def _leaves(value: object, way: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], object]]:
    """Every member of every object, and of every list the first."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield (*way, key), inner
            yield from _leaves(inner, (*way, key))
    elif isinstance(value, list) and value:
        yield (*way, "0"), value[0]
        yield from _leaves(value[0], (*way, "0"))


def _with(value: object, way: tuple[str, ...], other: object) -> object:
    """The value with something else at that place."""
    if not way:
        return other
    if isinstance(value, dict):
        return {k: _with(v, way[1:], other) if k == way[0] else v for k, v in value.items()}
    assert isinstance(value, list)
    return [_with(value[0], way[1:], other), *value[1:]]
