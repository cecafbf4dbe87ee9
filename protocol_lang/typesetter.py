"""The one place that calls the typesetter: a template and plain values in, measures or pages out.

All text reaches a template as data (JSON) and is set as plain strings; nothing in it is read as
markup or code.
"""

from __future__ import annotations

import importlib.util
import json
import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    import typst

Format = Literal["pdf", "svg", "png"]

#: What a PDF of ours keeps to: ISO 19005-2 level A (it lasts) and ISO 14289-1 (it is accessible).
STANDARDS: tuple[Literal["a-2a", "ua-1"], ...] = ("a-2a", "ua-1")


class CannotPrint(Exception):
    """What was asked for cannot be set in type; the text is one sentence for people, with the mend.

    ``letters``: those that no font has, if that is the reason.
    """

    def __init__(self, sentence: str, letters: str = "") -> None:
        super().__init__(sentence)
        self.letters = letters


@cache
def _fonts() -> typst.Fonts:
    import typst

    found = importlib.util.find_spec("manimgx_fonts")
    places = list(found.submodule_search_locations or ()) if found else []
    if not places:
        raise CannotPrint(
            'The fonts for print are missing (package "manimgx-fonts"). Install the program again.'
        )
    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[Path(places[0])]
    )


@cache
def families() -> tuple[str, ...]:
    """Noto Sans first, then its siblings for other scripts."""
    others = sorted(name for name in set(_fonts().families()) if name != "Noto Sans")
    return ("Noto Sans", *(name for name in others if name != "Noto Emoji"))


def measured(template: Path, name: str, given: Mapping[str, Any], root: Path | None = None) -> Any:
    """What the template measures: the value labelled ``measured``, which it writes as JSON.

    ``name``: under which the template reads what is ``given``. ``root``: the folder from which it
    may take other templates; its own, if none is told.
    """
    import typst

    found = typst.query(
        template,
        "<measured>",
        field="value",
        one=True,
        root=root or template.parent,
        font_paths=_fonts(),
        ignore_system_fonts=True,
        sys_inputs={name: json.dumps(given)},
    )
    return json.loads(found)


def compiled(
    template: Path,
    name: str,
    given: Mapping[str, Any],
    format: Format = "pdf",
    *,
    pixels_per_inch: float = 144,
    dated: date | None = None,
    root: Path | None = None,
) -> list[bytes]:
    """The pages: one PDF of all, or each as a picture. The same values give the same bytes.

    ``dated``: the day that the PDF carries as its date; its standards ask for one. ``root``: as
    of :func:`measured`.
    Raises :class:`CannotPrint` when no font has a letter (in PDF only), AssertionError when the
    typesetter has anything else to say: a fault of the template.
    """
    import typst

    try:
        made, warnings = typst.compile_with_warnings(
            template,
            root=root or template.parent,
            format=format,
            font_paths=_fonts(),
            ignore_system_fonts=True,
            sys_inputs={name: json.dumps(given)},
            pdf_standards=list(STANDARDS) if format == "pdf" else [],
            ppi=pixels_per_inch,
            timestamp=_noon(dated),
        )
    except typst.TypstError as error:
        if "could not be displayed" in str(error):
            raise _no_letter(str(error)) from error
        raise
    if warnings:
        raise AssertionError(f"the typesetter warns: {warnings}")
    return made if isinstance(made, list) else [made or b""]


def _noon(day: date | None) -> int:
    """Seconds since 1970; a fixed day where there is none, so that equal sheets are equal bytes."""
    moment = datetime.combine(day or date(2000, 1, 1), time(12), tzinfo=UTC)
    return int(moment.timestamp())


def _no_letter(message: str) -> CannotPrint:
    """The typesetter's complaint about a letter without a font, in our words."""
    quoted = re.search(r'text `?"(.+?)"`? could not be displayed', message)
    letters = quoted.group(1) if quoted else ""
    named = ", ".join(f"{letter} (U+{ord(letter):04X})" for letter in dict.fromkeys(letters))
    return CannotPrint(
        f"No font of this program has a letter that is to be printed: {named or message}.", letters
    )
