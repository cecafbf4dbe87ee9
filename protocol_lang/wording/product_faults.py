"""What is said of products and materials (P…).

The facts: unknown-material (name, nearest, materials), unknown-product (name, nearest),
above-the-label (thing, product, level), short-of-the-label (thing, product, told, minutes),
forbidden-material (step, product, thing, material, bare, source), product-too-weak (step, with,
level, thing, floor).
"""

from __future__ import annotations

from protocol_lang.wording.entry import Entry, Facts
from protocol_lang.wording.examples import visit
from protocol_lang.wording.name_faults import nearest
from protocol_lang.wording.plain import count, quoted, stray_letter

_HANDS = "  [ ] operator cleans hands\n"


def _cloth(traits: str, more: str = "") -> str:
    """A room with a product, a cloth that treats with it or not, and a screen."""
    return (
        "materials\n  acrylic\n\n"
        "products\n  clear spirit: treats to intermediate; stays wet 2 minutes; not on acrylic\n\n"
        f"boxes\n  cloth box: box; kept clean\n\nsurfaces\n  screen: surface{more}\n\n"
        "things\n  cloth: wipe; has face, back; used once; thrown away after use; from cloth box; "
        f"{traits}"
    )


_CLEANED = """
  [ ] operator cleans hands
  [ ] operator cleans screen with a new cloth
  [ ] operator disinfects screen with a new cloth
"""

_WRAPPED = """
  [ ] operator cleans hands
  [ ] operator covers screen with wrap
  [ ] operator cleans screen with a new cloth
  [ ] operator disinfects screen with a new cloth
  [ ] operator takes wrap off screen
"""


def _above(facts: Facts) -> str:
    return (
        f"{quoted(facts['thing'])} treats with {quoted(facts['product'])}, which reaches no more "
        f"than {quoted(facts['level'])}."
    )


def _short(facts: Facts) -> str:
    return (
        f"{quoted(facts['thing'])} stays wet {count(int(facts['told']), 'minute')}; "
        f"{quoted(facts['product'])} takes {count(int(facts['minutes']), 'minute')}."
    )


def _forbidden(facts: Facts) -> str:
    product, thing = quoted(facts["product"]), quoted(facts["thing"])
    if "bare" in facts:
        return (
            f"{product} can get onto {thing} where no cover is on it; it is made of "
            f"{facts['material']}, which its label forbids."
        )
    return (
        f"{product} gets onto {thing}, which is made of {facts['material']}; its label forbids "
        "that."
    )


def _who_says(facts: Facts) -> str | None:
    return f"Source: {facts['source']}." if "source" in facts else None


def _too_weak(facts: Facts) -> str:
    return (
        f"{quoted(facts['with'])} treats to {quoted(facts['level'])}, but {quoted(facts['thing'])} "
        f"needs at least {quoted(facts['floor'])}."
    )


def _materials(facts: Facts) -> str | None:
    listed = f"Materials are: {facts['materials']}." if facts.get("materials") else None
    return stray_letter(facts) or listed


ENTRIES = (
    Entry(
        kind="unknown-material",
        number="P01",
        sentence=lambda f: f"{quoted(f['name'])} is not a material.",
        explanation=(
            'What things are made of is declared under "materials", so that a slip of the pen '
            "cannot hide that a product is not to be used on something."
        ),
        faulty=visit(_HANDS, _cloth("treats with clear spirit", "; made of acryl")),
        good=visit(_HANDS, _cloth("treats with clear spirit", "; made of acrylic")),
        change=nearest,
        because=_materials,
    ),
    Entry(
        kind="unknown-product",
        number="P02",
        sentence=lambda f: f"{quoted(f['name'])} is not a product.",
        explanation=(
            'What wipes and baths treat with is declared under "products", with what its label '
            "says: the level, how long it has to stay wet, and on what it is not to be used."
        ),
        faulty=visit(_HANDS, _cloth("treats with clean spirit")),
        good=visit(_HANDS, _cloth("treats with clear spirit")),
        change=nearest,
        because=stray_letter,
    ),
    Entry(
        kind="above-the-label",
        number="P03",
        sentence=_above,
        explanation=(
            "A thing that treats with a product reaches what the label of the product claims, and "
            "no more. It may be counted for less: say so with a lower level."
        ),
        faulty=visit(_HANDS, _cloth("treats with clear spirit; treats to high")),
        good=visit(_HANDS, _cloth("treats with clear spirit; treats to low")),
    ),
    Entry(
        kind="short-of-the-label",
        number="P04",
        sentence=_short,
        explanation=(
            "The label of a product says how long something has to stay wet. A thing that treats "
            "with it may be given longer, never less."
        ),
        faulty=visit(_HANDS, _cloth("treats with clear spirit; stays wet 1 minute")),
        good=visit(_HANDS, _cloth("treats with clear spirit; stays wet 3 minutes")),
    ),
    Entry(
        kind="forbidden-material",
        number="P05",
        sentence=_forbidden,
        explanation=(
            "The maker of a product, or of a thing, says on what it is not to be used: it clouds, "
            "cracks or rusts, and what is cracked cannot be cleaned any more.\n\n"
            "What counts is what the product gets onto, in cleaning as in disinfecting. Where a "
            "cover is on a thing, that is the outermost cover; the thing itself only where it is "
            "bare. So it can depend on the order of the steps: the finding shows an order, if one "
            "is needed. A thing that does not say what it is made of is not looked at."
        ),
        faulty=visit(_CLEANED, _cloth("treats with clear spirit", "; made of acrylic")),
        good=visit(
            _WRAPPED, _cloth("treats with clear spirit", "; made of acrylic; takes cover wrap")
        ),
        because=_who_says,
    ),
    Entry(
        kind="product-too-weak",
        number="P06",
        sentence=_too_weak,
        explanation=(
            "What an item touches decides what it needs: sterilising what stands heat and goes in "
            'the mouth, low level for a surface that skin touches. That is told under "floors". A '
            "product below that is not enough, even where no soil is found to get anywhere.\n\n"
            "It is no fault where something is done to the thing at its level in the same visit, "
            "or where another protocol gives it back so, or where a cover is on it."
        ),
        faulty=visit(
            """
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator cleans spare holder with a new wipe
  [ ] operator disinfects spare holder with a new wipe
""",
            "things\n  spare holder: holder; goes in the mouth; not heat safe",
        ),
        good=visit(
            """
  [ ] operator cleans hands
  [ ] operator lays out wipe
  [ ] operator cleans chair arms with a new wipe
  [ ] operator disinfects chair arms with a new wipe
"""
        ),
    ),
)
