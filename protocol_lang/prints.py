"""Fingerprints: a short code of what files say, wherever they lie."""

from __future__ import annotations

from base64 import b32encode
from collections.abc import Iterable
from hashlib import sha256

from protocol_lang.text import Text

#: Letters of a fingerprint, of 32 kinds: 60 bits.
LETTERS = 12


def of_texts(texts: Iterable[Text]) -> str:
    """Of a file (the first) and all that it takes from.

    It rests on the lines alone: not on names, folders or ends of lines, nor on the order in which
    files are taken from. A file that is there twice counts once.
    """
    return _code(_said(texts))


def in_full(texts: Iterable[Text]) -> str:
    """The same, whole: SHA-256 in hexadecimal. Shorter codes are made of it."""
    return _digest(_said(texts)).hex()


def of_bytes(content: bytes) -> str:
    """Of one file as it is."""
    return _code(content)


def _said(texts: Iterable[Text]) -> bytes:
    first, *others = (_digest("\n".join(text.lines).encode()) for text in texts)
    return first + b"".join(sorted(set(others) - {first}))


def _digest(content: bytes) -> bytes:
    return sha256(content).digest()


def _code(content: bytes) -> str:
    return b32encode(_digest(content)).decode("ascii").lower()[:LETTERS]
