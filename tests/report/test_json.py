"""The report as data: its form, and that it says what the page says."""

from __future__ import annotations

import json
from functools import cache

import pytest
from jsonschema import Draft202012Validator

from protocol_lang.outcome import Coverage, FileOutcome, OrderCount, Outcome
from protocol_lang.report import json as report_json
from protocol_lang.report import page
from tests.report import samples


@cache
def schema():
    return json.loads(report_json.SCHEMA.read_text("utf-8"))


def test_the_schema_is_one():
    # JSON Schema, draft 2020-12, by the reference library's copy of the meta-schema.
    Draft202012Validator.check_schema(schema())


@pytest.mark.parametrize("name", samples.ALL)
def test_the_data_has_the_form_that_the_schema_describes(name):
    data = json.loads(report_json.render(samples.ALL[name]))
    errors = list(Draft202012Validator(schema()).iter_errors(data))
    assert not errors, errors


def test_the_schema_refuses_what_it_should():
    data = json.loads(report_json.render(samples.FAULTY))
    for spoil in (
        lambda d: d.pop("standing"),
        lambda d: d.update(version=2),
        lambda d: d["files"][0]["findings"][0].pop("sentence"),
        lambda d: d["files"][0]["findings"][0].update(weight="severe"),
        lambda d: d["files"][0]["findings"][0]["place"].update(line=0),
        lambda d: d["files"][0].update(more=1),
    ):
        spoiled = json.loads(json.dumps(data))
        spoil(spoiled)
        assert not Draft202012Validator(schema()).is_valid(spoiled)


def _words(text: str) -> str:
    """Without line ends and blanks, as a page may break a line anywhere."""
    return "".join(text.split())


@pytest.mark.parametrize("name", samples.ALL)
def test_page_and_data_carry_the_same_findings_in_the_same_order(name):
    outcome = samples.ALL[name]
    shown = _words(page.render(outcome, 96))
    at = 0
    for file in report_json.data(outcome)["files"]:
        at = shown.index(_words(file["file"]), at)
        for finding in file["findings"]:
            at = shown.index(_words(f"{finding['number']}.{finding['sentence']}"), at)
            again = f"toldaboveasnumber{finding['number']}"
            mark = _words(f"{finding['kind']} ({finding['code']})")
            here = [where for where in (shown.find(mark, at), shown.find(again, at)) if where > 0]
            at = min(here)
            for change in finding["changes"]:
                assert _words(change["sentence"]).lower() in shown.lower()
        for part in file["not checked"]:
            assert _words(part["sentence"]) in shown
    counted = sum(len(file.findings) for file in outcome.files)
    assert counted == sum(len(file["findings"]) for file in report_json.data(outcome)["files"])


def test_the_marked_words_are_those_of_the_page():
    data = report_json.data(samples.FAULTY)
    shown = page.render(samples.FAULTY, 96)
    for finding in data["files"][0]["findings"]:
        place = finding["place"]
        assert f"⟦{place['words']}⟧" in shown
        assert f"{place['file']}:{place['line']}:{place['column']}" in shown
        assert place["words"] == place["text"][place["column"] - 1 : place["end"] - 1]


def test_the_data_is_ascii_and_the_same_each_time():
    text = report_json.render(samples.SEVERAL)
    assert text.isascii()
    assert text == report_json.render(samples.SEVERAL)


def test_large_numbers_of_orders_are_written_out():
    # The interpreter refuses to write more than 4,300 figures at once.
    number = 10**9_000 + 7
    coverage = Coverage(steps=1, orders=OrderCount(number, exact=True))
    data = report_json.data(Outcome((FileOutcome("a.protocol", coverage=coverage),)))
    figures = data["files"][0]["coverage"]["orders"]["number"]
    assert figures == "1" + "0" * 8_999 + "7"
