"""Charts of the protocols that travel with the program, read back from the page."""

import itertools
from functools import cache
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pytest

from protocol_lang.chart.around import head
from protocol_lang.chart.paper import Paper
from protocol_lang.chart.plan import sheet
from protocol_lang.chart.print import render
from protocol_lang.chart.sheet import Group
from protocol_lang.chart.words import ENGLISH
from protocol_lang.language.load import load
from protocol_lang.model.protocol import Protocol
from protocol_lang.resources import folder
from tests.chart.test_print import assert_in_order, read, steps, without_actor
from tests.practice.kit import ROOM, ROOM_3

FILES = sorted(folder("protocols").rglob("*.protocol"))


#: Some with an exposure, by verbs of their own and whoever is protected by what, and some without.
EXPOSURES = {
    "home-visits/intraoral-hand-held-unit": True,
    "imaging-room-2/intraoral-wired-sensor": True,
    "imaging-room-4/cephalometric": True,
    "imaging-room-2/opening-the-room": False,
    "blood-taking-room/taking-blood-at-the-chair": False,
}


@pytest.mark.parametrize(("name", "exposes"), EXPOSURES.items())
def test_a_sheet_with_an_exposure_carries_the_sign_and_no_other(name, exposes):
    found = protocol(folder("protocols") / f"{name}.protocol")
    assert found is not None
    choices = {one.name: one.values[0] for one in found.choices if one.known_after is None}
    assert (head(sheet(found, choices), ENGLISH)["sign"] is not None) == exposes


@cache
def protocol(path: Path) -> Protocol | None:
    return load(path).protocol


#: Settings of a protocol that are looked at: the first and the last, and some between. Outside
#: rooms 2 and 3 the last one: what charts can hold is all in those two.
MOST_SETTINGS = 4


def cases():
    for path in FILES:
        found = protocol(path)
        if found is None or path.read_text("utf-8").startswith("day "):
            continue
        settled = [choice for choice in found.choices if choice.known_after is None]
        every = list(itertools.product(*(choice.values for choice in settled)))
        if path.parent not in (ROOM, ROOM_3):
            every = every[-1:]
        step = max(1, (len(every) - 1) // (MOST_SETTINGS - 1))
        for values in dict.fromkeys([*every[::step][: MOST_SETTINGS - 1], every[-1]]):
            choices = {choice.name: value for choice, value in zip(settled, values, strict=True)}
            yield pytest.param(path, choices, id=f"{path.stem}-{'-'.join(values)}")


def test_there_are_some():
    assert list(cases())


@pytest.mark.parametrize(("path", "choices"), list(cases()))
def test_all_steps_of_a_shipped_protocol_are_on_its_chart(path, choices):
    found = protocol(path)
    assert found is not None
    made = sheet(found, choices)
    assert steps(made)
    # Other papers, and how it stands on the page: test_read_back.
    pdf = render(made, "pdf", Paper.A3).pages[0]
    text = " ".join(read(pdf))
    assert_in_order(text, (without_actor(row, made) for row in steps(made)))
    assert "DRAFT: not checked" in text  # nobody has told this sheet that it was checked
    document = pypdfium2.PdfDocument(pdf)
    assert all(len(page.get_textpage().get_text_range()) > 100 for page in document)
    document.close()


def headings(items):
    for item in items:
        if isinstance(item, Group):
            yield item.heading
            yield from headings(item.items)


def test_going_back_names_the_number_that_is_on_the_sheet():
    path = next(path for path in FILES if path.stem == "panoramic-usual-visit")
    found = protocol(path)
    assert found is not None
    for choices, number in (({"loose": "nothing"}, 10), ({"loose": "a denture"}, 11)):
        made = sheet(found, choices | {"bites on": "the covered block", "shielding": "none"})
        told = [one for phase in made.phases for one in headings(phase.items) if one]
        assert f"again from step {number}, at most once" in told
        row = next(row for row in steps(made) if row.number == number)
        assert row.label == "steps in"
