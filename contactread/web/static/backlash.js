// What was typed, in both units, as the server will take it. Without a unit behind it, the unit follows the
// number: nothing but thousandths is that large, nothing but inches that small.
"use strict";
(() => {
  const field = document.getElementById("backlash"), both = document.getElementById("backlash-both");
  if (!field) return;
  const units = [...document.querySelectorAll("input[name=unit]")];
  let chosen = false;
  const names = { mm: "mm", thou: "thou", in: "in", inch: "in", inches: "in", '"': "in" };
  const mm = { mm: 1, thou: 0.0254, in: 25.4 };
  const place = String.raw`(\d+(?:[.,]\d+)?|[.,]\d+)\s*([a-z]+|")?`;
  const one = new RegExp(place, "gi"), all = new RegExp(`^${place}(?:(?:\\s*[;/]\\s*|,?\\s+)${place})*$`, "i");
  // As plausible.py has it: "7 1/2" is seven and a half; for what it asks about, and for parts of an inch, nothing is shown.
  const half = /(^|[^\d.,])(\d+)\s+(?!3\/2)([13])\/([24])(?![\d.,/])/g;
  const unclear = /\d\s+\d+\/\d|(^|\s)0\s+[.,]\d|^1\/\d+(?![\d.,/])|\d\/\d+\s*(in|")/i;
  function show() {
    const whole = field.value.trim().replace(half, (_, before, full, top, under) => before + (+full + top / under));
    const text = unclear.test(whole) ? "" : whole;
    const places = all.test(text) ? [...text.matchAll(one)].slice(0, 8) : [];
    const numbers = places.map((each) => Number(each[1].replace(",", ".")));
    const typed = places.map((each) => (each[2] || "").toLowerCase());
    const told = typed.filter(Boolean), shared = told.length === 1 && typed[typed.length - 1] === told[0];
    if (numbers.length && !chosen) {
      const most = Math.max(...numbers);
      const unit = names[told[0]] || (most >= 1 ? "thou" : most >= 0.02 ? "mm" : "in");
      units.forEach((each) => { each.checked = each.value === unit; });
    }
    const usual = shared ? told[0] : units.find((each) => each.checked).value;
    const each = numbers.map((n, k) => n * mm[names[typed[k] || usual]]);
    both.textContent = each.some(Number.isNaN) ? "" : shown(each.map((n) =>
      `${n.toFixed(2)} mm = ${(n / 0.0254).toFixed(1)} thou`).join("; "));
  }
  field.addEventListener("input", show);
  units.forEach((each) => each.addEventListener("change", () => { chosen = true; show(); }));
  show();
})();
