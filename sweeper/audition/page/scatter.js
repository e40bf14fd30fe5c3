// Every variant of the run as a point, by any two measurements. A point that is kept can be heard.

const MAP = { wide: 410, high: 300, left: 58, right: 12, top: 12, base: 250 };

class MapPanel {
  constructor(desk) {
    this.desk = desk;
    this.name = "map";
    this.topics = "mix names chosen picks";
    this.axes = { ...desk.manifest.scatter };
    this.pointed = null;
  }

  draw(root) {
    const { manifest } = this.desk;
    this.root = root;
    const known = manifest.quantities.filter(({ key }) =>
      manifest.all.some((row) => Number.isFinite(row.measurements[key])),
    );
    if (!known.length) return root.replaceChildren(Make.html("p", {}, "No variant has measurements."));
    const axis = (name) =>
      Make.html(
        "label",
        {},
        Make.html("span", {}, name === "x" ? "across" : "up"),
        Make.html(
          "select",
          {
            "data-axis": name,
            onchange: (event) => {
              this.axes[name] = event.target.value;
              this.draw(root);
              root.querySelector(`[data-axis=${name}]`).focus();
            },
          },
          known.map((q) => Make.html("option", { value: q.key, selected: q.key === this.axes[name] }, q.name)),
        ),
      );
    const [x, y] = ["x", "y"].map((name) => known.find(({ key }) => key === this.axes[name]) ?? known[0]);
    this.told = Make.html("p", { class: "told", role: "status" });
    root.replaceChildren(
      Make.html("div", { class: "axes" }, axis("x"), axis("y")),
      this._picture(x, y),
      this._legend(),
      this.told,
    );
    return this._tell(
      this._rows(x, y).find((row) => row.id === this._chosen_id()),
      x,
      y,
    );
  }

  _chosen_id() {
    const sound = this.desk.sounds[this.desk.chosen];
    return sound.kind === "preview" ? sound.of : sound.id;
  }

  _rows(x, y) {
    return this.desk.manifest.all.filter(
      (row) =>
        [this.desk.mix.number, this.desk.mix.name].includes(row.mix) &&
        Number.isFinite(row.measurements[x.key]) &&
        Number.isFinite(row.measurements[y.key]),
    );
  }

  _picture(x, y) {
    const rows = this._rows(x, y);
    const range = ({ key }) => {
      const values = rows.map((row) => row.measurements[key]);
      const [low, high] = [Math.min(...values), Math.max(...values)];
      const room = Math.max((high - low) * 0.08, 0.05);
      return [low - room, high + room];
    };
    if (!rows.length) return Make.html("p", {}, "No variant of this mix has both.");
    const [[x0, x1], [y0, y1]] = [range(x), range(y)];
    const across = (value) => MAP.left + ((value - x0) / (x1 - x0)) * (MAP.wide - MAP.left - MAP.right);
    const up = (value) => MAP.base - ((value - y0) / (y1 - y0)) * (MAP.base - MAP.top);
    const points = rows.map((row) =>
      this._point(row, across(row.measurements[x.key]), up(row.measurements[y.key]), x, y),
    );
    const kept = rows.filter((row) => row.kept).sort((a, b) => a.measurements[x.key] - b.measurements[x.key]);
    // letters above and below by turns, and to the left at the right edge, so that neighbours can be read
    kept.forEach((row, turn) => {
      const letters = points[rows.indexOf(row)].querySelector("text");
      letters.setAttribute("y", turn % 2 ? 24 : -10);
      if (across(row.measurements[x.key]) > 0.84 * MAP.wide) letters.setAttribute("text-anchor", "end");
    });
    const chosen = rows.findIndex((row) => row.id === this._chosen_id());
    points[Math.max(0, chosen)].setAttribute("tabindex", "0");
    return Make.svg(
      "svg",
      {
        class: "map",
        viewBox: `0 0 ${MAP.wide} ${MAP.high}`,
        role: "group",
        "aria-label": `variants by ${x.name} and ${y.name}`,
        onkeydown: (event) => this._walk(event),
      },
      this._frame(x, y, [x0, x1], [y0, y1], across, up),
      points,
    );
  }

  _frame(x, y, xs, ys, across, up) {
    const text = (at_x, at_y, words, anchor) => Make.svg("text", { x: at_x, y: at_y, "text-anchor": anchor }, words);
    return [
      ...MapPanel.ticks(...xs).flatMap((v) => [
        Make.svg("path", { class: "grid", d: `M${across(v).toFixed(1)} ${MAP.top}V${MAP.base}` }),
        text(across(v), MAP.base + 20, MapPanel.plain(v), "middle"),
      ]),
      ...MapPanel.ticks(...ys).flatMap((v) => [
        Make.svg("path", { class: "grid", d: `M${MAP.left} ${up(v).toFixed(1)}H${MAP.wide - MAP.right}` }),
        text(MAP.left - 8, up(v) + 5, MapPanel.plain(v), "end"),
      ]),
      text(MAP.wide - MAP.right, MAP.high - 6, `${x.name} ${x.unit} →`, "end"),
      text(4, MAP.high - 6, `↑ ${y.name} ${y.unit}`, "start"),
    ];
  }

  /** Four or so round numbers between the ends. */
  static ticks(low, high) {
    const rough = (high - low) / 4;
    const ten = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((n) => n * ten).find((n) => n >= rough);
    const ticks = [];
    for (let n = Math.ceil(low / step); n * step <= high; n++) ticks.push(n * step);
    return ticks;
  }

  static plain = (value) => String(Number(value.toPrecision(4))).replace("-", "−");

  _point(row, at_x, at_y, x, y) {
    const { desk } = this;
    const place = desk.sounds.findIndex((sound) => sound.id === row.id);
    const verdict = place < 0 ? null : desk.verdict(place);
    const words = [
      row.id,
      row.rank && `rank ${row.rank}`,
      row.front && "on the front",
      row.kept ? "kept" : "not kept",
      verdict,
      `${x.name} ${Make.number(row.measurements[x.key], 2)} ${x.unit}`,
      `${y.name} ${Make.number(row.measurements[y.key], 2)} ${y.unit}`,
    ];
    const kind = `${row.kept ? "kept" : "other"}${row.front ? " front" : ""}${row.id === this._chosen_id() ? " chosen" : ""}`;
    return Make.svg(
      "g",
      {
        class: `point ${kind}`,
        role: "button",
        tabindex: -1,
        "aria-label": words.filter(Boolean).join(", "),
        transform: `translate(${at_x.toFixed(1)} ${at_y.toFixed(1)})`,
        onclick: () => this._hear(row, place),
        onpointerenter: () => this._tell(row, x, y),
        onfocus: () => this._tell(row, x, y),
      },
      Make.svg("circle", { r: 12, class: "reach" }),
      row.front ? Make.svg("circle", { r: 11, class: "ring" }) : null,
      Make.svg("circle", { r: row.kept ? 7 : 5, class: "dot" }),
      row.kept ? Make.svg("text", { x: 0 }, verdict ? `${row.id} ${MARKS[verdict]}` : row.id) : null,
    );
  }

  _hear(row, place) {
    if (place >= 0) return this.desk.choose(place);
    return this.desk.say(`${row.id} has no sound here: it was not kept, or not asked for`);
  }

  _tell(row, x, y) {
    if (!row) return this.told.replaceChildren("Click a kept point to hear it.");
    const value = (q) => `${q.name} ${Make.number(row.measurements[q.key], 2)} ${q.unit}`;
    return this.told.replaceChildren(
      Make.html("strong", {}, row.id),
      ` ${value(x)}, ${value(y)}${row.rank ? `, rank ${row.rank}` : ""}`,
    );
  }

  _legend() {
    const item = (kind, text) => Make.html("span", { class: `legend ${kind}` }, text);
    return Make.html(
      "p",
      { class: "legends" },
      item("kept", "kept"),
      item("other", "rendered, not kept"),
      item("front", "trade-off front"),
      item("chosen", "plays"),
    );
  }

  /** Arrows go from point to point, from left to right; Enter plays. */
  _walk(event) {
    const points = [...event.currentTarget.querySelectorAll(".point")];
    const at = points.indexOf(event.target.closest(".point"));
    const where = (point) => Number(/translate\(([\d.-]+)/.exec(point.getAttribute("transform"))[1]);
    const order = points.map((_, i) => i).sort((a, b) => where(points[a]) - where(points[b]) || a - b);
    const by = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (event.key === "Enter" || event.key === " ")
      points[at]?.dispatchEvent(new MouseEvent("click", { bubbles: true }));
    else if (by) points[order[(order.indexOf(at) + by + order.length) % order.length]].focus();
    else return;
    event.preventDefault();
    event.stopPropagation();
  }
}
