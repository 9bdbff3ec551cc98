"""The stage page's server: what it answers, what it refuses and counts, and that the show goes on."""

from __future__ import annotations

import asyncio
import json
import signal
import socket
import time
from dataclasses import replace
from itertools import pairwise

import pytest

from bridge.errors import DeviceError, PlanError
from bridge.show import Control
from bridge.stage import Limits, Stage
from tests.stage.standin import TOKEN, StandIn, Theatre, low_tide_relay, theatre
from tests.stage.wire import Page, ask, ask_control, is_cut_off


@pytest.fixture(scope="module")
def shared():
    with theatre(StandIn(low_tide_relay(), section=5)) as found:
        yield found


def _refusals(found: Theatre, reason: str) -> int:
    return found.stage.refused.reasons[reason]


def test_the_page_is_answered_and_sets_no_cookie(shared):
    status, headers, body = ask(shared.port, "/")
    assert status == 200
    assert b"<title>Stage page</title>" in body
    assert headers["set-cookie"] is None


@pytest.mark.parametrize("path", ["/", "/page/main.js", "/clock", "/page/none.js", "/nowhere", "/join.svg"])
def test_every_answer_lets_a_page_load_from_here_alone(shared, path):
    _, headers, _ = ask(shared.port, path)
    policy = headers["content-security-policy"].split("; ")
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert not any("unsafe" in part or "http" in part or "*" in part for part in policy)
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["access-control-allow-origin"] is None


def test_only_the_pages_own_files_can_be_asked_for(shared):
    for path in ("/page/../stage.py", "/page/%2e%2e%2fstage.py", "/page/description.py", "/page/"):
        assert ask(shared.port, path)[0] == 404, path


def test_a_file_that_the_browser_has_is_not_sent_again(shared):
    _, headers, _ = ask(shared.port, "/page/main.js")
    status, _, body = ask(shared.port, "/page/main.js", if_none_match=headers["etag"])
    assert (status, body) == (304, b"")


def test_the_song_is_told_once_under_a_key_that_names_its_content(shared):
    page = Page(shared.port)
    state = next(page.states())
    page.close()
    status, headers, body = ask(shared.port, f"/song/{state['song']}")
    song = json.loads(body)
    assert status == 200
    assert "immutable" in headers["cache-control"]
    assert [section["name"] for section in song["sections"]][state["section"]] == "Crossing"
    assert ask(shared.port, "/song/0000000000000000")[0] == 404


def test_the_clock_is_that_of_the_states(shared):
    before = time.monotonic()
    told = json.loads(ask(shared.port, "/clock")[2])["now"]
    assert before <= told <= time.monotonic()


def test_a_page_is_told_at_once_and_then_once_a_second_where_nothing_happens():
    show = StandIn(low_tide_relay())
    with theatre(show) as found:
        show.change = lambda view: replace(view, cue="", cue_at=None, leaves=None, late=0, dropped=0)
        page = Page(found.port)
        states = page.states()
        next(states)
        ats = [next(states)["at"] for _ in range(3)]
        page.close()
    assert all(0.8 < after - before < 2.5 for before, after in pairwise(ats)), ats


def test_what_could_not_be_foreseen_is_told_without_waiting(shared):
    page = Page(shared.port)
    states = page.states()
    next(states)
    shared.do(lambda: shared.show.control(Control(do="hold")))
    asked = time.monotonic()
    assert next(state for state in states if state["held"])["ladder"]
    assert time.monotonic() - asked < 0.8
    shared.do(lambda: shared.show.control(Control(do="release")))
    page.close()


@pytest.mark.parametrize(
    "host",
    ["evil.example", "127.0.0.1", "127.0.0.1:1", "10.0.0.1:{port}", "127.0.0.1.evil.example:{port}", ""],
)
def test_a_forged_host_is_refused_and_counted(shared, host):
    before = _refusals(shared, "host")
    assert ask(shared.port, "/", host=host.format(port=shared.port))[0] == 421
    assert _refusals(shared, "host") == before + 1


def test_two_hosts_in_one_request_are_refused(shared):
    with socket.create_connection(("127.0.0.1", shared.port), timeout=10) as line:
        here = f"127.0.0.1:{shared.port}"
        line.sendall(f"GET / HTTP/1.1\r\nHost: {here}\r\nHost: {here}\r\n\r\n".encode())
        assert line.recv(64).split()[1] in (b"400", b"421")


def test_this_machine_is_known_as_localhost_too(shared):
    assert ask(shared.port, "/", host=f"localhost:{shared.port}")[0] == 200


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "https://127.0.0.1:{port}", "http://127.0.0.1:1"]
)
@pytest.mark.parametrize("path", ["/", "/state", "/clock"])
def test_another_origin_is_refused_and_counted(shared, origin, path):
    before = _refusals(shared, "origin")
    status, headers, _ = ask(shared.port, path, origin=origin.format(port=shared.port))
    assert status == 403
    assert headers["access-control-allow-origin"] is None
    assert _refusals(shared, "origin") == before + 1


def test_a_request_that_a_browser_says_comes_from_another_site_is_refused(shared):
    assert ask(shared.port, "/state", sec_fetch_site="cross-site", sec_fetch_mode="cors")[0] == 403


def test_a_link_from_elsewhere_leads_to_the_page(shared):
    followed = {"sec_fetch_site": "cross-site", "sec_fetch_mode": "navigate", "sec_fetch_dest": "document"}
    assert ask(shared.port, "/", **followed)[0] == 200


@pytest.mark.parametrize("token", [None, "", "a word", TOKEN + "x", TOKEN[:-1], "ü"])
def test_without_the_token_nothing_is_controlled(shared, token):
    before, asked = _refusals(shared, "token"), len(shared.show.asked)
    given = None if token is None else token.encode().decode("latin-1")
    status, said = ask_control(shared.port, {"do": "hold"}, given)
    assert status == 401
    assert "word" in said["error"]
    assert _refusals(shared, "token") == before + 1
    assert len(shared.show.asked) == asked


def test_the_token_in_the_address_that_is_sent_counts_for_nothing(shared):
    status, _, _ = ask(shared.port, f"/control?token={TOKEN.replace(' ', '%20')}", method="POST", body=b"{}")
    assert status == 401


def test_another_origin_controls_nothing_even_with_the_token(shared):
    asked = len(shared.show.asked)
    assert ask_and_status(shared.port, origin="http://evil.example") == 403
    assert len(shared.show.asked) == asked


def ask_and_status(port: int, **headers: str) -> int:
    status, _, _ = ask(
        port, "/control", method="POST", body=b'{"do": "hold"}', authorization=f"Bearer {TOKEN}", **headers
    )
    return status


def test_a_page_that_may_only_read_cannot_control():
    with theatre(StandIn(low_tide_relay()), token=None) as found:
        assert found.stage.control_address is None
        assert ask_control(found.port, {"do": "hold"}, "")[0] == 403
        assert ask_control(found.port, {"do": "hold"}, TOKEN)[0] == 403
        assert not found.show.asked


@pytest.mark.parametrize(
    ("what", "control"),
    [
        ({"do": "hold"}, Control(do="hold")),
        ({"do": "release", "name": "hand drum"}, Control(do="release", name="hand drum")),
        ({"do": "release", "name": None}, Control(do="release")),
        ({"do": "locate", "name": "Landfall"}, Control(do="locate", name="Landfall")),
    ],
)
def test_with_the_token_the_show_hears_what_is_asked(shared, what, control):
    shared.do(lambda: shared.show.control(Control(do="hold")))
    assert ask_control(shared.port, what, TOKEN) == (200, {"done": True})
    assert shared.show.asked[-1] == control


@pytest.mark.parametrize(
    "what",
    [
        b"",
        b"{",
        b"[" * 900,
        b"[]",
        b'"hold"',
        {"do": 1},
        {"do": "dance"},
        {"do": "locate"},
        {"do": "locate", "name": " "},
        {"do": "hold", "name": "x"},
        {"do": "hold", "and": 1},
        {"do": "locate", "name": "Nowhere"},
    ],
)
def test_what_cannot_be_done_is_answered_with_the_reason(shared, what):
    status, said = ask_control(shared.port, what, TOKEN)
    assert status == 409
    assert said["error"]


def test_controls_are_asked_by_post_alone(shared):
    assert ask(shared.port, "/control", authorization=f"Bearer {TOKEN}")[0] == 405


@pytest.mark.parametrize("told", ["content-length: 10485760", "transfer-encoding: chunked"])
def test_a_message_of_ten_megabytes_is_refused_and_the_show_goes_on(shared, told):
    before = _refusals(shared, "size")
    head = f"POST /control HTTP/1.1\r\nHost: 127.0.0.1:{shared.port}\r\n{told}\r\n"
    head += f"Authorization: Bearer {TOKEN}\r\n\r\n"
    part = b"x" * 65536
    chunk = part if "length" in told else b"10000\r\n" + part + b"\r\n"
    with socket.create_connection(("127.0.0.1", shared.port), timeout=10) as line:
        line.sendall(head.encode())
        try:
            for _ in range(160):
                line.sendall(chunk)
            answer = line.recv(64)
        except ConnectionError:  # it did not even listen to the end
            answer = b""
    assert answer[:12] in (b"", b"HTTP/1.1 413")
    assert _refusals(shared, "size") == before + 1
    assert ask(shared.port, "/clock")[0] == 200


@pytest.mark.parametrize(
    "head",
    [b"GET /" + b"a" * 20_000, b"GET / HTTP/1.1\r\n" + b"x: " + b"y" * 20_000, b"\x16\x03\x01\r\n\r\n"],
)
def test_a_head_too_long_or_no_request_at_all_is_refused_and_counted(shared, head):
    before = _refusals(shared, "request")
    with socket.create_connection(("127.0.0.1", shared.port), timeout=10) as line:
        line.sendall(head + b"\r\n\r\n")
        assert line.recv(64)[:12] == b"HTTP/1.1 400"
    assert _refusals(shared, "request") == before + 1


def test_five_hundred_connections_from_one_address_are_refused_but_for_a_few():
    with theatre(StandIn(low_tide_relay()), limits=Limits(per_address=20)) as found:
        page = Page(found.port)
        states = page.states()
        next(states)
        lines = [socket.create_connection(("127.0.0.1", found.port), timeout=10) for _ in range(500)]
        cut = sum(is_cut_off(line) for line in lines[19:])
        assert cut == 481
        assert _refusals(found, "connections") == 481
        assert next(states)["section"] == 0
        for line in lines:
            line.close()
        page.close()
        assert _answers_again(found.port)


def _answers_again(port: int) -> bool:
    for _ in range(50):
        try:
            return ask(port, "/clock")[0] == 200
        except ConnectionError:  # those before have not been taken leave of yet
            continue
    return False


def test_one_address_leaves_room_for_the_others():
    from bridge.stage.connection import Door
    from bridge.stage.limits import Refused

    door = Door(Limits(connections=5, per_address=3), Refused())
    assert [door.enter("a") for _ in range(4)] == [True, True, True, False]
    assert [door.enter("b") for _ in range(3)] == [True, True, False]
    door.leave("a")
    assert door.enter("c")
    assert door.refused.reasons["connections"] == 2


def test_a_connection_that_asks_for_nothing_is_cut_off():
    with theatre(StandIn(low_tide_relay()), limits=Limits(request_seconds=0.2)) as found:
        with socket.create_connection(("127.0.0.1", found.port), timeout=10) as line:
            line.sendall(b"GET / HT")
            assert is_cut_off(line)
        assert _refusals(found, "request") == 1


def test_a_page_that_stops_reading_is_dropped_and_delays_no_other():
    show = StandIn(low_tide_relay())
    limits = Limits(patience_seconds=0.4, buffer_bytes=4096)
    with theatre(show, limits=limits) as found:
        show.change = lambda view: replace(view, cue="x" * 6000, cue_at=view.at)
        deaf, well = Page(found.port, receive_buffer=2048), Page(found.port)
        gaps, last = [], time.monotonic()
        for _ in well.states():
            gaps.append(time.monotonic() - last)
            last = time.monotonic()
            if found.stage.refused.slow or sum(gaps) > 15:
                break
        assert found.stage.refused.slow == 1
        assert max(gaps) < 0.4 + 0.35, gaps  # no pause as long as the patience with the deaf one
        assert _wait_until(lambda: found.stage.watching == 1, well)
        deaf.close()
        well.close()


def _wait_until(is_so, page: Page) -> bool:
    return any(is_so() for _ in zip(range(40), page.states(), strict=False))


def test_a_page_that_goes_is_forgotten():
    with theatre(StandIn(low_tide_relay())) as found:
        stays, goes = Page(found.port), Page(found.port)
        next(stays.states())
        next(goes.states())
        assert found.stage.watching == 2
        goes.close()
        assert _wait_until(lambda: found.stage.watching == 1, stays)
        stays.close()


def test_the_page_can_be_taken_away_and_brought_back_on_its_port():
    with theatre(StandIn(low_tide_relay())) as found:
        page = Page(found.port)
        states = page.states()
        next(states)
        found.shut()
        assert [state["section"] for state in states] in ([], [0])
        page.close()
        found.open()
        assert ask(found.port, "/clock")[0] == 200


async def _opens(listen: str) -> None:
    show = StandIn(low_tide_relay())
    show.begin()
    async with Stage(view=show.view, listen=listen):
        pass


def test_a_taken_port_is_told_with_what_to_do():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(DeviceError, match=r"cannot be served on 127\.0\.0\.1:.*in use") as told:
            asyncio.run(_opens(f"127.0.0.1:{taken.getsockname()[1]}"))
        assert "--stage takes" in str(told.value)


@pytest.mark.parametrize("listen", ["", "8080", "127.0.0.1", "127.0.0.1:99999", "::1:80"])
def test_an_address_that_is_none_is_refused(listen):
    with pytest.raises(PlanError):
        Stage(view=lambda: None, listen=listen)


def test_the_address_for_all_carries_no_token_and_the_other_one_keeps_it_from_being_sent(shared):
    assert shared.stage.address == f"http://127.0.0.1:{shared.port}/"
    assert shared.stage.control_address == f"{shared.stage.address}#token=a%20word%20of%20the%20evening"
    code = ask(shared.port, "/join.svg")[2].decode()
    assert f"<title>{shared.stage.address}</title>" in code
    assert "token" not in code


def test_the_code_for_a_terminal_is_the_code_of_the_address(shared):
    """Its blocks are read back: light where segno's own matrix is light."""
    segno = pytest.importorskip("segno")
    lines = shared.stage.code().splitlines()
    light = {"█": (1, 1), "▀": (1, 0), "▄": (0, 1), " ": (0, 0)}
    rows = [[light[sign][half] for sign in line] for line in lines for half in (0, 1)]
    known = segno.make_qr(shared.stage.address, error="m").matrix_iter(border=2)
    assert all(row == [1 - dark for dark in wanted] for row, wanted in zip(rows, known, strict=False))


def test_the_bridge_keeps_its_own_signal_handlers():
    async def before_and_during() -> tuple[object, object]:
        before = [signal.getsignal(one) for one in (signal.SIGINT, signal.SIGTERM)]
        show = StandIn(low_tide_relay())
        show.begin()
        async with Stage(view=show.view, listen="127.0.0.1:0"):
            return before, [signal.getsignal(one) for one in (signal.SIGINT, signal.SIGTERM)]

    before, during = asyncio.run(before_and_during())
    assert before == during


def test_how_to_join_is_told_and_whether_others_can(shared):
    assert json.loads(ask(shared.port, "/join.json")[2]) == {
        "address": shared.stage.address,
        "is_open": False,
    }


@pytest.mark.parametrize(
    ("bound", "alone"), [("127.0.0.1", True), ("::1", True), ("0.0.0.0", False), ("192.0.2.7", False)]
)
def test_an_address_of_this_machine_alone_is_known(bound, alone):
    from bridge.stage.joining import is_loopback

    assert is_loopback(bound) == alone


def test_what_was_refused_can_be_seen(shared):
    ask(shared.port, "/", host="evil.example")
    told = shared.stage.as_record()
    assert told["address"] == shared.stage.address
    assert told["refused"]["host"] >= 1
    assert told["refused"]["slow"] == 0
