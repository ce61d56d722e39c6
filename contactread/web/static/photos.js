// Photos wait here until they are sent: over a lost connection, and over a reload of the page.
"use strict";
(() => {
  const list = document.getElementById("photos"), hashes = document.getElementById("hashes");
  const lost = document.getElementById("lost"), wait = document.getElementById("wait");
  const ask = document.getElementById("ask"), go = document.getElementById("go"), job = document.getElementById("job");
  const most = Number(list.dataset.most), noConnection = lost.textContent;
  const waiting = [];  // {key, file, item}; key: of what is kept, promised
  const known = new Set();  // keys of all that this page has met
  let sending = 0, asked = false, unpaired = false;

  // ---- Kept in the browser until sent; a browser that can't, or takes too long, sends all the same ----
  const store = new Promise((done) => {
    setTimeout(() => done(null), 3000);
    try {
      const open = indexedDB.open("contactread", 1);
      open.onupgradeneeded = () => open.result.createObjectStore("waiting", { autoIncrement: true });
      open.onsuccess = () => done(open.result);
      open.onerror = () => done(null);
    } catch { done(null); }
  });
  async function change(what) {
    const base = await store;
    if (!base) return undefined;
    return new Promise((done) => {
      const request = what(base.transaction("waiting", "readwrite").objectStore("waiting"));
      request.onsuccess = () => done(request.result);
      request.onerror = () => done(undefined);
    });
  }

  function row(name, source) {
    const item = document.createElement("li"), picture = document.createElement("img"), words = document.createElement("p");
    picture.alt = "";
    picture.src = source;
    const strong = document.createElement("strong");
    words.append(strong, document.createElement("span"));
    item.append(picture, words);
    item.dataset.status = "waiting";
    list.append(item);
    say(item, "Waiting", name);
    return item;
  }
  function say(item, what, more) {
    item.querySelector("strong").textContent = what;
    item.querySelector("span").textContent = more ? ` ${more}` : "";
  }
  function drop(item) {
    const picture = item.querySelector("img");
    if (picture.src.startsWith("blob:")) URL.revokeObjectURL(picture.src);
    item.remove();
    ready();
  }

  function add(file) {
    if (list.children.length >= most) {
      refuse(row(file.name, ""), `${file.name}:`, { message: `Only ${most} photos go into one answer.`, next_step: "" });
      return;
    }
    const key = change((kept) => kept.add(file));
    key.then((number) => known.add(number));
    enqueue(key, file);
  }
  async function forget(key) {
    const number = await key;
    if (number !== undefined) await change((kept) => kept.delete(number));
  }
  function enqueue(key, file) {
    waiting.push({ key, file, item: row(file.name, URL.createObjectURL(file)) });
    ready();
    pump();
  }

  async function pump() {
    while (!unpaired && sending < 2 && waiting.length) {
      const next = waiting.shift();
      sending += 1;
      send(next).finally(() => { sending -= 1; ready(); pump(); });
    }
  }
  async function send(photo) {
    const { item, file, key } = photo;
    for (let turn = 0; ; turn += 1) {
      item.dataset.status = "sending";
      say(item, "Reading …", file.name);
      let answer, body;
      try {
        answer = await fetch(`/api/v1/photos?name=${encodeURIComponent(file.name)}&job=${job.value}`,
          { method: "POST", body: file, headers: { "content-type": "application/octet-stream" } });
        body = await answer.json();
        if (!unpaired) lost.hidden = true;
      } catch {
        lost.textContent = noConnection;
        lost.hidden = false;
        item.dataset.status = "waiting";
        say(item, "Waits for the connection", file.name);
        await again(Math.min(15, 1 + 2 * turn));
        continue;
      }
      if (answer.status === 503 || answer.status === 429) { await again(3 + turn); continue; }
      if (answer.status === 401 || answer.status === 507) {  // no fault of the photo: it stays until it can be sent
        lost.textContent = `${body.error.message} ${body.error.next_step} The photos wait here.`;
        lost.hidden = false;
        item.dataset.status = "waiting";
        say(item, "Waits", file.name);
        if (answer.status === 507) { await again(15); continue; }
        unpaired = true;
        asked = false;
        waiting.unshift(photo);
        return;
      }
      await forget(key);
      if (answer.ok) read(item, body); else refuse(item, `${file.name}:`, body.error);
      return;
    }
  }
  function again(seconds) {
    return new Promise((done) => {
      const timer = setTimeout(over, 1000 * seconds);
      function over() { clearTimeout(timer); removeEventListener("online", over); done(); }
      addEventListener("online", over);
    });
  }

  function read(item, photo) {
    const twin = list.querySelector(`li[data-sha256="${photo.sha256}"]`);
    if (twin && twin !== item) { drop(item); return; }
    item.dataset.sha256 = photo.sha256;
    item.dataset.status = photo.status;
    item.dataset.side = photo.side || "";
    if (photo.status === "read") {
      say(item, photo.side === "drive" ? "Drive side" : "Coast side", photo.flags.map((flag) => flag.short).join(", "));
    } else {
      say(item, "Not read.", `${photo.refusal.message} ${photo.refusal.next_step}`);
    }
    const look = document.createElement("a");
    look.className = "button small";
    look.textContent = "Look";
    look.href = `/photos/${photo.sha256}${job.value ? `?job=${job.value}` : ""}`;
    item.append(look);
    remember();
  }
  function refuse(item, name, error) {
    item.dataset.status = "failed";
    item.querySelector("img").hidden = true;
    say(item, "Not taken.", `${name} ${error.message} ${error.next_step}`);
    const away = document.createElement("button");
    away.type = "button";
    away.textContent = "Away";
    away.addEventListener("click", () => drop(item));
    item.append(away);
  }
  function remember() {
    const named = [...list.querySelectorAll("li[data-sha256]")].map((item) => item.dataset.sha256);
    const address = new URL(location.href);
    address.searchParams.delete("photo");
    named.forEach((sha256) => address.searchParams.append("photo", sha256));
    history.replaceState(null, "", address);
    for (const form of [hashes, document.getElementById("choose")]) {
      form.querySelectorAll("input[name=photo]").forEach((each) => each.remove());
      named.forEach((sha256) => {
        const hidden = document.createElement("input");
        Object.assign(hidden, { type: "hidden", name: "photo", value: sha256 });
        form.append(hidden);
      });
    }
  }
  function ready() {
    const open = sending + waiting.length;
    const items = [...list.querySelectorAll("li[data-sha256]")];
    go.disabled = !items.length && !open;
    const sides = new Set(items.map((item) => item.dataset.side).filter(Boolean));
    wait.textContent = asked && open ? "The answer comes as soon as the photos are read."
      : !open && items.length && sides.size < 2 ? "Photograph the other side, too." : "";
    if (asked && !open) { asked = false; ask.requestSubmit(); }
  }

  addEventListener("unsent", () => { go.textContent = "Answer"; });
  for (const id of ["camera", "gallery"]) {
    const input = document.getElementById(id);
    const take = () => { [...input.files].forEach(add); input.value = ""; };
    input.addEventListener("change", take);
    take();  // what was chosen before this script was there
  }
  ask.addEventListener("submit", (event) => {
    if (sending + waiting.length) { event.preventDefault(); asked = true; ready(); return; }
    go.textContent = "Working it out …";
  });
  for (const back of ["pageshow", "focus"]) {  // perhaps paired again meanwhile, in another tab
    addEventListener(back, () => { go.textContent = "Answer"; unpaired = false; pump(); });
  }
  job.addEventListener("change", () => document.getElementById("choose").requestSubmit());
  // What waited when the page was left.
  store.then((base) => {
    if (!base) return;
    const walk = base.transaction("waiting").objectStore("waiting").openCursor();
    walk.onsuccess = () => {
      if (!walk.result) return;
      if (!known.has(walk.result.key)) enqueue(Promise.resolve(walk.result.key), walk.result.value);
      walk.result.continue();
    };
  });
  ready();
})();
