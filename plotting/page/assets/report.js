"use strict";
(() => {
  const report = JSON.parse(document.getElementById("data").textContent);
  const ink = "#1b222c", muted = "#525b65", rust = "#98420f", rule = "#d9dcdf";
  const crowded = 120; // events in a lane, above which it shows numbers

  // ---- words ----

  const minus = text => String(text).replace("-", "−");
  const number = (x, decimals, signed) => (signed && x > 0 ? "+" : "") + minus(x.toFixed(decimals));
  const short = x => minus(+x.toPrecision(3));

  // decimalsFor is how many decimals tell values apart in a range of a width.
  const decimalsFor = width => Math.min(8, Math.max(0, Math.ceil(-Math.log10(width || 1)) + 2));
  const two = n => String(n).padStart(2, "0");

  // clock writes a time on an axis whose labels are a step apart.
  function clock(s, step) {
    if (report.end <= 120) return minus(+s.toFixed(step < 1 ? 1 : 0));
    const t = step < 1 ? Math.round(s * 10) / 10 : Math.round(s);
    const h = Math.floor(t / 3600), m = Math.floor(t / 60) % 60, rest = step < 1 ? (t % 60).toFixed(1).padStart(4, "0") : two(t % 60);
    if (report.end < 3600) return Math.floor(t / 60) + ":" + rest;
    return h + ":" + two(m) + (step < 60 ? ":" + rest : "");
  }
  const timeUnit = step => report.end <= 120 ? "s" : report.end < 3600 ? "min:s" : step < 60 ? "h:min:s" : "h:min";

  // moment writes a time in a sentence.
  function moment(s) {
    if (s < 60) return s.toFixed(1) + " s";
    const t = Math.round(s), h = Math.floor(t / 3600);
    return (h ? h + " h " : "") + (h ? two(Math.floor(t / 60) % 60) : Math.floor(t / 60)) + " min " + two(t % 60) + " s";
  }
  const timeSteps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800, 604800];

  // ---- parts of the page ----

  const make = (tag, name, parent) => {
    const e = document.createElement(tag);
    if (name) e.className = name;
    if (parent) parent.append(e);
    return e;
  };
  const px = () => parseFloat(getComputedStyle(document.documentElement).fontSize);

  // The sound of an event is played where the table has it.
  let playing;
  function play(row) {
    const audio = document.querySelector("#event-" + row + " audio");
    if (!audio) return false;
    if (playing && playing !== audio) playing.pause();
    audio.currentTime = 0;
    audio.play().catch(() => {});
    return true;
  }
  const hasSound = ev => ev.row > 0 && document.querySelector("#event-" + ev.row + " audio") !== null;

  for (const audio of document.querySelectorAll("audio")) {
    const row = audio.closest("tr");
    audio.addEventListener("play", () => {
      if (playing && playing !== audio) playing.pause();
      playing = audio;
      row.classList.add("playing");
    });
    for (const end of ["pause", "ended"]) audio.addEventListener(end, () => row.classList.remove("playing"));
    audio.addEventListener("error", () => {
      if (row.querySelector(".lost")) return;
      make("span", "lost", audio.parentNode).textContent = "not found beside this page";
      audio.remove();
    });
  }

  // frame prepares a figure for a chart and returns its places.
  function frame(figure, help) {
    const how = figure.querySelector(".how");
    const key = make("ul", "key"), plot = make("div", "plot"), readout = make("output", "readout"), tools = make("div", "tools");
    how.before(key, plot, readout, tools);
    plot.tabIndex = 0;
    plot.setAttribute("role", "application");
    plot.setAttribute("aria-label", figure.querySelector("figcaption").textContent + ", chart. " + help);
    readout.setAttribute("aria-live", "polite");
    readout.textContent = help;
    return { figure, key, plot, readout, tools };
  }

  function explain(place, mark, text) {
    const li = make("li", "", place.key);
    li.innerHTML = '<svg viewBox="0 0 32 14" aria-hidden="true">' + mark + "</svg>";
    li.append(text);
  }
  const line = (colour, width, dash) => `<path d="M0 7H32" stroke="${colour}" stroke-width="${width}" ${dash ? `stroke-dasharray="${dash}"` : ""}/>`;
  const box = colour => `<rect width="32" height="14" fill="${colour}"/>`;

  // key explains what a panel draws by its name.
  function key(place, spec) {
    for (const a of spec.areas || []) if (a.name) explain(place, box(a.ink), a.name);
    for (const s of spec.lanes ? [] : spec.series || []) {
      if (!s.name || !s.x.length) continue;
      const mark = s.mark ? `<circle cx="16" cy="7" r="4" stroke="${s.ink}" fill="${s.mark === "ring" ? "#fff" : s.ink}"/>` : "";
      explain(place, (s.band ? box(s.band) : "") + (s.width ? line(s.ink, 2 * s.width, s.dash) : "") + mark, s.name + (s.bounds ? ", " + s.bounds : ""));
    }
  }

  // ---- axes ----

  const within = (v, a, b) => v >= a && v <= b;

  // axis draws a prepared axis: with its own ticks as long as three of them are
  // in view, with finer ones closer by.
  function axis(spec, size) {
    let step = 0;
    const time = spec.kind === "elapsed", log = spec.kind === "log";
    const steps = time ? timeSteps : Array.from({ length: 42 }, (_, k) => [1, 2, 5][k % 3] * 10 ** (Math.floor(k / 3) - 9));
    return {
      label: () => step && time ? `elapsed time (${timeUnit(step)})` : spec.label, size,
      font: 0.78 * px() + 'px "Liberation Sans", Arial, sans-serif', labelFont: 0.78 * px() + 'px "Liberation Sans", Arial, sans-serif',
      labelSize: 1.6 * px(), labelGap: 2, stroke: ink, grid: { stroke: rule, width: 1 }, ticks: { stroke: ink, width: 1, size: 5 },
      splits: (u, i, min, max) => {
        const room = (i ? u.over.clientHeight / 2 : u.over.clientWidth / 4.5) / px() || 10;
        const all = spec.ticks.filter(t => t.Label && within(t.Value, min, max)).map(t => t.Value);
        step = 0;
        if (all.length >= 3 || spec.fixed) return spec.fixed && i ? all : all.filter((_, k) => k % Math.ceil(all.length / room) === 0);
        const count = s => Math.floor(max / s) - Math.ceil(min / s) + 1;
        const at = steps.findIndex(s => (max - min) / s <= Math.min(room, 8));
        step = (count(steps[at]) > 1 ? steps[at] : steps[at - 1]) || (max - min); // one label tells no scale
        return Array.from({ length: count(step) }, (_, k) => (Math.ceil(min / step) + k) * step);
      },
      values: (u, splits) => splits.map(v => {
        const t = spec.ticks.find(t => t.Label && t.Value === v);
        if (t && !step) return t.Label;
        return time ? clock(v, step) : log ? short(10 ** v) : number(v, Math.max(0, decimalsFor(step) - 2), spec.signed);
      }),
    };
  }

  // along writes a place on an axis in a sentence.
  const along = (spec, v) => spec.kind === "elapsed" ? "At " + moment(v) : spec.kind === "log" ? `Over ${short(10 ** v)} ${spec.unit || ""}` : `${spec.label} ${short(v)}`;

  // ---- what lies between the axes ----

  const inside = draw => u => {
    const { ctx, bbox } = u;
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    ctx.setLineDash([]);
    draw(u, ctx, (x, y) => [u.valToPos(x, "x", true), u.valToPos(y, "y", true)]);
    ctx.restore();
  };

  function frameLine(u) {
    u.ctx.setLineDash([]);
    u.ctx.strokeStyle = ink;
    u.ctx.lineWidth = uPlot.pxRatio;
    u.ctx.strokeRect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
  }

  const inView = (u, s) => s.x.filter(x => within(x, u.scales.x.min, u.scales.x.max)).length;

  // areas fills boxes; those of the whole height stay so at any zoom. A crowded
  // lane shows numbers until its events have room.
  const areas = spec => inside((u, ctx, at) => (spec.areas || []).forEach((a, k) => {
    if (spec.lanes && !spec.series[k].size && inView(u, spec.series[k]) <= crowded) return;
    ctx.fillStyle = a.ink;
    for (const [left, foot, right, top] of a.boxes || []) {
      const [x, y] = at(left, top), [x2, y2] = at(right, foot), whole = foot === spec.y.low && top === spec.y.high;
      ctx.fillRect(x, whole ? 0 : y, Math.max(x2 - x, uPlot.pxRatio), whole ? 1e5 : y2 - y);
    }
  }));

  // sign draws a mark of a radius.
  function sign(ctx, s, x, y, r) {
    ctx.beginPath();
    ctx.fillStyle = ctx.strokeStyle = s.ink;
    ctx.lineWidth = 1.4 * uPlot.pxRatio;
    const way = { forward: [1, 0], backward: [-1, 0], up: [0, -1], down: [0, 1] }[s.mark];
    if (way) {
      const [a, b] = [way[0] * r, way[1] * r];
      ctx.moveTo(x + a, y + b); ctx.lineTo(x - a - b, y - b + a); ctx.lineTo(x - a + b, y - b - a);
      return ctx.fill();
    }
    switch (s.mark) {
      case "box": return ctx.fillRect(x - r, y - r, 2 * r, 2 * r);
      case "dot": ctx.arc(x, y, r, 0, 7); return ctx.fill();
      case "ring": ctx.arc(x, y, r, 0, 7); ctx.fillStyle = "#fff"; ctx.fill(); break;
      case "plus": ctx.moveTo(x - r, y); ctx.lineTo(x + r, y); ctx.moveTo(x, y - r); ctx.lineTo(x, y + r); break;
      case "square": ctx.rect(x - r, y - r, 2 * r, 2 * r); break;
      default: ctx.moveTo(x - r, y - r); ctx.lineTo(x + r, y + r); ctx.moveTo(x + r, y - r); ctx.lineTo(x - r, y + r);
    }
    ctx.stroke();
  }

  // marks draws error bars and signs, and what lies beyond the upper and lower
  // edge as triangles there.
  const marks = spec => inside((u, ctx, at) => {
    for (const s of spec.series || []) {
      const bars = s.low && !s.band, size = s.size || (spec.lanes && inView(u, s) <= crowded ? 2.6 : 0);
      if (!size && !s.strays) continue;
      s.x.forEach((t, i) => {
        if (s.y[i] === null || !within(t, u.scales.x.min, u.scales.x.max)) return;
        const [x, y] = at(t, s.y[i]);
        if (bars) {
          ctx.strokeStyle = s.ink;
          ctx.lineWidth = uPlot.pxRatio;
          ctx.beginPath(); ctx.moveTo(...at(t, s.low[i])); ctx.lineTo(...at(t, s.high[i])); ctx.stroke();
        }
        const r = 4 * uPlot.pxRatio, above = s.y[i] > u.scales.y.max;
        if (within(s.y[i], u.scales.y.min, u.scales.y.max)) {
          if (s.mark && size) sign(ctx, s, x, y, 1.6 * size * uPlot.pxRatio);
        } else if (s.strays) sign(ctx, { mark: above ? "up" : "down", ink: rust }, x, above ? u.bbox.top + r : u.bbox.top + u.bbox.height - r, r);
      });
    }
  });

  // ---- reading ----

  // nearest is the point of a series nearest to a place, −1 where none is near.
  function nearest(spec, s, x) {
    let best = -1;
    s.x.forEach((t, i) => { if (s.y[i] !== null && (best < 0 || Math.abs(t - x) < Math.abs(s.x[best] - x))) best = i; });
    return best >= 0 && Math.abs(s.x[best] - x) <= (spec.x.high - spec.x.low) / 50 ? best : -1;
  }

  // value writes a point with its bounds.
  function value(spec, s, i) {
    const log = spec.y.kind === "log", lin = v => log ? 10 ** v : v, unit = spec.y.unit ? " " + spec.y.unit : "";
    const se = s.low ? (s.high[i] - s.low[i]) / 2 : 0;
    const decimals = decimalsFor((se || (spec.y.high - spec.y.low) / 100) * 10);
    const text = log ? short(lin(s.y[i])) : number(s.y[i], decimals, spec.y.signed);
    if (!s.low || !(s.high[i] > s.low[i])) return text + unit;
    if (s.bounds.startsWith("±")) return text + " ± " + number(se, decimals) + unit;
    const [a, b] = [lin(s.low[i]), lin(s.high[i])].map(v => log ? short(v) : number(v, decimals, spec.y.signed));
    return `${text}${unit} (${s.bounds} ${a} to ${b})`;
  }

  // tell says what a panel shows at a place.
  function tell(place, spec, x) {
    const said = spec.series.filter(s => s.name && s.x.length > 1).map(s => [s, nearest(spec, s, x)]).filter(([, i]) => i >= 0);
    if (!said.length) return;
    const [first, i] = said[0];
    let text = along(spec.x, first.x[i]) + ": " + said.map(([s, i]) => s.name + " " + value(spec, s, i)).join("; ");
    const under = spec.under;
    if (under) text += `; ${(under.low + (first.x[i] - spec.x.low) / (spec.x.high - spec.x.low) * (under.high - under.low)).toFixed(3)} ${under.label}`;
    if (!within(first.y[i], spec.y.low, spec.y.high)) text += " (beyond the whole chart's scale)";
    place.readout.textContent = text;
  }

  // ---- panels ----

  const quiet = { stroke: "transparent", points: { show: false } };
  const help = "Hover for values, drag to zoom, double-click to return. With keys: arrows walk, + and − zoom, 0 returns.";

  // panel draws one pair of axes.
  function panel(place, spec, tall, more) {
    const tables = [], series = [{}], bands = [];
    for (const s of spec.lanes ? [] : spec.series || []) {
      if (!s.x.length || !s.width && !s.band) continue;
      if (s.band) bands.push({ series: [series.length, series.length + 1], fill: s.band });
      tables.push(s.band ? [s.x, s.high, s.low, s.y] : [s.x, s.y]);
      if (s.band) series.push({ ...quiet }, { ...quiet });
      series.push(s.width ? { stroke: s.ink, width: 1.7 * s.width, dash: s.dash, points: { show: false } } : { ...quiet });
    }
    tables.push([[spec.x.low, spec.x.high], [null, null]]);
    series.push({ ...quiet });

    const u = new uPlot({
      width: place.plot.clientWidth, height: tall(), legend: { show: false }, series, bands, padding: [8, 1.3 * px(), 0, 0],
      cursor: { drag: { x: true, y: true, uni: 30, setScale: false }, bind: { dblclick: () => null } },
      scales: { x: { time: false, auto: false }, y: { auto: false, dir: spec.y.down ? -1 : 1 } },
      axes: [axis(spec.x, 1.8 * px()), axis(spec.y, 4.6 * px())],
      hooks: { drawClear: [areas(spec)], draw: [marks(spec), frameLine], setCursor: [u => { if (u.cursor.left >= 0) tell(place, spec, u.posToVal(u.cursor.left, "x")); }] },
      ...more,
    }, uPlot.join(tables), place.plot);
    u.batch(() => {
      u.setScale("x", { min: spec.x.low, max: spec.x.high });
      u.setScale("y", { min: spec.y.low, max: spec.y.high });
    });
    let width = place.plot.clientWidth;
    new ResizeObserver(() => {
      if (place.plot.clientWidth === 0 || place.plot.clientWidth === width) return;
      width = place.plot.clientWidth;
      u.setSize({ width, height: tall() });
    }).observe(place.plot);
    return u;
  }

  // fit is the range of what a panel shows in a part of its x axis.
  function fit(spec, [from, to]) {
    const seen = spec.series.filter(s => s.x.length > 2).flatMap(s => [s.y, s.low || [], s.high || []].flatMap(ys => ys.filter((y, i) => y !== null && within(s.x[i], from, to))));
    if (!seen.length || spec.y.kind === "log") return null;
    const a = Math.min(...seen), b = Math.max(...seen), margin = Math.max((b - a) * 0.08, (spec.y.high - spec.y.low) * 1e-4);
    return [a - margin, b + margin];
  }

  // zoomable lets a panel be zoomed by dragging, and with tools by buttons and
  // keys. Linked ones keep the same range of x.
  function zoomable(u, place, spec, linked, tools) {
    const dim = spec.heat ? "y" : "x", full = [spec[dim].low, spec[dim].high];
    const show = (x, y) => {
      if (x && x[1] - x[0] < (spec.x.high - spec.x.low) * 1e-5) return;
      u.batch(() => {
        if (x) for (const one of [u, ...linked]) one.setScale("x", { min: x[0], max: x[1] });
        if (y) u.setScale("y", { min: y[0], max: y[1] });
      });
      if (tools) [place.figure.dataset.from, place.figure.dataset.to] = [u.scales[dim].min, u.scales[dim].max];
    };
    const reset = () => show([spec.x.low, spec.x.high], [spec.y.low, spec.y.high]);
    u.hooks.setSelect = [() => {
      const s = u.select, wide = s.width >= 3, high = s.height >= 3 && s.height < u.over.clientHeight;
      if (!wide && s.height < 3) return;
      const x = wide ? [u.posToVal(s.left, "x"), u.posToVal(s.left + s.width, "x")] : [u.scales.x.min, u.scales.x.max];
      show(x, high ? [u.posToVal(s.top + s.height, "y"), u.posToVal(s.top, "y")].sort((a, b) => a - b) : spec.heat ? null : fit(spec, x));
      u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    }];
    u.over.addEventListener("dblclick", reset);
    reset();
    if (!tools) return;

    const go = (share, by) => { // moves the view by shares of its width, and scales it
      const a = u.scales[dim].min, width = u.scales[dim].max - a, wider = width * by;
      if (wider >= full[1] - full[0]) return reset();
      const from = Math.min(Math.max(a + width * share + (width - wider) / 2, full[0]), full[1] - wider);
      dim === "y" ? show(null, [from, from + wider]) : show([from, from + wider], fit(spec, [from, from + wider]));
    };
    const walked = (spec.series || []).reduce((a, s) => !a || s.x.length > a.x.length ? s : a, null);
    let at = -1;
    const walk = by => {
      const usable = [...walked.x.keys()].filter(i => walked.y[i] !== null && within(walked.x[i], u.scales.x.min, u.scales.x.max));
      if (!usable.length) return;
      const k = usable.indexOf(at);
      at = usable[k < 0 ? (by > 0 ? 0 : usable.length - 1) : Math.min(Math.max(k + by, 0), usable.length - 1)];
      u.setCursor({ left: u.valToPos(walked.x[at], "x"), top: u.valToPos(walked.y[at], "y") });
      tell(place, spec, walked.x[at]);
    };
    for (const [text, name, act] of [["+ closer", "Zoom in", () => go(0, 0.5)], ["− wider", "Zoom out", () => go(0, 2)], ["◂ back", "Earlier", () => go(-0.5, 1)],
      ["on ▸", "Later", () => go(0.5, 1)], ["whole run", "Show the whole run again", reset]]) {
      const b = make("button", "", place.tools);
      b.type = "button";
      b.textContent = text;
      b.setAttribute("aria-label", name);
      b.addEventListener("click", act);
    }
    const keys = { "+": () => go(0, 0.5), "=": () => go(0, 0.5), "-": () => go(0, 2), 0: reset, Escape: reset };
    if (walked) Object.assign(keys, { ArrowRight: e => walk(e.shiftKey ? 10 : 1), ArrowLeft: e => walk(e.shiftKey ? -10 : -1) });
    place.plot.addEventListener("keydown", e => {
      if (!keys[e.key] || e.ctrlKey || e.metaKey || e.altKey) return;
      e.preventDefault();
      keys[e.key](e);
    });
  }

  // choosable lets an event under the pointer be told of, heard or found. spot
  // is its place on the axes, aside what else is said of the place.
  function choosable(u, place, events, spot, aside) {
    const said = ev => `${ev.kind} at ${moment(ev.start)}, beat ${ev.beat}` + (ev.kind !== "stop" && ev.shift ? `, ${number(ev.shift, 2, true)} ms` : "");
    const near = () => {
      let best, least = 13;
      for (const ev of events) {
        const [x, y] = spot(ev), d = Math.hypot(u.valToPos(x, "x") - u.cursor.left, u.valToPos(y, "y") - u.cursor.top);
        if (d < least) [best, least] = [ev, d];
      }
      return best;
    };
    u.hooks.setCursor = [() => {
      if (u.cursor.left < 0) return;
      const ev = near(), texts = [aside()];
      if (ev) texts.push(said(ev) + (hasSound(ev) ? ". Click to hear it." : ev.row ? ". Click to find it in the table." : ""));
      u.over.style.cursor = ev && ev.row ? "pointer" : "";
      if (texts.some(t => t)) place.readout.textContent = texts.filter(t => t).join(". ");
    }];
    u.over.addEventListener("click", () => {
      const ev = near();
      if (!ev || !ev.row) return;
      if (play(ev.row)) place.readout.textContent = "Playing: " + said(ev);
      else location.hash = "event-" + ev.row;
    });
  }

  // chart draws the panels of a figure.
  function chart(figure, spec) {
    const [main, ...rest] = spec.panels;
    if (main.heat) return map(figure, main);
    const place = frame(figure, help);
    for (const p of spec.panels) key(place, p);
    main.under = main.under || rest.map(p => p.under).find(u => u);
    const high = () => Math.round(Math.min(Math.max(place.plot.clientWidth * 0.5, 15 * px()), 30 * px()));
    const wide = rest.some(p => p.lanes) ? { axes: [axis(main.x, 1.8 * px()), axis(main.y, 6.2 * px())] } : {}; // in line with the lanes
    const u = panel(place, main, high, wide), linked = [];
    for (const p of rest) {
      if (p.lanes) {
        p.y.fixed = true;
        const lane = panel(place, p, () => Math.round((p.y.high * 1.2 + 0.6) * px()), {
          cursor: { y: false, drag: { x: false, y: false, setScale: false }, bind: { dblclick: () => null } }, padding: [4, 1.3 * px(), 4, 0],
          axes: [{ show: false }, { ...axis(p.y, 6.2 * px()), grid: { show: false }, ticks: { show: false } }],
        });
        choosable(lane, place, report.events, ev => [ev.start, (p.series.find(s => s.name === ev.kind) || { y: [NaN] }).y[0]], () => "");
        linked.push(lane);
      } else zoomable(panel(place, p, high), place, p, [], false);
    }
    zoomable(u, place, main, linked, true);
  }

  // ---- the map of turns ----

  function map(figure, spec) {
    const m = spec.heat, cells = Uint8Array.from(atob(m.cells), c => c.charCodeAt(0));
    const heard = report.events.filter(hasSound);
    const place = frame(figure, "Hover for a beat, drag to zoom, double-click to return." + (heard.length ? " A click on a ring plays that moment. The same sounds are in the table below." : ""));
    const inks = m.colours.map(c => [1, 3, 5].map(i => parseInt(c.slice(i, i + 2), 16)));
    const picture = make("canvas");
    [picture.width, picture.height] = [m.columns, m.rows];
    const pixels = picture.getContext("2d").createImageData(m.columns, m.rows);
    cells.forEach((v, i) => {
      if (v === 0) return;
      const x = Math.min(Math.max((v - 128) / 100, -1), 1);
      pixels.data.set([...inks[Math.round((x + 1) / 2 * (inks.length - 1))], 255], 4 * i);
    });
    picture.getContext("2d").putImageData(pixels, 0, 0);

    const unit = spec.keyed.unit, by = unit === "µs" ? 1e6 : 1e3, end = +(m.limit * by).toPrecision(3);
    const stops = m.colours.filter((_, i) => i % 6 === 0).map((c, i, all) => `<rect x="${32 * i / all.length}" width="${32 / all.length + 0.3}" height="14" fill="${c}"/>`).join("");
    explain(place, stops, `deviation from −${end} ${unit} (early, light) to +${end} ${unit} (late, dark)`);
    explain(place, '<rect width="31" height="13" x=".5" y=".5" fill="#fff" stroke="#525b65"/>', "no figure: not heard, or beside a jump");
    if (heard.length) explain(place, '<circle cx="16" cy="7" r="5" fill="none" stroke="#fff" stroke-width="5"/><circle cx="16" cy="7" r="5" fill="none" stroke="#98420f" stroke-width="2"/>', "has a sound");

    const spot = ev => [ev.beat % m.columns + 0.5, Math.floor((ev.beat - m.first) / m.columns) / m.merged + 0.5];
    const when = row => {
      for (let r = Math.min(Math.max(Math.floor(row), 0), m.rows - 1); r >= 0; r--) if (m.start[r] !== null) return m.start[r];
      return 0;
    };
    const rows = axis({ ...spec.y, kind: "" }, 4.6 * px()), values = rows.values;
    rows.values = (u, splits) => splits.map((row, i) => spec.y.ticks.some(t => t.Label && t.Value === row) ? values(u, [row])[0] : clock(when(row), 1));
    rows.label = u => u.scales.y.max - u.scales.y.min < m.rows ? `elapsed time (${timeUnit(1)}), downwards` : spec.y.label;
    rows.grid = { show: false };
    const u = panel(place, spec, () => 36 * px(), { axes: [{ ...axis(spec.x, 1.8 * px()), grid: { show: false } }, rows] });
    u.hooks.drawClear.unshift(inside((u, ctx, at) => {
      const [x, y] = at(0, 0), [x2, y2] = at(m.columns, m.rows);
      ctx.imageSmoothingEnabled = y2 - y < m.rows;
      ctx.drawImage(picture, x, y, x2 - x, y2 - y);
    }));
    u.hooks.draw.unshift(inside((u, ctx, at) => {
      for (const ev of heard) for (const [colour, width] of [["#fff", 5], [rust, 2]]) {
        ctx.strokeStyle = colour;
        ctx.lineWidth = width * uPlot.pxRatio;
        ctx.beginPath();
        ctx.arc(...at(...spot(ev)), 6 * uPlot.pxRatio, 0, 7);
        ctx.stroke();
      }
    }));
    choosable(u, place, heard, spot, () => {
      const column = Math.floor(u.posToVal(u.cursor.left, "x")), row = Math.floor(u.posToVal(u.cursor.top, "y"));
      if (!within(column, 0, m.columns - 1) || !within(row, 0, m.rows - 1)) return "";
      const v = cells[row * m.columns + column], turn = m.first / m.columns + row * m.merged + 1;
      return `Turn ${turn}${m.merged > 1 ? " to " + (turn + m.merged - 1) : ""}, beat ${column + 1}` +
        (m.teeth > 0 ? ` (tooth ${Math.floor(column * m.teeth / m.columns) + 1})` : "") + `, about ${moment(when(row))}: ` +
        (v === 0 ? "no figure" : `${number((v - 128) / 100 * m.limit * by, decimalsFor(m.limit * by), true)} ${unit}${v === 1 || v === 255 ? " or more" : ""}`);
    });
    zoomable(u, place, spec, [], true);
  }

  for (const figure of document.querySelectorAll("[data-chart]")) {
    chart(figure, report.figures[figure.dataset.chart]);
    figure.classList.add("drawn");
  }
})();
