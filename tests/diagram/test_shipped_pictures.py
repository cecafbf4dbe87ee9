"""The pictures in ``diagrams/`` are those of the protocols as they are now."""

from __future__ import annotations

import re

import pytest

from protocol_lang.diagram import draw, text
from tools.diagrams import ROOT, graphs

GRAPHS = list(graphs())


@pytest.mark.parametrize(("place", "graph"), GRAPHS, ids=[place.name for place, _ in GRAPHS])
def test_the_graph_is_up_to_date(place, graph):
    written = place.with_suffix(".gv").read_text(encoding="utf-8")
    assert written == text(graph), "run: make diagrams"
    assert place.with_suffix(".svg").is_file()


def test_nothing_is_left_of_protocols_that_are_gone():
    kept = {path.with_suffix("") for path in (ROOT / "diagrams").rglob("*.*")}
    assert kept == {place for place, _ in GRAPHS}


@pytest.mark.parametrize(("place", "graph"), GRAPHS, ids=[place.name for place, _ in GRAPHS])
def test_phases_stand_from_left_to_right(place, graph):
    picture = draw(graph).decode()
    clusters = re.findall(
        r'class="cluster">\s*<title>cluster_(\d+)</title>\s*<path[^>]*d="M([\d.]+)', picture
    )
    assert len(clusters) == len(graph.phases)
    by_place = sorted(clusters, key=lambda one: float(one[1]))
    assert [int(number) for number, _ in by_place] == list(range(1, len(clusters) + 1))
