// The first door: the microphone or a file, what is heard, which side is which, and keeping it.

import { LevelLine } from "./level.js";
import { openMicrophone, whyNoMicrophone } from "./microphone.js";
import { ask, sendFile, waitFor } from "./sending.js";

const at = (id) => document.getElementById(id);
const show = (id, shown = true) => {
  at(id).hidden = !shown;
};
const level = new LevelLine(at("level-line"));

let microphone = null; // open while the microphone is
let calling = null; // AbortController while a file is sent or read
let current = null; // id of the listening on the page
let pressed = []; // presses on a video, seconds
let said = { words: "", when: -Infinity };

function trouble(words) {
  at("trouble").textContent = words;
  show("trouble", words !== "");
}

function clear(title) {
  trouble("");
  current = null;
  pressed = [];
  said = { words: "", when: -Infinity };
  at("now-title").textContent = title;
  at("heard").replaceChildren();
  at("more").replaceChildren();
  at("status").textContent = at("presses").textContent = "";
  level.clear();
  for (const id of ["reading", "bob", "no-bob", "measures", "listening", "keep", "anew", "video"]) show(id, false);
  at("video").removeAttribute("src");
  show("now");
}

/** Words for a screen reader: at once when they are the first, then at most every eight seconds. */
function say(words) {
  const now = performance.now();
  if (words === said.words || now - said.when < 8000) return;
  said = { words, when: now };
  at("status").textContent = words;
}

/** Whether left and right matter: a clock in beat needs no correcting. */
function wantsSides(heard) {
  return heard.verdict !== null && (heard.verdict !== "in" || heard.presses > 0);
}

function showHeard(heard) {
  current = heard.id;
  at("heard").innerHTML = heard.html;
  at("more").innerHTML = heard.more_html;
  say(heard.say);
  at("presses").textContent = heard.presses_say;
  show("anew", heard.presses > 0);
  show("measures", heard.correcting);
}

// The microphone

async function listen() {
  clear("Heard so far");
  at("listen").disabled = true;
  try {
    microphone = await openMicrophone({
      answer: (answer) => {
        if (answer.format === "quarterjack.error/1") return trouble(answer.message);
        showHeard(answer);
        show("bob", answer.state === "reading" && wantsSides(answer));
        if (answer.state === "done") offerToKeep();
        return undefined;
      },
      level: (peak, seconds) => level.add(peak, seconds),
      closed: (reason) => {
        microphone = null;
        at("listen").disabled = false;
        for (const id of ["listening", "bob"]) show(id, false);
        at("now-title").textContent = "Heard";
        if (reason && at("trouble").hidden) trouble(reason);
        show("start");
      },
    });
  } catch (error) {
    at("listen").disabled = false;
    show("now", false);
    trouble(whyNoMicrophone(error));
    return;
  }
  at("bob-words").textContent = "Watch the bob. Each time it hangs furthest to your right, press:";
  show("start", false);
  show("listening");
  at("stop").disabled = false;
}

function stop() {
  at("stop").disabled = true;
  at("now-title").textContent = "Hearing it out";
  microphone?.stop();
}

// A file

async function takeFile(file) {
  if (!file || microphone || calling) return;
  clear(`Heard in ${file.name}`);
  show("start", false);
  show("reading");
  calling = new AbortController();
  const progress = {
    progress: (fraction, doing) => {
      at("bar").value = fraction;
      at("doing").textContent = `${doing}, ${Math.round(fraction * 100)} %`;
    },
  };
  progress.progress(0, "taking the file in");
  try {
    const taken = await sendFile(file, progress, calling.signal);
    current = taken.id;
    const done = await waitFor(taken.id, progress, calling.signal);
    if (done.state === "done") {
      showHeard(done);
      offerToKeep();
      offerVideo(file, done);
    } else {
      show("now", false);
      trouble(done.error?.message ?? "The recording could not be heard through.");
    }
  } catch (error) {
    if (current) ask(`/api/listenings/${current}`, { method: "DELETE" }).catch(() => undefined);
    show("now", false);
    trouble(error.name === "AbortError" ? "" : error.message);
  } finally {
    calling = null;
    show("reading", false);
    show("start");
    at("file").value = "";
  }
}

function offerVideo(file, heard) {
  if (!wantsSides(heard)) return;
  const seen = file.type.startsWith("video/");
  show("no-bob", !seen);
  show("bob", seen);
  if (!seen) return;
  at("bob-words").textContent = "Play the video. Each time the bob hangs furthest to your right, press:";
  at("video").src = URL.createObjectURL(file);
  show("video");
}

// Which side is which

async function press(event) {
  if (microphone) return microphone.press(event);
  const since = Math.max(0, performance.now() - event.timeStamp) / 1000;
  pressed.push(Math.max(0, at("video").currentTime - (at("video").paused ? 0 : since)));
  return sendPresses();
}

async function sendPresses() {
  const body = JSON.stringify({ presses_s: pressed });
  try {
    showHeard(await ask(`/api/listenings/${current}/presses`, { method: "POST", body }));
  } catch (error) {
    trouble(error.message);
  }
}

function beginAnew() {
  if (microphone) return microphone.forgetPresses();
  pressed = [];
  return sendPresses();
}

async function useMeasures(event) {
  event.preventDefault();
  const body = JSON.stringify({ crutch: at("crutch").value, feet: at("feet").value });
  try {
    trouble("");
    const answer = await ask(`/api/listenings/${current}/measures`, { method: "POST", body });
    if (answer.html) showHeard(answer); // while the microphone is open the next answer takes them up
  } catch (error) {
    trouble(error.message);
  }
}

// Keeping

function offerToKeep() {
  show("keep");
  show("start");
}

async function keep(event) {
  event.preventDefault();
  const body = JSON.stringify({ name: at("name").value, clock: at("clock")?.value || null });
  try {
    const kept = await ask(`/api/listenings/${current}/keep`, { method: "POST", body });
    location.assign(kept.url);
  } catch (error) {
    trouble(error.message);
  }
}

async function letGo() {
  try {
    await ask(`/api/listenings/${current}`, { method: "DELETE" });
  } catch {
    // Already gone: that is what was wanted.
  }
  location.assign("/listen");
}

/** Show a listening again that was left, by the id after the "#". */
async function showHeld() {
  const id = location.hash.slice(1);
  if (!id || microphone || calling) return;
  try {
    const heard = await ask(`/api/listenings/${encodeURIComponent(id)}`);
    if (heard.state !== "done") return;
    clear(`Heard in ${heard.name}`);
    showHeard(heard);
    offerToKeep();
  } catch (error) {
    trouble(error.message);
  }
}

at("listen").addEventListener("click", listen);
at("stop").addEventListener("click", stop);
at("cancel").addEventListener("click", () => calling?.abort());
at("file").addEventListener("change", () => takeFile(at("file").files[0]));
// A finger counts when it comes down, not when it lifts; a key or a screen reader gives a click without a pointer.
at("press").addEventListener("pointerdown", press);
at("press").addEventListener("click", (event) => event.detail === 0 && press(event));
at("anew").addEventListener("click", beginAnew);
at("measure-form").addEventListener("submit", useMeasures);
at("keep-form").addEventListener("submit", keep);
at("drop").addEventListener("click", letGo);
window.addEventListener("hashchange", showHeld);
addEventListener("dragover", (event) => event.preventDefault());
addEventListener("drop", (event) => {
  event.preventDefault();
  takeFile(event.dataTransfer.files[0]);
});
showHeld();
