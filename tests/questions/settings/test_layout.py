"""The drawing at the head of the package names what lies in its folder."""

from __future__ import annotations

import re
from pathlib import Path

from balance.questions import settings as package


def test_every_module_stands_in_the_drawing_once() -> None:
    folder = Path(package.__file__ or "").parent
    drawing = (package.__doc__ or "").split("::\n", 1)[1]
    named = re.findall(r"^ +(\w+)  ", drawing, re.MULTILINE)
    assert sorted(named) == sorted({path.stem for path in folder.glob("*.py")} - {"__init__"})
