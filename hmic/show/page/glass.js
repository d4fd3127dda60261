(() => {
const glass = $("glass");
let facts = null, paint = null, module = null, now = {}, socket = null, loading = null;

const does = (deed, more) => {
  if (socket?.readyState === WebSocket.OPEN) socket.send(JSON.stringify({ do: deed, ...more }));
};

function say(text) {
  $("told").hidden = !text;
  $("told").textContent = text;
}

// The glass with the pack that it holds now.
async function load(pack) {
  loading = pack;
  const found = await (await fetch("facts")).json();
  let brush = null;
  if (found.pack) {
    module ??= await (await fetch("player.wasm")).arrayBuffer();
    brush = await player(module, new Uint8Array(await (await fetch("pack")).arrayBuffer()), found, glass);
  } else {
    [glass.width, glass.height] = [found.width, found.height];
  }
  if (loading !== pack) return;
  [facts, paint] = [found, brush];
  fitted(facts, null);
  show();
}

function show() {
  if (facts === null) return;
  $("how").textContent = `${facts.width} x ${facts.height}, ${facts.depth} bits; `
    + (facts.pack ? `pack ${facts.pack}` : "no pack yet: push one");
  const text = facts.pack ? `${facts.screens[now.screen]}, ${facts.themes[now.theme]}, brightness ${now.brightness} %` : "";
  if ($("shown").textContent === text) return;
  $("shown").textContent = text;
  glass.setAttribute("aria-label", text ? `Screen ${text}` : "An empty display");
}

function join() {
  socket = new WebSocket("glass");
  socket.onmessage = (event) => {
    const news = JSON.parse(event.data);
    if (news.raw) news.raw = new Uint16Array(news.raw);
    now = { ...now, ...news };
    say("");
    if (now.pack !== loading || facts === null) load(now.pack).catch((fault) => { loading = null; say(fault.message); });
    else show();
  };
  socket.onclose = () => {
    say("The display does not answer; start it again and open its new address.");
    setTimeout(join, 1000);
  };
}

function turn(time) {
  if (paint !== null && now.pack === facts.pack && now.raw?.length === facts.channels)
    paint(now.screen, now.theme, now.raw, still.matches ? 0 : Math.floor(time) & 0x7fffffff);
  requestAnimationFrame(turn);
}

felt(glass, () => facts, (deed, x, y) => does(deed, { x, y }));
keys(() => ({
  ArrowLeft: () => does("turn", { right: false }),
  ArrowRight: () => does("turn", { right: true }),
}));
addEventListener("resize", () => facts && fitted(facts, null));
requestAnimationFrame(turn);
join();
})();
