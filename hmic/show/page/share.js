(async () => {
const facts = JSON.parse($("facts").textContent);
const glass = $("glass"), slide = $("moment");

async function kept(id) {
  const packed = Uint8Array.from(atob($(`${id}-data`).textContent), (char) => char.charCodeAt(0));
  const flow = new DecompressionStream("deflate"), writer = flow.writable.getWriter();
  const written = writer.write(packed).then(() => writer.close());
  const parts = [];
  for (const reader = flow.readable.getReader(); ;) {
    const { done, value } = await reader.read();
    if (done) break;
    parts.push(value);
  }
  await written;
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  parts.reduce((at, part) => (whole.set(part, at), at + part.length), 0);
  return whole;
}

// States as share.py's `changes` writes them: where each begins, so that one can be read from the one before.
function states(bytes) {
  const words = new Uint16Array(bytes.buffer, 0, bytes.length >> 1), begins = [];
  for (let at = 0; at < words.length; at += 1 + 2 * words[at]) begins.push(at);
  const raw = new Uint16Array(facts.channels);
  let reached = -1, now = raw;
  return {
    count: begins.length,
    at(number) {
      if (number === reached) return now;
      if (number < reached) { raw.fill(0); reached = -1; }
      while (reached < number) {
        const begin = begins[++reached];
        for (let pair = 0; pair < words[begin]; pair++)
          raw[words[begin + 1 + 2 * pair]] = words[begin + 2 + 2 * pair];
      }
      return (now = raw.slice());
    },
  };
}

let paint, looks, moments;
try {
  const [module, pack, looked, recorded] = await Promise.all(["player", "pack", "looks", "moments"].map(kept));
  paint = await player(module, pack, facts, glass);
  looks = states(looked);
  moments = states(recorded);
} catch (fault) {
  $("told").hidden = false;
  $("told").textContent = `This browser cannot show the screens: ${fault.message}. A newer one can.`;
  return;
}

// "" stands for the recording, which there may be none of.
const chosen = { screen: facts.start, theme: facts.theme, look: moments.count ? "" : facts.looks[0], moment: 0 };
let playing = null, sight = -1, dress = -1, drawn = "";

function clock(seconds) {
  const minutes = Math.floor(seconds / 60), rest = (seconds - 60 * minutes).toFixed(1).padStart(4, "0");
  return `${minutes}:${rest}`;
}

// A screen that came up by itself, or another theme, is followed as in the vehicle; a choice made here stays
// until the next one.
function follow() {
  const now = facts.inSight[chosen.moment], look = facts.inTheme[chosen.moment];
  if (now !== sight) { sight = now; chosen.screen = now; }
  if (look !== dress) { dress = look; chosen.theme = look; }
}

function show(time) {
  const recorded = chosen.look === "";
  if (recorded) follow();
  const raw = recorded ? moments.at(chosen.moment) : looks.at(facts.looks.indexOf(chosen.look));
  paint(chosen.screen, chosen.theme, raw, still.matches ? 0 : Math.floor(time) & 0x7fffffff);
  const said = JSON.stringify(chosen);
  if (said === drawn) return;
  drawn = said;
  for (const name of ["screen", "theme", "look"]) pressed(`${name}s`, chosen[name]);
  const at = facts.begin + chosen.moment * facts.step;
  const name = facts.screens[chosen.screen].name, theme = facts.themes[chosen.theme];
  const shown = `${name}, ${theme}${recorded ? "" : `, ${chosen.look}`}`;
  if ($("shown").textContent !== shown) $("shown").textContent = shown;
  glass.setAttribute("aria-label", `Screen ${shown}`);
  if (recorded) {
    slide.value = chosen.moment;
    slide.setAttribute("aria-valuetext", clock(at));
    $("now").textContent = clock(at);
  }
}

function choose(name, value) {
  chosen[name] = value;
  if (name === "look" && value !== "") stop();
  show(performance.now());
}

function stop() {
  playing = null;
  $("play").textContent = "Play";
}

function play() {
  if (playing !== null) return stop();
  chosen.look = "";
  if (chosen.moment >= moments.count - 1) chosen.moment = 0;
  playing = performance.now() - chosen.moment * facts.step * 1000;
  $("play").textContent = "Stop";
}

const named = facts.looks.map((each) => [each, each]), shows = (name) => (value) => choose(name, value);
choices("screens", numbered(facts.screens.map((each) => each.name)), shows("screen"));
choices("themes", numbered(facts.themes), shows("theme"));
choices("looks", moments.count ? [["recorded", ""], ...named] : named, shows("look"));
if (moments.count) {
  $("time").hidden = false;
  slide.max = moments.count - 1;
  slide.addEventListener("input", () => { stop(); chosen.look = ""; choose("moment", Number(slide.value)); });
  $("play").addEventListener("click", play);
}

keys(() => {
  const all = { screen: facts.screens.map((_, at) => at), theme: facts.themes.map((_, at) => at) };
  all.look = [...(moments.count ? [""] : []), ...facts.looks];
  const turned = (name, by) => () => choose(name, after(all[name], chosen[name], by));
  return {
    ArrowLeft: turned("screen", -1), ArrowRight: turned("screen", 1), t: turned("theme", 1), v: turned("look", 1),
    " ": () => moments.count && play(),
  };
});
fingers(glass, () => facts, () => facts.screens[chosen.screen], (to) => choose("screen", to));

function turn(time) {
  if (playing !== null) {
    chosen.moment = Math.max(0, Math.floor((time - playing) / 1000 / facts.step));
    if (chosen.moment >= moments.count - 1) { chosen.moment = moments.count - 1; stop(); }
  }
  show(time);
  requestAnimationFrame(turn);
}
const fit = () => fitted(facts, null);
addEventListener("resize", fit);
fit();
document.body.dataset.ready = "yes";
requestAnimationFrame(turn);
})();
