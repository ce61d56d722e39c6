// Drawing a patch with a finger: its centre, then two corners. It fills the line that may be typed too.
"use strict";
(() => {
  const pad = document.getElementById("pad"), field = document.getElementById("given");
  if (!pad || !field) return;
  const says = document.getElementById("pad-says");
  const asked = ["Tap the centre of the patch.", "Tap where it begins: toe end and root side.",
    "Tap where it ends: heel end and top side.", "Tap again to begin anew."];
  let points = [];
  function show() {
    const [centre, begin, end] = points;
    const box = pad.querySelector("rect.box"), dot = pad.querySelector("circle");
    dot.setAttribute("visibility", centre ? "visible" : "hidden");
    if (centre) { dot.setAttribute("cx", centre[0]); dot.setAttribute("cy", 40 - 0.4 * centre[1]); }
    box.setAttribute("visibility", end ? "visible" : "hidden");
    if (end) {
      box.setAttribute("x", begin[0]); box.setAttribute("width", end[0] - begin[0]);
      box.setAttribute("y", 40 - 0.4 * end[1]); box.setAttribute("height", 0.4 * (end[1] - begin[1]));
      field.value = `${begin[0]}-${end[0]} ${begin[1]}-${end[1]} centre ${centre[0]} ${centre[1]}`;
    }
    says.textContent = asked[points.length];
  }
  pad.addEventListener("pointerdown", (event) => {
    const place = pad.getBoundingClientRect();
    const share = (at, from, size) => Math.round(100 * Math.min(Math.max((at - from) / size, 0), 1));
    const point = [share(event.clientX, place.left, place.width), 100 - share(event.clientY, place.top, place.height)];
    if (points.length === 3) points = [];
    if (points.length === 2 && !(point[0] > points[1][0] && point[1] > points[1][1])) return;
    points.push(point);
    show();
  });
  show();
})();
