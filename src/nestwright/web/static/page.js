// What every page has: keys, one sending of a form, charts that answer the pointer.

const typing = (target) => target.matches?.("input, textarea, select, [contenteditable]");
let prefix = 0;

addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || typing(event.target)) {
    if (event.key === "Escape" && typing(event.target)) event.target.blur();
    return;
  }
  if (event.key === "/") {
    event.preventDefault();
    document.getElementById("find")?.focus();
  } else if (event.key === "?") {
    location.assign("/settings#keys");
  } else if (event.key === "g") {
    prefix = Date.now();
  } else if (Date.now() - prefix < 1500) {
    prefix = 0;
    document.querySelector(`.top nav a[data-key="${CSS.escape(event.key)}"]`)?.click();
  } else {
    // a page may give keys to its own controls
    const control = document.querySelector(`[data-press="${CSS.escape(event.key)}"]`);
    if (control) { event.preventDefault(); control.click(); }
  }
});

// Work that ends just as someone leaves its page does not call them back: the page they asked for comes first.
const LEAVING = 3000; // ms after which a page that is still there was not left, as by a download
let left = -Infinity;
addEventListener("beforeunload", () => { left = performance.now(); });
addEventListener("pageshow", (event) => { if (event.persisted) left = -Infinity; });
document.addEventListener("htmx:beforeOnLoad", (event) => {
  const next = event.detail.xhr.getResponseHeader("HX-Redirect");
  const since = performance.now() - left;
  if (!next || since > LEAVING) return;
  event.preventDefault();
  setTimeout(() => location.assign(next), LEAVING - since);
});

// Work goes on whether its page hears of it or not: what got no answer is asked again.
const ASK_AGAIN = 2000; // ms
for (const lost of ["htmx:sendError", "htmx:sendAbort", "htmx:responseError"]) document.addEventListener(lost, ({ target, detail }) => {
  if (!target.matches("[hx-trigger*=again]")) return;
  if (detail.xhr.status === 404) location.reload(); // the bench was started anew, and knows nothing of this work
  else setTimeout(() => htmx.trigger(target, "again"), ASK_AGAIN);
});

// A double tap sends a form once. A page that comes back from the browser's store can be sent again.
addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || event.defaultPrevented) return;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = "1";
  form.querySelectorAll("button").forEach((one) => one.setAttribute("aria-disabled", "true"));
});
addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach((form) => {
  delete form.dataset.sent;
  form.querySelectorAll("button").forEach((one) => one.removeAttribute("aria-disabled"));
}));

if (document.querySelector("[data-chart]") && matchMedia("(min-width: 48rem)").matches) {
  import("./chart.js").then((chart) => chart.enliven(document));
}

// Pictures below the screen come after the rest, so that what is printed has them too.
addEventListener("load", () => setTimeout(() => {
  for (const image of document.querySelectorAll("main .chart img[loading=lazy]")) image.loading = "eager";
}, 2000));
