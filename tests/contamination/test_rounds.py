"""A few rounds stand for all: against all of them spelt out.

Random visits with something repeated up to six times, in which soil creeps from shelf to shelf, is
cleaned off, is carried on gloves that may or may not be changed, and where facts and covers may
differ from round to round. What is found with as few rounds as the program looks at has to be what
is found with all six.
"""

from __future__ import annotations

import random
from collections import Counter

import pytest

from protocol_lang.contamination import rounds
from protocol_lang.contamination.judge import Judgement, judge
from protocol_lang.contamination.rounds import AT_FIRST, Judged, judge_protocol
from protocol_lang.contamination.unfold import Unfolded, unfold
from protocol_lang.contamination.unfold.arrange import TooMany
from protocol_lang.contamination.unfold.spelling import steps_at_least
from protocol_lang.language.load import load_text
from protocol_lang.model.protocol import Protocol
from protocol_lang.text import decode

SHELVES = [f"shelf {letter}" for letter in "abcde"]
HEAD = f"""protocol "Rounds"
  edition 1
  takes words from "Imaging room 2"

surfaces
  {", ".join(SHELVES)}: surface

things
  towel: wipe; has face, back; used once; thrown away after use; from wipe tub; treats to high

facts
  lamp on

verb ACTOR feels the gum
  meet ACTOR's hands, the patient's mouth

verb ACTOR moves things from SURFACE to OTHER SURFACE
  pass SURFACE to OTHER SURFACE

verb ACTOR switches the lamp on
  no contact
  sets lamp on

verb ACTOR switches the lamp off
  no contact
  ends lamp on

"""
MOST = 6
SETTLED: Counter[bool] = Counter()
FOUND: Counter[str] = Counter()


def _steps(dice: random.Random, indent: str, number: int, deep: bool = True) -> str:
    return "".join(_one(dice, indent, deep) for _ in range(number))


def _one(dice: random.Random, indent: str, deep: bool) -> str:
    shelf, other = dice.sample(SHELVES, 2)
    deeper = indent + "  "
    kind = dice.choice(
        ["touch", "touch", "move", "move", "gum", "clean", "rub", "gloves", "lamp", "asks"]
        + (["first", "last", "left out", "side", "failed"] if deep else [])
    )
    match kind:
        case "touch":
            return f"{indent}[ ] operator works at {shelf}\n"
        case "move":
            return f"{indent}[ ] operator moves things from {shelf} to {other}\n"
        case "gum":
            return f"{indent}[ ] operator feels the gum\n"
        case "clean":
            return (
                f"{indent}[ ] operator cleans {shelf} with a new towel\n"
                f"{indent}[ ] operator disinfects {shelf} with a new towel\n"
            )
        case "rub":
            return (
                f"{indent}where operator does not wear gloves\n{deeper}[ ] operator washes hands\n"
            )
        case "gloves":
            return (
                f"{indent}where operator wears gloves\n"
                f"{deeper}[ ] operator takes off gloves\n{deeper}[ ] operator cleans hands\n"
                f"{indent}otherwise\n"
                f"{deeper}[ ] operator cleans hands\n{deeper}[ ] operator puts on gloves\n"
            )
        case "lamp":
            return f"{indent}[ ] operator switches the lamp {dice.choice(['on', 'off'])}\n"
        case "asks":
            return f"{indent}[ ] operator works at {shelf}\n{indent}    only when lamp on\n"
        case "left out":
            return f"{indent}may be left out\n{_steps(dice, deeper, 1, False)}"
        case "side":
            return f"{indent}any order, mixed\n{_steps(dice, deeper, 2, False)}"
        case "failed":
            return f"{indent}where image blurred\n{_steps(dice, deeper, 1, False)}"
        case _:
            return f"{indent}{kind} time only\n{_steps(dice, deeper, 1, False)}"


def _text(dice: random.Random) -> str:
    inside = _steps(dice, "    ", dice.randint(2, 5))
    found = ""
    if "image blurred" in inside:
        inside = "    [ ] look: operator looks at the image\n" + inside
        found = "found out on the way\n  image blurred, known after look\n\n"
    happens = ""
    if dice.random() < 0.3:
        happens = (
            'can happen in "Visit"\n  phone rings, between any two steps of operator\n'
            + _steps(dice, "    ", 1, False)
            + "\n"
        )
    return (
        HEAD
        + found
        + happens
        + 'phase "Visit"\n'
        + _steps(dice, "  ", dice.randint(0, 2), False)
        + f"  for each view, {dice.randint(0, 2)} to {MOST}\n"
        + inside
        + _steps(dice, "  ", dice.randint(0, 3), False)
    )


def _verdicts(unfolded: Unfolded, judgement: Judgement) -> set[object]:
    """What is found, told without the rounds in which it is found."""
    plan = unfolded.plan
    found: set[object] = set()
    found |= {("misstep", one.misstep.kind) for one in judgement.missteps}
    found |= {("claim", unfolded.acts[one.act].place) for one in judgement.claims}
    found |= {("not ready", one.kind, one.number) for one in judgement.not_ready}
    found |= {("left over", plan.pieces[one.piece].kind) for one in judgement.left_over}
    if judgement.paths is not None:
        found |= {
            ("soil", one.who, plan.spots[one.spot].name, one.origin)
            for one in judgement.suspects
            if judgement.paths.first(frozenset({one})) is not None
        }
    return found


def _protocol(text: str) -> Protocol:
    loaded = load_text(decode(text.encode(), "rounds.protocol"))
    assert not loaded.findings, (text, [(f.kind, f.place, f.facts) for f in loaded.findings])
    assert loaded.protocol is not None
    return loaded.protocol


@pytest.mark.parametrize("seed", range(70))
def test_a_few_rounds_find_what_all_find(seed: int) -> None:
    text = _text(random.Random(seed))
    protocol = _protocol(text)
    few = judge_protocol(protocol)
    full = unfold(protocol)
    if not isinstance(full, Unfolded):
        assert not isinstance(few, Judged) or few.unfolded.depths
        return
    assert isinstance(few, Judged), text
    SETTLED[bool(few.unfolded.depths)] += 1
    wanted = _verdicts(full, judge(full.plan))
    FOUND.update({str(one[0]) for one in wanted if isinstance(one, tuple)} or {"nothing"})
    assert _verdicts(few.unfolded, few.judgement) == wanted, text


def test_the_comparison_has_seen_all_sorts() -> None:
    """Runs after the others in this file: what they compared was not all alike."""
    if sum(SETTLED.values()) < 60:
        pytest.skip("only some of the comparisons were run in this process")
    assert SETTLED[True] > 20
    assert SETTLED[False] > 3
    assert {"nothing", "claim", "soil"} <= set(FOUND)


CREEPS = (
    HEAD
    + 'phase "Visit"\n  [ ] operator cleans hands\n  for each view, 1 to 9\n'
    + "    [ ] operator moves things from shelf d to shelf e\n"
    + "    [ ] operator moves things from shelf c to shelf d\n"
    + "    [ ] operator moves things from shelf b to shelf c\n"
    + "    [ ] operator moves things from shelf a to shelf b\n"
    + "    first time only\n      [ ] patient holds shelf a\n"
    + "  [ ] operator works at shelf e\n      only when shelf e is clean of other patients\n"
    + "  any order\n"
    + "".join(
        f"    in order\n      [ ] operator cleans {shelf} with a new towel\n"
        f"      [ ] operator disinfects {shelf} with a new towel\n"
        for shelf in SHELVES[:4]
    )
    + "  [ ] operator washes hands\n"
)


#: Two facts that follow each other round by round, so that the fourth differs from the third.
LATE = (
    HEAD.replace("  lamp on\n", "  lamp on\n  one so\n  two so\n  three so\n")
    + 'phase "Visit"\n  for each view, 1 to 9\n'
    + "    where three so\n      [ ] operator works at shelf a\n          only when lamp on\n"
    + "    where two so\n      [ ] operator looks at the image\n          sets three so\n"
    + "    where one so\n      [ ] operator looks at the image\n          sets two so\n"
    + "    [ ] operator looks at the image\n        sets one so\n"
)


def test_facts_that_still_change_are_followed_until_they_do_not() -> None:
    judged = judge_protocol(_protocol(LATE))
    assert isinstance(judged, Judged)
    assert len(judged.judgement.claims) > 0
    (deep,) = judged.unfolded.depths.values()
    assert deep == 6


def test_soil_that_creeps_on_by_one_in_each_round_is_followed_as_far_as_it_gets() -> None:
    """From shelf a to shelf e it takes five rounds: three, which are looked at first, do not do."""
    judged = judge_protocol(_protocol(CREEPS))
    assert isinstance(judged, Judged)
    (deep,) = judged.unfolded.depths.values()
    assert AT_FIRST < deep < 9
    full = unfold(_protocol(CREEPS))
    assert isinstance(full, Unfolded)
    wanted = _verdicts(full, judge(full.plan))
    assert ("claim", None) not in wanted
    assert any(isinstance(one, tuple) and one[0] == "soil" for one in wanted)
    assert _verdicts(judged.unfolded, judged.judgement) == wanted


def test_eighteen_rounds_cost_hardly_more_than_three() -> None:
    text = (
        HEAD
        + 'phase "Visit"\n  for each view, 1 to 18\n    [ ] operator cleans hands\n'
        + "    [ ] operator puts on gloves\n    [ ] operator feels the gum\n"
        + "    [ ] operator takes off gloves\n    [ ] operator cleans hands\n"
    )
    judged = judge_protocol(_protocol(text))
    assert isinstance(judged, Judged)
    assert list(judged.unfolded.depths.values()) == [AT_FIRST]
    assert len(judged.unfolded.plan.acts) < 30
    assert not judged.judgement.suspects


@pytest.mark.parametrize("forgotten", ["_same_state", "_no_more_soil"])
def test_each_thing_that_must_not_change_is_needed(
    forgotten: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without looking at it, too few rounds are looked at, and something is missed."""
    monkeypatch.setattr(rounds._Repetition, forgotten, lambda *_: True)
    texts = [CREEPS, LATE, *(_text(random.Random(seed)) for seed in range(40))]
    differing = 0
    for text in texts:
        protocol = _protocol(text)
        few, full = judge_protocol(protocol), unfold(protocol)
        if isinstance(few, Judged) and isinstance(full, Unfolded):
            differing += _verdicts(few.unfolded, few.judgement) != _verdicts(full, judge(full.plan))
        if differing:
            return
    pytest.fail(f"{forgotten} made no difference")


def test_repetitions_in_each_other_cost_no_more_than_their_lines():
    """Twelve of up to 18 come to 18^12 steps: none of them is written out to find that."""
    lines = ["  " * (1 + depth) + "for each exposure, 1 to 18" for depth in range(12)]
    text = "\n".join(
        [
            'protocol "Deep"',
            "  edition 1",
            '  takes words from "Imaging room 2"',
            "",
            'phase "All"',
            *lines,
            "  " * 13 + "[ ] operator cleans hands",
            "",
        ]
    )
    protocol = load_text(decode(text.encode(), "deep.protocol")).protocol
    assert protocol is not None
    assert steps_at_least(protocol) == 18**12
    assert unfold(protocol) == TooMany("steps", 18**12, 2_000)
