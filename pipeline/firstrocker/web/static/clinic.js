// While a run goes, its part of the page is asked for again and put in place. Without this, the page reloads itself.
"use strict";
const again = async () => {
  const part = document.getElementById("progress");
  if (!part || !part.dataset.again) return;
  try {
    const answer = await fetch(part.dataset.again, { credentials: "same-origin" });
    if (answer.redirected) return location.reload();
    if (answer.ok) {
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("progress");
      if (!fresh.dataset.again) return location.reload();
      if (fresh.textContent !== part.textContent) part.replaceWith(fresh);
    }
  } catch { /* a slow or broken line: try again */ }
  setTimeout(again, 700);
};
again();
