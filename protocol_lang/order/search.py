from __future__ import annotations

from protocol_lang.order.effects import Effects
from protocol_lang.order.question import Answer, Effort, Question
from protocol_lang.order.relaxed import Graph


def search(
    effects: Effects, question: Question, graph: Graph | None, budget: int, effort: Effort
) -> Answer | None:
    return None
