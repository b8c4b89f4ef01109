"""Times of whole commands, by hand: ``python tests/benchmarks/commands.py``. Writes a table; asserts nothing.

``--help`` is compared with a bare click program in the same run; demo and plan are wall times of a process of their own.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

BARE = "import click\n@click.group()\ndef cli(): pass\n@cli.command()\ndef one(): pass\ncli(['--help'])\n"
OURS = "import sys\nsys.argv = ['fieldkit', '--help']\nfrom fieldkit.cli import main\nmain()\n"


def wall(words: list[str], runs: int) -> float:
    """Median wall time of a command [s]."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        subprocess.run(words, check=True, capture_output=True)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    python = sys.executable
    wall([python, "-c", OURS], 2)
    bare, ours = wall([python, "-c", BARE], 15), wall([python, "-c", OURS], 15)
    print("| what | s | ratio |\n|---|---|---|")
    print(f"| bare click program, --help | {bare:.3f} | 1 |\n| fieldkit --help | {ours:.3f} | {ours / bare:.2f} |")
    with tempfile.TemporaryDirectory() as folder:
        for words in (["demo", "--quick"], ["demo"], ["demo", "--solo", "--quick"]):
            out = str(Path(folder) / "-".join(words))
            seconds = wall([python, "-m", "fieldkit.cli", *words, "-o", out], 3)
            print(f"| fieldkit {' '.join(words)} | {seconds:.2f} | |")


if __name__ == "__main__":
    main()
