// Two photographs of a colony beside each other, chosen by two sliders through its time.
const stage = document.querySelector("[data-stage]");
if (stage) {
  const all = [...document.querySelectorAll("[data-photo]")];
  for (const which of ["then", "now"]) {
    const slider = document.getElementById(which);
    const image = stage.querySelector(`[data-${which}]`);
    const words = stage.querySelector(`[data-${which}-words]`);
    const set = () => {
      const one = all[Number(slider.value)];
      image.src = `/photos/${one.dataset.photo}`;
      words.textContent = one.dataset.words;
      slider.setAttribute("aria-valuetext", one.dataset.words);
    };
    slider.addEventListener("input", set);
    set();
  }
}
