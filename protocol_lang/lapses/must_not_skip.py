"""Which steps a wall chart marks: those whose omission alone lets soil get to somebody."""

from __future__ import annotations

from protocol_lang.contamination.judge import Judgement
from protocol_lang.contamination.unfold import Unfolded
from protocol_lang.lapses.doing import NoListedOrder
from protocol_lang.lapses.kinds import Kind
from protocol_lang.lapses.spread import Opens, listed_only
from protocol_lang.lapses.telling import WORD, lapses_in
from protocol_lang.text import Place
from protocol_lang.wording.lapsed import CONSEQUENCE


def must_not_skip(unfolded: Unfolded, judgement: Judgement) -> dict[Place, str]:
    """By the place of a step, what leaving it out alone leads to, in at most six words.

    The worst is told: another patient before staff before dirt of the room. Only the order in which
    the steps are listed is done, all lapses and choices in one pass: each mark is proved by it, and
    a step that matters in another order only has none. That takes a tenth of the time.
    """
    if judgement.layout is None or not judgement.judged & judgement.ready:
        return {}
    try:
        lapses = lapses_in(unfolded, judgement)
    except NoListedOrder:
        return {}
    sets = [
        (number,)
        for number, lapse in enumerate(lapses.all)
        if lapse.kind in (Kind.LEFT_OUT, Kind.CUT_SHORT)
    ]
    surely = listed_only(lapses, [(), *sets])
    found: dict[Place, str] = {}
    for what in Opens:
        if surely[what] & 1:
            continue  # open as it is
        for place, (number,) in enumerate(sets, start=1):
            where = unfolded.acts[lapses.all[number].act].place
            if surely[what] >> place & 1 and where is not None:
                found.setdefault(where, CONSEQUENCE[WORD[what]])
    return found
