// A proof: soundings are played, and curves are drawn from the numbers in the page.

// --- Playing: one sound at a time; without this script each is a plain link to its file.

let playing = null;

function stop() {
  if (!playing) return;
  playing.audio.pause();
  playing.press.setAttribute("aria-pressed", "false");
  playing = null;
}

for (const link of document.querySelectorAll("a.play")) {
  const press = document.createElement("button");
  press.type = "button";
  press.className = "play";
  press.textContent = link.textContent;
  press.setAttribute("aria-label", link.getAttribute("aria-label"));
  press.setAttribute("aria-pressed", "false");
  const audio = document.createElement("audio");
  audio.preload = "none";
  audio.src = link.href;
  link.replaceWith(press);
  press.after(audio);
  audio.addEventListener("ended", stop);
  audio.addEventListener("error", () => {
    stop();
    press.disabled = true;
    press.textContent = "This sound cannot be played";
  });
  press.addEventListener("click", () => {
    const again = playing?.press === press;
    stop();
    if (again) return;
    audio.currentTime = 0;
    press.setAttribute("aria-pressed", "true");
    playing = { audio, press };
    audio.play().catch(() => stop());
  });
}

// --- A mark on the strip may point into a closed part of the page.

function reveal() {
  const aimed = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  let closed = aimed?.closest("details:not([open])");
  if (!closed) return;
  for (; closed; closed = aimed.closest("details:not([open])")) closed.open = true;
  aimed.scrollIntoView();
  aimed.focus();
}
addEventListener("hashchange", reveal);
reveal();

// --- Charts: ink on paper, in the colours of the page, so that they follow the system's wish for dark.

const named = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

function template() {
  const ink = named("--ink"), soft = named("--soft"), rule = named("--rule"), paper = named("--paper");
  const axis = {
    linecolor: ink, tickcolor: ink, ticks: "inside", ticklen: 5, showgrid: false, zeroline: false, showline: true,
    tickfont: { color: soft, size: 14 }, title: { font: { color: ink, size: 15 }, standoff: 12 }, automargin: true,
  };
  return {
    layout: {
      paper_bgcolor: paper, plot_bgcolor: paper, colorway: [ink], font: { family: named("--text"), color: ink },
      margin: { l: 8, r: 12, t: 8, b: 8 }, showlegend: false, hovermode: "x",
      hoverlabel: { bgcolor: paper, bordercolor: ink, font: { family: named("--text"), color: ink, size: 15 } },
      xaxis: axis, yaxis: { ...axis, zeroline: true, zerolinecolor: rule, zerolinewidth: 1 },
    },
  };
}

const signed = (value) => `${value < 0 ? "−" : "+"}${Math.abs(value).toFixed(3)} s`;

// A band with holes: each stretch between them is its own closed outline.
function band(data) {
  const outlines = [];
  let from = 0;
  for (let at = 0; at <= data.x.length; at += 1) {
    if (at === data.x.length || data.x[at] === null) {
      const x = data.x.slice(from, at), low = data.low.slice(from, at), high = data.high.slice(from, at);
      outlines.push({
        x: [...x, ...x.slice().reverse()], y: [...high, ...low.reverse()],
        fill: "toself", fillcolor: named("--rule"), opacity: 0.45, mode: "lines", line: { width: 0 }, hoverinfo: "skip",
      });
      from = at + 1;
    }
  }
  return outlines;
}

function draw(place) {
  const data = JSON.parse(document.getElementById(place.dataset.chart).textContent);
  const coarse = matchMedia("(pointer: coarse)").matches;
  const narrow = place.clientWidth < 480;
  const ticks = narrow && data.ticks.length > 4 ? data.ticks.filter((_, index) => index % 2 === 0) : data.ticks;
  const line = {
    x: data.x, y: data.gained, mode: "lines", line: { width: 1.5, color: named("--ink") }, connectgaps: false,
    customdata: data.x_words, text: data.gained.map((value) => (value === null ? "" : signed(value))),
    hovertemplate: "%{customdata}: %{text}<extra></extra>",
  };
  const layout = {
    template: template(),
    xaxis: { title: { text: data.x_title }, tickmode: "array", tickvals: ticks.map((tick) => tick.at), ticktext: ticks.map((tick) => tick.words) },
    yaxis: { title: { text: data.y_title }, fixedrange: true, nticks: 6 },
    // A finger over the chart must still scroll the page; there the words below move it.
    dragmode: coarse ? false : "zoom",
  };
  window.Plotly.react(place, [...band(data), line], layout, { displaylogo: false, displayModeBar: false, responsive: true, doubleClick: "reset" });
  return data;
}

function move(place, data, how) {
  const known = data.x.filter((value) => value !== null);
  const ends = [Math.min(...known), Math.max(...known)];
  if (how === "all") return window.Plotly.relayout(place, { "xaxis.range": ends });
  const [low, high] = place.layout.xaxis.range.map(Number);
  const half = (high - low) / 2, middle = (low + high) / 2;
  const shift = { earlier: -half, later: half }[how] ?? 0;
  const wide = { closer: half / 2, wider: half * 2 }[how] ?? half;
  const reach = Math.min(wide, (ends[1] - ends[0]) / 2);
  const at = Math.min(Math.max(middle + shift, ends[0] + reach), ends[1] - reach);
  return window.Plotly.relayout(place, { "xaxis.range": [at - reach, at + reach] });
}

// The drawing script is large and comes before this one; where it is missing the table still holds the numbers.
if (window.Plotly) {
  const places = [...document.querySelectorAll(".drawn")];
  for (const place of places) {
    const data = draw(place);
    const presses = place.closest("figure").querySelector(".chart-presses");
    presses.hidden = false;
    presses.addEventListener("click", (event) => {
      const how = event.target.dataset.move;
      if (how) move(place, data, how);
    });
  }
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => places.forEach(draw));
}
