"""Why a chart cannot be printed."""

from __future__ import annotations

from protocol_lang.typesetter import CannotPrint

__all__ = ["CannotPrint"]
