// Path: where a dialing's time goes, and one turn click by click.

import {el, field, fixed, more, percent, picture, say, seconds, svg} from "./element.js";
import {shaped} from "./shape.js";
import {Busy, failed} from "./workbench.js";

const W = 640;

export class PathPlace {
  constructor(bench, root) {
    this.bench = bench;
    this.root = root;
    this.ideal = new Set();
  }

  async open() {
    this.answer = el("h1", {id: "answer"}, "Where does the time go?");
    this.by = el("p", {class: "by"}, "");
    this.links = el("div", {class: "links"});
    this.turn = el("div", {class: "turn"});
    this.root.append(this.answer, this.by, el("div", {class: "two"}, this.links, this.turn));
    await this.ask();
  }

  close() { this.busy?.control.abort(); }

  one(more) {
    const p = shaped(this.bench.state);
    return this.bench.asked({profile: p.name, ...more}, p.text ? {[p.name]: p.text} : {});
  }

  async ask() {
    const busy = this.busy = new Busy("Making every link ideal in turn…");
    this.links.replaceChildren(busy.root);
    try {
      const a = await this.bench.ask({study: "explain", ...this.one({trials: 100, seed: 1})}, busy);
      this.result = a.result;
      this.picture = a.figures.links && picture("As a report draws it", a.figures.links);
      this.draw();
      await this.follow(busy);
    } catch (e) {
      this.links.replaceChildren(e?.name === "AbortError" ? el("p", {}, "Cancelled.") : failed(e, () => this.ask()));
    }
  }

  // draw says what is left with the links that were tapped made ideal.
  draw() {
    const {links, real, total} = this.result;
    const saved = links.filter((l) => this.ideal.has(l.link)).reduce((n, l) => n + l.time_s.value, 0);
    const worst = [...links].sort((a, b) => b.time_s.value - a.time_s.value)[0];
    this.answer.textContent = this.ideal.size
      ? `About ${seconds(real.time_s.value - saved)} instead of ${seconds(real.time_s.value)} with ${[...this.ideal].join(" and ")} ideal.`
      : `Of ${seconds(real.time_s.value)} a number takes, the path costs ${seconds(total.time_s.value)}.`;
    this.by.textContent = this.ideal.size ? "Each link has its fair share of what all of them cost together, so that the shares add up."
      : `Between ${fixed(total.time_s.low)} and ${fixed(total.time_s.high)} s, 95 % sure. Most of it: ${worst.link}, ${seconds(worst.time_s.value)}. The rest is the hand.`;
    const most = Math.max(0.1, ...links.map((l) => l.time_s.high));
    this.links.replaceChildren(el("h2", {}, "Tap a link to see it ideal"), el("ul", {class: "bars"}, links.map((l) => {
      const on = this.ideal.has(l.link), wide = Math.max(0, l.time_s.value) / most;
      const b = el("button", {type: "button", "aria-pressed": String(on), "aria-label": `${l.link}: ${fixed(l.time_s.value, 2)} seconds a number; ideal`,
        on: {click: () => {
          if (on) this.ideal.delete(l.link); else this.ideal.add(l.link);
          this.draw();
          say(this.answer.textContent);
          [...this.links.querySelectorAll("button")].find((x) => x.dataset.link === l.link)?.focus();
        }}},
      el("span", {}, l.link), el("span", {class: "value"}, on ? "ideal" : `${fixed(l.time_s.value, 2)} s`),
      svg("svg", {viewBox: "0 0 100 6", preserveAspectRatio: "none", class: "bar", "aria-hidden": "true"}, svg("rect", {x: 0, y: 0, width: (on ? 0 : 100 * wide).toFixed(1), height: 6})));
      b.dataset.link = l.link;
      return el("li", {}, b, el("p", {class: "hint"}, l.sentence));
    })), this.picture ?? "");
  }

  async follow(busy) {
    const text = el("input", {type: "text", value: this.asked ?? "24 in 800ms", on: {change: (e) => { this.asked = e.target.value; this.follow({}).catch((err) => lanes.replaceChildren(failed(err))); }}});
    const lanes = el("div", {});
    const rig = this.bench.state.rig || (await this.bench.desk(this.bench.state.task)).rigs[0].name;
    this.turn.replaceChildren(el("h2", {}, "One turn, click by click"), field("Turned", text, "so many clicks in such a time; negative: counter-clockwise"), lanes);
    const p = shaped(this.bench.state);
    const request = this.bench.asked({panel: undefined, operator: undefined, task: [this.bench.state.task], rig: [rig], profile: p.name, turn: text.value, seed: 1}, p.text ? {[p.name]: p.text} : {});
    const a = await this.bench.ask({study: "follow", ...request}, busy);
    this.lanes(lanes, a.result);
    if (a.figures.turn) lanes.append(picture("Stage by stage, every click with its letter", a.figures.turn));
  }

  lanes(root, f) {
    const last = Math.max(1, ...f.steps.map((s) => s.time_ms), ...f.detents.map((d) => d.time_ms)) * 1.02;
    const x = (ms) => 90 + (W - 100) * ms / last;
    const cursor = svg("line", {y1: 8, y2: 130, class: "cursor"}), said = el("p", {class: "live"});
    const slider = el("input", {type: "range", min: "0", max: "1000", value: "1000", on: {input: () => at(last * slider.value / 1000)}});
    const at = (ms) => {
      cursor.setAttribute("x1", x(ms));
      cursor.setAttribute("x2", x(ms));
      const turned = f.detents.filter((d) => d.time_ms <= ms).length, steps = f.steps.filter((s) => s.time_ms <= ms);
      const text = `After ${fixed(ms, 0)} ms: ${turned} clicks turned, ${steps.length} steps applied, number at ${steps.at(-1)?.value ?? "its start"}`;
      said.textContent = `${text}.`;
      slider.setAttribute("aria-valuetext", text);
    };
    const a = f.account, lost = a.delivered === undefined ? undefined : a.detents - a.delivered;
    root.replaceChildren(svg("svg", {viewBox: `0 0 ${W} 150`, class: "draw", role: "img", "aria-label": `${a.detents} clicks, ${lost ?? "some"} lost`},
      [["clicks", 28], ["lost", 68], ["steps", 108]].map(([name, y]) => [svg("text", {x: 0, y: y + 4}, name), svg("line", {x1: 90, x2: W - 10, y1: y + 10, y2: y + 10, class: "grid"})]),
      f.detents.map((d) => [svg("line", {x1: x(d.time_ms), x2: x(d.time_ms), y1: 20, y2: 38, class: "click"}), d.fate && d.fate !== "delivered" ? svg("line", {x1: x(d.time_ms), x2: x(d.time_ms), y1: 58, y2: 78, class: "lost"}) : null]),
      f.steps.map((s) => svg("line", {x1: x(s.time_ms), x2: x(s.time_ms), y1: 100, y2: 118, class: s.cause === "detent" ? "click" : "lost"})),
      cursor, svg("text", {x: 90, y: 146}, "0"), svg("text", {x: W - 10, y: 146, class: "end"}, `${fixed(last / 1000, 2)} s`)),
    field("Time", slider), said,
    lost === undefined ? "" : el("p", {}, `${lost} of ${a.detents} clicks are lost (${percent(lost / a.detents)}).`),
    more("What became of every click", el("ul", {}, Object.entries(count(f.detents.map((d) => d.fate ?? "not followed"))).map(([fate, n]) => el("li", {}, `${fate}: ${n}`)))));
    at(last);
  }
}

const count = (words) => words.reduce((m, w) => ({...m, [w]: (m[w] ?? 0) + 1}), {});
