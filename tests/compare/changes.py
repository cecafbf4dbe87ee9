"""Changes of the shipped wired-sensor protocol, and exactly what is to be said of each."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Planted:
    """``says``: the first sentence. Steps by their texts; ``findings``: (fate, kind) of each.

    ``moved``: the step, and for each other step that it moved past, its text and the relation
    before and now. ``effects``: the step, what it no longer does and what it does now, in words.
    """

    says: str
    changes: tuple[tuple[str, str], ...] = ()
    room: tuple[tuple[str, str], ...] = ()
    added: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    reworded: tuple[tuple[str, str, bool], ...] = ()
    moved: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...] = ()
    elsewhere: tuple[str, ...] = ()
    between: tuple[tuple[tuple[str, ...], tuple[str, ...], bool], ...] = ()
    effects: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = ()
    done: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = ()
    findings: tuple[tuple[str, str], ...] = ()
    phases: tuple[tuple[str, str | None, str | None], ...] = ()
    options: tuple[tuple[str, str, str | None, str | None], ...] = ()
    declared: tuple[tuple[str, str | None, str | None], ...] = ()
    header: tuple[tuple[str, str | None, str | None], ...] = ()
    newly: frozenset[str] = field(default=frozenset())
    no_longer: frozenset[str] = field(default=frozenset())


OFF = "operator takes off gloves"
HANDS = "operator cleans hands"
DISINFECT = "operator disinfects {} with a new wipe"
_NO_EFFECT = "Nothing changes in effect: only the text, or what the header says, is different."


def _treated(thing: str, level: str, least: str) -> str:
    are = "are" if thing.endswith("s") else "is"
    return (
        f"{thing} {are} treated to {level} and wet for two minutes; "
        f"the least that counts there is {least}"
    )


PLANTED: dict[str, Planted] = {
    "hands are cleaned before gloves come off": Planted(
        "No path opens or closes; two faults are new.",
        changes=(
            (
                f"    [ ] {OFF}\n    [ ] {HANDS}\n  where shielding is collar\n"
                "    [ ] operator takes collar off",
                f"    [ ] {HANDS}\n    [ ] {OFF}\n  where shielding is collar\n"
                "    [ ] operator takes collar off",
            ),
        ),
        moved=((HANDS, ((OFF, "after", "before"),)),),
        findings=(("new", "claim-can-fail"), ("new", "duty-can-fail")),
    ),
    "two steps of an any-order block are swapped": Planted(
        _NO_EFFECT,
        changes=(
            (
                "    [ ] operator takes wrap off tube\n"
                "    [ ] operator takes film cover off control panel and exposure button\n",
                "    [ ] operator takes film cover off control panel and exposure button\n"
                "    [ ] operator takes wrap off tube\n",
            ),
        ),
        elsewhere=("operator takes film cover off control panel and exposure button",),
    ),
    "a weaker wipe in the room": Planted(
        "The new edition opens one path and closes none.",
        room=(("treats with everyday fluid", "treats with everyday fluid; treats to low"),),
        effects=tuple(
            (
                DISINFECT.format(thing),
                (_treated(thing, "intermediate", least),),
                (_treated(thing, "low", least),),
            )
            for thing, least in (
                ("sensor", "intermediate"),
                ("chair arms", "low"),
                ("used half", "low"),
                ("collar", "low"),
            )
        ),
        declared=(("wipe: level", "intermediate", "low"),),
        findings=(("new", "path-to-patient"),),
        newly=frozenset({"remainder chair arms", "remainder used half", "remainder collar"}),
        no_longer=frozenset(
            {
                "remainder sensor",
                "remainder chair arms",
                "remainder used half",
                "remainder collar",
            }
        ),
    ),
    "glove removal is dropped": Planted(
        "Whether paths open or close is not known, because the new edition was not judged to the "
        "end; one fault is new.",
        changes=(
            (
                f"    [ ] {OFF}\n    [ ] {HANDS}\n  where shielding is collar\n"
                "    [ ] operator takes collar off",
                f"    [ ] {HANDS}\n  where shielding is collar\n    [ ] operator takes collar off",
            ),
        ),
        removed=(OFF,),
        findings=(("new", "cover-on-twice"),),
    ),
    "the sensor is not disinfected": Planted(
        "The new edition opens one path and closes none.",
        changes=((f"  [ ] {DISINFECT.format('sensor')}\n", ""),),
        removed=(DISINFECT.format("sensor"),),
        findings=(("new", "path-to-patient"),),
        no_longer=frozenset({"remainder sensor"}),
    ),
    "a phase is renamed": Planted(
        _NO_EFFECT,
        changes=(('phase "Take down"', 'phase "Clear away"'),),
        phases=(("renamed", "Take down", "Clear away"),),
    ),
    "a step in other words with the same effect": Planted(
        _NO_EFFECT,
        changes=(
            (
                "say: what will happen; glasses and appliances out",
                "say: what will happen; glasses and appliances out, please",
            ),
        ),
        reworded=(
            (
                "say: what will happen; glasses and appliances out",
                "say: what will happen; glasses and appliances out, please",
                True,
            ),
        ),
        newly=frozenset(),
    ),
    "a step in other words with another effect": Planted(
        "No path opens or closes and no fault is new or gone, but one step does something else.",
        changes=(("operator opens the record at keyboard", "operator works at keyboard"),),
        reworded=(("operator opens the record at keyboard", "operator works at keyboard", False),),
        effects=(("operator works at keyboard", ("from then on: record open",), ()),),
    ),
    "a collar is always put on": Planted(
        "The new edition opens one path and closes none.",
        changes=(
            (
                "  where shielding is collar\n    [ ] operator puts collar on patient",
                "  [ ] operator puts collar on patient",
            ),
        ),
        done=(("operator puts collar on patient", ("where shielding is collar",), ()),),
        findings=(("new", "path-to-patient"),),
    ),
    "a sleeve that does not leak": Planted(
        "No path opens or closes and no fault is new or gone, but one step does something else and "
        "the room or its words say otherwise.",
        room=(("used once; leaks; laid", "used once; laid"),),
        effects=(
            (
                "operator slips sleeve over sensor",
                ("sleeve, which leaks, comes onto sensor",),
                ("sleeve comes onto sensor",),
            ),
        ),
        declared=(("sleeve: leaks", "yes", "no"),),
        no_longer=frozenset({"leaking sleeve"}),
    ),
    "a step that only waits is moved up": Planted(
        "No path opens or closes and no fault is new or gone, but one step is moved in effect.",
        changes=(
            ("  [ ] operator waits until chair arms are dry\n", ""),
            (
                "  [ ] operator waits until used half is dry\n",
                "  [ ] operator waits until chair arms are dry\n"
                "  [ ] operator waits until used half is dry\n",
            ),
        ),
        moved=(
            (
                "operator waits until chair arms are dry",
                tuple(
                    (text, "after", "before")
                    for text in (
                        "operator waits until used half is dry",
                        OFF,
                        HANDS,
                        "operator waits until collar is dry",
                        "operator hangs collar on collar rack",
                        "operator covers tube with wrap",
                        "operator covers control panel and exposure button with film cover",
                        "operator covers head rest with bag",
                        "operator lines used half with tray paper",
                    )
                ),
            ),
        ),
    ),
    "covers are put on in a fixed order": Planted(
        "No path opens or closes and no fault is new or gone, but two steps are moved in effect.",
        changes=(
            (
                "  any order\n    [ ] operator takes wrap off tube\n    [ ] operator takes film "
                "cover off control panel and exposure button\n    [ ] operator takes bag off head "
                "rest\n",
                "  in order\n    [ ] operator takes wrap off tube\n    [ ] operator takes film "
                "cover off control panel and exposure button\n    [ ] operator takes bag off head "
                "rest\n",
            ),
        ),
        moved=(
            (
                "operator takes film cover off control panel and exposure button",
                (("operator takes wrap off tube", "in either order", "after"),),
            ),
            (
                "operator takes bag off head rest",
                (
                    ("operator takes wrap off tube", "in either order", "after"),
                    (
                        "operator takes film cover off control panel and exposure button",
                        "in either order",
                        "after",
                    ),
                ),
            ),
        ),
    ),
    "a choice that nothing depends on": Planted(
        "No path opens or closes and no fault is new or gone, but what it leaves open or is put "
        "together from changes.",
        changes=(
            ("  shielding: none, collar\n", "  shielding: none, collar\n  chair: old, new\n"),
        ),
        options=(("choice", "chair", None, "old, new, fixed for the clinic"),),
    ),
    "owner, source and review": Planted(
        _NO_EFFECT,
        changes=(
            ("owner infection control lead", "owner practice lead"),
            ("review by 2027-11-02", "review by 2028-01-10"),
            ("edition 1", "edition 2"),
        ),
        header=(
            ("review by", "2027-11-02", "2028-01-10"),
            ("owner", "infection control lead", "practice lead"),
        ),
    ),
    "lists that stayed in one go may now be mixed": Planted(
        "No path opens or closes and no fault is new or gone, but others come between steps that "
        "one edition does in one go.",
        changes=(
            (
                "  any order\n    in order\n      [ ] operator cleans chair arms",
                "  any order, mixed\n    in order\n      [ ] operator cleans chair arms",
            ),
        ),
        between=tuple(
            (
                tuple(
                    f"operator {does} {one} with a new wipe" for does in ("cleans", "disinfects")
                ),
                tuple(
                    f"operator {does} {other} with a new wipe" for does in ("cleans", "disinfects")
                ),
                True,
            )
            for one, other in (("chair arms", "used half"), ("used half", "chair arms"))
        ),
    ),
}
