"""All benchmarks in one run: `python -m tests.speed`."""

from __future__ import annotations

from tests.speed import kernel, size, startup

for benchmark in (kernel, size, startup):
    benchmark.main()
