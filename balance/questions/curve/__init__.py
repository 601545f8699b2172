"""What one pump can do: its curve as measured, as it is used, and at other speeds.

curve                   the question
answer                  what it says
remarks                 what it says in words
"""

from balance.questions.curve.answer import Curve
from balance.questions.curve.question import curve

__all__ = ["Curve", "curve"]
