"""What the shipped files of rules say of the shipped rooms, rule by rule; and what they say once a
step of a room is taken out or put elsewhere: a rule that no fault breaks would be no rule."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from protocol_lang.model import rules as said
from protocol_lang.pipeline import check_file
from protocol_lang.rules import RuleVerdict, Subject, Verdict, judge_rules
from protocol_lang.trade.waste import stream_for
from tests.planting import planted
from tests.practice.kit import ROOM, ROOM_3
from tests.rules.test_packs import NOT_KEPT, ON, PACKS, SHIPPED, book

TABLE = Path(__file__).with_name("verdicts-of-packs.txt")

#: How a verdict is told in the table: why a rule is not applicable is told by a small letter.
_REASONS = {
    "setting": "s",
    "no-such": "n",
    "no-step": "t",
    "no-choice": "c",
    "no-phase": "p",
    "no-figure": "f",
}
_LEGEND = (
    "+ met, - failed; not applicable: s another setting, n nothing of the kind, t no such step,",
    "c no such choice, p no such phase, f no such figure. One column for each protocol:",
)


def judged(path: Path, *packs: Path) -> tuple[RuleVerdict, ...]:
    one = check_file(path, mend=False)
    subject = Subject(one.protocol, one.unfolded, one.judgement)
    return judge_rules([book(pack) for pack in packs or PACKS], subject, on=ON)


def _letter(verdict: RuleVerdict) -> str:
    if verdict.verdict is Verdict.NOT_APPLICABLE:
        assert verdict.reason is not None
        return _REASONS[verdict.reason.kind]
    return {Verdict.MET: "+", Verdict.FAILED: "-", Verdict.NOT_DECIDED: "?"}[verdict.verdict]


@cache
def _table() -> str:
    columns = [judged(path) for path in SHIPPED]
    lines = list(_LEGEND)
    lines += [f"{'|' * number}{path.stem}" for number, path in enumerate(SHIPPED)]
    pack = ""
    for row in zip(*columns, strict=True):
        if row[0].pack != pack:
            pack = row[0].pack
            lines += ["", pack]
        lines.append(f"{''.join(map(_letter, row))}  {row[0].rule.title}")
    return "\n".join(lines) + "\n"


def test_each_rule_says_of_each_shipped_protocol_what_the_table_says() -> None:
    """A changed line is either a change that was meant, or a rule that went blind."""
    assert _table().splitlines() == TABLE.read_text("utf-8").splitlines()


def test_of_what_a_default_setting_asks_for_only_figures_and_choices_apply_to_no_room() -> None:
    """A rule that never says a word of any room is one that nobody has seen at work."""
    silent = {
        (row[0].pack, row[0].rule.title): {v.reason.kind for v in row if v.reason is not None}
        for row in zip(*(judged(path) for path in SHIPPED), strict=True)
        if all(one.verdict is Verdict.NOT_APPLICABLE for one in row)
    }
    others = {
        name: kinds
        for name, kinds in silent.items()
        if kinds.isdisjoint({"setting", "no-figure", "no-choice"})
    }
    assert set(others) == {("Items by class", "A bath for high level takes 12 minutes at least")}


# --- What rules ask ------------------------------------------------------------------------------


def _duties(rule: said.Rule) -> tuple[said.Duty, ...]:
    return rule.duty.ways if isinstance(rule.duty, said.OneOf) else (rule.duty,)


def test_every_form_of_a_rule_is_used_somewhere() -> None:
    rules = [rule for path in PACKS for rule in book(path).rules]
    duties = [duty for rule in rules for duty in _duties(rule)]
    assert {type(duty) for duty in duties} == {
        said.After, said.Always, said.Before, said.Declared, said.EveryDays, said.FigureIs,
        said.HeaderSays, said.Marked, said.Never, said.NotBetween, said.NoTreatmentDependsOn,
        said.Times, said.Whenever,
    }  # fmt: skip
    assert any(isinstance(rule.duty, said.OneOf) for rule in rules)
    times = [duty for duty in duties if isinstance(duty, said.Times)]
    assert any(one.most is not None for one in times) and any(one.most is None for one in times)
    assert any(isinstance(duty, said.Before) and duty.never for duty in duties)
    ends = [duty.before for duty in duties if isinstance(duty, said.After)]
    assert all(until in ends for until in said.Until)
    assert any(isinstance(end, tuple) for end in ends)
    assert {duty.how for duty in duties if isinstance(duty, said.FigureIs)} >= {"<=", ">="}
    assert {rule.strength for rule in rules} == set(said.Strength)
    assert any(rule.phases for rule in rules) and any(rule.but for rule in rules)
    assert any(asked.setting for rule in rules for asked in rule.where)
    assert any(not asked.so for rule in rules for asked in rule.where)
    assert any(rule.about is not None and rule.about.traits for rule in rules)


def test_a_rule_that_goes_with_another_names_one_that_there_is() -> None:
    known = {(book(path).header.title, rule.title) for path in PACKS for rule in book(path).rules}
    others = [one for path in PACKS for rule in book(path).rules for one in rule.others]
    assert others
    for one in others:
        assert (one.pack, one.title) in known


# --- Waste, against the data of the trade --------------------------------------------------------

ITEMS = {
    "gloves": "gloves",
    "cover": "plastic barrier",
    "wipe": "gauze with saliva",
    "mask": "mask",
    "gown": "gown",
}
JURISDICTIONS = {"India": "India", "United Kingdom": "UK", "United States": "USA"}


def _waste_rules() -> list[said.Rule]:
    (path,) = [path for path in PACKS if path.stem == "waste"]
    return [rule for rule in book(path).rules if rule.where]


@pytest.mark.parametrize("rule", _waste_rules(), ids=lambda rule: rule.title)
def test_what_is_thrown_away_goes_where_the_data_has_it(rule: said.Rule) -> None:
    """The first mark that a rule accepts is that of the stream; others are stricter."""
    assert rule.about is not None
    first = _duties(rule)[0]
    assert isinstance(first, said.Marked)
    sorting = stream_for(JURISDICTIONS[rule.where[0].value], ITEMS[rule.about.kind])
    if sorting.stream.colour == "not laid down":
        assert sorting.stream.name in first.mark
    else:
        words = set(sorting.stream.colour.split()) - {"with", "stripes"}
        assert all(word in first.mark for word in words)
    if sorting.basis.inferred and rule.where[0].value != "United States":
        assert any("inference" in note or "ask" in note for note in rule.notes)


# --- Faults put into the shipped rooms -----------------------------------------------------------

_GLOVES_OFF = "    [ ] operator takes off gloves\n    [ ] operator cleans hands\n"
_SENSOR = "intraoral-wired-sensor"
_FILM = "intraoral-film"
_ON_OFF = "protective-equipment"
_HOLDERS = "holders-and-bite-blocks"
_AIR = "panoramic-airborne-precautions"

#: A step of the wired sensor that would not be possible any more, once another is left out.
_UNSLEEVE = ("  [ ] operator lets sensor slide out of sleeve onto used half\n", "")

#: (room, protocol, (old text, new text) ..., file of rules, rule that is broken)
FAULTS: tuple[tuple[Path, str, tuple[tuple[str, str], ...], str, str], ...] = (
    (ROOM, _SENSOR, (("  [ ] operator slips sleeve over sensor\n", ""), _UNSLEEVE),
     "dental-imaging-infection-prevention", "A receptor goes into the mouth covered"),
    (ROOM, _SENSOR, (("  [ ] operator slips sleeve over sensor\n", ""), _UNSLEEVE),
     "items-by-class", "Semicritical, does not stand heat: high level, or always covered"),
    (ROOM, _SENSOR, (("  [ ] operator disinfects sensor with a new wipe\n", ""),),
     "dental-imaging-infection-prevention",
     "A receptor is disinfected for the next patient, covered or not"),
    (ROOM, _SENSOR, (("      [ ] operator cleans chair arms with a new wipe\n", ""),),
     "dental-imaging-infection-prevention", "Cleaning comes before disinfection"),
    (ROOM, _SENSOR, (("    [ ] operator takes bag off head rest\n", ""),
                     ("    [ ] operator covers head rest with bag\n", "")),
     "items-by-class", "Noncritical surfaces: low level at least, or a cover"),
    (ROOM, _SENSOR, (("    [ ] operator takes wrap off tube\n", ""),
                     ("    [ ] operator covers tube with wrap\n", "")),
     "dental-imaging-infection-prevention",
     "Tube head, cone and arm get a new cover, or are disinfected"),
    (ROOM, _SENSOR, ((_GLOVES_OFF, "    [ ] operator takes off gloves\n"),),
     "hand-hygiene", "After gloves come off"),
    (ROOM, _SENSOR, (("  [ ] operator opens the record at keyboard\n", ""),),
     "house-rules", "The record is opened before the first image"),
    (ROOM, _SENSOR, (("  owner infection control lead\n", ""),),
     "house-rules", "A protocol has an owner"),
    (ROOM, _SENSOR, (("  review by 2027-11-02\n", "  review by 2026-11-30\n"),),
     "house-rules", "A protocol is reviewed in time"),
    (ROOM, _SENSOR, (("    [ ] operator disinfects collar with a new wipe\n", ""),),
     "items-by-class", "Noncritical: a collar is disinfected after each patient"),
    (ROOM, _FILM, (("  [ ] operator dries film 1 with a new gauze\n", ""),),
     "dental-imaging-infection-prevention", "Packets are dried before they travel"),
    (ROOM, _ON_OFF, (("  [ ] operator puts on mask\n  [ ] operator puts on eyewear\n",
                      "  [ ] operator puts on eyewear\n  [ ] operator puts on mask\n"),),
     "protective-equipment-on-and-off", "The mask goes on before eyewear"),
    (ROOM, _ON_OFF, (("  [ ] operator puts on mask\n", ""),
                     ("  [ ] operator takes off mask by the ties\n"
                      '      short "Mask off by the ties"\n', "")),
     "dental-imaging-infection-prevention", "A mask where there is spatter"),
    (ROOM, _ON_OFF, (('        short "Gown and gloves off together"\n'
                      "    [ ] operator cleans hands\n",
                      '        short "Gown and gloves off together"\n'),),
     "protective-equipment-on-and-off", "After gown and gloves together hands are cleaned at once"),
    (ROOM, _HOLDERS, (("  every week\n", "  every month\n"),),
     "steam-cycles", "A spore test every week"),
    (ROOM, _HOLDERS, (("    [ ] operator dates used holder\n", ""),),
     "steam-cycles", "Packs are dated before they are stored"),
    (ROOM, _HOLDERS, (("  sterilising time: 15 minutes\n", "  sterilising time: 10 minutes\n"),),
     "steam-cycles", "Gravity: 15 minutes at least"),
    (ROOM, _HOLDERS, (("  age of packs: 180 days\n", "  age of packs: 366 days\n"),),
     "steam-cycles", "Wrapped packs are kept for a year at most"),
    (ROOM, "opening-the-room",
     (("  hand rub time: 20 seconds\n", "  hand rub time: 10 seconds\n"),),
     "hand-hygiene", "Hands are rubbed long enough"),
    (ROOM, "closing-the-room", (("      [ ] operator disinfects head rest with a new wipe\n", ""),),
     "dental-imaging-infection-prevention",
     "At the end of the day covered surfaces are disinfected too"),
    (ROOM_3, _AIR, (("  clearing time: 69 minutes\n", "  clearing time: 60 minutes\n"),),
     "airborne-precautions", "Fewer than 8 air changes: 69 minutes to 99.9 percent"),
    (ROOM_3, _AIR, (("    [ ] operator puts on respirator\n", "    [ ] say: hold your breath\n"),
                    ("    [ ] operator takes off respirator by the ties\n", "")),
     "airborne-precautions", "There is a respirator to put on"),
)  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: f"{fault[3]}: {fault[4]}")
def test_a_fault_in_a_shipped_room_breaks_the_rule_that_it_is_against(
    fault: tuple[Path, str, tuple[tuple[str, str], ...], str, str], tmp_path: Path
) -> None:
    room, name, changes, pack, title = fault
    for path in room.glob("*.protocol"):
        (tmp_path / path.name).write_text(path.read_text("utf-8"), "utf-8")
    path = tmp_path / f"{name}.protocol"
    text = path.read_text("utf-8")
    for old, new in changes:
        text = planted(text, old, new)
    path.write_text(text, "utf-8")
    (rules,) = [one for one in PACKS if one.stem == pack]
    of_rule = {verdict.rule.title: verdict for verdict in judged(path, rules)}
    assert of_rule[title].verdict is Verdict.FAILED, of_rule[title]
    assert (book(rules).header.title, title) not in NOT_KEPT


if (
    __name__ == "__main__"
):  # after a change that was meant: python -m tests.rules.test_packs_and_rooms
    TABLE.write_text(_table(), "utf-8")
