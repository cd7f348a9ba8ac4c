
// Shows the printer as it really is.

const PHASES = {
  idle: "Idle: nothing to do",
  heating: "Heating up",
  printing: "Printing",
  paused: "Paused: stands still, and can go on",
  error: "Error: the printer stopped itself, and somebody must act",
  finished: "Finished: the job came to its end (not: cool)",
  cancelled: "Cancelled: the job was given up",
};
const PLOTTED_MS = 5 * 60 * 1000;
const LEAST_PLOTTED_MS = 60 * 1000;
const SVG = "http://www.w3.org/2000/svg";

// Moments of real time, each with all heaters; `null` where the mock did not answer.
let samples = [];

function showTruth(truth) {
  say($("#phase"), PHASES[truth.phase] ?? truth.phase);
  const { printer, job } = truth;
  facts($("#facts"), [
    ["printer-state", printer.state],
    ["reasons", printer.reasons.join(", ") || "none"],
    ["up-time", duration(printer.up_time_seconds)],
    ["host", printer.host_answers ? "answers" : "does not answer (restarting or without power)"],
    ["to touch", truth.safe_to_touch ? "every part is cool enough" : "too hot to touch"],
  ]);
  $("#job").hidden = job === null;
  if (job !== null) showJob(job);
  sample({ at: Date.now(), heaters: truth.heaters });
  keep($("#heaters"), Object.entries(truth.heaters), ([name]) => name, beginHeater, showHeater);
  eventHeaters(Object.keys(truth.heaters));
}

function showJob(job) {
  say($("#job-name"), job.name);
  say($("#job-progress"), `${job.progress_percent.toFixed(1)} % done`);
  $("#job-bar").value = job.progress_percent;
  facts($("#job-facts"), [
    ["job-state", [job.state, ...job.reasons].join(", ")],
    ["elapsed", duration(job.elapsed_seconds)],
    ["remaining", job.remaining_seconds === null ? "not known" : duration(job.remaining_seconds)],
  ]);
}

function sample(one) {
  samples.push(one);
  samples = samples.filter(({ at }) => at > Date.now() - PLOTTED_MS);
}

function beginHeater([name]) {
  const plot = document.createElementNS(SVG, "svg");
  plot.setAttribute("viewBox", "0 0 300 100");
  plot.setAttribute("preserveAspectRatio", "none");
  plot.setAttribute("role", "img");
  for (const part of ["true", "target", "actual"]) {
    const path = document.createElementNS(SVG, "path");
    path.setAttribute("class", part);
    plot.append(path);
  }
  const scale = make("div", { className: "scale" }, make("span"), make("span"));
  const about = make("p", {}, make("strong", {}, name), " ", make("span"));
  return make("div", { className: "heater" }, about, plot, scale);
}

function showHeater(place, [name, heater]) {
  const target = heater.target_celsius === 0 ? "off" : `target ${celsius(heater.target_celsius)}`;
  const touch = heater.safe_to_touch ? "" : ", too hot to touch";
  const told = `reads ${celsius(heater.actual_celsius)}, ${target}; really ${celsius(heater.true_celsius)}${touch}`;
  say($("p span", place), told);
  $("svg", place).setAttribute("aria-label", `${name}, last 5 minutes: ${told}`);
  plot(place, name);
}

function plot(place, name) {
  const known = samples.flatMap(({ heaters }) => {
    const heater = heaters?.[name];
    return heater ? [heater.actual_celsius ?? 0, heater.true_celsius, heater.target_celsius] : [];
  });
  const top = Math.max(50, Math.ceil(Math.max(...known) / 50 + 0.1) * 50);
  const bottom = Math.min(0, ...known);
  const plotted = Math.max(Date.now() - samples[0].at, LEAST_PLOTTED_MS);
  const begin = Date.now() - plotted;
  const draw = (field) => {
    let pen = "M";
    let drawn = "";
    for (const { at, heaters } of samples) {
      const value = heaters?.[name]?.[field] ?? null;
      if (value === null) {
        pen = "M";
        continue;
      }
      const x = ((at - begin) / plotted) * 300;
      const y = 98 - ((value - bottom) / (top - bottom)) * 96;
      drawn += `${pen}${x.toFixed(1)} ${y.toFixed(1)}`;
      pen = "L";
    }
    return drawn;
  };
  for (const part of ["true", "target", "actual"]) $(`path.${part}`, place).setAttribute("d", draw(`${part}_celsius`));
  const [low, now] = $(".scale", place).children;
  say(low, `${duration(plotted / 1000)} ago; from ${bottom.toFixed(0)} up to ${top} °C`);
  say(now, "now");
}
