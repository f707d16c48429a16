// Everything here is a convenience: each page works without it.
"use strict";

function markReady() {
  document.documentElement.classList.add("scripted");
}

// A page sent back with errors begins at the first of them.
function goToFirstError() {
  document.querySelector("[aria-invalid=true]")?.focus();
}

const STALLED = 15_000; // ms after which a send that led nowhere may be repeated

// A second tap with a wet glove is not a second entry.
function sendOnce(event) {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post" || "outbox" in form.dataset) return;
  if (form.dataset.sent) event.preventDefault();
  form.dataset.sent = "yes";
  setTimeout(() => delete form.dataset.sent, STALLED);
}

// A form that takes some seconds says that it is at work.
function showBusy(event) {
  if (event.defaultPrevented) return;
  const sign = document.getElementById(event.target.dataset.busy);
  if (sign) sign.hidden = false;
}

// Coming back to a page kept by the browser, its forms may be sent again.
function forgetSent(event) {
  if (event.persisted) document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent);
}

function askBefore(event) {
  const question = event.submitter?.dataset.ask;
  if (question && !window.confirm(question)) event.preventDefault();
}

function press(event) {
  const button = event.target.closest("[data-print], [data-copy], [data-locate]");
  if (!button) return;
  if ("print" in button.dataset) window.print();
  if ("copy" in button.dataset) copy(button);
  if ("locate" in button.dataset) locate(button);
}

function copy(button) {
  const box = document.getElementById(button.dataset.copy);
  box.select();
  navigator.clipboard?.writeText(box.value);
  button.textContent = "Copied";
}

function locate(button) {
  const said = button.parentElement.querySelector("[role=status]");
  navigator.geolocation.getCurrentPosition(
    ({ coords }) => {
      document.querySelector("[name=where]").value = `${coords.latitude.toFixed(3)}, ${coords.longitude.toFixed(3)}`;
      said.textContent = "Filled in from this device.";
    },
    () => (said.textContent = "This device does not say where it is; type it in."),
  );
}

function guessTimeZone() {
  const box = document.querySelector("[data-guess-zone]");
  if (box && !box.value) box.value = Intl.DateTimeFormat().resolvedOptions().timeZone ?? "";
}

// A tap on a photo says where on it a reading was taken, in percent.
function pin(event) {
  const photo = event.target.closest("[data-pin]");
  const boxes = ["across", "down"].map((name) => document.querySelector(`#reading [name=${name}]`));
  if (!photo || !boxes[0]) return;
  const { left, top, width, height } = photo.getBoundingClientRect();
  const shares = [(event.clientX - left) / width, (event.clientY - top) / height];
  boxes.forEach((box, place) => (box.value = (100 * shares[place]).toFixed(1)));
  const { viewBox } = photo.querySelector("svg");
  const here = photo.querySelector(".pin-here");
  here.setAttribute("cx", shares[0] * viewBox.baseVal.width);
  here.setAttribute("cy", shares[1] * viewBox.baseVal.height);
  document.querySelector("#reading [name=reading]").focus();
}

markReady();
goToFirstError();
guessTimeZone();
document.addEventListener("submit", askBefore);
document.addEventListener("submit", sendOnce);
document.addEventListener("submit", showBusy);
document.addEventListener("click", press);
document.addEventListener("click", pin);
window.addEventListener("pageshow", forgetSent);

// A picked colour writes its code into the text box, and a code typed there moves the picker.
function fillColour(event) {
  const picker = event.target.closest("[data-fills]");
  if (picker) document.getElementById(picker.dataset.fills).value = picker.value;
  const follower = document.querySelector(`[data-fills="${event.target.id}"]`);
  if (follower && /^#[0-9a-f]{6}$/i.test(event.target.value)) follower.value = event.target.value;
}

document.addEventListener("input", fillColour);

// What is most urgent stands in the title of the day sheet, and is asked for again each minute; a page that nobody looks
// at is fetched anew as soon as it says something else.
const FRESH_EVERY = 60_000; // ms

async function freshenTitle() {
  const answer = await fetch(location.href).catch(() => null);
  if (!answer?.ok || answer.redirected || answer.headers.has("X-Kept-At")) return;
  const { title } = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (title === document.title) return;
  document.title = title;
  if (document.hidden && !document.querySelector("dialog[open]")) location.reload();
}

if (document.querySelector("[data-fresh-title]")) setInterval(freshenTitle, FRESH_EVERY);
