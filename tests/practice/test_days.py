"""Visits in parts, and whole days: planted faults that only a mix of protocols shows, and their
right twins.

Common practice, no source, unless one is named: that the room is turned over after every visit, and
that who works in it finds it as the room file says.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.findings import Finding
from protocol_lang.language.opening import slug
from protocol_lang.pipeline import Checked, check_file
from protocol_lang.resources import folder

Check = Callable[..., Checked]


@pytest.fixture
def check(tmp_path: Path) -> Check:
    """Writes files, each named after its title, and checks the first one."""

    def run(*texts: str) -> Checked:
        paths = []
        for text in texts:
            title = text.split('"')[1]
            paths.append(tmp_path / f"{slug(title)}.protocol")
            paths[-1].write_text(text, "utf-8")
        return check_file(paths[0])

    return run


def protocol(title: str, body: str, header: str = "", sections: str = "") -> str:
    lines = "".join(f"  {line}\n" for line in header.splitlines())
    return (
        f'protocol "{title}"\n  edition 1\n  takes words from "Imaging room 2"\n{lines}\n'
        f'{sections}\nphase "{title}, its steps"\n{body}'
    )


def day(*visits: str, more: str = "") -> str:
    lines = "".join(f"  {line}\n" for line in more.splitlines())
    named = ", ".join(f'"{one}"' for one in visits)
    return f'day "The day"\n  visits {named}\n{lines}'


def kinds(checked: Checked) -> list[str]:
    return [finding.kind for finding in checked.outcome.findings]


def only(checked: Checked, kind: str) -> Finding:
    assert kinds(checked) == [kind]
    return checked.outcome.findings[0]


def judged(checked: Checked) -> tuple[Unfolded, Judgement]:
    assert checked.unfolded is not None and checked.judgement is not None
    assert not checked.outcome.unchecked
    return checked.unfolded, checked.judgement


GLOVES_ON = """
  in one go
    [ ] operator cleans hands
    [ ] operator puts on gloves
"""
GLOVES_OFF = """
  in one go
    [ ] operator takes off gloves
    [ ] operator cleans hands
"""
GUM = "verb ACTOR feels the gum\n  meet ACTOR's hands, the patient's mouth\n"


# --- A visit and what follows it -----------------------------------------------------------------

WITH_GLOVES = protocol(
    "Turnover",
    GLOVES_OFF,
    "follows another protocol",
    "begins with\n  operator wears gloves; used\n",
)


def test_a_part_is_checked_alone_from_what_it_begins_with(check):
    checked = check(WITH_GLOVES)
    judged(checked)
    assert kinds(checked) == []
    coverage = checked.outcome.coverage
    assert coverage is not None and coverage.follows and not coverage.any_number_of_visits


def test_the_soil_that_a_part_begins_with_is_real(check):
    body = "  [ ] operator opens the record at keyboard\n" + GLOVES_OFF
    found = check(WITH_GLOVES.replace(GLOVES_OFF, body))
    assert kinds(found) == ["clean-thing-reached"]


def test_a_part_has_to_leave_the_room_as_the_room_says(check):
    body = GLOVES_OFF.replace("    [ ] operator takes off gloves\n", "").replace(
        "cleans hands", "keeps hands still"
    )
    assert "not-ready" in kinds(check(WITH_GLOVES.replace(GLOVES_OFF, body)))


def visit_before(end: str) -> str:
    return protocol(
        "Visit",
        GLOVES_ON + "  [ ] operator feels the gum\n" + end,
        'then "Turnover"',
        GUM,
    )


def test_what_a_visit_leaves_is_what_its_turnover_begins_with(check):
    checked = check(visit_before("  [ ] patient leaves\n"), WITH_GLOVES)
    judged(checked)
    assert kinds(checked) == []
    coverage = checked.outcome.coverage
    assert coverage is not None
    assert coverage.parts == (("first", "Visit"), ("then", "Turnover"))
    assert coverage.any_number_of_visits


def test_what_a_turnover_begins_with_has_to_hold(check):
    finding = only(check(visit_before(GLOVES_OFF), WITH_GLOVES), "claim-can-fail")
    assert finding.place is not None and finding.place.file.endswith("turnover.protocol")
    assert finding.facts["step"] == '"Turnover" begins'


def test_what_it_begins_with_has_to_hold_with_every_choice(check):
    choices = "choices, each visit\n  teeth: few, many\n\n"
    body = visit_before("  where teeth is many" + GLOVES_OFF.replace("\n", "\n  ").rstrip() + "\n")
    finding = only(check(body.replace(GUM, choices + GUM), WITH_GLOVES), "claim-can-fail")
    assert finding.route is not None and finding.route.choices == (("teeth", "many"),)
    twin = visit_before("  where teeth is many\n    [ ] operator keeps hands still\n")
    assert kinds(check(twin.replace(GUM, choices + GUM), WITH_GLOVES)) == []


def test_the_soil_of_the_visit_is_followed_into_the_turnover(check):
    """Used gloves that the turnover keeps on and types with: only both together show it."""
    turnover = protocol(
        "Turnover", "  [ ] operator opens the record at keyboard\n", "follows another protocol"
    )
    assert kinds(check(turnover)) == []
    visit = visit_before(GLOVES_OFF)
    assert kinds(check(visit, turnover)) == []
    used = protocol(
        "Turnover",
        "  [ ] operator opens the record at keyboard\n" + GLOVES_OFF,
        "follows another protocol",
    )
    finding = check(visit_before(""), used).outcome.findings[0]
    assert finding.route is not None
    files = [step.place.file.split("/")[-1] for step in finding.route.steps if step.place]
    assert files == ["visit.protocol", "turnover.protocol"]


def test_labels_of_the_two_files_are_kept_apart(check):
    visit = protocol(
        "Visit",
        "  any order\n    [ ] first: operator looks at the image\n"
        "    [ ] helper looks at the image\n        after first\n",
        'then "Turnover"',
    )
    turnover = protocol(
        "Turnover",
        "  any order\n    [ ] operator keeps hands still\n        after first\n"
        "    [ ] first: helper keeps hands still\n",
    )
    unfolded, _ = judged(check(visit, turnover))
    labels = [step.label for step in unfolded.steps]
    assert labels == ["first", None, None, 'first of "Turnover"']
    assert (unfolded.acts_of[3][0], unfolded.acts_of[2][0]) in unfolded.plan.order


CUP = "things\n  cup: cup; has inside, outside{}\n"


def test_one_name_for_two_things_is_told(check):
    visit = protocol("Visit", "  [ ] say: hello\n", 'then "Turnover"', CUP.format(""))
    same = protocol("Turnover", "  [ ] say: goodbye\n", "", CUP.format(""))
    assert kinds(check(visit, same)) == []
    other = protocol("Turnover", "  [ ] say: goodbye\n", "", CUP.format("; everyday"))
    finding = only(check(visit, other), "parts-differ")
    assert finding.facts == {"name": "cup", "sort": "thing"}


# --- Days ----------------------------------------------------------------------------------------

PEN = "surfaces\n  pen: surface\n\n"


def notes_taken(title: str) -> str:
    """The pen is met with used gloves, and with clean ones before nothing that matters."""
    body = GLOVES_ON + "  [ ] operator feels the gum\n  [ ] operator works at pen\n" + GLOVES_OFF
    return protocol(title, body, "", PEN + GUM)


def pen_first(title: str, wipe: bool = False) -> str:
    """The pen is met with clean gloves, and then the mouth."""
    wiping = "  [ ] operator lays out wipe\n" * wipe
    cleaned = (
        "  [ ] operator cleans pen with a new wipe\n"
        "  [ ] operator disinfects pen with a new wipe\n"
        "  [ ] operator waits until pen is dry\n"
        "  in one go\n"
        "    [ ] operator takes off gloves\n"
        "    [ ] operator cleans hands\n"
        "    [ ] operator puts on gloves\n"
    ) * wipe
    body = (
        ("  [ ] operator cleans hands\n" + wiping) * wipe
        + GLOVES_ON
        + cleaned
        + "  [ ] operator works at pen\n  [ ] operator feels the gum\n"
        + GLOVES_OFF
    )
    return protocol(title, body, "", PEN + GUM)


def test_soil_from_a_visit_of_one_protocol_to_a_visit_of_another(check):
    for alone in (notes_taken("Notes"), pen_first("Pen")):
        assert kinds(check(alone)) == []
    finding = only(
        check(day("Notes", "Pen"), notes_taken("Notes"), pen_first("Pen")), "path-to-patient"
    )
    assert finding.route is not None
    assert [step.visit for step in finding.route.steps] == [1, 1, 2, 2]
    chosen = [value for name, value in finding.route.choices if name.startswith("protocol")]
    assert chosen == ['"Notes"', '"Pen"']
    assert finding.context is not None and '"Pen"' in finding.context


def test_its_right_twin_cleans_the_pen_before(check):
    found = check(day("Notes", "Pen"), notes_taken("Notes"), pen_first("Pen", wipe=True))
    judged(found)
    assert kinds(found) == []


def test_three_visits_of_three_protocols(check):
    """Mouth to pen, pen to cup, cup to mouth: no two of the three show it."""
    cup = "surfaces\n  pen, shelf: surface\n\n"
    carried = protocol(
        "Carried",
        GLOVES_ON + "  [ ] operator works at pen\n  [ ] operator works at shelf\n" + GLOVES_OFF,
        "",
        cup,
    )
    notes = notes_taken("Notes").replace(PEN, cup)
    late = pen_first("Late").replace(PEN, cup).replace("works at pen", "works at shelf")
    for two in ((notes, carried), (notes, late), (carried, late)):
        titles = [text.split('"')[1] for text in two]
        assert kinds(check(day(*titles), *two)) == []
    finding = only(check(day("Notes", "Carried", "Late"), notes, carried, late), "path-to-patient")
    assert finding.route is not None
    assert [step.visit for step in finding.route.steps] == [1, 1, 2, 2, 3, 3]


def test_one_order_of_one_protocol(check):
    """Only where the pen is met before the mouth does it carry anything on."""
    body = (
        GLOVES_ON
        + "  any order\n    [ ] operator works at pen\n    [ ] operator feels the gum\n"
        + GLOVES_OFF
    )
    open_order = protocol("Pen", body, "", PEN + GUM)
    assert kinds(check(open_order)) == ["not-ordered"]
    assert kinds(check(day("Notes", "Pen"), notes_taken("Notes"), open_order)) == ["not-ordered"]
    fixed = notes_taken("Pen")
    assert kinds(check(day("Notes", "Pen"), notes_taken("Notes"), fixed)) == []


def test_choices_of_one_protocol_mean_nothing_in_another(check):
    def choosing(title: str, name: str) -> str:
        body = f"  where {name} is one\n    [ ] say: one\n  otherwise\n    [ ] say: another\n"
        return protocol(title, body, "", f"choices, each visit\n  {name}: one, two, three\n")

    texts = [choosing(title, f"what {title}") for title in ("A", "B", "C", "D", "E", "F", "G")]
    found = check(day(*"ABCDEFG"), *texts)
    unfolded, _ = judged(found)
    assert kinds(found) == []
    assert len(unfolded.worlds.examples) == 2 * 7


def test_a_choice_fixed_for_the_clinic_is_one_for_all(check):
    def shielded(title: str, said: str) -> str:
        body = f"  where shielding is collar\n    [ ] say: {said}\n"
        return protocol(
            title, body, "", "choices, fixed for the clinic\n  shielding: none, collar\n"
        )

    unfolded, _ = judged(check(day("A", "B"), shielded("A", "one"), shielded("B", "two")))
    assert len(unfolded.worlds.clinic) == 2
    each = shielded("B", "two").replace("fixed for the clinic", "each visit")
    finding = only(check(day("A", "B"), shielded("A", "one"), each), "parts-differ")
    assert finding.facts["sort"] == "choice"


def test_a_visit_that_leaves_the_room_otherwise_is_named(check):
    bare = protocol(
        "Bare",
        GLOVES_ON + "  [ ] operator takes bag off head rest\n" + GLOVES_OFF,
    )
    found = check(day("Notes", "Bare"), notes_taken("Notes"), bare)
    finding = only(found, "not-ready")
    assert finding.place is not None and finding.place.file.endswith("bare.protocol")
    assert [part.kind for part in found.outcome.unchecked] == ["next-visits"]


def test_over_night_the_room_may_be_bare(check):
    closing = protocol(
        "Closing",
        GLOVES_ON + "  [ ] operator takes bag off head rest\n" + GLOVES_OFF,
        "",
        "leaves\n  head rest is bare\n",
    )
    opening = protocol(
        "Opening",
        "  [ ] operator cleans hands\n  [ ] operator covers head rest with bag\n",
        "follows another protocol",
        "begins with\n  head rest is bare\n",
    )
    assert kinds(check(opening)) == []
    more = 'opening "Opening"\nclosing "Closing"'
    whole = day("Notes", more=more)
    found = check(whole, notes_taken("Notes"), closing, opening)
    judged(found)
    assert kinds(found) == []
    late = closing.replace("bag off", "film cover off").replace("head rest", "control panel")
    assert "claim-can-fail" in kinds(check(whole, notes_taken("Notes"), late, opening))


def test_soil_stays_over_night(check):
    """Typed with used gloves at closing, met with clean ones the day after."""
    closing = protocol(
        "Closing",
        GLOVES_ON + "  [ ] operator works at pen\n  [ ] operator works at shelf\n" + GLOVES_OFF,
        "",
        "surfaces\n  pen, shelf: surface\n",
    )
    notes = notes_taken("Notes").replace("pen: surface", "pen, shelf: surface")
    late = (
        pen_first("Late")
        .replace("pen: surface", "pen, shelf: surface")
        .replace("works at pen", "works at shelf")
    )
    assert kinds(check(day("Notes", "Late"), notes, late)) == []
    assert kinds(check(day("Notes", "Late", more='closing "Closing"'), notes, late, closing)) == [
        "path-to-patient"
    ]


# --- The shipped day -----------------------------------------------------------------------------

SHIPPED = folder("protocols") / "imaging-room-2"


def test_the_shipped_day_is_clear_and_names_all_its_parts():
    found = check_file(SHIPPED / "a-day-in-imaging-room-2.protocol")
    judged(found)
    assert kinds(found) == []
    coverage = found.outcome.coverage
    assert coverage is not None
    assert {("visit", "Intraoral, wired sensor"), ("then", "Turning over the room")} <= set(
        coverage.parts
    )


def test_the_sensor_visit_with_the_turnover_in_its_own_file(check):
    """The shipped visit cut in two says the same as in one."""
    whole = (SHIPPED / "intraoral-wired-sensor.protocol").read_text("utf-8")
    first = whole[: whole.index('phase "Turn over the room"')].replace(
        '  takes words from "Imaging room 2"\n',
        '  takes words from "Imaging room 2"\n  then "Turning over the room"\n',
    )
    found = check(first)
    judged(found)
    assert kinds(found) == []
    unwiped = (SHIPPED / "turning-over-the-room.protocol").read_text("utf-8")
    unwiped = unwiped.replace("      [ ] operator cleans chair arms with a new wipe\n", "")
    assert kinds(check(first, unwiped)) == ["path-to-patient"]
