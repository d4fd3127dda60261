"use strict";
// The picture as an eye gets it, by tables of hmic's own formulas: `lens(tables)` gives, for an eye and a light ("" for
// none) and the number of a theme, what is done to the pixels, and the grey of the surroundings; null for nothing.
function lens(tables) {
  const code = (light) => {
    let low = 0, high = 255;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (light >= tables.least[middle]) low = middle + 1;
      else high = middle;
    }
    return low;
  };
  return (eye, light, theme) => {
    if (!eye && !light) return null;
    const rows = tables.eyes[eye], lit = light ? tables.themes[theme][light] : null, known = new Map();
    const change = (pixel) => {
      let parts = [pixel & 255, (pixel >> 8) & 255, (pixel >> 16) & 255];
      if (rows) {
        const [red, green, blue] = parts.map((part) => tables.linear[part]);
        parts = rows.map((row) => code(row[0] * red + row[1] * green + row[2] * blue));
      }
      if (lit) parts = parts.map((part) => lit.codes[part]);
      return (255 << 24) | (parts[2] << 16) | (parts[1] << 8) | parts[0];
    };
    return {
      rim: lit ? lit.rim : null,
      through(picture) {
        const pixels = new Int32Array(picture.data.buffer);
        let last = 0, seen = 0;
        for (let at = 0; at < pixels.length; at++) {
          if (pixels[at] !== last) {
            last = pixels[at];
            seen = known.get(last);
            if (seen === undefined) known.set(last, (seen = change(last)));
          }
          pixels[at] = seen;
        }
      },
    };
  };
}
