// The designer: every change of a slide, a field or the text is computed at once; the newest wins.

const form = document.getElementById("design");
const text = document.getElementById("text");
const live = document.getElementById("live");
const section = document.getElementById("section");
// a habitat with a fault has no drawing
const drawn = section.querySelector("img");
if (drawn?.complete && !drawn.naturalWidth) drawn.remove();
else drawn?.addEventListener("error", () => drawn.remove());
const faults = document.getElementById("faults");
const plate = document.getElementById("window");
const legend = document.getElementById("legend");
const values = new Map();  // dotted key to text, put into the text with the next answer
const spans = (window.spans = []);  // ms from a change to its picture, and its parts, for measuring
let busy = false, again = false, pause = 0, anew = 0, since = 0;
const ASK_AGAIN = 2000;  // ms after which what got no answer is asked again

const name = Math.random().toString(36).slice(2);  // of this page, so that its newest change ends its older ones
// Figures of this page itself, as the reader writes them.
const fahrenheit = form.dataset.temperature === "degF";
const figure = (value, digits) => String(+value.toPrecision(digits)).replace(".", form.dataset.comma);
const degrees = (celsius) => fahrenheit ? celsius * 1.8 + 32 : celsius;

const room = Object.fromEntries([...document.querySelectorAll("[data-room]")].map((one) => [one.dataset.room, +one.value]));
const spec = () => `${room.t} degC, ${room.h} %`;

const send = (address, more, signal) => fetch(address, {
  method: "POST", signal, headers: { "content-type": "application/json", accept: "application/json" },
  body: JSON.stringify({ text: body(), values: Object.fromEntries(values), room: spec(), page: name, ...more }),
});

async function ask(address, more, signal) {
  const answer = await send(address, more, signal);
  if (answer.status === 204) return { ok: false, overtaken: true };
  return { ok: answer.ok, told: await answer.json() };
}

function tell(list) {
  faults.hidden = !list.length;
  // what Save refused is told anew, with its line
  if (list.length) document.getElementById("refused").replaceChildren();
  // what stands there still is of the design before the fault
  document.querySelector(".bench").classList.toggle("stale", list.length > 0);
  document.getElementById("stale").hidden = !list.length;
  faults.replaceChildren(...list.map((one) => {
    const line = document.createElement("p");
    line.textContent = one.text;
    if (one.line) {
      line.append(" ");
      const go = document.createElement("button");
      go.type = "button";
      go.className = "small";
      go.textContent = `${one.line}`;
      go.addEventListener("click", () => show(one.line));
      line.append(go);
    }
    return line;
  }));
  for (const field of document.querySelectorAll("[data-value], [data-number]")) {
    const key = field.dataset.value ?? field.dataset.number;
    field.toggleAttribute("aria-invalid", list.some((one) => one.field && (one.field === key || key.endsWith(one.field))));
  }
}

function show(line) {
  const rows = text.value.split("\n");
  const start = rows.slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
  text.closest("details").open = true;
  text.focus();
  text.setSelectionRange(start, start + rows[line - 1].length);
  text.scrollTop = (line - 4) * parseFloat(getComputedStyle(text).lineHeight);
}

function picture(svg) {
  const made = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
  section.replaceChildren(document.importNode(made, true));
}

// On a small screen the tables stand below the slides: the verdict goes with the thumb.
function verdict() {
  const said = live.querySelector(".lead"), place = document.getElementById("verdict");
  place.replaceChildren(...[...said.childNodes].filter((one) => !one.classList?.contains("quiet")).map((one) => one.cloneNode(true)));
}

function take(told, sent) {
  live.innerHTML = told.html;  // made by our own templates
  verdict();
  // what was typed meanwhile stays: only what was sent is known to stand in the answer's text
  for (const [key, value] of sent) if (values.get(key) === value) values.delete(key);
  if (document.activeElement !== text && body() !== told.text) {
    coming = told.text;
    setTimeout(settle, 60);
  }
  tell([]);
}

// The text field follows the figures too: to lay it out anew takes the browser longer than all the rest.
let coming = null;
const body = () => coming ?? text.value;
function settle() {
  if (coming !== null && document.activeElement !== text && text.value !== coming) text.value = coming;
  coming = null;
}

// The drawing follows the figures: it takes longer than they do, and no figure waits for it.
let drawing;
async function draw() {
  drawing?.abort();
  drawing = new AbortController();
  const signal = drawing.signal;
  try {
    const answer = await send("/api/habitats/section", { narrow: matchMedia("(max-width: 40rem)").matches }, signal);
    if (answer.ok) picture(await answer.text());
  } catch {
    setTimeout(() => { if (!signal.aborted) draw(); }, ASK_AGAIN);  // else a newer change took its place
  }
}

function measured(began, sent, answered) {
  const put = performance.now();
  requestAnimationFrame(() => setTimeout(() => {
    const painted = performance.now();
    const parts = { painted: painted - began, "wait": sent - began, "ask": answered - sent, "put": put - answered, "paint": painted - put };
    const entry = performance.getEntriesByType("resource").filter((one) => one.name.endsWith("/api/habitats/live")).at(-1);
    for (const one of entry?.serverTiming ?? []) parts[`ask: ${one.name}`] = one.duration;
    spans.push(parts);
    if (spans.length > 1000) spans.shift();
    performance.clearResourceTimings();
  }));
}

async function now() {
  if (busy) { again = true; return; }
  busy = true;
  const began = since, left = performance.now();
  const sent = [...values];
  try {
    const { ok, told } = await ask("/api/habitats/live", { light: true });
    if (ok) {
      const answered = performance.now();
      take(told, sent);
      measured(began, left, answered);
      if (!again) draw();
    } else tell(told.faults?.length ? told.faults : [{ text: told.error }]);
  } catch {
    tell([{ text: form.dataset.lost }]);
    clearTimeout(anew);
    anew = setTimeout(changed, ASK_AGAIN);
  }
  busy = false;
  if (again) { again = false; now(); }
}

let calm;
async function finer() {
  calm?.abort();
  calm = new AbortController();
  const signal = calm.signal;
  try {
    let full;
    // asked again where, on a slow network, a change that was sent before this came in after it
    while ((full = await ask("/api/habitats/live", { light: false }, signal)).overtaken) {
      await new Promise((go) => setTimeout(go, 200));
    }
    if (full.ok && !busy) { live.innerHTML = full.told.html; }
    for (const points of [13, 31]) {
      // the fine window takes a core for a while: only when the hand really rests
      if (points > 13) await new Promise((go) => setTimeout(go, 700));
      if (signal.aborted) return;
      const map = await ask("/api/habitats/window", { points }, signal);
      if (signal.aborted || !map.ok) return;
      paint(map.told);
    }
  } catch {
    if (!signal.aborted) pause = setTimeout(finer, ASK_AGAIN);  // else a newer change took its place
  }
}

// On a new machine the compiler has to work first: nothing is asked for before it has ended.
let compiling = document.getElementById("compiling");
async function compiled() {
  const bar = compiling.querySelector("progress");
  for (let lost = 0; lost < 20;) {
    try {
      const answer = await fetch(compiling.dataset.job, { headers: { accept: "application/json" } });
      const told = answer.ok ? await answer.json() : { state: "gone" };
      if (!["waiting", "running"].includes(told.state)) break;
      bar.value = told.share;
      lost = 0;
    } catch { lost += 1; }
    await new Promise((go) => setTimeout(go, 400));
  }
  compiling.remove();
  compiling = null;
  changed();
}

function changed() {
  if (compiling) return;
  since = performance.now();
  calm?.abort();
  drawing?.abort();
  now();
  clearTimeout(pause);
  pause = setTimeout(finer, 350);
}

// Shades of the window: each limit has a lightness and a hatching of its own, so that none is told by colour alone.
const HUES = ["214 45% 74%", "40 70% 74%", "0 0% 78%", "200 22% 60%", "30 35% 62%", "90 12% 60%", "260 18% 68%", "0 0% 60%"];
// Darker where the page is, and red in an ant room at night.
function shade(k) {
  const [hue, strength, light] = HUES[k % HUES.length].split(" ");
  if (document.documentElement.dataset.light === "night") return `hsl(9 70% ${0.45 * parseFloat(light)}%)`;
  const dark = getComputedStyle(document.documentElement).colorScheme === "dark";
  return `hsl(${hue} ${strength} ${(dark ? 0.6 : 1) * parseFloat(light)}%)`;
}
let last;
function paint(map) {
  last = map;
  const pen = plate.getContext("2d");
  const [w, h, left, low] = [plate.width, plate.height, 56, 44];
  const style = getComputedStyle(document.documentElement);
  const ink = style.getPropertyValue("--ink"), paper = style.getPropertyValue("--sheet");
  pen.clearRect(0, 0, w, h);
  const t = map.room_temperatures_degC, r = map.room_relative_humidities_pct;
  const cell = [(w - left - 8) / t.length, (h - low - 8) / r.length];
  const seen = new Set(), shades = HUES.map((_, k) => shade(k));
  for (let i = 0; i < t.length; i++) for (let j = 0; j < r.length; j++) {
    const holds = map.worst_scaled_margin[i][j] >= 0;
    const first = map.first_limit[i][j];
    if (!holds) seen.add(first);
    pen.fillStyle = holds ? paper : shades[first % HUES.length];
    pen.fillRect(left + i * cell[0], h - low - (j + 1) * cell[1], cell[0] + 0.6, cell[1] + 0.6);
    if (!holds && first % 2) {
      pen.fillStyle = "rgba(0,0,0,.28)";
      pen.fillRect(left + (i + .5) * cell[0], h - low - (j + .5) * cell[1], 2, 2);
    }
  }
  const x = (v) => left + (v - t[0]) / (t.at(-1) - t[0]) * (w - left - 8);
  const y = (v) => h - low - (v - r[0]) / (r.at(-1) - r[0]) * (h - low - 8);
  pen.strokeStyle = ink; pen.fillStyle = ink; pen.lineWidth = 1.5; pen.font = "15px Letters, sans-serif";
  pen.strokeRect(left, 8, w - left - 8, h - low - 8);
  const step = fahrenheit ? 10 : 5, celsius = (v) => fahrenheit ? (v - 32) / 1.8 : v;
  for (let v = Math.ceil(degrees(t[0]) / step) * step; v <= degrees(t.at(-1)); v += step) { pen.textAlign = "center"; pen.fillText(v, x(celsius(v)), h - low + 20); }
  for (let v = Math.ceil(r[0] / 20) * 20; v <= r.at(-1); v += 20) { pen.textAlign = "right"; pen.fillText(v, left - 8, y(v) + 5); }
  pen.textAlign = "center"; pen.fillText(fahrenheit ? "°F" : "°C", w - 24, h - 6); pen.textAlign = "left"; pen.fillText("% RH", 4, 20);
  pen.lineWidth = 3;
  pen.beginPath(); pen.arc(x(room.t), y(room.h), 8, 0, 7); pen.stroke();
  legend.replaceChildren(...[...seen].sort().map((k) => {
    const item = document.createElement("li");
    const patch = document.createElement("canvas");
    [patch.width, patch.height] = [16, 16];
    const small = patch.getContext("2d");
    small.fillStyle = shades[k % HUES.length];
    small.fillRect(0, 0, 16, 16);
    if (k % 2) { small.fillStyle = "rgba(0,0,0,.5)"; for (const a of [3, 9]) for (const b of [3, 9]) small.fillRect(a, b, 3, 3); }
    item.append(patch, map.limits_said[k]);
    return item;
  }));
}

for (const slide of document.querySelectorAll("[data-slide]")) {
  const number = document.querySelector(`[data-number="${CSS.escape(slide.dataset.slide)}"]`);
  const set = (value) => {
    values.set(slide.dataset.slide, slide.dataset.unit ? `${value} ${slide.dataset.unit}` : `${value}`);
    changed();
  };
  const other = number.parentElement.querySelector("output");
  const beside = () => { if (other) other.textContent = `${figure(+number.value * slide.dataset.factor, 3)} ${slide.dataset.other}`; };
  slide.addEventListener("input", () => { number.value = +(+slide.value).toPrecision(4); beside(); set(number.value); });
  number.addEventListener("input", () => {
    slide.value = number.value;
    beside();
    if (number.value) set(number.value);
    else { values.delete(slide.dataset.slide); changed(); }  // an empty field tells nothing: what stands in the text holds
  });
}
for (const slide of document.querySelectorAll("[data-room]")) slide.addEventListener("input", () => {
  room[slide.dataset.room] = +slide.value;
  document.querySelector(`output[for="${slide.id}"]`).textContent = slide.dataset.room === "t"
    ? `${degrees(+slide.value).toFixed(1).replace(".", form.dataset.comma)} ${fahrenheit ? "°F" : "°C"}` : `${slide.value} %`;
  if (last) paint(last);
  remember();
  changed();
});
// The room stands in the address: it is there again after going back, and in a link that is sent.
let remembering = 0;
function remember() {
  const other = document.getElementById("room-b");
  if (other) other.value = spec();
  clearTimeout(remembering);
  remembering = setTimeout(() => history.replaceState(history.state, "", `${location.pathname.replace(/\/size$/, "")}?room=${encodeURIComponent(spec())}`), 250);
}
for (const field of document.querySelectorAll("[data-value]")) field.addEventListener("input", () => {
  values.set(field.dataset.value, field.value);
  changed();
});
text.addEventListener("focus", () => { if (coming !== null) { text.value = coming; coming = null; } });
// Each letter typed would be a whole text to read and to prove: it is asked for when the hand rests for a moment.
let typing = 0;
text.addEventListener("input", () => {
  values.clear();
  calm?.abort();
  clearTimeout(typing);
  typing = setTimeout(changed, 200);
});
// Enter in the bounds begins the search, and does not save
document.getElementById("sizing")?.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.target.type === "submit" || event.target.tagName === "SUMMARY") return;
  event.preventDefault();
  form.requestSubmit(event.currentTarget.querySelector("button"));
});
// the text that is sent has every value in it
form.addEventListener("submit", (event) => {
  settle();
  if (values.size || busy) { event.preventDefault(); event.stopImmediatePropagation(); delete form.dataset.sent; setTimeout(() => form.requestSubmit(event.submitter), 60); }
}, true);
addEventListener("beforeunload", (event) => { if (("unsaved" in form.dataset || text.value !== text.defaultValue) && !form.dataset.sent) event.preventDefault(); });
if (compiling) compiled();
else changed();
