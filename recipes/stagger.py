"""A staggered entrance: each layer enters where it is home together with those before it.

Each section lasts until all who play are home, so whoever enters next starts on the one
with everybody. A part that enters alone is heard; two at once hide each other (common
practice, no source).
"""

from bridge import named_cycles, plan_text


def build(
    *,
    layers: str = "bells=1 bar, hand drum=3/16, band=4 bars, undertow=3/8",
    tempo: str = "115.2",
    meter: str = "4/4",
    each: str = "0:25",
) -> dict[str, object]:
    """Return the plan: a section of about ``each`` for every entrance, energy rising."""
    parts = named_cycles(layers)
    names = list(parts)
    sections = [
        {
            "name": f"{name} enters",
            "layers": names[:playing],
            "length": {"about": each},
            "energy": [90 * (playing - 1) // len(names) + 5, 90 * playing // len(names) + 5],
        }
        for playing, name in enumerate(names, start=1)
    ]
    return {
        "pulsebridge": 1,
        "title": "A staggered entrance",
        "tempo": tempo,
        "meter": meter.split(","),
        "layers": {name: {"cycle": cycle} for name, cycle in parts.items()},
        "sections": sections,
    }


if __name__ == "__main__":
    print(plan_text(build()), end="")
