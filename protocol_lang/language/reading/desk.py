"""What every builder of nodes works at: it parses lines, takes findings, knows the context."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from protocol_lang.findings import Finding
from protocol_lang.language.layout import Raw
from protocol_lang.language.limits import MAX_FAULTS
from protocol_lang.language.reading import openers
from protocol_lang.language.reading.faults import explain
from protocol_lang.language.reading.lines import Shape, Unexpected, parse
from protocol_lang.language.tree import Spoiled, Words
from protocol_lang.text import Place


@dataclass(slots=True)
class Desk:
    """The findings so far, and the heading under which the next ones are made."""

    findings: list[Finding] = field(default_factory=list)
    context: str | None = None
    #: How many of them concern characters and indentation: those of the whole text are known.
    layout: int = 0
    #: Whether lines were left unread, since more findings than these would not be told.
    unread: bool = False

    @property
    def full(self) -> bool:
        """Whether as many findings are made as are listed; the lines after this one stay unread.

        Lines are read from the top down, so that the first ones are those that are listed.
        """
        if len(self.findings) - self.layout > MAX_FAULTS:
            self.unread = True
        return self.unread

    def take(self, finding: Finding) -> None:
        """Takes a finding, with the context added."""
        self.findings.append(replace(finding, context=self.context))

    def report(
        self,
        kind: str,
        place: Place,
        facts: Mapping[str, str] | None = None,
        others: tuple[tuple[str, Place], ...] = (),
    ) -> None:
        """Makes a finding."""
        self.take(Finding(kind, place, facts or {}, others))

    def parse(self, rule: str, words: Words) -> Shape | None:
        """A line read by a rule; None when it does not fit, which is then reported.

        A colon at the end of a line that needs none is reported and read over: what was meant is
        certain, and the lines under it are sound.
        """
        shape = parse(rule, words)
        if isinstance(shape, Shape):
            return shape
        finding = explain(words, shape, rule)
        self.take(finding)
        if finding.kind == "colon-at-end":
            again = parse(rule, words.part(0, len(words.text[: shape.start].rstrip())))
            return None if isinstance(again, Unexpected) else again
        return None

    def quoted(self, words: Words) -> Words | None:
        """What stands between double quotes; None, and reported, when that is nothing."""
        inside = words.text[1:-1]
        if not inside.strip():
            self.report("nothing-quoted", words.place)
            return None
        start = 1 + len(inside) - len(inside.lstrip())
        return words.part(start, start + len(inside.strip()))

    def rule(self, raw: Raw, table: str, before: Raw | None = None) -> str | None:
        """The rule of a line by its opening words; None, and reported, when they do not fit here.

        A spoiled line has been reported already and gets no rule. ``before``: the line above that
        stands beside it.
        """
        if raw.spoiled:
            return None
        rule = openers.rule_of(raw.words, table)
        if rule is None:
            self.report_opening(raw.words, table, before)
        return rule

    def report_opening(self, words: Words, table: str, before: Raw | None = None) -> None:
        again = openers.done_again(words, table)
        if again is not None:
            found, label = again
            told = {"found": found.plain} | ({} if label is None else {"label": label})
            self.report("again-by-other-words", found.place, told)
            return
        other = openers.other_word(words, table)
        likely = other[1] if other is not None else openers.nearest(words, table)
        if likely is not None:
            found = openers.opening(words, likely if other is None else other[0])
            facts = {"found": found.plain, "meant": likely, "here": table}
            self.report("opening-misspelt", found.place, facts)
            return
        homes = openers.homes_of(words)
        if homes:
            phrase = next(
                p
                for p in sorted(openers.TABLES[homes[0]], key=len, reverse=True)
                if openers.rule_of(words, homes[0]) and words.plain.startswith(p)
            )
            found = openers.opening(words, phrase)
            facts = {"found": found.plain, "here": table, "homes": " ".join(homes)}
            self.report("line-not-here", found.place, {**facts, **_where_to(homes, table, before)})
        elif table in ("item", "phase"):
            if words.text.startswith("["):
                box = re.match(r"\[[^\]]{0,3}\]?", words.text)
                assert box is not None
                found = words.part(0, box.end())
                self.report("box-form", found.place, {"found": found.text})
            else:
                self.report("box-missing", words.place, {"found": words.plain})
        else:
            found = openers.opening(words, "one")
            self.report("opening-unknown", found.place, {"found": found.plain, "here": table})

    def no_lines_under(self, raw: Raw) -> tuple[Raw, ...]:
        """Reports lines under a line that has none, once; gives them back to be looked through."""
        if raw.lines and not raw.lines[0].spoiled and not raw.spoiled:
            first = raw.lines[0].words
            self.report("nothing-under", first.place, {"over": raw.words.plain})
        return raw.lines


def _where_to(homes: tuple[str, ...], table: str, before: Raw | None) -> dict[str, str]:
    """Where the line belongs, if the line above leaves no doubt.

    ``blanks``: as many as the steps of the phase above have; ``under``: the step above.
    """
    if before is None:
        return {}
    if table == "section" and "item" in homes and openers.rule_of(before.words, "section"):
        item = next((r for r in before.lines if openers.rule_of(r.words, "item")), None)
        return {} if item is None else {"blanks": str(item.words.place.column - 1)}
    if table in ("item", "phase") and "step" in homes and before.words.text.startswith("["):
        return {"under": before.words.plain}
    return {}


def spoiled(raw: Raw, names: tuple[Words, ...] = ()) -> Spoiled:
    """The node of a line that could not be read."""
    return Spoiled(
        words=raw.words, names=names, place=raw.words.place, remarks=raw.remarks, end=raw.end
    )


def declared(words: Words) -> tuple[Words, ...]:
    """The names that a line of a section would have declared: what stands before its colon.

    Without a colon the name may end after any word: "hand grips surface" may declare "hand grips".
    """
    head = re.match(r'(?:"[^"]*"|[^":;])*', words.text)
    assert head is not None
    whole = tuple(
        words.part(match.start(), match.start() + len(match.group().rstrip()))
        for match in re.finditer(r'(?:"[^"]*"|[^",\s])(?:"[^"]*"|[^",])*', head.group())
    )
    if words.text[head.end() :].startswith(":") or not whole:
        return whole
    last = whole[-1]
    ends = [match.start() for match in re.finditer(r"\s+", last.text)]
    return (*whole, *(last.part(0, end) for end in ends))


Build = Callable[[Desk, Raw, Shape], object]
