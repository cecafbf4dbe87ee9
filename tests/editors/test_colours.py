"""The colours of editors agree with how the language itself reads a line.

The oracle is the parser of lines: every shipped file is read, and of each word it is known which
terminal of the grammar it was. The colours know nothing of that parser.
"""

from __future__ import annotations

import json
import random
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from pygments.lexers import get_lexer_by_name, get_lexer_for_filename
from pygments.token import Error, Keyword, Name, Number, Operator, Punctuation, String

from protocol_lang.editors import lexer
from protocol_lang.editors.lexer import ProtocolLexer
from protocol_lang.language import reader
from protocol_lang.language.reading import desk, lines
from protocol_lang.language.reading.openers import TABLES
from protocol_lang.language.tree import Words
from protocol_lang.text import Text, read_text
from tools.editors import TEXTMATE, pages

ROOT = Path(__file__).resolve().parents[2]
GOOD = [
    *sorted((ROOT / "protocols").rglob("*.protocol")),
    *sorted((ROOT / "tests" / "corpus" / "text" / "good").glob("*.protocol")),
]
FAULTY = sorted((ROOT / "tests" / "corpus" / "text" / "faulty").rglob("*.protocol"))

#: Terminals that are words of the author's own.
OWN = re.compile("REST|SENTENCE|NAME|PIECE|UNTIL_.*|COMMA|COLON|SEMICOLON")


def coloured(text: str) -> list[object]:
    """The kind of token of each letter; the tokens put together have to be the text."""
    kinds: list[object] = []
    made = ""
    for at, kind, words in ProtocolLexer().get_tokens_unprocessed(text):
        assert at == len(made) and words
        made += words
        kinds += [kind] * len(words)
    assert made == text
    return kinds


def words_of(shape: lines.Shape) -> Iterator[tuple[str, Words]]:
    yield from shape.tokens
    for part in shape.shapes:
        yield from words_of(part)


def suits(terminal: str, kind: object) -> bool:
    """Whether a word of the grammar has the colour that such a word has to have."""
    word = kind in Keyword or kind in Operator.Word
    match terminal:
        case "NUMBER" | "AMOUNT" | "DAY":
            return kind in Number
        case "BOX":
            return kind in Punctuation.Marker
        case "LABEL":
            return kind in Name.Label
        case "QUOTED":
            return kind in String
    if OWN.fullmatch(terminal):
        return not word and kind not in Number and kind not in Punctuation.Marker
    return word


def differences(
    text: Text, monkeypatch: pytest.MonkeyPatch, kinds: list[object] | None = None
) -> list[tuple[int, str, str]]:
    """Words whose colour is not that of their terminal: (line, terminal, word)."""
    shapes: list[lines.Shape] = []
    parse = lines.parse

    def recording(rule, words):
        shape = parse(rule, words)
        if isinstance(shape, lines.Shape):
            shapes.append(shape)
        return shape

    monkeypatch.setattr(f"{desk.__name__}.parse", recording)
    reader.read(text)
    monkeypatch.undo()
    assert shapes
    source = "\n".join(text.lines) + "\n"
    kinds = coloured(source) if kinds is None else kinds
    starts = [0]
    for line in text.lines:
        starts.append(starts[-1] + len(line) + 1)
    # A trait is a line of its own to the parser, and is looked at there, word by word.
    said = {
        starts[words.place.line - 1] + at: (terminal, words)
        for shape in shapes
        for terminal, words in words_of(shape)
        if terminal != "TRAIT"
        for at in range(words.place.column - 1, words.place.end - 1)
    }
    assert len(said) > len(source) / 4
    return [
        (words.place.line, terminal, words.text)
        for at, (terminal, words) in said.items()
        if not source[at].isspace() and not suits(terminal, kinds[at])
    ]


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_every_word_has_the_colour_of_what_the_grammar_says_it_is(path, monkeypatch):
    assert differences(read_text(path), monkeypatch) == []


def test_a_wrong_colour_would_be_noticed(monkeypatch):
    """All in one colour; and each sort of word in the colour of another one."""
    text = read_text(ROOT / "tests" / "corpus" / "text" / "good" / "every-construct.protocol")
    source = "\n".join(text.lines) + "\n"
    kinds = coloured(source)
    for was, told in (
        (Keyword, Name), (Keyword.Declaration, Name), (Keyword.Type, Name), (Operator.Word, Name),
        (String.Double, Name), (Number, Name), (Name.Label, Name), (Punctuation.Marker, Name),
    ):  # fmt: skip
        wrong = [told if kind is was else kind for kind in kinds]
        assert wrong != kinds, was
        assert differences(text, monkeypatch, wrong), was


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_no_good_file_has_a_word_that_is_an_error(path):
    kinds = coloured(path.read_text("utf-8"))
    assert not [kind for kind in kinds if kind in Error]
    # Words that are declared, headings and comments have colours too.
    if "\npeople\n" in path.read_text("utf-8"):
        assert {Name.Variable, Keyword.Declaration} <= set(kinds)


def test_a_quotation_mark_without_another_is_an_error():
    kinds = coloured('protocol "T\n  edition 1\n')
    assert kinds[9] is Error and kinds[14] is Keyword


@pytest.mark.parametrize("path", FAULTY, ids=lambda path: path.stem)
def test_a_faulty_file_is_coloured_to_its_end(path):
    coloured(path.read_text("utf-8"))


def test_torn_files_and_random_signs_come_back_as_they_are():
    chance = random.Random(7)
    whole = "".join(path.read_text("utf-8") for path in GOOD[:12])
    signs = '[]#":;,\n \t\r\x0b\x0c\x85\u2028ab1éग\x00\U0001f600'
    for _ in range(60):
        begin = chance.randrange(len(whole))
        torn = list(whole[begin : begin + chance.randrange(600)])
        for _ in range(chance.randrange(12)):
            torn.insert(chance.randrange(len(torn) + 1), chance.choice(signs))
        coloured("".join(torn))
        coloured("".join(chance.choice(signs) for _ in range(chance.randrange(200))))


@pytest.mark.parametrize(
    "line",
    [
        "  [ ] " + "a " * 4000,
        "  only when " + "is not " * 3000,
        "  a" + "; used once" * 2000,
        "  " + " " * 8000 + "x",
        "  " + '"' * 4001,
        "  " + "a, " * 4000,
        "# " + "#" * 8000,
    ],
)
def test_the_work_grows_with_the_text_and_not_faster(line):
    """Counted in tokens and searches, not in seconds: a search for each pattern between its own
    matches, and no more tokens than letters."""
    counted = 0

    class Counting:
        """A pattern that counts how often it is looked for."""

        def __init__(self, pattern: re.Pattern[str]) -> None:
            self.pattern = pattern

        def search(self, text: str, at: int) -> re.Match[str] | None:
            nonlocal counted
            counted += 1
            return self.pattern.search(text, at)

    def searches(text: str) -> int:
        nonlocal counted
        counted = 0
        top, parts = lexer._grammar()
        counting = {
            name: lexer._Part(Counting(part.pattern), part.sorts, part.end, part.holds)  # type: ignore[arg-type]
            for name, part in parts.items()
        }
        open_: list[lexer._Open] = []
        for one in ('room "R"', "things", text):
            list(lexer._line(one, open_, top, counting))
        return counted

    half = searches(line[: len(line) // 2])
    assert searches(line) <= 2.2 * half + 200


def test_pygments_finds_the_lexer_by_name_and_by_the_name_of_a_file():
    assert isinstance(get_lexer_by_name("protocol"), ProtocolLexer)
    assert isinstance(get_lexer_for_filename("our-room.protocol"), ProtocolLexer)


def test_the_program_does_not_wait_for_pygments():
    import subprocess

    ended = subprocess.run(
        [sys.executable, "-c", "import sys, protocol_lang.cli.check, protocol_lang.cli.start; "
         "print('pygments' in sys.modules)"],
        capture_output=True, encoding="utf-8", check=True, cwd=ROOT,
    )  # fmt: skip
    assert ended.stdout == "False\n"


# --- The files for editors -----------------------------------------------------------------------


@pytest.mark.parametrize("path", pages(), ids=lambda path: path.suffix)
def test_the_files_are_up_to_date(path):
    assert path.read_text("utf-8") == pages()[path], '"make docs" writes it anew.'


def test_the_textmate_grammar_holds_together():
    """Every name that is included is there, every part is used, every coloured group exists."""
    whole = json.loads(TEXTMATE.read_text("utf-8"))
    assert whole["scopeName"] == "source.protocol" and whole["fileTypes"] == ["protocol"]
    parts = whole["repository"]
    used = {one["include"].removeprefix("#") for one in whole["patterns"]}
    for name, part in parts.items():
        assert ("match" in part) != ("begin" in part and "end" in part), name
        used |= {one["include"].removeprefix("#") for one in part.get("patterns", ())}
        for field in ("match", "begin"):
            if field in part:
                groups = re.compile(part[field]).groups
                told = part.get("captures" if field == "match" else "beginCaptures", {})
                assert all(1 <= int(group) <= groups for group in told), name
    assert used == set(parts)


def test_every_opening_word_of_the_language_is_coloured():
    parts = json.loads(TEXTMATE.read_text("utf-8"))["repository"].values()
    begins = [part["begin"] for part in parts if "begin" in part]
    for table in TABLES.values():
        for phrase in table:
            word = r"\[ \]" if phrase == "[ ]" else r"\s+".join(phrase.split()) + r'(?![^\s,;:"])'
            assert any(f"({word}" in begin for begin in begins), phrase
