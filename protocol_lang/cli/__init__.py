"""The command line: options and files in, text and an exit code out, no words of the trade.

``entry`` turns whatever happens into an exit code, ``group`` finds the commands, each of which is
the module of its own name; ``terminal`` is the only way to the screen.
"""

from protocol_lang.cli.entry import main

__all__ = ["main"]
