"""``python -m protocol_lang``: the same as the command ``protocol-lang``."""

import sys

from protocol_lang.cli import main

sys.exit(main())
