"""A concert of ninety minutes on a virtual clock, walked through by somebody who knows nothing of the code.

The song is known here as plain numbers: which layers with which cycles sound in which
section of how many bars.  What the conductor said is held against the host's true place
and against those numbers, by hand arithmetic; nothing of bridge.cues is asked.
"""

import functools
import itertools
import random
from fractions import Fraction

import pytest

from tests.show.songs import song_of
from tests.show.stand_in import REPORTS, Stage

CYCLES = {
    "band": Fraction(4),
    "drum": Fraction(3, 16),
    "bells": Fraction(5, 4),
    "steps": Fraction(7, 8),
    "figure": Fraction(3, 4),
}
"""In whole notes; the meter is 4/4 throughout, a bar is one."""
PART = [
    ("Prelude", ("bells",), 20),
    ("Crossing", ("band", "drum"), 48),
    ("Shallows", ("drum",), 12),
    ("Landfall", ("band", "drum", "figure"), 60),
    ("Undertow", ("bells", "steps"), 35),
    ("Ebb", ("band", "bells"), 40),
]
TIMES = 12
SECTIONS = [
    (f"{name} {number}", layers, bars) for number in range(1, TIMES + 1) for name, layers, bars in PART
]
BEGINS = dict(
    zip(
        (name for name, *_ in SECTIONS),
        itertools.accumulate((bars for *_, bars in SECTIONS[:-1]), initial=0),
        strict=True,
    )
)
BARS = {name: bars for name, _, bars in SECTIONS}
LAYERS = {name: layers for name, layers, _ in SECTIONS}
GAPS = {"Ebb 5", "Ebb 11", "Crossing 1", "Crossing 9", "Crossing 10"}
"""Where the host was dragged, or the bridge was down."""
TEMPO = 115
TICK = Fraction(1, 24)
"""Quarters: what nothing may be late by."""
ORIGIN = 4


def plan_text():
    lines = [
        "pulsebridge: 1",
        "title: Ninety Minutes",
        f"tempo: {TEMPO}",
        "meter: 4/4",
        "origin: {bar: 2}",
        "layers:",
    ]
    lines += [
        f"  {name}: {{cycle: {cycle if cycle.denominator > 1 else f'{cycle} bars'}}}"
        for name, cycle in CYCLES.items()
    ]
    lines.append("sections:")
    lines += [
        f"  - {{name: {name}, layers: [{', '.join(layers)}], bars: {bars}}}"
        for name, layers, bars in SECTIONS
    ]
    return "\n".join(lines) + "\n"


class Concert(Stage):
    """The stage, with an eye on the host's true place whenever something is said."""

    def __init__(self, song, **told):
        super().__init__(song, **told)
        self.places = []

    def do(self, effects):
        before = len(self.sent)
        super().do(effects)
        if len(self.sent) > before:
            self.host.run(self.now)
            self.places += [self.host.quarters] * (len(self.sent) - before)


@functools.cache
def concert(ability, since):
    """Play it: holds left by every rung, jumps, two crashes, a tempo that breathes by three in a hundred."""
    stage = Concert(song_of(plan_text()), ability=ability, breath=0.03, seed=7)
    chance, deeds = random.Random(7), []
    stage.run(1.0)
    stage.play(ORIGIN + 4 * BEGINS[f"Prelude {since}"])
    at = 1.0
    for name, layers, bars in SECTIONS:
        number = int(name.split()[-1])
        if number < since:
            continue
        if not view_of(stage).startswith(name):
            run_until(stage, lambda name=name: view_of(stage) == name, at + 600)
        at = stage.now
        seconds = bars * 240 / TEMPO
        if name.startswith(("Crossing", "Landfall", "Undertow")) and number <= TIMES - 2:
            stage.run(at + seconds * chance.uniform(0.2, 0.9))
            stage.press("hold")
            if number in (since, TIMES - 2) and name.startswith("Crossing"):
                stage.run(at + seconds - 0.4)
                stage.kill()
                stage.run(stage.now + 1.1)
                stage.restart(gone=1.1)
                deeds.append(("crash", name))
            stage.run(at + seconds + chance.uniform(-5, 40))
            who = [None, *layers][number % (len(layers) + 1)]
            stage.press("release", *([who] if who else []))
            deeds.append(("release", name, who))
        elif name.startswith("Shallows") and number % 4 == 0:
            stage.run(at + 5.0)
            stage.press("release_now")
        elif name.startswith("Ebb") and number in (5, TIMES - 1) and ability:
            stage.run(at + 5.0)
            stage.host.run(stage.now)
            stage.host.quarters -= 16  # somebody drags the host four bars back
            deeds.append(("drag", stage.now))
        at = stage.now
    stage.run(at + 300)
    return stage, deeds


def view_of(stage):
    passed = stage.conductor.passed
    return passed.name if passed else ""


def run_until(stage, true, latest):
    while not true():
        assert stage.now < latest
        stage.run(stage.now + 0.25)


KINDS = [(("locate",), 1), (("locate", "loop", "loop_off"), TIMES - 3), ((), TIMES - 3)]
"""What the host can do, and with which part the concert begins: whole, and the last of it."""


@pytest.fixture(params=KINDS, ids=["locates", "loops", "neither"])
def played(request):
    return *concert(*request.param), request.param[1]


def tells(stage, what):
    return [one for one in stage.told if one.what == what]


def test_it_is_a_whole_concert(played):
    stage, deeds, since = played
    assert stage.now > (90 * 60 if since == 1 else 25 * 60)
    assert len(tells(stage, "release")) == 3 * (TIMES - 1 - since)
    if since == 1:
        assert len({who for what, _, *rest in deeds for who in rest if what == "release"}) == 1 + len(CYCLES)
    assert len(tells(stage, "resumed")) == 2
    assert [one.text for one in tells(stage, "end")] == ["Ninety Minutes is over"]
    assert not tells(stage, "refused")


def test_everything_said_of_a_bar_is_said_within_a_tick_of_it(played):
    stage, deeds, since = played
    loops = {"Crossing": 12, "Landfall": 12, "Undertow": 35}
    checked = 0
    drags = [deed[1] for deed in deeds if deed[0] == "drag"]
    jumps = {at for at, _ in stage.asked} | {one.at for one in tells(stage, "resumed")}
    for (at, effect), place in zip(stage.sent, stage.places, strict=True):
        if effect.message.address != "/pulsebridge/now" or at in jumps:
            continue  # said before the host is where it is sent, or as soon as the bridge is back
        if any(0 <= at - dragged <= REPORTS for dragged in drags):
            continue  # nobody has told yet
        name, bar, _, beat = effect.message.args
        into = (bar - 1) * 4 + beat - 1
        show = ORIGIN + BEGINS[name] * 4 + into
        apart = [abs(place - show)]
        if bar > BARS[name]:
            if not stage.ability:
                continue  # its timeline runs on: where it then is, is tested below
            back = loops[name.split()[0]] * 4
            apart += [abs(place + times * back - show) for times in range(1, 40)]
        elif not stage.ability:
            apart = [abs((place - show) % 4), 4 - (place - show) % 4]  # late by the bars that were held
        assert min(apart) < TICK, (name, bar, beat, place, show)
        checked += 1
    assert checked > (9000 if since == 1 else 3000)


def test_a_host_that_runs_on_is_off_by_whole_bars_and_the_bars_are_counted_through(played):
    stage, _, _ = played
    before = None
    for _, effect in stage.sent:
        if effect.message.address == "/pulsebridge/now":
            name, bar, _, beat = effect.message.args
            if before and before[0] == name and stage.conductor and beat == 1 and bar != before[1] + 1:
                assert name in GAPS, (before, name, bar)
            if beat == 1:
                before = name, bar


def test_every_turn_told_is_the_turn_that_a_player_counts(played):
    stage, _, since = played
    checked = 0
    for (_, first), (_, then) in itertools.pairwise(stage.sent):
        if first.message.address != "/pulsebridge/now" or then.due != first.due:
            continue
        _, bar, left, beat = first.message.args
        into = bar - 1 + Fraction(beat - 1) / 4
        for _, effect in said_with(stage, first):
            layer, turn, turns_left, phase = effect.message.args
            turns = into / CYCLES[layer]
            assert turn == turns // 1 + 1
            assert phase == pytest.approx(float(turns % 1), abs=1e-6)
            if left > 0:
                ends = (bar - 1 + left) / CYCLES[layer]
                assert turns_left == -(-ends // 1) - turns // 1
            checked += 1
    assert checked > (20000 if since == 1 else 7000)


def said_with(stage, first):
    return _by_due(id(stage))[first.due]


@functools.cache
def _by_due(key):
    stage = next(one for one, _ in (concert(*kind) for kind in KINDS) if id(one) == key)
    found = {}
    for at, effect in stage.sent:
        if effect.message.address == "/pulsebridge/turn":
            found.setdefault(effect.due, []).append((at, effect))
        else:
            found.setdefault(effect.due, [])
    return found


def test_every_release_leaves_where_it_was_announced_with_those_home_that_were_named(played):
    stage, _, _ = played
    events = [one for one in stage.told if one.what in ("release", "section", "resumed", "moved")]
    releases = [(number, one) for number, one in enumerate(events) if one.what == "release"]
    for number, release in releases:
        name = release.text.split(" ends ")[0]
        after = next(one for one in events[number:] if one.what == "section")
        bars = last_bar(stage, name, after.at)
        assert bars >= BARS[name]
        beyond = bars - BARS[name]
        home = {layer for layer in LAYERS[name] if beyond % CYCLES[layer] == 0}
        assert set(release.data["home"]) == home
        assert set(release.data["not_home"]) == set(LAYERS[name]) - home
        begun = bar_at(stage, name, release.at)
        assert bars - begun + 1 == release.data["bars"]


def last_bar(stage, name, until):
    return max(
        effect.message.args[1]
        for at, effect in stage.sent
        if effect.message.address == "/pulsebridge/now" and effect.message.args[0] == name and at < until
    )


def bar_at(stage, name, until):
    """The bar that is being played at an instant: the last that was told of."""
    return [
        effect.message.args[1]
        for at, effect in stage.sent
        if effect.message.address == "/pulsebridge/now" and effect.message.args[0] == name and at <= until
    ][-1]


def test_every_cue_went_out_once_in_its_pass_and_none_late(played):
    stage, _, _ = played
    passes, key = [], None
    for one in stage.told:
        if one.what == "section":
            passes.append([])
        elif one.what == "cue" and passes:
            key = one.data["key"]
            assert key not in passes[-1], (key, one.at)
            passes[-1].append(key)
    assert stage.conductor.dropped == 0
    assert stage.conductor.late == 0
    coming = [one.text for one in tells(stage, "cue")]
    for name, following in itertools.pairwise(one.data["section"] for one in tells(stage, "section")):
        ways = (f"{following} in ", f"then {following}")
        assert any(way in text for text in coming for way in ways), (name, following)


def test_each_host_ends_where_the_song_does(played):
    stage, _, _ = played
    end = tells(stage, "end")[0].at
    total = ORIGIN + 4 * sum(BARS.values())
    place = next(
        host for (at, _), host in zip(reversed(stage.sent), reversed(stage.places), strict=True) if at <= end
    )
    if stage.ability:
        assert total - 1.1 <= place <= total
