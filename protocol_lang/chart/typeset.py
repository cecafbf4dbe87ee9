"""The one place that calls the typesetter: plain values in, measures or pages out."""

from __future__ import annotations

import importlib.util
import json
import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from protocol_lang.chart.faults import CannotPrint

if TYPE_CHECKING:
    import typst

Format = Literal["pdf", "svg", "png"]

TEMPLATE = Path(__file__).with_name("page.typ")


@cache
def _fonts() -> typst.Fonts:
    import typst

    found = importlib.util.find_spec("manimgx_fonts")
    places = list(found.submodule_search_locations or ()) if found else []
    if not places:
        raise CannotPrint(
            'The fonts for charts are missing (package "manimgx-fonts"). Install the program again.'
        )
    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[Path(places[0])]
    )


@cache
def families() -> tuple[str, ...]:
    """Noto Sans first, then its siblings for other scripts."""
    others = sorted(name for name in set(_fonts().families()) if name != "Noto Sans")
    return ("Noto Sans", *(name for name in others if name != "Noto Emoji"))


def query(given: Mapping[str, Any]) -> Any:
    """What the template measures: heights of head, foot and pieces, in points."""
    import typst

    found = typst.query(
        TEMPLATE,
        "<measured>",
        field="value",
        one=True,
        root=TEMPLATE.parent,
        font_paths=_fonts(),
        ignore_system_fonts=True,
        sys_inputs={"chart": json.dumps(given)},
    )
    return json.loads(found)


def compiled(
    given: Mapping[str, Any],
    format: Format,
    pixels_per_inch: float,
    dated: date | None,
    template: Path = TEMPLATE,
) -> list[bytes]:
    """``dated``: the day that the PDF carries as its date; its standard asks for one.

    ``template``: a file of this folder, which is given ``given`` as data.
    """
    import typst

    try:
        made, warnings = typst.compile_with_warnings(
            template,
            root=template.parent,
            format=format,
            font_paths=_fonts(),
            ignore_system_fonts=True,
            sys_inputs={"chart": json.dumps(given)},
            pdf_standards=["a-2a", "ua-1"] if format == "pdf" else [],
            ppi=pixels_per_inch,
            timestamp=_noon(dated),
        )
    except typst.TypstError as error:
        if "could not be displayed" in str(error):
            raise CannotPrint(_no_letter(str(error))) from error
        raise
    if warnings:
        raise AssertionError(f"the typesetter warns: {warnings}")
    return made if isinstance(made, list) else [made or b""]


def _noon(day: date | None) -> int:
    """Seconds since 1970; a fixed day where there is none, so that equal sheets are equal bytes."""
    moment = datetime.combine(day or date(2000, 1, 1), time(12), tzinfo=UTC)
    return int(moment.timestamp())


def _no_letter(message: str) -> str:
    """The typesetter's complaint about a letter without a font, in our words."""
    quoted = re.search(r'text `?"(.+?)"`? could not be displayed', message)
    letters = quoted.group(1) if quoted else ""
    named = ", ".join(f"{letter} (U+{ord(letter):04X})" for letter in dict.fromkeys(letters))
    return f"No font of this program has a letter that the chart needs: {named or message}."
