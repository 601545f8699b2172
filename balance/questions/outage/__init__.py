"""What happens when the power fails: how high the sump rises, and how low it falls afterwards.

::

    question      put together
      start         levels at which it begins
      cases         which check valves hold
        checks        the check valves of a plan
      stopping      one case: vessels run out until all is at rest, then pipes
        pipes         water that pipes and devices let go
      pools         vessels that share a surface over their weirs, and the room left in them
      giving        what each vessel gives, by which ways, and what stops it
      highest       the highest level at which the sump may run
      restart       how low the sump goes when the pump starts again
    answer        what all of it says
"""

from balance.questions.outage.answer import Outage
from balance.questions.outage.question import outage

__all__ = ["Outage", "outage"]
