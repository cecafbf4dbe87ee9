"""The dependency picture: what it says, what it leaves out, that it can be drawn."""

import itertools
import os
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from protocol_lang.diagram import Arrow, Graph, Node, Route, draw, text
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


def shown(svg: bytes) -> list[str]:
    """All texts of a picture, in order."""
    return [
        (element.text or "").replace("\xa0", " ")
        for element in ElementTree.fromstring(svg).iter(f"{SVG}text")
    ]


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
    shown = [line for line in text(more).splitlines() if "->" in line and "invis" not in line]
    assert len(shown) == 3


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


def test_a_picture_of_sixty_steps_shows_them_all():
    graph = chain(60, 4)
    svg = draw(graph)
    texts = shown(svg)
    for node in graph.nodes:
        assert str(node.number) in texts
    joined = " ".join(texts)
    for number in range(1, 60):
        assert f"does step {number}" in joined
    assert all(f"Phase {n}" in joined for n in range(1, 5))
    # Legible: phases stand side by side, so that the picture is no long ribbon.
    box = ElementTree.fromstring(svg).get("viewBox")
    assert box is not None
    _, _, width, height = map(float, box.split())
    assert 0.3 <= width / height <= 3


def test_labels_do_not_run_out_of_their_boxes():
    """Widths by the metrics of the font, from Pillow, not from the layout program."""
    from importlib.util import find_spec

    from PIL import ImageFont

    spec = find_spec("manimgx_fonts")
    assert spec is not None and spec.submodule_search_locations
    # Noto Sans is wider than the font of the picture: what fits in it fits.
    path = Path(spec.submodule_search_locations[0]) / "NotoSans[wght].ttf"
    font = ImageFont.truetype(str(path), 1200)
    words = "lets sensor slide out of a wide sleeve onto used half of the tray"
    svg = draw(chain(1, 1, words))
    tree = ElementTree.fromstring(svg)
    right = max(
        float(point.split(",")[0])
        for shape in tree.iter(f"{SVG}polygon")
        if (shape.get("fill") or "none") == "none"
        for point in (shape.get("points") or "").split()
    )
    lines = [t for t in tree.iter(f"{SVG}text") if t.text and t.text.strip() in words]
    assert len(lines) > 1
    for line in lines:
        end = float(line.get("x", "0")) + font.getlength(line.text or "") / 100
        assert end <= right


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
    svg = draw(graph)
    tree = ElementTree.fromstring(svg)
    titles = [t.text for t in tree.iter(f"{SVG}title")]
    assert "n1" in titles and "n2" in titles and not {"n3", "tube"} & set(titles)
    assert not list(tree.iter(f"{SVG}image")) and not list(tree.iter(f"{SVG}script"))
    plain = "".join("".join(shown(svg)).split())
    assert plain.count("".join(words.split())) >= 4  # title, phase, step, person, what is carried


def test_control_characters_are_shown_as_replaced():
    svg = draw(chain(1, 1, "bell \x07 and escape \x1b"))
    assert b"\x07" not in svg and b"\x1b" not in svg
    assert "\N{REPLACEMENT CHARACTER}" in "".join(shown(svg))


def test_the_path_of_a_fault_is_numbered_over_the_order():
    graph = chain(5, 1)
    route = Route(("s0", "s2", "s4", "s1"), ("gloves", "tube", "wipe"))
    with_route = Graph("P", graph.phases, graph.nodes, graph.before, route=route)
    texts = [" ".join(words.split()) for words in shown(draw(with_route))]
    assert [words for words in texts if words in ("1 gloves", "2 tube", "3 wipe")] != []
    assert {"1 gloves", "2 tube", "3 wipe"} <= set(texts)
    assert "path of the fault" in " ".join(texts)
    assert "path of the fault" not in " ".join(shown(draw(graph)))


def test_only_when_is_dashed():
    graph = chain(3, 1)
    made = Graph("P", graph.phases, graph.nodes, graph.before, (Arrow("s0", "s2"),))
    lines = [line for line in text(made).splitlines() if "style=dashed" in line]
    assert len(lines) == 1 and "n1 -> n3" in lines[0]
    assert b"stroke-dasharray" in draw(made)


def test_the_same_graph_gives_the_same_text_under_any_hash_seed():
    code = (
        "from tests.diagram.test_picture import chain; from protocol_lang.diagram import text;"
        "import sys; sys.stdout.write(text(chain(20)))"
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
    assert draw(chain(3, 1)).startswith(b"<?xml")
    assert draw(chain(3, 1), "png").startswith(b"\x89PNG")


def test_boxes_do_not_overlap():
    tree = ElementTree.fromstring(draw(chain(40, 3)))
    boxes = []
    for group in tree.iter(f"{SVG}g"):
        if group.get("class") != "node":
            continue
        points = [
            tuple(map(float, point.split(",")))
            for shape in group.iter(f"{SVG}polygon")
            for point in (shape.get("points") or "").split()
        ]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        boxes.append((min(xs), min(ys), max(xs), max(ys)))
    assert len(boxes) == 40
    for one, other in itertools.combinations(boxes, 2):
        assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
