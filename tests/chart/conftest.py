"""What all tests of charts may use."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

#: Of so many files set last the typesetter remembers how it set them.
REMEMBERED = 11


@pytest.fixture
def forgotten() -> Iterator[None]:
    """After the test the typesetter forgets what it set: else a process grows to gigabytes."""
    yield
    import typst

    from protocol_lang import typesetter

    for _ in range(REMEMBERED):
        typst.compile(b" ", font_paths=typesetter._fonts(), ignore_system_fonts=True)
