// Dial: numbers to reach with one's own knob, under two settings that nobody names until
// the end. The path from click to number runs here, in real time.

import {button, choice, el, field, fixed, more, percent, plural, say, seconds, svg, table, within} from "./element.js";
import {dialingLine, headLine, measured} from "./log.js";
import {compared, meanOf} from "./measure.js";
import {Path, gainOf} from "./path.js";
import {learnerOf, sources} from "./source.js";
import {Busy, failed, numberOf} from "./workbench.js";

const PRACTICE = 4; // dialings before the pairs; ours
const RESTS = 500; // ms that a number stands before a screen reader is told; ours

// asFile writes a thing as a file of dialwright; JSON is YAML.
const asFile = (kind, thing) => JSON.stringify({kind, version: 1, ...thing});

// pageRig is the rig that the page is: clicks as they come, frames and lag as chosen.
export function pageRig({frames, lag}) {
  return asFile("rig", {name: "this page", knob: {detents: 24, cycles: 24, bounce: "0ms"}, firmware: {scan: "0.1ms", debounce: 1, decoder: "table", output: "relative"},
    usb: {poll: "1ms"}, system: {latency: "0ms"}, program: frames ? {frames: `${frames}/s`, jitter: "0%"} : {sampling: "immediate"}, display: {latency: `${lag}ms`}});
}

const pagePanel = (task) => asFile("panel", {name: "this page", knobs: [{name: "knob", rings: 1, rig: "page-rig.yaml", tasks: [{task, per_hour: 1}]}]});

// The plan of a sitting: practice, then pairs of both settings in random order. Both of
// a pair have the same start and target.
function planned(pairs, toss) {
  const plan = [];
  for (let i = 0; i < PRACTICE; i++) plan.push({pair: 0, order: 1 + i % 2, setting: "AB"[i % 2], dealt: 199 - i});
  for (let pair = 1; pair <= pairs; pair++) {
    const first = toss() ? "A" : "B";
    plan.push({pair, order: 1, setting: first, dealt: pair - 1}, {pair, order: 2, setting: first === "A" ? "B" : "A", dealt: pair - 1});
  }
  return plan;
}

const nothing = () => {};

const toss = () => crypto.getRandomValues(new Uint8Array(1))[0] & 1;

export class DialPlace {
  constructor(bench, root) {
    this.bench = bench;
    this.root = root;
  }

  async open() {
    this.answer = el("h1", {id: "answer"}, "Which setting is quicker in your own hand?");
    this.by = el("p", {class: "by"});
    this.work = el("div", {class: "work"});
    this.root.append(this.answer, this.by, this.work);
    this.sitting = await this.bench.store.get("sitting");
    this.dialings = await this.bench.store.all("dialings");
    if (this.sitting && !this.next()) return this.results();
    return this.setUp();
  }

  close() {
    this.leave();
    this.busy?.control.abort();
    this.asking?.abort();
  }

  // next is the first dialing of the plan that was not done.
  next() { return this.sitting.plan.find((_, n) => !this.dialings.some((d) => d.n === n)); }

  async setUp() {
    const s = this.bench.state, d = s.dial;
    this.answer.textContent = "Which setting is quicker in your own hand?";
    const desk = await this.bench.desk();
    const fits = desk.uses.filter((u) => u.count > 1);
    if (!fits.some((u) => u.task === s.task)) s.task = fits[0].task;
    const names = [...desk.profiles.filter((p) => p.name !== "press" && p.name !== "coarse-pair").map((p) => [p.name, p.about ? `${p.name}: ${p.about}` : p.name]),
      ...Object.entries(s.files).filter(([, text]) => /kind"?:\s*"?profile/.test(text)).map(([name]) => [name, `${name}: yours`])];
    const change = (key, value) => { d[key] = value; this.bench.save(); this.predict(); };
    const known = s.knob;
    const heard = Object.entries(sources).filter(([, x]) => !x.can()).map(([kind, x]) => [kind, x.name]);
    if (!known.source) known.source = "wheel";
    const form = el("form", {class: "setup", on: {submit: (e) => { e.preventDefault(); this.begin(); }}},
      field("Number to dial", choice(fits.map((u) => [u.task, u.title ? u.title : u.task]), s.task, (v) => { s.task = v; this.bench.save(); this.predict(); })),
      field("One setting", choice(names, d.a, (v) => change("a", v))),
      field("The other", choice(names, d.b, (v) => change("b", v))),
      field("Pairs", choice([10, 20, 30, 40].map((n) => [String(n), `${n} pairs, ${2 * n} numbers`]), String(d.pairs), (v) => change("pairs", Number(v))), `and ${PRACTICE} for practice before`),
      more("Knob and path",
        field("Your knob is heard as", choice(heard, known.source, (v) => { known.source = v; known.learned = null; this.bench.save(); })),
        field("Program frames", choice([["0", "none: every click at once"], ["20", "20 a second"], ["30", "30 a second"], ["60", "60 a second"]], String(d.frames), (v) => change("frames", Number(v)))),
        field("Display lag", choice([0, 50, 100, 200, 400].map((n) => [String(n), `${n} ms`]), String(d.lag), (v) => change("lag", Number(v)))),
        el("p", {class: "by"}, "A knob with two rings is dialed here with one ring.")),
      el("div", {class: "row"}, el("button", {type: "submit", class: "main"}, this.sitting ? "Begin anew" : "Begin"),
        this.sitting && this.next() && button(`Go on with dialing ${this.dialings.length + 1} of ${this.sitting.plan.length}`, () => this.goOn())));
    this.work.replaceChildren(form);
    if (this.sitting && this.next()) {
      this.by.textContent = `${plural(this.dialings.length, "dialing")} of the last time are kept in this browser.`;
    }
    this.predict();
  }

  flags(more = {}, files = {}) {
    const s = this.bench.state;
    return {flags: {panel: "page-panel.yaml", operator: [s.operator], seed: 1, ...more},
      files: {...pick(s.files, [s.operator, s.dial.a, s.dial.b]), "page-rig.yaml": pageRig(s.dial), "page-panel.yaml": pagePanel(s.task), ...files}};
  }

  // predict says what difference so many pairs can show.
  async predict() {
    this.asking?.abort();
    const control = this.asking = new AbortController(), d = this.bench.state.dial;
    if (d.a === d.b) {
      this.by.textContent = "Both settings are the same: a placebo. Whatever difference you find is chance.";
      return;
    }
    try {
      const a = await this.bench.ask({study: "compare", args: [d.a, d.b], ...this.flags({trials: d.pairs})}, {signal: control.signal});
      const x = a.result.profiles.find((p) => p.tasks[0]?.against_first)?.tasks[0].against_first;
      const kept = this.sitting && this.next() ? `${plural(this.dialings.length, "dialing")} of the last time are kept. ` : "";
      if (x) this.by.textContent = `${kept}${d.pairs} pairs can show a difference of about ${seconds((x.high - x.low) / 2)} a number. The settings come unnamed, in random order, with the same targets.`;
    } catch (e) {
      if (e?.name !== "AbortError") this.by.replaceChildren(failed(e));
    }
  }

  async begin() {
    this.asking?.abort();
    const s = this.bench.state, d = s.dial;
    const busy = this.busy = new Busy("Getting the settings ready…");
    if (this.by.querySelector(".warn")) this.by.replaceChildren();
    this.work.replaceChildren(busy.root);
    try {
      await this.plug(s.knob.source); // first, while the click that allows it is fresh
      await this.hold();
      const desk = await this.bench.desk(s.task, busy.signal);
      const use = desk.uses.find((u) => u.task === s.task);
      const settings = {};
      for (const [letter, name] of [["A", d.a], ["B", d.b]]) {
        const asked = {study: "export", args: [name], ...this.flags({task: [s.task], operator: undefined, seed: undefined})};
        const js = await this.bench.ask({...asked, flags: {...clean(asked.flags), as: "js"}}, busy);
        const json = await this.bench.ask({...asked, flags: {as: "json"}}, busy);
        const profile = JSON.parse(json.text);
        settings[letter] = {name, gain: gainOf(js.text), home: profile.acceleration?.home ?? "program", profile};
      }
      this.sitting = {task: s.task, use, settings, frames: d.frames, lag: d.lag, source: s.knob.source, plan: planned(d.pairs, toss)};
      this.dialings = [];
      await this.bench.store.clear("dialings");
      await this.bench.store.put("sitting", this.sitting);
      this.resume();
    } catch (e) {
      if (e?.name === "AbortError") this.setUp();
      else this.work.replaceChildren(failed(e, () => this.begin()), button("Back", () => this.setUp()));
      this.letGo();
    }
  }

  // goOn resumes what was left, here or in another window.
  async goOn() {
    try {
      await this.hold();
      this.sitting = await this.bench.store.get("sitting");
      this.dialings = await this.bench.store.all("dialings");
      await this.plug(this.sitting.source);
      this.resume();
    } catch (e) {
      this.work.replaceChildren(failed(e, () => this.goOn()), button("Back", () => this.setUp()));
      this.letGo();
    }
  }

  // hold keeps the sitting for this window, until it lets go or is closed. It fails where
  // another window holds it: what is dialed there stays as it is.
  hold() {
    if (!navigator.locks || this.letGo !== nothing) return undefined;
    return new Promise((held, refused) => navigator.locks.request("sitting", {ifAvailable: true}, (lock) => {
      if (!lock) return refused(new Error("Another window of this browser is dialing. Stop there first."));
      return new Promise((free) => {
        this.letGo = () => { free(); this.letGo = nothing; };
        held();
      });
    }));
  }

  letGo = nothing;

  // plug makes the knob ready to be heard.
  async plug(kind) {
    const known = this.bench.state.knob;
    known.source = kind;
    this.source = new sources[kind](known.learned);
    await this.source.ready?.();
  }

  // resume puts the person before the knob.
  resume() {
    this.asking?.abort();
    const kind = this.sitting.source;
    this.target = el("p", {class: "target"});
    this.number = el("p", {class: "number"});
    this.pad = el("div", {class: "pad numbers", tabindex: "0", role: "application", "aria-label": "The number: turn the knob here; Enter says done, Escape gives up"}, this.target, this.number);
    this.ask = el("p", {class: "ask"});
    this.row = el("div", {class: "row"});
    this.work.replaceChildren(this.pad, this.ask, this.row);
    this.answer.textContent = "Dial it, as you would at work.";
    const key = (e) => {
      if (e.target.tagName === "BUTTON" || e.repeat) return;
      if (e.key === "Enter") { e.preventDefault(); this.enter(); }
      if (e.key === "Escape" && this.now) { e.preventDefault(); this.end("gave-up"); }
    };
    const away = () => { if (this.now) this.end("away"); };
    const hidden = () => { if (document.visibilityState === "hidden") away(); };
    this.work.addEventListener("keydown", key);
    addEventListener("blur", away);
    document.addEventListener("visibilitychange", hidden);
    this.leaving = () => {
      this.work.removeEventListener("keydown", key);
      removeEventListener("blur", away);
      document.removeEventListener("visibilitychange", hidden);
    };
    if (sources[kind].lessons && !this.source.learned) this.learn(); else this.ready();
  }

  leave() {
    if (this.now) this.end("away");
    this.unhear?.();
    this.unhear = undefined;
    cancelAnimationFrame(this.frame);
    this.leaving?.();
    this.leaving = undefined;
    this.letGo();
  }

  learn() {
    const learner = learnerOf(this.bench.state.knob.source, this.source), ways = ["clockwise", "back, counter-clockwise"];
    const lesson = (again = "") => {
      this.ask.textContent = `${again}Turn your knob ${ways[learner.lesson]}, some five clicks, then say so.`;
      say(this.ask.textContent);
      this.pad.focus();
    };
    this.unhear = this.source.listen(this.pad, (e) => { learner.hear(e); this.number.textContent = learner.heard; });
    const next = () => {
      try {
        const learned = learner.next();
        if (!learned) return lesson();
        this.bench.state.knob.learned = this.source.learned = learned;
        this.bench.save();
        this.unhear();
        this.number.textContent = "";
        return this.ready();
      } catch (e) {
        return lesson(`${e.message} `);
      }
    };
    this.enter = next;
    this.row.replaceChildren(button("That was it", next, {class: "main"}));
    lesson();
  }

  ready(said = "") {
    this.item = this.next();
    this.target.textContent = "";
    this.number.textContent = "";
    if (!this.item) {
      this.leave();
      return this.results();
    }
    const n = this.dialings.length;
    const where = this.item.pair === 0 ? `For practice, ${n + 1} of ${PRACTICE}` : `Dialing ${n + 1} of ${this.sitting.plan.length}`;
    this.ask.textContent = `${said}${where}. Hand at the knob: Enter shows the number to dial.`;
    say(this.ask.textContent);
    this.enter = () => this.dial();
    this.row.replaceChildren(button("Show it", () => { this.pad.focus(); this.dial(); }, {class: "main"}), button("Stop for now", () => { this.leave(); this.setUp(); }));
    this.pad.focus();
    return undefined;
  }

  dial() {
    const {use, settings, frames, lag} = this.sitting, setting = settings[this.item.setting];
    const [start, target] = use.dialings[this.item.dealt];
    this.enter = () => {};
    const unit = use.unit ? ` ${use.unit}` : "";
    this.row.replaceChildren(button("Done", () => this.enter(), {class: "main"}), button("Give up", () => this.end("gave-up")));
    this.frame = requestAnimationFrame(() => {
      const began = performance.now();
      this.target.replaceChildren("Dial ", el("b", {}, numberOf(use, target)), unit);
      this.number.textContent = numberOf(use, start);
      this.ask.textContent = "Enter when it is right.";
      say(`Dial ${numberOf(use, target)}${unit}, from ${numberOf(use, start)}.`);
      const path = new Path({frames: frames || null, gain: setting.gain, home: setting.home, lag, low: use.low, count: use.count, wrap: use.wrap, start});
      this.now = {path, began, start, target, events: [], wrong: 0};
      this.enter = () => this.confirm();
      let before = 0, moved = Infinity;
      this.unhear = this.source.listen(this.pad, (e) => {
        if (e.kind === "release") return;
        const n = e.kind === "count" ? e.n : e.way, ms = Math.max(before, Math.round((e.ms - began) * 1000) / 1000);
        if (!n || ms < 0) return;
        before = ms;
        path.detent(ms, n);
        this.now.events.push([ms, n]);
      });
      const draw = () => {
        if (!this.now) return;
        const ms = performance.now() - began, text = numberOf(use, path.at(ms));
        if (this.number.textContent !== text) {
          this.number.textContent = text;
          moved = ms;
        } else if (ms - moved > RESTS) {
          moved = Infinity;
          say(text);
        }
        if (ms > use.limit_s * 1000) return this.end("gave-up");
        this.frame = requestAnimationFrame(draw);
      };
      this.frame = requestAnimationFrame(draw);
    });
  }

  // confirm takes Enter: the number is right, or the dialing goes on.
  confirm() {
    const {path, began, target} = this.now, {use} = this.sitting, ms = performance.now() - began;
    const off = Math.abs(path.scale.distance(path.at(ms), target));
    if (off <= use.tolerance_steps) return this.end("right");
    this.now.wrong++;
    this.ask.textContent = `It is ${numberOf(use, path.at(ms))}, and not ${numberOf(use, target)} yet: dial on.`;
    say(this.ask.textContent);
    return undefined;
  }

  // end keeps a dialing, at once and on the disk. One that was looked away from is asked
  // for again at the end.
  async end(outcome) {
    const {path, began, start, target, events, wrong} = this.now, item = this.item, n = this.sitting.plan.indexOf(item);
    const end = performance.now() - began;
    this.now = undefined;
    this.unhear?.();
    cancelAnimationFrame(this.frame);
    const shown = path.finish().filter(([ms]) => ms <= end);
    const dialing = {n, task: this.sitting.task, setting: item.setting, pair: item.pair, order: item.order, start, target, phase: 0, events, shown, end, outcome, wrong};
    this.dialings.push(dialing);
    if (outcome === "away") this.sitting.plan.push({...item});
    this.saved = this.bench.store.append("dialings", dialing, {sitting: this.sitting}).catch((e) => this.bench.trouble("storage", `The browser's storage does not take the dialing (${e.message}); it is kept while this page is open.`));
    const scale = scaleOf(this.sitting.use), m = measured(dialing, scale);
    const said = outcome === "away" ? "You were away, so that one does not count; it comes again at the end. "
      : outcome === "gave-up" ? "Given up; it is counted as not reached. "
        : item.pair === 0 && m.wrongWay ? "That was right. Your first click went the other way than the number: is your knob wired round? Knob learns it anew. " : "";
    this.enter = () => {};
    this.row.replaceChildren();
    await this.saved; // no number is shown before the last one is kept
    if (this.leaving) this.ready(said);
  }

  // text is the dialings as a file.
  text() { return logOf(this.sitting, this.dialings); }

  async results() {
    const {use, settings} = this.sitting, scale = scaleOf(use);
    const c = compared(this.dialings, scale);
    const less = c.less_s, quicker = less.value > 0 ? "B" : "A", name = settings[quicker].name;
    const clear = less.low > 0 || less.high < 0;
    this.answer.textContent = !c.timed ? "No pair was reached with both settings."
      : clear ? `${upper(name)} is quicker for you: ${seconds(Math.abs(less.value))} a number.`
        : "No difference in time was found in your hand.";
    const sign = quicker === "B" ? 1 : -1, [low, high] = sign > 0 ? [less.low, less.high] : [-less.high, -less.low];
    this.by.textContent = c.timed ? `${upper(name)} saves ${seconds(Math.abs(less.value))}${c.timed > 1 ? ` (${fixed(low)} to ${fixed(high)}, 95 % sure)` : ""}, in ${plural(c.timed, "pair")} of ${c.pairs}.` : "";
    const row = (s) => [`${s}: ${settings[s].name}`, fixed(c[s].time_s.value) + (c.timed > 1 ? ` (${fixed(c[s].time_s.low)} to ${fixed(c[s].time_s.high)})` : ""), fixed(c[s].median_s),
      `${percent(c[s].overshoot.value)} (${percent(c[s].overshoot.low)} to ${percent(c[s].overshoot.high)})`, String(c[s].gaveUp), String(c[s].wrong), String(c[s].wrongWay)];
    const all = this.dialings.filter((d) => d.pair > 0 && d.outcome !== "away").map((d) => ({...d, ...measured(d, scale)}));
    this.predicted = el("div", {class: "predicted"});
    this.work.replaceChildren(
      table("Your dialings", ["setting", "mean time, s", "median, s", "overshoot", "given up", "said done too early", "first click the wrong way"], ["A", "B"].map(row)),
      pairsFigure(all, settings),
      el("h2", {}, "How well does the simulation predict you?"), this.predicted,
      more("Every dialing", table("Every dialing, in the order in which it was done", ["pair", "setting", "from", "to", "time, s", "overshoot, steps", "ended"],
        all.map((d) => [String(d.pair), d.setting, numberOf(use, d.start), numberOf(use, d.target), d.time === null ? "–" : fixed(d.time / 1000, 2), String(d.overshoot), d.outcome]), {class: "every"})),
      el("div", {class: "row"}, button("Save the dialings", () => save("dialings.jsonl", this.text())), button("Dial again", () => { this.sitting = undefined; this.setUp(); })));
    say(`${this.answer.textContent} ${this.by.textContent}`);
    if (!c.timed) return this.predicted.replaceChildren(el("p", {}, "That is seen from pairs that were reached with both settings."));
    return this.simulate(c);
  }

  // simulate lays simulated people beside the real one: who is fitted to these very
  // dialings, and, of each half, who is fitted to the other half. Where too little was
  // dialed for a fit, it is the chosen operator.
  async simulate(c) {
    const busy = this.busy = new Busy("Fitting a simulated person to your dialings…");
    this.predicted.replaceChildren(busy.root);
    try {
      this.predicted.replaceChildren(...await this.fitted(busy));
    } catch (e) {
      if (e?.name === "AbortError") return this.predicted.replaceChildren(el("p", {}, "Cancelled."), button("Try again", () => this.simulate(c)));
      if (!e?.faults) return this.predicted.replaceChildren(failed(e, () => this.simulate(c)));
      return this.guess(c, e.faults.join(" "));
    }
    return undefined;
  }

  // fitted is what the person says who is fitted to the dialings.
  async fitted(busy) {
    const {settings} = this.sitting, {operator, files} = this.bench.state;
    const a = await this.bench.ask({study: "fit", flags: {dialed: "dialings.jsonl", operator: [operator], seed: 1, "write-operator": "dialed-hand.yaml"},
      files: {...pick(files, [operator]), "dialings.jsonl": this.text()}}, busy);
    const {dialed, operator: hand} = a.result;
    const called = (p) => `${p.what === "time_s" ? "time, s" : "overshoot, %"}, ${settings[p.setting] ? `${p.setting}: ${settings[p.setting].name}` : p.setting}`;
    const write = (p, {value, low, high}) => p.what === "time_s" ? `${fixed(value)} (${within(low, high)})` : `${fixed(100 * value, 0)} (${within(100 * low, 100 * high, 0)})`;
    const known = Object.entries(hand).filter(([, v]) => v.value !== "unknown");
    const mine = button("Take this person for all places", () => {
      this.bench.state.files["dialed-hand.yaml"] = a.files["dialed-hand.yaml"];
      this.bench.state.operator = "dialed-hand.yaml";
      this.bench.save();
      mine.replaceWith(el("p", {}, "All places simulate you from now on."));
      say("All places simulate you from now on.");
    });
    return [
      el("p", {}, dialed.verdict),
      table("You, and what is predicted of you", ["", "you", "predicted", "missed", "fitted to all"],
        dialed.predictions.map((p) => [called(p), write(p, p.measured), write(p, p.predicted), p.missed ? "missed" : "no", write(p, p.fitted)])),
      el("p", {class: "by"}, `Predicted: each half of your pairs as the simulated person dials it who was fitted to the other half, and has the rest of the ${operator} operator; the last column knows these very dialings. In brackets 95 % intervals. ${plural(dialed.dialings, "dialing")} used.`),
      more("What your dialings say of your hand",
        table("Your hand", ["", "value", "from", "to", "it shows"], known.map(([name, v]) => [...named(name, v), v.why.replace(/^it shows /, "")]), {class: "words"}),
        el("p", {class: "by"}, `The rest is as of the ${operator} operator: so many dialings leave too much of it open.`)),
      el("div", {class: "row"}, mine)];
  }

  // guess lays the chosen operator beside the person, who is not fitted, and says why.
  async guess(c, why) {
    const {settings, task} = this.sitting, busy = this.busy = new Busy("Letting a simulated person dial the same…");
    this.predicted.replaceChildren(busy.root);
    const files = {...this.bench.state.files, "page-rig.yaml": pageRig(this.sitting), "page-panel.yaml": pagePanel(task)}, {operator} = this.bench.state;
    try {
      const names = [settings.A.name, settings.B.name], same = names[0] === names[1];
      const a = await this.bench.ask({study: "compare", args: same ? [names[0]] : names, flags: {panel: "page-panel.yaml", operator: [operator], trials: 400, seed: 1}, files}, busy);
      const simulated = {A: a.result.profiles[0].tasks[0], B: a.result.profiles[same ? 0 : 1].tasks[0]};
      const rows = ["A", "B"].map((s) => {
        const you = c[s].time_s, t = simulated[s];
        const misses = t.time_to_target_s.mean < you.low || t.time_to_target_s.mean > you.high;
        return [`${s}: ${settings[s].name}`, `${fixed(you.value)} (${within(you.low, you.high)})`, fixed(t.time_to_target_s.mean), misses ? "missed" : "no", percent(c[s].overshoot.value), percent(t.overshoot.share)];
      });
      this.predicted.replaceChildren(
        el("p", {}, `Nobody was fitted to you (${why.replace(/^dialings\.jsonl: /, "")}). This is the ${operator} operator.`),
        table("You, and somebody else simulated", ["setting", "you, s", "simulated, s", "missed", "you overshoot", "simulated"], rows),
        el("p", {class: "by"}, "400 dialings on the path of this page."));
    } catch (e) {
      this.predicted.replaceChildren(e?.name === "AbortError" ? el("p", {}, "Cancelled.") : failed(e, () => this.simulate(c)));
    }
  }
}

// named writes a value of an operator whose name ends in its unit.
function named(name, {value, low, high}) {
  const [, what, unit] = /^(.*?)(?:_(ms|deg_per_s|deg|share))?$/.exec(name);
  const times = unit === "share" ? 100 : 1, digits = (x) => Number((times * x).toPrecision(3));
  return [what, `${digits(value)} ${{deg_per_s: "deg/s", share: "%"}[unit] ?? unit ?? ""}`.trim(), String(digits(low)), String(digits(high))];
}

const clean = (o) => Object.fromEntries(Object.entries(o).filter(([, v]) => v !== undefined));
const pick = (files, names) => Object.fromEntries(Object.entries(files).filter(([n]) => names.includes(n)));
const upper = (s) => s.charAt(0).toUpperCase() + s.slice(1);
const scaleOf = (use) => ({low: use.low, count: use.count, wrap: use.wrap, tolerance: use.tolerance_steps});

// dialedOf is what of a profile was dialed here, where the knob is the person's own.
const dialedOf = ({settings, press, ...dialed}) => dialed;

// logOf is a sitting as a file.
export function logOf(sitting, dialings) {
  const {use, settings, frames, lag, source, task} = sitting;
  return headLine({device: {kind: source, clicksPerTurn: 24}, program: {framesPerS: frames || undefined, lagMs: lag}, tasks: {[task]: {unit: use.unit, ...scaleOf(use)}},
    settings: {A: dialedOf(settings.A.profile), B: dialedOf(settings.B.profile)}}) + dialings.map((d) => dialingLine(d)).join("");
}

// save hands a file to the browser.
export function save(name, text, type = "text/plain") {
  const a = el("a", {href: URL.createObjectURL(new Blob([text], {type})), download: name});
  a.click();
  setTimeout(() => URL.revokeObjectURL(a.href), 10000);
}

// pairsFigure draws every pair as a line from A to B.
function pairsFigure(all, settings) {
  const pairs = new Map();
  for (const d of all) if (d.time !== null) pairs.set(d.pair, {...pairs.get(d.pair), [d.setting]: d.time / 1000});
  const whole = [...pairs.values()].filter((p) => p.A !== undefined && p.B !== undefined);
  if (!whole.length) return "";
  const most = Math.max(...whole.map((p) => Math.max(p.A, p.B))), y = (t) => 190 - 170 * t / most;
  const a = meanOf(whole.map((p) => p.A)), b = meanOf(whole.map((p) => p.B));
  return el("figure", {}, svg("svg", {viewBox: "0 0 320 220", class: "draw pairs", role: "img", "aria-label": `Each pair's times: A ${fixed(a.value)} s on average, B ${fixed(b.value)} s`},
    svg("line", {x1: 40, x2: 300, y1: 190, y2: 190, class: "axis"}),
    [0, most / 2, most].map((t) => [svg("text", {x: 34, y: y(t) + 4, class: "end"}, fixed(t)), svg("line", {x1: 40, x2: 300, y1: y(t), y2: y(t), class: "grid"})]),
    whole.map((p) => svg("line", {x1: 90, x2: 250, y1: y(p.A), y2: y(p.B), class: "pair"})),
    svg("line", {x1: 90, x2: 250, y1: y(a.value), y2: y(b.value), class: "mean"}),
    svg("text", {x: 90, y: 210, class: "middle"}, `A: ${settings.A.name}`), svg("text", {x: 250, y: 210, class: "middle"}, `B: ${settings.B.name}`)),
  el("figcaption", {}, "Seconds to target, a line for each pair; thick: the mean."));
}
