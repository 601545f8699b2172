"""All words of a report that are its own; those of its answers stand where the answers are shown.

One place, so that another language needs one more of these.
"""

from __future__ import annotations

# Valve cards ------------------------------------------------------------------------------------

IN = "in {}"
HANDLE, GIVES, WANTED, BUCKET = "handle", "flow", "wanted", "bucket"
NOT_ABOVE, NOT_BELOW, NOT_BEYOND, CARRIES = (
    "do not exceed", "nor fall below", "do not exceed", "carries",
)  # fmt: skip
NOTHING = "nothing"
FILLS = "{} in {}"
NO_LIMIT = "the plan names no limit"
AT_MARK, NOT_REACHED = ", at {}", ", out of its reach"
ROLES = {"stays": "leave it as it stands", "locked": "locked: leave it"}
TRIM = "then trim it until {} just runs"
WINDOW = "{1}; not below {0}"
LEVER = "Lever at {} from shut: across the pipe is shut, along it is open."
WHEEL = "Wheel at {} from shut, against the clock: {} whole and {}."
SCALE = "Handle at {} of its travel from shut."


def a_part(degrees: float) -> str:
    """The last part of a turn."""
    return f"{degrees:.0f} degrees more" if degrees >= 0.5 else "no more"


# The page ---------------------------------------------------------------------------------------

UNTITLED = "This plan"
SKIP = "To where each handle goes"
CONTENTS = "In this report"
JOB = "Where each handle of this manifold goes, so that every branch gets the flow it wants."
ANSWER_MET = "Set {pumps} and turn the handles to these marks: all that is asked is then met."
ANSWER_MISSED = (
    "What is asked CANNOT all be met. These marks come closest{pumps}; missed: {missed}."
)
ANSWER_UNASKED = "Nothing is asked of the branches: handles stay as they stand."
PUMP_AT = "{} to {} speed"
WITH_PUMPS = ", with {}"
AND = " and "
NO_PUMPS = "the pump as it is"
READ_FROM = "Made from {}."
AND_READINGS = "Made from {}, fitted to the readings in {}."
WITHOUT_ANSWER = "No answer:"
MORE = "More: {}"
ALL_FIGURES = "All figures"
SCROLLS = "{}; scrolls sideways where there is little room"

AT_A_GLANCE = "At a glance"
GLANCES = {
    "drains": "Drains", "outage": "Power cut", "spread": "How sure", "buy": "To buy",
    "fit": "Readings",
}  # fmt: skip

HEADINGS = {
    "settings": "Where each handle goes",
    "fit": "What the readings told",
    "drawing": "The plumbing",
    "pump": "The pump at work",
    "targets": "Flows and how sure they are",
    "close": "When a branch is shut",
    "travel": "What each handle does",
    "pumps": "Which pump",
    "drains": "The drains",
    "outage": "When the power fails",
    "buy": "What to buy",
    "cut": "Where to cut",
    "cards": "Valve cards",
    "cautions": "Before hands go in",
    "assumptions": "What this rests on",
    "plan": "The plan",
}
LEADS = {
    "drawing": "Handles at their marks, counted from shut, but gates of drains as the plan has "
    "them; the wider a line, the more flows in it.",
    "pump": "The plumbing with its handles at their marks asks for the head of the dashed line; "
    "each pump works where its own line crosses it.",
    "targets": "With handles at their marks. In nine systems of ten that are built like this one, "
    "the flow lies between the ends of its bar until it is measured.",
    "close": "Each branch shut in turn, all other handles at their marks.",
    "travel": "Each handle turned alone, from shut to full, all others at their marks.",
    "drains": "Filled as it stands with handles at their marks and gates as the plan has them; "
    "levels with something blocked are at the greatest inflow that handles can send there.",
    "outage": "From handles at their marks; nothing counts on a check valve.",
    "cards": "Cut them out and hang one on each valve. Hold a card so that its arrow points the "
    "way the water goes; the dial is then as the handle is seen from the front.",
    "cautions": "Read these before the first handle is turned.",
    "assumptions": "What was taken for granted, what is doubtful, and where laws and data are "
    "printed. Where no print is named, a figure is common practice or our own choice.",
    "plan": "The file as it was read, to begin again from.",
}
LEVELS = "How far the water rises and falls"
COURSE = "As time goes on, with what happens, numbered in the order of the list below"
NOTES = {"spread": HEADINGS["targets"], "check": "The plan as it was read"}
SOURCES = "Published sources of its laws and data"
OPEN_BY = "{} open, from shut"
