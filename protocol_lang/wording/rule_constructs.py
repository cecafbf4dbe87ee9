"""The words of files of rules, for ``explain`` and the reference."""

from __future__ import annotations

from protocol_lang.wording.construct import Construct
from protocol_lang.wording.examples import visit


def _rules(body: str, settings: str = "") -> str:
    """A complete file around one rule; ``body``: its lines, indented by two."""
    return (
        'rules "Rules of ours"\n  edition 1\n  takes words from "Dental imaging"\n'
        f'  examples in "Imaging room 2"\n\n{settings}rule "Our rule"\n' + body.strip("\n") + "\n"
    )


_MUST = "  must\n"
_CLEAN = "  always hands of staff are cleaned\n"

RULES: tuple[Construct, ...] = (
    Construct(
        "rules",
        ("rule file", "pack"),
        'rules "TITLE": the first line of a file of rules, by which an audit judges protocols. Its '
        'header is as in other files; "takes words from" names the words files whose verbs and '
        'kinds its sentences use, "examples in" the room that its examples speak of besides.',
        _rules(_MUST + _CLEAN),
        _rules(_MUST + _CLEAN).replace('rules "Rules of ours"', "rules Rules of ours"),
    ),
    Construct(
        "rule",
        ("must", "should", "local", "because", "strength"),
        'rule "TITLE": one thing that is asked. Under it stand how much it binds (must: a standard '
        "demands it; should: advice; local: the house asks for it), its source, why (because), and "
        "what it asks. What breaks a rule that only should be kept is something to consider.",
        _rules(
            '  should\n  source "our infection control lead"\n'
            '  because "Hands carry most of it."\n' + _CLEAN
        ),
        _rules('  because "Hands carry most of it."\n' + _CLEAN),
    ),
    Construct(
        "happenings",
        ("touches", "goes into the mouth", "goes onto", "comes off", "are cleaned", "sentence"),
        'The sentences of rules are those of verbs ("staff puts on gloves"), with the name of a '
        'kind for anybody or anything of that kind: "staff", "patient", "receptor", "thing" for '
        "anything. The same word means the same one throughout a rule. And whatever the verbs are "
        'called, it can be told what happens: "staff touches surface", "receptor goes into the '
        'mouth of patient", "gloves go onto staff", "gloves come off staff", "hands of staff are '
        'cleaned", "surface is cleaned", "receptor is treated to at least high", "gloves are '
        'thrown away", "staff makes an exposure". Of waits: "staff waits", whatever for; "staff '
        'waits at least 2 minutes"; "staff waits until surface is dry". Under a sentence, "or" and '
        "another one count as well.",
        _rules(
            _MUST
            + "  after gloves come off staff\n  comes hands of staff are cleaned\n"
            + "    or staff washes hands\n  before the visit ends\n"
            + """
rule "Dry before it is used"
  must
  after staff disinfects surface with a new wipe
  comes staff waits at least 2 minutes
    or staff waits until surface is dry
  before patient touches surface
  good example
    [ ] operator lays out wipe
    [ ] operator disinfects chair arms with a new wipe
    [ ] operator waits 2 minutes
    [ ] patient touches chair arms
  faulty example
    [ ] operator lays out wipe
    [ ] operator disinfects chair arms with a new wipe
    [ ] patient touches chair arms
    [ ] operator waits 2 minutes
"""
        ),
        _rules(_MUST + "  never staff touches the moon\n"),
    ),
    Construct(
        "always",
        ("never",),
        "always SENTENCE: it is done in every course of the visit. never SENTENCE: in none.",
        _rules(
            """
  must
  never patient touches control panel
  good example
    [ ] patient touches chair arms
  faulty example
    [ ] patient touches control panel
"""
        ).replace('"Dental imaging"', '"Imaging room 2"'),
        _rules(_MUST + "  always\n"),
    ),
    Construct(
        "before in a rule",
        ("comes", "but never"),
        "before SENTENCE, and under it comes SENTENCE: whenever the first is done, the second was "
        'done before. With "but never SENTENCE": since the last time that this was done.',
        _rules(
            """
  must
  before gloves go onto staff
  comes hands of staff are cleaned
  but never staff touches thing
  good example
    [ ] operator cleans hands
    [ ] operator puts on gloves
  faulty example
    [ ] operator cleans hands
    [ ] operator works at phone
    [ ] operator puts on gloves
    surfaces
      phone: surface; everyday
"""
        ),
        _rules(_MUST + "  before gloves go onto staff\n"),
    ),
    Construct(
        "after in a rule",
        ("the visit ends", "the next patient"),
        "after SENTENCE, comes SENTENCE, before SENTENCE: between the first and the third, the "
        'second is done. "before the visit ends" asks for it in the same visit; "before the next '
        'patient" before the first is done again in a later one. after SENTENCE, until SENTENCE, '
        "never SENTENCE: from the first to the next of the second, the third is not done.",
        _rules(
            """
  must
  after gloves come off staff
  until hands of staff are cleaned
  never staff touches surface
  good example
    [ ] operator cleans hands
    [ ] operator puts on gloves
    [ ] operator takes off gloves
    [ ] operator cleans hands
    [ ] operator works at keyboard
  faulty example
    [ ] operator cleans hands
    [ ] operator puts on gloves
    [ ] operator takes off gloves
    [ ] operator works at keyboard
"""
        ),
        _rules(_MUST + "  after gloves come off staff\n  comes hands of staff are cleaned\n"),
    ),
    Construct(
        "whenever",
        (),
        "whenever SENTENCE, and under it only when CLAIM: the claim holds in every permitted order "
        "when that is done; in the words of only when under a step.",
        _rules(
            """
  must
  whenever receptor goes into the mouth of patient
  only when receptor is covered
"""
        ),
        _rules(_MUST + "  whenever receptor goes into the mouth of patient\n"),
    ),
    Construct(
        "at least in a rule",
        ("at most in a rule", "at least every", "days"),
        "at most NUMBER times SENTENCE, at least NUMBER times SENTENCE: how often it is done in a "
        "visit. at least every NUMBER days SENTENCE: it is done in each visit, or stands under "
        '"every week" or the like and that is often enough.',
        _rules(
            """
  local
  at most 2 times gloves go onto staff
  good example
    [ ] operator cleans hands
    [ ] operator puts on gloves
  faulty example
    [ ] operator cleans hands
    [ ] operator puts on gloves
    [ ] operator changes gloves
    [ ] operator changes gloves
"""
        ),
        _rules(_MUST + "  at most two times gloves go onto staff\n"),
    ),
    Construct(
        "for in a rule",
        ("is declared", "but not", "only in phase", "goes into what is marked"),
        "for KIND; TRAIT; TRAIT: the rule is about each such thing. is declared TRAIT; "
        "TRAIT: it is declared so; of a level, and of a wet time, at least so. goes into "
        "what is marked TEXT: the waste stream that it goes to has that in its note. but not "
        'NAME, NAME: what does not count. only in phase "TITLE": steps of that phase alone '
        "are meant by the first sentence.",
        _rules(_MUST + "  for gloves\n  is declared used once\n"),
        _rules(_MUST + "  for gloves\n  is declared used twice\n"),
    ),
    Construct(
        "the header says",
        (),
        "the header says owner (or edition, source, in force from, review by): the protocol says "
        "so in its header. The last two are held against the day of judgement too.",
        _rules(_MUST + "  the header says owner\n"),
        _rules(_MUST + "  the header says author\n"),
    ),
    Construct(
        "figures",
        ("the figure", "figure"),
        "figures: what a protocol or a room states in numbers, one on each line: NAME: NUMBER "
        "UNIT. Nothing follows from it for the order of steps; rules may ask for it: the figure "
        'NAME is at least (at most) NUMBER UNIT. With "gloves in a box: 100" and the like supplies '
        "are counted.",
        visit("  [ ] operator cleans hands\n", "figures\n  hand rub time: 20 seconds"),
        visit("  [ ] operator cleans hands\n", "figures\n  hand rub time: long"),
    ),
    Construct(
        "no treatment depends on",
        (),
        "no treatment depends on CHOICE: whatever value the choice has, the same things are "
        "treated to the same levels.",
        _rules(_MUST + "  no treatment depends on precautions\n"),
        _rules(_MUST + "  no treatment depends on\n"),
    ),
    Construct(
        "either in a rule",
        (),
        "either, and beside it or: ways to keep a rule, each with its own lines under it. For each "
        "thing that the rule is about, one of the ways is kept in every order.",
        _rules(
            """
  must
  for holder
  either
    is declared used once
  or
    after holder goes into the mouth of patient
    comes holder is treated to at least sterile
    before the next patient
"""
        ),
        _rules(_MUST + "  either\n    the header says owner\n"),
    ),
    Construct(
        "settings",
        ("setting",),
        "settings: where sources disagree, the values that an audit may choose: NAME: VALUE, "
        'VALUE. The first one holds unless another is told; rules ask for it with "where NAME '
        'is VALUE".',
        _rules(
            "  should\n  where durations is WHO 2009\n"
            "  the figure hand rub time is at least 20 seconds\n",
            "settings\n  durations: WHO 2009, CDC 2002\n\n",
        ),
        _rules(
            "  should\n  where durations is WHO 1999\n"
            "  the figure hand rub time is at least 20 seconds\n",
            "settings\n  durations: WHO 2009, CDC 2002\n\n",
        ),
    ),
    Construct(
        "tightens",
        ("loosens",),
        'tightens "RULE" of "FILE": this rule asks for more than that one; both hold. loosens '
        '"RULE" of "FILE": it asks for less; that one still holds, and where it is not kept a '
        "waiver is needed.",
        _rules(_MUST + '  tightens "Hands" of "Hand hygiene"\n' + _CLEAN),
        _rules(_MUST + "  tightens Hands\n" + _CLEAN),
    ),
    Construct(
        "good example",
        ("faulty example", "examples in", "example"),
        "good example, faulty example: a small protocol that keeps the rule, and one that breaks "
        "it: what it declares, then its steps. Both are tried whenever the file is checked.",
        _rules(
            _MUST
            + _CLEAN
            + "  good example\n    [ ] operator cleans hands\n"
            + "  faulty example\n    [ ] operator looks at the image\n"
        ),
        _rules(_MUST + _CLEAN + "  good example\n    [ ] operator looks at the image\n"),
    ),
)
