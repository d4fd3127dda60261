"use strict";
// What is measured on the picture: a ruler, the contrast under the pointer, and true size by a card's width.
const CARD = 85.6;  // mm, the width of a card by ISO/IEC 7810, ID-1

// `facts()` are the panel's, `found(screen)` the contrasts of a screen, `seen()` the screen and theme in sight.
function measuring(facts, found, seen) {
  let tool = "", from = null, at = null;
  const glass = $("glass"), lines = $("lines");

  function place(event) {
    const box = glass.getBoundingClientRect(), { width, height } = facts();
    const inside = (part, count) => Math.min(Math.max(Math.round(part * count), 0), count);
    return [
      inside((event.clientX - box.left) / box.width, width),
      inside((event.clientY - box.top) / box.height, height),
    ];
  }

  function line(...points) {
    const made = document.createElementNS("http://www.w3.org/2000/svg", "path");
    made.setAttribute("d", points.join(" "));
    lines.append(made);
  }

  function ruled() {
    const { across, down, distance } = facts().panel;
    const [wide, high] = [Math.abs(at[0] - from[0]), Math.abs(at[1] - from[1])];
    const long = Math.hypot(wide * across, high * down), angle = (Math.atan(long / distance) / Math.PI) * 180 * 60;
    const pixels = wide && high ? `${wide} px across, ${high} px down` : `${wide + high} px`;
    return `${pixels}: ${long.toFixed(2)} mm, ${angle.toFixed(1)} arcmin at ${(distance / 10).toFixed(0)} cm`;
  }

  async function contrasted([x, y]) {
    const { screen, theme } = seen(), every = await found(screen);
    const under = every.filter(({ theme: of, box: [left, top, width, height] }) =>
      of === theme && x >= left && x < left + width && y >= top && y < top + height);
    const area = ({ box }) => box[2] * box[3], least = Math.min(...under.map(area));
    return under.filter((each) => area(each) === least);
  }

  function say(...texts) {
    $("measured").replaceChildren(...texts.map((text) => element("li", {}, text)));
  }

  async function show() {
    lines.replaceChildren();
    const { width, height } = facts();
    lines.setAttribute("viewBox", `0 0 ${width} ${height}`);
    if (tool === "ruler") {
      if (at === null) return say("Draw across the picture, or move with the arrows and set the start with Enter.");
      const ends = from === null ? [at] : [from, at];
      for (const [x, y] of ends) line("M", x - 6, y, "H", x + 6, "M", x, y - 6, "V", y + 6);
      if (from === null) return say(`at ${at[0]} px, ${at[1]} px`);
      line("M", ...from, "L", ...at);
      say(ruled());
    } else if (tool === "contrast") {
      if (at === null) return say("Point at something, or move with the arrows.");
      line("M", at[0] - 6, at[1], "h", 12, "M", at[0], at[1] - 6, "v", 12);
      const here = at, every = await contrasted(at);
      if (here !== at || tool !== "contrast") return;
      if (!every.length) return say("Nothing with a limit stands here.");
      say(...every.map(({ what, when, ratio, limit, source }) =>
        `${ratio < limit ? "too little: " : ""}${what} ${when} ${ratio.toFixed(2)}:1, limit ${limit}:1, ${source}`));
    }
  }

  glass.addEventListener("pointerdown", (event) => {
    if (!tool) return;
    glass.setPointerCapture(event.pointerId);
    at = place(event);
    if (tool === "ruler") from = at;
    show();
  });
  glass.addEventListener("pointermove", (event) => {
    if (tool !== "contrast" && !(tool === "ruler" && event.buttons)) return;
    at = place(event);
    show();
  });

  function choose(name) {
    tool = tool === name ? "" : name;
    from = at = null;
    $("measured").hidden = !tool;
    $("picture").classList.toggle("measured", tool !== "");
    for (const each of ["ruler", "contrast"]) $(each).setAttribute("aria-pressed", tool === each);
    show();
  }

  return {
    tool: () => tool,
    choose,
    show,
    // By keys, while something is measured: a pixel with Shift, else ten.
    keys() {
      const moved = (across, down) => (event) => {
        const by = event.shiftKey ? 1 : 10, { width, height } = facts();
        const old = at ?? [Math.round(width / 2), Math.round(height / 2)];
        const within = (value, most) => Math.min(Math.max(value, 0), most);
        at = [within(old[0] + across * by, width), within(old[1] + down * by, height)];
        show();
      };
      if (!tool) return {};
      return {
        ArrowLeft: moved(-1, 0), ArrowRight: moved(1, 0), ArrowUp: moved(0, -1), ArrowDown: moved(0, 1),
        Enter: (event) => {
          if (event.target.closest("button")) return event.target.click();
          from = at;
          show();
        },
        Escape: () => choose(tool),
      };
    },
  };
}
