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
  if (answer?.ok) ends = now() + (await answer.json()).idle_s;
  tick();
});

// The outcome just recorded.
const undo = document.querySelector("form.undo[data-left]");
const undoEnds = undo ? now() + Number(undo.dataset.left) : 0;

// The lease: whoever types or points is working.
const work = document.querySelector("[data-renew]");
let renewed = now();
for (const kind of ["keydown", "pointerdown"]) document.addEventListener(kind, renew, { passive: true });

function renew() {
  if (!work || now() - renewed < renewEvery) return;
  renewed = now();
  const token = document.querySelector("input[name=csrf]")?.value ?? "";
  send(work.dataset.renew, new URLSearchParams({ csrf: token }));
}

function send(address, body) {
  return fetch(address, { method: "POST", body, headers: { Accept: "application/json" }, cache: "no-store" }).catch(() => null);
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
