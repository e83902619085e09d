// A recording to be looked at closely: pan and zoom down to single samples.
"use strict";

const MARGIN = { left: 70, right: 64, top: 46, bottom: 44 };
const LEAST_SAMPLES = 16;

class Viewer {
  constructor(root) {
    this.root = root;
    this.canvas = root.querySelector("canvas");
    this.said = root.querySelector("[data-part=said]");
    const data = root.dataset;
    this.url = data.samples;
    this.rate = Number(data.rate);
    this.length = Number(data.length);
    this.channel = Number(data.channel);
    this.shot = JSON.parse(data.shot);
    this.opening = true;
    root.hidden = false;
    for (const button of root.querySelectorAll("[data-act]")) {
      button.addEventListener("click", () => this.act(button.dataset.act, button));
    }
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    this.canvas.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoom(Math.exp(event.deltaY / 300), this.sampleAt(event.offsetX));
    }, { passive: false });
    this.pointers = new Map();
    this.canvas.addEventListener("pointerdown", (event) => {
      this.canvas.setPointerCapture(event.pointerId);
      this.pointers.set(event.pointerId, event.offsetX);
    });
    this.canvas.addEventListener("pointermove", (event) => this.move(event));
    for (const over of ["pointerup", "pointercancel"]) {
      this.canvas.addEventListener(over, (event) => this.pointers.delete(event.pointerId));
    }
    new ResizeObserver(() => this.look()).observe(this.canvas);
    this.act("shot");
  }

  // To the shot, to one of its flanks, or to the whole recording.
  act(what, button) {
    const { start, opening, open, closing, closed } = this.shot;
    const around = (from, to, part) => {
      const spare = Math.max((to - from) * part, 8 / this.rate);
      this.show((from - spare) * this.rate, (to + spare) * this.rate);
    };
    const last = closed ?? closing ?? start + 0.02;
    if (what === "whole") this.show(0, this.length);
    else if (what === "shot") around(opening ?? start, last, 0.25);
    else if (what === "first") around(opening ?? start, open ?? last, 0.4);
    else if (what === "second") around(closing ?? start, last, 0.4);
    else if (what === "in") this.zoom(0.5);
    else if (what === "out") this.zoom(2);
    else if (what === "earlier") this.pan(-0.25);
    else if (what === "later") this.pan(0.25);
    else if (what === "opening") {
      this.opening = !this.opening;
      button.setAttribute("aria-pressed", String(this.opening));
      this.draw();
    }
  }

  key(event) {
    const acts = {
      ArrowLeft: "earlier", ArrowRight: "later", "+": "in", "=": "in", "-": "out", Home: "whole", End: "shot",
    };
    const what = acts[event.key];
    if (!what || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    this.act(what);
  }

  // One finger moves, two zoom.
  move(event) {
    const before = this.pointers.get(event.pointerId);
    if (before === undefined) return;
    const others = [...this.pointers].filter(([id]) => id !== event.pointerId).map(([, x]) => x);
    this.pointers.set(event.pointerId, event.offsetX);
    if (others.length === 0) {
      this.show(...[this.from, this.to].map((it) => it - (event.offsetX - before) * this.perPixel()));
    } else {
      const apart = (x) => Math.max(10, Math.abs(x - others[0]));
      this.zoom(apart(before) / apart(event.offsetX), this.sampleAt((event.offsetX + others[0]) / 2));
    }
  }

  plot() { return Math.max(50, this.canvas.clientWidth - MARGIN.left - MARGIN.right); }
  perPixel() { return (this.to - this.from) / this.plot(); }
  sampleAt(x) { return this.from + (x - MARGIN.left) * this.perPixel(); }
  xOf(sample) { return MARGIN.left + (sample - this.from) / this.perPixel(); }

  pan(part) { this.show(this.from + part * (this.to - this.from), this.to + part * (this.to - this.from)); }

  zoom(factor, at = (this.from + this.to) / 2) {
    this.show(at - (at - this.from) * factor, at + (this.to - at) * factor);
  }

  show(from, to) {
    const wide = Math.min(Math.max(to - from, LEAST_SAMPLES), Math.max(this.length, LEAST_SAMPLES));
    const middle = (from + to) / 2;
    this.from = Math.min(Math.max(0, middle - wide / 2), Math.max(0, this.length - wide));
    this.to = this.from + wide;
    this.look();
  }

  // Asks for what is in sight, once the hand rests.
  look() {
    this.draw();
    clearTimeout(this.asking);
    this.asking = setTimeout(async () => {
      const [from, to] = [Math.floor(this.from), Math.ceil(this.to) + 1];
      const ask = `${this.url}?from=${Math.max(0, from - 1)}&to=${to}&columns=${Math.min(4096, 2 * this.plot())}`;
      const answer = await fetch(ask).catch(() => null);
      if (!answer || !answer.ok) {
        this.said.textContent = "The samples could not be read; reload the page.";
        return;
      }
      this.view = await answer.json();
      this.draw();
      this.tell();
    }, 60);
  }

  tell() {
    const seconds = (sample) => (sample / this.rate).toFixed(6);
    const per = this.view.per_column;
    this.said.textContent = `From ${seconds(this.from)} s to ${seconds(this.to)} s, ${Math.round(this.to - this.from)} samples; `
      + (per === 1 ? "single samples are seen" : `least and greatest of each ${per} samples`)
      + (this.view.whole ? "." : "; away from shots only the means of short blocks are held.");
  }

  draw() {
    const { canvas, view } = this;
    const scale = window.devicePixelRatio || 1;
    const [width, height] = [canvas.clientWidth, canvas.clientHeight];
    if (canvas.width !== Math.round(width * scale)) canvas.width = Math.round(width * scale);
    if (canvas.height !== Math.round(height * scale)) canvas.height = Math.round(height * scale);
    const pen = canvas.getContext("2d");
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    pen.clearRect(0, 0, width, height);
    const style = getComputedStyle(canvas);
    this.ink = style.color;
    this.soft = style.borderTopColor;
    pen.font = `12px ${style.fontFamily}`;
    const area = { left: MARGIN.left, right: width - MARGIN.right, top: MARGIN.top, bottom: height - MARGIN.bottom };
    this.drawMoments(pen, area);
    if (view) this.drawSamples(pen, area, view.channels[this.channel] || []);
    if (this.opening) this.drawOpening(pen, area);
    this.drawTime(pen, area);
    pen.strokeStyle = this.ink;
    pen.lineWidth = 1;
    pen.strokeRect(area.left, area.top, area.right - area.left, area.bottom - area.top);
  }

  drawSamples(pen, area, [low, high]) {
    if (!low) return;
    const { view } = this;
    let [least, most] = [Infinity, -Infinity];
    low.forEach((value, n) => {
      const at = view.from + (n + 1) * view.per_column;
      if (value === null || at < this.from || at - view.per_column > this.to) return;
      least = Math.min(least, value);
      most = Math.max(most, high[n]);
    });
    if (!(least <= most)) return;
    const spare = Math.max((most - least) * 0.08, 1e-6);
    [least, most] = [least - spare, most + spare];
    const y = (value) => area.bottom - ((value - least) / (most - least)) * (area.bottom - area.top);
    this.drawLevels(pen, area, least, most, y);
    pen.save();
    pen.beginPath();
    pen.rect(area.left, area.top, area.right - area.left, area.bottom - area.top);
    pen.clip();
    pen.strokeStyle = pen.fillStyle = this.ink;
    pen.lineWidth = 1.2;
    pen.beginPath();
    let drawn = false;
    low.forEach((value, n) => {
      // Lost samples leave a gap.
      if (value === null) { drawn = false; return; }
      const x = this.xOf(view.from + (n + 0.5) * view.per_column - 0.5);
      if (drawn) pen.lineTo(x, y(value)); else pen.moveTo(x, y(value));
      if (high[n] !== value) pen.lineTo(x, y(high[n]));
      drawn = true;
    });
    pen.stroke();
    if (view.per_column === 1 && this.perPixel() < 0.2) {
      low.forEach((value, n) => {
        if (value !== null) { pen.beginPath(); pen.arc(this.xOf(view.from + n), y(value), 2.5, 0, 7); pen.fill(); }
      });
    }
    pen.restore();
  }

  drawLevels(pen, area, least, most, y) {
    pen.fillStyle = this.ink;
    pen.strokeStyle = this.soft;
    pen.lineWidth = 0.5;
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    const step = nice((most - least) / 5);
    for (let value = Math.ceil(least / step) * step; value <= most; value += step) {
      pen.beginPath(); pen.moveTo(area.left, y(value)); pen.lineTo(area.right, y(value)); pen.stroke();
      pen.fillText(value.toFixed(Math.max(0, -Math.floor(Math.log10(step)))).replace("-", "−"), area.left - 6, y(value));
    }
    pen.save();
    pen.translate(14, (area.top + area.bottom) / 2);
    pen.rotate(-Math.PI / 2);
    pen.textAlign = "center";
    pen.fillText("as recorded", 0, 0);
    pen.restore();
  }

  drawTime(pen, area) {
    const seconds = (this.to - this.from) / this.rate;
    const [unit, factor] = seconds < 2e-3 ? ["µs", 1e6] : seconds < 2 ? ["ms", 1e3] : ["s", 1];
    const origin = this.shot.opening ?? this.shot.start;
    const step = nice((seconds * factor) / Math.max(3, this.plot() / 110));
    const places = Math.max(0, -Math.floor(Math.log10(step)));
    const from = (this.from / this.rate - origin) * factor;
    const to = (this.to / this.rate - origin) * factor;
    pen.fillStyle = this.ink;
    pen.strokeStyle = this.ink;
    pen.textAlign = "center";
    pen.textBaseline = "top";
    for (let value = Math.ceil(from / step) * step; value <= to; value += step) {
      const x = this.xOf((value / factor + origin) * this.rate);
      pen.beginPath(); pen.moveTo(x, area.bottom); pen.lineTo(x, area.bottom + 5); pen.stroke();
      pen.fillText(value.toFixed(places).replace("-", "−"), x, area.bottom + 8);
    }
    pen.fillText(`${unit} from first opening`, (area.left + area.right) / 2, area.bottom + 26);
  }

  // Flanks as shaded bands, the plateau as a dimension line, each with its length.
  drawMoments(pen, area) {
    const { opening, open, closing, closed } = this.shot;
    const parts = open != null && closing != null
      ? [["opening", opening, open, true], ["fully open", open, closing, false], ["closing", closing, closed, true]]
      : [["opens and closes", opening, closed, true]];
    pen.textAlign = "center";
    pen.textBaseline = "alphabetic";
    parts.forEach(([name, from, to, band], row) => {
      if (from == null || to == null) return;
      const [a, b] = [this.xOf(from * this.rate), this.xOf(to * this.rate)];
      if (b < area.left || a > area.right) return;
      const [left, right] = [Math.max(a, area.left), Math.min(b, area.right)];
      pen.globalAlpha = band ? 0.13 : 0;
      pen.fillStyle = this.ink;
      pen.fillRect(left, area.top, right - left, area.bottom - area.top);
      pen.globalAlpha = 1;
      pen.strokeStyle = this.ink;
      pen.lineWidth = 1;
      pen.setLineDash([4, 3]);
      for (const x of [a, b]) {
        if (x < area.left || x > area.right) continue;
        pen.beginPath(); pen.moveTo(x, area.top); pen.lineTo(x, area.bottom); pen.stroke();
      }
      pen.setLineDash([]);
      const ms = (to - from) * 1e3;
      const words = `${name} ${ms >= 1000 ? (ms / 1e3).toFixed(3) + " s" : ms.toFixed(ms < 10 ? 3 : 2) + " ms"}`;
      const half = pen.measureText(words).width / 2;
      const middle = Math.min(Math.max((left + right) / 2, area.left + half), area.right - half);
      pen.fillText(words, middle, 12 + 14 * row);
    });
  }

  // The opening with the coupling undone, on its own scale at the right, with the levels that count.
  drawOpening(pen, area) {
    const { time, openness } = this.shot;
    // The opening is known at some hundred points; closer than that it would say what is not known.
    const seen = time.filter((at) => at * this.rate >= this.from && at * this.rate <= this.to).length;
    if (seen < 8) return;
    const [least, most] = [-0.08, 1.1];
    const y = (value) => area.bottom - ((value - least) / (most - least)) * (area.bottom - area.top);
    pen.save();
    pen.strokeStyle = pen.fillStyle = this.ink;
    pen.textAlign = "left";
    pen.textBaseline = "middle";
    pen.lineWidth = 0.8;
    for (const [level, word] of [[0.01, "1 %"], [0.98, "98 %"]]) {
      pen.setLineDash([2, 4]);
      pen.beginPath(); pen.moveTo(area.left, y(level)); pen.lineTo(area.right, y(level)); pen.stroke();
      pen.fillText(`${word} E₀`, area.right + 6, y(level));
    }
    pen.beginPath();
    pen.rect(area.left, area.top, area.right - area.left, area.bottom - area.top);
    pen.clip();
    pen.setLineDash([7, 4]);
    pen.lineWidth = 1;
    pen.beginPath();
    time.forEach((at, n) => {
      const x = this.xOf(at * this.rate);
      if (n) pen.lineTo(x, y(openness[n])); else pen.moveTo(x, y(openness[n]));
    });
    pen.stroke();
    pen.restore();
  }
}

// 1, 2 or 5 times a power of ten.
function nice(step) {
  const power = 10 ** Math.floor(Math.log10(step || 1));
  return [1, 2, 5, 10].map((it) => it * power).find((it) => it >= step) || step;
}

for (const root of document.querySelectorAll("[data-samples]")) new Viewer(root);
