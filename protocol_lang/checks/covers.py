"""Changes for covers: not changed, not put on again, put on while one is there."""

from __future__ import annotations

from protocol_lang.checks.order import OrderFindings
from protocol_lang.checks.remedies import Trials, Worked
from protocol_lang.findings import Finding


def covers(trials: Trials, order: OrderFindings, finding: Finding) -> list[Worked]:
    """What puts a finding about a cover right, if it is known."""
    facts = finding.facts
    what = tuple(facts["what"].split(", "))
    act = order.act_at(finding)
    if finding.kind == "cover-not-changed":
        return trials.for_cover(facts["cover"], what, ("left over", facts["cover"]), act)
    if finding.kind == "cover-on-twice":
        key = ("misstep", "on twice", facts["step"])
        return [] if act is None else trials.for_second_cover(facts["cover"], what[0], act, key)
    begins = facts["begins"].removeprefix("covered with ")
    if begins == facts["begins"] or facts["ends"] != "bare":
        return []
    keys = [("not ready", "layer", number) for number in order.numbers_not_ready(what)]
    worked = trials.for_cover(begins, what, keys[0], None)
    return [one for one in worked if not one.left.intersection(keys)]
