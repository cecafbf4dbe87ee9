"""The report of an audit as PDF: read back with independent readers."""

from __future__ import annotations

import io
from collections import Counter
from functools import cache
from itertools import pairwise

import page as validator
import pikepdf
import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.report.audit.pdf import _soft, render
from tests.report import audits

SAMPLES = {
    "whole": audits.AUDIT,
    "empty": audits.EMPTY,
    "markup": audits.spoken(" ".join(audits.MARKUP)),
    "Arabic": audits.spoken(audits.ARABIC),
    "Hindi": audits.spoken(audits.HINDI),
    "long": audits.spoken("A name three times as long as others " * 5 + "x" * 90),
    "many": audits.many(60),
}


@cache
def made(name: str, paper: str = "a4") -> bytes:
    return render(SAMPLES[name], "us-letter" if paper == "us-letter" else "a4")


@pytest.mark.parametrize("profile", ["ua1", "pdfa2a"])
@pytest.mark.parametrize("name", SAMPLES)
def test_accessible_and_lasting(name, profile, tmp_path):
    # ISO 14289-1 (PDF/UA-1) and ISO 19005-2 level A, by a validator that is not the typesetter's.
    file = tmp_path / "audit.pdf"
    file.write_bytes(made(name))
    report = validator.validate_pdf(str(file), profile=profile)
    assert report.is_compliant, [(f.rule_id, f.message) for f in report.failures]


@pytest.mark.parametrize(("paper", "size"), [("a4", (210, 297)), ("us-letter", (215.9, 279.4))])
@pytest.mark.parametrize("name", SAMPLES)
def test_nothing_leaves_the_page(name, paper, size):
    # ISO 216: A4 is 210 x 297 mm. ANSI/ASME Y14.1: size A is 8.5 x 11 in.
    document = pypdfium2.PdfDocument(made(name, paper))
    for page in document:
        wide, high = page.get_size()
        assert (wide / 72 * 25.4, high / 72 * 25.4) == pytest.approx(size, abs=0.1)
        text = page.get_textpage()
        for at in range(text.count_chars()):
            if text.get_text_range(at, 1).strip():
                left, bottom, right, top = text.get_charbox(at)
                assert left >= 50 and right <= wide - 50
                assert bottom >= 20 and top <= high - 40
    document.close()


@pytest.mark.parametrize("name", ["whole", "long", "markup"])
def test_no_letters_lie_on_each_other(name):
    document = pypdfium2.PdfDocument(made(name))
    for page in document:
        text = page.get_textpage()
        boxes = sorted(
            {
                text.get_charbox(at)
                for at in range(text.count_chars())
                if text.get_text_range(at, 1).strip(" \r\n\t,.;:'\"`_-~")
            }
        )
        for number, (left, bottom, right, top) in enumerate(boxes):
            for other in boxes[number + 1 :]:
                if other[0] >= right:
                    break
                wide = min(right, other[2]) - max(left, other[0])
                high = min(top, other[3]) - max(bottom, other[1])
                narrow, low = (
                    min(right - left, other[2] - other[0]),
                    min(top - bottom, other[3] - other[1]),
                )
                assert not (wide > 0.4 * narrow and high > 0.4 * low)
    document.close()


def structure(pdf: bytes) -> list[str]:
    document = pikepdf.open(io.BytesIO(pdf))
    found: list[str] = []

    def walk(node):
        if isinstance(node, pikepdf.Array):
            for one in node:
                walk(one)
        elif isinstance(node, pikepdf.Dictionary) and "/S" in node:
            found.append(str(node.S))
            if "/K" in node:
                walk(node.K)

    walk(document.Root.StructTreeRoot.K)
    document.close()
    return found


def test_headings_tables_and_lists_are_tagged():
    tags = Counter(structure(made("whole")))
    assert tags["/H1"] == 1
    assert tags["/H2"] == 2 + 7  # to be done, signatures; the parts
    assert tags["/H4"] == 4 + 5  # findings, waivers
    assert tags["/TH"] > 20 and tags["/LI"] > 20
    levels = [
        int(tag[2]) for tag in structure(made("whole")) if tag[:2] == "/H" and tag[2:].isdigit()
    ]
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_the_pdf_has_a_title_a_language_an_outline_and_the_day_of_judgement():
    document = pikepdf.open(io.BytesIO(made("whole")))
    assert str(document.Root.Lang) == "en"
    assert str(document.docinfo["/Title"]) == "Audit of protocols. Judged as of 2 November 2026"
    assert str(document.docinfo["/CreationDate"]).startswith("D:20261102")
    with document.open_outline() as outline:
        titles = [one.title for one in outline.root[0].children]
    assert titles[-7:] == [
        "1. Findings",
        "2. Waivers",
        "3. Rules",
        "4. Files",
        "5. Completeness",
        "6. What the proof rests on",
        "7. Annex",
    ]
    assert "/JavaScript" not in str(document.Root.keys())
    document.close()


def test_long_words_may_end_a_line_inside_and_stay_as_they_are():
    for word in (
        "room-2/intraoral.protocol",
        "x" * 100,
        audits.ARABIC * 5,
        audits.HINDI * 5,
        "short",
    ):
        assert _soft(word).replace("\u200b", "") == word
    assert "\u200b" not in _soft("short words of a sentence")
    assert max(map(len, _soft("x" * 100).split("\u200b"))) <= 14
    # Letters that join each other are not parted.
    assert "\u200b" not in _soft("".join(audits.ARABIC.split()) * 5)
    assert "\u200b" not in _soft(audits.HINDI.replace("-", "") * 5)


def test_a_thousand_files_are_not_too_many():
    document = pypdfium2.PdfDocument(render(audits.many(1000)))
    assert 50 < len(document) < 250
    first = document[0].get_textpage().get_text_range()
    assert "Of 1,000 files audited, 200 have to be corrected" in " ".join(first.split())
    document.close()
