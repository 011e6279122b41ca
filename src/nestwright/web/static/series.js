// Channels over any span: the server sends a point for every three pixels of what is seen and as many beside it on either
// side, so that a picture that is dragged has its lines at once.

const box = document.getElementById("series");
const plots = box.querySelector(".plots");
const key = box.querySelector(".key");
const state = box.querySelector(".state");
const zone = box.dataset.zone;
const fahrenheit = box.dataset.fahrenheit === "yes";
const lines = JSON.parse(box.dataset.lines);
const MINUTE = 60_000, DAY = 86_400_000;
const DASHES = [[], [7, 4], [2, 3], [12, 4, 2, 4]];
const COLOURS = ["--link", "--warn", "--good", "--quiet"];
const still = matchMedia("(prefers-reduced-motion: reduce)");

const span = { from: Number(box.dataset.from), to: Number(box.dataset.to) };
const first = Math.min(...lines.map((one) => one.first || Infinity));
const last = Math.max(...lines.map((one) => one.last || 0));
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
const shown = (value, unit) => (value === null || value === undefined ? value : unit === "degC" && fahrenheit ? value * 1.8 + 32 : value);
const difference = (value, unit) => (unit === "degC" && fahrenheit ? value * 1.8 : value);
const unitOf = (unit) => (unit === "degC" ? (fahrenheit ? "°F" : "°C") : unit);
// English tells days as the record does; any other language as it is used to.
const tongue = document.documentElement.lang, recorded = tongue === "en";
const FIELDS = { year: "{YYYY}", month: "{MM}", day: "{DD}" };
function dayForm(own, fields) {
  if (recorded) return own;
  const parts = new Intl.DateTimeFormat(tongue, { month: "2-digit", ...fields }).formatToParts(0);
  return parts.map((one) => FIELDS[one.type] ?? one.value).join("");
}
const yearMonth = dayForm("{YYYY}-{MM}", { year: "numeric" });
const monthDay = dayForm("{MM}-{DD}", { day: "2-digit" });
const wholeDay = dayForm("{YYYY}-{MM}-{DD}", { year: "numeric", day: "2-digit" });
const DAY_FIELDS = { timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit" };
const clock = new Intl.DateTimeFormat(recorded ? "sv-SE" : tongue, { ...DAY_FIELDS, hour: "2-digit", minute: "2-digit" });
const calendar = new Intl.DateTimeFormat("sv-SE", DAY_FIELDS);
const local = (at) => clock.format(at);

// The zone's own clock as a Date whose local fields tell it. Offsets change at half hours only, and asking for one takes
// longer than drawing a frame's axis may.
const shifts = new Map();
function zoned(seconds) {
  const at = seconds * 1000, block = Math.floor(at / 1_800_000);
  let shift = shifts.get(block);
  if (shift === undefined) {
    const start = new Date(block * 1_800_000);
    shift = uPlot.tzDate(start, zone) - start;
    if (shifts.size > 5000) shifts.clear();
    shifts.set(block, shift);
  }
  return new Date(at + shift);
}

// one drawing for each unit, one beneath the other, all over the same span
const groups = [...new Set(lines.map((one) => one.unit))].map((unit) => ({ unit, lines: lines.filter((one) => one.unit === unit), plot: null, data: new Map(), predicted: new Map() }));
lines.forEach((one, k) => { one.colour = COLOURS[k % COLOURS.length]; });
// dashes tell lines of one drawing apart; they take long to draw, so the first has none
groups.forEach((group) => group.lines.forEach((one, k) => { one.dash = DASHES[k % DASHES.length]; }));

function inside({ ctx, bbox }) {
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
}

// beneath the lines: the hours at the references of a calibration
function shade(plot, group) {
  const { ctx, bbox } = plot;
  inside(plot);
  ctx.fillStyle = colour("--line");
  ctx.globalAlpha = 0.45;
  for (const one of group.lines) for (const [a, b] of group.data.get(one.name)?.references ?? []) {
    const left = plot.valToPos(a / 1000, "x", true), right = plot.valToPos(b / 1000, "x", true);
    ctx.fillRect(left, bbox.top, Math.max(2, right - left), bbox.height);
  }
  ctx.restore();
}

// number of the first moment from `at` on
function since(moments, at) {
  let a = 0, b = moments.length;
  while (a < b) { const c = (a + b) >> 1; if (moments[c] < at) a = c + 1; else b = c; }
  return a;
}
const seen = (data) => [Math.max(0, since(data.at, span.from) - 1), Math.min(data.at.length, since(data.at, span.to) + 1)];

// beneath the lines too: from the least to the most. One outline for each unbroken stretch; the drawing library would cut
// a plane along two lines of their own, which takes most of a frame.
function between(plot, group) {
  const { ctx, bbox } = plot, { min: left, max: right } = plot.scales.x, { min: low, max: high } = plot.scales.y;
  if (!(right > left && high > low)) return;
  const wide = bbox.width / (right - left) / 1000, tall = bbox.height / (high - low);
  const x = (at) => bbox.left + (at - left * 1000) * wide;
  inside(plot);
  for (const { unit, data, ink, all } of [
    ...group.lines.map((one) => ({ unit: one.unit, data: group.data.get(one.name), ink: colour(one.colour), all: false })),
    ...group.lines.map((one) => ({ unit: one.unit, data: group.predicted.get(one.name), ink: colour(one.colour), all: true })),
  ]) {
    if (!data || (!all && data.by === "reading")) continue;
    const y = (value) => bbox.top + bbox.height - (shown(value, unit) - low) * tall;
    const [first, end] = seen(data);
    ctx.fillStyle = `color-mix(in srgb, ${ink} ${all ? 12 : 22}%, transparent)`;
    const dense = end - first > 1 && x(data.at[end - 1]) - x(data.at[first]) < 6 * devicePixelRatio * (end - first);
    (dense ? columns : outline)(ctx, data, first, end, x, y);
  }
  ctx.restore();
}

// Where points stand close, a column for each: long outlines of noise take most of a frame to fill. Its sides are whole
// pixels, so that columns meet without a seam.
function columns(ctx, data, first, end, x, y) {
  let edge = null;
  for (let k = first; k < end; k += 1) {
    if (data.low[k] === null) { edge = null; continue; }
    const here = x(data.at[k]), top = y(data.high[k]);
    const left = edge ?? Math.round(here), next = k + 1 < end && data.low[k + 1] !== null ? x(data.at[k + 1]) : here;
    edge = Math.round((here + next) / 2);
    ctx.fillRect(left, top, edge - left, y(data.low[k]) - top);
  }
}

function outline(ctx, data, first, end, x, y) {
  ctx.beginPath();
  for (let k = first; k < end;) {
    if (data.low[k] === null) { k += 1; continue; }
    const begin = k;
    for (; k < end && data.low[k] !== null; k += 1) ctx[k === begin ? "moveTo" : "lineTo"](x(data.at[k]), y(data.high[k]));
    for (let back = k - 1; back >= begin; back -= 1) ctx.lineTo(x(data.at[back]), y(data.low[back]));
    ctx.closePath();
  }
  ctx.fill();
}

function limits(plot, group) {
  const { ctx, bbox } = plot;
  inside(plot);
  ctx.lineWidth = devicePixelRatio;
  ctx.setLineDash([5 * devicePixelRatio, 5 * devicePixelRatio]);
  ctx.textAlign = "left";
  ctx.textBaseline = "alphabetic";
  ctx.font = `${12 * devicePixelRatio}px Letters, sans-serif`;
  ctx.fillStyle = ctx.strokeStyle = colour("--quiet");
  const told = new Set();
  for (const one of group.lines) one.band.forEach((end, k) => {
    if (end === null || told.has(`${end}/${k}`)) return;
    told.add(`${end}/${k}`);
    const y = plot.valToPos(shown(end, one.unit), "y", true);
    ctx.beginPath();
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(bbox.left + bbox.width, y);
    ctx.stroke();
    const words = `${k ? "≤" : "≥"} ${Number(shown(end, one.unit).toFixed(1))} ${unitOf(one.unit)}`;
    ctx.fillText(words, bbox.left + 6 * devicePixelRatio, k ? y + 14 * devicePixelRatio : y - 5 * devicePixelRatio);
  });
  ctx.restore();
}

function reach(plot, least, most, group) {
  for (const one of group.lines) for (const data of [group.data.get(one.name), group.predicted.get(one.name)]) {
    if (!data) continue;
    const [first, end] = seen(data);
    for (let k = first; k < end; k += 1) {
      if (data.low[k] === null) continue;
      const a = shown(data.low[k], one.unit), b = shown(data.high[k], one.unit);
      if (least === null || a < least) least = a;
      if (most === null || b > most) most = b;
    }
  }
  if (least === null || most === null) { least = 0; most = 1; }
  let low = least, high = most;
  // noise is not drawn as weather: the height spans four standard errors at the least
  const error = Math.max(0.1, ...group.lines.map((one) => difference(Math.max(0, ...(group.data.get(one.name)?.error ?? []).slice(0, 50)), one.unit)));
  const spare = (4 * error - (high - low)) / 2;
  if (spare > 0) { low -= spare; high += spare; }
  const wide = high - low;
  // limits are shown where they are near what was read
  for (const one of group.lines) for (const end of one.band) {
    if (end === null) continue;
    const at = shown(end, one.unit);
    if (at > least - 1.5 * wide && at < most + 1.5 * wide) { low = Math.min(low, at); high = Math.max(high, at); }
  }
  const edge = Math.max(0.08 * (high - low), 0.1);
  return [low - edge, high + edge];
}

function make(group) {
  const series = [{}];
  for (const one of group.lines) {
    const ink = () => colour(one.colour);
    series.push(
      { scale: "y", stroke: ink, width: 1.5, dash: one.dash, points: { show: (u, k) => group.data.get(one.name)?.by === "reading" && u.data[0].length < 120, size: 4, stroke: ink, fill: ink } },
      { scale: "y", stroke: ink, width: 1.5, dash: [2, 3], points: { show: false } },
    );
  }
  const axis = { stroke: () => colour("--quiet"), grid: { stroke: () => colour("--line"), width: 1 }, ticks: { stroke: () => colour("--line"), width: 1 }, font: "13px Letters, sans-serif" };
  const place = document.createElement("div");
  place.className = "plot";
  plots.append(place);
  return new uPlot({
    width: plots.clientWidth, height: tall(), tzDate: zoned,
    scales: { x: { time: true, min: span.from / 1000, max: span.to / 1000 }, y: { range: (u, a, b) => reach(u, a, b, group) } },
    series, legend: { show: false }, cursor: { drag: { x: false, y: false, setScale: false }, points: { size: 7 }, sync: { key: "series" } },
    axes: [
      { ...axis, space: 90, values: [
        // [step, form, form with year, with month, with day, with minute, with second, mode]
        [31536000, "{YYYY}", null, null, null, null, null, null, 1],
        [2419200, yearMonth, null, null, null, null, null, null, 1],
        [86400, monthDay, "\n{YYYY}", null, null, null, null, null, 1],
        [60, "{HH}:{mm}", "\n" + wholeDay, null, "\n" + monthDay, null, null, null, 1],
        [0.001, "{HH}:{mm}:{ss}", "\n" + wholeDay, null, "\n" + monthDay, null, null, null, 1],
      ] },
      { ...axis, size: 62, label: unitOf(group.unit), labelSize: 18, labelFont: "13px Letters, sans-serif" },
    ],
    hooks: { drawClear: [(u) => { shade(u, group); between(u, group); }], draw: [(u) => limits(u, group)], setCursor: [(u) => read(u)] },
  }, [[], ...group.lines.flatMap(() => [[], []])], place);
}

const tall = () => Math.max(170, Math.min(380, Math.round(innerHeight * 0.52 / groups.length)));

// what stands under the pointer, in words
function read(plot) {
  const idx = plot.cursor.idx;
  if (plot.cursor.left < 0 || idx === null || idx === undefined) { keys(null); return; }
  keys(plot.posToVal(plot.cursor.left, "x") * 1000);
}
function nearest(data, at) {
  let a = 0, b = data.at.length - 1;
  if (b < 0) return -1;
  while (b - a > 1) { const c = (a + b) >> 1; if (data.at[c] < at) a = c; else b = c; }
  const k = Math.abs(data.at[a] - at) <= Math.abs(data.at[b] - at) ? a : b;
  return data.mean[k] === null ? -1 : k;
}
const rows = new Map();
function keys(at) {
  for (const group of groups) for (const one of group.lines) {
    const row = rows.get(one.name), data = group.data.get(one.name);
    let said = one.where;
    if (at !== null && data) {
      const k = nearest(data, at);
      const far = k < 0 || Math.abs(data.at[k] - at) > Math.max(2 * (span.to - span.from) / 200, 6 * MINUTE);
      if (far) said = `${local(at)}  –`;
      else {
        const error = data.error[k] === null ? NaN : difference(data.error[k], one.unit);
        const digits = error > 0 ? Math.max(0, Math.ceil(-Math.log10(error))) : 1;
        const value = shown(data.mean[k], one.unit).toFixed(digits);
        const give = error > 0 ? ` ± ${Number(error.toPrecision(2))}` : "";
        said = `${local(data.at[k])}  ${value}${give} ${unitOf(one.unit)}`;
      }
      const guess = group.predicted.get(one.name), j = guess ? nearest(guess, at) : -1;
      if (j >= 0) {
        const few = (x) => (x === null ? "–" : Number(shown(x, one.unit).toPrecision(3)));
        said += `; ${box.dataset.said} ${few(guess.mean[j])} (${few(guess.low[j])} ${box.dataset.low} ${few(guess.high[j])})`;
      }
    }
    row.value.textContent = said;
  }
}
function entry(one) {
  const li = document.createElement("li"), mark = document.createElement("canvas"), name = document.createElement("span"), value = document.createElement("span");
  mark.width = 56; mark.height = 16;
  name.textContent = one.name; value.className = "quiet figure";
  li.append(mark, name, value);
  key.append(li);
  rows.set(one.name, { mark, value, one });
}
function marks() {
  for (const { mark, one } of rows.values()) {
    const pen = mark.getContext("2d");
    pen.clearRect(0, 0, mark.width, mark.height);
    pen.strokeStyle = colour(one.colour); pen.lineWidth = 3; pen.setLineDash(one.dash.map((x) => 2 * x));
    pen.beginPath(); pen.moveTo(0, 8); pen.lineTo(56, 8); pen.stroke();
  }
}

// points for the plot: each channel has moments of its own
function fill(group) {
  const tables = group.lines.flatMap((one) => [group.data.get(one.name), group.predicted.get(one.name)].map((data) => (
    [data ? data.at.map((x) => x / 1000) : [], data ? data.mean.map((x) => shown(x, one.unit)) : []])));
  group.plot.setData(uPlot.join(tables), false);
  set(group);
}
const set = (group) => group.plot.setScale("x", { min: span.from / 1000, max: span.to / 1000 });

let asked = null, asking = null, later = null, talk = null, frame = 0;
// three pixels a point: the pale band keeps every extreme, and denser lines take longer to draw than a frame lasts
const pixels = () => Math.min(900, Math.round(plots.clientWidth / 3));

function covered() {
  if (!asked) return false;
  const wide = span.to - span.from;
  return span.from >= asked.from && span.to <= asked.to && asked.wide < 1.6 * wide && asked.wide > 0.6 * wide
    && span.from - asked.from > 0.3 * wide && asked.to - span.to > 0.3 * wide;
}
async function ask() {
  const wide = span.to - span.from;
  const want = { from: Math.floor(span.from - wide), to: Math.ceil(span.to + wide), wide };
  asking?.abort();
  const stop = asking = new AbortController();
  try {
    const found = await Promise.all(lines.map(async (one) => {
      const answer = await fetch(`/api/series/${encodeURIComponent(one.name)}?from=${want.from}&to=${want.to}&width=${3 * pixels()}`, { signal: stop.signal, headers: { accept: "application/json" } });
      const told = await answer.json();
      if (!answer.ok) throw new Error(told.faults?.[0]?.text ?? told.error);
      return told;
    }));
    const guesses = await Promise.all(lines.map((one) => (one.predicted ? foretold(one, want, stop.signal) : null)));
    asked = want;
    groups.forEach((group) => {
      group.lines.forEach((one) => group.data.set(one.name, found[lines.indexOf(one)]));
      group.lines.forEach((one) => group.predicted.set(one.name, guesses[lines.indexOf(one)]));
      fill(group);
    });
    say();
    box.dataset.ready = "yes";
  } catch (fault) {
    if (fault.name === "AbortError") return;
    // what got no answer is a fault of another kind than a refusal
    state.textContent = fault instanceof TypeError ? box.dataset.lost : fault.message;
    if (fault instanceof TypeError) later = setTimeout(ask, 2000);
  }
}
// what was predicted where a channel stands; nothing where the run is no longer kept
async function foretold(one, want, signal) {
  const [run, intervals, chamber] = one.predicted;
  const query = new URLSearchParams({ run, intervals, chamber, from: want.from, to: want.to, width: 3 * pixels() });
  const answer = await fetch(`/api/series/${encodeURIComponent(one.name)}/predicted?${query}`, { signal, headers: { accept: "application/json" } });
  return answer.ok ? answer.json() : null;
}
const say = () => { state.textContent = `${local(span.from)} – ${local(span.to)}, ${zone}`; };

// dashes take most of a frame: a picture that moves has whole lines
let rest = 0;
function dashed(yes) {
  for (const group of groups) group.lines.forEach((one, k) => { group.plot.series[2 * k + 1].dash = yes ? one.dash : []; });
}

// a movement that is under way ends with the next touch of anything
let moved = 0;
function show(from, to, ofMove = 0) {
  if (ofMove !== moved) { if (ofMove) return; moved += 1; }
  const wide = Math.max(5 * MINUTE, Math.min(20 * 366 * DAY, to - from));
  const middle = (from + to) / 2;
  span.from = Math.round(middle - wide / 2); span.to = Math.round(middle + wide / 2);
  if (!rest) dashed(false);
  clearTimeout(rest);
  rest = setTimeout(() => { rest = 0; dashed(true); groups.forEach((group) => group.plot.redraw(false)); }, 200);
  if (!frame) frame = requestAnimationFrame(() => { frame = 0; groups.forEach(set); say(); box.dataset.from = span.from; box.dataset.to = span.to; });
  clearTimeout(later);
  if (!covered()) later = setTimeout(ask, asked ? 90 : 0);
  clearTimeout(talk);
  talk = setTimeout(tell, 500);
}

// what is told in words follows the picture once it rests
let telling = null;
async function tell() {
  const query = new URLSearchParams([...lines.map((one) => ["channel", one.name]), ["from", span.from], ["to", span.to], ...(box.dataset.predict ? [["predict", box.dataset.predict]] : [])]);
  history.replaceState(null, "", `/series?${query}`);
  document.querySelector(".span [name=from]").value = calendar.format(span.from);
  document.querySelector(".span [name=to]").value = calendar.format(span.to - 1);
  telling?.abort();
  telling = new AbortController();
  try {
    const answer = await fetch(`/series/words?${query}`, { signal: telling.signal, headers: { accept: "text/html" } });
    const words = document.getElementById("words");
    const open = [...words.querySelectorAll("details")].map((one) => one.open);
    if (!answer.ok || words.contains(document.activeElement)) return;
    words.innerHTML = await answer.text();
    htmx.process(words);  // hours that are being counted ask for themselves
    words.querySelectorAll("details").forEach((one, k) => { one.open = open[k] ?? false; });
  } catch { /* the words that are there name their span */ }
}

const zoom = (by, at = (span.from + span.to) / 2) => show(at - (at - span.from) * by, at + (span.to - at) * by);
function move(share) {
  const way = share * (span.to - span.from), from = span.from, to = span.to;
  if (still.matches) { show(from + way, to + way); return; }
  const begin = performance.now(), mine = ++moved;
  const go = (now) => {
    if (mine !== moved) return;
    const done = Math.min(1, (now - begin) / 180), eased = done * (2 - done);
    show(from + way * eased, to + way * eased, mine);
    if (done < 1) requestAnimationFrame(go);
  };
  requestAnimationFrame(go);
}

box.querySelector(".moves").addEventListener("click", (event) => {
  const { move: by, zoom: nearer, days } = event.target.dataset;
  if (by) move(Number(by));
  if (nearer) zoom(Number(nearer));
  if (days === "0") show(first - 0.02 * (last - first), last + 0.02 * (last - first) + MINUTE);
  else if (days) { const middle = (span.from + span.to) / 2, end = Math.min(middle + days * DAY / 2, Math.max(last + MINUTE, span.to)); show(end - days * DAY, end); }
});
plots.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const acts = { ArrowLeft: () => move(-0.25), ArrowRight: () => move(0.25), PageUp: () => move(-1), PageDown: () => move(1), ArrowUp: () => zoom(0.7), ArrowDown: () => zoom(1 / 0.7), End: () => show(last + MINUTE - (span.to - span.from), last + MINUTE), Home: () => show(first, first + span.to - span.from) };
  if (acts[event.key]) { event.preventDefault(); acts[event.key](); }
});
const timeAt = (event) => {
  const over = groups[0].plot.over.getBoundingClientRect();
  return span.from + (event.clientX - over.left) / over.width * (span.to - span.from);
};
plots.addEventListener("wheel", (event) => {
  event.preventDefault();
  const wide = groups[0].plot.over.clientWidth;
  if (Math.abs(event.deltaX) > Math.abs(event.deltaY)) { const way = event.deltaX / wide * (span.to - span.from); show(span.from + way, span.to + way); return; }
  zoom(Math.exp(Math.max(-1, Math.min(1, event.deltaY / 400))), timeAt(event));
}, { passive: false });
const held = new Map();
plots.addEventListener("pointerdown", (event) => {
  if (event.pointerType === "mouse" && event.button !== 0) return;
  if (!event.target.closest(".u-over")) return;
  held.set(event.pointerId, event.clientX);
  plots.setPointerCapture(event.pointerId);
});
plots.addEventListener("pointermove", (event) => {
  if (!held.has(event.pointerId)) return;
  const over = groups[0].plot.over.getBoundingClientRect();
  const before = [...held.values()];
  held.set(event.pointerId, event.clientX);
  const after = [...held.values()];
  const each = (span.to - span.from) / over.width;
  const middle = (all) => all.reduce((a, b) => a + b) / all.length;
  const way = (middle(before) - middle(after)) * each;
  const by = after.length > 1 ? Math.max(12, Math.abs(before[0] - before[1])) / Math.max(12, Math.abs(after[0] - after[1])) : 1;
  const at = span.from + (middle(before) - over.left) * each;
  show(at - (at - span.from) * by + way, at + (span.to - at) * by + way);
});
for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) plots.addEventListener(end, (event) => held.delete(event.pointerId));

function dress() { marks(); groups.forEach((group) => group.plot.redraw(false)); }
lines.forEach(entry);
marks();
groups.forEach((group) => { group.plot = make(group); });
keys(null);
ask();
new ResizeObserver(() => groups.forEach((group) => group.plot.setSize({ width: plots.clientWidth, height: tall() }))).observe(plots);
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", dress);
document.fonts?.ready.then(dress);
