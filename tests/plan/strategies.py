"""Plan files made up by hypothesis: every key, in every way it may be written."""

from __future__ import annotations

import json

from hypothesis import strategies as st

_LETTERS = st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp", "Cn", "Co"), exclude_characters=",")
_NAMES = st.sampled_from(
    ["band", "hand drum", "no", "Band", "2:30", "~", "a: b", "x #y", "é", "🌊", "[x]", '"', "1"]
) | st.text(_LETTERS, min_size=1, max_size=6).map(str.strip).filter(bool)


def numbers(*, most: int = 10**4) -> st.SearchStrategy[str]:
    """A number above 0 in any of the ways it may be written."""
    whole = st.integers(1, most).map(str)
    decimals = st.integers(0, 10**7 - 1).map(str)
    return st.one_of(
        whole,
        whole.map("00{}".format),
        st.builds("{}.{}".format, whole, decimals),
        st.builds("{}/{}".format, whole, st.integers(1, 999)),
    )


def notes() -> st.SearchStrategy[str]:
    return st.builds(
        lambda top, low: f"{top}/{low}", st.integers(1, 99), st.integers(1, 999)
    ) | st.sampled_from(["0.75", "0.00390625", "0.12345678901"])


def times() -> st.SearchStrategy[str]:
    decimals = st.text("0123456789", max_size=9).map(lambda d: f".{d}" if d else "")
    clock = st.builds(lambda m, s, d: f'"{m}:{s:02d}{d}"', st.integers(0, 9999), st.integers(1, 59), decimals)
    hours = st.builds(
        lambda h, m, s: f"{h}:{m:02d}:{s:02d}", st.integers(1, 30), st.integers(0, 59), st.integers(0, 59)
    )
    unit = st.builds(
        lambda n, d, u: f"{n}{d} {u}",
        st.integers(1, 99),
        decimals,
        st.sampled_from(["ms", "s", "sec", "min", "h"]),
    )
    return clock | hours | unit


def spans() -> st.SearchStrategy[str]:
    return st.integers(1, 200).map(str) | st.integers(1, 200).map("{} bars".format) | times()


_BPM = st.sampled_from(["96", "115.2", "120", "99.99999", "576/5", "90"])
_TEMPI = (
    _BPM
    | st.builds("{{beat: {}, bpm: {}}}".format, st.sampled_from(["3/8", "1/4", "1/8", "0.5"]), _BPM)
    | st.builds("{{from: {}, to: {}}}".format, _BPM, _BPM)
    | st.builds("{{from: {}, to: {}, beat: 3/8}}".format, _BPM, _BPM)
)
_RANGES = st.sampled_from(["{between: [108, 118]}", "{between: [99.95, 100.01]}", "{between: [90, 90]}"])
_PIVOTS = st.sampled_from(
    ["{pivot: 3/16, becomes: 1/4}", "{pivot: 1/4, becomes: 3/16}", "{pivot: 1/6, becomes: 1/6}"]
)
_METERS = st.sampled_from(["4/4", "7/8", "2+2+3/8", "[4/4, 7/8]", "[6/8]", "12/16"])


_ACCEPTED = [
    '{reading: low payoff, because: "it answers: the calm"}',
    '[{reading: one level, threshold: "3:30", because: no}, {reading: no sign, because: 2:30}]',
    "{reading: short payoff, threshold: 1/3, because: it breaks off}",
    "[{reading: nothing new, threshold: 12, because: ~a}]",
]


_OTHERS = (
    "cycle: 5/8",
    "cycle: 4 bars, start: 0",
    "groups: [3, 2], unit: 1/8, rate: 3/2",
    "pulses: 7, over: 1/1, enters: 3/8",
    "pattern: .x|x, unit: 1/16",
    "start: 1/3",
    "enters: bar 5",
    "enters: 0.75, leaves: 3 bars",
    "leaves: bar 2",
)
_CUES = st.lists(
    st.sampled_from(
        [
            "{at: start, say: no}",
            "{at: end - 8 bars, say: '2:30', sound: calls/a b.wav}",
            "{at: bar 5.3+1/16, send: {program: 128, channel: 16}}",
            "{at: meeting 2 - 2 beats, send: [{controller: 0, value: 127, channel: 1}, {osc: [/a/b]}]}",
            "{at: bar 12 + 0.75, send: {osc: [/x, 1, -1.50, '1', no, '']}, say: '# x'}",
        ]
    ),
    max_size=3,
).map(lambda cues: f"[{', '.join(cues)}]")
_PATTERNS = st.from_regex(r"[.X ]{0,3}x[.xX| ]{0,9}", fullmatch=True).map(json.dumps)


@st.composite
def layers(draw: st.DrawFn) -> str:
    cycles = notes() | st.sampled_from(["4 bars", "2 bars", "12 bars"])
    groups = st.lists(st.integers(1, 9), min_size=1, max_size=5)
    ways = (
        st.builds("cycle: {}".format, cycles),
        st.builds("pulses: {}, over: {}".format, st.integers(1, 40), cycles),
        st.builds("groups: {}, unit: {}".format, groups, notes()),
        st.builds("pattern: {}, unit: {}".format, _PATTERNS, notes()),
    )
    extras = {
        "start": notes() | st.just("0"),
        "rate": numbers(),
        "player": _NAMES.map(_text),
    }
    return f"{{{', '.join([draw(st.one_of(*ways)), *_some(draw, extras)])}}}"


def _some(draw: st.DrawFn, fields: dict[str, st.SearchStrategy[str]]) -> list[str]:
    """Some of the fields, in any order."""
    chosen = draw(st.lists(st.sampled_from(sorted(fields)), unique=True))
    return [f"{key}: {draw(fields[key])}" for key in chosen]


@st.composite
def plan_texts(draw: st.DrawFn) -> str:
    """The text of a plan that loads, unless a cycle in bars misses a list of meters or a tempo its limits."""
    known = draw(st.lists(_NAMES, unique=True, max_size=4))
    names = draw(st.lists(_NAMES, unique=True, min_size=1, max_size=6))
    lines = ["pulsebridge: 1", f"tempo: {draw(_TEMPI | _RANGES)}", f"meter: {draw(_METERS)}"]
    if draw(st.booleans()):
        lines.append(f"title: {_text(draw(_NAMES))}")
    if draw(st.booleans()):
        lines.append(f"total: {{about: {draw(times())}, within: {draw(times())}, weight: {draw(numbers())}}}")
    if draw(st.booleans()):
        lines.append(f"origin: {{bar: {draw(st.integers(1, 99))}, seconds: {draw(times() | st.just('0s'))}}}")
    if draw(st.booleans()):
        lines.append(f"accept: {draw(st.sampled_from(_ACCEPTED))}")
    lines.append("layers:" if known else "layers: {}")
    lines += [f"  {_text(name)}: {draw(layers())}" for name in known]
    lines.append("sections:")
    sounded: set[str] = set()
    for index in range(len(names)):
        text, sounded = draw(_sections(index, names, known, sounded))
        lines.append(text)
    return "\n".join(lines) + "\n"


def _there(name: str) -> st.SearchStrategy[str]:
    """A layer in a section, as it is or with what is other."""
    other = st.sampled_from(_OTHERS).map(lambda keys: f"{{{_text(name)}: {{{keys}}}}}")
    return st.just(_text(name)) | other


@st.composite
def _sections(
    draw: st.DrawFn, index: int, names: list[str], known: list[str], before: set[str]
) -> tuple[str, set[str]]:
    here = draw(st.lists(st.sampled_from(known), unique=True)) if known else []
    if not before and draw(st.integers(0, 9)) == 0:
        return draw(_free(names[index], here)), set()
    sounded = before | set(here)
    runs_on = index < len(names) - 1 and draw(st.booleans())
    there = [draw(_there(name)) for name in here]
    keys = [f"name: {_text(names[index])}", f"layers: [{', '.join(there)}]", *draw(_lengths(index, names))]
    if runs_on:
        keys.append("runs_on: true")
    if sounded and draw(st.booleans()):
        resolve = draw(st.lists(st.sampled_from(sorted(sounded)), unique=True))
        keys.append(f"resolve: {_list(resolve)}")
        if len(resolve) > 1:
            keys.append("meets: once")
    if index and draw(st.booleans()):
        paid = draw(st.lists(st.sampled_from(names[:index]), unique=True, min_size=1))
        demand = numbers().map(lambda ratio: f"{{section: {_list(paid)}, ratio: {ratio}}}")
        keys.append(f"pays_off: {draw(st.sampled_from([_text(paid[0]), _list(paid)]) | demand)}")
    optional = {
        "tempo": _TEMPI | _PIVOTS if index else _TEMPI,
        "meter": _METERS,
        "count_in": st.sampled_from(["1 bar", "2 bars", "16"]),
        "weight": numbers(),
        "letter": st.just(str(index)),
        "note": st.sampled_from(['"Wait: for the nod."', "no", "2:30", '"# x"', "潮"]),
        "colour": st.sampled_from(['"#cc7722"', "'#000000'", '"#FFFFFF"']),
        "energy": st.sampled_from(["10", "0", "33.3", "200/3", "[0, 50.5, 100]"]),
        "accept": st.sampled_from(_ACCEPTED),
        "vamp": st.just("true") | spans().map("{{at_least: {}}}".format),
        "cues": _CUES,
    }
    keys += _some(draw, optional)
    return "  - " + "\n    ".join(keys), sounded if runs_on else set()


@st.composite
def _free(draw: st.DrawFn, name: str, here: list[str]) -> str:
    seconds = st.integers(4, 3000).map("{}s".format) | st.integers(1, 99).map('"{}:07.25"'.format)
    optional = {"layers": st.just(_list(here)), "cues": _CUES, "energy": st.just("7"), "meter": _METERS}
    keys = [f"name: {_text(name)}", f"free: {{about: {draw(seconds)}}}", *_some(draw, optional)]
    return "  - " + "\n    ".join(keys)


@st.composite
def _lengths(draw: st.DrawFn, index: int, names: list[str]) -> list[str]:
    way = draw(st.sampled_from(["bars", "both", "length", *(["same", "same and length"] if index else [])]))
    keys = []
    if way in ("bars", "both"):
        keys.append(f"bars: {draw(st.integers(1, 200))}")
    if way in ("both", "length", "same and length"):
        least = [draw(st.sampled_from(["about", "at_least"]))] if way == "length" else []
        bounds = draw(st.lists(st.sampled_from(["about", "at_least", "at_most"]), unique=True, min_size=1))
        parts = [f"{key}: {draw(spans())}" for key in dict.fromkeys(least + bounds)]
        keys.append(f"length: {{{', '.join(parts)}}}")
    if way in ("same", "same and length"):
        keys.append(f"same_length_as: {_text(draw(st.sampled_from(names[:index])))}")
    return keys


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _list(names: list[str]) -> str:
    return f"[{', '.join(map(_text, names))}]"
