"""Cold start: ``pulsebridge lengths`` beside importing pydantic, yaml, typer and rich.

Run by hand: python tests/bench/bench_cold_start.py.  Processes are started in turn, so
that both see the same machine; the median is compared.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

ROUNDS = 15
LENGTHS = ["-m", "bridge", "lengths", "--tempo", "115.2", "--layer", "band=4bars", "--layer", "drum=3/16"]
WAYS = {
    "the interpreter alone": ["-c", "pass"],
    "peer: pydantic, yaml, typer, rich": ["-c", "import pydantic, yaml, typer, rich"],
    "lengths --json": [*LENGTHS, "--json"],
    "lengths": LENGTHS,
    "find": [*["-m", "bridge", "find", "--bars", "68", "--layer", "band=4bars", "--for", "drum"]],
}


def seconds(words: list[str]) -> float:
    begun = time.perf_counter()
    subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - begun


def main() -> None:
    took: dict[str, list[float]] = {name: [] for name in WAYS}
    for _ in range(ROUNDS):
        for name, words in WAYS.items():
            took[name].append(seconds(words))
    peer = statistics.median(took["peer: pydantic, yaml, typer, rich"])
    for name, times in took.items():
        median = statistics.median(times)
        print(f"{name:<36} {median * 1000:7.1f} ms   {median / peer:5.2f} of the peer")
    print("target: lengths at most 1.30 of the peer")


if __name__ == "__main__":
    main()
