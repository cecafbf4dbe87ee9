"""Prints how many published mistakes are told, by whom, and how much good practice is told wrongly.

Run by ``python -m tools.mistakes`` from the folder of the project. The mistakes are those of
``tests/practice/published.py``; good practice is every protocol that is shipped.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from protocol_lang.findings import Weight
from protocol_lang.pipeline import check_file
from protocol_lang.rules import Subject, Verdict, judge_rules
from tests.practice.kit import ROOM, ROOM_3
from tests.practice.published import MISTAKES, OUTSIDE, books, seen


def main() -> int:
    """Print both tables. Return 1 if a mistake is missed or good practice is told as a fault."""
    missed = _mistakes()
    wrong = _good()
    return 1 if missed or wrong else 0


def _mistakes() -> int:
    print("Published mistakes, and what tells them\n")
    counts = {"check and rules": 0, "check": 0, "rules": 0, "nothing": 0}
    for mistake in MISTAKES:
        with tempfile.TemporaryDirectory() as where:
            found = seen(Path(where), mistake)
        check = bool(mistake.check & found.check)
        rules = bool(mistake.rules & set(found.rules))
        by = {
            (True, True): "check and rules", (True, False): "check",
            (False, True): "rules", (False, False): "nothing",
        }[check, rules]  # fmt: skip
        counts[by] += 1
        print(f"  {by:16} {mistake.title}")
    for title, reason in OUTSIDE.items():
        print(f"  {'outside':16} {title}: {reason}")
    told = len(MISTAKES) - counts["nothing"]
    print(f"\n  told: {told} of {len(MISTAKES)};", end=" ")
    print(", ".join(f"by {by} {number}" for by, number in counts.items() if by != "nothing"))
    return counts["nothing"]


def _good() -> int:
    print("\nGood practice, and what is told of it\n")
    wrong = total = 0
    for room in (ROOM, ROOM_3):
        for path in sorted(room.glob("*.protocol")):
            one = check_file(path, mend=False)
            if one.protocol is None:
                continue
            total += 1
            subject = Subject(one.protocol, one.unfolded, one.judgement)
            faults = [
                verdict.rule.title
                for verdict in judge_rules(books(), subject)
                if verdict.verdict is Verdict.FAILED
                and any(finding.weight is Weight.CORRECT for finding in verdict.findings)
            ]
            faults += [f.kind for f in one.outcome.findings if f.weight is Weight.CORRECT]
            wrong += bool(faults)
            print(f"  {'told wrongly' if faults else 'silent':16} {path.stem} {', '.join(faults)}")
    print(f"\n  told wrongly: {wrong} of {total}")
    return wrong


if __name__ == "__main__":
    sys.exit(main())
