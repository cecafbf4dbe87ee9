"""The report as data: its form, its way back, the same bytes; beside an earlier one; verified."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import jsonschema
import pytest

from protocol_lang import prints
from protocol_lang.audit import data
from protocol_lang.audit.packs import NoPack, open_pack, settings_of
from protocol_lang.audit.since import beside
from protocol_lang.audit.verify import differences, not_compared
from protocol_lang.audit.waiver_files import read_waivers
from protocol_lang.audited import Audit, FileReport, Found, Since
from protocol_lang.text import Text
from tests.audit.clinics import FAULTY, GLOVED, GOOD, ON, RULES, WAIVER, audited, room, write


@pytest.fixture(scope="module")
def clinic(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("reports") / "clinic"
    where.mkdir()
    room(where)
    write(where, "good", GOOD)
    write(where, "faulty", FAULTY)
    write(where, "gloved", f"{GLOVED}\n{WAIVER}")
    write(where, "odd\x00name".replace("\x00", "\x07"), "")
    return where


@pytest.fixture(scope="module")
def made(clinic: Path) -> Audit:
    pack = open_pack(str(write(clinic.parent, "house-rules", RULES)))
    waivers = read_waivers(write(clinic.parent, "side", f'waivers "Side"\n\n{WAIVER}'))[0]
    return audited(clinic, packs=(pack,), waivers=waivers, waiver_files=(("Side", "abc"),))


def test_the_form_is_as_described_and_is_what_the_records_say(made: Audit):
    described = json.loads(data.SCHEMA.read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(described)
    jsonschema.validate(json.loads(data.render(made)), described)
    assert described == json.loads(json.dumps(data.schema())), "make docs writes it anew"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"form": "check"}, described)


def test_there_and_back(made: Audit):
    assert data.read(data.render(made)) == made


def test_the_same_bytes_again_in_another_place(made: Audit, clinic: Path, tmp_path: Path):
    again = tmp_path / "elsewhere" / "clinic"
    shutil.copytree(clinic, again)
    pack = open_pack(str(write(tmp_path, "house-rules", RULES)))
    waivers = read_waivers(write(tmp_path, "side", f'waivers "Side"\n\n{WAIVER}'))[0]
    more = audited(again, packs=(pack,), waivers=waivers, waiver_files=(("Side", "abc"),))
    assert data.render(more) == data.render(made)


def test_what_the_report_states(made: Audit):
    (pack,) = made.packs
    assert (pack.title, pack.edition, pack.rules) == ("House rules", 2, 2)
    assert pack.settings == (("longest waiver of must", "60 days"),)
    assert made.version and made.on == ON
    for file in made.files:
        assert (file.fingerprint is None) is (file.state == "not checked")
    text = data.render(made)
    assert text.isascii() and b"\x07" not in text and b"odd\\u0007name" in text


@pytest.mark.parametrize("text", [b"", b"{}", b"[" * 100_000, b'{"form":"check"}', b"\xff"])
def test_what_is_no_report_is_refused(text: bytes):
    with pytest.raises(data.NotAReport):
        data.read(text)


def test_fingerprints_rest_on_what_is_said_alone():
    one, other = Text("a", ("x", "y")), Text("b", ("z",))
    assert prints.LETTERS * 5 >= 40
    assert prints.of_texts([one, other]) == prints.of_texts([Text("c", one.lines), other, one])
    assert prints.of_texts([one, other]) != prints.of_texts([one])
    assert prints.of_texts([one, other]) != prints.of_texts([other, one])


def test_a_fingerprint_changes_with_a_file_that_is_taken_from(tmp_path: Path):
    room(tmp_path)
    write(tmp_path, "good", GOOD)
    first = audited(tmp_path).files[0].fingerprint
    shared = tmp_path / "imaging-room-2.protocol"
    shared.write_bytes(shared.read_bytes().replace(b"\n", b"\r\n"))
    assert audited(tmp_path).files[0].fingerprint == first
    shared.write_bytes(shared.read_bytes() + b"# more\r\n")
    assert audited(tmp_path).files[0].fingerprint != first


# --- Beside an earlier report --------------------------------------------------------------------


def found(identity: str) -> Found:
    return Found(identity, "which-one", "It is so.", 1, None, None, (), (), None, (), "to correct")


def at(**files: str) -> Audit:
    """An audit in which each file has the findings named by letters; "?": not looked at."""
    reports = tuple(
        FileReport(
            name,
            "not checked" if letters == "?" else "checked",
            title=name.title(),
            kind="protocol",
            found=() if letters == "?" else tuple(map(found, letters)),
        )
        for name, letters in files.items()
    )
    return Audit("1", date(2026, 11, 2), (), reports)


def since(audit: Audit) -> dict[str, Since]:
    return {one.identity: one.since for file in audit.files for one in file.found}


def test_new_still_open_closed_and_reopened():
    second = beside(at(a="BC"), beside(at(a="AB"), at()))
    assert since(second) == {"B": Since.OPEN, "C": Since.NEW}
    assert second.closed == {"a": ("A",)} and second.history == {"a": ("A",)}
    third = beside(at(a="A"), second)
    assert since(third) == {"A": Since.REOPENED}
    assert third.closed == {"a": ("B", "C")} and third.history == {"a": ("B", "C")}


def test_the_history_of_what_was_closed_lasts_over_many_reports():
    report = at(a="A")
    for letters in ("", "", ""):
        report = data.read(data.render(beside(at(a=letters), report)))
    assert since(beside(at(a="A"), report)) == {"A": Since.REOPENED}


def test_what_could_not_be_looked_at_is_not_closed():
    second = beside(at(a="?"), at(a="A", b="B"))
    assert second.closed == {} and second.unseen == {"a": ("A",), "b": ("B",)}
    assert since(beside(at(a="A", b="B"), second)) == {"A": Since.OPEN, "B": Since.OPEN}


def test_a_file_under_another_name_keeps_its_findings():
    renamed = at(b="A")
    renamed = replace(renamed, files=(replace(renamed.files[0], title="A"),))
    assert since(beside(renamed, at(a="A"))) == {"A": Since.OPEN}


# --- Verified ------------------------------------------------------------------------------------


def test_what_differs_is_named(clinic: Path, made: Audit):
    assert differences(made, made) == ()
    other = replace(made.files[1], fingerprint="other")
    anew = replace(made, version="9", packs=(), files=(*made.files[:1], other, *made.files[3:]))
    told = " ".join(differences(made, anew))
    assert "version" in told and "files of rules" in told
    assert f"{made.files[1].file}, or a file that it takes from, does not say the same" in told
    assert f"{made.files[2].file} is in the report and not here" in told


@pytest.mark.parametrize("cause", ["memory", "time", "ended"])
def test_victims_are_not_compared(made: Audit, cause: str):
    victim = FileReport(made.files[1].file, "not checked", cause=cause)
    anew = replace(made, files=(made.files[0], victim, *made.files[2:]))
    assert differences(made, anew) == ()
    assert not_compared(made, anew) == (made.files[1].file,)


# --- Packs ---------------------------------------------------------------------------------------


def test_packs_and_settings_that_are_not_there(tmp_path: Path):
    pack = open_pack(str(write(tmp_path, "house-rules", RULES)))
    asked = settings_of([pack], ["Longest waiver of must = 30 days"])
    assert asked == {"longest waiver of must": "30 days"}
    for words in (["longest waiver of must=1 day"], ["colour=red"], ["colour"]):
        with pytest.raises(NoPack):
            settings_of([pack], words)
    for asked_for in ("No such rules", str(write(tmp_path, "good", GOOD)), "../house-rules"):
        with pytest.raises(NoPack):
            open_pack(asked_for)


def test_what_nobody_covers(tmp_path: Path):
    room(tmp_path)
    late = GOOD.replace("  owner", "  in force from 2026-01-01\n  review by 2026-10-01\n  owner")
    write(tmp_path, "late", late)
    write(tmp_path, "soon", GOOD.replace("  owner", "  in force from 2027-01-01\n  owner"))
    told = audited(tmp_path).incomplete
    assert any(one.startswith("No protocol names") and "head rest" in one for one in told)
    assert any("throws anything into" in one and "general waste" in one for one in told)
    assert "late.protocol was to be reviewed by practice manager by 2026-10-01." in told
    assert "soon.protocol is not in force before 2027-01-01." in told
    used = (
        GOOD
        + "  in one go\n    [ ] operator takes bag off head rest\n"
        + "    [ ] operator cleans hands\n  [ ] operator covers head rest with bag\n"
    )
    write(tmp_path, "used", used)
    assert not any("head rest" in one for one in audited(tmp_path).incomplete)


def test_rules_that_applied_to_no_file(tmp_path: Path):
    never = (
        RULES
        + '\nrule "Far"\n  must\n  where weather is bad\n  always hands of staff are cleaned\n'
    )
    pack = open_pack(str(write(tmp_path, "house-rules", never)))
    write(tmp_path, "clinic/good", GOOD)
    assert audited(tmp_path / "clinic", packs=(pack,)).never == (("House rules", "Far"),)
