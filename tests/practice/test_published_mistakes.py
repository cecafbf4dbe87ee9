"""Published mistakes are told, and published good practice is not.

The sources stand beside each mistake in :mod:`tests.practice.published`; the good orders are those
of the shipped protocols, whose tests name theirs.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.practice.published import MISTAKES, OUTSIDE, Mistake, seen


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.title)
def test_a_published_mistake_is_told(mistake: Mistake, tmp_path: Path) -> None:
    found = seen(tmp_path, mistake)
    assert mistake.check or mistake.rules
    if mistake.check:
        assert mistake.check & found.check
    if mistake.rules:
        told = mistake.rules & set(found.rules)
        assert told
        if mistake.error and not mistake.check:
            assert any(found.rules[title] for title in told), "it is to be corrected"
    if not mistake.error:
        assert not found.check and not any(found.rules.values()), "it is something to consider"


def test_what_cannot_be_said_has_its_reason() -> None:
    assert all(OUTSIDE.values())
    assert not {mistake.title for mistake in MISTAKES} & set(OUTSIDE)
