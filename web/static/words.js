// Reading words with the keys: a number answers the marked text and goes on to
// the next; the last answer sends them all. Without it the answers are radio
// buttons and a button below.

const form = document.querySelector(".reading");
const texts = [...form.querySelectorAll(".text")];
const open = (text) => "open" in text.dataset && !text.querySelector("input:checked");
let here = texts.find(open);

function mark(text) {
  here?.removeAttribute("data-here");
  here = text;
  if (!here) return;
  here.setAttribute("data-here", "");
  here.querySelector("input[type=radio]").focus({ preventScroll: true });
  here.scrollIntoView({ block: "nearest" });
}

form.addEventListener("focusin", (event) => {
  const text = event.target.closest(".text");
  if (text && text !== here) mark(text);
});

form.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey) return;
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (step && event.target.matches("input[type=radio]")) {
    event.preventDefault();
    mark(texts[Math.max(0, Math.min(texts.length - 1, texts.indexOf(here) + step))]);
    return;
  }
  const choice = here?.querySelector(`input[data-key="${CSS.escape(event.key)}"]`);
  if (!choice || event.repeat) return;
  event.preventDefault();
  choice.checked = true;
  const next = texts.slice(texts.indexOf(here) + 1).find(open) ?? texts.find(open);
  if (next) mark(next);
  else form.requestSubmit();
});

mark(here);
