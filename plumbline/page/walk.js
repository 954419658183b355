"use strict";
(() => {
  const WAYS = ["up", "north", "west", "east", "south", "down"];
  const AXES = { up: [0, 0, 1], down: [0, 0, -1], north: [0, 1, 0], south: [0, -1, 0], east: [1, 0, 0], west: [-1, 0, 0] };
  const FITTINGS = ["elbow", "sweep", "tee", "cap", "ball valve", "union", "bend 45", "wye", "check valve", "gate valve", "strainer", "flow meter", "plug"];
  const TURNS = ["elbow", "sweep", "bend", "bend 45", "bend 22.5", "cap", "tee", "wye"];
  const NAMED = { tee: "t", wye: "w", cross: "cross ", "three-way valve": "valve ", cap: "cap ", union: "union ", "ball valve": "valve ", "gate valve": "valve ", "diaphragm valve": "valve ", "butterfly valve": "valve " };
  const VESSEL = [
    ["base", "Inside floor above the ground", "length"], ["rim", "Rim above its floor", "length"], ["water", "Depth of water", "length"],
    ["area", "Surface of the water", "area"], ["wants", "Flow it should get", "flow"],
  ];
  const UNITS = {
    length: { m: ["m", "cm", "mm"], ft: ["ft", "in"] },
    area: { m: ["m^2"], ft: ["ft^2"] },
    flow: { m: ["L/min", "L/h"], ft: ["gal/min", "gal/h"] },
    volume: { m: ["L", "m^3"], ft: ["gal"] },
    temperature: { m: ["degC"], ft: ["degF"] },
    pressure: { m: ["bar", "kPa"], ft: ["psi"] },
    mass: { m: ["g", "kg"], ft: ["lb"] },
    "mass rate": { m: ["kg/month", "g/day"], ft: ["lb/month"] },
    ...Object.fromEntries(Object.entries({
      power: ["W"], time: ["min", "s", "h", "days", "months"], angle: ["deg"], ratio: ["%", ""], slope: ["%"], density: ["kg/m^3"], viscosity: ["Pa s"],
    }).map(([what, all]) => [what, { m: all, ft: all }])),
  };
  UNITS.head = UNITS.fall = UNITS.length;
  const UNIT_SAID = { "": "plain", degC: "°C", degF: "°F", deg: "°", "m^2": "m²", "ft^2": "ft²", "m^3": "m³", "kg/m^3": "kg/m³" };
  const GROUPS = { runs: "runs", "level switch": "switch", airlift: "airlift", gutter: "gutter", place: "place", electricity: "electricity", wish: "wish", "hose supply": "hose supply" };
  const LISTS = { areas: ["height above its floor", "length", "surface there", "area"], curve: ["flow", "flow", "head there", "length"] };
  const byId = (id) => document.getElementById(id);
  const screen = byId("screen");
  let state = null;
  let words = null;
  let place = { at: "site" };
  let busy = false;

  // ------------------------------------------------------------------ making things

  const make = (tag, facts = {}, ...inside) => {
    const made = document.createElement(tag);
    for (const [name, value] of Object.entries(facts)) {
      if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
      else if (name === "className" || name === "disabled" || name === "value" || name === "type") made[name] = value;
      else made.setAttribute(name, value);
    }
    made.append(...inside.filter((one) => one !== null && one !== undefined));
    return made;
  };
  const button = (said, onclick, look = "", facts = {}) => make("button", { type: "button", className: look, onclick, ...facts }, said);
  const row = (...inside) => make("div", { className: "row" }, ...inside);
  const heading = (said) => make("h2", { tabindex: "-1" }, said);

  // ------------------------------------------------------------------ the server

  const send = async (path, asked) => {
    const answer = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ mark: state.mark, ...asked }) });
    if (!answer.ok) throw new Error(await answer.text());
    return answer.json();
  };
  const act = async (path, asked = {}) => {
    if (busy) return false;
    busy = true;
    document.body.classList.add("busy");
    const before = state.mark;
    try {
      take(await send(path, asked));
    } catch (error) {
      tell(error instanceof TypeError ? "Plumbline does not answer. What was tapped last is not saved; all before it is." : error.message, true);
    }
    busy = false;
    document.body.classList.remove("busy");
    return state.mark !== before;
  };
  const edit = (what) => act("/edit", { edit: what });

  const tell = (said, bad = false) => {
    const news = byId("news");
    news.hidden = !said;
    if (news.textContent !== said) news.textContent = said;
    news.classList.toggle("bad", bad);
  };

  const take = (got) => {
    state = { ...state, ...got };
    tell(got.error || got.news || "", Boolean(got.error));
    if ("svg" in got) {
      drawing(got.svg);
      verdict(got);
      show();
    }
    byId("undo").disabled = !state.undo;
    byId("redo").disabled = !state.redo;
  };

  const verdict = (got) => {
    byId("name").textContent = state.site.name || "Walk";
    document.title = `${state.site.name || "Walk"}: ${got.word}`;
    byId("word").textContent = got.word.charAt(0).toUpperCase() + got.word.slice(1);
    byId("sentence").textContent = got.sentence;
    byId("top").className = `top ${got.verdict}`;
    if (state.waits && state.waits.length) {
      const more = state.waits.length > 3 ? ` and ${state.waits.length - 3} more` : "";
      const said = state.waits.slice(0, 3).map((name) => `'${name}'`).join(", ") + more;
      byId("sentence").textContent += ` Without ${said}, which ${state.waits.length > 1 ? "wait" : "waits"} for a branch.`;
    }
  };

  const drawing = (svg) => {
    const there = byId("picture");
    there.classList.toggle("stale", !svg);
    byId("caption").textContent = svg ? state.caption : state.checking ? "The sketch follows." : there.firstChild ? "The sketch is of the last layout that could be checked." : "";
    if (!svg) return;
    const read = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
    there.replaceChildren(document.importNode(read, true));
    for (const tap of there.querySelectorAll(".tap")) {
      tap.setAttribute("role", "button");
      const step = state.site.lines[tap.dataset.line].steps[tap.dataset.step - 1];
      tap.setAttribute("aria-label", `${tap.dataset.line}, step ${tap.dataset.step}: ${step ? step.said : ""}`);
    }
  };
  const lit = () => {
    for (const one of document.querySelectorAll("#picture .tap")) {
      const here = one.dataset.line === place.line && (!place.step || Number(one.dataset.step) === place.step);
      one.classList.toggle("on", here && Boolean(place.step));
      one.classList.toggle("near", here && !place.step);
    }
    for (const one of document.querySelectorAll("#picture .walker")) one.classList.toggle("on", one.dataset.line === place.line && !place.step);
  };

  // ------------------------------------------------------------------ asking: sheets over the screen

  const sheet = (title, fill, besides = null) =>
    new Promise((done) => {
      const back = document.activeElement;
      const box = make("dialog", { className: "sheet", "aria-label": title });
      const close = (value) => {
        box.close();
        box.remove();
        if (back && back.isConnected) back.focus();
        done(value);
      };
      box.addEventListener("cancel", (event) => {
        event.preventDefault();
        close(null);
      });
      box.append(make("h2", {}, title));
      const first = fill(box, close);
      box.append(row(besides ? button(besides, () => close("")) : null, button("Cancel", () => close(null), "quiet")));
      document.body.append(box);
      box.showModal();
      if (first) first.focus();
    });

  const choose = (title, offers, besides = null) =>
    sheet(title, (box, close) => {
      box.append(make("div", { className: "grid" }, ...offers.map((one) => {
        const [value, said] = Array.isArray(one) ? one : [one, one];
        return button(said, () => close(value), said instanceof Element ? "thing" : "big");
      })));
    }, besides);
  const told = (name, says) => make("span", {}, make("b", {}, name), make("small", {}, says));

  // A value in words, as the file holds it: a text, a list, a group.
  const said = (held) => Array.isArray(held) ? (Array.isArray(held[0]) ? `${held.length} points` : held.map(said).join("; "))
    : held && typeof held === "object" ? Object.entries(held).map(([key, one]) => `${key} ${said(one)}`).join(", ") : held || "";

  // The units that the file measures in come first; a file that measures nothing yet is offered all.
  const units = (what) => {
    const { m = [""], ft = [""] } = UNITS[what] || {};
    const text = JSON.stringify(state.site || {});
    const own = /\d ?(ft|in|gal)\b/.test(text) ? ft : m;
    return { own, others: (own === m ? ft : m).filter((one) => !own.includes(one)), all: !/\d ?(m|cm|mm|ft|in)\b/.test(text) };
  };

  const lastUnit = {};
  const recent = {};
  // What is tapped in, as a text with its unit; in an array where `further` was tapped in place of OK.
  const pad = (title, what = "length", before = "", besides = null, further = null) =>
    sheet(title, (box, close) => {
      const found = /^\s*(-?[\d.]*)\s*(.*)$/.exec(before);
      let digits = found ? found[1] : "";
      let fresh = true;
      let unit = before && found ? found[2] : lastUnit[what] || units(what).own[0];
      const { own, others, all } = units(what);
      const offered = [...new Set([...own, unit, ...others])];
      const shown = make("output", { className: "shown", "aria-live": "polite" });
      const done = (more) => {
        if (!Number.isFinite(Number.parseFloat(digits))) return;
        if (!before) lastUnit[what] = unit;
        const value = `${digits.replace(/\.$/, "")} ${unit}`.trim();
        recent[what] = [value, ...(recent[what] || []).filter((one) => one !== value)].slice(0, 4);
        close(more ? [value] : value);
      };
      const ok = button("OK", () => done(false), "big go");
      const on = further && button(further, () => done(true), "big");
      const say = () => {
        shown.textContent = `${digits || "–"} ${unit ? UNIT_SAID[unit] || unit : ""}`;
        for (const one of box.querySelectorAll(".units [data-unit]")) one.setAttribute("aria-pressed", String(one.dataset.unit === unit));
        for (const one of [ok, on]) if (one) one.disabled = !Number.isFinite(Number.parseFloat(digits));
      };
      const type = (key) => {
        if (key === "⌫") digits = digits.slice(0, -1);
        else if (key === "±") digits = digits.startsWith("-") ? digits.slice(1) : `-${digits}`;
        else if (fresh) digits = key === "." ? "0." : key;
        else if ((key !== "." || !digits.includes(".")) && digits.length < 9) digits += key;
        fresh = false;
        say();
      };
      const keys = ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", "⌫"];
      box.append(...[
        shown,
        make("div", { className: "row units", role: "group", "aria-label": "Unit" }, ...[...offered.map((one) => button(UNIT_SAID[one] || one, () => {
          unit = one;
          say();
        }, "", { "data-unit": one, ...(all || own.includes(one) || one === unit ? {} : { hidden: "" }) })), others.length && !all ? button("…", (event) => {
          for (const one of box.querySelectorAll(".units [hidden]")) one.hidden = false;
          event.target.remove();
        }, "", { "aria-label": "Other units" }) : null, ["length", "temperature"].includes(what) ? button("±", () => type("±"), "", { "aria-label": "Change the sign" }) : null].filter(Boolean)),
        recent[what] ? make("div", { className: "row", role: "group", "aria-label": "As before" }, ...recent[what].map((one) => button(one, () => {
          [, digits, unit] = /^(\S+) ?(.*)$/.exec(one);
          fresh = true;
          say();
        }, "quiet"))) : null,
        make("div", { className: "pad" }, ...keys.map((key) => button(key, () => type(key), "big", key === "⌫" ? { "aria-label": "Take the last figure back" } : {}))),
        make("div", { className: "oks" }, ok, on),
      ].filter(Boolean));
      box.addEventListener("keydown", (event) => {
        if (/^[\d.]$/.test(event.key)) type(event.key);
        else if (event.key === "Backspace") type("⌫");
        else if (event.key === "-") type("±");
        else if (event.key === "Enter" && event.target === box) ok.click();
        else return;
        event.preventDefault();
      });
      box.tabIndex = -1;
      say();
      return box;
    }, besides);

  const ask = (title, before = "", taken = [], type = "text") =>
    sheet(title, (box, close) => {
      const field = make("input", { type, value: before, maxlength: "60", "aria-label": title, autocomplete: "off" });
      const told = make("p", { className: "news bad", role: "alert", hidden: "" });
      const done = () => {
        const said = field.value.trim();
        told.hidden = !taken.includes(said);
        told.textContent = `There is a '${said}' already: give another name.`;
        if (said && told.hidden) close(said);
      };
      field.addEventListener("keydown", (event) => event.key === "Enter" && done());
      box.append(field, told, button("OK", done, "big go"));
      field.addEventListener("focus", () => field.select());
      return field;
    });

  // ------------------------------------------------------------------ asking for whatever the language has a word for

  const several = async (title, [one, first, other, second], least) => {
    const points = [];
    for (;;) {
      const enough = points.length >= least;
      const x = await pad(`${title}, point ${points.length + 1}: ${one}`, first, "", enough ? "That is all" : null);
      if (x === "") return points;
      const y = x && (await pad(`${title}, point ${points.length + 1}: ${other}`, second));
      if (!y) return null;
      points.push([x, y]);
    }
  };
  const curve = async (title, ...others) => {
    const how = await choose(title, [["box", "What its box prints"], ["points", "Points of its curve"], ...others]);
    if (others.some(([other]) => other === how)) return how;
    if (how === "points") return several(title, LISTS.curve, 2);
    const head = how && (await pad("Highest head on its box"));
    const flow = head && (await pad("Largest flow on its box", "flow"));
    return flow ? { "highest head": head, "largest flow": flow } : null;
  };
  const windows = async (title) => {
    const how = await choose(title, [["turns", "On and off by turns"], ["clock", "By the clock"], ["no", "Not at all: it stands by"]]);
    if (how === "no" || !how) return how;
    if (how === "turns") {
      const on = await pad("How long does it run?", "time");
      const off = on && (await pad("How long does it then stand?", "time"));
      return off ? { on, off } : null;
    }
    const found = [];
    for (let more = "more"; more === "more"; more = await choose("Is there another time of the day?", [["more", "Another one"], ["all", "That is all"]])) {
      const from = await ask("From when?", "06:00", [], "time");
      const to = from && (await ask("Till when?", "18:00", [], "time"));
      if (!to) return null;
      found.push({ from, to });
    }
    return found.length > 1 ? found : found[0];
  };
  const both = async (title, what, between, then = what) => {
    const first = await pad(title, what);
    const second = first && (await pad(`${title} ${between}`, then));
    return second ? `${first} ${between} ${second}` : null;
  };
  const among = (word, takes) => {
    const { vessels = {}, pumps = {}, lines = {} } = state.site;
    if (takes !== "text") return null;
    return { in: vessels, vessel: vessels, pump: pumps, line: lines }[word] ? Object.keys({ in: vessels, vessel: vessels, pump: pumps, line: lines }[word])
      : word === "tee" ? [...new Set(state.waits)] : null;
  };
  // A text, a list or a group; null where it was given up, "" where it is to be left out.
  const valueOf = async (word, key, was, title) => {
    const { takes } = key;
    const leave = was === undefined ? null : "Leave it out";
    const offered = key.choices.length ? key.choices : words.choice[takes] || among(word, takes);
    if (UNITS[takes] || takes === "count") return pad(title, takes, typeof was === "string" ? was : "", leave);
    if (takes === "opening") return pad(title, "ratio", typeof was === "string" && /%/.test(was) ? was : "50 %", leave);
    if (offered) return choose(title, offered, leave);
    if (takes === "switch") return choose(title, [["yes", "Yes"]], leave);
    if (takes === "heading") return choose(title, WAYS, leave);
    if (takes === "pipe") return choosePipe(title);
    if (takes === "clock") return ask(title, was, [], "time");
    if (takes === "bores") return both(title, "length", "to");
    if (takes === "caught") return both(title, "volume", "in", "time");
    if (takes === "doubt") return pad(title, "ratio", "", leave);
    if (takes === "aim") return (await choose(title, [["along the wall", "Along the wall"], ["pad", "An angle off the wall"]], leave).then((how) => how === "pad" ? pad(title, "angle") : how));
    if (takes === "curve") return curve(title);
    if (takes === "runs") return windows(title);
    if (takes === "water") return choose(title, [12, 16, 18, 20, 22, 24, 26, 28].map((one) => [`${one} degC`, `${one} °C`]));
    if (takes === "areas") {
      const how = await choose(title, [["same", "The same at every height"], ["points", "Wider or narrower higher up"]], leave);
      return how === "same" ? pad(title, "area") : how === "points" ? several(title, LISTS.areas, 2) : how;
    }
    if (takes === "rods") return named(title, "rod", was || {}, words.rods);
    if (takes === "readings") {
      const one = await fill(`${title}: one more`, "reading", {});
      return one && [...(was || []), one];
    }
    if (GROUPS[takes] || words.tables[takes]) return fill(title, GROUPS[takes] || takes, was || {}, leave);
    return ask(title, typeof was === "string" ? was : "");
  };
  // The values of a group, one by one, on a sheet of its own.
  const fill = (title, table, was, besides = null) =>
    sheet(title, (box, close) => {
      const keys = words.tables[table];
      const held = { ...was };
      const grid = make("div", { className: "grid" });
      const ok = button("OK", () => close(held), "big go");
      const say = () => {
        grid.replaceChildren(...Object.entries(keys).sort(([, one], [, other]) => other.required - one.required).map(([word, key]) =>
          button(told(`${word}: ${said(held[word]) || "–"}`, key.says), async () => {
            const value = await valueOf(word, key, held[word], `${title}: ${word}`);
            if (value === null) return;
            if (value === "") delete held[word];
            else held[word] = value;
            say();
          }, "thing")));
        ok.disabled = !Object.keys(held).length || Object.entries(keys).some(([word, key]) => key.required && !(word in held));
      };
      say();
      box.append(grid, ok);
    }, besides);
  // Groups by name: one is chosen or named, filled in, and stands among the others.
  const named = async (title, table, held, usual) => {
    const name = await choose(title, [...new Set([...Object.keys(held), ...usual])].concat([["", "Another one …"]]));
    if (name === null) return null;
    const own = name || (await ask("What is it called?", "", Object.keys(held)));
    const value = own && (await fill(own, table, held[own] || {}, held[own] ? "Leave it out" : null));
    if (!own || value === null) return null;
    const { [own]: _, ...others } = held;
    return value === "" ? others : { ...others, [own]: value };
  };
  // Buttons for the words of a table that a sheet has no button of its own for: those that the file holds, and all the others.
  const further = (title, keys, held, shown, save, ...besides) => {
    const change = async (word) => {
      const value = await valueOf(word, keys[word], held[word], `${title}: ${word}`);
      if (value !== null) save(word, value === "" ? null : value);
    };
    const there = Object.keys(keys).filter((word) => word in held && !shown.includes(word));
    const others = Object.keys(keys).filter((word) => !(word in held) && !shown.includes(word));
    return make("div", { className: "grid", role: "group", "aria-label": `More of ${title}` }, ...besides.filter(Boolean),
      ...there.map((word) => button(told(said(held[word]), word), () => change(word), "thing")),
      others.length ? button("more to say …", async () => {
        const word = await choose(`What else is there to say of ${title}?`, others.map((one) => [one, told(one, keys[one].says)]));
        if (word) change(word);
      }, "big") : null);
  };

  const names = () => {
    const { vessels = {}, pumps = {}, lines = {} } = state.site;
    const out = [...Object.keys(vessels), ...Object.keys(pumps), ...Object.keys(lines)];
    for (const line of Object.values(lines)) for (const step of line.steps) if (step.details && step.details.id) out.push(step.details.id);
    return out;
  };
  const fresh = (stem, plain = false) => {
    const taken = names();
    if (plain && !taken.includes(stem.trim())) return stem.trim();
    let number = plain ? 2 : 1;
    while (taken.includes(`${stem}${number}`)) number += 1;
    return `${stem}${number}`;
  };

  // ------------------------------------------------------------------ the site

  const listed = (title, kind, entries, add) =>
    make("section", { "aria-label": title },
      make("h3", {}, title),
      make("div", { className: "grid" }, ...entries.map(([name, said]) =>
        button(make("span", {}, make("b", {}, name), make("small", {}, said)), () => go({ at: kind, [kind === "line" ? "line" : "name"]: name }), "thing")),
        button(`+ ${kind[0].toUpperCase()}${kind.slice(1)}`, add, "big add")));

  const vesselSaid = (name, one) => {
    const got = (state.vessels || {})[name];
    const flow = got ? (got.wants ? `${got.gets} of ${got.wants}` : got.gets) : "";
    return [one.holds, flow].filter(Boolean).join(", ");
  };

  const siteScreen = () => {
    const { vessels = {}, pumps = {}, lines = {} } = state.site;
    return [
      heading("The site"),
      listed("Vessels", "vessel", Object.entries(vessels).map(([name, one]) => [name, vesselSaid(name, one)]), addVessel),
      listed("Pumps", "pump", Object.entries(pumps).map(([name, one]) => [name, (state.pumps || {})[name] || (one.in ? `in ${one.in}` : "")]), addPump),
      listed("Lines", "line", Object.entries(lines).map(([name, one]) => [name, `${one.from} to ${one.to}`]), addLine),
      findings(null),
      row(button("Name of the site", async () => {
        const said = await ask("Name of the site", state.site.name);
        if (said) edit({ do: "put", kind: "site", values: { name: said } });
      }, "quiet")),
      further("the site", words.tables.layout, state.site, ["name", "vessels", "pumps", "lines"], (word, value) => edit({ do: "put", kind: "site", values: { [word]: value } })),
    ];
  };

  const findings = (line) => {
    const told = (state.findings || []).filter((one) => (line ? one.line === line : true) && (line || one.level !== "advice"));
    if (!told.length) return null;
    return make("details", { className: "told" }, make("summary", {}, `What to do (${told.length})`),
      make("ol", {}, ...told.slice(0, 20).map((one) => make("li", { className: one.level },
        make("b", {}, { fail: "Fails: ", warn: "Attend to: ", advice: "Advice: " }[one.level]), one.message, make("br"), make("span", { className: "cure" }, `Do: ${one.cure}.`)))),
      make("b", {}, "Care"), make("ul", {}, ...(state.care || []).map((one) => make("li", {}, one))));
  };

  const addVessel = async () => {
    const holds = await choose("What does it hold?", words.holds.map((one) => [one, { fish: "Fish", plants: "Plants", sump: "Sump", header: "Header" }[one] || one[0].toUpperCase() + one.slice(1)]));
    if (!holds) return;
    const name = await ask("What is it called?", fresh(`${{ fish: "tank", plants: "bed" }[holds] || holds} `, holds !== "plants"), names());
    if (!name) return;
    const values = { holds };
    for (const [key, said, what] of VESSEL) {
      if (key === "wants" && holds !== "plants" && holds !== "fish") continue;
      const needed = key === "base" || key === "water";
      const value = await pad(`${name}: ${said.toLowerCase()}`, what, "", needed ? null : key === "wants" && holds === "fish" ? "Any will do" : "Not known");
      if (value === null) return;
      if (value) values[key] = value;
    }
    if (await edit({ do: "put", kind: "vessel", name, values })) go({ at: "site" });
  };

  const addPump = async () => {
    const inside = await choose("Where does it stand?", [...Object.keys(state.site.vessels || {}), ["", "Outside, on a suction line"]]);
    if (inside === null) return;
    const name = await ask("What is it called?", fresh("pump ", true), names());
    if (!name) return;
    const values = inside ? { in: inside } : {};
    const how = await curve(`What is known of ${name}?`, ["airlift", "It is an airlift"]);
    if (how !== "airlift") values.curve = how;
    else {
      values.airlift = await fill(`Airlift ${name}`, "airlift", {});
      values.height = values.airlift && (await pad(`Top of the riser above the floor of ${inside}`));
    }
    if (Object.values(values).every(Boolean) && (await edit({ do: "put", kind: "pump", name, values }))) go({ at: "site" });
  };

  const pipes = () => {
    const used = Object.values(state.site.lines || {}).map((one) => one.pipe).filter(Boolean);
    const usual = units("length").own.includes("ft") ? ["1/2", "3/4", "1", "1 1/4", "1 1/2", "2"].map((size) => `pvc ${size} in sch 40`) : ["pvc 20", "pvc 25", "pvc 32", "pvc 40", "pvc 50", "pvc 63"];
    return [...new Set([...used, ...usual])];
  };
  // Pipe of the kind of sizes that the file measures in comes first.
  const inches = (pipe) => Number(/ in\b/.test(pipe) === units("length").own.includes("ft"));
  const choosePipe = async (title) => {
    const got = await choose(title, [...pipes().map((one) => [one, said(one)]), ["…", "All pipes …"], ["own", "By its bore …"]]);
    return got === "…" ? choose(title, [...words.pipes].sort((one, other) => inches(other) - inches(one))) : got === "own" ? fill(title, "pipe", {}) : got;
  };

  const addLine = async () => {
    const chosen = await choose("Where does the walk begin?", [
      ...Object.keys(state.site.pumps || {}).map((one) => [{ pump: one }, `Pump ${one}`]),
      ...[...new Set(state.waits)].map((one) => [{ tee: one }, `Tee ${one}`]),
      ...Object.keys(state.site.vessels || {}).map((one) => [{ vessel: one }, one]),
      ["", "Somewhere else …"],
    ]);
    if (chosen === null) return;
    const from = chosen || (await fill("Where does the walk begin?", "end", {}));
    if (!from) return;
    if (chosen && from.vessel) {
      const how = await choose(`How does it leave ${from.vessel}?`, [["standpipe", "By a standpipe"], ["siphon", "By a bell or loop siphon"], ["overflow", "By an overflow in the wall"], ["height", "By a port in wall or floor"],
        ["notch", "By a notch in the wall"], ["weir", "Over a wall's whole edge"]]);
      const height = how && (await pad(`Its height above the floor of ${from.vessel}`, "length", how === "standpipe" ? state.site.vessels[from.vessel].water : ""));
      if (!height) return;
      from[how] = height;
      const breaks = how === "siphon" ? await pad("How high does the water stand as it lets go?", "length", "", "Not known") : "";
      if (breaks === null) return;
      if (breaks) from.breaks = breaks;
    }
    const pipe = await choosePipe("Which pipe?");
    if (!pipe) return;
    const stem = from.pump ? "riser" : from.tee ? "branch" : "return";
    const line = await ask("What is the line called?", fresh(`${stem} `, true), names());
    if (!line) return;
    const way = await choose("Where does it go first?", WAYS);
    const far = way && (await howFar(way));
    if (!far) return;
    if (await edit({ do: "line", line, pipe, from, steps: [{ run: far }] })) go({ at: "line", line });
  };

  // ------------------------------------------------------------------ the walk

  const howFar = async (way) => {
    const length = await pad(`How far ${way}?`, "length", "", null, way === "up" || way === "down" ? null : "and falls …");
    if (!Array.isArray(length)) return length ? { [way]: length } : null;
    const down = await pad("How far does it fall on that way?", "fall");
    return down ? { [way]: length[0], down } : null;
  };
  const metres = (said) => {
    const found = /^([\d.]+)\s*(\S*)/.exec(said || "");
    return found ? Number(found[1]) * ({ m: 1, cm: 0.01, mm: 0.001, ft: 0.3048, in: 0.0254 }[found[2]] || 1) : 0;
  };
  const vector = (run) => Object.entries(run).reduce((sum, [way, said]) => sum.map((x, k) => x + metres(said) * (AXES[way] || [0, 0, 0])[k]), [0, 0, 0]);
  const turn = (one, other) => {
    const size = Math.hypot(...one) * Math.hypot(...other);
    const dot = one.reduce((sum, x, k) => sum + x * other[k], 0);
    return size ? (Math.acos(Math.min(1, Math.max(-1, dot / size))) * 180) / Math.PI : 0;
  };
  const details = (kind) => (NAMED[kind] ? { details: { id: fresh(NAMED[kind]) } } : {});

  const runOf = (one) => one.run || (words.long[one.fitting] ? one.details : null);
  // The fitting where a run that comes next turns: none, or null where it cannot be.
  const cornerFor = async (line, before, run) => {
    const steps = state.site.lines[line].steps.slice(0, before - 1);
    const last = steps.findLastIndex(runOf);
    const angle = last < 0 ? 0 : turn(vector(runOf(steps[last])), vector(run));
    if (angle <= 5 || steps.slice(last + 1).some((one) => TURNS.includes(one.fitting))) return [];
    const offers = angle > 80 && angle < 100 ? ["elbow", "sweep", ["cap", "capped tee"], ["tee", "tee"]]
      : Math.abs(angle - 45) < 3 ? ["bend 45"] : angle > 175 ? [] : [["bend", `bend of ${Math.round(angle)}°`]];
    if (!offers.length) {
      tell("Pipe cannot turn back on itself in one corner.", true);
      return null;
    }
    const corner = await choose("What makes the corner?", offers);
    if (!corner) return null;
    return [corner === "bend" ? { fitting: "bend", details: { angle: `${Math.round(angle)} deg` } } : { fitting: corner, ...details(corner) }];
  };
  const walkOn = async (line, way, before = state.site.lines[line].steps.length + 1) => {
    const run = await howFar(way);
    const corner = run && (await cornerFor(line, before, run));
    if (!corner) return;
    // Pipe goes on as it came, till something on the way makes other pipe of it.
    const last = state.site.lines[line].steps.slice(0, before - 1).findLast((one) => one.run || (one.details && one.details.to));
    edit({ do: "insert", line, before, steps: [...corner, last && last.pipe ? { run, pipe: last.pipe } : { run }] });
  };

  const NEEDS = {
    loses: (kind, was) => pad(`What does the ${kind} take of the head?`, "length", was), at: (kind, was) => pad("At what flow?", "flow", was),
    bore: (kind, was) => pad(`How wide is the ${kind}'s mouth?`, "length", was || "10 mm"), angle: (kind, was) => ask("By what angle?", was || "30 deg"),
    to: () => choosePipe("Which pipe does it go on in?"), opens: () => choose("Which legs are open?", ["ahead", "side", "both", "ahead to side", "shut"]),
    outlets: (kind, was) => pad("How many outlets?", "count", was), holes: (kind, was) => pad("How many holes?", "count", was),
    hole: (kind, was) => pad("How wide is a hole?", "length", was || "4 mm"), drippers: (kind, was) => pad("How many drippers?", "count", was),
    dripper: (kind, was) => pad("What does each give?", "flow", was || "4 L/h"), faces: () => choose("Which way does it open?", WAYS),
    spacing: (kind, was) => pad("How far apart are they?", "length", was), length: (kind, was) => pad("How long is the hose itself?", "length", was),
    id: (kind, was) => ask("What is it called?", was || fresh(`${kind} `), names().filter((one) => one !== was)), pipe: () => choosePipe("Of which pipe?"),
    ...Object.fromEntries(WAYS.map((way) => [way, (kind, was) => pad(`How far ${way}?`, "length", was)])),
  };
  const needed = async (kind) => {
    const found = { ...(details(kind).details || {}) };
    for (const key of words.needs[kind] || words.long[kind] || []) {
      const value = found[key] || (await NEEDS[key](kind));
      if (!value) return null;
      found[key] = value;
    }
    return found;
  };
  const addFitting = async (line, kind, before) => {
    const run = words.long[kind] ? await choose(`Which way does the ${kind} go?`, WAYS) : "";
    const far = run ? await howFar(run) : {};
    const found = run === null || !far ? null : await needed(kind);
    if (!found) return;
    if (kind === "hose") {
      const own = await NEEDS.length(kind, far[run]);
      if (!own) return;
      if (own !== far[run]) found.length = own;
    }
    const corner = run ? await cornerFor(line, before, far) : [];
    if (corner) edit({ do: "insert", line, before, steps: [...corner, { fitting: kind, details: { ...far, ...found } }] });
  };

  const endsIn = async (line) => {
    const { vessels = {}, pumps = {} } = state.site;
    const end = await choose(`Where does ${line} end?`, [
      ...Object.keys(vessels).map((one) => [{ vessel: one }, one]),
      ...[...new Set(state.waits)].map((one) => [{ tee: one }, `Tee ${one}`]),
      ...Object.entries(pumps).filter(([, one]) => !one.in).map(([one]) => [{ pump: one }, `Pump ${one}`]),
      [`cap ${fresh("end cap ")}`, "An access cap"], ["plug", "A plug, for good"], ["open air", "Open air"], ["", "Somewhere else …"],
    ]);
    const told = end === "" ? await fill(`Where does ${line} end?`, "end", {}) : end;
    if (told) edit({ do: "end", line, side: "to", end: told });
  };

  const kindOf = (name) => name in (state.site.vessels || {}) ? "vessel" : name in (state.site.pumps || {}) ? "pump" : name === "open air" || name === "plug" ? name : "tee";
  const lineScreen = () => {
    const line = place.line;
    const here = state.site.lines[line];
    const pump = Object.keys(state.site.pumps || {}).find((one) => one === here.from);
    return [
      heading(line),
      make("p", { className: "ends" }, `From ${here.from}, ${said(here.pipe) || "no pipe named"}, ${here.to === "open air" ? "open so far" : `to ${here.to}`}.`),
      make("ol", { className: "steps", "aria-label": "Steps" }, ...here.steps.map((one, k) =>
        make("li", {}, button(one.said, () => go({ at: "step", line, step: k + 1 }), "chip", { "aria-label": `${k + 1}: ${one.said}` })))),
      make("div", { className: "ways", role: "group", "aria-label": "Walk on" }, ...WAYS.map((way) => button(way, () => walkOn(line, way), `big ${way}`))),
      make("div", { className: "grid fittings", role: "group", "aria-label": "Put in" },
        ...FITTINGS.slice(0, 7).map((kind) => button(kind, () => addFitting(line, kind, here.steps.length + 1), "big")),
        button("more …", async () => {
          const kind = await choose("Which fitting?", [...Object.keys(words.long), ...Object.keys(words.fittings)]);
          if (kind) addFitting(line, kind, here.steps.length + 1);
        }, "big"),
        button("Ends in …", () => endsIn(line), "big go")),
      findings(line),
      row(button("Pipe", async () => {
        const pipe = await choosePipe(`Pipe of ${line}`);
        if (pipe) edit({ do: "pipe", line, pipe });
      }, "quiet"),
      ...["from", "to"].map((side) => button(side === "from" ? "How it begins" : "How it ends", async () => {
        const end = await fill(`${line}, ${side}`, "end", Object.keys(here.ends[side] || {}).length ? here.ends[side] : { [kindOf(here[side])]: here[side] });
        if (end) edit({ do: "end", line, side, end });
      }, "quiet")),
      pump && Object.keys(state.site.pumps).length > 1 ? button("Other pump", () => otherPump(line), "quiet") : null,
      pump ? button("The pump", () => go({ at: "pump", name: pump }), "quiet") : null,
      button("Take the line out", async () => {
        if ((await choose(`Take ${line} out?`, [["yes", "Take it out"]])) && (await edit({ do: "drop", kind: "line", name: line }))) go({ at: "site" });
      }, "quiet bad")),
    ];
  };

  // ------------------------------------------------------------------ answers while a finger moves

  const trier = (told) => {
    let waiting = null;
    let running = false;
    const run = async () => {
      running = true;
      while (waiting) {
        const what = waiting;
        waiting = null;
        try {
          const got = await send("/try", { edit: what });
          if (got.error) told.textContent = got.error;
          else {
            const flows = Object.entries(got.vessels).filter(([, one]) => one.wants).map(([name, one]) => `${name} ${one.gets} of ${one.wants}`);
            told.textContent = `${got.word}. ${flows.join("; ")}`;
          }
        } catch {
          told.textContent = "Plumbline does not answer.";
        }
      }
      running = false;
    };
    return (what) => {
      waiting = what;
      if (!running) run();
    };
  };
  const slider = (said, value, what) => {
    const told = make("p", { className: "answer", "aria-live": "polite" });
    const shown = make("output", {}, `${value} %`);
    const attempt = trier(told);
    const id = `slider-${said.replace(/\W/g, "")}`;
    const bar = make("input", { type: "range", id, min: "0", max: "100", step: "1" });
    bar.value = value;
    bar.addEventListener("input", () => {
      shown.textContent = `${bar.value} %`;
      attempt(what(Number(bar.value)));
    });
    bar.addEventListener("change", () => edit(what(Number(bar.value))));
    return make("div", { className: "slider" }, make("label", { for: id }, said, " ", shown), bar, told);
  };
  const otherPump = (line) =>
    sheet("Which pump?", (box, close) => {
      const told = make("p", { className: "answer", "aria-live": "polite" });
      const attempt = trier(told);
      const what = (name) => ({ do: "end", line, side: "from", end: { pump: name } });
      const offers = Object.keys(state.site.pumps).map((name) => {
        const made = button(name, async () => {
          close(name);
          edit(what(name));
        }, "big");
        for (const event of ["pointerenter", "focus"]) made.addEventListener(event, () => attempt(what(name)));
        return made;
      });
      box.append(make("div", { className: "grid" }, ...offers), told);
    });

  // ------------------------------------------------------------------ a step

  const percent = (said) => {
    const found = /^([\d.]+)\s*(%?)$/.exec(said || "");
    if (found) return Math.round(Number(found[1]) * (found[2] ? 1 : 100));
    return /shut|closed/.test(said || "") ? 0 : /half/.test(said || "") ? 50 : /quarter/.test(said || "") ? 25 : 100;
  };

  const stepScreen = () => {
    const { line, step } = place;
    const here = state.site.lines[line];
    const one = here.steps[step - 1];
    const inside = [];
    if (one.run) {
      const way = Object.keys(one.run)[0];
      inside.push(further("this run", words.tables.run, {}, [...Object.keys(one.run), "pipe"], (key, value) => edit({ do: "set", line, step, key, value }), ...Object.entries(one.run).map(([key, size]) =>
        button(`${key} ${said(size)}`, async () => {
          const far = AXES[key] ? await pad(`How far ${key}?`, "length", size) : await valueOf(key, words.tables.run[key], size, `This run: ${key}`);
          if (far !== null) edit({ do: "set", line, step, key, value: far || null });
        }, "big")),
      AXES[way] && way !== "up" && way !== "down" && !("down" in one.run) && !("up" in one.run) ? button("+ fall", async () => {
        const far = await pad("How far does it fall?", "fall", "10 mm");
        if (far) edit({ do: "replace", line, step, steps: [{ run: { ...one.run, down: far }, pipe: one.pipe }] });
      }, "big") : null,
      button("other way", async () => {
        const other = await choose("Which way?", WAYS);
        if (!other) return;
        const run = Object.fromEntries(Object.entries(one.run).map(([key, size]) => [key === way ? other : key, size]));
        edit({ do: "replace", line, step, steps: [{ run, pipe: one.pipe }] });
      }, "big"),
      button(said(one.pipe) || "other pipe", async () => {
        const pipe = await choosePipe("Pipe of this run");
        if (pipe) edit({ do: "replace", line, step, steps: [{ run: one.run, pipe }] });
      }, "big")));
    } else if (one.fitting) {
      const keys = words.fittings[one.fitting] || [];
      if (keys.includes("opening")) {
        inside.push(slider("Open", percent(one.details.opening), (value) => ({ do: "open", line, step, value: value / 100 })));
      }
      const table = words.long[one.fitting] ? words.tables[one.fitting] : Object.fromEntries(keys.map((key) => [key, words.tables.fitting[key]]));
      const given = { ...(keys.includes("faces") ? { faces: "" } : {}), ...one.details };
      inside.push(further(`this ${one.fitting}`, table, {}, [...Object.keys(given), "opening", "id"], (key, value) => edit({ do: "set", line, step, key, value }),
        ...Object.entries(given).filter(([key]) => key !== "opening").map(([key, was]) => button(key === "id" ? "name …" : `${key} ${said(was) || "…"}`, async () => {
          const value = await (NEEDS[key] ? NEEDS[key](one.fitting, was) : valueOf(key, table[key], was, `${one.fitting}: ${key}`));
          if (value !== null) edit({ do: "set", line, step, key, value: value || null });
        }, "big")),
        keys.includes("id") && !one.details.id ? button("give it a name", async () => {
          const id = await NEEDS.id(one.fitting);
          if (id) edit({ do: "set", line, step, key: "id", value: id });
        }, "big") : null));
      if (!words.long[one.fitting]) inside.push(make("div", { className: "grid", role: "group", "aria-label": "Put in its place" },
        ...FITTINGS.filter((kind) => kind !== one.fitting && kind !== "plug").slice(0, 8).map((kind) => button(kind, () => {
          const kept = one.details.id && (words.fittings[kind] || []).includes("id") ? { details: { id: one.details.id } } : details(kind);
          edit({ do: "replace", line, step, steps: [{ fitting: kind, ...kept }] });
        }, "big"))));
    }
    return [
      heading(`${line}, step ${step}: ${one.said}`),
      ...inside,
      row(
        button("◀ before", () => go({ at: "step", line, step: step - 1 }), "", { ...(step > 1 ? {} : { disabled: true }), "aria-label": "The step before" }),
        button("next ▶", () => go({ at: "step", line, step: step + 1 }), "", { ...(step < here.steps.length ? {} : { disabled: true }), "aria-label": "The next step" }),
      ),
      row(
        button("Put before it …", async () => {
          const what = await choose("What comes before it?", [...WAYS, ...FITTINGS, ...Object.keys(words.long)]);
          if (!what) return;
          return WAYS.includes(what) ? walkOn(line, what, step) : addFitting(line, what, step);
        }),
        step > 1 ? button("Move up", async () => (await edit({ do: "move", line, step, by: -1 })) && go({ at: "step", line, step: step - 1 })) : null,
        step < here.steps.length ? button("Move down", async () => (await edit({ do: "move", line, step, by: 1 })) && go({ at: "step", line, step: step + 1 })) : null,
        button("Take out", async () => (await edit({ do: "delete", line, step })) && go({ at: "line", line }), "bad"),
      ),
      row(button(`Back to ${line}`, () => go({ at: "line", line }), "quiet")),
    ];
  };

  // ------------------------------------------------------------------ a vessel, a pump

  const vesselScreen = () => {
    const name = place.name;
    const one = state.site.vessels[name];
    return [
      heading(name),
      make("p", { className: "ends" }, vesselSaid(name, one)),
      further(name, words.tables.vessel, one, ["holds", ...VESSEL.map(([key]) => key)], (word, value) => edit({ do: "put", kind: "vessel", name, values: { [word]: value } }), button(one.holds || "holds …", async () => {
        const holds = await choose("What does it hold?", words.holds);
        if (holds) edit({ do: "put", kind: "vessel", name, values: { holds } });
      }, "big"), ...VESSEL.map(([key, says]) => button(make("span", {}, make("b", {}, said(one[key]) || "–"), make("small", {}, says)), async () => {
        const value = await valueOf(key, words.tables.vessel[key], one[key], `${name}: ${says.toLowerCase()}`);
        if (value !== null) edit({ do: "put", kind: "vessel", name, values: { [key]: value || null } });
      }, "thing"))),
      row(takeOut("vessel", name)),
    ];
  };
  const pumpScreen = () => {
    const name = place.name;
    const one = state.site.pumps[name];
    return [
      heading(name),
      make("p", { className: "ends" }, (state.pumps || {})[name] || "It feeds no line yet."),
      slider("Speed", percent(one.speed), (value) => ({ do: "put", kind: "pump", name, values: { speed: `${Math.max(value, 1)} %` } })),
      further(name, words.tables.pump, one, ["speed"], (word, value) => edit({ do: "put", kind: "pump", name, values: { [word]: value } })),
      row(takeOut("pump", name)),
    ];
  };
  const takeOut = (kind, name) => button("Take it out", async () => {
    if ((await choose(`Take ${name} out?`, [["yes", "Take it out"]])) && (await edit({ do: "drop", kind, name }))) go({ at: "site" });
  }, "quiet bad");

  // ------------------------------------------------------------------ which screen

  const SCREENS = { site: siteScreen, line: lineScreen, step: stepScreen, vessel: vesselScreen, pump: pumpScreen };
  const there = () => {
    const { vessels = {}, pumps = {}, lines = {} } = state.site || {};
    if (place.at === "vessel") return place.name in vessels;
    if (place.at === "pump") return place.name in pumps;
    if (place.at === "line") return place.line in lines;
    if (place.at === "step") return place.line in lines && place.step <= lines[place.line].steps.length;
    return true;
  };
  const show = (focus = false) => {
    if (!there()) place = place.line && place.line in (state.site.lines || {}) ? { at: "line", line: place.line } : { at: "site" };
    if (!state.site || !("vessels" in state.site)) screen.replaceChildren(heading("The file cannot be read"), make("p", {}, "Undo, or mend it in an editor."));
    else screen.replaceChildren(...SCREENS[place.at]().filter(Boolean));
    const chips = screen.querySelector(".steps");
    if (chips) chips.scrollLeft = chips.scrollWidth;
    lit();
    if (focus) screen.querySelector("h2").focus({ preventScroll: true });
    document.body.dataset.at = place.at;
    sessionStorage.setItem("walk", JSON.stringify(place));
  };
  const go = (to) => {
    place = to;
    show(true);
    scrollTo(0, 0);
  };

  byId("home").addEventListener("click", () => go({ at: "site" }));
  byId("undo").addEventListener("click", () => act("/undo"));
  byId("redo").addEventListener("click", () => act("/redo"));
  byId("picture").addEventListener("click", (event) => {
    const tap = event.target.closest(".tap");
    if (tap) go({ at: "step", line: tap.dataset.line, step: Number(tap.dataset.step) });
  });
  addEventListener("keydown", (event) => {
    if (document.querySelector("dialog[open]") || event.target.matches("input")) return;
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z") {
      event.preventDefault();
      byId(event.shiftKey ? "redo" : "undo").click();
    } else if (event.key === "Escape") go(place.at === "step" ? { at: "line", line: place.line } : { at: "site" });
  });

  const poll = async () => {
    try {
      if (!busy) {
        const got = await (await fetch(`/state?mark=${state && !state.checking ? state.mark : ""}`, { cache: "no-store" })).json();
        if (!busy && (got.mark !== state.mark || got.news !== state.news || state.lost || (state.checking && !got.checking))) take({ ...got, lost: false });
      }
    } catch {
      state.lost = true;
      tell("Plumbline has stopped, or the connection is lost. All that was tapped before is in the file.", true);
    }
    setTimeout(poll, 1500);
  };
  const open = async () => {
    words = await (await fetch("/choices")).json();
    place = JSON.parse(sessionStorage.getItem("walk") || "null") || place;
    state = {};
    take(await (await fetch("/state?mark=")).json());
    setTimeout(poll, 1500);
  };
  open();
})();
