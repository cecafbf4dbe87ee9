"""Why something cannot be counted."""

from __future__ import annotations


class CannotCount(Exception):
    """What was asked cannot be told: ``sentence`` says why, and what to do."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence
