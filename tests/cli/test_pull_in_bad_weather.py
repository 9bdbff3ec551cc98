"""``lay --pull`` with a quarter of all packets lost, doubled and out of order: from whom else it reads.

Laid in good weather first; what is told has to be right, and the host stays as it is.
"""

import json
import threading

import pytest

from bridge.cli.main import main
from bridge.practice import Weather
from tests.cli.test_pull import PLAN, USERS, folder, move, run
from tests.lay.hosts import HarbourCrane, Stage, TallyDesk, TideTable

__all__ = ["folder"]

BAD = Weather(lose=0.25, double=0.25, reorder=0.25, delay=0.003, seed=3)
MANY = [(f"take {n:04}", 400 + 0.5 * n) for n in range(2000)]
TAKEN = [{"name": "Crossing", "from": 24, "to": 36}, {"name": "Landfall", "from": 8, "to": 12}]


def move_numbered(stage: Stage, name: str, bars: int) -> None:
    numbers = stage.program.numbers
    for number, (found, at) in numbers.items():
        if found == name:
            numbers[number] = (found, at + 4 * bars)
    stage.program.marks = list(numbers.values())


def turn(stage: Stage, weather: Weather) -> None:
    stage.stop()
    stage.weather = weather
    stage.start()


def takes_the_lengths(capsys, stage: Stage, folder, by=move, *, others: int) -> None:
    """Move what comes after Crossing 12 bars later, and the end 16, and take it into the plan."""
    assert run(capsys, stage)[0] == 0
    by(stage, "Landfall", 12)
    by(stage, "End", 16)
    turn(stage, BAD)
    before = stage.program.state()
    code, told = run(capsys, stage, "--pull")
    assert (code, told["others"], told["taken"]) == (0, others, None)
    assert (folder / "song.yaml").read_text() == PLAN
    code, told = run(capsys, stage, "--pull", "--take")
    assert (code, told["refused"], told["taken"]) == (0, None, TAKEN)
    assert (folder / "song.yaml").read_text().count("36 bars") == 1
    assert stage.program.state() == before


def test_from_a_host_that_tells_its_whole_timeline(folder, capsys):
    with Stage(TideTable(USERS), folder) as stage:
        takes_the_lengths(capsys, stage, folder, move_numbered, others=2)
        assert len(stage.program.regions) == 3


def test_from_a_host_with_two_thousand_markers_of_the_users(folder, capsys):
    with Stage(TallyDesk(MANY), folder) as stage:
        takes_the_lengths(capsys, stage, folder, others=2000)


@pytest.mark.parametrize("kind", [TallyDesk, HarbourCrane], ids=lambda kind: kind.map)
def test_from_a_host_that_dies_meanwhile_and_comes_back(folder, capsys, kind):
    with Stage(kind(USERS), folder) as stage:
        assert run(capsys, stage)[0] == 0
        move(stage, "Landfall", 4)
        turn(stage, BAD)
        asked, dead = threading.Event(), threading.Event()
        hear = stage.program.hear

        def hear_and_count(message, now):
            answers = hear(message, now)
            if stage.program.heard.total() >= start + 3:
                asked.set()
            return answers

        def die_and_come_back():
            if asked.wait(30):
                stage.stop()
                dead.wait(0.3)
                stage.start()

        start = stage.program.heard.total()
        stage.program.hear = hear_and_count
        killer = threading.Thread(target=die_and_come_back)
        killer.start()
        before = stage.program.state()
        code, told = run(capsys, stage, "--pull")
        killer.join()
        assert (code, asked.is_set(), told["others"]) == (0, True, 2)
        assert [one["bar"] for one in told["markers"]] == [3, 7, 35, 39]
        assert stage.program.state() == before


def test_a_host_that_dies_for_good_gives_no_lengths(folder, capsys):
    """What was seen before it died may not be all, so nothing is taken from it."""
    with Stage(TallyDesk(USERS), folder, weather=BAD) as stage:
        stage.program.marks = [("Prelude", 8.0), ("Crossing", 24.0), ("Landfall", 168.0), ("End", 216.0)]
        tell, left = stage.program.do, [2]

        def tell_twice(word, *args):
            left[0] -= word == "read"
            return tell(word, *args) if left[0] >= 0 else []

        stage.program.do = tell_twice
        code = main(["lay", "song.yaml", "--host", str(stage.path), "--pull", "--take", "--json"])
        told = json.loads(capsys.readouterr().out)
    assert code in (1, 3)
    assert not told.get("taken")
    assert (folder / "song.yaml").read_text() == PLAN
