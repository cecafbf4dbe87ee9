"""Which lines may stand where, told by their opening words.

Each table maps the opening words of a line to its rule in the grammar. A line whose opening words
are in no table of its surroundings is not guessed at, except for the finding: the nearest opening
words are named when they are close and no others are as close.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache

from protocol_lang.language.tree import Words

Openers = Mapping[str, str]

FIRST: Openers = {
    "protocol": "first",
    "day": "first",
    "room": "first",
    "words": "first",
    "data": "first",
    "rules": "first",
    "waivers": "first",
}

HEADER: Openers = {
    "edition": "edition",
    "in force from": "in_force",
    "review by": "review_by",
    "owner": "owner",
    "takes words from": "takes_words",
    "then": "then",
    "follows another protocol": "follows",
    "opening": "opening",
    "visits": "visits",
    "closing": "closing",
    "beside the visits": "beside",
    "examples in": "examples_in",
    "adapts": "adapts",
    "to settle": "to_settle",
    "source": "source",
    "note": "note",
}

SECTIONS: Openers = {
    "choices": "choices",
    "found out on the way": "found_out",
    "can happen in": "can_happen",
    "begins with": "begins_with",
    "leaves": "leaves",
    "phase": "phase",
    "kinds of thing": "kinds",
    "parts of": "parts",
    "facts": "facts",
    "duty": "duty",
    "verb": "verb",
    "germs": "germs",
    "levels": "levels",
    "materials": "materials",
    "products": "products",
    "floors": "floors",
    "people": "people",
    "places": "places",
    "air": "air",
    "waste streams": "streams",
    "surfaces": "things",
    "boxes": "things",
    "things": "things",
    "groups": "groups",
    "figures": "figures",
    "exposure settings": "exposure_settings",
    "whom to call": "whom_to_call",
    "settings": "settings",
    "rule": "rule",
    "waiver": "waiver",
    "changes in": "changes_in",
    "instead of": "instead_of",
    "without": "without",
    "before phase": "before_phase",
    "after phase": "after_phase",
}

#: Opening words of lines that stand in files of rules alone: elsewhere they may be names.
IN_RULES = frozenset({"rule", "settings", "examples in"})

ITEMS: Openers = {
    "[ ]": "step",
    "in order": "in_order",
    "any order": "any_order",
    "in one go": "in_one_go",
    "side by side": "side_by_side",
    "where": "where",
    "otherwise": "otherwise",
    "either": "either",
    "or": "or_else",
    "may be left out": "may_be_left_out",
    "every": "now_and_then",
    "on delivery": "now_and_then",
    "for each": "for_each",
    "first time only": "first_time_only",
    "last time only": "last_time_only",
    "again from": "again",
}

REMARKS: Openers = {"note": "note", "source": "source"}

PHASE: Openers = {**REMARKS, "short": "short", "may run into the next visit": "runs_on"}

STEP: Openers = {
    "only when": "only_when",
    "note": "note",
    "short": "short",
    "source": "source",
    "sets": "sets",
    "ends": "ends",
    "after": "after",
    "takes": "lasts",
}

DUTY: Openers = {"while": "while", **REMARKS}

VERB: Openers = {
    "also": "also",
    "only when": "only_when",
    "allowed while": "allowed_while",
    "take": "take",
    "lay out": "lay_out",
    "meet": "meet",
    "may meet": "meet",
    "brush": "meet",
    "pass": "pass",
    "cover": "cover",
    "uncover": "uncover",
    "tear": "tear",
    "wash": "wash",
    "reduce": "reduce",
    "retire": "retire",
    "sets": "sets",
    "ends": "ends",
    "no contact": "no_contact",
    "moves": "moves",
    "exposure by": "exposure",
    "takes": "lasts",
    **REMARKS,
}

#: Under a rule: what it asks, of what, and why.
RULE: Openers = {
    "must": "rule_strength",
    "should": "rule_strength",
    "local": "rule_strength",
    "because": "rule_because",
    "note": "rule_note",
    "source": "rule_source",
    "where": "rule_where",
    "only in phase": "rule_in_phase",
    "for": "rule_for",
    "but not": "rule_but",
    "always": "rule_always",
    "never": "rule_never",
    "but never": "rule_never",
    "before": "rule_before",
    "after": "rule_after",
    "comes": "rule_comes",
    "until": "rule_until",
    "whenever": "rule_whenever",
    "only when": "rule_only_when",
    "at most": "rule_at_most",
    "at least": "rule_at_least",
    "at least every": "rule_every_days",
    "is declared": "rule_declared",
    "the header says": "rule_header",
    "the figure": "rule_figure",
    "goes into what is marked": "rule_marked",
    "no treatment depends on": "rule_no_treatment",
    "either": "rule_either",
    "or": "rule_or",
    "tightens": "rule_other",
    "loosens": "rule_other",
    "good example": "rule_good",
    "faulty example": "rule_faulty",
}

#: Under a waiver: what is tolerated, why, for how long, and who approved of it.
WAIVER: Openers = {
    "rule": "waiver_rule",
    "finding": "waiver_finding",
    "for": "waiver_for",
    "where": "waiver_where",
    "reason": "waiver_reason",
    "approved by": "waiver_approved",
    "from": "waiver_days",
    "made up for by": "waiver_made_up",
    "renewed": "waiver_renewed",
    "renewed by": "waiver_renewed_by",
}

#: Among the changes of a local edition: what is changed in the steps of a phase.
CHANGE: Openers = {
    "instead of": "change_instead",
    "without": "change_without",
    "before": "change_before",
    "after": "change_after",
    "beside": "change_beside",
    "move": "change_move",
    "reword": "change_reword",
    "to settle": "to_settle",
}

#: Under a step that a local edition says in other words.
REWORD: Openers = {
    "short": "short",
    "note": "note",
    "source": "source",
    "takes": "lasts",
    "label": "change_label",
    "to settle": "to_settle",
}

#: Under a sentence of a rule: other sentences that count as well.
SENTENCE: Openers = {"or": "rule_or"}

#: Under a line of what is found out on the way.
SOILING: Openers = {
    "meet": "meet",
    "brush": "meet",
    "pass": "pass",
    "sets": "sets",
    "ends": "ends",
}

TRAITS: Openers = {
    "has": "has",
    "takes cover": "takes_cover",
    "starts covered with": "starts_covered",
    "kept clean": "starts_as",
    "everyday": "starts_as",
    "dirty": "starts_as",
    "chemical": "starts_as",
    "used once": "trait",
    "one of many": "trait",
    "thrown away after use": "trait",
    "leaks": "trait",
    "goes in the mouth": "trait",
    "keeps out germs of the air": "trait",
    "heat safe": "trait",
    "not heat safe": "trait",
    "always sleeved in the mouth": "trait",
    "lets": "lets_through",
    "worn on": "worn_on",
    "from": "from_box",
    "laid out on": "laid_out",
    "goes to": "goes_to",
    "treats to": "treats_to",
    "treats with": "treats_with",
    "stays wet": "stays_wet",
    "in": "stands_in",
    "made of": "made_of",
}

#: The tables by the name under which a finding speaks of them.
TABLES: Mapping[str, Openers] = {
    "first": FIRST,
    "header": HEADER,
    "section": SECTIONS,
    "item": ITEMS,
    "phase": {**PHASE, **ITEMS},
    "remark": REMARKS,
    "step": STEP,
    "duty": DUTY,
    "verb": VERB,
    "soiling": SOILING,
    "trait": TRAITS,
    "rule": RULE,
    "sentence": SENTENCE,
    "waiver": WAIVER,
    "change": CHANGE,
    "reword": REWORD,
}


def rule_of(words: Words, table: str) -> str | None:
    """The rule that a line is to be parsed from, by its opening words."""
    for pattern, rule in _patterns(table):
        if pattern.match(words.text):
            return rule
    return None


def opened(words: Words, rule: str) -> int:
    """How far the opening words of a rule reach that the line begins with."""
    found = (
        match.end()
        for table in TABLES
        for pattern, one in _patterns(table)
        if one == rule and (match := pattern.match(words.text))
    )
    return max(found, default=0)


@cache
def _patterns(table: str) -> tuple[tuple[re.Pattern[str], str], ...]:
    openers = TABLES[table]
    longest_first = sorted(openers, key=lambda phrase: (-len(phrase), phrase))
    return tuple((_pattern(phrase), openers[phrase]) for phrase in longest_first)


def _pattern(phrase: str) -> re.Pattern[str]:
    if phrase == "[ ]":
        return re.compile(r"\[ \]")
    return re.compile(r"\s+".join(phrase.split()) + r'(?![^\s,;:"])')


def homes_of(words: Words) -> tuple[str, ...]:
    """The tables in which a line would have its place."""
    return tuple(table for table in TABLES if rule_of(words, table) is not None)


def opening(words: Words, phrase: str) -> Words:
    """As many words from the start of the line as the phrase has (or as there are)."""
    match = re.match(r"\S+" + r"(?:\s+\S+)?" * (len(phrase.split()) - 1), words.text)
    assert match is not None
    text = match.group()
    return words.part(0, len(text.rstrip(",;:") or text))


def nearest(words: Words, table: str) -> str | None:
    """The opening words that were most likely meant: close, and no others as close."""
    return nearest_of(
        (phrase, opening(words, phrase).plain) for phrase in TABLES[table] if phrase != "[ ]"
    )


#: Words by which people open a block who know other lists, with what is written here. The words of
#: an opener itself are met by ``nearest``.
_OTHER_WORDS: Openers = {
    "else if": "otherwise where",
    "or else": "otherwise",
    "else": "otherwise",
    "if": "where",
    "when": "where",
    "in case": "where",
    "in any order": "any order",
    "in parallel": "side by side",
    "at the same time": "side by side",
}


def other_word(words: Words, table: str) -> tuple[str, str] | None:
    """Words by which such a line begins elsewhere, as they stand, and those written here."""
    others = _OTHER_WORDS if table in ("item", "phase") else {}
    if table in ("step", "verb"):
        others = {"if": "only when", "when": "only when"}
    for phrase, meant in others.items():
        if re.match(_pattern(phrase).pattern, words.text, re.IGNORECASE):
            return phrase, meant
    return None


#: Words by which people begin who know other lists, where something is done again.
_DONE_AGAIN = (
    "repeat from",
    "go back to",
    "back to",
    "return to",
    "repeat",
    "as long as",
    "while",
    "until",
)
_LABEL = re.compile(r'[^\s":,;]+(?:\s+[^\s":,;]+){0,3}')


def done_again(words: Words, table: str) -> tuple[Words, str | None] | None:
    """Such words at the beginning of a line, and the label that they lead back to, if one is."""
    if table not in ("item", "phase"):
        return None
    for phrase in _DONE_AGAIN:
        match = re.match(_pattern(phrase).pattern, words.text, re.IGNORECASE)
        if match is not None:
            rest = words.text[match.end() :].strip()
            leads = phrase.endswith((" from", " to")) and _LABEL.fullmatch(rest)
            return words.part(0, match.end()), " ".join(rest.split()) if leads else None
    return None


def nearest_of(pairs: Iterable[tuple[str, str]]) -> str | None:
    """Of pairs (right, written) the one right word within its allowed distance, if only one is."""
    near: dict[int, set[str]] = {}
    for right, written in pairs:
        allowed = 1 if len(right) < 5 else 2
        written = written.casefold()
        if abs(len(right) - len(written)) <= allowed:
            far = _distance(right, written)
            if far <= allowed:
                near.setdefault(far, set()).add(right)
    best = near[min(near)] if near else set()
    return next(iter(best)) if len(best) == 1 else None


def _distance(one: str, other: str) -> int:
    """Letters to change, add, drop or swap with their neighbour to make one word the other.

    Optimal string alignment, a table of prefixes (restricted Damerau-Levenshtein distance).
    """
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, start=1):
        above, before_that, row = row, before, [i]
        for j, b in enumerate(other, start=1):
            cost = min(above[j] + 1, row[j - 1] + 1, above[j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and one[i - 2] == b:
                cost = min(cost, before_that[j - 2] + 1)
            row.append(cost)
        before = above
    return row[-1]
