// Listens to the shutter: sound input to the program, what it says back onto the page.
"use strict";

const STRIP_SECONDS = 10;
// More bytes than this on their way and the computer does not keep up.
const BEHIND_BYTES = 4_000_000;

class Panel {
  constructor(root) {
    this.root = root;
    this.form = root.closest("form");
    this.parts = {};
    for (const part of root.querySelectorAll("[data-part]")) this.parts[part.dataset.part] = part;
    root.hidden = false;
    const can = navigator.mediaDevices && navigator.mediaDevices.getUserMedia && window.AudioWorkletNode;
    if (!can) {
      this.parts.insecure.hidden = false;
      this.parts.start.disabled = true;
      return;
    }
    this.parts.start.addEventListener("click", () => this.start());
    this.parts.stop.addEventListener("click", () => this.stop("Stopped. What was heard can still be kept."));
    this.parts.keep.addEventListener("click", () => this.keep());
    this.parts.slower.addEventListener("click", () => this.fire(-1));
    this.parts.faster.addEventListener("click", () => this.fire(1));
    this.parts.recognise.addEventListener("click", () => this.fireAt(-1));
    root.addEventListener("click", (event) => {
      const strike = event.target.closest("[data-strike]");
      if (strike) this.strike(Number(strike.dataset.strike), strike.dataset.struck === "true");
      const tone = event.target.closest("[data-tone]");
      if (tone) this.tone(tone.dataset.tone);
    });
    document.addEventListener("keydown", (event) => this.key(event));
    this.inputs();
    // A page that was reloaded, or left by mistake, finds what it had heard.
    this.token = sessionStorage.getItem(this.name()) || "";
    if (this.token) {
      this.parts.sheet.hidden = false;
      this.over();
      this.say("Listening was broken off on this page; what was heard can still be kept.");
    }
  }

  name() { return `heard ${location.pathname} ${this.form.id}`; }

  say(words) { this.parts.state.textContent = words; }

  wrong(words) {
    this.parts.wrong.textContent = words;
    this.parts.wrong.hidden = !words;
  }

  // The inputs by name, once the browser tells them.
  async inputs() {
    const devices = await navigator.mediaDevices.enumerateDevices().catch(() => []);
    const list = this.parts.input;
    const chosen = list.value;
    list.replaceChildren(list.options[0]);
    for (const device of devices) {
      if (device.kind !== "audioinput" || !device.label || device.deviceId === "default") continue;
      list.append(new Option(device.label, device.deviceId));
    }
    list.value = chosen;
    if (list.selectedIndex < 0) list.selectedIndex = 0;
  }

  async start() {
    this.wrong("");
    this.parts.start.disabled = true;
    this.say("Waiting for the sound input …");
    try {
      await this.open();
    } catch (error) {
      this.close();
      this.say("");
      const why = error.name === "NotAllowedError"
        ? "The browser was not allowed to use the sound input. Allow it at the page's address and start again."
        : error.name === "NotFoundError"
          ? "There is no sound input. Plug the sensor in and start again."
          : `The sound input cannot be used: ${error.message}.`;
      this.wrong(why);
      this.parts.start.disabled = false;
    }
  }

  async open() {
    const device = this.parts.input.value;
    this.stream = await navigator.mediaDevices.getUserMedia({
      audio: {
        echoCancellation: false,
        noiseSuppression: false,
        autoGainControl: false,
        channelCount: { ideal: 8 },
        ...(device ? { deviceId: { exact: device } } : {}),
      },
    });
    const track = this.stream.getAudioTracks()[0];
    track.addEventListener("ended", () => this.stop("The sound input went away. What was heard can still be kept."));
    const settings = track.getSettings();
    const processed = [
      settings.echoCancellation && "echo cancellation",
      settings.noiseSuppression && "noise suppression",
      settings.autoGainControl && "automatic gain",
    ].filter(Boolean);
    if (processed.length) {
      this.wrong(`The browser processes the sound all the same (${processed.join(", ")}): no time measured so can be trusted. Use another browser or another input.`);
    }
    // The input's own rate, so that nothing resamples.
    this.context = new AudioContext(settings.sampleRate ? { sampleRate: settings.sampleRate } : {});
    await this.context.resume();
    this.input = new Input(track, this.context, this.root.dataset.worklet, {
      block: (block) => this.block(block),
      lost: (lost) => this.lost(lost),
      wrong: (why) => { this.wrong(`The sound input cannot be used: ${why}.`); this.stop("Stopped. What was heard can still be kept."); },
    });
    if (navigator.wakeLock) navigator.wakeLock.request("screen").then((lock) => { this.lock = lock; }, () => {});
    this.token = "";
    this.firing = -1;
    this.marks = [];
    this.columns = [];
    const address = new URL(this.root.dataset.live, location.href);
    address.protocol = address.protocol === "https:" ? "wss:" : "ws:";
    this.socket = new WebSocket(address);
    this.socket.binaryType = "arraybuffer";
    this.socket.onmessage = (event) => this.told(JSON.parse(event.data));
    this.socket.onclose = () => this.stop(this.token ? "Stopped. What was heard can still be kept." : "");
    this.inputs();
    await this.input.open();
  }

  // The first block tells how many channels come; from then on they go to the program.
  block({ first, channels, block }) {
    this.draw(block, channels);
    const socket = this.socket;
    if (!socket || socket.readyState !== WebSocket.OPEN) return;
    if (!this.begun) {
      this.begun = true;
      this.offset = first;
      const fields = [...new FormData(this.form)].filter(([, value]) => typeof value === "string");
      socket.send(JSON.stringify({ kind: "begin", rate_hz: this.input.rate, channels, fields }));
    }
    if (socket.bufferedAmount > BEHIND_BYTES) this.wrong("The computer does not keep up; close other programs.");
    const message = new ArrayBuffer(8 + block.byteLength);
    new DataView(message).setBigUint64(0, BigInt(first - this.offset), true);
    new Float32Array(message, 8).set(block);
    socket.send(message);
  }

  // Samples went missing between two frames, which no number shows.
  lost({ from, to }) {
    if (this.begun) this.ask({ kind: "lost", from: Math.max(0, from - this.offset), to: Math.max(0, to - this.offset) });
  }

  told(word) {
    if (word.kind === "begun") {
      this.token = word.token;
      this.marks = word.marks;
      sessionStorage.setItem(this.name(), this.token);
      this.form.elements.live.value = "";
      this.parts.start.hidden = true;
      this.parts.stop.hidden = false;
      this.parts.sheet.hidden = false;
      this.parts.store.hidden = true;
      this.say(`Listening: ${Math.round(this.input.rate)} samples a second.`);
      this.fireAt(-1);
      this.show(word.html);
    } else if (word.kind === "level") {
      this.parts.level.textContent = word.words;
      this.parts["level-wrong"].textContent = word.wrong;
    } else if (word.kind === "state") {
      this.show(word.html);
      this.last = word.last;
      if (word.fresh) {
        this.parts.said.textContent = word.fresh.sentence;
        if (this.parts.tones.checked) this.tone(word.fresh.tone);
      }
    } else if (word.kind === "finished") {
      this.finished = true;
      this.stop("Stopped.");
    } else if (word.kind === "refused") {
      if (word.why) this.wrong(word.why.charAt(0).toUpperCase() + word.why.slice(1) + ".");
    }
  }

  // Drawn by the program; a button that has the focus keeps it, and once the last shot is out of sight
  // what is read or about to be pressed stays where it is.
  show(html) {
    const at = document.activeElement && document.activeElement.id;
    const place = (button) => button.getBoundingClientRect().top;
    const below = this.parts.latest.getBoundingClientRect().bottom < 0;
    const seen = below && [...this.parts.shots.querySelectorAll("[data-strike]")].find((button) => place(button) >= 0);
    const was = seen && { id: seen.id, top: place(seen) };
    for (const part of ["latest", "dial", "shots"]) this.parts[part].innerHTML = html[part];
    const again = at && document.getElementById(at);
    if (again && again !== document.activeElement) again.focus({ preventScroll: true });
    const kept = was && document.getElementById(was.id);
    if (kept) window.scrollBy(0, place(kept) - was.top);
  }

  ask(word) {
    if (this.socket && this.socket.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify(word));
  }

  strike(start_s, struck) { this.ask({ kind: "strike", start_s, struck }); }

  // One step along the dial; beyond either end the mark is left to be recognised.
  fire(step) {
    const from = this.firing < 0 && step < 0 ? this.marks.length : this.firing;
    const to = from + step;
    this.fireAt(to >= 0 && to < this.marks.length ? to : -1);
  }

  fireAt(place) {
    this.firing = place;
    const mark = place < 0 ? null : this.marks[place];
    this.parts.mark.textContent = mark === null ? "recognised" : `${mark} s`;
    this.ask({ kind: "firing", mark });
  }

  key(event) {
    const listening = this.socket && this.socket.readyState === WebSocket.OPEN;
    if (!listening || event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.target.closest && event.target.closest("input, select, textarea, summary")) return;
    if (event.key === "ArrowLeft") this.fire(-1);
    else if (event.key === "ArrowRight") this.fire(1);
    else if ((event.key === "Delete" || event.key === "Backspace") && this.last) this.strike(this.last[0], !this.last[1]);
    else return;
    event.preventDefault();
  }

  // Three tones that differ in pitch, number and course.
  tone(kind) {
    const context = this.context && this.context.state === "running" ? this.context : (this.own ||= new AudioContext());
    const note = (from, to, at, lasts) => {
      const start = context.currentTime + at;
      const oscillator = context.createOscillator();
      const gain = context.createGain();
      oscillator.frequency.setValueAtTime(from, start);
      oscillator.frequency.linearRampToValueAtTime(to, start + lasts);
      gain.gain.setValueAtTime(0, start);
      gain.gain.linearRampToValueAtTime(0.2, start + 0.01);
      gain.gain.setValueAtTime(0.2, start + lasts - 0.03);
      gain.gain.linearRampToValueAtTime(0, start + lasts);
      oscillator.connect(gain).connect(context.destination);
      oscillator.start(start);
      oscillator.stop(start + lasts);
    };
    if (kind === "good") note(1320, 1320, 0, 0.12);
    else if (kind === "unclear") { note(620, 620, 0, 0.12); note(620, 620, 0.22, 0.12); }
    else note(300, 150, 0, 0.6);
  }

  // The last seconds of the input as it comes, so that the light can be seen to fall.
  draw(block, channels) {
    let low = Infinity, high = -Infinity;
    for (const sample of block) { if (sample < low) low = sample; if (sample > high) high = sample; }
    const perBlock = block.length / channels / this.input.rate;
    const canvas = this.parts.strip;
    this.columns.push([low, high]);
    const most = Math.ceil(STRIP_SECONDS / perBlock);
    if (this.columns.length > most) this.columns.splice(0, this.columns.length - most);
    if (this.waiting || this.parts.sheet.hidden) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      const pen = canvas.getContext("2d");
      const { width, height } = canvas;
      const style = getComputedStyle(canvas);
      const largest = this.columns.reduce((most, [a, b]) => Math.max(most, -a, b), 0.01);
      const y = (value) => height / 2 - (value / largest) * (height / 2 - 4);
      pen.clearRect(0, 0, width, height);
      pen.strokeStyle = style.borderTopColor;
      pen.beginPath(); pen.moveTo(0, height / 2); pen.lineTo(width, height / 2); pen.stroke();
      pen.strokeStyle = style.color;
      pen.lineWidth = Math.max(1, width / most);
      pen.beginPath();
      this.columns.forEach(([a, b], n) => {
        const x = width - (this.columns.length - n - 0.5) * (width / most);
        pen.moveTo(x, y(a) + 0.5);
        pen.lineTo(x, y(b) - 0.5);
      });
      pen.stroke();
    });
  }

  // Ends listening, waits until the program has written all, and sends the form.
  async keep() {
    this.parts.keep.disabled = true;
    this.pause();
    if (this.socket && this.socket.readyState === WebSocket.OPEN && !this.finished) {
      this.ask({ kind: "finish" });
      const socket = this.socket;
      await new Promise((done) => socket.addEventListener("close", done, { once: true }));
    }
    this.form.elements.live.value = this.token;
    const file = this.form.elements.recording;
    if (file) file.value = "";
    this.parts.keep.disabled = false;
    sessionStorage.removeItem(this.name());
    this.form.requestSubmit();
  }

  pause() {
    if (this.stream) for (const track of this.stream.getTracks()) track.stop();
    this.stream = null;
  }

  close() {
    this.pause();
    if (this.input) this.input.close();
    if (this.lock) this.lock.release().catch(() => {});
    if (this.context) this.context.close();
    const socket = this.socket;
    this.lock = this.context = this.socket = this.input = null;
    this.begun = this.finished = false;
    if (socket && socket.readyState <= WebSocket.OPEN) socket.close();
  }

  stop(words) {
    if (!this.context) return;
    this.close();
    this.say(words);
    this.parts.start.hidden = false;
    this.parts.start.disabled = false;
    this.parts.start.textContent = "Listen anew";
    this.parts.stop.hidden = true;
    if (this.token) this.over();
  }

  over() {
    this.parts.store.hidden = false;
    this.parts.store.href = `${this.root.dataset.live}/${this.token}/recording.wav`;
  }
}

for (const root of document.querySelectorAll("[data-live]")) new Panel(root);
