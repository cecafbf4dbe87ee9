"""What rules say of one protocol: facts only; the words are in :mod:`protocol_lang.wording`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum

from protocol_lang.findings import Finding
from protocol_lang.model.rules import Rule


class Verdict(Enum):
    """What became of one rule on one protocol.

    ``NOT_APPLICABLE``: nothing in the protocol is what the rule speaks of; that is no approval.
    """

    MET = "met"
    FAILED = "failed"
    NOT_APPLICABLE = "not applicable"
    NOT_DECIDED = "not decided"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a rule was not applied, or not decided: ``kind`` and ``facts`` for the wording."""

    kind: str
    facts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class RuleVerdict:
    """One rule on one protocol.

    ``pack``: the title of the file of rules. ``findings``: where it fails, one for each thing or
    person that it fails for, each of kind "rule-failed" and with the story of a permitted order.
    """

    pack: str
    rule: Rule
    verdict: Verdict
    findings: tuple[Finding, ...] = ()
    reason: Reason | None = None
