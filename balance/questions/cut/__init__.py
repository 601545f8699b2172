"""Where to cut: each piece of pipe, out of which length, and how it all goes together dry."""

from balance.questions.cut.answer import Cut
from balance.questions.cut.question import cut

__all__ = ["Cut", "cut"]
