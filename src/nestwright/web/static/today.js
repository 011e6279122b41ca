// New alarms are said once, politely; a notification comes only where the person asked for it on this device.

const alarms = () => new Map([...document.querySelectorAll("#poll [data-alarm]")].map((one) => [one.dataset.alarm, one.textContent]));
let known = alarms();
const button = document.getElementById("notify");
const said = document.getElementById("said");
const wanted = () => "Notification" in window && Notification.permission === "granted" && localStorage.getItem("notify") === "yes";

function offer() {
  if (!button) return;
  button.hidden = !("Notification" in window) || !window.isSecureContext || Notification.permission === "denied" || wanted();
}
button?.addEventListener("click", async () => {
  if ((await Notification.requestPermission()) === "granted") localStorage.setItem("notify", "yes");
  offer();
});
offer();

// What is unfolded stays so when its piece of the page comes anew.
let unfolded = [];
document.addEventListener("htmx:beforeSwap", () => { unfolded = [...document.querySelectorAll("main details[open][id]")].map((one) => one.id); });

document.addEventListener("htmx:afterSettle", () => {
  unfolded.forEach((id) => document.getElementById(id)?.setAttribute("open", ""));
  const now = alarms();
  const fresh = [...now].filter(([id]) => !known.has(id));
  known = now;
  if (!fresh.length) return;
  said.textContent = fresh.map(([, words]) => `${said.dataset.new}: ${words}`).join(". ");
  if (wanted()) fresh.forEach(([id, words]) => { try { new Notification(document.title, { body: words, tag: `alarm-${id}` }); } catch { /* a phone shows them only by its worker */ } });
});
