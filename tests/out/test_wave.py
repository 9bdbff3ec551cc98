"""The guide as a WAVE file: every sound at its exact sample, safe levels, named places."""

from __future__ import annotations

import io

import numpy as np
import pytest
import soundfile

from bridge.errors import UsageError
from bridge.exact import Place, samples
from bridge.out import wave_file
from bridge.out.guide.mix import Mix
from bridge.out.guide.options import GuideOptions
from bridge.out.guide.take import Take
from bridge.out.guide.voices import Voice, voices_of
from bridge.out.request import Request
from bridge.out.riff import wave_header
from bridge.song import Frame
from tests.out.songs import layer, section, song, tide

RATE = 48000
WHOLE = GuideOptions()


def written(made, **options) -> tuple[bytes, object]:
    file = io.BytesIO()
    told = wave_file.write(Frame.of(made, **options), file, Request())
    return file.getvalue(), told


def sound(content: bytes) -> np.ndarray:
    heard, rate = soundfile.read(io.BytesIO(content), dtype="int16")
    assert rate == RATE
    return heard


def mixed(made, options=WHOLE, *, frame=None, seconds=None, block=RATE, only=None) -> np.ndarray:
    """The whole mix of a guide, frames by two, before it becomes a file."""
    take = Take.of(frame or Frame.of(made), options, RATE)
    mix = Mix(voices_of(take, options), per_second=RATE, peak_dbfs=options.peak_dbfs)
    frames = round(seconds * RATE) if seconds else take.end_sample + RATE
    return np.concatenate([one.copy() for one in mix.blocks(frames=frames, block=block, only=only)])


def heard_at(mix: np.ndarray, voice: Voice, expected: list[int]) -> list[int]:
    """The samples near those expected at which a sound of ``voice`` begins, by correlation."""
    side = mix[:, 0 if voice.pan <= 0 else 1].astype(float)
    return sorted({at for struck in voice.sounds.values() for at in _near(side, struck, expected)})


@pytest.mark.parametrize("name", ["hand drum", "bells", "click"])
def test_onsets_are_found_again_at_their_exact_samples(name):
    made = song(
        [layer("hand drum", "3/16", start="1/16"), layer("bells", "1", groups=[3, 3, 2])],
        [section("Crossing", 6, ["hand drum", "bells"], tempo="97", to="131", resolve=[])],
    )
    voices = voices_of(Take.of(Frame.of(made), GuideOptions(), RATE), GuideOptions())
    number = [voice.name for voice in voices].index(name)
    if name == "click":
        expected = sorted(samples(made.seconds(place), RATE) for place, _ in made.counted_beats())
        expected.append(samples(made.total_seconds, RATE))
    else:
        expected = [samples(made.seconds(o.place), RATE) for p in made.sounding()[name] for o in p.onsets()]
    assert heard_at(mixed(made, only=number), voices[number], expected) == expected


def test_a_layer_is_found_again_in_the_full_mix():
    made = song(
        [layer("hand drum", "3/16"), layer("bells", "1", groups=[3, 3, 2])],
        [section("Crossing", 3, ["hand drum", "bells"], resolve=[])],
    )
    options = GuideOptions(without=("click", "meetings"))
    voices = voices_of(Take.of(Frame.of(made), options, RATE), options)
    mix = mixed(made, options).astype(float)
    gain = np.array([[np.cos((v.pan + 1) * np.pi / 4), np.sin((v.pan + 1) * np.pi / 4)] for v in voices])
    apart = mix @ np.linalg.inv(gain)  # two voices, two channels: the pans unmix them
    for number, voice in enumerate(voices):
        onsets = [o for p in made.sounding()[voice.name] for o in p.onsets()]
        expected = [samples(made.seconds(onset.place), RATE) for onset in onsets]
        alone = np.column_stack([apart[:, number], apart[:, number]])
        after_fade_in = [at for at in expected if at > 2 * RATE]
        assert heard_at(alone, voice, after_fade_in) == after_fade_in
        assert after_fade_in


def _near(side: np.ndarray, struck: np.ndarray, expected: list[int]) -> list[int]:
    """Where the normalised correlation with the attack is best, in a window around each expected onset."""
    attack = struck[:480]
    found = []
    for at in expected:
        window = np.concatenate([np.zeros(max(0, 200 - at)), side[max(0, at - 200) : at + 200 + 480]])
        match = np.correlate(window, attack, "valid")
        energy = np.sqrt(np.convolve(window**2, np.ones(480), "valid")) * np.linalg.norm(attack)
        share = match / np.maximum(energy, 1e-9)
        if share.max() > 0.999:
            found.append(int(np.argmax(share)) + at - 200)
    return found


def test_the_whole_guide_peaks_below_12_dbfs_and_is_not_silent():
    heard = sound(written(tide())[0])
    peak = 20 * np.log10(np.abs(heard.astype(float)).max() / 32768)
    assert -30 < peak <= -12


def test_many_layers_at_once_stay_below_12_dbfs():
    layers = [layer(f"part {number}", "1/4") for number in range(24)]
    made = song(layers, [section("Landfall", 4, [one.name for one in layers])])
    heard = sound(written(made)[0])
    assert np.abs(heard.astype(float)).max() <= 32768 * 10 ** (-12 / 20)


def test_it_begins_at_sample_0_and_rings_after_the_end():
    made = tide()
    content, told = written(made)
    heard = sound(content)
    assert len(heard) == samples(made.total_seconds, RATE) + 5 * RATE
    assert np.any(heard[:480])
    assert told.facts["seconds"] == len(heard) / RATE


def test_the_last_landing_rings_and_then_there_is_silence():
    made = song([layer("band", 1), layer("drum", "1/4")], [section("Landfall", 2, ["band", "drum"])])
    heard = sound(written(made)[0])
    end = samples(made.total_seconds, RATE)
    assert np.abs(heard[end + 2 * RATE : end + 3 * RATE]).max() > 10
    assert not heard[-100:].any()


def test_cue_points_and_labels_are_read_back():
    wavinfo = pytest.importorskip("wavinfo")
    made = song([layer("band", 1)], [section("潮の間", 3, ["band"]), section("Ebb", 2, ["band"], tempo="97")])
    info = wavinfo.WavInfoReader(io.BytesIO(written(made)[0]), info_encoding="utf-8")
    assert [(cue.name, cue.sample_offset) for cue in info.cues.cues] == [
        (number, samples(made.seconds(marker.place), RATE)) for number, marker in enumerate(made.markers, 1)
    ]
    assert [(label.name, label.text) for label in info.cues.labels] == [
        (1, "潮の間"),
        (2, "Ebb"),
        (3, "End"),
    ]


def test_blocks_of_any_size_make_the_same_sound():
    made = tide()
    assert np.array_equal(mixed(made, seconds=9), mixed(made, seconds=9, block=977))


def test_a_count_in_sounds_before_bar_1():
    made = tide()
    heard = sound(written(made, count_in=1)[0])
    beats = [round(beat * RATE * 60 / 115.2) for beat in range(4)]
    for at in beats:
        assert np.any(heard[at : at + 480])
    frame = Frame.of(made, count_in=1)
    assert samples(frame.seconds(Place(0)), RATE) == 100_000


def test_more_than_four_gibibytes_are_refused():
    with pytest.raises(UsageError, match=r"at most 6\.2 hours of this sound, not 24\.0"):
        wave_header(frames=24 * 3600 * RATE, channels=2, per_second=RATE, after=0)
