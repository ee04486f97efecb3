// A plucked string through a curve. The impulse response has the curve's magnitude and the least phase that goes with it: the page knows no
// other. Nothing sounds unasked.

/** No sample is louder: 12 dB under full scale. */
const LOUDEST = 0.25;
/** Where the reference's loudest sample lies: room for what is louder than it. */
const USUAL = 0.125;
/** What is silent, in the impulse response: dB. */
const FLOOR = -140;
const TRANSFORM = 16384;
const TAPS = 8192;

/** In place, radix 2 (Cooley and Tukey): sum of x[n] exp(-sign 2 pi i n k / N). */
const transform = (re, im, sign) => {
  const n = re.length;
  for (let i = 1, j = 0; i < n; i += 1) {
    let bit = n >> 1;
    for (; j & bit; bit >>= 1) j ^= bit;
    j ^= bit;
    if (i < j) {
      [re[i], re[j]] = [re[j], re[i]];
      [im[i], im[j]] = [im[j], im[i]];
    }
  }
  for (let half = 1; half < n; half *= 2) {
    for (let k = 0; k < half; k += 1) {
      const turn = (-sign * Math.PI * k) / half;
      const [c, s] = [Math.cos(turn), Math.sin(turn)];
      for (let i = k; i < n; i += 2 * half) {
        const j = i + half;
        const [x, y] = [re[j] * c - im[j] * s, re[j] * s + im[j] * c];
        re[j] = re[i] - x;
        im[j] = im[i] - y;
        re[i] += x;
        im[i] += y;
      }
    }
  }
};

/** The curve at any frequency: straight between its points over log frequency, level beyond its ends. */
const levelAt = (values, f) => {
  const last = frequencies.length - 1;
  const place = Math.min(last, Math.max(0, (Math.log(Math.max(f, lowest) / lowest) / span) * last));
  const i = Math.min(last - 1, Math.floor(place));
  const [a, b] = [values[i] ?? FLOOR, values[i + 1] ?? FLOOR];
  return a + (b - a) * (place - i);
};

/** The impulse response of a curve, minimum phase by the folded cepstrum (Oppenheim and Schafer, Discrete-Time Signal Processing, ch. 13). */
const impulse = (values, rate) => {
  const n = TRANSFORM;
  const re = new Float64Array(n);
  const im = new Float64Array(n);
  for (let k = 0; k <= n / 2; k += 1) {
    const log = (levelAt(values, (k * rate) / n) * Math.LN10) / 20;
    re[k] = log;
    re[(n - k) % n] = log;
  }
  transform(re, im, -1);
  for (let i = 0; i < n; i += 1) {
    const fold = i === 0 || i === n / 2 ? 1 : i < n / 2 ? 2 : 0;
    re[i] *= fold / n;
    im[i] = 0;
  }
  transform(re, im, 1);
  for (let k = 0; k < n; k += 1) {
    const size = Math.exp(re[k]);
    [re[k], im[k]] = [size * Math.cos(im[k]), size * Math.sin(im[k])];
  }
  transform(re, im, -1);
  const taps = new Float32Array(TAPS);
  for (let i = 0; i < TAPS; i += 1) {
    const fade = i < TAPS / 2 ? 1 : 0.5 + 0.5 * Math.cos((Math.PI * (2 * i - TAPS)) / TAPS);
    taps[i] = (re[i] / n) * fade;
  }
  return taps;
};

/** A string (Karplus and Strong, 1983), let go where a pick left it: added to `out` from `start`. */
const pluck = (out, rate, f, start, strength) => {
  const period = rate / f - 0.5;
  const whole = Math.floor(period);
  const line = new Float64Array(whole);
  const picked = Math.round(whole * 0.17);
  for (let i = 0; i < whole; i += 1) line[i] = i < picked ? 1 - picked / whole : -picked / whole;
  const tune = (1 - (period - whole)) / (1 + (period - whole));
  const loss = Math.exp(-6.9 / (f * (4.2 - f / 160)));
  let [before, in1, out1, at] = [0, 0, 0, 0];
  for (let i = Math.round(start * rate); i < out.length; i += 1) {
    const now = line[at];
    const mean = loss * (0.5 * now + 0.5 * before);
    before = now;
    out1 = tune * mean + in1 - tune * out1;
    in1 = mean;
    line[at] = out1;
    at = (at + 1) % whole;
    out[i] += strength * now;
  }
};

/** The phrase, dry: a broken chord, then its strings together. */
const phrase = (rate) => {
  const out = new Float32Array(Math.round(rate * 4.4));
  const strings = [82.41, 123.47, 164.81, 207.65, 246.94, 329.63];
  [0, 2, 3, 4, 5, 3].forEach((s, i) => pluck(out, rate, strings[s], 0.26 * i, 0.9));
  strings.forEach((f, i) => pluck(out, rate, f, 1.75 + 0.028 * i, 0.6));
  const fade = Math.round(rate * 0.5);
  for (let i = 0; i < fade; i += 1) out[out.length - 1 - i] *= i / fade;
  return out;
};

/** The phrase through a curve, by the browser's convolver; no level set. */
const rendered = async (values, rate) => {
  const dry = phrase(rate);
  const offline = new OfflineAudioContext(1, dry.length, rate);
  const source = offline.createBufferSource();
  source.buffer = offline.createBuffer(1, dry.length, rate);
  source.buffer.copyToChannel(dry, 0);
  const response = offline.createBuffer(1, TAPS, rate);
  response.copyToChannel(impulse(values, rate), 0);
  const convolver = offline.createConvolver();
  convolver.normalize = false;
  convolver.buffer = response;
  source.connect(convolver).connect(offline.destination);
  source.start();
  return offline.startRendering();
};

const loudest = (buffer) => buffer.getChannelData(0).reduce((most, x) => Math.max(most, Math.abs(x)), 0);
const power = (buffer) => Math.sqrt(buffer.getChannelData(0).reduce((sum, x) => sum + x * x, 0) / buffer.length);

/** Rendered sound with the gain at which it is played: no sample above LOUDEST, whatever the curve. `held` is by how many dB that took it down. */
const prepared = async (values, reference, rate, even) => {
  const buffer = await rendered(values, rate);
  const most = loudest(buffer);
  if (most === 0) return { buffer, gain: 0, held: 0 };
  const sounding = reference.some((db) => db !== null) ? await rendered(reference, rate) : buffer;
  const usual = USUAL / loudest(sounding);
  const wanted = even ? (usual * power(sounding)) / power(buffer) : usual;
  const gain = Math.min(wanted, LOUDEST / most);
  return { buffer, gain, held: 20 * Math.log10(wanted / gain) };
};

let context = null;
let playing = null;

const silence = () => {
  if (!playing) return;
  const { source, gain } = playing;
  playing = null;
  gain.gain.setTargetAtTime(0, context.currentTime, 0.015);
  source.stop(context.currentTime + 0.1);
};

/** Plays; `ended` is called when it is over or stopped. */
const play = async (values, reference, even, ended) => {
  silence();
  context ??= new AudioContext();
  await context.resume();
  const { buffer, gain: level, held } = await prepared(values, reference, context.sampleRate, even);
  silence();
  const gain = context.createGain();
  gain.gain.value = level;
  const source = context.createBufferSource();
  source.buffer = buffer;
  source.connect(gain).connect(context.destination);
  source.onended = () => {
    if (playing?.source === source) playing = null;
    if (!playing) ended();
  };
  playing = { source, gain };
  source.start();
  return held;
};
