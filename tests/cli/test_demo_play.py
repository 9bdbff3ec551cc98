"""The demo gives its orders as the host's map has them: waits kept, replies awaited."""

import pytest

from bridge.cli import demo_stay
from bridge.cli.demo import _host_map
from bridge.cli.demo_play import Excerpt, play
from bridge.errors import PeerError
from bridge.hostmap import load
from bridge.osc import Port
from bridge.practice import PracticeHost, SongTimeline
from bridge.store import shipped
from tests.lay.simulate import song_ruler

SONG = song_ruler((1, 2), names=("Prelude", "Landfall"), tempo=960).song
PLAIN = 'locate: [{address: /rig/goto, args: ["{quarters:f}"]}]'
AWAITS = """locate:
    - address: /rig/goto
      args: ["{quarters:f}"]
      reply: {address: /rig/where, args: ["%s"], within: 300ms, tries: 4}
    - {wait: 30ms}
    - {address: /rig/note/put, args: ["{seconds:f}", "located"]}"""


def rig(reply: str):
    ports = _host_map(fixed_ports=False)
    text = shipped("examples/hosts/practice-rig.yaml").read_text(encoding="utf-8")
    text = text.replace("127.0.0.1:9001", str(ports.send_to)).replace("127.0.0.1:9000", str(ports.receive_on))
    assert PLAIN in text
    return load(text.replace(PLAIN, AWAITS % reply))


def perform(host) -> tuple[list, list[str]]:
    with PracticeHost(SongTimeline(SONG), listen_on=host.send_to, send_to=host.receive_on) as practice:
        try:
            told = play(SONG, host, Excerpt(first=1, last=2, landing=2), lambda _text: None)
        finally:
            names = [note.name for note in practice.notes]
        return told, names


def test_the_rest_of_an_order_follows_once_the_reply_has_come():
    told, names = perform(rig("{quarters:f}"))
    assert [bar["bar"] for bar in told] == [1, 2]
    assert names == ["located"]


def test_where_the_reply_does_not_come_the_rest_is_not_sent_and_the_order_is_named():
    with pytest.raises(PeerError, match="'locate'"):
        perform(rig("{bar:i}"))


def test_the_demo_that_stays_lets_the_host_play_on_and_follows_it_with_the_page(monkeypatch, tmp_path):
    monkeypatch.setenv("PULSEBRIDGE_STATE", str(tmp_path))
    host, ran = _host_map(fixed_ports=False), []

    def run(make, *, as_json, stage):
        from bridge.cli.bridge_live import Front

        with Front(as_json=True) as front:
            daemon = make(front)
        ran.append((daemon.settings.host, daemon.settings.token != "", as_json, stage))
        return 130

    monkeypatch.setattr(demo_stay, "run", run)
    with PracticeHost(SongTimeline(SONG), listen_on=host.send_to, send_to=host.receive_on) as practice:
        assert demo_stay.stay(SONG, host, 2, stage="127.0.0.1:0", as_json=True) == 130
        with Port(host.receive_on) as port:  # its reports come as long as it runs
            assert any(practice.playing for _ in range(200) if port.receive(0.05) is not None)
    assert ran == [(host, True, True, "127.0.0.1:0")]
