"""One question about every order that a partial order permits, and exact answers to it.

The package knows events, orders, blocks, worlds, registers and carried marks, and nothing of the
field that the rest of the project serves. It can be used alone::

    from protocol_lang.order import Network, Question, close, decide

See :mod:`protocol_lang.order.question` for the words and their meaning. The modules, upward::

    question    the words                     bits, partial   sets of events, growing partial orders
    network     closing a network, cycles     runs            one run, and how many runs there are
    effects     what each event can do        relaxed         what surely cannot be reached
    search      our own search for a route    solver          the rest, by clause learning
    replay      every run found is executed   deciding        these one after the other
"""

from protocol_lang.order.deciding import any_run, decide, decide_all
from protocol_lang.order.effects import START, Effects, possible_values
from protocol_lang.order.network import (
    Cycle,
    MalformedNetworkError,
    before_from_pairs,
    close,
    validate,
    with_order,
)
from protocol_lang.order.question import (
    Answer,
    Bits,
    Block,
    Budget,
    Carry,
    Effort,
    Found,
    Hop,
    Impossible,
    Network,
    Question,
    Register,
    Stand,
    Undecided,
    Way,
)
from protocol_lang.order.relaxed import Reach, forward, reach
from protocol_lang.order.replay import (
    WrongAnswerError,
    done_in_order,
    replay,
    targets_hit,
    traced,
    worlds_shown,
)
from protocol_lang.order.runs import RunCount, RunCounts, count_runs

__all__ = [
    "START",
    "Answer",
    "Bits",
    "Block",
    "Budget",
    "Carry",
    "Cycle",
    "Effects",
    "Effort",
    "Found",
    "Hop",
    "Impossible",
    "MalformedNetworkError",
    "Network",
    "Question",
    "Reach",
    "Register",
    "RunCount",
    "RunCounts",
    "Stand",
    "Undecided",
    "Way",
    "WrongAnswerError",
    "any_run",
    "before_from_pairs",
    "close",
    "count_runs",
    "decide",
    "decide_all",
    "done_in_order",
    "forward",
    "possible_values",
    "reach",
    "replay",
    "targets_hit",
    "traced",
    "validate",
    "with_order",
    "worlds_shown",
]
