// "/" goes to the box that finds anything, unless something is being typed.
"use strict";
document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  const at = document.activeElement;
  if (at && (at.matches("input, textarea, select") || at.isContentEditable)) return;
  const box = document.getElementById("find");
  if (!box) return;
  event.preventDefault();
  box.focus();
  box.select();
});

// A form that is on its way is not sent twice, and says that it is on its way.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  const button = event.submitter;
  if (button && form.enctype === "multipart/form-data") {
    button.dataset.label = button.textContent;
    button.textContent = "Sending …";
  }
});

// Coming back by the browser's own button finds the forms ready again.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) {
    delete form.dataset.sent;
    for (const button of form.querySelectorAll("button[data-label]")) {
      button.textContent = button.dataset.label;
    }
  }
});

// What is wider than its place scrolls by itself, and then the arrow keys must be able to reach it.
function letKeysScroll() {
  for (const wide of document.querySelectorAll(".table-wrap, .chart")) {
    if (wide.scrollWidth > wide.clientWidth) {
      wide.tabIndex = 0;
      wide.setAttribute("role", "group");
      const caption = wide.querySelector("caption");
      wide.setAttribute("aria-label", caption ? caption.textContent : "Wider than the page: scrolls sideways");
    } else if (wide.tabIndex === 0) {
      for (const name of ["tabindex", "role", "aria-label"]) wide.removeAttribute(name);
    }
  }
}
letKeysScroll();
window.addEventListener("resize", letKeysScroll);
