// Keeps an open page true. About once a second, while the page can be seen, it
// asks whether the data changed; if so it swaps the rows, and leaves focus,
// opened sums, answers not yet sent and the place on the page as they were. On
// a form with a preview it also shows at once what a person types would do.
// Without it a page works and shows the state of when it was made.

const every = 800; // milliseconds between questions: what changes is on the screen within a second
const slowest = 15000; // after many failures
const region = document.querySelector("[data-live]");
const system = document.getElementById("system");
const banner = document.getElementById("banner");
const announce = document.getElementById("announce");
let version = Number(document.body.dataset.version);
let failures = 0;
let timer = 0;

async function look() {
  try {
    const answer = await fetch(`/live?version=${version}`, { cache: "no-store" });
    if (answer.status === 401) return location.reload(); // signed out: the server asks to sign in
    if (!answer.ok) throw new Error(`status ${answer.status}`);
    const now = await answer.json();
    failures = 0;
    show(now);
    if (now.version !== version && (!region || await swap())) version = now.version;
  } catch {
    failures += 1;
    if (failures >= 3) {
      system.textContent = "This page cannot reach the service. What it shows may be old.";
      system.classList.add("lost");
    }
  }
  plan();
}

function show(now) {
  document.dispatchEvent(new CustomEvent("live", { detail: now }));
  system.classList.remove("lost");
  if (system.textContent !== now.system) system.textContent = now.system;
  const text = banner.querySelector("p");
  if (text.textContent !== now.banner) text.textContent = now.banner;
  banner.hidden = now.banner === "";
}

// swap fetches the rows anew. It gives false where they could not be had, so
// that the next look tries again.
async function swap() {
  const fresh = await fragment(location.href);
  const before = region.firstElementChild;
  if (!fresh || !before) return false;

  const focused = region.contains(document.activeElement) ? document.activeElement.id : "";
  const opened = [...region.querySelectorAll("details[open][id]")].map((d) => d.id);
  const typed = [...region.querySelectorAll("input[id]")].filter((i) => i.checked !== i.defaultChecked || i.value !== i.defaultValue);
  const anchor = [...region.querySelectorAll("tr[id]")].find((r) => r.getBoundingClientRect().bottom > 0);
  const top = anchor?.getBoundingClientRect().top;

  before.replaceWith(fresh);
  for (const id of opened) document.getElementById(id)?.setAttribute("open", "");
  for (const { id, checked, value } of typed) {
    const input = document.getElementById(id);
    if (input) [input.checked, input.value] = [checked, value];
  }
  const moved = window.scrollY > 0 && anchor && document.getElementById(anchor.id);
  if (moved) window.scrollBy(0, moved.getBoundingClientRect().top - top);
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });

  say(Number(fresh.dataset.total) - Number(before.dataset.total));
  return true;
}

// fragment fetches the rows of a page, or what a form would give, or null.
async function fragment(address, body) {
  const answer = await fetch(address, { method: body ? "POST" : "GET", body, cache: "no-store", headers: { "X-Fragment": "rows" } });
  if (!answer.ok) return null;
  return new DOMParser().parseFromString(await answer.text(), "text/html").body.firstElementChild;
}

let added = 0;
let saying = 0;

// say gathers what changed for a moment, so that a hundred files are one
// announcement.
function say(difference) {
  added += difference;
  clearTimeout(saying);
  saying = setTimeout(() => {
    const n = Math.abs(added);
    const { noun, left } = region.dataset;
    const rows = `${n} ${n === 1 ? noun : `${noun}s`}`;
    announce.textContent = added > 0 ? `${rows} added` : added < 0 ? `${rows} ${left}` : "The list changed";
    added = 0;
  }, 1500);
}

function plan() {
  clearTimeout(timer);
  if (document.hidden) return;
  timer = setTimeout(look, Math.min(every * 2 ** Math.max(0, failures - 3), slowest));
}

document.addEventListener("visibilitychange", () => (document.hidden ? clearTimeout(timer) : look()));
plan();

// A form with data-preview names the part of the page that shows what it would
// do; the newest question wins.
const form = document.querySelector("form[data-preview]");
let asked = 0;
form?.addEventListener("input", () => {
  const mine = ++asked;
  setTimeout(async () => {
    if (mine !== asked) return;
    const fresh = await fragment(form.dataset.try, new URLSearchParams(new FormData(form))).catch(() => null);
    if (fresh && mine === asked) document.getElementById(form.dataset.preview).replaceChildren(fresh);
  }, 200);
});
