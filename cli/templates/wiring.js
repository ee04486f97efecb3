// The wiring picture: shown as a position has it, without drawing it again.

/** Shows a position by its index; the whole wiring, all contacts open, if that is empty. */
const wired = (index) => {
  const select = document.getElementById("wired");
  if (!select) return;
  select.value = String(index);
  const position = index === "" ? null : data.wiring[index];
  const carrying = new Set(position?.carrying);
  const picture = document.querySelector("svg.wiring");
  for (const element of picture.querySelectorAll("[data-lugs]")) {
    const carries = element.dataset.lugs.split(" ").some((lug) => carrying.has(Number(lug)));
    element.classList.toggle("faded", position !== null && !carries);
  }
  // What carries the signal lies on what does not, and all of it on ground.
  const rank = (wire) => 2 * !wire.classList.contains("faded") + !wire.classList.contains("ground");
  const wires = [...picture.querySelectorAll("[data-wire]")];
  const below = wires.at(-1)?.nextSibling;
  wires.sort((a, b) => rank(a) - rank(b) || a.dataset.wire - b.dataset.wire);
  for (const wire of wires) picture.insertBefore(wire, below);
  for (const contact of picture.querySelectorAll("[data-throw]")) {
    const { switch: which, throw: where } = contact.dataset;
    contact.classList.toggle("closed", position !== null && position.throws[which] === Number(where));
  }
};
