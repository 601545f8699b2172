"""What a plan describes, and what is doubtful about it."""

from balance.questions.check.answer import Check
from balance.questions.check.question import check

__all__ = ["Check", "check"]
