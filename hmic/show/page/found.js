"use strict";
// What was found, beside the picture: each marks its place, and can be mended where its remedy is an edit.
function found(goTo, mend) {
  let told = null, list = "";

  function line(each, number) {
    const about = button("", () => mark(each), { className: "about" });
    const add = (kind, text) => { if (text) about.append(element(kind, {}, text), " "); };
    add("b", `${each.level} ${each.code}`);
    add("span", each.message);
    add("small", each.measured && `measured ${each.measured}`);
    add("small", each.remedy);
    add("small", [each.place, each.source].filter(Boolean).join(" · "));
    const made = element("li", { className: each.level }, about);
    if (each.mends) {
      const does = button("Mend it", () => { does.disabled = true; mend(number); }, { className: "does" });
      does.title = `${each.remedy}, in ${each.place}`;
      made.append(does);
    }
    return made;
  }

  function mark(each) {
    const boxes = each?.boxes ?? [];
    if (boxes.length && !boxes.some(([screen]) => screen === told.screen())) goTo(boxes[0][0]);
    if (told === null) return;
    const { width, height } = told.facts ?? {}, share = (part, whole) => `${(100 * part) / whole}%`;
    $("marks").replaceChildren(...boxes.filter(([screen]) => screen === told.screen()).map(
      ([, left, top, wide, high]) => {
        const frame = element("i");
        Object.assign(frame.style, {
          left: share(left, width), top: share(top, height), width: share(wide, width), height: share(high, height),
        });
        return frame;
      }));
  }

  return {
    mark,
    show(news, facts, screen) {
      if (JSON.stringify(news.findings) !== list) mark(null);
      list = JSON.stringify(news.findings);
      told = { facts, screen };
      const held = $("findings").contains(document.activeElement);
      $("findings").replaceChildren(...news.findings.map(line));
      if (held) $("findings").querySelector("button")?.focus();
      const left = news.failed ? [] : news.unjudged ?? [];
      $("left").hidden = !left.length;
      $("questions").replaceChildren(...left.map(({ question, where }) =>
        element("li", {}, `${question}: ${where.join(", ")}`)));
    },
  };
}
