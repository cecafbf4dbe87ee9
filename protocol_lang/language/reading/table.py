"""The parser of lines, from a table that is made beforehand: working it out takes half a second.

The table lies beside the grammar, in the folders of the program itself, and holds numbers and
words only: nothing in it is run. It says of which grammar and of which edition of the parser
library it is the table. If these are not the ones at hand, the parser is made from the grammar, so
that a table that is old or missing costs time and nothing else.
"""

from __future__ import annotations

import io
import pickle
import re
from typing import TYPE_CHECKING, NoReturn

from protocol_lang.resources import folder

if TYPE_CHECKING:
    from lark import Lark

#: The file of the table, in the folder of the grammar.
TABLE = "lines.table"

#: The rule for all lines that are told by their opening words.
BY_OPENING = "line"


def grammar() -> str:
    """The grammar of lines, as it is written."""
    return (folder("grammar") / "lines.lark").read_text(encoding="utf-8")


def starts_of(text: str) -> list[str]:
    """The rules of a grammar that a line may be parsed from."""
    return [BY_OPENING, *re.findall(r"^(lane|\w+_line):", text, re.MULTILINE)]


def parser_of(text: str) -> Lark:
    """The parser of a grammar, worked out anew."""
    from lark import Lark

    return Lark(text, parser="lalr", start=starts_of(text), maybe_placeholders=False)


def table_of(text: str) -> bytes:
    """The table of a grammar: what it is the table of, then what the library makes of it."""
    import lark

    written = io.BytesIO()
    parser_of(text).save(written)
    return pickle.dumps((lark.__version__, text)) + written.getvalue()


def parser() -> Lark:
    """The parser of the grammar at hand, by its table if there is one."""
    return by_table() or parser_of(grammar())


def by_table() -> Lark | None:
    """The parser that the table at hand describes; None if it is of something else, or missing."""
    table = folder("grammar") / TABLE
    return _from_table(table.read_bytes(), grammar()) if table.is_file() else None


def _from_table(table: bytes, text: str) -> Lark | None:
    """The parser that a table describes; None if it is the table of something else, or none."""
    import lark

    stream = io.BytesIO(table)
    try:
        if _Plain(stream).load() != (lark.__version__, text):
            return None
        return lark.Lark.load(_Plain(stream).load())
    except (pickle.UnpicklingError, EOFError):
        return None


class _Plain(pickle.Unpickler):
    """Reads numbers, words, and collections of them; refuses whatever would have to be looked up
    or called."""

    def find_class(self, module_name: str, global_name: str, /) -> NoReturn:
        raise pickle.UnpicklingError(f"{module_name}.{global_name} in a table of numbers and words")
