"use strict";
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const LOWEST = -2732; // tenths of a degree that code 1 stands for; 0 is "not measured"
  const ESCAPE = 255;
  const SVG = "http://www.w3.org/2000/svg";
  const chosen = { zone: null }; // id of the zone that was looked at last, kept from run to run

  // ---- temperatures -------------------------------------------------------------------------------------------

  const inflated = async (base64) => {
    const letters = atob(base64);
    const packed = new Uint8Array(letters.length);
    for (let at = 0; at < letters.length; at++) packed[at] = letters.charCodeAt(at);
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
    return new Response(stream).arrayBuffer();
  };

  // The counterpart of irspot.rendering.report.grid.
  const unpacked = async ([misses64, more64], columns, rows) => {
    const [misses, more] = await Promise.all([inflated(misses64), inflated(more64)]);
    const [zigzags, words] = [new Uint8Array(misses), new DataView(more)];
    const [codes, zones] = [new Uint16Array(columns * rows), new Uint16Array(columns * rows)];
    let escaped = 2 * codes.length;
    for (let row = 0, at = 0; row < rows; row++) {
      for (let column = 0; column < columns; column++, at++) {
        zones[at] = words.getUint16(2 * at, true);
        const zigzag = zigzags[at];
        if (zigzag === ESCAPE) {
          codes[at] = words.getUint16(escaped, true);
          escaped += 2;
        } else {
          const missed = zigzag & 1 ? -(zigzag + 1) / 2 : zigzag / 2;
          codes[at] = foretold(codes, at, row, column, columns) + missed;
        }
      }
    }
    return { codes, zones };
  };

  const foretold = (codes, at, row, column, columns) => {
    if (!row) return column ? codes[at - 1] : 0;
    const above = codes[at - columns];
    if (!column) return above;
    const left = codes[at - 1];
    const corner = codes[at - columns - 1];
    const low = left < above ? left : above;
    const high = left < above ? above : left;
    return corner >= high ? low : corner <= low ? high : left + above - corner;
  };

  const degcText = (code) => (code ? ((code - 1 + LOWEST) / 10).toFixed(1) : data.none);

  // ---- colours ------------------------------------------------------------------------------------------------

  const pixelOf = (hex) => {
    const part = (at) => parseInt(hex.slice(at, at + 2), 16);
    return (255 << 24) | (part(4) << 16) | (part(2) << 8) | part(0);
  };

  const palette = () => {
    const { low, high, table, over, under } = data.scale;
    const levels = table.length / 6;
    const colors = Array.from({ length: levels }, (_, at) => pixelOf(table.slice(6 * at, 6 * at + 6)));
    const [tooLow, tooHigh] = [pixelOf(under.slice(1)), pixelOf(over.slice(1))];
    return Int32Array.from({ length: 65536 }, (_, code) => {
      const degc = (code - 1 + LOWEST) / 10;
      if (degc < low) return tooLow;
      if (degc > high) return tooHigh;
      return colors[Math.min(levels - 1, Math.floor((levels * (degc - low)) / (high - low)))];
    });
  };

  const painted = (canvas, codes, colors) => {
    const { width, height } = canvas;
    const image = new ImageData(width, height);
    const pixels = new Int32Array(image.data.buffer);
    const hatch = data.scale.hatch.map((hex) => pixelOf(hex.slice(1)));
    for (let row = 0, at = 0; row < height; row++) {
      for (let column = 0; column < width; column++, at++) {
        pixels[at] = codes[at] ? colors[codes[at]] : hatch[((row + column) >> 2) & 1];
      }
    }
    canvas.getContext("2d").putImageData(image, 0, 0);
  };

  // ---- places -------------------------------------------------------------------------------------------------

  // Undoes what a lens bends (OpenCV's model), by going round until nothing moves.
  const straight = (lens, x, y) => {
    if (!lens) return [x, y];
    const [focal, cx, cy, k1, k2, p1, p2, k3] = lens;
    const [bentX, bentY] = [(x - cx) / focal, (y - cy) / focal];
    let [u, v] = [bentX, bentY];
    for (let round = 0; round < 40; round++) {
      const r2 = u * u + v * v;
      const radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3));
      const [du, dv] = [2 * p1 * u * v + p2 * (r2 + 2 * u * u), p1 * (r2 + 2 * v * v) + 2 * p2 * u * v];
      [u, v] = [(bentX - du) / radial, (bentY - dv) / radial];
    }
    return [u * focal + cx, v * focal + cy];
  };

  const millimetres = (frame, zone, column, row) => {
    const m = (zone && zone.toMm) || frame.toMm;
    if (!m) return "";
    const [x, y] = straight(frame.lens, column + frame.origin[0], row + frame.origin[1]);
    const depth = m[6] * x + m[7] * y + m[8];
    const mm = [m[0] * x + m[1] * y + m[2], m[3] * x + m[4] * y + m[5]].map((value) => (value / depth).toFixed(1));
    return `${mm[0]}, ${mm[1]} mm`;
  };

  // ---- elements -----------------------------------------------------------------------------------------------

  // Every text goes in as text; nothing of it is ever read as markup.
  const element = (name, text = "", className = "") => {
    const made = document.createElement(name);
    if (text) made.textContent = text;
    if (className) made.className = className;
    return made;
  };

  const drawn = (name, attributes) => {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  };

  const table = (heads, rows) => {
    const made = element("table");
    const head = made.createTHead().insertRow();
    for (const text of heads) {
      const cell = element("th", text);
      cell.scope = "col";
      head.append(cell);
    }
    const body = made.createTBody();
    for (const row of rows) body.insertRow().append(...row);
    return made;
  };

  // ---- what stands behind a reading ---------------------------------------------------------------------------

  const bar = (percent) => {
    const made = drawn("svg", { class: "bar", viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true" });
    made.append(drawn("rect", { class: "back", width: 100, height: 10 }), drawn("rect", { width: percent, height: 10 }));
    return made;
  };

  const budgetTable = (reading) => {
    const rows = reading.terms.map(([name, u, percent, shared]) => {
      const share = element("td", `${percent} % `);
      share.append(bar(percent));
      return [element("td", name), element("td", `${u} K`, "n"), share, element("td", shared)];
    });
    rows.push([element("td", "all, expanded (k = 2)"), element("td", reading.sum, "n"), element("td"), element("td")]);
    return table(["term", "u", "share", "same error in"], rows);
  };

  const pairs = (list) => {
    const made = element("dl");
    for (const [name, value] of list) {
      const pair = element("div");
      pair.append(element("dt", name), element("dd", value));
      made.append(pair);
    }
    return made;
  };

  const detailsOf = (reading) => {
    const parts = [element("h4", `Verdict: ${reading.verdict}`)];
    if (reading.why) parts.push(element("p", reading.why));
    if (reading.terms.length) parts.push(element("h4", "Budget of the maximum"), budgetTable(reading));
    if (reading.advice) parts.push(element("p", `More certain by: ${reading.advice}`));
    parts.push(element("h4", "Figures"), pairs(reading.facts));
    if (reading.flags.length) {
      parts.push(element("h4", "Flags"), pairs(reading.flags.map((name) => [`${name}:`, data.flags[name]])));
    }
    return parts;
  };

  const toggled = (button, row, reading) => {
    let more = row.nextElementSibling;
    if (!more || !more.classList.contains("more")) {
      more = element("tr", "", "more");
      more.setAttribute("role", "row");
      const cell = element("td");
      cell.setAttribute("role", "cell");
      cell.colSpan = row.cells.length;
      cell.append(...detailsOf(reading));
      more.append(cell);
      row.after(more);
    } else {
      more.hidden = !more.hidden;
    }
    button.setAttribute("aria-expanded", String(!more.hidden));
  };

  // ---- one frame ----------------------------------------------------------------------------------------------

  const viewer = (article, number) => {
    const frame = data.frames[number];
    const rows = [...article.querySelectorAll(".zone-row")];
    for (const row of rows) {
      const button = row.querySelector(".budget");
      button.hidden = false;
      button.addEventListener("click", () => toggled(button, row, frame.rows[Number(row.dataset.row)]));
    }
    const stage = article.querySelector(".stage");
    if (!stage) return { load: async () => {}, resume: () => {} };
    const canvas = stage.querySelector("canvas");
    const cross = stage.querySelector(".cross");
    const probe = article.querySelector(".probe");
    // Lines are drawn twice, dark beneath and light on top, so that they show on every colour.
    for (const path of stage.querySelectorAll("path")) path.before(drawn("path", { class: "halo", d: path.getAttribute("d") }));
    const rest = "Point at the image, tap it, or focus it and use the arrow keys.";
    let grid = null;
    let at = null; // where the cross is, [column, row]
    let kept = null; // where it was put, and returns to when the pointer leaves

    const lit = (zone) => {
      for (const path of stage.querySelectorAll(".zone")) {
        path.classList.toggle("lit", zone > 0 && Number(path.dataset.zone) === zone);
      }
      for (const row of rows) row.classList.toggle("lit", zone > 0 && Number(row.dataset.zone) === zone);
    };

    const says = (column, row) => {
      const place = row * frame.columns + column;
      const number = grid.zones[place];
      const zone = frame.zones[number - 1];
      const where = [millimetres(frame, zone, column, row), `px ${column + frame.origin[0]}, ${row + frame.origin[1]}`];
      const code = grid.codes[place];
      const parts = [element("b", code ? `${degcText(code)} °C` : "not measured")];
      parts.push(element("span", `this pixel, at ${where.filter(Boolean).join(" · ")}`));
      parts.push(element("span", zone ? `${zone.name}: ${zone.says}` : frame.zones.length ? "beside the board" : "", "of-zone"));
      probe.replaceChildren(...parts);
      return number;
    };

    const put = (column, row) => {
      at = [Math.max(0, Math.min(frame.columns - 1, column)), Math.max(0, Math.min(frame.rows_px - 1, row))];
      const [x, y] = [at[0] + frame.origin[0], at[1] + frame.origin[1]];
      const [x0, y0] = [frame.origin[0] - 0.5, frame.origin[1] - 0.5];
      const d = `M${x0} ${y}H${x0 + frame.columns}M${x} ${y0}V${y0 + frame.rows_px}`;
      cross.replaceChildren(drawn("path", { class: "halo", d }), drawn("path", { class: "hair", d }));
      const zone = says(at[0], at[1]);
      lit(zone);
      return zone;
    };

    const keep = (column, row) => {
      const zone = put(column, row);
      kept = at;
      chosen.zone = zone ? frame.zones[zone - 1].id : chosen.zone;
    };

    const clear = () => {
      at = kept = null;
      cross.replaceChildren();
      probe.textContent = rest;
      lit(0);
    };

    const back = () => (kept ? put(kept[0], kept[1]) : clear());

    // Hot spots from the hottest zone to the coolest.
    const spots = () =>
      frame.zones
        .filter((zone) => zone.hot)
        .map((zone) => [zone.hot[0] - frame.origin[0], zone.hot[1] - frame.origin[1]])
        .sort(([ca, ra], [cb, rb]) => grid.codes[rb * frame.columns + cb] - grid.codes[ra * frame.columns + ca]);

    const toSpot = (step) => {
      const all = spots();
      if (!all.length) return;
      const now = at ? all.findIndex(([column, row]) => column === at[0] && row === at[1]) : -1;
      const next = step === 0 || now < 0 ? 0 : (now + step + all.length) % all.length;
      keep(all[next][0], all[next][1]);
    };

    const pixelAt = (event) => {
      const box = canvas.getBoundingClientRect();
      return [
        Math.floor(((event.clientX - box.left) / box.width) * frame.columns),
        Math.floor(((event.clientY - box.top) / box.height) * frame.rows_px),
      ];
    };

    const keyed = (event) => {
      if (!grid) return;
      const step = event.shiftKey ? 10 : 1;
      const moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
      if (event.altKey || event.ctrlKey || event.metaKey) return;
      if (moves[event.key]) {
        const [column, row] = at || [Math.floor(frame.columns / 2), Math.floor(frame.rows_px / 2)];
        keep(column + moves[event.key][0], row + moves[event.key][1]);
      } else if (event.key === "Home") toSpot(0);
      else if (event.key === "PageDown") toSpot(1);
      else if (event.key === "PageUp") toSpot(-1);
      else if (event.key === "Escape") clear();
      else return;
      event.preventDefault();
    };

    const listen = () => {
      stage.addEventListener("pointermove", (event) => {
        if (event.pointerType === "mouse") put(...pixelAt(event));
        else if (event.buttons) keep(...pixelAt(event));
      });
      stage.addEventListener("pointerdown", (event) => keep(...pixelAt(event)));
      stage.addEventListener("pointerleave", (event) => event.pointerType === "mouse" && back());
      stage.addEventListener("keydown", keyed);
      for (const row of rows) {
        const zone = Number(row.dataset.zone);
        if (!zone) continue;
        const { hot } = frame.zones[zone - 1];
        const show = () => {
          if (hot) put(hot[0] - frame.origin[0], hot[1] - frame.origin[1]);
          lit(zone);
        };
        row.addEventListener("pointerenter", (event) => event.pointerType === "mouse" && show());
        row.addEventListener("pointerleave", (event) => event.pointerType === "mouse" && back());
        const find = row.querySelector(".find");
        find.addEventListener("focus", show);
        find.addEventListener("blur", back);
        find.addEventListener("click", () => {
          if (hot) keep(hot[0] - frame.origin[0], hot[1] - frame.origin[1]);
          chosen.zone = frame.zones[zone - 1].id;
          lit(zone);
        });
      }
    };

    const load = async (colors) => {
      const stored = JSON.parse(document.getElementById(`grid-${number}`).textContent);
      grid = await unpacked(stored, frame.columns, frame.rows_px);
      painted(canvas, grid.codes, colors);
      listen();
      probe.textContent = rest;
      article.dataset.loaded = "yes";
    };

    // The zone looked at in the run before is looked at again.
    const resume = () => {
      const zone = grid && frame.zones.find((each) => each.id === chosen.zone && each.hot);
      if (zone) keep(zone.hot[0] - frame.origin[0], zone.hot[1] - frame.origin[1]);
    };

    return { load, resume };
  };

  // ---- the runs -----------------------------------------------------------------------------------------------

  const articles = [...document.querySelectorAll(".frame")];
  const viewers = articles.map(viewer);
  const run = document.getElementById("run");
  let shown = -1;

  const show = (number) => {
    if (number === shown || !articles[number]) return;
    shown = number;
    articles.forEach((article, at) => {
      article.hidden = at !== number;
    });
    run.value = String(number);
    document.getElementById("before").disabled = number === 0;
    document.getElementById("after").disabled = number === articles.length - 1;
    viewers[number].resume();
  };

  // A link to a frame shows it, and shows it again where the address is already its own.
  const followed = (hash) => {
    const number = articles.findIndex((article) => `#${article.id}` === hash);
    if (number < 0) return;
    show(number);
    articles[number].scrollIntoView();
    articles[number].querySelector("h3").focus({ preventScroll: true });
  };

  const started = async () => {
    const print = document.getElementById("print");
    print.addEventListener("click", () => window.print());
    // On paper nothing can be opened.
    const folded = [...document.querySelectorAll("details:not([open])")];
    const unfold = (open) => folded.forEach((each) => (each.open = open));
    window.addEventListener("beforeprint", () => unfold(true));
    window.addEventListener("afterprint", () => unfold(false));
    if (!articles.length) return;
    document.getElementById("switch").hidden = false;
    run.addEventListener("change", () => show(Number(run.value)));
    document.getElementById("before").addEventListener("click", () => show(shown - 1));
    document.getElementById("after").addEventListener("click", () => show(shown + 1));
    document.addEventListener("click", (event) => {
      const link = event.target.closest('a[href^="#frame-"]');
      if (link) followed(link.hash);
    });
    window.addEventListener("hashchange", () => followed(location.hash));
    show(0);
    followed(location.hash);
    const colors = data.scale && palette();
    // The run in view first, then the others, so that switching and printing find them painted.
    const order = [shown, ...viewers.keys()];
    for (const number of new Set(order)) {
      await viewers[number].load(colors);
      await new Promise((resolve) => setTimeout(resolve));
    }
    print.hidden = false;
  };

  const failed = (error) => {
    for (const probe of document.querySelectorAll(".probe")) {
      probe.textContent = `This browser could not unpack the images (${error.message}); the numbers stand in the table.`;
    }
  };

  started()
    .catch(failed)
    .finally(() => {
      document.documentElement.dataset.ready = "yes";
    });
})();
