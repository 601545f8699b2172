"""Changing water by a drain and a pump.

::

    question      put together
      lines         by which old water leaves and new water comes
      faults        what is wrong with the plan's change
      steps         one simulation after another, each from where the last has ended
      telling       the vessel whose level says when a step is through
      even          how far to throttle the faster line where both run at once
      troubles      what goes wrong
      ways          what would go instead, tried one by one
      stuck         what a line takes that does not shut
      limits        how much could be changed at most, and water over pumps' intakes
      mixing        how much old water is left, and the salt of the new
      levels        surfaces of a simulation as rows
    answer        what all of it says
"""

from balance.questions.change.answer import WaterChange
from balance.questions.change.question import change

__all__ = ["WaterChange", "change"]
