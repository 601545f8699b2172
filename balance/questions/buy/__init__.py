"""What to buy: every part of a plan by size and kind, with spares, and what was forgotten."""

from balance.questions.buy.answer import Buy, Item
from balance.questions.buy.question import buy

__all__ = ["Buy", "Item", "buy"]
