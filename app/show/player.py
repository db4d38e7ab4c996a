"""Sound through the optional extra; without it the program says how it is had, and works on."""

from __future__ import annotations

import logging
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

log = logging.getLogger(__name__)

NO_EXTRA = 'no sound: install the extra with pip install "quietspan[sound]"'
NO_DEVICE = "no sound: this machine offers no loudspeaker"


class Player(Protocol):
    """Plays (samples, 2) floats until they end or it is told to stop."""

    def play(self, samples: NDArray[np.float32], rate_hz: int) -> None: ...

    def stop(self) -> None: ...


class DevicePlayer:
    """The loudspeaker of this machine."""

    def __init__(self) -> None:
        import sounddevice

        self._device = sounddevice

    def play(self, samples: NDArray[np.float32], rate_hz: int) -> None:
        self._device.play(samples, rate_hz)

    def stop(self) -> None:
        self._device.stop()


def make_player() -> tuple[Player | None, str]:
    """A player, or None and why there is none."""
    try:
        import sounddevice

        sounddevice.query_devices(kind="output")
        return DevicePlayer(), ""
    except ImportError:
        return None, NO_EXTRA
    except Exception as error:  # the sound library raises its own kinds, and an OSError where a part of it is missing
        log.info("no sound: %s", error)
        return None, NO_DEVICE
