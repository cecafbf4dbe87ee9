"""What is wrong with a line that does not parse: known causes, then what would have fitted."""

from __future__ import annotations

import re
from collections.abc import Mapping

from protocol_lang.findings import Finding
from protocol_lang.language.limits import MAX_DIGITS, MAX_LABEL_WORDS
from protocol_lang.language.names import FIGURES
from protocol_lang.language.reading.lines import END, Unexpected
from protocol_lang.language.tree import Words

_CURLY = re.compile("[“”„«»‟]")
#: Small words that may join two names once in a line.
_JOINS = ("with", "to", "from", "by", "into", "on", "through", "over", "is", "are")
#: What a claim or condition starts with and goes on with.
_STATES = frozenset({"PIECE", "AND", "OR"})


def explain(words: Words, fault: Unexpected, rule: str) -> Finding:
    """The finding for a line that does not parse by the rule."""
    return (
        _quotes(words, fault)
        or _joined_claims(words, fault)
        or _times(words, fault, rule)
        or _end_of_line(words, fault, rule)
        or _number(fault)
        or _plain(words, fault)
    )


def _finding(kind: str, words: Words, facts: Mapping[str, str] | None = None) -> Finding:
    return Finding(kind, words.place, facts or {})


def _rest(words: Words, fault: Unexpected) -> Words:
    return words.part(fault.start, len(words.text))


def _quotes(words: Words, fault: Unexpected) -> Finding | None:
    if words.text.count('"') % 2:
        return unclosed(words)
    if "QUOTED" not in fault.expected:
        return None
    curly = _CURLY.search(words.text)
    if curly is not None:
        mark = words.part(curly.start(), curly.end())
        return _finding("curly-quotes", mark, {"found": mark.text})
    if fault.expected == {"QUOTED"} and not fault.ended:
        rest = _rest(words, fault)
        return _finding("quotes-missing", rest, {"found": rest.plain})
    return None


def unclosed(words: Words) -> Finding:
    """The finding for a line with an odd number of double quotes."""
    last = words.text.rindex('"')
    return _finding("quote-not-closed", words.part(last, len(words.text)))


def _joined_claims(words: Words, fault: Unexpected) -> Finding | None:
    found = fault.found.text
    before = words.text[: fault.start]
    if found in ("and", "or") and not fault.ended:
        other = "or" if found == "and" else "and"
        if re.search(rf"\s{other}\s", before):
            return _finding("and-with-or", fault.found, {"found": found, "other": other})
    if found == "," and fault.expected & _STATES:
        return _finding("comma-in-claim", fault.found)
    if found in _JOINS and not fault.ended and re.search(rf"\s{found}\s", before):
        return _finding("joined-twice", fault.found, {"found": found})
    return None


#: Lines that say after a colon what the name is.
_NAMED = frozenset(
    {"thing_line", "person_line", "part_line", "choice_line", "group_line", "floor_line"}
    | {"level_line"}
)


def _end_of_line(words: Words, fault: Unexpected, rule: str) -> Finding | None:
    if fault.found.text == ":" and END in fault.expected and _rest(words, fault).text == ":":
        return _finding("colon-at-end", fault.found)
    if fault.ended:
        if rule in _NAMED and ":" not in words.text:
            return _finding("colon-missing", words, {"found": words.plain, "line": rule})
        facts = {"after": words.plain, "expected": " ".join(sorted(fault.expected))}
        return _finding("line-ends-early", fault.found, facts)
    return None


#: Where the name of what is repeated ends, if no comma stands after it.
_COUNTED = re.compile(
    rf",|\s(?=(?:[0-9]|(?:up to|at most|at least|{'|'.join(FIGURES)})(?!\S)))", re.IGNORECASE
)


def _times(words: Words, fault: Unexpected, rule: str) -> Finding | None:
    """How many times, told otherwise than from the least to the most."""
    head = re.match(r"for\s+each\s+(?=[^\s,])", words.text)
    if rule != "for_each" or head is None or re.fullmatch(r"[0-9]{10,}", fault.found.text):
        return None
    if END in fault.expected or (
        fault.ended and fault.expected == {"NUMBER"} and "," in words.text
    ):
        return None  # a range that goes on, or is not yet whole
    rest = words.part(head.end(), len(words.text)).plain
    name, *after = _COUNTED.split(rest, maxsplit=1)
    said = re.findall(rf"[0-9]+|\b(?:{'|'.join(FIGURES)})\b", "".join(after), re.IGNORECASE)
    times = [FIGURES.get(word.casefold(), word) for word in said]
    least, most = sorted(times[:2], key=int) if len(times) > 1 else ("1", *times, "3")[:2]
    facts = {"found": words.plain, "meant": f"for each {name}, {least} to {most}"}
    return _finding("times-no-range", words, facts)


def _number(fault: Unexpected) -> Finding | None:
    if fault.expected == {"NUMBER"}:
        facts = {"found": fault.found.text, "limit": str(MAX_DIGITS)}
        return _finding("not-a-number", fault.found, facts)
    if fault.expected == {"DAY"}:
        return _finding("not-a-day", fault.found, {"found": fault.found.text})
    return None


def _plain(words: Words, fault: Unexpected) -> Finding:
    before = words.part(0, fault.start).plain
    facts = {
        "found": fault.found.text,
        "after": before,
        "expected": " ".join(sorted(fault.expected)),
    }
    return _finding("words-not-expected", fault.found, facts)


def long_label(sentence: Words) -> Finding | None:
    """The finding for a sentence that begins with a label of too many words, or in quotes."""
    match = re.match(r'((?:"[^"]*"|[^":])+):\s', sentence.text)
    if match is None:
        return None
    label = sentence.part(0, len(match.group(1).rstrip()))
    facts = {"found": label.plain, "limit": str(MAX_LABEL_WORDS)}
    return _finding("label-quoted" if '"' in label.text else "label-too-long", label, facts)
