"""The folders that travel with the program: ``grammar`` and ``protocols``.

In a checkout they lie beside the package, in an installed program inside it. This module is the
only place that knows.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

#: The folders by name.
Folder = Literal["grammar", "protocols"]

_PACKAGE = Path(__file__).resolve().parent


def folder(name: Folder) -> Path:
    """The absolute path of a folder that travels with the program.

    Works in a wheel, in an editable install and in a checkout that is not installed at all, also
    when the checkout hides an installed program. A folder beside the running code goes before one
    that is installed elsewhere: grammar and code belong together. The program must lie in ordinary
    files (not inside a zip archive).

    Raises :class:`FileNotFoundError` when the folder is in neither place: the install is damaged.
    """
    for path in (_PACKAGE / name, _PACKAGE.parent / name):
        if (path / "__init__.py").is_file():
            return path
    raise FileNotFoundError(
        f'The folder "{name}" of this program is missing. Install the program again.'
    )
