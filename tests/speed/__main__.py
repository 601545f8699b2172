"""All benchmarks in one run: `python -m tests.speed`."""

from __future__ import annotations

from tests.speed import closing, fitting, kernel, pumps, size, spread, startup

for benchmark in (kernel, closing, pumps, size, spread, fitting, startup):
    benchmark.main()
