"""Records as JSON and back, for reports and for what goes between processes.

The form of a report is described by ``audit-1.schema.json`` beside this module (JSON Schema, draft
2020-12). The number in its name changes when a program that reads version 1 could no longer do so.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, TypeVar

import msgspec

from protocol_lang.audit.views import standing
from protocol_lang.audited import Audit
from protocol_lang.wording import basis

#: Where the form is described.
SCHEMA = Path(__file__).with_name("audit-1.schema.json")

#: A report that is longer, in bytes, is not read.
MOST_BYTES = 512 << 20

Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class Report:
    """A report of an audit, as it is written. ``standing``: how the whole ended."""

    form: Literal["audit"]
    form_version: Literal[1]
    standing: Literal["to correct", "not checked", "nothing to correct"]
    audit: Audit
    cautions: tuple[str, ...]


class NotAReport(Exception):
    """Something that is no report of an audit: ``why`` says what is wrong with it."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


def render(audit: Audit) -> bytes:
    """The report as JSON in ASCII, one line feed at its end; the same bytes for the same audit."""
    report = Report("audit", 1, standing(audit).value, audit, tuple(basis.CAUTIONS))
    plain = msgspec.to_builtins(report, order="deterministic")
    return (json.dumps(_sound(plain), indent=1, ensure_ascii=True) + "\n").encode("ascii")


def read(text: bytes) -> Audit:
    """The audit that a report tells of; raises :class:`NotAReport`."""
    try:
        return msgspec.json.decode(text, type=Report, strict=True).audit
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as problem:
        raise NotAReport(str(problem)) from None


def schema() -> dict[str, Any]:
    """The form of a report, made from the records."""
    made = msgspec.json.schema(Report)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A report of protocol-lang audit",
        **made,
    }


def line(value: object) -> bytes:
    """A record on one line."""
    return msgspec.json.encode(_sound(msgspec.to_builtins(value))) + b"\n"


def from_line(text: bytes, kind: type[Value]) -> Value:
    """A record from its line."""
    return msgspec.json.decode(text, type=kind)


def _sound(value: Any) -> Any:
    """The value, with halves of surrogate pairs, which are no text, shown as escapes."""
    if isinstance(value, str):
        return value if value.isascii() else _escaped(value)
    if isinstance(value, dict):
        return {_sound(key): _sound(inner) for key, inner in value.items()}
    return [_sound(inner) for inner in value] if isinstance(value, list | tuple) else value


def _escaped(text: str) -> str:
    return text.encode("utf-8", "backslashreplace").decode("utf-8")
