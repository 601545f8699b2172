"""Files that are written whole or not at all: a reader never meets half of one."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from balance.errors import UsageError


def write_over(file: Path, content: str | bytes) -> None:
    """Write a text or bytes to a file, in place of what a file of that name held.

    Raises
    ------
    UsageError
        If it cannot be written; what was there is then as it was.
    """
    with _draft(file, content) as draft:
        draft.replace(file)


def write_anew(file: Path, text: str) -> None:
    """Write a text to a file that is not there yet.

    Raises
    ------
    FileExistsError
        If a file has that name already; it stays as it is.
    UsageError
        If it cannot be written.
    """
    with _draft(file, text) as draft:
        _name_anew(draft, file)


@contextmanager
def _draft(file: Path, content: str | bytes) -> Iterator[Path]:
    """Give a file beside the one wanted, with the content in it, that is gone afterwards."""
    if file.is_dir():
        raise UsageError(f"{file} is a folder; name a file in it")
    try:
        handle, name = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
        draft = Path(name)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(content if isinstance(content, bytes) else content.encode())
            draft.chmod(0o666 & ~_umask())
            yield draft
        finally:
            with suppress(FileNotFoundError):
                draft.unlink()
    except FileExistsError:
        raise
    except OSError as error:
        raise UsageError(f"{file} cannot be written: {error.strerror}") from error


def _name_anew(draft: Path, file: Path) -> None:
    """Give the draft its name unless a file has it, with nothing in between where that can be."""
    try:
        file.hardlink_to(draft)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        file.touch(exist_ok=False)  # takes the name, unless a file has it
        try:
            draft.replace(file)
        except OSError:
            file.unlink()
            raise


def _umask() -> int:
    """Give the process's mask of permissions, which can be read only by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
