"""Pieces of pipe packed into the sticks they are cut from: numbers only, of any plan or none.

pack                    the question: three goals, one after the other
answer                  what it says
job                     pieces and sticks in whole numbers
bounds                  what no way to cut can do better
filling, redealing      quick ways to place all pieces
emptying                quick ways to one long offcut
patterns, programme     what they leave open, settled by integer programmes
ending                  the longest offcut, by both
"""

from balance.questions.packing.answer import CutStick, Packing
from balance.questions.packing.question import pack

__all__ = ["CutStick", "Packing", "pack"]
