// The visit on a phone: steppers, light, and a store on the phone that each visit goes into before it is sent.
const form = document.getElementById("visit"), bar = document.getElementById("waiting");
const worker = navigator.serviceWorker;
const hex = () => [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
const made = (tag, told, text) => Object.assign(document.createElement(tag), told, text === undefined ? {} : { textContent: text });
const words = bar.dataset;

// Steppers and plants: the first press takes the figure of the last time, the next ones move it.
const step = (name, by) => {
  const field = document.getElementById(`f-${name}`);
  const now = parseFloat(field.value.replace(",", "."));
  if (Number.isNaN(now)) { field.value = field.placeholder || "0"; return; }
  field.value = `${Math.max(0, +(now + by).toFixed(3))}`;
};
document.addEventListener("click", (event) => {
  const button = event.target.closest("button");
  const { less, more, by, plant, same, discard } = button?.dataset ?? {};
  if (less) step(less, -by);
  if (more) step(more, +by);
  if (same) document.getElementById(`f-${same}`).value = document.getElementById(`f-${same}`).placeholder;
  if (plant !== undefined) document.getElementById("f-plant").value = plant;
  if (discard && confirm(words.sure)) Queue.remove(discard).then(show);
});
// Night light at once; the choice is kept by the same form that works without script.
document.getElementById("light")?.addEventListener("submit", (event) => {
  event.preventDefault();
  const field = event.target.elements.light, other = event.target.dataset.day;
  const body = new URLSearchParams(new FormData(event.target));
  document.documentElement.dataset.light = field.value;
  field.value = field.value === "night" ? other : "night";
  fetch("/settings", { method: "POST", body, redirect: "manual" }).catch(() => {});
});

const fault = (one) => one.message ? `${one.field || one.file ? `${one.field || one.file}: ` : ""}${one.message}${one.found ? `; ${words.found} ${one.found}` : ""}${one.allowed ? `; ${words.allowed}: ${one.allowed}` : ""}${one.nearest ? `; ${words.nearest} “${one.nearest}”?` : ""}` : one.text;

// What waits, always in sight.
const show = async () => {
  const all = await Queue.all();
  bar.replaceChildren();
  const waiting = all.filter((one) => one.state !== "refused").length;
  if (waiting) bar.append(made("p", {}, waiting === 1 ? words.one : words.several.replace("{}", waiting)));
  const others = all.filter((one) => one.state === "refused" && one.uid !== form?.elements.uid.value);
  bar.hidden = !waiting && !others.length;
  for (const one of others) {
    const line = made("div", { className: "refused" });
    line.append(made("p", {}, `${one.colony}, ${new Date(one.made).toLocaleString()}: ${words.refused} ${one.faults.map(fault).join("; ")}`));
    line.append(made("a", { className: "button second", href: `${one.address}#${one.uid}` }, words.edit));
    const gone = made("button", { type: "button", className: "second" }, words.discard);
    gone.dataset.discard = one.uid;
    line.append(gone);
    bar.append(line);
  }
};
const flush = async () => {
  if (!(await Queue.all()).some((one) => one.state !== "refused")) return show();
  const done = await Queue.flush();
  await show();
  const news = done.flatMap((one) => one.good ? [`${one.one.colony}: ${words.sent}`, ...one.answer.remarks] : []);
  if (news.length) say(news);
  if (done.some((one) => one.status === 401 || one.status === 403)) say([words.pair]);
};
const say = (lines, wrong = false) => {
  const place = document.getElementById("news");
  place.hidden = false;
  place.className = wrong ? "faults" : "done";
  place.replaceChildren(...lines.map((line) => made("p", {}, line)));
};

if (form) {
  const uid = form.elements.uid;
  // The same entry of the browser's history is the same visit: the back button does not make a second one of it.
  const anew = () => { uid.value = hex(); history.replaceState({ ...history.state, uid: uid.value }, ""); };
  const take = async () => {
    const marked = location.hash.slice(1), old = marked ? await Queue.get(marked) : null;
    if (old?.state === "refused" && old.address === form.getAttribute("action")) {
      form.reset();
      uid.value = old.uid;
      for (const [name, value] of old.fields) {
        const all = [...form.elements].filter((one) => one.name === name && one.type !== "file");
        for (const one of all) if (["radio", "checkbox"].includes(one.type)) one.checked ||= one.value === value; else one.value = value;
      }
      form.querySelector("details").open = true;
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
  };
  let pictures = [], busy = false;
  const ready = take();
  addEventListener("hashchange", take);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (busy) return;
    busy = true;
    const button = form.querySelector(".wide-button");
    button.setAttribute("aria-disabled", "true");
    try {
      await ready;
      const told = [...new FormData(form)].filter(([name, value]) => typeof value === "string" && name !== "uid" && value !== "");
      const files = [...form.elements.pictures.files].map((file) => [file.name, file]);
      const old = await Queue.get(uid.value);
      const one = {
        uid: uid.value, colony: form.dataset.colony, workshop: form.dataset.workshop, address: form.getAttribute("action"),
        fields: told, pictures: [...pictures, ...files], made: old?.made ?? Date.now(), told: hex(), state: "waiting",
      };
      try { await Queue.put(one); } catch {
        // no store on this phone (a private window, no room): as if there were no script
        form.submit();
        return;
      }
      await show();
      const found = (await Queue.flush()).find((each) => each.one.told === one.told)
        ?? (await Queue.flush()).find((each) => each.one.told === one.told);
      const elsewhere = !found && !(await Queue.get(one.uid)); // another tab or the worker was quicker
      if (found?.good) { pictures = []; location.assign(found.answer.next); return; }
      await show();
      scrollTo(0, 0);
      if (found?.refused) {
        if (location.hash.slice(1) === one.uid) await take(); else location.hash = one.uid;
        return;
      }
      form.reset();
      pictures = [];
      history.replaceState(null, "", location.pathname);
      anew();
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
addEventListener("pageshow", (event) => { if (event.persisted) flush(); });
document.addEventListener("visibilitychange", () => { if (!document.hidden) flush(); });
setInterval(flush, 30000);
show().then(flush).catch(() => {});

// The worker, where the browser allows one (https, or this computer itself).
if (worker) {
  worker.addEventListener("message", (event) => { if (event.data.sent) show(); if (event.data.kept) document.body.dataset.kept = event.data.kept; });
  worker.register("/sw.js").then(() => worker.ready).then(({ active }) => {
    const files = performance.getEntriesByType("resource").map((one) => one.name).filter((one) => new URL(one).pathname.startsWith("/static/"));
    const pages = [...document.querySelectorAll("[data-visit]")].map((one) => one.pathname);
    if (pages.length || !form) active.postMessage({ keep: ["/visit", ...pages], only: true, files });
    else active.postMessage({ keep: ["/visit", location.pathname], files });
  }).catch(() => {});
}
navigator.storage?.persist?.().catch(() => {});
