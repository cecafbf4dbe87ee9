"""Heights that follow from others, against those that the typesetter tells."""

from __future__ import annotations

from dataclasses import replace

import pytest

from protocol_lang.chart import measures
from protocol_lang.chart.measures import Measures
from protocol_lang.chart.paper import Paper, least_type
from protocol_lang.chart.pieces import openers, pieces, pieces_beside
from protocol_lang.chart.print import _Look
from protocol_lang.chart.typeset import queries
from protocol_lang.chart.words import words_of
from tests.chart.samples import full, panels
from tests.chart.test_read_back import shipped


def sheet_of(name: str):
    if name == "sample":
        return replace(full("paired"), waived=None)
    return replace(shipped(name), panels=panels())


@pytest.mark.parametrize("distance", [0.5, 1.0])
@pytest.mark.parametrize("name", ["sample", "intraoral-series-wired-sensor"])
def test_what_follows_is_what_is_measured(name, distance, monkeypatch):
    sheet = sheet_of(name)
    words = words_of(sheet.language)
    look = _Look(sheet, Paper.A3.value, least_type(distance))
    every = [*pieces(sheet, words), *pieces_beside(sheet, words)]
    every += [one for opener in openers(sheet, words) for one in opener]
    sizes = look.sizes[:11]
    tries = [(size, look.width(columns)) for size in sizes for columns in (3, 4)]

    seldom = Measures(look.common())
    keys = seldom.keep(len(sheet.persons), every)
    for some in (sizes[::5], sizes[1:5], sizes):  # as they are searched: in strides, then between
        seldom.look(keys, [one for one in tries if one[0] in some])
    found = seldom.look(keys, tries)
    asked = sum(len(seldom.pieces[key].asked) for key in set(keys))

    always = Measures(look.common())
    always.keep(len(sheet.persons), every)
    always._measure(dict.fromkeys(keys, tries))
    told = always.look(keys, tries)
    for one, row, other in zip(tries, found, told, strict=True):
        for piece, high, measured in zip(every, row, other, strict=True):
            if measured.total is None:
                assert high.total is None, (one, piece)
            else:
                assert high.total == pytest.approx(measured.total, abs=1e-5), (one, piece)
            assert high.lanes == measured.lanes
    # Asking seldom is what it is for.
    assert asked < 0.7 * len(set(keys)) * len(tries), asked / len(set(keys)) / len(tries)


@pytest.mark.parametrize("processors", [2, 5])
def test_measured_in_shares_everything_is_as_high_as_measured_at_once(processors, monkeypatch):
    sheet = sheet_of("sample")
    words = words_of(sheet.language)
    look = _Look(sheet, Paper.A3.value, least_type(1.0))
    tries = [(size, look.width(columns)) for size in look.sizes[:4] for columns in (2, 3)]
    told, asked = [], []

    def counted(given):
        asked.append([*given])
        return queries(asked[-1])

    monkeypatch.setattr(measures, "queries", counted)
    for many in (1, processors):
        monkeypatch.setattr("os.cpu_count", lambda many=many: many)
        measuring = Measures(look.common())
        keys = measuring.keep(len(sheet.persons), pieces(sheet, words))
        measuring._measure(dict.fromkeys(keys, tries))
        told.append(measuring.look(keys, tries))
    assert [len(shares) for shares in asked] == [1, processors]
    assert told[0] == told[1]


def test_pieces_of_panels_are_the_same_whatever_ribbons_run_beside_steps():
    sheet = sheet_of("sample")
    words = words_of(sheet.language)
    look = _Look(sheet, Paper.A3.value, least_type(1.0))
    measures = Measures(look.common())
    beside = pieces_beside(sheet, words)
    assert measures.keep(1, beside) == measures.keep(2, beside)
    main = [piece for piece in pieces(sheet, words) if piece.kind == "row"]
    assert set(measures.keep(1, main)).isdisjoint(measures.keep(2, main))
