"use strict";
// An entry or slider for each signal, with unit and range, and its state. `settings` are the values that were set, by
// name, as `hmic preview --set` takes them; `changed()` is called after each change.
const DOUBTS = [["live", ""], ["stale", "stale"], ["never seen", "unseen"], ["out of range", "out"]];

function values(settings, changed) {
  // Entries stay as long as the same signals are read, so that one that is being typed in is not lost.
  let entered = "", names = [];

  function set(name, value) {
    if (value === null) delete settings[name];
    else settings[name] = value;
    changed();
  }

  function field(name, signal, doubtful) {
    const listed = signal.kind === "flag" ? ["off", "on"] : signal.words;
    const made = element(listed.length ? "select" : "input", { id: `of ${name}` });
    for (const each of listed) made.append(new Option(each, each));
    const now = settings[name] ?? (signal.kind === "flag" ? (signal.now ? "on" : "off") : signal.now ?? "");
    made.value = doubtful ? "" : typeof now === "number" ? Number(now.toFixed(3)) : now;
    if (signal.kind === "number") made.inputMode = "decimal";
    return made;
  }

  function slider(name, signal, value) {
    if (signal.kind !== "number" || !signal.range) return null;
    const [min, max] = signal.range, made = element("input", { type: "range", min, max });
    made.step = signal.step || (max - min) / 200;
    made.value = value;
    made.setAttribute("aria-label", `${name}, from ${min} to ${max} ${signal.unit}`);
    return made;
  }

  function entry(name, signal) {
    const doubtful = DOUBTS.some(([, word]) => word && word === settings[name]);
    const typed = field(name, signal, doubtful), slide = slider(name, signal, typed.value);
    const unit = signal.unit ? ` (${signal.unit})` : "", count = signal.count ? `, all ${signal.count}` : "";
    const label = element("label", { htmlFor: typed.id, textContent: name + unit + count });
    if (signal.range) label.append(element("small", {}, ` ${signal.range.join(" to ")}`.replaceAll("-", "\u2212")));
    const doubt = element("select", {}, ...DOUBTS.map(([text, word]) => new Option(text, word)));
    doubt.setAttribute("aria-label", `State of ${name}`);
    doubt.value = doubtful ? settings[name] : "";
    const lives = () => { doubt.value = ""; set(name, typed.value === "" ? null : typed.value); };
    typed.addEventListener(typed.tagName === "SELECT" ? "change" : "input", () => {
      if (slide) slide.value = typed.value;
      lives();
    });
    slide?.addEventListener("input", () => { typed.value = Number(Number(slide.value).toFixed(3)); lives(); });
    doubt.addEventListener("change", () => (doubt.value ? set(name, doubt.value) : lives()));
    return element("div", { className: "signal" }, label, typed, doubt, ...(slide ? [slide] : []));
  }

  $("all").append(...DOUBTS.map(([text, word]) => button(text, () => {
    for (const name of names) {
      if (word) settings[name] = word;
      else delete settings[name];
    }
    entered = "";
    changed();
  }, { title: `all of this screen ${text}` })));

  // Shows entries for these names of `signals`.
  return (read, signals) => {
    for (const name of Object.keys(settings)) if (!(name in signals)) delete settings[name];
    const key = JSON.stringify(read.map((name) => [name, signals[name]]));
    if (key === entered) return;
    entered = key;
    names = read;
    $("signals").replaceChildren(...read.map((name) => entry(name, signals[name])));
  };
}
