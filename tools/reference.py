"""Writes the generated parts of the reference: ``docs/language.md``, ``docs/vocabulary.md``.

Run by ``python -m tools.reference`` from the folder of the project. What is written comes from the
words that the program itself uses (constructs, limits, exit codes, shipped vocabulary), and every
example is run; a test fails when the files on disk say something else.
"""

from __future__ import annotations

import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from protocol_lang.cli.exits import MEANINGS
from protocol_lang.contamination.unfold.arrange import MOST_ACTS
from protocol_lang.contamination.unfold.worlds import MOST_COMBINATIONS
from protocol_lang.language import frames, limits, names, reader, tree
from protocol_lang.language.reading.table import grammar
from protocol_lang.outcome import Outcome
from protocol_lang.pipeline import check_file
from protocol_lang.report.told import tell
from protocol_lang.resources import folder
from protocol_lang.text import Text, read_text
from protocol_lang.wording.construct import Construct
from protocol_lang.wording.constructs import CONSTRUCTS
from protocol_lang.wording.examples import visit
from tools.forms import FORMS, rules_of

ROOT = Path(__file__).resolve().parent.parent
LANGUAGE = ROOT / "docs" / "language.md"
VOCABULARY = ROOT / "docs" / "vocabulary.md"

#: What stands above is written by hand, what follows by this tool.
BELOW = "<!-- From here on written by tools/reference.py; do not edit. -->"

#: Headings of the reference, and the construct that each begins with.
_CHAPTERS = {
    "protocol": "The file",
    "step": "The checklist",
    "people": "The room",
    "verb": "Verbs and words files",
    "begins with": "How a visit begins and ends",
    "adapts": "Local editions",
    "rules": "Files of rules",
}

#: The lines that every example begins with, so that they need not be shown again and again.
_HEAD = visit("").split("phase")[0].rstrip("\n")


def main() -> int:
    """Write both files. Return 0."""
    for path, text in pages().items():
        path.write_text(text, "utf-8")
        print(f"wrote {path.relative_to(ROOT)}")
    return 0


def pages() -> dict[Path, str]:
    """Both files as they should be."""
    by_hand = LANGUAGE.read_text("utf-8").partition(BELOW)[0]
    return {
        LANGUAGE: f"{by_hand}{BELOW}\n\n" + "\n".join(_language()),
        VOCABULARY: "\n".join(_vocabulary()),
    }


# --- The language --------------------------------------------------------------------------------


def _language() -> Iterator[str]:
    yield from _limits()
    yield from _exit_codes()
    yield "## Every word of the language\n"
    yield (
        "Words in capitals stand for words of your own. Then come the rules of the grammar that "
        "read such lines: words in capitals are there what is written, or NAME, SENTENCE, PIECE "
        "(words up to a small word that joins) and the like. Each example is run by the tests: "
        "the good one has no finding, the faulty one has the finding that stands below it, with "
        "⟦marks⟧ around the words it points at. Above every example stand these lines, "
        "unless others are shown:\n"
    )
    yield _fenced(_HEAD)
    with tempfile.TemporaryDirectory() as where:
        for construct in CONSTRUCTS:
            if construct.name in _CHAPTERS:
                yield f"### {_CHAPTERS[construct.name]}\n"
            yield from _construct(construct, Path(where))


def _construct(construct: Construct, where: Path) -> Iterator[str]:
    yield f"#### {construct.name}\n"
    form = FORMS[construct.name]
    yield f"Where: {form.where.value}.\n"
    yield _fenced("\n\n".join(form.texts) if "\n" in "".join(form.texts) else "\n".join(form.texts))
    yield "Grammar:\n"
    yield _fenced("\n".join(_rule(name) for name in rules_of(form)))
    yield f"{construct.meaning}\n"
    yield "Good:\n"
    yield _fenced(_without_head(construct.good))
    yield "Faulty:\n"
    yield _fenced(_without_head(construct.faulty))
    yield _found(construct.faulty, where)


def _rule(name: str) -> str:
    """A rule as it stands in the grammar."""
    found = re.search(rf"^\??({name}: .*(?:\n +\|.*)*)", grammar(), re.MULTILINE)
    assert found is not None, name
    return found[1]


def _found(text: str, where: Path) -> str:
    """The one finding of a faulty example, as a quotation."""
    path = where / "example.protocol"
    path.write_text(text, "utf-8")
    checked = check_file(path, mend=False)
    (told,) = tell(Outcome((checked.outcome,)))
    (found,) = told.findings
    lines = [found.sentence, *(filter(None, (found.advice, found.because)))]
    place = found.finding.place
    if place is not None:
        line = text.splitlines()[place.line - 1]
        before, words, after = (
            line[: place.column - 1],
            line[place.column - 1 : place.end - 1],
            line[place.end - 1 :],
        )
        lines.append(f"`{(before + '⟦' + words + '⟧' + after).strip()}`")
    lines.append(f"({found.finding.kind}, {found.code})")
    return "\n".join(f"> {line}  " for line in lines) + "\n"


def _without_head(text: str) -> str:
    return text.removeprefix(_HEAD).strip("\n")


def _limits() -> Iterator[str]:
    yield "## Limits\n"
    yield (
        "A limit is a promise that every run ends soon. Real protocols stay far below. What goes "
        "beyond one is told in a sentence; nothing is passed over in silence.\n"
    )
    from protocol_lang.cli.check import MOST_FILES

    rows = (
        ("bytes in one file", limits.MAX_BYTES),
        ("lines in one file", limits.MAX_LINES),
        ("letters in one line", limits.MAX_LETTERS),
        ("blocks inside blocks", limits.MAX_NESTING),
        ("figures of a number", limits.MAX_DIGITS),
        ("of one supply that a step lays out", limits.MAX_LAID_OUT),
        ("words in a label", limits.MAX_LABEL_WORDS),
        ("times that something is done again", limits.MAX_ROUNDS),
        ("words in a name", names.MOST_WORDS),
        ("letters in a name", names.MOST_LETTERS),
        ("words in the form of a verb", frames.MOST_FORM_WORDS),
        ("files that one file takes words from, directly or through others", limits.MAX_FILES),
        ("bytes of all these files together", limits.MAX_TOTAL_BYTES),
        ("files and folders looked through for a title", limits.MAX_ENTRIES),
        ("findings listed of one file's text", limits.MAX_FAULTS),
        ("steps in one protocol, each member of a list counted", MOST_ACTS),
        ("combinations of those choices that a condition names", MOST_COMBINATIONS),
        ("files in a folder that is checked", MOST_FILES),
    )
    yield "| what | at most |\n| --- | ---: |"
    yield from (f"| {what} | {most:,} |" for what, most in rows)
    yield ""


def _exit_codes() -> Iterator[str]:
    yield "## Exit codes\n"
    yield "How a run ended, as the number that scripts are given.\n"
    yield "| code | meaning |\n| ---: | --- |"
    yield from (f"| {int(code)} | {meaning} |" for code, meaning in MEANINGS.items())
    yield "\nOf several parts of one run, 3 outweighs 2, then 1, then 4, then 0.\n"


# --- The vocabulary ------------------------------------------------------------------------------


#: Words files that only some protocols need.
_FURTHER = ("plates-and-film", "one-hand", "panoramic", "reprocessing", "spare-sensor")


def _vocabulary() -> Iterator[str]:
    yield "# The vocabulary that comes with the program\n"
    yield "<!-- Written by tools/reference.py; do not edit. -->\n"
    yield (
        'What a file that takes words from "Dental imaging" can say, and what each verb does. A '
        "slot in capitals is filled with a name: ACTOR with any person, STAFF and PATIENT with "
        "people of that kind, THING with any thing, and SURFACE, RECEPTOR, WIPE and so on with "
        "things of that kind. EACH before a slot takes a list, done once for each; ALL takes a "
        "list in one handling. The words files further down are taken by those protocols that need "
        "them. How to add verbs is told in [the language](language.md).\n"
    )
    base = folder("protocols")
    for path in (
        base / "vocabulary" / "dental-imaging.protocol",
        *(base / "vocabulary" / f"{name}.protocol" for name in _FURTHER),
        base / "data" / "germs-and-treatment.protocol",
    ):
        text = read_text(path)
        yield f"## {_plain(text.lines[0])}\n"
        file = reader.read(text).file
        for section in file.sections:
            if isinstance(section, tree.Verb):
                for heading in filter(str.strip, section.remarks.above):
                    yield f"### {heading.lstrip('# ')}\n"
                yield from _verb(section, text)
            else:
                yield from _section(section, text)


def _section(section: tree.Section, text: Text) -> Iterator[str]:
    """A section that is no verb, as it is written: it reads as plain words already."""
    lines = _lines_of(section.place.line, text)
    yield f"### {lines[0].strip()[:1].upper()}{lines[0].strip()[1:]}\n"
    for line in lines[1:]:
        indent = "  " if line.startswith("    ") else ""
        yield f"{indent}* {line.strip()}"
    yield ""


def _verb(verb: tree.Verb, text: Text) -> Iterator[str]:
    yield f"**{verb.form.plain}**  "
    for also in (line for line in verb.lines if isinstance(line, tree.Also)):
        yield f"also: {also.form.plain}  "
    yield ""
    yield from (f"* {_does(line, text)}" for line in verb.lines if not isinstance(line, tree.Also))
    yield ""


def _does(line: tree.VerbLine, text: Text) -> str:
    """What a line of a verb does, in words."""
    match line:
        case tree.Note():
            return line.text.plain
        case tree.Source():
            return f"Source: {line.text.plain}."
        case tree.OnlyWhen():
            return f"{_sentence(text.lines[line.place.line - 1].strip())}."
        case tree.Lasts():
            upto = "" if line.most is None else f" to {line.most.plain}"
            return f"Usually takes {line.least.plain}{upto} {'min' if line.minutes else 's'}."
        case tree.AllowedWhile():
            return f"May be done while {line.fact.plain}."
        case tree.Take():
            return (
                f"{line.hands.plain} fetch {line.what.plain} from where it is kept (touched on "
                "the way) or was laid out. Of what is used once it is a new one."
            )
        case tree.LayOut():
            return (
                f"{line.hands.plain} fetch {line.what.plain} from where it is kept, and lay it "
                "where it is taken from later; both are touched."
            )
        case tree.Meet():
            how = "brush each other: a trace gets" if line.trace else "touch: soil gets"
            if line.may:
                how = "may touch, and are taken to do so: soil gets"
            return f"{_listed(line.what)} {how} from each to each."
        case tree.Pass():
            what = "A trace of soil" if line.trace else "Soil"
            return f"{what} gets from {_listed(line.sources)} to {_listed(line.goals)}."
        case tree.Cover():
            return f"From now on {line.what.plain} covered with {line.cover.plain}."
        case tree.Uncover():
            return f"{line.cover.plain} off {line.what.plain}."
        case tree.Tear():
            return (
                f"{line.cover.plain} on {line.what.plain} torn from now on, until it comes off: "
                "what touches it touches what is under it as well."
            )
        case tree.Wash():
            return f"Cleaned, as it must be before a disinfection: {_listed(line.what)}."
        case tree.Reduce():
            if line.product is not None:
                return (
                    f"Treated to the level that {line.product.plain} reaches, once its wet time "
                    f"is over: {_listed(line.what)}."
                )
            assert line.level is not None
            return f'Treated to the level "{line.level.plain}": {_listed(line.what)}.'
        case tree.Retire():
            where = f" into {line.stream.plain}" if line.stream is not None else ""
            return f"Thrown away, or gone for good{where}: {line.what.plain}."
        case tree.Sets():
            return f"{'From now on' if line.value else 'No longer'}: {line.fact.plain}."
        case tree.Moves():
            where = "outside" if line.to is None else f"in {line.to.plain}"
            return f"{line.who.plain} is {where} from now on, and nowhere else."
        case tree.Exposure():
            return (
                f"{line.who.plain} exposes: in a room that names places, everybody but the patient "
                "has to be where that is safe."
            )
        case tree.NoContact():
            return "Nothing is touched."
    raise AssertionError(f"no words for {line}")


def _lines_of(first: int, text: Text) -> list[str]:
    """A section: its first line (from 1) and the indented ones below."""
    lines = [text.lines[first - 1]]
    for line in text.lines[first:]:
        if not line.startswith(" "):
            break
        lines.append(line)
    return lines


def _listed(words: tuple[tree.Words, ...]) -> str:
    plain = [one.plain for one in words]
    return plain[0] if len(plain) == 1 else f"{', '.join(plain[:-1])} and {plain[-1]}"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _plain(title: str) -> str:
    kind, _, rest = title.partition(" ")
    return f"{_sentence(kind)} {rest}"


def _fenced(text: str) -> str:
    return f"```text\n{text}\n```\n"


if __name__ == "__main__":
    sys.exit(main())
