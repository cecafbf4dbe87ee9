"""One command on hostile files, within this process, and what has to be true of any such run."""

from __future__ import annotations

import csv
import io
import json
import os
import unicodedata
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from protocol_lang.cli.entry import main

#: Codes that a command may end with, whatever it is given: never that of a fault of our own.
CODES = (0, 1, 2, 4)

#: Signs of the general category "other" that a screen obeys, or that turn what stands beside them.
_OBEYED = frozenset({"Cc", "Cf", "Cs", "Co"})
_ALLOWED = frozenset("\n\u200c\u200d")


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def said(self) -> str:
        return self.out + self.err


def run(capsys, words: Iterable[str]) -> Ran:
    """The command, with what it showed."""
    capsys.readouterr()
    code = main(list(words))
    shown = capsys.readouterr()
    return Ran(code, shown.out, shown.err)


def hold(ran: Ran, command: str) -> None:
    """What is true of every run: a known code, a sentence, nothing for the screen to obey."""
    assert ran.code in CODES, (command, ran.code, ran.err)
    assert "Traceback" not in ran.said, (command, ran.said)
    assert ran.said.strip(), (command, "says nothing")
    if ran.code == 2:
        assert ran.err.strip(), (command, "does not say why")
    obeyed = {
        sign for sign in ran.said if unicodedata.category(sign) in _OBEYED and sign not in _ALLOWED
    }
    assert not obeyed, (command, sorted(map(ascii, obeyed)))


def told_of(ran: Ran, place: str) -> bool:
    """Whether the place is named, however lines were broken."""
    return "".join(place.split()) in "".join(ran.said.split())


def whole(path: Path) -> None:
    """A file that was written is one that can be read to its end."""
    made = path.read_bytes()
    match path.suffix:
        case ".json":
            json.loads(made)
        case ".svg":
            ET.fromstring(made)
        case ".pdf":
            assert made.startswith(b"%PDF") and made.rstrip().endswith(b"%%EOF")
        case ".png":
            assert made.startswith(b"\x89PNG") and made.endswith(b"IEND\xaeB`\x82")
        case ".csv":
            assert list(csv.reader(io.StringIO(made.decode("utf-8"))))
        case _:
            assert made.decode("utf-8").endswith("\n")


def listed(folder: Path) -> Mapping[str, bytes | str | None]:
    """All that lies in a folder and below, with what ordinary files hold."""
    found: dict[str, bytes | str | None] = {}
    for root, folders, files in os.walk(folder):
        for name in (*folders, *files):
            path = Path(root) / name
            shown = os.fspath(path.relative_to(folder))
            if path.is_symlink():
                found[shown] = os.readlink(path)
            else:
                found[shown] = path.read_bytes() if path.is_file() else None
    return found
