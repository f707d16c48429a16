// Two photos, one over the other, and a slider that draws the edge between them. Without this script they stand side by side.
"use strict";

for (const box of document.querySelectorAll("[data-compare]")) {
  const slider = box.querySelector("input");
  const show = () => box.style.setProperty("--edge-at", `${slider.value}%`);
  box.classList.add("sliding");
  slider.addEventListener("input", show);
  show();
}
