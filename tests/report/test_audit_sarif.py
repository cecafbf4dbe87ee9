"""The report of an audit in the Static Analysis Results Interchange Format."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from jsonschema import Draft4Validator

from protocol_lang.report.audit.sarif import FINGERPRINT, render, uri
from tests.report import audits

# SARIF Version 2.1.0, OASIS Standard: its published schema; see README.md beside it.
SCHEMA = json.loads(
    (Path(__file__).parent / "schemas" / "sarif-2.1.0-rtm.5.json").read_text("utf-8")
)
SAMPLES = {
    **audits.ALL,
    "markup": audits.spoken(" ".join(audits.MARKUP)),
    "Arabic": audits.spoken(audits.ARABIC),
    "control": audits.spoken("a\x00b\x1b[2Jc\ud800\u202e\r"),
    "many": audits.many(30),
}


def run(audit=audits.AUDIT):
    (only,) = json.loads(render(audit))["runs"]
    return only


def of(identity: str, file: str | None = None):
    found = [
        one
        for one in run()["results"]
        if one.get("fingerprints", {}).get(FINGERPRINT) == identity
        and (
            file is None
            or one["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] == file
        )
    ]
    (only,) = found
    return only


@pytest.mark.parametrize("name", SAMPLES)
def test_it_keeps_to_the_published_schema(name):
    Draft4Validator.check_schema(SCHEMA)
    made = render(SAMPLES[name])
    assert made.isascii() and made.endswith("}\n")
    assert [error.message for error in Draft4Validator(SCHEMA).iter_errors(json.loads(made))] == []


def test_the_schema_sees_a_fault():
    broken = json.loads(render(audits.AUDIT))
    broken["runs"][0]["results"][0]["level"] = "grave"
    assert list(Draft4Validator(SCHEMA).iter_errors(broken))


def test_rules_are_described_with_their_sources():
    rules = {rule["id"]: rule for rule in run()["tool"]["driver"]["rules"]}
    rule = rules["Infection control at work/Clean before disinfecting"]
    assert rule["shortDescription"]["text"] == "Clean before disinfecting"
    assert "edition 3" in rule["fullDescription"]["text"]
    assert rule["help"]["text"] == f"Sources: {audits.CDC}"
    assert rule["properties"]["sources"] == [audits.CDC]
    assert rule["properties"]["files"] == {
        "met": 2, "failed": 1, "waived": 0, "not applicable": 0, "not decided": 0,
    }  # fmt: skip
    assert rules["Infection control at work/Water lines are flushed"]["properties"][
        "appliedToNoFile"
    ]
    assert "path-to-patient" in rules


def test_results_name_their_rule_place_level_and_fingerprint():
    rules = run()["tool"]["driver"]["rules"]
    for result in run()["results"]:
        if "ruleId" in result:
            assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
    path = of("k7f2-q9", audits.SENSOR)
    assert (path["level"], path["kind"]) == ("error", "fail")
    place = path["locations"][0]
    assert place["physicalLocation"]["region"]["startLine"] == 33
    assert place["logicalLocations"][0]["fullyQualifiedName"] == audits.PATH.context
    assert of("a1b5-x2")["level"] == "note"
    artifacts = run()["artifacts"]
    at = place["physicalLocation"]["artifactLocation"]
    assert artifacts[at["index"]]["location"]["uri"] == at["uri"]


def test_states_beside_the_earlier_report():
    # SARIF 2.1.0, 3.27.24: new, unchanged, updated or absent.
    states = {
        "new": of("k7f2-q9", audits.FILM),
        "still open": of("k7f2-q9", audits.SENSOR),
        "reopened": of("m3c1-d4"),
    }
    assert {key: one["properties"]["since"] for key, one in states.items()} == {
        key: key for key in states
    }
    assert [one["baselineState"] for one in states.values()] == ["new", "unchanged", "new"]
    assert of("z9-old3")["baselineState"] == "absent"
    # If one result has it, all have.
    assert all("baselineState" in one for one in run()["results"])


def test_waived_findings_are_suppressed_with_the_reason():
    (suppression,) = of("w8e0-t6")["suppressions"]
    assert (suppression["kind"], suppression["status"]) == ("external", "accepted")
    for part in (audits.WAIVER.reason, "31 December 2026", "infection control lead"):
        assert part in suppression["justification"]
    where = suppression["location"]["physicalLocation"]
    assert where["artifactLocation"]["uri"] == "waivers/2026.waivers"
    assert [one for one in run()["results"] if "suppressions" in one] == [of("w8e0-t6")]


def test_a_story_is_a_thread_flow():
    ((flow,),) = [one["threadFlows"] for one in of("k7f2-q9", audits.SENSOR)["codeFlows"]]
    told = [one["location"]["message"]["text"] for one in flow["locations"]]
    assert told == [
        "Visit 1: operator places holder with sensor in mouth "
        "(from patient's mouth to operator's gloves)",
        "Visit 1: operator aims tube (from operator's gloves to tube head; "
        "from operator's gloves to cone)",
        "Visit 2: helper: sets tube roughly (from tube head to helper's hands)",
        "Visit 2: operator puts on gloves",
    ]
    assert [one["executionOrder"] for one in flow["locations"]] == [1, 2, 3, 4]
    assert "codeFlows" not in of("a1b5-x2")


def test_what_was_not_judged():
    (open_one,) = [one for one in run()["results"] if one["kind"] == "open"]
    assert "the limit was reached" in open_one["message"]["text"]
    (invocation,) = run()["invocations"]
    told = [one["message"]["text"] for one in invocation["toolExecutionNotifications"]]
    assert told == [
        audits.FILES[0].not_checked[0],
        audits.FILES[3].reason,
        "Old cassettes: ended; it ended on 1 October 2026",
        "Shields: not begun",
        "A thing of the past: matches nothing",
        "For ever: not allowed; a waiver lasts a year at most",
    ]


@pytest.mark.parametrize(
    ("file", "encoded"),
    [
        # RFC 3986, 2.1 and 4.2; UTF-8 by RFC 3987, 3.1.
        ("room 2/a#b.protocol", "room%202/a%23b.protocol"),
        ("50%?.protocol", "50%25%3F.protocol"),
        ("c:x.protocol", "c%3Ax.protocol"),
        ("रूम/a.protocol", "%E0%A4%B0%E0%A5%82%E0%A4%AE/a.protocol"),
        ("a\udcff.protocol", "a%FF.protocol"),
        ("/rooms/a.protocol", "rooms/a.protocol"),
        ("rooms\\a.protocol", "rooms/a.protocol"),
        ("../a.protocol", "../a.protocol"),
    ],
)
def test_paths_are_relative_and_percent_encoded(file, encoded):
    assert uri(file) == encoded
    split = urlsplit(encoded)
    assert not split.scheme and not split.netloc and not split.query and not split.fragment


def test_paths_come_back():
    for file in audits.MARKUP:
        assert unquote(uri(file)) == file.replace("\\", "/").lstrip("/")


def test_no_time_and_nothing_that_differs():
    made = render(audits.AUDIT)
    assert made == render(replace(audits.AUDIT))
    assert not re.search(r"TimeUtc|\d\d:\d\d", made)


def test_markup_is_neither_placeholder_nor_link():
    # SARIF 2.1.0, 3.11.5: braces are doubled; 3.11.6: "](" after "[" is a link.
    for result in run(SAMPLES["markup"])["results"]:
        text = result["message"]["text"]
        assert not re.search(r"(?<!{)(?:{{)*{[0-9]", text)
        assert not re.search(r"(?<!\\)\]\(", text)


def test_control_characters_are_shown_as_escapes():
    def strings(value):
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            for key, inner in value.items():
                yield key
                yield from strings(inner)
        elif isinstance(value, list):
            for inner in value:
                yield from strings(inner)

    for text in strings(run(SAMPLES["control"])):
        assert not set(text) & set("\x00\x1b\ud800\u202e\r"), text
