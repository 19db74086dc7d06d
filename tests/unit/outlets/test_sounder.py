"""The sounder: at once, in time, and never quietly dead."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import pytest
from tests.peers.messages import show, wanted

from shipkeeper.outlets import sounder as module
from shipkeeper.outlets.gpio import PwmVoice
from shipkeeper.outlets.sounder import Sounder


class Ear:
    """A voice that takes down when it was switched."""

    def __init__(self) -> None:
        self.tones: list[tuple[float, int]] = []
        self.patterns: list[str] = []
        self.closed = False
        self.lost = False
        self.hangs = threading.Event()
        self.hangs.set()

    def tone(self, hz: int) -> None:
        self.hangs.wait()
        if self.lost:
            raise OSError(19, "No such device")
        self.tones.append((time.monotonic(), hz))

    def pattern(self, name: str, text: str) -> None:
        self.patterns.append(name)

    def close(self) -> None:
        self.closed = True

    @property
    def pulses(self) -> list[int]:
        return [hz for _, hz in self.tones if hz]


def until(true: object, within_s: float = 20.0) -> bool:
    edge = time.monotonic() + within_s
    while time.monotonic() < edge:
        if true():  # type: ignore[operator]  # any condition
            return True
        time.sleep(0.002)
    return False


def test_sound_begins_within_50_ms() -> None:
    """From show() to the wire, also when the buzzer had long been silent."""
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    try:
        late = []
        for fresh in range(5):
            sounder.show(wanted("silence"), show())
            time.sleep(0.12)
            before = time.monotonic()
            sounder.show(wanted("alarm", fresh=fresh + 2), show())
            assert until(lambda: ear.tones and ear.tones[-1][1])
            late.append(ear.tones[-1][0] - before)
        assert sorted(late)[2] < 0.05
    finally:
        sounder.close()
    assert ear.closed
    assert ear.tones[-1][1] == 0


def test_a_warning_sounds_once_for_each_fresh_one() -> None:
    """Refreshing it changes nothing; a fresh one sounds again."""
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    try:
        for _ in range(8):
            sounder.show(wanted("warning", fresh=1), show())
            time.sleep(0.1)
        assert len(ear.pulses) == 2
        sounder.show(wanted("warning", fresh=2), show())
        assert until(lambda: len(ear.pulses) == 4)
    finally:
        sounder.close()


def test_an_old_warning_does_not_sound_again_when_an_alarm_is_answered() -> None:
    """What is left after the alarm was acknowledged had been told before."""
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    try:
        sounder.show(wanted("alarm", fresh=5), show())
        assert until(lambda: ear.pulses)
        sounder.show(wanted("warning", fresh=5), show())
        time.sleep(0.2)
        count = len(ear.pulses)
        time.sleep(0.5)
        assert len(ear.pulses) == count
        assert ear.tones[-1][1] == 0
    finally:
        sounder.close()


def test_a_fresh_alarm_sounds_at_once_in_the_rest_of_another() -> None:
    """A new one never waits for the end of an eight second group."""
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    try:
        sounder.show(wanted("alarm", fresh=1), show())
        assert until(lambda: len(ear.pulses) == 3)
        time.sleep(0.3)
        sounder.show(wanted("alarm", fresh=2), show())
        assert until(lambda: len(ear.pulses) == 6, 1.5)
    finally:
        sounder.close()


def test_only_the_named_buzzers_sound() -> None:
    """Wanted.outlets says which."""
    ear = Ear()
    sounder = Sounder("cabin", ear)
    try:
        sounder.show(wanted("alarm", outlets=("cockpit",)), show())
        time.sleep(0.2)
        assert ear.pulses == []
    finally:
        sounder.close()


def test_a_click_is_heard_out() -> None:
    """Silence that follows at once does not swallow the answer to a button."""
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    try:
        sounder.show(wanted("silence"), show())
        sounder.show(wanted("silence", click="click", clicks=1), show())
        sounder.show(wanted("silence", click="click", clicks=1), show())
        assert until(lambda: len(ear.tones) >= 2)
        time.sleep(0.2)
        assert ear.pulses == [520]
        sounder.show(wanted("silence", click="refused", clicks=2), show())
        assert until(lambda: len(ear.pulses) == 4)
        assert ear.pulses[1:] == [350] * 3, "a refusal is told apart by ear"
    finally:
        sounder.close()


def test_a_click_of_before_is_not_heard_when_a_buzzer_is_opened_anew() -> None:
    """It had its answer then."""
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    try:
        sounder.show(wanted("silence", click="click", clicks=7), show())
        time.sleep(0.2)
        assert ear.pulses == []
    finally:
        sounder.close()


def test_after_a_click_the_alarm_goes_on() -> None:
    """A refused press swallows no alarm."""
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    try:
        sounder.show(wanted("alarm", fresh=1), show())
        sounder.show(wanted("alarm", fresh=1, click="refused", clicks=1), show())
        assert until(lambda: ear.pulses[-2:] == [520, 520])
        assert 350 in ear.pulses
    finally:
        sounder.close()


def test_it_sounds_by_itself_when_the_engine_falls_silent(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """While something is watched; not when nothing is."""
    monkeypatch.setattr(module, "STALLED_S", 0.3)
    ears = {True: Ear(), False: Ear()}
    sounders = {watching: Sounder("buzzer", ear) for watching, ear in ears.items()}
    try:
        for watching, sounder in sounders.items():
            sounder.show(wanted("silence"), show(watching))
        assert until(lambda: ears[True].pulses == [350, 520])
        assert ears[True].patterns[-1] == "fault"
        assert ears[False].pulses == []
        # The engine is back: silence again.
        sounders[True].show(wanted("silence"), show())
        assert until(lambda: ears[True].patterns[-1] == "silence")
    finally:
        for sounder in sounders.values():
            sounder.close()


def test_an_alarm_goes_on_when_the_engine_falls_silent(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is the louder word."""
    monkeypatch.setattr(module, "STALLED_S", 0.2)
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    try:
        sounder.show(wanted("alarm stage 2"), show())
        assert until(lambda: len(ear.pulses) == 10, 8.0)
        assert "fault" not in ear.patterns
    finally:
        sounder.close()


def test_a_lost_wire_is_told() -> None:
    """show() raises from then on, with the reason, and the ticks stand still."""
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    ear.lost = True
    sounder.show(wanted("alarm"), show())
    assert until(lambda: sounder.fault)
    with pytest.raises(OSError, match="No such device"):
        sounder.show(wanted("alarm"), show())
    ticks = sounder.ticks
    time.sleep(0.6)
    assert sounder.ticks == ticks
    sounder.close()


def test_a_wire_that_hangs_does_not_hold_up_the_engine() -> None:
    """show() leaves word and returns; the ticks stand still for those who look."""
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    ear.hangs.clear()
    sounder.show(wanted("alarm"), show())
    time.sleep(0.1)
    before = time.monotonic()
    for fresh in range(20):
        sounder.show(wanted("alarm", fresh=fresh), show())
    assert time.monotonic() - before < 0.1
    ticks = sounder.ticks
    time.sleep(0.6)
    assert sounder.ticks == ticks
    ear.hangs.set()
    sounder.close()


class Kernel(PwmVoice):
    """The kernel's rules over plain files (there is no PWM on this machine): EINVAL for all
    that is written while there is no period, and for a duty longer than it. From memory of
    drivers/pwm/core.c, where pwm_apply_state refuses such a state."""

    def _write(self, name: str, value: int) -> None:
        state = {key: int((self._channel / key).read_text()) for key in ("period", "duty_cycle")}
        state |= {name: value} if name != "enable" else {}
        if not state["period"] or state["duty_cycle"] > state["period"]:
            raise OSError(22, "Invalid argument")
        super()._write(name, value)


def pwm_channel(folder: Path, **state: int) -> Path:
    channel = folder / "pwm0"
    channel.mkdir()
    for name, value in ({"period": 0, "duty_cycle": 0, "enable": 0} | state).items():
        (channel / name).write_text(f"{value}\n")
    return channel


@pytest.mark.parametrize(
    "left",
    [
        {},  # newly exported
        {"period": 2857142, "duty_cycle": 1428571, "enable": 1},  # cut off in the low tone
        {"period": 20_000_000, "duty_cycle": 19_000_000, "enable": 1},  # a servo's, from others
        {"period": 1000, "duty_cycle": 500},
    ],
)
def test_pwm_gets_a_square_wave_of_the_tone(left: dict[str, int], tmp_path: Path) -> None:
    """Period and half of it in nanoseconds, as the kernel's PWM files want it, whatever was
    left there; silent from the start, and after it."""
    channel = pwm_channel(tmp_path, **left)
    voice = Kernel(channel)
    assert int((channel / "enable").read_text()) == 0
    voice.tone(0)
    for hz, period, duty in (
        (520, 1923076, 961538),
        (350, 2857142, 1428571),
        (520, 1923076, 961538),
    ):
        voice.tone(hz)
        told = {path.name: int(path.read_text()) for path in channel.iterdir()}
        assert told == {"enable": 1, "period": period, "duty_cycle": duty}
    voice.tone(0)
    assert int((channel / "enable").read_text()) == 0
