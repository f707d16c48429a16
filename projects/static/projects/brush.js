// Marks brushed over a photo with a finger, pen or mouse; sent as a PNG with the form. Without it the whole photo counts.
"use strict";

const INKS = { body: "rgb(0, 60, 255)", letters: "rgb(255, 40, 0)" };

function brush(form) {
  const canvas = form.querySelector("canvas");
  const marks = canvas.getContext("2d");
  let last = null;
  let touched = false;

  const kept = new Image();
  kept.onload = () => marks.drawImage(kept, 0, 0, canvas.width, canvas.height);
  kept.src = canvas.dataset.marks;

  function place(event) {
    const box = canvas.getBoundingClientRect();
    const scale = canvas.width / box.width;
    return { x: (event.clientX - box.left) * scale, y: (event.clientY - box.top) * scale };
  }

  function stroke(event) {
    const here = place(event);
    const ink = form.querySelector("[name=ink]:checked").value;
    marks.globalCompositeOperation = ink ? "source-over" : "destination-out";
    marks.strokeStyle = INKS[ink] ?? "#000";
    marks.lineCap = "round";
    marks.lineWidth = Number(form.querySelector("[type=range]").value);
    marks.beginPath();
    marks.moveTo(last.x, last.y);
    marks.lineTo(here.x, here.y);
    marks.stroke();
    last = here;
    touched = true;
  }

  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    last = place(event);
    stroke(event);
  });
  canvas.addEventListener("pointermove", (event) => last && stroke(event));
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => (last = null));
  form.querySelector("[data-clear]").addEventListener("click", () => {
    marks.clearRect(0, 0, canvas.width, canvas.height);
    touched = true;
  });
  form.addEventListener("submit", () => {
    if (touched) form.elements[form.dataset.brush].value = canvas.toDataURL("image/png");
  });
}

document.querySelectorAll("form[data-brush]").forEach(brush);
