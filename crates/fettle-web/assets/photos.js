// Shows the photographs chosen for a form, small, before they are sent.
"use strict";
for (const input of document.querySelectorAll("input[type=file][data-preview]")) {
  const strip = document.getElementById(input.dataset.preview);
  if (!strip) continue;
  input.addEventListener("change", () => {
    for (const image of strip.querySelectorAll("img")) URL.revokeObjectURL(image.src);
    strip.replaceChildren();
    for (const file of input.files) {
      if (!file.type.startsWith("image/")) continue;
      const figure = document.createElement("figure");
      const image = document.createElement("img");
      image.src = URL.createObjectURL(file);
      image.alt = "";
      const caption = document.createElement("figcaption");
      caption.textContent = file.name;
      figure.append(image, caption);
      strip.append(figure);
    }
  });
}
