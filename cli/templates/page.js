// What the reader turns and chooses, and what the page shows of it.

const one = (id) => document.getElementById(id);
const made = (name, properties, ...children) => {
  const element = Object.assign(document.createElement(name), properties);
  element.append(...children);
  return element;
};

/** Curves beside the chosen one. */
const MOST = 5;

const state = {
  chosen: data.start.chosen,
  // Voices with the colour each has kept: ticking one more does not repaint the others.
  also: data.start.also.map((voice, i) => ({ voice, colour: i + 1 })),
  settings: data.knobs.map((knob) => knob.rest),
  at: Number(one("reader").value),
};

const settingText = (k) => String(data.knobs[k].settings[state.settings[k]]);

/** The reference at the output of the chosen voice. */
const reference = () => {
  const curve = data.references[data.voices[state.chosen].outlet] ?? data.references[0];
  return { curve, values: decoded[curve] };
};

/** What is in the chart: the chosen, those beside it, the reference. A state that was not computed has none of the first two. */
const shown = () => {
  const voices = [{ voice: state.chosen, colour: 0 }, ...state.also.filter((a) => a.voice !== state.chosen)];
  const curves = [];
  for (const { voice, colour } of voices) {
    const found = stateOf(voice, state.settings);
    if (found) curves.push({ cls: `c${colour}`, name: data.voices[voice].name, ...found });
  }
  // The reference among the others is one curve, not two.
  const { curve, values } = reference();
  const same = curves.find((c) => c.curve === curve);
  if (same) same.note += ", the reference";
  else curves.push({ cls: "reference", name: data.reference, values, note: "the reference, at rest", peak: null, cells: null });
  return curves;
};

const rows = (curves) =>
  curves.map((curve) =>
    made(
      "tr",
      {},
      made("th", { scope: "row" }, swatch(curve.cls), curve.name),
      made("td", { className: "number" }, decibels(curve.values[state.at])),
      made("td", {}, curve.note),
    ),
  );

const sideBySide = (curves) => {
  const figured = curves.filter((curve) => curve.cells);
  const head = made("tr", {}, made("td", {}));
  for (const curve of figured) head.append(made("th", { scope: "col" }, swatch(curve.cls), curve.name));
  const body = data.figures.map(([name, unit], i) => {
    const row = made("tr", {}, made("th", { scope: "row" }, name, unit ? made("span", { className: "unit" }, ` ${unit}`) : ""));
    for (const curve of figured) row.append(made("td", {}, curve.cells[i]));
    return row;
  });
  const table = one("side");
  table.tHead.replaceChildren(head);
  table.tBodies[0].replaceChildren(...(figured.length ? body : []));
};

const away = () => turned(state.settings).map((k) => `${data.knobs[k].name} at ${settingText(k)}`);

const knobsShown = () => {
  document.querySelectorAll(".knob").forEach((knob, k) => {
    const input = knob.querySelector("input");
    const setting = data.knobs[k].settings[state.settings[k]];
    input.value = state.settings[k];
    input.setAttribute("aria-valuetext", String(setting));
    knob.querySelector("output").textContent = String(setting);
    knob.querySelector(".pointer").setAttribute("transform", `rotate(${setting * 30 - 150})`);
  });
  const uncomputed = one("uncomputed");
  if (!uncomputed) return;
  uncomputed.textContent =
    turned(state.settings).length > 1
      ? `${away().join(" with ")} was not computed for this page, so no curve of it is shown: turn one knob at a time, the others at rest.`
      : "";
  one("rest").disabled = turned(state.settings).length === 0;
};

const positionsShown = () => {
  for (const input of document.querySelectorAll('input[name="chosen"]')) {
    const voice = Number(input.value);
    input.checked = voice === state.chosen;
    const row = input.closest("li");
    const beside = state.also.find((a) => a.voice === voice);
    const tick = row.querySelector('input[name="also"]');
    tick.checked = voice === state.chosen || Boolean(beside);
    tick.hidden = voice === state.chosen;
    tick.disabled = voice === state.chosen || (!beside && state.also.length >= MOST);
    row.classList.toggle("is-chosen", voice === state.chosen);
    row.querySelector(".swatch")?.remove();
    if (tick.checked) row.querySelector(".chosen").append(swatch(voice === state.chosen ? "c0" : `c${beside.colour}`));
  }
};

/** Where the curves are read; the rest stays. */
const read = (curves = shown()) => {
  draw(curves, state.at);
  one("lines").replaceChildren(...rows(curves));
  const f = hertz(frequencies[state.at]);
  one("read-at").textContent = f;
  one("reader-at").textContent = f;
  one("reader").value = state.at;
  one("reader").setAttribute("aria-valuetext", f);
};

const show = () => {
  const curves = shown();
  const found = stateOf(state.chosen, state.settings);
  const { name } = data.voices[state.chosen];
  knobsShown();
  positionsShown();
  read(curves);
  sideBySide(curves);
  const sounds = found?.values.some((db) => db !== null);
  one("play").disabled = !sounds;
  one("play").textContent = `Play a phrase: ${name}`;
  const turns = away();
  one("said").textContent = found ? `${name}${turns.length ? `, ${turns.join(", ")}` : ""}: ${found.note}` : "";
};

const choose = (voice) => {
  state.chosen = voice;
  wired(data.voices[voice].position);
  show();
};

const beside = (voice, is) => {
  state.also = state.also.filter((a) => a.voice !== voice);
  if (is) {
    const colour = [1, 2, 3, 4, 5].find((c) => state.also.every((a) => a.colour !== c));
    state.also.push({ voice, colour });
  }
  show();
};

const scale = (dial, k) => {
  const marks = data.knobs[k].settings.map((setting) => drawn("path", { d: "M0 -22V-27", transform: `rotate(${setting * 30 - 150})` }));
  dial.querySelector(".scale").append(...marks);
};

const start = () => {
  for (const element of document.querySelectorAll(".live")) element.hidden = false;
  document.documentElement.classList.add("scripted");
  document.addEventListener("change", ({ target }) => {
    if (target.name === "chosen") choose(Number(target.value));
    if (target.id === "wired") wired(target.value);
    if (target.name === "also") beside(Number(target.value), target.checked);
  });
  document.querySelectorAll(".knob").forEach((knob, k) => {
    scale(knob.querySelector(".dial"), k);
    knob.querySelector("input").addEventListener("input", ({ target }) => {
      state.settings[k] = Number(target.value);
      show();
    });
  });
  one("rest")?.addEventListener("click", () => {
    state.settings = data.knobs.map((knob) => knob.rest);
    show();
  });
  one("reader").addEventListener("input", ({ target }) => {
    state.at = Number(target.value);
    read();
  });
  const follow = (event) => {
    state.at = under(event);
    read();
  };
  // On paper nobody can choose: there all of the wiring is shown.
  const select = one("wired");
  let before = "";
  addEventListener("beforeprint", () => {
    before = select?.value ?? "";
    wired("");
  });
  addEventListener("afterprint", () => wired(before));
  plot.addEventListener("pointermove", follow);
  plot.addEventListener("pointerdown", follow);
  one("stop").addEventListener("click", silence);
  one("play").addEventListener("click", async () => {
    const found = stateOf(state.chosen, state.settings);
    if (!found) return;
    const heard = one("heard");
    const { name } = data.voices[state.chosen];
    heard.textContent = `${name} is being made ready.`;
    try {
      const held = await play(found.values, reference().values, one("even").checked, () => {
        one("stop").disabled = true;
        heard.textContent = "";
      });
      one("stop").disabled = false;
      heard.textContent = `${name} plays${held > 0.05 ? `, ${held.toFixed(1)} dB quieter than it would be, to stay at a safe level` : ""}.`;
    } catch {
      heard.textContent = "This browser has no sound to give.";
    }
  });
  wired(data.voices[state.chosen].position);
  show();
};

start();
// For tests, and for whoever wants to look.
globalThis.coilwright = Object.freeze({ data, state, stateOf, impulse, phrase, rendered, prepared, LOUDEST });
