"""The dependency picture: what it says, what it leaves out, that it can be drawn."""

import io
import itertools
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import page as validator
import pikepdf
import pypdfium2  # type: ignore[import-untyped]
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from protocol_lang.diagram import Arrow, Graph, Node, Page, Route, draw, steps_page, text
from protocol_lang.diagram.page import set_out
from protocol_lang.diagram.reduce import reduced

SVG = "{http://www.w3.org/2000/svg}"


def chain(count: int, phases: int = 3, words: str = "operator does step {n}") -> Graph:
    nodes = tuple(
        Node(
            f"s{n}",
            n + 1,
            words.format(n=n + 1),
            ("operator", "helper", None)[n % 3],
            n * phases // count,
        )
        for n in range(count)
    )
    before = tuple(Arrow(f"s{n}", f"s{n + 1}") for n in range(count - 1))
    return Graph("Picture", tuple(f"Phase {n + 1}" for n in range(phases)), nodes, before)


def page_of(graph: Graph) -> Page:
    return steps_page(graph)


def words_of(page: Page) -> str:
    """All that is set on the page, read back from the PDF."""
    document = pypdfium2.PdfDocument(draw(page, "pdf"))
    try:
        read = document[0].get_textpage().get_text_range()
    finally:
        document.close()
    return re.sub(r"\s+", " ", read.replace("\ufffe", ""))


def arrows_in(written: str, look: str) -> list[str]:
    """The lines of a written graph that stand for arrows of that look."""
    return [line for line in written.splitlines() if f'class="{look}"' in line]


def reachable(ids, arrows) -> set[tuple[str, str]]:
    """Which comes before which, by walking; no library."""
    following = {name: {a.target for a in arrows if a.source == name} for name in ids}
    found = set()
    for name in ids:
        todo, seen = list(following[name]), set()
        while todo:
            now = todo.pop()
            if now not in seen:
                seen.add(now)
                todo += following[now]
        found |= {(name, other) for other in seen}
    return found


@settings(max_examples=100, deadline=None)
@given(st.sets(st.tuples(st.integers(0, 6), st.integers(0, 6)).filter(lambda e: e[0] < e[1])))
def test_reduced_order_is_the_smallest_with_the_same_meaning(pairs):
    ids = [f"s{n}" for n in range(7)]
    arrows = [Arrow(f"s{a}", f"s{b}") for a, b in sorted(pairs)]
    kept = reduced(ids, arrows)
    meaning = reachable(ids, arrows)
    assert reachable(ids, kept) == meaning
    assert set(kept) <= set(arrows)
    for gone in kept:
        assert reachable(ids, [a for a in kept if a != gone]) != meaning


def test_a_circle_is_refused():
    with pytest.raises(ValueError, match="circle"):
        reduced(["a", "b"], [Arrow("a", "b"), Arrow("b", "a")])


def test_what_follows_from_the_rest_is_not_drawn():
    graph = chain(4, 1)
    more = Graph("P", graph.phases, graph.nodes, (*graph.before, Arrow("s0", "s3")))
    assert len(arrows_in(text(page_of(more)), "before")) == 3


@pytest.mark.parametrize(
    "faulty",
    [
        {"before": (Arrow("s0", "nowhere"),)},
        {"makes_true": (Arrow("nowhere", "s0"),)},
        {"route": Route(("s0", "nowhere"))},
        {"route": Route(("s0", "s1"), ("gloves", "tube"))},
        {"nodes": (Node("a", 1, "t", None, 0), Node("a", 2, "t", None, 0))},
        {"nodes": (Node("a", 1, "t", None, 7),)},
    ],
)
def test_faulty_graphs_are_refused(faulty):
    good = chain(2, 1)
    parts = {"title": "P", "phases": good.phases, "nodes": good.nodes, **faulty}
    with pytest.raises(ValueError):
        Graph(**parts)


def test_a_picture_of_eighty_steps_is_legible():
    graph = chain(80, 4)
    page = page_of(graph)
    read = words_of(page)
    for number in range(1, 81):
        assert f"does step {number} " in read + " "
    assert all(f"Phase {n}" in read for n in range(1, 5))
    # Long phases are continued, so that the picture is about as wide as a sheet on its side.
    document = pypdfium2.PdfDocument(draw(page, "pdf"))
    width, height = document[0].get_size()
    document.close()
    assert 0.8 <= width / height <= 2.5


def test_a_long_phase_goes_on_in_further_columns():
    page = page_of(chain(60, 1))
    titles = [zone["label"]["text"] for zone in set_out(page)["panels"][0]["zones"]]
    assert titles[0] == "Phase 1" and len(titles) > 2
    assert set(titles[1:]) == {"Phase 1, continued"}
    written = text(page)
    assert len(arrows_in(written, "before")) == 60 - len(titles)  # the columns say the rest


def test_the_picture_is_accessible(tmp_path):
    """PDF/UA-1 (ISO 14289-1) and PDF/A-2a (ISO 19005-2), by a validator of its own."""
    file = tmp_path / "picture.pdf"
    file.write_bytes(draw(page_of(chain(12)), "pdf"))
    for profile in ("ua1", "2a"):
        report = validator.validate_pdf(str(file), profile=profile)
        assert report.is_compliant, [(one.rule_id, one.message) for one in report.failures]


def test_all_fonts_are_in_the_file():
    with pikepdf.open(io.BytesIO(draw(page_of(chain(4)), "pdf"))) as pdf:
        fonts = [
            descendant.FontDescriptor
            for font in pdf.pages[0].Resources.Font.values()
            for descendant in font.DescendantFonts
        ]
        assert fonts
        assert all("/FontFile2" in one or "/FontFile3" in one for one in fonts)
    svg = draw(page_of(chain(4)))
    assert b"<text" not in svg and b"font-family" not in svg  # outlines: no font is needed at all


def test_the_picture_is_told_in_words():
    page = page_of(chain(4, 2))
    assert "2 operator does step 2, after 1." in page.alt
    tree = ElementTree.fromstring(draw(page))
    assert tree.get("role") == "img"
    assert tree.findtext(f"{SVG}title") == "Picture" and tree.findtext(f"{SVG}desc") == page.alt
    assert page.alt.split(".")[0].encode("utf-16-be").hex() in _alts(draw(page, "pdf"))


def _alts(pdf: bytes) -> str:
    """The alternative texts of a PDF, as hexadecimal figures of their letters."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        told = [
            str(one.Alt)
            for one in opened.objects
            if isinstance(one, pikepdf.Dictionary) and "/Alt" in one
        ]
    return " ".join(one.encode("utf-16-be").hex() for one in told)


def frames(panel) -> list[tuple[float, float, float, float]]:
    """Left, top, right, bottom of every label of a panel but the titles of zones."""
    return [
        (one["x"], one["y"], one["x"] + one["w"], one["y"] + one["h"])
        for one in (*panel["boxes"], *panel["hops"])
    ]


def overlapping(panel) -> list[object]:
    """Labels that lie on each other, or outside the picture."""
    found: list[object] = [
        (one, other)
        for one, other in itertools.combinations(frames(panel), 2)
        if not (
            one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        )
    ]
    found += [
        one
        for one in frames(panel)
        if one[0] < -1 or one[1] < -1 or one[2] > panel["width"] + 1 or one[3] > panel["height"] + 1
    ]
    return found


def test_boxes_do_not_overlap():
    (panel,) = set_out(page_of(chain(40, 3)))["panels"]
    assert len(panel["boxes"]) == 40
    assert not overlapping(panel)


def test_labels_do_not_run_out_of_their_boxes():
    """Words read back from the PDF with their boxes, each within the frame that was placed."""
    words = "lets sensor slide out of a wide sleeve onto used half of the tray"
    page = page_of(chain(3, 1, words))
    assert not outside(page)


def outside(page: Page) -> list[str]:
    """Words of a PDF that lie in no frame, zone title or line of the head: read from the file."""
    given = set_out(page)
    document = pypdfium2.PdfDocument(draw(page, "pdf"))
    sheet = document[0]
    read = sheet.get_textpage()
    top = sheet.get_height()
    shift_y = top - given["panels"][0]["height"] - 28
    rects = [read.get_rect(n) for n in range(read.count_rects())]
    told = [(rect, read.get_text_bounded(*rect)) for rect in rects]
    document.close()
    places = []
    for number, panel in enumerate(given["panels"]):
        shift_x = 28 + number * (panel["width"] + given["gap"])
        for one in (*panel["boxes"], *panel["hops"]):
            x, y = one["x"] + shift_x, one["y"] + shift_y
            places.append((x, y, x + one["w"], y + one["h"]))
        for zone in panel["zones"]:
            x, y = zone["x"] + shift_x, zone["y"] + shift_y
            places.append((x, y, x + zone["w"], y + 44))
    return [
        words
        for (left, bottom, right, upper), words in told
        if top - bottom > shift_y
        and not any(
            x1 - 1 <= left and right <= x2 + 1 and y1 - 1 <= top - upper and top - bottom <= y2 + 1
            for x1, y1, x2, y2 in places
        )
    ]


AWKWARD = [
    "tube: head",
    "\\N \\G \\l",
    "<b>x</b>",
    'say "no"',
    "a & b",
    "&amp;",
    "n1 -> n2; }",
    "]]>",
    "<IMG SRC='/etc/passwd'/>",
    "संवेदक غرفة",
]


@pytest.mark.parametrize("words", AWKWARD)
def test_user_text_is_only_ever_text(words):
    nodes = (Node(words, 1, words, words, 0), Node("other", 2, "second", None, 0))
    graph = Graph(
        words,
        (words,),
        nodes,
        (Arrow(words, "other"),),
        route=Route((words, "other"), (words,)),
    )
    page = page_of(graph)
    for line in text(page).splitlines():
        asked, _, told = line.partition(" // ")
        if not line.strip().startswith("//"):
            assert words not in asked  # the layout program reads none of it
        assert told.isascii()
    (panel,) = set_out(page)["panels"]
    assert len(panel["boxes"]) == 2 and len(panel["lines"]) == 2
    tree = ElementTree.fromstring(draw(page))
    assert not list(tree.iter(f"{SVG}image")) and not list(tree.iter(f"{SVG}script"))
    if words.isascii():
        plain = "".join(words_of(page).split())
        assert plain.count("".join(words.split())) >= 4  # title, phase, step, what is carried


TYPESETTING = ['#read("x")', "*b*", "_i_", "$x$", "<l>", "@l", "#panic()", "[x]", "\\u{41}", "//x"]


@pytest.mark.parametrize("words", TYPESETTING)
def test_user_text_is_no_markup_for_the_typesetter(words):
    graph = Graph(words, (words,), (Node("a", 1, words, None, 0),))
    assert "".join(words_of(page_of(graph)).split()).count(words) >= 3


def test_control_characters_are_shown_as_replaced():
    page = page_of(chain(1, 1, "bell \x07 and escape \x1b"))
    (panel,) = set_out(page)["panels"]
    assert panel["boxes"][0]["label"]["text"].count("\N{REPLACEMENT CHARACTER}") == 2
    svg = draw(page)
    assert b"\x07" not in svg and b"\x1b" not in svg


def test_the_path_of_a_fault_is_numbered_over_the_order():
    graph = chain(5, 1)
    route = Route(("s0", "s2", "s4", "s1"), ("gloves", "tube", "wipe"))
    with_route = Graph("P", graph.phases, graph.nodes, graph.before, route=route)
    page = page_of(with_route)
    (panel,) = set_out(page)["panels"]
    told = [(one["label"]["number"], one["label"]["text"]) for one in panel["hops"]]
    assert told == [("1", "gloves"), ("2", "tube"), ("3", "wipe")]
    assert sum(one["look"] == "route" for one in panel["lines"]) == 3
    assert "path of the fault" in words_of(page)
    assert "from step 1, then 3 (by gloves), then 5 (by tube), then 2 (by wipe)" in page.alt
    assert "path of the fault" not in words_of(page_of(graph))
    assert not overlapping(panel)


def test_only_when_is_dashed():
    graph = chain(3, 1)
    made = Graph("P", graph.phases, graph.nodes, graph.before, (Arrow("s0", "s2"),))
    lines = arrows_in(text(page_of(made)), "makes-true")
    assert len(lines) == 1 and "n1 -> n3" in lines[0]
    assert b"stroke-dasharray" in draw(page_of(made))


def test_the_same_graph_gives_the_same_text_under_any_hash_seed():
    code = (
        "from tests.diagram.test_picture import chain;"
        "from protocol_lang.diagram import steps_page, text;"
        "import sys; sys.stdout.write(text(steps_page(chain(20))))"
    )
    root = Path(__file__).parents[2]
    made = set()
    for seed in ("0", "1"):
        path = os.pathsep.join([str(root), *sys.path])
        env = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": path}
        made.add(
            subprocess.run(
                [sys.executable, "-c", code], env=env, cwd=root, capture_output=True, check=True
            ).stdout
        )
    assert len(made) == 1 and made.pop()


def test_no_program_on_the_path_is_needed(monkeypatch):
    monkeypatch.setenv("PATH", "")
    assert draw(page_of(chain(3, 1))).startswith(b"<svg")
    assert draw(page_of(chain(3, 1)), "png").startswith(b"\x89PNG")
    assert draw(page_of(chain(3, 1)), "pdf").startswith(b"%PDF")
