
// Makes inputs of a JSON Schema. Each is `{ element, read }`; `read` gives the value, or undefined when
// the input is empty and the mock's default holds.

// What is needed and has no default: something that shows the fault.
const SENSIBLE = {
  "status.code": 503, "redirect.to": "http://198.51.100.7:8080", "tls-certificate.is": "expired",
  "clock-skew.ahead-s": -3600, "wrong-length.by": 10, "huge-header.bytes": 65536, "latency.of": "2s",
  "bandwidth.bytes-per-second": 200, "scale.factor": 1.8, "scale.offset": 32, "truncated.bytes": 20,
  "huge-number.text": "1e400", "add-member.value": '"new"', "replace-value.value": '"other"', "indented.spaces": 2,
  "corpus.entry": "number-leading-zero", "move-member.to": "/moved", "deep.levels": 10000, "pad.bytes": 1000,
  "deepen-unknown.levels": 64,
};

const sentence = (text = "") => text.split("\n\n")[0].replaceAll("\n", " ").replaceAll("`", "");

function resolve(schema, root) {
  const name = schema.$ref?.split("/").pop();
  if (name) return { ...root.$defs[name], description: schema.description };
  // What may be left out is `null` or something.
  const some = schema.anyOf?.filter(({ type }) => type !== "null");
  return some?.length === 1 ? { ...resolve(some[0], root), description: schema.description } : schema;
}

/** Gives the schema of what a kind needs; null for one that is a name only. */
function parametersOf(union, name, root) {
  const inner = (union.oneOf ?? union.anyOf ?? []).map(({ properties }) => properties?.[name]).find(Boolean);
  const needs = inner ? resolve(inner, root) : null;
  return needs && needs.type !== "null" ? needs : null;
}

/** Makes inputs for the properties of an object. */
function objectFields(schema, root, path, skip = []) {
  const named = Object.entries(schema?.properties ?? {}).filter(([name]) => !skip.includes(name));
  const fields = named.map(([name, property]) => {
    const needed = schema.required?.includes(name) ?? false;
    return [name, field(name, resolve(property, root), `${path}.${name}`, needed, root)];
  });
  const read = () => {
    const value = {};
    for (const [name, { read }] of fields) {
      const one = read();
      if (one !== undefined) value[name] = one;
    }
    return value;
  };
  return { elements: fields.map(([, { element }]) => element), read };
}

function field(name, schema, path, needed, root) {
  const says = sentence(schema.description);
  const label = `${name}${needed ? " (needed)" : ""}${says ? `: ${says}` : ""}`;
  const type = [schema.type ?? []].flat().find((one) => one !== "null");
  const variants = schema.oneOf;
  if (type === "boolean") {
    const input = make("input", { type: "checkbox" });
    return { element: make("label", { className: "check" }, input, label), read: () => input.checked || undefined };
  }
  if (schema.enum) return choice(label, schema.enum, SENSIBLE[path], needed);
  if (variants?.every((one) => "const" in one || one.enum)) {
    return choice(label, variants.flatMap((one) => one.enum ?? [one.const]), SENSIBLE[path], needed);
  }
  if (variants) return union(label, variants, path, root);
  return text(label, name, schema, type, SENSIBLE[path], needed);
}

function choice(label, values, sensible, needed) {
  const select = make("select", {});
  if (!needed) select.append(make("option", { value: "" }, "default"));
  values.forEach((value, index) => {
    select.append(make("option", { value: String(index), selected: value === sensible }, String(value)));
  });
  return {
    element: make("label", {}, label, select),
    read: () => (select.value === "" ? undefined : values[Number(select.value)]),
  };
}

/** Makes a choice of variants of which some have a value of their own: `"start"`, `{"byte": 40}`. */
function union(label, variants, path, root) {
  const select = make("select", {}, make("option", { value: "" }, "default"));
  const place = make("div");
  let inner = null;
  const named = variants.flatMap((one) => ("const" in one ? [[one.const, null]] : Object.entries(one.properties ?? {})));
  named.forEach(([name], index) => select.append(make("option", { value: String(index) }, name)));
  select.addEventListener("change", () => {
    const [name, schema] = named[select.value] ?? [];
    inner = schema ? field(name, resolve(schema, root), `${path}.${name}`, true, root) : null;
    place.replaceChildren(...(inner ? [inner.element] : []));
  });
  const read = () => {
    const [name, schema] = named[select.value] ?? [];
    if (name === undefined) return undefined;
    return schema ? { [name]: inner.read() } : name;
  };
  return { element: make("div", {}, make("label", {}, label, select), place), read };
}

function text(label, name, schema, type, sensible, needed) {
  const example = schema.examples?.[0];
  const isNumber = type === "integer" || type === "number";
  const input = make("input", { required: needed && type !== "string", autocomplete: "off", spellcheck: false });
  if (isNumber) input.inputMode = (schema.minimum ?? -1) >= 0 && type === "integer" ? "numeric" : "text";
  if (example !== undefined) input.placeholder = `such as ${example}`;
  if (needed) input.value = sensible ?? example ?? (isNumber ? Math.max(schema.minimum ?? 1, 1) : type ? name : "0");
  const read = () => {
    if (input.value === "" && !(needed && type === "string")) return undefined;
    if (isNumber) return numberIn(input.value, name);
    if (type === "string") return input.value;
    try {
      return JSON.parse(input.value);
    } catch {
      throw new Problem(`${name} is no JSON: a text needs quotation marks.`);
    }
  };
  return { element: make("label", {}, type ? label : `${label} As JSON.`, input), read };
}
