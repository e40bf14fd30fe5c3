// Elements, and numbers as text. Texts only ever become text nodes.

const Make = {
  /** An element. attributes: "on..." are listeners, true stands alone, null and false are left out. */
  html: (tag, attributes, ...children) => Make._fill(document.createElement(tag), attributes, children),

  svg: (tag, attributes, ...children) =>
    Make._fill(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children),

  _fill(element, attributes, children) {
    for (const [name, value] of Object.entries(attributes ?? {})) {
      if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
      else if (value !== null && value !== false && value !== undefined)
        element.setAttribute(name, value === true ? "" : value);
    }
    element.append(
      ...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false),
    );
    return element;
  },

  key: (text) => Make.html("kbd", {}, text),

  /** "1:02.3" */
  time(seconds, digits = 1) {
    const tenths = Math.round(seconds * 10 ** digits) / 10 ** digits;
    const minutes = Math.floor(tenths / 60);
    return `${minutes}:${(tenths - 60 * minutes).toFixed(digits).padStart(digits ? 3 + digits : 2, "0")}`;
  },

  /** With a sign that is as wide as a digit; a level that rounds to nothing has none. */
  signed(number, digits = 1) {
    const text = Math.abs(number).toFixed(digits);
    return Number(text) === 0 ? text : `${number < 0 ? "−" : "+"}${text}`;
  },

  number(value, digits = 1) {
    if (value === null || value === undefined) return "none";
    return value.toFixed(digits).replace("-", "−");
  },

  /** Minus signs of their own width in a text. */
  minus: (text) => text.replace(/(?<![\w])-(?=\d)/g, "−"),

  megabytes: (bytes) => `${Math.round(bytes / 2 ** 20)} MB`,
};
