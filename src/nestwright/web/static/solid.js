// The habitat's parts in the round beside their list: turned, drawn apart, cut; a part chosen in one is chosen in both.

const stage = document.getElementById("solid");
if (stage) {
  document.getElementById("solid-script").hidden = true;
  begin().catch(() => instead());
}

// The section and words stand in the place of the view where it cannot be drawn.
function instead() {
  stage.hidden = true;
  document.getElementById("solid-instead").hidden = false;
  document.getElementById("solid-none").hidden = false;
}

async function begin() {
  const canvas = stage.querySelector("canvas");
  if (!document.createElement("canvas").getContext("webgl2")) return instead();
  const [{ readGlb, drawing }, answer] = await Promise.all([import(stage.dataset.draw), fetch(stage.dataset.view)]);
  if (!answer.ok) return instead();
  const pieces = readGlb(await answer.arrayBuffer());
  const rows = [...document.querySelectorAll("[data-part]")];
  const groups = rows.map((row) => row.dataset.part);
  for (const piece of pieces) piece.group = groupOf(piece.names, groups);
  document.getElementById("solid-instead").hidden = true;
  stage.hidden = false;
  const drawn = drawing(canvas, pieces);
  if (!drawn) return instead();
  view(canvas, drawn, rows);
}

// A node is of the part whose name it has, or has with a number after it; a longer name goes first.
function groupOf(names, groups) {
  for (const name of names) {
    const plain = name.replace(/[ _#.-]*\d+$/, "");
    const found = [groups.indexOf(name), groups.indexOf(plain)].find((n) => n >= 0);
    if (found !== undefined) return found;
  }
  return -1;
}

function view(canvas, drawn, rows) {
  const home = { turn: -0.6, tilt: 0.42, zoom: 1 };
  const look = { ...home, apart: 0, cut: 0, chosen: -1 };
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const said = stage.querySelector("output"), apart = document.getElementById("apart"), cut = document.getElementById("cut");
  let colours = paints(), waiting = 0, gliding = 0;

  const draw = () => {
    if (waiting) return;
    waiting = requestAnimationFrame(() => {
      waiting = 0;
      drawn.draw(look, colours);
      canvas.dataset.drawn = Number(canvas.dataset.drawn ?? 0) + 1;  // what is seen, for tests
      canvas.dataset.chosen = rows[look.chosen]?.dataset.part ?? "";
    });
  };
  const set = (change) => {
    cancelAnimationFrame(gliding);
    Object.assign(look, change);
    look.tilt = Math.max(-1.5, Math.min(1.5, look.tilt));
    look.zoom = Math.max(0.5, Math.min(8, look.zoom));
    draw();
  };
  // To another side in a quarter of a second; at once for who wants no motion.
  const glide = (to) => {
    const from = { ...look }, start = performance.now(), full = 2 * Math.PI;
    if (to.turn !== undefined) from.turn -= full * Math.round((from.turn - to.turn) / full);
    if (calm.matches) return set(to);
    const step = (now) => {
      const share = Math.min(1, (now - start) / 250), eased = share * (2 - share);
      const part = Object.fromEntries(Object.keys(to).map((key) => [key, from[key] + (to[key] - from[key]) * eased]));
      set(part);
      if (share < 1) gliding = requestAnimationFrame(step);
    };
    cancelAnimationFrame(gliding);
    gliding = requestAnimationFrame(step);
  };

  new ResizeObserver(() => {
    const fine = Math.min(2, devicePixelRatio || 1);
    canvas.width = Math.max(1, Math.round(canvas.clientWidth * fine));
    canvas.height = Math.max(1, Math.round(canvas.clientHeight * fine));
    draw();
  }).observe(canvas);
  for (const query of ["(prefers-color-scheme: dark)"]) matchMedia(query).addEventListener("change", () => { colours = paints(); draw(); });
  canvas.addEventListener("webglcontextlost", (event) => { event.preventDefault(); instead(); });

  // ---- choosing ----
  const choose = (group, to) => {
    const next = group === look.chosen && to !== "focus" ? -1 : group;
    set({ chosen: next });
    rows.forEach((row, n) => {
      row.classList.toggle("chosen", n === next);
      row.querySelector("button")?.setAttribute("aria-pressed", String(n === next));
    });
    const row = rows[next];
    said.textContent = row ? row.dataset.said : said.dataset.none;
    if (row && to === "list") row.scrollIntoView({ block: "nearest", behavior: calm.matches ? "auto" : "smooth" });
  };
  rows.forEach((row, n) => {
    const name = row.querySelector("[data-name]");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "name";
    button.append(...name.childNodes);
    button.setAttribute("aria-pressed", "false");
    name.replaceChildren(button);
    button.addEventListener("click", () => choose(n, "view"));
    button.addEventListener("focus", () => { if (button.matches(":focus-visible")) choose(n, "focus"); });
  });

  // ---- the hand: one finger turns, two tilt and zoom; a finger that goes up or down scrolls the page ----
  const down = new Map();
  let travelled = 0, span = 0;
  const spanOf = () => { const [a, b] = [...down.values()]; return Math.hypot(a.x - b.x, a.y - b.y); };
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (down.size === 1) travelled = 0;
    if (down.size === 2) span = spanOf();
  });
  canvas.addEventListener("pointermove", (event) => {
    const last = down.get(event.pointerId);
    if (!last) return;
    const [dx, dy] = [event.clientX - last.x, event.clientY - last.y];
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    travelled += Math.abs(dx) + Math.abs(dy);
    if (travelled < 5) return;
    const share = down.size === 1 ? 1 : 0.5;
    const change = { turn: look.turn + dx * 0.009 * share, tilt: look.tilt + dy * 0.009 * share };
    if (down.size === 2) {
      const now = spanOf();
      change.zoom = look.zoom * now / Math.max(1, span);
      span = now;
    }
    set(change);
  });
  const up = (event) => {
    if (!down.delete(event.pointerId) || event.type !== "pointerup" || travelled >= 5 || down.size) return;
    const box = canvas.getBoundingClientRect();
    choose(drawn.pick(look, (event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height), "list");
    draw();
  };
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);
  canvas.addEventListener("wheel", (event) => {
    if (document.activeElement !== canvas && !event.ctrlKey) return;  // until it is taken up the wheel scrolls the page
    event.preventDefault();
    set({ zoom: look.zoom * Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.0015)) });
  }, { passive: false });

  // ---- keys and controls ----
  const keys = {
    ArrowLeft: () => ({ turn: look.turn - 0.12 }), ArrowRight: () => ({ turn: look.turn + 0.12 }),
    ArrowUp: () => ({ tilt: look.tilt + 0.1 }), ArrowDown: () => ({ tilt: look.tilt - 0.1 }),
    "+": () => ({ zoom: look.zoom * 1.2 }), "=": () => ({ zoom: look.zoom * 1.2 }), "-": () => ({ zoom: look.zoom / 1.2 }),
    0: () => home,
  };
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape") return choose(-1, "view");
    const change = keys[event.key]?.();
    if (!change) return;
    event.preventDefault();
    set(change);
  });
  const sides = { home, front: { turn: 0, tilt: 0, zoom: 1 }, above: { turn: 0, tilt: 1.5, zoom: 1 } };
  stage.addEventListener("click", (event) => {
    const { side, zoom } = event.target.closest("button")?.dataset ?? {};
    if (side) glide(sides[side]);
    if (zoom) set({ zoom: look.zoom * Number(zoom) });
  });
  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-choose]");
    if (link) choose(rows.findIndex((row) => row.dataset.part === link.dataset.choose), "focus");
  });
  for (const slide of [apart, cut]) {
    const take = () => { set({ [slide.id]: Number(slide.value) / 100 }); slide.setAttribute("aria-valuetext", `${slide.value} %`); };
    slide.addEventListener("input", take);
    take();
  }
  choose(-1, "view");
}

// The colours of the page's light.
function paints() {
  const style = getComputedStyle(document.documentElement);
  const read = (name) => [1, 3, 5].map((n) => parseInt(style.getPropertyValue(name).trim().slice(n, n + 2), 16) / 255);
  const night = document.documentElement.dataset.light === "night";
  const soft = (a, b, share) => a.map((x, k) => x * share + b[k] * (1 - share));
  const back = read("--sheet"), dark = back[0] + back[1] + back[2] < 1.2;
  // lines are drawn on the parts, which are light in either light
  return { back, ink: night ? read("--sheet") : dark ? soft(read("--paper"), [0, 0, 0], 0.9) : soft(read("--ink"), back, 0.75), mark: read("--focus"), night: night ? read("--ink") : null };
}
