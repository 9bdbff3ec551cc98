"""Made-up plans for the readings: long enough to bore, often in several ways at once."""

from __future__ import annotations

from random import Random

from hypothesis import strategies as st

__all__ = ["plan_texts", "text_of"]

_LAYERS = {
    "band": "{cycle: 4 bars, player: guitars}",
    "drum": "{cycle: 3/16, player: percussion}",
    "bells": "{groups: [3, 3, 2], unit: 1/8, player: keys}",
    "fives": "{pulses: 5, over: 1 bar, player: keys}",
    "undertow": "{cycle: 5/8}",
    "steps": "{cycle: 2 bars}",
    "shaker": "{cycle: 3/8, start: 3/8}",
}
_METERS = ("4/4",) * 8 + ("7/8", "3/4")
_ENERGIES = (5, 10, 20, 30, 40, 50, 55, 60, 70, 80, 85, 90, 100)


def plan_texts() -> st.SearchStrategy[str]:
    """Texts of plans; some of them cannot be solved."""
    return st.integers(0, 2**32).map(lambda seed: text_of(Random(seed)))


def text_of(random: Random) -> str:
    known = random.sample(list(_LAYERS), random.randint(2, 6))
    names = known[: random.randint(2, 5)]  # the rest of them is never heard
    energies = random.choice([_ENERGIES, _ENERGIES, _ENERGIES, _ENERGIES[7:10]])
    count = random.randint(2, 8)
    lines = ["pulsebridge: 1", "tempo: 120", "meter: 4/4"]
    if random.random() < 0.3:
        within = ', within: "0:30"' if random.random() < 0.5 else ""
        lines.append(f'total: {{about: "{count}:{random.choice(["00", "30"])}"{within}}}')
    lines += ["layers:", *(f"  {name}: {_LAYERS[name]}" for name in known), "sections:"]
    in_run: set[str] = set()
    for index in range(count):
        fields, in_run = _section(random, index, count, names, in_run, energies)
        lines.append(f"  - {{{', '.join(fields)}}}")
    return "\n".join(lines) + "\n"


def _section(
    random: Random, index: int, count: int, names: list[str], in_run: set[str], energies: tuple[int, ...]
) -> tuple[list[str], set[str]]:
    here = [] if random.random() < 0.06 else random.sample(names, random.randint(1, len(names)))
    fields = [f"name: S{index}", f"layers: [{', '.join(_stays(random, here))}]", _length(random, index, here)]
    runs_on = index < count - 1 and random.random() < 0.2
    sounded = in_run | set(here)
    if runs_on:
        fields.append("runs_on: true")
    if random.random() < 0.15 and sounded:
        fields.append(f"resolve: [{', '.join(random.sample(sorted(sounded), random.randint(0, 1)))}]")
    if random.random() < 0.85:
        points = random.choices(energies, k=random.choice([1, 1, 2, 2, 3]))
        fields.append(f"energy: {points}")
    if index and random.random() < 0.35:
        built = random.sample(range(index), min(index, random.choice([1, 1, 2])))
        fields.append(f"pays_off: [{', '.join(f'S{other}' for other in built)}]")
    fields += [f"meter: {random.choice(_METERS)}"] if random.random() < 0.3 else []
    fields += [random.choice(["tempo: 96", "tempo: {from: 120, to: 132}"])] if random.random() < 0.2 else []
    return fields, sounded if runs_on else set()


def _stays(random: Random, here: list[str]) -> list[str]:
    """The layers; now and then one of several enters or leaves within the section."""
    if len(here) < 2 or random.random() > 0.1:
        return here
    return [f"{{{here[0]}: {{{random.choice(['enters', 'leaves'])}: bar 5}}}}", *here[1:]]


def _length(random: Random, index: int, here: list[str]) -> str:
    if not here:
        return f"bars: {random.randint(1, 4)}"
    if index and random.random() < 0.1:
        return f"same_length_as: S{random.randrange(index)}"
    if random.random() < 0.2:
        return f"bars: {random.choice([12, 24, 60])}"
    return f"length: {{about: {random.choice([20, 40, 60, 90, 150, 240])}s}}"
