"""How sure all this is: flows, and chances to meet targets, over all that a plan leaves in doubt.

::

    question          put together: the network, its clogs, what it leaves in doubt
      outcome           bands, chances and shares of one sampler's systems
        monte_carlo       systems drawn and solved, block by block
        shares            which doubt contributes how much
        advice            what to do about a doubt
    answer            what all of it says
"""

from balance.questions.spread.answer import Spread
from balance.questions.spread.question import spread

__all__ = ["Spread", "spread"]
