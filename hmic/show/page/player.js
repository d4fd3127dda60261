"use strict";
// The player of the display itself, for any page: `await player(module, pack, facts, canvas)` gives what paints a
// screen in a theme with the raw values of all channels at a time in ms; facts are the panel's width, height and
// depth and the number of channels. `through`, if it is given, changes the picture before it is seen.
async function player(module, pack, facts, canvas) {
  const MARKS = 8192, STATE = 512, pixel = facts.depth === 16 ? 2 : 3;
  const memory = new WebAssembly.Memory({ initial: 1 });
  const door = (await WebAssembly.instantiate(module, { env: { memory } })).instance.exports;
  let free = door.__heap_base.value;
  const place = (size) => { const at = (free + 15) & ~15; free = at + size; return at; };
  const state = place(STATE), marks = place(MARKS), data = place(pack.length);
  const raw = place(2 * facts.channels + 2), pixels = place(facts.width * facts.height * pixel);
  memory.grow(Math.max(0, Math.ceil((free - memory.buffer.byteLength) / 65536)));
  new Uint8Array(memory.buffer).set(pack, data);
  if (door.web_open(state, data, pack.length, marks, MARKS) !== 0) throw new Error("the pack is damaged");
  const bytes = new Uint8Array(memory.buffer, pixels), pen = canvas.getContext("2d");
  canvas.width = facts.width;
  canvas.height = facts.height;
  const picture = pen.createImageData(facts.width, facts.height);
  let shown = [];
  function paint(screen, theme, values, clock, through) {
    // Where nothing moves, and the values are the same ones, there is nothing to paint.
    const wanted = [screen, theme, values, clock, through];
    if (wanted.every((each, at) => each === shown[at])) return;
    shown = wanted;
    new Uint16Array(memory.buffer, raw, facts.channels).set(values);
    door.web_frame(state, screen, theme, raw, clock, pixels);
    const to = picture.data;
    for (let at = 0, from = 0; at < to.length; at += 4, from += pixel) {
      if (pixel === 2) {
        const word = bytes[from] | (bytes[from + 1] << 8);
        const red = word >> 11, green = (word >> 5) & 63, blue = word & 31;
        to[at] = (red << 3) | (red >> 2);
        to[at + 1] = (green << 2) | (green >> 4);
        to[at + 2] = (blue << 3) | (blue >> 2);
      } else {
        to[at] = bytes[from];
        to[at + 1] = bytes[from + 1];
        to[at + 2] = bytes[from + 2];
      }
      to[at + 3] = 255;
    }
    through?.(picture);
    pen.putImageData(picture, 0, 0);
  }
  // Glass without power.
  paint.dark = () => {
    shown = [];
    pen.fillStyle = "#000";
    pen.fillRect(0, 0, facts.width, facts.height);
  };
  return paint;
}

// Fingers on the glass of a display that feels them: `does("press", x, y)` and `does("release", x, y)`, in its pixels.
function felt(glass, panel, does) {
  const place = (event) => {
    const box = glass.getBoundingClientRect(), { width, height } = panel();
    const within = (part, count) => Math.min(Math.max(Math.floor(part * count), 0), count - 1);
    return [
      within((event.clientX - box.left) / box.width, width), within((event.clientY - box.top) / box.height, height),
    ];
  };
  let down = false;
  const lift = (event) => {
    if (down && panel()) does("release", ...place(event));
    down = false;
  };
  glass.addEventListener("pointerdown", (event) => {
    if (!panel() || event.button) return;
    down = true;
    glass.setPointerCapture(event.pointerId);
    does("press", ...place(event));
  });
  glass.addEventListener("pointerup", lift);
  glass.addEventListener("pointercancel", lift);
}

// What a finger or mouse on the picture does there: `leads(screen)` by a swipe, or a touch that goes to a screen.
function fingers(glass, panel, screen, leads) {
  let down = null;
  glass.addEventListener("pointerdown", (event) => { down = event; });
  glass.addEventListener("pointercancel", () => { down = null; });
  glass.addEventListener("pointerup", (event) => {
    const facts = panel();
    if (down === null || facts === null) return;
    const across = event.clientX - down.clientX, along = event.clientY - down.clientY;
    down = null;
    if (Math.max(Math.abs(across), Math.abs(along)) > 30) {
      const sideways = Math.abs(across) >= Math.abs(along);
      const [less, more] = sideways ? ["left", "right"] : ["up", "down"];
      const side = (sideways ? across : along) < 0 ? less : more;
      if (side in screen().swipes) leads(screen().swipes[side]);
      return;
    }
    const box = glass.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * facts.width;
    const y = ((event.clientY - box.top) / box.height) * facts.height;
    const hit = screen().ways.find(([left, top, width, height]) =>
      x >= left && x < left + width && y >= top && y < top + height);
    if (hit) leads(hit[4]);
  });
}

// Makes the face of the glass as large as fits, in whole pixels of the monitor for each of the panel's, or as large as
// it is: `scale` are the page's px a mm, null for as large as fits.
function fitted(facts, scale) {
  const { across, down } = facts.panel, glass = $("glass"), wide = facts.width * across, high = facts.height * down;
  let width = (scale ?? 0) * wide;
  if (scale === null) {
    const room = $("picture").clientWidth - 2 * parseFloat(getComputedStyle($("picture")).paddingLeft);
    const fits = Math.min(room / facts.width, (0.8 * innerHeight * wide) / high / facts.width);
    const fine = devicePixelRatio, whole = Math.floor(fits * fine) / fine;
    width = facts.width * (whole >= 1 ? whole : fits);
  }
  $("face").style.width = `${width}px`;
  $("face").style.height = `${(width * high) / wide}px`;
  glass.classList.toggle("round", facts.panel.round);
  glass.classList.toggle("smooth", width < facts.width);
}
