"""What drains carry, where the water then stands, and which single blockage floods what.

::

    question      put together; from the highest vessel down
    supply        what pumps can bring, in one batch
    levels        the level at which drains carry what comes, in all cases at once
    states        which cases: blockages, siphons full or not, inflows
    gate          the window of marks of each siphon's gate
    siphons       whether each fills and holds
    lines         level against inflow
    quiet         the speed up to which one blocked drain floods nothing
    filling       level over time, once the worst single blockage comes
    notes         what a person should know about how it was reckoned
    answer        what all of it says
"""

from balance.questions.drains.answer import Drains
from balance.questions.drains.filling import followed
from balance.questions.drains.question import drains

__all__ = ["Drains", "drains", "followed"]
