"""The report of an audit as HTML: sound, safe, accessible, fit to be printed."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from protocol_lang.report.audit.html import render
from tests.report import audits

SAMPLES = {
    **audits.ALL,
    "markup": audits.spoken(" ".join(audits.MARKUP)),
    "Arabic": audits.spoken(audits.ARABIC),
    "many": audits.many(30),
}
VOID = {"meta", "col", "wbr"}
ALLOWED = {
    "html", "head", "meta", "title", "style", "body", "header", "nav", "main", "section", "article",
    "footer", "h1", "h2", "h3", "h4", "p", "span", "ul", "li", "a", "dl", "dt", "dd", "div",
    "table", "caption", "colgroup", "col", "wbr", "thead", "tbody", "tr", "th", "td", "bdi",
}  # fmt: skip


class Document(HTMLParser):
    """Elements in order with their attributes and text; raises where one is not closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None], list[str]]] = []
        self._open: list[int] = []
        self.feed(text)
        self.close()
        assert not self._open

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs), []))
        if tag not in VOID:
            self._open.append(len(self.elements) - 1)

    def handle_endtag(self, tag):
        assert self.elements[self._open.pop()][0] == tag

    def handle_data(self, data):
        for at in self._open:
            self.elements[at][2].append(data)

    def all(self, *tags: str) -> list[tuple[str, dict[str, str | None], str]]:
        return [(tag, attrs, "".join(text)) for tag, attrs, text in self.elements if tag in tags]


@pytest.mark.parametrize("name", SAMPLES)
def test_elements_are_closed_and_are_those_that_we_write(name):
    assert {tag for tag, _, _ in Document(render(SAMPLES[name])).elements} <= ALLOWED


@pytest.mark.parametrize("name", SAMPLES)
def test_no_script_and_nothing_from_elsewhere(name):
    document = Document(render(SAMPLES[name]))
    for tag, attrs, _ in document.elements:
        for key, value in attrs.items():
            assert not key.startswith("on") and key not in ("src", "srcset", "style")
            if key == "href":
                assert tag == "a" and value and value.startswith("#")
    (style,) = document.all("style")
    assert not re.search(r"url\(|@import|expression|http", style[2])
    (policy,) = [attrs for _, attrs, _ in document.all("meta") if "http-equiv" in attrs]
    assert policy["content"] == "default-src 'none'; style-src 'unsafe-inline'"


def test_links_lead_somewhere():
    document = Document(render(audits.AUDIT))
    targets = {attrs["id"] for _, attrs, _ in document.elements if "id" in attrs}
    links = [str(attrs["href"])[1:] for _, attrs, _ in document.all("a")]
    assert links and set(links) == targets and len(set(links)) == len(links)


@pytest.mark.parametrize("name", SAMPLES)
def test_headings_go_down_by_one(name):
    # WCAG 2.2, success criterion 1.3.1 and technique G141: headings that nest.
    levels = [
        int(tag[1]) for tag, _, _ in Document(render(SAMPLES[name])).all("h1", "h2", "h3", "h4")
    ]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


@pytest.mark.parametrize("name", SAMPLES)
def test_tables_have_headers_and_the_page_a_language_and_a_title(name):
    document = Document(render(SAMPLES[name]))
    ((_, attributes, _),) = document.all("html")
    assert attributes == {"lang": "en", "dir": "ltr"}
    assert document.all("title")[0][2] == "Audit of protocols. Judged as of 2 November 2026"
    tables = render(SAMPLES[name]).split("<table")[1:]
    assert tables
    for table in tables:
        rows = re.findall(r"<tr.*?</tr>", table, re.DOTALL)
        head, *body = rows
        cells = head.count('<th scope="col"')
        assert cells == head.count("<th") > 1
        for row in body:
            assert row.count('<th scope="row"') == 1
            assert row.count("<th") + row.count("<td") == cells


def luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    digits = colour if len(colour) == 6 else "".join(one * 2 for one in colour)
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast():
    # WCAG 2.2: 1.4.3 asks 4.5 of letters, 1.4.11 asks 3 of shapes.
    assert contrast("000", "fff") == pytest.approx(21)  # the worked example of the definition
    style = Document(render(audits.AUDIT)).all("style")[0][2]
    letters = set(re.findall(r"(?<![-\w])color: #([0-9a-f]+)", style)) - {"fff"}
    lines = set(re.findall(r"border[-\w]*: [^;]*#([0-9a-f]+)", style))
    assert letters and lines
    assert all(contrast(one, "fff") >= 4.5 for one in letters)
    assert all(contrast(one, "fff") >= 3 for one in lines)
    grey = {one for one in letters | lines if len(set(one)) > 1 and one != one[:2] * 3}
    assert not grey, "black on white: no hue"


def test_what_is_to_be_corrected_is_told_by_words_and_outline():
    made = render(audits.AUDIT)
    for group, kind in (
        ("To correct", "correct"),
        ("To consider", "consider"),
        ("Waived for a time", "waived"),
    ):
        part = made[made.index(f"<h3>{group}</h3>") :]
        assert part.index(f'class="form {kind}"') < 120


def unescaped(css: str) -> str:
    """A string of a style sheet as CSS Syntax Level 3, 4.3.7, reads it."""
    return re.sub(r"\\([0-9a-f]{1,6})\s?", lambda found: chr(int(found[1], 16)), css)


@pytest.mark.parametrize("name", ["whole", "markup"])
def test_the_foot_of_printed_pages(name):
    style = Document(render(SAMPLES[name])).all("style")[0][2]
    foot = re.search(r'@bottom-left { content: "([^"]*)"', style)
    assert foot
    told = unescaped(foot[1])
    assert told.startswith("Judged as of 2 November 2026. protocol-lang 0.1.0. Rules: ")
    title = "Infection control at work, edition 3" if name == "whole" else audits.MARKUP[1]
    assert title in told
    pages = re.search(r"@bottom-right { content: ([^;]*);", style)
    assert pages
    assert unescaped(pages[1]).replace('"', "") == "Page  counter(page)  of  counter(pages)"


def test_markup_stays_text():
    made = render(SAMPLES["markup"])
    assert "<script" not in made and made.count("</style>") == 1
    assert made.count("&lt;script&gt;alert(1)&lt;/script&gt;") >= 30
    assert "&amp;amp;" in made
