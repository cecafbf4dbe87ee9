"""Translation files: read, refused, written; what a text may be used for."""

from __future__ import annotations

import gettext
import io
from collections import Counter
from dataclasses import replace
from pathlib import Path

import babel.messages.pofile
import polib
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from protocol_lang.text import MAX_LETTERS, Text, decode, unwelcome
from protocol_lang.translation.catalogue import Catalogue, Entry, numbers, texts
from protocol_lang.translation.po import MOST_ENTRIES, BadCatalogue, read, written

HEADER = 'msgid ""\nmsgstr ""\n"Language: es\\n"\n"X-Reviewed-By: R. Ortega\\n"\n'

GOOD = f"""# Above all.
{HEADER}
# By the translator.
#. step
#: visit.protocol:12
#, fuzzy, no-wrap
#| msgid "operator cleans hands well"
msgid "operator cleans hands"
msgstr "operador "
"se limpia las manos"

msgctxt "of another program"
msgid "say \\"yes\\""
msgid_plural "say \\"yes\\" {{n}} times"
msgstr[0] "diga «sí»"
msgstr[1] "diga «sí» {{n}} veces"

#~ msgid "helper sings"
#~ msgstr "ayudante canta"
# At the end.
"""


def said(text: str) -> Catalogue:
    return read(decode(text.encode(), "visit.es.po"))


def test_a_file_says_all_that_stands_in_it():
    found = said(GOOD)
    assert found.reviewed_by == "R. Ortega"
    assert found.header["Language"] == "es"
    assert found.remark.strip() == "Above all."
    assert found.tail == ("# At the end.",)
    step, yes, sings = found.entries
    assert step == Entry(
        "operator cleans hands", "operador se limpia las manos", doubtful=True,
        remark="By the translator.", about="step", before="operator cleans hands well",
        flags=("no-wrap",), places=(("visit.protocol", "12"),),
    )  # fmt: skip
    assert yes.text == 'say "yes"' and yes.context == "of another program"
    assert yes.counted == ((0, "diga «sí»"), (1, "diga «sí» {n} veces"))
    assert sings == Entry("helper sings", "ayudante canta", unused=True)


def test_what_is_written_is_read_back():
    found = said(GOOD)
    assert said(written(found)) == replace(found, header=said(written(found)).header)
    assert written(said(written(found))) == written(found)


# --- What is refused, with the line and the mend -------------------------------------------------

ENTRY = 'msgid "a"\nmsgstr "b"\n'
NUMBER_OF_HEADER_LINES = HEADER.count("\n")


@pytest.mark.parametrize(
    ("lines", "line", "what"),
    [
        ('msgid a\nmsgstr "b"', 1, "in straight quotes"),
        ('msgid "a\nmsgstr "b"', 1, "in straight quotes"),
        ('msgid "a" "c"\nmsgstr "b"', 1, "in straight quotes"),
        ('msgid “a”\nmsgstr "b"', 1, "in straight quotes"),
        ('msgid "a"\nmsgstr "b"c"', 2, "in straight quotes"),
        ('msgid "a"\nmsgstr "\\x1b"', 2, "in straight quotes"),  # no such escape
        ('msgid "a"\nb', 2, "none of a translation file"),
        ('<<<<<<< mine\nmsgid "a"\nmsgstr "b"', 1, "none of a translation file"),
        ("[ ] operator sings", 1, "none of a translation file"),
        ('msgstr "b"', 1, "does not follow"),
        ('# c\n"b"\nmsgid "a"', 2, "does not follow"),
        ('msgid "a"\nmsgid "b"\nmsgstr "c"', 2, "does not follow"),
        ('msgid "a"\nmsgctxt "b"\nmsgstr "c"', 2, "does not follow"),
        (f"{ENTRY}\n{ENTRY}", 4, "there already"),
        ('msgid "a"\nmsgstr "b\\u"', 2, "in straight quotes"),
        ('msgid "a"\nmsgstr "b\\n"', 1, "shows nothing"),  # a translation is one line
        ('msgid "a"\nmsgstr "b\\t"', 1, "shows nothing"),
        ('msgid "a"\nmsgstr "b\x1b[2J"', 2, "shows nothing"),
        ('# \x07\nmsgid "a"\nmsgstr "b"', 1, "shows nothing"),
        ('msgid "a"\nmsgstr "b\u202ec"', 2, "shows nothing"),  # turns the direction of writing
        ('msgid "a"\nmsgstr "b\u200b"', 2, "shows nothing"),
        ('msgid "a"\nmsgstr "\ue000b\ue001"', 2, "shows nothing"),  # our own marks
        (f'msgid "a"\nmsgstr "{"b" * MAX_LETTERS}"', 2, "more than 500 letters"),
        ('msgid "a"\nmsgstr ""\n' + f'"{"b" * 400}"\n' * 2, 1, "more than 500 letters"),
        ('msgid "a"\nmsgid_plural "b"\nmsgstr[7] "c"', 3, "in straight quotes"),
        ("#| x", 1, "none of a translation file"),
        ("#~ x", 1, "none of a translation file"),
    ],
)
def test_what_is_no_translation_file_is_refused_with_its_line(lines: str, line: int, what: str):
    with pytest.raises(BadCatalogue) as refused:
        said(f"{HEADER}{lines}\n")
    sentence = refused.value.sentence
    assert sentence.startswith('"visit.es.po" cannot be used, because of line ')
    assert f"line {line + NUMBER_OF_HEADER_LINES}:" in sentence
    assert what in sentence
    assert sentence.endswith((".", '"#".'))


def test_too_many_texts_are_refused():
    lines = "".join(f'msgid "{n}"\nmsgstr ""\n' for n in range(MOST_ENTRIES + 1))
    with pytest.raises(BadCatalogue, match="more than 5,000 texts"):
        said(HEADER + lines)


def test_a_header_that_steers_a_screen_is_refused():
    with pytest.raises(BadCatalogue, match="the header"):
        said('msgid ""\nmsgstr ""\n"X-Reviewed-By: a\\bb\\n"\n')


def test_one_line_is_never_taken_for_the_name_of_a_file(tmp_path: Path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("# secret", "# secret\n", "\n# secret\n"):
        (tmp_path / name).write_text('msgid "a"\nmsgstr "b"\n')
    assert said("# secret").entries == ()


@given(st.lists(st.sampled_from([
    'msgid "a"', 'msgid "b"', 'msgstr "c"', 'msgstr ""', '"d"', 'msgctxt "e"', "# f", "#. g",
    "#, fuzzy", '#| msgid "h"', '#~ msgid "a"', '#~ msgstr "i"', '#~| msgid "j"', "", "#: k:1",
    'msgid_plural "l"', 'msgstr[0] "m"', 'msgstr[1] "n"', "#~", "#|", "#", "##", "o", 'msgid ""',
    '"Language: es\\n"', "#:", "#,", "#.", '#~ "p"', "msgstr[0]", "#, range: 1..2",
]), max_size=12))  # fmt: skip
def test_lines_in_any_order_are_read_or_refused_with_a_line(lines: list[str]):
    text = Text("x.po", tuple(lines))
    try:
        found = read(text)
    except BadCatalogue as refused:
        assert "because of line" in refused.sentence
    else:
        again = said(written(found))  # unused texts stand at the end
        assert list(again.entries) == sorted(found.entries, key=lambda entry: entry.unused)


# --- The form, seen by others --------------------------------------------------------------------

LETTERS = st.characters(blacklist_categories=("Cc", "Cf", "Cs", "Co", "Zl", "Zp", "Cn"))


def fine(text: str) -> bool:
    return text == text.strip() and not any(True for _ in unwelcome(text))


WORDS = st.text(LETTERS, min_size=1, max_size=60).filter(fine)
MAYBE = st.one_of(st.just(""), WORDS)
ENTRIES = st.builds(
    Entry, text=WORDS, said=MAYBE, doubtful=st.booleans(), unused=st.booleans(),
    remark=MAYBE, about=st.just("") | st.sampled_from(["step", "value of a choice"]),
)  # fmt: skip
CATALOGUES = st.builds(
    Catalogue,
    st.lists(ENTRIES, max_size=6, unique_by=lambda entry: entry.key).map(
        lambda found: tuple(
            sorted(
                (replace(one, about="" if one.unused else one.about) for one in found),
                key=lambda entry: entry.unused,
            )
        )
    ),
    st.just({"Language": "es"}),
)


@given(CATALOGUES)
@example(Catalogue((Entry("a" * 77, 'b "c\\d" ' * 20),), {"Language": "es"}))
def test_any_texts_survive_the_file(catalogue: Catalogue):
    assert said(written(catalogue)).entries == catalogue.entries


@given(CATALOGUES)
def test_another_reader_finds_the_same(catalogue: Catalogue):
    """Babel's own reader of the PO form as the reference (babel.messages.pofile, BSD-3-Clause)."""
    text = written(catalogue)
    found = babel.messages.pofile.read_po(io.StringIO(text), abort_invalid=True)
    active = {message.id: message for message in found if message.id}
    assert {id: (m.string, m.fuzzy) for id, m in active.items()} == {
        entry.text: (entry.said, entry.doubtful) for entry in catalogue.entries if not entry.unused
    }


# --- Which translations may be used --------------------------------------------------------------


def test_what_is_doubtful_unused_empty_or_of_another_program_is_not_used():
    found = texts("es", said(GOOD), [])
    assert found.said == {}
    plain = GOOD.replace("fuzzy, ", "")
    assert texts("es", said(plain), []).said == {
        "operator cleans hands": "operador se limpia las manos"
    }


def test_the_nearest_file_goes_first_and_tells_who_has_looked_it_through():
    near = Catalogue((Entry("tube", "tubo"),), {"X-Reviewed-By": "A"})
    far = Catalogue((Entry("tube", "manguera"), Entry("arm", "brazo")), {"X-Reviewed-By": "B"})
    found = texts("es", near, [far])
    assert (found.of("tube"), found.of("arm"), found.of("cone")) == ("tubo", "brazo", None)
    assert found.reviewed_by == "A"
    assert texts("es", replace(near, header={}), [far]).reviewed_by is None
    assert texts("es", None, [far]).reviewed_by is None


def test_a_text_is_found_however_its_accents_are_coded():
    found = texts("es", Catalogue((Entry("caf\u00e9", "x"),)), [])
    assert found.of("cafe\u0301") == "x"


@pytest.mark.parametrize(
    ("text", "translation", "counts"),
    [
        ("wait 2 minutes", "esperar 2 minutos", True),
        ("wait 2 minutes", "esperar 20 minutos", False),
        ("wait 2 minutes", "esperar dos minutos", False),
        ("wait 2 minutes", "انتظر ٢ دقيقة", True),
        ("wait 2 minutes", "२ मिनट रुकें", True),
        ("wait", "esperar 2", False),
        ("2 of 2", "2 de 2", True),
        ("2 of 2", "2", False),
    ],
)
def test_a_translation_that_tells_other_numbers_is_not_used(text, translation, counts):
    assert Entry(text, translation).counts is counts


def test_numbers_in_any_digits():
    assert numbers("12 of ٣, 4.5") == Counter({12: 1, 3: 1, 4: 1, 5: 1})


def test_our_catalogues_can_be_built_as_the_form_says(tmp_path: Path):
    """The standard library reads what polib builds: two implementations of the binary form."""
    entry = polib.POEntry(msgid="a", msgstr="b")
    made = polib.POFile()
    made.metadata = {"Content-Type": "text/plain; charset=UTF-8"}
    made.append(entry)
    assert gettext.GNUTranslations(io.BytesIO(made.to_binary())).gettext("a") == "b"
