// Dragging the corners of teeth. Every change is read again at once; nothing is kept before "Keep this".
"use strict";
(() => {
  const editor = document.getElementById("editor");
  if (!editor) return;
  const { sha256, job, back } = editor.dataset;
  const says = document.getElementById("says"), stage = document.getElementById("stage");
  const picture = document.getElementById("picture"), lines = document.getElementById("lines");
  const loupe = document.getElementById("loupe"), button = (id) => document.getElementById(id);
  const NAMES = ["toe_root", "toe_top", "heel_top", "heel_root"];
  const WORDS = { toe_root: "toe, root", toe_top: "toe, top", heel_top: "heel, top", heel_root: "heel, root" };
  const path = (what) => `/api/v1/photos/${sha256}/${what}${job ? `?job=${job}` : ""}`;
  let found = [], state = { flank: null, moved: {}, left_out: {}, marked: [] }, overlay = null, flank = null;
  let size = [1, 1], chosen = 0, zoom = 1, corner = null, changed = false;
  let byHand = false;  // no teeth were found: those that the person marks stand in their place
  const past = [];

  const copy = (value) => JSON.parse(JSON.stringify(value));
  const corners = (k) => (byHand ? state.marked[k] : state.moved[k] || found[k]);
  const teeth = () => (byHand ? state.marked : found);
  const make = (name, attributes, parent) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    parent.append(made);
    return made;
  };

  async function json(address, body) {
    const answer = await fetch(address, body && { method: "POST", body: JSON.stringify(body), headers: { "content-type": "application/json" } });
    const given = await answer.json();
    if (!answer.ok) throw new Error(`${given.error.message} ${given.error.next_step}`);
    return given;
  }
  const trouble = (error) => { says.textContent = error instanceof TypeError ? "No connection. Try again when it is back." : error.message; };

  // ---- Drawing ----
  const under = make("g", {}, lines), over = make("g", {}, lines);
  const scale = () => picture.clientWidth / size[0];
  const outline = (k) => NAMES.map((name) => corners(k)[name]).join(" ");
  function draw() {
    if (!picture.clientWidth) return;  // not laid out yet
    lines.setAttribute("viewBox", `-0.5 -0.5 ${size[0]} ${size[1]}`);
    lines.setAttribute("width", picture.clientWidth);
    lines.setAttribute("height", picture.clientHeight);
    under.replaceChildren();
    for (const tooth of overlay ? overlay.teeth : []) make("polygon", { class: "read", points: tooth.outline.join(" ") }, under);
    for (const patch of (overlay ? overlay.teeth : []).flatMap((tooth) => tooth.patches)) {
      make("polygon", { class: "halo", points: patch.join(" ") }, under);
      make("polygon", { class: "patch", points: patch.join(" ") }, under);
    }
    if (overlay && overlay.zone) make("polygon", { class: "zone", points: overlay.zone.join(" ") }, under);
    if (corner) { follow(); return; }  // what the finger holds stays
    const held = document.activeElement && document.activeElement.getAttribute("data-corner");
    over.replaceChildren();
    teeth().forEach(drawTooth);
    if (teeth()[chosen] && !state.left_out[chosen]) NAMES.forEach(handle);
    const again = held && over.querySelector(`[data-corner="${held}"]`);
    if (again) again.focus({ preventScroll: true });
  }
  function drawTooth(_, k) {
    const out = state.left_out[k], words = out === "struck" ? "struck" : "not rolled";
    const group = make("g", { class: `tooth${k === chosen ? " chosen" : ""}${out ? " out" : ""}` }, over);
    const shape = make("polygon", { class: "flank", points: outline(k), tabindex: "0", role: "button",
      "aria-label": `Tooth ${k + 1}${out ? `, ${words}` : ""}`, "aria-pressed": String(k === chosen) }, group);
    const choose = () => { if (chosen !== k) { chosen = k; tools(); draw(); } };
    shape.addEventListener("click", choose);
    shape.addEventListener("keydown", (event) => { if (event.key === "Enter" || event.key === " ") { event.preventDefault(); choose(); } });
    if (!out) return;
    const middle = [0, 1].map((axis) => NAMES.reduce((sum, name) => sum + corners(k)[name][axis], 0) / 4);
    make("text", { x: middle[0], y: middle[1], "text-anchor": "middle", "font-size": 16 / scale() }, group).textContent = words;
  }
  function follow() {
    over.querySelector(".chosen .flank").setAttribute("points", outline(chosen));
    const [x, y] = corners(chosen)[corner.name];
    for (const each of over.querySelectorAll(`[data-of="${corner.name}"]`)) {
      if (each.tagName === "text") { each.setAttribute("x", x); each.setAttribute("y", y - 10 / scale()); }
      else { each.setAttribute("cx", x); each.setAttribute("cy", y); }
    }
  }
  function handle(name) {
    const [x, y] = corners(chosen)[name];
    const grip = make("circle", { class: "corner", cx: x, cy: y, r: 24 / scale(), tabindex: "0", role: "button", "data-corner": name,
      "data-of": name, "aria-label": `Tooth ${chosen + 1}, corner ${WORDS[name]}. Arrow keys move it.` }, over);
    make("circle", { class: "mark", cx: x, cy: y, r: 6 / scale(), "data-of": name }, over);
    make("text", { x, y: y - 10 / scale(), "text-anchor": "middle", "font-size": 12 / scale(), "data-of": name }, over).textContent = byHand ? WORDS[name] : WORDS[name].split(",")[0];
    grip.addEventListener("pointerdown", (event) => {
      event.preventDefault();
      keepPast();
      const start = place(event), from = corners(chosen)[name];
      corner = { name, id: event.pointerId, offset: [from[0] - start[0], from[1] - start[1]] };
      addEventListener("pointermove", drag);
      addEventListener("pointerup", release);
      addEventListener("pointercancel", release);
      grip.focus({ preventScroll: true });
      magnify(from, event);
    });
    grip.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
    grip.addEventListener("keydown", (event) => {
      const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!by) return;
      event.preventDefault();
      keepPast();
      const step = (event.shiftKey ? 10 : 1) * Math.max(1, 1 / scale()), at = corners(chosen)[name];
      move(name, [at[0] + step * by[0], at[1] + step * by[1]]);
    });
  }
  function place(event) {
    const box = picture.getBoundingClientRect();
    return [(event.clientX - box.left) / scale() - 0.5, (event.clientY - box.top) / scale() - 0.5];
  }
  function drag(event) {
    if (!corner || event.pointerId !== corner.id) return;
    const at = place(event).map((value, axis) => value + corner.offset[axis]);
    move(corner.name, at);
    magnify(at, event);
  }
  function release(event) {
    if (!corner || event.pointerId !== corner.id) return;
    removeEventListener("pointermove", drag);
    removeEventListener("pointerup", release);
    removeEventListener("pointercancel", release);
    corner = null;
    loupe.hidden = true;
    read();
  }
  function move(name, at) {
    const moved = { ...copy(corners(chosen)), [name]: at.map((value) => Math.round(10 * value) / 10) };
    if (byHand) state.marked[chosen] = moved; else state.moved[chosen] = moved;
    draw();
    read();
  }
  // What the finger hides, three times as large, in the corner away from it.
  function magnify(at, event) {
    const pen = loupe.getContext("2d"), side = loupe.width, times = 3 * scale(), natural = picture.naturalWidth / size[0];
    loupe.hidden = false;
    loupe.style.left = event.clientX < innerWidth / 2 ? `${innerWidth - side - 14}px` : "8px";
    pen.fillStyle = "#888";
    pen.fillRect(0, 0, side, side);
    const span = side / times;
    pen.drawImage(picture, (at[0] + 0.5 - span / 2) * natural, (at[1] + 0.5 - span / 2) * natural, span * natural, span * natural, 0, 0, side, side);
    const put = (point) => [(point[0] - at[0]) * times + side / 2, (point[1] - at[1]) * times + side / 2];
    for (const [width, colour] of [[5, "#000"], [2, "#fff"]]) {
      pen.beginPath();
      NAMES.forEach((each, k) => pen[k ? "lineTo" : "moveTo"](...put(corners(chosen)[each])));
      pen.closePath();
      pen.lineWidth = width;
      pen.strokeStyle = colour;
      pen.stroke();
    }
    pen.beginPath();
    pen.arc(side / 2, side / 2, 7, 0, 7);
    pen.stroke();
  }

  // ---- Reading along ----
  let busy = false, stale = false;
  async function read() {
    if (byHand && state.marked.every((_, k) => state.left_out[k])) {
      says.textContent = "No teeth were found. Add a tooth and drag its corners onto the true ones.";
      overlay = null;
      draw();
      return;
    }
    if (busy) { stale = true; return; }
    busy = true;
    do {
      stale = false;
      try {
        const began = performance.now();
        const seen = await json(path("correction"), state);
        editor.dataset.readIn = String(Math.round(performance.now() - began));
        if (!stale) show(seen);
      } catch (error) { trouble(error); }
    } while (stale);
    busy = false;
    editor.dataset.reads = String(Number(editor.dataset.reads || 0) + 1);
  }
  function show(seen) {
    overlay = seen.overlay;
    if (seen.flank) flank = seen.flank;
    if (seen.pattern) {
      const [u, v] = seen.pattern.centroid.map((value) => `${(100 * value).toFixed(1)} %`);
      says.textContent = shown(`${seen.side === "drive" ? "Drive side" : "Coast side"}: centre ${u} of the length from the toe, ${v} of the height from the root.`);
    } else if (seen.refusal) { says.textContent = `${seen.refusal.message} ${seen.refusal.next_step}`; }
    draw();
  }
  function keepPast() { past.push(copy(state)); changed = true; tools(); }
  function tools() {
    button("undo").disabled = !past.length;
    button("strike").textContent = state.left_out[chosen] === "struck" ? "Take back in" : "Strike tooth";
    button("unrolled").textContent = state.left_out[chosen] === "unrolled" ? "Was rolled" : "Not rolled";
  }
  function leaveOut(how) {
    keepPast();
    if (state.left_out[chosen] === how) delete state.left_out[chosen]; else state.left_out[chosen] = how;
    tools();
    draw();
    read();
  }
  button("strike").addEventListener("click", () => leaveOut("struck"));
  button("unrolled").addEventListener("click", () => leaveOut("unrolled"));
  button("undo").addEventListener("click", () => {
    if (!past.length) return;
    const before = past.pop(), swapped = before.flank !== state.flank;
    state = before;
    chosen = Math.max(0, Math.min(chosen, teeth().length - 1));
    tools();
    if (swapped) load(true); else { draw(); read(); }
  });
  button("swap").addEventListener("click", () => {
    keepPast();
    state = { ...state, flank: (state.flank || flank) === "convex" ? "concave" : "convex", moved: {} };
    if (!byHand) state.left_out = {};
    load(true);
  });
  button("found").addEventListener("click", () => {
    keepPast();
    state = { flank: null, moved: {}, left_out: {}, marked: [] };
    load(true);
  });
  // A tooth like the chosen one, beside it; the first one in the middle of what is seen.
  button("add").addEventListener("click", () => {
    if (state.marked.length >= 24) return;
    keepPast();
    let made;
    if (state.marked.length) {
      const of = corners(chosen), heights = NAMES.map((name) => of[name][1]);
      const low = Math.max(...heights), tall = low - Math.min(...heights), down = (low + 1.2 * tall < size[1] ? 1.2 : -1.2) * tall;
      made = Object.fromEntries(NAMES.map((name) => [name, [of[name][0], Math.round(of[name][1] + down)]]));
    } else {
      const at = (x, y) => [Math.round((stage.scrollLeft + x * stage.clientWidth) / scale()), Math.round((stage.scrollTop + y * stage.clientHeight) / scale())];
      made = { toe_root: at(0.3, 0.6), toe_top: at(0.3, 0.4), heel_top: at(0.7, 0.4), heel_root: at(0.7, 0.6) };
    }
    state.marked.push(made);
    chosen = state.marked.length - 1;
    tools();
    draw();
    read();
  });
  function zoomTo(times) {
    if (!picture.clientWidth) { requestAnimationFrame(() => zoomTo(times)); return; }
    zoom = times;
    picture.style.width = `${100 * zoom}%`;
    button("zoom").textContent = zoom >= 4 ? "Zoom out" : "Zoom in";
    draw();
    const shape = over.querySelector(".chosen .flank");
    if (!shape) return;
    const box = shape.getBoundingClientRect(), frame = stage.getBoundingClientRect();
    stage.scrollBy(box.x + box.width / 2 - frame.x - frame.width / 2, box.y + box.height / 2 - frame.y - frame.height / 2);
  }
  button("zoom").addEventListener("click", () => zoomTo(zoom >= 4 ? 1 : 2 * zoom));
  button("keep").addEventListener("click", async () => {
    button("keep").disabled = true;
    const untouched = !state.flank && !Object.keys(state.moved).length && !Object.keys(state.left_out).length && !state.marked.length;
    try {
      await json(path("correction"), { ...state, keep: true, as_found: untouched });
      changed = false;
      location.assign(back);
    } catch (error) { trouble(error); button("keep").disabled = false; }
  });
  addEventListener("beforeunload", (event) => { if (changed) event.preventDefault(); });
  addEventListener("resize", draw);
  picture.addEventListener("load", draw);

  // ---- Beginning ----
  async function load(again) {
    try {
      const asked = again ? `${job ? "&" : "?"}flank=${state.flank || ""}` : "";
      const seen = await json(path("teeth") + asked);
      ({ flank, size } = seen);
      found = seen.teeth;
      if (!again) state = seen.correction;
      byHand = state.marked.length > 0 || !found.length;
      button("add").hidden = !byHand;
      chosen = biggest();
      tools();
      zoomTo(fitting());
      await read();
    } catch (error) { trouble(error); }
  }
  const side = (p, q) => Math.hypot(p[0] - q[0], p[1] - q[1]);
  function biggest() {
    const area = (k) => {
      const p = NAMES.map((name) => corners(k)[name]);
      return Math.abs(p.reduce((sum, [x, y], i) => sum + x * p[(i + 1) % 4][1] - p[(i + 1) % 4][0] * y, 0));
    };
    return teeth().reduce((best, _, k) => (area(k) > area(best) ? k : best), 0);
  }
  // So large that a finger tells root from top.
  function fitting() {
    if (!teeth()[chosen]) return 1;
    const c = corners(chosen), low = Math.min(side(c.toe_root, c.toe_top), side(c.heel_root, c.heel_top));
    const now = low * stage.clientWidth / size[0];
    return now > 50 ? 1 : now > 25 ? 2 : 4;
  }
  const begin = () => load(false);
  if (picture.complete && picture.naturalWidth) begin(); else picture.addEventListener("load", begin, { once: true });
})();
