"""What happens when branches are shut, turned down or clog up.

::

    question      put together
      cases         names -> what each scenario shuts, turns and clogs, in arrays
      solved        all scenarios and the plan as it stands, in one batch
      rows          what each comes to, branch by branch
      harm          what breaks in each
      dead_head     every branch shut
      notes         what a person should know about how it was reckoned
      holding       which one or two handles to move so that the others are held
        disturbance   how badly the others are off, as one number
        movable       what may be moved, and to which marks
        trials        moves in any number of cases, solved in one batch
        search        the best one and the best two
      advice        what holding says
    answer        what all of it says

    interaction   what one mark of each handle does to every branch
      trimming      one branch after another: in which order, and in how many rounds
    isolation     what to shut so that a valve can be taken out
      cuts          which valves keep the water from it
      piping        the plumbing as a graph
"""

from balance.questions.close.answer import Close
from balance.questions.close.question import close

__all__ = ["Close", "close"]
