"""Levels of vessels over time: `course` runs a plan, as its pumps and valves stand, to its rest.

mouths: where runs meet vessels; plumbing: what flows at given levels; watch: what may happen next;
simulate: the integration from event to event; answer: what became of the water.
"""

from balance.network.course.answer import Course, Event
from balance.network.course.simulate import course
from balance.network.course.watch import Stop

__all__ = ["Course", "Event", "Stop", "course"]
