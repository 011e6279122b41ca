// The visit on a phone: steppers, light, and a store on the phone that each visit goes into before it is sent.
const form = document.getElementById("visit"), bar = document.getElementById("waiting");
const worker = navigator.serviceWorker;
const hex = () => [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
const made = (tag, told, text) => Object.assign(document.createElement(tag), told, text === undefined ? {} : { textContent: text });
const words = bar.dataset;
const FEW = 2; // refused visits that are each told at once

// Steppers and plants: the first press takes the figure of the last time, the next ones move it; a unit stays with it.
const step = (name, by) => {
  const field = document.getElementById(`f-${name}`);
  const [, figure, unit] = field.value.match(/^\s*(\d[\d.,]*)(.*)$/) ?? [];
  if (figure === undefined) { field.value = field.placeholder || `${Math.max(0, by)}`; return; }
  field.value = `${Math.max(0, +(parseFloat(figure.replace(",", ".")) + by).toFixed(3))}`.replace(".", words.comma) + unit;
};
document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  const { less, more, by, plant, same, given, discard } = button?.dataset ?? {};
  if (less) step(less, -by);
  if (more) step(more, +by);
  if (same) document.getElementById(`f-${same}`).value = document.getElementById(`f-${same}`).placeholder;
  if (given) {
    const [amount, unit, ...rest] = given.split(" ");
    document.getElementById("f-leaves").value = unit === "g" ? amount : `${amount} ${unit}`;
    document.getElementById("f-plant").value = rest.join(" ");
  }
  if (plant !== undefined) document.getElementById("f-plant").value = plant;
  if (discard && confirm(words.sure)) Queue.remove(discard).then(show);
  if (button && "discardAll" in button.dataset && confirm(words.sureAll)) Queue.all().then(async (all) => {
    for (const one of refusedOf(all)) await Queue.remove(one.uid);
    await show();
  });
});
// Night light at once; the choice is kept by the same form that works without script, and where the bench is not reached
// on this device until it is.
const light = document.getElementById("light"), root = document.documentElement;
const LIGHT = "light";
const stored = (change) => { try { return change(localStorage); } catch { return null; } };
const setLight = (told) => {
  root.dataset.light = told;
  worker?.ready.then(({ active }) => active?.postMessage({ light: told })).catch(() => {});
  if (light) light.elements.light.value = told === "night" ? light.dataset.day : "night";
};
const tellLight = async () => {
  const told = stored((store) => store.getItem(LIGHT));
  if (!told || !light) return;
  const body = new URLSearchParams(new FormData(light));
  body.set("light", told);
  const answer = await fetch("/settings", { method: "POST", body, redirect: "manual" }).catch(() => null);
  if (answer?.type === "opaqueredirect" && stored((store) => store.getItem(LIGHT)) === told) stored((store) => store.removeItem(LIGHT));
};
setLight(stored((store) => store.getItem(LIGHT)) ?? root.dataset.light);
light?.addEventListener("submit", (event) => {
  event.preventDefault();
  const told = light.elements.light.value;
  stored((store) => store.setItem(LIGHT, told));
  setLight(told);
  tellLight();
});
addEventListener("online", tellLight);
tellLight();

const fault = (one) => one.status === 413 ? words.large : one.message ? `${one.field || one.file ? `${one.field || one.file}: ` : ""}${one.message}${one.found ? `; ${words.found} ${one.found}` : ""}${one.allowed ? `; ${words.allowed}: ${one.allowed}` : ""}${one.nearest ? `; ${words.nearest.replace("{}", () => one.nearest)}` : ""}` : one.text || words.unsaid;

// A moment as the pages write it, by this device's clock.
const minute = (at) => new Date(at - 60000 * new Date(at).getTimezoneOffset()).toISOString().slice(0, 16).replace("T", " ");

// Those that were refused and do not stand in the form.
const refusedOf = (all) => all.filter((one) => one.state === "refused" && one.uid !== form?.elements.uid.value);
// What waits, always in sight.
const show = async () => {
  const all = await Queue.all();
  bar.replaceChildren();
  const waiting = all.filter((one) => one.state !== "refused").length;
  if (waiting) bar.append(made("p", {}, waiting === 1 ? words.one : words.several.replace("{}", waiting)));
  const others = refusedOf(all);
  if (!all.length) bar.append(made("p", {}, words.none));
  bar.classList.toggle("none", !all.length);
  // one that was refused stands in the form, with what is wrong above it: of others there is nothing to say
  bar.hidden = all.length > 0 && !waiting && !others.length;
  // that it is kept was true; what became of it stands above
  const news = document.getElementById("news");
  if (!waiting && news.dataset.kept) news.hidden = true;
  const list = others.length > FEW ? bar.appendChild(made("details", {})) : bar;
  if (list !== bar) {
    const all = made("button", { type: "button", className: "second" }, words.discardAll.replace("{}", others.length));
    all.dataset.discardAll = "";
    list.append(made("summary", {}, words.refusedAll.replace("{}", others.length)), all);
  }
  for (const one of others) {
    const line = made("div", { className: "refused" });
    line.append(made("p", {}, `${one.colony}, ${minute(one.made)}: ${words.refused} ${one.faults.map(fault).join("; ")}`));
    line.append(made("a", { className: "button second", href: `${one.address}#${one.uid}` }, words.edit));
    const gone = made("button", { type: "button", className: "second" }, words.discard);
    gone.dataset.discard = one.uid;
    line.append(gone);
    list.append(line);
  }
};
const flush = async () => {
  if ((await Queue.all()).some((one) => one.state !== "refused")) await tell(await Queue.flush());
  else await show();
  await anewList();
};
// A page that was opened without the bench is no longer so old once the bench has answered.
const anewList = async () => {
  const old = document.getElementById("as-of");
  if (old.hidden) return;
  const answer = await fetch("/visit").catch(() => null);
  if (!answer?.ok) return;
  const list = document.querySelector(".choose");
  list?.replaceWith(new DOMParser().parseFromString(await answer.text(), "text/html").querySelector(".choose") ?? list);
  old.hidden = true;
};
// What became of those that were sent, from this page or by the worker.
const tell = async (done) => {
  await show();
  const news = done.flatMap((one) => one.good ? [`${one.one.colony}: ${words.sent}`, ...one.answer.remarks] : []);
  if (news.length) say(news);
  if (done.some((one) => one.status === 401 || one.status === 403)) say([words.pair]);
};
const say = (lines, wrong = false) => {
  const place = document.getElementById("news");
  place.hidden = false;
  if (lines[0] === words.kept) place.dataset.kept = "1"; else delete place.dataset.kept;
  place.className = wrong ? "faults" : "done";
  place.replaceChildren(...lines.map((line) => made("p", {}, line)));
};

if (form) {
  const uid = form.elements.uid;
  const told = () => [...new FormData(form)].filter(([name, value]) => typeof value === "string" && name !== "uid" && value !== "");
  // as it was told, what was emptied too; the mark of what a visit told before is that of what was just read
  const fill = (fields) => {
    for (const field of form.elements) {
      if (!field.name || ["uid", "was"].includes(field.name) || field.type === "file") continue;
      const values = fields.filter(([name]) => name === field.name).map(([, value]) => value);
      if (["radio", "checkbox"].includes(field.type)) field.checked = values.includes(field.value) || (!field.value && !values.length);
      else field.value = values[0] ?? "";
    }
    form.querySelector("details").open = true;
  };
  // What is half told stays on this device until it is recorded, for half a day.
  const DRAFT = `half-told-${form.getAttribute("action")}`, HALF_A_DAY = 43200000, empty = JSON.stringify(told());
  const dropDraft = () => stored((store) => store.removeItem(DRAFT));
  const keepDraft = () => {
    if (form.elements.was) return; // a correction is told on the visit as it stands
    const fields = told();
    if (JSON.stringify(fields) === empty) dropDraft();
    else stored((store) => store.setItem(DRAFT, JSON.stringify({ at: Date.now(), fields })));
  };
  const takeDraft = () => {
    if (form.elements.was) return;
    const draft = stored((store) => JSON.parse(store.getItem(DRAFT)));
    if (!draft || Date.now() - draft.at > HALF_A_DAY) { dropDraft(); return; }
    fill(draft.fields);
    say([words.half]);
    const empties = made("button", { type: "button", className: "second" }, words.anew);
    empties.addEventListener("click", () => { form.reset(); dropDraft(); document.getElementById("news").hidden = true; });
    document.getElementById("news").append(empties);
  };
  form.addEventListener("input", keepDraft);
  // the buttons beside a field change it
  form.addEventListener("click", (event) => { if (event.target.closest("button[type=button]")) setTimeout(keepDraft); });
  // The same entry of the browser's history is the same visit: the back button does not make a second one of it.
  const anew = () => { uid.value = hex(); history.replaceState({ ...history.state, uid: uid.value }, ""); };
  // Back at the form of a visit that is in the record: its correction, unless it was taken back meanwhile.
  const correctIt = async () => {
    const row = history.state?.recorded;
    if (!row) return false;
    const place = `${form.getAttribute("action")}/${row}`;
    const answer = await fetch(place).catch(() => null);
    if (answer?.ok) { location.replace(place); return true; }
    if (answer) { history.replaceState(null, ""); form.reset(); }
    return false;
  };
  const done = (answer) => {
    pictures = [];
    if (!form.elements.was) history.replaceState({ ...history.state, recorded: answer.visit }, "");
    location.assign(answer.next);
  };
  const take = async () => {
    if (await correctIt()) return;
    const marked = location.hash.slice(1), old = marked ? await Queue.get(marked) : null;
    if (old?.state === "refused" && old.address === form.getAttribute("action")) {
      uid.value = old.uid;
      fill(old.fields);
      pictures = old.pictures;
      say([...old.faults.map(fault), ...(pictures.length ? [words.pictures.replace("{}", pictures.length)] : [])], true);
      await show(); // not twice: this one stands in the form
      if (pictures.length) {
        const without = made("button", { type: "button", className: "second" }, words.without);
        without.addEventListener("click", () => { pictures = []; without.previousSibling.remove(); without.remove(); });
        document.getElementById("news").append(without);
      }
      for (const one of old.faults) document.getElementById(`f-${one.field}`)?.setAttribute("aria-invalid", "true");
      return;
    }
    // a page of the server's own refusal keeps its mark
    if (form.dataset.again) return;
    if (history.state?.uid) uid.value = history.state.uid; else anew();
    takeDraft();
  };
  let pictures = [], busy = false, emptied = false;
  const ready = take();
  // a correction is mended on the visit as it is told now
  addEventListener("hashchange", () => { if (form.elements.was) location.reload(); else take(); });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    // a second press that comes late finds the form as the first left it: that is no visit
    const blank = !pictures.length && !form.elements.pictures.files.length && JSON.stringify(told()) === empty;
    if (busy || (emptied && blank)) return;
    busy = true;
    const button = form.querySelector(".wide-button");
    button.setAttribute("aria-disabled", "true");
    try {
      await ready;
      const files = [...form.elements.pictures.files].map((file) => [file.name, file]);
      const old = await Queue.get(uid.value).catch(() => null);
      const one = {
        uid: uid.value, colony: form.dataset.colony, workshop: form.dataset.workshop, address: form.getAttribute("action"),
        fields: told(), pictures: [...pictures, ...files], made: old?.made ?? Date.now(), told: hex(), state: "waiting",
      };
      try { await Queue.put(one); } catch {
        // no store on this phone (a private window, no room): it stays in the form until the server has it
        const found = await Queue.send(one, false);
        if (found.good) { dropDraft(); done(found.answer); }
        else say(found.refused ? found.faults.map(fault) : [words.room], true);
        scrollTo(0, 0);
        return;
      }
      dropDraft();
      await show();
      const found = (await Queue.flush()).find((each) => each.one.told === one.told)
        ?? (await Queue.flush()).find((each) => each.one.told === one.told);
      const elsewhere = !found && !(await Queue.get(one.uid)); // another tab or the worker was quicker
      if (found?.good) { done(found.answer); return; }
      await show();
      scrollTo(0, 0);
      if (found?.refused) {
        if (form.elements.was) { history.replaceState(history.state, "", `#${one.uid}`); location.reload(); return; }
        if (location.hash.slice(1) === one.uid) await take(); else location.hash = one.uid;
        return;
      }
      form.reset();
      emptied = true;
      pictures = [];
      history.replaceState(null, "", location.pathname);
      anew();
      form.hidden = "was" in form.elements; // its figures are those of before
      if (elsewhere) { say([`${one.colony}: ${words.sent}`]); return; }
      say(found?.status === 401 || found?.status === 403 ? [words.kept, words.pair] : [words.kept]);
      const sync = (await worker?.getRegistration())?.sync;
      sync?.register("visits").catch(() => {});
    } finally {
      busy = false;
      button.removeAttribute("aria-disabled");
    }
  });
}

addEventListener("online", flush);
addEventListener("pageshow", (event) => { if (event.persisted) { if (form && !history.state?.recorded && !form.elements.was) flush(); else location.reload(); } });
document.addEventListener("visibilitychange", () => { if (!document.hidden) flush(); });
setInterval(flush, 30000);
show().then(flush).catch(() => {});

// The worker, where the browser allows one (https, or this computer itself).
if (worker) {
  worker.addEventListener("message", (event) => { if (event.data.sent) tell(event.data.sent).then(anewList); if (event.data.kept) document.body.dataset.kept = event.data.kept; });
  worker.register("/sw.js").then(() => worker.ready).then(({ active }) => {
    const files = performance.getEntriesByType("resource").map((one) => one.name).filter((one) => new URL(one).pathname.startsWith("/static/"));
    const pages = [...document.querySelectorAll("[data-visit]")].map((one) => one.pathname);
    if (pages.length || !form) active.postMessage({ keep: ["/visit", ...pages], only: true, files });
    else active.postMessage({ keep: ["/visit", form.elements.was ? "/visit" : location.pathname], files });
  }).catch(() => {});
}
navigator.storage?.persist?.().catch(() => {});
