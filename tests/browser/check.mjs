// The page in a real browser: node check.mjs COILWRIGHT BROWSER [FOLDER-FOR-PICTURES]
//
// Pages of several examples are made by the program and read as a customer reads them: by click, by keyboard, without JavaScript, in light and
// in dark, on a phone. Held against: the program's own JSON for figures, a plain Fourier sum for sounds, the rules of axe-core (WCAG 2.2 A and
// AA) for access.

import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";

const [program, browser, pictures] = process.argv.slice(2);
// Packages lie under target/, not beside this file.
const require = createRequire(join(process.cwd(), "package.json"));
const { chromium } = require("playwright-core");
const axe = require("axe-core").source;

const repository = resolve(import.meta.dirname, "../..");
const folder = mkdtempSync(join(tmpdir(), "coilwright-browser-"));
if (pictures) mkdirSync(pictures, { recursive: true });

let checks = 0;
const failures = [];
const check = (holds, what) => {
  checks += 1;
  if (!holds) failures.push(what);
};

const HOSTILE = `coilwright 1
guitar "</script><img src=x onerror=alert(1)><b>&amp;"
coil lead 6.5k 2.8H, pole south
switch way is on-on
jack out
pot volume 500k audio, role volume
wire lead.start to way.A.common
wire way.A.1 to volume.3
wire way.A.2 to volume.3
wire volume.2 to out.tip
wire volume.1 to (lead.finish, out.sleeve)
position "<!--<script>alert(2)</script>" way 1
position "</script><img src=x onerror=alert(4)> '\\\" onmouseover=alert(3)" way 2
`;

const made = (harness, name) => {
  const output = join(folder, `${name}.html`);
  execFileSync(program, ["page", harness, "--output", output]);
  return pathToFileURL(output).href;
};
const drawn = (harness, position) => {
  const output = join(folder, "position.svg");
  execFileSync(program, ["draw", harness, "--position", position, "--output", output]);
  return pathToFileURL(output).href;
};
const example = (name) => join(repository, "examples", `${name}.harness`);
const json = (...args) => JSON.parse(execFileSync(program, ["report", ...args, "--json"], { maxBuffer: 1 << 28 }));

/** A page that tells of every error and of every request but its own. */
const open = async (context, url) => {
  const page = await context.newPage();
  page.troubles = [];
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type())) page.troubles.push(message.text());
  });
  page.on("pageerror", (error) => page.troubles.push(String(error)));
  page.on("dialog", (dialog) => {
    page.troubles.push(`dialog: ${dialog.message()}`);
    dialog.dismiss();
  });
  page.on("request", (request) => {
    if (request.url() !== url) page.troubles.push(`request: ${request.url()}`);
  });
  await page.goto(url);
  return page;
};

const quiet = (page, what) => check(page.troubles.length === 0, `${what}: ${page.troubles.join("; ")}`);

const accessible = async (page, what) => {
  await page.evaluate(axe);
  const tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];
  const { violations } = await page.evaluate((values) => window.axe.run(document, { runOnly: { type: "tag", values } }), tags);
  for (const v of violations) check(false, `${what}: ${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 160)).join(" | ")}`);
  check(violations.length === 0, `${what}: axe`);
};

/** Texts that lie on each other, and a page wider than its window. */
const tidy = async (page, what) => {
  const found = await page.evaluate(() => {
    const boxes = [];
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    const clip = (element, box) => {
      let { left, top, right, bottom } = box;
      for (let e = element; e && e !== document.body; e = e.parentElement) {
        const style = getComputedStyle(e);
        if (style.overflowX === "visible" && style.overflowY === "visible") continue;
        if (e instanceof SVGElement) continue;
        const edge = e.getBoundingClientRect();
        left = Math.max(left, edge.left);
        right = Math.min(right, edge.right);
        top = Math.max(top, edge.top);
        bottom = Math.min(bottom, edge.bottom);
      }
      return { left, top, right, bottom };
    };
    while (walker.nextNode()) {
      const node = walker.currentNode;
      const parent = node.parentElement;
      if (!node.textContent.trim() || parent.closest("script,style,title,desc,.unseen,.skip")) continue;
      // Text of a picture has boxes even where nothing is drawn.
      let gone = !parent.checkVisibility();
      for (let e = parent; e && !gone; e = e.parentElement) gone = getComputedStyle(e).display === "none";
      if (gone) continue;
      const range = document.createRange();
      range.selectNodeContents(node);
      for (const rect of range.getClientRects()) {
        const box = clip(parent, rect);
        if (box.right - box.left > 1 && box.bottom - box.top > 1) boxes.push({ ...box, text: node.textContent.trim().slice(0, 40) });
      }
    }
    boxes.sort((a, b) => a.top - b.top);
    const overlaps = [];
    boxes.forEach((a, i) => {
      for (let j = i + 1; j < boxes.length && boxes[j].top < a.bottom - 3; j += 1) {
        const b = boxes[j];
        const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
        const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
        if (wide > 2 && high > 5) overlaps.push(`${a.text} / ${b.text}`);
      }
    });
    return { overlaps, count: boxes.length, wide: document.scrollingElement.scrollWidth, window: innerWidth };
  });
  check(found.count > 50, `${what}: only ${found.count} lines of text are seen`);
  check(found.overlaps.length === 0, `${what}: texts lie on each other: ${found.overlaps.slice(0, 5).join("; ")}`);
  check(found.wide <= found.window, `${what}: ${found.wide} wide in a window of ${found.window}`);
};

/** The picture holds more than a sheet of paper. */
const pictured = async (page, name, options = {}) => {
  const png = await page.screenshot(pictures ? { path: join(pictures, `${name}.png`), ...options } : options);
  const blank = await page.context().newPage();
  const colours = await blank.evaluate(async (base64) => {
    const bitmap = await createImageBitmap(await (await fetch(`data:image/png;base64,${base64}`)).blob());
    const canvas = new OffscreenCanvas(bitmap.width, bitmap.height).getContext("2d");
    canvas.drawImage(bitmap, 0, 0);
    const { data } = canvas.getImageData(0, 0, bitmap.width, Math.min(bitmap.height, 2000));
    const seen = new Set();
    for (let i = 0; i < data.length; i += 4 * 7) seen.add((data[i] << 16) | (data[i + 1] << 8) | data[i + 2]);
    return seen.size;
  }, png.toString("base64"));
  await blank.close();
  check(colours > 20, `${name}: the picture has ${colours} colours`);
};

const curve = (page, cls = "c0") => page.locator(`#chart .lines path.${cls}`).getAttribute("d", { timeout: 2000 });
const curves = (page) => page.locator("#chart .lines path.curve:not(.reference)").count();
/** Figures of the chosen position, by name. */
const side = (page) =>
  page.locator("#side tbody tr").evaluateAll((rows) => Object.fromEntries(rows.map((r) => [r.cells[0].textContent, r.cells[1]?.textContent])));

const used = async (context, url, file) => {
  const page = await open(context, url);
  await tidy(page, "as it opens");

  // By click.
  const before = await curve(page);
  await page.locator(".positions .chosen", { hasText: /^Both, neck half$/ }).click();
  const clicked = await curve(page);
  check(clicked !== before, "a click on a position changes the curve");
  const resting = await side(page);
  const row = await page.locator("#sounding tbody tr", { hasText: "Both, neck half" }).locator("td").allTextContents();
  check(row[1] === resting["resonance kHz"] && row[5] === resting["level re ref. dB"], "figures beside the chart are those of the table");
  check((await page.locator("#said").textContent()).startsWith("Both, neck half"), "the choice is said");

  // The wiring follows, and shows what the program draws of that position.
  const classes = (where) => where.locator("[data-lugs], [data-throw]").evaluateAll((all) => all.map((e) => `${JSON.stringify({ ...e.dataset })} ${[...e.classList].sort().join(" ")}`));
  const drawing = await open(context, drawn(file, "Both, neck half"));
  const [shown, wanted] = [await classes(page.locator("svg.wiring")), await classes(drawing.locator("svg.wiring"))];
  await drawing.close();
  check(wanted.length > 40 && JSON.stringify(shown) === JSON.stringify(wanted), "the wiring shows the position as `draw` does");
  await page.locator("#wired").selectOption({ label: "the whole wiring" });
  check((await page.locator("svg.wiring .faded, svg.wiring .closed").count()) === 0, "the whole wiring: nothing is faint");

  await page.locator("#wired").selectOption({ label: "Both, neck half" });
  await page.pdf({ path: join(folder, "used.pdf") });
  check((await page.locator("#wired option:checked").textContent()) === "Both, neck half", "after printing, the wiring is as it was");

  // By keyboard alone.
  await page.locator('input[name="chosen"]:checked').focus();
  await page.keyboard.press("ArrowDown");
  check((await page.locator(".is-chosen .name").textContent()) === "Both, bridge half", "an arrow key takes the next position");
  check((await curve(page)) !== clicked, "an arrow key changes the curve");
  const few = await curves(page);
  await page.getByRole("checkbox", { name: "Hollow, halves beside it" }).focus();
  await page.keyboard.press("Space");
  check((await curves(page)) === few + 1, "the space bar puts a position beside it");
  check((await page.locator("#side thead th").count()) === few + 1, "and its figures too");
  await page.keyboard.press("Space");
  check((await curves(page)) === few, "and takes it away again");

  // Knobs: figures and curve are those of the program at that setting.
  await page.locator("#knob-1").focus();
  for (let i = 0; i < 4; i += 1) await page.keyboard.press("ArrowLeft");
  check((await page.locator("#knob-1").getAttribute("aria-valuetext")) === "4", "the knob says where it is");
  const turned = await side(page);
  const told = json(file, "--position", "Both, bridge half", "--knob", "tone=4").positions[0].outlets[0];
  check(JSON.stringify(turned) !== JSON.stringify(resting), "a knob changes the figures");
  const level = parseFloat(turned["level re ref. dB"].replace("−", "-"));
  check(Math.abs(level - told.level.shown_re_reference_db.value) <= 0.051, `tone at 4: level ${level} is ${told.level.shown_re_reference_db.value}`);

  // A combination that was not computed is said, not shown.
  await page.locator("#knob-0").focus();
  await page.keyboard.press("ArrowLeft");
  check((await page.locator("#uncomputed").textContent()).includes("not computed"), "two knobs: said");
  check((await curves(page)) === 0 && Object.keys(await side(page)).length === 0, "two knobs: not shown");
  check(await page.locator("#play").isDisabled(), "two knobs: not heard");
  await tidy(page, "two knobs away from rest");
  await page.locator("#rest").click();
  check((await curves(page)) === few, "at rest again");

  // Reading a curve.
  const at = await page.locator("#read-at").textContent();
  await page.locator("#chart").scrollIntoViewIfNeeded();
  const box = await page.locator("#chart").boundingBox();
  await page.mouse.move(box.x + box.width * 0.8, box.y + box.height / 2);
  const moved = await page.locator("#read-at").textContent();
  check(moved !== at && /kHz$/.test(moved), `the pointer reads at ${moved}`);
  await page.locator("#reader").focus();
  await page.keyboard.press("ArrowRight");
  check((await page.locator("#read-at").textContent()) !== moved, "arrow keys read the curves");
  check(/^(silent|[+−]?\d+\.\d dB)$/.test(await page.locator("#lines td").first().textContent()), "decibels are read");

  // Sound: only asked for, through the curve, never loud.
  const sounds = await page.evaluate(async () => {
    const { data, stateOf, impulse, prepared, LOUDEST } = globalThis.coilwright;
    const rate = 48000;
    const rest = data.knobs.map((k) => k.rest);
    let furthest = 0;
    let most = 0;
    let quietest = 1;
    const reference = stateOf(2, rest).values;
    for (const voice of data.voices.keys()) {
      const { values } = stateOf(voice, rest);
      const taps = impulse(values, rate);
      for (const i of [60, 100, 140, 180, 200, 220]) {
        const w = (2 * Math.PI * data.frequencies[i]) / rate;
        let [re, im] = [0, 0];
        taps.forEach((x, n) => {
          re += x * Math.cos(w * n);
          im -= x * Math.sin(w * n);
        });
        furthest = Math.max(furthest, Math.abs(20 * Math.log10(Math.hypot(re, im)) - values[i]));
      }
      if (voice % 4 === 0) {
        const { buffer, gain } = await prepared(values, reference, rate, false);
        const peak = buffer.getChannelData(0).reduce((p, x) => Math.max(p, Math.abs(x)), 0) * gain;
        most = Math.max(most, peak);
        quietest = Math.min(quietest, peak);
      }
    }
    return { furthest, most, quietest, LOUDEST };
  });
  check(sounds.furthest < 0.2, `the filter is ${sounds.furthest} dB off its curve`);
  check(sounds.most <= sounds.LOUDEST + 1e-6 && sounds.quietest > 0.002, `peaks from ${sounds.quietest} to ${sounds.most}`);
  check(await page.locator("#stop").isDisabled(), "nothing plays unasked");
  await page.locator("#play").click();
  await page.locator("#stop:enabled").waitFor({ timeout: 20000 });
  check((await page.locator("#heard").textContent()).includes("plays"), "it is said that it plays");
  await page.locator("#stop").click();
  await page.locator("#stop:disabled").waitFor({ timeout: 5000 });
  await page.getByText("All curves as a table").click();
  await page.getByText("What the columns mean").click();
  await tidy(page, "all open");
  quiet(page, "in use");
  await page.close();
};

const launch = { executablePath: browser, headless: true, args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"] };
const looks = [
  { name: "light", colorScheme: "light", viewport: { width: 1280, height: 900 } },
  { name: "dark", colorScheme: "dark", viewport: { width: 1280, height: 900 } },
  { name: "phone", colorScheme: "light", viewport: { width: 360, height: 740 } },
];

let count = 0;
/** A browser with a new profile. */
const within = async (options, work) => {
  count += 1;
  const context = await chromium.launchPersistentContext(join(folder, `profile-${count}`), { ...launch, ...options });
  try {
    await work(context);
  } finally {
    await context.close();
  }
};

try {
  const file = example("10-two-humbuckers");
  const main = made(file, "ten");
  writeFileSync(join(folder, "hostile.harness"), HOSTILE);
  const others = ["01-one-coil", "14-mute-and-own-switch", "19-two-outputs", "11-eighty-positions"].map((name) => [name, made(example(name), name)]);
  // One that does not do what its file expects.
  const worse = join(folder, "worse.harness");
  writeFileSync(worse, readFileSync(example("21-kept-right"), "utf8").replace("resistor R1 1k5", "resistor R1 220"));
  const kept = made(worse, "worse");
  const strings = made(example("20-wound-coils-and-strings"), "strings");
  others.push(["worse", kept], ["strings", strings]);
  others.push(["hostile", made(join(folder, "hostile.harness"), "hostile")]);

  await within({ viewport: { width: 1280, height: 900 } }, (context) => used(context, main, file));
  for (const { name, ...look } of looks) {
    await within({ ...look, reducedMotion: "reduce" }, async (context) => {
      const page = await open(context, main);
      await accessible(page, name);
      await tidy(page, name);
      await pictured(page, name, { fullPage: true });
      if (name === "light") {
        await page.emulateMedia({ media: "print" });
        await pictured(page, "print", { fullPage: true });
        if (pictures) await page.pdf({ path: join(pictures, "print.pdf"), preferCSSPageSize: true });
      }
      quiet(page, name);
      await page.close();
      for (const [other, url] of others) {
        const page = await open(context, url);
        await accessible(page, `${other}, ${name}`);
        await tidy(page, `${other}, ${name}`);
        if (pictures) await pictured(page, `${other}-${name}`);
        check((await page.locator("img, b, main script").count()) === 0, `${other}: names are no markup`);
        quiet(page, `${other}, ${name}`);
        await page.close();
      }
    });
  }
  await within({ viewport: { width: 1280, height: 900 }, javaScriptEnabled: false }, async (context) => {
    const page = await open(context, main);
    check((await page.locator("#chart .lines path.curve").count()) >= 3, "without a script: curves stand in the chart");
    check(await page.locator("#chart").isVisible(), "without a script: the chart is seen");
    check((await page.locator("#sounding tbody tr").count()) === 20 && (await page.locator("#measured tbody tr").count()) === 20, "without a script: all figures");
    check((await page.locator(".live:visible").count()) === 0, "without a script: no dead controls");
    check((await page.locator("#sheet li:visible").count()) > 35 && (await page.locator("#card li:visible").count()) > 100, "without a script: sheet and card");
    await pictured(page, "no-script", { fullPage: true });
    quiet(page, "without a script");
    await page.goto(kept);
    const verdicts = await page.locator(".kept tbody td:nth-child(2):visible").allInnerTexts();
    check(verdicts.length === 11 && verdicts.includes("fails") && verdicts.includes("holds"), "without a script: what is expected, and whether it holds, in words");
    await page.goto(strings);
    check((await page.locator("svg.stems:visible").count()) === 1 && (await page.locator("svg.stems").count()) === 6, "without a script: one string is open, the others may be");
    check((await page.locator("svg.stems:visible circle").count()) > 40, "without a script: its harmonics are drawn");
  });
} finally {
  rmSync(folder, { recursive: true, force: true });
}

if (failures.length > 0) {
  console.error(failures.map((f) => `  - ${f}`).join("\n"));
  console.error(`${failures.length} of ${checks} checks of the page fail`);
  process.exit(1);
}
console.log(`the page holds: ${checks} checks`);
