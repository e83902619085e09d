// Turns a pair of teeth in mesh: by a slider, or by itself on asking. Without a script the picture stands still.
"use strict";
for (const figure of document.querySelectorAll("[data-mesh]")) {
  const svg = figure.querySelector("svg.mesh-drawing");
  const parts = [...(svg ? svg.querySelectorAll("g[data-tooth-rad]") : [])].map((group) => ({
    group,
    cx: Number(group.dataset.cx),
    cy: Number(group.dataset.cy),
    degrees: (Number(group.dataset.toothRad) * 180) / Math.PI,
    travel: Number(group.dataset.toothMm),
  }));
  if (!parts.length) continue;
  // After one tooth the picture is the same again.
  const turnTo = (teeth) => {
    const part = teeth - Math.floor(teeth);
    for (const it of parts) {
      const move = it.degrees
        ? `rotate(${it.degrees * part} ${it.cx} ${it.cy})`
        : `translate(${it.travel * part} 0)`;
      it.group.setAttribute("transform", move);
    }
  };
  const label = document.createElement("label");
  const slider = document.createElement("input");
  slider.type = "range";
  slider.min = "0";
  slider.max = "1";
  slider.step = "0.005";
  slider.value = "0";
  label.append("Turn by one tooth ", slider);
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = "Turn it";
  button.setAttribute("aria-pressed", "false");
  const row = document.createElement("div");
  row.className = "acts";
  row.append(label, button);
  figure.append(row);
  let started = 0;
  let from = 0;
  const step = (now) => {
    if (!started) return;
    const teeth = from + (now - started) / 4000;
    slider.value = String(teeth - Math.floor(teeth));
    turnTo(teeth);
    requestAnimationFrame(step);
  };
  slider.addEventListener("input", () => {
    started = 0;
    button.setAttribute("aria-pressed", "false");
    button.textContent = "Turn it";
    turnTo(Number(slider.value) % 1);
  });
  button.addEventListener("click", () => {
    if (started) {
      started = 0;
    } else {
      from = Number(slider.value);
      started = performance.now();
      requestAnimationFrame(step);
    }
    button.setAttribute("aria-pressed", String(Boolean(started)));
    button.textContent = started ? "Stop" : "Turn it";
  });
}
