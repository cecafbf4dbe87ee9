"""The findings in the Static Analysis Results Interchange Format, SARIF 2.1.0 (OASIS Standard).

Rules are the rules of this form, by the title of their file and their own; kinds of finding that
the check itself asks about are rules too. A waiver in use is a suppression, a story a thread flow,
the identity of a finding its fingerprint. What was not judged is a notification, and a rule that
was not decided a result that is open. There is no time in it: equal audits give equal text.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any
from urllib.parse import quote

from protocol_lang.audited import (
    Audit,
    FileReport,
    Found,
    Since,
    Standing,
    StoryLine,
    Waiver,
)
from protocol_lang.report.audit import gathered
from protocol_lang.text import shown
from protocol_lang.wording import audit as words

#: Where the form is published.
SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
VERSION = "2.1.0"

#: The name of our fingerprint; its number changes when identities are made otherwise.
FINGERPRINT = "cause/v1"

_LEVELS = {words.TO_CORRECT: "error", words.TO_CONSIDER: "note"}
_SINCE = {Since.NEW: "new", Since.OPEN: "unchanged", Since.REOPENED: "new"}

Data = dict[str, Any]


def render(audit: Audit) -> str:
    """The findings as JSON text in ASCII, with a last line feed."""
    return json.dumps(data(audit), indent=1, ensure_ascii=True) + "\n"


def data(audit: Audit) -> Data:
    """The same as plain values."""
    run = _Run(audit)
    return {"$schema": SCHEMA, "version": VERSION, "runs": [run.data()]}


def uri(file: str) -> str:
    """The name of a file as a relative reference (RFC 3986), all but plain letters encoded."""
    path = file.replace("\\", "/")
    try:
        as_bytes = path.encode("utf-8", "surrogateescape")  # a byte of a name that is no UTF-8
    except UnicodeEncodeError:
        as_bytes = path.encode("utf-8", "surrogatepass")
    return quote(as_bytes, safe="/-._~").lstrip("/")


def _message(text: str) -> Data:
    """A plain text message in which nothing is a placeholder or a link (SARIF 2.1.0, 3.11)."""
    safe = _shown(text).replace("{", "{{").replace("}", "}}").replace("](", "\\](")
    return {"text": safe}


def _shown(text: str) -> str:
    return "\n".join(map(shown, text.split("\n")))


class _Run:
    """One audit as one run."""

    def __init__(self, audit: Audit) -> None:
        self.audit = audit
        self.files = {file.file: number for number, file in enumerate(audit.files)}
        self.rules: list[Data] = []
        self.numbers: dict[str, int] = {}
        self.editions = {pack.title: pack.edition for pack in audit.packs}

    def data(self) -> Data:
        """The run, its rules gathered on the way."""
        for rule in gathered.rules(self.audit):
            self.rule(rule.pack, rule.rule, rule.strength, rule.sources, dict(rule.counts))
        for pack, title in self.audit.never:
            self.rule(pack, title, None, (), {}, never=True)
        results = [*self.results(), *self.closed()]
        return {
            "tool": {
                "driver": {
                    "name": "protocol-lang",
                    "version": self.audit.version,
                    "language": "en",
                    "rules": self.rules,
                }
            },
            "invocations": [
                {
                    "executionSuccessful": True,
                    "toolExecutionNotifications": list(self.notifications()),
                }
            ],
            "language": "en",
            "columnKind": "unicodeCodePoints",
            "artifacts": [self.artifact(file) for file in self.audit.files],
            "results": results,
            "properties": {
                "dayOfJudgement": self.audit.on.isoformat(),
                "packs": [
                    {
                        "title": _shown(pack.title),
                        "edition": pack.edition,
                        "fingerprint": _shown(pack.fingerprint),
                        "rules": pack.rules,
                        "settings": {_shown(key): _shown(value) for key, value in pack.settings},
                    }
                    for pack in self.audit.packs
                ],
                "incomplete": list(map(_shown, self.audit.incomplete)),
                "cautions": [words.PROVES, words.LOCAL_FIRST],
            },
        }

    # --- Rules and files --------------------------------------------------------------------------

    def rule(
        self,
        pack: str,
        title: str,
        strength: str | None,
        sources: Sequence[str],
        counts: dict[Standing, int],
        never: bool = False,
    ) -> str:
        """Notes a rule down once; gives its name."""
        name = f"{_shown(pack)}/{_shown(title)}"
        if name not in self.numbers:
            self.numbers[name] = len(self.rules)
            edition = self.editions.get(pack)
            told = words.rule_of(title, strength, words.pack(pack, edition))
            self.rules.append(
                {
                    "id": name,
                    "shortDescription": _message(title),
                    "fullDescription": _message(told),
                    "help": _message(words.sources(sources)),
                    "properties": {
                        "pack": _shown(pack),
                        "edition": edition,
                        "strength": strength,
                        "sources": list(map(_shown, sources)),
                        "appliedToNoFile": never,
                        "files": {one.value: counts.get(one, 0) for one in Standing},
                    },
                }
            )
        return name

    def kind(self, kind: str) -> str:
        """Notes a kind of finding down once, which no rule of a file asks about."""
        name = _shown(kind)
        if name not in self.numbers:
            self.numbers[name] = len(self.rules)
            self.rules.append({"id": name, "shortDescription": _message(kind)})
        return name

    def artifact(self, file: FileReport) -> Data:
        """A file of the audit."""
        return {
            "location": {"uri": uri(file.file)},
            "properties": {
                "state": file.state,
                "outcome": gathered.fate(file).value,
                "title": file.title and _shown(file.title),
                "edition": file.edition,
                "owner": file.owner and _shown(file.owner),
                "inForce": file.in_force.isoformat() if file.in_force else None,
                "reviewBy": file.review_by.isoformat() if file.review_by else None,
                "fingerprint": file.fingerprint and _shown(file.fingerprint),
                "restsOn": list(map(_shown, file.rests_on)),
                "lookedAt": list(map(_shown, file.looked_at)),
            },
        }

    def place(
        self, file: str, line: int | None, text: str | None = None, context: str | None = None
    ) -> Data:
        """A location; ``text``: the words there."""
        artifact: Data = {"uri": uri(file)}
        if file in self.files:
            artifact["index"] = self.files[file]
        physical: Data = {"artifactLocation": artifact}
        if line is not None and line >= 1:
            physical["region"] = {"startLine": line}
            if text:
                physical["region"]["snippet"] = {"text": _shown(text)}
        made: Data = {"physicalLocation": physical}
        if context:
            made["logicalLocations"] = [{"fullyQualifiedName": _shown(context)}]
        return made

    # --- Results ----------------------------------------------------------------------------------

    def results(self) -> Iterator[Data]:
        """One for each finding in each file, then what was not decided there."""
        for file in self.audit.files:
            waivers = {use.waiver.name: use.waiver for use in file.waivers if use.state == "in use"}
            for found in file.found:
                yield self.result(file, found, waivers.get(found.waived or ""))
            for rule in file.rules:
                if rule.standing is Standing.NOT_DECIDED:
                    name = self.rule(rule.pack, rule.rule, rule.strength, rule.sources, {})
                    why = rule.reason or words.NO_REASON
                    yield {
                        "ruleId": name,
                        "ruleIndex": self.numbers[name],
                        "kind": "open",
                        "level": "none",
                        "message": _message(
                            words.reason(rule.rule, rule.standing.value, why, file.file)
                        ),
                        "locations": [self.place(file.file, None)],
                        "baselineState": "unchanged",
                    }

    def result(self, file: FileReport, found: Found, waiver: Waiver | None) -> Data:
        """One finding in one file."""
        if found.rule is None:
            name = self.kind(found.kind)
        else:
            name = self.rule(found.pack or "", found.rule, found.strength, (), {})
        told = "\n".join(text for text in (found.sentence, found.because) if text)
        made: Data = {
            "ruleId": name,
            "ruleIndex": self.numbers[name],
            "kind": "fail",
            "level": _LEVELS.get(found.weight, "warning"),
            "message": _message(told),
            "locations": [self.place(file.file, found.line, found.words, found.context)],
            "fingerprints": {FINGERPRINT: _shown(found.identity)},
            "baselineState": _SINCE[found.since],
        }
        if found.story:
            made["codeFlows"] = [{"threadFlows": [self.flow(file, found.story)]}]
        if found.waived is not None:
            made["suppressions"] = [self.suppression(found.waived, waiver)]
        made["properties"] = {
            "kind": _shown(found.kind),
            "since": found.since.value,
            "choices": [f"{_shown(choice)}: {_shown(value)}" for choice, value in found.choices],
            "changes": list(map(_shown, found.changes)),
            "by": _shown(found.by or file.owner or ""),
            "until": found.until.isoformat() if found.until else None,
        }
        return made

    def flow(self, file: FileReport, story: Sequence[StoryLine]) -> Data:
        """A story: its steps in the order in which they are done."""
        return {
            "locations": [
                {
                    "location": {
                        **self.place(file.file, step.line),
                        "message": _message(self.step(step)),
                    },
                    "executionOrder": number,
                }
                for number, step in enumerate(story, start=1)
            ]
        }

    def step(self, step: StoryLine) -> str:
        """One step in words."""
        moved = "; ".join(words.moves(source, [goal]) for source, goal in step.moves)
        told = f"{words.visit(step.visit)}: {words.step(None, step.person, step.text)}"
        return f"{told} ({moved})" if moved else told

    def suppression(self, name: str, waiver: Waiver | None) -> Data:
        """A waiver in use."""
        made: Data = {"kind": "external", "status": "accepted"}
        if waiver is None:
            return {**made, "justification": _shown(name)}
        time = words.time_of(waiver.starts, waiver.ends, waiver.renewed, waiver.renewed_by)
        approved = words.approved_by(waiver.approved_by)
        told = f"{name}: {waiver.reason} ({time}; {words.ROW_APPROVED} {approved})"
        return {
            **made,
            "justification": _shown(told),
            "location": self.place(waiver.file, waiver.line),
        }

    def closed(self) -> Iterator[Data]:
        """Findings of an earlier report that are gone."""
        for file, codes in sorted(self.audit.closed.items()):
            for code in codes:
                yield {
                    "message": _message(words.CLOSED),
                    "level": "none",
                    "kind": "pass",
                    "locations": [self.place(file, None)],
                    "fingerprints": {FINGERPRINT: _shown(code)},
                    "baselineState": "absent",
                }

    def notifications(self) -> Iterator[Data]:
        """What was not judged, by file; then waivers that do not count, at their own lines."""
        for file in self.audit.files:
            told = [file.reason] if file.reason else []
            for text in (*told, *file.not_checked):
                yield {
                    "level": "warning",
                    "message": _message(text),
                    "locations": [self.place(file.file, None)],
                }
        for use, _ in gathered.waivers(self.audit):
            if use.state != "in use":
                about = [f"{use.waiver.name}: {use.state}", *([use.why] if use.why else [])]
                yield {
                    "level": "warning",
                    "message": _message("; ".join(about)),
                    "locations": [self.place(use.waiver.file, use.waiver.line)],
                }
