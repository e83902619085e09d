// The step that is next is done with one key, so that a foot switch that types Enter or Space serves.
"use strict";
const done = document.querySelector("button[data-step]");
if (done) {
  done.focus({ preventScroll: true });
  document.addEventListener("keydown", (event) => {
    if (event.repeat || (event.key !== "Enter" && event.key !== " ")) return;
    const at = document.activeElement;
    if (at && at !== document.body && at !== done) return;
    event.preventDefault();
    done.click();
  });
}
