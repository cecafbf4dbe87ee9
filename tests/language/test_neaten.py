"""The printed form: idempotent, the same tree when read, nothing lost, and how it looks."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from protocol_lang.language import tree
from protocol_lang.language.neaten import neaten, printed
from protocol_lang.language.reader import read
from protocol_lang.text import decode, read_text
from tests.language.corpus import faulty
from tests.language.test_reader import GOOD
from tests.language.trees import HERE, files, files_of_rules

_SLOW = settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))


def parsed(text: str) -> tree.File:
    reading = read(decode(text.encode(), "f"))
    assert reading.findings == (), text
    return reading.file


def comparable(node: Any) -> Any:
    """A tree without the raw text of joined claims, which only repeats their parts."""
    if isinstance(node, tuple):
        return tuple(map(comparable, node))
    if isinstance(node, tree.JoinedClaims):
        node = replace(node, words=None)
    if is_dataclass(node) and not isinstance(node, tree.Words | tree.Remarks | type):
        changed = {f.name: comparable(getattr(node, f.name)) for f in fields(node)}
        return replace(node, **changed)
    return node


@_SLOW
@given(st.one_of(files(), files_of_rules()))
def test_what_is_printed_reads_as_the_same_tree(file: tree.File):
    text = printed(file)
    again = parsed(text)
    assert comparable(again) == comparable(file)
    assert printed(again) == text


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.one_of(files(), files_of_rules()), st.randoms(use_true_random=False))
def test_neat_is_neat_however_the_text_was_laid_out(file: tree.File, random: Any):
    text = printed(file)
    for_sure = neaten(decode(untidied(text, random).encode(), "f"))
    assert for_sure.findings == ()
    assert for_sure.text == text


def untidied(text: str, random: Any) -> str:
    """The same text with wider indentation, blanks between words, and blank lines where free."""
    factor = random.choice((1, 2, 3))
    out = []
    for line in text.splitlines():
        indent = len(line) - len(line.lstrip())
        words = line.strip()
        if not words:
            out += [""] * random.choice((1, 2))
            continue
        if not words.startswith("#") and "#" not in words and not words.startswith("["):
            words = words.replace(" ", "  " if random.random() < 0.5 else " ")
        out.append(" " * indent * factor + words + random.choice(("", "  ")))
    end: str = random.choice(("\n", "\r\n"))
    return end.join(out) + str(random.choice(("", "\n", "\n\n\n")))


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_shipped_texts_are_neat(path: Path):
    assert neaten(read_text(path)).text == path.read_text(encoding="utf-8")


@pytest.mark.parametrize("path", faulty("text"), ids=lambda path: path.stem)
def test_a_text_with_faults_is_left_alone(path: Path):
    neat = neaten(read_text(path))
    assert neat.text is None
    assert neat.findings


def test_a_spoiled_line_is_not_printed():
    with pytest.raises(ValueError, match="Spoiled"):
        printed(_with_spoiled())


def _with_spoiled() -> tree.File:
    spoiled = tree.Spoiled(words=tree.Words("x", HERE), place=HERE)
    return tree.File(kind="protocol", title=tree.Words("P", HERE), header=(spoiled,), place=HERE)


def test_how_it_looks():
    untidy = (
        '\ufeff\n\n#a file\n\n\n\nprotocol   "P"   #beside\n    edition 1\n\n\n    owner   me\n'
        'choices,each visit\n  a:b,c   d\n#a heading\n\n\nphase "V"\n\n     [ ]   one : two\n'
        '       note   "N"\n\n\n     # a comment\n     [ ] three\n     any order ,mixed\n'
        "         [ ] four\n         # the last\n     where a is  b\n      [ ] five\n# closing\n\n"
    )
    assert neaten(decode(untidy.encode(), "f")).text == (
        "# a file\n\n"
        'protocol "P"  # beside\n'
        "  edition 1\n\n"
        "  owner me\n\n"
        "choices, each visit\n"
        "  a: b, c d\n\n"
        "# a heading\n\n"
        'phase "V"\n'
        "  [ ] one: two\n"
        '      note "N"\n\n'
        "  # a comment\n"
        "  [ ] three\n"
        "  any order, mixed\n"
        "    [ ] four\n"
        "    # the last\n"
        "  where a is b\n"
        "    [ ] five\n\n"
        "# closing\n"
    )


def test_a_line_that_would_grow_too_long_is_told():
    names = ",".join(f"n{number}" for number in range(105))
    line = f"  x: {names}"
    assert len(line) <= 500 < len(line.replace(",", ", "))
    neat = neaten(decode(f'room "R"\n\ngroups\n{line}\n'.encode(), "f"))
    assert neat.text is None
    assert [finding.kind for finding in neat.findings] == ["line-too-long"]
