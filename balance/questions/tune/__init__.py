"""The walk from where handles stand to the targets, a handle at a time."""

from balance.questions.tune.answer import Advice, Expected, Handle
from balance.questions.tune.question import tune
from balance.questions.tune.sheet import Sheet, reading_of, sheet, speeds_after

__all__ = ["Advice", "Expected", "Handle", "Sheet", "reading_of", "sheet", "speeds_after", "tune"]
