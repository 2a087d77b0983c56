// Knob: turn slowly, then flick, then say how many clicks were turned. What is lost is
// the difference; where it is lost, and what rig and hand are behind it, fit says.

import {button, el, field, fixed, more, percent, plural, say, seconds, table} from "./element.js";
import {median, shareOf} from "./measure.js";
import {Recording} from "./recording.js";
import {learnerOf, sources} from "./source.js";
import {Strip} from "./strip.js";
import {Busy, failed} from "./workbench.js";

// The links that a click passes before a browser hears of it; what is lost behind them,
// in a program or on its screen, is not heard here.
const BEFORE = ["contact and scan", "pulses and queue", "USB poll"];

const still = matchMedia("(prefers-reduced-motion: reduce)");

export class KnobPlace {
  constructor(bench, root) {
    this.bench = bench;
    this.root = root;
    this.parts = 0;
  }

  async open() {
    const kept = await this.bench.store.get("recording");
    this.result = await this.bench.store.get("fit");
    if (kept) this.recording = Recording.of(kept);
    this.answer = el("h1", {id: "answer"});
    this.by = el("p", {class: "by"});
    this.lead = el("div", {class: "lead", role: "group", "aria-label": "What to do"});
    this.strip = new Strip("Clicks over time: none yet");
    this.pad = el("div", {class: "pad", tabindex: "0", role: "application", "aria-label": "Field for the knob: turn it while the pointer or the focus is here"},
      this.strip.canvas);
    this.live = el("p", {class: "live"});
    this.window = el("input", {type: "range", min: "0", max: "1000", value: "0", on: {input: () => this.look()}});
    this.zoom = el("input", {type: "range", min: "0", max: "100", value: "0", on: {input: () => this.look()}});
    this.looking = el("div", {class: "row"}, field("From", this.window), field("Closer", this.zoom));
    this.found = el("div", {class: "found"});
    this.root.append(this.answer, this.by, this.lead, this.pad, this.live, this.looking, this.found);
    this.sayFound();
    this.choose();
    this.look();
  }

  close() {
    this.stop();
    this.busy?.control.abort();
    this.strip.close();
  }

  // The answer: what share of the quick clicks is lost.
  sayFound() {
    const r = this.recording;
    if (this.result) {
      const {answer, by} = spoken(this.result);
      this.answer.textContent = answer;
      this.by.textContent = by;
      this.showFit();
      return;
    }
    this.answer.textContent = r?.clicks ? `${plural(r.clicks, "click")} heard. How many were turned?` : "How many of your clicks are lost?";
    this.by.textContent = r?.clicks
      ? "From the last time; it was kept in this browser."
      : "Turn your knob slowly, then flick it, then say how many clicks you turned. It takes two minutes, and needs nothing but this page.";
  }

  // choose asks where the knob is heard.
  choose() {
    this.phase = "choose";
    const known = this.bench.state.knob;
    const options = Object.entries(sources).map(([kind, source]) => {
      const cannot = source.can();
      const id = `source-${kind}`;
      return el("div", {class: "option"},
        el("input", {type: "radio", name: "source", id, value: kind, disabled: !!cannot, checked: known.source === kind, "aria-describedby": `${id}-about`,
          on: {change: () => { known.source = kind; known.learned = null; this.bench.save(); this.sees(); begin.disabled = false; }}}),
        el("label", {for: id}, source.name),
        el("span", {class: "hint", id: `${id}-about`}, cannot ? `${source.about}; ${cannot}` : source.about));
    });
    const begin = button("Begin", () => this.begin(), {class: "main"});
    begin.disabled = !sources[known.source] || !!sources[known.source].can();
    const kept = this.recording?.clicks ? button("Say how many were turned", () => this.count()) : null;
    const load = el("input", {type: "file", accept: ".csv,.txt,text/csv", on: {change: (e) => this.load(e.target.files[0])}});
    this.notes = el("div", {class: "sees"});
    this.lead.replaceChildren(
      el("fieldset", {}, el("legend", {}, "Where your knob is heard"), options),
      this.notes,
      el("div", {class: "row"}, begin, kept),
      more("Or a recording that you have", field("Recording", load, "CSV of this page or of dialwright capture")));
    this.sees();
  }

  sees() {
    const source = sources[this.bench.state.knob.source];
    this.notes.replaceChildren(source ? more("What this browser sees of it, and what it cannot", el("ul", {}, source.sees.map((s) => el("li", {}, s)))) : "");
  }

  async begin() {
    const known = this.bench.state.knob;
    const Source = sources[known.source];
    try {
      this.source = new Source(known.learned);
      await this.source.ready?.();
    } catch (e) {
      this.lead.append(failed(e));
      return;
    }
    this.result = undefined;
    this.found.replaceChildren();
    if (Source.lessons && !this.source.learned) this.learn(); else this.record();
  }

  // hear connects the source to what is done with its clicks.
  hear(tell) {
    this.unhear?.();
    this.unhear = this.source.listen(this.pad, tell, (why) => {
      this.live.textContent = why;
      say(why);
    });
  }

  ask(sentence, ...rest) {
    this.lead.replaceChildren(el("p", {class: "ask"}, sentence), el("div", {class: "row"}, rest));
    say(sentence);
    this.pad.focus();
  }

  learn() {
    this.phase = "learn";
    const kind = this.bench.state.knob.source;
    const learner = learnerOf(kind, this.source);
    const ways = ["clockwise", "back, counter-clockwise"];
    const count = el("span", {class: "by"}, "nothing heard yet");
    const lesson = (again = "") => {
      const text = `${again}Turn it ${ways[learner.lesson]}, some five clicks, then stop.`;
      this.ask(text, button("That was it", next, {class: "main"}), button("Back", () => { this.stop(); this.choose(); }), count);
      count.textContent = "nothing heard yet";
    };
    const next = () => {
      try {
        const learned = learner.next();
        if (!learned) return lesson();
        this.bench.state.knob.learned = this.source.learned = learned;
        this.bench.save();
        return this.record();
      } catch (e) {
        return lesson(`${e.message} `);
      }
    };
    this.hear((e) => { count.textContent = `${plural(learner.hear(e) ?? learner.heard, "click")} heard`; });
    lesson();
  }

  record() {
    const Source = sources[this.bench.state.knob.source];
    this.phase = "record";
    this.recording = new Recording({device: `browser, ${Source.name}`, controls: this.source.controls});
    this.began = performance.now();
    this.saved = 0;
    this.parts = 0;
    this.hear((e) => {
      this.recording.hear({...e, ms: e.ms - this.began});
      this.last = e.ms;
    });
    this.looking.hidden = true;
    this.part("slow turn", "Now turn it one whole turn clockwise, slowly, click by click. Count the clicks. Then stop.");
    let drawn = 0;
    const frame = (now) => {
      if (this.phase !== "record") return;
      this.frame = requestAnimationFrame(frame);
      if (still.matches && now - drawn < 500) return;
      drawn = now;
      const ms = performance.now() - this.began;
      this.strip.show(this.recording, Math.max(0, ms - 6000), 6000);
      this.live.textContent = `${plural(this.recording.clicks, "click")} in ${seconds(ms / 1000)}`;
      if (ms - this.saved > (this.recording.length < 50000 ? 1000 : 15000)) {
        this.saved = ms;
        this.keep();
      }
    };
    this.frame = requestAnimationFrame(frame);
  }

  keep() {
    return this.bench.store.put("recording", this.recording.keep()).catch((e) => this.bench.trouble("storage", `The browser's storage does not take the recording (${e.message}): save it as a file when it is done.`));
  }

  part(name, sentence) {
    this.recording.mark(performance.now() - this.began, name);
    this.now = name;
    const fast = this.parts;
    const next = fast === 0
      ? button("Done, now flick", () => this.flick(1), {class: "main"})
      : [button("Done, one more flick", () => this.flick(fast + 1)), button("Done, that is all", () => this.count(), {class: "main"})];
    this.ask(sentence, next, button("Once more", () => this.part(name, sentence)), button("Stop", () => { this.stop(); this.choose(); this.sayFound(); this.look(); }));
  }

  flick(n) {
    const part = this.recording.parts().at(-1);
    if (!part || part.seen < 2) {
      say("Nothing was heard. Turn the knob while the pointer or the focus is on the field.");
      this.live.textContent = "Nothing was heard. Turn the knob while the pointer or the focus is on the field.";
      return;
    }
    this.keep();
    this.parts = n;
    const way = n % 2 ? "clockwise" : "counter-clockwise";
    this.part(`fast turn ${way} ${Math.ceil(n / 2)}`, `Now turn it one whole turn ${way}, as fast as you do at work or faster. Count the clicks. Then stop.`);
  }

  stop() {
    this.unhear?.();
    this.unhear = undefined;
    cancelAnimationFrame(this.frame);
    if (this.phase === "record" && this.recording?.length) this.keep();
    this.phase = "choose";
  }

  // count asks how many clicks were turned in each part.
  count() {
    this.stop();
    this.phase = "count";
    this.look();
    const parts = this.recording.parts().filter((p) => p.seen > 0);
    const known = this.bench.state.knob.turned ?? {};
    const fields = parts.map((p) => {
      const input = el("input", {type: "number", min: "1", max: "100000", step: "1", inputmode: "numeric", value: known[p.name] ?? ""});
      input.dataset.part = p.name;
      return [p, input];
    });
    const why = el("p", {class: "warn", role: "alert", hidden: true});
    const work = () => {
      const turned = {};
      for (const [p, input] of fields) {
        if (input.value === "") continue;
        if (!input.checkValidity()) {
          why.hidden = false;
          why.textContent = `${p.name}: ${input.value}; a whole number of clicks would do.`;
          input.focus();
          return;
        }
        turned[p.name] = Number(input.value);
      }
      this.bench.state.knob.turned = turned;
      this.bench.save();
      this.fit(turned);
    };
    const form = el("form", {class: "counts", on: {submit: (e) => { e.preventDefault(); work(); }}},
      el("p", {class: "ask"}, parts.length ? "How many clicks did you really turn?" : "How many clicks did you really turn, all together?"),
      fields.map(([p, input]) => field(p.name, input, `${p.seen} heard`)),
      el("p", {class: "by"}, "Whole turns times the clicks of a turn will do. Leave empty what you do not know: then the slow turn's clicks are taken for a turn."),
      why,
      el("div", {class: "row"}, el("button", {type: "submit", class: "main"}, "Work it out"), button("Record again", () => this.choose())));
    this.lead.replaceChildren(form);
    say("How many clicks did you really turn?");
    fields[0]?.[1].focus();
  }

  async fit(turned) {
    this.busy?.control.abort();
    const busy = this.busy = new Busy("Looking for the rig and the hand behind this…");
    this.lead.replaceChildren(busy.root);
    say("Working it out.");
    const csv = this.recording.csv(), parts = this.recording.parts();
    const fast = parts.filter((p) => p.name.startsWith("fast"));
    const all = fast.reduce((n, p) => n + (turned[p.name] ?? NaN), 0);
    const counts = parts.filter((p) => turned[p.name] && p.last > p.first)
      .map((p) => `turned ${turned[p.name]} in ${((p.last - p.first) / 1000).toFixed(2)}s shown ${p.seen}`);
    const each = new Set(parts.map((p) => turned[p.name]));
    const whole = each.size === 1 && !each.has(undefined); // fit takes every part for one whole turn
    const request = (flags) => ({study: "fit", args: ["knob.csv"], flags, files: {"knob.csv": csv}});
    try {
      const found = await this.bench.ask(request({"write-rig": "my-rig.yaml", "write-operator": "my-hand.yaml", ...(whole && all > 0 ? {turned: all} : {})}), busy);
      // The same counts say which link loses; the rig does without them, since a program
      // had no part in them.
      const blamed = counts.length ? await this.bench.ask(request({count: counts}), busy) : undefined;
      this.result = {...found.result, turned, parts, links: blamed?.result.counts?.links ?? [], explains: blamed?.result.counts?.explains ?? false};
      await this.bench.store.put("fit", this.result);
      const files = this.bench.state.files;
      for (const [name, text] of Object.entries(found.files ?? {})) files[name] = text;
      this.bench.save();
      this.sayFound();
      this.choose();
      say(`${this.answer.textContent} ${this.by.textContent}`);
    } catch (e) {
      if (e?.name === "AbortError") return this.count();
      this.lead.replaceChildren(failed(e, () => this.fit(turned)), el("div", {class: "row"}, button("Back to the counts", () => this.count())));
    }
    return undefined;
  }

  // look shows a stretch of a recording that is there.
  look() {
    const r = this.recording;
    this.looking.hidden = !r?.length || this.phase === "record";
    if (!r?.length) return;
    const span = Math.max(500, r.end * 1.02 * 10 ** (-4 * this.zoom.value / 100));
    const from = Math.max(0, (r.end * 1.02 - span) * this.window.value / 1000);
    this.strip.show(r, from, span);
    this.window.setAttribute("aria-valuetext", `from ${fixed(from / 1000)} seconds`);
    this.zoom.setAttribute("aria-valuetext", `${fixed(span / 1000)} seconds shown`);
    if (this.rated !== r) { // once a recording, not at every move of a slider
      this.rated = r;
      this.usual = r.length < 200000 ? median(r.rates()) : NaN;
    }
    this.strip.canvas.setAttribute("aria-label", `Clicks over time: ${plural(r.clicks, "click")} in ${fixed(r.end / 1000)} seconds`);
    this.live.textContent = `${plural(r.clicks, "click")} in ${seconds(r.end / 1000)}` + (this.usual > 0 ? `, half of them quicker than ${fixed(this.usual)} a second` : "");
  }

  async load(file) {
    if (!file) return;
    try {
      const text = await file.text();
      this.recording = Recording.read(text);
      if (!this.recording.length) throw new Error(`${file.name}: nothing in it turns; CSV time_s,control,event would do`);
      if (!this.recording.marks.length) this.recording.marks = [];
      this.recording.device ||= file.name;
      this.result = undefined;
      this.found.replaceChildren();
      await this.keep();
      await this.bench.store.put("fit", undefined);
      this.sayFound();
      this.count();
    } catch (e) {
      this.lead.append(failed(e));
    }
  }

  showFit() {
    const f = this.result, files = this.bench.state.files;
    const rows = (counted(f) ?? f.lost).map((l) => [l.turn, fixed(l.rate_per_s), `${l.turned}${l.turned_assumed ? " ?" : ""}`, String(l.seen),
      l.seen > l.turned ? `${l.seen - l.turned} too many` : `${percent(l.lost_share)} (${percent(l.low)} to ${percent(l.high)})`]);
    const values = (vs) => Object.entries(vs).filter(([, v]) => v.value !== "unknown");
    const said = (name, v) => [unitless(name), valued(name, v), v.why];
    const unknown = (vs) => {
      const why = new Map();
      for (const [name, v] of Object.entries(vs)) if (v.value === "unknown") why.set(v.why, [...(why.get(v.why) ?? []), unitless(name)]);
      return [...why].map(([reason, names]) => el("li", {}, `${names.join(", ")}: ${reason}`));
    };
    const use = files["my-rig.yaml"] || files["my-hand.yaml"]
      ? button("Go on with this rig and this hand", () => {
        if (files["my-rig.yaml"]) this.bench.state.rig = "my-rig.yaml";
        if (files["my-hand.yaml"]) this.bench.state.operator = "my-hand.yaml";
        this.bench.save();
        say("Taken: Shape and Path go on with your rig and your hand.");
        location.hash = "#shape";
      }) : null;
    this.found.replaceChildren(
      rows.length ? table("Clicks lost on their way to this page", ["turn", "clicks/s", "turned", "heard", "lost"], rows) : "",
      el("p", {}, f.replay?.verdict ? `Does it fit? It ${f.replay.verdict}.` : ""),
      f.links.length ? more("Which link loses them",
        el("p", {class: "by"}, "Laid beside thousands of random rigs that are turned as you did, with these counts. Only what stands before this browser can have lost them; a program behind it may lose more."),
        table("How likely each link loses most", ["link", "loses most", "of the clicks"], before(f.links).map((l) => [l.link, percent(l.probability), percent(l.lost_share, 1)]))) : "",
      more("The rig in numbers", table("What was found of the rig", ["key", "value", "from what"], values(f.rig).map(([n, v]) => said(n, v)), {class: "words"}),
        el("p", {class: "by"}, "Unknown:"), el("ul", {}, unknown(f.rig))),
      more("The hand in numbers", values(f.operator).length ? table("What was found of the hand", ["key", "value", "from what"], values(f.operator).map(([n, v]) => said(n, v)), {class: "words"}) : "",
        el("p", {class: "by"}, "Unknown:"), el("ul", {}, unknown(f.operator))),
      el("div", {class: "row"}, use));
  }
}

// counted is what is lost of the clicks that somebody counted, as fit says it; undefined
// where nobody did.
function counted({parts, turned}) {
  const list = parts.filter((p) => turned[p.name]).map((p) => {
    const n = turned[p.name], {value, low, high} = shareOf(Math.max(0, n - p.seen), n);
    return {turn: p.name, rate_per_s: n / Math.max(1e-3, (p.last - p.first) / 1000), turned: n, seen: p.seen, lost_share: value, low, high};
  });
  return list.length ? list : undefined;
}

// before leaves the links that stand before the browser.
export function before(links) {
  const mine = links.filter((l) => BEFORE.includes(l.link)), all = mine.reduce((a, l) => a + l.loses_most_probability, 0);
  return mine.map((l) => ({...l, probability: all > 0 ? l.loses_most_probability / all : 0})).sort((a, b) => b.probability - a.probability);
}

// spoken is a fit in one sentence and one more.
export function spoken(f) {
  let turned = 0, seen = 0;
  for (const p of f.parts) {
    if (!p.name.startsWith("fast") || !f.turned[p.name]) continue;
    turned += f.turned[p.name];
    seen += p.seen;
  }
  if (!turned) {
    for (const l of f.lost) {
      if (l.turn.startsWith("slow")) continue;
      turned += l.turned;
      seen += l.seen;
    }
  }
  if (!turned) return {answer: "What is lost is not known.", by: "Say how many clicks were turned, and it is."};
  if (seen > turned) return {answer: `${plural(seen - turned, "click")} more were heard than you turned.`, by: "A key repeat or chatter adds some, a click gives more than one, or a number turned is not right."};
  const lost = shareOf(turned - seen, turned);
  const link = before(f.links).find((l) => l.probability > 0);
  const answer = seen === turned ? `None of ${turned} quick clicks is lost.` : `${percent(lost.value)} of your quick clicks are lost.`;
  const sure = `${turned - seen} of ${turned}; between ${percent(lost.low)} and ${percent(lost.high)}, 95 % sure.`;
  return {answer, by: seen < turned && link ? `${sure} Most likely at this link: ${link.link} (${percent(link.probability)}).` : sure};
}

const UNITS = [["_deg_per_s", "°/s"], ["_per_s", "/s"], ["_ms", "ms"], ["_s", "s"], ["_deg", "°"], ["_share", ""]];

function unitless(name) {
  const unit = UNITS.find(([u]) => name.endsWith(u));
  return unit ? name.slice(0, -unit[0].length) : name;
}

function valued(name, v) {
  if (typeof v.value !== "number") return String(v.value);
  const unit = UNITS.find(([u]) => name.endsWith(u))?.[1] ?? "";
  const digits = (x) => String(Number(x.toPrecision(3)));
  return `${digits(v.value)}${unit && "\u00a0"}${unit}` + (v.low !== undefined && v.low !== v.high ? ` (${digits(v.low)} to ${digits(v.high)})` : "");
}
