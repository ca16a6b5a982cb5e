// What depends on time on an open page: the warning before a session ends, the
// seconds left to undo an outcome, and the lease on a wear that is being worked
// on. Without it the session ends unannounced, the server refuses an undo that
// comes too late, and a lease is renewed by each form sent.

const warnBefore = 120; // seconds
const renewEvery = 5 * 60; // seconds

const now = () => Date.now() / 1000;

// The session.
const idle = document.getElementById("idle");
let ends = document.body.dataset.idle ? now() + Number(document.body.dataset.idle) : Infinity;

document.addEventListener("live", ({ detail }) => {
  if (detail.idle_s) ends = now() + detail.idle_s; // another page may have kept it open
});

idle?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const answer = await send(idle.action, new URLSearchParams(new FormData(idle)));
  const left = (await told(answer))?.idle_s;
  if (left) ends = now() + left;
  tick();
});

// Whoever types is here: the session goes on, and what was typed is kept on the
// server under their name until it is sent, so that no end of a session, sign-out
// elsewhere or step back loses it.
const extendEvery = 60; // seconds
const keepAfter = 1500; // milliseconds without a key
const token = () => document.querySelector("input[name=csrf]")?.value ?? "";
let extended = now();
let keeping = 0;

const kept = (form) => [...form.elements].filter((e) => e.name && !["hidden", "password", "file", "submit", "button"].includes(e.type) && e.name !== "code");
const ours = () => [...document.querySelectorAll("main form[method=post]")].filter((form) => kept(form).length);
const named = (form, e) => new URL(form.action).pathname + " " + e.name;

function keep() {
  clearTimeout(keeping);
  keeping = 0;
  const body = new URLSearchParams({ csrf: token(), page: location.pathname });
  for (const form of ours()) {
    for (const e of kept(form)) {
      const chosen = e.type === "radio" || e.type === "checkbox" ? e.checked !== e.defaultChecked && e.checked : e.value !== e.defaultValue;
      if (e.tagName === "SELECT" ? e.value && !e.selectedOptions[0]?.defaultSelected : chosen) body.append(named(form, e), e.value);
    }
  }
  send("/drafts", body, true);
}

document.addEventListener("input", ({ target }) => {
  if (!target.form || !ours().includes(target.form)) return;
  clearTimeout(keeping);
  keeping = setTimeout(keep, keepAfter);
  if (now() - extended < extendEvery || !idle) return;
  extended = now();
  idle.requestSubmit();
});
document.addEventListener("submit", ({ target }) => {
  if (target === idle) return;
  clearTimeout(keeping);
  keeping = 0;
});
addEventListener("pagehide", () => { if (keeping) keep(); });

async function putBack() {
  if (!idle || !ours().length) return;
  const drafts = await told(await fetch("/drafts?" + new URLSearchParams({ page: location.pathname }), { cache: "no-store" }).catch(() => null));
  let some = false;
  for (const [name, values] of Object.entries(drafts ?? {})) {
    const at = name.lastIndexOf(" ");
    const form = ours().find((f) => at < 0 ? f.elements[name] : new URL(f.action).pathname === name.slice(0, at));
    for (const e of form ? kept(form) : []) {
      if (e.name !== name.slice(at + 1)) continue;
      if (e.type === "radio" || e.type === "checkbox") e.checked = values.includes(e.value);
      else if (e.value === e.defaultValue) e.value = values[0];
      e.closest("details")?.setAttribute("open", "");
      some = true;
    }
  }
  if (!some) return;
  say("What you typed here before is back. It has not been saved yet.", "status");
}
putBack();

// The outcome just recorded.
const undo = document.querySelector("form.undo[data-left]");
const undoEnds = undo ? now() + Number(undo.dataset.left) : 0;

// The lease: whoever types or points is working.
const work = document.querySelector("[data-renew]");
let renewed = now();
for (const kind of ["keydown", "pointerdown"]) document.addEventListener(kind, renew, { passive: true });

async function renew() {
  if (!work || now() - renewed < renewEvery) return;
  renewed = now();
  const answer = await send(work.dataset.renew, new URLSearchParams({ csrf: token() }));
  if (answer?.status === 409) say("This wear is not yours any more: somebody else has it, or it has left the round. Open its page before you go on; what you typed here stays.", "alert");
}

function say(words, role) {
  const said = document.createElement("p");
  said.setAttribute("role", role);
  said.className = "note";
  said.textContent = words;
  document.querySelector("main").prepend(said);
}

function send(address, body, last) {
  return fetch(address, { method: "POST", body, headers: { Accept: "application/json" }, cache: "no-store", keepalive: Boolean(last) }).catch(() => null);
}

// told gives what an answer holds, or null: between here and the service anything
// may answer with a page of its own.
async function told(answer) {
  return answer?.ok ? answer.json().catch(() => null) : null;
}

function tick() {
  const left = Math.ceil(ends - now());
  if (left <= 0) return location.reload(); // the server asks to sign in; nothing stays on the screen
  if (idle) {
    idle.hidden = left > warnBefore;
    const words = left > 60 ? "2 minutes" : left > 30 ? "a minute" : "half a minute"; // said anew only when it changes
    const said = idle.querySelector(".left");
    if (said.textContent !== words) said.textContent = words;
  }
  if (undo) {
    const rest = Math.ceil(undoEnds - now());
    undo.hidden = rest <= 0;
    undo.querySelector(".left").textContent = `(${rest} s)`;
  }
}

setInterval(tick, 1000);
tick();

// A button that prints is of use only with a script.
const print = document.querySelector("[data-print]");
if (print) {
  print.hidden = false;
  print.addEventListener("click", () => window.print());
}
