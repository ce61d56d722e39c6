// A form is sent only while this phone is paired and the computer is reached. Else it stays as it was filled in,
// and says what to do; after pairing in another tab the same button sends it, under the new pairing's key.
"use strict";
addEventListener("submit", async (event) => {
  const form = event.target, button = event.submitter;
  if (event.defaultPrevented || form.method !== "post" || form.dataset.sure) return;
  event.preventDefault();
  if (form.dataset.asks) return;
  form.dataset.asks = "1";
  let says = "The computer isn’t reached. Go nearer to the access point, then press it again.";
  try {
    const answer = await fetch("/api/v1/phone", { signal: AbortSignal.timeout(15000) }), body = await answer.json();
    if (answer.ok) {
      const to = new URL(form.action);
      to.searchParams.set("key", body.key);
      form.action = to;
      says = "";
    } else {
      says = `${body.error.message} ${body.error.next_step} Then come back to this page and press it again.`;
    }
  } catch { /* not reached */ }
  delete form.dataset.asks;
  form.querySelector(".unsent")?.remove();
  if (says) {
    const line = document.createElement("p");
    line.className = "trouble unsent";
    line.setAttribute("role", "alert");
    line.textContent = `${says} What you wrote is kept here.`;
    form.append(line);
    dispatchEvent(new Event("unsent"));
    return;
  }
  form.dataset.sure = "1";
  form.requestSubmit(button);
  delete form.dataset.sure;
});
