"""What to do about each kind of doubt."""

from __future__ import annotations

from balance.questions.learning import doubts
from balance.questions.learning.believed import LEFT_OPEN

_BUCKET = (
    "read the branch with a bucket and a stopwatch, and nudge its handle until the flow is right"
)
_WIDE_OPEN = "read flows with the valves wide open: no curve of a valve blurs what that tells"
_PUMP = (
    "read the pump with all valves wide open, at the speed at which it will run: its flow by a "
    "bucket at each branch, its head by a gauge"
)

ADVICE = {
    doubts.CURVES: _BUCKET,
    doubts.OFFSETS: _BUCKET,
    doubts.HANDLES: _BUCKET,
    doubts.FITTINGS: _WIDE_OPEN,
    doubts.COMMON: _WIDE_OPEN,
    doubts.TEES: _WIDE_OPEN,
    doubts.BARBS: "measure the bore of the barb and write it into the plan, then read a flow",
    doubts.DEVICES: (
        "measure what the device loses at one flow, by gauges or standpipes before and behind it, "
        "and write it as its drop"
    ),
    doubts.HOSES: "measure the bore of the hose, and write it into the plan",
    doubts.PIPES: "measure the bore of the pipe, or read its size and schedule off it",
    doubts.ROUGHNESS: "clean what has grown in the pipes, then read flows again",
    doubts.PUMPS: _PUMP,
    doubts.SPEEDS: _PUMP,
    doubts.LEVELS: "measure the heights of the water while the pump runs",
    LEFT_OPEN: (
        "read more: `balance fit` says what would teach most, and `balance tune` leads from here "
        "to the targets"
    ),
    doubts.TEMPERATURE: "read the thermometer, and write what it says into the plan",
}
