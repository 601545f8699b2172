"""All benchmarks in one run: `python -m tests.speed`."""

from __future__ import annotations

from tests.speed import closing, fitting, kernel, packing, pumps, size, spread, startup

for benchmark in (kernel, closing, pumps, size, spread, fitting, packing, startup):
    benchmark.main()
