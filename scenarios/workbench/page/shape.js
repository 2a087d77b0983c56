// Shape: what may be changed, and the simulated dialing beside it, at once.

import {button, choice, el, field, fixed, more, percent, picture, say, seconds, svg, table} from "./element.js";
import {Recording} from "./recording.js";
import {Busy, failed} from "./workbench.js";

const RATES = [0, 4, 8, 12, 18, 26, 40]; // detents a second at which the curve has handles
const FULL = 48; // detents a second at the right edge
const W = 640, H = 300, LEFT = 40, FOOT = 56, TOP = 40;

// shaped is the profile that is set, as a file, or the name of the built-in one.
export function shaped(state) {
  const s = state.shape;
  if (!s.points && !Object.keys(s.settings).length) return {name: s.base, text: undefined};
  const profile = {kind: "profile", version: 1, name: "shape"};
  if (Object.keys(s.settings).length) profile.settings = s.settings;
  if (s.points?.some(([, g]) => g > 1)) {
    profile.acceleration = {home: s.home, curve: {table: {points: s.points.map(([rate, gain]) => ({rate: `${rate}/s`, gain: Number(gain.toFixed(2))}))}}};
  }
  return {name: "shape.yaml", text: JSON.stringify(profile, null, 2) + "\n"};
}

export class ShapePlace {
  constructor(bench, root) {
    this.bench = bench;
    this.root = root;
  }

  async open() {
    const s = this.bench.state;
    this.answer = el("h1", {id: "answer"}, "What would another setting do?");
    this.by = el("p", {class: "by"}, "…");
    this.controls = el("div", {class: "controls"});
    this.seen = el("div", {class: "seen"});
    this.root.append(this.answer, this.by, el("div", {class: "two"}, this.controls, this.seen));
    this.whole = await this.bench.desk();
    if (!this.whole.uses.some((u) => u.task === s.task)) s.task = this.whole.uses[0].task;
    this.desk = await this.bench.desk(s.task);
    const kept = await this.bench.store.get("recording");
    this.rates = kept && kept.length < 200000 ? Recording.of(kept).rates() : [];
    this.use = this.desk.uses[0];
    this.rig = this.desk.rigs[0];
    this.build();
    this.changed(true);
  }

  close() {
    this.asking?.abort();
    this.busy?.control.abort();
    clearTimeout(this.later);
  }

  build() {
    const s = this.bench.state, shape = s.shape;
    const bases = this.desk.profiles.filter((p) => p.at.length && !["press", "coarse-pair"].includes(p.name));
    const base = bases.find((p) => p.name === shape.base) ?? bases[0];
    this.points = (shape.points ?? RATES.map((r) => [r, Math.max(1, base.at[r]?.[1] ?? 1)])).map((p) => [...p]);
    const again = async () => { this.desk = await this.bench.desk(s.task); this.use = this.desk.uses[0]; this.rig = this.desk.rigs[0]; this.build(); this.changed(); };
    const rigs = [["", "that of the panel"], ["left-pulse", "left-pulse"], ["middle-keys", "middle-keys"], ["right-relative", "right-relative"],
      ...Object.entries(s.files).filter(([, t]) => /kind"?:\s*"?rig/.test(t)).map(([n]) => [n, n])];
    const people = [["novice", "novice"], ["practised", "practised"], ["expert", "expert"], ...Object.entries(s.files).filter(([, t]) => /kind"?:\s*"?operator/.test(t)).map(([n]) => [n, n])];
    const sliders = this.rig.settings.map((x) => {
      const now = shape.settings[x.key] ?? x.now, at = Math.max(0, x.choices.indexOf(now));
      const out = el("output", {}, now);
      const input = el("input", {type: "range", min: "0", max: String(x.choices.length - 1), step: "1", value: String(at), "aria-valuetext": now,
        on: {input: () => {
          const value = x.choices[input.value];
          out.textContent = value;
          input.setAttribute("aria-valuetext", value);
          if (value === x.now) delete shape.settings[x.key]; else shape.settings[x.key] = value;
          this.changed();
        }}});
      const row = field(x.key, input, x.about);
      row.querySelector("label").append(" ", out);
      return row;
    });
    this.editor = this.curve();
    this.controls.replaceChildren(
      field("Number", choice(this.whole.uses.map((u) => [u.task, u.title || u.task]), s.task, (v) => { s.task = v; this.bench.save(); again(); })),
      field("Start from", choice(bases.map((p) => [p.name, p.name]), shape.base, (v) => { shape.base = v; shape.points = null; shape.settings = {}; this.build(); this.changed(); })),
      el("h2", {}, "What a click counts"), this.editor,
      this.rig.homes.length > 1 ? field("Acceleration in the", choice(this.rig.homes.map((h) => [h, h]), shape.home, (v) => { shape.home = v; this.changed(); })) : "",
      more(`What else may change: ${this.rig.settings.length} settings`, sliders.length ? sliders : el("p", {}, "This rig marks nothing as adjustable.")),
      more("Rig and hand", field("Rig", choice(rigs, s.rig, (v) => { s.rig = v; this.bench.save(); again(); })), field("Hand", choice(people, s.operator, (v) => { s.operator = v; this.changed(); }))));
    this.dialing ??= el("figure", {class: "dated"});
    this.costs ??= el("div", {class: "dated"});
    this.front ??= el("div", {});
    this.seen.replaceChildren(this.dialing, this.costs, this.front, el("div", {class: "row"}, button("Find the best by itself", () => this.tune(), {class: "main"}), button("Back to nothing set", () => { shape.points = null; shape.settings = {}; this.build(); this.changed(); })));
  }

  top() { return Math.max(10, ...this.points.map((p) => p[1])) * 1.1; }
  x(rate) { return LEFT + (W - LEFT - 12) * rate / FULL; }
  y(gain) { return H - FOOT - (H - FOOT - TOP) * (gain / this.top()); }

  // curve is the gain over the rate, with handles, upon how fast this hand turns.
  curve() {
    const line = svg("polyline", {class: "curve"}), handles = [];
    const bins = new Array(24).fill(0);
    for (const r of this.rates) if (r < FULL) bins[Math.floor(r / 2)]++;
    const most = Math.max(1, ...bins);
    const root = svg("svg", {viewBox: `0 0 ${W} ${H}`, class: "draw edit", role: "group", "aria-label": "Gain over turning rate, with a handle at seven rates"},
      bins.map((n, i) => n ? svg("rect", {x: this.x(2 * i), width: this.x(2) - this.x(0) - 1, y: H - FOOT - 0.6 * (H - FOOT - TOP) * n / most, height: 0.6 * (H - FOOT - TOP) * n / most, class: "hand"}) : null),
      svg("line", {x1: LEFT, x2: W - 12, y1: H - FOOT, y2: H - FOOT, class: "axis"}),
      [0, 10, 20, 30, 40].map((r) => svg("text", {x: this.x(r), y: H - FOOT + 20, class: "middle"}, String(r))),
      svg("text", {x: W - 12, y: H - 6, class: "end"}, "clicks a second"), svg("text", {x: 0, y: 18}, "steps a click"),
      line);
    const labels = svg("g", {});
    root.append(labels);
    const draw = () => {
      line.setAttribute("points", [...this.points, [FULL, this.points.at(-1)[1]]].map(([r, g]) => `${this.x(r)},${this.y(g)}`).join(" "));
      labels.replaceChildren(...[1, Math.round(this.top() / 2), Math.round(this.top() / 1.1)].map((g) => svg("text", {x: LEFT - 6, y: this.y(g) + 4, class: "end"}, String(g))));
      handles.forEach((h, i) => {
        const [r, g] = this.points[i];
        h.setAttribute("cx", this.x(r));
        h.setAttribute("cy", this.y(g));
        h.setAttribute("aria-valuenow", g.toFixed(1));
        h.setAttribute("aria-valuetext", `at ${r} clicks a second a click counts ${fixed(g)}`);
      });
    };
    const set = (i, gain) => {
      const g = Math.min(60, Math.max(1, gain));
      this.points.forEach((p, k) => { p[1] = k === i ? g : k < i ? Math.min(p[1], g) : Math.max(p[1], g); });
      if (i > 0) this.points[0][1] = 1;
      this.bench.state.shape.points = this.points.map((p) => [...p]);
      draw();
      this.changed();
    };
    RATES.forEach((rate, i) => {
      if (!i) { handles.push(svg("circle", {r: 0, class: "handle none"})); return; }
      const h = svg("circle", {r: 9, class: "handle", tabindex: "0", role: "slider", "aria-label": `gain at ${rate} clicks a second`, "aria-valuemin": "1", "aria-valuemax": "60", "aria-orientation": "vertical"});
      h.addEventListener("pointerdown", (e) => { h.setPointerCapture(e.pointerId); h.focus(); e.preventDefault(); });
      h.addEventListener("pointermove", (e) => {
        if (!h.hasPointerCapture(e.pointerId)) return;
        const box = root.getBoundingClientRect(), at = (e.clientY - box.top) * H / box.height;
        set(i, (H - FOOT - at) / (H - FOOT - TOP) * this.top());
      });
      h.addEventListener("keydown", (e) => {
        const by = {ArrowUp: 0.5, ArrowRight: 0.5, ArrowDown: -0.5, ArrowLeft: -0.5, PageUp: 3, PageDown: -3}[e.key];
        const to = e.key === "Home" ? 1 : e.key === "End" ? 60 : by && this.points[i][1] + by;
        if (!to) return;
        e.preventDefault();
        set(i, to);
      });
      handles.push(h);
    });
    root.append(...handles.slice(1));
    draw();
    return root;
  }

  // changed marks what is shown as old and asks anew: coarsely while it changes, finely
  // when it is still.
  changed(first) {
    this.bench.save();
    this.root.classList.add("old");
    clearTimeout(this.later);
    this.again = true;
    if (!this.coarse) this.measure(first ? 400 : 40);
    this.later = setTimeout(() => { this.asking?.abort(); this.measure(400); }, first ? 1e6 : 450);
  }

  asked(more = {}) {
    const s = this.bench.state, p = shaped(s);
    return {profile: p.name, ...this.bench.asked(more, p.text ? {[p.name]: p.text} : {})};
  }

  async measure(trials) {
    this.asking?.abort();
    const control = this.asking = new AbortController();
    this.again = false;
    this.coarse = trials < 400;
    try {
      const {profile, ...request} = this.asked({trials, seed: 1});
      const a = await this.bench.ask({study: "compare", args: profile === "plain" ? ["plain"] : ["plain", profile], ...request}, {signal: control.signal});
      const last = a.result.profiles.at(-1), t = last.tasks[0], v = t.time_to_target_s;
      const against = t.against_first;
      this.answer.textContent = `${upper(t.task)} takes ${seconds(v.mean)} and overshoots ${percent(t.overshoot.share)} of the time.`;
      this.by.textContent = `Median ${seconds(v.median)} (${fixed(v.low)} to ${fixed(v.high)}), overshoot ${percent(t.overshoot.low)} to ${percent(t.overshoot.high)}, clicks lost ${percent(t.lost_share)}; ${trials} dialings.` +
        (against ? ` Against nothing set: ${fixed(against.time_s)} s (${fixed(against.low)} to ${fixed(against.high)}).` : "");
      this.stays = last.tasks[0].stays ?? "";
      const f = await this.bench.ask({study: "follow", ...this.one({trial: 3, seed: 1})}, {signal: control.signal});
      this.drawDialing(f.result);
      if (trials >= 400) {
        this.root.classList.remove("old");
        const e = await this.bench.ask({study: "explain", ...this.one({trials: 50, seed: 1})}, {signal: control.signal});
        this.drawCosts(e.result);
        say(`${this.answer.textContent}`);
      }
    } catch (e) {
      if (e?.name !== "AbortError") {
        this.root.classList.remove("old");
        this.answer.textContent = "This setting cannot be worked out.";
        this.by.replaceChildren(failed(e, () => this.changed()));
        this.dialing.replaceChildren();
        this.costs.replaceChildren();
      }
    }
    if (this.asking === control) {
      this.coarse = false;
      if (this.again) this.measure(40);
    }
  }

  one(more) {
    const {profile, ...request} = this.asked(more);
    request.flags.profile = profile;
    return request;
  }

  drawDialing(f) {
    const steps = f.steps, end = Math.max(1, ...steps.map((s) => s.time_ms), ...f.detents.map((d) => d.time_ms));
    const values = steps.map((s) => s.value), low = Math.min(...values), high = Math.max(...values), span = Math.max(1, high - low);
    const x = (ms) => LEFT + 8 + (W - LEFT - 20) * ms / end, y = (v) => 170 - 150 * (v - low) / span;
    let d = "";
    steps.forEach((s, i) => { d += i ? `H${x(s.time_ms).toFixed(1)}V${y(s.value).toFixed(1)}` : `M${x(s.time_ms).toFixed(1)},${y(s.value).toFixed(1)}`; });
    this.dialing.replaceChildren(el("h2", {}, "One simulated dialing"),
      svg("svg", {viewBox: `0 0 ${W} 220`, class: "draw", role: "img", "aria-label": `A simulated dialing: ${f.detents.length} clicks in ${fixed(end / 1000)} seconds`},
        svg("path", {d, class: "curve"}), f.detents.map((c) => svg("line", {x1: x(c.time_ms), x2: x(c.time_ms), y1: 180, y2: c.fate && c.fate !== "delivered" ? 200 : 190, class: c.fate && c.fate !== "delivered" ? "lost" : "click"})),
        svg("text", {x: LEFT, y: y(high) + 4, class: "end"}, String(high)), svg("text", {x: LEFT, y: y(low) + 4, class: "end"}, String(low)),
        svg("text", {x: LEFT + 8, y: 212}, "0 s"), svg("text", {x: W - 12, y: 212, class: "end"}, `${fixed(end / 1000)} s`)),
      el("figcaption", {}, "The number over time; below, the clicks: long and orange are lost."));
  }

  drawCosts(e) {
    this.costs.replaceChildren(table("What each link costs here", ["link", "seconds a number", "of the clicks lost"],
      e.links.filter((l) => Math.abs(l.time_s.value) > 0.005 || l.lost_share.value > 0.001).map((l) => [l.link, `${fixed(l.time_s.value, 2)} (${fixed(l.time_s.low, 2)} to ${fixed(l.time_s.high, 2)})`, percent(l.lost_share.value, 1)])));
  }

  async tune() {
    const busy = this.busy = new Busy("Searching…");
    this.front.replaceChildren(busy.root);
    say("Searching the best settings.");
    try {
      const request = this.bench.asked({trials: 200, seed: 1, write: "tuned.yaml"});
      const a = await this.bench.ask({study: "tune", ...request}, busy), r = a.result;
      if (a.files?.["tuned.yaml"]) this.bench.state.files["tuned.yaml"] = a.files["tuned.yaml"];
      this.bench.save();
      const levels = r.trade_off.flatMap((t) => t.levels).filter((l) => l.time_s !== null);
      const points = levels.map((l) => ({time: l.time_s, over: l.overshoot_share, settings: l.settings ?? {}, curve: l.curve, values: l.values}));
      this.front.replaceChildren(el("h2", {}, "What the search found"), el("p", {}, r.verdict), this.frontFigure(points),
        Object.values(a.figures).map((f) => picture("All that was tried, as a report draws it", f)),
        el("p", {class: "by"}, `${r.trials} dialings with ${r.evaluations} settings. tuned.yaml is in Keep, and may be dialed against another setting in Dial.`));
      say(r.verdict);
    } catch (e) {
      this.front.replaceChildren(e?.name === "AbortError" ? el("p", {}, "Cancelled.") : failed(e, () => this.tune()));
    }
  }

  // frontFigure draws quick against calm; a point can be picked.
  frontFigure(points) {
    if (!points.length) return "";
    const times = points.map((p) => p.time), low = Math.min(...times) * 0.9, high = Math.max(...times) * 1.05, most = Math.max(0.2, ...points.map((p) => p.over)) * 1.1;
    const x = (o) => LEFT + 8 + (W - LEFT - 40) * o / most, y = (t) => 190 - 170 * (t - low) / Math.max(0.1, high - low);
    const pick = (p) => {
      const shape = this.bench.state.shape;
      shape.settings = {...p.settings};
      shape.points = curveOf(p);
      this.build();
      this.changed();
      say("Taken.");
    };
    return el("figure", {}, svg("svg", {viewBox: `0 0 ${W} 230`, class: "draw", role: "group", "aria-label": "Time against overshoot; each point can be taken"},
      svg("line", {x1: LEFT, x2: W - 12, y1: 192, y2: 192, class: "axis"}), svg("text", {x: W - 12, y: 222, class: "end"}, "overshoot"), svg("text", {x: 0, y: 12}, "seconds"),
      [0, most / 2, most / 1.1].map((o) => svg("text", {x: x(o), y: 208, class: "middle"}, percent(o))),
      [low, (low + high) / 2, high].map((t) => svg("text", {x: LEFT - 2, y: y(t) + 4, class: "end"}, fixed(t))),
      points.map((p) => {
        const act = () => pick(p), text = `Take ${fixed(p.time)} s with ${percent(p.over)} overshoot`;
        return svg("circle", {cx: x(p.over), cy: y(p.time), r: 9, class: "handle", tabindex: "0", role: "button", "aria-label": text,
          on: {click: act, keydown: (e) => { if (e.key === "Enter" || e.key === " ") { e.preventDefault(); act(); } }}});
      })), el("figcaption", {}, "The least time at levels of overshoot. Tap a point to take its settings."));
  }
}

// curveOf lays a curve of any kind on the handles.
function curveOf({curve, values: v}) {
  const n = (s) => parseFloat(s);
  const of = {
    ladder: (r) => Math.max(1, ...(v.steps ?? []).filter((s) => r > n(s.above)).map((s) => s.gain)),
    linear: (r) => Math.min(v.cap, 1 + v.factor * r / n(v.per)),
    power: (r) => Math.min(v.cap, 1 + v.factor * (r / n(v.at)) ** v.exponent),
    logistic: (r) => r === 0 ? 1 : v.low + (v.high - v.low) / (1 + Math.exp(-(r - n(v.at)) / n(v.width))),
  }[v ? curve : ""];
  return of ? RATES.map((r) => [r, r === 0 ? 1 : Math.min(60, Math.max(1, of(r)))]) : null;
}

const upper = (s) => s.charAt(0).toUpperCase() + s.slice(1);
