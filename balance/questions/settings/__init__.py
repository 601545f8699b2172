"""The main question: where each handle goes."""

from balance.questions.settings.answer import Settings
from balance.questions.settings.question import settings

__all__ = ["Settings", "settings"]
