
// Raises and clears faults and drifts.

function shownAs(item) {
  const more = [];
  if (item.since) more.push(`since ${item.since.replace(/ \d+(ms|µs|ns)/g, "")}`);
  if ("happened" in item) more.push(`happened ${item.happened === 1 ? "once" : `${item.happened} times`}`);
  if (item["in-force"] === false) more.push("not in force now");
  if (item.class) more.push(item.class);
  if (item.id === null) more.push("not raised here, so cleared elsewhere");
  return more.join(", ");
}

/** Fills a panel of things that are raised. `what` is the resource, `body` reads the form. */
function showRaised(what, items) {
  const panel = $(`#${what}`);
  const list = $(".raised", panel);
  $(".none", panel).hidden = items.length > 0;
  $(".clear-all", panel).hidden = !items.some(({ id }) => id !== null);
  const keyOf = ({ id }, index) => id ?? `elsewhere ${index}`;
  keep(list, items, keyOf, (item) => beginRaised(what, item), (child, item) => {
    say($(".says", child), item.says);
    $("button", child)?.setAttribute("aria-label", `Clear: ${item.says}`);
    say($(".hint", child), shownAs(item));
  });
}

function beginRaised(what, { id }) {
  const about = make("div", {}, make("span", { className: "says" }), make("br"), make("span", { className: "hint" }));
  const item = make("li", {}, about);
  if (id !== null) {
    const button = make("button", { type: "button" }, "Clear");
    button.addEventListener("click", () => attempt($(`#${what} form`), () => ask("DELETE", `/${what}/${id}`)));
    item.append(button);
  }
  return item;
}

/** Makes a panel's form. `bodyOf` makes what is posted of the kind and its parameters. */
function beginRaising(what, kinds, union, root, bodyOf) {
  const panel = $(`#${what}`);
  const form = $("form", panel);
  const select = $(".kind", form);
  let parameters = null;
  const body = () => {
    const needs = parametersOf(union, select.value, root);
    return bodyOf(select.value, needs ? parameters.read() : null, form);
  };
  const choose = () => {
    const needs = parametersOf(union, select.value, root);
    parameters = objectFields(needs, root, select.value);
    $(".parameters", form).replaceChildren(...parameters.elements);
    const says = kinds.find(({ name }) => name === select.value)?.says ?? needs?.description ?? describe(union, select.value);
    say($(".says", form), sentence(says));
  };
  const names = [...new Set(kinds.map(({ name }) => name))];
  select.replaceChildren(...names.map((name) => make("option", { value: name }, name)));
  select.addEventListener("change", choose);
  choose();
  beginForm(form, `/${what}`, body);
  $(".clear-all", panel).onclick = () => attempt(form, () => ask("DELETE", `/${what}`));
}

function describe(union, name) {
  const named = ({ const: one, enum: some }) => one === name || some?.includes(name);
  return (union.oneOf ?? union.anyOf ?? []).find((one) => named(one) || one.properties?.[name])?.description;
}

/** Lets a form post what `body` reads, and show it beforehand. */
function beginForm(form, path, body, then = () => {}) {
  const preview = () => {
    try {
      say($(".sent", form), JSON.stringify(body()));
    } catch {
      say($(".sent", form), "…");
    }
  };
  form.addEventListener("input", preview);
  form.addEventListener("change", preview);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    attempt(form, async () => then(await ask("POST", path, body())));
  });
  preview();
}

async function beginFaults() {
  const { kinds, schema } = await ask("GET", "/fault-kinds");
  const scope = objectFields(resolve(schema.$defs.Scope, schema), schema, "scope");
  $("#faults .scope").replaceChildren(...scope.elements);
  beginRaising("faults", kinds, schema.$defs.Fault, schema, (name, parameters) => {
    const limits = scope.read();
    const fault = parameters === null ? name : { [name]: parameters };
    return Object.keys(limits).length > 0 ? { fault, scope: limits } : { fault };
  });
}

async function beginDrifts() {
  const { kinds, schema } = await ask("GET", "/drift-kinds");
  beginRaising("drifts", kinds, schema.$defs.Change, schema, (name, parameters, form) => {
    const pointer = $(".pointer", form).value;
    const change = parameters === null ? name : { [name]: parameters };
    return pointer === "" ? { change } : { pointer, change };
  });
}
