// The routine sheet by keys: j marks a line as read and goes on, k goes back, x
// leaves a line out, o opens its wear, s goes to the signature. Without it the
// boxes are ticked one by one and the form is sent as any other.

const form = document.querySelector("form[data-sheet]");
if (form) {
  const boxes = [...form.querySelectorAll("input[name=told]")];
  const sign = document.getElementById("sign");
  const marked = form.querySelector("[data-marked]");
  let at = -1; // before the first

  form.querySelector("[data-keys]").hidden = false;

  const tell = () => (marked.textContent = ` (${boxes.filter((b) => b.checked).length})`);

  const go = (n) => {
    boxes[at]?.closest("tr").classList.remove("current");
    at = Math.max(0, n);
    if (at >= boxes.length) {
      at = boxes.length;
      return sign.focus();
    }
    boxes[at].closest("tr").classList.add("current");
    boxes[at].focus();
    boxes[at].closest("tr").scrollIntoView({ block: "nearest" });
  };

  const set = (on) => {
    const box = boxes[at];
    if (box && !box.disabled) box.checked = on;
    tell();
    go(at + 1);
  };

  boxes.forEach((box, i) => box.addEventListener("focus", () => i !== at && go(i)));
  form.addEventListener("change", tell);
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.matches("input:not([type=checkbox]), textarea, select")) return;
    const act = {
      j: () => (at < 0 ? go(0) : set(true)),
      x: () => set(false),
      k: () => go(at - 1),
      o: () => boxes[at] && location.assign(boxes[at].closest("tr").querySelector("a").href),
      s: () => sign.focus(),
    }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });
  tell();
  go(0);
}
