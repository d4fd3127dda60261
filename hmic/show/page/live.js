(async () => {
const $ = (id) => document.getElementById(id);
const glass = $("glass"), still = matchMedia("(prefers-reduced-motion: reduce)");
const DOUBTS = [["live", ""], ["stale", "stale"], ["never seen", "unseen"], ["out of range", "out"]];
let told = null, module = null, paint = null, raw = null;
const chosen = { screen: null, theme: null }, settings = {};

async function fetched(path, options) {
  const answer = await fetch(path, options);
  if (!answer.ok) throw new Error((await answer.text()).trim() || answer.statusText);
  return answer;
}

function say(text) {
  $("told").hidden = !text;
  $("told").textContent = text;
}

// The newest values that were asked for; an answer that comes after a newer one is not taken.
let asked = 0;
async function bring() {
  const mine = ++asked;
  try {
    const answer = await fetched("values", {
      method: "POST", body: JSON.stringify({ settings, touch: "idle" }),
    });
    const values = new Uint16Array(await answer.arrayBuffer());
    if (mine === asked) { raw = values; say(""); }
  } catch (fault) {
    if (mine === asked) say(fault.message);
  }
}

async function look() {
  const news = await (await fetched("state")).json();
  if (news.facts) {
    const pack = new Uint8Array(await (await fetched("pack")).arrayBuffer());
    module ??= await (await fetched("player.wasm")).arrayBuffer();
    const brush = await player(module, pack, news.facts, glass);
    // By its name: screens and themes come and go while the page is open.
    const named = (list, before, name, usual) => {
      const now = before === null ? -1 : list.findIndex((each) => (each.name ?? each) === name);
      return now < 0 ? usual : now;
    };
    const screen = told?.facts?.screens[chosen.screen]?.name, theme = told?.facts?.themes[chosen.theme];
    chosen.screen = named(news.facts.screens, chosen.screen, screen, news.facts.start);
    chosen.theme = named(news.facts.themes, chosen.theme, theme, news.facts.theme);
    for (const name of Object.keys(settings)) if (!(name in news.signals)) delete settings[name];
    told = news;
    await bring();
    if (raw !== null && raw.length === news.facts.channels) paint = brush;
    buttons("screens", "screen", news.facts.screens.map((each) => each.name));
    buttons("themes", "theme", news.facts.themes);
    $("name").textContent = news.name;
    document.title = news.name;
  } else if (told === null) {
    told = news;
  }
  $("picture").classList.toggle("behind", news.behind);
  const wrong = news.findings.filter((each) => each.level === "error").length;
  const errors = wrong ? `${wrong === 1 ? "an error" : `${wrong} errors`}; ` : "";
  $("how").textContent = news.behind ? `${errors}the picture is from before`
    : news.checked ? `${errors || "up to date; "}${news.findings.length || "nothing"} found` : "checking";
  findings(news);
  signals();
  show();
  document.body.dataset.version = news.version;
  document.body.dataset.checked = news.checked;
}

function buttons(id, name, labels) {
  const now = labels.map((label, number) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label;
    button.value = number;
    button.addEventListener("click", () => choose(name, number));
    return button;
  });
  const held = document.activeElement?.parentElement === $(id) ? document.activeElement.value : null;
  $(id).replaceChildren(...now);
  if (held !== null) now[held]?.focus();
}

function choose(name, value) {
  chosen[name] = value;
  signals();
  mark(null);
  show();
}

function findings(news) {
  $("findings").replaceChildren(...news.findings.map((each) => {
    const line = document.createElement("li"), button = document.createElement("button");
    line.className = each.level;
    button.type = "button";
    const add = (kind, text) => {
      if (!text) return;
      const part = document.createElement(kind);
      part.textContent = text;
      button.append(part, " ");
    };
    add("b", `${each.level} ${each.code}`);
    add("span", each.message);
    add("small", each.measured && `measured ${each.measured}`);
    add("small", each.remedy);
    add("small", [each.place, each.source].filter(Boolean).join(" · "));
    button.addEventListener("click", () => mark(each));
    line.append(button);
    return line;
  }));
}

function mark(each) {
  $("marks").replaceChildren();
  if (each === null || !each.boxes.length) return;
  if (!each.boxes.some(([screen]) => screen === chosen.screen)) { choose("screen", each.boxes[0][0]); }
  const { width, height } = told.facts;
  for (const [screen, left, top, wide, high] of each.boxes) {
    if (screen !== chosen.screen) continue;
    const frame = document.createElement("i"), box = glass.getBoundingClientRect();
    const scale = Math.min(box.width / width, box.height / height), spare = (box.width - width * scale) / 2;
    const put = { left: spare + left * scale, top: top * scale, width: wide * scale, height: high * scale };
    for (const [side, value] of Object.entries(put)) frame.style[side] = `${value}px`;
    frame.style.marginTop = `${glass.offsetTop}px`;
    $("marks").append(frame);
  }
}

// Entries stay as long as the same signals are read, so that one that is being typed in is not lost.
let entered = "";
function signals() {
  if (!told?.facts) return;
  const names = told.reads[chosen.screen], key = JSON.stringify(names.map((name) => [name, told.signals[name]]));
  if (key === entered) return;
  entered = key;
  $("signals").replaceChildren(...names.map((name) => entry(name, told.signals[name])));
}

function set(name, value) {
  if (value === null) delete settings[name];
  else settings[name] = value;
  bring();
}

function entry(name, signal) {
  const box = document.createElement("div"), label = document.createElement("label");
  box.className = "signal";
  label.textContent = name + (signal.unit ? ` (${signal.unit})` : "") + (signal.count ? `, all ${signal.count}` : "");
  const field = document.createElement(signal.kind === "flag" || signal.words.length ? "select" : "input");
  field.id = `of ${name}`;
  label.htmlFor = field.id;
  const choices = signal.kind === "flag" ? ["off", "on"] : signal.words;
  for (const each of choices) field.append(new Option(each, each));
  const now = settings[name] ?? (signal.kind === "flag" ? (signal.now ? "on" : "off") : signal.now ?? "");
  const doubtful = DOUBTS.some(([, word]) => word && word === settings[name]);
  field.value = doubtful ? "" : typeof now === "number" ? Number(now.toFixed(3)) : now;
  let slide = null;
  if (signal.kind === "number") {
    field.inputMode = "decimal";
    if (signal.range) {
      slide = document.createElement("input");
      slide.type = "range";
      [slide.min, slide.max] = signal.range;
      slide.step = signal.step || (signal.range[1] - signal.range[0]) / 200;
      slide.value = field.value;
      slide.setAttribute("aria-label", `${name}, from ${signal.range[0]} to ${signal.range[1]} ${signal.unit}`);
    }
  }
  const doubt = document.createElement("select");
  doubt.setAttribute("aria-label", `State of ${name}`);
  for (const [text, word] of DOUBTS) doubt.append(new Option(text, word));
  doubt.value = doubtful ? settings[name] : "";
  const lives = () => { doubt.value = ""; set(name, field.value === "" ? null : field.value); };
  field.addEventListener(choices.length ? "change" : "input", () => { if (slide) slide.value = field.value; lives(); });
  slide?.addEventListener("input", () => { field.value = Number(Number(slide.value).toFixed(3)); lives(); });
  doubt.addEventListener("change", () => (doubt.value ? set(name, doubt.value) : lives()));
  box.append(label, field, doubt, ...(slide ? [slide] : []));
  return box;
}

for (const [text, word] of DOUBTS) {
  const button = document.createElement("button");
  button.type = "button";
  button.textContent = text;
  button.title = `all of this screen ${text}`;
  button.addEventListener("click", () => {
    for (const name of told?.reads?.[chosen.screen] ?? []) {
      if (word) settings[name] = word;
      else delete settings[name];
    }
    entered = "";
    signals();
    bring();
  });
  $("all").append(button);
}

let drawn = "";
function show() {
  if (!told?.facts) return;
  const said = `${told.facts.screens[chosen.screen].name}, ${told.facts.themes[chosen.theme]}`;
  for (const [id, name] of [["screens", "screen"], ["themes", "theme"]])
    for (const button of $(id).children) button.setAttribute("aria-pressed", button.value === String(chosen[name]));
  if (said === drawn) return;
  drawn = said;
  $("shown").textContent = said;
  glass.setAttribute("aria-label", `Screen ${said}`);
}

function turn(time) {
  if (paint !== null) paint(chosen.screen, chosen.theme, raw, still.matches ? 0 : Math.floor(time) & 0x7fffffff);
  requestAnimationFrame(turn);
}

document.addEventListener("keydown", (event) => {
  const typed = event.target.closest("input, select");
  if (typed || event.ctrlKey || event.altKey || event.metaKey || !told?.facts) return;
  const turned = (name, count, by) => choose(name, (chosen[name] + by + count) % count);
  const does = {
    ArrowLeft: () => turned("screen", told.facts.screens.length, -1),
    ArrowRight: () => turned("screen", told.facts.screens.length, 1),
    t: () => turned("theme", told.facts.themes.length, 1),
  }[event.key.length === 1 ? event.key.toLowerCase() : event.key];
  if (!does) return;
  event.preventDefault();
  does();
});
fingers(glass, () => told?.facts ?? null, () => told.facts.screens[chosen.screen], (to) => choose("screen", to));
addEventListener("resize", () => mark(null));
requestAnimationFrame(turn);

// One look at a time; what changes meanwhile is looked at after it.
let busy = false, again = false;
async function follow() {
  again = true;
  if (busy) return;
  busy = true;
  while (again) {
    again = false;
    try { await look(); } catch (fault) { say(fault.message); }
  }
  busy = false;
}
let heard = 0, version = "";
const news = new EventSource("news");
news.onmessage = (event) => {
  heard = Date.now();
  if (event.data !== version) { version = event.data; follow(); }
};
setInterval(() => {
  if (heard && Date.now() - heard > 12000) say("hmic does not answer; start it again and open its new address.");
}, 2000);
})();
