"""Running many seeded instances against an oracle, and telling what occurred."""

from __future__ import annotations

import os
import random
from collections import Counter
from collections.abc import Iterator

from protocol_lang.order import Network, Question
from tests.order import networks

#: The long mode: a hundred times the instances.
LONG = os.environ.get("PROTOCOL_LANG_LONG") == "1"

SMALL = networks.Shape()
#: Loosely ordered and with more places, so that relaxation settles less of them.
LOOSE = networks.Shape(events=(7, 10), positions=(3, 5), order=0.15, lanes=4, moving=0.95)


def times(usual: int) -> int:
    """How many seeds to run: ``usual`` in the usual mode."""
    return usual * 100 if LONG else usual


def instances(
    first: int, count: int, shape: networks.Shape = SMALL, tally: Counter[str] | None = None
) -> Iterator[tuple[int, Network, Question]]:
    """(seed, network, question) for ``count`` seeds; contradictory networks are left out."""
    for seed in range(first, first + count):
        rng = random.Random(seed)
        network = networks.network(rng, shape)
        if network is None:
            if tally is not None:
                tally["contradictory network"] += 1
            continue
        question = networks.question(rng, network, shape)
        if tally is not None:
            tally.update(networks.features(network, question))
        yield seed, network, question


def show(title: str, tally: Counter[str]) -> None:
    """Print what occurred how often (shown by pytest -s or -rP)."""
    print(f"\n{title}")
    for name, count in sorted(tally.items()):
        print(f"  {name:<28} {count:>8}")
