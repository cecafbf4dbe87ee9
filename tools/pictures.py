"""Makes the pictures that pages show, into ``docs/pictures/``: two charts, the rates of lapses, a
protocol in colours.

Run by ``python -m tools.pictures`` from the folder of the project, with what the tests need set up.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image
from pygments.formatters import ImageFormatter

from protocol_lang.editors.lexer import ProtocolLexer

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"

#: Two people at work, as on a day that stays the same; and what the tutorial ends with.
_CHARTS = {
    "wall-chart.png": (
        "--choice",
        "staffing=paired",
        "--choice",
        "shielding=none",
        "--paper",
        "A2",
    ),
    "tutorial.png": ("--choice", "staffing=alone", "--choice", "shielding=none", "--paper", "A3"),
}
_PROTOCOL = ROOT / "protocols" / "imaging-room-2" / "intraoral-wired-sensor.protocol"

#: Lines of it that have most colours.
_COLOURED = slice(22, 60)

#: Which published rate matters most, as a picture.
_RATES = (
    *("lapses", "protocols/imaging-room-2/intraoral-wired-sensor.protocol"),
    *("--rates", "--together", "1", "--picture", str(PICTURES / "rates.svg"), "--on", "2026-11-02"),
)


def main() -> int:
    """Make them, and make the files small. Return 0, or the exit code of the printing."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    for name, choices in _CHARTS.items():
        if code := _chart(PICTURES / name, choices):
            return code
    _colours(PICTURES / "colours.png")
    drawn = subprocess.run(
        [sys.executable, "-m", "protocol_lang", *_RATES], cwd=ROOT, stdout=subprocess.DEVNULL
    )
    return drawn.returncode


def _chart(path: Path, choices: tuple[str, ...]) -> int:
    """Print a chart; of several sheets the first is kept."""
    with tempfile.TemporaryDirectory() as where:
        command = ("chart", str(_PROTOCOL), *choices, "--on", "2026-11-02")
        to = ("-o", str(Path(where) / "chart.png"))
        ended = subprocess.run([sys.executable, "-m", "protocol_lang", *command, *to], cwd=ROOT)
        if ended.returncode == 0:
            with Image.open(min(Path(where).iterdir())) as printed:
                small = printed.convert("RGB").resize(
                    (1600, round(1600 * printed.height / printed.width))
                )
            small.quantize(256).save(path, optimize=True)
    return ended.returncode


def _colours(path: Path) -> None:
    """Some lines as an editor shows them."""
    lines = _PROTOCOL.read_text("utf-8").splitlines(keepends=True)
    # Opening words are known by the section they stand in, which the lines before tell.
    shown, rows = "".join(lines[_COLOURED]), []
    made = ProtocolLexer(stripnl=False).get_tokens("".join(lines[: _COLOURED.stop]))
    before = sum(len(line) for line in lines[: _COLOURED.start])
    for kind, words in made:
        if before <= 0:
            rows.append((kind, words))
        before -= len(words)
    assert "".join(words for _, words in rows) == shown
    style = {"font_size": 22, "line_numbers": False, "style": "friendly", "image_pad": 24}
    drawn = ImageFormatter(**style)
    with io.BytesIO() as held:
        drawn.format(iter(rows), held)
        with Image.open(held) as picture:
            picture.convert("RGB").quantize(32).save(path, optimize=True)


if __name__ == "__main__":
    sys.exit(main())
