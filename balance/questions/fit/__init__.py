"""What readings at the real plumbing tell of its plan, and how sure that leaves its flows."""

from balance.questions.fit.answer import Fit, Forecast, NextReading, Number, ReadingRow
from balance.questions.fit.question import fit

__all__ = ["Fit", "Forecast", "NextReading", "Number", "ReadingRow", "fit"]
