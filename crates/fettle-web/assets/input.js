// The sound input's samples in numbered blocks, and a watch on whether all of them come.
"use strict";

// Lateness is judged over the last second, against up to three seconds before.
const RECENT_S = 1;
const BEFORE_S = 3;
// Two clocks never differ by so much in a second; samples lost do.
const LATE_MS = 2;
// The audio worklet's own clock has whole milliseconds, and what it misses is lost up to so much later.
const LATE_WORKLET_MS = 4;
const BEHIND_WORKLET_S = 0.25;
// Buffers that may wait while the page is busy: about ten seconds.
const WAITING = 1000;
const FRAMES = 1024;

// A busy computer hands a block over late and the next in time again. Blocks that are late from some moment on have
// lost samples there.
class Clock {
  constructor(rate, late) {
    this.rate = rate;
    this.most = late;
    this.blocks = [];
  }

  // Takes how many frames had come at a time; gives the frames between which some were lost, if any were.
  hear(frames, ms) {
    this.blocks.push({ frames, late: ms - (frames / this.rate) * 1000 });
    const since = (seconds) => frames - seconds * this.rate;
    this.blocks = this.blocks.filter((block) => block.frames >= since(RECENT_S + BEFORE_S));
    if (this.blocks[0].frames > since(2 * RECENT_S)) return null;
    const least = (blocks) => blocks.reduce((least, block) => Math.min(least, block.late), Infinity);
    const before = least(this.blocks.filter((block) => block.frames < since(RECENT_S)));
    const recent = least(this.blocks.filter((block) => block.frames >= since(RECENT_S)));
    if (!(recent - before > this.most)) return null;
    const last = this.blocks.findLastIndex((block) => block.late < before + this.most / 2);
    const after = this.blocks.slice(last + 1);
    const again = after.find((block) => block.late < recent + this.most / 2);
    const from = this.blocks[last].frames;
    this.blocks = after;
    return { from, to: again.frames, ms: recent - before };
  }
}

// Calls `block({ first, channels, block })` and `lost({ from, to, ms })`. Where the browser hands over what it recorded,
// that is taken; the audio worklet sees it only as it is played on, and a program that falls behind drops some of it.
class Input {
  constructor(track, context, worklet, { block, lost, wrong }) {
    Object.assign(this, { track, context, worklet, block, lost, wrong });
  }

  async open() {
    if (window.MediaStreamTrackProcessor && window.AudioData) return this.take();
    return this.overhear();
  }

  // As recorded: each buffer says when.
  take() {
    const processor = new MediaStreamTrackProcessor({ track: this.track, maxBufferSize: WAITING });
    this.reader = processor.readable.getReader();
    this.next = 0;
    this.read().catch((error) => this.wrong(error.message));
  }

  async read() {
    for (;;) {
      const { value: data, done } = await this.reader.read();
      if (done) return;
      const { numberOfFrames: frames, numberOfChannels, sampleRate, timestamp } = data;
      this.rate ??= sampleRate;
      this.channels ??= Math.min(numberOfChannels, 8);
      this.clock ??= new Clock(this.rate, LATE_MS);
      if (sampleRate !== this.rate || numberOfChannels < this.channels) {
        data.close();
        throw new Error("it changed its rate or its channels; begin listening anew");
      }
      const block = new Float32Array(frames * this.channels);
      const plane = new Float32Array(frames);
      for (let channel = 0; channel < this.channels; channel++) {
        data.copyTo(plane, { planeIndex: channel, format: "f32-planar" });
        for (let n = 0; n < frames; n++) block[n * this.channels + channel] = plane[n];
      }
      data.close();
      const first = this.next;
      this.next += frames;
      for (let from = 0; from < frames; from += FRAMES) {
        this.block({ first: first + from, channels: this.channels, block: block.slice(from * this.channels, (from + FRAMES) * this.channels) });
      }
      this.hear(timestamp / 1000 + (frames / this.rate) * 1000, 0);
    }
  }

  // As played on, for browsers that hand nothing over.
  async overhear() {
    this.rate = this.context.sampleRate;
    this.clock = new Clock(this.rate, LATE_WORKLET_MS);
    await this.context.audioWorklet.addModule(this.worklet);
    const source = this.context.createMediaStreamSource(new MediaStream([this.track]));
    const samples = new AudioWorkletNode(this.context, "samples", {
      channelCountMode: "max",
      channelInterpretation: "discrete",
    });
    samples.port.onmessage = ({ data }) => {
      this.block(data);
      this.next = data.first + data.block.length / data.channels;
      this.hear(data.at, BEHIND_WORKLET_S * this.rate);
    };
    source.connect(samples);
    // A node that leads nowhere need not be run; it puts out silence.
    samples.connect(this.context.destination);
  }

  hear(ms, behind) {
    const lost = this.clock.hear(this.next, ms);
    if (lost) this.lost({ ...lost, to: Math.round(lost.to + behind) });
  }

  close() {
    if (this.reader) this.reader.cancel().catch(() => {});
    this.reader = null;
  }
}
