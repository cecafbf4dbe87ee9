"""Commands on damaged files, for so many minutes: ``python -m tools.fuzz --minutes 10``.

Files of the project, and the examples of its explanations, are cut, joined, and strewn with words
of the language and signs that do harm; lines of all of them are put together anew. Each is given to
a command within this process. What ends with a fault of the program, or takes too long, is kept in
a folder with the command, to become a case of ``tests/hostile/kept``. The same seed tries the same
files in the same order.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import os
import random
import re
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

ROOT = Path(__file__).resolve().parents[1]

#: How often each command is tried, with "FILE" for the damaged file.
COMMANDS: tuple[tuple[int, tuple[str, ...]], ...] = (
    (50, ("check", "FILE")),
    (8, ("check", "FILE", "--json", "--full")),
    (12, ("neaten", "FILE")),
    (5, ("minutes", "FILE")),
    (5, ("supplies", "FILE")),
    (4, ("texts", "FILE", "--language", "es")),
    (5, ("compare", "FILE", "OTHER")),
    (3, ("draw", "FILE", "--room", "-o", "MADE.svg")),
    (2, ("card", "summary", "FILE", "-o", "MADE.svg")),
    (2, ("chart", "FILE", "--language", "es", "-o", "MADE.svg")),
    (2, ("lapses", "FILE", "--together", "1")),
    (2, ("chart", "FILE", "--rules", "OTHER", "-o", "MADE.svg")),
)

#: A file that takes longer than this, in seconds of the processor, is kept as well.
TOO_LONG = 40

#: Signs that do harm in texts, data and on screens.
SIGNS = (
    '"', "#", ":", ";", ",", "[ ]", "[", "\t", "\u200b", "\u202e", "\x00", "\x1b[2J", "\ud800",
    "'s ", "\u0301" * 9, "０", "٣", "(", "\\", "%s", "{0}", "\r", "\u2028", "999999999", "0", "-1",
    "x" * 499,
)  # fmt: skip
_MORE = re.compile(r"\(([A-Z]\d\d)\)")


def main(arguments: list[str] | None = None) -> int:
    """Tries files until the time is over; 1 if any was kept."""
    read = argparse.ArgumentParser(prog="python -m tools.fuzz", description=__doc__)
    read.add_argument("--minutes", type=float, default=10)
    read.add_argument("--seed", type=int, default=1)
    read.add_argument("--keep", type=Path, default=ROOT / "build" / "found")
    asked = read.parse_args(arguments)
    dice = random.Random(asked.seed)
    soil = _Soil(dice)
    until = time.monotonic() + asked.minutes * 60
    codes: Counter[int] = Counter()
    kinds: set[str] = set()
    kept: dict[str, Path] = {}
    tried = 0
    with tempfile.TemporaryDirectory() as folder:
        while time.monotonic() < until:
            (words,) = dice.choices(
                [each for _, each in COMMANDS], weights=[often for often, _ in COMMANDS]
            )
            text, other = soil.text(), soil.text()
            code, said = _tried(Path(folder), words, text, other)
            tried += 1
            codes[code] += 1
            kinds.update(_MORE.findall(said))
            if code not in (0, 1, 2, 4):
                about = said.strip().rsplit("\n", 3)[-1][-120:]
                if about not in kept:
                    kept[about] = _keep(
                        asked.keep, f"{asked.seed}-{tried}", words, text, other, said
                    )
                    print(f"kept {kept[about]}: {about}", flush=True)
    ends = ", ".join(f"{number} with {code}" for code, number in sorted(codes.items()))
    print(f"Tried {tried} files in {asked.minutes:g} minutes: {ends}.")
    print(f"{len(kinds)} kinds of finding were told. {len(kept)} faults of the program were kept.")
    return 1 if kept else 0


class _Soil:
    """Damaged files."""

    def __init__(self, dice: random.Random) -> None:
        self.dice = dice
        folders = [
            ROOT / "protocols",
            ROOT / "tests" / "corpus",
            ROOT / "tests" / "hostile" / "kept",
        ]
        paths = sorted(path for folder in folders for path in folder.rglob("*.protocol"))
        self.files = [path.read_text("utf-8", "replace").split("\n") for path in paths]
        self.short = [text.split("\n") for text in _examples()]
        self.lines = [
            line for lines in (*self.files, *self.short) for line in lines if line.strip()
        ]
        self.words = sorted({word for line in self.lines for word in line.split()})
        self.openers = sorted({line.strip().split(" ")[0] for line in self.lines})

    def text(self) -> bytes:
        """One more file."""
        dice = self.dice
        way = dice.random()
        if way < 0.15:
            lines = self._made()
        else:
            # The short ones mostly: a whole room takes a hundred times as long.
            lines = list(dice.choice(self.short if dice.random() < 0.8 else self.files))
            if way < 0.3:
                other = dice.choice(self.files)
                at = dice.randrange(len(lines) + 1)
                lines = lines[:at] + other[dice.randrange(len(other) + 1) :]
        for _ in range(dice.choice((0, 1, 1, 1, 2, 3, 8))):
            self._damage(lines)
        text = "\n".join(lines)
        if dice.random() < 0.05:
            text = text[: dice.randrange(len(text) + 1)]
        data = text.encode("utf-8", "surrogatepass")
        if dice.random() < 0.03 and data:
            at = dice.randrange(len(data))
            data = data[:at] + bytes(dice.randrange(256) for _ in range(3)) + data[at:]
        return data

    def _made(self) -> list[str]:
        """Lines of many files under a heading of their own."""
        dice = self.dice
        kind = dice.choice(("protocol", "room", "words", "data", "rules", "waivers", "day"))
        lines = [f'{kind} "Made"', '  takes words from "Imaging room 2"', ""]
        return lines + [dice.choice(self.lines) for _ in range(dice.randrange(1, 40))]

    def _damage(self, lines: list[str]) -> None:
        dice = self.dice
        if not lines:
            lines.append(dice.choice(self.lines))
        at, other = dice.randrange(len(lines)), dice.randrange(len(lines))
        words = lines[at].split(" ")
        here = dice.randrange(len(words))
        match dice.randrange(11):
            case 0:
                del lines[at]
            case 1:
                lines.insert(at, lines[other])
            case 2:
                lines[at], lines[other] = lines[other], lines[at]
            case 3:
                lines.insert(at, dice.choice(self.lines))
            case 4:
                lines[at] = lines[at][: dice.randrange(len(lines[at]) + 1)]
            case 5:
                words[here] = dice.choice(self.words)
                lines[at] = " ".join(words)
            case 6:
                words.insert(here, dice.choice(self.openers))
                lines[at] = " ".join(words)
            case 7:
                lines[at] = " " * dice.randrange(9) + lines[at].lstrip()
            case 8:
                cut = dice.randrange(len(lines[at]) + 1)
                lines[at] = lines[at][:cut] + dice.choice(SIGNS) + lines[at][cut:]
            case 9:
                del words[here]
                lines[at] = " ".join(words)
            case _:
                lines[at : at + 1] = lines[at : at + 4] * dice.choice((2, 3, 30))


def _examples() -> list[str]:
    """The texts by which words of the language and findings are explained."""
    from protocol_lang.wording import ENTRIES
    from protocol_lang.wording.constructs import CONSTRUCTS

    found = [(one.good, one.faulty) for one in ENTRIES.values()]
    found += [(one.good, one.faulty) for one in CONSTRUCTS]
    return [text for both in found for text in both if text]


class _TooLong(BaseException):
    """Raised in the middle of a command that takes too long."""


def _tried(folder: Path, words: tuple[str, ...], text: bytes, other: bytes) -> tuple[int, str]:
    """The code of a command on the files, and what it said; -1 if it took too long."""
    from protocol_lang.cli.entry import main as command

    for old in folder.iterdir():
        old.unlink()
    named = {"FILE": folder / "given.protocol", "OTHER": folder / "other.protocol"}
    named["FILE"].write_bytes(text)
    named["OTHER"].write_bytes(other)
    named["MADE.svg"] = folder / "made.svg"
    given = [str(named.get(word, word)) for word in words]
    with _shown() as shown, _at_most(TOO_LONG):
        try:
            code = command(given)
        except _TooLong:
            code = -1
        except BaseException as error:  # nothing gets past the program but by a fault
            code = -2
            print(repr(error))
    said = shown.getvalue().decode("utf-8", "replace")
    return code, said if code != -1 else f"{words[0]} took more than {TOO_LONG} seconds"


@contextlib.contextmanager
def _shown() -> Iterator[io.BytesIO]:
    shown = io.BytesIO()
    screen = io.TextIOWrapper(shown, "utf-8", write_through=True)
    with contextlib.redirect_stdout(screen), contextlib.redirect_stderr(screen):
        yield shown
    with contextlib.suppress(ValueError):
        screen.detach()


@contextlib.contextmanager
def _at_most(seconds: int) -> Iterator[None]:
    def stop(number: int, frame: FrameType | None) -> None:
        raise _TooLong

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def _keep(
    folder: Path, name: str, words: tuple[str, ...], text: bytes, other: bytes, said: str
) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}.protocol"
    path.write_bytes(text)
    (folder / f"{name}.other").write_bytes(other)
    (folder / f"{name}.json").write_text(json.dumps({"words": words, "said": said}), "utf-8")
    return path


if __name__ == "__main__":
    os.environ["PROTOCOL_LANG_TRACE"] = "1"
    sys.exit(main())
