"""The drawings: sound files, shapes and colours as their meaning asks for, told apart small."""

import io
import itertools
import math
import re
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import page as validator
import pytest
import typst
from PIL import Image, ImageChops, ImageStat

from protocol_lang.chart.pictograms import COLOURS, PICTOGRAMS, Kind, Pictogram, drawing
from tests.chart.test_inks import contrast

SVG = "{http://www.w3.org/2000/svg}"
EVERY = [pytest.param(one, id=name) for name, one in PICTOGRAMS.items()]


def test_there_is_a_file_for_each_and_no_other():
    folder = next(iter(PICTOGRAMS.values())).file.parent
    assert {path.stem for path in folder.glob("*.svg")} == set(PICTOGRAMS)
    assert len(PICTOGRAMS) >= 24
    with pytest.raises(KeyError):
        drawing("no such sign")


@pytest.mark.parametrize("one", EVERY)
def test_a_file_is_a_drawing_and_nothing_else(one: Pictogram):
    root = ElementTree.fromstring(drawing(one.name))
    assert root.tag == f"{SVG}svg" and root.get("viewBox") == "0 0 100 100"
    title = root.find(f"{SVG}title")
    assert title is not None and title.text == one.meaning
    allowed = {f"{SVG}{name}" for name in ("svg", "title", "g", "circle", "path")}
    for element in root.iter():
        assert element.tag in allowed
        for name, value in element.items():
            assert not name.startswith("on") and "href" not in name and name != "style"
            assert "url(" not in value and "://" not in value.replace("http://www.w3.org", "")


#: Which colours a sign of each kind is made of. ISO 3864-1: blue and white; red, white and black;
#: yellow and black.
COLOURS_OF = {
    Kind.MANDATORY: {"blue", "white"},
    Kind.PROHIBITION: {"red", "white", "black"},
    Kind.WARNING: {"yellow", "black"},
}


@pytest.mark.parametrize("one", EVERY)
def test_colours_are_those_of_the_kind(one: Pictogram):
    used = set(re.findall(r'"(#[0-9a-f]{6})"', drawing(one.name)))
    assert used == {COLOURS[name] for name in COLOURS_OF[one.kind]}


def test_the_blue_is_signal_blue():
    # ISO 7010: mandatory signs in RAL 5005, signal blue. Its value in sRGB is from memory.
    assert COLOURS["blue"] == "#005387"


@pytest.mark.parametrize(
    ("symbol", "ground"),
    [("white", "blue"), ("black", "white"), ("black", "yellow"), ("red", "white")],
)
def test_contrast(symbol, ground):
    # WCAG 2.x, 1.4.11: at least 3 for graphics that have to be understood.
    assert contrast(COLOURS[symbol], COLOURS[ground]) >= 3


def test_contrast_of_a_printer_without_colours():
    # Red beside the black symbol under it, which a white edge keeps apart on paper without colour.
    assert contrast(COLOURS["blue"], COLOURS["white"]) >= 4.5
    for name in ("do-not-touch", "do-not-enter"):
        assert re.search(r'stroke="#ffffff" stroke-width="12"', drawing(name))


def svg_page(names: list[str], millimetres: float) -> bytes:
    """A page that shows these signs, whose drawings come in by name."""
    images = "".join(
        f'#box(image(bytes(sys.inputs.at("{name}")), format: "svg", width: {millimetres}mm, '
        f'alt: "{PICTOGRAMS[name].meaning}"))'
        for name in names
    )
    return (
        '#set document(title: "signs")\n#set text(lang: "en")\n'
        f"#set page(width: {millimetres}mm, height: auto, margin: 0pt)\n{images}"
    ).encode()


@cache
def picture(name: str, millimetres: float, dots_per_inch: float) -> Image.Image:
    """The sign alone, on white."""
    made = typst.compile(
        svg_page([name], millimetres),
        format="png",
        ppi=dots_per_inch,
        sys_inputs={name: drawing(name)},
    )
    return Image.open(io.BytesIO(made)).convert("RGB")


def near(pixel: tuple[int, ...], colour: str) -> bool:
    wanted = [int(colour[at : at + 2], 16) for at in (1, 3, 5)]
    return all(abs(one - other) <= 24 for one, other in zip(pixel, wanted, strict=True))


def share(name: str, colour: str) -> float:
    """Which part of the sign has this colour: of the disc, or of the triangle."""
    image = picture(name, 20, 200)
    pixels = zip(*[iter(image.tobytes())] * 3, strict=True)
    square = image.width * image.height
    sign = square * (math.pi * 0.48**2 if PICTOGRAMS[name].kind is not Kind.WARNING else 0.463)
    return sum(near(pixel, COLOURS[colour]) for pixel in pixels) / sign


@pytest.mark.parametrize("one", EVERY)
def test_the_ground_has_its_share(one: Pictogram):
    # ISO 3864-1, from memory: the safety colour covers at least half of a mandatory or warning
    # sign, and 35 percent of a prohibition sign.
    colour, least = {
        Kind.MANDATORY: ("blue", 0.5),
        Kind.WARNING: ("yellow", 0.5),
        Kind.PROHIBITION: ("red", 0.35),
    }[one.kind]
    assert share(one.name, colour) >= least


@pytest.mark.parametrize("one", EVERY)
def test_the_outline_tells_the_kind(one: Pictogram):
    image = picture(one.name, 20, 200)
    at = image.width / 100

    def colour(x: float, y: float) -> tuple[int, ...]:
        found = image.getpixel((int(x * at), int(y * at)))
        assert isinstance(found, tuple)
        return found

    if one.kind is Kind.WARNING:
        assert all(near(colour(*corner), COLOURS["white"]) for corner in ((6, 6), (94, 6)))
        assert all(near(colour(x, 89.5), COLOURS["black"]) for x in (10, 30, 50, 70, 90))
        return
    ring = "blue" if one.kind is Kind.MANDATORY else "red"
    for turn in range(0, 360, 15):  # a whole disc or ring: no symbol runs over its edge
        x, y = (50 + 46.6 * f(math.radians(turn)) for f in (math.cos, math.sin))
        assert near(colour(x, y), COLOURS[ring]), f"{turn} degrees"
    assert all(near(colour(*corner), COLOURS["white"]) for corner in ((4, 4), (96, 4), (4, 96)))
    if one.kind is Kind.PROHIBITION:  # the bar runs from the upper left to the lower right
        assert all(near(colour(x, x), COLOURS["red"]) for x in range(20, 81, 5))


def test_the_trefoil():
    # ISO 361, from memory: disc R, blades from 1.5 R to 5 R, each of 60 degrees, one downwards.
    text = drawing("radiation")
    middle = re.search(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"/>', text)
    assert middle
    x, y, radius = map(float, middle.groups())
    blades = re.findall(r'<path d="M([\d. ]+)L([\d. ]+)A[\d. ]+?0 0 0 ([\d.]+ [\d.]+)L', text)
    assert len(blades) == 3
    middles = []
    for begin, first, last in blades:
        points = [tuple(map(float, point.split())) for point in (begin, first, last)]
        away = [math.hypot(px - x, py - y) / radius for px, py in points]
        assert away == pytest.approx([1.5, 5, 5], rel=0.01)
        angles = [math.degrees(math.atan2(y - py, px - x)) % 360 for px, py in points[1:]]
        assert (angles[1] - angles[0]) % 360 == pytest.approx(60, abs=0.5)
        middles.append(round(angles[0] + 30) % 360)
    assert sorted(middles) == [30, 150, 270]


def test_small_and_grey_they_are_told_apart():
    # 8 mm at 150 dots an inch, as beside a step on a cheap printer. The measure is ours.
    grey = {name: picture(name, 8, 150).convert("L") for name in PICTOGRAMS}
    for one, other in itertools.combinations(grey, 2):
        difference = ImageStat.Stat(ImageChops.difference(grey[one], grey[other])).mean[0]
        assert difference >= 6, f"{one} and {other}: {difference:.1f}"


def test_the_typesetter_sets_them_all(tmp_path: Path):
    # ISO 14289-1 (PDF/UA-1), by a validator that is not the typesetter's.
    made, warnings = typst.compile_with_warnings(
        svg_page(list(PICTOGRAMS), 15),
        format="pdf",
        pdf_standards=["ua-1"],
        sys_inputs={name: drawing(name) for name in PICTOGRAMS},
    )
    assert made and not warnings
    file = tmp_path / "signs.pdf"
    file.write_bytes(made)
    report = validator.validate_pdf(str(file), profile="ua1")
    assert report.is_compliant, [(f.rule_id, f.message) for f in report.failures]


@pytest.mark.parametrize(
    ("name", "code"),
    [  # ISO 7010, as read in its list of codes
        ("read-instructions", "M002"),
        ("eyewear-on", "M004"),
        ("gloves-on", "M009"),
        ("gown-on", "M010"),
        ("wash-hands", "M011"),
        ("face-shield-on", "M013"),
        ("mask-on", "M016"),
        ("respirator-on", "M017"),
        ("apron-on", "M026"),
        ("throw-away", "M030"),
        ("radiation", "W003"),
    ],
)
def test_codes(name, code):
    assert PICTOGRAMS[name].code == code
    letter = {Kind.MANDATORY: "M", Kind.PROHIBITION: "P", Kind.WARNING: "W"}
    for one in PICTOGRAMS.values():
        assert (one.code is None) == (one.basis is None)
        assert one.code is None or one.code.startswith(letter[one.kind])
