// The step in hand is done with one key, so that a foot switch that types Enter serves.
"use strict";
document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.repeat) return;
  const done = document.querySelector("button[data-step]");
  const at = document.activeElement;
  if (!done || (at && at !== document.body && at.id !== "sheet")) return;
  event.preventDefault();
  done.click();
});
