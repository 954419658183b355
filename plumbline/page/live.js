"use strict";
(() => {
  const SAID = {
    checking: "Checking what you saved …",
    lost: "The layout file is gone. This is the last check of it.",
    gone: "Plumbline has stopped. This is its last check, and it may be out of date.",
  };
  const note = document.createElement("p");
  note.className = "live";
  note.setAttribute("role", "status");
  document.body.prepend(note);
  const tell = (state) => {
    const said = SAID[state] || "";
    if (note.textContent !== said) note.textContent = said;
    document.documentElement.classList.toggle("stale", state === "gone" || state === "lost");
  };

  // The place on the page, and the finding that is lit, by its words: its number may be another one after the next check.
  const words = (one) => one.querySelector(".said").textContent.replace(/^\s*\d+/, "").trim();
  const keep = () => {
    const lit = document.querySelector("li.finding.lit");
    sessionStorage.setItem("plumbline", JSON.stringify({ top: scrollY, lit: lit && words(lit) }));
  };
  const back = () => {
    const kept = JSON.parse(sessionStorage.getItem("plumbline") || "null");
    sessionStorage.removeItem("plumbline");
    if (!kept) return;
    const lit = Array.from(document.querySelectorAll("li.finding")).find((one) => words(one) === kept.lit);
    const badge = lit && lit.querySelector("[data-light]");
    if (badge) badge.click();
    scrollTo({ top: kept.top, behavior: "instant" });
  };

  const shown = document.documentElement.dataset.stamp;
  const ask = async () => {
    try {
      const [stamp, state] = (await (await fetch("/stamp", { cache: "no-store" })).text()).split(" ");
      tell(state);
      if (stamp !== shown) {
        keep();
        location.reload();
        return;
      }
    } catch {
      tell("gone");
    }
    setTimeout(ask, 700);
  };
  addEventListener("load", back);
  ask();
})();
