// Entries keep in this browser until the workshop has them: typed text and photos survive a lost signal, a reload and a
// form that comes back. Works over plain http: it needs an open page and IndexedDB, nothing else.
//
// Two stores: "drafts", what is typed into a form by its address, and "waiting", entries on their way, in order.
// An entry carries the key of its form, from which the workshop makes the same ids however often it arrives.
"use strict";

const PATIENCE = 20_000; // ms that a send may take before it counts as lost
const AGAIN = 10_000; // ms until the next try
const DRAFTS_KEPT = 24 * 60 * 60 * 1000; // ms
const NOT_KEPT = new Set(["csrfmiddlewaretoken", "password"]);

// The store

function opened() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open("fettlebook", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("drafts", { keyPath: "address" });
      asked.result.createObjectStore("waiting", { keyPath: "id", autoIncrement: true });
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

async function inStore(name, work) {
  const database = await opened();
  try {
    return await new Promise((resolve, reject) => {
      const transaction = database.transaction(name, "readwrite", { durability: "strict" });
      const asked = work(transaction.objectStore(name));
      transaction.oncomplete = () => resolve(asked?.result);
      transaction.onabort = transaction.onerror = () => reject(transaction.error);
    });
  } finally {
    database.close();
  }
}

const waitingEntries = () => inStore("waiting", (store) => store.getAll());

// A form as values that the store can hold, and back

async function valuesOf(form) {
  const values = [];
  for (const [name, value] of new FormData(form)) {
    if (NOT_KEPT.has(name) || (value instanceof File && !value.size)) continue;
    values.push([name, value instanceof File ? await kept(value) : value]);
  }
  return values;
}

const kept = async (file) => ({ name: file.name, type: file.type, bytes: await file.arrayBuffer() });
const asFile = ({ name, type, bytes }) => new File([bytes], name, { type });

function formData(values) {
  const data = new FormData();
  for (const [name, value] of values) data.append(name, typeof value === "string" ? value : asFile(value));
  return data;
}

function fill(form, values) {
  const byName = Map.groupBy ? Map.groupBy(values, ([name]) => name) : grouped(values);
  for (const box of form.elements) {
    if (!box.name || NOT_KEPT.has(box.name) || (box.type === "hidden" && box.name !== "key")) continue;
    const own = (byName.get(box.name) ?? []).map(([, value]) => value);
    if (box.type === "file") {
      const files = new DataTransfer();
      own.forEach((value) => files.items.add(asFile(value)));
      box.files = files.files;
    } else if (box.type === "checkbox" || box.type === "radio") box.checked = own.includes(box.value);
    else if (own.length) box.value = own[0];
  }
}

function grouped(values) {
  const groups = new Map();
  for (const pair of values) groups.set(pair[0], [...(groups.get(pair[0]) ?? []), pair]);
  return groups;
}

// Random by a source that plain http has too (RFC 9562, version 4)
function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

const cookie = (name) => document.cookie.match(new RegExp(`(?:^|; )${name}=([^;]*)`))?.[1] ?? "";

// Drafts

const addressOf = () => location.pathname + location.search;

async function keepDraft(form) {
  const draft = { address: addressOf(), at: Date.now(), member: cookie("member"), values: await valuesOf(form) };
  await inStore("drafts", (store) => store.put(draft));
}

const dropDraft = (address) => inStore("drafts", (store) => store.delete(address));

async function restoreDraft(form) {
  const draft = await inStore("drafts", (store) => store.get(addressOf()));
  if (!draft || draft.member !== cookie("member")) return;
  if (Date.now() - draft.at > DRAFTS_KEPT) return dropDraft(draft.address);
  fill(form, draft.values);
  tell(form, "What was typed here is back, photos too.", "Start afresh", async () => {
    await dropDraft(draft.address);
    location.reload();
  });
}

function tell(form, words, button, action) {
  const line = document.createElement("p");
  line.className = "message";
  line.setAttribute("role", "status");
  line.append(`${words} `);
  const tap = document.createElement("button");
  tap.type = "button";
  tap.className = "quiet";
  tap.textContent = button;
  tap.addEventListener("click", action);
  line.append(tap);
  form.before(line);
}

// On its way

async function sent(entry) {
  if (entry.alone) return await sentWithProgress(entry);
  const headers = { "X-Outbox": "1", "X-CSRFToken": cookie("csrftoken") };
  const signal = AbortSignal.timeout(PATIENCE);
  const answer = await fetch(entry.address, { method: "POST", body: formData(entry.values), headers, signal });
  if (answer.status >= 500 || answer.status === 403) throw new Error(`${answer.status}`);
  const told = answer.headers.get("Content-Type")?.startsWith("application/json") ? await answer.json() : null;
  if (told?.to.startsWith("/sign-in/")) throw new Error("sign in");
  return told ? { to: told.to } : { page: await answer.text() };
}

// A photo by itself: lost only when nothing has moved for a while, however long the whole of it takes
function sentWithProgress(entry) {
  const request = new XMLHttpRequest();
  const bar = () => document.querySelector(`#waiting-${entry.id} progress`);
  return new Promise((resolve, reject) => {
    let patience;
    const moved = () => {
      clearTimeout(patience);
      patience = setTimeout(() => request.abort(), PATIENCE * 3);
    };
    request.upload.onprogress = ({ loaded, total }) => {
      moved();
      if (bar()) Object.assign(bar(), { max: total, value: loaded });
    };
    request.onerror = request.onabort = () => reject(new Error("no signal"));
    request.onload = () => {
      if (request.status >= 500 || request.status === 403) return reject(new Error(`${request.status}`));
      const told = request.getResponseHeader("Content-Type")?.startsWith("application/json");
      const to = told ? JSON.parse(request.responseText).to : null;
      if (to?.startsWith("/sign-in/")) return reject(new Error("sign in"));
      resolve(to ? { to } : { page: request.responseText });
    };
    request.onloadend = () => clearTimeout(patience);
    request.open("POST", entry.address);
    request.setRequestHeader("X-Outbox", "1");
    request.setRequestHeader("X-CSRFToken", cookie("csrftoken"));
    moved();
    request.send(formData(entry.values));
  });
}

// A form with many photos: each waits and is sent as an entry of its own, all with what was said of them together.
async function submitEach(form) {
  const name = form.dataset.each;
  const files = [...form.elements.namedItem(name).files];
  if (!files.length) return form.submit();
  const shared = [...new FormData(form)].filter(([box, value]) => typeof value === "string" && !NOT_KEPT.has(box) && box !== "key");
  const most = Number(form.dataset.most) || Infinity;
  const refused = [];
  for (const file of files) {
    if (file.size > most) {
      refused.push(`${file.name}: ${Math.round(file.size / 2 ** 20)} MB; ${Math.round(most / 2 ** 20)} MB is the most.`);
      continue;
    }
    const values = [...shared, ["key", newKey()], [name, await kept(file)]];
    const address = form.getAttribute("action") || addressOf();
    const entry = { address, at: Date.now(), member: cookie("member"), about: file.name, values, alone: true };
    await inStore("waiting", (store) => store.add(entry));
  }
  await dropDraft(addressOf());
  form.reset();
  for (const box of ["key", "batch"]) if (form.elements.namedItem(box)) form.elements.namedItem(box).value = newKey();
  if (refused.length) tell(form, refused.join(" "), "I see", (event) => event.target.parentElement.remove());
  await show();
  document.querySelector("#outbox")?.scrollIntoView({ block: "start" });
  await flush();
  if (!refused.length && form.isConnected && !(await waitingEntries()).length) location.assign(form.dataset.then);
}

// A tap on the button: the entry is kept first, then sent; the page shows what came of it.
async function submit(event) {
  const form = event.target;
  if (!form.matches("form[data-outbox]") || event.defaultPrevented || !window.indexedDB) return;
  if (event.submitter?.formMethod === "dialog") return;
  event.preventDefault();
  if (form.dataset.sending) return;
  form.dataset.sending = "yes";
  try {
    if (form.dataset.each) return await submitEach(form);
    const entry = { address: form.getAttribute("action") || addressOf(), at: Date.now(), member: cookie("member") };
    entry.values = await valuesOf(form);
    entry.about = aboutOf(form);
    if ((await waitingEntries()).length) return await wait(form, entry); // in order: after those that wait
    entry.id = await inStore("waiting", (store) => store.add(entry));
    await settle(form, entry);
  } finally {
    delete form.dataset.sending;
  }
}

async function settle(form, entry) {
  let answer;
  try {
    answer = await sent(entry);
  } catch {
    return await wait(form, entry);
  }
  await inStore("waiting", (store) => store.delete(entry.id));
  if (answer.to) {
    await dropDraft(addressOf());
    goTo(answer.to);
  } else showAgain(answer.page, entry.values);
}

// An address that differs from the page's own by its fragment alone would only be scrolled to, and show nothing new.
function goTo(address) {
  const { pathname, search, hash } = new URL(address, location.href);
  const here = pathname + search === addressOf() && hash;
  location.assign(address);
  if (here) location.reload();
}

// The form as it came back, with the photos that a browser would have dropped.
function showAgain(page, values) {
  const main = new DOMParser().parseFromString(page, "text/html").querySelector("main");
  document.querySelector("main").replaceWith(main);
  const form = main.querySelector("form[data-outbox]");
  if (form) fill(form, values);
  window.htmx?.process(main);
  main.querySelector("[aria-invalid=true]")?.focus();
}

async function wait(form, entry) {
  entry.values.push(["late", "1"], ["tapped_at", new Date(entry.at).toISOString()]);
  if (entry.id) await inStore("waiting", (store) => store.put(entry));
  else await inStore("waiting", (store) => store.add(entry));
  await dropDraft(addressOf());
  form.reset();
  const key = form.elements.namedItem("key");
  if (key) key.value = newKey();
  for (const counted of form.querySelectorAll("[data-counts]")) countOn(counted, entry.values);
  form.closest("dialog")?.close();
  await show();
  document.querySelector("#outbox")?.scrollIntoView({ block: "start" });
  flush();
}

// The number after the one that was sent, for the next part on the bench
function countOn(box, values) {
  const typed = values.find(([name]) => name === box.name)?.[1];
  if (/^\d+$/.test(typed ?? "")) box.value = String(Number(typed) + 1);
}

function aboutOf(form) {
  const marks = [...form.querySelectorAll("[name=pieces]:checked")].map((box) => box.parentElement.innerText.split(" ")[0]);
  const kind = form.dataset.outbox || form.elements.namedItem("kind")?.selectedOptions?.[0]?.text || "";
  const photos = form.querySelector("[type=file]")?.files.length ?? 0;
  return [kind, marks.join(", "), photos ? `${photos} photo${photos > 1 ? "s" : ""}` : ""].filter(Boolean).join(" – ");
}

let flushing = false;

// All that wait, the oldest first; what the workshop refuses stays to be looked at, and holds up nothing.
async function flush() {
  if (flushing) return;
  flushing = true;
  let arrived = 0;
  try {
    for (const entry of await waitingEntries()) {
      if (entry.refused || entry.member !== cookie("member")) continue;
      const answer = await sent(entry);
      if (answer.to) {
        await inStore("waiting", (store) => store.delete(entry.id));
        document.querySelector(`#waiting-${entry.id}`)?.remove();
        sayHowMany(document.querySelectorAll("#outbox li").length);
        arrived += 1;
      } else await inStore("waiting", (store) => store.put({ ...entry, refused: true, why: whyNot(answer.page) }));
    }
  } catch {
    // no signal, or nobody signed in: the next try comes by itself
  } finally {
    flushing = false;
  }
  const left = await show();
  if (arrived && !left.some((entry) => !entry.refused) && !document.querySelector("main form[data-outbox]")) location.reload();
}

// What the form that came back says is wrong
function whyNot(page) {
  const wrong = new DOMParser().parseFromString(page, "text/html").querySelectorAll("main .errorlist li");
  return [...wrong].map((line) => line.textContent.trim()).join(" ");
}

const howMany = (count) => (count === 1 ? "1 entry waits for the workshop." : `${count} entries wait for the workshop.`);

function sayHowMany(count) {
  const bold = document.querySelector("#outbox b");
  if (bold && count) bold.textContent = howMany(count);
}

// What waits stands above the page, and the verdicts of before are greyed.
async function show() {
  const entries = await waitingEntries();
  document.documentElement.classList.toggle("outdated", entries.length > 0);
  document.querySelector("#outbox")?.remove();
  if (!entries.length) return entries;
  const box = document.createElement("section");
  box.id = "outbox";
  box.className = "notice";
  box.setAttribute("role", "status");
  const head = document.createElement("p");
  const bold = document.createElement("b");
  bold.textContent = howMany(entries.length);
  head.append(bold, " Kept in this device and sent by itself. What stands below is of before.");
  const list = document.createElement("ul");
  list.append(...entries.map(line));
  const now = document.createElement("button");
  now.type = "button";
  now.className = "quiet";
  now.textContent = "Send now";
  now.addEventListener("click", flush);
  box.append(head, list, now);
  document.querySelector("main").prepend(box);
  return entries;
}

function line(entry) {
  const item = document.createElement("li");
  const time = new Date(entry.at).toTimeString().slice(0, 5);
  item.id = `waiting-${entry.id}`;
  item.textContent = `${time} ${entry.about || "entry"} `;
  if (entry.alone && !entry.refused) item.append(Object.assign(document.createElement("progress"), { max: 1, value: 0 }));
  if (entry.member !== cookie("member")) item.append("(somebody else's: sent when they sign in) ");
  if (entry.refused && entry.alone) {
    item.append(`${entry.why || "Not taken."} `);
    const drop = document.createElement("button");
    drop.type = "button";
    drop.className = "quiet";
    drop.textContent = "Leave it out";
    drop.addEventListener("click", () => inStore("waiting", (store) => store.delete(entry.id)).then(show));
    item.append(drop);
  } else if (entry.refused) {
    const look = document.createElement("button");
    look.type = "button";
    look.className = "quiet";
    look.textContent = "Not taken: look at it";
    look.addEventListener("click", () => lookAt(entry));
    item.append(look);
  }
  return item;
}

// Back to its form, as typed; sent from there it is the same entry, by the same key.
async function lookAt(entry) {
  const asked = new URLSearchParams();
  for (const [name, value] of entry.values)
    if (["kind", "corrects", "visit"].includes(name)) asked.set(name, value);
    else if (name === "pieces") asked.append("piece", value);
  const address = `${entry.address.split("?")[0]}${asked.size ? `?${asked}` : ""}`;
  const values = entry.values.filter(([name]) => name !== "late" && name !== "tapped_at");
  await inStore("drafts", (store) => store.put({ address, at: Date.now(), member: entry.member, values }));
  await inStore("waiting", (store) => store.delete(entry.id));
  location.assign(address);
}

// No signal and no form open: a small one for what the link meant

const yard = fetch("/log/yard/").then((answer) => (answer.ok ? answer.text() : ""), () => "");

async function reachable() {
  try {
    return (await fetch("/healthy/", { cache: "no-store", signal: AbortSignal.timeout(4000) })).ok;
  } catch {
    return false;
  }
}

async function openYardForm(event, address) {
  if (event.defaultPrevented) return;
  event.preventDefault();
  if (await reachable()) return location.assign(address);
  const page = await yard;
  if (!page) return location.assign(address);
  document.body.insertAdjacentHTML("beforeend", page);
  const dialog = document.querySelector("#yard-form");
  dialog.addEventListener("close", () => dialog.remove());
  const asked = new URL(address, location).searchParams;
  const form = dialog.querySelector("form");
  form.elements.namedItem("key").value = newKey();
  form.elements.namedItem("happened_at").value = onClock(form.dataset.zone);
  if (asked.get("kind")) form.elements.namedItem("kind").value = asked.get("kind");
  form.querySelector(".yard-pieces").replaceChildren(...piecesHere().map((piece) => tick(piece, asked.getAll("piece"))));
  dialog.showModal();
}

// Of what is folded away too, which innerText leaves out
const wordsOf = (element) => element.textContent.replace(/\s+/g, " ").trim();

// The pieces that the open page speaks of, by its links
function piecesHere() {
  const found = new Map();
  for (const link of document.querySelectorAll("main a[href^='/pieces/']")) {
    const id = link.getAttribute("href").match(/^\/pieces\/([0-9a-f-]{36})\/$/)?.[1];
    if (id && !found.has(id)) found.set(id, wordsOf(link));
  }
  for (const box of document.querySelectorAll("main .tick [name=piece], main .tick [name=pieces]"))
    if (!found.has(box.value)) found.set(box.value, wordsOf(box.closest(".tick")));
  const own = location.pathname.match(/^\/pieces\/([0-9a-f-]{36})\/$/)?.[1];
  if (own) found.set(own, wordsOf(document.querySelector("h1")));
  return [...found].map(([id, words]) => ({ id, words }));
}

function tick({ id, words }, asked) {
  const label = document.createElement("label");
  label.className = "tick";
  const box = document.createElement("input");
  Object.assign(box, { type: "checkbox", name: "pieces", value: id, checked: asked.includes(id) });
  const text = document.createElement("span");
  text.textContent = words;
  label.append(box, text);
  return label;
}

function onClock(zone) {
  const parts = new Intl.DateTimeFormat("sv-SE", { timeZone: zone, dateStyle: "short", timeStyle: "short" });
  return parts.format(new Date()).replace(" ", "T");
}

// A verdict that could not be asked for is not left standing as if it were of what is typed now.
function greyed(event) {
  event.detail.target?.classList.toggle("outdated-one", event.type !== "htmx:afterSwap");
}

for (const name of ["htmx:sendError", "htmx:responseError", "htmx:timeout", "htmx:afterSwap"])
  document.addEventListener(name, greyed);
document.addEventListener("submit", submit);
document.addEventListener("click", (event) => {
  const link = event.target.closest("a[href^='/log/?'], a[href='/log/']");
  if (link && !event.ctrlKey && !event.metaKey && !event.shiftKey) openYardForm(event, link.getAttribute("href"));
});
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "get" || form.getAttribute("action") !== "/log/") return;
  openYardForm(event, `/log/?${new URLSearchParams(new FormData(form, event.submitter))}`);
});
document.addEventListener("input", (event) => {
  const form = event.target.closest("form[data-outbox]:not(dialog form)");
  if (form) keepDraft(form);
});
window.addEventListener("online", flush);
setInterval(async () => (await waitingEntries()).length && flush(), AGAIN);

const begun = document.querySelector("main form[data-outbox]");
if (begun) restoreDraft(begun);
show().then((entries) => entries.length && flush());
