"""The main question: where each handle goes.

::

    question            put together: search, marks, rows, words
      search            the order of the steps
        reach             what stays dry
        aimed             all aims at once, if the head suffices: exact
        compromise        or what misses least
          programme         sequential quadratic programming, numbers only
        sharers           all that is left, in proportion
        useful_range      of the pumps
        burden            valves before several branches
          flowspace         flows held, heads left over for the valves
      at_marks          the handles at their marks, and what then flows
        rounding          the best of neighbouring marks
      rows              what each handle and each branch comes to
        coarse            valves too coarse, and what makes them fine
      obstacles         what stands in the way of targets
      bleed             the spare that brings a pump back into its range
      changes           single changes, each tried by a search; those that are worth it
        candidates        handles, speeds, pipes, fittings and pumps that may be changed
          stronger          the pump that would do
        lowered           targets that can be had
    answer              what all of it says
"""

from balance.questions.settings.answer import Settings
from balance.questions.settings.question import settings

__all__ = ["Settings", "settings"]
