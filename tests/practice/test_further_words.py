"""Plates, film, panoramic images, reprocessing, people beside the patient: right and wrong ways.

Sources, by the short names used below:

* CDC 2003: Guidelines for Infection Control in Dental Health-Care Settings, MMWR 52(RR-17), and its
  published answers on radiography;
* CDC 2008: Guideline for Disinfection and Sterilization in Healthcare Facilities;
* Navy: US Navy dental technician manual, processing of film without a daylight loader;
* University: a university exposure-control protocol.

What has no source is marked "common practice, no source".
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from protocol_lang.language.clashes import clashes
from protocol_lang.language.names import Name
from protocol_lang.language.sentences import Form
from protocol_lang.pipeline import Checked, check_file
from tests.practice.kit import kinds, reached, told

ROOM = """room "A corner"
  edition 1
  takes words from "Dental imaging", "Plates and film", "One hand", "Panoramic", "Reprocessing"

people
  operator, supervisor: staff
  parent: companion
  patient: patient

waste streams
  bin
  foil box

surfaces
  towel, paper, counter, shelf: surface
  scanner, processor, keyboard: surface; kept clean
  sink, dirty side: surface; dirty
  clean side: surface; kept clean
  chin rest, temple stops, handles: surface
  bite block: surface; goes in the mouth; not heat safe; always sleeved in the mouth; {SHEATH}
  apron rack, glove hook, sensor hook: surface; kept clean
  steriliser, washer: surface

boxes
  stores: box; kept clean
  plate box: box; kept clean
  used box: box

things
  gloves: gloves; worn on hands; used once; thrown away after use; from stores; goes to bin
  overgloves: overgloves; has outside, inside; worn on hands over gloves; used once; {OUT}
  plate: receptor; goes in the mouth; not heat safe; takes cover envelope; from plate box; {MANY}
  film: receptor; goes in the mouth; not heat safe; takes cover packet
  sensor: receptor; goes in the mouth; not heat safe
  envelope, packet, sheath: cover; used once; from stores; goes to bin
  gauze: wipe; has face, back; used once; thrown away after use; {OUT}
  wipe: wipe; has face, back; used once; thrown away after use; {OUT}; treats to intermediate
  holder: holder; goes in the mouth; heat safe; takes cover pouch
  pouch: pouch; has outside, inside; used once; lets steam through; from stores; goes to bin
  indicator: supply; used once; thrown away after use; from stores
  cup: cup; has inside, outside; used once; thrown away after use; {OUT}
  apron: apron; has inside, outside; from apron rack
  denture, glasses: supply; used once
  kitchen gloves: utility gloves; worn on hands; from glove hook

facts
  ready

verb ACTOR gets settings
  sets settings chosen
  no contact

phase "All"
"""
ROOM = (
    ROOM.replace("{OUT}", "laid out on shelf, from stores")
    .replace("{MANY}", "one of many")
    .replace("{SHEATH}", "takes cover sheath")
)
ON = "operator cleans hands\noperator puts on gloves\n"
OFF = "operator takes off gloves\noperator cleans hands\n"

Check = Callable[..., Checked]


@pytest.fixture
def check(tmp_path: Path) -> Check:
    def checked(*steps: str) -> Checked:
        declared, _, _ = ROOM.partition("facts\n  ready")
        verbs = ROOM.partition("facts\n  ready\n\n")[2]
        (tmp_path / "a-corner.protocol").write_text(declared, "utf-8")
        lines = [line for part in steps for line in part.strip().split("\n") if line]
        boxes = "".join(f"  [ ] {line}\n" for line in lines)
        head = 'protocol "Small"\n  edition 1\n  takes words from "A corner"\n\n'
        path = tmp_path / "small.protocol"
        path.write_text(head + verbs + boxes, "utf-8")
        return check_file(path, mend=False)

    return checked


LAID_OUT = "operator gets settings\noperator cleans hands\n"
TAKEN = "operator places {what} in mouth\noperator takes {what} out of mouth\n"


def test_all_these_words_together_say_nothing_twice(check: Check) -> None:
    protocol = check("operator cleans hands").protocol
    assert protocol is not None
    forms = [Form(at, f) for at, verb in enumerate(protocol.verbs) for f in verb.frames]
    names = [Name(p.name, p.kind.value) for p in protocol.people.values()]
    names += [Name(t.name, t.kind, True) for t in protocol.things.values()]
    names += [Name(stream, "stream") for stream in protocol.streams]
    assert [clash.sentence for clash in clashes(forms, names)] == []


class TestPlates:
    """CDC 2003 (pouched film, read for plates): dried while still gloved, into a clean cup; the
    cover opened so that what is in it is not touched; gloves off before clean things are met."""

    IN = "operator takes plate\noperator slips plate into envelope\n"
    OUT = "operator dries plate with a new gauze\noperator drops plate into cup\n"

    def _check(self, check: Check, *end: str) -> list[str]:
        out = "operator lays out gauze, wipe and cup\n"
        taken = TAKEN.format(what="plate")
        start = (LAID_OUT, out, self.IN, "operator takes cup\n", ON, taken, self.OUT)
        return kinds(check(*start, *end))

    def test_slid_out_gloves_off_then_fed_and_put_back(self, check: Check) -> None:
        found = self._check(
            check,
            "operator takes plate out of cup",
            "operator tears open envelope and lets plate slide onto paper",
            OFF,
            "operator feeds plate into scanner",
            "operator erases plate at scanner",
            "operator puts plate back into plate box",
        )
        assert found == []

    def test_pulled_out_with_the_used_gloves_is_told(self, check: Check) -> None:
        found = self._check(
            check,
            "operator takes plate out of cup",
            "operator pulls plate out of envelope onto paper",
            OFF,
            "operator feeds plate into scanner",
            "operator puts plate back into plate box",
        )
        assert "clean-thing-reached" in found or "path-to-patient" in found

    def test_fed_with_the_used_gloves_is_told(self, check: Check) -> None:
        found = self._check(
            check,
            "operator takes plate out of cup",
            "operator tears open envelope and lets plate slide onto paper",
            "operator feeds plate into scanner",
            OFF,
            "operator puts plate back into plate box",
        )
        assert "claim-can-fail" in found

    def test_used_gloves_at_the_plate_box_are_told(self, check: Check) -> None:
        found = self._check(
            check,
            "operator takes plate out of cup",
            "operator tears open envelope and lets plate slide onto paper",
            "operator puts plate back into plate box",
            OFF,
        )
        assert "clean-thing-reached" in found


class TestOneHand:
    """One hand holds what is soiled, the other feeds. Common practice, no source."""

    START = (
        LAID_OUT,
        "operator lays out gauze and cup\noperator takes plate\noperator slips plate into envelope",
        "operator takes cup",
        ON,
        TAKEN.format(what="plate"),
        "operator drops plate into cup",
        OFF,
        "operator keeps one hand for feeding",
        "operator puts gloves on the used hand",
        "operator takes plate out of cup with the used hand",
        "operator lets plate slide out of envelope onto paper with the used hand",
    )
    END = ("operator takes gloves off the used hand", "operator cleans both hands")
    BACK = "operator puts plate back into plate box"

    def test_fed_with_the_clean_hand(self, check: Check) -> None:
        feed = "operator feeds plate into scanner with the feeding hand"
        assert kinds(check(*self.START, feed, *self.END, self.BACK)) == []

    def test_fed_with_the_used_hand_is_told(self, check: Check) -> None:
        feed = "operator feeds plate into scanner with the used hand"
        assert "clean-thing-reached" in kinds(check(*self.START, feed, *self.END, self.BACK))

    def test_anything_else_in_between_is_told(self, check: Check) -> None:
        feed = "operator feeds plate into scanner with the feeding hand"
        found = check(*self.START, "operator works at keyboard", feed, *self.END, self.BACK)
        assert told(found, "duty-can-fail").facts["duty"].startswith("One hand")

    def test_one_hand_cannot_be_kept_apart_when_it_is_not_clean(self, check: Check) -> None:
        found = check("operator keeps one hand for feeding", "operator cleans both hands")
        assert "claim-not-clean" in kinds(found)

    def test_only_one_of_the_two_hands_cleaned_is_told(self, check: Check) -> None:
        feed = "operator feeds plate into scanner with the feeding hand"
        only_one = ("operator takes gloves off the used hand", "operator cleans hands")
        found = kinds(check(*self.START, feed, *only_one, self.BACK))
        assert "duty-can-fail" in found or "hands-at-end" in found


class TestFilm:
    """Navy: cup set aside beforehand; the same gloves open the packets, the film falls untouched;
    wrappers to the bin, foil to its box; gloves off; then the clean film is fed."""

    START = (
        LAID_OUT,
        "operator lays out gauze, wipe, overgloves and cup\noperator slips film into packet",
        "operator takes cup",
        ON,
        TAKEN.format(what="film"),
        "operator dries film with a new gauze\noperator drops film into cup",
    )
    OPEN = (
        "operator takes film out of cup",
        "operator lets film fall out of packet onto towel",
        "operator puts the foil into foil box",
    )
    # The film stays with the patient's record; a new one is taken to be as clean.
    DONE = "operator cleans counter with a new wipe\n"

    def test_the_published_order_is_clear(self, check: Check) -> None:
        steps = (*self.START, *self.OPEN, OFF, "operator feeds film into processor")
        assert kinds(check(*steps)) == []

    def test_fed_with_the_used_gloves_is_told(self, check: Check) -> None:
        steps = (*self.START, *self.OPEN, "operator feeds film by its edges into processor", OFF)
        assert "clean-thing-reached" in kinds(check(*steps))

    def test_packets_opened_with_bare_hands_are_told(self, check: Check) -> None:
        """CDC 2003: a dried packet is still contaminated."""
        steps = (*self.START, OFF, *self.OPEN, "operator feeds film into processor")
        assert "operator's hands" in reached(check(*steps))

    def test_clean_overgloves_over_the_used_gloves_carry_it(self, check: Check) -> None:
        """University: overgloves to touch clean things, off again to open the packets."""
        door = "operator puts on overgloves\noperator works at keyboard\n"
        door += "operator takes off overgloves\n"
        steps = (*self.START, door, *self.OPEN, OFF, "operator feeds film into processor")
        assert kinds(check(*steps)) == []
        bare = (*self.START, "operator works at keyboard", *self.OPEN, OFF)
        assert "clean-thing-reached" in kinds(check(*bare, "operator feeds film into processor"))


class TestPanoramic:
    """CDC 2003: a bite block is covered or sterilised, chin rest and handles are cleaned and
    disinfected after each patient."""

    START = (
        "operator cleans hands\noperator lays out wipe and cup\noperator takes cup",
        "operator covers bite block with sheath",
        "patient takes off glasses and puts them into cup",
        "patient steps in holding handles\npatient rests the chin on chin rest",
        "patient bites on bite block",
        "operator closes temple stops at the head of patient",
        "operator opens temple stops at the head of patient",
    )
    LEAVE = (
        "patient takes sheath off bite block",
        "patient steps out holding handles",
        "patient puts glasses from cup on again",
    )
    CLEAN = (
        "operator cleans chin rest, temple stops, handles and bite block with a new wipe",
        "operator disinfects chin rest, temple stops, handles and bite block with a new wipe",
    )

    def test_wiped_after_the_patient_has_let_go(self, check: Check) -> None:
        steps = (*self.START, *self.LEAVE, "operator cleans hands", ON, *self.CLEAN, OFF)
        assert kinds(check(*steps)) == []

    def test_wiped_before_the_patient_steps_out_is_told(self, check: Check) -> None:
        steps = (*self.START, "operator cleans hands", ON, *self.CLEAN, OFF, *self.LEAVE)
        assert "path-to-patient" in kinds(check(*steps))

    def test_without_a_sheath_is_told(self, check: Check) -> None:
        start = tuple(line for line in self.START if "sheath" not in line)
        leave = tuple(line for line in self.LEAVE if "sheath" not in line)
        found = kinds(check(*start, *leave, "operator cleans hands", ON, *self.CLEAN, OFF))
        assert "claim-can-fail" in found


class TestPeople:
    """Somebody with the patient, and a supervisor. Common practice, no source."""

    def test_a_companion_whose_apron_is_wiped_afterwards(self, check: Check) -> None:
        worn = (
            "parent puts on apron\nparent holds the head of patient",
            "parent takes off apron\nparent hangs apron on counter\nparent cleans hands",
        )
        wiped = (
            "operator cleans hands\noperator lays out wipe",
            ON,
            "operator cleans apron and counter with a new wipe",
            "operator disinfects apron and counter with a new wipe",
            OFF,
            "operator hangs apron on apron rack",
        )
        assert kinds(check("parent cleans hands", *worn, *wiped)) == []
        back = "operator cleans hands\noperator hangs apron on apron rack\noperator cleans hands"
        assert "clean-thing-reached" in kinds(check("parent cleans hands", *worn, back))

    def test_a_supervisor_who_comes_in_and_corrects(self, check: Check) -> None:
        """CDC 2003: hands are cleaned and gloves put on before a mouth is touched."""
        clean = "supervisor cleans hands\nsupervisor puts on gloves\n"
        corrects = "supervisor comes in\n{}supervisor corrects holder in mouth\n"
        corrects = corrects.replace("holder", "sensor")
        off = "supervisor takes off gloves\nsupervisor cleans hands"
        assert "world-to-patient" not in kinds(check(corrects.format(clean), off))
        assert "world-to-patient" in kinds(check(corrects.format(""), "supervisor washes hands"))

    def test_a_denture_in_its_own_cup(self, check: Check) -> None:
        out = "patient takes own denture out of mouth and puts it into cup"
        back = "patient takes own denture back from cup\npatient cleans hands"
        start = "operator cleans hands\noperator lays out cup\noperator takes cup"
        assert kinds(check(start, out, back)) == []
        assert "left-over" in kinds(check(start, out))


class TestTurningOver:
    """A sensor that is clean is lifted and hung through a wipe. Common practice, no source."""

    START = (
        "operator gets settings\noperator cleans hands\noperator lays out wipe",
        ON,
        TAKEN.format(what="sensor"),
        "operator lays sensor on counter",
    )
    CLEAN = (
        "operator cleans sensor and counter with a new wipe",
        "operator disinfects sensor and counter with a new wipe",
    )

    def test_hung_by_a_wipe(self, check: Check) -> None:
        steps = (*self.START, *self.CLEAN, "operator hangs sensor on sensor hook by a new wipe")
        found = kinds(check(*steps, OFF))
        assert "clean-thing-reached" not in found

    def test_hung_by_the_used_glove_is_told(self, check: Check) -> None:
        steps = (*self.START, *self.CLEAN, "operator hangs sensor on sensor hook", OFF)
        assert "clean-thing-reached" in kinds(check(*steps))


class TestReprocessing:
    """CDC 2003 and 2008: cleaned, dried, packed with an indicator, sterilised, unloaded with clean
    hands, checked, dated, stored; gloves for cleaning are thick ones and are cleaned themselves."""

    THICK_ON = "operator cleans hands\noperator puts on kitchen gloves\n"
    THICK_OFF = (
        "operator washes kitchen gloves on the hands at counter",
        "operator disinfects kitchen gloves on the hands with a new wipe",
        "operator takes off kitchen gloves",
        "operator hangs kitchen gloves on glove hook",
        "operator cleans hands",
    )
    DIRTY = (
        "operator cleans hands\noperator lays out wipe\npatient bites on holder",
        THICK_ON,
        "operator opens used box\noperator scrubs holder at dirty side",
    )
    CLEAN = (
        "operator puts on gloves",
        "operator packs holder with indicator in pouch",
        OFF,  # what the gloves met while packing must not get onto the outside of the pouch
        "operator loads holder into steriliser",
        "operator runs the cycle on holder",
        "operator unloads holder onto clean side",
        "operator checks the indicator of holder",
        "operator dates holder",
        "operator stores holder in stores",
        "operator lets holder fall out of pouch onto towel",
    )

    def _wiped(self, *lines: str) -> str:
        return "\n".join(f"operator {how} {lines[0]} with a new wipe" for how in lines[1:])

    def test_the_published_order_is_clear(self, check: Check) -> None:
        wiped = self._wiped("used box and counter", "cleans", "disinfects")
        found = kinds(
            check(*self.DIRTY, *self.THICK_OFF, wiped, "operator washes hands", *self.CLEAN)
        )
        assert found == []

    def test_unloaded_with_the_washing_gloves_is_told(self, check: Check) -> None:
        clean = (line for line in self.CLEAN if "gloves" not in line)
        found = kinds(check(*self.DIRTY, *clean, *self.THICK_OFF))
        assert "clean-thing-reached" in found

    def test_stored_before_the_indicator_is_checked_is_told(self, check: Check) -> None:
        clean = tuple(line for line in self.CLEAN if "indicator of" not in line)
        found = check(*self.DIRTY, *self.THICK_OFF, "operator washes hands", *clean)
        claims = [one for one in found.outcome.findings if one.kind == "claim-can-fail"]
        assert [one.facts["claim"] for one in claims] == ["holder is checked"]

    def test_gloves_hung_up_without_being_cleaned_are_told(self, check: Check) -> None:
        found = kinds(check(*self.DIRTY, *self.THICK_OFF[2:], "operator washes hands", *self.CLEAN))
        assert "clean-thing-reached" in found
