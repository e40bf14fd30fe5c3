"""An ear on the page: what it sends to the loudspeakers, frame for frame, as numpy arrays; and its keys.

The recorder is put into the page before its own scripts. It hangs on the page's own graph, at what is connected to
the destination, and changes nothing of it.
"""

from __future__ import annotations

import base64

import numpy as np
from playwright.sync_api import Page

RECORDER = """
(() => {
  const ear = (globalThis.ear = { contexts: [], parts: [], on: false });
  const source = `registerProcessor("ear", class extends AudioWorkletProcessor {
    constructor() {
      super();
      this.port.onmessage = () => this.port.postMessage(currentFrame);
    }
    process([input]) {
      if (input.length) this.port.postMessage([currentFrame, ...input.map((c) => c.slice())]);
      return true;
    }
  })`;
  const connect = AudioNode.prototype.connect;
  AudioNode.prototype.connect = function (to, ...more) {
    if (to === this.context.destination && !this.isEar) {
      const { context } = this;
      ear.contexts.push(context);
      ear.node = this;
      const url = location.protocol === "file:" ? "data:text/javascript," + encodeURIComponent(source)
        : URL.createObjectURL(new Blob([source], { type: "text/javascript" }));
      ear.ready = context.audioWorklet.addModule(url).then(() => {
        const node = new AudioWorkletNode(context, "ear", { outputChannelCount: [1] }); // silent: pulled as all else
        node.port.onmessage = ({ data }) => {
          if (typeof data === "number") ear.answered(data);
          else if (ear.on && data[0] >= ear.from) ear.parts.push(data);
        };
        ear.port = node.port;
        connect.call(this, node);
        connect.call(node, context.destination);
      });
    }
    return connect.call(this, to, ...more);
  };
  ear.take = () => {
    const parts = ear.parts.splice(0);
    const channels = parts.length ? parts[0].length - 1 : 0;
    const whole = new Float32Array(parts.reduce((sum, part) => sum + part[1].length, 0) * channels);
    let at = 0;
    for (const part of parts)
      for (let k = 0; k < part[1].length; k++)
        for (let c = 1; c <= channels; c++) whole[at++] = part[c][k];
    let text = "";
    const bytes = new Uint8Array(whole.buffer);
    for (let i = 0; i < bytes.length; i += 32768) text += String.fromCharCode(...bytes.subarray(i, i + 32768));
    const gaps = parts.map((p, i) => (i ? p[0] - parts[i - 1][0] - p[1].length : 0)).filter((frames) => frames);
    return { gaps, channels, text: btoa(text) };
  };
})();
"""


class Ear:
    """Listens to a page. take: (channels, frames) since `begin`."""

    def __init__(self, page: Page) -> None:
        self.page = page
        page.evaluate("() => ear.ready")

    def full_gain(self) -> None:
        """Monitor gain 0 dB, so that what is heard is what is played."""
        self.page.locator("#monitor input").fill("0")

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def begin(self) -> None:
        """Record from where all is heard that was asked for before: a busy audio thread may be some blocks behind."""
        self.page.evaluate(
            """async () => {
              const context = ear.contexts.at(-1);
              ear.from = context.state !== "running" ? Math.round(context.currentTime * context.sampleRate)
                : await new Promise((told) => { ear.answered = told; ear.port.postMessage("where?"); });
              ear.parts.length = 0;
              ear.on = true;
            }"""
        )

    def take(self) -> np.ndarray:
        """What was heard, without a gap, as (channels, frames)."""
        told = self.page.evaluate("() => { ear.on = false; return ear.take(); }")
        assert told["gaps"] == []
        return np.frombuffer(base64.b64decode(told["text"]), np.float32).reshape(-1, max(1, told["channels"])).T

    def wait_heard(self, seconds: float) -> None:
        """Until so much was heard since the first sound: by the recorder's own count, not by a clock."""
        self.page.wait_for_function(
            """([n]) => {
              const from = ear.parts.findIndex((part) => part[1].some((sample) => sample !== 0));
              return from >= 0 && (ear.parts.length - from) * 128 >= n * ear.contexts.at(-1).sampleRate;
            }""", arg=[seconds], timeout=30_000, polling=20,
        )  # fmt: skip

    def wait_more(self, seconds: float) -> int:
        """Until so much more was recorded; the frames that there are by then."""
        self.page.evaluate("() => { ear.then = ear.parts.length; }")
        self.page.wait_for_function(
            "([n]) => (ear.parts.length - ear.then) * 128 >= n * ear.contexts.at(-1).sampleRate",
            arg=[seconds], timeout=30_000, polling=20,
        )  # fmt: skip
        return 128 * int(self.page.evaluate("() => ear.parts.length"))

    def listen(self, seconds: float) -> np.ndarray:
        self.begin()
        self.wait_more(seconds)
        return self.take()

    def play_and_listen(self, seconds: float) -> np.ndarray:
        """From silence: presses play, and listens from there."""
        self.begin()
        self.press("Space")
        self.wait_heard(seconds)
        return self.take()

    def stop(self) -> None:
        """Pauses, and waits until the page is idle."""
        self.press("Space")
        self.page.wait_for_function("() => ear.contexts.at(-1).state === 'suspended'")

    def state(self) -> str:
        return str(self.page.evaluate("() => ear.contexts.at(-1).state"))

    def text(self, selector: str) -> str:
        return self.page.locator(selector).inner_text()


def place_of(heard: np.ndarray, played: np.ndarray) -> int:
    """The frame of `played` that the first of `heard` is: cross-correlation of left channels, all frequencies alike."""
    length = 1 << int(np.ceil(np.log2(heard.shape[1] + played.shape[1])))
    cross = np.fft.rfft(played[0], length) * np.conj(np.fft.rfft(heard[0], length))
    return int(np.argmax(np.fft.irfft(cross / (np.abs(cross) + 1e-9), length)[: played.shape[1]]))


def beginning(heard: np.ndarray) -> int:
    """The first frame that is not silent."""
    return int(np.flatnonzero(np.abs(heard).max(axis=0) > 0)[0])


def decibels(ratio: float) -> float:
    return float(20 * np.log10(ratio))
