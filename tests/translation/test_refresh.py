"""A translation file brought up to date loses nothing."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from protocol_lang.text import decode
from protocol_lang.translation.catalogue import Catalogue, Entry
from protocol_lang.translation.po import read, written
from protocol_lang.translation.refresh import Wanted, account, refreshed

OLD = Catalogue(
    (
        Entry("operator cleans hands", "operador se limpia las manos", remark="As we say it."),
        Entry("operator puts on gloves", "operador se pone guantes", doubtful=True),
        Entry("operator waits 2 minutes", "operador espera 3 minutos"),
        Entry("operator aims tube", ""),
        Entry("helper sings", "ayudante canta", unused=True),
        Entry("operator opens the record at the keyboard", "operador abre la ficha"),
    ),
    {"Language": "es", "X-Reviewed-By": "R. Ortega"},
    "Ours.",
)
ROOM = Catalogue((Entry("tube", "tubo"), Entry("arm", "")), {"Language": "es"})


def want(*texts: str) -> tuple[Wanted, ...]:
    return tuple(Wanted(text, "step") for text in texts)


NEEDED = want(
    "tube",
    "arm",
    "operator cleans hands",
    "operator puts on gloves",
    "operator waits 2 minutes",
    "operator aims tube",
    "operator opens the record at keyboard",
)


def test_an_account_counted_by_hand():
    found = account(NEEDED, OLD, [ROOM])
    assert found.total == 7
    assert found.missing == ("arm", "operator aims tube", "operator opens the record at keyboard")
    assert [one.text for one in found.doubtful] == ["operator puts on gloves"]
    assert [one.text for one in found.differing] == ["operator waits 2 minutes"]
    assert [one.text for one in found.unused] == [
        "helper sings",
        "operator opens the record at the keyboard",
    ]


def test_without_a_file_all_is_missing_but_what_the_room_translates():
    found = account(NEEDED, None, [ROOM])
    assert len(found.missing) == 6
    assert found.unused == ()


def test_refreshed_by_hand():
    made = refreshed(NEEDED, OLD, [ROOM], "es")
    assert made.header == OLD.header and made.remark == "Ours."
    told = {entry.text: entry for entry in made.entries}
    assert "tube" not in told  # the room says it
    assert told["arm"] == Entry("arm", about="step")
    assert told["operator cleans hands"].remark == "As we say it."
    assert told["operator puts on gloves"].doubtful
    assert told["operator waits 2 minutes"].said == "operador espera 3 minutos"
    offered = told["operator opens the record at keyboard"]
    assert offered.doubtful and offered.said == "operador abre la ficha"
    assert offered.before == "operator opens the record at the keyboard"
    assert told["operator opens the record at the keyboard"].unused
    assert told["helper sings"].unused
    active = [entry.text for entry in made.entries if not entry.unused]
    assert active == [one.text for one in NEEDED[1:]]


def test_a_text_that_is_asked_for_again_is_taken_up_again():
    made = refreshed(want("helper sings"), OLD, [], "es")
    assert made.entries[0] == Entry("helper sings", "ayudante canta", about="step")
    assert not account(want("helper sings"), made, []).missing


def test_what_other_programs_wrote_stays():
    foreign = (
        Entry("a", "b", context="menu"),
        Entry("file", "", plural="files", counted=((0, "x"), (1, "y"))),
    )
    made = refreshed(want("c"), Catalogue(foreign, {"Language": "es"}), [], "es")
    assert made.entries[1:] == foreign


NAMES = st.sampled_from(["cleans hands", "cleans the hands", "opens door", "aims tube", "sings"])
ENTRIES = st.builds(
    Entry, text=NAMES, said=st.sampled_from(["", "a", "b 1"]), doubtful=st.booleans(),
    unused=st.booleans(), remark=st.sampled_from(["", "so"]),
)  # fmt: skip
FILES = st.lists(ENTRIES, max_size=5, unique_by=lambda entry: (entry.unused, entry.text)).map(
    lambda found: Catalogue(tuple(found), {"Language": "es"})
)
WANTED = st.lists(NAMES, max_size=5, unique=True).map(lambda texts: want(*texts))


def is_kept(entry: Entry, made: Catalogue) -> bool:
    return any(
        (one.text, one.said, one.remark, one.doubtful)
        == (entry.text, entry.said, entry.remark, entry.doubtful)
        for one in made.entries
    )


@given(WANTED, FILES, st.one_of(st.just([]), FILES.map(lambda file: [file])))
def test_nothing_is_lost_and_all_that_is_wanted_is_there(wanted, file, others):
    made = refreshed(wanted, file, others, "es")
    assert all(is_kept(entry, made) for entry in file.entries if entry.said or entry.remark)
    there = {entry.text for entry in made.entries if not entry.unused}
    elsewhere = {e.text for other in others for e in other.entries if e.counts}
    assert {one.text for one in wanted} <= there | elsewhere
    assert there <= {one.text for one in wanted}
    # nothing new counts as translated, but for what was there as unused
    before, after = account(wanted, file, others), account(wanted, made, others)
    revived = {e.text for e in file.entries if e.unused and e.said}
    assert set(before.missing) - set(after.missing) <= revived | {
        e.text for e in made.entries if e.doubtful
    }


@given(WANTED, FILES)
def test_twice_is_as_once_and_the_file_can_be_read(wanted, file):
    made = refreshed(wanted, file, [], "es")
    again = read(decode(written(made).encode(), "a.es.po"))
    assert [replace(e, line=0) for e in again.entries] == [
        # of unused entries the form keeps no word of what they are
        replace(e, about="" if e.unused else e.about, before=None if e.unused else e.before)
        for e in made.entries
    ]
    assert refreshed(wanted, made, [], "es").entries == made.entries
