"""What a finding is about, apart from the run that shows it: to compare two checks of one
protocol."""

from __future__ import annotations

from protocol_lang.checks.story import Names
from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.kernel import OF_PATIENTS, Origin, Reached
from protocol_lang.contamination.supplies import Short, Unsettled, shortages
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.contamination.visits import Hit, Suspect

#: A kind of finding and the names it is about.
Key = tuple[str, ...]


def short_of(unfolded: Unfolded, judgement: Judgement) -> tuple[Short | Unsettled, ...]:
    """Supplies of which more can be taken than are laid out, or of which that is not decided."""
    layout = judgement.layout
    if layout is None or judgement.no_run or not judgement.judged:
        return ()
    return shortages(layout.network, unfolded.supplies, judgement.judged)


def key_of_soil(names: Names, hit: Hit | Suspect, unfolded: Unfolded) -> Key:
    """Whom or what soil reaches, or may reach."""
    if hit.who is Reached.CLAIM:
        note = unfolded.claims[hit.claim]
        return ("not clean", str(note.place), names.spot(hit.spot))
    origin = "patient" if hit.origin in OF_PATIENTS else "world"
    if hit.origin is Origin.CHEMICAL:
        origin = "chemical"
    return (hit.who.value, origin, names.spot(hit.spot))


def keys_of(unfolded: Unfolded, judgement: Judgement) -> frozenset[Key]:
    """The keys of everything found, and of everybody whom soil may reach.

    What is not among them is proved not to be the case.
    """
    names = Names(unfolded)
    plan = unfolded.plan
    keys: set[Key] = set()
    if judgement.circle is not None or judgement.no_run:
        keys.add(("no order",))
    for act in judgement.never:
        keys.add(("never", unfolded.acts[act].text))
    for misstep in judgement.missteps:
        keys.add(("misstep", misstep.misstep.kind, unfolded.acts[misstep.misstep.act].text))
    for which in judgement.which:
        keys.add(("which", unfolded.acts[which.act].text))
    for claim in judgement.claims:
        keys.add(key_of_claim(unfolded, claim.act, claim.claim))
    for one in judgement.not_ready:
        keys.add(("not ready", one.kind, str(one.number)))
    for left in judgement.left_over:
        keys.add(("left over", plan.pieces[left.piece].name))
    keys |= {("short", one.supply.thing) for one in short_of(unfolded, judgement)}
    for suspect in judgement.suspects:
        keys.add(key_of_soil(names, suspect, unfolded))
    return frozenset(keys)


def key_of_claim(unfolded: Unfolded, act: int, claim: int) -> Key:
    """A claim before a step."""
    note = unfolded.claims[claim]
    return ("claim", note.kind, str(note.place), unfolded.acts[act].text)
