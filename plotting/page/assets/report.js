"use strict";
(() => {
  const report = JSON.parse(document.getElementById("data").textContent);
  const ink = "#1b222c", dark = "#123f5c", rust = "#98420f", muted = "#525b65";
  const middle = "#7f9fb5", pale = "#c6d8e3", rule = "#d9dcdf", wash = "#f6eed8", grey = "#e6e7e9";
  const kinds = ["late", "early", "missed", "extra", "stop", "masked", "gap"];

  // ---- words ----

  const minus = text => String(text).replace("-", "−");
  const number = (x, decimals, signed) => (signed && x > 0 ? "+" : "") + minus(x.toFixed(decimals));

  // decimalsFor is how many decimals tell values apart in a range of a width.
  const decimalsFor = width => Math.min(8, Math.max(0, Math.ceil(-Math.log10(width || 1)) + 2));

  // places is how many decimals a step has.
  function places(step) {
    for (let d = 0; d < 9; d++) if (Math.abs(step * 10 ** d - Math.round(step * 10 ** d)) < 1e-6) return d;
    return 9;
  }

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
  const font = share => (share || 0.78) * px() + 'px "Liberation Sans", Arial, sans-serif';

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

  // ---- what all charts share ----

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
    return { figure, key, plot, readout, tools, help };
  }

  function explain(place, mark, text) {
    const li = make("li", "", place.key);
    li.innerHTML = '<svg viewBox="0 0 32 14" aria-hidden="true">' + mark + "</svg>";
    li.append(text);
  }
  const line = (colour, width, dash) => `<path d="M0 7H32" stroke="${colour}" stroke-width="${width}" ${dash ? `stroke-dasharray="${dash}"` : ""}/>`;
  const box = colour => `<rect width="32" height="14" fill="${colour}"/>`;
  const hatch = '<rect width="32" height="14" fill="#e6e7e9"/><path d="M0 14L14 0M9 14L23 0M18 14L32 0" stroke="#525b65"/>';

  function button(place, text, name, action) {
    const b = make("button", "", place.tools);
    b.type = "button";
    b.textContent = text;
    b.setAttribute("aria-label", name);
    b.addEventListener("click", action);
  }

  const height = plot => Math.round(Math.min(Math.max(plot.clientWidth * 0.5, 15 * px()), 30 * px()));

  const axis = (label, more) => ({
    label, font: font(), labelFont: font(), labelSize: 1.6 * px(), labelGap: 2, stroke: ink,
    grid: { stroke: rule, width: 1 }, ticks: { stroke: ink, width: 1, size: 5 }, ...more,
  });

  // sized keeps a chart as wide as its place.
  function sized(u, plot, tall) {
    let width = plot.clientWidth;
    new ResizeObserver(() => {
      if (plot.clientWidth === 0 || plot.clientWidth === width) return;
      width = plot.clientWidth;
      u.setSize({ width, height: tall(plot) });
    }).observe(plot);
  }

  // zoomable lets a chart be zoomed by dragging, buttons and keys. whole is
  // its range as {x: [low, high], y: [low, high]}; fit gives the range of y
  // for one of x. A linked chart keeps the same range of x.
  function zoomable(u, place, whole, fit, keys, linked) {
    const along = whole.along || "x";
    const show = (x, y) => {
      if (along === "x" && x[1] - x[0] < (whole.x[1] - whole.x[0]) * 1e-5) return;
      u.batch(() => {
        if (x) u.setScale("x", { min: x[0], max: x[1] });
        if (y) u.setScale("y", { min: y[0], max: y[1] });
      });
      if (linked && x) linked.setScale("x", { min: x[0], max: x[1] });
      place.figure.dataset.from = u.scales[along].min;
      place.figure.dataset.to = u.scales[along].max;
    };
    const reset = () => show(whole.x, whole.y);
    const now = () => [u.scales[along].min, u.scales[along].max];
    const full = whole[along];
    const within = (from, width) => {
      if (width >= full[1] - full[0]) return reset();
      from = Math.min(Math.max(from, full[0]), full[1] - width);
      const range = [from, from + width];
      along === "x" ? show(range, fit(range)) : show(null, range);
    };
    const scale = by => { const [a, b] = now(); within((a + b) / 2 - (b - a) * by / 2, (b - a) * by); };
    const move = by => { const [a, b] = now(); within(a + (b - a) * by, b - a); };

    u.hooks.setSelect = [() => {
      const s = u.select;
      if (s.width < 3 && s.height < 3) return;
      const wide = s.width >= 3, high = s.height >= 3 && s.height < u.over.clientHeight;
      const x = wide ? [u.posToVal(s.left, "x"), u.posToVal(s.left + s.width, "x")] : [u.scales.x.min, u.scales.x.max];
      const ends = [u.posToVal(s.top + s.height, "y"), u.posToVal(s.top, "y")].sort((a, b) => a - b);
      show(x, high ? ends : fit(x));
      u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    }];
    u.over.addEventListener("dblclick", reset);
    button(place, "+ closer", "Zoom in", () => scale(0.5));
    button(place, "− wider", "Zoom out", () => scale(2));
    button(place, "◂ back", "Earlier", () => move(-0.5));
    button(place, "on ▸", "Later", () => move(0.5));
    button(place, "whole run", "Show the whole run again", reset);
    place.plot.addEventListener("keydown", e => {
      const act = { "+": () => scale(0.5), "=": () => scale(0.5), "-": () => scale(2), 0: reset, Escape: reset, ...keys }[e.key];
      if (!act || e.ctrlKey || e.metaKey || e.altKey) return;
      e.preventDefault();
      act(e);
    });
    reset();
  }

  const zooming = { drag: { x: true, y: true, uni: 30, setScale: false }, bind: { dblclick: () => null } };

  // ---- figures against elapsed time ----

  function backdrop(u) {
    const { ctx, bbox } = u;
    const stripe = ([from, to], colour, hatched) => {
      const a = Math.max(u.valToPos(from, "x", true), bbox.left), b = Math.min(u.valToPos(to, "x", true), bbox.left + bbox.width);
      if (b < bbox.left || a > bbox.left + bbox.width) return;
      const thin = b - a < 3 * uPlot.pxRatio, width = thin ? 2 * uPlot.pxRatio : b - a;
      ctx.save();
      ctx.beginPath();
      ctx.rect(a, bbox.top, width, bbox.height);
      ctx.clip();
      ctx.fillStyle = hatched && thin ? muted : colour;
      ctx.fillRect(a, bbox.top, width, bbox.height);
      if (hatched && !thin) {
        ctx.strokeStyle = muted;
        ctx.lineWidth = uPlot.pxRatio * 0.6;
        ctx.beginPath();
        for (let x = a - bbox.height; x < b; x += 9 * uPlot.pxRatio) {
          ctx.moveTo(x, bbox.top + bbox.height);
          ctx.lineTo(x + bbox.height, bbox.top);
        }
        ctx.stroke();
      }
      ctx.restore();
    };
    if (report.band) stripe(report.band, wash);
    for (const stop of report.stops) stripe(stop, grey, true);
  }

  // edges draws the range of the stable band.
  function edges(u) {
    const { ctx, bbox } = u;
    ctx.save();
    ctx.beginPath();
    ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
    ctx.clip();
    ctx.strokeStyle = ink;
    ctx.lineWidth = uPlot.pxRatio;
    ctx.setLineDash([5 * uPlot.pxRatio, 3 * uPlot.pxRatio]);
    ctx.beginPath();
    for (const y of report.edges) {
      ctx.moveTo(u.valToPos(report.band[0], "x", true), u.valToPos(y, "y", true));
      ctx.lineTo(u.valToPos(report.band[1], "x", true), u.valToPos(y, "y", true));
    }
    ctx.stroke();
    ctx.restore();
  }

  // strays marks what lies beyond the upper and lower edge.
  function strays(u) {
    const { ctx, bbox } = u, r = 4.5 * uPlot.pxRatio;
    ctx.fillStyle = rust;
    u.data[0].forEach((t, i) => {
      const v = u.data[3][i];
      if (v === null || t < u.scales.x.min || t > u.scales.x.max) return;
      const above = v > u.scales.y.max;
      if (!above && v >= u.scales.y.min) return;
      const x = u.valToPos(t, "x", true), y = above ? bbox.top + 1 : bbox.top + bbox.height - 1, d = above ? 2 * r : -2 * r;
      ctx.beginPath();
      ctx.moveTo(x, y);
      ctx.lineTo(x - r, y + d);
      ctx.lineTo(x + r, y + d);
      ctx.fill();
    });
  }

  function frameLine(u) {
    u.ctx.setLineDash([]);
    u.ctx.strokeStyle = ink;
    u.ctx.lineWidth = uPlot.pxRatio;
    u.ctx.strokeRect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
  }

  // sign draws the sign of a kind of event, each of its own shape.
  function sign(ctx, kind, x, y, r) {
    ctx.beginPath();
    ctx.fillStyle = ctx.strokeStyle = kind === "late" || kind === "early" ? rust : ink;
    ctx.lineWidth = 1.4 * uPlot.pxRatio;
    const way = kind === "late" ? 1 : -1;
    switch (kind) {
      case "late": case "early":
        ctx.moveTo(x + way * r, y); ctx.lineTo(x - way * r, y - r); ctx.lineTo(x - way * r, y + r); ctx.fill();
        return;
      case "stop": ctx.fillRect(x - r, y - r, 2 * r, 2 * r); return;
      case "missed": ctx.arc(x, y, r, 0, 7); break;
      case "extra": ctx.moveTo(x - r, y); ctx.lineTo(x + r, y); ctx.moveTo(x, y - r); ctx.lineTo(x, y + r); break;
      case "masked": ctx.rect(x - r, y - r, 2 * r, 2 * r); break;
      default: ctx.moveTo(x - r, y - r); ctx.lineTo(x + r, y + r); ctx.moveTo(x + r, y - r); ctx.lineTo(x - r, y + r);
    }
    ctx.stroke();
  }

  // lanes draws the events under the rate, one lane a kind.
  function lanes(place) {
    const present = kinds.filter(kind => report.events.some(ev => ev.kind === kind));
    if (!present.length) return null;
    const lane = ev => present.length - 1 - present.indexOf(ev.kind);
    const tall = () => Math.round((present.length * 1.2 + 0.6) * px());
    const near = u => {
      let best, least = 12;
      for (const ev of report.events) {
        const d = Math.hypot(u.valToPos(ev.start, "x") - u.cursor.left, u.valToPos(lane(ev), "y") - u.cursor.top);
        if (d < least) [best, least] = [ev, d];
      }
      return best;
    };
    const tell = ev => `${ev.kind} at ${moment(ev.start)}, beat ${ev.beat}` + (ev.kind !== "stop" && ev.shift ? `, ${number(ev.shift, 2, true)} ms` : "");
    const u = new uPlot({
      width: place.plot.clientWidth, height: tall(), legend: { show: false }, padding: [4, 12, 4, 0],
      cursor: { y: false, drag: { x: false, y: false, setScale: false }, bind: { dblclick: () => null } },
      series: [{}, { stroke: "transparent", points: { show: false } }],
      scales: { x: { time: false, auto: false, range: [0, report.end] }, y: { auto: false, range: [-0.5, present.length - 0.5] } },
      axes: [{ show: false }, axis(null, {
        size: 6.2 * px(), grid: { show: false }, ticks: { show: false }, splits: () => present.map((_, i) => i),
        values: () => present.map((_, i) => present[present.length - 1 - i]).map(kind => `${kind} ${report.events.filter(ev => ev.kind === kind).length}`),
      })],
      hooks: {
        drawClear: [backdrop],
        draw: [u => {
          frameLine(u);
          const { ctx, bbox } = u;
          ctx.save();
          ctx.beginPath();
          ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
          ctx.clip();
          for (const ev of report.events) sign(ctx, ev.kind, u.valToPos(ev.start, "x", true), u.valToPos(lane(ev), "y", true), 4 * uPlot.pxRatio);
          ctx.restore();
        }],
        setCursor: [u => {
          if (u.cursor.left < 0) return;
          const ev = near(u);
          u.over.style.cursor = ev && ev.row ? "pointer" : "";
          if (ev) place.readout.textContent = tell(ev) + (hasSound(ev) ? ". Click to hear it." : ev.row ? ". Click to find it in the table." : "");
        }],
      },
    }, [[0, report.end], [0, 0]], place.plot);
    sized(u, place.plot, tall);
    u.over.addEventListener("click", () => {
      const ev = near(u);
      if (!ev || !ev.row) return;
      if (play(ev.row)) place.readout.textContent = "Playing: " + tell(ev);
      else location.hash = "event-" + ev.row;
    });
    return u;
  }

  function drift(figure, role) {
    const c = report.charts[role];
    if (!c.time.some((_, i) => c.x[i] !== null)) return;
    const help = "Hover for values, drag to zoom, double-click to return. With keys: arrows walk, + and − zoom, 0 returns.";
    const place = frame(figure, help);
    const few = c.time.length <= 120;
    const raw = c.x, low = c.x.map((x, i) => x === null ? null : x - (c.se[i] || 0)), high = c.x.map((x, i) => x === null ? null : x + (c.se[i] || 0));
    const data = [c.time, high, low, raw];
    const none = { show: true, stroke: "transparent", points: { show: false } };
    const series = [
      {}, { ...none }, { ...none },
      { stroke: c.smooth ? middle : dark, width: c.smooth ? 1 : 1.6, points: { show: few, size: 5, fill: dark, stroke: dark } },
    ];
    if (c.smooth) {
      data.push(c.smooth);
      series.push({ stroke: dark, width: 2.4, points: { show: false } });
    }
    if (report.band) explain(place, box(wash), "stable band");
    if (report.stops.length) explain(place, hatch, "stopped");
    explain(place, box(pale) + line(c.smooth ? middle : dark, 2) + (few ? '<circle cx="16" cy="7" r="3.5" fill="#123f5c"/>' : ""), "windows ± one standard error");
    if (c.smooth) explain(place, line(dark, 4), "smoothed");
    if (role === "rate" && report.edges) explain(place, line(ink, 1.5, "5 3"), "edges of the band");

    const say = i => {
      const decimals = decimalsFor((c.se[i] || (c.high - c.low) / 100) * 10);
      let text = "At " + moment(c.time[i]) + ": " + number(raw[i], decimals, c.signed) + (c.se[i] ? " ± " + number(c.se[i], decimals) : "") + " " + c.unit;
      if (c.smooth && c.smooth[i] !== null) text += "; smoothed " + number(c.smooth[i], decimals, c.signed) + " " + c.unit;
      if (report.wheel && c.time[i] >= report.wheel.start) text += `; turn ${((c.time[i] - report.wheel.start) / report.wheel.each).toFixed(3)} of the ${report.wheel.name}`;
      if (raw[i] > c.high || raw[i] < c.low) text += " (beyond the whole chart's scale)";
      return text;
    };
    const u = new uPlot({
      width: place.plot.clientWidth, height: height(place.plot), legend: { show: false }, cursor: zooming, series,
      padding: [8, 12, 0, 0],
      bands: [{ series: [1, 2], fill: pale }],
      scales: { x: { time: false, auto: false }, y: { auto: false } },
      axes: [
        axis((u, i, step) => `elapsed time (${timeUnit(step)})`, { size: 1.8 * px(), incrs: timeSteps, space: 4.5 * px(), values: (_, s, a, b, step) => s.map(v => clock(v, step)) }),
        axis(c.label, { size: 4.6 * px(), values: (_, s, a, b, step) => s.map(v => number(v, places(step), c.signed)) }),
      ],
      hooks: {
        drawClear: [backdrop],
        draw: [u => { if (role === "rate" && report.edges) edges(u); strays(u); frameLine(u); }],
        setCursor: [u => {
          const i = u.cursor.idx;
          if (i === null || i === undefined || raw[i] === null) return;
          place.readout.textContent = say(i);
        }],
      },
    }, data, place.plot);
    sized(u, place.plot, height);
    const linked = role === "rate" ? lanes(place) : null;

    const fit = x => {
      const seen = data.slice(1).flatMap(ys => ys.filter((y, i) => y !== null && c.time[i] >= x[0] && c.time[i] <= x[1]));
      if (!seen.length) return null;
      const a = Math.min(...seen), b = Math.max(...seen), margin = Math.max((b - a) * 0.08, (c.high - c.low) * 1e-4);
      return [a - margin, b + margin];
    };
    let at = -1;
    const walk = by => {
      const usable = i => raw[i] !== null && c.time[i] >= u.scales.x.min && c.time[i] <= u.scales.x.max;
      let i = at < 0 ? (by > 0 ? -1 : c.time.length) : at;
      for (let k = 0; k < Math.abs(by); k++) {
        let j = i + Math.sign(by);
        while (j >= 0 && j < c.time.length && !usable(j)) j += Math.sign(by);
        if (j < 0 || j >= c.time.length) break;
        i = j;
      }
      if (!usable(i)) return;
      at = i;
      u.setCursor({ left: u.valToPos(c.time[i], "x"), top: u.valToPos(raw[i], "y") });
      place.readout.textContent = say(i);
    };
    zoomable(u, place, { x: [0, report.end], y: [c.low, c.high] }, fit, {
      ArrowRight: e => walk(e.shiftKey ? 10 : 1), ArrowLeft: e => walk(e.shiftKey ? -10 : -1),
    }, linked);
    return u;
  }

  // ---- the map of turns ----

  function map(figure) {
    const m = report.map;
    if (!m) return;
    const cells = Uint8Array.from(atob(m.cells), c => c.charCodeAt(0));
    const heard = report.events.filter(ev => hasSound(ev));
    const help = "Hover for a beat, drag to zoom, double-click to return." + (heard.length ? " A click on a ring plays that moment." : "");
    const place = frame(figure, help + (heard.length ? " The same sounds are in the table below." : ""));
    const inks = m.colours.map(c => [1, 3, 5].map(i => parseInt(c.slice(i, i + 2), 16)));
    const picture = make("canvas");
    picture.width = m.columns;
    picture.height = m.rows;
    const pixels = picture.getContext("2d").createImageData(m.columns, m.rows);
    cells.forEach((v, i) => {
      if (v === 0) return;
      const x = Math.min(Math.max((v - 128) / 100, -1), 1);
      const [r, g, b] = inks[Math.round((x + 1) / 2 * (inks.length - 1))];
      pixels.data.set([r, g, b, 255], 4 * i);
    });
    picture.getContext("2d").putImageData(pixels, 0, 0);

    const micro = m.limit < 2e-4, unit = micro ? "µs" : "ms", by = micro ? 1e6 : 1e3;
    const stops = m.colours.filter((_, i) => i % 6 === 0).map((c, i, all) => `<rect x="${32 * i / all.length}" width="${32 / all.length + 0.3}" height="14" fill="${c}"/>`).join("");
    explain(place, stops, `deviation from −${+(m.limit * by).toPrecision(3)} ${unit} (early, light) to +${+(m.limit * by).toPrecision(3)} ${unit} (late, dark)`);
    explain(place, '<rect width="31" height="13" x=".5" y=".5" fill="#fff" stroke="#525b65"/>', "no figure: not heard, or beside a jump");
    if (heard.length) explain(place, '<circle cx="16" cy="7" r="5" fill="none" stroke="#fff" stroke-width="5"/><circle cx="16" cy="7" r="5" fill="none" stroke="#98420f" stroke-width="2"/>', "has a sound");

    const spot = ev => ({ x: ev.beat % m.columns + 0.5, y: Math.floor(ev.beat / m.columns) / m.merged + 0.5 });
    const perTooth = m.teeth > 0 ? m.columns / m.teeth : 1;
    const when = row => {
      for (let r = Math.min(Math.max(Math.floor(row), 0), m.rows - 1); r >= 0; r--) if (m.start[r] !== null) return m.start[r];
      return 0;
    };
    let step = 60;
    const moments = new Map(); // row to the time at its tick
    const u = new uPlot({
      width: place.plot.clientWidth, height: 36 * px(), legend: { show: false }, cursor: zooming, padding: [8, 12, 0, 0],
      series: [{}, { stroke: "transparent", points: { show: false } }],
      scales: { x: { time: false, auto: false }, y: { auto: false, dir: -1 } },
      axes: [
        axis(m.teeth > 0 ? "tooth of the escape wheel" : "beat of the turn", {
          size: 1.8 * px(),
          splits: (u, a, min, max) => {
            const all = [], step = Math.max(1, Math.ceil((max - min) / perTooth / ((u.over.clientWidth || place.plot.clientWidth) / (2.2 * px()))));
            for (let k = 0; k * perTooth < m.columns; k += step) if ((k + 0.5) * perTooth >= min && (k + 0.5) * perTooth <= max) all.push((k + 0.5) * perTooth);
            return all;
          },
          values: (_, s) => s.map(v => String(Math.floor(v / perTooth) + (m.teeth > 0 ? 1 : 0))), grid: { show: false },
        }),
        axis(() => `elapsed time (${timeUnit(step)}), downwards`, {
          size: 4.6 * px(), grid: { show: false },
          splits: (u, i, min, max) => {
            const from = when(min), to = when(max - 1e-9);
            step = timeSteps.find(s => s >= 1 && (to - from) / s <= 10) || 604800;
            moments.clear();
            for (let t = Math.ceil(from / step) * step, row = 0; t <= to; t += step) {
              while (row < m.rows && (m.start[row] === null || m.start[row] < t)) row++;
              if (row < max && row >= min && !moments.has(row)) moments.set(row, t);
            }
            return [...moments.keys()];
          },
          values: (u, rows) => rows.map(row => clock(moments.get(row), step)),
        }),
      ],
      hooks: {
        drawClear: [u => {
          const { ctx, bbox } = u;
          ctx.save();
          ctx.beginPath();
          ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
          ctx.clip();
          const x = u.valToPos(0, "x", true), y = u.valToPos(0, "y", true);
          const w = u.valToPos(m.columns, "x", true) - x, h = u.valToPos(m.rows, "y", true) - y;
          ctx.imageSmoothingEnabled = h < m.rows;
          ctx.drawImage(picture, x, y, w, h);
          ctx.restore();
        }],
        draw: [u => {
          frameLine(u);
          const { ctx, bbox } = u, r = 6 * uPlot.pxRatio;
          ctx.save();
          ctx.beginPath();
          ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
          ctx.clip();
          for (const ev of heard) {
            const p = spot(ev);
            for (const [colour, width] of [["#fff", 5], [rust, 2]]) {
              ctx.strokeStyle = colour;
              ctx.lineWidth = width * uPlot.pxRatio;
              ctx.beginPath();
              ctx.arc(u.valToPos(p.x, "x", true), u.valToPos(p.y, "y", true), r, 0, 7);
              ctx.stroke();
            }
          }
          ctx.restore();
        }],
        setCursor: [u => {
          if (u.cursor.left < 0) return;
          const column = Math.floor(u.posToVal(u.cursor.left, "x")), row = Math.floor(u.posToVal(u.cursor.top, "y"));
          if (column < 0 || column >= m.columns || row < 0 || row >= m.rows) return;
          const v = cells[row * m.columns + column], x = (v - 128) / 100 * m.limit * by;
          const turn = row * m.merged + 1;
          const end = v === 1 || v === 255 ? " or more" : "";
          let text = `Turn ${turn}${m.merged > 1 ? " to " + (turn + m.merged - 1) : ""}, beat ${column + 1}` +
            (m.teeth > 0 ? ` (tooth ${Math.floor(column / perTooth) + 1})` : "") + `, about ${moment(when(row))}: ` +
            (v === 0 ? "no figure" : number(x, decimalsFor(m.limit * by), true) + " " + unit + end);
          const ev = near(u);
          if (ev) text += `. Click to hear: ${ev.kind} at ${moment(ev.start)}`;
          place.readout.textContent = text;
          u.over.style.cursor = ev ? "pointer" : "";
        }],
      },
    }, [[0, m.columns], [0, 0]], place.plot);
    sized(u, place.plot, () => 36 * px());

    // near is the event with a sound that the pointer is at.
    function near(u) {
      let best, least = 14;
      for (const ev of heard) {
        const p = spot(ev), d = Math.hypot(u.valToPos(p.x, "x") - u.cursor.left, u.valToPos(p.y, "y") - u.cursor.top);
        if (d < least) [best, least] = [ev, d];
      }
      return best;
    }
    u.over.addEventListener("click", () => {
      const ev = near(u);
      if (!ev) return;
      play(ev.row);
      place.readout.textContent = `Playing: ${ev.kind} at ${moment(ev.start)}, beat ${ev.beat}`;
    });
    zoomable(u, place, { x: [0, m.columns], y: [0, m.rows], along: "y" }, () => null, {});
    return u;
  }

  // ---- two runs ----

  function pair(figure) {
    const a = report.charts.before, b = report.charts.after;
    const place = frame(figure, "Hover for values, drag to zoom, double-click to return. With keys: + and − zoom, 0 returns.");
    explain(place, box(pale) + line(dark, 3), "before (A) ± one standard error");
    explain(place, box("#ecc9a4") + line(rust, 3, "7 4"), "after (B) ± one standard error");
    const table = c => [c.time, c.x.map((x, i) => x === null ? null : x + (c.se[i] || 0)), c.x.map((x, i) => x === null ? null : x - (c.se[i] || 0)), c.smooth || c.x];
    const data = uPlot.join([table(a), table(b)]);
    const none = () => ({ stroke: "transparent", points: { show: false } });
    const curve = (stroke, dash) => ({ stroke, width: 2.2, dash, points: { show: false } });
    const near = (c, t) => {
      let best = -1;
      c.time.forEach((s, i) => { if (c.x[i] !== null && (best < 0 || Math.abs(s - t) < Math.abs(c.time[best] - t))) best = i; });
      if (best < 0 || Math.abs(c.time[best] - t) > report.end / 50) return "none there";
      const decimals = decimalsFor((c.se[best] || 0.1) * 10);
      return number(c.x[best], decimals, true) + (c.se[best] ? " ± " + number(c.se[best], decimals) : "") + " s/day";
    };
    const u = new uPlot({
      width: place.plot.clientWidth, height: height(place.plot), legend: { show: false }, cursor: zooming, padding: [8, 12, 0, 0],
      series: [{}, none(), none(), curve(dark), none(), none(), curve(rust, [7, 4])],
      bands: [{ series: [1, 2], fill: pale }, { series: [4, 5], fill: "rgba(236, 201, 164, 0.6)" }],
      scales: { x: { time: false, auto: false }, y: { auto: false } },
      axes: [
        axis((u, i, step) => `elapsed time (${timeUnit(step)})`, { size: 1.8 * px(), incrs: timeSteps, space: 4.5 * px(), values: (_, s, i, space, step) => s.map(v => clock(v, step)) }),
        axis(a.label, { size: 4.6 * px(), values: (_, s, i, space, step) => s.map(v => number(v, places(step), true)) }),
      ],
      hooks: {
        draw: [frameLine],
        setCursor: [u => {
          if (u.cursor.left < 0) return;
          const t = u.posToVal(u.cursor.left, "x");
          if (t >= 0 && t <= report.end) place.readout.textContent = `At ${moment(t)}: before ${near(a, t)}, after ${near(b, t)}`;
        }],
      },
    }, data, place.plot);
    sized(u, place.plot, height);
    zoomable(u, place, { x: [0, report.end], y: [Math.min(a.low, b.low), Math.max(a.high, b.high)] }, x => {
      const seen = data.slice(1).flatMap(ys => ys.filter((y, i) => typeof y === "number" && data[0][i] >= x[0] && data[0][i] <= x[1]));
      if (!seen.length) return null;
      const low = Math.min(...seen), high = Math.max(...seen), margin = Math.max((high - low) * 0.08, 1e-3);
      return [low - margin, high + margin];
    }, {});
    return u;
  }

  // ---- stability ----

  function stability(figure) {
    const s = report.stability;
    if (!s || s.tau.length < 2) return;
    const help = "Hover for values, drag to zoom, double-click to return. With keys: arrows walk, + and − zoom, 0 returns.";
    const place = frame(figure, help);
    explain(place, box(pale) + line(dark, 3), "Allan deviation, 95 % band");
    explain(place, line(ink, 1.5, "5 3"), "floor: scatter of the beats");
    const clock = s.clock && s.clock.length === s.tau.length;
    if (clock) explain(place, line(rust, 1.5, "1 3"), "floor: recorder's clock");
    const logs = xs => xs.map(x => x > 0 ? Math.log10(x) : null);
    const x = logs(s.tau), data = [x, logs(s.high), logs(s.low), logs(s.allan), logs(s.floor)];
    if (clock) data.push(logs(s.clock));
    const none = { stroke: "transparent", points: { show: false } };
    const all = data.slice(1).flat().filter(v => v !== null);
    const log = {
      splits: (u, i, min, max) => {
        const all = [];
        for (let d = Math.floor(min); d <= max; d++) for (const k of [1, 2, 5]) all.push(d + Math.log10(k));
        return all.filter(v => v >= min && v <= max);
      },
      values: (_, splits) => splits.map(v => String(+(10 ** v).toPrecision(1))),
    };
    const u = new uPlot({
      width: place.plot.clientWidth, height: height(place.plot), legend: { show: false }, cursor: zooming, padding: [8, 12, 0, 0],
      series: [{}, none, { ...none }, { stroke: dark, width: 2, points: { show: true, size: 6, fill: dark } }, { stroke: ink, width: 1.2, dash: [5, 3], points: { show: false } },
        ...(clock ? [{ stroke: rust, width: 1.4, dash: [1, 3], points: { show: false } }] : [])],
      bands: [{ series: [1, 2], fill: pale }],
      scales: { x: { time: false, auto: false }, y: { auto: false } },
      axes: [axis("averaging time (s)", { size: 1.8 * px(), ...log }), axis("Allan deviation (s/day)", { size: 4.6 * px(), ...log })],
      hooks: {
        draw: [frameLine],
        setCursor: [u => {
          const i = u.cursor.idx;
          if (i === null || i === undefined) return;
          const p = v => String(+v.toPrecision(3));
          place.readout.textContent = `Over ${p(s.tau[i])} s: ${p(s.allan[i])} s/day (95 % band ${p(s.low[i])} to ${p(s.high[i])}); floor ${p(s.floor[i])} s/day` + (clock ? `, of the clock ${p(s.clock[i])} s/day` : "");
        }],
      },
    }, data, place.plot);
    sized(u, place.plot, height);
    let at = -1;
    const walk = by => {
      at = Math.min(Math.max(at + by, 0), x.length - 1);
      u.setCursor({ left: u.valToPos(x[at], "x"), top: u.valToPos(data[3][at], "y") });
    };
    zoomable(u, place, { x: [x[0] - 0.1, x[x.length - 1] + 0.1], y: [Math.min(...all) - 0.1, Math.max(...all) + 0.1] }, () => null,
      { ArrowRight: () => walk(1), ArrowLeft: () => walk(-1) });
    return u;
  }

  for (const figure of document.querySelectorAll("[data-chart]")) {
    const role = figure.dataset.chart;
    const draw = { map, stability, pair }[role] || drift;
    if (draw(figure, role)) figure.classList.add("drawn");
  }
})();
