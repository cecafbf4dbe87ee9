"""The data files as a whole: nothing without a source, rivals with one default, nothing astray."""

from __future__ import annotations

import dataclasses
from fractions import Fraction
from itertools import pairwise

import pytest

from protocol_lang.language.load import load
from protocol_lang.model.parts import LevelOfTreatment
from protocol_lang.resources import folder
from protocol_lang.trade import tables
from protocol_lang.trade.basis import Status
from protocol_lang.trade.contact import dilution_ppm
from protocol_lang.trade.exposure import least_distance, safe_angles
from protocol_lang.trade.germicides import covers, exceptions, levels, minimum_level, readings
from protocol_lang.trade.germs import class_of, classes, item_classes, pathogens, withstands
from protocol_lang.trade.practice import answers, practice_questions
from protocol_lang.trade.rates import rates
from protocol_lang.trade.tables import SUBJECTS, documents, every, questions, rows, subject
from protocol_lang.trade.waste import jurisdictions, sorted_items, streams
from protocol_lang.wording.verdicts import ENTRIES

DATA = folder("protocols") / "data"

#: Where sources are known to disagree, in words that the question has to hold.
DISAGREE = (
    "mycobacteria", "121 °C", "hands washed", "far away", "letters", "eye protection or gown",
    "aprons and collars", "15 minutes", "mask", "processing solutions", "norovirus",
    "fed into the processor", "plastic barriers", "yellow",
)  # fmt: skip


def test_every_file_is_a_subject():
    assert {path.stem for path in DATA.glob("*.toml")} == {*SUBJECTS, "sources"}


def test_every_figure_has_a_document_a_section_and_a_status():
    found = list(every())
    assert len(found) > 200
    for _, row in found:
        assert row.basis.document.title and row.basis.section.strip(), row
        assert isinstance(row.basis.status, Status)
    assert {row.basis.status for _, row in found} == set(Status)


def test_every_document_is_used():
    assert {row.basis.document.key for _, row in every()} == set(documents())
    names = [document.short for document in documents().values()]
    assert len(set(names)) == len(names)


def test_every_number_has_a_unit_and_every_unit_a_number():
    for name in SUBJECTS:
        for table in subject(name).tables.values():
            numbers = {
                field
                for row in table.rows
                for field, value in row.fields.items()
                if not isinstance(value, str)
            }
            assert numbers == set(table.units), f"{name}.toml, {table.name}"


def test_every_number_is_exact():
    for _, row in every():
        for value in row.fields.values():
            assert isinstance(value, str | int | Fraction) and not isinstance(value, bool), row


def test_the_least_is_not_more_than_the_most():
    for table, row in every():
        for least, most in (("least", "most"), ("dry_least", "dry_most"), ("from", "to")):
            if least in table.units and least in row.fields and most in row.fields:
                assert row.number(least) <= row.number(most), row


def test_rivals_have_one_default_and_say_different_things():
    for question, rivals in questions().items():
        assert len(rivals) >= 2, question
        assert [row.default for _, row in rivals] == [True] + [False] * (len(rivals) - 1), question
        assert len({tuple(row.fields.values()) for _, row in rivals}) == len(rivals), question
        sources = {(row.basis.document.key, row.basis.section) for _, row in rivals}
        assert len(sources) == len(rivals), question
    assert all(row.question is not None for _, row in every() if row.default)


def test_all_known_disagreements_are_kept():
    for words in DISAGREE:
        assert any(words in question for question in questions()), words
    assert len(questions()) == len(DISAGREE)


def test_questions_of_practice_are_answered_with_the_default_first():
    for question in practice_questions():
        found = answers(question)
        assert len(found) >= 2
        assert [answer.default for answer in found].count(True) == 1 and found[0].default
    with pytest.raises(ValueError, match="no question"):
        answers("Why?")


def test_values_cannot_be_changed():
    row = rows("germs", "class")[0]
    with pytest.raises(TypeError):
        row.fields["name"] = "other"  # type: ignore[index]
    with pytest.raises(dataclasses.FrozenInstanceError):
        row.default = True  # type: ignore[misc]


def test_a_row_without_a_source_is_refused():
    with pytest.raises(ValueError, match="a row without a source"):
        tables._row("x.toml, y", {"name": "z", "section": "1", "status": "read"})
    with pytest.raises(ValueError, match="perhaps"):
        tables._row("x", {"source": "cdc-2008", "section": "1", "status": "perhaps"})


# --- Germs and levels ---


@pytest.mark.parametrize("reading", [None, *readings()])
def test_what_covers_a_class_covers_those_below(reading):
    """CDC 2008, levels of germicides; the exceptions are those that the data name."""
    claims = [level.name for level in levels(reading)] + [*classes(), *pathogens()]
    broken = set()
    for claim in claims:
        covered = [covers(claim, one, reading) for one in classes()]
        # The hardest first: from the first that is covered on, all are.
        first = covered.index(True)
        for one, ends in zip(classes()[first:], covered[first:], strict=True):
            if not ends:
                broken.add((classes()[first], one))
    assert {one for _, one in broken} == {other for _, other in exceptions()}
    assert all(covers("sterile", one) for one in classes()[1:])
    assert not covers("sterile", "prions")


def test_the_exception_is_stated_and_no_more():
    """Chlorine and Cryptosporidium: CDC 2008, from memory."""
    assert exceptions() == {("bacterial spores", "coccidia")}
    assert not covers("sporicidal", "coccidia")
    assert minimum_level("coccidia") == "sterile"


def test_stronger_levels_end_what_weaker_ones_do():
    for reading in (None, *readings()):
        found = [
            {germ for germ in classes() if covers(level.name, germ, reading)}
            for level in levels(reading)
        ]
        assert all(weaker <= stronger for weaker, stronger in pairwise(found))


def test_the_level_that_is_stated_of_a_germ_is_the_weakest_that_ends_it():
    for germ in pathogens().values():
        assert minimum_level(germ.name) == germ.level, germ
        assert minimum_level(germ.name, with_blood=True) == germ.with_blood, germ
        assert class_of(germ.name) == germ.germ_class
        assert withstands(germ.name) == withstands(germ.germ_class)


def test_names_that_there_are_not():
    with pytest.raises(ValueError, match='no germ or class of germs "dragons"'):
        class_of("dragons")
    with pytest.raises(ValueError, match="no level, germ or class of germs"):
        covers("strong", "HBV")


# --- What the engine is told: the data file in its own language ---


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory):
    path = tmp_path_factory.mktemp("told") / "told.protocol"
    path.write_text(
        'protocol "Told"\n  edition 1\n  takes words from "Imaging room 2"\n\nphase "Visit"\n'
        "  [ ] operator cleans hands\n",
        "utf-8",
    )
    protocol = load(path).protocol
    assert protocol is not None
    return protocol


def test_the_engine_orders_germs_as_the_table_does(told):
    """CDC 2008, figure 1; prions and coccidia are not followed by the engine."""
    names = [germ.name for germ in told.germs]
    assert names == [one for one in classes() if one not in ("prions", "coccidia")]


@pytest.mark.parametrize("name", [level.name for level in levels()])
def test_the_engine_ends_at_each_level_what_the_table_says(told, name):
    """CDC 2008, table 1 and the levels, class by class."""
    level: LevelOfTreatment = told.levels[name]
    assert {germ.name for germ in told.germs if covers(name, germ.name)} == set(level.ends)


def test_the_engine_ranks_levels_as_the_table_does(told):
    ranks = [told.levels[level.name].rank for level in levels()]
    assert ranks == sorted(ranks) and len(set(ranks)) == len(ranks)


def test_the_engine_asks_of_items_what_the_table_does(told):
    """CDC 2003, dental, and CDC 2008: items by what they touch."""
    floors = {floor.traits: floor.level for floor in told.floors if floor.where is None}
    items = item_classes()
    assert floors[frozenset({"surface"})] == items["noncritical"].otherwise
    mouth = items["semicritical"]
    assert floors[frozenset({"goes in the mouth", "heat safe"})] == mouth.heat_safe
    assert floors[frozenset({"goes in the mouth", "not heat safe"})] == mouth.otherwise
    covered = frozenset({"goes in the mouth", "not heat safe", "always sleeved in the mouth"})
    assert floors[covered] == items["semicritical, covered in the mouth"].otherwise


def test_what_is_said_of_exposures_has_the_figures_of_the_data():
    (entry,) = (entry for entry in ENTRIES if entry.kind == "near-an-exposure")
    least, most = safe_angles()
    assert f"at least {least_distance()} m" in entry.explanation
    assert f"at {least} to {most} degrees" in entry.explanation


# --- The other tables ---


def test_bleach_in_the_data_is_what_thinning_gives():
    for row in rows("contact-times", "bleach"):
        assert dilution_ppm(row.number("percent"), row.number("parts")) == row.number("ppm"), row


@pytest.mark.parametrize("jurisdiction", jurisdictions())
def test_every_stream_that_an_item_goes_to_exists(jurisdiction):
    names = [stream.name for stream in streams(jurisdiction)]
    assert len(set(names)) == len(names)
    for row in rows("waste", "item"):
        if row.text("jurisdiction") == jurisdiction:
            assert row.text("stream") in names
    items = [sorting.item for sorting in sorted_items(jurisdiction)]
    assert items and len(set(items)) == len(items)


def test_every_item_has_a_known_jurisdiction():
    assert {row.text("jurisdiction") for row in rows("waste", "item")} == set(jurisdictions())


@pytest.mark.parametrize("about", list(subject("rates").tables))
def test_shares_are_what_was_counted(about):
    for rate in rates(about):
        assert 0 <= rate.least <= rate.most <= 100, rate
        if rate.count is not None and rate.of is not None:
            assert abs(Fraction(100 * rate.count, rate.of) - rate.least) <= Fraction(1, 20), rate


def test_a_file_is_read_once():
    assert subject("air") is subject("air")
