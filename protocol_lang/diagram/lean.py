"""The typesetter's SVG in a third of its size, and with words for those who do not see it.

Letters are outlines, so the picture needs no fonts; each letter that is shown refers to its outline
by a long name, with a colour of its own. Short names, colours told once a run, and figures to a
hundredth of a point leave the same picture.
"""

from __future__ import annotations

import re
from collections import Counter
from html import escape

_NAME = re.compile(r'(?<=id=")[gcpr][0-9A-F]{20,}(?=")')
_REFERENCE = re.compile(
    r'(?<=href="#)[gcpr][0-9A-F]{20,}(?=")|(?<=url\(#)[gcpr][0-9A-F]{20,}(?=\))'
)
_FIGURE = re.compile(r"-?\d+\.\d{3,}")
_RUN = re.compile(
    r'<g (transform="matrix\([^"]*\)")>((?:<use xlink:href="#[^"]*" x="[^"]*" y="0"'
    r' fill="(?P<fill>#[0-9a-f]{6})" fill-rule="nonzero"/>)+)</g>'
)
_LINE = re.compile(r'(<g transform="[^"]*" fill="[^"]*">)((?:<use [^>]*/>){2,})</g>')

#: What SVG takes for granted.
_USUAL = re.compile(
    r' (?:fill-rule="nonzero"|stroke-linecap="butt"|stroke-linejoin="miter"|stroke-miterlimit="4")'
)


def lean(svg: str, title: str, words: str) -> str:
    """The picture with its ``title``, and told in ``words``."""
    names = {name: f"a{number:x}" for number, name in enumerate(dict.fromkeys(_NAME.findall(svg)))}
    svg = _REFERENCE.sub(lambda match: names.get(match[0], match[0]), svg)
    svg = _NAME.sub(lambda match: names[match[0]], svg)
    svg = _FIGURE.sub(_shorter, _RUN.sub(_run, svg))
    svg = _words_once(_USUAL.sub("", svg))
    first, tag, rest = svg.partition("<svg ")
    opening, _, body = rest.partition(">")
    told = f"<title>{_said(title)}</title><desc>{_said(words)}</desc>"
    return f'{first}{tag}role="img" {opening}>{told}{body}'


def _run(match: re.Match[str]) -> str:
    fill = match["fill"]
    if set(re.findall(r'fill="(#[0-9a-f]{6})"', match[2])) != {fill}:
        return match[0]
    letters = (
        match[2].replace(f' y="0" fill="{fill}" fill-rule="nonzero"', "").replace(' x="0"', "")
    )
    return f'<g {match[1]} fill="{fill}">{letters}</g>'


def _words_once(svg: str) -> str:
    """Lines of words that come again are kept once, like letters."""
    often = Counter(match[2] for match in _LINE.finditer(svg))
    again = {words: f"w{n:x}" for n, words in enumerate(w for w in often if often[w] > 1)}
    svg = _LINE.sub(
        lambda match: (
            f'{match[1]}<use xlink:href="#{again[match[2]]}"/></g>'
            if match[2] in again
            else match[0]
        ),
        svg,
    )
    kept = "".join(
        f'<symbol id="{name}" overflow="visible">{words}</symbol>' for words, name in again.items()
    )
    return svg.replace("<defs>", f"<defs>{kept}", 1) if "<defs>" in svg else svg


def _shorter(match: re.Match[str]) -> str:
    return f"{float(match[0]):.2f}".rstrip("0").rstrip(".")


def _said(words: str) -> str:
    return escape("".join(one if one.isprintable() else " " for one in words), quote=False)
