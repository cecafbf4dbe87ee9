"""Local editions: changes carried out are as if somebody had edited the text by hand."""

from __future__ import annotations

import random
from copy import deepcopy
from pathlib import Path

import pytest

from protocol_lang.findings import Weight
from protocol_lang.language import tree
from protocol_lang.language.alone import Loaded, load_alone
from protocol_lang.language.neaten import neaten, printed
from protocol_lang.language.reader import read
from protocol_lang.resources import folder
from protocol_lang.text import Text
from tests.oracles import list_editor as editor
from tests.oracles.list_editor import Row

LIBRARY = folder("protocols")

BASE = """protocol "Base"
  edition 3
  takes words from "Imaging room 2"
  then "After that"
  source "A source"

choices, each visit
  staffing: alone, paired

phase "First"
  [ ] operator cleans hands
  in one go
    [ ] operator puts on gloves
    [ ] place: operator places holder with sensor in mouth
        short "Place"
        note "One"
        note "Two"
  any order
    [ ] operator takes bag off head rest
    [ ] button: operator exposes with exposure button
  [ ] operator cleans hands
      after place

phase "Second"
  [ ] operator cleans hands
  where staffing is alone
    [ ] say: alone
  otherwise
    [ ] say: paired

phase "Third"
  [ ] patient leaves
"""

LOCAL = """protocol "Ours"
  edition 1
  adapts "Base" edition 3
"""


def _loaded(tmp_path: Path, changes: str, base: str = BASE, header: str = "") -> Loaded:
    (tmp_path / "base.protocol").write_text(base, encoding="utf-8")
    local = tmp_path / "ours.protocol"
    local.write_text(f"{LOCAL}{header}\n{changes}", encoding="utf-8")
    return load_alone(local, LIBRARY)


def _phases(loaded: Loaded) -> str:
    """What the phases come to, as text."""
    phases = [section for section in loaded.root.sections if isinstance(section, tree.Phase)]
    file = tree.File(kind="protocol", title=None, sections=tuple(phases), place=loaded.root.place)
    return printed(file)


def _told(loaded: Loaded) -> list[str]:
    return [finding.kind for finding in loaded.findings]


def _is(tmp_path: Path, changes: str, *edits: tuple[str, str]) -> None:
    """Changes come to the base with pieces of its text written anew."""
    loaded = _loaded(tmp_path, changes)
    assert not [found for found in loaded.findings if found.kind != "words-not-found"]
    text = BASE
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    wanted = text[text.index('phase "First"') :] if 'phase "First"' in text else text
    assert _phases(loaded).strip() == wanted.strip()


# --- Steps ---------------------------------------------------------------------------------------


def test_a_step_is_replaced_and_one_step_takes_the_label_over(tmp_path: Path) -> None:
    loaded = _loaded(
        tmp_path,
        'changes in "First"\n  instead of place\n    [ ] operator cleans sensor with a new wipe\n',
    )
    assert "[ ] place: operator cleans sensor with a new wipe" in _phases(loaded)
    assert 'short "Place"' not in _phases(loaded)


def test_steps_are_put_in_before_and_after(tmp_path: Path) -> None:
    _is(
        tmp_path,
        'changes in "First"\n'
        "  before place\n    [ ] say: a\n"
        "  after place\n    [ ] say: b\n"
        "  after place\n    [ ] say: c\n",
        (
            "    [ ] place: operator places holder with sensor in mouth\n"
            '        short "Place"\n        note "One"\n        note "Two"\n',
            "    [ ] say: a\n"
            "    [ ] place: operator places holder with sensor in mouth\n"
            '        short "Place"\n        note "One"\n        note "Two"\n'
            "    [ ] say: b\n    [ ] say: c\n",
        ),
    )


def test_before_and_after_hold_where_the_order_is_open(tmp_path: Path) -> None:
    _is(
        tmp_path,
        'changes in "First"\n  after button\n    [ ] say: a\n',
        (
            "    [ ] button: operator exposes with exposure button\n",
            "    in order\n      [ ] button: operator exposes with exposure button\n"
            "      [ ] say: a\n",
        ),
    )


def test_beside_adds_an_item_in_any_order(tmp_path: Path) -> None:
    _is(
        tmp_path,
        'changes in "First"\n  beside "operator takes bag off head rest"\n    [ ] say: a\n',
        (
            "    [ ] operator takes bag off head rest\n",
            "    [ ] operator takes bag off head rest\n    [ ] say: a\n",
        ),
    )


def test_one_of_several_steps_of_the_same_words_is_left_out(tmp_path: Path) -> None:
    _is(
        tmp_path,
        'changes in "First"\n  without "operator cleans hands", 2 of 2\n',
        ("  [ ] operator cleans hands\n      after place\n", ""),
    )


def test_a_block_is_named_by_a_step_in_it(tmp_path: Path) -> None:
    _is(
        tmp_path,
        'changes in "Second"\n  instead of the block around "say: paired"\n    [ ] say: all\n',
        (
            "  where staffing is alone\n    [ ] say: alone\n  otherwise\n    [ ] say: paired\n",
            "  [ ] say: all\n",
        ),
    )


def test_a_step_moves_and_takes_along_what_is_put_beside_it(tmp_path: Path) -> None:
    _is(
        tmp_path,
        'changes in "First"\n'
        '  move "operator puts on gloves" before "operator takes bag off head rest"\n'
        '  after "operator puts on gloves"\n    [ ] say: a\n',
        ("    [ ] operator puts on gloves\n", ""),
        (
            "    [ ] operator takes bag off head rest\n",
            "    in order\n      [ ] operator puts on gloves\n      [ ] say: a\n"
            "      [ ] operator takes bag off head rest\n",
        ),
    )


def test_rewording_takes_the_place_of_all_of_its_kind(tmp_path: Path) -> None:
    _is(
        tmp_path,
        'changes in "First"\n  reword place\n    note "Three"\n    takes 2 minutes\n'
        '  reword "operator takes bag off head rest"\n    label bag\n',
        (
            '        short "Place"\n        note "One"\n        note "Two"\n',
            '        short "Place"\n        note "Three"\n        takes 2 minutes\n',
        ),
        ("[ ] operator takes bag", "[ ] bag: operator takes bag"),
    )


def test_phases_are_put_in_replaced_and_left_out(tmp_path: Path) -> None:
    _is(
        tmp_path,
        'before phase "Second"\n  phase "A"\n    [ ] say: a\n\n'
        'without phase "Second"\n\n'
        'instead of phase "Third"\n  [ ] say: b\n\n'
        'phase "Last"\n  [ ] say: c\n',
        (
            'phase "Second"\n  [ ] operator cleans hands\n  where staffing is alone\n'
            "    [ ] say: alone\n  otherwise\n    [ ] say: paired\n",
            'phase "A"\n  [ ] say: a\n',
        ),
        (
            "  [ ] patient leaves\n",
            '  [ ] say: b\n\nphase "Last"\n  [ ] say: c\n',
        ),
    )


@pytest.mark.parametrize(
    ("changes", "kinds"),
    [
        ('changes in "Frist"\n  without place\n', ["change-unknown-phase"]),
        ('changes in "First"\n  without plaec\n', ["change-unknown-step"]),
        ('changes in "First"\n  without "say: alone"\n', ["change-unknown-step"]),
        ('changes in "First"\n  without "operator cleans hands"\n', ["change-which-step"]),
        (
            'changes in "First"\n  without "operator cleans hands", 1 of 3\n',
            ["change-which-step"],
        ),
        (
            'changes in "First"\n  without "operator cleans hands", 3 of 2\n',
            ["change-no-such-number"],
        ),
        ('changes in "First"\n  without place\n', ["change-label-lost"]),
        ('changes in "Second"\n  reword "say: alone"\n    label it\n', ["change-label-said"]),
        (
            'changes in "First"\n  without button\n  without button\n',
            ["changed-twice"],
        ),
        (
            'changes in "First"\n  without button\n'
            "  without the block around button\n",
            ["changed-twice"],
        ),
        (
            'changes in "First"\n  without the block around button\n  without button\n',
            ["changed-twice"],
        ),
        (
            'changes in "First"\n  without button\n  after button\n    [ ] say: a\n',
            ["change-beside-gone"],
        ),
        (
            'changes in "First"\n  move button after "operator takes bag off head rest"\n'
            '  move "operator takes bag off head rest" after button\n',
            ["change-move-into-itself", "change-move-into-itself", "change-leaves-nothing"],
        ),
        ('changes in "Third"\n  without "patient leaves"\n', ["change-leaves-nothing"]),
        ('changes in "Second"\n  without "say: alone"\n', ["change-leaves-nothing"]),
        ('changes in "First"\n  beside place\n    [ ] say: a\n', ["change-not-any-order"]),
        (
            'changes in "First"\n  reword the block around place\n    short "x"\n',
            ["change-reword-block"],
        ),
        ('changes in "Third"\n  before the block around "patient leaves"\n    [ ] say: a\n',
         ["change-no-block"]),
        ("instead of things\n  saw: surface\n", ["change-unknown-name"]),
        ("without things\n  saw\n", ["change-unknown-name"]),
        ("instead of products\n  brine: treats to low; stays wet 9 minutes\n",
         ["change-unknown-name"]),
        ('instead of phase "Second"\n  [ ] say: a\n\nwithout phase "Second"\n', ["changed-twice"]),
        ("instead of kinds of thing\n  saw\n", ["change-heading"]),
    ],
)  # fmt: skip
def test_what_cannot_be_carried_out_is_told(tmp_path: Path, changes: str, kinds: list[str]) -> None:
    loaded = _loaded(tmp_path, changes, BASE.replace('  then "After that"\n', ""))
    assert sorted(_told(loaded)) == sorted(kinds)
    assert not loaded.complete


def test_a_change_without_a_base_is_told(tmp_path: Path) -> None:
    local = tmp_path / "ours.protocol"
    local.write_text('protocol "Ours"\n  edition 1\n\nwithout phase "First"\n', encoding="utf-8")
    assert "changes-without-base" in _told(load_alone(local, LIBRARY))


def test_a_step_of_another_phase_is_told_with_its_phase(tmp_path: Path) -> None:
    loaded = _loaded(tmp_path, 'changes in "Second"\n  without button\n')
    (found,) = (one for one in loaded.findings if one.kind == "change-unknown-step")
    assert found.facts["elsewhere"] == "First"


# --- Declarations --------------------------------------------------------------------------------


def _thing(loaded: Loaded, name: str) -> object:
    assert loaded.protocol is not None
    return loaded.protocol.things.get(name)


def test_a_thing_of_the_room_is_said_anew_and_its_neighbours_stay(tmp_path: Path) -> None:
    loaded = _loaded(tmp_path, "instead of surfaces\n  cone: surface; dirty\n")
    plain = _loaded(tmp_path, "")
    assert "dirty" in str(_thing(loaded, "cone")).casefold()
    assert loaded.protocol is not None and plain.protocol is not None
    assert loaded.protocol.things.keys() == plain.protocol.things.keys()
    for name in ("tube head", "arm"):
        assert str(_thing(loaded, name)) == str(_thing(plain, name))


def test_the_room_itself_stays_as_it_is_for_others(tmp_path: Path) -> None:
    before = _thing(_loaded(tmp_path, ""), "cone")
    _loaded(tmp_path, "instead of surfaces\n  cone: surface; dirty\n")
    assert _thing(_loaded(tmp_path, ""), "cone") == before


def test_a_product_is_said_anew_and_counts_wherever_it_is_used(tmp_path: Path) -> None:
    """Another label on the bottle is one line: what treats with it follows."""
    loaded = _loaded(
        tmp_path,
        "instead of products\n  everyday fluid: treats to low; stays wet 7 minutes; not on vinyl\n",
    )
    plain = _loaded(tmp_path, "")
    assert loaded.protocol is not None and plain.protocol is not None
    wipe, before = loaded.protocol.things["wipe"], plain.protocol.things["wipe"]
    assert wipe.product == before.product == "everyday fluid"
    assert (wipe.wet_minutes, before.wet_minutes) == (7, 2)
    products = loaded.protocol.products
    assert products["everyday fluid"].not_on == {"vinyl"}
    assert products.keys() == plain.protocol.products.keys()
    assert products["spore fluid"] == plain.protocol.products["spore fluid"]


def test_a_product_that_is_left_out_is_told_where_something_treats_with_it(tmp_path: Path) -> None:
    loaded = _loaded(tmp_path, "without products\n  everyday fluid\n")
    (found,) = (one for one in loaded.findings if one.kind == "unknown-product")
    assert found.place is not None and found.place.file.endswith("imaging-room-2.protocol")


def test_what_is_left_out_is_told_where_it_is_still_named(tmp_path: Path) -> None:
    loaded = _loaded(tmp_path, "without things\n  bag\n")
    places = {found.place.file for found in loaded.findings if found.place is not None}
    assert any(place.endswith("base.protocol") for place in places)
    assert "bag" not in (loaded.protocol.things if loaded.protocol else {"bag": None})


def test_a_choice_goes_from_each_visit_to_the_clinic(tmp_path: Path) -> None:
    loaded = _loaded(
        tmp_path, "instead of choices, fixed for the clinic\n  staffing: alone, paired, three\n"
    )
    assert loaded.protocol is not None
    (staffing,) = loaded.protocol.choices
    assert staffing.fixed
    assert staffing.values == ("alone", "paired", "three")


def test_an_own_room_beside_that_of_the_base(tmp_path: Path) -> None:
    (tmp_path / "second-room.protocol").write_text(
        'room "Second room"\n  edition 1\n  takes words from "Dental imaging"\n\n'
        "surfaces\n  second sink: surface; dirty\n",
        encoding="utf-8",
    )
    loaded = _loaded(
        tmp_path,
        'changes in "Third"\n  after "patient leaves"\n    [ ] operator touches second sink\n',
        header='  takes words from "Second room"\n',
    )
    assert _thing(loaded, "second sink") is not None


# --- Header, pins --------------------------------------------------------------------------------


def test_who_is_responsible_is_told_by_the_local_file_alone(tmp_path: Path) -> None:
    base = BASE.replace(
        "  edition 3\n", "  edition 3\n  owner somebody\n  in force from 2026-01-01\n"
    )
    loaded = _loaded(tmp_path, "", base)
    assert loaded.protocol is not None
    header = loaded.protocol.header
    assert (header.title, header.edition, header.owner, header.in_force) == ("Ours", 1, None, None)
    assert header.sources == ("A source",)
    then = [line.title.plain for line in loaded.root.header if isinstance(line, tree.Then)]
    assert then == ["After that"]
    other = _loaded(tmp_path, "", base, header='  then "Else"\n')
    then = [line.title.plain for line in other.root.header if isinstance(line, tree.Then)]
    assert then == ["Else"]


def _about_base(loaded: Loaded) -> list[tuple[str, Weight]]:
    return [(f.kind, f.weight) for f in loaded.findings if f.kind.startswith("base-")]


def _fingerprint(loaded: Loaded) -> str:
    return next(source.fingerprint for source in loaded.files if source.kind == "base")


def test_a_changed_base_is_noticed(tmp_path: Path) -> None:
    right = _fingerprint(_loaded(tmp_path, ""))
    pinned = LOCAL.replace("edition 3", f"edition 3 fingerprint {right}")
    local = tmp_path / "ours.protocol"
    local.write_text(pinned, encoding="utf-8")
    assert not _about_base(load_alone(local, LIBRARY))
    changed = BASE.replace("patient leaves", "patient comes in")
    (tmp_path / "base.protocol").write_text(changed, encoding="utf-8")
    loaded = load_alone(local, LIBRARY)
    assert _about_base(loaded) == [("base-changed", Weight.CORRECT)]
    newer = changed.replace("edition 3", "edition 4")
    (tmp_path / "base.protocol").write_text(newer, encoding="utf-8")
    assert _about_base(load_alone(local, LIBRARY)) == [("base-newer", Weight.CONSIDER)]
    older = changed.replace("edition 3", "edition 2")
    (tmp_path / "base.protocol").write_text(older, encoding="utf-8")
    assert _about_base(load_alone(local, LIBRARY)) == [("base-other-edition", Weight.CORRECT)]


def test_the_fingerprint_rests_on_the_room_too(tmp_path: Path) -> None:
    room = 'room "Small room"\n  edition 1\n  takes words from "Dental imaging"\n\n'
    base = BASE.replace("Imaging room 2", "Small room")
    (tmp_path / "small-room.protocol").write_text(room, encoding="utf-8")
    one = _fingerprint(_loaded(tmp_path, "", base))
    (tmp_path / "small-room.protocol").write_text(f"{room}boxes\n  a: box\n", encoding="utf-8")
    other = _fingerprint(_loaded(tmp_path, "", base))
    assert one != other


def test_a_kept_copy_goes_before_the_newest_edition(tmp_path: Path) -> None:
    newer = BASE.replace("edition 3", "edition 4").replace("patient leaves", "patient comes in")
    (tmp_path / "base-edition-3.protocol").write_text(BASE, encoding="utf-8")
    loaded = _loaded(tmp_path, "", newer)
    assert "patient leaves" in _phases(loaded)
    assert _about_base(loaded) == [("base-newer", Weight.CONSIDER)]


def test_a_local_edition_of_a_local_edition(tmp_path: Path) -> None:
    _loaded(tmp_path, 'changes in "Third"\n  after "patient leaves"\n    [ ] say: one\n')
    second = tmp_path / "theirs.protocol"
    second.write_text(
        'protocol "Theirs"\n  edition 1\n  adapts "Ours" edition 1\n\n'
        'changes in "Third"\n  after "say: one"\n    [ ] say: two\n',
        encoding="utf-8",
    )
    loaded = load_alone(second, LIBRARY)
    assert "  [ ] say: one\n  [ ] say: two\n" in _phases(loaded)
    (tmp_path / "base.protocol").write_text(
        BASE.replace("edition 3", 'edition 3\n  adapts "Theirs" edition 1'), encoding="utf-8"
    )
    assert "base-in-circle" in _told(load_alone(second, LIBRARY))


def test_a_base_is_named_by_title_and_not_by_path(tmp_path: Path) -> None:
    local = tmp_path / "ours.protocol"
    for title in ("../base", "/etc/base", "C:base"):
        local.write_text(LOCAL.replace('"Base"', f'"{title}"'), encoding="utf-8")
        assert "title-is-path" in _told(load_alone(local, LIBRARY))


def test_a_link_out_of_the_folder_is_no_base(tmp_path: Path) -> None:
    inside, outside = tmp_path / "in", tmp_path / "out"
    inside.mkdir()
    outside.mkdir()
    (outside / "base.protocol").write_text(BASE, encoding="utf-8")
    (inside / "base.protocol").symlink_to(outside / "base.protocol")
    local = inside / "ours.protocol"
    local.write_text(LOCAL, encoding="utf-8")
    assert "words-not-found" in _told(load_alone(local, LIBRARY))


# --- Random bases and changes against the editor of lists ----------------------------------------

_SENTENCES = (
    "operator cleans hands",
    "operator puts on gloves",
    "patient leaves",
    "patient comes in",
)
_HEADINGS = ["in one go", "any order", "any order, mixed", "in order", "may be left out"]


def _random_rows(rng: random.Random, depth: int, labels: list[str]) -> list[Row]:
    rows = []
    for _ in range(rng.randint(1, 4)):
        if depth and rng.random() < 0.3:
            rows.append(Row(rng.choice(_HEADINGS), rows=_random_rows(rng, depth - 1, labels)))
        else:
            label = None
            if rng.random() < 0.4:
                label = f"label {'abcdefghijklmnopqrstuvwxyz'[len(labels) % 26]}{len(labels)}"
                labels.append(label)
            rows.append(Row(rng.choice(_SENTENCES), label))
    return rows


def _named(rows: list[Row], row: Row, rng: random.Random) -> str:
    if row.label is not None and rng.random() < 0.7:
        return row.label
    alike = [one for one, _, _ in editor.steps(rows) if one.text == row.text]
    at = next(n for n, one in enumerate(alike, 1) if one.number == row.number)
    return f'"{row.text}"' + (f", {at} of {len(alike)}" if len(alike) > 1 else "")


@pytest.mark.parametrize("seed", range(60))
def test_random_changes_are_as_an_edited_text(tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    base = _random_rows(rng, 2, [])
    edited = deepcopy(base)
    changes: list[str] = []
    gone: set[int] = set()
    count = 0
    for row, _, _ in rng.sample(list(editor.steps(base)), k=min(4, len(list(editor.steps(base))))):
        named = _named(base, row, rng)
        home, block = editor.where(edited, row.number)
        said = rng.choice(["say: new {}", "operator touches thing {}"])
        new = [Row(said.format(f"{count}{n}")) for n in range(rng.randint(1, 2))]
        count += 1
        text = editor.lines(new, 4)
        if rng.random() < 0.2 and block is not None and block.number not in gone:
            # The block around it: only blocks in which nothing else is changed.
            original, _ = _block_of(base, row.number)
            if original is None or any(x.number in gone for x in original.rows or []):
                continue
            how = rng.choice(["before", "after"])
            editor.put(edited, original.number, new, after=how == "after")
            changes += [f"  {how} the block around {named}", *text]
            gone.add(original.number)
            continue
        match rng.choice(["instead of", "without", "before", "after", "reword"]):
            case "instead of":
                editor.instead(edited, row.number, new)
                changes += [f"  instead of {named}", *text]
            case "without" if len(home) > 1:
                editor.without(edited, row.number)
                changes.append(f"  without {named}")
            case "before":
                editor.put(edited, row.number, new, after=False)
                changes += [f"  before {named}", *text]
            case "after":
                editor.put(edited, row.number, new, after=True)
                changes += [f"  after {named}", *text]
            case _:
                target = next(r for r, _, _ in editor.steps(edited) if r.number == row.number)
                target.under.append(f'short "s{count}"')
                changes += [f"  reword {named}", f'    short "s{count}"']
        gone.add(row.number)
    head = 'protocol "Base"\n  edition 3\n  takes words from "Imaging room 2"\n\nphase "P"\n'
    text_of_base = head + "\n".join(editor.lines(base)) + "\n"
    wanted = head + "\n".join(editor.lines(edited)) + "\n"
    asked = 'changes in "P"\n' + "\n".join(changes) + "\n" if changes else ""
    loaded = _loaded(tmp_path, asked, text_of_base)
    of_changes = [f for f in loaded.findings if f.kind.startswith("change")]
    assert not of_changes, (asked, of_changes)
    by_hand = read(Text("x", tuple(wanted.splitlines())))
    assert not by_hand.findings
    phases = tuple(s for s in loaded.root.sections if isinstance(s, tree.Phase))
    assert phases == by_hand.file.sections, "\n".join(
        [text_of_base, asked, wanted, _phases(loaded)]
    )
    if loaded.complete:
        whole = tmp_path / "whole.protocol"
        whole.write_text(wanted.replace('"Base"', '"Whole"'), encoding="utf-8")
        other = load_alone(whole, LIBRARY)
        assert other.protocol is not None and loaded.protocol is not None
        assert [str(_bare(phase)) for phase in loaded.protocol.phases] == [
            str(_bare(phase)) for phase in other.protocol.phases
        ]


def _block_of(rows: list[Row], number: int) -> tuple[Row | None, None]:
    return editor.where(rows, number)[1], None


def _bare(value: object) -> object:
    """A record of the model without places."""
    from dataclasses import fields, is_dataclass

    from protocol_lang.text import Place

    if isinstance(value, Place):
        return None
    if is_dataclass(value) and not isinstance(value, type):
        return (type(value).__name__, *(_bare(getattr(value, f.name)) for f in fields(value)))
    if isinstance(value, tuple | list):
        return tuple(_bare(one) for one in value)
    if isinstance(value, dict):
        return tuple((key, _bare(one)) for key, one in value.items())
    return value


def test_what_is_printed_reads_as_the_same(tmp_path: Path) -> None:
    text = (
        'protocol "Ours"\n  edition 1\n  adapts "Base" edition 3 fingerprint abc\n'
        '  to settle "x"\n\n# a\ninstead of things  # b\n  to settle "y"\n  # c\n'
        "  bag: cover\n\nwithout things\n  a, b\n\n"
        'after phase "First"\n  # d\n  phase "C"\n    note "n"\n    [ ] say: x\n\n'
        '    [ ] say: y\n  phase "D"\n    [ ] say: z\n\nwithout phase "Third"\n\n'
        'changes in "First"\n  # e\n  instead of place\n    [ ] say: a\n        short "s"\n'
        '  to settle "z"\n  move "a b", 2 of 3 after the block around place\n'
        '  reword place\n    # f\n    short "s"\n    label hop\n'
    )
    neat = neaten(Text("x", tuple(text.splitlines())))
    assert neat.text == text
