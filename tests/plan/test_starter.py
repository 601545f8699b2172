"""The starter plan: reads without faults, is written whole or not at all, and over nothing."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from balance.errors import UsageError
from balance.plan.read import read
from balance.plan.starter import STARTER, write_starter


def test_the_starter_reads_without_faults(tmp_path: Path) -> None:
    file = write_starter(tmp_path / "plan.toml", force=False)
    assert file.read_text(encoding="utf-8") == STARTER
    plan = read(file)
    assert plan.path == file
    assert [branch.name for branch in plan.branches] == ["reactor", "refugium", "return"]
    assert all(branch.target is not None for branch in plan.branches)
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan.toml"]


def test_nothing_is_written_over_unless_asked(tmp_path: Path) -> None:
    file = tmp_path / "plan.toml"
    file.write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="--force"):
        write_starter(file, force=False)
    assert file.read_text(encoding="utf-8") == "mine"
    write_starter(file, force=True)
    assert file.read_text(encoding="utf-8") == STARTER
    assert [entry.name for entry in tmp_path.iterdir()] == ["plan.toml"]


def test_a_file_system_without_hard_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(os, "link", refuse)
    file = write_starter(tmp_path / "plan.toml", force=False)
    assert file.read_text(encoding="utf-8") == STARTER
    with pytest.raises(UsageError, match="--force"):
        write_starter(file, force=False)


def test_folders_are_told(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="is a folder"):
        write_starter(tmp_path, force=True)
    with pytest.raises(UsageError, match="cannot be written"):
        write_starter(tmp_path / "absent" / "plan.toml", force=False)
