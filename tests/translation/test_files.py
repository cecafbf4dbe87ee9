"""Where translations are looked for, and what is not followed."""

from __future__ import annotations

from pathlib import Path

import pytest

from protocol_lang.text import Unreadable
from protocol_lang.translation.files import LeadsOut, beside, catalogue_beside

ENTRY = 'msgid "a"\nmsgstr "b"\n'


def test_a_translation_lies_beside_its_file():
    assert beside(Path("x/room 2.protocol"), "es") == Path("x/room 2.es.po")


def test_no_file_is_no_translation_and_another_language_is_another_file(tmp_path: Path):
    (tmp_path / "a.es.po").write_text(ENTRY)
    found = catalogue_beside(tmp_path / "a.protocol", "es", "shown/a.protocol")
    assert found is not None and found.entries[0].said == "b"
    assert found.file == str(Path("shown/a.es.po"))
    assert catalogue_beside(tmp_path / "a.protocol", "fr") is None
    assert catalogue_beside(tmp_path / "b.protocol", "es") is None


def test_a_link_is_followed_only_inside_its_folder(tmp_path: Path):
    inside = tmp_path / "clinic"
    inside.mkdir()
    (inside / "real.po").write_text(ENTRY)
    (tmp_path / "secret.po").write_text(ENTRY)
    (inside / "a.es.po").symlink_to("real.po")
    (inside / "b.es.po").symlink_to("../secret.po")
    (inside / "c.es.po").symlink_to("../clinic/real.po")
    (inside / "d.es.po").symlink_to("nowhere.po")
    assert catalogue_beside(inside / "a.protocol", "es") is not None
    with pytest.raises(LeadsOut):
        catalogue_beside(inside / "b.protocol", "es")
    assert catalogue_beside(inside / "c.protocol", "es") is not None
    with pytest.raises(Unreadable):
        catalogue_beside(inside / "d.protocol", "es")


def test_a_folder_a_pipe_and_a_file_too_large_are_refused(tmp_path: Path):
    import os

    (tmp_path / "a.es.po").mkdir()
    os.mkfifo(tmp_path / "b.es.po")
    (tmp_path / "c.es.po").write_bytes(b"# x\n" * (1 << 19))
    (tmp_path / "d.es.po").write_bytes(b'msgid "\xff"\nmsgstr ""\n')
    (tmp_path / "e.es.po").write_bytes(b"")
    kinds = []
    for name in "abcde":
        with pytest.raises(Unreadable) as refused:
            catalogue_beside(tmp_path / f"{name}.protocol", "es")
        kinds.append(refused.value.kind)
    assert kinds == [
        "file-is-folder", "file-not-regular", "file-too-large", "file-not-utf8", "file-empty",
    ]  # fmt: skip
