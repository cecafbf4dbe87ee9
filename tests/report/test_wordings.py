"""Every wording, whatever it is about: plain words, whole sentences, permanent numbers."""

from __future__ import annotations

import re
from collections import defaultdict

import pytest

from protocol_lang.findings import Remedy
from protocol_lang.text import Place
from protocol_lang.wording import ENTRIES, basis, remedies, verdicts
from protocol_lang.wording.constructs import CONSTRUCTS
from protocol_lang.wording.plain import count, listed, owned, without_owner

VERDICTS = {entry.kind: entry for entry in verdicts.ENTRIES}

#: Facts as the engine gives them, by kind; the table is the docstring of the module.
FACTS = {
    "no-permitted-order": {"steps": '"rub" and "record"'},
    "order-circle": {"steps": '"rub" and "record"'},
    "claim-can-fail": {
        "step": "operator aims tube",
        "claim": "settings chosen",
        "person": "operator",
    },
    "touched-from-afar": {
        "step": "operator works at shelf",
        "person": "operator",
        "thing": "shelf",
        "where": "store",
    },
    "gloves-off-the-dirty-side": {"step": "operator goes to shelves", "person": "operator"},
    "air-breathed": {
        "step": "operator takes off respirator by the ties",
        "person": "operator",
        "where": "imaging room",
    },
    "air-not-clear": {"where": "imaging room", "minutes": "69"},
    "near-an-exposure": {
        "step": "operator exposes from booth with exposure button",
        "claim": "helper is in booth or outside",
        "by": "operator",
    },
    "duty-can-fail": {
        "duty": "Hands are cleaned right after gloves",
        "step": "operator aims tube",
        "person": "operator",
        "after": "operator takes off gloves",
    },
    "cover-on-twice": {"cover": "bag", "what": "head rest", "step": "operator covers head rest"},
    "cover-not-on": {"cover": "bag", "what": "head rest", "step": "operator takes bag off"},
    "under-a-cover": {"what": "gloves", "step": "operator takes off gloves"},
    "nothing-taken": {"what": "wipe", "step": "operator cleans cone with the same wipe"},
    "already-thrown-away": {"what": "wipe", "step": "operator cleans cone with the same wipe"},
    "which-one": {"what": "the first sleeve or the second", "step": "helper throws sleeve away"},
    "never-done": {"step": "helper cleans hands"},
    "either-here": {"claim": "operator wears gloves"},
    "known-too-early": {"fact": "image blurred", "label": "look"},
    "known-inside-only": {"fact": "image blurred"},
    "mishap-too-early": {"mishap": "phone rings"},
    "again-not-before": {"label": "place"},
    "not-ordered": {
        "first": "operator cleans hands",
        "second": "operator puts on gloves",
        "reaches": "the patient's mouth",
    },
    "too-few-laid-out": {
        "step": "operator disinfects cone with a new wipe",
        "thing": "wipe",
        "taken": "3",
        "laid": "2",
    },
    "path-to-patient": {
        "who": "the next patient's mouth",
        "from_what": "the patient's mouth",
        "soil": "saliva",
        "first": "operator places sensor in mouth",
        "last": "operator places sensor in mouth",
    },
    "world-to-patient": {"origin": "everyday world", "part": "the patient's mouth"},
    "path-to-staff": {"who": "operator", "part": "eyes"},
    "clean-thing-reached": {"thing": "keyboard"},
    "hands-at-end": {"who": "operator"},
    "claim-not-clean": {"what": "operator's hands", "step": "operator aims tube"},
    "not-ready": {"what": "head rest", "begins": "covered with bag", "ends": "bare"},
    "left-over": {"thing": "wipe"},
    "cover-not-changed": {"cover": "bag", "what": "head rest", "step": "patient leans back"},
    "too-hard": {
        "question": "whether soil reaches the keyboard",
        "spent": "the limit of counted steps",
    },
    "other-choices": {"choices": "staffing: paired"},
    "because-of-findings": {"which": "the order of the steps"},
    "not-readable": {"file": "room.protocol", "why": "it is not text"},
    "next-visits": {"why": "the head rest is left bare"},
}

REMEDIES = {
    "add-after": {"step": "operator aims tube", "label": "rub", "of": "operator cleans hands"},
    "after-label": {"step": "operator aims tube", "label": "rub", "of": "operator cleans hands"},
    "add-step": {"text": "operator cleans hands", "after": "operator takes off gloves"},
    "clean-before": {"what": "tube head", "step": "operator aims tube"},
    "throw-away": {"what": "wipe", "after": "operator cleans cone with a new wipe"},
    "add-cover": {"cover": "wrap", "what": "tube head", "before": "operator aims tube"},
    "write-instead": {
        "step": "operator disinfects sensor with the same wipe",
        "text": "[ ] operator disinfects sensor with a new wipe",
    },
    "change-cover": {
        "text": "[ ] operator takes wrap off tube head",
        "step": "operator takes off gloves",
        "then": "[ ] operator covers tube head with wrap",
        "last": "operator cleans hands",
    },
}

#: Words of programmers, and words that the surface avoids.
FORBIDDEN = re.compile(
    r"""\b(
        pars(e|er|es|ed|ing) | graphs? | python | tokens? | nodes? | solvers? | vert(ex|ices) |
        syntax | strings? | exceptions? | tracebacks? | null | booleans? | invalid | illegal |
        abort(ed)? | fatal | identifiers? | literals? | regex | integers? | stack | modules? |
        stages? | ticked\ boxe?s? | broken | passe[sd] | fail(s|ed|ure|ures)? | scenarios? |
        warnings? | errors? | bugs? | oops | sorry | please | we | our | my | i\ | you\ should
    )\b | ! | (?-i:\bNone\b) """,
    re.IGNORECASE | re.VERBOSE,
)


def _sayings():
    """(where it stands, words) of everything that is said, kind names left out."""
    for kind, facts in FACTS.items():
        entry = VERDICTS[kind]
        yield kind, entry.sentence(facts)
        yield kind, entry.because(facts) or ""
        yield kind, entry.change(facts) or ""
    for entry in ENTRIES.values():
        yield entry.kind, entry.explanation
    for kind, facts in REMEDIES.items():
        change = remedies.said(Remedy(kind, facts))
        yield kind, " ".join((change.sentence, *change.lines))
    for construct in CONSTRUCTS:
        yield construct.name, construct.meaning
    for name, value in vars(basis).items():
        if name.isupper():
            yield name, value if isinstance(value, str) else " ".join(value)
    yield "several", remedies.several(3) + remedies.ONE


def test_no_forbidden_word_is_said():
    kinds = "|".join(map(re.escape, ENTRIES))
    for where, words in _sayings():
        found = FORBIDDEN.search(re.sub(kinds, "", words))
        assert not found, f"{where} says {found.group()!r}: {words}"


def test_the_search_for_forbidden_words_finds_them():
    for words in ("the parser stopped", "a token", "It failed.", "Done!", "stage 2", "in Python"):
        assert FORBIDDEN.search(words)
    for words in ("kept clean", "pass a trace of soil", "needle", "only when"):
        assert not FORBIDDEN.search(words)


def test_every_verdict_has_sample_facts_and_every_sample_a_verdict():
    assert set(FACTS) == set(VERDICTS)
    assert set(REMEDIES) == remedies.KINDS


@pytest.mark.parametrize("kind", FACTS)
def test_a_verdict_is_one_whole_sentence_in_the_authors_nouns(kind):
    sentence = VERDICTS[kind].sentence(FACTS[kind])
    assert sentence[0].isupper() or sentence[0] == '"' or kind == "not-readable"
    assert sentence.endswith(".")
    assert not sentence.endswith("..")
    assert "  " not in sentence
    for name, value in FACTS[kind].items():
        spoken = value.rpartition("'s ")[2]
        if name in ("person", "first", "last", "from_what") and kind != "not-ordered":
            continue
        if name == "origin":
            continue
        assert spoken.lower() in sentence.lower(), f"{name} is not said"


def test_docstring_lists_the_facts_of_every_kind():
    table = verdicts.__doc__ or ""
    for kind, facts in FACTS.items():
        row = re.search(rf"^{kind}  .*$", table, re.MULTILINE)
        assert row, kind
        for name in facts:
            assert re.search(rf"\b{name}\b", row.group()), f"{kind}: {name}"


def test_numbers_are_permanent_and_by_family():
    by_number = defaultdict(list)
    for entry in ENTRIES.values():
        by_number[entry.number].append(entry.kind)
        assert re.fullmatch(r"[A-Z]\d{2,}", entry.number)
    assert all(len(kinds) == 1 for kinds in by_number.values())
    # Published with the first edition; a number never moves to another kind.
    assert {number: by_number[number] for number in ("O01", "O03", "O12", "C01", "C08", "U01")} == {
        "O01": ["no-permitted-order"],
        "O03": ["claim-can-fail"],
        "O12": ["not-ordered"],
        "C01": ["path-to-patient"],
        "C08": ["left-over"],
        "U01": ["too-hard"],
    }


def test_every_kind_explains_itself():
    for entry in ENTRIES.values():
        assert len(entry.explanation) > 30, entry.kind
        assert bool(entry.faulty) == bool(entry.good) or not entry.faulty, entry.kind


def test_saliva_and_other_soil():
    say = VERDICTS["path-to-patient"].sentence
    hands = {**FACTS["path-to-patient"], "from_what": "patient's hands"}
    del hands["soil"]
    wound = {**hands, "from_what": "the patient's wound", "soil": "blood"}
    assert say(wound).startswith("Blood of one patient can reach the mouth of ")
    assert say(FACTS["path-to-patient"]).startswith("Saliva of one patient can reach the mouth of ")
    assert say(hands).startswith("Soil from the hands of one patient ")
    dirt = {"origin": "floor, bin or drain", "part": "mouth"}
    assert VERDICTS["world-to-patient"].sentence(dirt).startswith("Dirt from floor, bin or drain ")
    chemical = {"origin": "chemical", "part": "mouth"}
    rinse = "A chemical that was not rinsed off can reach "
    assert VERDICTS["world-to-patient"].sentence(chemical) == rinse + "the patient's mouth."
    staff = {**FACTS["path-to-staff"], "who": "operator", "part": "eyes"}
    assert VERDICTS["path-to-staff"].sentence(staff) == (
        "Soil of a patient can reach operator's eyes."
    )
    splashed = {**staff, "origin": "chemical"}
    assert VERDICTS["path-to-staff"].sentence(splashed) == rinse + "operator's eyes."


def test_a_cover_that_tore_is_told_with_its_step():
    torn = {"torn": "gloves", "tore_in": "operator tears gloves"}
    for kind in ("path-to-staff", "path-to-patient", "clean-thing-reached", "hands-at-end"):
        because = VERDICTS[kind].because
        assert because({**FACTS[kind], **torn}) == (
            'From "operator tears gloves" on, soil gets through the gloves.'
        )
        assert because(FACTS[kind]) is None


def test_a_visit_that_ends_otherwise_is_told_of_things_and_of_facts():
    say = VERDICTS["not-ready"].sentence
    several = {"what": "arm, cone", "begins": "covered with wrap", "ends": "bare"}
    assert say(several) == (
        "A visit begins with arm, cone covered with wrap and can end with them bare."
    )
    fact = {"what": "door closed", "begins": "not so", "ends": "so"}
    assert say(fact) == '"door closed" is not so when a visit begins and can be so when it ends.'


def test_a_step_to_add_is_written_with_its_box_and_blocks_are_not():
    text = "in one go\n  [ ] operator takes off gloves\n  [ ] operator cleans hands"
    change = remedies.said(Remedy("add-step", {"text": text, "after": "x"}))
    assert change.lines == (
        "in one go",
        "  [ ] operator takes off gloves",
        "  [ ] operator cleans hands",
    )


def test_a_change_names_the_line_since_several_steps_may_have_the_same_words():
    place = Place("a.protocol", 67, 7, 20)
    for kind, facts in REMEDIES.items():
        assert " (line 67)" in remedies.said(Remedy(kind, facts, place)).sentence


def test_a_label_that_is_not_there_yet_is_written_too():
    facts = {**REMEDIES["add-after"], "new": "yes"}
    assert remedies.said(Remedy("add-after", facts)).lines == (
        "    after rub",
        "[ ] rub: operator cleans hands",
    )


def test_small_turns_of_phrase():
    assert listed([]) == ""
    assert listed(["a", "b", "c"], "or") == "a, b or c"
    assert count(1, "step") == "one step"
    assert count(13, "step") == "13 steps"
    assert without_owner("the next patient's mouth") == without_owner("mouth") == "mouth"
    assert owned("operator", "operator's hands") == "operator's hands" == owned("operator", "hands")


@pytest.mark.parametrize(
    ("what", "them"),
    [
        ("head rest", "it"),
        ("operator's hands", "them"),
        ("looking glass", "it"),
        ("lens", "it"),
        ("apparatus", "it"),
        ("tube head, cone", "them"),
    ],
)
def test_what_is_several_by_its_name_is_told_as_several(what: str, them: str) -> None:
    facts = {"what": what, "begins": "bare", "ends": "covered with bag"}
    assert VERDICTS["not-ready"].sentence(facts) == (
        f"A visit begins with {what} bare and can end with {them} covered with bag."
    )


def test_going_back_is_told_of_the_phase_or_of_the_list_of_a_mishap() -> None:
    entry = VERDICTS["again-not-before"]
    assert entry.sentence({"label": "pack"}) == (
        'No step with the label "pack" stands above this in this phase.'
    )
    assert entry.sentence({"label": "pack", "mishap": "yes"}) == (
        'No step with the label "pack" stands above this in the same list.'
    )
    assert entry.because({"label": "pack", "phase": "Set up"}) == (
        'One stands in "Set up"; "again from" does not go back over phases.'
    )
