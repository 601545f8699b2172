"""All benchmarks in one run: `python -m tests.speed`."""

from __future__ import annotations

from tests.speed import closing, kernel, size, startup

for benchmark in (kernel, closing, size, startup):
    benchmark.main()
