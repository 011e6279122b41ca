// Charts that answer the pointer: drawn by Vega from the declaration that the papers are set from.
// Expressions are interpreted, never evaluated as script (vega.github.io/vega/usage/interpreter).

const address = (name) => new URL(name, import.meta.url).href;
let loading;

function libraries() {
  loading ??= new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = address("vendor/vega.min.js");
    script.onload = () => import(address("vendor/vega-interpreter.js")).then(resolve, reject);
    script.onerror = reject;
    document.head.append(script);
  });
  return loading;
}

async function draw(figure) {
  const [{ expressionInterpreter }, answer] = await Promise.all([libraries(), fetch(figure.dataset.chart)]);
  if (!answer.ok) return;
  const specification = await answer.json();
  const box = document.createElement("div");
  box.className = "live";
  const image = figure.querySelector("img");
  const view = new vega.View(vega.parse(specification, null, { ast: true }), {
    expr: expressionInterpreter, renderer: "canvas", container: box, hover: true,
  });
  await view.runAsync();
  box.setAttribute("role", "img");
  box.setAttribute("aria-label", image.alt);
  (image.closest("picture") ?? image).replaceWith(box);
}

export function enliven(root) {
  const seen = new IntersectionObserver((entries) => entries.forEach((entry) => {
    if (!entry.isIntersecting) return;
    seen.unobserve(entry.target);
    draw(entry.target).catch(() => {});  // the picture that is there stays
  }), { rootMargin: "200px" });
  root.querySelectorAll("[data-chart]").forEach((figure) => seen.observe(figure));
}
