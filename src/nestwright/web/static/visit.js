// Steppers and plants of the visit: the first press takes the figure of the last time, the next ones move it.
const step = (name, by) => {
  const field = document.getElementById(`f-${name}`);
  const now = parseFloat(field.value.replace(",", "."));
  if (Number.isNaN(now)) { field.value = field.placeholder || "0"; return; }
  field.value = `${Math.max(0, +(now + by).toFixed(3))}`;
};
document.addEventListener("click", (event) => {
  const { less, more, by, plant } = event.target.closest("button")?.dataset ?? {};
  if (less) step(less, -by);
  if (more) step(more, +by);
  if (plant !== undefined) document.getElementById("f-plant").value = plant;
});
