
// Lets things happen to the printer.

const HEATER = { heater: { name: "Heater" } };
const LASTS = { lasts: { name: "For how long", value: "30s" } };
const SENSOR = {
  kind: { name: "How", values: ["open", "short", "frozen", "drifting", "loose"] },
  "kelvin-per-hour": { name: "Drifts by, kelvin per hour", value: "60", number: true, when: "drifting" },
  probability: { name: "Share of readings that are open, 0 to 1", value: "0.3", number: true, when: "loose" },
};
// The action, in words, and the keys it needs.
const ACTIONS = {
  pause: ["The operator pauses the job", {}],
  resume: ["The operator lets the job go on", {}],
  cancel: ["The operator gives the job up", {}],
  "clear-job": ["The operator takes the finished job away", {}],
  reset: ["The operator resets the printer after an error", {}],
  "set-target": ["The operator sets a target", { ...HEATER, celsius: { name: "Target in °C, 0 is off", value: "60", number: true } }],
  "material-empty": ["The filament runs out", {}],
  jam: ["The nozzle clogs", {}],
  "door-opens": ["The door is opened", {}],
  "door-closes": ["The door is closed", {}],
  "heater-fails": ["A heater's element breaks", HEATER],
  "heater-mended": ["A heater's element is mended", HEATER],
  "sensor-fails": ["A temperature sensor goes wrong", { ...HEATER, ...SENSOR }],
  "sensor-mended": ["A temperature sensor is mended", HEATER],
  "power-dip": ["The power is away", LASTS],
  "host-restart": ["The host restarts", LASTS],
  "host-updated": ["The host gets other software", { version: { name: "Its version, else the next one" }, lasts: { name: "Restarts for, else not at all" } }],
  "clock-set-back": ["The host's own clock is set back", { by: { name: "By", value: "1h" } }],
  "key-revoked": ["The key is good no more", {}],
};

const eventForm = $("#events form");
let heaters = [];

/** Tells which heaters there are. */
function eventHeaters(names) {
  if (names.join("\n") === heaters.join("\n")) return;
  heaters = names;
  chooseEvent();
}

function chooseEvent() {
  const [, keys] = ACTIONS[$(".kind", eventForm).value];
  const fields = Object.entries(keys).map(([key, about]) => {
    const values = key === "heater" ? heaters : about.values;
    const input = values
      ? make("select", {}, ...values.map((value) => make("option", { value }, value)))
      : make("input", { value: about.value ?? "", autocomplete: "off" });
    input.name = key;
    return make("label", {}, about.name, input);
  });
  $(".parameters", eventForm).replaceChildren(...fields);
  showEventKeys();
}

/** Hides the keys that only other kinds of trouble have. */
function showEventKeys() {
  const kind = eventForm.elements.namedItem("kind")?.value;
  const [, keys] = ACTIONS[$(".kind", eventForm).value];
  for (const [key, { when }] of Object.entries(keys)) {
    if (when) eventForm.elements.namedItem(key).parentElement.hidden = when !== kind;
  }
}

function readEvent() {
  const action = $(".kind", eventForm).value;
  const event = { action };
  for (const [key, about] of Object.entries(ACTIONS[action][1])) {
    const input = eventForm.elements.namedItem(key);
    if (input.parentElement.hidden || input.value === "") continue;
    event[key] = about.number ? numberIn(input.value, about.name) : input.value;
  }
  return event;
}

function beginEvents() {
  const select = $(".kind", eventForm);
  select.append(...Object.entries(ACTIONS).map(([action, [words]]) => make("option", { value: action }, `${words} (${action})`)));
  select.addEventListener("change", chooseEvent);
  eventForm.addEventListener("change", showEventKeys);
  chooseEvent();
  eventForm.addEventListener("submit", () => say($(".done", eventForm), ""), true);
  beginForm(eventForm, "/events", readEvent, ({ phase }) => {
    say($(".done", eventForm), `It happened, at ${new Date().toLocaleTimeString()}. The phase is now: ${phase}.`);
  });
}
