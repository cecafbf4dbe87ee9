"""Which pictogram a step shows: over the shipped protocols, and for a clinic's own words."""

from collections import defaultdict
from functools import cache
from pathlib import Path

from protocol_lang.chart.pictograms import PICTOGRAMS
from protocol_lang.chart.pictograms.of_steps import pictogram_of
from protocol_lang.language.load import load
from protocol_lang.model.steps import Doing
from protocol_lang.model.walk import steps_of
from protocol_lang.resources import folder


@cache
def shown() -> dict[str, set[str | None]]:
    """Of every form of a sentence in the shipped protocols, what its steps show."""
    found: dict[str, set[str | None]] = defaultdict(set)
    for path in sorted(folder("protocols").rglob("*.protocol")):
        protocol = load(path).protocol
        if protocol is None:
            continue
        for phase in protocol.phases:
            for step in steps_of(phase.items):
                form = step.does.frame.text if isinstance(step.does, Doing) else ""
                found[form or type(step.does).__name__].add(pictogram_of(step, protocol))
    return found


#: What a person would draw beside each; several where it depends on what is worn or done with it.
EXPECTED: dict[str, set[str | None]] = {
    "Saying": {None},
    "Waiting": {"wait"},
    "ACTOR cleans hands": {"rub-hands"},
    "ACTOR cleans both hands": {"rub-hands"},
    "ACTOR washes hands": {"wash-hands"},
    "ACTOR puts on GLOVES": {"gloves-on"},
    "ACTOR changes GLOVES": {"gloves-on"},
    "ACTOR puts on OVERGLOVES": {"gloves-on"},
    "ACTOR takes off GLOVES": {"gloves-off"},
    "ACTOR takes off UTILITY GLOVES": {"gloves-off"},
    "ACTOR disinfects UTILITY GLOVES on the hands with a new WIPE": {"disinfect"},
    "ACTOR puts on MASK": {"mask-on", "respirator-on"},
    "ACTOR takes off MASK by the ties": {"mask-off", "respirator-off"},
    "STAFF checks the fit of MASK": {"respirator-on"},
    "ACTOR puts on EYEWEAR": {"eyewear-on", "face-shield-on"},
    "ACTOR takes off EYEWEAR by the strap": {"eyewear-off", "face-shield-off"},
    "ACTOR puts on GOWN": {"gown-on", "apron-on"},
    "ACTOR takes off GOWN inside out": {"gown-off", "apron-off"},
    "ACTOR takes off GOWN and GLOVES together": {"gown-off"},
    "STAFF lays APRON over PATIENT": {"apron-on"},
    "STAFF lifts APRON off PATIENT": {"apron-off"},
    "ACTOR lays out EACH THING": {"lay-out"},
    "ACTOR slips COVER over RECEPTOR": {"sleeve"},
    "ACTOR lets RECEPTOR slide out of COVER onto SURFACE": {"sleeve-off"},
    "ACTOR covers EACH SURFACE with COVER": {"cover"},
    "ACTOR takes COVER off EACH SURFACE": {"uncover"},
    "ACTOR places HOLDER with RECEPTOR in mouth": {"place-in-mouth"},
    "ACTOR takes HOLDER with RECEPTOR out of mouth": {"take-out-of-mouth"},
    "PATIENT bites on HOLDER": {None},
    "PATIENT takes own SUPPLY out of mouth and puts it into CUP": {None},
    "ACTOR goes behind the barrier": {"behind-the-barrier"},
    "ACTOR goes to PLACE": {"go", "behind-the-barrier"},
    "ACTOR exposes with SURFACE": {"expose"},
    "ACTOR exposes from PLACE with SURFACE": {"expose"},
    "ACTOR cleans EACH THING with a new WIPE": {"clean"},
    "ACTOR disinfects EACH THING with a new WIPE": {"disinfect"},
    "ACTOR packs HOLDER with SUPPLY in POUCH": {"pack"},
    "ACTOR releases EACH HOLDER as sterile": {"sterilise"},
    "ACTOR throws EACH THING into STREAM": {"throw-away"},
    "ACTOR drops HOLDER into STREAM": {None},  # it comes back sterile: no waste
    "STAFF drops EYEWEAR into STREAM": {"throw-away"},
    "ACTOR shuts the door of PLACE by elbow": {"close-door"},
    "ACTOR opens the door of PLACE by elbow": {None},
    "ACTOR aims ALL SURFACE": {None},
}


def test_the_shipped_words():
    assert {form: shown().get(form) for form in EXPECTED} == EXPECTED


def test_what_is_shown_can_be_drawn():
    assert set().union(*shown().values()) - {None} <= set(PICTOGRAMS)


OWN = """protocol "Our own words"
  edition 1
  takes words from "Imaging room 2"

things
  hood: hood; worn on front; used once
  cap: mask; worn on nose and mouth; keeps out germs of the air; used once

kinds of thing
  hood

verb ACTOR dons HOOD
  take HOOD with ACTOR's hands
  cover ACTOR's front with HOOD

verb ACTOR doffs HOOD
  uncover ACTOR's front from HOOD
  retire what came off

verb ACTOR gives SURFACE a good scrub
  meet ACTOR's hands, SURFACE
  wash SURFACE

verb ACTOR fires
  exposure by ACTOR
  no contact

phase "All"
  [ ] operator dons hood
  [ ] operator puts on cap
  [ ] operator gives keyboard a good scrub
  [ ] operator fires
  [ ] operator doffs hood
"""


def test_words_of_a_clinic_have_pictograms_too(tmp_path: Path):
    room = folder("protocols") / "imaging-room-2" / "imaging-room-2.protocol"
    (tmp_path / room.name).write_text(room.read_text("utf-8"), "utf-8")
    file = tmp_path / "own.protocol"
    file.write_text(OWN, "utf-8")
    found = load(file)
    assert found.protocol is not None, found
    steps = [step for phase in found.protocol.phases for step in steps_of(phase.items)]
    assert [pictogram_of(step, found.protocol) for step in steps] == [
        "gown-on",
        "respirator-on",
        "clean",
        "expose",
        "gown-off",
    ]
