"""What a finding tells beside its sentence: what else is reached, with which choices, where."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.findings import Finding
from protocol_lang.pipeline import check_file
from protocol_lang.wording.examples import STAFFING, visit

LOOK = "  [ ] look: operator looks at the image\n"
BACK = "  may be left out\n    again from look, at most 1 time\n"


def _only(where: Path, text: str, mend: bool = False) -> Finding:
    path = where / "told.protocol"
    path.write_text(text, "utf-8")
    (finding,) = check_file(path, mend=mend).outcome.findings
    return finding


@pytest.mark.parametrize("person", ["operator", "helper"])
@pytest.mark.parametrize("mend", [True, False])
def test_what_the_finding_is_about_is_not_told_as_reached_too(
    tmp_path: Path, person: str, mend: bool
) -> None:
    steps = f"  [ ] {person} cleans hands\n  [ ] patient spatters onto {person}\n"
    finding = _only(tmp_path, visit(steps), mend)
    assert (finding.facts["who"], finding.facts["part"]) == (person, "hands")
    assert finding.facts["follows"] == (
        f"the same soil also reaches {person}'s eyes and {person}'s nose and mouth"
    )


def test_a_cover_put_on_twice_tells_with_which_choice(tmp_path: Path) -> None:
    steps = (
        "  [ ] operator cleans hands\n  where staffing is alone\n"
        "    [ ] operator takes wrap off tube\n    [ ] operator cleans hands\n"
        "  [ ] operator covers tube with wrap\n"
    )
    finding = _only(tmp_path, visit(steps, choices=STAFFING))
    assert finding.kind == "cover-on-twice"
    assert finding.route is not None and finding.route.choices == (("staffing", "paired"),)


@pytest.mark.parametrize(
    ("text", "more"),
    [
        (visit(LOOK + '\nphase "Afterwards"\n' + BACK), {"phase": "Visit"}),
        (visit(BACK + LOOK), {}),
        (visit(BACK + LOOK + '\nphase "Afterwards"\n  [ ] helper cleans hands\n'), {}),
    ],
)
def test_where_the_step_stands_that_is_not_gone_back_to(
    tmp_path: Path, text: str, more: dict[str, str]
) -> None:
    finding = _only(tmp_path, text)
    assert finding.kind == "again-not-before"
    assert finding.facts == {"label": "look", **more}
