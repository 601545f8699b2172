"""Time of whole commands, from the shell and back."""

from __future__ import annotations

import subprocess
import sys
from importlib.metadata import distribution
from pathlib import Path

from tests.speed._cases import seconds

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "pump_curves_demo" / "lagoon.toml"
COMMANDS = (["--help"], ["check", str(DEMO)], ["flows", str(DEMO)], ["settings", str(DEMO)])


def main() -> None:
    """Prints the median of each command beside that of bare Python."""
    script = Path(sys.executable).parent / "balance"
    install = distribution("balance-manifold").read_text("direct_url.json") or ""
    editable = '"editable": true' in install
    print(f"whole commands, {'editable' if editable else 'compiled'} install")

    def timed(words: list[str]) -> float:
        def run() -> None:
            done = subprocess.run(words, capture_output=True, check=False)
            assert done.returncode == 0, done.stderr.decode()

        return seconds(run, repeats=5)

    print(f"  python -c pass                     {timed([sys.executable, '-c', 'pass']):8.3f} s")
    for words in COMMANDS:
        shown = " ".join(["balance", words[0], *(Path(word).name for word in words[1:])])
        print(f"  {shown:<34} {timed([str(script), *words]):8.3f} s")


if __name__ == "__main__":
    main()
