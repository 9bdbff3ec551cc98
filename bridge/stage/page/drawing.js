/**
 * SVG nodes kept from frame to frame: a drawing asks for what it needs, the rest is hidden.
 */

const SVG = "http://www.w3.org/2000/svg";

/** One layer of a drawing: nodes of one kind, in the order asked for. */
class Pool {
  /**
   * @param {SVGElement} parent
   * @param {string} tag
   */
  constructor(parent, tag) {
    this.group = document.createElementNS(SVG, "g");
    parent.append(this.group);
    this.tag = tag;
    /** @type {{node: SVGElement, kept: Map<string, string>}[]} */
    this.nodes = [];
    this.used = 0;
  }

  /**
   * @param {Record<string, string | number>} attributes
   * @param {string} [text]
   */
  put(attributes, text) {
    if (this.used === this.nodes.length) {
      const node = /** @type {SVGElement} */ (document.createElementNS(SVG, this.tag));
      this.group.append(node);
      this.nodes.push({ node, kept: new Map() });
    }
    const { node, kept } = this.nodes[this.used];
    this.used += 1;
    change(node, kept, "display", "");
    for (const [name, value] of Object.entries(attributes)) {
      change(node, kept, name, typeof value === "number" ? value.toFixed(1) : value);
    }
    if (text !== undefined && kept.get("#") !== text) {
      kept.set("#", text);
      node.textContent = text;
    }
  }

  end() {
    for (const { node, kept } of this.nodes.slice(this.used)) change(node, kept, "display", "none");
    this.used = 0;
  }
}

/**
 * @param {SVGElement} node
 * @param {Map<string, string>} kept
 * @param {string} name
 * @param {string} value
 */
function change(node, kept, name, value) {
  if (kept.get(name) === value) return;
  kept.set(name, value);
  node.setAttribute(name, value);
}

/** A drawing in layers, the first at the bottom. */
export class Drawing {
  /**
   * @param {SVGSVGElement} svg
   * @param {Record<string, string>} layers each name with its kind of node
   */
  constructor(svg, layers) {
    this.svg = svg;
    this.width = 0;
    this.height = 0;
    this.pools = new Map(Object.entries(layers).map(([name, tag]) => [name, new Pool(svg, tag)]));
    new ResizeObserver(() => this.measure()).observe(svg);
    this.measure();
  }

  measure() {
    const box = this.svg.getBoundingClientRect();
    this.width = box.width;
    this.height = box.height;
    this.svg.setAttribute("viewBox", `0 0 ${Math.max(1, box.width)} ${Math.max(1, box.height)}`);
  }

  /**
   * @param {string} layer
   * @param {Record<string, string | number>} attributes
   * @param {string} [text]
   */
  put(layer, attributes, text) {
    this.pools.get(layer)?.put(attributes, text);
  }

  end() {
    for (const pool of this.pools.values()) pool.end();
  }
}
