"""Files written whole or not at all, over another or only where there is none."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from balance.errors import UsageError
from balance.plan.whole import write_anew, write_over


def test_a_file_is_written_over_whole(tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    write_over(file, "one\r\ntwo\n")
    assert file.read_bytes() == b"one\r\ntwo\n"
    write_over(file, "three")
    assert file.read_bytes() == b"three"
    assert [entry.name for entry in tmp_path.iterdir()] == ["log.csv"]


def test_a_text_that_fails_leaves_the_old_file_and_no_draft(tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    write_over(file, "old")
    with pytest.raises(UnicodeEncodeError):
        write_over(file, "new \ud800")
    assert file.read_text(encoding="utf-8") == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["log.csv"]


def test_a_move_that_fails_leaves_the_old_file_and_no_draft(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    file = tmp_path / "log.csv"
    write_over(file, "old")
    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(UsageError, match=r"log\.csv cannot be written: Permission denied$"):
        write_over(file, "new")
    assert file.read_text(encoding="utf-8") == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["log.csv"]


def test_nothing_is_written_over_where_a_file_is_wanted_anew(tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    write_anew(file, "mine")
    with pytest.raises(FileExistsError):
        write_anew(file, "yours")
    assert file.read_text(encoding="utf-8") == "mine"
    assert [entry.name for entry in tmp_path.iterdir()] == ["log.csv"]


def test_without_hard_links_a_file_that_appears_meanwhile_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "log.csv"

    def another_is_faster(*_: object, **__: object) -> None:
        file.write_text("theirs", encoding="utf-8")
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(os, "link", another_is_faster)
    with pytest.raises(FileExistsError):
        write_anew(file, "mine")
    assert file.read_text(encoding="utf-8") == "theirs"
    assert [entry.name for entry in tmp_path.iterdir()] == ["log.csv"]


def test_without_hard_links_a_move_that_fails_leaves_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "link", refuse)
    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(UsageError, match="cannot be written: Permission denied"):
        write_anew(tmp_path / "log.csv", "mine")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"is a folder; name a file in it$"):
        write_over(tmp_path, "text")
    with pytest.raises(UsageError, match="cannot be written: No such file or directory"):
        write_over(tmp_path / "absent" / "log.csv", "text")
