// Marks brushed over a photo with a finger, pen or mouse; sent as a PNG with the form. Without it the whole photo counts.
"use strict";

const INKS = { body: "rgb(0, 60, 255)", letters: "rgb(255, 40, 0)" };
const AGAIN_AFTER = 3_000; // ms until the kept marks are asked for once more

function brush(form) {
  const canvas = form.querySelector("canvas");
  const marks = canvas.getContext("2d");
  const early = []; // what was brushed before the kept marks were there: it lies over them
  let last = null;
  let touched = false;
  let arrived = false;

  const kept = new Image();
  const there = new Promise((resolve) => {
    kept.onload = resolve;
    kept.onerror = () => setTimeout(fetchKept, AGAIN_AFTER);
  }).then(() => {
    arrived = true;
    marks.globalCompositeOperation = "source-over";
    marks.clearRect(0, 0, canvas.width, canvas.height);
    marks.drawImage(kept, 0, 0, canvas.width, canvas.height);
    early.forEach((draw) => draw());
  });
  const fetchKept = () => (kept.src = canvas.dataset.marks);
  fetchKept();

  function mark(draw) {
    if (!arrived) early.push(draw);
    draw();
    touched = true;
  }

  function place(event) {
    const box = canvas.getBoundingClientRect();
    const scale = canvas.width / box.width;
    return { x: (event.clientX - box.left) * scale, y: (event.clientY - box.top) * scale };
  }

  function stroke(event) {
    const from = last;
    const here = place(event);
    const ink = form.querySelector("[name=ink]:checked").value;
    const broad = Number(form.querySelector("[type=range]").value);
    mark(() => {
      marks.globalCompositeOperation = ink ? "source-over" : "destination-out";
      marks.strokeStyle = INKS[ink] ?? "#000";
      marks.lineCap = "round";
      marks.lineWidth = broad;
      marks.beginPath();
      marks.moveTo(from.x, from.y);
      marks.lineTo(here.x, here.y);
      marks.stroke();
    });
    last = here;
  }

  canvas.addEventListener("pointerdown", (event) => {
    if (!event.isPrimary) return;
    canvas.setPointerCapture(event.pointerId);
    last = place(event);
    stroke(event);
  });
  canvas.addEventListener("pointermove", (event) => event.isPrimary && last && stroke(event));
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => (last = null));
  // a quick stroke would else swing on as a scroll does, and the next tap, on the button, only stop it
  canvas.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
  form.querySelector("[data-clear]").addEventListener("click", () => {
    mark(() => marks.clearRect(0, 0, canvas.width, canvas.height));
  });
  form.addEventListener("submit", (event) => {
    if (!touched) return;
    if (arrived) {
      form.elements[form.dataset.brush].value = canvas.toDataURL("image/png");
      return;
    }
    event.preventDefault(); // the kept marks are on their way, and would be lost
    there.then(() => form.requestSubmit(event.submitter));
  });
}

document.querySelectorAll("form[data-brush]").forEach(brush);
