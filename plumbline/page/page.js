"use strict";
(() => {
  const root = document.documentElement;
  root.classList.add("js");
  const all = (what) => Array.from(document.querySelectorAll(what));
  const facts = document.getElementById("pipe-facts");
  const picture = document.getElementById("picture");

  const seen = (box) => {
    const rect = box.getBoundingClientRect();
    return rect.top < innerHeight * 0.7 && rect.bottom > innerHeight * 0.2;
  };

  const light = (number) => {
    for (const one of all(".light")) one.classList.toggle("on", one.dataset.finding === number);
    for (const one of all("[data-light]")) one.setAttribute("aria-pressed", String(one.dataset.light === number));
    for (const one of all("li.finding")) one.classList.toggle("lit", one.dataset.finding === number);
  };

  const show = (stretch) => {
    const row = all("tr[data-stretch]").find((one) => one.dataset.stretch === stretch);
    for (const one of all("a.stretch")) one.classList.toggle("chosen", one.dataset.stretch === stretch);
    for (const one of all("tr[data-stretch]")) one.classList.toggle("chosen", one === row);
    facts.replaceChildren();
    facts.hidden = !row;
    if (!row) return;
    const heads = Array.from(row.closest("table").querySelectorAll("thead th"));
    const title = document.createElement("b");
    title.textContent = row.cells[0].textContent;
    const list = document.createElement("dl");
    for (let i = 1; i < row.cells.length; i += 1) {
      if (!row.cells[i].textContent) continue;
      const pair = document.createElement("div");
      const name = document.createElement("dt");
      const value = document.createElement("dd");
      name.textContent = heads[i].textContent;
      value.textContent = row.cells[i].textContent;
      pair.append(name, value);
      list.append(pair);
    }
    facts.append(title, list);
  };

  document.addEventListener("click", (event) => {
    const badge = event.target.closest("[data-light]");
    if (badge) {
      event.preventDefault();
      light(badge.getAttribute("aria-pressed") === "true" ? null : badge.dataset.light);
      if (!seen(picture)) picture.scrollIntoView({ block: "nearest" });
      return;
    }
    const number = event.target.closest("a.number");
    if (number) {
      light(number.dataset.finding);
      return;
    }
    const pipe = event.target.closest("a.stretch");
    if (pipe) {
      event.preventDefault();
      show(pipe.dataset.stretch);
    }
  });
  for (const badge of all("[data-light]")) {
    badge.setAttribute("role", "button");
    badge.setAttribute("aria-pressed", "false");
    badge.addEventListener("keydown", (event) => {
      if (event.key === " ") {
        event.preventDefault();
        badge.click();
      }
    });
  }

  let opened = [];
  addEventListener("beforeprint", () => {
    opened = all("details:not([open])");
    for (const one of opened) one.open = true;
  });
  addEventListener("afterprint", () => {
    for (const one of opened) one.open = false;
  });
})();
