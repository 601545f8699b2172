"""The second question: which pump.

::

    question            put together: contenders, contest, ranking, words
      contenders          the plan with each candidate in place of its own pump
        arrangements        one of them, or two in parallel, in series, at both ends
      contest             all contenders, on as many cores as there are
        trial               one of them, its valves and speed at their best
          shortfalls          targets and limits that are missed
          margins             beyond the targets, fouled, wide open
          dead_head           beside what the weakest part stands
          one_stopped         what remains when one of several fails
          doubts              curves that were changed, laws that are stretched
      ranking             who comes first, and why the others do not
    answer              what all of it says
"""

from balance.questions.pumps.answer import Pumps
from balance.questions.pumps.question import pumps

__all__ = ["Pumps", "pumps"]
