// The unit follows the number: nothing but thousandths is that large, nothing but inches that small.
"use strict";
(() => {
  const field = document.getElementById("backlash"), both = document.getElementById("backlash-both");
  if (!field) return;
  const units = [...document.querySelectorAll("input[name=unit]")];
  let chosen = false;
  const mm = { mm: 1, thou: 0.0254, in: 25.4 };
  function show() {
    const numbers = (field.value.replace(/,/g, ".").match(/\d*\.?\d+/g) || []).map(Number);
    if (numbers.length && !chosen) {
      const most = Math.max(...numbers);
      const unit = most >= 1 ? "thou" : most >= 0.02 ? "mm" : "in";
      units.forEach((each) => { each.checked = each.value === unit; });
    }
    const unit = units.find((each) => each.checked).value;
    both.textContent = shown(numbers.slice(0, 8).map((n) =>
      `${(n * mm[unit]).toFixed(2)} mm = ${(n * mm[unit] / 0.0254).toFixed(1)} thou`).join("; "));
  }
  field.addEventListener("input", show);
  units.forEach((each) => each.addEventListener("change", () => { chosen = true; show(); }));
  show();
})();
