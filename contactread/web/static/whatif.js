// Two sliders; the answer to the newest place of them is shown, older ones are dropped.
"use strict";
(() => {
  const section = document.getElementById("whatif");
  if (!section) return;
  const foreseen = document.getElementById("foreseen");
  const [pinion, ring] = ["pinion", "ring_gear"].map((name) => document.getElementById(`move-${name}`));
  let busy = false, stale = false;
  const mm = (slider) => Number(slider.value) * Number(slider.dataset.mm);
  function told(slider) {
    const way = mm(slider) > 0 ? "away" : mm(slider) < 0 ? "toward" : "as it is";
    slider.setAttribute("aria-valuetext", mm(slider) ? `${Math.abs(mm(slider)).toFixed(2)} mm ${way}` : way);
  }
  async function foresee() {
    if (busy) { stale = true; return; }
    busy = true;
    section.setAttribute("aria-busy", "true");
    do {
      stale = false;
      try {
        const answer = await fetch(`/api/v1/what-if?${section.dataset.query}&pinion=${mm(pinion)}&ring=${mm(ring)}`);
        const body = await answer.json();
        if (!stale) { if (answer.ok) show(body); else trouble(body.error); }
      } catch { trouble({ message: "No connection.", next_step: "Move a slider again when it is back." }); }
    } while (stale);
    busy = false;
    section.removeAttribute("aria-busy");
  }
  function line(words, kind = "p") {
    const made = document.createElement(kind);
    made.textContent = shown(words);
    return made;
  }
  function show(body) {
    const parts = body.moves.map((words) => { const made = line(words); made.className = "strongly"; return made; });
    parts.push(line(`${body.backlash}. Chance that patterns and backlash are right: ${body.chance_words}.`));
    for (const role of ["drive", "coast"]) {
      parts.push(line(role === "drive" ? "Drive side" : "Coast side", "h3"));
      const chart = document.createElement("div");
      chart.className = "chart";
      const drawing = new DOMParser().parseFromString(body.sides[role].chart, "image/svg+xml").documentElement;
      chart.append(document.importNode(drawing, true));
      parts.push(chart, line(body.sides[role].words));
    }
    foreseen.replaceChildren(...parts);
  }
  function trouble(error) { foreseen.replaceChildren(line(`${error.message} ${error.next_step}`)); }
  for (const slider of [pinion, ring]) slider.addEventListener("input", () => { told(slider); foresee(); });
  for (const button of section.querySelectorAll("button[data-step]")) {
    button.addEventListener("click", () => {
      const slider = document.getElementById(button.dataset.for);
      slider.value = Number(slider.value) + Number(button.dataset.step);
      slider.dispatchEvent(new Event("input"));
    });
  }
  [pinion, ring].forEach(told);
  foresee();
})();
