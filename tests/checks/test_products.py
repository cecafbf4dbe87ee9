"""Products on materials and below the level of a thing, against one order after the other.

Which materials a product harms its maker says. Typical ones, from memory: alcohol swells and
hardens rubber and some plastics and loosens the cement of lenses, chlorine in higher strengths eats
into metals (CDC, Guideline for Disinfection and Sterilization in Healthcare Facilities, 2008,
sections on alcohol and on chlorine compounds). The levels by class of item: the same guideline,
table 1.
"""

from __future__ import annotations

import random
from itertools import product
from pathlib import Path

import pytest

from protocol_lang.checks.products import product_findings
from protocol_lang.contamination import kernel as k
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.pipeline import Checked, check_file
from tests.oracles.by_hand import Misstep, Visit, orders_by_hand

HEAD = """protocol "Wiping"
  edition 1
  takes words from "Imaging room 2"

choices, each visit
  staffing: alone, paired

materials
  acrylic, glass, rubber

products
  strong spirit: treats to low; {minutes}not on acrylic, rubber

boxes
  cloth box, hood box, net box: box; kept clean

surfaces
  tray: surface{mouth}; made of {tray}; takes cover hood, then net
  shelf: surface{mouth}; made of {shelf}

things
  cloth: wipe; has face, back; used once; thrown away after use; from cloth box; \
treats with strong spirit
  strong cloth: wipe; has face, back; used once; thrown away after use; from cloth box; \
treats to high
  hood: cover; used once; thrown away after use; from hood box; made of {hood}
  net: cover; used once; thrown away after use; from net box; made of {net}

verb ACTOR swaps COVER on SURFACE wiping with WIPE
  take WIPE with ACTOR's hands
  uncover SURFACE from COVER
  reduce SURFACE by WIPE
  cover SURFACE with COVER
  wash SURFACE

verb ACTOR takes COVER off SURFACE and wipes it with WIPE
  take WIPE with ACTOR's hands
  uncover SURFACE from COVER
  wash what came off

phase "Visit"
  [ ] operator cleans hands
"""

STEPS = (
    "operator covers tray with hood",
    "operator takes hood off tray",
    "operator covers tray with net",
    "operator takes net off tray",
    "operator cleans tray with a new cloth",
    "operator disinfects tray with a new cloth",
    "operator disinfects tray with a new strong cloth",
    "operator disinfects shelf with a new cloth",
    "operator swaps hood on tray wiping with cloth",
    "operator takes hood off tray and wipes it with cloth",
)


class _Watched(Visit):
    """A run in which is noted what a cloth gets onto, and what is treated at which level."""

    unfolded: Unfolded

    def watch(self, unfolded: Unfolded) -> None:
        self.unfolded = unfolded
        self.met: set[str] = set()
        self.bare: set[tuple[str, str]] = set()
        self.spot_of = {spot: piece.kind for piece in self.plan.pieces for spot in piece.spots}

    def happen(self, effect: k.Effect) -> None:
        text = self.unfolded.acts[self.act].text
        with_what = "strong cloth" if "strong cloth" in text else "cloth"
        targets: tuple[k.Target, ...] = ()
        level: int | None = None
        match effect:
            case k.Wash(targets):
                pass
            case k.Treat(targets, level):
                pass
            case k.Wet(number):
                treatment = self.plan.treatments[number]
                targets, level = treatment.targets, treatment.level
        if "cloth" in text:
            spots = {self.where(target) for target in targets}
            if with_what == "cloth":
                self.met |= {self.spot_of[spot] for spot in spots}
            if level is not None:
                for target in targets:
                    if isinstance(target, k.Outer):
                        own = self.plan.bodies[target.body].spot
                        if own in spots:
                            self.bare.add((with_what, self.spot_of[own]))
        super().happen(effect)


def _by_hand(unfolded: Unfolded, judged: int) -> set[tuple[str, str]]:
    """What is to be told, from doing every order in every world."""
    plan, protocol = unfolded.plan, unfolded.protocol
    told: set[tuple[str, str]] = set()
    ranks = {level.name: level.rank for level in protocol.levels.values()}
    for order, world in product(orders_by_hand(plan), range(plan.worlds)):
        run = _Watched(plan, world, 1, frozenset())
        run.watch(unfolded)
        if not judged >> world & 1:
            continue
        run.go_through(order)
        for name in run.met:
            if protocol.things[name].made_of & {"acrylic", "rubber"}:
                told.add(("forbidden-material", name))
        for with_what, name in run.bare:
            level = protocol.things[with_what].level or ""
            done = any(
                plan.acts[act].worlds >> world & 1
                and f"disinfects {name} with a new strong" in note.text
                for act, note in enumerate(unfolded.acts)
            )
            # "surface: low"; "goes in the mouth, not heat safe: high" (CDC 2008)
            needed = "high" if protocol.things[name].goes_in_mouth else "low"
            if ranks[level] < ranks[needed] and not done:
                told.add(("product-too-weak", name))
    return told


def _judged_by_hand(unfolded: Unfolded) -> int:
    """The worlds in which no order has a misstep."""
    plan = unfolded.plan
    judged = (1 << plan.worlds) - 1
    for order, world in product(orders_by_hand(plan), range(plan.worlds)):
        try:
            Visit(plan, world, 1, frozenset()).go_through(order)
        except Misstep:
            judged &= ~(1 << world)
    return judged


def _text(dice: random.Random) -> str:
    materials = ("acrylic", "glass", "glass, rubber")
    head = HEAD.format(
        minutes=dice.choice(("", "stays wet 1 minute; ")),
        tray=dice.choice(materials),
        shelf=dice.choice(materials),
        hood=dice.choice(materials),
        net=dice.choice(materials),
        mouth=dice.choice(("", "; goes in the mouth; not heat safe")),
    )
    lines: list[str] = []
    loose = [dice.choice(STEPS) for _ in range(dice.randint(1, 3))]
    start = list(
        dice.choice(
            (
                (),
                ("operator covers tray with hood",),
                ("operator covers tray with hood", "operator covers tray with net"),
            )
        )
    )
    for step in start:
        lines.append(f"  [ ] {step}")
    lines.append("  any order")
    lines += [f"    [ ] {step}" for step in loose]
    if dice.random() < 0.5:
        lines += ["  where staffing is alone", f"    [ ] {dice.choice(STEPS)}"]
    lines.append(f"  [ ] {dice.choice(STEPS)}")
    return head + "\n".join(lines) + "\n"


def _checked(where: Path, text: str) -> Checked:
    path = where / "wiping.protocol"
    path.write_text(text, "utf-8")
    return check_file(path, mend=False)


def _about(one: Checked) -> set[tuple[str, str]]:
    assert one.unfolded is not None and one.judgement is not None, one.outcome.findings
    found, missing = product_findings(one.unfolded, one.judgement)
    assert not missing
    return {(each.kind, each.facts["thing"]) for each in found}


TRIED: dict[str, int] = {"judged": 0, "told": 0}


@pytest.mark.parametrize("seed", range(60))
def test_every_order_is_judged_by_what_the_product_gets_onto(tmp_path: Path, seed: int) -> None:
    one = _checked(tmp_path, _text(random.Random(seed)))
    assert one.unfolded is not None and one.judgement is not None, one.outcome.findings
    judged = _judged_by_hand(one.unfolded)
    assert one.judgement.judged == judged
    expected = _by_hand(one.unfolded, judged)
    assert _about(one) == expected
    TRIED["judged"] += bool(judged)
    TRIED["told"] += bool(expected)


def test_the_random_checklists_try_both_verdicts() -> None:
    if TRIED["judged"] < 20:  # run alone, or by several workers: then there is nothing to count
        return
    assert 5 < TRIED["told"] < TRIED["judged"]


ROOM = """protocol "Wiping"
  edition 1
  takes words from "Imaging room 2"

materials
  acrylic, glass

products
  plain fluid: treats to intermediate; stays wet 3 minutes; not on acrylic

boxes
  cloth box: box; kept clean

surfaces
  screen: surface; made of {made_of}

things
  cloth: wipe; has face, back; used once; thrown away after use; from cloth box; {treats}

phase "Visit"
  [ ] operator cleans hands
  [ ] operator {does} screen with a new cloth
"""


def _told(where: Path, **said: str) -> list[tuple[str, str | None]]:
    text = ROOM.format(**{"made_of": "glass", "does": "disinfects", **said})
    found = _checked(where, text).outcome.findings
    return [(each.kind, each.facts.get("thing")) for each in found]


def test_a_thing_treats_as_its_product_does_or_weaker_or_longer(tmp_path: Path) -> None:
    for traits, level, minutes in (
        ("treats with plain fluid", "intermediate", 3),
        ("treats to low; treats with plain fluid", "low", 3),
        ("stays wet 5 minutes; treats with plain fluid", "intermediate", 5),
    ):
        text = ROOM.format(made_of="glass", does="disinfects", treats=traits)
        one = _checked(tmp_path, text)
        assert one.outcome.findings == () and one.protocol is not None
        cloth = one.protocol.things["cloth"]
        assert (cloth.level, cloth.wet_minutes, cloth.product) == (level, minutes, "plain fluid")
        assert one.unfolded is not None and one.unfolded.wet_minutes == (minutes,)


@pytest.mark.parametrize("does", ["cleans", "disinfects"])
@pytest.mark.parametrize(
    ("made_of", "told"),
    [
        ("glass", []),
        ("acrylic", ["forbidden-material"]),
        ("glass, acrylic", ["forbidden-material"]),
    ],
)
def test_a_product_is_used_in_cleaning_as_in_disinfecting(
    tmp_path: Path, does: str, made_of: str, told: list[str]
) -> None:
    found = _told(tmp_path, does=does, made_of=made_of, treats="treats with plain fluid")
    assert found == [(kind, "screen") for kind in told]


def test_what_a_label_forbids_is_not_asked_of_a_cloth_that_has_no_product(tmp_path: Path) -> None:
    found = _told(tmp_path, made_of="acrylic", treats="treats to intermediate; stays wet 3 minutes")
    assert found == []


def test_a_thing_is_given_back_at_its_level_by_another_protocol(tmp_path: Path) -> None:
    """Wiped before it is sent away to be sterilised: that is no wiping instead of sterilising."""
    for goes, told in (("", [("product-too-weak", "jig")]), ("; goes to holder box", [])):
        text = ROOM.replace(
            "phase", f"  jig: holder; goes in the mouth; heat safe{goes}\n\nphase"
        ).format(made_of="glass", does="disinfects", treats="treats with plain fluid")
        text += "  [ ] operator disinfects jig with a new cloth\n"
        found = _checked(tmp_path, text).outcome.findings
        assert [(each.kind, each.facts.get("thing")) for each in found] == told


def test_the_products_of_the_clinic_are_used_in_imaging_room_2() -> None:
    protocols = Path(__file__).parents[2] / "protocols"
    one = check_file(protocols / "imaging-room-2" / "closing-the-room.protocol", mend=False)
    assert one.protocol is not None and one.unfolded is not None
    assert one.protocol.things["wipe"].product == "everyday fluid"
    assert "acrylic" in one.protocol.things["keyboard"].made_of
    assert one.outcome.findings == ()
