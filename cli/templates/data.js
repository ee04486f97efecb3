// What stands in the page: curves as decibels, figures as texts. Nothing is computed here that the program has computed.

const data = JSON.parse(document.getElementById("data").textContent);

/** Decibels at each frequency of a curve; null where it is silent. */
const decoded = data.curves.map((curve) => {
  let now = 0;
  return curve.map((step) => {
    if (step === null) return null;
    now += step;
    return now / data.steps;
  });
});

/** Knobs that are away from rest, by index. */
const turned = (settings) => data.knobs.map((_, k) => k).filter((k) => settings[k] !== data.knobs[k].rest);

/** Index of the state with these settings (indices); -1 if it was not computed: at most one knob is away from rest. */
const stateIndex = (settings) => {
  const away = turned(settings);
  if (away.length === 0) return 0;
  if (away.length > 1) return -1;
  let index = 1;
  for (let k = 0; k < away[0]; k += 1) index += data.knobs[k].settings.length - 1;
  const at = settings[away[0]];
  return index + at - (at > data.knobs[away[0]].rest ? 1 : 0);
};

/** A voice with its knobs there; null if that was not computed. */
const stateOf = (voice, settings) => {
  const index = stateIndex(settings);
  if (index < 0) return null;
  const [curve, cells, note, peak] = data.voices[voice].states[index];
  return { curve, values: decoded[curve], cells: data.cells[cells], note, peak };
};

const MINUS = "\u2212";
const decibels = (value) => {
  if (value === null) return "silent";
  const text = Math.abs(value).toFixed(1);
  const sign = text === "0.0" ? "" : value > 0 ? "+" : MINUS;
  return `${sign}${text} dB`;
};
const hertz = (f) => (f < 999.5 ? `${f.toPrecision(3)} Hz` : `${(f / 1000).toPrecision(3)} kHz`);
