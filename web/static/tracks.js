// The tracks of a wear: a cursor that reads out single values, days that change
// without a new page, and a stretch that is marked to be overruled. Without it
// the days are links, every value is in the tables, and the stretch is typed.

let section, scope, readings, notes;
let cursor = null; // the reading under the cursor
let marked = null; // first and last reading of the marked stretch
let anchor = null; // where marking began

const said = document.getElementById("cursor-said");
const picked = document.querySelector(".picked");
const first = said.textContent;

// use takes the section as it came from the server.
function use(fresh) {
  section = fresh;
  readings = read(section.dataset.trace);
  notes = JSON.parse(section.dataset.notes);
  scope = section.querySelector("#scope");
  scope.tabIndex = 0;
  scope.setAttribute("role", "application");
  scope.setAttribute("aria-label", "Tracks with a cursor");
  scope.setAttribute("aria-describedby", "scope-keys");
  scope.addEventListener("keydown", key);
  scope.addEventListener("pointerdown", down);
  scope.addEventListener("pointermove", move);
  section.querySelector(".zoom").addEventListener("click", follow);
  section.querySelector(".daypicks").addEventListener("click", follow);
  const strip = section.querySelector(".overview-strip");
  strip.addEventListener("pointerdown", (event) => (pressed = dayAt(event)));
  strip.addEventListener("pointerup", pick);
  const again = (r) => r && readings.find(({ at }) => at === r.at);
  cursor = again(cursor);
  marked = marked?.map(again);
  if (!marked?.every(Boolean)) marked = anchor = null;
  anchor = again(anchor);
  draw();
}

// read undoes what web/cursor.go wrote.
function read(trace) {
  return trace.split("|").filter(Boolean).flatMap((run) => {
    const [start, offset, step, ...tokens] = run.split(" ");
    let at = Number(start) - Number(step);
    return tokens.map((token) => {
      const [, value, flags, other] = /^([-\d.]+|[LH])([abcx]*)(?:@(\d+))?$/.exec(token);
      at += Number(other ?? step);
      return { at, offset: Number(offset), value, flags };
    });
  });
}

// The clock on the wearer's wall.
const wall = (r) => new Date((r.at + r.offset) * 1000);
const days = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
const months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const clock = (r) => wall(r).toISOString().slice(11, 16);
const moment = (r) => `${days[wall(r).getUTCDay()]} ${wall(r).getUTCDate()} ${months[wall(r).getUTCMonth()]} ${clock(r)}`;
const field = (r, late) => new Date(wall(r).getTime() + (late ? 59999 : 0)).toISOString().slice(0, 16);

function words(r) {
  const value = { L: "below what the sensor reports", H: "above what the sensor reports" }[r.value] ?? `${r.value} mmol/L`;
  const past = r.flags.includes("b") ? ", above 10" : r.flags.includes("a") ? ", above 7.8" : r.flags.includes("c") ? ", below 3.9" : "";
  const beside = notes.filter(([from, to]) => from <= r.at && r.at <= to).map((n) => n[2]);
  return [moment(r), value + past, ...beside].join(" · ");
}

// The pictures: the one of this width, and its rows.
const shown = (within) => [...within.querySelectorAll("svg")].find((svg) => svg.getClientRects().length);

function rows(svg) {
  return [...svg.querySelectorAll(".layer")].map((layer) => ({ layer, ...Object.fromEntries(Object.entries(layer.dataset).map(([k, v]) => [k, Number(v)])) }));
}

const across = (row, at) => row.left + ((at - row.from) / (row.to - row.from)) * (row.right - row.left);

function shape(layer, name, attributes) {
  const e = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
  layer.append(e);
}

function draw() {
  const [from, to] = marked ?? [];
  for (const row of rows(shown(scope))) {
    row.layer.replaceChildren();
    const height = row.bottom - row.top;
    if (marked && from.at < row.to && to.at >= row.from) {
      const [a, b] = [across(row, Math.max(from.at, row.from)), across(row, Math.min(to.at, row.to))];
      shape(row.layer, "rect", { class: "marked", x: a, y: row.top, width: Math.max(b - a, 2), height });
    }
    if (cursor && cursor.at >= row.from && cursor.at < row.to) {
      const x = across(row, cursor.at);
      shape(row.layer, "path", { class: "cursor", d: `M${x} ${row.top}V${row.bottom}` });
      if (cursor.value > 0) shape(row.layer, "circle", { class: "cursor", cx: x, cy: row.zero - cursor.value * row.per, r: 5 });
    }
  }
  picked.hidden = !marked || !("overrule" in section.dataset);
  if (marked) say(`${moment(from)} to ${moment(to)}: ${readings.indexOf(to) - readings.indexOf(from) + 1} readings marked${"overrule" in section.dataset ? "" : ". Claim this wear to overrule them"}`);
  else say(cursor ? words(cursor) : first);
}

// say waits until the cursor rests, so that a held key is read out once.
let saying = 0;
function say(text) {
  cancelAnimationFrame(saying);
  saying = requestAnimationFrame(() => {
    if (said.textContent !== text) said.textContent = text;
  });
}

// mark marks from the anchor to the cursor.
function mark() {
  marked = [anchor, cursor].sort((a, b) => a.at - b.at);
}

function clear() {
  marked = anchor = null;
  draw();
}

// The pointer.
function nearest(event) {
  const svg = shown(scope);
  const box = svg.getBoundingClientRect();
  const scale = svg.viewBox.baseVal.width / box.width;
  const [x, y] = [(event.clientX - box.left) * scale, (event.clientY - box.top) * scale];
  const all = rows(svg);
  const row = all.find((r) => y <= r.bottom) ?? all.at(-1);
  const at = row.from + ((x - row.left) / (row.right - row.left)) * (row.to - row.from);
  let best = null;
  for (const r of readings) {
    if (r.at >= row.from && r.at < row.to && (!best || Math.abs(r.at - at) < Math.abs(best.at - at))) best = r;
  }
  return best;
}

function down(event) {
  if (event.button !== 0) return;
  cursor = nearest(event);
  marked = anchor = null;
  if (cursor && event.pointerType !== "touch") { // a finger reads and scrolls, and does not mark
    anchor = cursor;
    scope.setPointerCapture(event.pointerId);
  }
  draw();
}

function move(event) {
  const r = nearest(event);
  if (!r || r === cursor) return;
  if (marked && !event.buttons) return; // a finished mark stays until it is cleared
  cursor = r;
  if (event.buttons && anchor) mark();
  draw();
}

// The keys.
function key(event) {
  if (event.altKey || event.ctrlKey || event.metaKey) return;
  const steps = { ArrowLeft: -1, ArrowRight: 1, ArrowUp: 3600, ArrowDown: -3600, Home: -Infinity, End: Infinity };
  if (event.key in steps) {
    if (event.shiftKey) anchor ??= cursor ?? readings[0];
    else marked = anchor = null;
    cursor = step(steps[event.key]);
    if (event.shiftKey && cursor) mark();
    draw();
  } else if (event.key === "+" || event.key === "=") zoom(1);
  else if (event.key === "-" || event.key === "−") zoom(-1);
  else if (event.key === "PageUp") pan("prev");
  else if (event.key === "PageDown") pan("next");
  else if (event.key === "Enter" && marked && "overrule" in section.dataset) take();
  else if (event.key === "Escape") clear();
  else return;
  event.preventDefault();
}

// step is the reading so many readings away, or seconds where it is an hour.
function step(n) {
  if (!readings.length) return null;
  const here = cursor ? readings.indexOf(cursor) : -1;
  if (here < 0 && Math.abs(n) < Infinity) return readings[0];
  if (Math.abs(n) !== 3600) return readings[Math.max(0, Math.min(readings.length - 1, here + n))];
  const at = cursor.at + n;
  const next = n > 0 ? readings.find((r) => r.at >= at) : readings.findLast((r) => r.at <= at);
  return next ?? readings.at(n > 0 ? -1 : 0);
}

// Other days: fewer or more around the cursor, in steps that suit a fortnight.
function zoom(way) {
  const all = Number(section.dataset.all);
  const levels = [all, 7, 3, 1].filter((n, i) => i === 0 || n < all);
  const shown = Number(section.dataset.shown);
  const now = levels.findLastIndex((n) => n >= shown);
  const n = levels[Math.max(now, 0) + way];
  if (!n) return;
  if (n === all) return go(new URL(location.pathname, location));
  const day = cursor ? dayBefore(field(cursor).slice(0, 10), Math.floor(n / 2)) : (new URLSearchParams(location.search).get("from") ?? section.dataset.first);
  show(day, n);
}

function show(from, n) {
  const address = new URL(location.pathname, location);
  address.searchParams.set("days", n);
  address.searchParams.set("from", from);
  go(address);
}

function pan(way) {
  const link = section.querySelector(`.zoom a[rel=${way}]`);
  if (link) go(new URL(link.href));
}

function dayBefore(date, n) {
  return new Date(Date.parse(`${date}T00:00Z`) - n * 86400000).toISOString().slice(0, 10);
}

function follow(event) {
  const link = event.target.closest("a");
  if (!link || event.button || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  const address = new URL(link.href);
  address.hash = "";
  go(address, link.textContent);
}

// dayAt is the day under the pointer on the strip, counted from the first.
let pressed = null;
function dayAt(event) {
  const svg = event.target.closest("svg");
  if (!svg || event.button) return null;
  const box = svg.getBoundingClientRect();
  const [row] = rows(svg);
  const x = ((event.clientX - box.left) * svg.viewBox.baseVal.width) / box.width;
  const all = Number(section.dataset.all);
  return Math.max(0, Math.min(all - 1, Math.floor(((x - row.left) / (row.right - row.left)) * all)));
}

// pick shows the day that was pressed, or the days that were dragged over.
function pick(event) {
  const here = dayAt(event);
  if (pressed === null || here === null) return;
  const [a, b] = [Math.min(pressed, here), Math.max(pressed, here)];
  pressed = null;
  const n = b - a + 1;
  if (n === Number(section.dataset.all)) return go(new URL(location.pathname, location));
  show(dayBefore(section.dataset.first, -a), Math.min(n, 14));
}

// go shows other days; where that fails the browser opens the page instead.
let asked = 0;
async function go(address, link) {
  const mine = ++asked;
  const answer = await fetch(address, { cache: "no-store", headers: { "X-Fragment": "tracks" } }).catch(() => null);
  if (mine !== asked) return;
  const fresh = answer?.ok && new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("tracks");
  if (!fresh) return location.assign(address);
  fresh.querySelector(".cursorline").replaceWith(section.querySelector(".cursorline")); // a region that is read out must stay the same
  const focused = section.contains(document.activeElement);
  section.replaceWith(fresh);
  history.replaceState(null, "", address);
  use(fresh);
  if (!focused) return;
  const again = link && [...section.querySelectorAll(".zoom a, .daypicks a")].find((a) => a.textContent === link);
  (again || scope).focus({ preventScroll: true });
  if (!cursor) say(section.querySelector("h2").textContent);
}

// take fills the form that overrules with the marked stretch.
function take() {
  const form = document.querySelector("#overrule");
  form.open = true;
  const [from, to] = marked;
  form.querySelector("[name=from]").value = field(from);
  form.querySelector("[name=to]").value = field(to, true);
  const doubted = readings.slice(readings.indexOf(from), readings.indexOf(to) + 1).filter((r) => r.flags.includes("x")).length;
  form.querySelector(`[name=believe][value=${doubted ? "yes" : "no"}]`).checked = true;
  form.querySelector("[name=reason]").focus();
}

picked.querySelector(".take").addEventListener("click", take);
picked.querySelector(".drop").addEventListener("click", clear);
addEventListener("resize", draw);
use(document.getElementById("tracks"));
