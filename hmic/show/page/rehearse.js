"use strict";
// A rehearsal: the design runs over a log or over values by hand, with hands on its glass and faults on its parts.
// `changed()` is called when it begins, ends, or shows another screen or theme.
function rehearsing(changed) {
  const FAULTS = [["pull", "cut"], ["power", "powered"], ["freeze", "frozen"], ["follow", "follows"]];
  let socket = null, now = null, wanted = false, settings = {}, dragged = false;

  const does = (deed, more = {}) => {
    if (socket?.readyState === WebSocket.OPEN) socket.send(JSON.stringify({ do: deed, ...more }));
  };

  function clock(seconds) {
    const tenths = Math.floor(seconds * 10 + 1e-6), minutes = Math.floor(tenths / 600);
    return `${minutes}:${(tenths / 10 - 60 * minutes).toFixed(1).padStart(4, "0")}`;
  }

  function on(name) {
    const state = now?.[name] ?? false;
    return name === "powered" ? !state : state;
  }

  function show() {
    const live = wanted && now !== null;
    $("stage").hidden = !wanted;
    $("rehearse").setAttribute("aria-pressed", wanted);
    if (!live) { $("whose").hidden = true; return; }
    for (const [id, name] of FAULTS) $(id).setAttribute("aria-pressed", on(name));
    const timed = now.end !== null && now.end !== undefined;
    $("time").hidden = $("whose").hidden = !timed;
    if (timed) {
      $("play").textContent = now.speed ? "Pause" : "Play";
      $("moment").max = now.end;
      if (!dragged) $("moment").value = now.at;
      $("moment").setAttribute("aria-valuetext", clock(now.at));
      $("now").textContent = `${clock(now.at)} of ${clock(now.end)}${now.whole ? "" : ", reading"}`;
    }
    $("line").textContent = now.bytes === undefined ? ""
      : `Line ${now.link}: ${now.bytes} bytes/s, ${now.percent} % of what it carries`;
    const newest = now.told?.[now.told.length - 1]?.[0] ?? 0;
    if ($("events").dataset.newest !== String(newest)) {
      $("events").dataset.newest = newest;
      $("events").replaceChildren(...(now.told ?? []).slice(-6).map(([, text]) => element("li", {}, text)));
    }
  }

  function hear(event) {
    const news = JSON.parse(event.data);
    if ("fault" in news || "change" in news) {
      $("said").textContent = news.fault ?? news.change;
      if ("fault" in news) return;
    }
    const before = now;
    // The same values stay the same array: what is painted of them is painted once.
    if (news.raw) news.raw = new Uint16Array(news.raw);
    now = { ...now, ...news };
    show();
    if (before?.screen !== now.screen || before?.theme !== now.theme || before?.powered !== now.powered) changed();
  }

  function begin() {
    const from = now;
    now = null;
    socket?.close();
    const mine = socket = new WebSocket("rehearsal");
    mine.onmessage = (event) => { if (mine === socket) hear(event); };
    mine.onopen = () => {
      does("set", { settings });
      if (from?.end) { does("seek", { at: from.at }); does("play", { speed: from.speed }); }
    };
    mine.onclose = () => {
      if (mine !== socket) return;
      now = null;
      changed();
      if (wanted) setTimeout(() => { if (wanted && mine === socket) begin(); }, 1000);
    };
  }

  function toggle() {
    wanted = !wanted;
    $("said").textContent = "";
    if (wanted) begin();
    else { socket?.close(); socket = now = null; }
    show();
    changed();
  }

  const play = () => does("play", { speed: now?.speed ? 0 : Number($("speed").value) });
  $("rehearse").addEventListener("click", toggle);
  $("play").addEventListener("click", play);
  $("next").addEventListener("click", () => { $("said").textContent = "looking"; does("next"); });
  $("speed").addEventListener("change", () => now?.speed && does("play", { speed: Number($("speed").value) }));
  $("moment").addEventListener("input", () => { dragged = true; does("seek", { at: Number($("moment").value) }); });
  $("moment").addEventListener("change", () => { dragged = false; });
  for (const [id, name] of FAULTS) $(id).addEventListener("click", () => does(id, { on: !on(name) }));

  return {
    does,
    play,
    toggle,
    again: () => { if (wanted) begin(); },
    set(values) { settings = values; does("set", { settings }); },
    running: () => wanted,
    seen: () => now,
  };
}
