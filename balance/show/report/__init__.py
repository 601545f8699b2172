"""One page of all that a plan has answers to, for the eye and for the printer.

::

    page          a survey -> the text of an HTML file; nothing else is needed to read it
      sections    which answers and pictures stand where, and in what words
        record    an answer as written on a terminal's page -> blocks of tables and lines
        cards     valves -> what stands on the card that hangs on each
        sources   a plan -> the published sources that its laws and data rest on
      templates/  blocks -> HTML; looks -> CSS
"""

from balance.show.report.page import page

__all__ = ["page"]
