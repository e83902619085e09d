// Hands the sound input's samples to the page in blocks, each with the number of its first frame.
"use strict";
const FRAMES = 1024;

class Samples extends AudioWorkletProcessor {
  constructor() {
    super();
    this.channels = 0;
    this.filled = 0;
    // Numbers of the block's first frame and of the next to come, counted from the frame `from`.
    this.first = 0;
    this.next = 0;
    this.from = null;
  }

  process(inputs) {
    const input = inputs[0];
    if (!input.length) return true;
    // The number of channels stands from the first block on.
    if (!this.channels) this.channels = Math.min(input.length, 8);
    this.from ??= currentFrame;
    let now = currentFrame - this.from;
    // The clock may stand still for a moment while samples still come; they are no less for it.
    if (now < this.next) {
      this.from -= this.next - now;
      now = this.next;
    }
    // After a pause in which nothing came, the counter shows what is missing.
    if (this.filled && now !== this.next) this.send();
    if (!this.filled) {
      this.first = now;
      this.block = new Float32Array(FRAMES * this.channels);
    }
    const length = input[0].length;
    for (let channel = 0; channel < this.channels; channel++) {
      const samples = input[channel];
      for (let n = 0; n < length; n++) {
        this.block[(this.filled + n) * this.channels + channel] = samples ? samples[n] : 0;
      }
    }
    this.filled += length;
    this.next = now + length;
    if (this.filled + length > FRAMES) this.send();
    return true;
  }

  send() {
    const block = this.block.slice(0, this.filled * this.channels);
    // When, so that the page can tell whether some are missing.
    this.port.postMessage({ first: this.first, channels: this.channels, block, at: Date.now() }, [block.buffer]);
    this.filled = 0;
  }
}

registerProcessor("samples", Samples);
