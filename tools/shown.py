"""Runs what a page shows, and writes what comes out into the page: README.md and pages of docs/.

Run by ``python -m tools.shown`` from the folder of the project. A page stays an ordinary page; what
is to be done stands behind the word ``text`` or ``console`` that opens a block:

* ``console``: a command after ``$``, then what it says. ``console exit 1``: it ends with code 1. A
  last line ``...`` leaves out the paragraphs that follow those shown.
* ``console typed A | B | C``: the command asks at a terminal, and is given these answers, one after
  the other; one that is empty is the Enter key alone. A system without pseudo-terminals cannot.
* ``text save as NAME``: the block is written into a file.
* ``text take out of NAME``: these lines, each of which stands in the file once, are taken out.
* ``text put into NAME above LINE``: these lines are put above that line, which stands there once.
* ``text replace in NAME``: the first line, which stands there once, is replaced by the second.

All blocks of a page are done in order in one empty folder, which holds the shipped protocols.
"""

from __future__ import annotations

import os
import re
import select
import shlex
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
#: Pages with a block that can be carried out, in the order in which people read them.
PAGES = (
    ROOT / "README.md",
    ROOT / "docs" / "tutorial.md",
    ROOT / "docs" / "charts.md",
    ROOT / "docs" / "language.md",
    ROOT / "docs" / "minutes.md",
    ROOT / "docs" / "translate.md",
    ROOT / "docs" / "lapses.md",
    ROOT / "docs" / "supplies.md",
    ROOT / "docs" / "audit.md",
    *sorted((ROOT / "docs" / "how-to").glob("*.md")),
    ROOT / "docs" / "local-editions.md",
)

_BLOCK = re.compile(r"^```(text|console)(?: ([^\n]+))?\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_TODAY = re.compile(r"\d{4}-\d\d-\d\d (?=was taken as today)")

#: How large the terminal of a page is, however large that of whoever refreshes it may be.
_SCREEN = {"COLUMNS": "72", "LINES": "24"}

#: Stands for the paragraphs that are not shown.
_MORE = "..."


@dataclass(frozen=True, slots=True)
class Block:
    """A block that something is done with. ``wish``: what stands behind its first word."""

    sort: str
    wish: str
    body: str


class NotAsShown(Exception):
    """Something on the page cannot be done: what, in one sentence."""


def main() -> int:
    """Refresh all pages. Return 0."""
    for page in PAGES:
        old = page.read_text("utf-8")
        new = refreshed(old)
        if new != old:
            page.write_text(new, "utf-8")
        print(f"{page.relative_to(ROOT)}: {'changed' if new != old else 'as it was'}")
    return 0


def refreshed(page: str) -> str:
    """The page with what its commands say now. Output that differs in the date only stays.

    Raises :class:`NotAsShown` when a block cannot be carried out, or a command ends with another
    exit code than the page tells.
    """
    with tempfile.TemporaryDirectory() as where:
        folder = Path(where)
        shutil.copytree(ROOT / "protocols", folder / "protocols")
        run = _Run(folder)
        return _BLOCK.sub(lambda match: run.block(match), page)


def blocks(page: str) -> Iterator[Block]:
    """All blocks of a page that something is done with, in order."""
    for match in _BLOCK.finditer(page):
        if match[1] == "console" or match[2]:
            yield Block(match[1], match[2] or "", match[3])


def same(one: str, other: str) -> bool:
    """Whether two texts differ at most in the day that was taken as today."""
    return _TODAY.sub("", one) == _TODAY.sub("", other)


class _Run:
    """The blocks of one page, one after the other. ``folder``: where the reader is."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def block(self, match: re.Match[str]) -> str:
        """The block as it should be; what it asks for is done."""
        sort, wish, body = match[1], match[2] or "", match[3]
        if sort == "console":
            said = _shortened("".join(self._commands(body, wish)), body)
            return match[0] if same(said, body) else match[0].replace(body, said)
        if wish:
            self._edit(wish, body)
        return match[0]

    def _commands(self, body: str, wish: str) -> Iterator[str]:
        typed = wish.removeprefix("typed ") if wish.startswith("typed ") else None
        expected = 0 if typed is not None else int(wish.removeprefix("exit ") or 0)
        for line in body.splitlines():
            if not line.startswith("$ "):
                continue
            answers = None if typed is None else [one.strip() for one in typed.split("|")]
            code, said = self._command(line.removeprefix("$ "), answers)
            if code != expected:
                raise NotAsShown(f'"{line}" ended with {code}, not {expected}: {said}')
            yield f"{line}\n"
            if said:
                yield said.rstrip("\n") + "\n"

    def _command(self, line: str, answers: list[str] | None) -> tuple[int, str]:
        """Exit code and output of a command, of which these few are known."""
        words = shlex.split(line)
        if words[0] == "mkdir":
            (self.folder / words[1]).mkdir()
            return 0, ""
        if words[0] == "cd":
            self.folder = self.folder / words[1]
            return 0, ""
        into = None
        if ">" in words:
            words, into = words[: words.index(">")], words[-1]
        programs = {
            "protocol-lang": [sys.executable, "-m", "protocol_lang"],
            "python": [sys.executable],
        }
        if words[0] not in programs:
            raise NotAsShown(f'"{words[0]}" is no command that is tried here.')
        command = [*programs[words[0]], *words[1:]]
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
        if answers is not None:
            return at_a_terminal(command, answers, self.folder, environment)
        ended = subprocess.run(
            command,
            cwd=self.folder,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            encoding="utf-8",
            check=False,
            timeout=120,
        )
        if into is not None:
            (self.folder / into).write_text(ended.stdout, "utf-8")
            return ended.returncode, ""
        return ended.returncode, ended.stdout

    def _edit(self, wish: str, body: str) -> None:
        if name := _after("save as ", wish):
            (self.folder / name).write_text(body, "utf-8")
            return
        lines = body.splitlines()
        if name := _after("take out of ", wish):
            text = self._lines(name)
            for line in lines:
                text.pop(self._find(line, text, name))
        elif name := _after("replace in ", wish):
            text = self._lines(name)
            text[self._find(lines[0], text, name)] = lines[1]
        elif place := _after("put into ", wish):
            name, _, above = place.partition(" above ")
            text = self._lines(name)
            at = self._find(above, text, name)
            text[at:at] = lines
        else:
            raise NotAsShown(f'"{wish}" is nothing that can be done with a block.')
        (self.folder / name).write_text("\n".join(text) + "\n", "utf-8")

    def _lines(self, name: str) -> list[str]:
        return (self.folder / name).read_text("utf-8").splitlines()

    def _find(self, line: str, text: list[str], name: str) -> int:
        found = [at for at, other in enumerate(text) if other.strip() == line.strip()]
        if len(found) != 1:
            raise NotAsShown(f'"{line.strip()}" stands {len(found)} times in {name}, not once.')
        return found[0]


def at_a_terminal(
    command: Sequence[str], answers: Iterable[str], folder: Path, environment: Mapping[str, str]
) -> tuple[int, str]:
    """Exit code and screen of a command that asks, each question answered when it is asked.

    Raises :class:`NotAsShown` when it asks more than there are answers, or less, or takes too long.
    """
    import pty

    hold, inside = pty.openpty()
    process = subprocess.Popen(
        command, stdin=inside, stdout=inside, stderr=inside, cwd=folder,
        env={**environment, **_SCREEN}, start_new_session=True,
    )  # fmt: skip
    os.close(inside)
    left, screen, end = list(answers), b"", time.monotonic() + 120
    try:
        while select.select([hold], [], [], max(0, end - time.monotonic()))[0]:
            try:
                piece = os.read(hold, 4096)
            except OSError:  # how Linux tells that the other end was closed
                piece = b""
            if not piece:
                break
            screen += piece
            # A question, unless more of the same line is on its way.
            if screen.endswith(b": ") and not select.select([hold], [], [], 0.3)[0]:
                if not left:
                    raise NotAsShown(f"It asks more than is answered: {_as_text(screen)}")
                os.write(hold, f"{left.pop(0)}\n".encode())
        else:
            raise NotAsShown(f"It did not end: {_as_text(screen)}")
        if left:
            raise NotAsShown(f"Of the answers, {len(left)} were not asked for: {_as_text(screen)}")
        return process.wait(10), _as_text(screen)
    finally:
        process.kill()
        process.wait()
        os.close(hold)


def _as_text(screen: bytes) -> str:
    """What a terminal was sent, in lines. Decoded as a whole: a read may end within a letter."""
    return screen.decode("utf-8", "replace").replace("\r\n", "\n")


def _shortened(said: str, shown: str) -> str:
    """As many paragraphs of ``said`` as are shown, if more are said to be left out."""
    paragraphs = shown.rstrip("\n").split("\n\n")
    if paragraphs[-1] != _MORE:
        return said
    kept = said.rstrip("\n").split("\n\n")[: len(paragraphs) - 1]
    return "\n\n".join([*kept, _MORE]) + "\n"


def _after(opening: str, wish: str) -> str:
    return wish.removeprefix(opening) if wish.startswith(opening) else ""


if __name__ == "__main__":
    sys.exit(main())
