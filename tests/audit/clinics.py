"""Folders of an invented clinic for the tests: good, bad and broken files, and rules for them."""

from __future__ import annotations

import os
import shutil
from datetime import date
from pathlib import Path

from protocol_lang.audit.asking import Ask, Job
from protocol_lang.audit.look import look
from protocol_lang.audit.whole import Wanted, audit
from protocol_lang.audited import Audit, FileReport
from protocol_lang.resources import folder

ON = date(2026, 11, 25)

HEAD = '\n  edition 1\n  owner practice manager\n  takes words from "Imaging room 2"\n'
GOOD = f'protocol "Good"{HEAD}\nphase "All"\n  [ ] wash: operator cleans hands\n'
FAULTY = GOOD.replace('"Good"', '"Faulty"') + "  [ ] operator takes off gloves\n"
SPELT_WRONG = GOOD.replace('"Good"', '"Spelt wrong"') + "  [ ] operator cleens hands\n"

RULES = """rules "House rules"
  edition 2
  takes words from "Dental imaging"
  examples in "Imaging room 2"

settings
  longest waiver of must: 60 days, 30 days

rule "Hands are cleaned in every visit"
  must
  because "Saliva is on what is touched."
  source "A handbook"
  always hands of staff are cleaned

rule "Gloves stay on"
  must
  for gloves; used once
  never gloves comes off staff
"""


def write(where: Path, name: str, text: str) -> Path:
    path = where / f"{name}.protocol"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    return path


def room(where: Path) -> None:
    """The shipped room, so that it lies beside the protocols."""
    shutil.copy(folder("protocols") / "imaging-room-2" / "imaging-room-2.protocol", where)


def report_of(path: Path, **more: object) -> FileReport:
    """What is told of one file, looked at in this process."""
    return look(Job(str(path), path.name), Ask(ON, **more)).report  # type: ignore[arg-type]


def audited(*paths: Path, **more: object) -> Audit:
    return audit(Wanted(paths, ON, **more))  # type: ignore[arg-type]


def hostile(where: Path) -> None:
    """Files and links that are no protocols, beside one that is."""
    write(where, "good", GOOD)
    write(where, "empty", "")
    write(where, "large", "# " + "x" * 98 + "\n" + ("# " + "y" * 97 + "\n") * 21_000)
    (where / "binary.protocol").write_bytes(bytes(range(256)) * 20)
    write(where, "ring", 'words "Ring"\n  edition 1\n  takes words from "Ring too"\n')
    write(where, "ring-too", 'words "Ring too"\n  edition 1\n  takes words from "Ring"\n')
    write(where, "in-ring", 'protocol "In ring"\n  edition 1\n  takes words from "Ring"\n')
    os.mkfifo(where / "pipe.protocol")
    (where / "out.protocol").symlink_to(where.parent / "secret.protocol")
    (where.parent / "secret.protocol").write_text("secret words\n", "utf-8")
    (where / "gone.protocol").symlink_to(where / "nowhere")
    write(where, "steer\x1b[2J<b>=1+1\n", GOOD.replace('"Good"', '"Steers"'))


#: Gloves come off where one person works alone, which one of the rules forbids.
GLOVED = f"""protocol "Gloved"{HEAD}
choices, each visit
  staffing: alone, paired

phase "All"
  [ ] wash: operator cleans hands
  where staffing is alone
    [ ] operator puts on gloves
    in one go
      [ ] operator takes off gloves
      [ ] operator cleans hands
"""
#: And where two do.
GLOVED_ALWAYS = GLOVED.replace("  where staffing is alone\n", "").replace("    ", "  ")
#: A waiver of that rule.
WAIVER = """waiver "Gloves come off"
  rule "Gloves stay on" of "House rules"
  for gloves
  where staffing is alone
  reason "The new door opens by itself from March on."
  approved by health authority
  from 2026-11-02 to 2026-12-20
  made up for by wash
"""
