"""Texts cut, torn and mixed: never an exception, and every finding points at something."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from protocol_lang.language.layout import cut
from protocol_lang.language.neaten import neaten
from protocol_lang.language.reader import Reading, read
from protocol_lang.text import Text, Unreadable, decode
from protocol_lang.wording import ENTRIES

ROOT = Path(__file__).resolve().parents[2]
TEXTS = tuple(
    path.read_bytes()
    for path in sorted(
        [*(ROOT / "protocols").rglob("*.protocol"), *(ROOT / "tests/corpus").rglob("*.protocol")]
    )
)
SENTENCES = ENTRIES
ROUGH = settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))


def examined(data: bytes) -> tuple[Text, Reading] | None:
    """Reads the bytes, and holds every finding to what all findings must be."""
    try:
        text = decode(data, "f")
    except Unreadable as error:
        assert SENTENCES[error.kind].sentence(error.facts)
        return None
    reading = read(text)
    for finding in reading.findings:
        place = finding.place
        assert place is not None and place.file == "f"
        assert 1 <= place.line <= len(text.lines)
        line = text.lines[place.line - 1]
        assert 1 <= place.column < place.end <= len(line) + 1, (finding, line)
        assert text.marked(place)
        for _, other in finding.others:
            assert text.marked(other)
        entry = SENTENCES[finding.kind]
        for said in (entry.sentence, entry.because, entry.change):
            words = said(finding.facts)
            assert words is None or words.strip()
    if not reading.findings:
        neat = neaten(text)
        assert neat.text is not None or neat.findings
    return text, reading


signs = st.sampled_from([b'"', b"#", b":", b";", b",", b"[", b"\t", b"\xe2\x80\x8b"])


@st.composite
def torn(draw: st.DrawFn) -> bytes:
    """A text with lines and letters dropped, doubled, swapped, moved or replaced."""
    lines = draw(st.sampled_from(TEXTS)).split(b"\n")
    start = draw(st.integers(0, len(lines) - 1))
    lines = lines[start : start + 40] if draw(st.booleans()) else lines
    for _ in range(draw(st.integers(1, 4))):
        if not lines:
            break
        at = draw(st.integers(0, len(lines) - 1))
        other = draw(st.integers(0, len(lines) - 1))
        line = lines[at]
        cut_at = draw(st.integers(0, len(line)))
        match draw(st.integers(0, 9)):
            case 0:
                del lines[at]
            case 1:
                lines.insert(at, lines[other])
            case 2:
                lines[at], lines[other] = lines[other], line
            case 3:
                lines[at] = line[:cut_at]
            case 4:
                lines[at] = line[:cut_at] + line[cut_at + 1 :]
            case 5:
                lines[at] = line[:cut_at] + draw(st.binary(max_size=3)) + line[cut_at:]
            case 6:
                lines[at] = b" " * draw(st.integers(0, 9)) + line.lstrip()
            case 7:
                sign = draw(
                    st.sampled_from([b'"', b"#", b":", b";", b",", b"[", b"\t", b"\xe2\x80\x8b"])
                )
                lines[at] = line[:cut_at] + sign + line[cut_at:]
            case 8:
                words = line.split(b" ")
                here = draw(st.integers(0, len(words) - 1))
                lines[at] = b" ".join(words[:here] + words[here + 1 :])
            case _:
                lines[at] = line + draw(st.sampled_from([b" and", b" with", b" is", b":", b" x, "]))
    return b"\n".join(lines)


@ROUGH
@given(torn())
def test_torn_texts(data: bytes):
    examined(data)


@ROUGH
@given(st.sampled_from(TEXTS), st.data())
def test_texts_cut_anywhere(data: bytes, draw: st.DataObject):
    examined(data[: draw.draw(st.integers(0, len(data)))])


@ROUGH
@given(st.binary(max_size=300))
def test_any_bytes(data: bytes):
    examined(data)
    examined(b'protocol "P"\n\nphase "V"\n  ' + data)


WORDS = (
    'protocol room phase "x" [ ] note only when is covered with and or where any order all of '
    "otherwise take meet pass to : ; , has takes cover from on then over things verb also 7 # "
    "say: are not does wear by through"
)
words = st.sampled_from(WORDS.split())


@ROUGH
@given(st.lists(st.tuples(st.integers(0, 3), st.lists(words, max_size=7)), max_size=12))
def test_words_of_the_language_in_any_order(rows: list[tuple[int, list[str]]]):
    text = "\n".join("  " * indent + " ".join(line) for indent, line in rows)
    examined(text.encode())


@pytest.mark.parametrize("data", TEXTS)
def test_form_of_the_file_makes_no_difference(data: bytes):
    expected = examined(data)
    for other in (
        b"\xef\xbb\xbf" + data,
        data.replace(b"\n", b"\r\n"),
        data.replace(b"\n", b"\r"),
        data.rstrip(b"\n"),
        data + b"\n\n",
    ):
        assert examined(other) is not None or expected is None
        if expected is not None:
            again = examined(other)
            assert again is not None
            assert again[1] == expected[1]


@pytest.mark.parametrize("data", TEXTS)
def test_more_comments_change_only_the_numbers_of_lines(data: bytes):
    expected = examined(data)
    assert expected is not None
    text, before = expected
    made: list[str] = []
    moved: dict[int, int] = {}
    for number, line in enumerate(text.lines, start=1):
        indent = " " * (len(line) - len(line.lstrip(" ")))
        made.append(f"{indent}# a comment")
        plain = '"' not in line or line.count('"') % 2 == 0
        made.append(
            f"{line}  # beside" if plain and cut(line)[0] and cut(line)[1] is None else line
        )
        moved[number] = len(made)
    after = read(Text("f", tuple(made)))
    assert [f.kind for f in after.findings] == [f.kind for f in before.findings]
    for old, new in zip(before.findings, after.findings, strict=True):
        assert old.place is not None and new.place is not None
        assert new.place.line == moved[old.place.line]
        assert (new.place.column, new.place.end) == (old.place.column, old.place.end)


def test_every_table_of_openers_has_words_for_what_stands_there():
    """A word that is out of place was no fault of the program but under a waiver, once."""
    from protocol_lang.language.reading.openers import TABLES
    from protocol_lang.wording import text_faults

    assert set(text_faults._HERE) == set(TABLES)
    assert set(text_faults._HOMES) == set(TABLES)
