"use strict";

// Makes the page's elements. Whatever comes from the mock goes in as text, never as HTML.

const $ = (selector, within = document) => within.querySelector(selector);

/** Makes an element; `properties` are the element's own, children are elements or texts. */
function make(tag, properties = {}, ...children) {
  const element = Object.assign(document.createElement(tag), properties);
  element.append(...children);
  return element;
}

/** Shows a text, and leaves the element alone if it has it: a screen reader would say it again. */
function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/** Shows pairs of a name and a text as a list of facts. */
function facts(list, pairs) {
  const told = pairs.map(([name]) => name).join("\n");
  if (list.dataset.told !== told) {
    list.replaceChildren(...pairs.flatMap(([name]) => [make("dt", {}, name), make("dd")]));
    list.dataset.told = told;
  }
  const values = list.querySelectorAll("dd");
  pairs.forEach(([, text], index) => say(values[index], text));
}

/** Makes a list's children be those of the items, and keeps the ones that are there already, so that
 *  the keyboard's focus stays where it is. `show` is given the child and the item. */
function keep(list, items, key, begin, show) {
  const there = new Map([...list.children].map((child) => [child.dataset.key, child]));
  let before = null;
  for (const [index, item] of items.entries()) {
    const name = String(key(item, index));
    let child = there.get(name);
    there.delete(name);
    if (!child) {
      child = begin(item);
      child.dataset.key = name;
    }
    const place = before ? before.nextSibling : list.firstChild;
    if (place !== child) list.insertBefore(child, place);
    show(child, item);
    before = child;
  }
  for (const child of there.values()) child.remove();
}

const celsius = (value) => (value === null ? "no reading" : `${value.toFixed(1)} °C`);

/** Writes seconds as a person reads them: `2 h 03 min 04 s`. */
function duration(seconds) {
  const whole = Math.floor(seconds);
  const two = (number) => String(number).padStart(2, "0");
  const [h, min, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  if (h > 0) return `${h} h ${two(min)} min ${two(s)} s`;
  return min > 0 ? `${min} min ${two(s)} s` : `${s} s`;
}
