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
    grow(null);
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
    const pipe = all("a.stretch[data-findings]").find((one) => one.dataset.stretch === stretch);
    for (const number of pipe ? pipe.dataset.findings.split(" ").slice(0, 4) : []) {
      const told = document.getElementById(`finding-${number}`);
      const said = document.createElement("p");
      const link = document.createElement("a");
      link.href = `#finding-${number}`;
      link.textContent = number;
      said.append(link, ` ${words(told.querySelector(".said"))} `, told.querySelector(".cure").textContent);
      facts.append(said);
    }
  };
  const words = (said) => Array.from(said.childNodes).filter((one) => one.nodeType === 3).map((one) => one.data).join("").trim();

  const grow = (opening) => {
    for (const one of all(".rod, a.opening")) one.classList.remove("on", "chosen");
    if (!opening) return;
    // Taken away and put back, so that it grows anew.
    void document.body.offsetWidth;
    for (const one of all(".rod")) one.classList.toggle("on", one.dataset.opening === opening.dataset.opening);
    opening.classList.add("chosen");
    facts.replaceChildren(opening.dataset.said);
    facts.hidden = false;
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
    const opening = event.target.closest("a.opening");
    if (opening) {
      event.preventDefault();
      show(null);
      grow(opening);
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

  addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    light(null);
    show(null);
  });

  // One stop for the tab key in each sketch; the arrows go on from there.
  for (const sketch of all("#picture svg, .change svg")) {
    const stops = Array.from(sketch.querySelectorAll("a"));
    stops.forEach((one, k) => one.setAttribute("tabindex", k ? "-1" : "0"));
    sketch.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
      const here = stops.indexOf(document.activeElement);
      if (!step || here < 0) return;
      event.preventDefault();
      const next = stops[(here + step + stops.length) % stops.length];
      stops.forEach((one) => one.setAttribute("tabindex", one === next ? "0" : "-1"));
      next.focus();
    });
  }

  const water = document.getElementById("water");
  if (water) {
    const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const run = (on) => {
      root.classList.toggle("runs", on);
      water.setAttribute("aria-pressed", String(on));
      water.textContent = on ? "Stop the water" : "Let the water run";
    };
    water.hidden = still;
    water.addEventListener("click", () => run(!root.classList.contains("runs")));
    run(!still);
  }

  const change = document.getElementById("change");
  if (change) {
    const cover = change.closest(".change");
    cover.classList.add("together");
    change.addEventListener("input", () => cover.style.setProperty("--changed", change.value / 100));
  }

  const hour = document.getElementById("hour");
  if (hour) {
    const through = hour.closest(".through");
    const { clock, vessels, pumps } = JSON.parse(through.dataset.moments);
    const waters = Array.from(through.querySelectorAll("path.water"));
    const now = () => {
      const k = Number(hour.value);
      for (const one of waters) one.setAttribute("transform", `translate(0 ${vessels[one.dataset.vessel].down[k]})`);
      const depths = Object.entries(vessels).map(([name, { depth }]) => `${name} ${depth[k]}`);
      through.querySelector("output").textContent = `${clock[k]} · ${pumps[k] || "no pump"} running · ${depths.join(" · ")}`;
      hour.setAttribute("aria-valuetext", clock[k]);
    };
    hour.addEventListener("input", now);
    now();
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
