"""Sheets written by hand after protocols/imaging-room-2/intraoral-wired-sensor.protocol."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from protocol_lang.chart.sheet import (
    Checked,
    Group,
    Hands,
    HandState,
    Mark,
    Panel,
    PanelKind,
    PanelLine,
    Row,
    Sheet,
    SheetPhase,
    Together,
    Waived,
)

NOT_CLEAN = Hands(HandState.NOT_CLEAN)
BARE = Hands(HandState.CLEAN_BARE)
GLOVES = Hands(HandState.CLEAN_GLOVES)
USED = Hands(HandState.USED_GLOVES)
TRACE = Hands(HandState.USED_BARE)
PERHAPS = Hands(HandState.USED_GLOVES, orders_differ=True)


class Writer:
    """Numbers rows and carries hands along, so that a sample reads like the checklist."""

    def __init__(self, *persons: str) -> None:
        self.persons = persons
        self.hands = dict.fromkeys(persons, NOT_CLEAN)
        self.number = 0

    def row(
        self,
        text: str,
        then: Hands | None = None,
        *,
        notes: Sequence[str] = (),
        wait: int | None = None,
        do_not_touch: Sequence[str] = (),
    ) -> Row:
        person = next((name for name in self.persons if text.startswith(name + " ")), None)
        if text.startswith("patient "):
            person = "patient"
        if text.startswith("Lay out"):
            person = self.persons[0]
        if then is not None and person is not None:
            self.hands[person] = then
        self.number += 1
        return Row(
            number=self.number,
            text=text,
            person=person,
            hands=dict(self.hands),
            notes=tuple(notes),
            wait_minutes=wait,
            do_not_touch=tuple(do_not_touch),
        )


def intraoral(staffing: str, shielding: str = "none", mark: Mark | None = None) -> Sheet:
    """The sample protocol; ``staffing``: alone or paired, ``shielding``: none or collar."""
    paired, collar = staffing == "paired", shielding == "collar"
    w = Writer("operator", "helper") if paired else Writer("operator")
    go = Together.IN_ONE_GO

    def gloves_on() -> Group:
        return Group(
            go, (w.row("operator cleans hands", BARE), w.row("operator puts on gloves", GLOVES))
        )

    def gloves_off() -> Group:
        return Group(
            go, (w.row("operator takes off gloves", TRACE), w.row("operator cleans hands", BARE))
        )

    phases: list[SheetPhase] = []

    def phase(title: str, *items: Row | Group, keep_off: Sequence[str] = ()) -> None:
        phases.append(SheetPhase(title, items, before, do_not_touch=tuple(keep_off)))

    before = dict(w.hands)
    items: list[Row | Group] = [
        w.row("operator cleans hands", BARE),
        w.row("operator opens the record at keyboard"),
        w.row("operator chooses settings at control panel"),
        w.row("Lay out: sleeve, wipes"),
        w.row("patient comes in"),
        w.row("patient sits down on chair arms"),
        w.row("patient leans back on head rest"),
        w.row("Say: what will happen; glasses and appliances out"),
    ]
    if collar:
        items.append(w.row("operator puts collar on patient"))
    items.append(w.row("operator sets tube roughly"))
    phase("Get ready", *items)

    before = dict(w.hands)
    items = [
        gloves_on(),
        w.row("operator slips sleeve over sensor"),
        w.row("operator puts sensor into holder"),
        w.row(
            "operator places holder with sensor in mouth",
            USED,
            notes=["Never hold the receptor or the tube for the patient."],
        ),
    ]
    if paired:
        items += [
            w.row("helper cleans hands", BARE),
            Group(
                Together.SIDE_BY_SIDE,
                (
                    Group(
                        Together.LANE,
                        (
                            w.row("operator keeps hands still"),
                            w.row("operator goes behind the barrier"),
                        ),
                        "operator",
                    ),
                    Group(
                        Together.LANE,
                        (
                            w.row("helper aims tube"),
                            w.row("helper goes behind the barrier"),
                            w.row("helper exposes with exposure button"),
                        ),
                        "helper",
                    ),
                ),
            ),
            w.row("operator comes back from the barrier"),
            w.row("helper comes back from the barrier"),
        ]
    else:
        items += [
            gloves_off(),
            w.row("operator aims tube"),
            w.row("operator goes behind the barrier"),
            w.row("operator exposes with exposure button"),
            w.row("operator comes back from the barrier"),
            gloves_on(),
        ]
    items += [
        w.row("operator takes holder with sensor out of mouth", USED),
        w.row("operator lays holder with sensor on used half"),
    ]
    phase("Place and expose", *items, keep_off=["keyboard", "control panel", "boxes", "own face"])

    before = dict(w.hands)
    items = [
        w.row("operator lets sensor slide out of sleeve onto used half"),
        w.row("operator drops holder into holder box"),
        gloves_off(),
    ]
    if collar:
        items.append(w.row("operator takes collar off patient"))
    items.append(w.row("patient leaves"))
    phase("Take down", *items)

    before = dict(w.hands)
    items = [
        gloves_on(),
        Group(
            Together.ANY_ORDER,
            (
                w.row("operator takes wrap off tube", PERHAPS),
                w.row("operator takes film cover off control panel and exposure button"),
                w.row("operator takes bag off head rest"),
            ),
        ),
        w.row("operator cleans sensor with a new wipe", USED),
        w.row("operator disinfects sensor with a new wipe"),
        w.row("operator takes tray paper off used half"),
        Group(
            Together.ANY_ORDER,
            tuple(
                Group(
                    Together.IN_ORDER,
                    (
                        w.row(f"operator cleans {thing} with a new wipe"),
                        w.row(f"operator disinfects {thing} with a new wipe"),
                    ),
                )
                for thing in ("chair arms", "used half")
            ),
        ),
        w.row("operator waits until sensor is dry", wait=2),
        w.row("operator hangs sensor on sensor hook by a new wipe"),
    ]
    if collar:
        items += [
            w.row("operator cleans collar with a new wipe"),
            w.row("operator disinfects collar with a new wipe"),
        ]
    items += [
        w.row("operator waits until used half is dry", wait=2),
        gloves_off(),
        Group(
            Together.ANY_ORDER,
            (
                w.row("operator covers tube with wrap"),
                w.row("operator covers control panel and exposure button with film cover"),
                w.row("operator covers head rest with bag"),
                w.row("operator lines used half with tray paper"),
            ),
        ),
    ]
    phase("Turn over the room", *items)
    return Sheet(
        title="Intraoral, wired sensor",
        choices=(("staffing", staffing), ("shielding", shielding)),
        phases=tuple(phases),
        persons=w.persons,
        room="Imaging room 2",
        edition=1,
        in_force=date(2026, 11, 2),
        review_by=date(2027, 11, 2),
        owner="infection control lead",
        mark=mark or Checked(),
    )


#: A fingerprint: SHA-256 in hexadecimal of nothing in particular.
PRINT = "5891b5b522d5df086d0ff0b110fbd9d21bb4fc7163af34d08286a2e846f6be03"


def panels() -> tuple[Panel, ...]:
    """Every kind of panel, in no order."""
    line = PanelLine
    return (
        Panel(
            PanelKind.CALL,
            (
                line("lead for infection control", "extension 214"),
                line("radiation protection adviser", "extension 260"),
            ),
        ),
        Panel(
            PanelKind.LAY_OUT,
            (
                line("gloves, pairs", count=3),
                line("sleeve", count=1),
                line("wipes", "low or intermediate level", count=9),
                line("holder box, open"),
            ),
        ),
        Panel(
            PanelKind.STANDS,
            (
                line("operator", "behind the barrier", steps=(18,)),
                line("patient", "in the chair"),
                line("anybody else", "out of the room"),
            ),
        ),
        Panel(
            PanelKind.SETTINGS,
            (
                line("adult, front teeth", "65 kV, 7 mA, 0.20 s"),
                line("adult, back teeth", "65 kV, 7 mA, 0.25 s"),
                line("child", "65 kV, 7 mA, 0.12 s"),
            ),
            notes=("Values of this machine, set by whoever looks after it.",),
        ),
        Panel(
            PanelKind.COVERED,
            (
                line("tube", "wrap, changed after each patient", steps=(34, 53)),
                line("control panel, exposure button", "film cover, changed after each patient"),
                line("head rest", "bag, changed after each patient", steps=(36,)),
            ),
        ),
        Panel(
            PanelKind.DISINFECTED,
            (
                line("sensor", "intermediate level", minutes=2, steps=(37, 38)),
                line("chair arms, used half", "intermediate level", minutes=2, steps=(40, 41, 42)),
            ),
        ),
        Panel(PanelKind.STERILISED, (line("holder", "in the reprocessing room"),)),
        Panel(
            PanelKind.WASTE,
            (
                line("household waste", "gloves, wipes, covers"),
                line("clinical waste", "what drips"),
            ),
        ),
        Panel(
            PanelKind.HAPPENS,
            (
                line("sensor falls", "clean and disinfect it, new sleeve", steps=(13,)),
                line("glove tears", "take both off, clean hands, new gloves", steps=(12,)),
                line("patient gags", "take the holder out, wait", steps=(15,)),
            ),
        ),
    )


def full(staffing: str = "alone", shielding: str = "none", mark: Mark | None = None) -> Sheet:
    """The sample with all that can stand on a sheet."""
    sheet = intraoral(staffing, shielding, mark)

    def more(row: Row) -> Row:
        if row.text.endswith("holder with sensor in mouth"):
            return replace(
                row,
                touch_only=("holder", "mouth", "used half"),
                do_not_touch=("tube", "exposure button"),
                hand="right",
            )
        if row.text.endswith("disinfects sensor with a new wipe"):
            first = row.number + 1
            return replace(
                row,
                wet_minutes=2,
                meanwhile=(first, first + 1, first + 2, first + 5),
                must_not_skip="saliva to the next patient's mouth",
            )
        return row

    def item(one: Row | Group) -> Row | Group:
        if isinstance(one, Row):
            return more(one)
        return replace(one, items=tuple(map(item, one.items)))

    phases = tuple(replace(phase, items=tuple(map(item, phase.items))) for phase in sheet.phases)
    phases = (
        *phases[:-2],
        replace(phases[-2], touch_only=("holder", "sleeve", "sensor")),
        phases[-1],
    )
    return replace(
        sheet,
        phases=phases,
        panels=panels(),
        fingerprint=PRINT,
        rules=("Rules of the house", "Hands"),
        never_touch=("clean half", "sensor hook", "keyboard", "boxes and rolls"),
        checked_on=date(2026, 11, 25),
        exposes=True,
        waived=Waived(2, date(2027, 3, 3)),
    )
