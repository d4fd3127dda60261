(async () => {
const glass = $("glass");
let told = null, module = null, paint = null, raw = null, tables = null, drawn = -1, view = null;
const chosen = { screen: null, theme: null, light: "", eye: "" }, settings = {}, contrasts = new Map();
const LIGHTS = [["as painted", ""], ["night", "night"], ["dusk", "dusk"], ["day", "day"], ["sun", "sun"]];
const EYES = [["all colours", ""], ["protan", "protan"], ["deutan", "deutan"], ["tritan", "tritan"], ["grey", "grey"]];

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
    const answer = await fetched("values", { method: "POST", body: JSON.stringify({ settings, touch: "idle" }) });
    const values = new Uint16Array(await answer.arrayBuffer());
    if (mine === asked) { raw = values; say(""); }
  } catch (fault) {
    if (mine === asked) say(fault.message);
  }
}

async function mend(number) {
  try {
    const body = JSON.stringify({ version: told.version, finding: number });
    $("how").textContent = "mending";
    say("");
    $("done").textContent = `Mended ${await (await fetched("mend", { method: "POST", body })).text()}`;
  } catch (fault) {
    say(fault.message);
    follow();
  }
}

const entries = values(settings, () => { listed(); bring(); stage.set(settings); });
// In a rehearsal the display itself says what is in sight.
const stage = rehearsing(() => {
  const seen = stage.seen();
  if (seen?.raw) Object.assign(chosen, { screen: seen.screen, theme: seen.theme });
  show();
});
const findings = found((screen) => choose("screen", screen), mend);
const measure = measuring(() => told.facts, async (screen) => {
  if (!contrasts.has(screen)) contrasts.set(screen, (await fetched(`contrasts?screen=${screen}`)).json());
  return contrasts.get(screen);
}, () => chosen);

function listed() {
  if (told?.facts) entries(told.reads[chosen.screen], told.signals);
}

// What is drawn is brought only when it has changed: the checks change nothing of it.
async function redrawn(news) {
  const pack = new Uint8Array(await (await fetched("pack")).arrayBuffer());
  module ??= await (await fetched("player.wasm")).arrayBuffer();
  tables = lens(await (await fetched("lens")).json());
  const brush = await player(module, pack, news.facts, glass);
  // By its name: screens and themes come and go while the page is open.
  const named = (list, before, name, usual) => {
    const now = before === null ? -1 : list.findIndex((each) => (each.name ?? each) === name);
    return now < 0 ? usual : now;
  };
  const screen = told?.facts?.screens[chosen.screen]?.name, theme = told?.facts?.themes[chosen.theme];
  chosen.screen = named(news.facts.screens, chosen.screen, screen, news.facts.start);
  chosen.theme = named(news.facts.themes, chosen.theme, theme, news.facts.theme);
  told = news;
  listed();
  contrasts.clear();
  await bring();
  if (raw !== null && raw.length === news.facts.channels) { paint = brush; drawn = news.drawn; }
  choices("screens", numbered(news.facts.screens.map((each) => each.name)), (value) => choose("screen", value));
  choices("themes", numbered(news.facts.themes), (value) => choose("theme", value));
  $("name").textContent = document.title = news.name;
  fit();
  stage.again();
}

async function look() {
  const news = await (await fetched("state")).json();
  if (news.facts && news.drawn !== drawn) await redrawn(news);
  told = news;
  $("picture").classList.toggle("behind", news.behind);
  const wrong = news.findings.filter((each) => each.level === "error").length;
  const errors = wrong ? `${wrong === 1 ? "an error" : `${wrong} errors`}; ` : "";
  $("how").textContent = news.behind ? `${errors}the picture is from before`
    : news.checked ? `${errors || "up to date; "}${news.findings.length || "nothing"} found` : "checking";
  if (news.checked || news.behind) findings.show(news, news.facts, () => chosen.screen);
  show();
  document.body.dataset.version = news.version;
  document.body.dataset.checked = news.checked;
}

function choose(name, value) {
  if (stage.running() && (name === "screen" || name === "theme"))
    return stage.does(name === "screen" ? "go" : "theme", { [name]: value });
  chosen[name] = value;
  findings.mark(null);
  show();
}

function show() {
  if (!told?.facts) return;
  listed();
  for (const name of ["screen", "theme", "light", "eye"]) pressed(`${name}s`, chosen[name]);
  view = tables(chosen.eye, chosen.light, chosen.theme);
  const rim = view?.rim ?? null;
  $("picture").style.background = rim === null ? "" : `rgb(${rim} ${rim} ${rim})`;
  if ($("picture").classList.toggle("lit", rim !== null) !== (show.lit ?? false)) { show.lit = rim !== null; fit(); }
  measure.show();
  const name = told.facts.screens[chosen.screen].name, said = [name, told.facts.themes[chosen.theme]];
  if (chosen.light) said.push(`as the eye gets it: ${chosen.light}`);
  if (chosen.eye) said.push(`to ${chosen.eye} eyes`);
  const text = said.join(", ");
  if ($("shown").textContent === text) return;
  $("shown").textContent = text;
  glass.setAttribute("aria-label", `Screen ${text}`);
}

// As large as fits, or as large as it is: px of the page a mm, by the card.
let large = null;
function fit() {
  if (told?.facts) fitted(told.facts, large);
}
function sized() {
  large = large === null ? 0 : null;
  $("card").hidden = large === null;
  $("size").setAttribute("aria-pressed", large !== null);
  carded();
}
function carded() {
  $("bar").style.width = `${$("width").value}px`;
  if (large !== null) large = $("width").value / CARD;
  fit();
}

function turn(time) {
  const seen = stage.seen();
  if (paint !== null && stage.running() && seen !== null && !seen.powered) paint.dark();
  else if (paint !== null)
    paint(chosen.screen, chosen.theme, (stage.running() && seen?.raw) || raw,
      still.matches ? 0 : Math.floor(time) & 0x7fffffff, view?.through);
  requestAnimationFrame(turn);
}

choices("lights", LIGHTS, (value) => choose("light", value));
choices("eyes", EYES, (value) => choose("eye", value));
$("ruler").addEventListener("click", () => told?.facts && measure.choose("ruler"));
$("contrast").addEventListener("click", () => told?.facts && measure.choose("contrast"));
$("size").addEventListener("click", sized);
$("width").addEventListener("input", carded);
keys(() => {
  if (!told?.facts) return {};
  const all = { screen: told.facts.screens.map((_, at) => at), theme: told.facts.themes.map((_, at) => at) };
  all.light = LIGHTS.map(([, value]) => value);
  all.eye = EYES.map(([, value]) => value);
  const turned = (name, by) => () => choose(name, after(all[name], chosen[name], by));
  return {
    ArrowLeft: turned("screen", -1), ArrowRight: turned("screen", 1), t: turned("theme", 1), l: turned("light", 1),
    e: turned("eye", 1), r: () => measure.choose("ruler"), c: () => measure.choose("contrast"), s: sized, p: stage.toggle, ...(stage.running() ? { " ": stage.play } : {}),
    ...measure.keys(),
  };
});
felt(glass, () => (!measure.tool() && stage.running() ? told?.facts ?? null : null),
  (deed, x, y) => stage.does(deed, { x, y }));
fingers(glass, () => (measure.tool() || stage.running() ? null : told?.facts ?? null), () => told.facts.screens[chosen.screen],
  (to) => choose("screen", to));
addEventListener("resize", fit);
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
