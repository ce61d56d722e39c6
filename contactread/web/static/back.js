// From an error back to the form, as it was filled in: only the browser knows where that was.
"use strict";
(() => {
  const back = document.getElementById("back");
  if (history.length < 2) return;
  back.hidden = false;
  back.addEventListener("click", () => history.back());
})();
