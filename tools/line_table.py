"""Writes ``grammar/lines.table``: what the parser library makes of ``grammar/lines.lark``.

Run by ``python -m tools.line_table`` from the folder of the project, after a change of the grammar
or of the edition of the library; a test fails when the table is that of another.
"""

from __future__ import annotations

import sys

from protocol_lang.language.reading.table import TABLE, by_table, grammar, table_of
from protocol_lang.resources import folder


def main() -> int:
    """Write the table, if the one at hand is of something else. Return 0.

    The library sets the same table down in another order each time, so one that holds is left.
    """
    if by_table() is None:
        (folder("grammar") / TABLE).write_bytes(table_of(grammar()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
