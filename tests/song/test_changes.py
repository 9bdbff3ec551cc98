"""What has to be done to recorded material, done to a timeline of bars."""

from hypothesis import given
from hypothesis import strategies as st

from bridge.song.changes import Change, Deed, Stand, changes, settled_that_change

NAMES = ("Prelude", "Crossing", "Undertow", "Landfall", "Ebb", "Hush")


def song(*sections: tuple[str, int], settled: int = 0) -> list[Stand]:
    return [Stand(name=name, bars=bars, settled=i < settled) for i, (name, bars) in enumerate(sections)]


SONGS = st.lists(
    st.tuples(st.sampled_from(NAMES), st.integers(1, 9)), min_size=1, max_size=6, unique_by=lambda one: one[0]
).map(lambda sections: song(*sections))


@given(SONGS, SONGS, st.integers(1, 5))
def test_done_one_after_another_they_turn_the_old_song_into_the_new(old, new, first_bar):
    """Each bar is known by its section; what stays recorded keeps its order in the section."""
    timeline = [(one.name, bar) for one in old for bar in range(one.bars)]
    for change in changes(old, new, first_bar=first_bar):
        at = change.at_bar - first_bar
        assert 0 <= at <= len(timeline)
        if change.do is Deed.CUT:
            assert {name for name, _ in timeline[at : at + change.bars]} == {change.section}
            del timeline[at : at + change.bars]
        else:
            timeline[at:at] = [(change.section, "fresh")] * change.bars
    assert [name for name, _ in timeline] == [one.name for one in new for _ in range(one.bars)]
    for one in new:
        kept = [bar for name, bar in timeline if name == one.name and bar != "fresh"]
        assert kept == list(range(len(kept)))


def test_a_song_that_did_not_change_needs_nothing():
    assert changes(song(("Prelude", 4), ("Ebb", 8)), song(("Prelude", 4), ("Ebb", 8))) == ()


def test_the_example_of_the_issue():
    old = song(("Prelude", 88), ("Crossing", 36), ("Landfall", 12))
    new = song(("Prelude", 100), ("Crossing", 32), ("Landfall", 12))
    assert changes(old, new) == (
        Change(do=Deed.INSERT, section="Prelude", bars=12, at_bar=89, why="longer"),
        Change(do=Deed.CUT, section="Crossing", bars=4, at_bar=133, why="shorter"),
    )


def test_another_tempo_is_told_although_no_bar_changes():
    old = [Stand(name="Ebb", bars=8, time="4/4 at 96")]
    new = [Stand(name="Ebb", bars=8, time="4/4 at 120")]
    (change,) = changes(old, new)
    assert (change.do, change.bars, change.why) == (Deed.RETIME, 8, "4/4 at 96 becomes 4/4 at 120")


def test_what_is_settled_on_either_side_stays_with_all_before_it():
    old = song(("Prelude", 4), ("Crossing", 8), ("Ebb", 2), settled=2)
    assert settled_that_change(old, song(("Prelude", 4), ("Crossing", 8), ("Ebb", 9))) == ()
    assert settled_that_change(old, song(("Prelude", 5), ("Crossing", 8))) == ("Prelude",)
    assert settled_that_change(old, song(("Prelude", 4), ("Ebb", 2))) == ("Crossing",)
    assert settled_that_change(song(("Ebb", 3)), song(("Ebb", 4), settled=1)) == ("Ebb",)
