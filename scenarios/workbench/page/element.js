// Elements are built here, never written as markup: what was read from a file or an
// answer can so become text only.

const SVG = "http://www.w3.org/2000/svg";

function build(node, properties, children) {
  for (const [name, value] of Object.entries(properties ?? {})) {
    if (value === undefined || value === null || value === false) continue;
    if (name === "on") {
      for (const [event, act] of Object.entries(value)) node.addEventListener(event, act);
    } else if (["value", "checked", "disabled", "open", "indeterminate"].includes(name)) {
      node[name] = value;
    } else {
      node.setAttribute(name, value === true ? "" : value);
    }
  }
  node.append(...children.flat(Infinity).filter((c) => c !== undefined && c !== null && c !== false));
  return node;
}

// el builds an HTML element: el("p", {class: "by"}, "text", otherElement).
export const el = (name, properties, ...children) => build(document.createElement(name), properties, children);

// svg builds an SVG element.
export const svg = (name, properties, ...children) => build(document.createElementNS(SVG, name), properties, children);

// drawn turns the engine's SVG text into an element. Its style is that of figure.css.
export function drawn(text) {
  const root = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  root.querySelector("style")?.remove();
  return root.nodeName === "svg" ? document.importNode(root, true) : undefined;
}

// picture shows the engine's SVG on demand, as wide as can be read.
export const picture = (summary, text) => more(summary, el("div", {class: "scroll", tabindex: "0", role: "region", "aria-label": summary}, drawn(text)));

let waiting, last = "";

// say tells a screen reader one sentence. Of several in a quarter of a second only the
// last one is told, and nothing twice in a row, so that it does not chatter.
export function say(sentence) {
  clearTimeout(waiting);
  waiting = setTimeout(() => {
    if (sentence === last) return;
    last = sentence;
    document.getElementById("said").textContent = sentence;
  }, 250);
}

// A button with what it does.
export const button = (text, act, properties = {}) => el("button", {type: "button", ...properties, on: {click: act}}, text);

let labelled = 0;

// field puts a label before a control, and a hint behind it.
export function field(label, control, hint) {
  const id = control.id || `field-${++labelled}`;
  control.id = id;
  const about = hint && el("span", {class: "hint", id: `${id}-hint`}, hint);
  if (about) control.setAttribute("aria-describedby", about.id);
  return el("div", {class: "field"}, el("label", {for: id}, label), control, about);
}

// choice is a select of [value, text] pairs.
export function choice(options, chosen, act) {
  return el("select", {on: {change: (e) => act(e.target.value)}},
    options.map(([value, text]) => {
      const o = el("option", {value}, text ?? value);
      o.selected = value === chosen;
      return o;
    }));
}

// more is detail on demand.
export const more = (summary, ...children) => el("details", {}, el("summary", {}, summary), ...children);

// table is a table with a caption; the first column names the row.
export function table(caption, header, rows, properties = {}) {
  return el("div", {class: "scroll", tabindex: "0", role: "region", "aria-label": caption},
    el("table", properties,
      el("caption", {}, caption),
      el("thead", {}, el("tr", {}, header.map((h) => el("th", {scope: "col"}, h)))),
      el("tbody", {}, rows.map((r) => el("tr", {}, r.map((c, i) => el(i ? "td" : "th", i ? {} : {scope: "row"}, c)))))));
}

// fixed writes a number with so many decimals and a real minus sign.
export function fixed(x, decimals = 1) {
  if (x === null || x === undefined || !Number.isFinite(x)) return "–";
  const s = x.toFixed(decimals);
  return s.startsWith("-") ? (Number(s) === 0 ? s.slice(1) : "−" + s.slice(1)) : s;
}

export const percent = (share, decimals = 0) => fixed(share === null || share === undefined ? NaN : 100 * share, decimals) + "\u00a0%";
export const seconds = (s, decimals = 1) => fixed(s, decimals) + "\u00a0s";

// within writes an interval in words.
export const within = (low, high, decimals = 1, unit = "") => `${fixed(low, decimals)} to ${fixed(high, decimals)}${unit}`;

// plural writes a count with its noun.
export const plural = (n, one, many = one + "s") => `${n} ${n === 1 ? one : many}`;
