"""What shared files come to is worked out once; it is what reading all files together gives."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from protocol_lang.language import ground
from protocol_lang.language.load import load_text
from protocol_lang.language.opening import open_file, open_text
from protocol_lang.language.resolve import Resolved, resolve
from protocol_lang.language.spaces import Told
from protocol_lang.resources import folder
from protocol_lang.text import decode

LIBRARY = folder("protocols")
CORPUS = Path(__file__).parents[1] / "corpus"
#: Shipped files, and of the others every third: they differ in what is wrong with their steps.
FILES = [*sorted(LIBRARY.rglob("*.protocol")), *sorted(CORPUS.rglob("*.protocol"))[::3]]

#: A vocabulary with a verb that rests on a kind, and one that asks for a name in vain.
WORDS = """words "Words of a small clinic"
  edition 1

kinds of thing
  surface, cover, wipe

parts of staff
  hands: skin

parts of a patient
  mouth: mouth

facts
  ready

verb ACTOR wraps SURFACE
  meet ACTOR's hands, SURFACE
  cover SURFACE with cover

verb ACTOR looks at SURFACE
  only when SURFACE is covered
  no contact

verb ACTOR marks SURFACE
  sets ready
  meet ACTOR's hands, SURFACE
"""
ROOM = """room "Small room"
  edition 1
  takes words from "Words of a small clinic"

people
  operator: staff
  patient: patient

things
  sleeve: cover
  arm: surface; takes cover sleeve
"""
HEAD = """protocol "Visit"
  edition 1
  takes words from "Small room"
"""
STEPS = """
phase "All"
  [ ] operator wraps arm
  [ ] operator looks at arm
  [ ] operator marks arm
"""
OWN = {
    "nothing": "",
    "a choice": "\nchoices, each visit\n  size: small, large\n",
    "a thing of another kind": "\nthings\n  stool: surface\n",
    "a thing of the kind that a verb asks for": "\nthings\n  bag: cover\n",
    "a fact": "\nfacts\n  tidy\n",
    "a fact that a verb passed over": "\nfacts\n  operator ready\n",
    "a group": "\ngroups\n  both: arm, sleeve\n",
    "a person": "\npeople\n  helper: staff\n",
    "a verb": "\nverb ACTOR pats SURFACE\n  meet ACTOR's hands, SURFACE\n",
    "a verb that stands already": "\nverb ACTOR wraps SURFACE\n  meet ACTOR's hands, SURFACE\n",
    "a name that stands already": "\nthings\n  arm: surface\n",
    "a kind": "\nkinds of thing\n  drape\n\nthings\n  sheet: drape\n",
    "a part": "\nparts of staff\n  elbow: skin\n",
    "a line that cannot be read": "\nthings\n  arm surface\n",
}


@pytest.fixture
def clinic(tmp_path: Path) -> Path:
    (tmp_path / "words-of-a-small-clinic.protocol").write_text(WORDS)
    (tmp_path / "small-room.protocol").write_text(ROOM)
    return tmp_path


@pytest.fixture(autouse=True)
def nothing_known() -> Iterator[None]:
    ground._kept.clear()
    yield
    ground._kept.clear()


def both_ways(path: Path | None, text: str = "") -> tuple[Resolved, Resolved]:
    """What a file comes to with what is known of the others, and with nothing known."""
    if text:
        opening = open_text(decode(text.encode(), "visit.protocol"), path, LIBRARY)
    else:
        assert path is not None
        opening = open_file(path, LIBRARY)
    trees = [opened.file for opened in opening.files]
    shared = resolve(trees)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ground, "_shared", lambda files: None)
        return shared, resolve(trees)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_file_comes_to_the_same(path: Path) -> None:
    shared, anew = both_ways(path)
    assert shared == anew
    if shared.protocol is not None:
        assert anew.protocol is not None
        assert list(shared.protocol.things) == list(anew.protocol.things)
        assert list(shared.protocol.facts) == list(anew.protocol.facts)


@pytest.mark.parametrize("own", OWN)
def test_what_a_protocol_adds(own: str, clinic: Path) -> None:
    shared, anew = both_ways(clinic, HEAD + OWN[own] + STEPS)
    assert shared == anew
    if own in ("nothing", "a choice", "a fact", "a person", "a thing of another kind"):
        assert shared.complete, shared.findings


def test_a_thing_of_a_kind_that_a_verb_asks_for_is_counted_in(clinic: Path) -> None:
    loaded = load_text(
        decode(
            (HEAD + OWN["a thing of the kind that a verb asks for"] + STEPS).encode(),
            "visit.protocol",
        ),
        clinic,
    )
    told = [finding.facts for finding in loaded.findings if finding.kind == "one-cover"]
    assert told == [{"name": "cover", "things": "sleeve, bag"}]


def test_what_is_shared_stays_as_it_is(clinic: Path) -> None:
    for own in OWN.values():
        both_ways(clinic, HEAD + own + STEPS)
    shared, anew = both_ways(clinic, HEAD + STEPS)
    assert shared == anew and shared.complete


def test_the_shipped_room_is_shared() -> None:
    """Or the figures of an audit would be those of reading everything anew."""
    for name in ("intraoral-wired-sensor", "intraoral-film", "intraoral-phosphor-plates"):
        opening = open_file(LIBRARY / "imaging-room-2" / f"{name}.protocol", LIBRARY)
        *before, root = [opened.file for opened in opening.files]
        shared = ground._shared(before)
        assert shared is not None
        assert shared.with_file(root) is not None


def test_a_fault_before_the_protocol_is_told_each_time(clinic: Path) -> None:
    room = clinic / "small-room.protocol"
    room.write_text(ROOM.replace("takes cover sleeve", "takes cover sleef"))
    for _ in range(2):
        shared, anew = both_ways(clinic, HEAD + STEPS)
        assert shared == anew
        assert [finding.kind for finding in shared.findings] == ["unknown-name"]


def test_what_is_missed_is_noted(clinic: Path) -> None:
    """Without the notes a verb would keep what it meant before."""
    opening = open_text(decode((HEAD + STEPS).encode(), "visit.protocol"), clinic, LIBRARY)
    shared = ground._shared([opened.file for opened in opening.files[:-1]])
    assert shared is not None
    by_form = {read.frames[0].text: read.missed for read in shared.verbs}
    assert ("things of the kind", ("cover",)) in by_form["ACTOR wraps SURFACE"]
    assert ("things of the kind", ("cover",)) not in by_form["ACTOR marks SURFACE"]
    told = Told()
    assert ground.ground_of([opened.file for opened in opening.files], told).told.complete
